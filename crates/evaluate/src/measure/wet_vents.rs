//! What the drains that bring air bring it to: how many traps, whether water closets, and what else runs in them.
//!
//! It knows no bathroom group and no storey: what a code admits on a wet vent is the rule set's to say.

use crownweir_vocabulary::{FixtureType, Pattern};

use super::air::Supply;
use super::{FixtureFacts, Measured, NONE};

#[derive(Debug, Default, PartialEq)]
pub(crate) struct WetVents {
    /// For each node, the traps that get their air through its outgoing drain.
    traps: Vec<u32>,
    /// For each node, the water closets among them.
    closets: Vec<u32>,
    /// For each node, those of them that an arrangement protects.
    protected: Vec<u32>,
    /// For each node, what its outgoing drain carries of fixtures whose air comes from the same dry vent as the drain's
    /// own.
    own_load: Vec<OwnLoad>,
    /// For each stack, whether a trap gets its air through it.
    pub(crate) stacks: Vec<bool>,
}

/// A load in thousandths, and how many fixtures' loads are not known.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct OwnLoad {
    pub(crate) load: i64,
    pub(crate) unknown: u32,
}

impl OwnLoad {
    fn add(&mut self, other: Self) {
        self.load = self.load.saturating_add(other.load);
        self.unknown = self.unknown.saturating_add(other.unknown);
    }
}

/// The water closets on each dry vent, which arrangements ask for.
pub(crate) fn closets(measured: &Measured<'_>) -> Vec<u32> {
    let mut closets_on = vec![0; measured.network.graph().node_count()];
    for fixture in measured.all_fixtures() {
        if let Some(supply) = measured.state.air.supply(measured, fixture.node) {
            closets_on[supply.dry_vent as usize] += wet_closet(fixture, &supply);
        }
    }
    closets_on
}

/// One for a water closet that gets its air through a drain.
pub(crate) fn wet_closet(fixture: &FixtureFacts, supply: &Supply) -> u32 {
    u32::from(fixture.fixture_type == FixtureType::WaterCloset && supply.brings != NONE)
}

/// What the drains bring air to, once it is settled which arrangement protects each trap.
pub(crate) fn wet_vents(measured: &Measured<'_>) -> WetVents {
    let nodes = measured.network.graph().node_count();
    let mut found = WetVents {
        traps: vec![0; nodes],
        closets: vec![0; nodes],
        protected: vec![0; nodes],
        own_load: vec![OwnLoad::default(); nodes],
        stacks: Vec::new(),
    };
    // Each such trap begins a count at its dry vent and ends it at its own connection.
    let mut ending = vec![(0_u32, 0_u32, 0_u32); nodes];
    // A connected load stands for fixtures that have their traps, and vents, elsewhere.
    let has_trap = |fixture: &&FixtureFacts| fixture.fixture_type != FixtureType::ConnectedLoad;
    // What another arrangement protects is on no wet vent.
    let counts = |fixture: &FixtureFacts| {
        matches!(
            measured.chosen_pattern(fixture.node),
            None | Some(
                Pattern::Individual
                    | Pattern::Common
                    | Pattern::CommonLevels
                    | Pattern::WetHorizontal
                    | Pattern::WetVertical
            )
        )
    };
    for fixture in measured.all_fixtures().iter().filter(has_trap) {
        let Some(supply) = measured.state.air.supply(measured, fixture.node) else {
            continue;
        };
        let (vent, connection) = (supply.dry_vent as usize, supply.connection as usize);
        if measured.state.air.head_of(measured, supply.connection) == Some(supply.dry_vent) {
            let load = measured.state.loads.of(measured, fixture.node);
            found.own_load[connection].add(OwnLoad {
                load: load.unwrap_or(0),
                unknown: u32::from(load.is_none()),
            });
        }
        if supply.brings == NONE || !counts(fixture) {
            continue;
        }
        let closet = u32::from(fixture.fixture_type == FixtureType::WaterCloset);
        let protected = u32::from(measured.chosen_pattern(fixture.node).is_some());
        found.traps[vent] += 1;
        found.closets[vent] += closet;
        found.protected[vent] += protected;
        ending[connection].0 += 1;
        ending[connection].1 += closet;
        ending[connection].2 += protected;
    }
    for node in measured.drain_order() {
        let here = node as usize;
        let (traps, closets, protected) = ending[here];
        found.traps[here] = found.traps[here].saturating_sub(traps);
        found.closets[here] = found.closets[here].saturating_sub(closets);
        found.protected[here] = found.protected[here].saturating_sub(protected);
        if let Some(above) = measured.state.air.brought_from(measured, node) {
            let brought = found.own_load[above as usize];
            found.own_load[here].add(brought);
        }
        let below = measured.next(node).and_then(|pipe| measured.pipe(pipe));
        if let Some(to) = below.map(|pipe| pipe.to as usize) {
            found.traps[to] += found.traps[here];
            found.closets[to] += found.closets[here];
            found.protected[to] += found.protected[here];
        }
    }
    let through = |pipe: &u32| {
        measured
            .pipe(*pipe)
            .is_some_and(|pipe| found.through(pipe.from).0 > 0)
    };
    found.stacks = measured
        .state
        .stacks
        .list
        .iter()
        .map(|stack| stack.pipes.iter().any(through))
        .collect();
    found
}

impl WetVents {
    fn at(&self, node: usize) -> Option<(u32, u32, u32, OwnLoad)> {
        Some((
            *self.traps.get(node)?,
            *self.closets.get(node)?,
            *self.protected.get(node)?,
            *self.own_load.get(node)?,
        ))
    }

    /// Tells at which nodes they differ.
    pub(crate) fn where_differ(&self, other: &Self, each: impl FnMut(u32)) {
        let differing = (0..self.traps.len()).filter(|&node| self.at(node) != other.at(node));
        differing.map(super::index).for_each(each);
    }

    /// The traps that get their air through the drain that leaves a node, and the water closets among them.
    pub(crate) fn through(&self, node: u32) -> (u32, u32) {
        let at = |list: &[u32]| list.get(node as usize).copied().unwrap_or(0);
        (at(&self.traps), at(&self.closets))
    }

    /// The traps that are protected by air through the drain that leaves a node.
    pub(crate) fn protected(&self, node: u32) -> u32 {
        self.protected.get(node as usize).copied().unwrap_or(0)
    }

    /// What the drain which leaves a node carries of fixtures on the same dry vent.
    pub(crate) fn own_load(&self, node: u32) -> OwnLoad {
        self.own_load.get(node as usize).copied().unwrap_or_default()
    }

    /// Whether a trap gets its air through a stack.
    pub(crate) fn has_stack(&self, stack: u32) -> bool {
        self.stacks.get(stack as usize) == Some(&true)
    }
}
