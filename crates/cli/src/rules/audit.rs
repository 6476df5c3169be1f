//! `crownweir rules audit`.

use std::process::ExitCode;

use clap::Args;
use crownweir::{MemoryCells, Weight, audit, report};

use crate::input::{self, Trouble};
use crate::output::{self, Format};

#[derive(Args)]
pub(crate) struct Arguments {
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it.
    #[arg(value_name = "NAME-OR-FILE[+AMENDMENT...]", default_value = "ipc-2021")]
    rules: String,
    #[command(flatten)]
    on: input::On,
    /// How to print what was found.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// List every cell that rests on memory alone, rather than count them by table.
    #[arg(long)]
    memory: bool,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let rules = input::rules(&arguments.rules, arguments.on.day()?)?;
    let memory = if arguments.memory {
        MemoryCells::Listed
    } else {
        MemoryCells::Counted
    };
    let remarks = audit(&rules, memory);
    let printed = match arguments.format {
        Format::Text => report::audit_text(&rules, &remarks),
        Format::Json => output::in_lines(report::audit_json(&rules, &remarks))?,
    };
    output::print(&printed)?;
    let has_faults = remarks.iter().any(|remark| remark.weight == Weight::Fault);
    Ok(ExitCode::from(u8::from(has_faults)))
}
