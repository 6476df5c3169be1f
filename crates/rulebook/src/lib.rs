//! Rule sets as data: tables, definitions, arrangements and rules in YAML, each value with its citation.
//!
//! No figure of any code stands in this crate's source. It knows which facts there are, what dimension each
//! has, and how conditions over them are written; what a code asks is in the files.
//!
//! With the feature `published`, on by default, it carries the rule sets and amendments of the repository.
//!
//! ```
//! # #[cfg(feature = "published")] {
//! let text = crownweir_rulebook::published::text("ipc-2021").ok_or("not there")?;
//! let rules = crownweir_rulebook::RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
//! assert_eq!(rules.edition, "2021");
//! # }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod alike;
mod amend;
mod audit;
mod canonical;
mod cases;
mod cells;
mod changes;
mod day;
mod expression;
mod facts;
mod figures;
mod flows;
mod literal;
mod load;
mod message;
mod model;
mod operand;
#[cfg(feature = "published")]
pub mod published;
mod reach;
mod reads;
#[cfg(feature = "schema")]
pub mod schema;
mod table;
mod tables;
mod value;
mod walk;
mod wire;
mod words;

pub use amend::{Amendment, AppliedChange, Layer, Origin, Part, Precedence, Standing, Status, Text};
pub use audit::{MemoryCells, Remark, RemarkKind, Weight, audit};
pub use cells::CellError;
pub use changes::{Change, Section, changes};
pub use crownweir_document::{Diagnostic, Diagnostics, Limits, Place};
pub use day::{Day, NotADay};
pub use facts::{Fact, Family, Subject};
pub use figures::Grain;
pub use load::{MOST_PLACES, MOST_SIZES};
pub use model::{
    Arrangement, ArrangementCondition, Basis, BathroomGroup, BranchInterval, Check, Citation, Comparison,
    Condition, Definitions, Exception, FactTest, FlowFormula, Framing, Hydraulics, LimitCitation, LoadCase,
    LoadModel, Loads, Lookup, Matter, Message, Operand, Piece, Protection, Rule, RuleSet, RuleSetParts,
    SetBy, Severity, SharpTurn, TrapArmStart, VentLengthEnd, Vertical,
};
pub use table::{Cell, Column, Content, Key, Match, Row, Table};
pub use tables::MOST_KEYS;
pub use value::{Dimension, Ladder, Rung, Size, Value};
pub use words::Words;
