//! Passes about circuits, and what relieves them.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use crate::measure::follow::members::{insert, remove};
use crate::measure::follow::{Alters, Members, Pass, differs};
use crate::measure::seen::Figure;
use crate::measure::{Measured, circuits, index, reliefs};

impl Measured<'_> {
    pub(super) fn make_near(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let near = self.state.circuits.near_at(self, at);
        if differs(self.state.circuits.near.get_mut(here), near) {
            alters.figure(Figure::Near, at);
        }
    }

    pub(super) fn make_member(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        let vent = self.state.circuits.member(self, at).map(|(vent, _)| vent);
        let before = own.branch_of.get(&at).copied();
        if vent != before {
            if let Some(before) = before {
                remove(&mut own.branch, before, at);
                own.branch_of.remove(&at);
                alters.again(Pass::Circuit, before);
            }
            if let Some(vent) = vent {
                insert(&mut own.branch, vent, at);
                own.branch_of.insert(at, vent);
                alters.again(Pass::Circuit, vent);
            }
        }
    }

    pub(super) fn make_circuit(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        let circuit = own.circuit(self, at);
        let before = own.circuits.get(&at).copied();
        if circuit != before {
            match circuit {
                Some(circuit) => drop(own.circuits.insert(at, circuit)),
                None => drop(own.circuits.remove(&at)),
            }
            alters.again(Pass::InLine, at);
            // Whether there is one above them decides for those that come next.
            let next = own.branch.keys().copied().filter(|&vent| {
                circuit.is_some() != before.is_some() && vent != at && own.circuits.contains_key(&vent)
            });
            next.for_each(|vent| alters.again(Pass::InLine, vent));
        }
    }

    pub(super) fn make_in_line(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        let before = own.before.get(&at).copied();
        let now = own.follows(self, at);
        if before != now {
            if let Some(before) = before {
                own.before.remove(&at);
                own.after.entry(before).or_default().remove(&at);
                alters.again(Pass::Line, before);
            }
            if let Some(now) = now {
                own.before.insert(at, now);
                own.after.entry(now).or_default().insert(at);
                alters.again(Pass::Line, now);
            }
        }
        alters.again(Pass::Line, at);
    }

    pub(super) fn make_line(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
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

    pub(super) fn make_arms(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let Some(place) = crate::measure::at(&self.state.circuits.place, at) else {
            return;
        };
        let Some(mut all) = self.state.circuit_arms.take() else {
            return;
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

    pub(super) fn make_reliefs_below(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let Some(all) = self.state.reliefs_below.get() else {
            return;
        };
        let relief = reliefs::below_at(self, all, at);
        let all = self.state.reliefs_below.get_mut();
        if differs(all.and_then(|all| all.get_mut(here)), relief) {
            alters.figure(Figure::ReliefsBelow, at);
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
        if let Some(before) = before {
            own.relieves.remove(&at);
            remove(&mut own.relieved, before.by, at);
            alters.again(Pass::Relieved, before.by);
        }
        if let Some(now) = now {
            own.relieves.insert(at, now);
            insert(&mut own.relieved, now.by, at);
            alters.again(Pass::Relieved, now.by);
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
            if let Some(relieves) = own.relieves.get(circuit) {
                now.get_or_insert_default().add(self, *relieves);
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
}
