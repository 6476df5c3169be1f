//! Conditions, operands and look-ups in three values, over facts that the oracle measures.

use std::cmp::Ordering;

use crownweir_quantity::{Length, Load};
use crownweir_rulebook::{
    Check, Comparison, Condition, Content, Dimension, Fact, Lookup, Match, Operand, Rule, Subject, Table, Value,
};

use crownweir_network::{NodeId, PipeId};

use crate::{Got, Oracle};

/// What comes of a condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// It holds.
    Holds,
    /// It does not.
    Fails,
    /// It cannot be told.
    Open,
}

/// What a rule comes to on an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// It does not apply.
    NotApplicable,
    /// It holds.
    Satisfied,
    /// It is broken.
    Violated,
    /// It cannot be told.
    Undetermined,
    /// Only a visit tells.
    OnSite,
}

/// What an operand comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// A value.
    Known(Value),
    /// Not permitted.
    Barred,
    /// No limit.
    Unlimited,
    /// No such thing.
    Absent,
    /// Not known.
    Open,
}

/// Every fact that a condition reads.
pub fn facts_of(condition: &Condition, found: &mut Vec<Fact>) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => {
            for part in parts {
                facts_of(part, found);
            }
        }
        Condition::Not(inner) => facts_of(inner, found),
        Condition::Test(test) => {
            found.push(test.fact);
            if let Check::Compare(_, operand) = &test.check {
                operand_facts(operand, found);
            }
        }
    }
}

pub(crate) fn operand_facts(operand: &Operand, found: &mut Vec<Fact>) {
    match operand {
        Operand::Literal(_) => {}
        Operand::Fact(fact) => found.push(*fact),
        Operand::Lookup(lookup) => lookup.keys.iter().for_each(|key| operand_facts(key, found)),
        Operand::SmallestSize { lookup, holds, .. } => {
            lookup.keys.iter().for_each(|key| operand_facts(key, found));
            operand_facts(holds, found);
        }
        Operand::Sum(parts) | Operand::LargerOf(parts) | Operand::SmallerOf(parts) => {
            parts.iter().for_each(|part| operand_facts(part, found));
        }
        Operand::Times { of, .. }
        | Operand::Diameter(of)
        | Operand::SizeFor(of)
        | Operand::SizesUp(_, of)
        | Operand::FlowAsLoad { flow: of, .. } => operand_facts(of, found),
    }
}

impl Oracle<'_> {
    /// What a rule comes to.
    #[must_use]
    pub fn verdict(&self, rule: &Rule, element: u32) -> Verdict {
        let applies = self.condition(rule.subject, element, &rule.when);
        let asked = rule
            .require
            .as_ref()
            .map(|require| self.condition(rule.subject, element, require));
        match (applies, asked) {
            (Outcome::Fails, _) => Verdict::NotApplicable,
            (_, None) => Verdict::OnSite,
            (_, Some(Outcome::Holds)) => Verdict::Satisfied,
            (Outcome::Holds, Some(Outcome::Fails)) => Verdict::Violated,
            _ => Verdict::Undetermined,
        }
    }

    /// Whether a condition holds of an element.
    #[must_use]
    pub fn condition(&self, subject: Subject, element: u32, condition: &Condition) -> Outcome {
        let of = |parts: &[Condition]| -> Vec<Outcome> {
            parts
                .iter()
                .map(|part| self.condition(subject, element, part))
                .collect()
        };
        match condition {
            Condition::All(parts) => {
                let all = of(parts);
                if all.contains(&Outcome::Fails) {
                    Outcome::Fails
                } else if all.contains(&Outcome::Open) {
                    Outcome::Open
                } else {
                    Outcome::Holds
                }
            }
            Condition::Any(parts) => {
                let any = of(parts);
                if any.contains(&Outcome::Holds) {
                    Outcome::Holds
                } else if any.contains(&Outcome::Open) {
                    Outcome::Open
                } else {
                    Outcome::Fails
                }
            }
            Condition::Not(inner) => match self.condition(subject, element, inner) {
                Outcome::Holds => Outcome::Fails,
                Outcome::Fails => Outcome::Holds,
                Outcome::Open => Outcome::Open,
            },
            Condition::Test(test) => {
                let holds = |holds: bool| if holds { Outcome::Holds } else { Outcome::Fails };
                if let Check::Compare(comparison, operand) = &test.check {
                    return self.compared(subject, element, (test.fact, *comparison, operand), &[]);
                }
                let value = match (self.fact(subject, element, test.fact), &test.check) {
                    (Some(Got::Known(_)), Check::Present(wanted)) => return holds(*wanted),
                    (Some(Got::Absent), Check::Present(wanted)) => return holds(!wanted),
                    (Some(Got::Missing), Check::Present(wanted)) if self.is_there(subject, element, test.fact) => {
                        return holds(*wanted);
                    }
                    (Some(Got::Known(value)), _) => value,
                    (Some(Got::Absent), _) => return Outcome::Fails,
                    (Some(Got::Missing) | None, _) => return Outcome::Open,
                };
                match &test.check {
                    Check::Present(_) | Check::Compare(..) => Outcome::Open,
                    Check::Among { values, wanted } => {
                        let among = values.iter().any(|one| value.compare(*one) == Some(Ordering::Equal));
                        holds(among == *wanted)
                    }
                }
            }
        }
    }

    /// What a comparison comes to where some facts are taken to be so. One that is open comes to what it does with each
    /// value of the first fact that is not known, if that is the same with all.
    fn compared(
        &self,
        subject: Subject,
        element: u32,
        test: (Fact, Comparison, &Operand),
        taken: &[(Fact, Value)],
    ) -> Outcome {
        let (fact, comparison, operand) = test;
        let limit = || self.operand_where(subject, element, operand, taken);
        let holds = match self.fact_where(subject, element, fact, taken) {
            Some(Got::Absent) => Some(false),
            Some(Got::Known(value)) => match limit() {
                Limit::Known(limit) => Some(compare(value, comparison, limit)),
                Limit::Unlimited => Some(matches!(comparison, Comparison::AtMost | Comparison::LessThan)),
                Limit::Barred | Limit::Absent => Some(false),
                Limit::Open => None,
            },
            Some(Got::Missing) | None => None,
        };
        if let Some(holds) = holds {
            return if holds { Outcome::Holds } else { Outcome::Fails };
        }
        let mut facts = vec![fact];
        operand_facts(operand, &mut facts);
        // What is asked may be more than is known of it, never less.
        if let (Some(Got::Known(value)), Comparison::AtLeast | Comparison::MoreThan) =
            (self.fact_where(subject, element, fact, taken), comparison)
            && let Some(least) = self.least_of(subject, element, operand, taken)
            && !compare(value, comparison, least)
        {
            return Outcome::Fails;
        }
        let is_open = |fact: &Fact| self.fact_where(subject, element, *fact, taken) == Some(Got::Missing);
        let mut open = facts.into_iter().filter(is_open);
        let values = open.find_map(|open| Some((open, self.values_of(subject, element, open, test)?)));
        let Some((open, values)) = values else {
            return Outcome::Open;
        };
        let came = values.into_iter().map(|value| {
            let taken = [taken, &[(open, value)]].concat();
            self.compared(subject, element, test, &taken)
        });
        came.reduce(|one, other| if one == other { one } else { Outcome::Open })
            .unwrap_or(Outcome::Open)
    }

    /// The values with which a comparison is gone through of a fact that is not known; nothing where it may come to any.
    fn values_of(
        &self,
        subject: Subject,
        element: u32,
        open: Fact,
        (fact, comparison, operand): (Fact, Comparison, &Operand),
    ) -> Option<Vec<Value>> {
        let ladder = &self.rules.ladder;
        Some(match open.dimension() {
            Dimension::Size => ladder.sizes().map(Value::Size).collect(),
            Dimension::Word(words) => words.iter().map(|word| Value::Word(word)).collect(),
            Dimension::Truth => [true, false].map(Value::Truth).to_vec(),
            Dimension::Length | Dimension::Angle if comparison != Comparison::Is => {
                let mut read = Vec::new();
                operand_facts(operand, &mut read);
                // What is absent holds to no limit, as what is endless holds to none that is a most.
                let is_most = matches!(comparison, Comparison::AtMost | Comparison::LessThan);
                if !is_most && open == Fact::TurnCleanoutDistance && !self.is_there(subject, element, open) {
                    return None;
                }
                match self.length_between(subject, element, open) {
                    Some((least, most)) if !read.contains(&open) => vec![least, most],
                    _ => return None,
                }
            }
            // One trap of the largest size at the least, and at the most one to each fixture.
            Dimension::Count if open == Fact::DrainLargestTraps => {
                let above = self.fixtures_above(self.from(PipeId::new(element as usize)));
                match above.len() {
                    most @ 0..=100 => (1..=most)
                        .filter_map(|most| Some(Value::Count(i64::try_from(most).ok()?)))
                        .collect(),
                    _ => return None,
                }
            }
            Dimension::Count => match self.least_and_most(subject, element, open) {
                Some((least, most @ 0..=100)) => (least..=most).map(Value::Count).collect(),
                _ => return None,
            },
            Dimension::Load if comparison != Comparison::Is => {
                let mut read = Vec::new();
                operand_facts(operand, &mut read);
                match self.load_between(subject, element, open) {
                    Some([Value::Load(least), Value::Load(most)]) if open != fact || !read.contains(&open) => {
                        let (least, most) = (least.thousandths(), most.thousandths());
                        let mut loads = self.loads_of_rows(operand, open);
                        loads.retain(|load| (least..=most).contains(load));
                        loads.extend([least, most]);
                        let load = |load| Value::Load(Load::from_thousandths(load));
                        loads.into_iter().map(load).collect()
                    }
                    _ => return None,
                }
            }
            _ => return None,
        })
    }

    /// What an operand comes to at the least by those of its parts that are known, of the larger of several.
    fn least_of(&self, subject: Subject, element: u32, operand: &Operand, taken: &[(Fact, Value)]) -> Option<Value> {
        let of = |part: &Operand| self.least_of(subject, element, part, taken);
        let ladder = &self.rules.ladder;
        match operand {
            Operand::LargerOf(parts) => {
                let known = parts.iter().filter_map(of);
                known.reduce(|one, other| {
                    if compare(other, Comparison::MoreThan, one) {
                        other
                    } else {
                        one
                    }
                })
            }
            Operand::Times {
                numerator,
                denominator,
                of: part,
            } if *numerator > 0 && *denominator > 0 => of(part)?.scaled(*numerator, *denominator),
            Operand::Diameter(part) => match of(part)? {
                Value::Size(size) => Some(Value::Length(ladder.rung(size)?.diameter)),
                _ => None,
            },
            Operand::SizeFor(part) => match of(part)? {
                Value::Length(diameter) => Some(Value::Size(ladder.at_least(diameter)?)),
                _ => None,
            },
            Operand::SizesUp(steps, part) => match of(part)? {
                Value::Size(size) => Some(Value::Size(ladder.up(size, *steps)?)),
                _ => None,
            },
            _ => match self.operand_where(subject, element, operand, taken) {
                Limit::Known(value) => Some(value),
                _ => None,
            },
        }
    }

    /// Whether what is not known of a fact leaves no doubt that there is such a thing.
    fn is_there(&self, subject: Subject, element: u32, fact: Fact) -> bool {
        let pipe = PipeId::new(element as usize);
        match fact {
            Fact::TurnCleanoutDistance => {
                let ends = self.length_between(subject, element, fact).is_some();
                ends && !self.turn_cleanouts(pipe).contains(&Got::Absent)
            }
            Fact::DrainLargestTraps => true,
            Fact::DrainHorizontalRun | Fact::DrainHorizontalTurn | Fact::DrainVerticalLength => {
                self.ends_of_run(pipe, fact).is_some()
            }
            _ if fact.dimension() == Dimension::Length => self.length_between(subject, element, fact).is_some(),
            _ if fact.dimension() == Dimension::Load => self.load_between(subject, element, fact).is_some(),
            _ => self.least_and_most(subject, element, fact).is_some(),
        }
    }

    /// Between which ends a length or an angle lies that is not known.
    fn length_between(&self, subject: Subject, element: u32, fact: Fact) -> Option<(Value, Value)> {
        let no_most = |least: Length| Some((Value::Length(least), Value::Length(Length::from_nanometres(i64::MAX))));
        match (subject, fact) {
            (Subject::Vent, Fact::VentDevelopedLength | Fact::VentHorizontalLength | Fact::VentLengthToAir) => {
                return no_most(self.least_vent_length(PipeId::new(element as usize), fact)?);
            }
            (Subject::Vent | Subject::Valve, _) => {
                let most = self.most_above_rim(subject, element, fact)?;
                return Some((Value::Length(Length::from_nanometres(-i64::MAX)), Value::Length(most)));
            }
            (Subject::Drain, Fact::DrainCleanoutDistance) => {
                let (least, most) = self.ends_of_cleanout_distance(PipeId::new(element as usize));
                let ends = [least, most.unwrap_or(i64::MAX)].map(|end| Value::Length(Length::from_nanometres(end)));
                return Some((ends[0], ends[1]));
            }
            (Subject::System, Fact::SystemJunctionCleanout) => return no_most(self.least_junction(true)?),
            (Subject::System, Fact::SystemJunctionAbove) => return no_most(self.least_junction(false)?),
            _ => {}
        }
        match subject {
            Subject::Drain => self.ends_of_run(PipeId::new(element as usize), fact),
            Subject::Turn if fact == Fact::TurnCleanoutDistance => {
                let endless = Value::Length(Length::from_nanometres(i64::MAX));
                match self.turn_cleanouts(PipeId::new(element as usize)) {
                    [Got::Known(least), Got::Known(most)] => Some((least, most)),
                    [Got::Known(least), Got::Absent | Got::Missing] => Some((least, endless)),
                    _ => None,
                }
            }
            Subject::Trap | Subject::TrapArm | Subject::Fixture => {
                let least = self.least_way(NodeId::new(element as usize), fact)?;
                Some((Value::Length(least), Value::Length(Length::from_nanometres(i64::MAX))))
            }
            _ => None,
        }
    }

    /// The fewest and the most that a count may come to which is not known: a stack has no more branch intervals than
    /// joints, and nothing stands on more storeys than the file lists.
    fn least_and_most(&self, subject: Subject, element: u32, fact: Fact) -> Option<(i64, i64)> {
        let number = |count: usize| i64::try_from(count).ok();
        let stack = match fact {
            Fact::StackIntervals | Fact::StackUnrelieved if matches!(subject, Subject::Stack | Subject::Drain) => {
                self.stack_for(subject, element)
            }
            Fact::DrainOffsetIntervals => self.stack_for(Subject::Drain, element),
            Fact::ValveStackIntervals => {
                let valve = NodeId::new(element as usize);
                let mut stacks = self.vents_to(valve).into_iter().flat_map(|vent| self.stacks_by(vent));
                stacks.next()
            }
            Fact::StackStoreys | Fact::StackFixtureStoreys | Fact::VentStoreys => {
                let storeys = number(self.network.storeys().len()).filter(|&storeys| storeys > 0)?;
                return Some((1, storeys));
            }
            Fact::CircuitFixtures => {
                let (least, most) = self.fewest_and_most(NodeId::new(element as usize))?;
                return Some((number(least)?, number(most)?));
            }
            _ => None,
        };
        Some((1, number(self.joints(&stack?).len())?))
    }

    pub(crate) fn fact_where(
        &self,
        subject: Subject,
        element: u32,
        fact: Fact,
        taken: &[(Fact, Value)],
    ) -> Option<Got> {
        match taken.iter().find(|(own, _)| *own == fact) {
            Some((_, value)) => Some(Got::Known(*value)),
            None => self.fact(subject, element, fact),
        }
    }

    /// What an operand comes to.
    #[must_use]
    pub fn operand(&self, subject: Subject, element: u32, operand: &Operand) -> Limit {
        self.operand_where(subject, element, operand, &[])
    }

    pub(crate) fn operand_where(
        &self,
        subject: Subject,
        element: u32,
        operand: &Operand,
        taken: &[(Fact, Value)],
    ) -> Limit {
        let of = |operand: &Operand| self.operand_where(subject, element, operand, taken);
        let or_open = |value: Option<Value>| value.map_or(Limit::Open, Limit::Known);
        let all = |parts: &[Operand], take: &dyn Fn(Value, Value) -> Option<Value>| {
            let mut sum = None;
            for part in parts {
                let Limit::Known(value) = of(part) else { return of(part) };
                sum = Some(match sum {
                    None => value,
                    Some(sum) => match take(sum, value) {
                        Some(sum) => sum,
                        None => return Limit::Open,
                    },
                });
            }
            sum.map_or(Limit::Absent, Limit::Known)
        };
        let ladder = &self.rules.ladder;
        match operand {
            Operand::Literal(value) => Limit::Known(*value),
            Operand::Fact(fact) => match self.fact_where(subject, element, *fact, taken) {
                Some(Got::Known(value)) => Limit::Known(value),
                Some(Got::Absent) => Limit::Absent,
                Some(Got::Missing) | None => Limit::Open,
            },
            Operand::Lookup(lookup) => self.look_up(&of, lookup, None),
            Operand::SmallestSize {
                lookup,
                size_key,
                holds,
            } => {
                let needed = match of(holds) {
                    Limit::Known(needed) => needed,
                    other => return other,
                };
                for size in ladder.sizes() {
                    let given = Some((*size_key, Value::Size(size)));
                    match self.look_up(&of, lookup, given) {
                        Limit::Known(most) if !compare(most, Comparison::LessThan, needed) => {
                            return Limit::Known(Value::Size(size));
                        }
                        Limit::Unlimited => return Limit::Known(Value::Size(size)),
                        // A size without a row is passed over; a blank cell is not.
                        Limit::Open if self.row_of(&of, lookup, given).is_some() => return Limit::Open,
                        Limit::Open
                            if lookup
                                .keys
                                .iter()
                                .enumerate()
                                .any(|(at, key)| at != *size_key && of(key) == Limit::Open) =>
                        {
                            return Limit::Open;
                        }
                        Limit::Absent => return Limit::Absent,
                        _ => {}
                    }
                }
                Limit::Barred
            }
            Operand::Times {
                numerator,
                denominator,
                of: inner,
            } => match of(inner) {
                Limit::Known(value) => or_open(value.scaled(*numerator, *denominator)),
                other => other,
            },
            Operand::Sum(parts) => all(parts, &|one, other| one.plus(other)),
            Operand::LargerOf(parts) => all(parts, &|one, other| {
                Some(if compare(one, Comparison::LessThan, other) {
                    other
                } else {
                    one
                })
            }),
            Operand::SmallerOf(parts) => all(parts, &|one, other| {
                Some(if compare(one, Comparison::MoreThan, other) {
                    other
                } else {
                    one
                })
            }),
            Operand::Diameter(size) => match of(size) {
                Limit::Known(Value::Size(size)) => or_open(ladder.rung(size).map(|rung| Value::Length(rung.diameter))),
                other => other,
            },
            Operand::SizeFor(diameter) => match of(diameter) {
                Limit::Known(Value::Length(length)) => {
                    let fits = ladder
                        .sizes()
                        .find(|&size| ladder.rung(size).is_some_and(|rung| rung.diameter >= length));
                    fits.map_or(Limit::Barred, |size| Limit::Known(Value::Size(size)))
                }
                other => other,
            },
            Operand::SizesUp(steps, size) => match of(size) {
                Limit::Known(Value::Size(size)) => {
                    let up = ladder.sizes().nth(usize::from(size.0) + usize::from(*steps));
                    up.map_or(Limit::Barred, |size| Limit::Known(Value::Size(size)))
                }
                other => other,
            },
            Operand::FlowAsLoad { flow, per, load } => match of(flow) {
                Limit::Known(Value::Flow(flow)) => {
                    let per = i128::from(per.picolitres_per_minute());
                    let product = i128::from(flow.picolitres_per_minute()) * i128::from(load.thousandths());
                    let rounded_up = (product + per - 1) / per;
                    let load = i64::try_from(rounded_up).ok().map(Load::from_thousandths);
                    or_open(load.map(Value::Load))
                }
                other => other,
            },
        }
    }

    fn row_of(&self, of: &dyn Fn(&Operand) -> Limit, lookup: &Lookup, given: Option<(usize, Value)>) -> Option<usize> {
        let mut values = Vec::new();
        for (at, key) in lookup.keys.iter().enumerate() {
            match given.filter(|(own, _)| *own == at) {
                Some((_, value)) => values.push(value),
                None => match of(key) {
                    Limit::Known(value) => values.push(value),
                    _ => return None,
                },
            }
        }
        row(self.rules.table(lookup.table)?, &values)
    }

    fn look_up(&self, of: &dyn Fn(&Operand) -> Limit, lookup: &Lookup, given: Option<(usize, Value)>) -> Limit {
        for (at, key) in lookup.keys.iter().enumerate() {
            if given.is_some_and(|(own, _)| own == at) {
                continue;
            }
            match of(key) {
                Limit::Known(_) => {}
                other => return other,
            }
        }
        let Some(table) = self.rules.table(lookup.table) else {
            return Limit::Open;
        };
        let Some(row) = self.row_of(of, lookup, given) else {
            return Limit::Open;
        };
        match table.rows()[row].cells[lookup.column].content {
            Content::Value(value) => Limit::Known(value),
            Content::Barred => Limit::Barred,
            Content::Unlimited => Limit::Unlimited,
            Content::Unfilled => Limit::Open,
        }
    }
}

pub(crate) fn compare(value: Value, comparison: Comparison, limit: Value) -> bool {
    let Some(order) = value.compare(limit) else {
        return false;
    };
    match comparison {
        Comparison::Is => order.is_eq(),
        Comparison::AtLeast => order.is_ge(),
        Comparison::AtMost => order.is_le(),
        Comparison::MoreThan => order.is_gt(),
        Comparison::LessThan => order.is_lt(),
    }
}

/// The row that fits the keys most closely: of upper bounds the smallest, of lower bounds the largest.
fn row(table: &Table, values: &[Value]) -> Option<usize> {
    let fits = |row: usize| {
        table
            .keys()
            .iter()
            .zip(&table.rows()[row].keys)
            .zip(values)
            .all(|((key, bound), value)| {
                bound.is_none_or(|bound| match key.matching {
                    Match::Exact => compare(*value, Comparison::Is, bound),
                    Match::UpTo => compare(*value, Comparison::AtMost, bound),
                    Match::From => compare(*value, Comparison::AtLeast, bound),
                })
            })
    };
    (0..table.rows().len()).filter(|&row| fits(row)).reduce(|kept, row| {
        let closer = table.keys().iter().enumerate().any(|(at, key)| {
            match (table.rows()[row].keys[at], table.rows()[kept].keys[at], key.matching) {
                (Some(new), Some(old), Match::UpTo) => compare(new, Comparison::LessThan, old),
                (Some(new), Some(old), Match::From) => compare(new, Comparison::MoreThan, old),
                (Some(_), None, _) => true,
                _ => false,
            }
        });
        if closer { row } else { kept }
    })
}
