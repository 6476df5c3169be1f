//! Passes that take more than a few lines at an element, and those over the whole network.

use std::collections::{BTreeSet, HashMap};
use std::sync::OnceLock;

use super::members::{Members, insert, remove};
use super::pass::Pass::{
    Alike, Carries, Closets, Cuts, Ends, Reliefs, ReliefsBelow, Shares, StoreysBeside, VentCleanouts,
    VentTraps, WetEnd, WetVents,
};
use super::{Alters, Lost, Pass, differs};
use crate::measure::seen::Figure;
use crate::measure::{
    Measured, NONE, branches, combinations, facts_of_passages, flows, index, reliefs, stack_reliefs, stacks,
    vents, wet_vents,
};

impl Measured<'_> {
    pub(super) fn make_supply(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        let supply = self.state.air.find_supply(self, at);
        let slot = self.ordinal(at);
        let before = slot.and_then(|slot| self.state.air.supplies.get(slot).copied());
        let before = before.filter(|before| before.connection != NONE);
        if !differs(
            slot.and_then(|slot| self.state.air.supplies.get_mut(slot)),
            supply,
        ) {
            return;
        }
        alters.figure(Figure::Supply, at);
        if let Some(before) = before {
            remove(&mut own.connection, before.connection, at);
            remove(&mut own.vent, before.dry_vent, at);
        }
        if supply.connection != NONE {
            insert(&mut own.connection, supply.connection, at);
            insert(&mut own.vent, supply.dry_vent, at);
        }
        let supplies = [before, Some(supply).filter(|supply| supply.connection != NONE)];
        for supply in supplies.into_iter().flatten() {
            for pass in [Pass::Vented, Carries] {
                alters.again(pass, supply.connection);
            }
            for pass in [Ends, Closets, Pass::Rim, WetEnd] {
                alters.again(pass, supply.dry_vent);
            }
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
        for (node, ordinal) in told.ordinals {
            differ |= found.ordinal.insert(node, ordinal) != Some(ordinal);
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

    /// Makes a pass over the whole network, if it has been asked for.
    pub(super) fn make_whole(&mut self, pass: Pass, alters: &mut impl Alters) {
        fn anew<T: PartialEq>(slot: &mut OnceLock<T>, now: T) -> Option<(T, &T)> {
            let before = slot.take();
            let now = slot.get_or_init(|| now);
            before.filter(|before| before != now).map(|before| (before, now))
        }
        /// Where two lists differ.
        fn where_differ<'l, T: PartialEq>(before: &'l [T], now: &'l [T]) -> impl Iterator<Item = u32> + 'l {
            let both = (0..).zip(before.iter().zip(now));
            both.filter(|(_, (before, now))| before != now).map(|(at, _)| at)
        }
        macro_rules! whole {
            ($slot:ident, $make:expr, $figure:expr) => {
                if self.state.$slot.get().is_some() {
                    let now = $make(&*self);
                    if anew(&mut self.state.$slot, now).is_some() {
                        alters.figure($figure, 0);
                    }
                }
            };
        }
        macro_rules! each {
            ($slot:ident, $make:expr, $figure:expr) => {
                if self.state.$slot.get().is_some() {
                    let now = $make(&*self);
                    if let Some((before, now)) = anew(&mut self.state.$slot, now) {
                        where_differ(&before, now).for_each(|at| alters.figure($figure, at));
                    }
                }
            };
        }
        match pass {
            ReliefsBelow => each!(reliefs_below, reliefs::below, Figure::ReliefsBelow),
            VentCleanouts => each!(vent_cleanouts, vents::cleanouts, Figure::VentCleanouts),
            Shares if self.state.shares.get().is_some() => {
                let now = flows::shares(self);
                if let Some((before, now)) = anew(&mut self.state.shares, now) {
                    where_differ(&before.0, &now.0).for_each(|at| alters.figure(Figure::Shares, at));
                }
            }
            WetVents if self.state.wet_vents.get().is_some() => {
                let now = wet_vents::wet_vents(self);
                if let Some((before, now)) = anew(&mut self.state.wet_vents, now) {
                    now.where_differ(&before, |at| alters.figure(Figure::WetVents, at));
                    where_differ(&before.stacks, &now.stacks)
                        .for_each(|at| alters.figure(Figure::WetStack, at));
                }
            }
            Alike if self.state.alike.get().is_some() => {
                let now = branches::alike(self);
                if let Some((before, now)) = anew(&mut self.state.alike, now) {
                    let fixtures = where_differ(&before, now).collect::<Vec<_>>();
                    let nodes = fixtures
                        .iter()
                        .filter_map(|&at| self.state.fixtures.get(at as usize));
                    nodes.for_each(|fixture| alters.figure(Figure::Alike, fixture.node));
                }
            }
            VentTraps if self.state.vent_traps.get().is_some() => {
                let now = vents::traps(self);
                if let Some((before, now)) = anew(&mut self.state.vent_traps, now) {
                    let places = where_differ(&before, now).collect::<BTreeSet<_>>();
                    let place = |pipe| self.state.vents.place_of(pipe);
                    (0..index(self.state.pipes.len()))
                        .filter(|&pipe| place(pipe).is_some_and(|at| places.contains(&at)))
                        .for_each(|pipe| alters.figure(Figure::VentTraps, pipe));
                }
            }
            Cuts => whole!(cuts, facts_of_passages::cuts, Figure::Cuts),
            Reliefs => whole!(reliefs, reliefs::reliefs, Figure::Reliefs),
            StoreysBeside if self.state.combinations.storeys.get().is_some() => {
                let now = combinations::storeys(self);
                if anew(&mut self.state.combinations.storeys, now).is_some() {
                    alters.figure(Figure::StoreysBeside, 0);
                }
            }
            _ => {}
        }
    }
}
