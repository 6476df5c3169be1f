//! `crownweir explain`.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::process::ExitCode;

use clap::Args;
use crownweir::rulebook::Condition;
use crownweir::{Fact, Judgement, Measured, Network, Rule, RuleSet, Step, Subject, propose, report};

use crate::input::{self, Trouble};
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// The rule's name, as findings print it, or a fact's, as `crownweir rules facts` lists them.
    rule: String,
    /// A network: the table rows that the rule reads on it are marked; of a fact, where its value comes from.
    #[arg(long, value_name = "FILE")]
    network: Option<String>,
    /// With a network: only the element of this name, with where its figures come from and what would pass.
    #[arg(long, value_name = "NAME", requires = "network")]
    of: Option<String>,
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it; without it,
    /// the one that the network names, or `ipc-2021`.
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
    if let Some(fact) = Fact::from_name(&arguments.rule) {
        let told = match &network {
            Some(network) => derived(network, &rules, fact, arguments.of.as_deref())?,
            None => format!("{}: {}\n", fact.name(), fact.measured()),
        };
        output::print(&told)?;
        return Ok(ExitCode::SUCCESS);
    }
    let Some(rule) = rules.rule(&arguments.rule) else {
        let is_arrangement = rules.arrangements.iter().any(|one| one.name == arguments.rule);
        let protection = rules.protection.as_ref().map(|own| &own.rule);
        if protection == Some(&arguments.rule) || is_arrangement {
            let mut told = report::explain_protection(&rules);
            if let (Some(network), Some(name)) = (&network, arguments.of.as_deref()) {
                told.push('\n');
                told.push_str(&derived(network, &rules, Fact::ProtectionBy, Some(name))?);
            }
            output::print(&told)?;
            return Ok(ExitCode::SUCCESS);
        }
        let part = crownweir::rulebook::Part::Rule(arguments.rule.clone());
        if let Some(change) = rules.changes_to(&part).last() {
            return Err(Trouble::Plain(format!(
                "the rule set `{}` has no rule `{}` any more: {change}",
                rules.name, arguments.rule
            )));
        }
        if arguments.rule.contains('.') {
            let near = crownweir::nearest(&arguments.rule, Fact::NAMES.iter().copied());
            let near = near.map(|name| format!("; did you mean `{name}`?"));
            return Err(Trouble::Plain(format!(
                "there is no fact `{}`{}",
                arguments.rule,
                near.unwrap_or_default()
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
        let measured =
            Measured::new(network, &rules).map_err(|unknown| input::unknown_sizes(&unknown, &rules))?;
        let found = mark(&measured, rule, arguments.of.as_deref(), &mut applied);
        if let (Some(name), false) = (&arguments.of, found) {
            let names = measured.elements(rule.subject).into_iter();
            let names: Vec<String> = names.map(|one| measured.name_of(rule.subject, one)).collect();
            let near = crownweir::nearest(name, names.iter().map(String::as_str));
            let near = near.map(|near| format!("; did you mean `{near}`?"));
            return Err(Trouble::Plain(format!(
                "the rule `{}` speaks about no element `{name}` of this network{}",
                rule.name,
                near.unwrap_or_default()
            )));
        }
    }
    let mut told = report::explain(&rules, rule, &applied);
    if let (Some(network), Some(name)) = (&network, arguments.of.as_deref()) {
        told.push_str(&on_element(network, &rules, rule, name)?);
    }
    output::print(&told)?;
    Ok(ExitCode::SUCCESS)
}

/// Where the figures that a rule reads on the elements of a name come from, and what would pass.
fn on_element(network: &Network, rules: &RuleSet, rule: &Rule, name: &str) -> Result<String, Trouble> {
    let measured = Measured::new(network, rules).map_err(|unknown| input::unknown_sizes(&unknown, rules))?;
    let mut told = String::new();
    for element in measured.elements(rule.subject) {
        if measured.name_of(rule.subject, element) != name {
            continue;
        }
        let judgement = match measured.judgement(rule, element) {
            Judgement::NotApplicable => "does not apply",
            Judgement::Satisfied => "holds",
            Judgement::Violated => "is broken",
            Judgement::Undetermined => "cannot be told",
            Judgement::OnSite => "is to be confirmed on site",
        };
        let _ = writeln!(told, "\non `{name}` it {judgement}");
        let mut facts = rule.when.facts();
        facts.extend(rule.require.iter().flat_map(Condition::facts));
        let mut seen = BTreeSet::new();
        for fact in facts.into_iter().filter(|fact| seen.insert(*fact)) {
            for line in report::derivation(&measured.derivation(rule.subject, element, fact)) {
                let _ = writeln!(told, "  {line}");
            }
        }
        let passing = propose::nearest_passing(network, rules, rule, element)
            .map_err(|unknown| input::unknown_sizes(&unknown, rules))?;
        for (number, one) in passing.iter().enumerate() {
            let lead = if number == 0 {
                "passes with "
            } else {
                "       with "
            };
            let _ = writeln!(told, "  {lead}{}: {}", one.what, one.value);
        }
    }
    Ok(told)
}

/// Where the value of a fact on the element of a name comes from.
fn derived(network: &Network, rules: &RuleSet, fact: Fact, name: Option<&str>) -> Result<String, Trouble> {
    let measured = Measured::new(network, rules).map_err(|unknown| input::unknown_sizes(&unknown, rules))?;
    let family = fact.name().split('.').next().unwrap_or_default();
    // The subject called as the family is the likeliest.
    let mut subjects: Vec<Subject> = Subject::ALL
        .iter()
        .copied()
        .filter(|one| one.sees(fact.family()))
        .collect();
    subjects.sort_by_key(|one| one.name() != family);
    for subject in subjects {
        for element in measured.elements(subject) {
            let is_named = name.is_none_or(|name| measured.name_of(subject, element) == name);
            if !is_named || (name.is_none() && subject != Subject::System) {
                continue;
            }
            let own = measured.name_of(subject, element);
            let mut told = format!("{} `{own}`\n", subject.name().replace('_', " "));
            for line in report::derivation(&measured.derivation(subject, element, fact)) {
                let _ = writeln!(told, "  {line}");
            }
            return Ok(told);
        }
    }
    Err(Trouble::Plain(match name {
        Some(name) => format!(
            "`{}` is a fact of no element `{name}` of this network",
            fact.name()
        ),
        None => format!(
            "`{}` is a fact of single elements; give one with `--of NAME`",
            fact.name()
        ),
    }))
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
