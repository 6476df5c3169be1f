//! Many networks checked one by one on several threads: records in, a result line for each out, in the order of the
//! records, whatever the number of threads. What is in memory at a time does not grow with the number of records.
//!
//! It opens no file and no terminal: records come from any [`Source`], lines go wherever the caller puts them.
#![forbid(unsafe_code)]

mod line;
mod order;
mod source;
mod standing;

#[cfg(feature = "schema")]
pub use line::schema;
pub use line::{Header, Outcome, ResultLine, Rules, result};
pub use order::in_order;
pub use source::{Lines, Record, Source};
pub use standing::{Differs, Standing};
