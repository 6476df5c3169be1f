//! Reports of a check: text for a person at a terminal, JSON, SARIF, CSV and DOT for programs.
//!
//! It judges nothing and reads nothing; it lays out what the check found.
#![forbid(unsafe_code)]

mod audit;
mod changes;
mod compare;
mod derivation;
mod dot;
mod explain;
mod html;
mod json;
mod listing;
mod marks;
mod mending;
mod plain;
mod sarif;
mod schedules;
#[cfg(feature = "schema")]
pub mod schema;
mod sizing;
mod text;
mod uri;
mod workings;

pub use audit::{audit_json, audit_text};
pub use changes::{changes_json, changes_text};
pub use compare::{Compared, Comparison, compare};
pub use derivation::derivation;
pub use dot::dot;
pub use explain::{explain, explain_arrangement, explain_matter, explain_protection, explain_table};
pub use html::page;
pub use json::json;
pub use listing::{citing, rules_list};
pub use marks::drawing;
pub use mending::{mending_json, mending_text};
pub use sarif::sarif;
pub use schedules::{FixtureRow, PipeRow, findings_csv, fixtures, fixtures_csv, pipes, pipes_csv};
pub use sizing::{sizing_json, sizing_text};
pub use text::{CAUTIONS, text, without_escapes};
pub use workings::workings;
