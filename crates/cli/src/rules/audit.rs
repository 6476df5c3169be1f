//! `crownweir rules audit`.

use std::process::ExitCode;

use clap::Args;
use crownweir::rulebook::Remark;
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
    /// Of an amended rule set, tell of the notices that its base has too, as JSON always does.
    #[arg(long)]
    all: bool,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let on = arguments.on.day()?;
    let rules = input::rules(&arguments.rules, on)?;
    let memory = if arguments.memory {
        MemoryCells::Listed
    } else {
        MemoryCells::Counted
    };
    let remarks = audit(&rules, memory);
    let printed = match arguments.format {
        Format::Text if !rules.layers.is_empty() && !arguments.all => {
            let base = input::base_of(&arguments.rules);
            let of_base = audit(&input::rules(base, on)?, memory);
            let is_own = |remark: &&Remark| remark.weight == Weight::Fault || !of_base.contains(remark);
            let own: Vec<_> = remarks.iter().filter(is_own).cloned().collect();
            let mut text = report::audit_text(&rules, &own);
            match remarks.len() - own.len() {
                0 => {}
                1 => super::prove::wrapped(
                    &mut text,
                    0,
                    &format!("1 notice that {base} has too is left out; --all tells it"),
                ),
                count => super::prove::wrapped(
                    &mut text,
                    0,
                    &format!("{count} notices that {base} has too are left out; --all tells them"),
                ),
            }
            text
        }
        Format::Text => report::audit_text(&rules, &remarks),
        Format::Json => output::in_lines(report::audit_json(&rules, &remarks))?,
    };
    output::print(&printed)?;
    let has_faults = remarks.iter().any(|remark| remark.weight == Weight::Fault);
    Ok(ExitCode::from(u8::from(has_faults)))
}
