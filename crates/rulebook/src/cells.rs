//! Other content for a cell of a table, where it can stand there.

use crownweir_quantity::Length;

use crate::model::RuleSet;
use crate::table::{Cell, Content};
use crate::value::{Dimension, Size, Value, with_article};

/// Why content cannot stand in a cell.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CellError {
    /// There is no such cell.
    #[error("the rule set has no table {table} with a row {row} and a column {column}, counted from 0")]
    NoCell {
        /// Number of the table.
        table: usize,
        /// Number of the row.
        row: usize,
        /// Number of the column.
        column: usize,
    },
    /// The column holds values of another dimension.
    #[error(
        "the column `{column}` of the table `{table}` holds {}, and {} was given",
        with_article(holds.name()),
        with_article(given)
    )]
    OtherDimension {
        /// Name of the table.
        table: String,
        /// Name of the column.
        column: String,
        /// What the column holds.
        holds: Dimension,
        /// The name of the dimension that was given.
        given: &'static str,
    },
    /// The column holds words of a vocabulary that this is not among.
    #[error("the column `{column}` of the table `{table}` holds one of {}, and `{word}` was given", words.join(", "))]
    UnknownWord {
        /// Name of the table.
        table: String,
        /// Name of the column.
        column: String,
        /// The words that it may hold.
        words: &'static [&'static str],
        /// What was given.
        word: &'static str,
    },
    /// The column holds sizes, and the ladder has none at that place.
    #[error(
        "the column `{column}` of the table `{table}` holds a size, and the ladder has none at the place {} that was given",
        size.0
    )]
    UnknownSize {
        /// Name of the table.
        table: String,
        /// Name of the column.
        column: String,
        /// What was given.
        size: Size,
    },
    /// What was given is negative.
    #[error("what the column `{column}` of the table `{table}` holds is never negative")]
    Negative {
        /// Name of the table.
        table: String,
        /// Name of the column.
        column: String,
    },
    /// The column holds the loads of fixtures, and what discharges has a load.
    #[error(
        "the column `{column}` of the table `{table}` holds the load of a fixture, which is never unlimited"
    )]
    UnlimitedLoad {
        /// Name of the table.
        table: String,
        /// Name of the column.
        column: String,
    },
}

impl RuleSet {
    /// A cell, by the numbers of table, row and column.
    #[must_use]
    pub fn cell(&self, (table, row, column): (usize, usize, usize)) -> Option<&Cell> {
        let row = self.tables.get(table)?.rows.get(row)?;
        row.cells.get(column)
    }

    /// Whether content could stand in a cell, as far as a rule file could have it there.
    ///
    /// # Errors
    /// Why it could not.
    pub fn could_hold(&self, cell: (usize, usize, usize), content: Content) -> Result<(), CellError> {
        let (table, row, column) = cell;
        let found = self.tables.get(table).filter(|_| self.cell(cell).is_some());
        let Some((own, head)) = found.and_then(|own| Some((own, own.columns.get(column)?))) else {
            return Err(CellError::NoCell { table, row, column });
        };
        let (table_name, column_name) = (own.name.clone(), head.name.clone());
        match (content, head.dimension) {
            (Content::Value(Value::Length(length)), Dimension::Length) if length < Length::ZERO => {
                Err(CellError::Negative {
                    table: table_name,
                    column: column_name,
                })
            }
            (Content::Value(Value::Word(word)), Dimension::Word(words)) if !words.contains(&word) => {
                Err(CellError::UnknownWord {
                    table: table_name,
                    column: column_name,
                    words,
                    word,
                })
            }
            (Content::Value(Value::Size(size)), Dimension::Size) if self.ladder.rung(size).is_none() => {
                Err(CellError::UnknownSize {
                    table: table_name,
                    column: column_name,
                    size,
                })
            }
            (Content::Value(value), holds) if value.dimension_name() != holds.name() => {
                Err(CellError::OtherDimension {
                    table: table_name,
                    column: column_name,
                    holds,
                    given: value.dimension_name(),
                })
            }
            (Content::Unlimited, _) if self.loads.reads(table, column) => Err(CellError::UnlimitedLoad {
                table: table_name,
                column: column_name,
            }),
            _ => Ok(()),
        }
    }

    /// Puts other content in a cell, and gives back what stood there.
    ///
    /// # Errors
    /// Why it [could not stand](Self::could_hold) there; all is then as it was.
    pub fn set_cell(&mut self, cell: (usize, usize, usize), content: Content) -> Result<Content, CellError> {
        self.could_hold(cell, content)?;
        let (table, row, column) = cell;
        let own = self
            .parts
            .tables
            .get_mut(table)
            .and_then(|table| table.rows.get_mut(row));
        let own = own.and_then(|row| row.cells.get_mut(column));
        let own = own.ok_or(CellError::NoCell { table, row, column })?;
        Ok(std::mem::replace(&mut own.content, content))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Fact;
    use crate::tables::MOST_KEYS;

    const RULES: &str = "crownweir: ruleset/1
name: gull-lane
title: Rules of an invented town
document: Gull Lane
edition: '1'
revision: 1
sizes: [{size: 2 in, diameter: 2 in}, {size: 3 in, diameter: 3 in}]
definitions:
  vertical: {most_from_vertical: 45 deg, cite: {basis: common_practice}}
  branch_interval: {counted_by: storey, cite: {basis: common_practice}}
  bathroom_group: {needs: [[lavatory]], cite: {basis: common_practice}}
  trap_arm: {measured_from: trap_weir, cite: {basis: common_practice}}
  vent_length: {measured_to: open_air, cite: {basis: common_practice}}
loads: {fixture: []}
tables:
  kinds:
    title: Kinds
    cite: {basis: common_practice}
    keys: [{name: type, of: fixture.type, match: exact}]
    columns: [{name: kind, of: trap.kind}, {name: length, of: length}]
    rows: [[sink, p, 2 in], [lavatory, p, 3 in], [urinal, integral, 4 in], [bathtub, p, 5 in], [any, p, 1 in]]
rules: []
";

    fn read(text: &str) -> RuleSet {
        let rules = RuleSet::read("rules.yaml", text.as_bytes(), &Default::default());
        rules.unwrap_or_else(|problems| panic!("{problems}\n{text}"))
    }

    fn rules() -> RuleSet {
        read(RULES)
    }

    /// A word of the vocabulary that the column is of, and one of another.
    #[test]
    fn a_cell_holds_words_of_its_vocabulary() {
        let mut rules = rules();
        let word = |word| Content::Value(Value::Word(word));
        assert_eq!(rules.set_cell((0, 0, 0), word("integral")), Ok(word("p")));
        assert_eq!(
            rules.cell((0, 0, 0)).map(|cell| cell.content),
            Some(word("integral"))
        );
        let refused = rules.set_cell((0, 0, 0), word("sink"));
        let Err(error @ CellError::UnknownWord { .. }) = refused else {
            panic!("{refused:?}")
        };
        let said = error.to_string();
        assert!(
            said.starts_with("the column `kind` of the table `kinds` holds one of "),
            "{said}"
        );
        assert!(said.ends_with(", and `sink` was given"), "{said}");
        assert_eq!(
            rules.cell((0, 0, 0)).map(|cell| cell.content),
            Some(word("integral"))
        );
        for content in [Content::Barred, Content::Unlimited, Content::Unfilled] {
            assert!(rules.set_cell((0, 0, 1), content).is_ok());
        }
    }

    /// The rows are found by their keys as they are, not as they were.
    #[test]
    fn a_row_is_found_by_the_key_that_was_put_in() {
        let mut rules = rules();
        let Some(table) = rules.parts.tables.first_mut() else {
            panic!("no table")
        };
        assert!(table.index.is_some());
        let (sink, shower) = (Value::Word("sink"), Value::Word("shower"));
        assert_eq!((table.find(&[sink]), table.find(&[shower])), (Some(0), Some(4)));
        assert_eq!(table.set_key(0, 0, shower), Some(sink));
        assert_eq!((table.find(&[sink]), table.find(&[shower])), (Some(4), Some(0)));
        // No such row, no such key, a key that matches any value, a value of another dimension, a word of another
        // vocabulary.
        let (count, integral) = (Value::Count(1), Value::Word("integral"));
        for (row, key, value) in [
            (9, 0, sink),
            (0, 9, sink),
            (4, 0, sink),
            (1, 0, count),
            (1, 0, integral),
        ] {
            assert_eq!(table.set_key(row, key, value), None);
        }
        assert_eq!(
            table.keys().first().map(|key| key.dimension),
            Some(Fact::FixtureKind.dimension())
        );
        assert_eq!((table.find(&[sink]), table.find(&[shower])), (Some(4), Some(0)));
    }

    /// Rows are tried in their order, be they few or so many that they are sorted by their first key.
    #[test]
    fn the_first_row_that_fits_is_found() {
        let rows = "[sink, p, 2 in], [any, p, 3 in], [lavatory, p, 4 in]";
        let more = ", [urinal, p, 5 in], [bathtub, p, 6 in]";
        let (_, after) = RULES.split_once("    rows: ").unwrap_or_default();
        let (written, _) = after.split_once('\n').unwrap_or_default();
        for rows in [format!("[{rows}]"), format!("[{rows}{more}]")] {
            let rules = read(&RULES.replace(written, &rows));
            let find = |word| rules.tables.first()?.find(&[Value::Word(word)]);
            assert_eq!(
                ["sink", "lavatory", "shower"].map(find),
                [Some(0), Some(1), Some(1)],
                "{rows}"
            );
        }
    }

    /// A first key that is a bound is found between two of its values too.
    #[test]
    fn a_bound_holds_between_two_rows() {
        let table = |matching: &str| {
            let keys = format!("[{{name: size, of: size, match: {matching}}}]");
            let rows = "[[2 in, 1], [3 in, 2], [5 in, 3], [6 in, 4]]";
            let sizes = ["2 in", "3 in", "4 in", "5 in", "6 in"]
                .map(|size| format!("{{size: {size}, diameter: {size}}}"))
                .join(", ");
            let (head, _) = RULES.split_once("sizes:").unwrap_or_default();
            let (_, rest) = RULES.split_once("definitions:").unwrap_or_default();
            let (rest, _) = rest.split_once("    keys:").unwrap_or_default();
            let columns = "[{name: count, of: count}]";
            read(&format!(
                "{head}sizes: [{sizes}]\ndefinitions:{rest}    keys: {keys}\n    columns: {columns}\n    rows: {rows}\nrules: []\n"
            ))
        };
        for (matching, row) in [("from", Some(1)), ("up_to", Some(2)), ("exact", None)] {
            let rules = table(matching);
            let four = Value::Size(crate::value::Size(2));
            assert_eq!(
                rules.tables.first().and_then(|table| table.find(&[four])),
                row,
                "{matching}"
            );
        }
    }

    /// A table may be looked up by as many keys as there is room for, and by no more.
    #[test]
    fn a_table_has_so_many_keys_and_no_more() {
        for (count, fits) in [(MOST_KEYS, true), (MOST_KEYS + 1, false), (MOST_KEYS + 2, false)] {
            let keys: Vec<_> = (0..count)
                .map(|key| format!("{{name: key_{key}, of: fixture.type, match: exact}}"))
                .collect();
            let (head, rest) = RULES.split_once("    keys: ").unwrap_or_default();
            let (_, rest) = rest.split_once('\n').unwrap_or_default();
            let (columns, _) = rest.split_once('\n').unwrap_or_default();
            let any = vec!["any"; count].join(", ");
            let text = format!(
                "{head}    keys: [{}]\n{columns}\n    rows: [[{any}, p, 2 in]]\nrules: []\n",
                keys.join(", ")
            );
            let read = RuleSet::read("rules.yaml", text.as_bytes(), &Default::default());
            assert_eq!(read.is_ok(), fits, "{count}: {:?}", read.err());
        }
    }
}
