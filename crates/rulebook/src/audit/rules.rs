//! Rules by themselves and against each other: what applies to nothing, what nothing can meet or break, what asks
//! the same, and what can never both hold.

use std::collections::BTreeMap;

use super::{Audit, RemarkKind, Weight, beside};
use crate::canonical::Canonical;
use crate::cases::{self, Answer, Domains, Goal, Outcomes, Region};
use crate::facts::Fact;
use crate::model::{Check, Condition, Rule};
use crate::value::{Dimension, Size, Value};
use crate::walk;

/// What comparing two rules counts as, beside the reasoning itself.
const STEPS_OF_A_PAIR: u64 = 50;

pub(super) fn single(audit: &mut Audit<'_>) {
    let rules = audit.rules;
    for rule in &rules.rules {
        let denied = cases::contradiction(&mut audit.cases, &rule.when);
        let of_subject = cases::denied(&mut audit.cases, rule.subject, &rule.when);
        if !denied.is_empty() || !of_subject.is_empty() {
            let cannot_be = if denied.is_empty() {
                let of_subject: Vec<_> = of_subject.iter().collect();
                let subject = rule.subject.name().replace('_', " ");
                format!("{} never is so of a {subject}", list(audit, &of_subject))
            } else {
                format!("{} cannot all be", list(audit, &denied))
            };
            let message = format!("the rule `{}` applies to nothing: {cannot_be}", rule.name);
            let to_do = "loosen one of these, or drop the rule";
            audit.fault(RemarkKind::NeverApplies, &rule.place, message, to_do);
            continue;
        }
        exceptions(audit, rule);
        let Some(require) = &rule.require else { continue };
        if never_met(audit, &rule.when, require) {
            not_met(audit, rule, require);
        } else if always_met(audit, &rule.when, require) {
            let message = format!(
                "nothing can break the rule `{}`: whatever it applies to, {} holds",
                rule.name,
                list(audit, &[require])
            );
            let to_do = "ask more of it, or drop the rule";
            audit.fault(RemarkKind::AlwaysMet, &rule.place, message, to_do);
        }
    }
}

/// An exception that takes nothing out may be a law that says what the rule says already.
fn exceptions(audit: &mut Audit<'_>, rule: &Rule) {
    let (own, less) = rule.when_and_less();
    let mut left = vec![own.clone()];
    for (exception, less) in rule.exceptions.iter().zip(less) {
        let taken = Condition::All(left.iter().chain([&exception.when]).cloned().collect());
        let denied = cases::contradiction(&mut audit.cases, &taken);
        if !denied.is_empty() {
            let message = format!(
                "the exception `{}` takes nothing out of the rule `{}`: {} cannot all be",
                exception.name,
                rule.name,
                list(audit, &denied)
            );
            let to_do = "leave it if the law says so too, else widen it";
            audit.notice(RemarkKind::NeverApplies, &exception.place, message, to_do);
        }
        left.push(less.clone());
    }
}

fn list(audit: &Audit<'_>, parts: &[&Condition]) -> String {
    let parts: Vec<_> = parts
        .iter()
        .map(|part| format!("`{}`", audit.words.in_line(part)))
        .collect();
    parts.join(" and ")
}

fn never_met(audit: &mut Audit<'_>, when: &Condition, require: &Condition) -> bool {
    let domains = audit.cases.domains(&[when, require]);
    let goals = [Goal::holds(when), Goal::holds(require)];
    audit.cases.find(&domains, &goals, &[]) == Answer::Never
}

const PROHIBITION: &str = "if it is meant as a prohibition, leave it";

/// What nothing can meet may be meant as a prohibition where it denies words; bounds that deny each other are not.
fn not_met(audit: &mut Audit<'_>, rule: &Rule, require: &Condition) {
    let mut is_of_words = true;
    walk::tests(require, &mut |test| {
        is_of_words &= matches!(test.check, Check::Among { .. } | Check::Present(_));
    });
    let (weight, to_do) = match is_of_words {
        true => (Weight::Notice, PROHIBITION),
        false => (Weight::Fault, "loosen what it asks, or narrow its `when`"),
    };
    let message = format!(
        "nothing that the rule `{}` applies to can meet it: it applies where {} and asks that {}",
        rule.name,
        audit.words.in_line(&rule.when),
        audit.words.in_line(require)
    );
    audit.remark(RemarkKind::NeverMet, weight, &rule.place, message, to_do);
}

/// Whether a requirement holds whatever its facts are, as long as there are such things; whether there are is
/// left open where the rule itself asks about it.
fn always_met(audit: &mut Audit<'_>, when: &Condition, require: &Condition) -> bool {
    let mut asked = Vec::new();
    for condition in [when, require] {
        walk::tests(condition, &mut |test| {
            if matches!(test.check, Check::Present(_)) {
                asked.push(test.fact);
            }
        });
    }
    let mut present = walk::facts(when);
    present.extend(walk::facts(require));
    present.retain(|fact| !asked.contains(fact));
    let applies = Goal::holds(when);
    let broken = Goal {
        condition: require,
        wanted: Outcomes::FAILS.or(Outcomes::OPEN),
    };
    let domains = audit.cases.domains(&[when, require]);
    if audit.cases.find(&domains, &[applies, broken], &[]) == Answer::Never {
        return true;
    }
    let domains = domains.present(&present);
    audit.cases.find(&domains, &[applies], &[]).is_possible()
        && audit.cases.find(&domains, &[applies, broken], &[]) == Answer::Never
}

pub(super) fn cases_of_loads(audit: &mut Audit<'_>) {
    let all = &audit.rules.loads.fixture;
    for (index, case) in all.iter().enumerate() {
        let earlier = all.iter().take(index);
        let mut goals: Vec<_> = earlier.map(|case| Goal::fails(&case.when)).collect();
        goals.push(Goal::holds(&case.when));
        let conditions: Vec<_> = goals.iter().map(|goal| goal.condition).collect();
        let domains = audit.cases.domains(&conditions);
        if audit.cases.find(&domains, &goals, &[]) == Answer::Never {
            let message = format!(
                "no fixture comes to case {} of the loads, where {}: the cases before it take them all",
                index + 1,
                audit.words.in_line(&case.when)
            );
            let to_do = "set it before the case that takes its fixtures, or drop it";
            audit.fault(RemarkKind::CaseNeverReached, &case.place, message, to_do);
        }
    }
}

pub(super) fn arrangements(audit: &mut Audit<'_>) {
    for arrangement in &audit.rules.arrangements {
        let asked = arrangement.conditions.iter().map(|one| one.require.clone());
        let all = Condition::All(asked.collect());
        let denied = cases::contradiction(&mut audit.cases, &all);
        if !denied.is_empty() {
            let message = format!(
                "no trap can be protected by `{}`: {} cannot all be",
                arrangement.name,
                list(audit, &denied)
            );
            let to_do = "loosen one of these conditions, or drop the arrangement";
            audit.fault(RemarkKind::NeverMet, &arrangement.place, message, to_do);
        }
    }
}

pub(super) fn same(audit: &mut Audit<'_>) {
    let rules = audit.rules;
    let canonical = Canonical {
        tables: &rules.tables,
        size: &|Size(size)| size.to_string(),
    };
    let mut seen: BTreeMap<(&str, String, String), &Rule> = BTreeMap::new();
    for rule in &rules.rules {
        let Some(require) = &rule.require else { continue };
        let when = canonical.condition(&rule.when);
        let asks = (rule.subject.name(), when, canonical.condition(require));
        if let Some(first) = seen.get(&asks) {
            let message = format!(
                "the rule `{}` asks the same of the same things as `{}` {}",
                rule.name,
                first.name,
                beside(&rule.place, &first.place)
            );
            let to_do = "drop one of them";
            audit.fault(RemarkKind::SameRule, &rule.place, message, to_do);
        } else {
            seen.insert(asks, rule);
        }
    }
}

pub(super) fn contradictions(audit: &mut Audit<'_>) {
    let rules = audit.rules;
    let mut by_subject: BTreeMap<&str, Vec<(Asking<'_>, Vec<Fact>)>> = BTreeMap::new();
    for rule in &rules.rules {
        let Some(require) = &rule.require else { continue };
        // What nothing can meet by itself is told of already, and would deny every other rule.
        if !never_met(audit, &rule.when, require) {
            let facts = walk::facts(require);
            let of_subject = by_subject.entry(rule.subject.name()).or_default();
            of_subject.push(((rule, require), facts));
        }
    }
    for of_subject in by_subject.values() {
        for (index, (later, facts_later)) in of_subject.iter().enumerate() {
            for (earlier, facts) in of_subject.iter().take(index) {
                audit.cases.spend(STEPS_OF_A_PAIR);
                if audit.cases.is_exhausted() {
                    return;
                }
                // Requirements that share no fact do not speak of each other, and are not looked into.
                if facts.iter().any(|fact| facts_later.contains(fact)) {
                    pair(audit, *earlier, *later);
                }
            }
        }
    }
}

/// Two rules, each with what it asks.
type Asking<'a> = (&'a Rule, &'a Condition);

fn pair(audit: &mut Audit<'_>, one: Asking<'_>, other: Asking<'_>) {
    let ((earlier, asks), (later, asks_later)) = (one, other);
    let conditions = [&earlier.when, asks, &later.when, asks_later];
    let domains = audit.cases.domains(&conditions);
    if denies(audit, &domains, one, other, &[]) {
        tell(audit, one, other, "");
        return;
    }
    // Not always, but perhaps always for some size or word.
    for fact in selectors(&conditions, &[asks, asks_later]) {
        let is_finite = matches!(
            fact.dimension(),
            Dimension::Size | Dimension::Word(_) | Dimension::Truth
        );
        let regions = domains.regions(fact).filter(|_| is_finite).unwrap_or_default();
        let denied: Vec<Value> = regions
            .iter()
            .filter_map(|region| match region {
                Region::Is(value) => {
                    denies(audit, &domains, one, other, &[(fact, *region)]).then_some(*value)
                }
                _ => None,
            })
            .collect();
        if !denied.is_empty() {
            let values: Vec<_> = denied.into_iter().map(|value| audit.words.value(value)).collect();
            let whenever = format!(" where {} is {}", fact.name(), values.join(" or "));
            tell(audit, one, other, &whenever);
            return;
        }
    }
}

/// The facts that only choose a limit or say whether a rule applies. What is itself measured, or measured
/// against, is left out: too small a drain makes demands deny each other, and is to blame itself.
fn selectors(conditions: &[&Condition], requirements: &[&Condition]) -> Vec<Fact> {
    let mut facts: Vec<Fact> = conditions
        .iter()
        .flat_map(|condition| walk::facts(condition))
        .collect();
    facts.sort_unstable();
    facts.dedup();
    let mut measured = Vec::new();
    for requirement in requirements {
        walk::tests(requirement, &mut |test| {
            measured.push(test.fact);
            if let Check::Compare(_, limit) = &test.check {
                walk::magnitudes(limit, &mut measured);
            }
        });
    }
    facts.retain(|fact| !measured.contains(fact));
    facts
}

/// Whether both rules can apply together, each can be met where they do, and both never can.
fn denies(
    audit: &mut Audit<'_>,
    domains: &Domains,
    (one, asks): Asking<'_>,
    (other, asks_other): Asking<'_>,
    fixed: &[(Fact, Region)],
) -> bool {
    let both = [Goal::holds(&one.when), Goal::holds(&other.when)];
    let mut find = |more: &[Goal<'_>]| {
        let goals: Vec<_> = both.iter().chain(more).copied().collect();
        audit.cases.find(domains, &goals, fixed)
    };
    let (asks, asks_other) = (Goal::holds(asks), Goal::holds(asks_other));
    find(&[asks, asks_other]) == Answer::Never
        && find(&[asks]).is_possible()
        && find(&[asks_other]).is_possible()
}

fn tell(audit: &mut Audit<'_>, (earlier, asks): Asking<'_>, (later, asks_later): Asking<'_>, whenever: &str) {
    let message = format!(
        "the rules `{}` (line {}) and `{}` can never both hold{whenever}: the one asks that {}, the other that {}",
        earlier.name,
        earlier.place.line,
        later.name,
        audit.words.in_line(asks),
        audit.words.in_line(asks_later)
    );
    // Who forbids a thing does not speak of how it has to be.
    let (weight, to_do) = match forbids(asks) || forbids(asks_later) {
        true => (Weight::Notice, PROHIBITION),
        false => (
            Weight::Fault,
            "part what they apply to by their `when`, or bring what they ask into line",
        ),
    };
    audit.remark(RemarkKind::Contradiction, weight, &later.place, message, to_do);
}

/// Whether a requirement asks no more than that something is not there.
fn forbids(require: &Condition) -> bool {
    let tests = require.tests();
    !tests.is_empty() && tests.iter().all(|test| test.check == Check::Present(false))
}
