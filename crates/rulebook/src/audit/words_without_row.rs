//! Words that a rule looks up in a table in which no row has them.

use std::collections::{BTreeMap, BTreeSet};

use super::{Audit, RemarkKind, readers};
use crate::cases::{Domains, Goal, Outcomes, Region};
use crate::facts::{Fact, Subject};
use crate::model::{Lookup, Operand};
use crate::table::Table;
use crate::value::{Dimension, Value};
use crate::walk;

/// The most combinations of words that are tried for one look-up.
const MOST_COMBINATIONS: usize = 2_000;

/// A look-up's keys that are words, each with its key and the fact that gives it.
fn word_keys(table: &Table, lookup: &Lookup) -> Vec<(usize, Fact)> {
    let keys = table.keys.iter().zip(&lookup.keys).enumerate();
    keys.filter_map(|(index, (key, operand))| match (key.dimension, operand) {
        (Dimension::Word(_) | Dimension::Truth, Operand::Fact(fact)) => Some((index, *fact)),
        _ => None,
    })
    .collect()
}

/// Whether a fact can be such a word of what a rule with this subject speaks about.
pub(super) fn can_be(subject: Subject, fact: Fact, word: Value) -> bool {
    let mut never = subject.never().iter();
    !never.any(|(of, never)| (*of, Value::Word(never)) == (fact, word))
}

fn vocabulary(dimension: Dimension) -> Vec<Value> {
    match dimension {
        Dimension::Word(words) => words.iter().map(|word| Value::Word(word)).collect(),
        Dimension::Truth => vec![Value::Truth(true), Value::Truth(false)],
        _ => Vec::new(),
    }
}

/// The combinations of words for which no row matches, whatever the other keys are.
fn unmatched(table: &Table, keys: &[(usize, Fact)]) -> Vec<Vec<(Fact, usize, Value)>> {
    let mut combinations: Vec<Vec<(Fact, usize, Value)>> = vec![Vec::new()];
    for (index, fact) in keys {
        let words = vocabulary(fact.dimension());
        if combinations.len().saturating_mul(words.len()) > MOST_COMBINATIONS {
            return Vec::new();
        }
        combinations = combinations
            .into_iter()
            .flat_map(|so_far| {
                words.iter().map(move |word| {
                    let mut next = so_far.clone();
                    next.push((*fact, *index, *word));
                    next
                })
            })
            .collect();
    }
    combinations.retain(|combination| {
        !table.rows.iter().any(|row| {
            combination.iter().all(|(_, index, word)| {
                row.keys
                    .get(*index)
                    .is_some_and(|key| key.is_none_or(|key| key == *word))
            })
        })
    });
    combinations
}

pub(super) fn words_without_row(audit: &mut Audit<'_>) {
    let rules = audit.rules;
    // By table and words: who looks them up.
    let mut found: BTreeMap<(usize, String), BTreeSet<String>> = BTreeMap::new();
    for reader in readers::readers(rules) {
        let mut lookups = Vec::new();
        walk::operands_of(&reader.reads, &mut |operand| {
            // The smallest size is sought among the rows there are.
            if let Operand::Lookup(lookup) = operand {
                lookups.push(lookup);
            }
        });
        if lookups.is_empty() {
            continue;
        }
        let mut goals = reader.when.clone();
        goals.push(Goal {
            condition: &reader.reads,
            wanted: Outcomes::OPEN,
        });
        let conditions: Vec<_> = goals.iter().map(|goal| goal.condition).collect();
        let domains = audit.cases.domains(&conditions);
        for lookup in lookups {
            let Some(table) = rules.table(lookup.table) else {
                continue;
            };
            let keys = word_keys(table, lookup);
            let mut combinations = unmatched(table, &keys);
            combinations.retain(|words| {
                words
                    .iter()
                    .all(|(fact, _, word)| can_be(reader.subject, *fact, *word))
            });
            let reached = reached(audit, &domains, &goals, combinations);
            for words in reached {
                found
                    .entry((lookup.table, words))
                    .or_default()
                    .insert(reader.name.clone());
            }
        }
    }
    for ((table, words), who) in found {
        let Some(table) = rules.table(table) else {
            continue;
        };
        let who: Vec<_> = who.into_iter().collect();
        let message = format!(
            "the table `{}` has no row for {words}, which {} looks up",
            table.name,
            who.join(" and ")
        );
        let to_do = "add the row, or leave it out of the rule's `when`";
        audit.fault(RemarkKind::WordWithoutRow, &table.place, message, to_do);
        // Of a single fact, the word alone.
        let varying = words.split_once(' ').filter(|_| !words.contains(", "));
        audit.varying(varying.map_or(&words, |(_, word)| word));
    }
}

/// Those combinations with which the goals can be met.
fn reached(
    audit: &mut Audit<'_>,
    domains: &Domains,
    goals: &[Goal<'_>],
    combinations: Vec<Vec<(Fact, usize, Value)>>,
) -> Vec<String> {
    let mut reached = Vec::new();
    for combination in combinations {
        let fixed: Vec<_> = combination
            .iter()
            .map(|(fact, _, word)| (*fact, Region::Is(*word)))
            .collect();
        if audit.cases.find(domains, goals, &fixed).is_possible() {
            let words = combination.iter().map(|(fact, _, word)| match word {
                // As the file writes it, rather than as people read it.
                Value::Word(word) => format!("{} `{word}`", fact.name()),
                other => format!("{} `{}`", fact.name(), audit.words.value(*other)),
            });
            reached.push(words.collect::<Vec<_>>().join(", "));
        }
    }
    reached
}
