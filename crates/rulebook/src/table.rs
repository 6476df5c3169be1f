//! Tables: keys, rows, cells, and the look-up of a row.

use std::collections::BTreeMap;

use crownweir_document::Place;

use crate::model::Citation;
use crate::value::{Dimension, Value};

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Name by which rules look it up.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// Where it comes from, unless a row or cell says otherwise.
    pub citation: Citation,
    /// What it is looked up by.
    pub(crate) keys: Vec<Key>,
    /// What it gives.
    pub(crate) columns: Vec<Column>,
    /// Its rows.
    pub(crate) rows: Vec<Row>,
    /// Where it is defined.
    pub place: Place,
    /// The rows by their first key, where that matches exactly.
    pub(crate) index: Option<Index>,
}

/// The rows of a table by their first key.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Index {
    /// Those with a value of it.
    by_key: BTreeMap<IndexKey, Vec<u32>>,
    /// Those that match any.
    any: Vec<u32>,
}

impl Index {
    /// The rows that a first key may be in, in their order.
    fn rows(&self, key: IndexKey) -> impl Iterator<Item = usize> {
        let (mut own, mut any) = (
            self.by_key.get(&key).map_or(&[][..], Vec::as_slice),
            &self.any[..],
        );
        std::iter::from_fn(move || {
            let next = match (own.first(), any.first()) {
                (Some(row), Some(other)) if other < row => &mut any,
                (Some(_), _) => &mut own,
                (None, _) => &mut any,
            };
            let (row, rest) = next.split_first()?;
            *next = rest;
            Some(*row as usize)
        })
    }
}

/// A first key's value, in a form that has an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum IndexKey {
    Size(u16),
    Word(&'static str),
    Truth(bool),
}

impl IndexKey {
    fn of(value: Value) -> Option<Self> {
        match value {
            Value::Size(size) => Some(Self::Size(size.0)),
            Value::Word(word) => Some(Self::Word(word)),
            Value::Truth(truth) => Some(Self::Truth(truth)),
            _ => None,
        }
    }
}

/// How a key matches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "match"))]
pub enum Match {
    /// The value itself.
    Exact,
    /// The row with the smallest key that is not under the value: the keys are upper bounds.
    UpTo,
    /// The row with the largest key that is not over the value: the keys are lower bounds.
    From,
}

/// What a table is looked up by.
#[derive(Debug, Clone, PartialEq)]
pub struct Key {
    /// Name.
    pub name: String,
    /// Dimension.
    pub dimension: Dimension,
    /// How it matches.
    pub matching: Match,
}

/// What a table gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Name.
    pub name: String,
    /// Dimension.
    pub dimension: Dimension,
}

/// A row of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// One key for each of the table's; none matches anything.
    pub keys: Vec<Option<Value>>,
    /// One cell for each of the table's columns.
    pub cells: Vec<Cell>,
    /// Where it is written.
    pub place: Place,
}

/// A cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// What it says.
    pub content: Content,
    /// Where it comes from, if not from where the whole table does.
    pub citation: Option<Citation>,
    /// Where it is written.
    pub place: Place,
}

/// What a cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Content {
    /// A value.
    Value(Value),
    /// Not permitted.
    Barred,
    /// No limit.
    Unlimited,
    /// To be filled from its source: the adopted book, or a maker's chart.
    Unfilled,
}

impl Table {
    /// What it is looked up by.
    #[must_use]
    #[inline]
    pub fn keys(&self) -> &[Key] {
        &self.keys
    }

    /// What it gives.
    #[must_use]
    #[inline]
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// Its rows.
    #[must_use]
    #[inline]
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// Puts another value in the place of a row's key, and gives back the one that stood there. None, and nothing is
    /// altered, where the row has no such key or matches any value by it, or where the value is none of the key's
    /// dimension. Whether another row has the same keys is not looked at.
    pub fn set_key(&mut self, row: usize, key: usize, value: Value) -> Option<Value> {
        let dimension = self.keys.get(key)?.dimension;
        let own = self.rows.get_mut(row)?.keys.get_mut(key)?.as_mut()?;
        let fits = match (dimension, value) {
            (Dimension::Word(words), Value::Word(word)) => words.contains(&word),
            _ => value.dimension_name() == dimension.name(),
        };
        if !fits {
            return None;
        }
        let before = std::mem::replace(own, value);
        if key == 0 {
            self.make_index();
        }
        Some(before)
    }

    /// Sorts the rows by their first key, where that matches exactly.
    pub(crate) fn make_index(&mut self) {
        self.index = None;
        let is_exact = self.keys.first().is_some_and(|key| key.matching == Match::Exact);
        if !is_exact || self.rows.len() < 4 {
            return;
        }
        let mut index = Index::default();
        for (number, row) in (0..).zip(&self.rows) {
            match row.keys.first().copied().flatten() {
                None => index.any.push(number),
                Some(value) => {
                    let Some(key) = IndexKey::of(value) else { return };
                    index.by_key.entry(key).or_default().push(number);
                }
            }
        }
        self.index = Some(index);
    }

    /// The index of the row that matches the values, one for each key.
    #[must_use]
    pub fn find(&self, values: &[Value]) -> Option<usize> {
        let Some(index) = &self.index else {
            return self.find_among(values, 0..self.rows.len());
        };
        let key = values.first().copied().and_then(IndexKey::of)?;
        self.find_among(values, index.rows(key))
    }

    fn find_among(&self, values: &[Value], rows: impl Iterator<Item = usize>) -> Option<usize> {
        let mut best: Option<(usize, Option<Value>)> = None;
        'rows: for index in rows {
            let row = self.rows.get(index)?;
            let mut bound = None;
            for ((key, cell), value) in self.keys.iter().zip(&row.keys).zip(values) {
                let Some(cell) = cell else { continue };
                let order = value.compare(*cell);
                let fits = match key.matching {
                    Match::Exact => order == Some(std::cmp::Ordering::Equal),
                    Match::UpTo => {
                        matches!(order, Some(std::cmp::Ordering::Less | std::cmp::Ordering::Equal))
                    }
                    Match::From => matches!(
                        order,
                        Some(std::cmp::Ordering::Greater | std::cmp::Ordering::Equal)
                    ),
                };
                if !fits {
                    continue 'rows;
                }
                if key.matching != Match::Exact {
                    bound = Some((key.matching, *cell));
                }
            }
            let better = match (&best, bound) {
                (None, _) => true,
                (Some((_, None)), _) | (_, None) => false,
                (Some((_, Some(kept))), Some((matching, new))) => {
                    let order = new.compare(*kept);
                    order
                        == Some(match matching {
                            Match::UpTo => std::cmp::Ordering::Less,
                            _ => std::cmp::Ordering::Greater,
                        })
                }
            };
            if better {
                let exact = bound.is_none();
                best = Some((index, bound.map(|(_, cell)| cell)));
                if exact {
                    break;
                }
            }
        }
        best.map(|(index, _)| index)
    }
}
