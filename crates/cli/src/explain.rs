//! `crownweir explain`.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::process::ExitCode;

use clap::Args;
use crownweir::rulebook::{AppliedChange, Condition, Part, Standing};
use crownweir::{
    Arrangement, Fact, Judgement, Measured, Network, Rule, RulePart, RuleSet, Step, Subject, Table, propose,
    report,
};

use crate::input::{self, Trouble};
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// The name of a rule, an arrangement or a table, as findings print it and `crownweir rules list` lists them; of a fact, as
    /// `crownweir rules facts` does; or the number of a section, for all that cites it.
    #[arg(value_name = "NAME-OR-SECTION")]
    name: String,
    /// A network: the table rows that are read on it are marked; of a fact, where its value comes from.
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
    let (network, of) = (network.as_ref(), arguments.of.as_deref());
    let told = match Named::find(&rules, &arguments.name) {
        Some(Named::Fact(fact)) => match network {
            Some(network) => derived(network, &rules, fact, of)?,
            None => format!("{}: {}\n", fact.name(), fact.measured()),
        },
        Some(Named::Rule(rule)) => of_rule(&rules, rule, network, of)?,
        Some(Named::Protection) => report::explain_protection(&rules) + &protected(&rules, network, of)?,
        Some(Named::Arrangement(own)) => {
            report::explain_arrangement(&rules, own) + &protected(&rules, network, of)?
        }
        Some(Named::Table(index, table)) => {
            let applied = match network {
                Some(network) => read_rows(network, &rules, (index, table), of)?,
                None => BTreeMap::new(),
            };
            report::explain_table(&rules, &table.name, &applied).unwrap_or_default()
        }
        Some(Named::Told(told)) => told,
        None => return Err(unknown(&rules, &arguments.name)),
    };
    output::print(&told)?;
    Ok(ExitCode::SUCCESS)
}

/// What is to be explained.
enum Named<'r> {
    Fact(Fact),
    Rule(&'r Rule),
    /// What is asked of every trap.
    Protection,
    Arrangement(&'r Arrangement),
    /// A table, by its place.
    Table(usize, &'r Table),
    /// What has been told already: the rule set, a matter that it does not check, what cites a section.
    Told(String),
}

impl<'r> Named<'r> {
    fn find(rules: &'r RuleSet, name: &str) -> Option<Self> {
        let arrangement = || rules.arrangements.iter().find(|own| own.name == name);
        let table = || (0..).zip(&rules.tables).find(|(_, own)| own.name == name);
        let matter = || rules.not_checked.iter().find(|own| own.name == name);
        let protection = || rules.protection.as_ref().is_some_and(|own| own.rule == name);
        name.parse()
            .ok()
            .map(Self::Fact)
            .or_else(|| rules.rule(name).map(Self::Rule))
            .or_else(|| protection().then_some(Self::Protection))
            .or_else(|| arrangement().map(Self::Arrangement))
            .or_else(|| table().map(|(index, table)| Self::Table(index, table)))
            .or_else(|| matter().map(|own| Self::Told(report::explain_matter(rules, own))))
            .or_else(|| (rules.name == name).then(|| Self::Told(report::rules_list(rules))))
            .or_else(|| report::citing(rules, name).map(Self::Told))
    }
}

/// That nothing has the name, with what the amendments tell of it or the name that is nearest.
fn unknown(rules: &RuleSet, name: &str) -> Trouble {
    let parts = [
        ("rule", Part::Rule(name.to_owned())),
        ("arrangement", Part::Arrangement(name.to_owned())),
        ("table", Part::Table(name.to_owned())),
        ("matter", Part::Matter(name.to_owned())),
    ];
    for (what, part) in parts {
        if let Some(why) = rules.why_absent(&part) {
            let to_come = |change: &AppliedChange| matches!(change.standing, Standing::NotBefore(_));
            let on = if rules.changes_to(&part).any(to_come) {
                "; `--on` asks for the law of another day"
            } else {
                ""
            };
            return Trouble::Plain(format!(
                "the rule set `{}` has no {what} `{name}` on this day: {why}{on}",
                rules.name
            ));
        }
    }
    let own = rules.rules.iter().map(|own| own.name.as_str());
    let protection = rules.protection.iter().map(|own| own.rule.as_str());
    let arrangements = rules.arrangements.iter().map(|own| own.name.as_str());
    let tables = rules.tables.iter().map(|own| own.name.as_str());
    let matters = rules.not_checked.iter().map(|own| own.name.as_str());
    let all = own
        .chain(protection)
        .chain(arrangements)
        .chain(tables)
        .chain(matters);
    let near = crownweir::nearest(name, all.chain(Fact::NAMES.iter().copied()));
    let near = near.map_or_else(
        || "; `crownweir rules list` lists what it has".to_owned(),
        |near| format!("; did you mean `{near}`?"),
    );
    Trouble::Plain(format!(
        "the rule set `{}` has no rule, arrangement or table `{name}` and cites no such section, and no fact is called so{near}",
        rules.name
    ))
}

/// By which arrangement the trap of a name is protected, where one is asked for.
fn protected(rules: &RuleSet, network: Option<&Network>, of: Option<&str>) -> Result<String, Trouble> {
    match (network, of) {
        (Some(network), Some(name)) => {
            let derived = derived(network, rules, Fact::ProtectionBy, Some(name))?;
            Ok(format!("\n{derived}"))
        }
        _ => Ok(String::new()),
    }
}

/// The rows of a table that are read on a network, or there on the elements of a name; by the table's name.
fn read_rows(
    network: &Network,
    rules: &RuleSet,
    (index, table): (usize, &Table),
    of: Option<&str>,
) -> Result<BTreeMap<String, BTreeSet<usize>>, Trouble> {
    let unknown = |unknown| input::unknown_sizes(&unknown, rules);
    let mut applied = BTreeMap::new();
    let Some(name) = of else {
        let measured = Measured::tracing(network, rules).map_err(unknown)?;
        let _report = measured.check();
        let rows = measured.reads().into_iter().filter_map(|part| match part {
            RulePart::Cell(of, row, _) if of == index => Some(row),
            _ => None,
        });
        applied.insert(table.name.clone(), rows.collect());
        return Ok(applied);
    };
    let measured = Measured::new(network, rules).map_err(unknown)?;
    let mut found = false;
    for rule in &rules.rules {
        found |= mark(&measured, rule, of, &mut applied);
    }
    for trap in measured.elements(Subject::Trap) {
        if measured.name_of(Subject::Trap, trap) == name {
            note(&measured.protection_workings(trap), &mut applied);
        }
    }
    if found {
        Ok(applied)
    } else {
        let names = rules.rules.iter().flat_map(|rule| names(&measured, rule.subject));
        let names: BTreeSet<String> = names.collect();
        Err(Trouble::Plain(format!(
            "no rule speaks about an element `{name}` of this network{}",
            meant(name, names.iter())
        )))
    }
}

fn names(measured: &Measured<'_>, subject: Subject) -> Vec<String> {
    let elements = measured.elements(subject).into_iter();
    elements.map(|one| measured.name_of(subject, one)).collect()
}

/// The name that is nearest, as the end of a message.
fn meant<'n>(name: &str, names: impl Iterator<Item = &'n String>) -> String {
    let near = crownweir::nearest(name, names.map(String::as_str));
    near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"))
}

/// A rule, and on a network the rows of its tables that apply.
fn of_rule(
    rules: &RuleSet,
    rule: &Rule,
    network: Option<&Network>,
    of: Option<&str>,
) -> Result<String, Trouble> {
    let mut applied = BTreeMap::new();
    if let Some(network) = network {
        let measured =
            Measured::new(network, rules).map_err(|unknown| input::unknown_sizes(&unknown, rules))?;
        let found = mark(&measured, rule, of, &mut applied);
        if let (Some(name), false) = (of, found) {
            return Err(Trouble::Plain(format!(
                "the rule `{}` speaks about no element `{name}` of this network{}",
                rule.name,
                meant(name, names(&measured, rule.subject).iter())
            )));
        }
    }
    let mut told = report::explain(rules, rule, &applied);
    if let (Some(network), Some(name)) = (network, of) {
        told.push_str(&on_element(network, rules, rule, name)?);
    }
    Ok(told)
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
