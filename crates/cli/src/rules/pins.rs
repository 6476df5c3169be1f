//! `crownweir rules pins`.

use std::fmt::Write as _;
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};

use anstyle::Style;
use clap::{Args, ValueEnum};
use crownweir::RuleSet;
use crownweir::proof::{Held, PinReport, Pins, State, Tally, Tried};
use serde_json::json;

use super::{examples, prove};
use crate::input::Trouble;
use crate::output;

const BOLD: Style = Style::new().bold();

#[derive(Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    chosen: examples::Chosen,
    /// For people or for programs.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Of an amended rule set, tell of what the amendments leave as it is too, as JSON always does.
    #[arg(long)]
    all: bool,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    Text,
    Json,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let (rules, examples) = arguments.chosen.read()?;
    let pins = match Pins::new(&rules, &examples) {
        Ok(pins) => pins,
        Err(outcomes) => {
            let mut text = String::new();
            prove::unmet(&mut text, &outcomes);
            prove::another_day(&mut text, &rules, &outcomes);
            text.push_str("What is pinned can be told only once all of these are met.\n");
            output::print(&text)?;
            return Ok(ExitCode::from(1));
        }
    };
    let is_in_part = matches!(arguments.format, Format::Text) && !rules.layers.is_empty() && !arguments.all;
    let pins = if is_in_part {
        pins.of_changes(&arguments.chosen.base()?)
    } else {
        pins
    };
    let mut report = pins.report(&on_threads(&pins));
    let left_out = if is_in_part {
        leave_out(&mut report)
    } else {
        String::new()
    };
    output::print(&match arguments.format {
        Format::Text => text(&rules, &report, &left_out),
        Format::Json => json(&report),
    })?;
    Ok(ExitCode::SUCCESS)
}

/// Leaves out the tables and rules of which nothing was tried, and says so.
fn leave_out(report: &mut PinReport) -> String {
    let keep = |held: &mut Vec<Held>| {
        let all = held.len();
        held.retain(|one| one.parts.all + one.bounds.all > 0);
        format!("{} of {all}", held.len())
    };
    let line = format!(
        "only what the amendments change is told, in {} tables and {} rules; --all tells of the rest too",
        keep(&mut report.tables),
        keep(&mut report.each_rule),
    );
    let mut left_out = String::new();
    prove::wrapped(&mut left_out, 0, &line);
    left_out.push('\n');
    left_out
}

/// Every piece of the work, on as many threads as the machine has.
fn on_threads(pins: &Pins<'_>) -> Vec<Tried> {
    let next = AtomicUsize::new(0);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|_| {
                scope.spawn(|| {
                    let mut worker = pins.worker();
                    let pieces =
                        std::iter::from_fn(|| worker.try_piece(next.fetch_add(1, Ordering::Relaxed)));
                    pieces.collect::<Vec<_>>()
                })
            })
            .collect();
        workers
            .into_iter()
            .flat_map(|worker| match worker.join() {
                Ok(tried) => tried,
                Err(panic) => std::panic::resume_unwind(panic),
            })
            .collect()
    })
}

fn percent(tally: &Tally) -> String {
    let share = tally.per_mille();
    format!("{}.{} %", share / 10, share % 10)
}

fn row(text: &mut String, name: &str, tally: &Tally) {
    let _ = writeln!(
        text,
        "{name:<26}{:>6}{:>7}{:>6}{:>6}{:>6}{:>6}{:>6}{:>9}",
        tally.all,
        tally.pinned(),
        tally.independent,
        tally.reckoned,
        tally.table,
        tally.half + tally.loose,
        tally.bare,
        percent(tally)
    );
}

fn head(text: &mut String, what: &str) {
    let _ = writeln!(
        text,
        "{BOLD}{what:<26}{:>6}{:>7}{:>6}{:>6}{:>6}{:>6}{:>6}{:>9}{BOLD:#}",
        "all", "pinned", "ind.", "reck.", "table", "loose", "bare", ""
    );
}

fn text(rules: &RuleSet, report: &PinReport, left_out: &str) -> String {
    let cases = match report.cases {
        1 => "1 case holds".to_owned(),
        count => format!("{count} cases hold"),
    };
    let mut text = format!(
        "{BOLD}{}{BOLD:#}: what {cases} in place, by {} alterations\n\n{left_out}",
        rules.called(),
        report.nudges
    );
    if report.cells().all > 0 {
        head(&mut text, "cells of tables");
        for table in &report.tables {
            row(&mut text, &table.name, &table.parts);
        }
        row(&mut text, "all", &report.cells());
        text.push('\n');
    }
    if report.key_bounds().all > 0 {
        head(&mut text, "bounds among keys");
        for table in report.tables.iter().filter(|table| table.bounds.all > 0) {
            row(&mut text, &table.name, &table.bounds);
        }
        row(&mut text, "all", &report.key_bounds());
        text.push('\n');
    }
    head(&mut text, "rules and the rest");
    row(&mut text, "rules, each dropped", &report.rules_dropped());
    row(&mut text, "figures within rules", &report.rule_figures());
    for other in &report.others {
        row(&mut text, &other.name, &other.parts);
    }
    text.push_str(
        "\npinned: every alteration is noticed (by independent answers, by answers\nreckoned by hand, or only \
         by figures read in the table itself); loose: read,\nand at least one alteration is not noticed; bare: \
         read by no example\n",
    );
    let held = report
        .tables
        .iter()
        .chain(&report.each_rule)
        .chain(&report.others);
    for held in held.filter(|held| !held.unpinned.is_empty()) {
        let _ = writeln!(text, "\n{BOLD}{}{BOLD:#}", held.name);
        for state in [State::Bare, State::Loose, State::HalfPinned] {
            let own = held.unpinned.iter().filter(|one| one.state == state);
            let names: Vec<_> = own.map(|one| one.name.as_str()).collect();
            if !names.is_empty() {
                prove::wrapped(&mut text, 2, &format!("{}: {}", state.name(), names.join("; ")));
            }
        }
    }
    text
}

fn tally(tally: &Tally) -> serde_json::Value {
    json!({
        "all": tally.all,
        "pinned": tally.pinned(),
        "pinned_by": {"independent": tally.independent, "reckoned": tally.reckoned, "table": tally.table},
        "half_pinned": tally.half,
        "loose": tally.loose,
        "bare": tally.bare,
        "exercised": tally.exercised(),
        "per_mille_pinned": tally.per_mille(),
    })
}

fn json(report: &PinReport) -> String {
    let list = |held: &[Held], parts: &str, bounds: &str| -> Vec<serde_json::Value> {
        let one = |held: &Held| {
            let unpinned: Vec<_> = held
                .unpinned
                .iter()
                .map(|one| json!({"part": one.name, "state": one.state.name()}))
                .collect();
            json!({"name": held.name, parts: tally(&held.parts), bounds: tally(&held.bounds), "unpinned": unpinned})
        };
        held.iter().map(one).collect()
    };
    let whole = json!({
        "crownweir": "pins/1",
        "rules": report.rules,
        "cases": report.cases,
        "alterations": report.nudges,
        "cells": tally(&report.cells()),
        "key_bounds": tally(&report.key_bounds()),
        "rules_dropped": tally(&report.rules_dropped()),
        "rule_figures": tally(&report.rule_figures()),
        "tables": list(&report.tables, "cells", "key_bounds"),
        "each_rule": list(&report.each_rule, "dropped", "figures"),
        "others": list(&report.others, "parts", "figures"),
    });
    format!("{whole:#}\n")
}
