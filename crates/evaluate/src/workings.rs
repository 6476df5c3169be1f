//! How a verdict was reached, step by step: each fact with its value, each table cell read, each comparison.

use crownweir_network::Position;
use crownweir_rulebook::{
    Check, Citation, Condition, Fact, FactTest, Grain, Message, Operand, Piece, Place, Protection, Rule,
    Subject, Value,
};
use crownweir_vocabulary::Pattern;

use crate::check::Decision;
use crate::evaluate::{Keys, Limit, Outcome, condition, look_up, operand, test};
use crate::measure::{Chosen, Got, Measured};
use crate::protection::Arranged;
use crate::report::{Finding, Verdict};
use crate::show;

/// What came of a step, in words and exactly, so that it can be reckoned with anew.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Shown {
    /// As reports print it, in the network's notation.
    pub text: String,
    /// The name of the value's dimension; `not_permitted`, `no_limit`, `absent` or `open` where there is no value.
    pub is: &'static str,
    /// The value: of a size, word or truth value as files write it, else a whole number or fraction. Lengths are in
    /// nanometres, slopes fall over length, angles in microdegrees, loads in thousandths, flows in picolitres a
    /// minute, volumes in picolitres, temperatures in 900ths of a kelvin, times in seconds, velocities in nanometres a
    /// second, ratios in parts of 720 million. Of what is open, the least and the most that it may be, as `1 to 3`, where
    /// that can be told.
    pub exact: Option<String>,
}

/// A step of the workings.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Step {
    /// A fact was measured.
    Fact {
        /// The fact's name.
        fact: &'static str,
        /// Its value.
        value: Shown,
    },
    /// A table's cell was read.
    Cell {
        /// The table's name.
        table: String,
        /// The row's index in the table.
        row: usize,
        /// What it was looked up by.
        keys: Vec<(String, Shown)>,
        /// The column's name.
        column: String,
        /// What the cell says.
        content: Shown,
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
        value: Shown,
    },
    /// A comparison was made.
    Compared {
        /// The comparison in words.
        what: String,
        /// The limit, where the fact was held to one.
        limit: Option<Shown>,
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
    /// A trap was seen as these shapes, of which the rule set has arrangements.
    Shapes {
        /// Their names, the plainest first; `none` last, for a trap may do without a vent.
        patterns: Vec<&'static str>,
    },
    /// The conditions of an arrangement of one of those shapes were judged.
    Arrangement {
        /// Its name.
        name: String,
        /// Its title.
        title: String,
        /// The steps of each condition in turn.
        conditions: Vec<Vec<Step>>,
    },
    /// The message and the advice of a finding tell these figures, beside those that decide.
    Told {
        /// One fact or reckoning after the other, as they are told.
        steps: Vec<Step>,
    },
}

/// An element that a rule holds for.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Pass {
    /// The rule's name.
    pub rule: String,
    /// What the element is.
    pub kind: String,
    /// The element's name.
    pub name: String,
    /// Where the network file defines it.
    pub position: Position,
    /// How the verdict was reached.
    pub steps: Vec<Step>,
}

impl Measured<'_> {
    /// How a finding was reached.
    #[must_use]
    pub fn workings_of(&self, finding: &Finding) -> Vec<Step> {
        let number = finding.number();
        let Some(rule) = self.rules.rule(&finding.rule) else {
            let mut steps = self.protection_workings(number);
            if let Some(asked) = self
                .rules
                .protection
                .as_ref()
                .filter(|asked| asked.rule == finding.rule)
            {
                self.told_steps(Subject::Trap, number, &self.texts(asked, number), &[], &mut steps);
            }
            return steps;
        };
        let mut steps = self.workings(rule, number);
        if finding.verdict == Verdict::Violated {
            let texts: Vec<_> = std::iter::once(&rule.message).chain(&rule.advice).collect();
            self.told_steps(rule.subject, number, &texts, &rule.show, &mut steps);
        }
        steps
    }

    /// The texts that a finding about the protection of a trap is made of.
    fn texts<'m>(&'m self, asked: &'m Protection, fixture: u32) -> Vec<&'m Message> {
        let mut texts: Vec<_> = asked.advice.iter().collect();
        if let Arranged::Nearest(nearest) = self.arranged_now(fixture) {
            let (arrangement, failed) = nearest.unzip();
            texts.push(&asked.message);
            for number in failed.into_iter().flatten() {
                let condition = arrangement.and_then(|one| one.conditions.get(number));
                let own = condition.map(|one| std::iter::once(&one.message).chain(&one.advice));
                texts.extend(own.into_iter().flatten());
            }
        }
        texts
    }

    /// Adds what texts tell beside the figures that decide.
    fn told_steps(
        &self,
        subject: Subject,
        element: u32,
        texts: &[&Message],
        show: &[(String, Operand)],
        steps: &mut Vec<Step>,
    ) {
        let mut told = Vec::new();
        for piece in texts.iter().flat_map(|text| &text.pieces) {
            match piece {
                Piece::Fact(fact) => self.operand_steps(subject, element, &Operand::Fact(*fact), &mut told),
                Piece::Shown(number) => {
                    if let Some((_, operand)) = show.get(*number) {
                        self.operand_steps(subject, element, operand, &mut told);
                    }
                }
                Piece::Text(_) | Piece::Measured | Piece::Limit | Piece::LeastOrMost => {}
            }
        }
        if !told.is_empty() {
            steps.push(Step::Told { steps: told });
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
            .map(move |element| self.pass(&rule.name, rule.subject, element, self.workings(rule, element)))
    }

    /// Every trap that an arrangement protects without anyone's permission, with how that was reached.
    pub fn passes_of_protection(&self) -> impl Iterator<Item = Pass> + '_ {
        let protects = |fixture: u32| match self.chosen(fixture) {
            Some(Chosen::By(number)) => {
                let by = self.rules.arrangements.get(number);
                by.is_some_and(|by| !by.needs_approval)
            }
            _ => false,
        };
        self.rules.protection.iter().flat_map(move |asked| {
            let traps = self.elements(Subject::Trap).into_iter();
            traps.filter(move |&fixture| protects(fixture)).map(|fixture| {
                let steps = self.protection_workings(fixture);
                self.pass(&asked.rule, Subject::Trap, fixture, steps)
            })
        })
    }

    fn pass(&self, rule: &str, subject: Subject, element: u32, steps: Vec<Step>) -> Pass {
        let described = show::subject_in_words(self, subject, element);
        Pass {
            rule: rule.to_owned(),
            kind: described.kind,
            name: described.name,
            position: described.position,
            steps,
        }
    }

    fn shown(&self, limit: Limit) -> Shown {
        self.shown_to(limit, Grain::Usual)
    }

    /// A fact's value; where it is not known, its ends, so far as they are.
    fn shown_fact(&self, subject: Subject, element: u32, fact: Fact) -> Shown {
        let got = self.fact(subject, element, fact);
        let mut shown = self.shown(got.into());
        if matches!(got, Got::Missing(_))
            && let Some((least, most)) = self.range(subject, element, fact)
        {
            let [least, most] = [least, most].map(|end| end.exact(&self.rules.ladder).1);
            let or_absent = match self.may_be_absent(element, fact) {
                true => " or absent",
                false => "",
            };
            shown.exact = Some(format!("{least} to {most}{or_absent}"));
        }
        shown
    }

    fn shown_to(&self, limit: Limit, grain: Grain) -> Shown {
        let (is, exact) = match limit {
            Limit::Known(value) => {
                let (is, exact) = value.exact(&self.rules.ladder);
                (is, Some(exact))
            }
            Limit::Barred => ("not_permitted", None),
            Limit::Unlimited => ("no_limit", None),
            Limit::Absent => ("absent", None),
            Limit::Missing(_) => ("open", None),
        };
        Shown {
            text: show::limit_to(self, limit, grain),
            is,
            exact,
        }
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
        let fact = Fact::ProtectionPattern;
        let arrangements = &self.rules.arrangements;
        let mut shapes = self.patterns(fixture);
        let hangs_on_slope = shapes.is_empty() && self.state.air.supply(self, fixture).is_some();
        shapes.retain(|shape| arrangements.iter().any(|one| one.pattern == *shape));
        let combination = Some(Pattern::Combination).filter(|combination| {
            !hangs_on_slope && !shapes.contains(combination) && self.open_combination(fixture).is_some()
        });
        shapes.push(Pattern::None);
        let told = |fact: Fact| Step::Fact {
            fact: fact.name(),
            value: self.shown(self.fact(Subject::Trap, fixture, fact).into()),
        };
        let mut steps = vec![told(fact)];
        // Whether it is seen as part of a combination drain may hang on something that is not stated.
        steps.extend(combination.map(|_| told(Fact::CombinationVented)));
        steps.push(Step::Shapes {
            patterns: shapes.iter().map(|shape| shape.name()).collect(),
        });
        let of_a_shape = arrangements.iter().filter(|arrangement| {
            shapes.contains(&arrangement.pattern) || combination == Some(arrangement.pattern)
        });
        steps.extend(of_a_shape.map(|arrangement| {
            let judged = arrangement.conditions.iter().map(|one| {
                let mut inner = Vec::new();
                self.condition_steps(Subject::Trap, fixture, &one.require, &mut inner);
                inner
            });
            Step::Arrangement {
                name: arrangement.name.clone(),
                title: arrangement.title.clone(),
                conditions: judged.collect(),
            }
        }));
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

    fn test_steps(&self, subject: Subject, element: u32, one: &FactTest, steps: &mut Vec<Step>) {
        let value = self.shown_fact(subject, element, one.fact);
        let measured = value.text.clone();
        steps.push(Step::Fact {
            fact: one.fact.name(),
            value,
        });
        let (what, limit) = match &one.check {
            Check::Present(true) => ("is there".to_owned(), None),
            Check::Present(false) => ("is not there".to_owned(), None),
            Check::Among { values, wanted } => {
                let values: Vec<_> = values.iter().map(|value| show::value(self, *value)).collect();
                let verb = if *wanted { "is" } else { "is not" };
                (format!("{measured} {verb} {}", values.join(" or ")), None)
            }
            Check::Compare(comparison, limit) => {
                self.operand_steps(subject, element, limit, steps);
                let decision = Decision {
                    test: one,
                    measured: self.fact(subject, element, one.fact),
                    limit: self.told_limit(subject, element, one, limit),
                };
                let (own, limits) = decision.grains(self);
                let measured = show::limit_to(self, decision.measured.into(), own);
                let (limit, relation) = (self.shown_to(decision.limit, limits), comparison.name());
                (format!("{measured} {relation} {}", limit.text), Some(limit))
            }
        };
        steps.push(Step::Compared {
            what,
            limit,
            outcome: test(self, subject, element, one),
        });
    }

    fn operand_steps(&self, subject: Subject, element: u32, one: &Operand, steps: &mut Vec<Step>) {
        let value = || self.shown(operand(self, subject, element, one));
        let how = match one {
            Operand::Literal(_) => return,
            Operand::Fact(fact) => {
                steps.push(Step::Fact {
                    fact: fact.name(),
                    value: self.shown_fact(subject, element, *fact),
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
                let mut keys = Keys::default();
                let Ok(row) = look_up(self, subject, element, lookup, &mut keys) else {
                    return;
                };
                let keys = table.keys().iter().zip(keys.values());
                let cell = table.rows().get(row).and_then(|row| row.cells.get(lookup.column));
                let own = cell.and_then(|cell| cell.citation.clone());
                steps.push(Step::Cell {
                    table: table.name.clone(),
                    row,
                    keys: keys
                        .map(|(key, value)| (key.name.clone(), self.shown(Limit::Known(*value))))
                        .collect(),
                    column: table
                        .columns()
                        .get(lookup.column)
                        .map_or_else(String::new, |column| column.name.clone()),
                    content: value(),
                    citation: Box::new(own.unwrap_or_else(|| table.citation.clone())),
                    place: cell.map_or_else(|| table.place.clone(), |cell| cell.place.clone()),
                });
                return;
            }
            Operand::SmallestSize {
                lookup,
                size_key,
                holds,
            } => {
                let stated = lookup.keys.iter().enumerate();
                for (_, key) in stated.filter(|(index, _)| index != size_key) {
                    self.operand_steps(subject, element, key, steps);
                }
                self.operand_steps(subject, element, holds, steps);
                let needed = show::limit(self, operand(self, subject, element, holds));
                let table = self.rules.table(lookup.table);
                let name = table.map_or("", |table| table.name.as_str());
                let column = table
                    .and_then(|table| table.columns().get(lookup.column))
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
