//! The passes one element at a time, for a network that is edited: what they reckon is what the passes over the whole
//! network reckon, by the same functions.

mod make;
mod members;
mod pass;
mod reread;
mod restructure;

use std::sync::OnceLock;

use crownweir_vocabulary::Role;

use super::seen::{By, Figure, Seen};
use super::{Class, Measured, State};

pub(crate) use members::Members;
pub(crate) use pass::{Goes, Pass, field};

/// Why an edit cannot be followed element by element.
#[derive(Debug)]
pub(crate) struct Lost;

/// Takes notes of what an edit alters.
pub(crate) trait Alters {
    /// A figure of an element differs.
    fn figure(&mut self, figure: Figure, element: u32);
    /// All figures of an element differ, or may.
    fn all_of(&mut self, by: By, element: u32) {
        let figures = Figure::ALL.iter().filter(|figure| figure.by() == by);
        figures.for_each(|figure| self.figure(*figure, element));
    }

    /// A pass has to be made at an element for what belongs together.
    fn again(&mut self, pass: Pass, element: u32);
}

/// Puts a value in the place of another, and says whether they differ.
pub(crate) fn differs<T: PartialEq>(slot: Option<&mut T>, value: T) -> bool {
    slot.is_some_and(|slot| {
        let differs = *slot != value;
        *slot = value;
        differs
    })
}

/// Where two lists differ.
pub(crate) fn where_differ<'l, T: PartialEq>(
    before: &'l [T],
    now: &'l [T],
) -> impl Iterator<Item = u32> + 'l {
    let both = (0..).zip(before.iter().zip(now));
    both.filter(|(_, (before, now))| before != now).map(|(at, _)| at)
}

/// Which figures that are reckoned only when a rule asks have been asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Asked {
    branches: bool,
    details: bool,
    runs: bool,
    reliefs_below: bool,
    circuit_arms: bool,
    alike: bool,
    vent_cleanouts: bool,
    bends: bool,
    shares: bool,
    stack_reliefs: bool,
    storeys: bool,
    cuts: bool,
    wet_vents: bool,
    reliefs: bool,
    vent_traps: bool,
}

impl State {
    /// Forgets what only some rule sets ask for, but for what was asked for before.
    pub(crate) fn forget_but(&mut self, asked: &Asked) {
        fn forget<T>(slot: &mut OnceLock<T>, asked: bool) {
            if !asked {
                slot.take();
            }
        }
        let &Asked {
            branches,
            details,
            runs,
            reliefs_below,
            circuit_arms,
            alike,
            vent_cleanouts,
            bends,
            shares,
            stack_reliefs,
            storeys,
            cuts,
            wet_vents,
            reliefs,
            vent_traps,
        } = asked;
        forget(&mut self.branches, branches);
        forget(&mut self.details, details);
        forget(&mut self.runs, runs);
        forget(&mut self.reliefs_below, reliefs_below);
        forget(&mut self.circuit_arms, circuit_arms);
        forget(&mut self.alike, alike);
        forget(&mut self.vent_cleanouts, vent_cleanouts);
        forget(&mut self.bends, bends);
        forget(&mut self.shares, shares);
        forget(&mut self.stack_reliefs, stack_reliefs);
        forget(&mut self.combinations.storeys, storeys);
        forget(&mut self.cuts, cuts);
        forget(&mut self.wet_vents, wet_vents);
        forget(&mut self.reliefs, reliefs);
        forget(&mut self.vent_traps, vent_traps);
    }
}

impl Measured<'_> {
    /// Whether nothing keeps an edit of the network from being followed.
    pub(crate) fn can_follow(&self) -> bool {
        // What arrangements make vents serve is reckoned of all of them together.
        !self.state.relied.differs
    }

    pub(crate) fn note_reads(&mut self) {
        let elements = self.state.pipes.len() + self.state.class.len();
        self.state.seen = Some(Seen::new(elements));
    }

    /// Has the cells of the rule set noted too that are read.
    pub(crate) fn note_cells(&mut self) {
        let tables = self.rules.tables.iter();
        let tables = tables.map(|table| (table.rows().len(), table.columns().len()));
        if let Some(seen) = &mut self.state.seen {
            seen.note_cells(tables);
        }
    }

    /// The place of a cell among those of all tables, where they are noted.
    pub(crate) fn cell(&self, (table, row, column): (usize, usize, usize)) -> Option<u32> {
        self.state.seen.as_ref()?.cell(table, row, column)
    }

    pub(crate) fn reads_noted(&self, into: &mut Vec<u64>) -> (u64, bool) {
        self.state.seen.as_ref().map_or((0, true), |seen| seen.take(into))
    }

    /// What only some rule sets ask for, and has been asked for.
    pub(crate) fn asked(&self) -> Asked {
        let state = &self.state;
        Asked {
            branches: state.branches.get().is_some(),
            details: state.details.get().is_some(),
            runs: state.runs.get().is_some(),
            reliefs_below: state.reliefs_below.get().is_some(),
            circuit_arms: state.circuit_arms.get().is_some(),
            alike: state.alike.get().is_some(),
            vent_cleanouts: state.vent_cleanouts.get().is_some(),
            bends: state.bends.get().is_some(),
            shares: state.shares.get().is_some(),
            stack_reliefs: state.stack_reliefs.get().is_some(),
            storeys: state.combinations.storeys.get().is_some(),
            cuts: state.cuts.get().is_some(),
            wet_vents: state.wet_vents.get().is_some(),
            reliefs: state.reliefs.get().is_some(),
            vent_traps: state.vent_traps.get().is_some(),
        }
    }

    /// Notes no cell of the rule set any more.
    pub(crate) fn forget_cells(&mut self) {
        if let Some(seen) = &mut self.state.seen {
            seen.note_cells(std::iter::empty());
        }
    }

    /// Whether a fixture is counted in a bathroom group.
    fn is_grouped(&self, node: u32) -> bool {
        self.fixture(node).is_some_and(|fixture| fixture.group.is_some())
    }

    /// All pipes that touch a node, without a note of them.
    pub(crate) fn touching(&self, node: u32) -> impl Iterator<Item = u32> + use<'_> {
        let entering = [Role::Drain, Role::Vent].map(|role| self.state.inlets(node, role));
        let leaving = self
            .state
            .vents_from(node)
            .iter()
            .copied()
            .chain(self.state.next(node));
        entering.into_iter().flatten().copied().chain(leaving)
    }

    /// The ends of a pipe, without a note of it.
    pub(crate) fn both_ends(&self, pipe: u32) -> Option<[u32; 2]> {
        let pipe = self.state.pipes.get(pipe as usize)?;
        pipe.is_there().then_some([pipe.from, pipe.to])
    }

    pub(crate) fn is_fixture(&self, node: u32) -> bool {
        self.is(node, Class::Fixture)
    }
}
