//! What each vent serves, how long it is, and how it ends.

use crownweir_rulebook::Size;
use crownweir_vocabulary::{Role, RunKind};

use super::{Class, Distance, Measured, NONE};

/// What a vent serves and how long it is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct VentFacts {
    /// Load in thousandths of the drains served, each fixture at its own value.
    pub(crate) load: i64,
    /// A fixture whose load is not known.
    pub(crate) gap: u32,
    pub(crate) water_closets: u32,
    /// Largest drain where it connects.
    pub(crate) served_size: Option<Size>,
    /// A drain there whose size is not stated.
    pub(crate) size_gap: u32,
    /// Highest flood level rim among the fixtures that depend on it, in nanometres above the datum; `i64::MIN`
    /// where none does.
    pub(crate) rim: i64,
    /// A fixture whose rim is not known.
    pub(crate) rim_gap: u32,
    /// From the farthest drain connection to the start of the pipe.
    before: Distance,
    /// From the end of the pipe to where the vent ends.
    after: Distance,
    /// From the end of the pipe to the open air or valve.
    to_air: Distance,
    /// The stack that a stack vent or vent stack serves.
    pub(crate) stack: u32,
    /// How many stacks' vents have come together, and the largest of these stacks.
    pub(crate) stacks: u32,
    pub(crate) stack_size: Option<Size>,
    /// Load in thousandths of these stacks together.
    pub(crate) stack_load: i64,
    /// A fixture of theirs whose load is not known.
    pub(crate) stack_load_gap: u32,
    /// From the farthest base of theirs to the start of the pipe.
    base: Distance,
    /// Smallest size from here to open air; none where a size is not stated or a valve ends it.
    pub(crate) clear_size: Option<Size>,
    /// Smallest size from here to where it ends, whatever that is; none where a size is not stated.
    pub(crate) least_size: Option<Size>,
    /// Where it ends.
    pub(crate) end: u32,
    /// Where it first turns from plumb.
    pub(crate) turn: u32,
}

impl VentFacts {
    const NOTHING: Self = Self {
        load: 0,
        gap: NONE,
        water_closets: 0,
        served_size: None,
        size_gap: NONE,
        rim: i64::MIN,
        rim_gap: NONE,
        before: Distance::ZERO,
        after: Distance::ZERO,
        to_air: Distance::ZERO,
        stack: NONE,
        stacks: 0,
        stack_size: None,
        stack_load: 0,
        stack_load_gap: NONE,
        base: Distance::ZERO,
        clear_size: None,
        least_size: None,
        end: NONE,
        turn: NONE,
    };

    fn add(&mut self, other: &Self) {
        let first = |own: &mut u32, other: u32| {
            if *own == NONE {
                *own = other;
            }
        };
        self.load = self.load.saturating_add(other.load);
        first(&mut self.gap, other.gap);
        self.water_closets = self.water_closets.saturating_add(other.water_closets);
        self.served_size = self.served_size.max(other.served_size);
        first(&mut self.size_gap, other.size_gap);
        self.rim = self.rim.max(other.rim);
        first(&mut self.rim_gap, other.rim_gap);
        first(&mut self.stack, other.stack);
        self.stacks = self.stacks.saturating_add(other.stacks);
        self.stack_size = self.stack_size.max(other.stack_size);
        self.stack_load = self.stack_load.saturating_add(other.stack_load);
        first(&mut self.stack_load_gap, other.stack_load_gap);
    }
}

#[derive(Debug, Default)]
pub(crate) struct Vents {
    /// The place in the list of each pipe that is a vent.
    place: Vec<u32>,
    list: Vec<VentFacts>,
    pub(crate) largest_open: Option<Size>,
}

impl Vents {
    pub(crate) fn of(&self, pipe: u32) -> Option<&VentFacts> {
        self.list.get(super::at(&self.place, pipe)? as usize)
    }

    fn of_mut(&mut self, pipe: u32) -> Option<&mut VentFacts> {
        self.list.get_mut(super::at(&self.place, pipe)? as usize)
    }
}

impl Measured<'_> {
    /// From the farthest drain connection to where the vent ends by the rule set's definition.
    pub(crate) fn vent_length(&self, pipe: u32) -> Option<Distance> {
        let facts = self.vents.of(pipe)?;
        Some(facts.before.plus(self.pipe(pipe)?.length).plus(facts.after))
    }

    /// From the base of the farthest stack whose vent has come to a pipe, along the stack and the vents, to the open air.
    pub(crate) fn header_length(&self, pipe: u32) -> Option<Distance> {
        let facts = self.vents.of(pipe)?;
        Some(facts.base.plus(self.pipe(pipe)?.length).plus(facts.to_air))
    }

    /// From the farthest connection of the vent's own kind to the open air.
    pub(crate) fn vent_length_to_air(&self, pipe: u32) -> Option<Distance> {
        let facts = self.vents.of(pipe)?;
        Some(facts.before.plus(self.pipe(pipe)?.length).plus(facts.to_air))
    }
}

pub(crate) fn vents(measured: &Measured<'_>, served: &[u32]) -> Vents {
    let mut vents = Vents {
        place: vec![NONE; measured.pipes.len()],
        list: Vec::new(),
        largest_open: None,
    };
    for (place, pipe) in vents.place.iter_mut().zip(&measured.pipes) {
        if pipe.kind.role() == Role::Vent {
            *place = super::index(vents.list.len());
            vents.list.push(VentFacts::NOTHING);
        }
    }
    rims(measured, &mut vents);
    for node in measured.vent_order() {
        for pipe in measured.vents_from(node) {
            let Some(own) = measured.pipe(pipe) else { continue };
            let mut facts = VentFacts::NOTHING;
            if measured.totals.get(node as usize).is_some() && measured.next(node).is_some() {
                facts = connection(measured, node, own.kind, served);
                let first = measured.vent_of(node).and_then(|vent| vents.of(vent));
                (facts.rim, facts.rim_gap) =
                    first.map_or((i64::MIN, NONE), |first| (first.rim, first.rim_gap));
            }
            for inlet in measured.inlets(node, Role::Vent) {
                let (Some(above), Some(inlet_facts)) = (vents.of(inlet).copied(), measured.pipe(inlet))
                else {
                    continue;
                };
                facts.add(&above);
                if above.stacks > 0 {
                    facts.base = facts.base.longer(above.base.plus(inlet_facts.length));
                }
                // A branch vent that joins a stack vent does not lengthen it.
                if inlet_facts.kind == own.kind {
                    facts.before = facts.before.longer(above.before.plus(inlet_facts.length));
                }
            }
            if let Some(slot) = vents.of_mut(pipe) {
                *slot = facts;
            }
        }
    }
    for node in measured.vent_order().rev() {
        let onward = measured
            .vent_of(node)
            .and_then(|next| Some((measured.pipe(next)?, *vents.of(next)?)));
        let open = measured.is(node, Class::Terminal);
        for inlet in measured.inlets(node, Role::Vent) {
            let Some(own) = measured.pipe(inlet) else { continue };
            let Some(slot) = vents.of_mut(inlet) else {
                continue;
            };
            match onward {
                None => {
                    slot.clear_size = own.size.filter(|_| open);
                    slot.least_size = own.size;
                    slot.end = node;
                    slot.turn = if own.vertical == Some(true) {
                        NONE
                    } else {
                        own.from
                    };
                }
                Some((next, facts)) => {
                    let is_main = matches!(next.kind, RunKind::StackVent | RunKind::VentStack);
                    let ends = measured.rules.definitions.vent_length.at_main_vent
                        && is_main
                        && own.kind == RunKind::BranchVent;
                    if !ends {
                        slot.after = next.length.plus(facts.after);
                    }
                    slot.to_air = next.length.plus(facts.to_air);
                    slot.clear_size = own
                        .size
                        .zip(facts.clear_size)
                        .map(|(own, further)| own.min(further));
                    slot.least_size = own
                        .size
                        .zip(facts.least_size)
                        .map(|(own, further)| own.min(further));
                    slot.end = facts.end;
                    slot.turn = if own.vertical == Some(true) {
                        facts.turn
                    } else {
                        own.from
                    };
                }
            }
            if measured.next(own.from).is_some() {
                let clear = vents.of(inlet).and_then(|facts| facts.clear_size);
                vents.largest_open = vents.largest_open.max(clear);
            }
        }
    }
    vents
}

/// What a vent serves that leaves the drain at a node.
fn connection(measured: &Measured<'_>, node: u32, kind: RunKind, served: &[u32]) -> VentFacts {
    let mut facts = VentFacts::NOTHING;
    // A wet vent's dry vent serves everything down to the last trap that depends on it.
    let served = super::at(served, node).unwrap_or(node);
    if let Some(totals) = measured.totals.get(served as usize) {
        facts.load = totals.own_load;
        facts.gap = totals.gap;
        facts.water_closets = totals.water_closets;
    }
    let drains = measured.inlets(served, Role::Drain).chain(measured.next(node));
    for drain in drains {
        match measured.pipe(drain).and_then(|drain| drain.size) {
            Some(size) => facts.served_size = facts.served_size.max(Some(size)),
            None => facts.size_gap = drain,
        }
    }
    if matches!(kind, RunKind::StackVent | RunKind::VentStack) {
        let touching = measured
            .next(node)
            .into_iter()
            .chain(measured.inlets(node, Role::Drain));
        facts.stack = touching
            .filter_map(|drain| measured.stacks.of_pipe(measured, drain))
            .next()
            .or_else(|| measured.base_above(node).map(|(_, stack)| stack))
            .unwrap_or(NONE);
    }
    let stack = measured.stacks.list.get(facts.stack as usize);
    // A stack counts once: by its stack vent, or by its vent stack where it has none.
    if let Some(stack) = stack.filter(|stack| kind == RunKind::StackVent || !stack.has_stack_vent) {
        let foot = stack.pipes.last().copied().unwrap_or(NONE);
        facts.stacks = 1;
        facts.stack_size = stack.largest;
        if let (Some(flow), Some(pipe)) = (measured.flow(foot), measured.pipe(foot)) {
            (facts.stack_load, facts.stack_load_gap) = (flow.load, flow.gap);
            if kind == RunKind::StackVent {
                facts.base = measured.distance(node, pipe.to);
            }
        }
    }
    facts
}

/// Notes at the first vent of each dry vent's node the highest rim of the fixtures that depend on it, and one
/// whose rim is not known.
fn rims(measured: &Measured<'_>, vents: &mut Vents) {
    for fixture in &measured.fixtures {
        let supply = measured.air.supply(measured, fixture.node);
        let vent = supply.and_then(|supply| measured.vent_of(supply.dry_vent));
        let Some(slot) = vent.and_then(|vent| vents.of_mut(vent)) else {
            continue;
        };
        match fixture.rim {
            Some(rim) => slot.rim = slot.rim.max(rim),
            None => slot.rim_gap = fixture.node,
        }
    }
}
