//! Which vents relieve stacks: at intervals, above and below horizontal offsets.
//!
//! A vent that leaves a stack relieves it where air can go both ways through it: it ends in open air, and gets there
//! by itself or by a vent stack. A valve only lets air in, and a vent that joins a stack vent only adds to that.
//!
//! One pass over the vents and one down each stack, made when a rule first asks.

use std::collections::HashMap;

use crownweir_vocabulary::{Role, RunKind};

use super::drains::by_size;
use super::follow::where_differ;
use super::stacks::Stack;
use super::{Class, Measured, NONE, Seen, put};

/// What relieves a stack.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Relieved {
    /// Most intervals in a row, counted from the top, that no vent relieves at or below their lowest joint.
    pub(crate) unrelieved: u32,
    /// Most storeys in a row, counted likewise; those between that nothing joins count too.
    pub(crate) storeys_unrelieved: u32,
    /// A joint or a relief whose storey is not stated.
    pub(crate) storey_gap: u32,
    /// The smallest relieving vent that is no vent stack.
    pub(crate) smallest: u32,
}

/// A horizontal piece of a stack that goes down again further on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Offset {
    /// Branch intervals above it.
    pub(crate) intervals_above: u32,
    /// The largest vent that relieves the stack between the lowest joint above it and itself.
    pub(crate) vent_above: u32,
    /// The largest vent that relieves the stack between itself and the next joint below.
    pub(crate) vent_below: u32,
}

/// The reliefs of each stack, and of each horizontal piece of one.
#[derive(Debug, Clone)]
pub(crate) struct StackReliefs {
    pub(crate) stacks: Vec<Relieved>,
    pub(crate) offsets: HashMap<u32, Offset>,
    /// For each vent, whether air goes both ways through it to the open.
    pub(crate) circulates: Vec<bool>,
}

impl StackReliefs {
    /// Forgets what was told of a pipe, or makes room for one that has come.
    pub(crate) fn clear_pipe(&mut self, pipe: u32) {
        put(&mut self.circulates, pipe, false);
    }

    /// Tells again through which vents air goes both ways, and of which that differs.
    pub(crate) fn circulate_again(&mut self, measured: &Measured<'_>) -> Vec<u32> {
        let before = std::mem::replace(&mut self.circulates, circulating(measured));
        where_differ(&before, &self.circulates).collect()
    }
}

pub(crate) fn stack_reliefs(measured: &Measured<'_>) -> StackReliefs {
    let circulates = circulating(measured);
    let mut offsets = HashMap::new();
    let stacks = (0..super::index(measured.state.stacks.list.len()))
        .map(|stack| down(measured, stack, &circulates, &mut offsets))
        .collect();
    StackReliefs {
        stacks,
        offsets,
        circulates,
    }
}

/// For each vent, whether air goes both ways through it to the open: it joins no stack vent before it ends there or
/// meets a vent stack.
fn circulating(measured: &Measured<'_>) -> Vec<bool> {
    let mut circulates = vec![false; measured.state.pipes.len()];
    for node in measured.vent_order().rev() {
        let onward = measured.vent_of(node);
        let open = match onward.and_then(|onward| Some((onward, measured.pipe(onward)?.kind))) {
            None => measured.is(node, Class::Terminal),
            Some((onward, RunKind::VentStack)) => measured.is_open(onward),
            Some((_, RunKind::StackVent)) => false,
            Some((onward, _)) => circulates[onward as usize],
        };
        for vent in measured.inlets(node, Role::Vent) {
            // A vent stack may join the stack vent on its way.
            let is_vent_stack = measured
                .pipe(vent)
                .is_some_and(|vent| vent.kind == RunKind::VentStack);
            circulates[vent as usize] = if is_vent_stack {
                measured.is_open(vent)
            } else {
                open
            };
        }
    }
    circulates
}

/// Storeys of a stack that follow one another without a relief.
#[derive(Debug, Default)]
struct Row {
    /// The highest of them, once a joint has been met.
    highest: Option<u32>,
    /// Where a vent relieves the stack above them.
    relieved: Option<u32>,
}

impl Row {
    /// How many there are down to a joint; a node whose storey is not stated.
    fn down_to(&mut self, measured: &Measured<'_>, joint: u32) -> Result<u32, u32> {
        let storey = |node: u32| measured.node(node).and_then(|node| node.storey).ok_or(node);
        let here = storey(joint)?;
        let highest = match (self.highest, self.relieved) {
            (Some(highest), _) => highest,
            (None, None) => here,
            // What joins below the relief on its own storey begins anew there.
            (None, Some(relief)) => here.max(storey(relief)?.saturating_sub(1)),
        };
        self.highest = Some(highest);
        Ok(highest.saturating_sub(here).saturating_add(1))
    }
}

/// Of two vents the larger; `NONE` stands for no vent.
fn larger(measured: &Measured<'_>, one: u32, other: u32) -> u32 {
    if one == NONE || (other != NONE && by_size(measured, one) < by_size(measured, other)) {
        other
    } else {
        one
    }
}

/// A stack while it is looked at for what relieves it.
struct Column<'m> {
    measured: &'m Measured<'m>,
    stack: &'m Stack,
    circulates: &'m [bool],
}

impl Column<'_> {
    /// The vents that relieve the stack where one of its pipes begins; `place` is the pipe's among those of the stack.
    fn relieving(&self, place: usize, node: u32) -> impl Iterator<Item = u32> {
        // Without a stack vent, what leaves the top continues the stack.
        let continues = place == 0 && !self.stack.has_stack_vent;
        self.measured.vents_from(node).filter(move |&vent| {
            let is_relief = match self.measured.pipe(vent).map(|vent| vent.kind) {
                Some(RunKind::VentStack) => true,
                Some(RunKind::StackVent) => false,
                _ => !continues,
            };
            is_relief && self.circulates.get(vent as usize) == Some(&true)
        })
    }

    /// The largest vent that relieves the stack where one of its pipes begins.
    fn largest(&self, place: usize, node: u32) -> u32 {
        let vents = self.relieving(place, node);
        vents.fold(NONE, |one, other| larger(self.measured, one, other))
    }

    /// Of each pipe of the stack, the largest vent that relieves the stack between it and the next joint below.
    fn vents_below(&self) -> Vec<u32> {
        let mut below = vec![NONE; self.stack.pipes.len()];
        let mut so_far = NONE;
        for (place, &number) in self.stack.pipes.iter().enumerate().rev() {
            let Some(pipe) = self.measured.pipe(number) else {
                continue;
            };
            if let Some(slot) = below.get_mut(place) {
                *slot = so_far;
            }
            let further = match self.measured.state.stacks.is_joint(pipe.from) {
                true => NONE,
                false => so_far,
            };
            so_far = larger(self.measured, further, self.largest(place, pipe.from));
        }
        below
    }
}

/// Walks a stack from its highest joint down.
pub(crate) fn down(
    measured: &Measured<'_>,
    stack: u32,
    circulates: &[bool],
    offsets: &mut HashMap<u32, Offset>,
) -> Relieved {
    let mut found = Relieved {
        unrelieved: 0,
        storeys_unrelieved: 0,
        storey_gap: NONE,
        smallest: NONE,
    };
    let Some(stack) = measured.stack_itself(stack) else {
        return found;
    };
    let column = Column {
        measured,
        stack,
        circulates,
    };
    let is_level = |number: &u32| {
        measured
            .pipe(*number)
            .is_some_and(|pipe| pipe.vertical == Some(false))
    };
    // What runs on to the building drain below the last upright piece is no offset.
    let foot = stack.pipes.iter().rposition(|number| !is_level(number));
    let mut vents_below: Option<Vec<u32>> = None;
    let size = |pipe: u32| measured.pipe(pipe).and_then(|pipe| pipe.size);
    let (mut in_a_row, mut interval, mut vent_above) = (0, None, NONE);
    let mut row = Row::default();
    for (place, &number) in stack.pipes.iter().enumerate() {
        let Some(pipe) = measured.pipe(number) else {
            continue;
        };
        let joint = measured.state.stacks.interval_at(pipe.from);
        let above = if joint.is_some() { NONE } else { vent_above };
        vent_above = larger(measured, above, column.largest(place, pipe.from));
        if joint.is_some() {
            // A vent between two joints of an interval does not stand below its lowest.
            if joint != interval || in_a_row == 0 {
                in_a_row += 1;
            }
            interval = joint;
            found.unrelieved = found.unrelieved.max(in_a_row);
            match row.down_to(measured, pipe.from) {
                Ok(storeys) => found.storeys_unrelieved = found.storeys_unrelieved.max(storeys),
                Err(gap) => found.storey_gap = gap,
            }
        }
        for vent in column.relieving(place, pipe.from) {
            in_a_row = 0;
            row = Row {
                highest: None,
                relieved: Some(pipe.from),
            };
            let is_vent_stack = measured
                .pipe(vent)
                .is_some_and(|vent| vent.kind == RunKind::VentStack);
            let smaller = found.smallest == NONE || size(vent) < size(found.smallest);
            if !is_vent_stack && smaller {
                found.smallest = vent;
            }
        }
        if is_level(&number) && Some(place) < foot {
            let below = vents_below.get_or_insert_with(|| column.vents_below());
            let offset = Offset {
                intervals_above: interval.map_or(0, |interval| interval + 1),
                vent_above,
                vent_below: below.get(place).copied().unwrap_or(NONE),
            };
            offsets.insert(number, offset);
        }
    }
    found
}

impl Measured<'_> {
    /// Whether a vent ends in open air.
    pub(crate) fn is_open(&self, vent: u32) -> bool {
        self.see(Seen::VentEnd, vent);
        let facts = self.state.vents.of(vent);
        facts.is_some_and(|facts| self.is(facts.end, Class::Terminal))
    }

    /// What relieves a stack, by its place among the stacks.
    pub(crate) fn stack_relieved(&self, stack: u32) -> Option<Relieved> {
        self.see(Seen::StackRelief, stack);
        self.stack_reliefs().stacks.get(stack as usize).copied()
    }

    /// The reliefs at a horizontal piece of a stack that goes down again further on; none of any other pipe.
    pub(crate) fn offset(&self, pipe: u32) -> Option<Offset> {
        let own = self.pipe(pipe)?;
        // Most pipes are no such piece, and need not have the reliefs reckoned.
        if own.kind != RunKind::Stack || own.vertical != Some(false) {
            return None;
        }
        self.see(
            Seen::StackRelief,
            self.state.stacks.of_pipe(self, pipe).unwrap_or(NONE),
        );
        self.stack_reliefs().offsets.get(&pipe).copied()
    }
}
