//! Horizontal branches that take several drains below a dry vent of their own.
//!
//! A branch of any kind is measured; which of them are circuit vents is the rule set's to say.

use crownweir_rulebook::Size;
use crownweir_vocabulary::{FixtureType, Role, RunKind};

use super::air::Supply;
use super::ways::Extremes;
use super::{FixtureFacts, Measured, NONE, Seen, put};

/// The part of a branch that one dry vent serves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Circuit {
    /// Where the dry vent stands.
    pub(crate) vent: u32,
    /// Where the branch has its air: at the vent, or where a vertical drain leads down from that.
    pub(crate) foot: u32,
    /// The last pipe of that vertical drain.
    pub(crate) riser: u32,
    /// The lowest joint of a drain that depends on it.
    pub(crate) last: u32,
    /// Traps that depend on it, those above the vent included.
    pub(crate) fixtures: u32,
    /// Those of them above the foot.
    pub(crate) above: u32,
    /// Further traps that depend on it if the drain that brings them air is horizontal, of which it is not stated how
    /// it lies.
    pub(crate) open: u32,
    /// Such a drain.
    pub(crate) gap: u32,
    /// Which types of fixture they are, one bit for each.
    types: u64,
    pub(crate) line: Extremes,
}

/// Where the vertical drain below a dry vent meets a branch that runs on, and its last pipe; the vent itself where
/// there is no such drain.
fn foot(measured: &Measured<'_>, vent: u32) -> (u32, u32) {
    let (mut node, mut riser) = (vent, NONE);
    while let Some((number, pipe)) = measured
        .next(node)
        .and_then(|next| Some((next, measured.pipe(next)?)))
    {
        let falls = pipe.vertical == Some(true) && pipe.kind == RunKind::Branch;
        if !falls || measured.vent_of(pipe.to).is_some() {
            break;
        }
        (node, riser) = (pipe.to, number);
    }
    (node, riser)
}

impl Circuit {
    /// Whether a trap's drain meets the branch where that has its air, from above.
    fn takes_above(&self, measured: &Measured<'_>, supply: &Supply) -> bool {
        let plumb = measured
            .pipe(supply.brings)
            .is_none_or(|pipe| pipe.vertical == Some(true));
        plumb && supply.connection == self.foot && supply.arrival != self.riser
    }

    /// How many types of fixture there are among them.
    pub(crate) fn types(&self) -> u32 {
        self.types.count_ones()
    }
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Circuits {
    /// For each node, the nearest dry vent up the branch.
    pub(crate) near: Vec<u32>,
    /// The circuit of each dry vent, by its place in the list.
    pub(crate) place: Vec<u32>,
    pub(crate) list: Vec<Circuit>,
}

pub(crate) fn circuits(measured: &Measured<'_>) -> Circuits {
    let nodes = measured.node_bound();
    let mut found = Circuits {
        near: vec![NONE; nodes],
        place: vec![NONE; nodes],
        list: Vec::new(),
    };
    for node in measured.drain_order() {
        found.near[node as usize] = found.near_at(measured, node);
    }
    for fixture in measured.all_fixtures() {
        let Some((vent, supply)) = found.member(measured, fixture.node) else {
            continue;
        };
        let place = found.place[vent as usize];
        let mut circuit = found.list.get(place as usize).copied();
        Circuit::take_level(&mut circuit, measured, vent, fixture, &supply);
        match (found.list.get_mut(place as usize), circuit) {
            (Some(slot), Some(circuit)) => *slot = circuit,
            (None, Some(circuit)) => {
                found.place[vent as usize] = super::index(found.list.len());
                found.list.push(circuit);
            }
            (_, None) => {}
        }
    }
    for fixture in measured.all_fixtures() {
        let Some((vent, supply)) = found.member(measured, fixture.node) else {
            continue;
        };
        let place = super::at(&found.place, vent);
        if let Some(circuit) = place.and_then(|place| found.list.get_mut(place as usize)) {
            circuit.take_above(measured, fixture, &supply);
        }
    }
    in_line(measured, &mut found);
    for circuit in &mut found.list {
        circuit.line = line(measured, circuit);
    }
    found
}

impl Circuit {
    /// Reckons with a fixture whose air comes by a level drain from the vent; the first makes the circuit.
    pub(crate) fn take_level(
        circuit: &mut Option<Self>,
        measured: &Measured<'_>,
        vent: u32,
        fixture: &FixtureFacts,
        supply: &Supply,
    ) {
        let lies = measured.pipe(supply.brings).and_then(|pipe| pipe.vertical);
        if supply.brings == NONE || lies != Some(false) {
            return;
        }
        match circuit {
            None => {
                let (foot, riser) = foot(measured, vent);
                *circuit = Some(Self {
                    vent,
                    foot,
                    riser,
                    last: supply.connection,
                    fixtures: 1,
                    above: 0,
                    open: 0,
                    gap: NONE,
                    types: bit(fixture.fixture_type),
                    line: Extremes::NONE,
                });
            }
            Some(circuit) => {
                circuit.fixtures += 1;
                circuit.types |= bit(fixture.fixture_type);
                if measured.depth(supply.connection) < measured.depth(circuit.last) {
                    circuit.last = supply.connection;
                }
            }
        }
    }

    /// Reckons with a fixture of the vent's, if its drain meets the branch from above, or if it is open how it meets it.
    pub(crate) fn take_above(&mut self, measured: &Measured<'_>, fixture: &FixtureFacts, supply: &Supply) {
        let brings = measured.pipe(supply.brings);
        if brings.is_some_and(|pipe| pipe.vertical.is_none()) {
            self.open += 1;
            self.gap = self.gap.min(supply.brings);
        }
        if self.takes_above(measured, supply) {
            self.fixtures += 1;
            self.above += 1;
            self.types |= bit(fixture.fixture_type);
        }
    }
}

/// Where one circuit follows another on the same branch, the last trap above its vent is its first.
fn in_line(measured: &Measured<'_>, found: &mut Circuits) {
    for place in 0..found.list.len() {
        let Some(circuit) = found.list.get(place).filter(|one| one.above == 0) else {
            continue;
        };
        let before = found
            .before(measured, circuit.vent)
            .and_then(|vent| super::at(&found.place, vent));
        let Some(before) = before.and_then(|before| found.list.get_mut(before as usize)) else {
            continue;
        };
        before.fixtures = before.fixtures.saturating_sub(1);
        if let Some(circuit) = found.list.get_mut(place) {
            (circuit.fixtures, circuit.above) = (circuit.fixtures + 1, 1);
        }
    }
}

fn bit(fixture: FixtureType) -> u64 {
    let place = FixtureType::ALL.iter().position(|&one| one == fixture);
    place
        .and_then(|place| u32::try_from(place).ok())
        .map_or(0, |place| 1_u64.wrapping_shl(place))
}

/// The drains from the joint above the vent, if it is one, to the lowest joint. The circuits of different vents
/// share no drain between these, so that all of them together are walked once.
pub(crate) fn line(measured: &Measured<'_>, circuit: &Circuit) -> Extremes {
    let mut line = Extremes::NONE;
    let beside = measured
        .inlets(circuit.foot, Role::Drain)
        .filter(|&inlet| inlet != circuit.riser);
    for inlet in beside {
        let above = measured.pipe(inlet).map_or(NONE, |pipe| pipe.from);
        if measured.inlets(above, Role::Drain).nth(1).is_some() {
            line = line.with(measured, inlet);
        }
    }
    let mut node = circuit.foot;
    while node != circuit.last {
        let Some(drain) = measured.next(node) else { break };
        line = line.with(measured, drain);
        node = measured.pipe(drain).map_or(circuit.last, |pipe| pipe.to);
    }
    line
}

/// The drains of the fixtures that depend on one dry vent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Arms {
    pub(crate) smallest: Option<Size>,
    pub(crate) largest: Option<Size>,
    /// A drain whose size is not stated.
    pub(crate) gap: u32,
}

/// The fixture drains of each circuit, by its place in the list; only rules about circuits ask.
pub(crate) fn arms(measured: &Measured<'_>) -> Vec<Arms> {
    let mut arms = vec![Arms::NONE; measured.state.circuits.list.len()];
    for fixture in &measured.state.fixtures {
        if let Some((place, drain)) = arm(measured, fixture.node)
            && let Some(own) = arms.get_mut(place as usize)
        {
            own.add(measured, drain);
        }
    }
    arms
}

/// The place in the list of the circuit that a fixture's trap is part of, and the fixture's drain.
pub(crate) fn arm(measured: &Measured<'_>, fixture: u32) -> Option<(u32, u32)> {
    let supply = measured.state.air.supply(measured, fixture)?;
    let place = measured.state.circuits.place_of(measured, &supply)?;
    Some((place, measured.next(fixture)?))
}

impl Arms {
    pub(crate) const NONE: Self = Self {
        smallest: None,
        largest: None,
        gap: NONE,
    };

    pub(crate) fn add(&mut self, measured: &Measured<'_>, drain: u32) {
        match measured.pipe(drain).and_then(|drain| drain.size) {
            None => self.gap = drain,
            Some(size) => {
                self.smallest = Some(self.smallest.map_or(size, |smallest| smallest.min(size)));
                self.largest = self.largest.max(Some(size));
            }
        }
    }
}

impl Circuits {
    /// Forgets what was told of a node, or makes room for one that has come. Its circuit has gone once no trap is of it.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.near, node, NONE);
        self.place.resize(self.near.len(), NONE);
    }

    /// The nearest dry vent up the branch from a node, where it is told of those above it.
    pub(crate) fn near_at(&self, measured: &Measured<'_>, node: u32) -> u32 {
        if measured.vent_of(node).is_some() {
            return node;
        }
        let first = measured.state.air.bringing(measured, node).next();
        first
            .and_then(|drain| measured.pipe(drain))
            .map_or(NONE, |pipe| self.near[pipe.from as usize])
    }

    /// The dry vent whose branch a fixture's trap may be part of, and how it gets its air.
    pub(crate) fn member(&self, measured: &Measured<'_>, fixture: u32) -> Option<(u32, Supply)> {
        let supply = measured.state.air.supply(measured, fixture)?;
        Some((self.vent(measured, &supply)?, supply))
    }

    /// The dry vent next up the branch from one.
    pub(crate) fn before(&self, measured: &Measured<'_>, vent: u32) -> Option<u32> {
        let first = measured.state.air.bringing(measured, vent).next()?;
        let above = measured.pipe(first)?.from;
        measured.see(Seen::Near, above);
        super::at(&self.near, above)
    }

    /// The dry vent of the branch by which a trap gets its air, or where it stands at its own connection.
    pub(crate) fn vent(&self, measured: &Measured<'_>, supply: &Supply) -> Option<u32> {
        if supply.brings == NONE {
            return Some(supply.connection);
        }
        let above = measured.pipe(supply.brings)?.from;
        measured.see(Seen::Near, above);
        super::at(&self.near, above)
    }

    /// The place in the list of the circuit that a trap is part of.
    pub(crate) fn place_of(&self, measured: &Measured<'_>, supply: &Supply) -> Option<u32> {
        let vent = self.vent(measured, supply)?;
        measured.see(Seen::Circuit, vent);
        let place = super::at(&self.place, vent)?;
        let circuit = self.list.get(place as usize)?;
        let level = match measured.pipe(supply.brings) {
            Some(pipe) => pipe.vertical == Some(false),
            None => circuit.foot == circuit.vent,
        };
        (level || circuit.takes_above(measured, supply)).then_some(place)
    }

    /// The circuit of a dry vent.
    pub(crate) fn at(&self, measured: &Measured<'_>, vent: u32) -> Option<&Circuit> {
        measured.see(Seen::Circuit, vent);
        self.list.get(super::at(&self.place, vent)? as usize)
    }

    /// The circuit that a trap is part of.
    pub(crate) fn of(&self, measured: &Measured<'_>, supply: &Supply) -> Option<&Circuit> {
        self.list.get(self.place_of(measured, supply)? as usize)
    }

    /// Puts the circuit of a dry vent in the place of the one that there was, and says whether they differ.
    pub(crate) fn put(&mut self, vent: u32, circuit: Option<Circuit>) -> bool {
        let place = super::at(&self.place, vent);
        let slot = place.and_then(|place| self.list.get_mut(place as usize));
        match (slot, circuit) {
            (Some(slot), Some(circuit)) => {
                let differs = *slot != circuit;
                *slot = circuit;
                differs
            }
            (None, None) => false,
            (_, circuit) => {
                let next = super::index(self.list.len());
                if let Some(place) = self.place.get_mut(vent as usize) {
                    *place = circuit.map_or(NONE, |_| next);
                }
                self.list.extend(circuit);
                true
            }
        }
    }

    /// The branches that dry vents serve.
    pub(crate) fn list(&self) -> impl Iterator<Item = &Circuit> {
        // A circuit that is no more leaves its place in the list.
        let all = (0..).zip(&self.list);
        all.filter(|(place, one)| super::at(&self.place, one.vent) == Some(*place))
            .map(|(_, one)| one)
    }
}
