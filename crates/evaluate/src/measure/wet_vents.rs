//! What the drains that bring air bring it to: how many traps, whether water closets, and what else runs in them.
//!
//! It knows no bathroom group and no storey: what a code admits on a wet vent is the rule set's to say.

use crownweir_vocabulary::{FixtureType, Pattern, Role};

use super::air::Supply;
use super::{FixtureFacts, Measured, NONE, Seen, put};

/// What drains bring air to.
#[derive(Debug, Clone)]
pub(crate) struct WetVents {
    /// By the node that the drain leaves.
    pub(crate) list: Vec<WetVent>,
    /// For each stack, whether a trap gets its air through it.
    pub(crate) stacks: Vec<bool>,
}

/// What the drain that leaves a node brings air to.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct WetVent {
    traps: Traps,
    /// What it carries of fixtures whose air comes from the same dry vent as its own.
    own_load: OwnLoad,
}

/// Traps that get their air through a drain.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Traps {
    number: u32,
    /// The water closets among them.
    closets: u32,
    /// Those of them that an arrangement protects.
    protected: u32,
}

impl Traps {
    pub(crate) fn add(&mut self, other: Self) {
        self.number += other.number;
        self.closets += other.closets;
        self.protected += other.protected;
    }

    fn less(self, other: Self) -> Self {
        Self {
            number: self.number.saturating_sub(other.number),
            closets: self.closets.saturating_sub(other.closets),
            protected: self.protected.saturating_sub(other.protected),
        }
    }
}

/// A load in thousandths, and how many fixtures' loads are not known.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct OwnLoad {
    pub(crate) load: i64,
    pub(crate) unknown: u32,
}

impl WetVents {
    /// Forgets what was told of a node, or makes room for one that has come.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.list, node, WetVent::default());
    }
}

impl OwnLoad {
    fn add(&mut self, other: Self) {
        self.load = self.load.saturating_add(other.load);
        self.unknown = self.unknown.saturating_add(other.unknown);
    }
}

/// The water closets on each dry vent, which arrangements ask for.
pub(crate) fn closets(measured: &Measured<'_>) -> Vec<u32> {
    let mut closets_on = vec![0; measured.node_bound()];
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
    let nodes = measured.node_bound();
    // Each such trap begins a count at its dry vent and ends it at its own connection.
    let mut list = vec![WetVent::default(); nodes];
    let mut ending = vec![Traps::default(); nodes];
    for fixture in measured.all_fixtures() {
        let Some(supply) = measured.state.air.supply(measured, fixture.node) else {
            continue;
        };
        let (vent, connection) = (supply.dry_vent as usize, supply.connection as usize);
        list[connection]
            .own_load
            .add(own_load(measured, fixture, &supply));
        let trap = wet_trap(measured, fixture, &supply);
        list[vent].traps.add(trap);
        ending[connection].add(trap);
    }
    let mut found = WetVents {
        list,
        stacks: Vec::new(),
    };
    for node in measured.drain_order() {
        let here = node as usize;
        found.list[here] = found.at(measured, node, found.list[here], ending[here]);
    }
    let stacks = 0..super::index(measured.state.stacks.list.len());
    found.stacks = stacks.map(|stack| found.through_stack(measured, stack)).collect();
    found
}

/// A trap that gets its air through a drain; none where it gets it otherwise.
pub(crate) fn wet_trap(measured: &Measured<'_>, fixture: &FixtureFacts, supply: &Supply) -> Traps {
    if supply.brings == NONE {
        return Traps::default();
    }
    let chosen = measured.chosen_pattern(fixture.node);
    // What another arrangement protects is on no wet vent.
    let counts = matches!(
        chosen,
        None | Some(
            Pattern::Individual
                | Pattern::Common
                | Pattern::CommonLevels
                | Pattern::WetHorizontal
                | Pattern::WetVertical
        )
    );
    let number = u32::from(counts);
    Traps {
        number,
        closets: number * u32::from(fixture.fixture_type == FixtureType::WaterCloset),
        protected: number * u32::from(chosen.is_some()),
    }
}

/// A fixture's load, where its air comes from the same dry vent as that of the drain at its connection.
pub(crate) fn own_load(measured: &Measured<'_>, fixture: &FixtureFacts, supply: &Supply) -> OwnLoad {
    let head = measured.state.air.head_of(measured, supply.connection);
    if head != Some(supply.dry_vent) {
        return OwnLoad::default();
    }
    let load = measured.state.loads.of(measured, fixture.node).known();
    OwnLoad {
        load: load.unwrap_or(0),
        unknown: u32::from(load.is_none()),
    }
}

impl WetVent {
    /// Reckons with a trap that gets its air from here.
    pub(crate) fn begin(&mut self, trap: Traps) {
        self.traps.add(trap);
    }

    /// Reckons with a fixture that is connected here.
    pub(crate) fn carry(&mut self, load: OwnLoad) {
        self.own_load.add(load);
    }
}

impl WetVents {
    /// What the drain that leaves a node brings air to, where it is told of those that enter: `own` begins there, and
    /// `ending` ends there.
    pub(crate) fn at(&self, measured: &Measured<'_>, node: u32, own: WetVent, ending: Traps) -> WetVent {
        let mut here = own;
        let above = measured.inlets(node, Role::Drain);
        for [from, _] in above.filter_map(|inlet| measured.both_ends(inlet)) {
            here.traps.add(self.of(from).traps);
        }
        here.traps = here.traps.less(ending);
        if let Some(above) = measured.state.air.brought_from(measured, node) {
            here.own_load.add(self.of(above).own_load);
        }
        here
    }

    fn of(&self, node: u32) -> WetVent {
        self.list.get(node as usize).copied().unwrap_or_default()
    }

    /// Whether a trap gets its air through a stack, where it is told of its pipes.
    pub(crate) fn through_stack(&self, measured: &Measured<'_>, stack: u32) -> bool {
        let pipes = measured.stack_itself(stack).map_or(&[][..], |stack| &stack.pipes);
        let mut nodes = pipes.iter().filter_map(|&pipe| measured.both_ends(pipe));
        nodes.any(|[from, _]| {
            measured.see(Seen::WetVents, from);
            self.of(from).traps.number > 0
        })
    }

    /// The traps that get their air through the drain that leaves a node, and the water closets among them.
    pub(crate) fn through(&self, node: u32) -> (u32, u32) {
        let traps = self.of(node).traps;
        (traps.number, traps.closets)
    }

    /// The traps that are protected by air through the drain that leaves a node.
    pub(crate) fn protected(&self, node: u32) -> u32 {
        self.of(node).traps.protected
    }

    /// What the drain which leaves a node carries of fixtures on the same dry vent.
    pub(crate) fn own_load(&self, node: u32) -> OwnLoad {
        self.of(node).own_load
    }

    /// Whether a trap gets its air through a stack.
    pub(crate) fn has_stack(&self, stack: u32) -> bool {
        self.stacks.get(stack as usize) == Some(&true)
    }
}
