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
            let of_kind: Vec<&Remark> = of_kind.collect();
            if of_kind.is_empty() {
                continue;
            }
            let title = format!(
                "{} ({})",
                kind.title(),
                plural(of_kind.len(), weight.name(), &format!("{}s", weight.name()))
            );
            let _ = writeln!(out, "\n{}\n", paint(style, &title));
            // What is to be done is said once for all that ask the same.
            let mut to_do = None;
            for alike in of_kind.chunk_by(|one, other| said_together(one, other)) {
                let Some(remark) = alike.first() else { continue };
                if let Some(before) = to_do.replace(&remark.to_do)
                    && *before != remark.to_do
                {
                    wrapped(&mut out, "    to do: ", "    ", before);
                }
                wrapped(
                    &mut out,
                    "  ",
                    "    ",
                    &format!("{}: {}", remark.place, message_of(alike)),
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

/// What a remark's message says before and after what sets it apart, and that.
fn parts(remark: &Remark) -> Option<(&str, &str, &str)> {
    let varies = remark.varies.clone()?;
    let before = remark.message.get(..varies.start)?;
    let after = remark.message.get(varies.end..)?;
    Some((before, after, remark.message.get(varies)?))
}

/// Whether two remarks say the same of the same place, save what sets them apart.
fn said_together(one: &Remark, other: &Remark) -> bool {
    let around = |remark| parts(remark).map(|(before, after, _)| (before, after));
    around(one).is_some()
        && around(one) == around(other)
        && (&one.place, &one.to_do) == (&other.place, &other.to_do)
}

/// One message for remarks that are said together.
fn message_of(alike: &[&Remark]) -> String {
    let Some((before, after, _)) = alike.first().and_then(|first| parts(first)) else {
        return alike.iter().map(|remark| remark.message.as_str()).collect();
    };
    let apart: Vec<&str> = alike
        .iter()
        .filter_map(|remark| parts(remark))
        .map(|(_, _, apart)| apart)
        .collect();
    format!("{before}{}{after}", apart.join(", "))
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
