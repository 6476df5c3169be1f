//! `crownweir explain`.

use std::collections::{BTreeMap, BTreeSet};
use std::process::ExitCode;

use clap::Args;
use crownweir::{Measured, Rule, Step, report};

use crate::input::{self, Trouble};
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// The rule's name, as findings print it.
    rule: String,
    /// A network: the table rows that the rule reads on it are marked.
    #[arg(long, value_name = "FILE")]
    network: Option<String>,
    /// With a network: only the element of this name.
    #[arg(long, value_name = "NAME", requires = "network")]
    of: Option<String>,
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]")]
    rules: Option<String>,
    #[command(flatten)]
    on: input::On,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let network = arguments.network.as_deref().map(input::network).transpose()?;
    let on = arguments.on.day()?;
    let rules = match &network {
        Some(network) => input::rules_for(network, arguments.rules.as_deref(), on)?,
        None => input::rules(arguments.rules.as_deref().unwrap_or("ipc-2021"), on)?,
    };
    let Some(rule) = rules.rule(&arguments.rule) else {
        let is_arrangement = rules.arrangements.iter().any(|one| one.name == arguments.rule);
        let protection = rules.protection.as_ref().map(|own| &own.rule);
        if protection == Some(&arguments.rule) || is_arrangement {
            output::print(&report::explain_protection(&rules))?;
            return Ok(ExitCode::SUCCESS);
        }
        let part = crownweir::rulebook::Part::Rule(arguments.rule.clone());
        if let Some(change) = rules.changes_to(&part).last() {
            return Err(Trouble::Plain(format!(
                "the rule set `{}` has no rule `{}` any more: {change}",
                rules.name, arguments.rule
            )));
        }
        let names = rules.rules.iter().map(|rule| rule.name.as_str());
        let near = crownweir::nearest(&arguments.rule, names).map(|name| format!("; did you mean `{name}`?"));
        return Err(Trouble::Plain(format!(
            "the rule set `{}` has no rule `{}`{}",
            rules.name,
            arguments.rule,
            near.unwrap_or_default()
        )));
    };
    let mut applied = BTreeMap::new();
    if let Some(network) = &network {
        let measured = Measured::new(network, &rules).map_err(|error| Trouble::Plain(error.to_string()))?;
        let found = mark(&measured, rule, arguments.of.as_deref(), &mut applied);
        if let (Some(name), false) = (&arguments.of, found) {
            return Err(Trouble::Plain(format!(
                "the rule `{}` speaks about no element `{name}` of this network",
                rule.name
            )));
        }
    }
    output::print(&report::explain(&rules, rule, &applied))?;
    Ok(ExitCode::SUCCESS)
}

/// Notes the table rows that the rule reads. False when no element has the name asked for.
fn mark(
    measured: &Measured<'_>,
    rule: &Rule,
    name: Option<&str>,
    applied: &mut BTreeMap<String, BTreeSet<usize>>,
) -> bool {
    let mut found = false;
    for element in measured.elements(rule.subject) {
        if name.is_some_and(|name| measured.name_of(rule.subject, element) != name) {
            continue;
        }
        found = true;
        note(&measured.workings(rule, element), applied);
    }
    found
}

fn note(steps: &[Step], applied: &mut BTreeMap<String, BTreeSet<usize>>) {
    for step in steps {
        match step {
            Step::Cell { table, row, .. } => {
                applied.entry(table.clone()).or_default().insert(*row);
            }
            Step::Parts { steps, .. } => note(steps, applied),
            _ => {}
        }
    }
}
