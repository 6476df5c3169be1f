//! Tables, read cell by cell. A key that runs across the head becomes a key like the others.

use std::collections::{BTreeMap, HashMap};

use crownweir_document::{Cursor, Diagnostics, nearest};
use serde_yaml::Value as Yaml;

use crate::expression::only;
use crate::facts::Fact;
use crate::literal::literal;
use crate::load::Citer;
use crate::model::Citation;
use crate::table::{Cell, Column, Content, Key, Match, Row, Table};
use crate::value::{Dimension, Ladder, Value};
use crate::wire::{ColumnFile, DimensionFile, TableFile};

pub(crate) fn tables(
    files: &BTreeMap<String, TableFile>,
    at: Cursor<'_>,
    ladder: &Ladder,
    citer: &Citer,
    problems: &mut Diagnostics,
) -> Vec<Table> {
    files
        .iter()
        .filter_map(|(name, file)| {
            let at = at.get(name);
            let citation = citer.citation(&file.cite, at.get("cite"), problems);
            Reader {
                ladder,
                citer,
                problems,
                keys_seen: HashMap::new(),
            }
            .table(name, file, citation?, at)
        })
        .collect()
}

/// The most keys that a table can be looked up by.
pub const MOST_KEYS: usize = 6;

/// The dimensions that a table's head can name.
pub(crate) const PLAIN: [Dimension; 13] = [
    Dimension::Length,
    Dimension::Slope,
    Dimension::Angle,
    Dimension::Size,
    Dimension::Load,
    Dimension::Flow,
    Dimension::Volume,
    Dimension::Temperature,
    Dimension::Period,
    Dimension::Velocity,
    Dimension::Ratio,
    Dimension::Count,
    Dimension::Truth,
];

/// The dimension of that name, or that of the fact of that name.
pub(crate) fn dimension_named(name: &str) -> Option<Dimension> {
    PLAIN
        .into_iter()
        .find(|dimension| dimension.name() == name)
        .or_else(|| name.parse().ok().map(Fact::dimension))
}

struct Reader<'a> {
    ladder: &'a Ladder,
    citer: &'a Citer,
    problems: &'a mut Diagnostics,
    /// The line of the row with each combination of keys.
    keys_seen: HashMap<String, usize>,
}

impl Reader<'_> {
    fn table(&mut self, name: &str, file: &TableFile, citation: Citation, at: Cursor<'_>) -> Option<Table> {
        let mut keys = Vec::new();
        let mut units = Vec::new();
        for (index, key) in file.keys.iter().enumerate() {
            let dimension = self.dimension(&key.of, at.get("keys").item(index).get("of"))?;
            if key.matching != Match::Exact && !dimension.is_ordered() {
                let at = at.get("keys").item(index).get("match");
                let what = format!("{} has no order to match by", dimension.with_article());
                self.problems.push(at.problem(what).expecting("`exact`"));
                return None;
            }
            keys.push(Key {
                name: key.name.clone(),
                dimension,
                matching: key.matching,
            });
            units.push(key.unit.clone());
        }
        let mut across = Vec::new();
        let written: Vec<ColumnFile> = match &file.across {
            None => file.columns.clone(),
            Some(head) => {
                let at = at.get("across");
                if !file.columns.is_empty() {
                    let what = "a table has `across` or `columns`, not both";
                    self.problems.push(at.problem(what));
                    return None;
                }
                let dimension = self.dimension(&head.of, at.get("of"))?;
                for (index, value) in head.at.iter().enumerate() {
                    let at = at.get("at").item(index);
                    across.push(literal(value, at, dimension, None, self.ladder, self.problems)?);
                }
                keys.push(Key {
                    name: head.name.clone(),
                    dimension,
                    matching: head.matching,
                });
                vec![head.gives.clone()]
            }
        };
        if keys.len() > MOST_KEYS {
            let what = format!("the table `{name}` is looked up by {} keys", keys.len());
            self.problems.push(
                at.get("keys")
                    .problem(what)
                    .expecting(format!("at most {MOST_KEYS}")),
            );
            return None;
        }
        if written.is_empty() {
            self.problems.push(
                at.problem(format!("the table `{name}` gives nothing"))
                    .expecting("`columns` or `across`"),
            );
            return None;
        }
        let mut columns = Vec::new();
        for (index, column) in written.iter().enumerate() {
            let at = if across.is_empty() {
                at.get("columns").item(index)
            } else {
                at.get("across").get("gives")
            };
            columns.push(Column {
                name: column.name.clone(),
                dimension: self.dimension(&column.of, at.get("of"))?,
            });
        }
        let mut table = Table {
            name: name.to_owned(),
            title: file.title.clone(),
            citation,
            keys,
            columns,
            rows: Vec::new(),
            place: at.place(),
            index: None,
        };
        for (index, row) in file.rows.iter().enumerate() {
            self.row(
                &mut table,
                &units,
                &written,
                &across,
                row,
                at.get("rows").item(index),
            );
        }
        table.make_index();
        Some(table)
    }

    fn dimension(&mut self, file: &DimensionFile, at: Cursor<'_>) -> Option<Dimension> {
        let found = dimension_named(&file.0);
        if found.is_none() {
            let known = PLAIN.iter().map(|dimension| dimension.name());
            self.problems.push(
                at.problem(format!("`{}` is not a dimension", file.0))
                    .expecting(
                        "a dimension such as `length`, `size` or `load`, or a fact whose words belong here",
                    )
                    .suggesting(nearest(&file.0, known.chain(Fact::NAMES.iter().copied()))),
            );
        }
        found
    }

    fn row(
        &mut self,
        table: &mut Table,
        units: &[Option<String>],
        written: &[ColumnFile],
        across: &[Value],
        yaml: &Yaml,
        at: Cursor<'_>,
    ) {
        let (items, items_at, cite) = match yaml {
            Yaml::Sequence(items) => (items, at, None),
            Yaml::Mapping(map) => match map.get("row") {
                Some(Yaml::Sequence(items)) => {
                    if !only(&["row", "cite"], map, at, self.problems) {
                        return;
                    }
                    (items, at.get("row"), map.get("cite"))
                }
                _ => {
                    self.problems
                        .push(at.problem("a row with a citation of its own has `row` and `cite`"));
                    return;
                }
            },
            _ => {
                self.problems
                    .push(at.problem("a row is a list").expecting("`[key, value]`"));
                return;
            }
        };
        let row_citation = cite.and_then(|cite| self.citer.own(cite, at.get("cite"), self.problems));
        let own_keys = units.len();
        let width = own_keys
            + if across.is_empty() {
                written.len()
            } else {
                across.len()
            };
        if items.len() != width {
            self.problems.push(
                at.problem(match items.len() {
                    1 => "this row has 1 entry".to_owned(),
                    count => format!("this row has {count} entries"),
                })
                .expecting(format!(
                    "{width}: one for each key and column of the table `{}`",
                    table.name
                )),
            );
            return;
        }
        let mut keys = Vec::with_capacity(table.keys.len());
        for (index, item) in items.iter().take(own_keys).enumerate() {
            let (Some(key), unit) = (table.keys.get(index), units.get(index)) else {
                return;
            };
            if item.as_str() == Some("any") {
                keys.push(None);
                continue;
            }
            let unit = unit.as_ref().and_then(|unit| unit.as_deref());
            let at = items_at.item(index);
            let Some(value) = literal(item, at, key.dimension, unit, self.ladder, self.problems) else {
                return;
            };
            keys.push(Some(value));
        }
        let cells: Vec<_> = items
            .iter()
            .enumerate()
            .skip(own_keys)
            .map(|(index, item)| {
                let column = if across.is_empty() { index - own_keys } else { 0 };
                let dimension = table.columns.get(column).map(|column| column.dimension)?;
                let unit = written.get(column).and_then(|column| column.unit.as_deref());
                self.cell(item, items_at.item(index), dimension, unit, row_citation.as_ref())
            })
            .collect();
        let Some(cells) = cells.into_iter().collect::<Option<Vec<_>>>() else {
            return;
        };
        let place = at.place();
        if across.is_empty() {
            self.tell_apart(&table.name, &keys, at);
            table.rows.push(Row { keys, cells, place });
            return;
        }
        for (value, cell) in across.iter().zip(cells) {
            let mut keys = keys.clone();
            keys.push(Some(*value));
            self.tell_apart(&table.name, &keys, at);
            table.rows.push(Row {
                keys,
                cells: vec![cell],
                place: place.clone(),
            });
        }
    }

    /// Reports a row whose keys another row has already: which of the two would hold is anyone's guess.
    fn tell_apart(&mut self, table: &str, keys: &[Option<Value>], at: Cursor<'_>) {
        let line = at.place().line;
        // A value has no hash of its own; its debug form tells values apart exactly.
        if let Some(first) = self.keys_seen.insert(format!("{keys:?}"), line) {
            self.problems.push(
                at.problem(format!("the table `{table}` has these keys twice"))
                    .expecting("keys of its own")
                    .helped(format!("the first row with them stands in line {first}")),
            );
        }
    }

    fn cell(
        &mut self,
        yaml: &Yaml,
        at: Cursor<'_>,
        dimension: Dimension,
        unit: Option<&str>,
        row: Option<&Citation>,
    ) -> Option<Cell> {
        let (yaml, value_at, own) = match yaml {
            Yaml::Mapping(map) => {
                let Some(value) = map.get("value") else {
                    self.problems
                        .push(at.problem("a cell with a citation of its own has `value` and `cite`"));
                    return None;
                };
                if !only(&["value", "cite"], map, at, self.problems) {
                    return None;
                }
                let own = map
                    .get("cite")
                    .and_then(|cite| self.citer.own(cite, at.get("cite"), self.problems));
                (value, at.get("value"), own)
            }
            other => (other, at, None),
        };
        let content = match yaml.as_str() {
            Some("none") => Content::Barred,
            Some("unlimited") => Content::Unlimited,
            Some("unfilled") => Content::Unfilled,
            _ => Content::Value(literal(
                yaml,
                value_at,
                dimension,
                unit,
                self.ladder,
                self.problems,
            )?),
        };
        Some(Cell {
            content,
            citation: own.or_else(|| row.cloned()),
            place: value_at.place(),
        })
    }
}
