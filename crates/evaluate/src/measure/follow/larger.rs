//! Passes that take more than a few lines at an element, and those over the whole network.

use std::collections::{BTreeSet, HashMap};
use std::sync::OnceLock;

use super::members::{Members, insert, remove};
use super::pass::Pass::{
    Alike, Carries, Closets, Cuts, Ends, Relieved, Shares, StoreysBeside, VentCleanouts, VentTraps, WetEnd,
    WetVents,
};
use super::{Alters, Lost, Pass, differs, where_differ};
use crate::measure::air::Supply;
use crate::measure::seen::Figure;
use crate::measure::{
    Measured, NONE, branches, combinations, facts_of_passages, flows, index, reliefs, stack_reliefs, stacks,
    vents, wet_vents,
};

impl Measured<'_> {
    pub(super) fn make_supply(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        let supply = self.state.air.find_supply(self, at);
        self.put_supply(at, supply, own, alters);
    }

    /// Notes how the trap of a fixture gets its air.
    pub(super) fn put_supply(
        &mut self,
        at: u32,
        supply: Supply,
        own: &mut Members,
        alters: &mut impl Alters,
    ) {
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
            for pass in [Pass::Vented, Carries, WetVents] {
                alters.again(pass, supply.connection);
            }
            for pass in [Ends, Closets, Pass::Rim, WetEnd, WetVents, VentTraps] {
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
    pub(super) fn stack_where_leaves(&self, vent: u32) -> Option<u32> {
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

    /// Tells again which fixtures are alike.
    pub(super) fn make_kin(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        if self.state.alike.get().is_none() {
            return;
        }
        let now = self.fixture_facts(at).map(|fixture| branches::kin(self, fixture));
        let before = own.kin_of.get(&at).copied();
        if now == before {
            return;
        }
        let mut again = |kin: &branches::Kin, own: &Members| {
            let kindred = own.kindred.get(kin).into_iter().flatten();
            kindred.for_each(|&fixture| alters.again(Alike, fixture));
        };
        if let Some(before) = before {
            own.part(before, at);
            again(&before, own);
        }
        if let Some(now) = now {
            own.join(now, at);
            again(&now, own);
        }
    }

    pub(super) fn make_alike(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let kin = own.kin_of.get(&at).and_then(|kin| own.kindred.get(kin));
        let now = index(kin.map_or(0, BTreeSet::len));
        let Some(ordinal) = self.ordinal(at) else { return };
        let alike = self.state.alike.get_mut();
        if differs(alike.and_then(|alike| alike.get_mut(ordinal)), now) {
            alters.figure(Figure::Alike, at);
        }
    }

    /// Tells again what relieves the circuit of a dry vent.
    pub(super) fn make_relieves(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        if self.state.reliefs.get().is_none() {
            return;
        }
        let circuit = self.state.circuits.at(self, at);
        let now = circuit.and_then(|circuit| reliefs::relieves(self, circuit));
        let before = own.relieves.get(&at).copied();
        if now == before {
            return;
        }
        if let Some((by, _)) = before {
            own.relieves.remove(&at);
            remove(&mut own.relieved, by, at);
            alters.again(Relieved, by);
        }
        if let Some((by, vent)) = now {
            own.relieves.insert(at, (by, vent));
            insert(&mut own.relieved, by, at);
            alters.again(Relieved, by);
        }
    }

    /// Tells again what a drain, or a vent from one, relieves.
    pub(super) fn make_relieved(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let of_drains = self
            .both_ends(at)
            .is_some_and(|[from, _]| self.next(from).is_some());
        if !of_drains || self.state.reliefs.get().is_none() {
            return;
        }
        let mut now: Option<reliefs::Relieved> = None;
        for circuit in Members::at(&own.relieved, at) {
            if let Some((_, vent)) = own.relieves.get(circuit) {
                now.get_or_insert_default().add(self, *vent);
            }
        }
        self.put_relieved(at, now, alters);
    }

    /// Tells again what the vents from a node relieve, where another leads to it.
    pub(super) fn make_relieved_on(&mut self, at: u32, alters: &mut impl Alters) {
        if self.next(at).is_some() {
            return;
        }
        let Some(reliefs) = self.state.reliefs.get() else {
            return;
        };
        let now = reliefs.passed_on(self, at);
        let vents: Vec<u32> = self.vents_from(at).collect();
        vents
            .into_iter()
            .for_each(|vent| self.put_relieved(vent, now, alters));
    }

    fn put_relieved(&mut self, pipe: u32, now: Option<reliefs::Relieved>, alters: &mut impl Alters) {
        let Some(reliefs) = self.state.reliefs.get_mut() else {
            return;
        };
        let before = match now {
            Some(now) => reliefs.relieved.insert(pipe, now),
            None => reliefs.relieved.remove(&pipe),
        };
        if before != now {
            alters.figure(Figure::Relieved, pipe);
        }
    }

    /// Tells again which vents tie a stack to its vent stack.
    pub(super) fn make_yokes(&mut self, at: u32, alters: &mut impl Alters) {
        let Some(reliefs) = self.state.reliefs.get() else {
            return;
        };
        let now: HashMap<u32, reliefs::Yoke> = reliefs.yokes_of(self, at).into_iter().collect();
        let pipes = self.stack_itself(at).map_or(&[][..], |stack| &stack.pipes);
        let nodes = pipes.iter().filter_map(|&pipe| self.both_ends(pipe));
        let vents = nodes.flat_map(|[node, _]| self.vents_from(node));
        let differing = vents.filter(|vent| reliefs.yokes.get(vent) != now.get(vent));
        let differing: Vec<u32> = differing.collect();
        let Some(reliefs) = self.state.reliefs.get_mut() else {
            return;
        };
        for vent in differing {
            match now.get(&vent) {
                Some(yoke) => reliefs.yokes.insert(vent, *yoke),
                None => reliefs.yokes.remove(&vent),
            };
            alters.figure(Figure::Yoke, vent);
        }
    }

    /// Tells again what the drain that leaves a node brings air to.
    pub(super) fn make_wet_vents(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let Some(wet_vents) = self.state.wet_vents.get() else {
            return;
        };
        let (mut here, mut ending) = (wet_vents::WetVent::default(), wet_vents::Traps::default());
        for (fixture, supply) in self.supplied(&own.vent, at) {
            here.begin(wet_vents::wet_trap(self, fixture, &supply));
        }
        for (fixture, supply) in self.supplied(&own.connection, at) {
            here.carry(wet_vents::own_load(self, fixture, &supply));
            ending.add(wet_vents::wet_trap(self, fixture, &supply));
        }
        let now = wet_vents.at(self, at, here, ending);
        let wet_vents = self.state.wet_vents.get_mut();
        if differs(wet_vents.and_then(|own| own.list.get_mut(at as usize)), now) {
            alters.figure(Figure::WetVents, at);
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

    /// Tells again which traps get their air by the vents from a node.
    pub(super) fn make_vent_traps(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let Some(traps) = self.state.vent_traps.get() else {
            return;
        };
        let mut here: Option<vents::Traps> = None;
        for &fixture in Members::at(&own.vent, at) {
            let fixture = self.fixture_facts(fixture);
            if let Some((_, trap)) = fixture.and_then(|fixture| vents::trap(self, fixture)) {
                here.get_or_insert(vents::Traps::NONE).add(&trap);
            }
        }
        let now = vents::traps_at(self, traps, at, here.as_ref());
        let vents: Vec<u32> = self.vents_from(at).collect();
        for vent in vents {
            let place = self.state.vents.place_of(vent);
            let traps = self.state.vent_traps.get_mut();
            let slot = traps
                .zip(place)
                .and_then(|(traps, place)| traps.get_mut(place as usize));
            if differs(slot, now) {
                alters.figure(Figure::VentTraps, vent);
            }
        }
    }

    /// Makes a pass over the whole network, if it has been asked for.
    pub(super) fn make_whole(&mut self, pass: Pass, alters: &mut impl Alters) {
        fn anew<T: PartialEq>(slot: &mut OnceLock<T>, now: T) -> Option<(T, &T)> {
            let before = slot.take();
            let now = slot.get_or_init(|| now);
            before.filter(|before| before != now).map(|before| (before, now))
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
            VentCleanouts => each!(vent_cleanouts, vents::cleanouts, Figure::VentCleanouts),
            Shares if self.state.shares.get().is_some() => {
                let now = flows::shares(self);
                if let Some((before, now)) = anew(&mut self.state.shares, now) {
                    where_differ(&before.0, &now.0).for_each(|at| alters.figure(Figure::Shares, at));
                }
            }
            Cuts => whole!(cuts, facts_of_passages::cuts, Figure::Cuts),
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
