//! `crownweir rules`: for the people who write rule files.

mod audit;
mod changes;
mod examples;
mod facts;
mod list;
mod pins;
mod prove;

use std::process::ExitCode;

use clap::Subcommand;

use crate::input::Trouble;

#[derive(Subcommand)]
pub(crate) enum Command {
    /// Look through a rule set for what contradicts itself, is never reached, is missing or not yet known.
    Audit(audit::Arguments),
    /// Say what differs between two rule sets by their meaning, however they are written.
    Changes(changes::Arguments),
    /// List what rules can speak of: every fact, its dimension and how it is measured.
    Facts(facts::Arguments),
    /// List the rules of a rule set with severity, section and title, a line each; then its arrangements and tables.
    List(list::Arguments),
    /// Run a rule set's worked examples and compare with the published answers.
    Prove(prove::Arguments),
    /// Alter every cell, rule and bound in turn and see which the worked examples hold in place.
    Pins(pins::Arguments),
}

pub(crate) fn run(command: &Command) -> Result<ExitCode, Trouble> {
    match command {
        Command::Audit(arguments) => audit::run(arguments),
        Command::Changes(arguments) => changes::run(arguments),
        Command::Facts(arguments) => facts::run(arguments),
        Command::List(arguments) => list::run(arguments),
        Command::Prove(arguments) => prove::run(arguments),
        Command::Pins(arguments) => pins::run(arguments),
    }
}
