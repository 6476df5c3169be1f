//! `crownweir compare`.

use std::process::ExitCode;
use std::sync::Arc;

use clap::Args;
use crownweir::{Measured, RuleSet, Session, Substitute, report};

use crate::input::{self, Trouble};
use crate::output::{self, Format};

#[derive(Args)]
pub(crate) struct Arguments {
    /// The network file, in YAML or JSON.
    network: String,
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it;
    /// given at least twice.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]", required = true)]
    rules: Vec<String>,
    #[command(flatten)]
    on: input::On,
    /// How to print what was found.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

/// As many as there are letters to call them by.
const MOST: usize = 26;

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let count = arguments.rules.len();
    if !(2..=MOST).contains(&count) {
        return Err(Trouble::Plain(format!(
            "`--rules` is wanted from 2 to {MOST} times, not {count}"
        )));
    }
    let on = arguments.on.day()?;
    let network = Arc::new(input::network(&arguments.network)?);
    let mut rule_sets = Vec::with_capacity(count);
    for reference in &arguments.rules {
        rule_sets.push(input::rules(reference, on)?);
    }
    // A rule set with an amendment often measures what the one without it does, and so is judged on that.
    let unknown = |unknown, rules: &RuleSet| input::unknown_sizes(&unknown, rules);
    let mut kept: Option<(Arc<RuleSet>, Session)> = None;
    let mut all = Vec::with_capacity(count);
    for (reference, rules) in arguments.rules.iter().zip(rule_sets) {
        let compared = |measured: &Measured<'_>| report::Compared::of(reference.clone(), measured);
        all.push(match &mut kept {
            None => {
                let rules = Arc::new(rules);
                let session = Session::new(Arc::clone(&network), Arc::clone(&rules));
                let session = session.map_err(|sizes| unknown(sizes, &rules))?;
                kept.insert((rules, session)).1.measured(compared)
            }
            Some((own, session)) => {
                let told = session.what_if(&Substitute::new(own, &rules), compared);
                told.map_err(|sizes| unknown(sizes, &rules))?
            }
        });
    }
    let comparison = report::compare(all);
    let printed = match arguments.format {
        Format::Text => comparison.text(),
        Format::Json => output::in_lines(comparison.json())?,
    };
    output::print(&printed)?;
    Ok(ExitCode::from(u8::from(!comparison.is_alike())))
}
