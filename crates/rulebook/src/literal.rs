//! Values written in a rule file, read as the dimension that their place asks for.

use std::str::FromStr;

use crownweir_document::{Cursor, Diagnostics, nearest};
use crownweir_quantity::{
    Angle, FixtureUnits, Flow, Length, NominalSize, Period, QuantityError, Slope, Temperature, Volume,
};
use serde_yaml::Value as Yaml;

use crate::value::{Dimension, Ladder, Value};

/// Reads a value of `dimension`. A bare number takes `unit`, where its place declares one.
pub(crate) fn literal(
    yaml: &Yaml,
    at: Cursor<'_>,
    dimension: Dimension,
    unit: Option<&str>,
    ladder: &Ladder,
    problems: &mut Diagnostics,
) -> Option<Value> {
    let text = match yaml {
        Yaml::String(text) => text.clone(),
        Yaml::Number(number) => number.to_string(),
        Yaml::Bool(truth) if dimension == Dimension::Truth => return Some(Value::Truth(*truth)),
        Yaml::Bool(truth) => truth.to_string(),
        _ => {
            problems.push(
                at.problem("a single value belongs here")
                    .expecting(dimension.example()),
            );
            return None;
        }
    };
    let with_unit = match unit {
        Some(unit) if text.ends_with(|last: char| last.is_ascii_digit()) => format!("{text} {unit}"),
        _ => text.clone(),
    };
    let text = with_unit.as_str();
    match dimension.read(text, ladder) {
        Ok(value) => Some(value),
        Err(message) => {
            let problem = at.problem(message);
            problems.push(match dimension {
                Dimension::Word(words) => problem
                    .expecting(format!("one of {}", words.join(", ")))
                    .suggesting(nearest(text, words.iter().copied())),
                _ => problem.expecting(dimension.example()),
            });
            None
        }
    }
}

impl Dimension {
    /// The value of this dimension that `text` writes.
    ///
    /// # Errors
    /// What is wrong with the text, in one line.
    pub fn read(self, text: &str, ladder: &Ladder) -> Result<Value, String> {
        match self {
            Self::Length => quantity::<Length>(text).map(Value::Length),
            Self::Slope => quantity::<Slope>(text).map(Value::Slope),
            Self::Angle => quantity::<Angle>(text).map(Value::Angle),
            Self::Load => quantity::<FixtureUnits>(text).map(Value::Load),
            Self::Flow => quantity::<Flow>(text).map(Value::Flow),
            Self::Volume => quantity::<Volume>(text).map(Value::Volume),
            Self::Temperature => quantity::<Temperature>(text).map(Value::Temperature),
            Self::Period => quantity::<Period>(text).map(Value::Period),
            Self::Size => quantity::<NominalSize>(text).and_then(|name| {
                let size = ladder.find(name).map(Value::Size);
                size.ok_or_else(|| format!("`{name}` is not among the rule set's `sizes`"))
            }),
            Self::Count => text
                .parse::<i64>()
                .map(Value::Count)
                .map_err(|_| format!("`{text}` is not a whole number")),
            Self::Truth => match text {
                "true" => Ok(Value::Truth(true)),
                "false" => Ok(Value::Truth(false)),
                _ => Err(format!("`{text}` is neither true nor false")),
            },
            Self::Word(words) => words
                .iter()
                .find(|word| **word == text)
                .map(|word| Value::Word(word))
                .ok_or_else(|| format!("`{text}` is not a word that is known here")),
        }
    }
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
