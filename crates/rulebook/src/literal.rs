//! Values written in a rule file, read as the dimension that their place asks for.

use std::str::FromStr;

use crownweir_document::{Cursor, Diagnostic, Diagnostics, nearest};
use crownweir_quantity::{
    Angle, FixtureUnits, Flow, Length, NominalSize, Period, QuantityError, Slope, Temperature, Volume,
};
use serde_yaml::Value as Yaml;

use crate::value::{Dimension, Ladder, Value};

/// Why text is not a value of a dimension.
pub(crate) struct Misread {
    message: String,
    expected: String,
    nearest: Option<&'static str>,
}

/// Reads a value of `dimension` and reports what keeps it from being one. A bare number takes `unit`, where its
/// place declares one.
pub(crate) fn literal(
    yaml: &Yaml,
    at: Cursor<'_>,
    dimension: Dimension,
    unit: Option<&str>,
    ladder: &Ladder,
    problems: &mut Diagnostics,
) -> Option<Value> {
    match read(yaml, dimension, unit, ladder) {
        Ok(value) => Some(value),
        Err(misread) => {
            problems.push(misread.tell(at.problem(&misread.message)));
            None
        }
    }
}

impl Misread {
    /// The same problem with what was expected and the nearest word.
    pub(crate) fn tell(&self, problem: Diagnostic) -> Diagnostic {
        problem.expecting(&self.expected).suggesting(self.nearest)
    }

    pub(crate) fn message(&self) -> &str {
        &self.message
    }
}

/// Reads a value of `dimension`.
pub(crate) fn read(
    yaml: &Yaml,
    dimension: Dimension,
    unit: Option<&str>,
    ladder: &Ladder,
) -> Result<Value, Misread> {
    let misread = |message: String| Misread {
        message,
        expected: dimension.example().to_owned(),
        nearest: None,
    };
    let text = match yaml {
        Yaml::String(text) => text.clone(),
        Yaml::Number(number) => number.to_string(),
        Yaml::Bool(truth) if dimension == Dimension::Truth => return Ok(Value::Truth(*truth)),
        Yaml::Bool(truth) => truth.to_string(),
        _ => return Err(misread("a single value belongs here".to_owned())),
    };
    let with_unit = match unit {
        Some(unit) if text.ends_with(|last: char| last.is_ascii_digit()) => format!("{text} {unit}"),
        _ => text.clone(),
    };
    let text = with_unit.as_str();
    let read = match dimension {
        Dimension::Length => quantity::<Length>(text).map(Value::Length),
        Dimension::Slope => quantity::<Slope>(text).map(Value::Slope),
        Dimension::Angle => quantity::<Angle>(text).map(Value::Angle),
        Dimension::Load => quantity::<FixtureUnits>(text).map(Value::Load),
        Dimension::Flow => quantity::<Flow>(text).map(Value::Flow),
        Dimension::Volume => quantity::<Volume>(text).map(Value::Volume),
        Dimension::Temperature => quantity::<Temperature>(text).map(Value::Temperature),
        Dimension::Period => quantity::<Period>(text).map(Value::Period),
        Dimension::Size => quantity::<NominalSize>(text).and_then(|name| {
            let size = ladder.find(name).map(Value::Size);
            size.ok_or_else(|| format!("`{name}` is not among the rule set's `sizes`"))
        }),
        Dimension::Count => text
            .parse::<i64>()
            .map(Value::Count)
            .map_err(|_| format!("`{text}` is not a whole number")),
        Dimension::Truth => Err(format!("`{text}` is neither true nor false")),
        Dimension::Word(words) => {
            return match words.iter().find(|word| **word == text) {
                Some(word) => Ok(Value::Word(word)),
                None => Err(Misread {
                    message: format!("`{text}` is not a word that is known here"),
                    expected: format!("one of {}", words.join(", ")),
                    nearest: nearest(text, words.iter().copied())
                        .and_then(|near| words.iter().find(|word| **word == near).copied()),
                }),
            };
        }
    };
    read.map_err(misread)
}

fn quantity<T: FromStr<Err = QuantityError>>(text: &str) -> Result<T, String> {
    // What was expected is said by whoever reports the problem.
    text.parse().map_err(|error: QuantityError| {
        let message = error.to_string();
        let what = message
            .strip_suffix(error.expected())
            .and_then(|what| what.strip_suffix(", expected "));
        what.unwrap_or(&message).to_owned()
    })
}
