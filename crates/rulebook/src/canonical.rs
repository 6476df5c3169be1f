//! Conditions and operands in a form of one spelling: what means the same reads the same.
//!
//! It keeps values exact, where `words` may round them for people; it is never shown.

use crate::model::{Check, Comparison, Condition, FactTest, Lookup, Operand};
use crate::table::Table;
use crate::value::{Size, Value};

/// Writes the conditions of one rule set in one spelling. `size` names its sizes.
pub(crate) struct Canonical<'a> {
    pub(crate) tables: &'a [Table],
    pub(crate) size: &'a dyn Fn(Size) -> String,
}

impl Canonical<'_> {
    pub(crate) fn value(&self, value: Value) -> String {
        match value {
            Value::Size(size) => format!("size {}", (self.size)(size)),
            other => format!("{other:?}"),
        }
    }

    pub(crate) fn condition(&self, condition: &Condition) -> String {
        match condition {
            Condition::All(_) => self.list(condition, "all"),
            Condition::Any(_) => self.list(condition, "any"),
            Condition::Not(inner) => match inner.as_ref() {
                Condition::Not(twice) => self.condition(twice),
                inner => format!("not({})", self.condition(inner)),
            },
            Condition::Test(test) => self.test(test),
        }
    }

    /// The parts of a list in order, each once, lists within lists of their kind laid open.
    fn list(&self, condition: &Condition, kind: &str) -> String {
        let mut parts = Vec::new();
        self.gather(condition, kind, &mut parts);
        parts.sort();
        parts.dedup();
        match &parts[..] {
            [only] => only.clone(),
            parts => format!("{kind}({})", parts.join("; ")),
        }
    }

    fn gather(&self, condition: &Condition, kind: &str, parts: &mut Vec<String>) {
        match (condition, kind) {
            (Condition::All(inner), "all") | (Condition::Any(inner), "any") => {
                inner.iter().for_each(|part| self.gather(part, kind, parts));
            }
            _ => parts.push(self.condition(condition)),
        }
    }

    fn test(&self, test: &FactTest) -> String {
        let fact = test.fact.name();
        match &test.check {
            Check::Present(wanted) => format!("{fact} present {wanted}"),
            // What is not true is false, and the other way about; what is absent is neither.
            Check::Among { values, wanted } => match (&values[..], wanted) {
                ([Value::Truth(truth)], false) => self.among(fact, &[Value::Truth(!truth)], true),
                _ => self.among(fact, values, *wanted),
            },
            Check::Compare(Comparison::Is, Operand::Literal(value)) => self.among(fact, &[*value], true),
            Check::Compare(comparison, limit) => {
                format!("{fact} {} {}", comparison.name(), self.operand(limit))
            }
        }
    }

    fn among(&self, fact: &str, values: &[Value], wanted: bool) -> String {
        let verb = if wanted { "among" } else { "outside" };
        let mut values: Vec<_> = values.iter().map(|value| self.value(*value)).collect();
        values.sort();
        values.dedup();
        format!("{fact} {verb} {}", values.join(" "))
    }

    pub(crate) fn operand(&self, operand: &Operand) -> String {
        let all = |parts: &[Operand]| sorted(parts.iter().map(|part| self.operand(part)).collect());
        match operand {
            Operand::Literal(value) => self.value(*value),
            Operand::Fact(fact) => fact.name().to_owned(),
            Operand::Lookup(lookup) => self.lookup(lookup, None),
            Operand::SmallestSize {
                lookup,
                size_key,
                holds,
            } => {
                format!(
                    "smallest {} holding {}",
                    self.lookup(lookup, Some(*size_key)),
                    self.operand(holds)
                )
            }
            Operand::Times {
                numerator,
                denominator,
                of,
            } => {
                let common = common_divisor(*numerator, *denominator);
                format!(
                    "{}/{} of {}",
                    numerator / common,
                    denominator / common,
                    self.operand(of)
                )
            }
            Operand::Sum(parts) => format!("sum of {}", all(parts)),
            Operand::LargerOf(parts) => format!("larger of {}", all(parts)),
            Operand::SmallerOf(parts) => format!("smaller of {}", all(parts)),
            Operand::Diameter(size) => format!("diameter of {}", self.operand(size)),
            Operand::SizeFor(diameter) => format!("size for {}", self.operand(diameter)),
            Operand::SizesUp(steps, size) => format!("{steps} up from {}", self.operand(size)),
            Operand::FlowAsLoad { flow, per, load } => {
                format!("{} at {load:?} per {per:?}", self.operand(flow))
            }
        }
    }

    fn lookup(&self, lookup: &Lookup, sought: Option<usize>) -> String {
        let Some(table) = self.tables.get(lookup.table) else {
            return String::new();
        };
        let keys = table.keys.iter().zip(&lookup.keys).enumerate();
        let keys = keys.map(|(index, (key, operand))| match Some(index) == sought {
            true => format!("{} sought", key.name),
            false => format!("{}: {}", key.name, self.operand(operand)),
        });
        let column = table.columns.get(lookup.column);
        format!(
            "{}.{} by {}",
            table.name,
            column.map_or("", |column| column.name.as_str()),
            sorted(keys.collect())
        )
    }
}

fn sorted(mut parts: Vec<String>) -> String {
    parts.sort();
    format!("({})", parts.join(", "))
}

fn common_divisor(one: i64, other: i64) -> i64 {
    let (mut one, mut other) = (one.unsigned_abs(), other.unsigned_abs());
    while other != 0 {
        (one, other) = (other, one % other);
    }
    i64::try_from(one).unwrap_or(1).max(1)
}
