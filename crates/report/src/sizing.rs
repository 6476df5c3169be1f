//! Sizes chosen for a network, as text and as JSON.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_document::Unwritable;
use crownweir_evaluate::{Finding, Verdict};
use crownweir_network::{Network, PipeId};
use crownweir_propose::{Chosen, Conflict, Objection, SizedNetwork, Sizing};
use crownweir_quantity::{NominalSize, Notation, Slope};
use crownweir_rulebook::{RuleSet, Severity};
use serde::Serialize;

use crate::json::written;
use crate::text::{BOLD, CAUTIONS, paint, plural, wrapped};

const RED: Style = AnsiColor::Red.on_default().bold();
const YELLOW: Style = AnsiColor::Yellow.on_default().bold();
const GREEN: Style = AnsiColor::Green.on_default().bold();

/// What came of sizing, for a person at a terminal, with its escape codes.
#[must_use]
pub fn sizing_text(network: &Network, rules: &RuleSet, sizing: &Sizing) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", paint(BOLD, network.name()));
    let _ = writeln!(
        out,
        "sized by {} {}, rule set {}\n",
        rules.document,
        rules.edition,
        rules.called()
    );
    match sizing {
        Sizing::Sized(sized) => chosen(&mut out, network, sized),
        Sizing::Conflict(conflict) => conflicting(&mut out, network, conflict),
        Sizing::Spent { evaluations } => {
            let _ = writeln!(out, "{}", paint(RED, "No answer"));
            let what = format!(
                "the search was given up after {} of the network; a larger effort may find sizes",
                plural(*evaluations, "evaluation", "evaluations")
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

fn chosen(out: &mut String, network: &Network, sized: &SizedNetwork) {
    if sized.chosen.is_empty() {
        wrapped(
            out,
            "",
            "",
            "Nothing is open: every pipe has a size. `size: open`, or no size at all, leaves one to be chosen.",
        );
    } else {
        let findings = || sized.report.findings.iter().enumerate();
        let is_broken = |finding: &Finding| {
            finding.verdict == Verdict::Violated && finding.severity == Severity::Violation
        };
        let (style, word) = if findings()
            .any(|(number, finding)| is_broken(finding) && sized.whatever_size.contains(&number))
        {
            (YELLOW, "Sized, but not all can be right whatever the sizes")
        } else if sized.report.has_violations() {
            (YELLOW, "Sized, with vents to be enlarged where they end")
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
            plural(sized.evaluations, "evaluation", "evaluations"),
        );
        wrapped(out, "", "", &how);
        out.push('\n');
    }
    let notation = network.notation();
    pipes(out, &sized.chosen, |one| {
        let mut what = kind(one.size, one.slope, notation);
        if one.pipes.len() > 1 {
            let _ = write!(what, ", and {} more written with it", one.pipes.len() - 1);
        }
        if one.length_open {
            what.push_str(" (its length is not stated; reckoned as a metre)");
        }
        (&one.name, what)
    });
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
    // Nothing else that is not found whatever the sizes hinders none.
    said(
        of(Verdict::Violated, false),
        "To be enlarged where it passes the roof or wall",
        out,
    );
    said(
        of(Verdict::Violated, true),
        "Advice: trade practice, not code",
        out,
    );
    let open: usize = sized.report.summary.iter().map(|row| row.undetermined).sum();
    if open > 0 {
        let what = format!(
            "{} be told for want of a datum that the network or the rule set does not state; a check lists each.",
            plural(open, "matter cannot", "matters cannot")
        );
        out.push('\n');
        wrapped(out, "", "", &what);
    }
}

/// One line for each pipe: its name, and what is to be said of it.
fn pipes<T>(out: &mut String, list: &[T], told: impl Fn(&T) -> (&str, String)) {
    let widest = list.iter().map(|one| told(one).0.chars().count()).max();
    let widest = widest.unwrap_or(0).min(40);
    for one in list {
        let (name, what) = told(one);
        let line = format!("  {name:<widest$}  {what}");
        let _ = writeln!(out, "{}", line.trim_end());
    }
}

/// A size, a slope or both.
fn kind(size: Option<NominalSize>, slope: Option<Slope>, notation: Notation) -> String {
    let size = size.map(|size| size.to_string());
    let slope = slope.map(|slope| slope.in_notation(notation).to_string());
    let both: Vec<String> = size.into_iter().chain(slope).collect();
    both.join(" at ")
}

fn conflicting(out: &mut String, network: &Network, conflict: &Conflict) {
    let _ = writeln!(out, "{}", paint(RED, "No sizes satisfy the rule set"));
    let lead = if conflict.proven {
        "these rules deny each other; with any one of them left out, sizes can be found for the rest of them:"
    } else {
        "these rules deny each other; whether each of them is necessary for that could not be settled within the effort \
         allowed:"
    };
    wrapped(out, "", "", lead);
    let listed = |out: &mut String, members: &[Objection]| {
        out.push('\n');
        for one in members {
            let what = format!(
                "`{}`: {} ({}) - rule {}",
                one.name, one.title, one.citation, one.rule
            );
            wrapped(out, "  - ", "    ", &what);
        }
    };
    listed(out, &conflict.members);
    for members in &conflict.further {
        out.push('\n');
        wrapped(out, "", "", "and where some of those give way, these:");
        listed(out, members);
    }
    let notation = network.notation();
    if !conflict.chosen.is_empty() {
        let _ = writeln!(
            out,
            "\n{}\n",
            paint(GREEN, "Sized, whichever of these rules gives way")
        );
        let mut said = Vec::new();
        if conflict.cut_short {
            said.push(format!(
                "the same by {} out of the conflict, and nothing that these rules turn on; but not every way was \
                 searched, and a larger effort may tell more",
                plural(conflict.ways, "way", "ways")
            ));
        }
        if !conflict.least {
            said.push("that no other choice has less is not proven".to_owned());
        }
        if !said.is_empty() {
            wrapped(out, "", "", &said.join("; "));
            out.push('\n');
        }
        pipes(out, &conflict.chosen, |one| {
            (&one.name, kind(one.size, one.slope, notation))
        });
    }
    if !conflict.open.is_empty() {
        let title = "Open until it is settled which gives way";
        let _ = writeln!(out, "\n{}\n", paint(YELLOW, title));
        pipes(out, &conflict.open, |one| {
            let either = one.either.iter();
            let either: Vec<String> = either.map(|&(size, slope)| kind(size, slope, notation)).collect();
            (&one.name, either.join(" or "))
        });
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
    #[serde(skip_serializing_if = "Vec::is_empty")]
    further_conflicts: Vec<Vec<ConflictJson<'a>>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    open: Vec<OpenJson<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    every_way_searched: Option<bool>,
    remaining: Vec<RemainingJson<'a>>,
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct PipeJson<'a> {
    names: Vec<&'a str>,
    line: u32,
    column: u32,
    #[serde(flatten)]
    kind: KindJson,
}

/// What a pipe is to be.
#[derive(Serialize)]
struct KindJson {
    #[serde(skip_serializing_if = "Option::is_none")]
    size: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    slope: Option<String>,
}

/// A pipe that rules which deny each other leave open.
#[derive(Serialize)]
struct OpenJson<'a> {
    names: Vec<&'a str>,
    line: u32,
    column: u32,
    either: Vec<KindJson>,
}

#[derive(Serialize)]
struct ConflictJson<'a> {
    rule: &'a str,
    title: &'a str,
    name: &'a str,
    citation: String,
}

fn kind_json(size: Option<NominalSize>, slope: Option<Slope>) -> KindJson {
    KindJson {
        size: size.map(|size| size.to_string()),
        slope: slope.map(|slope| slope.to_string()),
    }
}

fn names<'a>(network: &'a Network, pipes: &[PipeId]) -> Vec<&'a str> {
    let pipes = pipes.iter().filter_map(|&pipe| network.graph().edge_weight(pipe));
    pipes.map(|pipe| &*pipe.name).collect()
}

fn chosen_json<'a>(network: &'a Network, chosen: &[Chosen]) -> Vec<PipeJson<'a>> {
    let pipe = |one: &Chosen| PipeJson {
        names: names(network, &one.pipes),
        line: one.position.line,
        column: one.position.column,
        kind: kind_json(one.size, one.slope),
    };
    chosen.iter().map(pipe).collect()
}

fn members_json(members: &[Objection]) -> Vec<ConflictJson<'_>> {
    let members = members.iter();
    members
        .map(|one| ConflictJson {
            rule: &one.rule,
            title: &one.title,
            name: &one.name,
            citation: one.citation.to_string(),
        })
        .collect()
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
pub fn sizing_json(network: &Network, rules: &RuleSet, sizing: &Sizing) -> Result<String, Unwritable> {
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
        further_conflicts: Vec::new(),
        open: Vec::new(),
        every_way_searched: None,
        remaining: Vec::new(),
        cautions: CAUTIONS,
    };
    match sizing {
        Sizing::Sized(sized) => {
            json.outcome = "sized";
            json.proven = Some(sized.proven);
            json.evaluations = sized.evaluations;
            json.inside_cubic_millimetres = Some(sized.material.to_string());
            json.different_sizes = Some(sized.sizes);
            json.pipes = chosen_json(network, &sized.chosen);
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
            json.evaluations = conflict.evaluations;
            json.conflict = members_json(&conflict.members);
            json.further_conflicts = conflict.further.iter().map(|list| members_json(list)).collect();
            json.pipes = chosen_json(network, &conflict.chosen);
            let open = conflict.open.iter().map(|one| OpenJson {
                names: names(network, &one.pipes),
                line: one.position.line,
                column: one.position.column,
                either: one
                    .either
                    .iter()
                    .map(|&(size, slope)| kind_json(size, slope))
                    .collect(),
            });
            json.open = open.collect();
            json.every_way_searched = Some(!conflict.cut_short);
        }
        Sizing::Spent { evaluations } => json.evaluations = *evaluations,
        _ => {}
    }
    written(&json)
}
