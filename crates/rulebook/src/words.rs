//! Values, conditions and operands in words, for explanations, audits and comparisons.
//!
//! It judges nothing: the same condition always reads the same.

use crate::figures::Grain;
use crate::model::{Check, Condition, FactTest, Lookup, Operand, RuleSet};
use crate::table::{Content, Table};
use crate::value::{Ladder, Value};

/// Puts the conditions of one rule set into words.
#[derive(Debug, Clone, Copy)]
pub struct Words<'a> {
    ladder: &'a Ladder,
    tables: &'a [Table],
}

impl<'a> Words<'a> {
    /// The words for a rule set.
    #[must_use]
    pub fn of(rules: &'a RuleSet) -> Self {
        Self::from_parts(&rules.ladder, &rules.tables)
    }

    pub(crate) const fn from_parts(ladder: &'a Ladder, tables: &'a [Table]) -> Self {
        Self { ladder, tables }
    }

    /// A value, in the notation of the rule set's sizes where that need not round it.
    #[must_use]
    pub fn value(&self, value: Value) -> String {
        value.in_words_to(Grain::Exact, self.ladder, self.ladder.notation())
    }

    /// A table's key; none of them matches anything.
    #[must_use]
    pub fn key(&self, key: Option<Value>) -> String {
        key.map_or_else(|| "any".to_owned(), |key| self.value(key))
    }

    /// What a cell says.
    #[must_use]
    pub fn content(&self, content: Content) -> String {
        match content {
            Content::Value(value) => self.value(value),
            Content::Barred => "not permitted".to_owned(),
            Content::Unlimited => "no limit".to_owned(),
            Content::Unfilled => "to be filled from its source".to_owned(),
        }
    }

    /// A condition as a list over several lines, indented by `depth`; `empty` stands for one that holds always.
    #[must_use]
    pub fn condition(&self, condition: &Condition, depth: usize, empty: &str) -> String {
        let indent = "  ".repeat(depth);
        let list = |how: &str, parts: &[Condition]| {
            let parts = parts
                .iter()
                .map(|part| format!("\n{indent}- {}", self.condition(part, depth + 1, empty)));
            format!("{how}{}", parts.collect::<String>())
        };
        match condition {
            Condition::All(parts) if parts.is_empty() => empty.to_owned(),
            Condition::All(parts) => list("that all of these hold:", parts),
            Condition::Any(parts) => list("that one of these holds:", parts),
            Condition::Not(inner) => format!("not {}", self.condition(inner, depth, empty)),
            Condition::Test(test) => self.test(test),
        }
    }

    /// A condition in one line.
    #[must_use]
    pub fn in_line(&self, condition: &Condition) -> String {
        let list = |parts: &[Condition], with: &str| {
            let parts: Vec<_> = parts.iter().map(|part| self.within(part)).collect();
            parts.join(with)
        };
        match condition {
            Condition::All(parts) if parts.is_empty() => "always".to_owned(),
            Condition::Any(parts) if parts.is_empty() => "never".to_owned(),
            Condition::All(parts) => list(parts, " and "),
            Condition::Any(parts) => list(parts, " or "),
            Condition::Not(inner) => format!("not {}", self.within(inner)),
            Condition::Test(test) => self.test(test),
        }
    }

    fn within(&self, condition: &Condition) -> String {
        match condition {
            Condition::All(parts) | Condition::Any(parts) if parts.len() > 1 => {
                format!("({})", self.in_line(condition))
            }
            _ => self.in_line(condition),
        }
    }

    /// A single comparison.
    #[must_use]
    pub fn test(&self, test: &FactTest) -> String {
        let fact = test.fact.name();
        match &test.check {
            Check::Present(true) => format!("{fact} exists"),
            Check::Present(false) => format!("{fact} does not exist"),
            Check::Among { values, wanted } => {
                let values: Vec<_> = values.iter().map(|value| self.value(*value)).collect();
                let verb = if *wanted { "is" } else { "is not" };
                format!("{fact} {verb} {}", values.join(" or "))
            }
            Check::Compare(comparison, limit) => {
                format!("{fact} {} {}", comparison.name(), self.operand(limit))
            }
        }
    }

    /// An operand.
    #[must_use]
    pub fn operand(&self, operand: &Operand) -> String {
        let list = |parts: &[Operand], with: &str| {
            let parts: Vec<_> = parts.iter().map(|part| self.operand(part)).collect();
            parts.join(with)
        };
        match operand {
            Operand::Literal(value) => self.value(*value),
            Operand::Fact(fact) => fact.name().to_owned(),
            Operand::Lookup(lookup) => {
                let (table, column) = self.names(lookup);
                format!("`{column}` of table {table} for {}", self.keys(lookup, None))
            }
            Operand::SmallestSize {
                lookup,
                size_key,
                holds,
            } => {
                let (table, column) = self.names(lookup);
                let keys = self.keys(lookup, Some(*size_key));
                let keys = if keys.is_empty() {
                    keys
                } else {
                    format!(" for {keys}")
                };
                format!(
                    "the smallest size whose `{column}` in table {table}{keys} is at least {}",
                    self.operand(holds)
                )
            }
            Operand::Times {
                numerator,
                denominator,
                of,
            } => match denominator {
                1 => format!("{numerator} times {}", self.operand(of)),
                _ => format!("{numerator}/{denominator} of {}", self.operand(of)),
            },
            Operand::Sum(parts) => list(parts, " plus "),
            Operand::LargerOf(parts) => format!("the larger of {}", list(parts, " and ")),
            Operand::SmallerOf(parts) => format!("the smaller of {}", list(parts, " and ")),
            Operand::Diameter(size) => format!("the diameter of {}", self.operand(size)),
            Operand::SizeFor(diameter) => format!("the smallest size of at least {}", self.operand(diameter)),
            Operand::SizesUp(steps, size) => format!("{steps} up from {}", self.operand(size)),
            Operand::FlowAsLoad { flow, per, load } => {
                let load = self.value(Value::Load(*load));
                format!("{} at {load} for each {per}", self.operand(flow))
            }
        }
    }

    fn keys(&self, lookup: &Lookup, but: Option<usize>) -> String {
        let keys = lookup.keys.iter().enumerate();
        let keys = keys.filter(|(index, _)| Some(*index) != but);
        keys.map(|(_, key)| self.operand(key))
            .collect::<Vec<_>>()
            .join(" and ")
    }

    fn names(&self, lookup: &Lookup) -> (&str, &str) {
        let table = self.tables.get(lookup.table);
        let column = table.and_then(|table| table.columns.get(lookup.column));
        (
            table.map_or("", |table| table.name.as_str()),
            column.map_or("", |column| column.name.as_str()),
        )
    }
}
