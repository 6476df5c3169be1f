//! A pass at an element.

use std::collections::{BTreeSet, HashMap};
use std::mem::take;
use std::sync::OnceLock;

use crownweir_vocabulary::Role;

use super::members::{Members, insert, remove};
use super::pass::Pass::{
    Ahead, Alike, Arms, Behind, Below, BendsAhead, BendsBehind, Branch, Carries, Chosen,
    Circuit as CircuitPass, Circulates, Cleanout, Closets, Details, Downstream, Ends, Group, Head, InLine,
    Junction, Kin, Level, Line, Load, Loops, Meets, Member, Near, ReliefsBelow, Relieved, RelievedOn,
    Relieves, Running, RunsAbove, RunsAhead, Stack, StackRelief, Supply, Totals, Valves, VentStack,
    VentTraps, Ways, WetEnd, WetStack, WetVents, Yokes,
};
use super::{Alters, Lost, Pass, differs};
use crate::measure::air::{self, Reach, Vented, Way, deepen, reliance};
use crate::measure::circuits;
use crate::measure::seen::Figure;
use crate::measure::vents::Rim;
use crate::measure::{
    FixtureFacts, Measured, NONE, cleanouts, combinations, drains, index, loads, loops, patterns, reliefs,
    stacks, valves, wet_vents,
};

impl Measured<'_> {
    pub(super) fn supplied<'m>(
        &'m self,
        lists: &'m HashMap<u32, Vec<u32>>,
        key: u32,
    ) -> impl Iterator<Item = (&'m FixtureFacts, air::Supply)> + 'm {
        Members::at(lists, key)
            .iter()
            .filter_map(|&node| Some((self.fixture_facts(node)?, self.state.air.supply(self, node)?)))
    }

    /// Makes a pass at an element.
    ///
    /// # Errors
    /// When the network has come to be of a kind that is not followed element by element.
    pub(crate) fn make(
        &mut self,
        pass: Pass,
        at: u32,
        own: &mut Members,
        alters: &mut impl Alters,
    ) -> Result<(), Lost> {
        let here = at as usize;
        match pass {
            Downstream => {
                let before = self.state.downstream.below(self, at);
                let steps = self.state.downstream.steps(at);
                let mut downstream = take(&mut self.state.downstream);
                downstream.step(self, at);
                self.state.downstream = downstream;
                let now = self.state.downstream.below(self, at);
                // What is further up is as much further down too, but in the same order along every way: that alone
                // makes no figure another.
                if steps != self.state.downstream.steps(at) {
                    let above = self.state.inlets(at, Role::Drain).iter();
                    let above = above.filter_map(|&inlet| self.both_ends(inlet));
                    above.for_each(|[from, _]| alters.again(Downstream, from));
                }
                if before != now {
                    alters.figure(Figure::Downstream, at);
                    if let Some(next) = self.next(at) {
                        alters.figure(Figure::Receiver, next);
                    }
                }
            }
            Load => {
                // Loads are reckoned before anything that rests on them is known.
                let (loads, totals) = (take(&mut self.state.loads), take(&mut self.state.totals));
                let load = loads::own(self, at);
                (self.state.loads, self.state.totals) = (loads, totals);
                let slot = self.ordinal(at);
                if differs(slot.and_then(|slot| self.state.loads.own_mut(slot)), load) {
                    alters.figure(Figure::Load, at);
                }
            }
            Group => {
                if own.grouped.is_empty() && !own.regrouped {
                    return Ok(());
                }
                own.regrouped = false;
                let mut now = take(&mut self.state.loads);
                let before = now.without_groups();
                loads::group(self, &mut now);
                let nodes = now.groups_differ(&before);
                self.state.loads = now;
                nodes
                    .into_iter()
                    .for_each(|node| alters.figure(Figure::Group, node));
            }
            Totals => {
                let totals = drains::totals_at(self, &self.state.totals, at);
                if differs(self.state.totals.get_mut(here), totals) {
                    alters.figure(Figure::Totals, at);
                }
            }
            Head => {
                let (head, bringing) = self.state.air.brought_to(self, at);
                let air = &mut self.state.air;
                let differ = differs(air.head.get_mut(here), head);
                if differs(air.bringing.get_mut(here), bringing) || differ {
                    alters.figure(Figure::Head, at);
                }
            }
            Meets => {
                let inlets: Vec<u32> = self.inlets(at, Role::Drain).collect();
                for inlet in inlets {
                    let met = self.state.air.met(self, at, inlet);
                    if differs(self.state.air.meets.get_mut(inlet as usize), met) {
                        alters.figure(Figure::Meets, inlet);
                    }
                }
            }
            Kin => self.make_kin(at, own, alters),
            Alike => self.make_alike(at, own, alters),
            Supply => self.make_supply(at, own, alters),
            Pass::Vented => {
                let mut vented = Vented::NONE;
                for (fixture, supply) in self.supplied(&own.connection, at) {
                    vented.add(self, fixture, &supply);
                }
                if differs(self.state.air.vented.get_mut(here), vented) {
                    alters.figure(Figure::Vented, at);
                }
            }
            Ends => {
                let mut reach = Reach::NONE;
                for (fixture, supply) in self.supplied(&own.vent, at) {
                    reach.add(self, &self.state.air, fixture, &supply);
                }
                let air = &mut self.state.air;
                let differ = differs(air.ends.get_mut(here), reach.end);
                if differs(air.served.get_mut(here), reach.served) || differ {
                    alters.figure(Figure::Ends, at);
                }
            }
            Closets => {
                let members = self.supplied(&own.vent, at);
                let closets = members
                    .map(|(fixture, supply)| wet_vents::wet_closet(fixture, &supply))
                    .sum();
                if differs(self.state.closets_on.get_mut(here), closets) {
                    alters.figure(Figure::Closets, at);
                }
            }
            Ways => {
                let before = self.state.ways.told(self, at);
                let mut ways = take(&mut self.state.ways);
                ways.step(self, at);
                self.state.ways = ways;
                let now = self.state.ways.told(self, at);
                if before != now {
                    alters.figure(Figure::Ways, at);
                    if let Some(next) = self.next(at) {
                        alters.figure(Figure::ToAir, next);
                    }
                }
            }
            Near => {
                let near = self.state.circuits.near_at(self, at);
                if differs(self.state.circuits.near.get_mut(here), near) {
                    alters.figure(Figure::Near, at);
                }
            }
            Member => {
                let vent = self.state.circuits.member(self, at).map(|(vent, _)| vent);
                let before = own.branch_of.get(&at).copied();
                if vent != before {
                    if let Some(before) = before {
                        remove(&mut own.branch, before, at);
                        own.branch_of.remove(&at);
                        alters.again(CircuitPass, before);
                    }
                    if let Some(vent) = vent {
                        insert(&mut own.branch, vent, at);
                        own.branch_of.insert(at, vent);
                        alters.again(CircuitPass, vent);
                    }
                }
            }
            CircuitPass => {
                let circuit = own.circuit(self, at);
                let before = own.circuits.get(&at).copied();
                if circuit != before {
                    match circuit {
                        Some(circuit) => drop(own.circuits.insert(at, circuit)),
                        None => drop(own.circuits.remove(&at)),
                    }
                    alters.again(InLine, at);
                    // Whether there is one above them decides for those that come next.
                    let next = own.branch.keys().copied().filter(|&vent| {
                        circuit.is_some() != before.is_some()
                            && vent != at
                            && own.circuits.contains_key(&vent)
                    });
                    next.for_each(|vent| alters.again(InLine, vent));
                }
            }
            InLine => {
                let before = own.before.get(&at).copied();
                let now = own.follows(self, at);
                if before != now {
                    if let Some(before) = before {
                        own.before.remove(&at);
                        own.after.entry(before).or_default().remove(&at);
                        alters.again(Line, before);
                    }
                    if let Some(now) = now {
                        own.before.insert(at, now);
                        own.after.entry(now).or_default().insert(at);
                        alters.again(Line, now);
                    }
                }
                alters.again(Line, at);
            }
            Line => {
                let mut circuit = own.circuits.get(&at).copied();
                if let Some(circuit) = &mut circuit {
                    circuit.line = circuits::line(self, circuit);
                    if own.before.contains_key(&at) {
                        (circuit.fixtures, circuit.above) = (circuit.fixtures + 1, 1);
                    }
                    let followers = own.after.get(&at).map_or(0, BTreeSet::len);
                    circuit.fixtures = circuit.fixtures.saturating_sub(index(followers));
                }
                if self.state.circuits.put(at, circuit) {
                    alters.figure(Figure::Circuit, at);
                }
            }
            Carries => {
                let Some(next) = self.next(at) else { return Ok(()) };
                let at_vent = Members::at(&own.connection, at)
                    .iter()
                    .any(|&fixture| combinations::own_vent(self, fixture) == Some(at));
                let carries = combinations::carries_at(self, &self.state.combinations.carries, at_vent, at);
                if differs(self.state.combinations.carries.get_mut(next as usize), carries) {
                    alters.figure(Figure::Carries, next);
                }
            }
            Level => {
                let inlets: Vec<u32> = self.inlets(at, Role::Drain).collect();
                for inlet in inlets {
                    let (end, last, below) = self.state.combinations.level_at(self, at, inlet);
                    let combinations = &mut self.state.combinations;
                    let mut differ = differs(combinations.end.get_mut(inlet as usize), end);
                    differ |= differs(combinations.last.get_mut(inlet as usize), last);
                    if differs(combinations.below.get_mut(inlet as usize), below) || differ {
                        alters.figure(Figure::Level, inlet);
                    }
                }
            }
            Loops => {
                let loops = loops::loops(self);
                if differs(Some(&mut self.state.loops), loops) {
                    alters.figure(Figure::Loops, 0);
                }
            }
            Stack => return self.make_stack(at, own, alters),
            Cleanout => {
                let (run, plug, rod, base) = self.state.cleanouts.near_at(self, at);
                let found = &mut self.state.cleanouts;
                let mut differ = differs(found.run.get_mut(here), run);
                differ |= differs(found.plug.get_mut(here), plug);
                if differs(found.rod.get_mut(here), rod) || differ {
                    alters.figure(Figure::Cleanout, at);
                }
                let before = match base {
                    Some(base) => found.base.insert(at, base),
                    None => found.base.remove(&at),
                };
                if before != base {
                    alters.figure(Figure::Base, at);
                }
            }
            Junction => {
                let junction = cleanouts::junction(self);
                if differs(Some(&mut self.state.cleanouts.junction), junction) {
                    alters.figure(Figure::Junction, 0);
                }
            }
            Branch => {
                let Some(branches) = self.state.branches.get() else {
                    return Ok(());
                };
                let below = branches.below_at(self, at);
                let branches = self.state.branches.get_mut();
                if differs(branches.and_then(|branches| branches.below.get_mut(here)), below) {
                    alters.figure(Figure::Branch, at);
                }
            }
            Details => {
                let Some(details) = self.state.details.get() else {
                    return Ok(());
                };
                let now = drains::details_at(self, details, at);
                let details = self.state.details.get_mut();
                if differs(details.and_then(|details| details.get_mut(here)), now) {
                    alters.figure(Figure::Details, at);
                }
            }
            Arms => {
                let Some(place) = crate::measure::at(&self.state.circuits.place, at) else {
                    return Ok(());
                };
                let Some(mut all) = self.state.circuit_arms.take() else {
                    return Ok(());
                };
                let mut arms = circuits::Arms::NONE;
                for &fixture in Members::at(&own.branch, at) {
                    if let Some((_, drain)) = circuits::arm(self, fixture).filter(|arm| arm.0 == place) {
                        arms.add(self, drain);
                    }
                }
                all.resize(self.state.circuits.list.len(), circuits::Arms::NONE);
                let differ = differs(all.get_mut(place as usize), arms);
                self.state.circuit_arms = OnceLock::from(all);
                if differ {
                    alters.figure(Figure::Arms, at);
                }
            }
            RunsAbove | RunsAhead => {
                let Some(mut runs) = self.state.runs.take() else {
                    return Ok(());
                };
                let (node, pipe);
                let (differs, vertical) = if pass == RunsAbove {
                    (node, pipe) = (Figure::RunAbove, Figure::VerticalAbove);
                    let above = runs.above_at(self, at);
                    runs.set_above(self, at, above)
                } else {
                    (node, pipe) = (Figure::RunAhead, Figure::VerticalBelow);
                    let ahead = runs.ahead_at(self, at);
                    runs.set_ahead(self, at, ahead)
                };
                self.state.runs = OnceLock::from(runs);
                if differs {
                    alters.figure(node, at);
                }
                if vertical && let Some(next) = self.next(at) {
                    alters.figure(pipe, next);
                }
            }
            ReliefsBelow => {
                let Some(all) = self.state.reliefs_below.get() else {
                    return Ok(());
                };
                let relief = reliefs::below_at(self, all, at);
                let all = self.state.reliefs_below.get_mut();
                if differs(all.and_then(|all| all.get_mut(here)), relief) {
                    alters.figure(Figure::ReliefsBelow, at);
                }
            }
            BendsBehind => {
                let Some(bends) = self.state.bends.get() else {
                    return Ok(());
                };
                let turn = bends.behind_at(self, at);
                let bends = self.state.bends.get_mut();
                if differs(bends.and_then(|bends| bends.behind.get_mut(here)), turn) {
                    alters.figure(Figure::BendBehind, at);
                }
            }
            BendsAhead => {
                let Some(bends) = self.state.bends.get() else {
                    return Ok(());
                };
                let turn = bends.ahead_at(self, at);
                let bends = self.state.bends.get_mut();
                if differs(bends.and_then(|bends| bends.ahead.get_mut(here)), turn) {
                    alters.figure(Figure::BendAhead, at);
                }
            }
            Below => {
                let from = self.pipe(at).map(|pipe| pipe.from);
                let now = from.and_then(|from| self.stack_above_vent(from));
                let before = own.stack_of.get(&at).copied();
                if now != before {
                    if let Some(before) = before {
                        own.stack_of.remove(&at);
                        own.below.entry(before).or_default().remove(&at);
                        alters.again(VentStack, before);
                    }
                    if let Some(now) = now {
                        own.stack_of.insert(at, now);
                        own.below.entry(now).or_default().insert(at);
                        alters.again(VentStack, now);
                    }
                }
            }
            VentStack => {
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
            Pass::Rim => {
                let mut rim = Rim::NONE;
                for (fixture, _) in self.supplied(&own.vent, at) {
                    rim.add(fixture);
                }
                let vent = self.vent_of(at);
                if differs(vent.and_then(|vent| self.state.vents.rim_mut(vent)), rim) {
                    alters.figure(Figure::Rim, at);
                }
            }
            Behind => {
                let pipes: Vec<u32> = self.vents_from(at).collect();
                for pipe in pipes {
                    let facts = self.state.vents.behind(self, &self.state.air.served, at, pipe);
                    let (Some(facts), Some(slot)) = (facts, self.state.vents.of_mut(pipe)) else {
                        continue;
                    };
                    let stack = slot.stack;
                    if differs(Some(slot), facts) {
                        alters.figure(Figure::Vent, pipe);
                    }
                    if stack != facts.stack {
                        alters.figure(Figure::StackOfVent, pipe);
                    }
                }
            }
            Ahead => {
                let pipes: Vec<u32> = self.inlets(at, Role::Vent).collect();
                for pipe in pipes {
                    let Some(ahead) = self.state.vents.ahead_of(self, at, pipe) else {
                        continue;
                    };
                    let leaves_drain = self.leaves_drain(pipe);
                    let Some(slot) = self.state.vents.of_mut(pipe) else {
                        continue;
                    };
                    let before = slot.ahead();
                    if before == ahead {
                        continue;
                    }
                    slot.set_ahead(ahead);
                    if before.end != ahead.end {
                        alters.figure(Figure::VentEnd, pipe);
                    }
                    alters.figure(Figure::VentAhead, pipe);
                    if leaves_drain && before.clear_size != ahead.clear_size {
                        own.open(before.clear_size, ahead.clear_size);
                        let largest = own.open_sizes.last_key_value().map(|(size, _)| *size);
                        if differs(Some(&mut self.state.vents.largest_open), largest) {
                            alters.figure(Figure::System, 0);
                        }
                    }
                }
            }
            Valves => {
                let valves = valves::valves(self);
                if differs(Some(&mut self.state.valves), valves) {
                    alters.figure(Figure::Valves, 0);
                }
            }
            Circulates => self.make_circulates(alters),
            StackRelief => self.make_stack_relief(at, alters),
            Chosen => {
                let chosen = patterns::choose(self, at);
                let slot = self.ordinal(at);
                if differs(slot.and_then(|slot| self.state.chosen.get_mut(slot)), chosen) {
                    alters.figure(Figure::Chosen, at);
                }
            }
            Pass::Reliance => {
                let Some(fixture) = self.fixture_facts(at) else {
                    return Ok(());
                };
                let now = reliance(self, fixture);
                let plain = matches!(now.way, None | Some((Way::Wet, ..))) && !now.differs;
                let before = own.reliances.get(&at).copied();
                let was_plain = before.is_none_or(|before| matches!(before.way, Some((Way::Wet, ..))));
                if before == Some(now) {
                    return Ok(());
                }
                if !(plain && was_plain) {
                    return Err(Lost);
                }
                if let Some((_, vent, _)) = before.and_then(|before| before.way) {
                    alters.again(WetEnd, vent);
                }
                match now.way {
                    Some((_, vent, _)) => {
                        own.reliances.insert(at, now);
                        alters.again(WetEnd, vent);
                    }
                    None => drop(own.reliances.remove(&at)),
                }
            }
            WetEnd => {
                let mut end = NONE;
                for fixture in Members::at(&own.vent, at) {
                    if let Some(Some((Way::Wet, _, to))) = own.reliances.get(fixture).map(|one| one.way) {
                        deepen(self, &mut end, to);
                    }
                }
                let before = self.state.relied.wet_end.get(here).copied().unwrap_or(NONE);
                if before != end {
                    let relied = &mut self.state.relied;
                    if let Some(slot) = relied.wet_end.get_mut(here) {
                        *slot = end;
                    }
                    if let Some(slot) = relied.wet_ending.get_mut(before as usize) {
                        *slot -= 1;
                    }
                    if let Some(slot) = relied.wet_ending.get_mut(end as usize) {
                        *slot += 1;
                    }
                    for node in [at, before, end].into_iter().filter(|&node| node != NONE) {
                        alters.again(Running, node);
                    }
                }
            }
            Running => {
                let relied = &self.state.relied;
                let begins = u32::from(relied.wet_end.get(here).is_some_and(|&end| end != NONE));
                let ending = relied.wet_ending.get(here).copied().unwrap_or(0);
                let running = air::running_at(self, &relied.wet, (begins, ending), at);
                if differs(self.state.relied.wet.get_mut(here), running) {
                    alters.figure(Figure::Relied, at);
                }
            }
            WetVents => self.make_wet_vents(at, own, alters),
            WetStack => self.make_wet_stack(at, alters),
            Relieves => self.make_relieves(at, own, alters),
            Relieved => self.make_relieved(at, own, alters),
            RelievedOn => self.make_relieved_on(at, alters),
            Yokes => self.make_yokes(at, alters),
            VentTraps => self.make_vent_traps(at, own, alters),
            _ => self.make_whole(pass, alters),
        }
        Ok(())
    }
}
