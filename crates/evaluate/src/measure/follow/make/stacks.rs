//! Passes at stacks.

use std::collections::HashMap;
use std::sync::OnceLock;

use crate::measure::follow::{Alters, Lost, Members, Pass, differs};
use crate::measure::seen::Figure;
use crate::measure::{Measured, stack_reliefs, stacks};

impl Measured<'_> {
    pub(super) fn make_vent_stack(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let here = at as usize;
        let below = own.below.get(&at).and_then(|vents| vents.last().copied());
        let of = |stacks: &stacks::Stacks| {
            let stack = stacks.list.get(here);
            stack.map(|stack| (stack.has_vent_stack, stack.vent_stack))
        };
        let before = of(&self.state.stacks);
        self.state.stacks.set_vent_stack(at, below);
        if before != of(&self.state.stacks) {
            alters.figure(Figure::VentStack, at);
        }
    }

    pub(super) fn make_stack(
        &mut self,
        at: u32,
        own: &Members,
        alters: &mut impl Alters,
    ) -> Result<(), Lost> {
        let Some(before) = self.state.stacks.list.get(at as usize).cloned() else {
            return Ok(());
        };
        let mut stack = before.clone();
        let vent_stack = (before.has_vent_stack, before.vent_stack);
        let told = stacks::tell(self, &self.state.stacks.of_run, at, &mut stack);
        // With more or fewer intervals, all further ones have other numbers.
        if stack.intervals != before.intervals {
            return Err(Lost);
        }
        let found = &mut self.state.stacks;
        let first = own.first_interval.get(at as usize).copied().unwrap_or(0) as usize;
        let mut differ = false;
        for (interval, slot) in told
            .intervals
            .into_iter()
            .zip(found.intervals.iter_mut().skip(first))
        {
            differ |= differs(Some(slot), interval);
        }
        let now: HashMap<u32, u32> = told.ordinals.into_iter().collect();
        for pipe in &stack.pipes {
            let Some(node) = self.state.pipes.get(*pipe as usize).map(|pipe| pipe.from) else {
                continue;
            };
            differ |= match now.get(&node) {
                Some(&ordinal) => found.ordinal.insert(node, ordinal) != Some(ordinal),
                None => found.ordinal.remove(&node).is_some(),
            };
        }
        let mut offsets: HashMap<u32, _> = HashMap::new();
        for pipe in &stack.pipes {
            if let Some(offset) = found.level_offsets.remove(pipe) {
                offsets.insert(*pipe, offset);
            }
        }
        let now: HashMap<u32, _> = told.offsets.into_iter().collect();
        differ |= now != offsets;
        found.level_offsets.extend(now);
        let mut plain = before;
        plain.set_own(&stack);
        differ |= plain != stack;
        if let Some(slot) = found.list.get_mut(at as usize) {
            *slot = stack;
        }
        if differ {
            alters.figure(Figure::Stack, at);
        }
        // The vent stack is told again from what is its own and what is below.
        let below = own.below.get(&at).and_then(|vents| vents.last().copied());
        self.state.stacks.set_vent_stack(at, below);
        let now = self.state.stacks.list.get(at as usize);
        if now.is_some_and(|now| (now.has_vent_stack, now.vent_stack) != vent_stack) {
            alters.figure(Figure::VentStack, at);
        }
        Ok(())
    }

    /// Tells again through which vents air goes both ways.
    pub(super) fn make_circulates(&mut self, alters: &mut impl Alters) {
        let Some(mut reliefs) = self.state.stack_reliefs.take() else {
            return;
        };
        for vent in reliefs.circulate_again(self) {
            let stack = self.stack_where_leaves(vent);
            stack
                .into_iter()
                .for_each(|stack| alters.again(Pass::StackRelief, stack));
        }
        self.state.stack_reliefs = OnceLock::from(reliefs);
    }

    /// The stack that a vent leaves.
    pub(in crate::measure::follow) fn stack_where_leaves(&self, vent: u32) -> Option<u32> {
        let [from, _] = self.both_ends(vent)?;
        self.state.stacks.of_pipe(self, self.state.next(from)?)
    }

    pub(super) fn make_stack_relief(&mut self, at: u32, alters: &mut impl Alters) {
        let Some(mut found) = self.state.stack_reliefs.take() else {
            return;
        };
        let mut offsets = HashMap::new();
        let relieved = stack_reliefs::down(self, at, &found.circulates, &mut offsets);
        let mut differ = differs(found.stacks.get_mut(at as usize), relieved);
        let mut before = HashMap::new();
        if let Some(stack) = self.stack_itself(at) {
            for pipe in &stack.pipes {
                if let Some(offset) = found.offsets.remove(pipe) {
                    before.insert(*pipe, offset);
                }
            }
        }
        differ |= before != offsets;
        found.offsets.extend(offsets);
        self.state.stack_reliefs = OnceLock::from(found);
        if differ {
            alters.figure(Figure::StackRelief, at);
        }
    }

    /// Tells again whether a trap gets its air through a stack.
    pub(super) fn make_wet_stack(&mut self, at: u32, alters: &mut impl Alters) {
        let Some(wet_vents) = self.state.wet_vents.get() else {
            return;
        };
        let now = wet_vents.through_stack(self, at);
        let wet_vents = self.state.wet_vents.get_mut();
        if differs(wet_vents.and_then(|own| own.stacks.get_mut(at as usize)), now) {
            alters.figure(Figure::WetStack, at);
        }
    }
}
