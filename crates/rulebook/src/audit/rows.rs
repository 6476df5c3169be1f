//! Rows that no look-up finds, rows that overlap, and values beyond all rows.
//!
//! A table's own look-up decides; nothing here matches keys by rules of its own.

use std::cmp::Ordering;

use super::{Audit, RemarkKind, beside};
use crate::cases::{above, below, least};
use crate::table::{Key, Match, Row, Table};
use crate::value::{Dimension, Ladder, Value};

/// Values for a key that stand for all others: each that a row names, and one that none names.
fn stand_ins(table: &Table, index: usize, ladder: &Ladder) -> Vec<Value> {
    let Some(key) = table.keys.get(index) else {
        return Vec::new();
    };
    let named = named(table, index);
    let mut values: Vec<Value> = other(key, &named, ladder).into_iter().collect();
    values.extend(named);
    values
}

/// The values that rows name for a key, in order, each once.
pub(super) fn named(table: &Table, index: usize) -> Vec<Value> {
    let mut named: Vec<Value> = table
        .rows
        .iter()
        .filter_map(|row| row.keys.get(index).copied().flatten())
        .collect();
    named.sort_by(|one, other| match (one, other) {
        (Value::Word(one), Value::Word(other)) => one.cmp(other),
        (Value::Truth(one), Value::Truth(other)) => one.cmp(other),
        _ => one.compare(*other).unwrap_or(Ordering::Equal),
    });
    named.dedup();
    named
}

/// A value that no row names: beyond the bounds, or any that is left.
fn other(key: &Key, named: &[Value], ladder: &Ladder) -> Option<Value> {
    let left = |value: &Value| !named.contains(value);
    match key.dimension {
        Dimension::Word(words) => words.iter().map(|word| Value::Word(word)).find(left),
        Dimension::Truth => [true, false].map(Value::Truth).into_iter().find(left),
        Dimension::Size => {
            let sizes = ladder.sizes().map(Value::Size).filter(left);
            match key.matching {
                Match::UpTo => sizes.last(),
                _ => sizes.into_iter().next(),
            }
        }
        dimension => match key.matching {
            Match::From => {
                let first = *named.first()?;
                let floor = least(dimension);
                below(first)
                    .filter(|value| floor.is_none_or(|floor| value.compare(floor) != Some(Ordering::Less)))
            }
            _ => above(*named.last()?),
        },
    }
}

pub(super) fn never_found(audit: &mut Audit<'_>, table: &Table) {
    let axes: Vec<Vec<Value>> = (0..table.keys.len())
        .map(|index| stand_ins(table, index, &audit.rules.ladder))
        .collect();
    let mut told = None;
    for (index, row) in table.rows.iter().enumerate() {
        let found = found_by(table, &axes, index, &mut audit.compares);
        let Some(instead) = found else {
            audit.not_examined(table, "rows that are never found");
            return;
        };
        let Some(instead) = instead else { continue };
        // A row written with one key along the head is several: they are told of once.
        if told.as_ref() == Some(&row.place) {
            continue;
        }
        told = Some(row.place.clone());
        let keys: Vec<_> = row.keys.iter().map(|key| audit.words.key(*key)).collect();
        let taken = table.rows.get(instead);
        let message = format!(
            "no look-up of the table `{}` finds the row for {}: the row {} takes all that it matches",
            table.name,
            keys.join(", "),
            taken.map_or_else(String::new, |taken| beside(&row.place, &taken.place))
        );
        let to_do = "set the more particular row before the more general one, or drop one of them";
        audit.fault(RemarkKind::RowNeverFound, &row.place, message, to_do);
    }
}

/// Whether any values find the row: no row where some do, and otherwise the row found in its stead. The outer
/// none when there were too many to try.
fn found_by(table: &Table, axes: &[Vec<Value>], index: usize, left: &mut usize) -> Option<Option<usize>> {
    let row = table.rows.get(index)?;
    let choices: Vec<Vec<Value>> = table
        .keys
        .iter()
        .zip(axes)
        .zip(&row.keys)
        .map(|((key, axis), bound)| {
            // Its own bound first: that is where a row is found if anywhere, save for unusual tables.
            match (key.matching, bound) {
                (Match::Exact, Some(own)) => vec![*own],
                _ => bound.iter().chain(axis).copied().collect(),
            }
        })
        .collect();
    if choices.iter().any(Vec::is_empty) {
        // A row for anything, in a table whose other rows name every value there is.
        return Some(None);
    }
    let mut instead = None;
    let mut turn = vec![0_usize; choices.len()];
    loop {
        *left = left.checked_sub(table.rows.len())?;
        let values: Vec<Value> = choices
            .iter()
            .zip(&turn)
            .filter_map(|(choices, &turn)| choices.get(turn).copied())
            .collect();
        match table.find(&values) {
            Some(found) if found == index => return Some(None),
            found => instead = instead.or(found),
        }
        let mut place = 0;
        loop {
            let (Some(turn), Some(choices)) = (turn.get_mut(place), choices.get(place)) else {
                return Some(instead);
            };
            *turn += 1;
            if *turn < choices.len() {
                break;
            }
            *turn = 0;
            place += 1;
        }
    }
}

pub(super) fn overlaps(audit: &mut Audit<'_>, table: &Table) {
    let is_exact = |index: usize| {
        table
            .keys
            .get(index)
            .is_some_and(|key| key.matching == Match::Exact)
    };
    let opens: Vec<&Row> = table
        .rows
        .iter()
        .filter(|row| {
            let keys = row.keys.iter().enumerate();
            let mut open = keys.map(|(index, key)| is_exact(index) && key.is_none());
            let some = open.clone().any(|open| open);
            some && !open.all(|open| open)
        })
        .collect();
    let Some(left) = audit
        .compares
        .checked_sub(opens.len().saturating_mul(opens.len()))
    else {
        audit.not_examined(table, "rows that overlap");
        return;
    };
    audit.compares = left;
    for (index, later) in opens.iter().enumerate() {
        for earlier in opens.iter().take(index) {
            let contents = |row: &Row| row.cells.iter().map(|cell| cell.content).collect::<Vec<_>>();
            if crosses(earlier, later) && contents(earlier) != contents(later) {
                let keys = |row: &Row| {
                    let keys: Vec<_> = row.keys.iter().map(|key| audit.words.key(*key)).collect();
                    keys.join(", ")
                };
                let message = format!(
                    "in the table `{}` the rows for {} (line {}) and for {} both match some keys, and the earlier one is taken",
                    table.name,
                    keys(earlier),
                    earlier.place.line,
                    keys(later)
                );
                let to_do = "if the order is meant, leave it; else write a row for the keys that both match";
                audit.notice(RemarkKind::RowsOverlap, &later.place, message, to_do);
            }
        }
    }
}

/// Whether two rows share keys while each is the more particular in one of them.
fn crosses(one: &Row, other: &Row) -> bool {
    let mut one_wider = false;
    let mut other_wider = false;
    for pair in one.keys.iter().zip(&other.keys) {
        match pair {
            (None, Some(_)) => one_wider = true,
            (Some(_), None) => other_wider = true,
            (one, other) if one != other => return false,
            _ => {}
        }
    }
    one_wider && other_wider
}

pub(super) fn beyond(audit: &mut Audit<'_>, table: &Table) {
    let stand_ins: Vec<Option<Value>> = (0..table.keys.len())
        .map(|index| stand_ins(table, index, &audit.rules.ladder).first().copied())
        .collect();
    for (index, key) in table.keys.iter().enumerate() {
        if key.matching == Match::Exact || key.dimension == Dimension::Size {
            continue;
        }
        let named = named(table, index);
        let Some(beyond) = other(key, &named, &audit.rules.ladder) else {
            continue;
        };
        let (end, side) = match key.matching {
            Match::From => (named.first(), "under"),
            _ => (named.last(), "over"),
        };
        let Some(end) = end else { continue };
        let Some(left) = audit
            .compares
            .checked_sub(table.rows.len().saturating_mul(table.rows.len()))
        else {
            audit.not_examined(table, "values beyond its rows");
            return;
        };
        audit.compares = left;
        // A row that is open in this key catches what lies beyond for the other keys that it matches.
        let ends_at = |value: Value| {
            table.rows.iter().any(|row| {
                let keys = row.keys.iter().zip(&stand_ins).enumerate();
                let values: Vec<Value> = keys
                    .filter_map(|(at, (bound, stand_in))| {
                        if at == index {
                            Some(value)
                        } else {
                            bound.or(*stand_in)
                        }
                    })
                    .collect();
                values.len() == row.keys.len() && table.find(&values).is_none()
            })
        };
        if ends_at(beyond) {
            let sooner = if ends_at(*end) {
                "; with some other keys its rows end sooner"
            } else {
                ""
            };
            let message = format!(
                "the table `{}` has no row for a `{}` {side} {}{sooner}",
                table.name,
                key.name,
                audit.words.value(*end)
            );
            let to_do = "if the code stops there, leave it: a rule that asks for more stays open; else add a row for `any`";
            audit.notice(RemarkKind::BeyondRows, &table.place, message, to_do);
        }
    }
}
