//! From a network to what is built: where everything stands, what is cut, and the sheets that say so.
//!
//! It never judges by a code and never guesses: what the network or the dimensions do not tell is named as not stated.
#![forbid(unsafe_code)]

mod asked;
mod clashes;
mod contradictions;
mod cut;
mod dimensions;
mod ends;
mod form;
mod geometry;
mod holes;
mod job;
mod joining;
mod laying;
mod levels;
mod materials;
mod obstacles;
mod offsets;
mod packing;
mod practice;
mod remarks;
#[cfg(feature = "schema")]
pub mod schema;
mod sheet;
mod stock;
mod straps;
mod trial;
mod wire;
#[cfg(feature = "spreadsheet")]
mod workbook;
mod write;

pub use contradictions::Contradiction;
pub use cut::{Cut, End, Piece, pieces};
pub use dimensions::{Basis, Dimensions, Ends, FittingSize, Joint, Part, PipeSize, Source};
pub use form::form;
pub use geometry::{Geometry, Place, Way, distance};
pub use holes::{longest_piece, with_plates};
pub use job::{Job, SheetKind, anchored};
pub use offsets::{PipeOffset, pipe_offsets};
pub use packing::{MOST_STEPS, Packing, pack};
pub use practice::Practice;
pub use sheet::{Cell, Column, Holds, Sheet, grain, on_tape, rounded};
pub use straps::{Reason, Schedule, Strap, schedule};
pub use trial::{Section, pressure, sections};
#[cfg(feature = "spreadsheet")]
pub use workbook::workbook;
pub use write::{json, text};
