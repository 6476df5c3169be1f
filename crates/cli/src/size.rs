//! `crownweir size`.

use std::process::ExitCode;

use clap::{Args, ValueEnum};
use crownweir::{Effort, Limits, Network, Sizing, propose, report, size};

use crate::input::{self, Trouble};
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// The network file, in YAML or JSON. A pipe is sized where the file states no size for it, or says `open`.
    network: String,
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it;
    /// without it, the one that the network names.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]")]
    rules: Option<String>,
    #[command(flatten)]
    on: input::On,
    /// How to print the sizes.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Write the sizes into the network file; all else in it stays as it is.
    #[arg(long)]
    write: bool,
    /// Most evaluations of the network before the search is given up.
    #[arg(long, value_name = "COUNT", default_value_t = Effort::default().checks)]
    effort: usize,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For a person at a terminal.
    Text,
    /// For programs.
    Json,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let limits = Limits::default();
    let document = input::document(&arguments.network, &limits)?;
    let network = Network::from_document(&document, &limits).map_err(Trouble::InFile)?;
    let rules = input::rules_for(&network, arguments.rules.as_deref(), arguments.on.day()?)?;
    let effort = Effort {
        checks: arguments.effort,
    };
    let sizing = size(&network, &rules, effort).map_err(|error| Trouble::Plain(error.to_string()))?;
    let printed = match arguments.format {
        Format::Text => report::sizing_text(&network, &rules, &sizing),
        Format::Json => {
            let mut json = report::sizing_json(&network, &rules, &sizing)
                .map_err(|error| Trouble::Plain(error.to_string()))?;
            json.push('\n');
            json
        }
    };
    output::print(&printed)?;
    let Sizing::Sized(sized) = sizing else {
        return Ok(ExitCode::from(1));
    };
    if arguments.write {
        let text = propose::with_sizes(&document, &sized.chosen).ok_or_else(|| {
            Trouble::Plain("the sizes have no place in the file as it is written".to_owned())
        })?;
        output::write_file(&arguments.network, &text)?;
    }
    Ok(ExitCode::from(u8::from(sized.report.has_violations())))
}
