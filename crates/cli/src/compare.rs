//! `crownweir compare`.

use std::process::ExitCode;

use clap::Args;
use crownweir::{Measured, report};

use crate::input::{self, Trouble};
use crate::output::{self, Format};

#[derive(Args)]
pub(crate) struct Arguments {
    /// The network file, in YAML or JSON.
    network: String,
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it;
    /// given at least twice.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]", required = true)]
    rules: Vec<String>,
    #[command(flatten)]
    on: input::On,
    /// How to print what was found.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

/// As many as there are letters to call them by.
const MOST: usize = 26;

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let count = arguments.rules.len();
    if !(2..=MOST).contains(&count) {
        return Err(Trouble::Plain(format!(
            "`--rules` is wanted from 2 to {MOST} times, not {count}"
        )));
    }
    let on = arguments.on.day()?;
    let network = input::network(&arguments.network)?;
    let mut rule_sets = Vec::with_capacity(count);
    for reference in &arguments.rules {
        rule_sets.push(input::rules(reference, on)?);
    }
    // The figures that differ may be of elements that pass, so each rule set's measures and workings are needed whole:
    // a session, which tells how findings differ, would have to be made first, which takes more than three checks.
    let mut all = Vec::with_capacity(count);
    for rules in &rule_sets {
        let measured =
            Measured::new(&network, rules).map_err(|unknown| input::unknown_sizes(&unknown, rules))?;
        let found = measured.check();
        all.push((measured, found));
    }
    let compared: Vec<_> = arguments
        .rules
        .iter()
        .zip(&all)
        .map(|(reference, (measured, report))| report::Compared {
            rules: reference.clone(),
            measured,
            report,
        })
        .collect();
    let comparison = report::compare(&compared);
    let printed = match arguments.format {
        Format::Text => comparison.text(),
        Format::Json => output::in_lines(comparison.json())?,
    };
    output::print(&printed)?;
    Ok(ExitCode::from(u8::from(!comparison.is_alike())))
}
