//! A sheet: a titled table with notes, before it is text, CSV or JSON.
//!
//! It knows nothing of pipes. All shop sheets are made of it, so that they look and read alike.

use crownweir_quantity::{Angle, Bearing, Length, Notation, Slope};

/// A sheet to be printed or read by a program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    /// The name by which it is asked for, and its file is called.
    pub name: &'static str,
    /// What it is, in a few words.
    pub title: String,
    /// The network that it is made from.
    pub network: String,
    /// How lengths and slopes are printed.
    pub notation: Notation,
    /// Its columns.
    pub columns: Vec<Column>,
    /// How many of the first columns make a heading in print, over the rows that have them in common.
    pub headings: usize,
    /// Its rows, a cell for each column.
    pub rows: Vec<Vec<Cell>>,
    /// What a reader has to know, each in a sentence or two.
    pub notes: Vec<String>,
}

/// A column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// The key in JSON, in lower case with underscores.
    pub key: &'static str,
    /// The heading in print and in CSV.
    pub title: &'static str,
    /// What its cells hold.
    pub holds: Holds,
}

/// What the cells of a column hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Holds {
    /// Words.
    Text,
    /// Lengths, printed to 1/16 in or 1 mm.
    Length,
    /// Slopes.
    Slope,
    /// Numbers of things.
    Count,
}

/// What stands in a row under a column.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Cell {
    /// Nothing: it does not apply.
    Empty,
    /// Words.
    Text(String),
    /// A length.
    Length(Length),
    /// A slope.
    Slope(Slope),
    /// A number of things.
    Count(u64),
    /// Several things, each in words.
    List(Vec<String>),
    /// Something that is not known, with each datum that is missing.
    NotStated(Vec<String>),
    /// A line to write on.
    Line,
}

impl Column {
    /// A column.
    #[must_use]
    pub const fn new(key: &'static str, title: &'static str, holds: Holds) -> Self {
        Self { key, title, holds }
    }
}

impl Cell {
    /// What is not known for want of one datum.
    #[must_use]
    pub fn not_stated(missing: impl Into<String>) -> Self {
        Self::NotStated(vec![missing.into()])
    }

    /// A length, or what is missing where it is not known.
    #[must_use]
    pub fn length_or(length: Option<Length>, missing: &str) -> Self {
        length.map_or_else(|| Self::not_stated(missing), Self::Length)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

/// A length to the nearest 1/16 in or 1 mm.
#[must_use]
pub fn rounded(length: Length, notation: Notation) -> Length {
    let grain = grain(notation).nanometres();
    let steps = length.checked_scale(1, grain).map(Length::nanometres);
    let rounded = steps.and_then(|steps| steps.checked_mul(grain));
    rounded.map_or(length, Length::from_nanometres)
}

/// The smallest step in which a tape is read: 1/16 in or 1 mm.
#[must_use]
pub const fn grain(notation: Notation) -> Length {
    match notation {
        Notation::Inches => Length::from_nanometres(Length::INCH.nanometres() / 16),
        Notation::Millimetres => Length::MILLIMETRE,
    }
}

/// A length as it is read off a tape.
#[must_use]
pub fn on_tape(length: Length, notation: Notation) -> String {
    rounded(length, notation).in_notation(notation).to_string()
}

/// A slope for people, rounded; it says so where it is not exact.
pub(crate) fn graded(slope: Slope, notation: Notation) -> String {
    if slope.is_vertical() {
        return slope.to_string();
    }
    slope.in_notation(notation).to_string()
}

/// A direction in plan for people, to a tenth of a degree where it has no name.
pub(crate) fn heading(bearing: Bearing) -> String {
    let tenth = 100_000;
    let microdegrees = bearing.microdegrees();
    let rounded = (microdegrees + tenth / 2).div_euclid(tenth) * tenth;
    let named = bearing.to_string();
    if named.ends_with("deg") {
        return Angle::from_microdegrees(rounded).to_string();
    }
    named
}
