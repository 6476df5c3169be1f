//! Which of two amendments stands where both change the same thing.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use serde_yaml::Value as Yaml;

use super::wire::Order;
use crate::model::{Check, Comparison, Condition, Operand, RuleSet};
use crate::table::Content;
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

    /// The same of what stands in cells: nothing asks more than what is not permitted, or less than what has no
    /// limit.
    pub(crate) fn is_more_of_cells(self, new: Content, old: Content) -> Option<bool> {
        match (new, old) {
            (Content::Value(new), Content::Value(old)) => self.is_more(new, old),
            (Content::Unfilled, _) | (_, Content::Unfilled) => None,
            (new, old) => {
                let rank = |content| match content {
                    Content::Barred => 2,
                    Content::Unlimited => 0,
                    _ => 1,
                };
                Some(rank(new) > rank(old))
            }
        }
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
#[derive(Debug, Clone)]
pub(crate) struct Touch {
    /// The amendment's place in the order.
    pub(crate) layer: usize,
    /// Its name.
    pub(crate) by: String,
    /// What stood there before, as written; what `was` of a later amendment may speak of.
    pub(crate) before: Yaml,
    /// Whether nothing stands there any more.
    pub(crate) dropped: bool,
}

/// The changes that have been made, by the way to what was changed: list items by their names, since their numbers
/// move.
#[derive(Debug, Clone, Default)]
pub(crate) struct Touches {
    by_way: BTreeMap<Vec<String>, Vec<Touch>>,
}

impl Touches {
    /// Notes a change; of several by one amendment the first, which knows what stood there before.
    pub(crate) fn note(&mut self, way: Vec<String>, touch: Touch) {
        let touches = self.by_way.entry(way).or_default();
        match touches.last_mut() {
            Some(last) if last.layer == touch.layer => last.dropped |= touch.dropped,
            _ => touches.push(touch),
        }
    }

    /// The changes to what stands at `way`.
    pub(crate) fn at(&self, way: &[String]) -> &[Touch] {
        self.by_way.get(way).map_or(&[], Vec::as_slice)
    }

    /// The last change by an amendment before `layer` to what stands at `way`, to a part of it, or to what it is a
    /// part of.
    pub(crate) fn before(&self, layer: usize, way: &[String]) -> Option<&Touch> {
        let above = (1..way.len()).filter_map(|end| self.by_way.get(way.get(..end)?));
        let below = self
            .by_way
            .range(way.to_vec()..)
            .take_while(|(own, _)| own.starts_with(way))
            .map(|(_, touches)| touches);
        let all = above.chain(below).flatten();
        all.filter(|touch| touch.layer < layer)
            .max_by_key(|touch| touch.layer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_asks_more_than_itself() {
        for content in [
            Content::Barred,
            Content::Unlimited,
            Content::Value(Value::Count(1)),
        ] {
            for stricter in [Stricter::Larger, Stricter::Smaller] {
                assert_eq!(stricter.is_more_of_cells(content, content), Some(false));
            }
        }
    }
}
