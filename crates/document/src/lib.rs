//! Text in YAML (or JSON, which reads the same way) with the place of every key and value.
//!
//! It never opens a file, and never builds a value larger than its limits allow: size, depth, node count,
//! anchors and duplicate keys are settled while the text is scanned, before anything is decoded.
#![forbid(unsafe_code)]

mod cursor;
mod decode;
mod diagnostic;
mod edit;
mod look;
mod probe;
mod read;
#[cfg(feature = "schema")]
pub mod schema;
mod tree;
mod unwritable;

pub use cursor::Cursor;
pub use decode::Decoded;
pub use diagnostic::{Diagnostic, Diagnostics, Place};
pub use edit::{TextEdit, scalar};
pub use read::{Document, FORMAT_KEY, Limits};
pub use tree::{Merge, Tree};
pub use unwritable::Unwritable;

/// The candidate nearest to `word` in spelling, if one is near enough to be what the author meant: first what one slip of
/// the pen makes of it, two letters in the other order being one; of several that are as near, the first by its name, in
/// whatever order they come.
#[must_use]
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    candidates
        .into_iter()
        .map(|candidate| {
            let is_slip = strsim::osa_distance(word, candidate) == 1;
            (is_slip, strsim::jaro_winkler(word, candidate), candidate)
        })
        .filter(|(is_slip, likeness, _)| *is_slip || *likeness > 0.8)
        .max_by(|a, b| (a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))).then_with(|| b.2.cmp(a.2)))
        .map(|(.., candidate)| candidate)
}
