//! Which of two amendments stands where both change the same thing.

use std::cmp::Ordering;

use super::wire::Order;
use crate::model::{Check, Comparison, Condition, Operand, RuleSet};
use crate::value::Value;

/// In which direction a value asks more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stricter {
    Larger,
    Smaller,
}

impl Stricter {
    /// Of a limit that a fact is held to.
    pub(crate) fn of_limit(order: Order) -> Option<Self> {
        match order {
            Order::AtLeast | Order::MoreThan => Some(Self::Larger),
            Order::AtMost | Order::LessThan => Some(Self::Smaller),
            _ => None,
        }
    }

    /// Of a column of a table, by how the rules use it; none where they use it both ways or not at all.
    pub(crate) fn of_column(rules: &RuleSet, table: &str, column: Option<&str>) -> Option<Self> {
        let table = rules.tables.iter().position(|own| own.name == table)?;
        let columns = &rules.tables.get(table)?.columns;
        let column = match column {
            Some(name) => columns.iter().position(|column| column.name == name)?,
            None => 0,
        };
        let mut found = Vec::new();
        for rule in &rules.rules {
            if let Some(require) = &rule.require {
                in_condition(require, (table, column), &mut found);
            }
        }
        for arrangement in &rules.arrangements {
            for condition in &arrangement.conditions {
                in_condition(&condition.require, (table, column), &mut found);
            }
        }
        let first = *found.first()?;
        found.iter().all(|one| *one == first).then_some(first)
    }

    /// Whether `new` asks more than `old` does; none where they cannot be compared.
    pub(crate) fn is_more(self, new: Value, old: Value) -> Option<bool> {
        let wanted = match self {
            Self::Larger => Ordering::Greater,
            Self::Smaller => Ordering::Less,
        };
        Some(new.compare(old)? == wanted)
    }

    fn turned(self) -> Self {
        match self {
            Self::Larger => Self::Smaller,
            Self::Smaller => Self::Larger,
        }
    }
}

fn in_condition(condition: &Condition, cell: (usize, usize), found: &mut Vec<Stricter>) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => {
            for part in parts {
                in_condition(part, cell, found);
            }
        }
        // What may not hold is the other way round; no rule of ours needs it, and unknown is safe.
        Condition::Not(_) => {}
        Condition::Test(test) => {
            if let Check::Compare(comparison, operand) = &test.check {
                let larger = matches!(comparison, Comparison::AtLeast | Comparison::MoreThan);
                let smaller = matches!(comparison, Comparison::AtMost | Comparison::LessThan);
                if larger || smaller {
                    let stricter = if larger {
                        Stricter::Larger
                    } else {
                        Stricter::Smaller
                    };
                    in_operand(operand, cell, stricter, found);
                }
            }
        }
    }
}

fn in_operand(operand: &Operand, cell: (usize, usize), stricter: Stricter, found: &mut Vec<Stricter>) {
    match operand {
        Operand::Lookup(lookup) if (lookup.table, lookup.column) == cell => found.push(stricter),
        // Where cells hold less, the smallest size that holds enough is larger.
        Operand::SmallestSize { lookup, .. } if (lookup.table, lookup.column) == cell => {
            found.push(stricter.turned());
        }
        Operand::Times { of, .. }
        | Operand::Diameter(of)
        | Operand::SizeFor(of)
        | Operand::SizesUp(_, of) => in_operand(of, cell, stricter, found),
        Operand::Sum(parts) | Operand::LargerOf(parts) | Operand::SmallerOf(parts) => {
            for part in parts {
                in_operand(part, cell, stricter, found);
            }
        }
        _ => {}
    }
}

/// A change that has been made, for later ones to be held against.
pub(crate) struct Touch {
    /// The way to what was changed, list items by their names, since their numbers move.
    pub(crate) way: Vec<String>,
    /// The amendment's place in the order.
    pub(crate) layer: usize,
    /// Its name.
    pub(crate) by: String,
    /// What stood there before, as written; what `was` of a later amendment may speak of.
    pub(crate) before: serde_yaml::Value,
}

impl Touch {
    /// Whether it concerns what stands at `way`, a part of it, or what it is a part of.
    pub(crate) fn concerns(&self, way: &[String]) -> bool {
        let shared = self.way.len().min(way.len());
        self.way.iter().take(shared).eq(way.iter().take(shared))
    }
}
