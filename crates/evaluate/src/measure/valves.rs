//! What each air admittance valve serves: fixtures, storeys, and where its branch joins a stack.
//!
//! It judges nothing: where a valve may stand is the rule set's to say.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_vocabulary::RunKind;

use super::facts::Gap;
use super::{Class, FixtureFacts, Measured, NONE, both_storeys};

/// Some of the fixtures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fixtures {
    pub(crate) count: u32,
    /// The lowest and highest storey among them.
    pub(crate) storeys: (u32, u32),
    /// The last of them whose storey is not stated, by its place among all and by its node.
    pub(crate) storey_gap: Option<(usize, u32)>,
}

impl Fixtures {
    const NONE: Self = Self {
        count: 0,
        storeys: (NONE, 0),
        storey_gap: None,
    };

    fn one(place: usize, fixture: &FixtureFacts) -> Self {
        let (mut storeys, mut gap) = (Self::NONE.storeys, NONE);
        fixture.note_storey(&mut storeys, &mut gap);
        Self {
            count: 1,
            storeys,
            storey_gap: (gap != NONE).then_some((place, gap)),
        }
    }

    fn with(self, more: Self) -> Self {
        Self {
            count: self.count.saturating_add(more.count),
            storeys: both_storeys(self.storeys, more.storeys),
            storey_gap: self.storey_gap.max(more.storey_gap),
        }
    }
}

/// What a valve serves.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Served {
    pub(crate) fixtures: Fixtures,
    /// The most branch intervals above the joint of a branch that it vents.
    pub(crate) intervals_above: Option<u32>,
    /// What is missing without which they are not known.
    pub(crate) interval_gap: Option<Gap>,
    /// Where the vents that it ends leave the drains.
    pub(crate) nodes: Vec<u32>,
    /// Whether each branch that it vents has a vent to open air further down before the stack.
    pub(crate) relieved: bool,
}

impl Served {
    const NOTHING: Self = Self {
        fixtures: Fixtures::NONE,
        intervals_above: None,
        interval_gap: None,
        nodes: Vec::new(),
        relieved: true,
    };
}

/// What each valve serves, by its node.
pub(crate) fn valves(measured: &Measured<'_>) -> BTreeMap<u32, Served> {
    let mut found: BTreeMap<u32, Served> = measured
        .nodes(Class::Valve)
        .map(|valve| (valve, Served::NOTHING))
        .collect();
    if found.is_empty() {
        return found;
    }
    let ends = |node: u32| -> BTreeSet<u32> {
        let vents = measured.vents_from(node);
        vents
            .filter_map(|vent| Some(measured.state.vents.of(vent)?.end))
            .collect()
    };
    // By the node that their vents leave from: that may have many of both.
    let mut vented: BTreeMap<u32, Fixtures> = BTreeMap::new();
    for (place, fixture) in measured.all_fixtures().enumerate() {
        if let Some(supply) = measured.state.air.supply(measured, fixture.node) {
            let there = vented.entry(supply.dry_vent).or_insert(Fixtures::NONE);
            *there = there.with(Fixtures::one(place, fixture));
        }
    }
    for (node, fixtures) in vented {
        for end in ends(node) {
            if let Some(served) = found.get_mut(&end) {
                served.fixtures = served.fixtures.with(fixtures);
            }
        }
    }
    let open = open_below(measured, &ends);
    for node in measured.drain_order() {
        for end in ends(node) {
            let Some(served) = found.get_mut(&end) else {
                continue;
            };
            served.nodes.push(node);
            // What leaves the stack itself vents no branch.
            let joint = measured.state.ways.stack_joint(measured, node);
            let Some(joint) = joint.filter(|&joint| joint != node) else {
                continue;
            };
            served.relieved &= open.get(node as usize) == Some(&true);
            if let Some((above, gap)) = measured.state.stacks.intervals_above(measured, joint) {
                served.intervals_above = served.intervals_above.max(Some(above));
                served.interval_gap = served.interval_gap.or(gap);
            }
        }
    }
    found
}

/// For each node of a branch, whether a vent to open air stands on the branch further down.
fn open_below(measured: &Measured<'_>, ends: &impl Fn(u32) -> BTreeSet<u32>) -> Vec<bool> {
    let mut open = vec![false; measured.node_bound()];
    let mut opens = open.clone();
    for node in measured.drain_order() {
        let is_open = |end| measured.is(end, Class::Terminal);
        if let Some(opens) = opens.get_mut(node as usize) {
            *opens = ends(node).into_iter().any(is_open);
        }
    }
    for node in measured.drain_order().rev() {
        let pipe = measured.next(node).and_then(|next| measured.pipe(next));
        let Some(pipe) = pipe.filter(|pipe| pipe.kind == RunKind::Branch) else {
            continue;
        };
        let onward = measured.next(pipe.to).and_then(|next| measured.pipe(next));
        if onward.is_some_and(|onward| onward.kind == RunKind::Branch) {
            open[node as usize] = opens[pipe.to as usize] || open[pipe.to as usize];
        }
    }
    open
}
