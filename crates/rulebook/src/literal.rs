//! Values written in a rule file, read as the dimension that their place asks for.

use std::str::FromStr;

use crownweir_document::{Cursor, Diagnostic, Diagnostics, nearest};
use crownweir_quantity::{
    Angle, Flow, Length, Load, NominalSize, Period, QuantityError, Ratio, Slope, StatedLoad, Temperature,
    Velocity, Volume,
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

    /// The same, with something else expected.
    pub(crate) fn expecting(self, expected: String) -> Self {
        Self { expected, ..self }
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
    let text = match yaml {
        Yaml::String(text) => text.clone(),
        Yaml::Number(number) => number.to_string(),
        Yaml::Bool(truth) if dimension == Dimension::Truth => return Ok(Value::Truth(*truth)),
        Yaml::Bool(truth) => truth.to_string(),
        _ => {
            return Err(Misread {
                message: "a single value belongs here".to_owned(),
                expected: dimension.expected(),
                nearest: None,
            });
        }
    };
    let with_unit = match unit {
        Some(unit) if text.ends_with(|last: char| last.is_ascii_digit()) => format!("{text} {unit}"),
        _ => text.clone(),
    };
    let text = with_unit.as_str();
    dimension.read(text, ladder).map_err(|message| Misread {
        message,
        expected: dimension.expected(),
        nearest: match dimension {
            Dimension::Word(words) => nearest(text, words.iter().copied())
                .and_then(|near| words.iter().find(|word| **word == near).copied()),
            _ => None,
        },
    })
}

impl Dimension {
    /// What a value of this dimension looks like, or the words of which it is one.
    fn expected(self) -> String {
        match self {
            Self::Word(words) => format!("one of {}", words.join(", ")),
            other => other.example().to_owned(),
        }
    }

    /// The value of this dimension that `text` writes.
    ///
    /// # Errors
    /// What is wrong with the text, in one line.
    pub fn read(self, text: &str, ladder: &Ladder) -> Result<Value, String> {
        match self {
            Self::Length => quantity::<Length>(text).map(Value::Length),
            Self::Slope => quantity::<Slope>(text).map(Value::Slope),
            Self::Angle => quantity::<Angle>(text).map(Value::Angle),
            Self::Load => quantity::<StatedLoad>(text).and_then(|stated| match ladder.load_unit {
                Some(own) if own != stated.unit => Err(format!(
                    "`{text}` is not in the rule set's unit of load, which is {}",
                    own.name()
                )),
                _ => Ok(Value::Load(stated.load)),
            }),
            Self::Flow => quantity::<Flow>(text).map(Value::Flow),
            Self::Volume => quantity::<Volume>(text).map(Value::Volume),
            Self::Temperature => quantity::<Temperature>(text).map(Value::Temperature),
            Self::Period => quantity::<Period>(text).map(Value::Period),
            Self::Velocity => quantity::<Velocity>(text).map(Value::Velocity),
            Self::Ratio => quantity::<Ratio>(text).map(Value::Ratio),
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

    /// The value of this dimension that [`Value::exact`] gives as `text`; none where it gives no such text.
    ///
    /// ```
    /// use crownweir_rulebook::{Dimension, Ladder, Value};
    /// let spacing = Value::Length("32 in".parse()?);
    /// let (_, exact) = spacing.exact(&Ladder::default());
    /// assert_eq!(exact, "812800000");
    /// assert_eq!(Dimension::Length.read_exact(&exact, &Ladder::default()), Some(spacing));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn read_exact(self, text: &str, ladder: &Ladder) -> Option<Value> {
        let number = || text.parse().ok();
        let value = match self {
            Self::Length => Value::Length(Length::from_nanometres(number()?)),
            Self::Slope => {
                let (rise, run) = text.split_once('/')?;
                Value::Slope(Slope::new(rise.parse().ok()?, run.parse().ok()?)?)
            }
            Self::Angle => Value::Angle(Angle::from_microdegrees(number()?)),
            Self::Load => Value::Load(Load::from_thousandths(number()?)),
            Self::Flow => Value::Flow(Flow::from_picolitres_per_minute(number()?)),
            Self::Volume => Value::Volume(Volume::from_picolitres(number()?)),
            Self::Temperature => Value::Temperature(Temperature::from_kelvin_900ths(number()?)),
            Self::Period => Value::Period(Period::from_seconds(number()?)),
            Self::Velocity => Value::Velocity(Velocity::from_nanometres_per_second(number()?)),
            Self::Ratio => Value::Ratio(Ratio::from_parts_of_720_million(number()?)),
            Self::Size | Self::Count | Self::Truth | Self::Word(_) => self.read(text, ladder).ok()?,
        };
        // An alias of a size, a fraction that is not reduced or a number with a plus before it is not how it is given.
        (value.exact(ladder).1 == text).then_some(value)
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
