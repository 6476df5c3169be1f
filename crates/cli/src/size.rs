//! `crownweir size`.

use std::num::NonZeroUsize;
use std::process::ExitCode;

use clap::Args;
use crownweir::{Effort, Limits, Network, Sizing, propose, report, size};

use crate::input::{self, Trouble};
use crate::output::{self, Format};

#[derive(Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    chosen: input::NetworkByRules,
    /// How to print the sizes.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Write the sizes into the network file; all else in it stays as it is.
    #[arg(long)]
    write: bool,
    /// Most evaluations of the network before the search is given up; where rules deny each other, a few times as many.
    #[arg(long, value_name = "COUNT", value_parser = input::number, default_value_t = usual_effort())]
    effort: NonZeroUsize,
}

fn usual_effort() -> NonZeroUsize {
    NonZeroUsize::new(Effort::default().evaluations).unwrap_or(NonZeroUsize::MIN)
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let limits = Limits::default();
    let document = input::document(&arguments.chosen.network, &limits)?;
    let network = Network::from_document(&document, &limits).map_err(Trouble::InFile)?;
    let rules = arguments.chosen.rules_for(&network)?;
    let effort = Effort {
        evaluations: arguments.effort.get(),
    };
    let sizing = size(&network, &rules, effort).map_err(|unknown| input::unknown_sizes(&unknown, &rules))?;
    let printed = match arguments.format {
        Format::Text => report::sizing_text(&network, &rules, &sizing),
        Format::Json => output::in_lines(report::sizing_json(&network, &rules, &sizing))?,
    };
    output::print(&printed)?;
    let (chosen, is_right) = match &sizing {
        Sizing::Sized(sized) => (&*sized.chosen, !sized.report.has_violations()),
        // What is the same whichever rule gives way is sized all the same.
        Sizing::Conflict(conflict) => (&*conflict.chosen, false),
        _ => (&[][..], false),
    };
    if arguments.write && !chosen.is_empty() {
        let text =
            propose::with_sizes(&document, chosen).map_err(|error| Trouble::Plain(error.to_string()))?;
        output::write_file(&arguments.chosen.network, &text)?;
    }
    Ok(ExitCode::from(u8::from(!is_right)))
}
