//! Checks a building's drains, wastes and vents against a plumbing code before anything is cemented.
//!
//! This crate is what other programs depend on. It adds nothing to the crates behind it; it gathers what they
//! offer. Without default features it reads networks and rule sets, and checks; the features `drawing`, `proof`,
//! `propose`, `report`, `shop` and `published` (the rule sets that come along) add the rest, and are there by default. On
//! request, `batch` checks many networks on several threads, `spreadsheet` writes shop sheets as a workbook, and `schema`
//! makes JSON Schemas of the file formats.
//!
#![cfg_attr(feature = "published", doc = include_str!("../README.md"))]
#![forbid(unsafe_code)]

#[cfg(feature = "schema")]
pub mod schema;

pub use crownweir_document::{Diagnostic, Diagnostics, Document, Limits, Place, Unwritable, nearest};
pub use crownweir_evaluate::{
    Arranged, Derivation, Difference, Element, Figure, Finding, Gap, Got, Judgement, Limit, MOST_OF_A_RULE,
    Measured, Missing, OnSite, Outcome, Pass, Protected, Refused, Report, RulePart, RuleSummary, Session,
    Shown, Step, Substitute, UnknownSize, UnknownSizes, Verdict, check, hydraulics,
};
pub use crownweir_network::{
    Edit, EditError, EditFault, Edited, FlowOrder, Graph, Network, Node, NodeId, NodeKind, NodeProperty,
    Pipe, PipeId, PipeProperty, Position,
};
#[cfg(feature = "propose")]
pub use crownweir_propose::{Effort, Sizing, size};
pub use crownweir_rulebook::{
    Amendment, Arrangement, Basis, CellError, Change, Citation, Content, Day, Fact, Family, MemoryCells,
    Remark, RemarkKind, Rule, RuleSet, Severity, Size, Subject, Table, Text, Value, Weight, audit, changes,
};

/// Many networks at once, on all cores: a result line for each.
#[cfg(feature = "batch")]
pub use crownweir_batch as batch;
/// Drawings.
#[cfg(feature = "drawing")]
pub use crownweir_drawing as drawing;
/// The graph and its file format, in full.
pub use crownweir_network as network;
/// Worked examples, what they prove and what they pin.
#[cfg(feature = "proof")]
pub use crownweir_proof as proof;
/// Sizes and remedies, in full.
#[cfg(feature = "propose")]
pub use crownweir_propose as propose;
/// Rule sets and their file format, in full.
pub use crownweir_rulebook as rulebook;

/// The rule sets and amendments that come with the library.
#[cfg(feature = "published")]
pub use crownweir_rulebook::published;

/// Exact quantities.
pub use crownweir_quantity as quantity;
/// Reports in the formats that people and programs read.
#[cfg(feature = "report")]
pub use crownweir_report as report;
/// Shop sheets: what a network takes to be built.
#[cfg(feature = "shop")]
pub use crownweir_shop as shop;
/// The trade's words.
pub use crownweir_vocabulary as vocabulary;
