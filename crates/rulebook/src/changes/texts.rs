//! Citations and messages as text, whole: two that differ in what they say read differently.
//!
//! When a citation was last compared with its source changes nothing of what it says.

use crate::model::{Citation, Message, Piece, Rule};

/// A citation with all that it says.
pub(super) fn citation(citation: &Citation) -> String {
    let Citation {
        document: _,
        edition: _,
        section,
        basis,
        checked: _,
        note,
        set_by: _,
        since: _,
        amends: _,
    } = citation;
    let mut text = citation.to_string();
    if section.is_some() {
        text.push_str(&format!(" ({})", basis.name()));
    }
    if let Some(note) = note {
        text.push_str(&format!(", note: {note}"));
    }
    text
}

/// A message with its figures by name; those that a rule shows are named by it.
pub(super) fn message(message: &Message, rule: Option<&Rule>) -> String {
    let pieces = message.pieces.iter().map(|piece| match piece {
        Piece::Text(text) => text.clone(),
        Piece::Fact(fact) => format!("{{{}}}", fact.name()),
        Piece::Shown(index) => {
            let shown = rule.and_then(|rule| rule.show.get(*index));
            format!("{{{}}}", shown.map_or("", |(name, _)| name.as_str()))
        }
        Piece::Measured => "{measured}".to_owned(),
        Piece::Limit => "{limit}".to_owned(),
        Piece::LeastOrMost => "{least_or_most}".to_owned(),
    });
    pieces.collect()
}
