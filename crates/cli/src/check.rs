//! `crownweir check`.

use std::num::NonZeroUsize;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};
use crownweir::drawing::{Options, Sheet};
use crownweir::shop;
use crownweir::{Day, Finding, Measured, Network, Report, Severity, Verdict, report};

use crate::input::{self, FailOn, ForPipes, Trouble};
use crate::sheets::{self, Beside};
use crate::{junit, output};

#[derive(Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    chosen: input::NetworkByRules,
    /// How to print what was found.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Write to this file, whole or not at all, instead of printing.
    #[arg(long, short, value_name = "FILE")]
    output: Option<PathBuf>,
    /// On a drawing, the load at each fixture and pipe.
    #[arg(long)]
    loads: bool,
    /// On a drawing, the number of each piece of pipe as in the cut list; a page with shop sheets has them anyway.
    #[arg(long)]
    pieces: bool,
    /// Of an SVG drawing only this sheet, counted from 1.
    #[arg(long, value_name = "NUMBER", value_parser = input::number)]
    sheet: Option<NonZeroUsize>,
    /// At what to end with exit code 1.
    #[arg(long, value_enum, default_value_t = FailOn::Violation)]
    fail_on: FailOn,
    /// Show how each finding was reached; with `=all`, how each pass was, too.
    #[arg(long, value_enum, num_args = 0..=1, default_missing_value = "findings", require_equals = true)]
    workings: Option<Workings>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For a person at a terminal.
    Text,
    /// For programs.
    Json,
    /// SARIF 2.1.0, for code hosts and editors.
    Sarif,
    /// JUnit XML, for the test page of a CI service.
    Junit,
    /// The graph in the DOT language of Graphviz.
    Dot,
    /// The whole report as one page, drawing and schedules in it.
    Html,
    /// The drawing as SVG, findings marked by their numbers.
    Svg,
    /// The findings as CSV.
    FindingsCsv,
    /// The fixture-unit schedule as CSV.
    FixturesCsv,
    /// The sizing schedule as CSV.
    PipesCsv,
}

impl Format {
    fn name(self) -> String {
        let value = self.to_possible_value();
        value.map_or_else(String::new, |value| value.get_name().to_owned())
    }
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Workings {
    /// Of findings only.
    Findings,
    /// Of findings and passes.
    All,
}

/// Options that the format has no use for: what is asked for would be missing without a word.
fn conflict(arguments: &Arguments) -> Option<Trouble> {
    let format = arguments.format;
    let options: [(&str, bool, &[Format]); 4] = [
        ("--sheet", arguments.sheet.is_some(), &[Format::Svg]),
        ("--loads", arguments.loads, &[Format::Svg, Format::Html]),
        ("--pieces", arguments.pieces, &[Format::Svg, Format::Html]),
        (
            "--workings",
            arguments.workings.is_some(),
            &[Format::Text, Format::Json],
        ),
    ];
    let (option, _, formats) = options
        .into_iter()
        .find(|(_, given, formats)| *given && !formats.contains(&format))?;
    let formats: Vec<String> = formats.iter().map(|format| format.name()).collect();
    Some(Trouble::Plain(format!(
        "`{option}` does not go with the format {}; it goes with {}",
        format.name(),
        formats.join(" and ")
    )))
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    if let Some(conflict) = conflict(arguments) {
        return Err(conflict);
    }
    let network = input::network(&arguments.chosen.network)?;
    let rules = arguments.chosen.rules_for(&network)?;
    if arguments.loads && !rules.counts_loads() {
        let name = &rules.name;
        let message = format!("`--loads` has nothing to show: the rule set `{name}` counts no loads");
        return Err(Trouble::Plain(message));
    }
    let measured =
        Measured::new(&network, &rules).map_err(|unknown| input::unknown_sizes(&unknown, &rules))?;
    let found = measured.check();
    let workings = |finding: &Finding| arguments.workings.map(|_| measured.workings_of(finding));
    let printed = match arguments.format {
        Format::Text => {
            let mut text = report::text(&found, &workings);
            if arguments.workings == Some(Workings::All) {
                text.push_str(&passes(&measured));
            }
            text
        }
        Format::Json => {
            let passes = (arguments.workings == Some(Workings::All)).then_some(&measured);
            output::in_lines(report::json(&found, &workings, passes))?
        }
        Format::Sarif => output::in_lines(report::sarif(&found, &rules))?,
        Format::Junit => junit::check(&found)?,
        Format::Dot => report::dot(&network),
        Format::Html => {
            let pipes = arguments.chosen.for_pipes(&rules);
            let sheets = shop_sheets(&network, pipes, &found, arguments.chosen.on.day()?);
            let options = Options {
                loads: arguments.loads,
                pieces: arguments.pieces || !sheets.is_empty(),
            };
            report::page(&measured, &found, &sheets, options)
        }
        Format::Svg => drawing(&measured, &found, arguments)?,
        Format::FindingsCsv => report::findings_csv(&found),
        Format::FixturesCsv => report::fixtures_csv(&measured),
        Format::PipesCsv => report::pipes_csv(&measured),
    };
    output::deliver(&printed, arguments.output.as_deref(), &arguments.chosen.network)?;
    let fails = match arguments.fail_on {
        FailOn::Violation => found.has_violations(),
        FailOn::Undetermined => found.has_violations() || found.has_undetermined(),
        FailOn::Never => false,
    };
    let approvals = found.count(Verdict::Violated, Severity::NeedsApproval) > 0;
    Ok(ExitCode::from(u8::from(
        fails || (approvals && arguments.fail_on == FailOn::Undetermined),
    )))
}

/// A page of more fixtures than this has no shop sheets: they are too long to be of use there.
const MOST_ON_A_PAGE: usize = 500;

/// The shop sheets of a page; none where there is no making them.
fn shop_sheets(network: &Network, pipes: ForPipes<'_>, found: &Report, on: Day) -> Vec<shop::Sheet> {
    if found.fixtures > MOST_ON_A_PAGE {
        return Vec::new();
    }
    let made = Beside::published(network, pipes, on)
        .and_then(|beside| sheets::made(network, &beside, shop::SheetKind::ALL.iter()));
    match made {
        Ok(made) => made.sheets,
        Err(trouble) => {
            output::warn(&format!("the page is without shop sheets: {}", trouble.first()));
            Vec::new()
        }
    }
}

fn drawing(measured: &Measured<'_>, found: &Report, arguments: &Arguments) -> Result<String, Trouble> {
    let options = Options {
        loads: arguments.loads,
        pieces: arguments.pieces,
    };
    let drawing = report::drawing(measured, found, options);
    let Some(number) = arguments.sheet else {
        return Ok(drawing.svg());
    };
    let sheet = drawing.sheets.get(number.get() - 1);
    let count = drawing.sheets.len();
    sheet
        .map(Sheet::svg)
        .ok_or_else(|| Trouble::Plain(format!("there is no sheet {number}; the drawing has {count}")))
}

fn passes(measured: &Measured<'_>) -> String {
    let mut text = String::from("\nPasses\n\n");
    let of_rules = measured.rules().rules.iter();
    let of_rules = of_rules.flat_map(|rule| measured.passes(rule));
    for pass in measured.passes_of_protection().chain(of_rules) {
        text.push_str(&format!("  {}: {} `{}`\n", pass.rule, pass.kind, pass.name));
        for line in report::workings(&pass.steps) {
            text.push_str(&format!("    | {line}\n"));
        }
    }
    text
}
