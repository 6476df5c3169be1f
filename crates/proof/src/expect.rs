//! One expectation against what was measured.
//!
//! It never decides what a rule means: verdicts, limits and arrangements are the evaluator's.

use std::cmp::Ordering;

use crownweir_document::nearest;
use crownweir_evaluate::{Arranged, Gap, Got, Judgement, Limit, Measured, Verdict};
use crownweir_rulebook::{
    Check, Fact, FactTest, Family, Grain, Lookup, Operand, Part, Rule, Subject, Table, Value,
};

use crate::expected::What;

/// What was expected and what came instead, in words.
pub(crate) struct Came {
    pub(crate) expected: String,
    pub(crate) came: String,
}

pub(crate) type Met = Result<(), Came>;

/// ` of `name``, or nothing for every element.
pub(crate) fn of(on: Option<&str>) -> String {
    on.map_or_else(String::new, |on| format!(" for `{on}`"))
}

/// Whether an expectation is met; a size's is [`crate::prove`]'s to see.
pub(crate) fn met(measured: &Measured<'_>, what: &What) -> Met {
    match what {
        What::Fact { of, fact, is, within } => {
            self::fact(measured, of.as_deref(), *fact, is, within.as_deref())
        }
        What::Rule {
            rule,
            on,
            judgement,
            limit,
        } => judged(measured, rule, on.as_deref(), *judgement, limit.as_deref()),
        What::Limit { rule, on, column, is } => limit(measured, rule, on.as_deref(), column.as_deref(), is),
        What::Trap {
            of,
            by,
            nearest,
            limit,
        } => trap(measured, of, by, nearest.as_deref(), limit.as_deref()),
        What::Findings { verdict, list } => findings(measured, *verdict, list),
        What::Size { .. } => Ok(()),
    }
}

fn words(measured: &Measured<'_>, value: Value) -> String {
    value.in_words_to(
        Grain::Exact,
        &measured.rules().ladder,
        measured.network().notation(),
    )
}

fn limit_in_words(measured: &Measured<'_>, limit: Limit) -> String {
    match limit {
        Limit::Known(value) => words(measured, value),
        Limit::Barred => "none (not permitted)".to_owned(),
        Limit::Unlimited => "unlimited".to_owned(),
        Limit::Missing(Gap::Unfilled { .. }) => "unfilled".to_owned(),
        Limit::Absent | Limit::Missing(_) => "not known".to_owned(),
    }
}

/// The subject by which a fact's elements are found.
fn subject(fact: Fact) -> Subject {
    match fact.family() {
        Family::Fixture => Subject::Fixture,
        Family::Trap | Family::Protection | Family::Circuit | Family::Combination | Family::Island => {
            Subject::Trap
        }
        Family::TrapArm => Subject::TrapArm,
        Family::Pipe => Subject::Pipe,
        Family::Drain => Subject::Drain,
        Family::Vent => Subject::Vent,
        Family::Turn => Subject::Turn,
        Family::Fitting => Subject::Fitting,
        Family::Cleanout => Subject::Cleanout,
        Family::Terminal => Subject::Terminal,
        Family::Valve => Subject::Valve,
        Family::Stack => Subject::Stack,
        Family::Interval => Subject::BranchInterval,
        Family::Passage => Subject::Passage,
        Family::Test => Subject::Test,
        _ => Subject::System,
    }
}

/// The elements of a subject that are called `on`; all of them without a name.
fn elements(measured: &Measured<'_>, subject: Subject, on: Option<&str>) -> Vec<u32> {
    let mut elements = measured.elements(subject);
    if let Some(on) = on {
        elements.retain(|&element| measured.name_of(subject, element) == on);
    }
    elements
}

fn fact(measured: &Measured<'_>, on: Option<&str>, fact: Fact, is: &str, within: Option<&str>) -> Met {
    let subject = subject(fact);
    let unmet = |came: String| {
        let tolerance = within.map_or_else(String::new, |within| format!(", within {within}"));
        let name = fact.name();
        Err(Came {
            expected: format!("`{name}`{} is {is}{tolerance}", of(on)),
            came,
        })
    };
    let all = elements(measured, subject, on);
    if all.is_empty() {
        return unmet(format!("there is no such {}", subject.name()));
    }
    let read = |text: &str| fact.dimension().read(text, &measured.rules().ladder);
    for element in all {
        let got = match (measured.fact(subject, element, fact), is) {
            (Got::Absent, "absent") | (Got::Missing(_), "unknown") => continue,
            (Got::Absent, _) => return unmet("there is no such thing".to_owned()),
            (Got::Missing(gap), _) => return unmet(unknown(gap)),
            (Got::Known(got), _) => got,
        };
        let is = match read(is) {
            Ok(is) => is,
            Err(message) => return unmet(message),
        };
        let fits = match within.map(read) {
            None => got.compare(is) == Some(Ordering::Equal),
            Some(within) => within.is_ok_and(|within| is_within(got, is, within)),
        };
        if !fits {
            return unmet(format!("it is {}", words(measured, got)));
        }
    }
    Ok(())
}

fn is_within(got: Value, is: Value, within: Value) -> bool {
    let not = |order, beyond| order != Some(beyond);
    match (is.minus(within), is.plus(within)) {
        (Some(least), Some(most)) => {
            not(got.compare(least), Ordering::Less) && not(got.compare(most), Ordering::Greater)
        }
        _ => false,
    }
}

fn unknown(gap: Gap) -> String {
    match gap {
        Gap::NotStated { datum, .. } => format!("it cannot be told: `{datum}` is not stated"),
        Gap::NoRow { .. } => "it cannot be told: a table has no row for it".to_owned(),
        Gap::Unfilled { .. } => "it cannot be told: a cell is unfilled".to_owned(),
        _ => "it cannot be told".to_owned(),
    }
}

/// The rule, or what to say where there is none of that name.
fn rule<'a>(measured: &Measured<'a>, name: &str) -> Result<&'a Rule, String> {
    let rules = measured.rules();
    rules.rule(name).ok_or_else(|| {
        if let Some(why) = rules.why_absent(&Part::Rule(name.to_owned())) {
            return format!("the rule set has no rule `{name}` on this day: {why}");
        }
        let near = nearest(name, rules.rules.iter().map(|rule| rule.name.as_str()));
        let near = near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
        format!("the rule set has no rule `{name}`{near}")
    })
}

const fn verb(judgement: Judgement) -> &'static str {
    match judgement {
        Judgement::NotApplicable => "does not apply",
        Judgement::Satisfied => "holds",
        Judgement::Violated => "is violated",
        Judgement::Undetermined => "cannot be told",
        Judgement::OnSite => "is left to a visit",
    }
}

/// Whether a rule comes to a judgement: for every element of that name.
pub(crate) fn judged(
    measured: &Measured<'_>,
    name: &str,
    on: Option<&str>,
    judgement: Judgement,
    bound: Option<&str>,
) -> Met {
    let unmet = |came: String| {
        let bound = bound.map_or_else(String::new, |bound| format!(" with the limit {bound}"));
        Err(Came {
            expected: format!("`{name}` {}{}{bound}", verb(judgement), of(on)),
            came,
        })
    };
    let rule = match rule(measured, name) {
        Ok(rule) => rule,
        Err(message) => return unmet(message),
    };
    let all = elements(measured, rule.subject, on);
    if all.is_empty() {
        // A rule that has nothing to speak of applies to nothing.
        if on.is_none() && judgement == Judgement::NotApplicable {
            return Ok(());
        }
        return unmet(format!("there is no such {}", rule.subject.name()));
    }
    let mut came: Vec<(Judgement, u32)> = all
        .into_iter()
        .map(|element| (measured.judgement(rule, element), element))
        .collect();
    // Where a name stands for several elements, those that the rule does not apply to say nothing of it.
    if judgement != Judgement::NotApplicable && came.iter().any(|(own, _)| *own != Judgement::NotApplicable) {
        came.retain(|(own, _)| *own != Judgement::NotApplicable);
    }
    for (own, element) in came {
        if own != judgement {
            let limits = measured.limits(rule, element);
            let limits: Vec<_> = limits
                .iter()
                .map(|(test, limit)| {
                    let is = measured.fact_in_words(rule.subject, element, test.fact);
                    let is = is.map_or_else(String::new, |is| format!("{} {is}, ", test.fact.name()));
                    format!("{is}limit {}", limit_in_words(measured, *limit))
                })
                .collect();
            let read = match (own, limits.is_empty()) {
                (Judgement::NotApplicable | Judgement::OnSite, _) | (_, true) => String::new(),
                _ => format!(", {}", limits.join(" or ")),
            };
            return unmet(format!("it {}{read}", verb(own)));
        }
        if let Some(bound) = bound
            && let Err(came) = reads(measured, &measured.limits(rule, element), bound)
        {
            return unmet(came);
        }
    }
    Ok(())
}

fn limit(measured: &Measured<'_>, name: &str, on: Option<&str>, column: Option<&str>, is: &str) -> Met {
    let unmet = |came: String| {
        Err(Came {
            expected: format!("`{name}` reads the limit {is}{}", of(on)),
            came,
        })
    };
    let rule = match rule(measured, name) {
        Ok(rule) => rule,
        Err(message) => return unmet(message),
    };
    let all = elements(measured, rule.subject, on);
    if all.is_empty() {
        return unmet(format!("there is no such {}", rule.subject.name()));
    }
    for element in all {
        if measured.judgement(rule, element) == Judgement::NotApplicable {
            return unmet(format!("it {}", verb(Judgement::NotApplicable)));
        }
        let mut limits = measured.limits(rule, element);
        if let Some(column) = column {
            limits.retain(|(test, _)| looks_into(test, &measured.rules().tables, column));
        }
        if let Err(came) = reads(measured, &limits, is) {
            return unmet(came);
        }
    }
    Ok(())
}

/// Whether one of these comparisons reads the limit.
fn reads(measured: &Measured<'_>, limits: &[(&FactTest, Limit)], is: &str) -> Result<(), String> {
    let fits = |test: &FactTest, limit: Limit| match (limit, is) {
        (Limit::Barred, "none") | (Limit::Unlimited, "unlimited") => true,
        (Limit::Missing(Gap::Unfilled { .. }), "unfilled") => true,
        (Limit::Known(value), _) => {
            let is = test.fact.dimension().read(is, &measured.rules().ladder);
            is.is_ok_and(|is| value.compare(is) == Some(Ordering::Equal))
        }
        _ => false,
    };
    if limits.iter().any(|(test, limit)| fits(test, *limit)) {
        return Ok(());
    }
    let read: Vec<_> = limits
        .iter()
        .map(|(_, limit)| limit_in_words(measured, *limit))
        .collect();
    Err(match read.is_empty() {
        true => "it reads no limit".to_owned(),
        false => format!("it reads {}", read.join(" and ")),
    })
}

fn looks_into(test: &FactTest, tables: &[Table], column: &str) -> bool {
    let is_column = |lookup: &Lookup| {
        let table = tables.get(lookup.table);
        table
            .and_then(|table| table.columns().get(lookup.column))
            .is_some_and(|own| own.name == column)
    };
    match &test.check {
        Check::Compare(_, Operand::Lookup(lookup) | Operand::SmallestSize { lookup, .. }) => {
            is_column(lookup)
        }
        _ => false,
    }
}

fn trap(measured: &Measured<'_>, on: &str, by: &str, near: Option<&str>, bound: Option<&str>) -> Met {
    let unmet = |came: String| {
        let mut expected = match (by, near) {
            ("none", None) => format!("nothing protects the trap of `{on}`"),
            ("none", Some(near)) => {
                format!("nothing protects the trap of `{on}`, and `{near}` comes nearest")
            }
            ("unknown", _) => format!("it cannot be told what protects the trap of `{on}`"),
            _ => format!("`{by}` protects the trap of `{on}`"),
        };
        if let Some(bound) = bound {
            expected.push_str(&format!(", by the limit {bound}"));
        }
        Err(Came { expected, came })
    };
    let all = elements(measured, Subject::Trap, Some(on));
    let Some(&element) = all.first() else {
        return unmet("there is no such trap".to_owned());
    };
    match (measured.arranged(element), by) {
        (Arranged::Open(_), "unknown") => Ok(()),
        (Arranged::Open(gaps), _) => unmet(gaps.first().map_or_else(String::new, |gap| unknown(*gap))),
        (Arranged::By(_, arrangement), by) if arrangement.name == by => Ok(()),
        (Arranged::By(_, arrangement), _) => unmet(format!("`{}` does", arrangement.name)),
        (Arranged::Nearest(nearest), by) => {
            let name = nearest.as_ref().map(|(arrangement, _)| arrangement.name.as_str());
            if by == "none" && (near.is_none() || near == name) {
                let (Some(bound), Some((arrangement, failed))) = (bound, &nearest) else {
                    return Ok(());
                };
                let failed = failed.iter().filter_map(|&one| arrangement.conditions.get(one));
                let asked = failed.map(|condition| &condition.require);
                let limits = measured.limits_asked(Subject::Trap, element, asked);
                return reads(measured, &limits, bound).or_else(unmet);
            }
            unmet(match name {
                Some(name) => format!("none does; `{name}` comes nearest"),
                None => "no vent is met".to_owned(),
            })
        }
    }
}

fn findings(measured: &Measured<'_>, verdict: Verdict, list: &[(String, String)]) -> Met {
    let report = measured.check();
    let own = report
        .findings
        .iter()
        .filter(|finding| finding.verdict == verdict);
    let mut came: Vec<(String, String)> = own
        .map(|finding| (finding.rule.clone(), finding.name.clone()))
        .collect();
    came.sort();
    if came == list && report.omitted == 0 {
        return Ok(());
    }
    let in_words = |list: Vec<&(String, String)>| {
        let all: Vec<_> = list
            .iter()
            .map(|(rule, on)| format!("`{rule}` for `{on}`"))
            .collect();
        all.join(", ")
    };
    let lacking: Vec<_> = list.iter().filter(|one| !came.contains(one)).collect();
    let beyond: Vec<_> = came.iter().filter(|one| !list.contains(one)).collect();
    let mut said = Vec::new();
    if !lacking.is_empty() {
        said.push(format!("not found: {}", in_words(lacking)));
    }
    if !beyond.is_empty() {
        said.push(format!("found as well: {}", in_words(beyond)));
    }
    if said.is_empty() {
        said.push(format!("{} are found", came.len()));
    }
    let kind = match verdict {
        Verdict::Violated => "violated",
        Verdict::Undetermined => "undetermined",
    };
    Err(Came {
        expected: format!("exactly the {} findings listed are {kind}", list.len()),
        came: said.join("; "),
    })
}
