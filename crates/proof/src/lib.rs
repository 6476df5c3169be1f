//! Worked examples of a rule set: networks with published answers, what they prove, and which of the rule set's
//! figures they pin.
//!
//! It opens no file and starts no thread: texts come in, outcomes go out, and the work of pinning comes in pieces
//! that a caller may run wherever it likes.
//!
//! ```
//! use crownweir_document::Limits;
//! use crownweir_proof::{Example, prove};
//! use crownweir_rulebook::{RuleSet, published};
//!
//! let text = published::text("ipc-2021").ok_or("not there")?;
//! let rules = RuleSet::read("ipc-2021", text.as_bytes(), &Limits::default())?;
//! let example = "
//! crownweir: example/1
//! example: a branch of 24 fixture units
//! source: International Plumbing Code 2021, table 710.1(2)
//! answer: table
//! network:
//!   crownweir: network/1
//!   name: branch
//!   drains:
//!     - {size: $SIZE, slope: 1/4 in/ft, path: [{fixture: {name: group, type: connected_load, load: 24 dfu}}, {pipe: {name: branch, length: 10 ft}}, {at: T}]}
//!     - {kind: stack, size: 4 in, slope: vertical, path: [{fitting: {name: T}}, {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}
//! cases:
//!   - put: {SIZE: 3 in}
//!     violated: [{rule: branch-capacity, on: branch, limit: 20 dfu}]
//!     sizes: [{put: SIZE, rule: branch-capacity, on: branch, is: 4 in}]
//! ";
//! let example = Example::read("branch.yaml", example.as_bytes(), &Limits::default())?;
//! let outcomes = prove(&rules, &[example]);
//! assert!(outcomes.iter().all(|outcome| outcome.unmet.is_empty()));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod beside;
mod changed;
mod example;
mod expect;
mod expected;
mod nudge;
mod pins;
mod prove;
#[cfg(feature = "schema")]
pub mod schema;
mod tally;
mod template;
mod wire;

pub use example::{Case, Example, Origin};
pub use pins::{Pins, Tried, Worker};
pub use prove::{Outcome, Unmet, prove};
pub use tally::{Held, PinReport, State, Tally, Unpinned};
pub use wire::{Answer, Confidence};
