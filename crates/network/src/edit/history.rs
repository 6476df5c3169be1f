//! The last edits, to be undone.

use std::collections::VecDeque;
use std::sync::Arc;

use super::in_place::Made;
use crate::model::Network;

/// How many can be undone.
const MOST: usize = 100;

/// How many nodes are kept for all of them, save the last.
const MOST_HELD: usize = 200_000;

/// Edits that were made together.
#[derive(Debug)]
pub(super) enum Past {
    /// Made where they stand.
    InPlace(Box<Made>),
    /// The network was built anew; this is the one before, without its history.
    Anew(Box<Network>),
}

impl Past {
    fn held(&self) -> usize {
        match self {
            Self::InPlace(made) => made.held(),
            Self::Anew(before) => before.graph.node_count(),
        }
    }
}

/// The last edits; clones of the network share them.
#[derive(Debug, Clone, Default)]
pub(crate) struct History(VecDeque<Arc<Past>>);

impl History {
    pub(super) fn push(&mut self, past: Past) {
        self.0.push_back(Arc::new(past));
        let mut held: usize = self.0.iter().map(|past| past.held()).sum();
        while self.0.len() > MOST || held > MOST_HELD && self.0.len() > 1 {
            held -= self.0.pop_front().map_or(0, |past| past.held());
        }
    }

    pub(super) fn pop(&mut self) -> Option<Arc<Past>> {
        self.0.pop_back()
    }
}
