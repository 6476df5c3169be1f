//! JSON Schemas of words: each word with what it means. A word that no vocabulary has is never among them.

use schemars::{Schema, json_schema};
use serde::Serialize;

/// A word and what it means.
#[derive(Serialize)]
struct Word {
    r#const: &'static str,
    description: &'static str,
}

/// One of several words, each with its meaning.
#[must_use]
pub fn words(description: &str, words: &[(&'static str, &'static str)]) -> Schema {
    let words: Vec<_> = words
        .iter()
        .map(|(word, meaning)| Word {
            r#const: word,
            description: meaning.trim(),
        })
        .collect();
    json_schema!({"description": description.trim(), "oneOf": words})
}

/// `fitting_pattern` for `FittingPattern`.
pub(crate) fn plain_name(name: &str) -> String {
    let mut plain = String::new();
    for letter in name.chars() {
        if letter.is_ascii_uppercase() && !plain.is_empty() {
            plain.push('_');
        }
        plain.push(letter.to_ascii_lowercase());
    }
    plain
}
