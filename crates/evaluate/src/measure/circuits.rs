//! Horizontal branches that take several drains below a dry vent of their own, and what relieves them.
//!
//! A branch of any kind is measured; which of them are circuit vents is the rule set's to say.

use crownweir_vocabulary::{FixtureType, Role, RunKind};

use super::air::Supply;
use super::drains::by_size;
use super::ways::Extremes;
use super::{Measured, NONE};

/// The part of a branch that one dry vent serves.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Circuit {
    /// Where the dry vent stands.
    pub(crate) vent: u32,
    /// The lowest joint of a drain that depends on it.
    pub(crate) last: u32,
    /// Traps that depend on it, those above the vent included.
    pub(crate) fixtures: u32,
    /// Those of them above the vent.
    pub(crate) above: u32,
    /// Which types of fixture they are, one bit for each.
    types: u64,
    pub(crate) line: Extremes,
}

impl Circuit {
    /// How many types of fixture there are among them.
    pub(crate) fn types(&self) -> u32 {
        self.types.count_ones()
    }
}

#[derive(Debug, Default)]
pub(crate) struct Circuits {
    /// For each node, the nearest dry vent up the branch.
    near: Vec<u32>,
    /// The circuit of each dry vent, by its place in the list.
    place: Vec<u32>,
    list: Vec<Circuit>,
}

/// What relieves a branch below a node.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Relief {
    /// The load of the lightest vented drain that joins further down before the stack, in thousandths: none of a dry
    /// vent.
    pub(crate) load: i64,
    /// The largest dry vent that stands there.
    pub(crate) vent: u32,
}

impl Relief {
    const WITHOUT: Self = Self {
        load: i64::MAX,
        vent: NONE,
    };
}

pub(crate) fn circuits(measured: &Measured<'_>) -> Circuits {
    let nodes = measured.network.graph().node_count();
    let mut found = Circuits {
        near: vec![NONE; nodes],
        place: vec![NONE; nodes],
        list: Vec::new(),
    };
    for node in measured.drain_order() {
        found.near[node as usize] = if measured.vent_of(node).is_some() {
            node
        } else {
            let first = measured.air.bringing(node).next();
            first
                .and_then(|drain| measured.pipe(drain))
                .map_or(NONE, |pipe| found.near[pipe.from as usize])
        };
    }
    for fixture in &measured.fixtures {
        let Some(supply) = measured.air.supply(measured, fixture.node) else {
            continue;
        };
        if supply.brings == NONE || measured.pipe(supply.brings).and_then(|pipe| pipe.vertical) != Some(false)
        {
            continue;
        }
        let Some(vent) = found.vent(measured, &supply) else {
            continue;
        };
        let place = found.place[vent as usize];
        if place == NONE {
            found.place[vent as usize] = super::index(found.list.len());
            found.list.push(Circuit {
                vent,
                last: supply.connection,
                fixtures: 1,
                above: 0,
                types: bit(fixture.fixture_type),
                line: Extremes::NONE,
            });
        } else if let Some(circuit) = found.list.get_mut(place as usize) {
            circuit.fixtures += 1;
            circuit.types |= bit(fixture.fixture_type);
            let depth = |node: u32| measured.downstream.depth.get(node as usize).copied();
            if depth(supply.connection) < depth(circuit.last) {
                circuit.last = supply.connection;
            }
        }
    }
    for fixture in &measured.fixtures {
        let supply = measured.air.supply(measured, fixture.node);
        let above = supply.filter(|supply| supply.brings == NONE);
        let place = above.and_then(|supply| super::at(&found.place, supply.connection));
        if let Some(circuit) = place.and_then(|place| found.list.get_mut(place as usize)) {
            circuit.fixtures += 1;
            circuit.above += 1;
            circuit.types |= bit(fixture.fixture_type);
        }
    }
    in_line(measured, &mut found);
    for circuit in &mut found.list {
        circuit.line = line(measured, circuit);
    }
    found
}

/// Where one circuit follows another on the same branch, the last trap above its vent is its first.
fn in_line(measured: &Measured<'_>, found: &mut Circuits) {
    for place in 0..found.list.len() {
        let Some(vent) = found
            .list
            .get(place)
            .filter(|one| one.above == 0)
            .map(|one| one.vent)
        else {
            continue;
        };
        let above = measured
            .air
            .bringing(vent)
            .next()
            .and_then(|drain| measured.pipe(drain));
        let before = above
            .and_then(|drain| super::at(&found.near, drain.from))
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
fn line(measured: &Measured<'_>, circuit: &Circuit) -> Extremes {
    let mut line = Extremes::NONE;
    for inlet in measured.inlets(circuit.vent, Role::Drain) {
        let above = measured.pipe(inlet).map_or(NONE, |pipe| pipe.from);
        if measured.inlets(above, Role::Drain).nth(1).is_some() {
            line = line.with(measured, inlet);
        }
    }
    let mut node = circuit.vent;
    while node != circuit.last {
        let Some(drain) = measured.next(node) else { break };
        line = line.with(measured, drain);
        node = measured.pipe(drain).map_or(circuit.last, |pipe| pipe.to);
    }
    line
}

/// For each node of a branch, what relieves it further down before the stack.
pub(crate) fn reliefs(measured: &Measured<'_>) -> Vec<Relief> {
    let mut relief = vec![Relief::WITHOUT; measured.network.graph().node_count()];
    for node in measured.drain_order().rev() {
        let Some((number, pipe)) = measured
            .next(node)
            .and_then(|number| Some((number, measured.pipe(number)?)))
        else {
            continue;
        };
        let onward = measured.next(pipe.to).and_then(|next| measured.pipe(next));
        if pipe.kind != RunKind::Branch || onward.is_none_or(|next| next.kind != RunKind::Branch) {
            continue;
        }
        let below = relief[pipe.to as usize];
        let joined = measured
            .air
            .bringing(pipe.to)
            .filter(|&inlet| inlet != number)
            .filter_map(|inlet| measured.flow(inlet))
            .filter(|flow| flow.fixtures > 0)
            .map(|flow| flow.own_load);
        let lightest = joined.min().unwrap_or(i64::MAX);
        relief[node as usize] = match measured.vent_of(pipe.to) {
            None => Relief {
                load: below.load.min(lightest),
                ..below
            },
            Some(vent) => {
                let smaller = below.vent == NONE || by_size(measured, below.vent) < by_size(measured, vent);
                Relief {
                    load: 0,
                    vent: if smaller { vent } else { below.vent },
                }
            }
        };
    }
    relief
}

impl Circuits {
    /// The dry vent of the branch by which a trap gets its air, or where it stands at its own connection.
    pub(crate) fn vent(&self, measured: &Measured<'_>, supply: &Supply) -> Option<u32> {
        if supply.brings == NONE {
            return Some(supply.connection);
        }
        super::at(&self.near, measured.pipe(supply.brings)?.from)
    }

    /// The circuit that a trap is part of.
    pub(crate) fn of(&self, measured: &Measured<'_>, supply: &Supply) -> Option<&Circuit> {
        let brings = measured.pipe(supply.brings);
        if brings.is_some_and(|pipe| pipe.vertical != Some(false)) {
            return None;
        }
        let vent = self.vent(measured, supply)?;
        self.list.get(super::at(&self.place, vent)? as usize)
    }
}

impl Measured<'_> {
    /// What relieves the branch below a node, before its stack.
    pub(crate) fn relief(&self, node: u32) -> Option<Relief> {
        let relief = self.reliefs().get(node as usize).copied();
        relief.filter(|relief| relief.load != i64::MAX)
    }
}
