//! `crownweir check`.

use std::process::ExitCode;

use clap::{Args, ValueEnum};
use crownweir::{Finding, Measured, Severity, Verdict, report};

use crate::input::{self, Trouble};
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// The network file, in YAML or JSON.
    network: String,
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it;
    /// without it, the one that the network names.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]")]
    rules: Option<String>,
    #[command(flatten)]
    on: input::On,
    /// How to print what was found.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
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
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FailOn {
    /// A rule of the code is broken.
    Violation,
    /// That, or a rule that could not be settled.
    Undetermined,
    /// Nothing.
    Never,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Workings {
    /// Of findings only.
    Findings,
    /// Of findings and passes.
    All,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let network = input::network(&arguments.network)?;
    let rules = input::rules_for(&network, arguments.rules.as_deref(), arguments.on.day()?)?;
    let measured = Measured::new(&network, &rules).map_err(|error| Trouble::Plain(error.to_string()))?;
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
            let mut json =
                report::json(&found, &workings, passes).map_err(|error| Trouble::Plain(error.to_string()))?;
            json.push('\n');
            json
        }
    };
    output::print(&printed)?;
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

fn passes(measured: &Measured<'_>) -> String {
    let mut text = String::from("\nPasses\n\n");
    for rule in &measured.rules().rules {
        for pass in measured.passes(rule) {
            text.push_str(&format!("  {}: {} `{}`\n", rule.name, pass.kind, pass.name));
            for line in report::workings(&pass.steps) {
                text.push_str(&format!("    | {line}\n"));
            }
        }
    }
    text
}
