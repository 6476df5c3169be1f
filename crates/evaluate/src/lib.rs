//! Measures a network and evaluates a rule set on it: facts, three-valued verdicts, findings with their
//! workings.
//!
//! It reads no file, prints nothing, keeps no state, and holds no figure of any code: those stand in the rule
//! set.
#![forbid(unsafe_code)]

mod check;
mod classes;
mod derivation;
mod evaluate;
pub mod hydraulics;
mod measure;
mod protection;
mod report;
mod session;
mod show;
mod trace;
mod workings;

pub use check::check;
pub use derivation::Derivation;
pub use evaluate::{Limit, Outcome};
pub use measure::{Element, Gap, Got, Measured, UnknownSize, UnknownSizes};
pub use protection::Arranged;
pub use report::{
    Figure, Finding, Judgement, MOST_OF_A_RULE, Missing, OnSite, Protected, Report, RuleSummary, Verdict,
};
pub use session::{Difference, Refused, Session, Substitute};
pub use trace::RulePart;
pub use workings::{Pass, Shown, Step};
