//! How a verdict was reached, step by step: each fact with its value, each table cell read, each comparison.

use crownweir_rulebook::{
    ArrangementCondition, Check, Citation, Condition, Operand, Place, Rule, Subject, Test, Value,
};

use crate::evaluate::{Outcome, condition, look_up, operand, test};
use crate::measure::Measured;
use crate::report::Finding;
use crate::show;

/// A step of the workings.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Step {
    /// A fact was measured.
    Fact {
        /// The fact's name.
        fact: &'static str,
        /// Its value in the network's notation.
        value: String,
    },
    /// A table's cell was read.
    Cell {
        /// The table's name.
        table: String,
        /// The row's index in the table.
        row: usize,
        /// What it was looked up by.
        keys: Vec<(String, String)>,
        /// The column's name.
        column: String,
        /// What the cell says.
        content: String,
        /// Where the cell comes from.
        citation: Box<Citation>,
        /// Where it is written.
        place: Place,
    },
    /// A figure was reckoned from others.
    Reckoned {
        /// How.
        how: String,
        /// What came of it.
        value: String,
    },
    /// A comparison was made.
    Compared {
        /// The comparison in words.
        what: String,
        /// What came of it.
        outcome: Outcome,
    },
    /// A condition has parts of which all, or at least one, must hold; or one that must not.
    Parts {
        /// `all of`, `any of` or `not`.
        how: &'static str,
        /// The parts.
        steps: Vec<Step>,
    },
}

/// An element that a rule holds for.
#[derive(Debug, Clone)]
pub struct Pass {
    /// What the element is.
    pub kind: String,
    /// The element's name.
    pub name: String,
    /// How the verdict was reached.
    pub steps: Vec<Step>,
}

impl Measured<'_> {
    /// How a finding was reached.
    #[must_use]
    pub fn workings_of(&self, finding: &Finding) -> Vec<Step> {
        let number = finding.number();
        match self.rules.rule(&finding.rule) {
            Some(rule) => self.workings(rule, number),
            None => self.protection_workings(number),
        }
    }

    /// Every element that a rule holds for, with how that was reached.
    pub fn passes<'m>(&'m self, rule: &'m Rule) -> impl Iterator<Item = Pass> + 'm {
        let judged =
            |part: &Condition, element| condition(self, rule.subject, element, part) == Outcome::Satisfied;
        self.elements(rule.subject)
            .into_iter()
            .filter(move |&element| {
                let requires = rule.require.as_ref();
                judged(&rule.when, element) && requires.is_some_and(|require| judged(require, element))
            })
            .map(move |element| {
                let described = show::subject_in_words(self, rule.subject, element);
                Pass {
                    kind: described.kind,
                    name: described.name,
                    steps: self.workings(rule, element),
                }
            })
    }

    /// How a rule's verdict on an element was reached: first whether it applies, then what it asks.
    #[must_use]
    pub fn workings(&self, rule: &Rule, element: u32) -> Vec<Step> {
        let mut steps = Vec::new();
        self.condition_steps(rule.subject, element, &rule.when, &mut steps);
        if let Some(require) = &rule.require {
            self.condition_steps(rule.subject, element, require, &mut steps);
        }
        steps
    }

    /// How a trap's arrangements were judged: every condition of each whose shape the trap has.
    #[must_use]
    pub fn protection_workings(&self, fixture: u32) -> Vec<Step> {
        let patterns = self.patterns(fixture);
        let mut steps = vec![Step::Fact {
            fact: crownweir_rulebook::Fact::ProtectionPattern.name(),
            value: show::got(
                self,
                self.fact(
                    Subject::Trap,
                    fixture,
                    crownweir_rulebook::Fact::ProtectionPattern,
                ),
            ),
        }];
        for arrangement in &self.rules.arrangements {
            if !patterns.contains(&arrangement.pattern) {
                continue;
            }
            let mut inner = Vec::new();
            for ArrangementCondition { require, .. } in &arrangement.conditions {
                self.condition_steps(Subject::Trap, fixture, require, &mut inner);
            }
            steps.push(Step::Reckoned {
                how: "arrangement".to_owned(),
                value: arrangement.title.clone(),
            });
            steps.append(&mut inner);
        }
        steps
    }

    fn condition_steps(&self, subject: Subject, element: u32, one: &Condition, steps: &mut Vec<Step>) {
        let (how, parts): (_, &[Condition]) = match one {
            Condition::All(parts) => {
                for part in parts {
                    self.condition_steps(subject, element, part, steps);
                }
                return;
            }
            Condition::Any(parts) => ("any of", parts),
            Condition::Not(inner) => ("not", std::slice::from_ref(inner)),
            Condition::Test(test) => return self.test_steps(subject, element, test, steps),
        };
        let mut inner = Vec::new();
        for part in parts {
            self.condition_steps(subject, element, part, &mut inner);
        }
        steps.push(Step::Parts { how, steps: inner });
    }

    fn test_steps(&self, subject: Subject, element: u32, one: &Test, steps: &mut Vec<Step>) {
        let measured = show::got(self, self.fact(subject, element, one.fact));
        steps.push(Step::Fact {
            fact: one.fact.name(),
            value: measured.clone(),
        });
        let what = match &one.check {
            Check::Present(true) => "is there".to_owned(),
            Check::Present(false) => "is not there".to_owned(),
            Check::Among { values, wanted } => {
                let values: Vec<_> = values.iter().map(|value| show::value(self, *value)).collect();
                let verb = if *wanted { "is" } else { "is not" };
                format!("{measured} {verb} {}", values.join(" or "))
            }
            Check::Compare(comparison, limit) => {
                self.operand_steps(subject, element, limit, steps);
                let limit = show::limit(self, operand(self, subject, element, limit));
                let relation = comparison.name();
                format!("{measured} {relation} {limit}")
            }
        };
        steps.push(Step::Compared {
            what,
            outcome: test(self, subject, element, one),
        });
    }

    fn operand_steps(&self, subject: Subject, element: u32, one: &Operand, steps: &mut Vec<Step>) {
        let value = || show::limit(self, operand(self, subject, element, one));
        let how = match one {
            Operand::Literal(_) => return,
            Operand::Fact(fact) => {
                steps.push(Step::Fact {
                    fact: fact.name(),
                    value: value(),
                });
                return;
            }
            Operand::Lookup(lookup) => {
                let Some(table) = self.rules.table(lookup.table) else {
                    return;
                };
                for key in &lookup.keys {
                    self.operand_steps(subject, element, key, steps);
                }
                let Ok((row, values)) = look_up(self, subject, element, lookup, None) else {
                    return;
                };
                let keys = table.keys.iter().zip(values);
                let cell = table.rows.get(row).and_then(|row| row.cells.get(lookup.column));
                let own = cell.and_then(|cell| cell.citation.clone());
                steps.push(Step::Cell {
                    table: table.name.clone(),
                    row,
                    keys: keys
                        .map(|(key, value)| (key.name.clone(), show::value(self, value)))
                        .collect(),
                    column: table
                        .columns
                        .get(lookup.column)
                        .map_or_else(String::new, |column| column.name.clone()),
                    content: value(),
                    citation: Box::new(own.unwrap_or_else(|| table.citation.clone())),
                    place: cell.map_or_else(|| table.place.clone(), |cell| cell.place.clone()),
                });
                return;
            }
            Operand::SmallestSize { lookup, holds, .. } => {
                self.operand_steps(subject, element, holds, steps);
                let needed = show::limit(self, operand(self, subject, element, holds));
                let table = self.rules.table(lookup.table);
                let name = table.map_or("", |table| table.name.as_str());
                let column = table
                    .and_then(|table| table.columns.get(lookup.column))
                    .map_or("", |column| column.name.as_str());
                format!("smallest size whose `{column}` in the table `{name}` is at least {needed}")
            }
            Operand::Times {
                numerator,
                denominator,
                of,
            } => {
                self.operand_steps(subject, element, of, steps);
                let of = show::limit(self, operand(self, subject, element, of));
                if *denominator == 1 {
                    format!("{numerator} times {of}")
                } else {
                    format!("{numerator}/{denominator} of {of}")
                }
            }
            Operand::Sum(parts) => self.parts(subject, element, "sum of", parts, steps),
            Operand::LargerOf(parts) => self.parts(subject, element, "larger of", parts, steps),
            Operand::SmallerOf(parts) => self.parts(subject, element, "smaller of", parts, steps),
            Operand::Diameter(size) => {
                self.parts(subject, element, "diameter of", std::slice::from_ref(size), steps)
            }
            Operand::SizeFor(diameter) => self.parts(
                subject,
                element,
                "smallest size of at least",
                std::slice::from_ref(diameter),
                steps,
            ),
            Operand::SizesUp(count, size) => {
                let how = if *count == 1 {
                    "one size up from"
                } else {
                    "sizes up from"
                };
                self.parts(subject, element, how, std::slice::from_ref(size), steps)
            }
            Operand::FlowAsLoad { flow, per, load } => {
                self.operand_steps(subject, element, flow, steps);
                format!("at {} for each {per}", show::value(self, Value::Load(*load)))
            }
        };
        steps.push(Step::Reckoned { how, value: value() });
    }

    fn parts(
        &self,
        subject: Subject,
        element: u32,
        how: &str,
        parts: &[Operand],
        steps: &mut Vec<Step>,
    ) -> String {
        let mut named = Vec::with_capacity(parts.len());
        for part in parts {
            self.operand_steps(subject, element, part, steps);
            named.push(show::limit(self, operand(self, subject, element, part)));
        }
        format!("{how} {}", named.join(" and "))
    }
}
