//! Sizes chosen for a network, as text and as JSON.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_evaluate::{Finding, Verdict};
use crownweir_network::Network;
use crownweir_propose::{Chosen, Conflict, Sized, Sizing};
use crownweir_quantity::Notation;
use crownweir_rulebook::{RuleSet, Severity};
use serde::Serialize;

use crate::text::{BOLD, CAUTIONS, paint, plural, wrapped};

const RED: Style = AnsiColor::Red.on_default().bold();
const YELLOW: Style = AnsiColor::Yellow.on_default().bold();
const GREEN: Style = AnsiColor::Green.on_default().bold();

/// What came of sizing, for a person at a terminal.
#[must_use]
pub fn sizing_text(network: &Network, rules: &RuleSet, sizing: &Sizing) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", paint(BOLD, network.name()));
    let _ = writeln!(
        out,
        "sized by {} {}, rule set {} revision {}\n",
        rules.document, rules.edition, rules.name, rules.revision
    );
    match sizing {
        Sizing::Sized(sized) => chosen(&mut out, network, sized),
        Sizing::Conflict(conflict) => conflicting(&mut out, conflict),
        Sizing::Spent { checks } => {
            let _ = writeln!(out, "{}", paint(RED, "No answer"));
            let what = format!(
                "the search was given up after {} of the network; a larger effort may find sizes",
                plural(*checks, "evaluation", "evaluations")
            );
            wrapped(&mut out, "", "", &what);
        }
        _ => {}
    }
    let _ = writeln!(out, "\n{}\n", paint(BOLD, "Cautions"));
    for caution in CAUTIONS {
        wrapped(&mut out, "  - ", "    ", caution);
    }
    out
}

fn chosen(out: &mut String, network: &Network, sized: &Sized) {
    if sized.chosen.is_empty() {
        wrapped(
            out,
            "",
            "",
            "Nothing is open: every pipe has a size. `size: open`, or no size at all, leaves one to be chosen.",
        );
    } else {
        let (style, word) = if sized.report.has_violations() {
            (YELLOW, "Sized, but not all can be right whatever the sizes")
        } else {
            (GREEN, "Sized")
        };
        let _ = writeln!(out, "{}", paint(style, word));
        let how = format!(
            "{} open; {} of inside space in them, and {} in all; {} ({})",
            plural(sized.chosen.len(), "pipe was", "pipes were"),
            volume(sized.material, network.notation()),
            plural(sized.sizes, "size", "different sizes"),
            if sized.proven {
                "no other choice has less"
            } else {
                "no single pipe may be smaller, but that no other choice has less is not proven"
            },
            plural(sized.checks, "evaluation", "evaluations"),
        );
        wrapped(out, "", "", &how);
        out.push('\n');
    }
    let widest = sized
        .chosen
        .iter()
        .map(|one| one.name.chars().count())
        .max()
        .unwrap_or(0)
        .min(40);
    for one in &sized.chosen {
        let mut what = one.size.map(|size| size.to_string()).unwrap_or_default();
        if let Some(slope) = one.slope {
            let lead = if what.is_empty() { "" } else { " at " };
            let _ = write!(what, "{lead}{}", slope.in_notation(network.notation()));
        }
        if one.pipes.len() > 1 {
            let _ = write!(what, ", and {} more written with it", one.pipes.len() - 1);
        }
        if one.length_open {
            what.push_str(" (its length is not stated; reckoned as a metre)");
        }
        let _ = writeln!(out, "  {:<widest$}  {what}", one.name);
    }
    let said = |findings: Vec<&Finding>, title: &str, out: &mut String| {
        for (number, finding) in findings.into_iter().enumerate() {
            if number == 0 {
                let _ = writeln!(out, "\n{}\n", paint(BOLD, title));
            }
            let what = format!(
                "{} `{}`: {} - rule {}",
                finding.kind, finding.name, finding.message, finding.rule
            );
            wrapped(out, "  - ", "    ", &what);
        }
    };
    let all = || sized.report.findings.iter().enumerate();
    let stands = |number: &usize| sized.whatever_size.contains(number);
    said(
        all()
            .filter(|(number, _)| stands(number))
            .map(|(_, finding)| finding)
            .collect(),
        "Found whatever the sizes",
        out,
    );
    let others = || {
        all()
            .filter(|(number, _)| !stands(number))
            .map(|(_, finding)| finding)
    };
    let of = |verdict: Verdict, advice: bool| {
        let fits = move |finding: &&Finding| {
            finding.verdict == verdict && (finding.severity == Severity::Advice) == advice
        };
        others().filter(fits).collect()
    };
    said(of(Verdict::Violated, false), "Found", out);
    said(
        of(Verdict::Violated, true),
        "Advice: trade practice, not code",
        out,
    );
    let open: usize = sized.report.summary.iter().map(|row| row.undetermined).sum();
    if open > 0 {
        let what = format!(
            "{} be told for want of a datum that the network or the rule set does not state; `crownweir check` lists \
             each.",
            plural(open, "matter cannot", "matters cannot")
        );
        out.push('\n');
        wrapped(out, "", "", &what);
    }
}

fn conflicting(out: &mut String, conflict: &Conflict) {
    let _ = writeln!(out, "{}", paint(RED, "No sizes satisfy the rule set"));
    let lead = if conflict.proven {
        "these rules deny each other; with any one of them left out, sizes can be found for the rest of them:"
    } else {
        "these rules deny each other; whether each of them is necessary for that could not be settled within the effort \
         allowed:"
    };
    wrapped(out, "", "", lead);
    out.push('\n');
    for one in &conflict.members {
        wrapped(
            out,
            "  - ",
            "    ",
            &format!(
                "`{}`: {} ({}) - rule {}",
                one.name, one.title, one.citation, one.rule
            ),
        );
    }
}

/// A volume as the notation's trade has it: cubic inches or litres, to a tenth.
fn volume(cubic_millimetres: u128, notation: Notation) -> String {
    let (per_tenth, unit) = match notation {
        // An inch is 25.4 mm: a cubic inch 16 387.064 cubic millimetres.
        Notation::Inches => (1_638_706, "cu in"),
        Notation::Millimetres => (100_000_000, "L"),
    };
    let tenths = cubic_millimetres.saturating_mul(1000) / per_tenth;
    format!("{}.{} {unit}", tenths / 10, tenths % 10)
}

#[derive(Serialize)]
struct SizingJson<'a> {
    crownweir: &'static str,
    network: &'a str,
    rules: &'a str,
    outcome: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    proven: Option<bool>,
    evaluations: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    inside_cubic_millimetres: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    different_sizes: Option<usize>,
    pipes: Vec<PipeJson<'a>>,
    conflict: Vec<ConflictJson<'a>>,
    remaining: Vec<RemainingJson<'a>>,
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct PipeJson<'a> {
    names: Vec<&'a str>,
    line: u32,
    column: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    size: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    slope: Option<String>,
}

#[derive(Serialize)]
struct ConflictJson<'a> {
    rule: &'a str,
    title: &'a str,
    name: &'a str,
    citation: String,
}

#[derive(Serialize)]
struct RemainingJson<'a> {
    rule: &'a str,
    name: &'a str,
    verdict: &'static str,
    message: &'a str,
    whatever_the_sizes: bool,
}

/// The same for programs. Later versions may add keys, and take none away.
///
/// # Errors
/// None that is known of; the serializer's are passed on.
pub fn sizing_json(network: &Network, rules: &RuleSet, sizing: &Sizing) -> Result<String, serde_json::Error> {
    let mut json = SizingJson {
        crownweir: "sizing/1",
        network: network.name(),
        rules: &rules.name,
        outcome: "spent",
        proven: None,
        evaluations: 0,
        inside_cubic_millimetres: None,
        different_sizes: None,
        pipes: Vec::new(),
        conflict: Vec::new(),
        remaining: Vec::new(),
        cautions: CAUTIONS,
    };
    match sizing {
        Sizing::Sized(sized) => {
            json.outcome = "sized";
            json.proven = Some(sized.proven);
            json.evaluations = sized.checks;
            json.inside_cubic_millimetres = Some(sized.material.to_string());
            json.different_sizes = Some(sized.sizes);
            let pipe = |one: &Chosen| PipeJson {
                names: one
                    .pipes
                    .iter()
                    .filter_map(|&pipe| network.graph().edge_weight(pipe))
                    .map(|pipe| &*pipe.name)
                    .collect(),
                line: one.position.line,
                column: one.position.column,
                size: one.size.map(|size| size.to_string()),
                slope: one.slope.map(|slope| slope.to_string()),
            };
            json.pipes = sized.chosen.iter().map(pipe).collect();
            let findings = sized.report.findings.iter().enumerate();
            let remaining = findings.map(|(number, finding)| RemainingJson {
                rule: &finding.rule,
                name: &finding.name,
                verdict: match finding.verdict {
                    Verdict::Violated => "violated",
                    Verdict::Undetermined => "undetermined",
                },
                message: &finding.message,
                whatever_the_sizes: sized.whatever_size.contains(&number),
            });
            json.remaining = remaining.collect();
        }
        Sizing::Conflict(conflict) => {
            json.outcome = "conflict";
            json.proven = Some(conflict.proven);
            json.evaluations = conflict.checks;
            json.conflict = conflict
                .members
                .iter()
                .map(|one| ConflictJson {
                    rule: &one.rule,
                    title: &one.title,
                    name: &one.name,
                    citation: one.citation.to_string(),
                })
                .collect();
        }
        Sizing::Spent { checks } => json.evaluations = *checks,
        _ => {}
    }
    serde_json::to_string_pretty(&json)
}
