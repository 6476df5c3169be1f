//! Each fixture's load by the rule set, and the credit where a whole bathroom group has come together.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crownweir_quantity::Load;
use crownweir_rulebook::{LoadCase, Subject, Value};
use crownweir_vocabulary::FixtureType;

use super::{Element, Gap, Got, Measured, Seen};
use crate::evaluate::{Outcome, condition, ends_of_load, operand};
use crate::show::place_in_file;
use crate::trace::RulePart;

/// A load in thousandths, as far as it can be told.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum FixtureLoad {
    Known(i64),
    /// The least and the most that it may come to.
    Between(i64, i64),
    #[default]
    Unknown,
}

impl FixtureLoad {
    pub(crate) fn known(self) -> Option<i64> {
        match self {
            Self::Known(load) => Some(load),
            _ => None,
        }
    }

    /// The least and the most that it may come to.
    pub(crate) fn ends(self) -> Option<(i64, i64)> {
        match self {
            Self::Known(load) => Some((load, load)),
            Self::Between(least, most) => Some((least, most)),
            Self::Unknown => None,
        }
    }
}

/// What loads that are not known add to those that are: the least and the most, in thousandths, and how many of them may
/// come to anything.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct More {
    least: i64,
    most: i64,
    boundless: u32,
}

impl More {
    pub(crate) const NOTHING: Self = Self {
        least: 0,
        most: 0,
        boundless: 0,
    };

    /// What a fixture adds.
    pub(crate) fn of(load: FixtureLoad) -> Self {
        match load {
            FixtureLoad::Known(_) => Self::NOTHING,
            FixtureLoad::Between(least, most) => Self {
                least,
                most,
                boundless: 0,
            },
            FixtureLoad::Unknown => Self {
                boundless: 1,
                ..Self::NOTHING
            },
        }
    }

    pub(crate) fn add(&mut self, other: Self) {
        self.least = self.least.saturating_add(other.least);
        self.most = self.most.saturating_add(other.most);
        self.boundless = self.boundless.saturating_add(other.boundless);
    }

    pub(crate) fn take_off(&mut self, other: Self) {
        self.least = self.least.saturating_sub(other.least);
        self.most = self.most.saturating_sub(other.most);
        self.boundless = self.boundless.saturating_sub(other.boundless);
    }

    /// The least and the most of all, together with what is known.
    pub(crate) fn ends(self, known: i64) -> Option<(i64, i64)> {
        (self.boundless == 0).then(|| (known.saturating_add(self.least), known.saturating_add(self.most)))
    }
}

/// What a group's coming together alters: what it takes off the loads that are known, and what it adds for those that are
/// not.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Credit {
    pub(crate) load: i64,
    pub(crate) more: More,
}

/// A bathroom group whose load is not that of its fixtures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct WholeGroup {
    pub(crate) members: Vec<u32>,
    /// Where the drains of all of them have met.
    pub(crate) meeting: u32,
    pub(crate) credit: Credit,
}

/// The loads of fixtures, and what is known of bathroom groups.
#[derive(Debug, Clone, Default)]
pub(crate) struct Loads {
    /// By fixture.
    own: Vec<FixtureLoad>,
    /// What a group's coming together takes off the load, by node.
    credit: BTreeMap<u32, Credit>,
    /// The groups that are whole and whose load is not that of their fixtures.
    pub(crate) whole: Vec<WholeGroup>,
    /// What keeps the fixtures of a group from making it up, by node; nothing where they do.
    shortfall: BTreeMap<u32, Arc<Shortfall>>,
}

/// What keeps the fixtures that a file puts into one bathroom group from making it up.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Shortfall {
    /// The necessary places, by their numbers, that none of them fills.
    pub(crate) lacks: Vec<usize>,
    /// Those for which there is no place, or none any more.
    pub(crate) without_place: Vec<(u32, FixtureType)>,
    /// Those on another storey than the first of them.
    pub(crate) elsewhere: Vec<(u32, FixtureType)>,
}

impl Shortfall {
    fn is_none(&self) -> bool {
        *self == Self::default()
    }
}

impl Loads {
    /// A fixture's own load.
    pub(crate) fn of(&self, measured: &Measured<'_>, node: u32) -> FixtureLoad {
        if !self.own.is_empty() {
            measured.see(Seen::Load, node);
        }
        let ordinal = measured.ordinal(node);
        ordinal
            .and_then(|ordinal| self.own.get(ordinal))
            .copied()
            .unwrap_or_default()
    }

    pub(crate) fn credit(&self, measured: &Measured<'_>, node: u32) -> Credit {
        measured.see(Seen::Group, node);
        self.credit.get(&node).copied().unwrap_or_default()
    }

    /// Makes room for the load of a fixture that has come, at a place among all.
    pub(crate) fn make_room(&mut self, ordinal: usize) {
        self.own.insert(ordinal.min(self.own.len()), FixtureLoad::Unknown);
    }

    /// The slot of a fixture's own load.
    pub(crate) fn own_mut(&mut self, ordinal: usize) -> Option<&mut FixtureLoad> {
        self.own.get_mut(ordinal)
    }

    /// Takes out what is known of groups.
    pub(crate) fn without_groups(&mut self) -> Self {
        Self {
            own: Vec::new(),
            credit: std::mem::take(&mut self.credit),
            whole: std::mem::take(&mut self.whole),
            shortfall: std::mem::take(&mut self.shortfall),
        }
    }

    /// The nodes for which something else is known of groups.
    pub(crate) fn groups_differ(&self, other: &Self) -> BTreeSet<u32> {
        let credits = self.credit.keys().chain(other.credit.keys());
        let credits = credits.filter(|&node| self.credit.get(node) != other.credit.get(node));
        let shortfalls = self.shortfall.keys().chain(other.shortfall.keys());
        let shortfalls = shortfalls.filter(|&node| self.shortfall.get(node) != other.shortfall.get(node));
        credits.chain(shortfalls).copied().collect()
    }

    /// What keeps the group of a fixture from being one; of none where that cannot be told, or it belongs to none.
    pub(crate) fn shortfall(&self, measured: &Measured<'_>, node: u32) -> Option<&Shortfall> {
        measured.see(Seen::Group, node);
        self.shortfall.get(&node).map(|shortfall| &**shortfall)
    }

    pub(crate) fn complete(&self, measured: &Measured<'_>, node: u32) -> Option<bool> {
        self.shortfall(measured, node).map(Shortfall::is_none)
    }
}

/// A fixture's load as the rule set reckons it, or what keeps it from being known.
pub(crate) fn of_fixture(measured: &Measured<'_>, node: u32) -> Got {
    let Some(fixture) = measured.fixture(node) else {
        return Got::Absent;
    };
    if let Some(stated) = fixture.load {
        if stated.unit != measured.rules.loads.unit {
            return super::facts::stated(None, "load in the rule set's unit", Element::Node(node));
        }
        return Got::Known(Value::Load(stated.load));
    }
    match case_of(measured, node) {
        Ok(Some(case)) if case.in_full => Got::Known(Value::Load(Load::default())),
        Ok(Some(case)) => operand(measured, Subject::Fixture, node, &case.load).got(),
        Ok(None) => Got::Absent,
        Err(gap) => Got::Missing(gap),
    }
}

impl Measured<'_> {
    /// Whether the fixture at a node is of a type that states its load.
    pub(crate) fn states_load(&self, node: u32) -> bool {
        self.fixture(node)
            .is_some_and(|fixture| fixture.fixture_type.states_load())
    }

    /// What keeps a fixture's load from being known, where that is something other than the load.
    pub(crate) fn behind_load(&self, node: u32) -> Option<Gap> {
        match of_fixture(self, node) {
            Got::Missing(Gap::NotStated { datum: "load", .. }) => None,
            Got::Missing(gap) => Some(gap),
            _ => None,
        }
    }
}

/// A fixture's flow that counts in full; absent where it counts by its load.
pub(crate) fn in_full(measured: &Measured<'_>, node: u32) -> Got {
    // Nothing is asked twice of rule sets that know no such flow.
    let known = measured.rules.loads.fixture.iter().any(|case| case.in_full);
    match measured.fixture(node).filter(|_| known) {
        Some(fixture) if fixture.load.is_none() => match case_of(measured, node) {
            Ok(Some(case)) if case.in_full => operand(measured, Subject::Fixture, node, &case.load).got(),
            Ok(_) => Got::Absent,
            Err(gap) => Got::Missing(gap),
        },
        _ => Got::Absent,
    }
}

/// The first case of a fixture's load that holds.
fn case_of<'a>(measured: &Measured<'a>, node: u32) -> Result<Option<&'a LoadCase>, Gap> {
    for (number, case) in measured.rules.loads.fixture.iter().enumerate() {
        measured.note(RulePart::LoadCase(number));
        match condition(measured, Subject::Fixture, node, &case.when) {
            Outcome::Satisfied => return Ok(Some(case)),
            Outcome::Violated => {}
            Outcome::Undetermined(gap) => return Err(gap),
        }
    }
    Ok(None)
}

pub(crate) fn loads(measured: &Measured<'_>) -> Loads {
    let mut loads = Loads {
        own: vec![FixtureLoad::Unknown; measured.state.fixtures.len()],
        credit: BTreeMap::new(),
        whole: Vec::new(),
        shortfall: BTreeMap::new(),
    };
    for (slot, node) in loads
        .own
        .iter_mut()
        .zip(measured.state.fixtures.iter().map(|fixture| fixture.node))
    {
        *slot = own(measured, node);
    }
    group(measured, &mut loads);
    loads
}

/// A fixture's load in thousandths, as far as it can be told.
pub(crate) fn own(measured: &Measured<'_>, node: u32) -> FixtureLoad {
    match of_fixture(measured, node) {
        Got::Known(Value::Load(load)) => FixtureLoad::Known(load.thousandths()),
        Got::Missing(_) => ends(measured, node).map_or(FixtureLoad::Unknown, |(least, most)| {
            FixtureLoad::Between(least, most)
        }),
        _ => FixtureLoad::Unknown,
    }
}

/// The least and the most load of a fixture, in thousandths, by each case that may hold of it. None where one of them does
/// not tell.
fn ends(measured: &Measured<'_>, node: u32) -> Option<(i64, i64)> {
    if measured.fixture(node)?.load.is_some() {
        return None;
    }
    let mut ends: Option<(i64, i64)> = None;
    for case in &measured.rules.loads.fixture {
        let outcome = condition(measured, Subject::Fixture, node, &case.when);
        if outcome == Outcome::Violated {
            continue;
        }
        let (least, most) = if case.in_full {
            (0, 0)
        } else {
            ends_of_load(measured, Subject::Fixture, node, &case.load)?
        };
        ends = Some(ends.map_or((least, most), |own| (own.0.min(least), own.1.max(most))));
        if outcome == Outcome::Satisfied {
            return ends;
        }
    }
    None
}

/// Reckons which bathroom groups are whole, and what that takes off the load.
pub(crate) fn group(measured: &Measured<'_>, loads: &mut Loads) {
    let mut groups: BTreeMap<&str, Vec<u32>> = BTreeMap::new();
    for node in measured.all_fixtures().map(|fixture| fixture.node) {
        if let Some(group) = measured
            .fixture(node)
            .and_then(|fixture| fixture.group.as_deref())
        {
            groups.entry(group).or_default().push(node);
        }
    }
    for members in groups.values() {
        // Without a storey it cannot be told whether they stand together.
        if members
            .iter()
            .any(|&member| measured.node(member).is_none_or(|node| node.storey.is_none()))
        {
            continue;
        }
        let shortfall = Arc::new(shortfall(measured, members));
        let of_each = members.iter().map(|&member| (member, Arc::clone(&shortfall)));
        loads.shortfall.extend(of_each);
        if shortfall.is_none() {
            credit(measured, members, loads);
        }
    }
}

/// What keeps fixtures from filling every necessary place once, no other place more than once, on one storey.
fn shortfall(measured: &Measured<'_>, members: &[u32]) -> Shortfall {
    let group = &measured.rules.definitions.bathroom_group;
    let mut filled = vec![false; group.places().count()];
    let mut shortfall = Shortfall::default();
    let storey = |node: u32| measured.node(node).and_then(|node| node.storey);
    // What is told does not hang on the order of the file, save which of two alike is too many: the later.
    let mut members = members.to_vec();
    members.sort_by_cached_key(|&member| {
        let fixture_type = measured
            .fixture(member)
            .map(|fixture| fixture.fixture_type.name());
        let place = place_in_file(measured, Element::Node(member));
        (fixture_type, storey(member), place)
    });
    let first = members.first().and_then(|&first| storey(first));
    for member in members {
        let Some(fixture_type) = measured.fixture(member).map(|fixture| fixture.fixture_type) else {
            continue;
        };
        let mut open = filled.iter_mut().zip(group.places());
        // A group may have several places alike.
        match open.find(|(filled, place)| !**filled && place.contains(&fixture_type)) {
            Some((filled, _)) => *filled = true,
            None => shortfall.without_place.push((member, fixture_type)),
        }
        if storey(member) != first {
            shortfall.elsewhere.push((member, fixture_type));
        }
    }
    let needed = filled.iter().take(group.needs.len()).enumerate();
    shortfall.lacks = needed
        .filter(|(_, filled)| !**filled)
        .map(|(place, _)| place)
        .collect();
    shortfall
}

/// Where the group's drains have all met, its load stands in place of its fixtures' loads.
fn credit(measured: &Measured<'_>, members: &[u32], loads: &mut Loads) {
    let Some(group_load) = &measured.rules.loads.group else {
        return;
    };
    measured.note(RulePart::GroupLoad);
    let lead = members.iter().copied().find(|&member| {
        let fixture = measured.fixture_facts(member);
        fixture.is_some_and(|fixture| fixture.group_place == Some(0))
    });
    let Some(lead) = lead else { return };
    let parts = members.iter().map(|&member| loads.of(measured, member));
    let whole = match operand(measured, Subject::Fixture, lead, group_load).got() {
        Got::Known(Value::Load(whole)) => Some((whole.thousandths(), whole.thousandths())),
        // Fixtures whose loads are known count as such where their group's is not.
        _ if parts.clone().all(|part| part.known().is_some()) => return,
        Got::Missing(_) => ends_of_load(measured, Subject::Fixture, lead, group_load),
        _ => None,
    };
    let (mut known, mut more) = (0_i64, More::NOTHING);
    for part in parts {
        known = known.saturating_add(part.known().unwrap_or(0));
        more.add(More::of(part));
    }
    let credit = match (more.ends(known), whole) {
        (Some((own, _)), Some((whole, _))) if more == More::NOTHING => Credit {
            load: own.saturating_sub(whole),
            more,
        },
        (Some(own), Some(whole)) => Credit {
            load: 0,
            more: More {
                least: whole.0.saturating_sub(own.0),
                most: whole.1.saturating_sub(own.1),
                ..More::NOTHING
            },
        },
        _ => Credit {
            load: 0,
            more: More {
                boundless: 1,
                ..More::NOTHING
            },
        },
    };
    let next = |node| {
        measured
            .next(node)
            .and_then(|pipe| measured.pipe(pipe))
            .map(|pipe| pipe.to)
    };
    let meeting = members
        .iter()
        .copied()
        .reduce(|one, other| measured.state.downstream.meeting(next, one, other));
    if let Some(meeting) = meeting {
        let slot = loads.credit.entry(meeting).or_default();
        slot.load = slot.load.saturating_add(credit.load);
        slot.more.add(credit.more);
        if credit != Credit::default() {
            loads.whole.push(WholeGroup {
                members: members.to_vec(),
                meeting,
                credit,
            });
        }
    }
}
