//! Stacks, and their branch intervals by the rule set's definition.

use std::collections::HashMap;

use crownweir_rulebook::Size;
use crownweir_vocabulary::{Role, RunKind};

use super::cleanouts::Walked;
use super::facts::{Element, Gap};
use super::{Distance, Measured, NONE, Seen, both_storeys, index, keep_first};

/// A stack: a run of that kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Stack {
    pub(crate) run: u32,
    /// Its pipes, upstream first.
    pub(crate) pipes: Vec<u32>,
    /// Places where something joins it.
    pub(crate) joints: u32,
    pub(crate) intervals: u32,
    /// A length or storey without which the intervals are not known.
    pub(crate) gap: Option<Gap>,
    pub(crate) largest: Option<Size>,
    pub(crate) smallest: Option<Size>,
    /// A pipe whose missing size, or missing slope, leaves these two open.
    pub(crate) size_gap: u32,
    pub(crate) has_stack_vent: bool,
    pub(crate) has_vent_stack: bool,
    /// The lowest and highest storey among its fittings and the fixtures that it drains.
    pub(crate) storeys: (u32, u32),
    /// A fixture whose storey is not stated.
    pub(crate) storey_gap: u32,
    /// Horizontal offsets, each of one or more pipes in a row.
    pub(crate) level_offsets: u32,
    /// A pipe whose slope is not stated.
    pub(crate) slope_gap: u32,
    /// From where it comes down up to the nearest cleanout.
    pub(crate) cleanout: Option<Distance>,
    /// The first pipe of its stack vent.
    pub(crate) stack_vent: u32,
    /// Pieces out of plumb between the highest and the lowest joint.
    pub(crate) offsets: u32,
    /// A piece whose slope is not stated.
    pub(crate) offset_gap: u32,
    /// Largest load within one interval, in thousandths.
    pub(crate) interval_load: i64,
    /// A fixture whose load is not known.
    pub(crate) interval_load_gap: u32,
    /// The first pipe of its vent stack.
    pub(crate) vent_stack: u32,
    /// Both, of a vent stack that leaves the stack itself.
    own_vent_stack: (bool, u32),
}

impl Stack {
    /// A stack of which nothing is told but where it is.
    fn new(run: u32) -> Self {
        Self {
            run,
            pipes: Vec::new(),
            joints: 0,
            intervals: 0,
            gap: None,
            largest: None,
            smallest: None,
            size_gap: NONE,
            has_stack_vent: false,
            has_vent_stack: false,
            storeys: (NONE, 0),
            storey_gap: NONE,
            level_offsets: 0,
            slope_gap: NONE,
            cleanout: None,
            stack_vent: NONE,
            offsets: 0,
            offset_gap: NONE,
            interval_load: 0,
            interval_load_gap: NONE,
            vent_stack: NONE,
            own_vent_stack: (false, NONE),
        }
    }

    /// Takes over another's vent stack.
    pub(crate) fn set_own(&mut self, other: &Self) {
        (self.has_vent_stack, self.vent_stack) = (other.has_vent_stack, other.vent_stack);
    }

    /// Forgets all that is told of it anew.
    fn untold(self) -> Self {
        Self {
            pipes: self.pipes,
            has_stack_vent: self.has_stack_vent,
            stack_vent: self.stack_vent,
            ..Self::new(self.run)
        }
    }
}

/// What is told of a stack beside itself.
pub(crate) struct Told {
    pub(crate) intervals: Vec<Interval>,
    /// The branch interval of each joint.
    pub(crate) ordinals: Vec<(u32, u32)>,
    /// Of each pipe of a horizontal offset, the length of the whole and how many drains join within it.
    pub(crate) offsets: Vec<(u32, (Distance, u32))>,
}

/// Tells all of a stack that its pipes, and what joins them, settle.
pub(crate) fn tell(measured: &Measured<'_>, of_run: &[u32], number: u32, stack: &mut Stack) -> Told {
    *stack = std::mem::replace(stack, Stack::new(NONE)).untold();
    sizes(measured, stack);
    let (intervals, ordinals) = intervals(measured, of_run, number, stack);
    stack.joints = index(ordinals.len());
    let offsets = level_offsets(measured, stack);
    course(measured, stack);
    Told {
        intervals,
        ordinals,
        offsets,
    }
}

/// A branch interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Interval {
    pub(crate) stack: u32,
    /// The stack's pipe below the interval's last connection.
    pub(crate) pipe: u32,
    /// Load in thousandths that enters within it.
    pub(crate) load: i64,
    /// The least and the most that it may come to; none where it may come to anything.
    pub(crate) ends: Option<(i64, i64)>,
    /// A fixture whose load is not known.
    pub(crate) gap: u32,
    /// The node where its first connection is.
    pub(crate) node: u32,
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Stacks {
    pub(crate) list: Vec<Stack>,
    pub(crate) intervals: Vec<Interval>,
    /// Of each pipe of a horizontal offset, the length of the whole and how many drains join within it.
    pub(crate) level_offsets: HashMap<u32, (Distance, u32)>,
    /// The stack of each run.
    pub(crate) of_run: Vec<u32>,
    /// The branch interval of each joint, counted from the top of its stack.
    pub(crate) ordinal: HashMap<u32, u32>,
}

impl Stacks {
    /// Notes that stacks have a vent stack from the building drain below them: each stack with the vent.
    pub(crate) fn note_vent_stacks_below(&mut self, stacks: &[(u32, u32)]) {
        for &(stack, vent) in stacks {
            if let Some(stack) = self.list.get_mut(stack as usize) {
                (stack.has_vent_stack, stack.vent_stack) = (true, vent);
            }
        }
    }

    /// Notes which vent stack a stack has: the last of some from the building drain below it, or its own.
    pub(crate) fn set_vent_stack(&mut self, stack: u32, below: Option<u32>) {
        if let Some(stack) = self.list.get_mut(stack as usize) {
            let own = stack.own_vent_stack;
            (stack.has_vent_stack, stack.vent_stack) = below.map_or(own, |vent| (true, vent));
        }
    }

    /// Whether a node is a joint of a stack, its foot left out.
    pub(crate) fn holds(&self, measured: &Measured<'_>, stack: u32, node: u32) -> bool {
        measured
            .next(node)
            .and_then(|pipe| self.of_pipe(measured, pipe))
            .is_some_and(|own| own == stack)
    }

    /// How many branch intervals of its stack lie above a joint, and what is missing that leaves that open.
    pub(crate) fn intervals_above(&self, measured: &Measured<'_>, joint: u32) -> Option<(u32, Option<Gap>)> {
        let stack = self.of_pipe(measured, measured.next(joint)?)?;
        measured.see(Seen::Stack, stack);
        let stack = self.list.get(stack as usize)?;
        Some((self.interval_at(joint)?, stack.gap))
    }

    /// The branch intervals of its stack that begin at or above where a pipe of it does, and what is missing that leaves them
    /// open.
    pub(crate) fn begun_above(&self, measured: &Measured<'_>, pipe: u32) -> (&[Interval], Option<Gap>) {
        let stack = self.of_pipe(measured, pipe).unwrap_or(NONE);
        let Some((own, pipe)) = measured.stack_itself(stack).zip(measured.pipe(pipe)) else {
            return (&[], None);
        };
        let first = self.intervals.partition_point(|interval| interval.stack < stack);
        let here = self.intervals.split_at(first).1;
        let begun = here.partition_point(|interval| {
            interval.stack == stack && measured.depth(interval.node) >= measured.depth(pipe.from)
        });
        (here.split_at(begun).0, own.gap)
    }

    /// The branch interval of a joint, counted from the top of its stack.
    pub(crate) fn interval_at(&self, joint: u32) -> Option<u32> {
        self.ordinal.get(&joint).copied()
    }

    /// Whether a branch joins a stack at a node.
    pub(crate) fn is_joint(&self, node: u32) -> bool {
        self.ordinal.contains_key(&node)
    }

    /// The stack that a pipe belongs to.
    pub(crate) fn of_pipe(&self, measured: &Measured<'_>, pipe: u32) -> Option<u32> {
        let pipe = measured.pipe(pipe).filter(|pipe| pipe.kind == RunKind::Stack)?;
        super::at(&self.of_run, pipe.run)
    }
}

pub(crate) fn stacks(measured: &Measured<'_>) -> Stacks {
    let mut stacks = Stacks {
        of_run: vec![NONE; measured.network.next_run().index()],
        ..Stacks::default()
    };
    for node in measured.drain_order() {
        let Some(number) = measured.next(node) else {
            continue;
        };
        let Some(pipe) = measured.pipe(number) else {
            continue;
        };
        if pipe.kind != RunKind::Stack {
            continue;
        }
        let next = index(stacks.list.len());
        // A stack may be written as several runs, one straight above the other.
        let above = measured
            .inlets(node, Role::Drain)
            .filter_map(|inlet| Some((inlet, measured.pipe(inlet)?)))
            .filter(|(_, inlet)| inlet.kind == RunKind::Stack && inlet.run != pipe.run)
            .filter(|_| measured.is(node, super::Class::Fitting))
            .min_by_key(|&(number, inlet)| (inlet.enters, measured.stated(number).map(|pipe| &*pipe.name)))
            .and_then(|(_, inlet)| super::at(&stacks.of_run, inlet.run));
        let own = super::at(&stacks.of_run, pipe.run).or(above);
        let stack = own.unwrap_or(next);
        stacks.of_run[pipe.run as usize] = stack;
        if stack == next {
            stacks.list.push(Stack::new(pipe.run));
        }
        let Some(stack) = stacks.list.get_mut(stack as usize) else {
            continue;
        };
        stack.pipes.push(number);
        let mut vents = measured.vents_from(node);
        let own = vents.find(|&vent| {
            measured
                .pipe(vent)
                .is_some_and(|vent| vent.kind == RunKind::StackVent)
        });
        if let Some(vent) = own.filter(|_| !stack.has_stack_vent) {
            stack.has_stack_vent = true;
            stack.stack_vent = vent;
        }
    }
    for (number, stack) in (0..).zip(&mut stacks.list) {
        let told = tell(measured, &stacks.of_run, number, stack);
        stacks.intervals.extend(told.intervals);
        stacks.ordinal.extend(told.ordinals);
        stacks.level_offsets.extend(told.offsets);
    }
    stacks
}

/// The sizes of a stack's upright pipes.
fn sizes(measured: &Measured<'_>, stack: &mut Stack) {
    for &number in &stack.pipes {
        let Some(pipe) = measured.pipe(number).filter(|pipe| pipe.vertical != Some(false)) else {
            continue;
        };
        if stack.size_gap == NONE && (pipe.size.is_none() || pipe.vertical.is_none()) {
            stack.size_gap = number;
        }
        stack.largest = stack.largest.max(pipe.size);
        stack.smallest = match (stack.smallest, pipe.size) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
    }
}

/// Each horizontal offset of a stack.
fn level_offsets(measured: &Measured<'_>, stack: &mut Stack) -> Vec<(u32, (Distance, u32))> {
    let vertical = |pipe: &u32| measured.pipe(*pipe).map(|pipe| pipe.vertical);
    let is_level = |pipe: &u32| vertical(pipe) == Some(Some(false));
    let is_open = |pipe: &u32| vertical(pipe) == Some(None);
    stack.slope_gap = stack.pipes.iter().copied().find(is_open).unwrap_or(NONE);
    let mut found = Vec::new();
    let parts = stack
        .pipes
        .chunk_by(|one, other| is_level(one) == is_level(other));
    let mut first = 0_usize;
    for part in parts {
        let (before, after) = (first.checked_sub(1), first + part.len());
        first = after;
        if !part.iter().all(is_level) {
            continue;
        }
        stack.level_offsets += 1;
        let pipes = part.iter().filter_map(|&pipe| measured.pipe(pipe));
        let length = pipes.fold(Distance::ZERO, |sum, pipe| sum.plus(pipe.length));
        // It may go on in a drain next to it.
        let beside = [before, Some(after)]
            .into_iter()
            .filter_map(|place| stack.pipes.get(place?));
        let length = beside
            .filter(|&pipe| is_open(pipe))
            .fold(length, |sum, &pipe| sum.plus(Distance::of(None, pipe)));
        let between = part.iter().skip(1).filter_map(|&pipe| measured.pipe(pipe));
        let inlets = between.map(|pipe| measured.inlets(pipe.from, Role::Drain).count().saturating_sub(1));
        let inlets = index(inlets.sum());
        found.extend(part.iter().map(|&pipe| (pipe, (length, inlets))));
    }
    found
}

/// Notes the storeys that a stack passes, and its lowest cleanout: where its run goes on level, the stack comes down before
/// that.
fn course(measured: &Measured<'_>, stack: &mut Stack) {
    let (mut walked, mut nearest): (_, Option<Walked>) = (Walked::ZERO, None);
    let lies = |number: &&u32| measured.pipe(**number).and_then(|pipe| pipe.vertical) == Some(false);
    let level = stack.pipes.iter().rev().take_while(lies).count();
    let level = if level < stack.pipes.len() { level } else { 0 };
    let mut note = |stack: &mut Stack, node: u32, walked: Option<Walked>| {
        let storey = measured.node(node).and_then(|node| node.storey);
        if let Some(storey) = storey {
            stack.storeys = both_storeys(stack.storeys, (storey, storey));
        }
        let Some(walked) = walked else { return };
        let stubs = measured
            .inlets(node, Role::Drain)
            .filter_map(|inlet| measured.pipe(inlet));
        let stubs = stubs
            .filter(|stub| measured.is(stub.from, super::Class::Cleanout) && stub.kind != RunKind::Stack)
            .filter(|stub| measured.inlets(stub.from, Role::Drain).next().is_none())
            .map(|stub| walked.plus(stub.length));
        let own = measured.is(node, super::Class::Cleanout).then_some(walked);
        nearest = stubs.chain(own).chain(nearest).min();
        stack.cleanout = nearest.map(Walked::distance);
    };
    let foot = stack.pipes.last().copied();
    if let Some(foot) = foot.and_then(|pipe| measured.pipe(pipe)) {
        note(stack, foot.to, (level == 0).then_some(walked));
    }
    for (passed, number) in (1..).zip(stack.pipes.clone().into_iter().rev()) {
        let Some(pipe) = measured.pipe(number) else {
            continue;
        };
        if passed > level {
            walked = walked.plus(pipe.length);
        }
        note(stack, pipe.from, (passed >= level).then_some(walked));
    }
    if let Some(flow) = foot.and_then(|pipe| measured.flow(pipe)) {
        stack.storeys = both_storeys(stack.storeys, flow.storeys);
        stack.storey_gap = flow.storey_gap;
    }
}

/// The storey of the fixtures whose water comes to a joint of a stack beside the stack's own; where they are on several, or
/// on none that is stated, that of the joint. A branch that hangs below a floor joins the stack on the storey below, and
/// belongs to the one above.
fn storey_served(measured: &Measured<'_>, node: u32, is_own: impl Fn(u32) -> bool) -> Option<u32> {
    let joint = measured.node(node)?.storey;
    let mut storeys = (NONE, 0);
    if measured.is(node, super::Class::Fixture) {
        let own = joint?;
        storeys = (own, own);
    }
    for flow in measured.inlets(node, Role::Drain).filter(|&inlet| !is_own(inlet)) {
        let flow = measured.flow(flow)?;
        if flow.storey_gap != NONE {
            return joint;
        }
        storeys = both_storeys(storeys, flow.storeys);
    }
    if storeys.0 == storeys.1 {
        Some(storeys.0)
    } else {
        joint
    }
}

/// What enters a stack at a joint from beside it.
struct Entering {
    /// Load in thousandths.
    load: i64,
    /// The least and the most that it may come to; none where it may come to anything.
    ends: Option<(i64, i64)>,
    /// A fixture whose load is not known.
    gap: u32,
}

impl Entering {
    /// What passes a joint less what the stack's own pipes, which `is_own` tells, bring from above.
    fn at(measured: &Measured<'_>, node: u32, is_own: impl Fn(u32) -> bool) -> Self {
        let above = || {
            let own = measured.inlets(node, Role::Drain).filter(|&inlet| is_own(inlet));
            own.filter_map(|inlet| measured.flow(inlet))
        };
        let Some(all) = measured.totals_at(node) else {
            return Self {
                load: 0,
                ends: None,
                gap: NONE,
            };
        };
        Self {
            load: above().fold(all.load, |load, flow| load.saturating_sub(flow.load)),
            // What comes from above may be at its most where all together is at its least: by a group that is put together.
            ends: all.ends().and_then(|ends| {
                above().try_fold(ends, |(least, most), flow| {
                    let (from, to) = flow.ends()?;
                    Some((least.saturating_sub(to).max(0), most.saturating_sub(from)))
                })
            }),
            gap: all.gap,
        }
    }
}

impl Interval {
    /// Reckons with what enters at a further joint.
    fn add(&mut self, entering: &Entering) {
        self.load = self.load.saturating_add(entering.load);
        let ends = self.ends.zip(entering.ends);
        self.ends = ends.map(|(own, other)| (own.0.saturating_add(other.0), own.1.saturating_add(other.1)));
        keep_first(&mut self.gap, entering.gap);
    }
}

/// Walks a stack from its highest connection down.
fn intervals(
    measured: &Measured<'_>,
    of_run: &[u32],
    number: u32,
    stack: &mut Stack,
) -> (Vec<Interval>, Vec<(u32, u32)>) {
    let mut ordinals = Vec::new();
    let vent_stack = |node: u32| {
        let is_vent_stack = |&vent: &u32| {
            measured
                .pipe(vent)
                .is_some_and(|vent| vent.kind == RunKind::VentStack)
        };
        measured.vents_from(node).find(is_vent_stack)
    };
    let least = measured.rules.definitions.branch_interval.least;
    let mut open: Option<Interval> = None;
    let mut below_first = Distance::ZERO;
    let mut storey = None;
    let mut finished = Vec::new();
    let mut since_joint = (0, NONE);
    for &pipe in &stack.pipes {
        let Some(facts) = measured.pipe(pipe) else {
            continue;
        };
        let node = facts.from;
        let is_own = |inlet: u32| {
            let inlet = measured.pipe(inlet).filter(|inlet| inlet.kind == RunKind::Stack);
            inlet.is_some_and(|inlet| super::at(of_run, inlet.run) == Some(number))
        };
        let branches = measured.inlets(node, Role::Drain).any(|inlet| !is_own(inlet))
            || measured.is(node, super::Class::Fixture);
        // A vent stack relieves the stack from at or below its lowest branch only.
        let own_vent_stack = vent_stack(node);
        stack.has_vent_stack = own_vent_stack.is_some() || (stack.has_vent_stack && !branches);
        stack.vent_stack = own_vent_stack.unwrap_or(stack.vent_stack);
        if branches && open.is_some() {
            stack.offsets += since_joint.0;
            keep_first(&mut stack.offset_gap, since_joint.1);
        }
        if branches {
            since_joint = (0, NONE);
            let entering = Entering::at(measured, node, is_own);
            let here = storey_served(measured, node, is_own);
            let begins_anew = match least {
                _ if open.is_none() => true,
                Some(least) => below_first.is_known() && below_first.nanometres() >= least.nanometres(),
                None => here != storey,
            };
            if stack.gap.is_none()
                && let Some(first) = &open
            {
                let not_stated = |datum, element| Gap::NotStated { datum, element };
                stack.gap = match least {
                    Some(_) => {
                        let pipe = below_first.gap();
                        pipe.map(|pipe| not_stated("length", Element::Pipe(pipe)))
                    }
                    None => {
                        let joints = [(storey, first.node), (here, node)].into_iter();
                        let mut open = joints.filter(|(storey, _)| storey.is_none());
                        open.next()
                            .map(|(_, node)| not_stated("storey", Element::Node(node)))
                    }
                };
            }
            if begins_anew {
                finished.extend(open.take());
                open = Some(Interval {
                    stack: number,
                    pipe,
                    load: entering.load,
                    ends: entering.ends,
                    gap: entering.gap,
                    node,
                });
                below_first = Distance::ZERO;
                storey = here;
            } else if let Some(interval) = &mut open {
                interval.pipe = pipe;
                interval.add(&entering);
            }
            ordinals.push((node, index(finished.len())));
        }
        match measured.slope(pipe) {
            None => since_joint.1 = pipe,
            Some(slope) => since_joint.0 += u32::from(!slope.is_vertical()),
        }
        below_first = below_first.plus(facts.length);
    }
    let foot = stack.pipes.last().and_then(|&pipe| measured.pipe(pipe));
    if let Some(vent) = foot.and_then(|foot| vent_stack(foot.to)) {
        stack.has_vent_stack = true;
        stack.vent_stack = vent;
    }
    finished.extend(open);
    stack.intervals = index(finished.len());
    for interval in &finished {
        stack.interval_load = stack.interval_load.max(interval.load);
        if interval.gap != NONE {
            stack.interval_load_gap = interval.gap;
        }
    }
    stack.own_vent_stack = (stack.has_vent_stack, stack.vent_stack);
    (finished, ordinals)
}

impl Measured<'_> {
    /// A stack, without its vent stack, which is told later.
    pub(crate) fn stack_itself(&self, stack: u32) -> Option<&Stack> {
        self.see(Seen::Stack, stack);
        self.state.stacks.list.get(stack as usize)
    }

    /// A stack.
    pub(crate) fn stack(&self, stack: u32) -> Option<&Stack> {
        self.see(Seen::VentStack, stack);
        self.stack_itself(stack)
    }

    /// A branch interval.
    pub(crate) fn interval(&self, interval: u32) -> Option<&Interval> {
        let interval = self.state.stacks.intervals.get(interval as usize)?;
        self.see(Seen::Stack, interval.stack);
        Some(interval)
    }

    /// Of a pipe of a horizontal offset of a stack, the length of the whole and how many drains join within it.
    pub(crate) fn level_offset(&self, pipe: u32) -> Option<(Distance, u32)> {
        self.see(Seen::Stack, self.state.stacks.of_pipe(self, pipe)?);
        self.state.stacks.level_offsets.get(&pipe).copied()
    }
}
