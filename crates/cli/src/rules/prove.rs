//! `crownweir rules prove`.

use std::fmt::Write as _;
use std::process::ExitCode;

use anstyle::Style;
use clap::{Args, ValueEnum};
use crownweir::RuleSet;
use crownweir::proof::{Outcome, prove};
use crownweir::rulebook::{AppliedChange, Standing};
use quick_junit::{NonSuccessKind, Report, TestCase, TestCaseStatus, TestSuite};
use serde_json::json;

use super::examples;
use crate::input::Trouble;
use crate::output;

const BOLD: Style = Style::new().bold();
const WIDTH: usize = 80;

#[derive(Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    chosen: examples::Chosen,
    /// For people, for programs, or for the test page of a CI service.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    Text,
    Json,
    Junit,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let (rules, examples) = arguments.chosen.read()?;
    let outcomes = prove(&rules, &examples);
    output::print(&match arguments.format {
        Format::Text => text(&rules, &outcomes),
        Format::Json => json(&rules, &outcomes),
        Format::Junit => junit(&rules, &outcomes)?,
    })?;
    Ok(ExitCode::from(u8::from(outcomes.iter().any(is_unmet))))
}

fn is_unmet(outcome: &Outcome) -> bool {
    !outcome.unmet.is_empty()
}

pub(super) fn wrapped(text: &mut String, indent: usize, line: &str) {
    let blank = " ".repeat(indent);
    let options = textwrap::Options::new(WIDTH)
        .initial_indent(&blank)
        .subsequent_indent(&blank)
        // `1-1/4 in` is one size.
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    let _ = writeln!(text, "{}", textwrap::fill(line, &options));
}

/// The unmet cases, each with what came instead.
pub(super) fn unmet(text: &mut String, outcomes: &[Outcome]) {
    for outcome in outcomes.iter().filter(|outcome| is_unmet(outcome)) {
        let _ = writeln!(text, "{BOLD}{}{BOLD:#}", outcome.example);
        wrapped(text, 2, &format!("{}: {}", outcome.place, outcome.case));
        wrapped(
            text,
            2,
            &format!(
                "{} answer: {}",
                outcome.origin.answer.name(),
                outcome.origin.source
            ),
        );
        for unmet in &outcome.unmet {
            wrapped(text, 4, &format!("{}: expected {}", unmet.place, unmet.expected));
            wrapped(text, 6, &format!("but {}", unmet.came));
        }
        text.push('\n');
    }
}

/// Says that another day may have what the examples ask for, where something is unmet and changes are still to come.
pub(super) fn another_day(text: &mut String, rules: &RuleSet, outcomes: &[Outcome]) {
    let to_come = |change: &&AppliedChange| matches!(change.standing, Standing::NotBefore(_));
    let count = rules.changes.iter().filter(to_come).count();
    if count > 0 && outcomes.iter().any(is_unmet) {
        let are = if count == 1 { "change is" } else { "changes are" };
        wrapped(
            text,
            0,
            &format!("{count} {are} not in force yet on this day; `--on` asks for the law of another"),
        );
        text.push('\n');
    }
}

fn text(rules: &RuleSet, outcomes: &[Outcome]) -> String {
    let mut text = String::new();
    unmet(&mut text, outcomes);
    another_day(&mut text, rules, outcomes);
    let _ = writeln!(text, "{BOLD}{}{BOLD:#}: worked examples\n", rules.called());
    let mut files: Vec<(&str, usize, usize, usize)> = Vec::new();
    for outcome in outcomes {
        let name = outcome.file.rsplit(['/', '\\']).next().unwrap_or_default();
        if files.last().is_none_or(|last| last.0 != name) {
            files.push((name, 0, 0, 0));
        }
        if let Some((_, cases, expected, unmet)) = files.last_mut() {
            *cases += 1;
            *expected += outcome.expected;
            *unmet += outcome.unmet.len();
        }
    }
    let _ = writeln!(
        text,
        "{:<48}{:>8}{:>12}{:>8}",
        "file", "cases", "expected", "unmet"
    );
    for (name, cases, expected, unmet) in &files {
        let _ = writeln!(text, "{name:<48}{cases:>8}{expected:>12}{unmet:>8}");
    }
    let expected: usize = outcomes.iter().map(|outcome| outcome.expected).sum();
    let unmet: usize = outcomes.iter().map(|outcome| outcome.unmet.len()).sum();
    let _ = writeln!(text, "{:<48}{:>8}{expected:>12}{unmet:>8}", "all", outcomes.len());
    text
}

fn json(rules: &RuleSet, outcomes: &[Outcome]) -> String {
    let cases: Vec<_> = outcomes
        .iter()
        .map(|outcome| {
            let unmet: Vec<_> = outcome
                .unmet
                .iter()
                .map(|unmet| {
                    json!({
                        "line": unmet.place.line,
                        "column": unmet.place.column,
                        "expected": unmet.expected,
                        "came": unmet.came,
                    })
                })
                .collect();
            json!({
                "example": outcome.example,
                "file": &*outcome.file,
                "line": outcome.place.line,
                "case": outcome.case,
                "answer": outcome.origin.answer.name(),
                "basis": outcome.origin.basis.name(),
                "source": outcome.origin.source,
                "expected": outcome.expected,
                "unmet": unmet,
            })
        })
        .collect();
    let whole = json!({
        "crownweir": "proof/1",
        "rules": {"name": rules.name, "document": rules.document, "edition": rules.edition, "revision": rules.revision},
        "cases": cases,
        "unmet": outcomes.iter().map(|outcome| outcome.unmet.len()).sum::<usize>(),
    });
    format!("{whole:#}\n")
}

fn junit(rules: &RuleSet, outcomes: &[Outcome]) -> Result<String, Trouble> {
    let mut report = Report::new(format!("crownweir rules prove {}", rules.name));
    for example in outcomes.chunk_by(|one, next| one.file == next.file) {
        let title = example.first().map_or("", |first| first.example.as_str());
        let mut suite = TestSuite::new(title);
        suite.add_test_cases(example.iter().map(test_case));
        report.add_test_suite(suite);
    }
    let xml = report.to_string();
    xml.map_err(|error| Trouble::Plain(format!("cannot write the report: {error}")))
}

fn test_case(outcome: &Outcome) -> TestCase {
    let status = if outcome.unmet.is_empty() {
        TestCaseStatus::success()
    } else {
        let mut status = TestCaseStatus::non_success(NonSuccessKind::Failure);
        let lines = outcome
            .unmet
            .iter()
            .map(|unmet| format!("{}: expected {}, but {}", unmet.place, unmet.expected, unmet.came));
        status.set_message(lines.collect::<Vec<_>>().join("\n"));
        status
    };
    let mut case = TestCase::new(format!("line {}: {}", outcome.place.line, outcome.case), status);
    case.set_classname(&*outcome.file);
    case
}
