//! Sheets as text, CSV and JSON.
//!
//! It opens no file: the caller has the text and does with it what it wants.

use std::fmt::Write as _;

use crownweir_document::Unwritable;
use crownweir_quantity::{Length, Notation};
use serde::Serialize;
use serde_json::{Map, Number, Value};

use crate::sheet::{Cell, Column, Holds, Sheet, graded, grain, on_tape, rounded};

/// The width to which notes are filled.
const WIDTH: usize = 100;
/// How wide a column of words may become before its cells are broken into lines.
const WIDEST: usize = 56;
/// What is printed where something is not known.
const NOT_STATED: &str = "not stated";
/// The format's name and version, as the first key of a JSON file states it.
pub(crate) const FORMAT: &str = "sheets/1";

/// Sheets as text for a terminal or a printer.
#[must_use]
pub fn text(sheets: &[Sheet]) -> String {
    let mut text = String::new();
    for (number, sheet) in sheets.iter().enumerate() {
        if number > 0 {
            text.push('\n');
        }
        sheet.print(&mut text);
    }
    text
}

/// Sheets as JSON.
///
/// # Errors
/// Never, as far as is known: the writer's own.
pub fn json(sheets: &[Sheet]) -> Result<String, Unwritable> {
    let file = SheetsJson {
        crownweir: FORMAT,
        sheets: sheets.iter().map(Sheet::as_json).collect(),
    };
    serde_json::to_string_pretty(&file).map_err(Unwritable::new)
}

/// Shop sheets. Later versions may add keys, and take none away.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "sheets"))]
pub(crate) struct SheetsJson<'a> {
    /// What kind of file this is.
    #[cfg_attr(feature = "schema", schemars(extend("const" = FORMAT)))]
    crownweir: &'static str,
    /// The sheets, in the order in which they were asked for.
    sheets: Vec<SheetJson<'a>>,
}

/// A sheet.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "sheet"))]
struct SheetJson<'a> {
    /// Its name.
    sheet: &'static str,
    /// What it is.
    title: &'a str,
    /// The network's own name.
    network: &'a str,
    /// Its columns.
    columns: Vec<ColumnJson>,
    /// Its rows.
    rows: Vec<RowJson>,
    /// What a reader has to know.
    notes: &'a [String],
}

/// A column of a sheet.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "column"))]
struct ColumnJson {
    /// The key under which rows have its value.
    key: &'static str,
    /// Its heading.
    title: &'static str,
    /// The unit of its numbers, where they have one: `in` or `mm`.
    #[serde(skip_serializing_if = "Option::is_none")]
    unit: Option<&'static str>,
}

/// A row of a sheet.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "row"))]
struct RowJson {
    /// What stands under each column: text, a list of texts, a number in the column's unit, or nothing.
    values: Map<String, Value>,
    /// What is missing, for each column whose value could not be told.
    #[serde(skip_serializing_if = "Map::is_empty")]
    not_stated: Map<String, Value>,
}

impl Sheet {
    /// The sheet as CSV: a line of headings, then a line for each row. Lengths are decimal numbers, their unit in the
    /// heading; what is not known stays empty, and notes are left out.
    ///
    /// # Errors
    /// Never, as far as is known: the writer's own.
    pub fn csv(&self) -> Result<String, Unwritable> {
        self.as_csv().map_err(Unwritable::new)
    }

    fn as_csv(&self) -> Result<String, csv::Error> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(self.columns.iter().map(|column| match self.unit(*column) {
            Some(unit) => format!("{} ({unit})", column.title),
            None => column.title.to_owned(),
        }))?;
        for row in &self.rows {
            writer.write_record(row.iter().map(|cell| match cell {
                Cell::Length(length) => self.number(*length),
                Cell::Text(_) | Cell::List(_) => harmless(&self.shown(cell)),
                Cell::NotStated(_) | Cell::Line => String::new(),
                cell => self.shown(cell),
            }))?;
        }
        let bytes = writer
            .into_inner()
            .map_err(|error| csv::Error::from(error.into_error()))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }

    pub(crate) fn unit(&self, column: Column) -> Option<&'static str> {
        (column.holds == Holds::Length).then_some(match self.notation {
            Notation::Inches => "in",
            Notation::Millimetres => "mm",
        })
    }

    /// A length as a decimal number of the sheet's unit, exact to its rounding.
    pub(crate) fn number(&self, length: Length) -> String {
        let nanometres = rounded(length, self.notation).nanometres();
        match self.notation {
            Notation::Millimetres => (nanometres / Length::MILLIMETRE.nanometres()).to_string(),
            Notation::Inches => {
                // Sixteenths of an inch have four decimals at the most.
                let parts = nanometres / grain(self.notation).nanometres();
                let (whole, rest) = (parts.abs() / 16, parts.abs() % 16 * 625);
                let sign = if parts < 0 { "-" } else { "" };
                let text = format!("{sign}{whole}.{rest:04}");
                text.trim_end_matches('0').trim_end_matches('.').to_owned()
            }
        }
    }

    pub(crate) fn shown(&self, cell: &Cell) -> String {
        match cell {
            Cell::Empty => String::new(),
            Cell::Text(text) => text.clone(),
            Cell::Length(length) => on_tape(*length, self.notation),
            Cell::Slope(slope) => graded(*slope, self.notation),
            Cell::Count(count) => count.to_string(),
            Cell::List(items) => items.join("; "),
            Cell::NotStated(_) => NOT_STATED.to_owned(),
            Cell::Line => "____________".to_owned(),
        }
    }

    fn as_json(&self) -> SheetJson<'_> {
        let value = |cell: &Cell| match cell {
            Cell::Empty | Cell::NotStated(_) | Cell::Line => Value::Null,
            Cell::Count(count) => Value::from(*count),
            Cell::List(items) => items.iter().map(String::as_str).collect(),
            // A decimal number as written, without floating point.
            Cell::Length(length) => self
                .number(*length)
                .parse::<Number>()
                .map_or(Value::Null, Value::Number),
            cell => Value::String(self.shown(cell)),
        };
        let rows = self.rows.iter().map(|row| {
            let cells = || self.columns.iter().zip(row);
            RowJson {
                values: cells()
                    .map(|(column, cell)| (column.key.to_owned(), value(cell)))
                    .collect(),
                not_stated: cells()
                    .filter_map(|(column, cell)| match cell {
                        Cell::NotStated(missing) => Some((
                            column.key.to_owned(),
                            missing.iter().map(String::as_str).collect(),
                        )),
                        _ => None,
                    })
                    .collect(),
            }
        });
        let columns = self.columns.iter().map(|column| ColumnJson {
            key: column.key,
            title: column.title,
            unit: self.unit(*column),
        });
        SheetJson {
            sheet: self.name,
            title: &self.title,
            network: &self.network,
            columns: columns.collect(),
            rows: rows.collect(),
            notes: &self.notes,
        }
    }

    fn print(&self, text: &mut String) {
        let title = format!("{}: {}", self.network, self.title);
        let _ = writeln!(text, "{title}\n{}", "=".repeat(title.chars().count()));
        let columns = self.columns.get(self.headings..).unwrap_or_default();
        let shown: Vec<Vec<Vec<String>>> = self
            .rows
            .iter()
            .map(|row| {
                row.iter()
                    .skip(self.headings)
                    .map(|cell| lines(cell, &self.shown(cell)))
                    .collect()
            })
            .collect();
        let widths: Vec<usize> = columns
            .iter()
            .enumerate()
            .map(|(index, column)| {
                let cells = shown.iter().filter_map(|row| row.get(index)).flatten();
                let widest = cells.map(|line| line.chars().count()).max().unwrap_or(0);
                widest.max(column.title.chars().count())
            })
            .collect();
        let mut heading: Option<&[Cell]> = None;
        let names: Vec<String> = columns.iter().map(|column| column.title.to_owned()).collect();
        for (row, cells) in self.rows.iter().zip(&shown) {
            let own = row.get(..self.headings).unwrap_or_default();
            if heading != Some(own) {
                heading = Some(own);
                let words: Vec<_> = own.iter().map(|cell| self.shown(cell)).collect();
                let words: Vec<_> = words
                    .iter()
                    .filter(|word| !word.is_empty())
                    .map(String::as_str)
                    .collect();
                text.push('\n');
                if !words.is_empty() {
                    let _ = writeln!(text, "{}", words.join(", "));
                }
                line(text, columns, &widths, &names);
                let rules: Vec<_> = widths.iter().map(|width| "-".repeat(*width)).collect();
                line(text, columns, &widths, &rules);
            }
            let height = cells.iter().map(Vec::len).max().unwrap_or(0);
            for at in 0..height {
                let part: Vec<_> = cells
                    .iter()
                    .map(|lines| lines.get(at).cloned().unwrap_or_default())
                    .collect();
                line(text, columns, &widths, &part);
            }
        }
        if self.rows.is_empty() {
            text.push_str("\nnothing to list\n");
        }
        let missing = self.missing();
        if !missing.is_empty() {
            text.push_str("\nNot stated\n");
            for note in missing {
                bullet(text, &note);
            }
        }
        if !self.notes.is_empty() {
            text.push_str("\nNotes\n");
            for note in &self.notes {
                bullet(text, note);
            }
        }
    }

    /// What is missing, each once, in the order of the rows.
    pub(crate) fn missing(&self) -> Vec<String> {
        let mut seen = std::collections::BTreeSet::new();
        let cells = self.rows.iter().flatten();
        let missing = cells.filter_map(|cell| match cell {
            Cell::NotStated(missing) => Some(missing),
            _ => None,
        });
        let missing = missing.flatten().cloned();
        missing.filter(|missing| seen.insert(missing.clone())).collect()
    }
}

/// A cell in lines that are not too long for a page. The items of a list are broken only where they must be.
fn lines(cell: &Cell, shown: &str) -> Vec<String> {
    let wrap = |text: &str| {
        let options = textwrap::Options::new(WIDEST).word_splitter(textwrap::WordSplitter::NoHyphenation);
        let lines = textwrap::wrap(text, options);
        let lines: Vec<String> = lines.into_iter().map(std::borrow::Cow::into_owned).collect();
        lines
    };
    let Cell::List(items) = cell else {
        return wrap(shown);
    };
    let mut lines: Vec<String> = Vec::new();
    for item in items {
        match lines.last_mut() {
            Some(line) if line.chars().count() + item.chars().count() + 2 <= WIDEST => {
                line.push_str("; ");
                line.push_str(item);
            }
            Some(line) => {
                line.push(';');
                lines.extend(wrap(item));
            }
            None => lines.extend(wrap(item)),
        }
    }
    lines
}

fn line(text: &mut String, columns: &[Column], widths: &[usize], cells: &[String]) {
    let mut out = String::new();
    for ((column, width), cell) in columns.iter().zip(widths).zip(cells) {
        if !out.is_empty() {
            out.push_str("  ");
        }
        let space = " ".repeat(width.saturating_sub(cell.chars().count()));
        match column.holds {
            Holds::Text => {
                out.push_str(cell);
                out.push_str(&space);
            }
            _ => {
                out.push_str(&space);
                out.push_str(cell);
            }
        }
    }
    text.push_str(out.trim_end());
    text.push('\n');
}

fn bullet(text: &mut String, note: &str) {
    let options = textwrap::Options::new(WIDTH)
        .initial_indent("- ")
        .subsequent_indent("  ");
    for line in textwrap::wrap(note, options) {
        text.push_str(&line);
        text.push('\n');
    }
}

/// Text that no spreadsheet takes for a formula.
fn harmless(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}
