//! `crownweir rules changes`.

use std::process::ExitCode;

use clap::Args;
use crownweir::{changes, report};

use crate::input::{self, Trouble};
use crate::output::{self, Format};

#[derive(Args)]
pub(crate) struct Arguments {
    /// The rule set to compare from, by name or by file, amendments after it with a plus sign before each.
    #[arg(value_name = "BEFORE")]
    before: String,
    /// The rule set to compare to, by name or by file, amendments after it with a plus sign before each.
    #[arg(value_name = "AFTER")]
    after: String,
    #[command(flatten)]
    on: input::On,
    /// How to print what differs.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let on = arguments.on.day()?;
    let before = input::rules(&arguments.before, on)?;
    let after = input::rules(&arguments.after, on)?;
    let changes = changes(&before, &after);
    let printed = match arguments.format {
        Format::Text => report::changes_text(&before, &after, &changes),
        Format::Json => output::in_lines(report::changes_json(&before, &after, &changes))?,
    };
    output::print(&printed)?;
    Ok(ExitCode::from(u8::from(!changes.is_empty())))
}
