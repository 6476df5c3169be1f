//! Sizes that a table keyed by size passes over, or stops short of while other tables go on.

use std::collections::BTreeMap;

use super::{Audit, RemarkKind};
use crate::model::RuleSet;
use crate::table::{Match, Table};
use crate::value::{Dimension, Size, Value};

fn sizes(table: &Table, key: usize) -> Vec<Size> {
    super::rows::named(table, key)
        .into_iter()
        .filter_map(|value| match value {
            Value::Size(size) => Some(size),
            _ => None,
        })
        .collect()
}

/// For each size, two of the tables at most that have rows for exactly it.
pub(super) fn tables_with(rules: &RuleSet) -> BTreeMap<Size, Vec<usize>> {
    let mut with: BTreeMap<Size, Vec<usize>> = BTreeMap::new();
    for (number, table) in rules.tables.iter().enumerate() {
        for (index, key) in table.keys.iter().enumerate() {
            if key.matching != Match::Exact {
                continue;
            }
            for size in sizes(table, index) {
                let tables = with.entry(size).or_default();
                if tables.len() < 2 && !tables.contains(&number) {
                    tables.push(number);
                }
            }
        }
    }
    with
}

pub(super) fn sizes_missing(audit: &mut Audit<'_>, number: usize) {
    let Some(table) = audit.rules.table(number) else {
        return;
    };
    for (index, key) in table.keys.iter().enumerate() {
        let is_open = table.rows.iter().any(|row| row.keys.get(index) == Some(&None));
        if key.dimension != Dimension::Size || is_open {
            continue;
        }
        let own = sizes(table, index);
        let (Some(&first), Some(&last)) = (own.first(), own.last()) else {
            continue;
        };
        let is_missing = |size: &Size| match key.matching {
            Match::Exact => !own.contains(size),
            Match::From => *size < first,
            Match::UpTo => *size > last,
        };
        let missing = audit.rules.ladder.sizes().filter(is_missing);
        let (between, ends): (Vec<Size>, Vec<Size>) = missing.partition(|size| first < *size && *size < last);
        let elsewhere = |size: &Size| {
            let tables = audit.tables_with.get(size);
            tables.is_some_and(|tables| tables.iter().any(|other| *other != number))
        };
        let ends = ends.into_iter().filter(elsewhere).collect();
        let said = [
            (between, "passes over"),
            (ends, "stops short of sizes that other tables have:"),
        ];
        for (sizes, how) in said {
            if sizes.is_empty() {
                continue;
            }
            let sizes: Vec<_> = sizes
                .into_iter()
                .map(|size| audit.words.value(Value::Size(size)))
                .collect();
            let message = format!(
                "by its key `{}`, the table `{}` {how} {}",
                key.name,
                table.name,
                sizes.join(", ")
            );
            let to_do = "if the code's table leaves them out too, leave it; else add their rows";
            audit.notice(RemarkKind::SizesMissing, &table.place, message, to_do);
        }
    }
}
