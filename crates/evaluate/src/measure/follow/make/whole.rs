//! Passes over the whole network.

use std::sync::OnceLock;

use crate::measure::follow::{Alters, Pass, differs, where_differ};
use crate::measure::seen::Figure;
use crate::measure::{
    Measured, cleanouts, combinations, facts_of_passages, flows, loops, overlaps, valves, vents,
};

impl Measured<'_> {
    pub(super) fn make_loops(&mut self, alters: &mut impl Alters) {
        let loops = loops::loops(self);
        if differs(Some(&mut self.state.loops), loops) {
            alters.figure(Figure::Loops, 0);
        }
    }

    pub(super) fn make_junction(&mut self, alters: &mut impl Alters) {
        let junction = cleanouts::junction(self);
        if differs(Some(&mut self.state.cleanouts.junction), junction) {
            alters.figure(Figure::Junction, 0);
        }
    }

    pub(super) fn make_valves(&mut self, alters: &mut impl Alters) {
        let valves = valves::valves(self);
        if differs(Some(&mut self.state.valves), valves) {
            alters.figure(Figure::Valves, 0);
        }
    }

    pub(super) fn make_overlaps(&mut self, alters: &mut impl Alters) {
        let now = overlaps::overlaps(self, &self.state.air.served);
        let before = std::mem::replace(&mut self.state.vents.overlaps, now);
        for node in self.state.vents.overlaps.differing(&before) {
            alters.again(Pass::Behind, node);
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
            Pass::VentCleanouts => each!(vent_cleanouts, vents::cleanouts, Figure::VentCleanouts),
            Pass::Shares if self.state.shares.get().is_some() => {
                let now = flows::shares(self);
                if let Some((before, now)) = anew(&mut self.state.shares, now) {
                    where_differ(&before.0, &now.0).for_each(|at| alters.figure(Figure::Shares, at));
                }
            }
            Pass::Cuts => whole!(cuts, facts_of_passages::cuts, Figure::Cuts),
            Pass::StoreysBeside if self.state.combinations.storeys.get().is_some() => {
                let now = combinations::storeys(self);
                if anew(&mut self.state.combinations.storeys, now).is_some() {
                    alters.figure(Figure::StoreysBeside, 0);
                }
            }
            _ => {}
        }
    }
}
