//! Reasoning by cases: whether some values of the facts make conditions come out as asked.
//!
//! Each fact's values are parted into regions that the conditions cannot tell apart, and the regions are gone
//! through, whole branches being cut off as soon as they cannot lead anywhere. Facts are taken to be free of one
//! another: that there is no case is proven for every network; that there is one is not. It never samples.

mod domain;
mod evaluate;
mod region;

use crate::facts::{Fact, Subject};
use crate::model::{Check, Condition, FactTest};
use crate::table::Table;
use crate::value::{Ladder, Value};
use crate::walk;

pub(crate) use domain::Domains;
use evaluate::Evaluator;
pub(crate) use evaluate::{Outcomes, Settled};
pub(crate) use region::{Region, above, below, least};

/// A condition, and the outcomes asked for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Goal<'a> {
    pub(crate) condition: &'a Condition,
    pub(crate) wanted: Outcomes,
}

impl<'a> Goal<'a> {
    pub(crate) const fn holds(condition: &'a Condition) -> Self {
        Self {
            condition,
            wanted: Outcomes::HOLDS,
        }
    }

    pub(crate) const fn fails(condition: &'a Condition) -> Self {
        Self {
            condition,
            wanted: Outcomes::FAILS,
        }
    }
}

/// What came of a search.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Answer {
    /// No values do it: proven.
    Never,
    /// These do.
    Possible(Settled),
    /// Neither was proven.
    Unknown,
}

impl Answer {
    pub(crate) const fn is_possible(&self) -> bool {
        matches!(self, Self::Possible(_))
    }
}

/// Goes through cases, with a bound on all of its work together.
#[derive(Debug)]
pub(crate) struct Cases<'a> {
    evaluator: Evaluator<'a>,
    most_steps: u64,
}

/// The most steps of a single question.
const MOST_OF_ONE: u64 = 200_000;

impl<'a> Cases<'a> {
    pub(crate) fn new(ladder: &'a Ladder, tables: &'a [Table], most_steps: u64) -> Self {
        Self {
            evaluator: Evaluator {
                ladder,
                tables,
                settled: Settled::new(),
                steps: 0,
            },
            most_steps,
        }
    }

    /// Whether the bound on all work has been reached: from then on nothing is proven.
    pub(crate) fn is_exhausted(&self) -> bool {
        self.evaluator.steps >= self.most_steps
    }

    /// Counts work done elsewhere towards the bound.
    pub(crate) fn spend(&mut self, steps: u64) {
        self.evaluator.steps = self.evaluator.steps.saturating_add(steps);
    }

    pub(crate) fn domains(&mut self, conditions: &[&Condition]) -> Domains {
        for condition in conditions {
            walk::operands_of(condition, &mut |operand| {
                let table = walk::lookup(operand).and_then(|lookup| self.evaluator.tables.get(lookup.table));
                let rows = table.map_or(0, |table| table.rows.len());
                self.spend(u64::try_from(rows / 8).unwrap_or(u64::MAX));
            });
        }
        Domains::of(conditions, self.evaluator.ladder, self.evaluator.tables)
    }

    /// Values of the facts, beside the `fixed` ones, with which every goal is met.
    pub(crate) fn find(&mut self, domains: &Domains, goals: &[Goal<'_>], fixed: &[(Fact, Region)]) -> Answer {
        let mut facts: Vec<Fact> = Vec::new();
        for fact in goals.iter().flat_map(|goal| walk::facts(goal.condition)) {
            let is_fixed = fixed.iter().any(|(fixed, _)| *fixed == fact);
            if !is_fixed && !facts.contains(&fact) && domains.regions(fact).is_some() {
                facts.push(fact);
            }
        }
        self.evaluator.settled = fixed.iter().copied().collect();
        let most = self
            .evaluator
            .steps
            .saturating_add(MOST_OF_ONE)
            .min(self.most_steps);
        self.search(domains, goals, &facts, most)
    }

    fn search(&mut self, domains: &Domains, goals: &[Goal<'_>], facts: &[Fact], most: u64) -> Answer {
        let mut is_met = true;
        for goal in goals {
            if self.evaluator.steps >= most {
                return Answer::Unknown;
            }
            let outcomes = self.evaluator.condition(goal.condition);
            if !outcomes.meets(goal.wanted) {
                return Answer::Never;
            }
            is_met &= outcomes.is_within(goal.wanted);
        }
        if is_met {
            return Answer::Possible(self.evaluator.settled.clone());
        }
        let Some((fact, rest)) = facts.split_first() else {
            return Answer::Unknown;
        };
        let mut is_proven = true;
        for region in domains.regions(*fact).unwrap_or_default() {
            self.evaluator.settled.insert(*fact, *region);
            match self.search(domains, goals, rest, most) {
                Answer::Possible(found) => return Answer::Possible(found),
                Answer::Unknown if self.evaluator.steps >= most => return Answer::Unknown,
                Answer::Unknown => is_proven = false,
                Answer::Never => {}
            }
        }
        self.evaluator.settled.remove(fact);
        if is_proven { Answer::Never } else { Answer::Unknown }
    }
}

/// The parts of a condition that all have to hold.
pub(crate) fn parts(condition: &Condition) -> Vec<&Condition> {
    match condition {
        Condition::All(parts) => parts.iter().flat_map(self::parts).collect(),
        other => vec![other],
    }
}

/// Parts of a condition that cannot hold together, none of which could be left out; empty where that is not
/// proven.
pub(crate) fn contradiction<'c>(cases: &mut Cases<'_>, condition: &'c Condition) -> Vec<&'c Condition> {
    let domains = cases.domains(&[condition]);
    let mut left = parts(condition);
    let mut is_never = |left: &[&Condition]| {
        let goals: Vec<_> = left.iter().map(|part| Goal::holds(part)).collect();
        cases.find(&domains, &goals, &[]) == Answer::Never
    };
    if !is_never(&left) {
        return Vec::new();
    }
    let mut index = 0;
    while index < left.len() {
        let mut without = left.clone();
        without.remove(index);
        if is_never(&without) {
            left = without;
        } else {
            index += 1;
        }
    }
    left
}

/// Parts of a condition that cannot hold together of what a rule with this subject speaks about, because of what it never
/// is; empty where that is not proven.
pub(crate) fn denied(cases: &mut Cases<'_>, subject: Subject, condition: &Condition) -> Vec<Condition> {
    let never = subject.never().iter().map(|(fact, word)| {
        Condition::Test(FactTest {
            fact: *fact,
            check: Check::Among {
                values: vec![Value::Word(word)],
                wanted: false,
            },
        })
    });
    let never: Vec<Condition> = never.collect();
    if never.is_empty() {
        return Vec::new();
    }
    let all = Condition::All(std::iter::once(condition).chain(&never).cloned().collect());
    let denied = contradiction(cases, &all).into_iter();
    denied.filter(|part| !never.contains(part)).cloned().collect()
}
