//! What an audit of a rule set found, as text and as JSON.
//!
//! It leaves nothing out and weighs nothing: faults and notices come as the audit has them.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_document::Unwritable;
use crownweir_rulebook::{Remark, RemarkKind, RuleSet, Weight};
use serde::Serialize;

use crate::json::written;
use crate::text::{BOLD, paint, plural, wrapped};

const RED: Style = AnsiColor::Red.on_default().bold();

fn count(remarks: &[Remark], weight: Weight) -> usize {
    remarks.iter().filter(|remark| remark.weight == weight).count()
}

/// The remarks for a person at a terminal, with its escape codes, grouped by kind, faults first.
#[must_use]
pub fn audit_text(rules: &RuleSet, remarks: &[Remark]) -> String {
    let mut out = String::new();
    let head = format!("{} ({})", rules.title, rules.called());
    wrapped(&mut out, "", "", &head);
    for (weight, style) in [(Weight::Fault, RED), (Weight::Notice, BOLD)] {
        for kind in RemarkKind::ALL {
            let of_kind = remarks
                .iter()
                .filter(|remark| (remark.kind, remark.weight) == (*kind, weight));
            let count = of_kind.clone().count();
            if count == 0 {
                continue;
            }
            let title = format!(
                "{} ({})",
                kind.title(),
                plural(count, weight.name(), &format!("{}s", weight.name()))
            );
            let _ = writeln!(out, "\n{}\n", paint(style, &title));
            // What is to be done is said once for all that ask the same.
            let mut to_do = None;
            for remark in of_kind {
                if let Some(before) = to_do.replace(&remark.to_do)
                    && *before != remark.to_do
                {
                    wrapped(&mut out, "    to do: ", "    ", before);
                }
                wrapped(
                    &mut out,
                    "  ",
                    "    ",
                    &format!("{}: {}", remark.place, remark.message),
                );
            }
            if let Some(to_do) = to_do {
                wrapped(&mut out, "    to do: ", "    ", to_do);
            }
        }
    }
    let faults = plural(count(remarks, Weight::Fault), "fault", "faults");
    let notices = plural(count(remarks, Weight::Notice), "notice", "notices");
    let _ = writeln!(out, "\n{faults}, {notices}");
    out
}

#[derive(Serialize)]
struct AuditJson<'a> {
    crownweir: &'static str,
    rules: &'a str,
    revision: u32,
    faults: usize,
    notices: usize,
    remarks: Vec<RemarkJson<'a>>,
}

#[derive(Serialize)]
struct RemarkJson<'a> {
    kind: &'static str,
    weight: &'static str,
    file: &'a str,
    line: usize,
    column: usize,
    message: &'a str,
    to_do: &'a str,
}

/// The remarks as indented JSON, by file and place.
///
/// # Errors
/// None is known: every part has a JSON form. The error type is the serialiser's.
pub fn audit_json(rules: &RuleSet, remarks: &[Remark]) -> Result<String, Unwritable> {
    let each = remarks.iter().map(|remark| RemarkJson {
        kind: remark.kind.name(),
        weight: remark.weight.name(),
        file: &remark.place.file,
        line: remark.place.line,
        column: remark.place.column,
        message: &remark.message,
        to_do: &remark.to_do,
    });
    written(&AuditJson {
        crownweir: "audit/1",
        rules: &rules.name,
        revision: rules.revision,
        faults: count(remarks, Weight::Fault),
        notices: count(remarks, Weight::Notice),
        remarks: each.collect(),
    })
}
