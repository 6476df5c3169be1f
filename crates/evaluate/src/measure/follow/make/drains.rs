//! Passes along drains: loads, groups, totals, runs, bends, cleanouts.

use std::collections::BTreeSet;
use std::mem::take;
use std::sync::OnceLock;

use crownweir_vocabulary::Role;

use crate::measure::follow::{Alters, Members, Pass, differs};
use crate::measure::seen::Figure;
use crate::measure::{Measured, branches, combinations, drains, index, loads};

impl Measured<'_> {
    pub(super) fn make_downstream(&mut self, at: u32, alters: &mut impl Alters) {
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
            above.for_each(|[from, _]| alters.again(Pass::Downstream, from));
        }
        if before != now {
            alters.figure(Figure::Downstream, at);
            if let Some(next) = self.next(at) {
                alters.figure(Figure::Receiver, next);
            }
        }
    }

    pub(super) fn make_load(&mut self, at: u32, alters: &mut impl Alters) {
        // Loads are reckoned before anything that rests on them is known.
        let (loads, totals) = (take(&mut self.state.loads), take(&mut self.state.totals));
        let load = loads::own(self, at);
        (self.state.loads, self.state.totals) = (loads, totals);
        let slot = self.ordinal(at);
        if differs(slot.and_then(|slot| self.state.loads.own_mut(slot)), load) {
            alters.figure(Figure::Load, at);
        }
    }

    pub(super) fn make_groups(&mut self, own: &mut Members, alters: &mut impl Alters) {
        if own.grouped.is_empty() && !own.regrouped {
            return;
        }
        own.regrouped = false;
        let mut now = take(&mut self.state.loads);
        let before = now.without_groups();
        loads::group(self, &mut now);
        let nodes = now.groups_differ(&before);
        if now.whole != before.whole {
            alters.again(Pass::Overlaps, 0);
        }
        self.state.loads = now;
        nodes
            .into_iter()
            .for_each(|node| alters.figure(Figure::Group, node));
    }

    pub(super) fn make_totals(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let totals = drains::totals_at(self, &self.state.totals, at);
        if differs(self.state.totals.get_mut(here), totals) {
            alters.figure(Figure::Totals, at);
        }
    }

    pub(super) fn make_carries(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let Some(next) = self.next(at) else { return };
        let at_vent = Members::at(&own.connection, at)
            .iter()
            .any(|&fixture| combinations::own_vent(self, fixture) == Some(at));
        let carries = combinations::carries_at(self, &self.state.combinations.carries, at_vent, at);
        if differs(self.state.combinations.carries.get_mut(next as usize), carries) {
            alters.figure(Figure::Carries, next);
        }
    }

    pub(super) fn make_level(&mut self, at: u32, alters: &mut impl Alters) {
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

    pub(super) fn make_cleanout(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
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

    pub(super) fn make_branch(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let Some(branches) = self.state.branches.get() else {
            return;
        };
        let below = branches.below_at(self, at);
        let branches = self.state.branches.get_mut();
        if differs(branches.and_then(|branches| branches.below.get_mut(here)), below) {
            alters.figure(Figure::Branch, at);
        }
    }

    pub(super) fn make_details(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let Some(details) = self.state.details.get() else {
            return;
        };
        let now = drains::details_at(self, details, at);
        let details = self.state.details.get_mut();
        if differs(details.and_then(|details| details.get_mut(here)), now) {
            alters.figure(Figure::Details, at);
        }
    }

    pub(super) fn make_runs_above(&mut self, at: u32, alters: &mut impl Alters) {
        let Some(mut runs) = self.state.runs.take() else {
            return;
        };
        let above = runs.above_at(self, at);
        let (differs, vertical) = runs.set_above(self, at, above);
        self.state.runs = OnceLock::from(runs);
        if differs {
            alters.figure(Figure::RunAbove, at);
        }
        if vertical && let Some(next) = self.next(at) {
            alters.figure(Figure::VerticalAbove, next);
        }
    }

    pub(super) fn make_runs_ahead(&mut self, at: u32, alters: &mut impl Alters) {
        let Some(mut runs) = self.state.runs.take() else {
            return;
        };
        let ahead = runs.ahead_at(self, at);
        let (differs, vertical) = runs.set_ahead(self, at, ahead);
        self.state.runs = OnceLock::from(runs);
        if differs {
            alters.figure(Figure::RunAhead, at);
        }
        if vertical && let Some(next) = self.next(at) {
            alters.figure(Figure::VerticalBelow, next);
        }
    }

    pub(super) fn make_bends_behind(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let Some(bends) = self.state.bends.get() else {
            return;
        };
        let turn = bends.behind_at(self, at);
        let bends = self.state.bends.get_mut();
        if differs(bends.and_then(|bends| bends.behind.get_mut(here)), turn) {
            alters.figure(Figure::BendBehind, at);
        }
    }

    pub(super) fn make_bends_ahead(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let Some(bends) = self.state.bends.get() else {
            return;
        };
        let turn = bends.ahead_at(self, at);
        let bends = self.state.bends.get_mut();
        if differs(bends.and_then(|bends| bends.ahead.get_mut(here)), turn) {
            alters.figure(Figure::BendAhead, at);
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
            kindred.for_each(|&fixture| alters.again(Pass::Alike, fixture));
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
}
