//! Values that go against the order of their column: a larger pipe that carries less, a higher load that may be
//! vented farther.
//!
//! Which way a column runs follows from what it is keyed by where that is certain, and else from most of its own
//! steps; where those are divided, nothing is said.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::{Audit, RemarkKind, beside, cells::called};
use crate::table::{Content, Row, Table};
use crate::value::{Dimension, Value};

/// Which way values run as a key grows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Up,
    Down,
}

/// What is certain of any code: larger and steeper pipes carry more, more water loads more and needs larger
/// pipes, and what serves a larger load may be less long.
fn certain(key: Dimension, column: Dimension) -> Option<Way> {
    use Dimension::{Flow, Length, Load, Size, Slope, Volume};
    match (key, column) {
        (Size | Slope | Flow | Volume, Load) | (Load | Flow | Volume, Size) => Some(Way::Up),
        (Load, Length) => Some(Way::Down),
        _ => None,
    }
}

/// How one cell stands to another as an amount that is allowed: nothing at all least, no limit most.
fn step(one: Content, other: Content) -> Option<Ordering> {
    let rank = |content: Content| match content {
        Content::Barred => Some(0),
        Content::Value(_) => Some(1),
        Content::Unlimited => Some(2),
        Content::Unfilled => None,
    };
    match (one, other) {
        (Content::Value(one), Content::Value(other)) => one.compare(other),
        _ => Some(rank(one)?.cmp(&rank(other)?)),
    }
}

pub(super) fn out_of_order(audit: &mut Audit<'_>, table: &Table) {
    for (key, head) in table.keys.iter().enumerate() {
        if !head.dimension.is_ordered() {
            continue;
        }
        let series = series(table, key);
        for (column, cells) in table.columns.iter().enumerate() {
            if !cells.dimension.is_ordered() {
                continue;
            }
            // That nothing is least and no limit most holds of what may be, not of what must be.
            let is_amount = matches!(cells.dimension, Dimension::Length | Dimension::Load);
            let steps: Vec<_> = series
                .iter()
                .flat_map(|rows| steps(rows, column, is_amount))
                .collect();
            let Some(way) = certain(head.dimension, cells.dimension).or_else(|| most(&steps)) else {
                continue;
            };
            for (before, after, order) in steps {
                let against = match way {
                    Way::Up => Ordering::Less,
                    Way::Down => Ordering::Greater,
                };
                if order == against {
                    tell(audit, table, key, column, (before, after), order);
                }
            }
        }
    }
}

/// The rows that agree in every key but one, sorted by that one.
fn series(table: &Table, key: usize) -> Vec<Vec<(Value, &Row)>> {
    let mut series: BTreeMap<String, Vec<(Value, &Row)>> = BTreeMap::new();
    for row in &table.rows {
        let Some(value) = row.keys.get(key).copied().flatten() else {
            continue;
        };
        let others: Vec<_> = row.keys.iter().enumerate().filter(|(at, _)| *at != key).collect();
        series
            .entry(format!("{others:?}"))
            .or_default()
            .push((value, row));
    }
    let mut series: Vec<_> = series.into_values().collect();
    for rows in &mut series {
        rows.sort_by(|(one, _), (other, _)| one.compare(*other).unwrap_or(Ordering::Equal));
    }
    series
}

/// From each filled cell to the next: how the later stands to the earlier.
fn steps<'a>(rows: &[(Value, &'a Row)], column: usize, is_amount: bool) -> Vec<(&'a Row, &'a Row, Ordering)> {
    let counts = |content: Content| match content {
        Content::Value(_) => true,
        Content::Barred | Content::Unlimited => is_amount,
        Content::Unfilled => false,
    };
    let cells: Vec<_> = rows
        .iter()
        .filter_map(|(_, row)| Some((*row, row.cells.get(column)?.content)))
        .filter(|(_, content)| counts(*content))
        .collect();
    let pairs = cells.iter().zip(cells.iter().skip(1));
    pairs
        .filter_map(|((before, one), (after, other))| Some((*before, *after, step(*other, *one)?)))
        .collect()
}

/// The way that most steps go, if at least twice as many as go the other.
fn most(steps: &[(&Row, &Row, Ordering)]) -> Option<Way> {
    let count = |wanted| steps.iter().filter(|(_, _, order)| *order == wanted).count();
    let (up, down) = (count(Ordering::Greater), count(Ordering::Less));
    if up >= down.saturating_mul(2) {
        Some(Way::Up)
    } else if down >= up.saturating_mul(2) {
        Some(Way::Down)
    } else {
        None
    }
}

fn tell(
    audit: &mut Audit<'_>,
    table: &Table,
    key: usize,
    column: usize,
    (before, after): (&Row, &Row),
    order: Ordering,
) {
    let Some((earlier, later)) = before.cells.get(column).zip(after.cells.get(column)) else {
        return;
    };
    let of = |row: &Row| audit.words.key(row.keys.get(key).copied().flatten());
    let key_name = table.keys.get(key).map_or("", |key| key.name.as_str());
    let message = format!(
        "{} is {}, {} than {} for {key_name} {} {}",
        called(audit, table, after, column),
        audit.words.content(later.content),
        if order == Ordering::Less { "less" } else { "more" },
        audit.words.content(earlier.content),
        of(before),
        beside(&later.place, &earlier.place)
    );
    let to_do = if order == Ordering::Less {
        "compare both with the adopted book: elsewhere the column grows"
    } else {
        "compare both with the adopted book: elsewhere the column falls"
    };
    audit.fault(RemarkKind::OutOfOrder, &later.place, message, to_do);
}
