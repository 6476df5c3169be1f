//! Checks a building's drains, wastes and vents against a plumbing code before anything is cemented.
//!
//! This crate is what other programs depend on. It adds nothing to the crates behind it; it gathers what they
//! offer. Without default features it reads networks and rule sets, and checks; the features `drawing`, `proof`,
//! `propose`, `report`, `shop` and `published` (the rule sets that come along) add the rest, and are there by default. On
//! request, `batch` checks many networks on several threads, `spreadsheet` writes shop sheets as a workbook, and `schema`
//! makes JSON Schemas of the file formats.
//!
//! A network is begun in code, as an editor does that draws one from nothing, and is checked from the first:
//!
//! ```
//! # #[cfg(feature = "published")]
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! use crownweir::vocabulary::{FittingPattern, Role, RunKind};
//! use crownweir::{Beginning, Edit, Network, Node, NodeKind, Pipe, Run, Session, SiteProperty, Storey, published};
//!
//! let sewer = Node { storey: Some(0), ..Node::new("sewer", NodeKind::Disposal) };
//! let network = Network::begin(Beginning {
//!     storeys: vec![Storey::new("ground", Some("9 ft".parse()?))],
//!     ..Beginning::new("boathouse", sewer)
//! })?;
//! let mut session = Session::new(network, published::rule_set("ipc-2021")?)?;
//! // What it lacks as yet is told.
//! assert!(session.findings().iter().any(|finding| finding.rule == "open-air-vent"));
//!
//! let pipe = Pipe {
//!     size: Some("4 in".parse()?),
//!     length: Some("12 ft".parse()?),
//!     slope: Some("1/4 in/ft".parse()?),
//!     ..Pipe::new("to the sewer", Role::Drain, session.network().next_run())
//! };
//! session.edit(&[
//!     Edit::AddRun(Run { name: "drain".into(), kind: RunKind::BuildingDrain }),
//!     Edit::AddNode(Node { storey: Some(0), ..Node::new("wye", FittingPattern::Wye) }),
//!     Edit::AddPipe { from: "wye".to_owned(), to: "sewer".to_owned(), pipe: Box::new(pipe) },
//! ])?;
//! session.edit(&[
//!     Edit::Site(SiteProperty::WinterDesignTemperature(Some("12 F".parse()?))),
//!     Edit::AddStorey(Storey::new("upper", Some("8 ft".parse()?))),
//! ])?;
//! let text = session.network().to_yaml()?;
//! assert!(text.contains("kind: building_drain") && text.contains("- {storey: upper, height: 8 ft}"));
//!
//! // With nothing in it, it is a network still, and a file.
//! session.undo()?;
//! session.undo()?;
//! assert!(session.network().to_yaml()?.ends_with("- disposal: {name: sewer, storey: ground}\n"));
//! # Ok(())
//! # }
//! # #[cfg(not(feature = "published"))]
//! # fn main() {}
//! ```
//!
//! A network that is read, and in it a basin with its trap arm and vent that comes, is checked, is saved, and goes again:
//!
//! ```
//! # #[cfg(feature = "published")]
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! use crownweir::vocabulary::{FittingPattern, FixtureType, Inlet, Role, RunKind};
//! use crownweir::{Edit, Fixture, Limits, Network, Node, Pipe, Run, Session, Terminal, published};
//!
//! let file = "
//! crownweir: network/1
//! name: boathouse
//! site: {occupancy: private}
//! drains:
//!   - slope: 1/4 in/ft
//!     size: 2 in
//!     path:
//!       - fixture: {name: L1, type: lavatory, trap: {size: 1-1/4 in}}
//!       - pipe: {length: 3 ft}
//!       - fitting: {name: T1, pattern: sanitary_tee}
//!       - pipe: {length: 4 ft}
//!       - fitting: {name: W1, pattern: wye}
//!       - pipe: {length: 4 ft}
//!       - disposal: {name: sewer}
//! vents:
//!   - {size: 1-1/2 in, slope: vertical, path: [{at: T1}, {pipe: {length: 12 ft}}, {terminal: {name: roof}}]}
//! ";
//! let network = Network::read("boathouse.yaml", file.as_bytes(), &Limits::default())?;
//! let rules = published::rule_set("ipc-2021")?;
//! let mut session = Session::new(network, rules)?;
//! let before = session.report();
//!
//! let branch = session.network().next_run();
//! let run = |name: &str, kind| Edit::AddRun(Run { name: name.into(), kind });
//! let pipe = |from: &str, to: &str, pipe| Edit::AddPipe {
//!     from: from.to_owned(),
//!     to: to.to_owned(),
//!     pipe: Box::new(pipe),
//! };
//! let mut basin = Fixture::new(FixtureType::Lavatory);
//! basin.trap.size = Some("1-1/4 in".parse()?);
//! let arm = Pipe {
//!     size: Some("1-1/4 in".parse()?),
//!     length: Some("9 ft".parse()?),
//!     slope: Some("1/4 in/ft".parse()?),
//!     enters: Inlet::Run,
//!     ..Pipe::new("arm of L2", Role::Drain, branch)
//! };
//! let drain = Pipe {
//!     size: Some("1-1/2 in".parse()?),
//!     length: Some("2 ft".parse()?),
//!     ..Pipe { name: "drain of L2".into(), enters: Inlet::Branch, ..arm.clone() }
//! };
//! let vent = Pipe {
//!     size: Some("1-1/4 in".parse()?),
//!     length: Some("12 ft".parse()?),
//!     slope: Some("vertical".parse()?),
//!     ..Pipe::new("vent of L2", Role::Vent, branch.next())
//! };
//! let difference = session.edit(&[
//!     run("branch of L2", RunKind::Branch),
//!     run("vent of L2", RunKind::BranchVent),
//!     Edit::AddNode(Node::new("L2", basin)),
//!     Edit::AddNode(Node::new("T2", FittingPattern::SanitaryTee)),
//!     Edit::AddNode(Node::new("roof of L2", Terminal::default())),
//!     pipe("L2", "T2", arm),
//!     pipe("T2", "W1", drain),
//!     pipe("T2", "roof of L2", vent),
//! ])?;
//! // An arm of that size may not be so long.
//! assert!(difference.added.iter().any(|finding| finding.rule == "trap-arm-length"));
//!
//! // It is saved as the text of a network file, which reads as the same network.
//! let text = session.network().to_yaml()?;
//! assert!(text.contains("- pipe: {name: arm of L2, length: 9 ft}"));
//! let saved = Network::read("boathouse.yaml", text.as_bytes(), &Limits::default())?;
//! assert_eq!(saved.to_yaml()?, text);
//!
//! // What joins a node goes with it; so do the pipes of a run.
//! let gone = ["L2", "T2", "roof of L2"].map(|name| Edit::RemoveNode(name.to_owned()));
//! session.edit(&gone)?;
//! session.edit(&[branch, branch.next()].map(Edit::RemoveRun))?;
//! assert_eq!(session.report(), before);
//!
//! // What was edited last is taken back first.
//! session.undo()?;
//! let difference = session.undo()?.ok_or("nothing to take back")?;
//! assert!(difference.added.iter().any(|finding| finding.rule == "trap-arm-length"));
//! session.undo()?;
//! assert_eq!(session.report(), before);
//!
//! // An edit that cannot be made is told by its number, and nothing is changed.
//! let refused = session.edit(&[Edit::RemoveNode("L2".to_owned())]).err().ok_or("it is made")?;
//! assert_eq!(refused.to_string(), "edit 1, node `L2`: there is no node `L2`; did you mean `L1`?");
//! # Ok(())
//! # }
//! # #[cfg(not(feature = "published"))]
//! # fn main() {}
//! ```
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
    BeginError, BeginFault, Beginning, Cleanout, Edit, EditError, EditFault, Edited, Fixture, FlowOrder,
    Graph, Network, Node, NodeId, NodeKind, NodeProperty, Pipe, PipeId, PipeProperty, Position, Run, RunId,
    Site, SiteProperty, SlopeBounds, Storey, Terminal, Trap, Valve, WriteError, WriteFault, petgraph,
};
#[cfg(feature = "propose")]
pub use crownweir_propose::{Effort, Sizing, size};
pub use crownweir_rulebook::{
    Amendment, Arrangement, Basis, CellError, Change, Citation, Content, Day, Fact, Family, MemoryCells,
    Remark, RemarkKind, Rule, RuleSet, RuleSetParts, Severity, Size, Subject, Table, Text, Value, Weight,
    audit, changes,
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
