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
    /// The same two along horizontal pipes only.
    flat: (Distance, Distance),
    /// From the end of the pipe to the open air or valve.
    to_air: Distance,
    /// The stack that a stack vent or vent stack serves.
    pub(crate) stack: u32,
    /// Smallest size from here to open air; none where a size is not stated or a valve ends it.
    pub(crate) clear_size: Option<Size>,
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
        flat: (Distance::ZERO, Distance::ZERO),
        to_air: Distance::ZERO,
        stack: NONE,
        clear_size: None,
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
    }
}

#[derive(Debug, Default)]
pub(crate) struct Vents {
    /// The place in the list of each pipe that is a vent.
    place: Vec<u32>,
    list: Vec<VentFacts>,
    pub(crate) largest_open: Option<Size>,
    /// The sum of the squares of the diameters with which vents reach open air, in square nanometres.
    pub(crate) open_area: u128,
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

    /// The horizontal part of the way from a drain connection to where the vent ends, where it is greatest.
    pub(crate) fn vent_horizontal_length(&self, pipe: u32) -> Option<Distance> {
        let (before, after) = self.vents.of(pipe)?.flat;
        Some(before.plus(self.flat_length(pipe)).plus(after))
    }

    /// The length of a horizontal pipe; nothing of a vertical one.
    fn flat_length(&self, pipe: u32) -> Distance {
        match self.pipe(pipe) {
            Some(own) if own.vertical == Some(false) => own.length,
            Some(own) if own.vertical.is_none() => Distance::of(None, pipe),
            _ => Distance::ZERO,
        }
    }

    /// From the farthest connection of the vent's own kind to the open air.
    pub(crate) fn vent_length_to_air(&self, pipe: u32) -> Option<Distance> {
        let facts = self.vents.of(pipe)?;
        Some(facts.before.plus(self.pipe(pipe)?.length).plus(facts.to_air))
    }
}

pub(crate) fn vents(measured: &Measured<'_>) -> Vents {
    let mut vents = Vents {
        place: vec![NONE; measured.pipes.len()],
        list: Vec::new(),
        largest_open: None,
        open_area: open_area(measured),
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
                facts = connection(measured, node, own.kind);
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
                // A branch vent that joins a stack vent does not lengthen it.
                if inlet_facts.kind == own.kind {
                    facts.before = facts.before.longer(above.before.plus(inlet_facts.length));
                    let flat = above.flat.0.plus(measured.flat_length(inlet));
                    facts.flat.0 = facts.flat.0.longer(flat);
                }
            }
            if let Some(slot) = vents.of_mut(pipe) {
                *slot = facts;
            }
        }
    }
    for node in measured.vent_order().rev() {
        let onward = measured.vent_of(node).and_then(|next| {
            let flat = measured.flat_length(next);
            Some((measured.pipe(next)?, *vents.of(next)?, flat))
        });
        let open = measured.is(node, Class::Terminal);
        for inlet in measured.inlets(node, Role::Vent) {
            let Some(own) = measured.pipe(inlet) else { continue };
            let Some(slot) = vents.of_mut(inlet) else {
                continue;
            };
            match onward {
                None => slot.clear_size = own.size.filter(|_| open),
                Some((next, facts, flat)) => {
                    let is_main = matches!(next.kind, RunKind::StackVent | RunKind::VentStack);
                    let ends = measured.rules.definitions.vent_length.at_main_vent
                        && is_main
                        && own.kind == RunKind::BranchVent;
                    if !ends {
                        slot.after = next.length.plus(facts.after);
                        slot.flat.1 = flat.plus(facts.flat.1);
                    }
                    slot.to_air = next.length.plus(facts.to_air);
                    slot.clear_size = own
                        .size
                        .zip(facts.clear_size)
                        .map(|(own, further)| own.min(further));
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

/// The sum of the squares of the diameters with which vents reach open air: each its own, or what the vents that
/// feed it come to together, where that is less.
fn open_area(measured: &Measured<'_>) -> u128 {
    let mut area = vec![0_u128; measured.pipes.len()];
    let mut open = 0_u128;
    for node in measured.vent_order() {
        let mut fed = None;
        for inlet in measured.inlets(node, Role::Vent) {
            let brought = area.get(inlet as usize).copied().unwrap_or(0);
            fed = Some(brought.saturating_add(fed.unwrap_or(0)));
        }
        if measured.is(node, Class::Terminal) {
            open = open.saturating_add(fed.unwrap_or(0));
        }
        let fed = fed.filter(|_| measured.next(node).is_none());
        for vent in measured.vents_from(node) {
            let size = measured.pipe(vent).and_then(|vent| vent.size);
            let diameter = size
                .and_then(|size| measured.rules.ladder.rung(size))
                .map_or(0, |rung| u128::from(rung.diameter.nanometres().unsigned_abs()));
            let own = diameter.saturating_mul(diameter);
            if let Some(slot) = area.get_mut(vent as usize) {
                *slot = fed.map_or(own, |fed| own.min(fed));
            }
        }
    }
    open
}

/// What a vent serves that leaves the drain at a node.
fn connection(measured: &Measured<'_>, node: u32, kind: RunKind) -> VentFacts {
    let mut facts = VentFacts::NOTHING;
    // A wet vent's dry vent serves everything down to the last trap that depends on it.
    let served = measured.air.served_by(node).unwrap_or(node);
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
