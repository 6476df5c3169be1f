//! The drain-waste-vent network of a building: its file format, its graph, its structural checks.
//!
//! It never judges by a code: what it refuses cannot be a network at all.
//!
//! ```
//! let file = "
//! crownweir: network/1
//! name: one lavatory
//! drains:
//!   - slope: 1/4 in/ft
//!     size: 1-1/2 in
//!     path:
//!       - fixture: {name: L1, type: lavatory, trap: {size: 1-1/4 in}}
//!       - pipe: {length: 3 ft}
//!       - fitting: {name: T1, pattern: sanitary_tee}
//!       - pipe: {length: 8 ft}
//!       - disposal: {name: sewer}
//! vents:
//!   - slope: vertical
//!     size: 1-1/4 in
//!     path:
//!       - at: T1
//!       - pipe: {length: 12 ft}
//!       - terminal: {name: roof}
//! ";
//! let network = crownweir_network::Network::read("l1.yaml", file.as_bytes(), &Default::default())?;
//! assert_eq!(network.graph().edge_count(), 3);
//! # Ok::<(), crownweir_document::Diagnostics>(())
//! ```
#![forbid(unsafe_code)]

mod anchor;
pub mod angles;
mod build;
mod edit;
mod elevation;
mod expand;
mod framing;
mod geometry;
mod heights;
mod model;
mod offset;
mod open;
mod order;
mod pipes;
mod plan;
mod refill;
#[cfg(feature = "schema")]
pub mod schema;
mod stated;
mod structure;
mod wire;
mod write;

pub use crownweir_document::{Diagnostic, Diagnostics, Limits};
pub use edit::{
    BeginError, BeginFault, Beginning, Edit, EditError, EditFault, Edited, NodeProperty, PipeProperty,
    SiteProperty,
};
pub use framing::Slant;
pub use model::{
    Centre, Cleanout, Fixture, Graph, Layout, Members, NearestOpening, Network, Node, NodeId, NodeKind,
    Passage, Pipe, PipeId, Position, Run, RunId, Site, SlopeBounds, Storey, Terminal, Test, Trap, Valve,
};
pub use offset::Offset;
pub use order::FlowOrder;
/// The library of graphs whose types [`Graph`], [`NodeId`] and [`PipeId`] are: who walks a network needs the same version of
/// it.
pub use petgraph;
pub use write::{WriteError, WriteFault};
