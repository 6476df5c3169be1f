//! What differs between two rule sets, as text and as JSON.
//!
//! It compares nothing itself and does not say which side is right.

use std::fmt::Write as _;

use crownweir_document::Unwritable;
use crownweir_rulebook::{Change, Place, RuleSet, Section};
use serde::Serialize;

use crate::json::written;
use crate::text::{BOLD, paint, plural, wrapped};

/// The changes for a person at a terminal, with its escape codes, by section and name.
#[must_use]
pub fn changes_text(before: &RuleSet, after: &RuleSet, changes: &[Change]) -> String {
    let called = |rules: &RuleSet| format!("{} (revision {})", rules.name, rules.revision);
    let mut out = format!("from {} to {}\n", called(before), called(after));
    for section in Section::ALL {
        let of_section: Vec<_> = changes
            .iter()
            .filter(|change| change.section == *section)
            .collect();
        if of_section.is_empty() {
            continue;
        }
        let _ = writeln!(out, "\n{}", paint(BOLD, section.name()));
        let mut name = None;
        for change in of_section {
            if name.replace(&change.name) != Some(&change.name) && !change.name.is_empty() {
                let _ = writeln!(out, "\n  {}", paint(BOLD, &change.name));
            }
            let places: Vec<_> = [&change.place_before, &change.place_after]
                .into_iter()
                .flatten()
                .map(ToString::to_string)
                .collect();
            let places = match places.is_empty() {
                true => String::new(),
                false => format!(" ({})", places.join(", ")),
            };
            wrapped(&mut out, "    ", "      ", &format!("{change}{places}"));
        }
    }
    let count = match changes.len() {
        0 => "the same".to_owned(),
        count => plural(count, "change", "changes"),
    };
    let _ = writeln!(out, "\n{count}");
    out
}

#[derive(Serialize)]
struct ChangesJson<'a> {
    crownweir: &'static str,
    before: &'a str,
    after: &'a str,
    changes: Vec<ChangeJson<'a>>,
}

#[derive(Serialize)]
struct ChangeJson<'a> {
    section: &'static str,
    name: &'a str,
    keys: Vec<KeyJson<'a>>,
    part: &'a str,
    before: Option<&'a str>,
    after: Option<&'a str>,
    place_before: Option<PlaceJson<'a>>,
    place_after: Option<PlaceJson<'a>>,
}

#[derive(Serialize)]
struct KeyJson<'a> {
    key: &'a str,
    value: &'a str,
}

#[derive(Serialize)]
struct PlaceJson<'a> {
    file: &'a str,
    line: usize,
    column: usize,
}

fn place(place: &Place) -> PlaceJson<'_> {
    PlaceJson {
        file: &place.file,
        line: place.line,
        column: place.column,
    }
}

/// The changes as indented JSON.
///
/// # Errors
/// None is known: every part has a JSON form. The error type is the serialiser's.
pub fn changes_json(before: &RuleSet, after: &RuleSet, changes: &[Change]) -> Result<String, Unwritable> {
    let each = changes.iter().map(|change| ChangeJson {
        section: change.section.name(),
        name: &change.name,
        keys: change
            .keys
            .iter()
            .map(|(key, value)| KeyJson { key, value })
            .collect(),
        part: &change.part,
        before: change.before.as_deref(),
        after: change.after.as_deref(),
        place_before: change.place_before.as_ref().map(place),
        place_after: change.place_after.as_ref().map(place),
    });
    written(&ChangesJson {
        crownweir: "changes/1",
        before: &before.name,
        after: &after.name,
        changes: each.collect(),
    })
}
