//! `crownweir rules list`.

use std::process::ExitCode;

use clap::Args;
use crownweir::report;

use crate::input::{self, Trouble};
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it.
    #[arg(value_name = "NAME-OR-FILE[+AMENDMENT...]", default_value = "ipc-2021")]
    rules: String,
    #[command(flatten)]
    on: input::On,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let rules = input::rules(&arguments.rules, arguments.on.day()?)?;
    output::print(&report::rules_list(&rules))?;
    Ok(ExitCode::SUCCESS)
}
