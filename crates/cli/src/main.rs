//! The `crownweir` program: files, terminal and exit codes around the library.
//!
//! Exit code 0: nothing at the level asked for. 1: findings at it. 2: the input could not be used.
#![forbid(unsafe_code)]

mod batch;
mod check;
mod compare;
mod explain;
mod input;
mod junit;
mod mend;
mod output;
mod rules;
mod schema;
mod sheets;
mod shop;
mod size;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Checks a building's drains, wastes and vents against a plumbing code.
#[derive(Parser)]
#[command(name = "crownweir", version, max_term_width = 90)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Check a network by a rule set and print what was found.
    Check(check::Arguments),
    /// Check many networks on all cores and write a line of JSON for each.
    Batch(batch::Arguments),
    /// Check one network by several rule sets and show where they differ.
    Compare(compare::Arguments),
    /// Show a rule, an arrangement, a table or a fact, or what cites a section.
    Explain(explain::Arguments),
    /// Make the sheets that a network is built from.
    Shop(shop::Arguments),
    /// Show what would clear each finding of a check, and write it into the file.
    Mend(mend::Arguments),
    /// Choose the smallest sizes that satisfy a rule set, for the pipes whose sizes are open: those that the file states no
    /// size for, or calls `open`.
    Size(size::Arguments),
    /// Print the JSON Schema of a kind of file, for editors.
    Schema(schema::Arguments),
    /// For those who write rule files.
    #[command(subcommand)]
    Rules(rules::Command),
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let done = match arguments.command {
        Command::Check(arguments) => check::run(&arguments),
        Command::Batch(arguments) => batch::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Explain(arguments) => explain::run(&arguments),
        Command::Shop(arguments) => shop::run(&arguments),
        Command::Mend(arguments) => mend::run(&arguments),
        Command::Size(arguments) => size::run(&arguments),
        Command::Schema(arguments) => schema::run(&arguments),
        Command::Rules(command) => rules::run(&command),
    };
    match done {
        Ok(code) => code,
        Err(trouble) => {
            trouble.print();
            ExitCode::from(2)
        }
    }
}
