//! Conditions and operands over regions: every outcome that some values in the regions could have.
//!
//! It mirrors how a condition is evaluated on a network, and errs only towards more outcomes, never fewer.

use std::collections::BTreeMap;

use super::region::{Orders, Region, orders};
use crate::facts::Fact;
use crate::model::{Check, Comparison, Condition, FactTest, Lookup, Operand};
use crate::table::{Content, Match, Table};
use crate::value::{Ladder, Value};

/// A set of outcomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Outcomes(u8);

impl Outcomes {
    const NONE: Self = Self(0);
    /// It holds.
    pub(crate) const HOLDS: Self = Self(1);
    /// It does not.
    pub(crate) const FAILS: Self = Self(2);
    /// No row is found that would say.
    pub(crate) const OPEN: Self = Self(4);
    const ANY: Self = Self(7);

    pub(crate) const fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    pub(crate) const fn meets(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    pub(crate) const fn is_within(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    fn only_if(self, possible: bool) -> Self {
        if possible { self } else { Self::NONE }
    }

    /// Both of two conditions.
    fn and(self, other: Self) -> Self {
        let not_failed = Self::HOLDS.or(Self::OPEN);
        let open = (self.meets(Self::OPEN) && other.meets(not_failed))
            || (other.meets(Self::OPEN) && self.meets(not_failed));
        Self::HOLDS
            .only_if(self.meets(Self::HOLDS) && other.meets(Self::HOLDS))
            .or(Self::FAILS.only_if(self.meets(Self::FAILS) || other.meets(Self::FAILS)))
            .or(Self::OPEN.only_if(open))
    }

    fn not(self) -> Self {
        Self::HOLDS
            .only_if(self.meets(Self::FAILS))
            .or(Self::FAILS.only_if(self.meets(Self::HOLDS)))
            .or(Self::OPEN.only_if(self.meets(Self::OPEN)))
    }
}

/// What an operand can come to.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Limit {
    /// A value in a region.
    In(Region),
    Barred,
    Unlimited,
    Absent,
    /// A look-up finds no row.
    NoRow,
    /// Not narrowed down: anything at all.
    Any,
}

/// The facts that are settled so far.
pub(crate) type Settled = BTreeMap<Fact, Region>;

/// Evaluates over regions, and counts its steps.
#[derive(Debug)]
pub(crate) struct Evaluator<'a> {
    pub(crate) ladder: &'a Ladder,
    pub(crate) tables: &'a [Table],
    pub(crate) settled: Settled,
    pub(crate) steps: u64,
}

impl Evaluator<'_> {
    pub(crate) fn condition(&mut self, condition: &Condition) -> Outcomes {
        match condition {
            Condition::All(parts) => {
                let mut all = Outcomes::HOLDS;
                for part in parts {
                    all = all.and(self.condition(part));
                }
                all
            }
            Condition::Any(parts) => {
                let mut none = Outcomes::HOLDS;
                for part in parts {
                    none = none.and(self.condition(part).not());
                }
                none.not()
            }
            Condition::Not(inner) => self.condition(inner).not(),
            Condition::Test(test) => self.test(test),
        }
    }

    fn test(&mut self, test: &FactTest) -> Outcomes {
        self.steps = self.steps.saturating_add(1);
        let Some(&region) = self.settled.get(&test.fact) else {
            return match &test.check {
                Check::Present(_) | Check::Among { .. } => Outcomes::HOLDS.or(Outcomes::FAILS),
                Check::Compare(..) => Outcomes::ANY,
            };
        };
        let of = |holds: bool| if holds { Outcomes::HOLDS } else { Outcomes::FAILS };
        match (&test.check, region) {
            (Check::Present(wanted), Region::Absent) => of(!wanted),
            (Check::Present(wanted), _) => of(*wanted),
            (_, Region::Absent) => Outcomes::FAILS,
            (Check::Among { values, wanted }, _) => {
                let mut orders = values.iter().map(|value| orders(region, Region::Is(*value)));
                let is_point = matches!(region, Region::Is(_));
                let among = orders.any(|orders| orders.equal);
                // A stretch is never all among single values.
                let outside = !among || !is_point;
                let (holds, fails) = if *wanted {
                    (among, outside)
                } else {
                    (outside, among)
                };
                Outcomes::HOLDS.only_if(holds).or(Outcomes::FAILS.only_if(fails))
            }
            (Check::Compare(comparison, limit), _) => match self.operand(limit) {
                Limit::In(limit) => compared(orders(region, limit), *comparison),
                Limit::Unlimited => of(matches!(comparison, Comparison::AtMost | Comparison::LessThan)),
                Limit::Barred | Limit::Absent => Outcomes::FAILS,
                Limit::NoRow => Outcomes::OPEN,
                Limit::Any => Outcomes::ANY,
            },
        }
    }

    fn operand(&mut self, operand: &Operand) -> Limit {
        match operand {
            Operand::Literal(value) => Limit::In(Region::Is(*value)),
            Operand::Fact(fact) => match self.settled.get(fact) {
                None => Limit::Any,
                Some(Region::Absent) => Limit::Absent,
                Some(region) => Limit::In(*region),
            },
            Operand::Lookup(lookup) => self.look_up(lookup, None),
            Operand::SmallestSize {
                lookup,
                size_key,
                holds,
            } => self.smallest(lookup, *size_key, holds),
            Operand::Times {
                numerator,
                denominator,
                of,
            } => point(self.operand(of), |value| {
                value
                    .scaled(*numerator, *denominator)
                    .map_or(Limit::Any, |value| Limit::In(Region::Is(value)))
            }),
            Operand::Sum(parts) => self.fold(parts, Value::plus),
            Operand::LargerOf(parts) => self.fold(parts, |one, other| {
                Some(if is_over(other, one) { other } else { one })
            }),
            Operand::SmallerOf(parts) => self.fold(parts, |one, other| {
                Some(if is_over(one, other) { other } else { one })
            }),
            Operand::Diameter(size) => {
                let ladder = self.ladder;
                point(self.operand(size), |value| match value {
                    Value::Size(size) => ladder.rung(size).map_or(Limit::Any, |rung| {
                        Limit::In(Region::Is(Value::Length(rung.diameter)))
                    }),
                    _ => Limit::Any,
                })
            }
            Operand::SizeFor(diameter) => {
                let ladder = self.ladder;
                point(self.operand(diameter), |value| match value {
                    Value::Length(diameter) => ladder
                        .at_least(diameter)
                        .map_or(Limit::Barred, |size| Limit::In(Region::Is(Value::Size(size)))),
                    _ => Limit::Any,
                })
            }
            Operand::SizesUp(steps, size) => {
                let ladder = self.ladder;
                point(self.operand(size), |value| match value {
                    Value::Size(size) => ladder
                        .up(size, *steps)
                        .map_or(Limit::Barred, |size| Limit::In(Region::Is(Value::Size(size)))),
                    _ => Limit::Any,
                })
            }
            Operand::FlowAsLoad { flow, .. } => match self.operand(flow) {
                Limit::In(_) => Limit::Any,
                other => other,
            },
        }
    }

    fn fold(&mut self, parts: &[Operand], with: impl Fn(Value, Value) -> Option<Value>) -> Limit {
        let mut so_far: Option<Value> = None;
        for part in parts {
            let value = match self.operand(part) {
                Limit::In(Region::Is(value)) => value,
                Limit::In(_) => return Limit::Any,
                other => return other,
            };
            let next = match so_far {
                None => Some(value),
                Some(so_far) => with(so_far, value),
            };
            let Some(next) = next else { return Limit::Any };
            so_far = Some(next);
        }
        so_far.map_or(Limit::Absent, |value| Limit::In(Region::Is(value)))
    }

    fn look_up(&mut self, lookup: &Lookup, given: Option<(usize, Value)>) -> Limit {
        let mut keys = Vec::with_capacity(lookup.keys.len());
        let mut open = false;
        for (index, key) in lookup.keys.iter().enumerate() {
            let limit = match given {
                Some((at, value)) if at == index => Limit::In(Region::Is(value)),
                _ => self.operand(key),
            };
            match limit {
                Limit::In(region) => keys.push(region),
                Limit::Any => open = true,
                // What another key turns out to be no longer matters, unless it is one that comes first.
                other if !open => return other,
                _ => {}
            }
        }
        let Some(table) = self.tables.get(lookup.table).filter(|_| !open) else {
            return Limit::Any;
        };
        self.steps = self
            .steps
            .saturating_add(u64::try_from(table.rows.len() / 8).unwrap_or(u64::MAX));
        let Some(row) = find(table, &keys) else {
            return Limit::Any;
        };
        let Some(row) = row else { return Limit::NoRow };
        let cell = table.rows.get(row).and_then(|row| row.cells.get(lookup.column));
        match cell.map(|cell| cell.content) {
            Some(Content::Value(value)) => Limit::In(Region::Is(value)),
            Some(Content::Barred) => Limit::Barred,
            Some(Content::Unlimited) => Limit::Unlimited,
            // Whoever fills it may write anything.
            Some(Content::Unfilled) => Limit::Any,
            None => Limit::Absent,
        }
    }

    fn smallest(&mut self, lookup: &Lookup, size_key: usize, holds: &Operand) -> Limit {
        let needed = match self.operand(holds) {
            Limit::In(needed) => needed,
            other => return other,
        };
        for size in self.ladder.sizes() {
            let found = Limit::In(Region::Is(Value::Size(size)));
            match self.look_up(lookup, Some((size_key, Value::Size(size)))) {
                Limit::In(most) => {
                    let enough = compared(orders(most, needed), Comparison::AtLeast);
                    if enough == Outcomes::HOLDS {
                        return found;
                    }
                    if enough.meets(Outcomes::HOLDS) {
                        return Limit::Any;
                    }
                }
                Limit::Unlimited => return found,
                Limit::Any => return Limit::Any,
                Limit::Barred | Limit::Absent | Limit::NoRow => {
                    // Where a key is barred or absent the whole is, which a later size cannot mend.
                    if let Some(outer) = self.unusable_key(lookup, size_key) {
                        return outer;
                    }
                }
            }
        }
        Limit::Barred
    }

    /// What a look-up comes to because of one of its keys; none where all of them are values.
    fn unusable_key(&mut self, lookup: &Lookup, size_key: usize) -> Option<Limit> {
        for (index, key) in lookup.keys.iter().enumerate() {
            if index == size_key {
                continue;
            }
            match self.operand(key) {
                Limit::In(_) => {}
                // A key without a row leaves the size out; what then comes of it hangs on the others.
                Limit::NoRow => return Some(Limit::Any),
                other => return Some(other),
            }
        }
        None
    }
}

fn is_over(one: Value, other: Value) -> bool {
    one.compare(other) == Some(std::cmp::Ordering::Greater)
}

fn point(limit: Limit, with: impl FnOnce(Value) -> Limit) -> Limit {
    match limit {
        Limit::In(Region::Is(value)) => with(value),
        Limit::In(_) => Limit::Any,
        other => other,
    }
}

fn compared(orders: Orders, comparison: Comparison) -> Outcomes {
    let Orders { less, equal, greater } = orders;
    // Words that differ have no order: they are not equal, and that is all.
    let apart = !less && !equal && !greater;
    let (holds, fails) = match comparison {
        Comparison::Is => (equal, less || greater || apart),
        Comparison::AtLeast => (greater || equal, less || apart),
        Comparison::AtMost => (less || equal, greater || apart),
        Comparison::MoreThan => (greater, less || equal || apart),
        Comparison::LessThan => (less, greater || equal || apart),
    };
    Outcomes::HOLDS.only_if(holds).or(Outcomes::FAILS.only_if(fails))
}

/// The row for keys in regions, the same for every value in them; the outer none where it is not the same, or
/// cannot be told.
fn find(table: &Table, keys: &[Region]) -> Option<Option<usize>> {
    let mut values = Vec::with_capacity(keys.len());
    for (index, region) in keys.iter().enumerate() {
        values.push(region.sample()?);
        if matches!(region, Region::Is(_)) {
            continue;
        }
        let is_exact = table
            .keys
            .get(index)
            .is_some_and(|key| key.matching == Match::Exact);
        let mut bounds = table
            .rows
            .iter()
            .filter_map(|row| row.keys.get(index).copied().flatten());
        let splits = |bound: Value| {
            region.is_split_by(bound) || (is_exact && orders(*region, Region::Is(bound)).equal)
        };
        if bounds.any(splits) {
            return None;
        }
    }
    Some(table.find(&values))
}
