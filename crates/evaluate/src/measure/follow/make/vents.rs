//! Passes along vents.

use std::collections::HashMap;

use crownweir_vocabulary::Role;

use crate::measure::follow::{Alters, Members, Pass, differs};
use crate::measure::seen::Figure;
use crate::measure::vents::Rim;
use crate::measure::{Measured, reliefs, vents};

impl Measured<'_> {
    pub(super) fn make_below(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        let from = self.pipe(at).map(|pipe| pipe.from);
        let now = from.and_then(|from| self.stack_above_vent(from));
        let before = own.stack_of.get(&at).copied();
        if now != before {
            if let Some(before) = before {
                own.stack_of.remove(&at);
                own.below.entry(before).or_default().remove(&at);
                alters.again(Pass::VentStack, before);
            }
            if let Some(now) = now {
                own.stack_of.insert(at, now);
                own.below.entry(now).or_default().insert(at);
                alters.again(Pass::VentStack, now);
            }
        }
    }

    pub(super) fn make_rim(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let mut rim = Rim::NONE;
        for (fixture, _) in self.supplied(&own.vent, at) {
            rim.add(fixture);
        }
        let vent = self.vent_of(at);
        if differs(vent.and_then(|vent| self.state.vents.rim_mut(vent)), rim) {
            alters.figure(Figure::Rim, at);
        }
    }

    pub(super) fn make_behind(&mut self, at: u32, alters: &mut impl Alters) {
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

    pub(super) fn make_ahead(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
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
}
