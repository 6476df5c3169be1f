//! `crownweir schema`: what editors need to complete and explain the keys of a file.

use std::process::ExitCode;

use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser};
use crownweir::schema::Format;

use crate::input::Trouble;
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// Of which kind of file.
    #[arg(value_name = "NAME", value_parser = PossibleValuesParser::new(names()))]
    name: String,
}

fn names() -> Vec<PossibleValue> {
    Format::ALL
        .iter()
        .map(|format| PossibleValue::new(format.name).help(format.title))
        .collect()
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let format = Format::named(&arguments.name)
        .ok_or_else(|| Trouble::Plain(format!("there is no schema `{}`", arguments.name)))?;
    output::print(&format.text())?;
    Ok(ExitCode::SUCCESS)
}
