//! Which parts of a rule set an evaluation reads: to tell what an example says something about.
//!
//! It is kept only for a network measured with [`Measured::tracing`](crate::Measured::tracing), and changes no verdict.

use std::collections::BTreeSet;
use std::sync::{Mutex, PoisonError};

/// A part of a rule set that was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum RulePart {
    /// Something was looked up in the table of that index, whether or not a row was found.
    Table(usize),
    /// A table's cell, by the indices of table, row and column.
    Cell(usize, usize, usize),
    /// A case of a fixture's load, by its place in the list.
    LoadCase(usize),
    /// The load of a whole bathroom group.
    GroupLoad,
    /// An arrangement whose shape a trap has, by its place in the list.
    Arrangement(usize),
}

/// What has been read so far.
#[derive(Debug, Default)]
pub(crate) struct Trace(Mutex<BTreeSet<RulePart>>);

impl Trace {
    pub(crate) fn note(&self, read: RulePart) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(read);
    }

    pub(crate) fn so_far(&self) -> BTreeSet<RulePart> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}
