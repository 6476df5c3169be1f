//! Proposes what is right: sizes that satisfy a rule set, and remedies for what a check found.
//!
//! Nothing is proposed that evaluation has not confirmed. It reads no file and writes none: edits of a network file
//! come out as text.
#![forbid(unsafe_code)]

mod error;
mod mend;
mod objection;
mod passing;
mod search;
mod sizing;
mod variable;
mod write;

pub use error::{ChangeError, MendError};
pub use mend::{
    Change, Hindered, Mending, PropertyValue, Remedy, Trials, Verified, changed, mend, needless, verified,
};
pub use passing::{Passing, nearest_passing};
pub use sizing::{Chosen, Conflict, Effort, Objection, Open, SizedNetwork, Sizing, size};
pub use write::with_sizes;
