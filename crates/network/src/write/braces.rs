//! Parts of the text in braces, on one line: `{name: W-1, pattern: wye}`.

use std::fmt::{self, Display, Write as _};

use crownweir_document::scalar;
use crownweir_quantity::{Length, Notation, Rounding, Slope};

use crate::open::SlopeFile;

/// Keys with their values, as they come.
pub(super) struct Braces {
    text: String,
    notation: Notation,
}

impl Braces {
    pub(super) fn new(notation: Notation) -> Self {
        Self {
            text: String::from("{"),
            notation,
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.text.len() == 1
    }

    pub(super) fn close(mut self) -> String {
        self.text.push('}');
        self.text
    }

    /// A value that is no text, or text that needs no quotation marks.
    pub(super) fn put(&mut self, key: &str, value: impl Display) {
        if !self.is_empty() {
            self.text.push_str(", ");
        }
        // Text always takes more.
        let _ = write!(self.text, "{key}: {value}");
    }

    pub(super) fn maybe(&mut self, key: &str, value: Option<impl Display>) {
        if let Some(value) = value {
            self.put(key, value);
        }
    }

    pub(super) fn text(&mut self, key: &str, text: &str) {
        self.put(key, scalar(text));
    }

    pub(super) fn length(&mut self, key: &str, length: Option<Length>) {
        self.maybe(key, length.map(|length| in_file(length, self.notation)));
    }

    /// What is not, where nothing is said.
    pub(super) fn flag(&mut self, key: &str, is: bool) {
        if is {
            self.put(key, true);
        }
    }

    /// Lengths in brackets.
    pub(super) fn lengths(&mut self, key: &str, lengths: &[Length]) {
        let lengths = lengths
            .iter()
            .map(|&length| in_file(length, self.notation).to_string());
        let lengths: Vec<String> = lengths.collect();
        self.put(key, format_args!("[{}]", lengths.join(", ")));
    }
}

/// A length, exactly: in the notation of the file where that can hold it.
pub(super) fn in_file(length: Length, notation: Notation) -> impl Display {
    struct InFile(Length, Notation);
    impl Display for InFile {
        fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            let Self(length, notation) = *self;
            if length.rounded(notation, Rounding::Down) == length {
                length.in_notation(notation).fmt(f)
            } else {
                length.fmt(f)
            }
        }
    }
    InFile(length, notation)
}

/// A slope, exactly: in the notation of the file where that can hold it.
fn slope_in_file(slope: Slope, notation: Notation) -> String {
    let is_exact = slope.rounded(notation, Rounding::Down) == slope;
    match notation {
        _ if slope.rise() == slope.run() => "45 deg".to_owned(),
        _ if is_exact || slope.is_vertical() => slope.in_notation(notation).to_string(),
        Notation::Millimetres => format!("{}:{}", slope.rise(), slope.run()),
        Notation::Inches => slope.to_string(),
    }
}

/// The same, or the bounds within which one is to be chosen.
pub(super) fn slope(slope: SlopeFile, notation: Notation) -> String {
    match slope {
        SlopeFile::Stated(slope) => slope_in_file(slope, notation),
        SlopeFile::Between(bounds) => {
            let [least, most] = [bounds.at_least, bounds.at_most].map(|slope| slope_in_file(slope, notation));
            format!("{{at_least: {least}, at_most: {most}}}")
        }
    }
}
