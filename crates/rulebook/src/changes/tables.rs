//! Tables compared row by row and cell by cell, rows being told apart by their keys.

use std::collections::{BTreeMap, BTreeSet};

use super::{ALL, At, Section, Side, Sides, paired, texts};
use crate::changes::Change;
use crate::model::Citation;
use crate::table::{Cell, Content, Key, Match, Row, Table};
use crate::value::Dimension;

/// The most pairs of rows whose order is compared in one table.
const MOST_PAIRS: usize = 1_000_000;

impl Sides<'_> {
    pub(super) fn tables(&self, found: &mut Vec<Change>) {
        let (before, after) = (&self.before.rules.tables, &self.after.rules.tables);
        for (name, pair) in paired(before, after, |table| &table.name) {
            let at = At::new(Section::Tables, name);
            match pair {
                (Some(old), Some(new)) => {
                    self.table(at.placed(Some(&old.place), Some(&new.place)), old, new, found)
                }
                (Some(old), None) => {
                    let at = at.placed(Some(&old.place), None);
                    found.push(at.change(ALL, Some(summary(old)), None));
                }
                (None, Some(new)) => {
                    let at = at.placed(None, Some(&new.place));
                    found.push(at.change(ALL, None, Some(summary(new))));
                }
                (None, None) => {}
            }
        }
    }

    fn table(&self, at: At<'_>, old: &Table, new: &Table, found: &mut Vec<Change>) {
        at.text("title", old.title.clone(), new.title.clone(), found);
        at.citation("citation", &old.citation, &new.citation, found);
        let heads = |table: &Table| {
            let mut heads: Vec<_> = table.keys.iter().map(head).collect();
            heads.sort();
            heads.join(", ")
        };
        if heads(old) != heads(new) {
            let told = |table: &Table| Some(format!("{}; {} rows", heads(table), table.rows.len()));
            found.push(at.change("keys", told(old), told(new)));
            // Rows by other keys are other rows: there is nothing to lay side by side.
            return;
        }
        let columns = |table: &Table| -> BTreeMap<String, (usize, String)> {
            let columns = table.columns.iter().enumerate();
            columns
                .map(|(index, column)| (column.name.clone(), (index, kind(column.dimension))))
                .collect()
        };
        let (old_columns, new_columns) = (columns(old), columns(new));
        let all: BTreeSet<&String> = old_columns.keys().chain(new_columns.keys()).collect();
        let mut shared = Vec::new();
        for name in all {
            let (one, other) = (old_columns.get(name), new_columns.get(name));
            let told = |column: Option<&(usize, String)>| column.map(|(_, kind)| kind.clone());
            at.optional(&format!("column {name}"), told(one), told(other), found);
            if let (Some((one, _)), Some((other, _))) = (one, other) {
                shared.push((name.as_str(), *one, *other));
            }
        }
        self.rows(&at, old, new, &shared, found);
    }

    fn rows(
        &self,
        at: &At<'_>,
        old: &Table,
        new: &Table,
        columns: &[(&str, usize, usize)],
        found: &mut Vec<Change>,
    ) {
        let (before, after) = (keyed(&self.before, old), keyed(&self.after, new));
        let mut dropped: Vec<(&usize, At<'_>, String)> = Vec::new();
        for (keys, index) in &before {
            let Some(row) = old.rows.get(*index).filter(|_| !after.contains_key(keys)) else {
                continue;
            };
            let mut at = at.clone().placed(Some(&row.place), None);
            at.keys = self.before.keys(old, row);
            dropped.push((index, at, self.before.cells(old, row)));
        }
        dropped.sort_by_key(|(index, _, _)| **index);
        found.extend(
            dropped
                .into_iter()
                .map(|(_, at, cells)| at.change(ALL, Some(cells), None)),
        );
        let mut rows: Vec<_> = after.iter().collect();
        rows.sort_by_key(|(_, index)| **index);
        for (keys, index) in rows {
            let Some(row) = new.rows.get(*index) else { continue };
            let known = before.get(keys).and_then(|index| old.rows.get(*index));
            let mut at = at.clone().placed(known.map(|row| &row.place), Some(&row.place));
            at.keys = self.after.keys(new, row);
            let Some(known) = known else {
                found.push(at.change(ALL, None, Some(self.after.cells(new, row))));
                continue;
            };
            for (name, one, other) in columns {
                if let (Some(one), Some(other)) = (known.cells.get(*one), row.cells.get(*other)) {
                    let at = at.clone().placed(Some(&one.place), Some(&other.place));
                    self.cell(&at, name, (old, one), (new, other), found);
                }
            }
        }
        self.order(at, (old, &before), (new, &after), found);
    }

    fn cell(
        &self,
        at: &At<'_>,
        column: &str,
        (old_table, old): (&Table, &Cell),
        (new_table, new): (&Table, &Cell),
        found: &mut Vec<Change>,
    ) {
        let content = |side: &Side<'_>, cell: &Cell| match cell.content {
            Content::Value(value) => side.canonical(|canonical| canonical.value(value)),
            other => format!("{other:?}"),
        };
        let exact = (content(&self.before, old), content(&self.after, new));
        if exact.0 != exact.1 {
            let before = self.before.words.content(old.content);
            let after = self.after.words.content(new.content);
            let exact = (Some(exact.0), Some(exact.1));
            found.push(at.told(column, (Some(before), Some(after)), exact));
        }
        // What both inherit from their tables is told of with the tables.
        if old.citation.is_none() && new.citation.is_none() {
            return;
        }
        let cited =
            |table: &Table, own: &Option<Citation>| texts::citation(own.as_ref().unwrap_or(&table.citation));
        let part = format!("citation of {column}");
        at.text(
            &part,
            cited(old_table, &old.citation),
            cited(new_table, &new.citation),
            found,
        );
    }

    /// Rows that match the same keys, and of which the earlier is taken, when another one is now the earlier.
    fn order(
        &self,
        at: &At<'_>,
        (old, before): (&Table, &Keyed),
        (new, after): (&Table, &Keyed),
        found: &mut Vec<Change>,
    ) {
        let mut both: Vec<_> = before
            .iter()
            .filter_map(|(keys, index)| Some((*index, *after.get(keys)?)))
            .collect();
        both.sort_unstable();
        if both.is_sorted_by_key(|(_, after)| *after) || both.len().saturating_mul(both.len()) > MOST_PAIRS {
            return;
        }
        for (place, (earlier, now_later)) in both.iter().enumerate() {
            for (later, now_earlier) in both.iter().skip(place + 1) {
                let rows = old.rows.get(*earlier).zip(old.rows.get(*later));
                let Some((one, other)) = rows.filter(|_| now_earlier < now_later) else {
                    continue;
                };
                if takes_turns(old, one, other) {
                    let said = |first: &Row, second: &Row, side: &Side<'_>, table: &Table| {
                        let row = |row: &Row| side.row(table, row);
                        Some(format!("{} before {}", row(first), row(second)))
                    };
                    let mut at = at
                        .clone()
                        .placed(Some(&one.place), new.rows.get(*now_later).map(|row| &row.place));
                    at.keys = Vec::new();
                    found.push(at.change(
                        "order of rows",
                        said(one, other, &self.before, old),
                        said(other, one, &self.before, old),
                    ));
                }
            }
        }
    }
}

/// Rows by their keys in one spelling, the keys in the order of their names.
type Keyed = BTreeMap<Vec<String>, usize>;

fn in_order(table: &Table) -> Vec<usize> {
    let mut order: Vec<usize> = (0..table.keys.len()).collect();
    order.sort_by_key(|index| table.keys.get(*index).map(|key| key.name.clone()));
    order
}

fn keyed(side: &Side<'_>, table: &Table) -> Keyed {
    let order = in_order(table);
    let keys = |row: &Row| -> Vec<String> {
        let keys = order.iter().map(|index| row.keys.get(*index).copied().flatten());
        keys.map(|key| {
            key.map_or_else(
                || "any".to_owned(),
                |key| side.canonical(|canonical| canonical.value(key)),
            )
        })
        .collect()
    };
    let rows = table.rows.iter().enumerate();
    rows.map(|(index, row)| (keys(row), index)).collect()
}

/// Whether the order of two rows decides which is taken: both match some keys, and no bound of the one is nearer.
fn takes_turns(table: &Table, one: &Row, other: &Row) -> bool {
    let mut bounds = (None, None);
    for (key, (one, other)) in table.keys.iter().zip(one.keys.iter().zip(&other.keys)) {
        if key.matching == Match::Exact {
            if one.is_some() && other.is_some() && one != other {
                return false;
            }
        } else {
            bounds = (one.or(bounds.0), other.or(bounds.1));
        }
    }
    bounds.0.is_none() || bounds.1.is_none() || bounds.0 == bounds.1
}

impl Side<'_> {
    fn keys(&self, table: &Table, row: &Row) -> Vec<(String, String)> {
        let keys = table.keys.iter().zip(&row.keys);
        keys.map(|(key, value)| (key.name.clone(), self.words.key(*value)))
            .collect()
    }

    fn row(&self, table: &Table, row: &Row) -> String {
        let keys = self.keys(table, row).into_iter();
        keys.map(|(name, value)| format!("{name} {value}"))
            .collect::<Vec<_>>()
            .join(", ")
    }

    fn cells(&self, table: &Table, row: &Row) -> String {
        let cells = table.columns.iter().zip(&row.cells);
        let cells =
            cells.map(|(column, cell)| format!("{} {}", column.name, self.words.content(cell.content)));
        cells.collect::<Vec<_>>().join(", ")
    }
}

fn kind(dimension: Dimension) -> String {
    match dimension {
        Dimension::Word(words) => format!("word among {}", words.join(", ")),
        other => other.name().to_owned(),
    }
}

fn head(key: &Key) -> String {
    let how = match key.matching {
        Match::Exact => "exact",
        Match::UpTo => "up to",
        Match::From => "from",
    };
    format!("{} ({}, {how})", key.name, key.dimension.name())
}

fn summary(table: &Table) -> String {
    format!("{}, {} rows [{}]", table.title, table.rows.len(), table.citation)
}
