//! `crownweir rules`: for the people who write rule files.

mod facts;

use std::process::ExitCode;

use clap::Subcommand;

use crate::input::Trouble;

#[derive(Subcommand)]
pub(crate) enum Command {
    /// List what rules can speak of: every fact, its dimension and how it is measured.
    Facts(facts::Arguments),
}

pub(crate) fn run(command: &Command) -> Result<ExitCode, Trouble> {
    match command {
        Command::Facts(arguments) => facts::run(arguments),
    }
}
