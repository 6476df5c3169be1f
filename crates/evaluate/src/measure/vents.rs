//! What each vent serves, how long it is, and how it ends.

use std::collections::HashMap;

use crownweir_network::RunId;
use crownweir_rulebook::{Fact, Size, Value};
use crownweir_vocabulary::{Pattern, Role, RunKind};

use super::loads::More;
use super::overlaps::{Overlaps, Turn, overlaps};
use super::runs::MOST_FOLLOWED;
use super::{
    Class, Distance, FixtureFacts, Got, Measured, NONE, PipeFacts, Seen, both_storeys, keep_first, put,
};

/// What a vent serves and how long it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct VentFacts {
    /// Load in thousandths of the drains served, each fixture once, whole bathroom groups at their group value.
    pub(crate) load: i64,
    /// What fixtures add to it whose loads are not known.
    pub(crate) more: More,
    /// One of these fixtures.
    pub(crate) gap: u32,
    pub(crate) water_closets: u32,
    /// A fixture without whose storey it is not known what depends on it.
    pub(crate) storey_gap: u32,
    /// Largest drain where it connects.
    pub(crate) served_size: Option<Size>,
    /// A drain there whose size is not stated.
    pub(crate) size_gap: u32,
    /// Highest flood level rim among the fixtures that depend on it, in nanometres above the datum, of a rim that is not
    /// known what it is at the least; `i64::MIN` where that is not known of any.
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
    /// How many stacks' vents have come together, and the largest of these stacks.
    pub(crate) stacks: u32,
    pub(crate) stack_size: Option<Size>,
    /// A pipe of theirs without which the largest is not known.
    pub(crate) stack_size_gap: u32,
    /// Load in thousandths of these stacks together.
    pub(crate) stack_load: i64,
    /// A fixture of theirs whose load is not known.
    pub(crate) stack_load_gap: u32,
    /// From the farthest base of theirs to the start of the pipe.
    base: Distance,
    /// Smallest size from here to open air; none where a size is not stated or a valve ends it.
    pub(crate) clear_size: Option<Size>,
    /// Points where it, or a vent that joins it, leaves the drains.
    pub(crate) connections: u32,
    /// Smallest size from here to where it ends, whatever that is; none where a size is not stated.
    pub(crate) least_size: Option<Size>,
    /// Where it ends.
    pub(crate) end: u32,
    /// Where it first turns from plumb.
    pub(crate) turn: u32,
    /// Where a branch vent joins a vent stack, by itself or by others.
    pub(crate) joint: u32,
}

/// The traps that get their air by a vent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Traps {
    pub(crate) number: u32,
    /// Those that get it through a drain.
    pub(crate) wet: u32,
    /// Load in thousandths of their fixtures.
    pub(crate) load: i64,
    /// What those add to it whose loads are not known.
    pub(crate) more: More,
    /// One of these fixtures.
    pub(crate) load_gap: u32,
    pub(crate) largest: Option<Size>,
    /// A trap whose size is not stated.
    pub(crate) size_gap: u32,
    /// The lowest and highest storey among their fixtures.
    pub(crate) storeys: (u32, u32),
    /// A fixture whose storey is not stated.
    pub(crate) storey_gap: u32,
}

impl Traps {
    pub(crate) const NONE: Self = Self {
        number: 0,
        wet: 0,
        load: 0,
        more: More::NOTHING,
        load_gap: NONE,
        largest: None,
        size_gap: NONE,
        storeys: (NONE, 0),
        storey_gap: NONE,
    };

    pub(crate) fn add(&mut self, other: &Self) {
        self.number = self.number.saturating_add(other.number);
        self.wet = self.wet.saturating_add(other.wet);
        self.load = self.load.saturating_add(other.load);
        self.more.add(other.more);
        self.load_gap = self.load_gap.min(other.load_gap);
        self.largest = self.largest.max(other.largest);
        self.size_gap = self.size_gap.min(other.size_gap);
        self.storeys = both_storeys(self.storeys, other.storeys);
        self.storey_gap = self.storey_gap.min(other.storey_gap);
    }
}

impl VentFacts {
    const NOTHING: Self = Self {
        load: 0,
        more: More::NOTHING,
        gap: NONE,
        water_closets: 0,
        storey_gap: NONE,
        served_size: None,
        size_gap: NONE,
        rim: i64::MIN,
        rim_gap: NONE,
        before: Distance::ZERO,
        after: Distance::ZERO,
        flat: (Distance::ZERO, Distance::ZERO),
        to_air: Distance::ZERO,
        stack: NONE,
        stacks: 0,
        stack_size: None,
        stack_size_gap: NONE,
        stack_load: 0,
        stack_load_gap: NONE,
        base: Distance::ZERO,
        clear_size: None,
        connections: 0,
        least_size: None,
        end: NONE,
        turn: NONE,
        joint: NONE,
    };

    fn add(&mut self, other: &Self) {
        self.load = self.load.saturating_add(other.load);
        self.more.add(other.more);
        keep_first(&mut self.gap, other.gap);
        self.water_closets = self.water_closets.saturating_add(other.water_closets);
        keep_first(&mut self.storey_gap, other.storey_gap);
        self.served_size = self.served_size.max(other.served_size);
        keep_first(&mut self.size_gap, other.size_gap);
        self.rim = self.rim.max(other.rim);
        keep_first(&mut self.rim_gap, other.rim_gap);
        self.connections = self.connections.saturating_add(other.connections);
        self.stacks = self.stacks.saturating_add(other.stacks);
        self.stack_size = self.stack_size.max(other.stack_size);
        keep_first(&mut self.stack_size_gap, other.stack_size_gap);
        self.stack_load = self.stack_load.saturating_add(other.stack_load);
        keep_first(&mut self.stack_load_gap, other.stack_load_gap);
    }
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Vents {
    /// The place in the list of each pipe that is a vent.
    place: Vec<u32>,
    list: Vec<VentFacts>,
    /// For each of them, the highest rim of the fixtures that depend on the node that it leaves, where it is the first
    /// to leave it.
    rims: Vec<Rim>,
    /// Places in the list of vents that have gone.
    free: Vec<u32>,
    /// What would count twice where vents come together.
    pub(crate) overlaps: Overlaps,
    pub(crate) largest_open: Option<Size>,
}

/// The highest rim of some fixtures, or the trap weir where that is known rather than the rim, and one whose rim is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Rim {
    rim: i64,
    gap: u32,
}

impl Rim {
    pub(crate) const NONE: Self = Self {
        rim: i64::MIN,
        gap: NONE,
    };

    pub(crate) fn add(&mut self, fixture: &FixtureFacts) {
        match fixture.rim {
            Some(rim) => self.rim = self.rim.max(rim),
            None => {
                self.rim = self.rim.max(fixture.weir.unwrap_or(i64::MIN));
                self.gap = fixture.node;
            }
        }
    }
}

/// What of a vent's facts is told against the way that air flows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ahead {
    after: Distance,
    flat: Distance,
    to_air: Distance,
    pub(crate) clear_size: Option<Size>,
    least_size: Option<Size>,
    pub(crate) end: u32,
    turn: u32,
    joint: u32,
}

impl VentFacts {
    pub(crate) fn ahead(&self) -> Ahead {
        Ahead {
            after: self.after,
            flat: self.flat.1,
            to_air: self.to_air,
            clear_size: self.clear_size,
            least_size: self.least_size,
            end: self.end,
            turn: self.turn,
            joint: self.joint,
        }
    }

    pub(crate) fn set_ahead(&mut self, ahead: Ahead) {
        self.after = ahead.after;
        self.flat.1 = ahead.flat;
        self.to_air = ahead.to_air;
        self.clear_size = ahead.clear_size;
        self.least_size = ahead.least_size;
        self.end = ahead.end;
        self.turn = ahead.turn;
        self.joint = ahead.joint;
    }
}

impl Vents {
    pub(crate) fn of(&self, pipe: u32) -> Option<&VentFacts> {
        self.list.get(super::at(&self.place, pipe)? as usize)
    }

    /// Forgets a pipe; what was told of a vent leaves its place in the list to the next that comes.
    pub(crate) fn clear_pipe(&mut self, pipe: u32) {
        if let Some(place) = self.place_of(pipe) {
            self.free.push(place);
        }
        put(&mut self.place, pipe, NONE);
    }

    /// Makes room for a vent that has come, and gives its place in the list.
    pub(crate) fn join(&mut self, pipe: u32) -> u32 {
        let place = self.free.pop().unwrap_or_else(|| super::index(self.list.len()));
        put(&mut self.list, place, VentFacts::NOTHING);
        put(&mut self.rims, place, Rim::NONE);
        put(&mut self.place, pipe, place);
        place
    }

    /// The place of a vent in the list.
    pub(crate) fn place_of(&self, pipe: u32) -> Option<u32> {
        super::at(&self.place, pipe)
    }

    pub(crate) fn of_mut(&mut self, pipe: u32) -> Option<&mut VentFacts> {
        self.list.get_mut(super::at(&self.place, pipe)? as usize)
    }

    /// The rims of those that depend on the node that a vent is the first to leave.
    pub(crate) fn rim_mut(&mut self, pipe: u32) -> Option<&mut Rim> {
        self.rims.get_mut(super::at(&self.place, pipe)? as usize)
    }

    /// What a vent that leaves a node serves, where it is told of those that enter the node.
    pub(crate) fn behind(
        &self,
        measured: &Measured<'_>,
        served: &[u32],
        node: u32,
        pipe: u32,
    ) -> Option<VentFacts> {
        let own = measured.pipe(pipe)?;
        let mut facts = VentFacts::NOTHING;
        if measured.next(node).is_some() {
            facts = connection(measured, node, own.kind, served);
            measured.see(Seen::Rim, node);
            let first = measured
                .vent_of(node)
                .and_then(|vent| super::at(&self.place, vent));
            let rim = first.and_then(|first| self.rims.get(first as usize));
            let rim = rim.copied().unwrap_or(Rim::NONE);
            (facts.rim, facts.rim_gap) = (rim.rim, rim.gap);
            facts.connections = 1;
        }
        for inlet in measured.inlets(node, Role::Vent) {
            let (Some(above), Some(inlet_facts)) = (self.of(inlet), measured.pipe(inlet)) else {
                continue;
            };
            facts.add(above);
            facts.stack = governing(measured, facts.stack, above.stack);
            if above.stacks > 0 {
                facts.base = facts.base.longer(above.base.plus(inlet_facts.length));
            }
            // A branch vent that joins a stack vent does not lengthen it.
            if inlet_facts.kind == own.kind {
                facts.before = facts.before.longer(above.before.plus(inlet_facts.length));
                let flat = above.flat.0.plus(measured.flat_length(inlet));
                facts.flat.0 = facts.flat.0.longer(flat);
            }
        }
        for drain in self.overlaps.at(node) {
            if let Some(totals) = measured.totals_at(drain) {
                facts.load = facts.load.saturating_sub(totals.load);
                facts.more.take_off(totals.more);
            }
        }
        for (turn, credit) in self.overlaps.credits_at(node) {
            match turn {
                Turn::Whole => {
                    facts.load = facts.load.saturating_sub(credit.load);
                    facts.more.add(credit.more);
                }
                Turn::Within => {
                    facts.load = facts.load.saturating_add(credit.load);
                    facts.more.take_off(credit.more);
                }
            }
        }
        facts.set_ahead(self.of(pipe)?.ahead());
        Some(facts)
    }

    /// What lies ahead of a vent that enters a node, where it is told of the one that leaves the node.
    pub(crate) fn ahead_of(&self, measured: &Measured<'_>, node: u32, inlet: u32) -> Option<Ahead> {
        let own = measured.pipe(inlet)?;
        let mut ahead = VentFacts::NOTHING.ahead();
        let onward = measured
            .vent_of(node)
            .and_then(|next| Some((next, measured.pipe(next)?, self.of(next)?)));
        match onward {
            None => {
                let open = measured.is(node, Class::Terminal);
                ahead.clear_size = own.size.filter(|_| open);
                ahead.least_size = own.size;
                ahead.end = node;
                ahead.turn = if own.vertical == Some(true) {
                    NONE
                } else {
                    own.from
                };
            }
            Some((number, next, facts)) => {
                let is_main = matches!(next.kind, RunKind::StackVent | RunKind::VentStack);
                let ends = measured.rules.definitions.vent_length.at_main_vent
                    && is_main
                    && own.kind == RunKind::BranchVent;
                if !ends {
                    ahead.after = next.length.plus(facts.after);
                    ahead.flat = measured.flat_length(number).plus(facts.flat.1);
                }
                ahead.to_air = next.length.plus(facts.to_air);
                ahead.clear_size = own
                    .size
                    .zip(facts.clear_size)
                    .map(|(own, further)| own.min(further));
                ahead.least_size = own
                    .size
                    .zip(facts.least_size)
                    .map(|(own, further)| own.min(further));
                ahead.end = facts.end;
                ahead.turn = if own.vertical == Some(true) {
                    facts.turn
                } else {
                    own.from
                };
                ahead.joint = match (own.kind, next.kind) {
                    (RunKind::BranchVent, RunKind::VentStack) => node,
                    (RunKind::BranchVent, RunKind::BranchVent) => facts.joint,
                    _ => NONE,
                };
            }
        }
        Some(ahead)
    }
}

impl Measured<'_> {
    /// The largest of the vents that leave a node; one of unstated size before all others, for it may be the largest.
    pub(crate) fn largest_vent(&self, node: u32) -> Option<u32> {
        self.vents_from(node)
            .max_by_key(|&vent| super::drains::by_size(self, vent))
    }

    /// The vent that leads on from where one turns from plumb, if its slope is not stated: it may be plumb too. `first` is
    /// the pipe with which the vent begins, where that is not the most direct one there.
    pub(crate) fn turns_openly(&self, turn: u32, first: Option<u32>) -> Option<u32> {
        let first = first.filter(|&first| self.pipe(first).is_some_and(|first| first.from == turn));
        let pipe = first.or_else(|| self.vent_of(turn))?;
        self.pipe(pipe)?.vertical.is_none().then_some(pipe)
    }

    /// Whether a vent begins where a drain leads on.
    pub(crate) fn leaves_drain(&self, vent: u32) -> bool {
        self.pipe(vent).is_some_and(|vent| self.next(vent.from).is_some())
    }

    /// What a vent serves and how long it is.
    pub(crate) fn vent(&self, pipe: u32) -> Option<&VentFacts> {
        self.see(Seen::Vent, pipe);
        self.see(Seen::VentAhead, pipe);
        self.state.vents.of(pipe)
    }

    /// The stack that a stack vent or vent stack serves.
    pub(crate) fn served_stack(&self, pipe: u32) -> Option<u32> {
        self.see(Seen::StackOfVent, pipe);
        let vent = self.state.vents.of(pipe)?;
        Some(vent.stack).filter(|&stack| stack != NONE)
    }

    /// From the farthest drain connection to where the vent ends by the rule set's definition.
    pub(crate) fn vent_length(&self, pipe: u32) -> Option<Distance> {
        let facts = self.vent(pipe)?;
        Some(facts.before.plus(self.pipe(pipe)?.length).plus(facts.after))
    }

    /// From the base of the farthest stack whose vent has come to a pipe, along the stack and the vents, to the open air.
    pub(crate) fn header_length(&self, pipe: u32) -> Option<Distance> {
        let facts = self.vent(pipe)?;
        Some(facts.base.plus(self.pipe(pipe)?.length).plus(facts.to_air))
    }

    /// What a length along a vent comes to at the least: some way that leads there, as far as its lengths are known.
    pub(crate) fn known_vent_length(&self, pipe: u32, fact: Fact) -> Option<i64> {
        let is_flat = fact == Fact::VentHorizontalLength;
        let length = |own: &PipeFacts| match own.vertical {
            Some(false) => own.length.nanometres(),
            _ if is_flat => 0,
            _ => own.length.nanometres(),
        };
        let own = self.pipe(pipe)?;
        // The longest way back, through vents of the same kind.
        let (mut behind, mut open, mut left) = (0_i64, vec![(pipe, 0_i64)], MOST_FOLLOWED);
        while let Some((at, so_far)) = open.pop() {
            behind = behind.max(so_far);
            let at = self.pipe(at)?;
            for inlet in self.inlets(at.from, Role::Vent) {
                left = left.checked_sub(1)?;
                let further = self.pipe(inlet)?;
                if further.kind == at.kind {
                    open.push((inlet, so_far.saturating_add(length(further))));
                }
            }
        }
        let (mut sum, mut last) = (behind.saturating_add(length(own)), own);
        let ends_at_main = fact != Fact::VentLengthToAir && self.rules.definitions.vent_length.at_main_vent;
        while let Some(next) = self.vent_of(last.to).and_then(|next| self.pipe(next)) {
            let is_main = matches!(next.kind, RunKind::StackVent | RunKind::VentStack);
            if ends_at_main && is_main && last.kind == RunKind::BranchVent {
                break;
            }
            left = left.checked_sub(1)?;
            sum = sum.saturating_add(length(next));
            last = next;
        }
        Some(sum)
    }

    /// The horizontal part of the way from a drain connection to where the vent ends, where it is greatest.
    pub(crate) fn vent_horizontal_length(&self, pipe: u32) -> Option<Distance> {
        let (before, after) = self.vent(pipe)?.flat;
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
        let facts = self.vent(pipe)?;
        Some(facts.before.plus(self.pipe(pipe)?.length).plus(facts.to_air))
    }
}

pub(crate) fn vents(measured: &Measured<'_>, served: &[u32]) -> Vents {
    let mut vents = Vents {
        place: vec![NONE; measured.state.pipes.len()],
        // As many as there are, for a vector that grows takes twice the room.
        list: Vec::with_capacity(
            measured
                .state
                .pipes
                .iter()
                .filter(|pipe| pipe.kind.role() == Role::Vent)
                .count(),
        ),
        rims: Vec::new(),
        free: Vec::new(),
        overlaps: overlaps(measured, served),
        largest_open: None,
    };
    for (place, pipe) in vents.place.iter_mut().zip(&measured.state.pipes) {
        if pipe.kind.role() == Role::Vent {
            *place = super::index(vents.list.len());
            vents.list.push(VentFacts::NOTHING);
            vents.rims.push(Rim::NONE);
        }
    }
    rims(measured, &mut vents);
    for node in measured.vent_order() {
        for pipe in measured.vents_from(node) {
            if let (Some(facts), Some(slot)) =
                (vents.behind(measured, served, node, pipe), vents.of_mut(pipe))
            {
                *slot = facts;
            }
        }
    }
    for node in measured.vent_order().rev() {
        for inlet in measured.inlets(node, Role::Vent) {
            let Some(ahead) = vents.ahead_of(measured, node, inlet) else {
                continue;
            };
            if let Some(slot) = vents.of_mut(inlet) {
                slot.set_ahead(ahead);
            }
            if measured.leaves_drain(inlet) {
                vents.largest_open = vents.largest_open.max(ahead.clear_size);
            }
        }
    }
    vents
}

/// The largest size that a vent keeps all the way from a drain to open air, where some sizes are not stated: known all
/// the same where no size that these may have would alter it.
pub(crate) fn largest_open(measured: &Measured<'_>) -> Got {
    /// What a way to open air comes to at the least and at the most, counted from one up, and a pipe on it without a size.
    #[derive(Clone, Copy)]
    struct Way(u32, u32, u32);
    let shut = Way(0, 0, NONE);
    let mut ways = vec![shut; measured.state.pipes.len()];
    let (mut sure, mut best) = (0, shut);
    for node in measured.vent_order().rev() {
        let onward = match measured.vent_of(node) {
            Some(next) => ways.get(next as usize).copied().unwrap_or(shut),
            None if measured.is(node, Class::Terminal) => Way(u32::MAX, u32::MAX, NONE),
            None => shut,
        };
        for inlet in measured.inlets(node, Role::Vent) {
            let Some(own) = measured.pipe(inlet) else { continue };
            let way = match own.size {
                Some(size) => {
                    let size = u32::from(size.0) + 1;
                    Way(onward.0.min(size), onward.1.min(size), onward.2)
                }
                None if onward.2 == NONE => Way(0, onward.1, inlet),
                None => Way(0, onward.1, onward.2),
            };
            if let Some(slot) = ways.get_mut(inlet as usize) {
                *slot = way;
            }
            if measured.next(own.from).is_some() {
                sure = sure.max(way.0);
                if way.1 > best.1 || (way.1 == best.1 && way.0 > best.0) {
                    best = way;
                }
            }
        }
    }
    match (best.1 == sure, sure.checked_sub(1)) {
        (false, _) => measured.size_of(best.2),
        (true, None) => Got::Absent,
        (true, Some(size)) => Got::Known(Value::Size(Size(u16::try_from(size).unwrap_or(u16::MAX)))),
    }
}

/// The sum of the squares of the diameters, in nanometres, with which vents reach open air: each its own, or what the vents that
/// feed it come to together, where that is less.
pub(crate) fn open_area(measured: &Measured<'_>) -> u128 {
    let mut area = vec![0_u128; measured.state.pipes.len()];
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
fn connection(measured: &Measured<'_>, node: u32, kind: RunKind, served: &[u32]) -> VentFacts {
    let mut facts = VentFacts::NOTHING;
    // A wet vent's dry vent serves everything down to the last trap that depends on it.
    measured.see(Seen::Ends, node);
    let served = super::at(served, node).unwrap_or(node);
    facts.storey_gap = measured.state.air.in_doubt(measured, node, served);
    if let Some(totals) = measured.totals_at(served) {
        facts.load = totals.load;
        facts.more = totals.more;
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
        let of_pipe = |drain| measured.state.stacks.of_pipe(measured, drain);
        let ending = || measured.inlets(node, Role::Drain).filter_map(of_pipe);
        facts.stack = measured
            .next(node)
            .and_then(of_pipe)
            .or_else(|| ending().reduce(|one, other| governing(measured, one, other)))
            .or_else(|| measured.base_above(node).map(|(_, stack)| stack))
            .or_else(|| measured.stack_below(node).filter(|_| kind == RunKind::VentStack))
            .unwrap_or(NONE);
    }
    let stack = measured.stack_itself(facts.stack);
    // A stack counts once: by its stack vent, or by its vent stack where it has none.
    if let Some(stack) = stack.filter(|stack| kind == RunKind::StackVent || !stack.has_stack_vent) {
        let foot = stack.pipes.last().copied().unwrap_or(NONE);
        facts.stacks = 1;
        (facts.stack_size, facts.stack_size_gap) = (stack.largest, stack.size_gap);
        if let (Some(flow), Some(pipe)) = (measured.flow(foot), measured.pipe(foot)) {
            (facts.stack_load, facts.stack_load_gap) = (flow.load, flow.gap);
            if measured.state.stacks.holds(measured, facts.stack, node) {
                facts.base = measured.distance(node, pipe.to);
            }
        }
    }
    facts
}

/// Of two stacks whose vents come together the one that asks more of these: the larger, or the one with more load. One
/// whose size or load is not known may be that.
fn governing(measured: &Measured<'_>, one: u32, other: u32) -> u32 {
    if one == other || one == NONE || other == NONE {
        return if one == NONE { other } else { one };
    }
    let demand = |number: u32| {
        let stack = measured.stack_itself(number)?;
        let flow = stack.pipes.last().and_then(|&foot| measured.flow(foot));
        let load = flow.map(|flow| (flow.gap != NONE, flow.load));
        let name = measured.network.run(RunId::new(stack.run)).map(|run| &run.name);
        Some((
            (stack.size_gap != NONE, stack.largest),
            load,
            std::cmp::Reverse(name),
        ))
    };
    if demand(one) < demand(other) { other } else { one }
}

/// How directly air comes by a vent, the most direct first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Way {
    /// Straight from open air.
    Open,
    /// From a valve.
    Valve,
    /// Up from the foot of a loop.
    Foot,
}

/// How directly air comes by each vent.
pub(crate) fn directness(measured: &Measured<'_>) -> Vec<Way> {
    let mut ways = vec![Way::Open; measured.state.pipes.len()];
    for node in measured.vent_order().rev() {
        let way = match measured.vent_of(node) {
            Some(_) if measured.next(node).is_some() => Way::Foot,
            Some(onward) => ways.get(onward as usize).copied().unwrap_or(Way::Open),
            None if measured.is(node, Class::Valve) => Way::Valve,
            None => Way::Open,
        };
        for inlet in measured.inlets(node, Role::Vent) {
            if let Some(slot) = ways.get_mut(inlet as usize) {
                *slot = way;
            }
        }
    }
    ways
}

/// Notes at the first vent of each dry vent's node the highest rim of the fixtures that depend on it, and one
/// whose rim is not known.
fn rims(measured: &Measured<'_>, vents: &mut Vents) {
    for fixture in measured.all_fixtures() {
        let supply = measured.state.air.supply(measured, fixture.node);
        let vent = supply.and_then(|supply| measured.vent_of(supply.dry_vent));
        if let Some(slot) = vent.and_then(|vent| vents.rim_mut(vent)) {
            slot.add(fixture);
        }
    }
}

/// For each node, the cleanouts on the vent that leaves it, its own among them, up to where it joins another or ends.
pub(crate) fn cleanouts(measured: &Measured<'_>) -> Vec<u32> {
    let mut cleanouts = vec![0; measured.node_bound()];
    for node in measured.vent_order().rev() {
        let Some(pipe) = measured.vent_of(node).and_then(|vent| measured.pipe(vent)) else {
            continue;
        };
        let joins = measured.inlets(pipe.to, Role::Vent).nth(1).is_some();
        let onward = if joins { 0 } else { cleanouts[pipe.to as usize] };
        cleanouts[node as usize] = onward + u32::from(measured.is(node, Class::Cleanout));
    }
    cleanouts
}

/// The traps that get their air by each vent; few rule sets ask.
pub(crate) fn traps(measured: &Measured<'_>) -> Vec<Traps> {
    let mut of_nodes: HashMap<u32, Traps> = HashMap::new();
    for fixture in measured.all_fixtures() {
        if let Some((vent, trap)) = trap(measured, fixture) {
            of_nodes.entry(vent).or_insert(Traps::NONE).add(&trap);
        }
    }
    let mut traps = vec![Traps::NONE; measured.state.vents.list.len()];
    for node in measured.vent_order() {
        let sum = traps_at(measured, &traps, node, of_nodes.get(&node));
        for place in measured
            .vents_from(node)
            .filter_map(|vent| measured.state.vents.place_of(vent))
        {
            if let Some(slot) = traps.get_mut(place as usize) {
                *slot = sum;
            }
        }
    }
    traps
}

/// The traps that get their air by a vent that leaves a node: those whose air comes from there, and those of the vents
/// that enter it.
pub(crate) fn traps_at(measured: &Measured<'_>, traps: &[Traps], node: u32, own: Option<&Traps>) -> Traps {
    let mut sum = own.copied().unwrap_or(Traps::NONE);
    for inlet in measured.inlets(node, Role::Vent) {
        let place = measured.state.vents.place_of(inlet);
        if let Some(above) = place.and_then(|place| traps.get(place as usize)) {
            sum.add(above);
        }
    }
    sum
}

impl Measured<'_> {
    /// The traps that get their air by a vent.
    pub(crate) fn vent_traps(&self, pipe: u32) -> Traps {
        self.see(Seen::VentTraps, pipe);
        let place = super::at(&self.state.vents.place, pipe);
        let traps = place.and_then(|place| self.all_vent_traps().get(place as usize));
        traps.copied().unwrap_or(Traps::NONE)
    }
}

/// A fixture's trap, and the node whose vents it gets its air by; none where it needs no vent or has none.
pub(crate) fn trap(measured: &Measured<'_>, fixture: &FixtureFacts) -> Option<(u32, Traps)> {
    // A trap that needs no vent has none, wherever its drain meets air.
    let does_without = measured.chosen_pattern(fixture.node) == Some(Pattern::None);
    if does_without {
        return None;
    }
    let supply = measured.state.air.supply(measured, fixture.node)?;
    let load = measured.state.loads.of(measured, fixture.node);
    let gap = |known: bool| if known { NONE } else { fixture.node };
    let is_placed = fixture.storey != NONE;
    let own = Traps {
        number: 1,
        wet: u32::from(supply.brings != NONE),
        load: load.known().unwrap_or(0),
        more: More::of(load),
        load_gap: gap(load.known().is_some()),
        largest: fixture.trap,
        size_gap: gap(fixture.trap.is_some()),
        storeys: if is_placed {
            (fixture.storey, fixture.storey)
        } else {
            (NONE, 0)
        },
        storey_gap: gap(is_placed),
    };
    Some((supply.dry_vent, own))
}
