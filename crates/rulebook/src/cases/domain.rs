//! For each fact of some conditions, the regions into which the conditions' own values part it.
//!
//! The choice of values only decides how much can be told apart, never whether what is told is right.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::region::{Region, between, least};
use crate::facts::Fact;
use crate::model::{Check, Condition, Lookup, Operand};
use crate::table::{Content, Table};
use crate::value::{Dimension, Ladder, Value};
use crate::walk;

/// The most values that part one fact; a fact with more is left open.
const MOST_VALUES: usize = 400;

/// The regions of each fact.
#[derive(Debug, Default)]
pub(crate) struct Domains {
    regions: BTreeMap<Fact, Vec<Region>>,
}

/// Values that part facts, while they are gathered.
#[derive(Default)]
struct Values {
    of: BTreeMap<Fact, Vec<Value>>,
    /// Facts that are compared with one another: they share their values.
    compared: Vec<(Fact, Fact)>,
}

impl Domains {
    /// The regions for the facts of the conditions.
    pub(crate) fn of(conditions: &[&Condition], ladder: &Ladder, tables: &[Table]) -> Self {
        let mut values = Values::default();
        for condition in conditions {
            walk::tests(condition, &mut |test| {
                let own = values.of.entry(test.fact).or_default();
                match &test.check {
                    Check::Present(_) => {}
                    Check::Among { values, .. } => own.extend(values),
                    Check::Compare(_, operand) => {
                        own.extend(possible(operand, ladder, tables));
                        if let Operand::Fact(other) = operand {
                            values.compared.push((test.fact, *other));
                        } else if matches!(test.fact.dimension(), Dimension::Word(_)) {
                            // A word that no test names may still be the one that a table gives.
                            let words = every_word(test.fact.dimension());
                            values.of.entry(test.fact).or_default().extend(words);
                        }
                    }
                }
            });
            walk::operands_of(condition, &mut |operand| values.add(operand, tables));
        }
        values.share();
        let facts = values.of.into_iter();
        Self {
            regions: facts
                .filter_map(|(fact, values)| Some((fact, parted(fact, values, ladder)?)))
                .collect(),
        }
    }

    /// The regions of a fact; none where they are too many to go through.
    pub(crate) fn regions(&self, fact: Fact) -> Option<&[Region]> {
        self.regions.get(&fact).map(Vec::as_slice)
    }

    /// The same without absence, for the facts named.
    pub(crate) fn present(mut self, facts: &[Fact]) -> Self {
        for (fact, regions) in &mut self.regions {
            if facts.contains(fact) {
                regions.retain(|region| *region != Region::Absent);
            }
        }
        self
    }
}

impl Values {
    fn add(&mut self, operand: &Operand, tables: &[Table]) {
        match operand {
            Operand::Fact(fact) => {
                self.of.entry(*fact).or_default();
            }
            Operand::Lookup(lookup) => self.add_keys(lookup, tables),
            Operand::SmallestSize { lookup, holds, .. } => {
                self.add_keys(lookup, tables);
                if let Operand::Fact(fact) = holds.as_ref() {
                    let cells = column(lookup, tables);
                    self.of.entry(*fact).or_default().extend(cells);
                }
            }
            _ => {}
        }
    }

    fn add_keys(&mut self, lookup: &Lookup, tables: &[Table]) {
        let Some(table) = tables.get(lookup.table) else {
            return;
        };
        for (index, key) in lookup.keys.iter().enumerate() {
            if let Operand::Fact(fact) = key {
                let keys = table
                    .rows
                    .iter()
                    .filter_map(|row| row.keys.get(index).copied().flatten());
                self.of.entry(*fact).or_default().extend(keys);
            }
        }
    }

    fn share(&mut self) {
        for (one, other) in std::mem::take(&mut self.compared) {
            let mut shared = self.of.get(&one).cloned().unwrap_or_default();
            shared.extend(self.of.get(&other).into_iter().flatten());
            shared.extend(every_word(one.dimension()));
            self.of.insert(one, shared.clone());
            self.of.insert(other, shared);
        }
    }
}

fn every_word(dimension: Dimension) -> impl Iterator<Item = Value> {
    let words = match dimension {
        Dimension::Word(words) => words,
        _ => &[],
    };
    words.iter().map(|word| Value::Word(word))
}

fn column(lookup: &Lookup, tables: &[Table]) -> Vec<Value> {
    let rows = tables.get(lookup.table).into_iter().flat_map(|table| &table.rows);
    let cells = rows.filter_map(|row| row.cells.get(lookup.column));
    cells
        .filter_map(|cell| match cell.content {
            Content::Value(value) => Some(value),
            _ => None,
        })
        .collect()
}

/// Values that an operand can take, as far as they can be listed.
fn possible(operand: &Operand, ladder: &Ladder, tables: &[Table]) -> Vec<Value> {
    let all = |parts: &[Operand]| -> Vec<Value> {
        parts
            .iter()
            .flat_map(|part| possible(part, ladder, tables))
            .collect()
    };
    let mut values = match operand {
        Operand::Literal(value) => vec![*value],
        Operand::Lookup(lookup) => column(lookup, tables),
        Operand::Diameter(_) => ladder
            .rungs
            .iter()
            .map(|rung| Value::Length(rung.diameter))
            .collect(),
        Operand::Times {
            numerator,
            denominator,
            of,
        } => {
            let of = possible(of, ladder, tables).into_iter();
            of.filter_map(|value| value.scaled(*numerator, *denominator))
                .collect()
        }
        Operand::Sum(parts) => {
            let mut parts = parts.iter().map(|part| possible(part, ladder, tables));
            let first = parts.next().unwrap_or_default();
            parts.fold(first, |sums, next| {
                let pairs = sums.iter().flat_map(|sum| next.iter().map(|part| (*sum, *part)));
                let sums = pairs.take(MOST_VALUES + 1);
                sums.filter_map(|(sum, part)| sum.plus(part)).collect()
            })
        }
        Operand::LargerOf(parts) | Operand::SmallerOf(parts) => all(parts),
        // Sizes are all on the ladder, and a fact's own values stand with the fact.
        Operand::Fact(_)
        | Operand::SmallestSize { .. }
        | Operand::SizeFor(_)
        | Operand::SizesUp(..)
        | Operand::FlowAsLoad { .. } => Vec::new(),
    };
    values.truncate(MOST_VALUES + 1);
    values
}

fn parted(fact: Fact, mut values: Vec<Value>, ladder: &Ladder) -> Option<Vec<Region>> {
    let dimension = fact.dimension();
    let mut regions = vec![Region::Absent];
    match dimension {
        Dimension::Truth => regions.extend([true, false].map(|truth| Region::Is(Value::Truth(truth)))),
        Dimension::Size => regions.extend(ladder.sizes().map(|size| Region::Is(Value::Size(size)))),
        Dimension::Word(words) => {
            let named = |word: &&&'static str| values.contains(&Value::Word(word));
            regions.extend(
                words
                    .iter()
                    .filter(named)
                    .map(|word| Region::Is(Value::Word(word))),
            );
            // Words that nothing names are alike: one stands for all of them.
            let other = words.iter().find(|word| !named(word));
            regions.extend(other.map(|word| Region::Is(Value::Word(word))));
        }
        _ => {
            let floor = least(dimension);
            values.extend(floor);
            values.sort_by(|one, other| one.compare(*other).unwrap_or(Ordering::Equal));
            values.dedup();
            values.retain(|value| floor.is_none_or(|floor| value.compare(floor) != Some(Ordering::Less)));
            if values.len() > MOST_VALUES {
                return None;
            }
            if floor.is_none() {
                regions.extend(between(None, values.first().copied()));
            }
            for (index, value) in values.iter().enumerate() {
                regions.push(Region::Is(*value));
                regions.extend(between(Some(*value), values.get(index + 1).copied()));
            }
        }
    }
    (regions.len() <= 2 * MOST_VALUES + 3).then_some(regions)
}
