//! Conditions and operands on facts, in three values.
//!
//! Nothing here knows a rule by name; it only reads what the rule set says.

use std::cmp::Ordering;

use crownweir_quantity::{Flow, Load};
use crownweir_rulebook::{
    Check, Comparison, Condition, Content, Dimension, Fact, FactTest, Lookup, MOST_KEYS, Match, Operand,
    Subject, Value,
};

use crate::measure::{Gap, Got, Measured};
use crate::trace::RulePart;

/// What came of a condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// It holds.
    Satisfied,
    /// It does not.
    Violated,
    /// The network, or the rule set, does not state what is needed.
    Undetermined(Gap),
}

impl Outcome {
    pub(crate) fn of(holds: bool) -> Self {
        if holds { Self::Satisfied } else { Self::Violated }
    }

    /// Of conditions that all have to hold: one that does not settles it, whatever is not known of others.
    pub(crate) fn of_all(parts: impl Iterator<Item = Self>) -> Self {
        let mut open = None;
        for part in parts {
            match part {
                Self::Violated => return Self::Violated,
                Self::Undetermined(gap) => open = open.or(Some(gap)),
                Self::Satisfied => {}
            }
        }
        open.map_or(Self::Satisfied, Self::Undetermined)
    }

    /// Of conditions one of which has to hold: one that does settles it.
    pub(crate) fn of_any(parts: impl Iterator<Item = Self>) -> Self {
        Self::of_all(parts.map(Self::reversed)).reversed()
    }

    pub(crate) fn reversed(self) -> Self {
        match self {
            Self::Satisfied => Self::Violated,
            Self::Violated => Self::Satisfied,
            open => open,
        }
    }
}

/// What a rule compares with, once its operand is looked up or reckoned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// A value.
    Known(Value),
    /// Not permitted at all.
    Barred,
    /// No limit.
    Unlimited,
    /// There is no such thing.
    Absent,
    /// Not known.
    Missing(Gap),
}

impl Limit {
    /// The same as a fact's value; what is barred or unlimited is no value.
    #[must_use]
    pub fn got(self) -> Got {
        match self {
            Self::Known(value) => Got::Known(value),
            Self::Barred | Self::Unlimited | Self::Absent => Got::Absent,
            Self::Missing(gap) => Got::Missing(gap),
        }
    }
}

impl From<Got> for Limit {
    fn from(got: Got) -> Self {
        match got {
            Got::Known(value) => Self::Known(value),
            Got::Absent => Self::Absent,
            Got::Missing(gap) => Self::Missing(gap),
        }
    }
}

/// Whether a condition holds of an element.
pub(crate) fn condition(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    condition: &Condition,
) -> Outcome {
    let of = |part: &Condition| self::condition(measured, subject, element, part);
    match condition {
        Condition::All(parts) => Outcome::of_all(parts.iter().map(of)),
        Condition::Any(parts) => Outcome::of_any(parts.iter().map(of)),
        Condition::Not(inner) => of(inner).reversed(),
        Condition::Test(test) => self::test(measured, subject, element, test),
    }
}

/// Whether a single comparison holds.
pub(crate) fn test(measured: &Measured<'_>, subject: Subject, element: u32, test: &FactTest) -> Outcome {
    let got = measured.fact(subject, element, test.fact);
    match &test.check {
        Check::Present(wanted) => match got {
            Got::Known(_) => Outcome::of(*wanted),
            Got::Absent => Outcome::of(!wanted),
            Got::Missing(_) if measured.is_there(subject, element, test.fact) => Outcome::of(*wanted),
            Got::Missing(gap) => Outcome::Undetermined(gap),
        },
        Check::Among { values, wanted } => of_value(got, |value| {
            let mut values = values.iter();
            let among = values.any(|one| value.compare(*one) == Some(Ordering::Equal));
            Outcome::of(among == *wanted)
        }),
        Check::Compare(comparison, limit) => {
            let limit = operand(measured, subject, element, limit);
            held_to(measured, subject, element, test, *comparison, limit)
        }
    }
}

/// Whether a single comparison holds, once its limit is looked up.
pub(crate) fn held_to(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    test: &FactTest,
    comparison: Comparison,
    limit: Limit,
) -> Outcome {
    let got = measured.fact(subject, element, test.fact);
    match of_value(got, |value| compared(value, comparison, limit)) {
        Outcome::Undetermined(gap) => settled(measured, subject, element, test)
            .map_or(Outcome::Undetermined(gap), |(holds, _)| Outcome::of(holds)),
        told => told,
    }
}

/// The most combinations of values that are tried for facts that are not known, before they are given up.
const MOST_CASES: usize = 1_000;

/// What a comparison comes to where that is the same whatever the facts come to that are not known, and the limit that
/// is the easiest to keep among those that there may be. None where it hangs on them, or they may have too many values.
pub(crate) fn settled(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    test: &FactTest,
) -> Option<(bool, Limit)> {
    let Check::Compare(comparison, limit) = &test.check else {
        return None;
    };
    // What is absent is as if it were further than any limit, save that it is no more than one either.
    if matches!(comparison, Comparison::AtLeast | Comparison::MoreThan)
        && measured.may_be_absent(element, test.fact)
    {
        return None;
    }
    let mut facts = limit.facts();
    let is_read = facts.contains(&test.fact);
    if !is_read {
        facts.push(test.fact);
    }
    let cases = Cases::of(measured, subject, element, facts, |fact| match fact.dimension() {
        // A figure that is compared with what hangs on it is judged otherwise between its ends than at them.
        Dimension::Load if *comparison == Comparison::Is || (is_read && fact == test.fact) => None,
        Dimension::Length | Dimension::Angle
            if *comparison == Comparison::Is || is_read || fact != test.fact =>
        {
            None
        }
        _ => possible(measured, subject, element, fact, limit),
    })?;
    // With nothing unknown, what is open is for the rule set to say.
    if cases.open.is_empty() && !cases.is_left_open {
        return None;
    }
    let mut came: Option<(bool, Limit)> = None;
    for given in cases.all() {
        let asked = operand_with(measured, subject, element, limit, &given);
        let value = fact_with(measured, subject, element, test.fact, &given);
        let (holds, limit) = match of_value(value, |value| compared(value, *comparison, asked)) {
            Outcome::Satisfied => (true, asked),
            Outcome::Violated => (false, asked),
            Outcome::Undetermined(_) => {
                let Got::Known(value) = value else { return None };
                let least = least_asked(measured, subject, element, limit, &given)?;
                let is_least = matches!(comparison, Comparison::AtLeast | Comparison::MoreThan);
                if !is_least || comparison.holds(value, least) {
                    return None;
                }
                (false, Limit::Known(least))
            }
        };
        came = match came {
            None => Some((holds, limit)),
            Some((before, easiest)) if before == holds => Some((holds, easier(*comparison, easiest, limit))),
            Some(_) => return None,
        };
    }
    came
}

/// What an operand comes to at the least, if it comes to a value: the larger of several is no less than any of them.
fn least_asked(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    operand: &Operand,
    given: Given<'_>,
) -> Option<Value> {
    let with = |operand: &Operand| match operand_with(measured, subject, element, operand, given) {
        Limit::Known(value) => Some(value),
        _ => None,
    };
    let of = |part: &Operand| least_asked(measured, subject, element, part, given);
    let literal = |part: &Operand| Some(Box::new(Operand::Literal(of(part)?)));
    match operand {
        Operand::LargerOf(parts) => {
            let known = parts.iter().filter_map(of);
            known.reduce(larger)
        }
        Operand::Times {
            numerator: numerator @ 1..,
            denominator: denominator @ 1..,
            of: part,
        } => with(&Operand::Times {
            numerator: *numerator,
            denominator: *denominator,
            of: literal(part)?,
        }),
        Operand::Diameter(part) => with(&Operand::Diameter(literal(part)?)),
        Operand::SizeFor(part) => with(&Operand::SizeFor(literal(part)?)),
        Operand::SizesUp(steps, part) => with(&Operand::SizesUp(*steps, literal(part)?)),
        _ => with(operand),
    }
}

/// The least and the most load, in thousandths, that an operand comes to with any values of the facts that are not known;
/// with none unknown they are the same. None where one of them may have too many, or where it comes to no load with some.
pub(crate) fn ends_of_load(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    operand: &Operand,
) -> Option<(i64, i64)> {
    let cases = Cases::of(measured, subject, element, operand.facts(), |fact| {
        match fact.dimension() {
            Dimension::Volume => told_apart(measured, operand, fact),
            _ => possible(measured, subject, element, fact, operand),
        }
    })?;
    let mut ends: Option<(i64, i64)> = None;
    for given in cases.all() {
        let Limit::Known(Value::Load(load)) = operand_with(measured, subject, element, operand, &given)
        else {
            return None;
        };
        let load = load.thousandths();
        let (least, most) = ends.unwrap_or((load, load));
        ends = Some((least.min(load), most.max(load)));
    }
    ends
}

/// Every combination of the values that facts may come to which are not known.
struct Cases {
    /// The facts, each with its possible values.
    open: Vec<(Fact, Vec<Value>)>,
    /// How many combinations there are.
    number: usize,
    /// Whether there are further facts that may come to anything.
    is_left_open: bool,
}

impl Cases {
    /// None where there are too many.
    fn of(
        measured: &Measured<'_>,
        subject: Subject,
        element: u32,
        facts: Vec<Fact>,
        values: impl Fn(Fact) -> Option<Vec<Value>>,
    ) -> Option<Self> {
        let mut cases = Self {
            open: Vec::new(),
            number: 1,
            is_left_open: false,
        };
        for fact in facts {
            if matches!(measured.fact(subject, element, fact), Got::Missing(_)) {
                let Some(values) = values(fact) else {
                    cases.is_left_open = true;
                    continue;
                };
                cases.number = cases
                    .number
                    .checked_mul(values.len())
                    .filter(|number| *number <= MOST_CASES)?;
                cases.open.push((fact, values));
            }
        }
        Some(cases)
    }

    fn all(&self) -> impl Iterator<Item = Vec<(Fact, Value)>> {
        (0..self.number).map(|mut case| {
            let open = self.open.iter();
            let given = open.filter_map(|(fact, values)| {
                let value = values.get(case % values.len().max(1)).copied();
                case /= values.len().max(1);
                Some((*fact, value?))
            });
            given.collect()
        })
    }
}

/// The largest count up to which every whole number is tried for a fact that is not known.
const MOST_COUNTED: i64 = 100;

/// The values that a fact may have, of a dimension that has but few or between two ends; of a load, a length and an angle
/// the ends, and of a load both sides of each row's key by which it is looked up in an operand.
fn possible(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    fact: Fact,
    operand: &Operand,
) -> Option<Vec<Value>> {
    match fact.dimension() {
        Dimension::Size => Some(measured.rules.ladder.sizes().map(Value::Size).collect()),
        Dimension::Word(words) => Some(words.iter().map(|word| Value::Word(word)).collect()),
        Dimension::Truth => Some(vec![Value::Truth(false), Value::Truth(true)]),
        Dimension::Count => match measured.range(subject, element, fact)? {
            (Value::Count(least), Value::Count(most)) if most <= MOST_COUNTED => {
                Some((least..=most).map(Value::Count).collect())
            }
            _ => None,
        },
        Dimension::Load => match measured.range(subject, element, fact)? {
            (Value::Load(least), Value::Load(most)) => {
                let (least, most) = (least.thousandths(), most.thousandths());
                let mut values = vec![least, most];
                for (_, key) in keys_of(measured, operand, fact) {
                    if let Some(Value::Load(key)) = key {
                        let key = key.thousandths();
                        let around = [key.saturating_sub(1), key, key.saturating_add(1)];
                        values.extend(around.into_iter().filter(|one| (least..most).contains(one)));
                    }
                }
                values.sort_unstable();
                values.dedup();
                let load = |thousandths| Value::Load(Load::from_thousandths(thousandths));
                Some(values.into_iter().map(load).collect())
            }
            _ => None,
        },
        Dimension::Length | Dimension::Angle => {
            let (least, most) = measured.range(subject, element, fact)?;
            Some(vec![least, most])
        }
        _ => None,
    }
}

/// The keys of the rows by which an operand looks things up by a fact, and how each matches.
fn keys_of(measured: &Measured<'_>, operand: &Operand, fact: Fact) -> Vec<(Match, Option<Value>)> {
    let mut found = Vec::new();
    for part in operand.parts() {
        found.append(&mut keys_of(measured, part, fact));
    }
    if let Operand::Lookup(lookup) | Operand::SmallestSize { lookup, .. } = operand
        && let Some(table) = measured.rules.table(lookup.table)
    {
        let keys = lookup.keys.iter().zip(table.keys()).enumerate();
        for (at, (_, key)) in keys.filter(|(_, (by, _))| **by == Operand::Fact(fact)) {
            let rows = table.rows().iter();
            found.extend(rows.filter_map(|row| Some((key.matching, *row.keys.get(at)?))));
        }
    }
    found
}

/// A value for each case that tables tell apart by a fact which an operand only looks up by. None where it does something
/// else with it, or where no row is for values over all keys.
fn told_apart(measured: &Measured<'_>, operand: &Operand, fact: Fact) -> Option<Vec<Value>> {
    let keys = keys_of(measured, operand, fact);
    let has_all_rows = keys.iter().any(|(_, key)| key.is_none());
    let is_up_to = keys.iter().all(|(matching, _)| *matching == Match::UpTo);
    if !has_all_rows || !is_up_to || is_reckoned_with(operand, fact) {
        return None;
    }
    let mut values: Vec<Value> = keys.into_iter().filter_map(|(_, key)| key).collect();
    let order = |one: &Value, other: &Value| one.compare(*other).unwrap_or(Ordering::Equal);
    let beyond = values.iter().copied().max_by(order)?.scaled(2, 1)?;
    values.push(beyond);
    values.sort_by(order);
    values.dedup();
    Some(values)
}

/// Whether an operand does more with a fact than look something up by it.
fn is_reckoned_with(operand: &Operand, fact: Fact) -> bool {
    let is_fact = |one: &Operand| *one == Operand::Fact(fact);
    let below = |parts: &[Operand]| {
        parts
            .iter()
            .any(|part| !is_fact(part) && is_reckoned_with(part, fact))
    };
    match operand {
        Operand::Lookup(lookup) => below(&lookup.keys),
        Operand::SmallestSize { lookup, holds, .. } => below(&lookup.keys) || is_reckoned_with(holds, fact),
        _ => {
            is_fact(operand)
                || operand
                    .parts()
                    .into_iter()
                    .any(|part| is_reckoned_with(part, fact))
        }
    }
}

/// Of two limits the one that is the easier to keep.
fn easier(comparison: Comparison, one: Limit, other: Limit) -> Limit {
    match (one, other) {
        (Limit::Known(first), Limit::Known(second)) => {
            let order = match comparison {
                Comparison::AtLeast | Comparison::MoreThan => Comparison::LessThan,
                _ => Comparison::MoreThan,
            };
            if order.holds(second, first) { other } else { one }
        }
        (Limit::Barred | Limit::Absent, _) => other,
        _ => one,
    }
}

/// Values taken for facts that are not known.
type Given<'g> = &'g [(Fact, Value)];

fn fact_with(measured: &Measured<'_>, subject: Subject, element: u32, fact: Fact, given: Given<'_>) -> Got {
    let taken = given.iter().find(|(own, _)| *own == fact);
    taken.map_or_else(
        || measured.fact(subject, element, fact),
        |(_, value)| Got::Known(*value),
    )
}

/// What comes of what is asked of a value; what is absent satisfies nothing of the kind.
pub(crate) fn of_value(got: Got, asked: impl FnOnce(Value) -> Outcome) -> Outcome {
    match got {
        Got::Known(value) => asked(value),
        Got::Absent => Outcome::Violated,
        Got::Missing(gap) => Outcome::Undetermined(gap),
    }
}

/// Whether a value keeps a limit.
pub(crate) fn compared(value: Value, comparison: Comparison, limit: Limit) -> Outcome {
    match limit {
        Limit::Known(limit) => Outcome::of(comparison.holds(value, limit)),
        Limit::Unlimited => Outcome::of(matches!(comparison, Comparison::AtMost | Comparison::LessThan)),
        Limit::Barred | Limit::Absent => Outcome::Violated,
        Limit::Missing(gap) => Outcome::Undetermined(gap),
    }
}

/// The value of an operand for an element.
pub(crate) fn operand(measured: &Measured<'_>, subject: Subject, element: u32, operand: &Operand) -> Limit {
    operand_with(measured, subject, element, operand, &[])
}

/// The same where values are taken for facts that are not known.
pub(crate) fn operand_with(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    operand: &Operand,
    given: Given<'_>,
) -> Limit {
    let of = |part: &Operand| operand_with(measured, subject, element, part, given);
    let known = |value: Option<Value>| value.map_or(Limit::Missing(Gap::Overflow), Limit::Known);
    match operand {
        Operand::Literal(value) => Limit::Known(*value),
        Operand::Fact(fact) => fact_with(measured, subject, element, *fact, given).into(),
        Operand::Lookup(lookup) => {
            let mut keys = Keys::default();
            match look_up_with(measured, subject, element, lookup, &mut keys, given) {
                Ok(row) => cell(measured, lookup, row),
                Err(limit) => limit,
            }
        }
        Operand::SmallestSize {
            lookup,
            size_key,
            holds,
        } => map(of(holds), |needed| {
            let mut keys = Keys::default();
            match keys.read(measured, subject, element, lookup, Some(*size_key), given) {
                Ok(()) => smallest_size(measured, lookup, (*size_key, &mut keys), needed),
                Err(other) => other,
            }
        }),
        Operand::Times {
            numerator,
            denominator,
            of: part,
        } => map(of(part), |value| known(value.scaled(*numerator, *denominator))),
        Operand::Sum(parts) => fold(parts, of, |sum, part| known(sum.plus(part))),
        Operand::LargerOf(parts) => fold(parts, of, |one, other| Limit::Known(larger(one, other))),
        Operand::SmallerOf(parts) => fold(parts, of, |one, other| Limit::Known(smaller(one, other))),
        Operand::Diameter(size) => map(of(size), |value| match value {
            Value::Size(size) => known(
                measured
                    .rules
                    .ladder
                    .rung(size)
                    .map(|rung| Value::Length(rung.diameter)),
            ),
            _ => Limit::Absent,
        }),
        Operand::SizeFor(diameter) => map(of(diameter), |value| match value {
            Value::Length(diameter) => {
                let size = measured.rules.ladder.at_least(diameter);
                size.map_or(Limit::Barred, |size| Limit::Known(Value::Size(size)))
            }
            _ => Limit::Absent,
        }),
        Operand::SizesUp(steps, size) => map(of(size), |value| match value {
            Value::Size(size) => {
                let up = measured.rules.ladder.up(size, *steps);
                up.map_or(Limit::Barred, |size| Limit::Known(Value::Size(size)))
            }
            _ => Limit::Absent,
        }),
        Operand::FlowAsLoad { flow, per, load } => map(of(flow), |value| match value {
            Value::Flow(flow) => known(flow_as_load(flow, *per, *load).map(Value::Load)),
            _ => Limit::Absent,
        }),
    }
}

/// The cells that an operand's value hangs on: the one looked up; for a smallest size, the cell that keeps the next
/// smaller size from it, and its own; of several operands, those of the one that gives the value.
pub(crate) fn deciding_cells<'o>(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    operand: &'o Operand,
) -> Vec<(&'o Lookup, usize)> {
    match operand {
        Operand::Literal(_) | Operand::Fact(_) => Vec::new(),
        Operand::Lookup(lookup) => {
            let found = look_up(measured, subject, element, lookup, &mut Keys::default());
            found.into_iter().map(|row| (lookup, row)).collect()
        }
        Operand::SmallestSize { lookup, size_key, .. } => {
            let whole = self::operand(measured, subject, element, operand);
            let (mut below, mut own) = (None, None);
            let mut keys = Keys::default();
            if keys
                .read(measured, subject, element, lookup, Some(*size_key), &[])
                .is_err()
            {
                return Vec::new();
            }
            for size in measured.rules.ladder.sizes() {
                keys.set(*size_key, Value::Size(size));
                let Ok(row) = row(measured, lookup, &keys) else {
                    continue;
                };
                if whole == Limit::Known(Value::Size(size)) {
                    own = Some(row);
                    break;
                }
                below = Some(row);
            }
            below.into_iter().chain(own).map(|row| (lookup, row)).collect()
        }
        Operand::Times { of, .. }
        | Operand::FlowAsLoad { flow: of, .. }
        | Operand::Diameter(of)
        | Operand::SizeFor(of)
        | Operand::SizesUp(_, of) => deciding_cells(measured, subject, element, of),
        Operand::Sum(parts) => parts
            .iter()
            .flat_map(|part| deciding_cells(measured, subject, element, part))
            .collect(),
        Operand::LargerOf(parts) | Operand::SmallerOf(parts) => {
            let whole = self::operand(measured, subject, element, operand);
            let deciding = parts
                .iter()
                .filter(|part| self::operand(measured, subject, element, part) == whole);
            deciding
                .flat_map(|part| deciding_cells(measured, subject, element, part))
                .collect()
        }
    }
}

/// Of two values the larger; the first where neither is.
fn larger(one: Value, other: Value) -> Value {
    if Comparison::MoreThan.holds(other, one) {
        other
    } else {
        one
    }
}

/// Of two values the smaller; the first where neither is.
fn smaller(one: Value, other: Value) -> Value {
    if Comparison::LessThan.holds(other, one) {
        other
    } else {
        one
    }
}

/// The smallest size whose cell is at least what is needed; not permitted where no size has such a cell. All keys but that
/// of the size are read already.
fn smallest_size(
    measured: &Measured<'_>,
    lookup: &Lookup,
    (size_key, keys): (usize, &mut Keys),
    needed: Value,
) -> Limit {
    for size in measured.rules.ladder.sizes() {
        keys.set(size_key, Value::Size(size));
        let Ok(row) = row(measured, lookup, keys) else {
            continue;
        };
        match cell(measured, lookup, row) {
            Limit::Known(most) if Comparison::AtLeast.holds(most, needed) => {
                return Limit::Known(Value::Size(size));
            }
            Limit::Unlimited => return Limit::Known(Value::Size(size)),
            Limit::Missing(gap) => return Limit::Missing(gap),
            _ => {}
        }
    }
    Limit::Barred
}

/// A flow as the load that it counts as, at so much load for so much flow; rounded up to the thousandth.
fn flow_as_load(flow: Flow, per: Flow, load: Load) -> Option<Load> {
    let loaded = i128::from(flow.picolitres_per_minute()) * i128::from(load.thousandths());
    let rate = i128::from(per.picolitres_per_minute()).max(1);
    let thousandths = i64::try_from(loaded / rate + i128::from(loaded % rate != 0));
    thousandths.ok().map(Load::from_thousandths)
}

/// What comes of a limit that is a value; any other stays what it is.
fn map(limit: Limit, with: impl FnOnce(Value) -> Limit) -> Limit {
    match limit {
        Limit::Known(value) => with(value),
        other => other,
    }
}

/// What several operands come to, put together from the first on; the first that is no value stops it.
fn fold(parts: &[Operand], of: impl Fn(&Operand) -> Limit, with: impl Fn(Value, Value) -> Limit) -> Limit {
    let mut sum: Option<Value> = None;
    for part in parts {
        match (sum, of(part)) {
            (None, Limit::Known(first)) => sum = Some(first),
            (Some(so_far), Limit::Known(next)) => match with(so_far, next) {
                Limit::Known(value) => sum = Some(value),
                other => return other,
            },
            (_, other) => return other,
        }
    }
    sum.map_or(Limit::Absent, Limit::Known)
}

/// The values that a table is looked up by.
pub(crate) struct Keys {
    values: [Value; MOST_KEYS],
    count: usize,
}

impl Default for Keys {
    fn default() -> Self {
        Self {
            values: [Value::Truth(false); MOST_KEYS],
            count: 0,
        }
    }
}

impl Keys {
    pub(crate) fn values(&self) -> &[Value] {
        self.values.get(..self.count).unwrap_or_default()
    }

    /// Reads the value of each key of a look-up for an element, save the one that is sought; or fails with what
    /// one comes to that has no value.
    fn read(
        &mut self,
        measured: &Measured<'_>,
        subject: Subject,
        element: u32,
        lookup: &Lookup,
        sought: Option<usize>,
        given: Given<'_>,
    ) -> Result<(), Limit> {
        self.count = lookup.keys.len().min(MOST_KEYS);
        for (index, (slot, key)) in self.values.iter_mut().zip(&lookup.keys).enumerate() {
            if sought == Some(index) {
                continue;
            }
            match operand_with(measured, subject, element, key, given) {
                Limit::Known(value) => *slot = value,
                other => return Err(other),
            }
        }
        Ok(())
    }

    fn set(&mut self, key: usize, value: Value) {
        if let Some(slot) = self.values.get_mut(key) {
            *slot = value;
        }
    }
}

/// The row that a look-up finds by keys that are read into `keys`; or why there is none.
pub(crate) fn look_up(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    lookup: &Lookup,
    keys: &mut Keys,
) -> Result<usize, Limit> {
    look_up_with(measured, subject, element, lookup, keys, &[])
}

fn look_up_with(
    measured: &Measured<'_>,
    subject: Subject,
    element: u32,
    lookup: &Lookup,
    keys: &mut Keys,
    given: Given<'_>,
) -> Result<usize, Limit> {
    keys.read(measured, subject, element, lookup, None, given)?;
    row(measured, lookup, keys)
}

fn row(measured: &Measured<'_>, lookup: &Lookup, keys: &Keys) -> Result<usize, Limit> {
    measured.note(RulePart::Table(lookup.table));
    let table = measured.rules.table(lookup.table);
    table.and_then(|table| table.find(keys.values())).ok_or_else(|| {
        let table = u16::try_from(lookup.table).unwrap_or(u16::MAX);
        Limit::Missing(Gap::NoRow { table })
    })
}

fn cell(measured: &Measured<'_>, lookup: &Lookup, row: usize) -> Limit {
    measured.note(RulePart::Cell(lookup.table, row, lookup.column));
    let cell = measured
        .rules
        .table(lookup.table)
        .and_then(|table| table.rows().get(row))
        .and_then(|row| row.cells.get(lookup.column));
    let narrow = |wide: usize| u16::try_from(wide).unwrap_or(u16::MAX);
    match cell.map(|cell| cell.content) {
        Some(Content::Value(value)) => Limit::Known(value),
        Some(Content::Barred) => Limit::Barred,
        Some(Content::Unlimited) => Limit::Unlimited,
        Some(Content::Unfilled) => Limit::Missing(Gap::Unfilled {
            table: narrow(lookup.table),
            row: narrow(row),
            column: narrow(lookup.column),
        }),
        None => Limit::Absent,
    }
}
