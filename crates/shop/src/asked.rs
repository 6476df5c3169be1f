//! What the rules of a rule set ask of a pipe or a test, read from the rules themselves: whatever the rule set, the
//! limits are those that a check holds the network to.

use crownweir_evaluate::{Judgement, Limit, Measured, Outcome};
use crownweir_quantity::{Length, Period};
use crownweir_rulebook::{Check, Comparison, Condition, Fact, Rule, Subject, Value};

/// A limit with the rule that asks for it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Asked<'a, T> {
    pub(crate) limit: T,
    pub(crate) rule: &'a Rule,
}

/// The rules that apply to an element of a subject, or may.
pub(crate) fn applying<'a>(
    measured: &'a Measured<'a>,
    subjects: &'a [Subject],
    element: u32,
) -> impl Iterator<Item = &'a Rule> {
    let rules = measured.rules().rules.iter();
    rules
        .filter(move |rule| subjects.contains(&rule.subject))
        .filter(move |rule| measured.applies(rule, element) == Outcome::Satisfied)
}

/// The least that a fact may be at the most, by all rules that apply; `None` inside where it is not permitted at all.
pub(crate) fn most<'a>(
    measured: &'a Measured<'a>,
    subjects: &'a [Subject],
    element: u32,
    fact: Fact,
) -> Option<Asked<'a, Option<Length>>> {
    let mut found: Option<Asked<'a, Option<Length>>> = None;
    for (rule, comparison, limit) in limits(measured, subjects, element, fact) {
        let limit = match (comparison, limit) {
            (Comparison::AtMost | Comparison::LessThan, Limit::Known(Value::Length(limit))) => Some(limit),
            (Comparison::AtMost | Comparison::LessThan, Limit::Barred) => None,
            _ => continue,
        };
        if found.is_none_or(|known| limit < known.limit) {
            found = Some(Asked { limit, rule });
        }
    }
    found
}

/// The most that a length has to be at the least, by all rules that apply.
pub(crate) fn least_length<'a>(
    measured: &'a Measured<'a>,
    subjects: &'a [Subject],
    element: u32,
    fact: Fact,
) -> Option<Asked<'a, Length>> {
    least(measured, subjects, element, fact, |value| match value {
        Value::Length(length) => Some(length),
        _ => None,
    })
}

/// The most that a time has to be at the least, by all rules that apply.
pub(crate) fn least_period<'a>(
    measured: &'a Measured<'a>,
    subjects: &'a [Subject],
    element: u32,
    fact: Fact,
) -> Option<Asked<'a, Period>> {
    least(measured, subjects, element, fact, |value| match value {
        Value::Period(period) => Some(period),
        _ => None,
    })
}

fn least<'a, T: Ord + Copy>(
    measured: &'a Measured<'a>,
    subjects: &'a [Subject],
    element: u32,
    fact: Fact,
    read: impl Fn(Value) -> Option<T>,
) -> Option<Asked<'a, T>> {
    let mut found: Option<Asked<'a, T>> = None;
    for (rule, comparison, limit) in limits(measured, subjects, element, fact) {
        let (Comparison::AtLeast | Comparison::MoreThan, Limit::Known(value)) = (comparison, limit) else {
            continue;
        };
        if let Some(limit) = read(value)
            && found.is_none_or(|known| limit > known.limit)
        {
            found = Some(Asked { limit, rule });
        }
    }
    found
}

fn limits<'a>(
    measured: &'a Measured<'a>,
    subjects: &'a [Subject],
    element: u32,
    fact: Fact,
) -> impl Iterator<Item = (&'a Rule, Comparison, Limit)> {
    applying(measured, subjects, element).flat_map(move |rule| {
        let limits = measured.limits(rule, element).into_iter();
        limits.filter_map(move |(test, limit)| match &test.check {
            Check::Compare(comparison, _) if test.fact == fact => Some((rule, *comparison, limit)),
            _ => None,
        })
    })
}

/// The rule that applies and asks that a fact be true.
pub(crate) fn wanted<'a>(
    measured: &'a Measured<'a>,
    subjects: &'a [Subject],
    element: u32,
    fact: Fact,
) -> Option<&'a Rule> {
    applying(measured, subjects, element)
        .find(|rule| rule.require.as_ref().is_some_and(|own| asks(own, fact)))
}

/// Whether a condition asks, in whatever way, for a fact.
pub(crate) fn asks(condition: &Condition, fact: Fact) -> bool {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter().any(|part| asks(part, fact)),
        Condition::Not(inner) => asks(inner, fact),
        Condition::Test(test) => test.fact == fact,
    }
}

/// The rules of a subject that an element breaks, or that leave it open.
pub(crate) fn judged<'a>(
    measured: &'a Measured<'a>,
    subject: Subject,
    element: u32,
    judgement: Judgement,
) -> impl Iterator<Item = &'a Rule> {
    let rules = measured.rules().rules.iter();
    rules.filter(move |rule| rule.subject == subject && measured.judgement(rule, element) == judgement)
}
