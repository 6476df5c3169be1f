//! Why a network does not go into a file.

use std::fmt;

use crownweir_document::Limits;

use crate::stated::one_to_a_line;

/// Why a network does not go into a file.
#[derive(Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub struct WriteError {
    /// What no file can state: one thing at the least, and as many as [`Limits::default`] has told of a file at the most.
    pub faults: Vec<WriteFault>,
    /// How many more there were.
    pub omitted: usize,
}

/// One thing that no network file can state.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum WriteFault {
    /// A file states heights from the floor of a storey.
    #[error(
        "the height of `{node}` is not above a floor: it is on no storey, or that of the floor is not known"
    )]
    Height {
        /// The node.
        node: String,
    },
    /// A file states a place in plan together with its height.
    #[error("the place of `{node}` in plan is known, and its height is not")]
    Place {
        /// The node.
        node: String,
    },
    /// What is known of a node would be read otherwise or refused.
    #[error("the height or place of `{node}` would be read otherwise than it is")]
    Node {
        /// The node.
        node: String,
    },
    /// A pipe's figures would be read otherwise or refused, because they deny what is stated of its ends.
    #[error("the length, slope or direction of `{pipe}` would be read otherwise than it is")]
    Pipe {
        /// The pipe.
        pipe: String,
    },
    /// A passage that was put in place of the network's own says what a file cannot say of it.
    #[error("what is said of the passages of `{pipe}` would be read otherwise or refused")]
    Passage {
        /// The pipe.
        pipe: String,
    },
    /// A test that was put in place of the network's own says what a file cannot say of it.
    #[error("what is said of the test of `{section}` would be refused")]
    Test {
        /// What is tested.
        section: String,
    },
}

/// As for people: a program whose `main` gives errors back prints them so.
impl fmt::Debug for WriteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Display for WriteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        one_to_a_line(f, &self.faults, self.omitted)
    }
}

/// What no file can state, as it is found.
#[derive(Default)]
pub(super) struct Faults {
    list: Vec<WriteFault>,
    omitted: usize,
}

impl Faults {
    pub(super) fn push(&mut self, fault: WriteFault) {
        if self.list.len() < Limits::default().diagnostics {
            self.list.push(fault);
        } else {
            self.omitted += 1;
        }
    }

    /// The faults, or `value` if there are none.
    pub(super) fn or<T>(self, value: T) -> Result<T, WriteError> {
        if self.list.is_empty() {
            return Ok(value);
        }
        Err(WriteError {
            faults: self.list,
            omitted: self.omitted,
        })
    }
}
