//! Reports of a check: text for a person at a terminal, JSON for programs.
//!
//! It judges nothing and reads nothing; it lays out what the check found.
#![forbid(unsafe_code)]

mod audit;
mod changes;
mod compare;
mod explain;
mod json;
#[cfg(feature = "schema")]
pub mod schema;
mod text;
mod workings;

pub use audit::{audit_json, audit_text};
pub use changes::{changes_json, changes_text};
pub use compare::{Compared, Comparison, compare};
pub use explain::{explain, explain_protection};
pub use json::json;
pub use text::{CAUTIONS, text};
pub use workings::workings;
