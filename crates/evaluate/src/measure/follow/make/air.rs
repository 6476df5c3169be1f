//! Passes about how traps get their air.

use std::collections::HashMap;
use std::mem::take;

use crownweir_vocabulary::Role;

use crate::measure::air::{Reach, Supply, Vented, Way, deepen, reliance};
use crate::measure::follow::members::{insert, remove};
use crate::measure::follow::{Alters, Lost, Members, Pass, differs};
use crate::measure::seen::Figure;
use crate::measure::{FixtureFacts, Measured, NONE, air, patterns, wet_vents};

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

    pub(super) fn make_head(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let (head, bringing) = self.state.air.brought_to(self, at);
        let air = &mut self.state.air;
        let differ = differs(air.head.get_mut(here), head);
        if differs(air.bringing.get_mut(here), bringing) || differ {
            alters.figure(Figure::Head, at);
        }
    }

    pub(super) fn make_meets(&mut self, at: u32, alters: &mut impl Alters) {
        let inlets: Vec<u32> = self.inlets(at, Role::Drain).collect();
        for inlet in inlets {
            let met = self.state.air.met(self, at, inlet);
            if differs(self.state.air.meets.get_mut(inlet as usize), met) {
                alters.figure(Figure::Meets, inlet);
            }
        }
    }

    pub(super) fn make_vented(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let here = at as usize;
        let mut vented = Vented::NONE;
        for (fixture, supply) in self.supplied(&own.connection, at) {
            vented.add(self, fixture, &supply);
        }
        if differs(self.state.air.vented.get_mut(here), vented) {
            alters.figure(Figure::Vented, at);
        }
    }

    pub(super) fn make_ends(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let here = at as usize;
        let mut reach = Reach::NONE;
        for (fixture, supply) in self.supplied(&own.vent, at) {
            reach.add(self, &self.state.air, fixture, &supply);
        }
        let air = &mut self.state.air;
        let mut differ = differs(air.ends.get_mut(here), reach.end);
        differ |= differs(air.doubt.get_mut(here), reach.doubt);
        if differs(air.served.get_mut(here), reach.served) || differ {
            alters.figure(Figure::Ends, at);
        }
    }

    pub(super) fn make_closets(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let here = at as usize;
        let members = self.supplied(&own.vent, at);
        let closets = members
            .map(|(fixture, supply)| wet_vents::wet_closet(fixture, &supply))
            .sum();
        if differs(self.state.closets_on.get_mut(here), closets) {
            alters.figure(Figure::Closets, at);
        }
    }

    pub(super) fn make_ways(&mut self, at: u32, alters: &mut impl Alters) {
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

    pub(super) fn make_chosen(&mut self, at: u32, alters: &mut impl Alters) {
        let chosen = patterns::choose(self, at);
        let slot = self.ordinal(at);
        if differs(slot.and_then(|slot| self.state.chosen.get_mut(slot)), chosen) {
            alters.figure(Figure::Chosen, at);
        }
    }

    pub(super) fn make_reliance(
        &mut self,
        at: u32,
        own: &mut Members,
        alters: &mut impl Alters,
    ) -> Result<(), Lost> {
        let Some(fixture) = self.fixture_facts(at) else {
            return Ok(());
        };
        let now = reliance(self, fixture);
        let plain = matches!(now.way, None | Some((Way::Wet, ..))) && !now.differs && !now.is_open();
        let before = own.reliances.get(&at).copied();
        let was_plain =
            before.is_none_or(|before| matches!(before.way, Some((Way::Wet, ..))) && !before.is_open());
        if before == Some(now) {
            return Ok(());
        }
        if !(plain && was_plain) {
            return Err(Lost);
        }
        if let Some((_, vent, _)) = before.and_then(|before| before.way) {
            alters.again(Pass::WetEnd, vent);
        }
        match now.way {
            Some((_, vent, _)) => {
                own.reliances.insert(at, now);
                alters.again(Pass::WetEnd, vent);
            }
            None => drop(own.reliances.remove(&at)),
        }
        Ok(())
    }

    pub(super) fn make_wet_end(&mut self, at: u32, own: &Members, alters: &mut impl Alters) {
        let here = at as usize;
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
                alters.again(Pass::Running, node);
            }
        }
    }

    pub(super) fn make_running(&mut self, at: u32, alters: &mut impl Alters) {
        let here = at as usize;
        let relied = &self.state.relied;
        let begins = u32::from(relied.wet_end.get(here).is_some_and(|&end| end != NONE));
        let ending = relied.wet_ending.get(here).copied().unwrap_or(0);
        let running = air::running_at(self, &relied.wet, (begins, ending), at);
        if differs(self.state.relied.wet.get_mut(here), running) {
            alters.figure(Figure::Relied, at);
        }
    }

    pub(super) fn make_supply(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        let supply = self.state.air.find_supply(self, at);
        self.put_supply(at, supply, own, alters);
    }

    /// Notes how the trap of a fixture gets its air.
    pub(in crate::measure::follow) fn put_supply(
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
            for pass in [Pass::Vented, Pass::Carries, Pass::WetVents] {
                alters.again(pass, supply.connection);
            }
            for pass in [
                Pass::Ends,
                Pass::Closets,
                Pass::Rim,
                Pass::WetEnd,
                Pass::WetVents,
                Pass::VentTraps,
            ] {
                alters.again(pass, supply.dry_vent);
            }
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
}
