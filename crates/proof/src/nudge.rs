//! Small alterations of a rule set: a cell to its neighbouring value, a bound shifted, a rule dropped.
//!
//! Each is made in a copy and taken back there; the rule set itself is never touched. Steps are steps of a unit, not
//! figures of a code.

use std::cmp::Ordering;

use crownweir_quantity::{Angle, Length, Load};
use crownweir_rulebook::{
    Check, Condition, Content, Dimension, Ladder, Match, Operand, RuleSet, Table, Value,
};

use crate::beside::beside;

/// How far a bound may move in search of a value that no other row has.
const STEPS_TO_A_FREE_VALUE: usize = 100;

/// One alteration.
#[derive(Debug, Clone)]
pub(crate) enum Nudge {
    /// A cell, by table, row and column.
    Cell(usize, usize, usize, Content),
    /// A key in some rows of a table.
    Key {
        table: usize,
        rows: Vec<usize>,
        key: usize,
        value: Value,
    },
    /// A rule left out.
    DropRule(usize),
    /// An exception of a rule left out.
    DropException(usize, usize),
    /// An arrangement left out.
    DropArrangement(usize),
    /// A condition of an arrangement left out.
    DropCondition(usize, usize),
    /// A case of a fixture's load left out.
    DropLoadCase(usize),
    /// The load of a whole bathroom group left out.
    DropGroupLoad,
    /// A figure or list within an expression: the slot's number, and which of its changes.
    Slot {
        within: Expressions,
        slot: usize,
        change: usize,
    },
    /// A definition, by its number and which of its changes.
    Definition(usize, usize),
}

/// The expressions that slots are counted in.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Expressions {
    Rule(usize),
    Condition(usize, usize),
    LoadCase(usize),
    GroupLoad,
    Flows,
}

impl Nudge {
    /// Makes this alteration in a copy of the rule set.
    pub(crate) fn make(&self, copy: &mut RuleSet) {
        match self {
            Self::Cell(table, row, column, content) => {
                put(copy, (*table, *row, *column), *content);
            }
            Self::Key {
                table,
                rows,
                key,
                value,
            } => {
                for row in rows {
                    put_key(copy, *table, *row, *key, *value);
                }
            }
            Self::DropRule(rule) => remove(&mut copy.unchecked().rules, *rule),
            Self::DropException(rule, exception) => {
                if let Some(rule) = copy.unchecked().rules.get_mut(*rule) {
                    rule.drop_exception(*exception);
                }
            }
            Self::DropArrangement(arrangement) => remove(&mut copy.unchecked().arrangements, *arrangement),
            Self::DropCondition(arrangement, condition) => {
                if let Some(arrangement) = copy.unchecked().arrangements.get_mut(*arrangement) {
                    remove(&mut arrangement.conditions, *condition);
                }
            }
            Self::DropLoadCase(case) => remove(&mut copy.unchecked().loads.fixture, *case),
            Self::DropGroupLoad => copy.unchecked().loads.group = None,
            Self::Slot { within, slot, change } => {
                let ladder = copy.ladder.clone();
                let mut number = 0;
                visit(copy, *within, &mut |one| {
                    if number == *slot {
                        one.change(*change, &ladder);
                    }
                    number += 1;
                });
            }
            Self::Definition(number, change) => define(copy, *number, *change),
        }
    }

    /// Takes it back: only what it touched is copied from the rule set again, since a copy of the whole takes longer
    /// than most examples take to run.
    pub(crate) fn take_back(&self, copy: &mut RuleSet, rules: &RuleSet) {
        match self {
            Self::Cell(table, row, column, _) => {
                let cell = rules.cell((*table, *row, *column));
                if let Some(cell) = cell {
                    put(copy, (*table, *row, *column), cell.content);
                }
            }
            Self::Key { table, rows, key, .. } => {
                for row in rows {
                    let before = rules.tables.get(*table).and_then(|table| table.rows().get(*row));
                    if let Some(before) = before.and_then(|row| row.keys.get(*key).copied().flatten()) {
                        put_key(copy, *table, *row, *key, before);
                    }
                }
            }
            Self::DropRule(rule) => put_back(&mut copy.unchecked().rules, &rules.rules, *rule),
            Self::DropException(rule, _) => renew(&mut copy.unchecked().rules, &rules.rules, *rule),
            Self::DropArrangement(number) => {
                put_back(&mut copy.unchecked().arrangements, &rules.arrangements, *number);
            }
            Self::DropLoadCase(case) => {
                put_back(&mut copy.unchecked().loads.fixture, &rules.loads.fixture, *case)
            }
            Self::DropCondition(number, _) => {
                renew(&mut copy.unchecked().arrangements, &rules.arrangements, *number)
            }
            Self::DropGroupLoad => copy.unchecked().loads.group.clone_from(&rules.loads.group),
            Self::Slot { within, .. } => match within {
                Expressions::Rule(rule) => renew(&mut copy.unchecked().rules, &rules.rules, *rule),
                Expressions::Condition(number, _) => {
                    renew(&mut copy.unchecked().arrangements, &rules.arrangements, *number);
                }
                Expressions::LoadCase(case) => {
                    renew(&mut copy.unchecked().loads.fixture, &rules.loads.fixture, *case);
                }
                Expressions::GroupLoad => copy.unchecked().loads.group.clone_from(&rules.loads.group),
                Expressions::Flows => {
                    copy.unchecked().loads.model.clone_from(&rules.loads.model);
                    copy.unchecked().hydraulics.clone_from(&rules.hydraulics);
                    copy.unchecked().framing.clone_from(&rules.framing);
                }
            },
            Self::Definition(..) => copy.unchecked().definitions.clone_from(&rules.definitions),
        }
    }
}

/// Puts content in a cell. What could not stand there leaves it as it is, which no example notices.
fn put(rules: &mut RuleSet, cell: (usize, usize, usize), content: Content) {
    drop(rules.set_cell(cell, content));
}

fn put_key(rules: &mut RuleSet, table: usize, row: usize, key: usize, value: Value) {
    if let Some(table) = rules.unchecked().tables.get_mut(table) {
        table.set_key(row, key, value);
    }
}

/// Puts what was removed where it stood.
fn put_back<T: Clone>(list: &mut Vec<T>, before: &[T], at: usize) {
    if let Some(one) = before.get(at) {
        list.insert(at, one.clone());
    }
}

fn renew<T: Clone>(list: &mut [T], before: &[T], at: usize) {
    if let Some((own, before)) = list.get_mut(at).zip(before.get(at)) {
        own.clone_from(before);
    }
}

fn remove<T>(list: &mut Vec<T>, at: usize) {
    if at < list.len() {
        list.remove(at);
    }
}

/// The nudges of a cell: a value to either side, what is not permitted or unlimited to a value and to its opposite.
pub(crate) fn of_cell(rules: &RuleSet, table: usize, row: usize, column: usize) -> Vec<Nudge> {
    let Some(own) = rules.tables.get(table) else {
        return Vec::new();
    };
    let cell = own.rows().get(row).and_then(|row| row.cells.get(column));
    let (Some(cell), Some(about)) = (cell, own.columns().get(column)) else {
        return Vec::new();
    };
    let nearest = || nearest_value(own, row, column).map(Content::Value);
    let contents: Vec<Content> = match cell.content {
        Content::Value(value) => beside(value, about.dimension, &rules.ladder)
            .into_iter()
            .map(Content::Value)
            .collect(),
        // No rule set may give a fixture an unlimited load.
        Content::Barred if rules.loads.reads(table, column) => nearest().into_iter().collect(),
        Content::Barred => nearest().into_iter().chain([Content::Unlimited]).collect(),
        Content::Unlimited => nearest().into_iter().chain([Content::Barred]).collect(),
        Content::Unfilled => nearest().into_iter().collect(),
    };
    let cells = contents
        .into_iter()
        .map(|content| Nudge::Cell(table, row, column, content));
    cells.collect()
}

/// The value in the same column that stands in the row nearest to one.
fn nearest_value(table: &Table, row: usize, column: usize) -> Option<Value> {
    let values = table.rows().iter().enumerate().filter_map(|(at, own)| {
        match own.cells.get(column).map(|cell| cell.content) {
            Some(Content::Value(value)) => Some((at.abs_diff(row), value)),
            _ => None,
        }
    });
    values.min_by_key(|(away, _)| *away).map(|(_, value)| value)
}

/// A key that is a bound: the rows that it stands in as one figure of the table, which key, and its value.
pub(crate) struct KeyBound {
    pub(crate) rows: Vec<usize>,
    pub(crate) key: usize,
    pub(crate) value: Value,
}

/// The keys of a table that are upper or lower bounds. A row that was written once with one key across the head
/// stands for several; its bound is still one figure, and so is a bound at the head for all rows.
pub(crate) fn key_bounds(table: &Table) -> Vec<KeyBound> {
    let same_line = |one: usize, other: usize| match (table.rows().get(one), table.rows().get(other)) {
        (Some(one), Some(other)) => one.place.bytes == other.place.bytes,
        _ => false,
    };
    let has_head = (1..table.rows().len()).any(|row| same_line(row - 1, row));
    let mut bounds: Vec<KeyBound> = Vec::new();
    for (index, key) in table.keys().iter().enumerate() {
        if key.matching == Match::Exact {
            continue;
        }
        let at_head = has_head && index + 1 == table.keys().len();
        let first = bounds.len();
        for (number, row) in table.rows().iter().enumerate() {
            let Some(Some(value)) = row.keys.get(index) else {
                continue;
            };
            let one_figure = |bound: &&mut KeyBound| match bound.rows.last() {
                Some(_) if at_head => bound.value == *value,
                Some(&last) => same_line(last, number),
                None => false,
            };
            match bounds.iter_mut().skip(first).find(one_figure) {
                Some(bound) => bound.rows.push(number),
                None => bounds.push(KeyBound {
                    rows: vec![number],
                    key: index,
                    value: *value,
                }),
            }
        }
    }
    bounds
}

/// The nudges of a bound among a table's keys.
pub(crate) fn of_key(rules: &RuleSet, table: usize, bound: &KeyBound) -> Vec<Nudge> {
    let dimension = rules
        .tables
        .get(table)
        .and_then(|table| table.keys().get(bound.key))
        .map(|key| key.dimension);
    // A bound moved onto another row's would be a table that no file may hold: it moves on to the next free value.
    let is_free = |value: &Value| {
        rules.tables.get(table).is_some_and(|table| {
            let moved = bound.rows.first().and_then(|row| table.rows().get(*row));
            !table.rows().iter().any(|other| {
                moved.is_some_and(|moved| {
                    let keys = other.keys.iter().zip(&moved.keys).enumerate();
                    keys.fold(true, |same, (index, (one, own))| {
                        same && if index == bound.key {
                            *one == Some(*value)
                        } else {
                            one == own
                        }
                    })
                })
            })
        })
    };
    let moved = |way: Ordering| {
        let mut value = bound.value;
        for _ in 0..STEPS_TO_A_FREE_VALUE {
            let next = beside(value, dimension?, &rules.ladder);
            value = next.into_iter().find(|next| next.compare(value) == Some(way))?;
            if is_free(&value) {
                return Some(value);
            }
        }
        None
    };
    let values = [moved(Ordering::Greater), moved(Ordering::Less)];
    let keys = values.into_iter().flatten().map(|value| Nudge::Key {
        table,
        rows: bound.rows.clone(),
        key: bound.key,
        value,
    });
    keys.collect()
}

/// The nudges of everything that can be altered in some expressions, slot by slot, with the slot in words.
/// `copy` is one of the rule set, left as it is.
pub(crate) fn of_slots(
    rules: &RuleSet,
    copy: &mut RuleSet,
    within: Expressions,
) -> Vec<(String, Vec<Nudge>)> {
    let mut found = Vec::new();
    visit(copy, within, &mut |slot| {
        let changes = slot.changes(&rules.ladder);
        let number = found.len();
        let nudges = (0..changes).map(|change| Nudge::Slot {
            within,
            slot: number,
            change,
        });
        found.push((slot.in_words(&rules.ladder), nudges.collect()));
    });
    found
}

/// Something that can be altered in an expression.
enum Slot<'a> {
    Value(&'a mut Value),
    List(&'a mut Vec<Value>),
    Present(&'a mut bool),
    Multiple(&'a mut i64, i64),
    Steps(&'a mut u16),
    Rate(&'a mut Load),
}

impl Slot<'_> {
    /// How many ways there are to alter it.
    fn changes(&self, ladder: &Ladder) -> usize {
        match self {
            Self::Value(value) => beside(**value, of(**value), ladder).len(),
            // A list of one is the condition itself.
            Self::List(list) if list.len() > 1 => list.len(),
            Self::List(_) => 0,
            Self::Present(_) => 1,
            Self::Multiple(..) | Self::Steps(_) | Self::Rate(_) => 2,
        }
    }

    fn change(self, change: usize, ladder: &Ladder) {
        let up = change == 0;
        match self {
            Self::Value(value) => {
                if let Some(other) = beside(*value, of(*value), ladder).get(change) {
                    *value = *other;
                }
            }
            Self::List(list) => remove(list, change),
            Self::Present(wanted) => *wanted = !*wanted,
            Self::Multiple(numerator, _) if up => *numerator = numerator.saturating_add(1),
            Self::Multiple(numerator, _) => *numerator = numerator.saturating_sub(1),
            Self::Steps(steps) if up => *steps = steps.saturating_add(1),
            Self::Steps(steps) => *steps = steps.saturating_sub(1),
            Self::Rate(load) => {
                let ratio = if up { (11, 10) } else { (9, 10) };
                *load = load.checked_scale(ratio.0, ratio.1).unwrap_or(*load);
            }
        }
    }

    fn in_words(&self, ladder: &Ladder) -> String {
        let words = |value: Value| value.in_words(ladder, ladder.notation());
        match self {
            Self::Value(value) => words(**value),
            Self::List(list) => list
                .iter()
                .map(|value| words(*value))
                .collect::<Vec<_>>()
                .join(", "),
            Self::Present(wanted) => if **wanted { "present" } else { "not present" }.to_owned(),
            Self::Multiple(numerator, 1) => format!("{numerator} times"),
            Self::Multiple(numerator, denominator) => format!("{numerator}/{denominator} of"),
            Self::Steps(1) => "one size up".to_owned(),
            Self::Steps(steps) => format!("{steps} sizes up"),
            Self::Rate(load) => format!("the rate of {load}"),
        }
    }
}

/// The dimension of a value in an expression; a word's vocabulary is not known there.
fn of(value: Value) -> Dimension {
    match value {
        Value::Truth(_) => Dimension::Truth,
        Value::Word(_) => Dimension::Word(&[]),
        _ => Dimension::Count,
    }
}

fn visit(rules: &mut RuleSet, within: Expressions, each: &mut dyn FnMut(Slot<'_>)) {
    let rules = rules.unchecked();
    match within {
        Expressions::Rule(rule) => {
            if let Some(rule) = rules.rules.get_mut(rule) {
                condition(&mut rule.when, each);
                rule.require
                    .iter_mut()
                    .for_each(|require| condition(require, each));
            }
        }
        Expressions::Condition(arrangement, one) => {
            let arrangement = rules.arrangements.get_mut(arrangement);
            if let Some(one) = arrangement.and_then(|arrangement| arrangement.conditions.get_mut(one)) {
                condition(&mut one.require, each);
            }
        }
        Expressions::LoadCase(case) => {
            if let Some(case) = rules.loads.fixture.get_mut(case) {
                condition(&mut case.when, each);
                operand(&mut case.load, each);
            }
        }
        Expressions::Flows => {
            rules
                .loads
                .model
                .operand_mut()
                .into_iter()
                .for_each(|one| operand(one, each));
            let own = rules.hydraulics.iter_mut().flat_map(|own| own.operands_mut());
            own.for_each(|one| operand(one, each));
            let own = rules.framing.iter_mut().flat_map(|own| own.operands_mut());
            own.for_each(|one| operand(one, each));
        }
        Expressions::GroupLoad => rules.loads.group.iter_mut().for_each(|load| operand(load, each)),
    }
}

fn condition(one: &mut Condition, each: &mut dyn FnMut(Slot<'_>)) {
    match one {
        Condition::All(parts) | Condition::Any(parts) => {
            parts.iter_mut().for_each(|part| condition(part, each));
        }
        Condition::Not(inner) => condition(inner, each),
        Condition::Test(test) => match &mut test.check {
            Check::Present(wanted) => each(Slot::Present(wanted)),
            Check::Among { values, .. } => each(Slot::List(values)),
            Check::Compare(_, limit) => operand(limit, each),
        },
    }
}

fn operand(one: &mut Operand, each: &mut dyn FnMut(Slot<'_>)) {
    match one {
        Operand::Literal(value) => each(Slot::Value(value)),
        Operand::Fact(_) => {}
        Operand::Lookup(lookup) => lookup.keys.iter_mut().for_each(|key| operand(key, each)),
        Operand::SmallestSize {
            lookup,
            size_key,
            holds,
        } => {
            // The key sought holds no figure of its own.
            let keys = lookup.keys.iter_mut().enumerate();
            keys.filter(|(index, _)| index != size_key)
                .for_each(|(_, key)| operand(key, each));
            operand(holds, each);
        }
        Operand::Times {
            numerator,
            denominator,
            of,
        } => {
            each(Slot::Multiple(numerator, *denominator));
            operand(of, each);
        }
        Operand::Sum(parts) | Operand::LargerOf(parts) | Operand::SmallerOf(parts) => {
            parts.iter_mut().for_each(|part| operand(part, each));
        }
        Operand::Diameter(of) | Operand::SizeFor(of) => operand(of, each),
        Operand::SizesUp(steps, of) => {
            each(Slot::Steps(steps));
            operand(of, each);
        }
        Operand::FlowAsLoad { flow, load, .. } => {
            operand(flow, each);
            each(Slot::Rate(load));
        }
    }
}

/// The definitions in words, each with the number of ways to alter it.
pub(crate) fn definitions(rules: &RuleSet) -> Vec<(&'static str, usize)> {
    let own = &rules.definitions;
    let group = &own.bathroom_group;
    let places = group.needs.len() + group.may_have.len();
    let mut all = vec![
        ("vertical", 2),
        (
            "branch_interval",
            if own.branch_interval.least.is_some() { 3 } else { 1 },
        ),
        ("bathroom_group", places),
        ("trap_arm", 1),
        ("vent_length", 1),
    ];
    all.extend(own.sharp_turn.as_ref().map(|_| ("sharp_turn", 2)));
    all
}

fn define(rules: &mut RuleSet, number: usize, change: usize) {
    let own = &mut rules.unchecked().definitions;
    match number {
        0 => nudge_angle(&mut own.vertical.most_from_vertical, change),
        1 => {
            own.branch_interval.least = match (own.branch_interval.least, change) {
                (Some(least), 0) => least.checked_add(Length::INCH),
                (Some(least), 1) => least.checked_sub(Length::INCH),
                (Some(_), _) => None,
                (None, _) => Some(Length::default()),
            }
        }
        2 => {
            let needs = own.bathroom_group.needs.len();
            if change < needs {
                own.bathroom_group.needs.remove(change);
            } else {
                remove(&mut own.bathroom_group.may_have, change - needs);
            }
        }
        3 => own.trap_arm.from_outlet = !own.trap_arm.from_outlet,
        4 => own.vent_length.at_main_vent = !own.vent_length.at_main_vent,
        _ => {
            if let Some(turn) = &mut own.sharp_turn {
                nudge_angle(&mut turn.more_than, change);
            }
        }
    }
}

/// Moves an angle by a degree: up first, then down.
fn nudge_angle(angle: &mut Angle, change: usize) {
    let by = if change == 0 { 1_000_000 } else { -1_000_000 };
    *angle = Angle::from_microdegrees(angle.microdegrees().saturating_add(by));
}
