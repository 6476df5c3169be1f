//! Figures: read exactly, compared, and put into words.

use crownweir_quantity::{
    Angle, FixtureUnits, Flow, Length, Notation, Period, Ratio, Slope, StatedLoad, Temperature, Velocity,
    Volume,
};
use serde_json::{Value as Json, json};
use serde_yaml::Value as Yaml;

use crate::{Checker, Sound, plain, said};

/// What a fact, cell or operand comes to.
#[derive(Debug, Clone)]
pub(crate) struct Got {
    /// Its dimension; or `not_permitted`, `no_limit`, `absent`, `open`.
    pub(crate) is: String,
    /// The word or truth value, or what it is not known for want of.
    pub(crate) word: String,
    /// A fraction, in the unit that the report's schema names; a size by its place on the ladder.
    pub(crate) number: Option<(i128, i128)>,
}

impl PartialEq for Got {
    fn eq(&self, other: &Self) -> bool {
        self.is == other.is && self.word == other.word && self.over(other).is_none_or(|over| over == 0)
    }
}

impl Got {
    pub(crate) fn new(is: &str, word: &str) -> Self {
        Self { is: is.to_owned(), word: word.to_owned(), number: None }
    }

    pub(crate) fn whole(is: &str, number: i128) -> Self {
        Self { number: Some((number, 1)), ..Self::new(is, "") }
    }

    pub(crate) fn is_value(&self) -> bool {
        self.number.is_some() || ["word", "truth"].contains(&&*self.is)
    }

    /// How much more this is than another, with the common denominator left out.
    pub(crate) fn over(&self, other: &Self) -> Option<i128> {
        let ((a, b), (c, d)) = (self.number?, other.number?);
        Some(a * d - c * b)
    }

    /// Whether a measured value is held by this limit, or a value that is looked up by this key.
    pub(crate) fn bounds(&self, measured: &Self, order: &str) -> bool {
        match (order, measured.over(self)) {
            ("at_most" | "less_than", _) if self.is == "no_limit" => measured.is_value(),
            ("is" | "exact", _) => measured.is_value() && measured == self,
            ("at_least" | "from", Some(over)) => over >= 0,
            ("at_most" | "up_to", Some(over)) => over <= 0,
            ("more_than", Some(over)) => over > 0,
            ("less_than", Some(over)) => over < 0,
            _ => false,
        }
    }

    /// A whole number made into one of another dimension; where there is none, nothing is permitted.
    pub(crate) fn map(self, is: &str, make: impl Fn(i128) -> Option<i128>) -> Self {
        let Some((number, _)) = self.number else { return self };
        make(number).map_or(Self::new("not_permitted", ""), |made| Self::whole(is, made))
    }
}

impl Checker<'_> {
    /// A literal of a dimension; a bare number takes the unit of its place.
    pub(crate) fn literal(&self, yaml: &Yaml, of: &str, unit: &Yaml) -> Sound<Got> {
        let bare = plain(yaml);
        let text = match unit.as_str() {
            Some(unit) if bare.ends_with(|last: char| last.is_ascii_digit()) => format!("{bare} {unit}"),
            _ => bare,
        };
        let mut below = 1;
        let number = match of {
            "length" => Length::parse_signed(&text).ok().map(Length::nanometres),
            "slope" => Slope::parse_signed(&text).ok().map(|slope| {
                below = slope.run().into();
                slope.rise()
            }),
            "angle" => text.parse().ok().map(Angle::microdegrees),
            "size" => text.parse().ok().and_then(|size| {
                self.ladder.iter().position(|(names, _)| names.contains(&size)).map(|at| at as i64)
            }),
            "load" => {
                let load = text.parse().ok().filter(|load: &StatedLoad| load.unit == self.unit);
                load.map(|load| load.load.thousandths())
            }
            "flow" => text.parse().ok().map(Flow::picolitres_per_minute),
            "volume" => text.parse().ok().map(Volume::picolitres),
            "temperature" => text.parse().ok().map(Temperature::kelvin_900ths),
            "period" => text.parse().ok().map(Period::seconds),
            "velocity" => text.parse().ok().map(Velocity::nanometres_per_second),
            "ratio" => text.parse().ok().map(Ratio::parts_of_720_million),
            "count" => text.parse().ok(),
            "truth" => return Ok(Got::new(of, &text)),
            _ => return Ok(Got::new("word", &text)),
        };
        let number = number.ok_or_else(|| format!("`{text}` is no {of}"))?;
        Ok(Got { number: Some((number.into(), below)), ..Got::new(of, "") })
    }

    /// What a step of a report shows; whether its words fit is seen when it is [`shown`](Self::shown) again.
    pub(crate) fn read(&self, shown: &Json) -> Sound<Got> {
        let (is, exact) = (said(&shown["is"]), said(&shown["exact"]));
        Ok(match is {
            "not_permitted" | "no_limit" | "absent" => Got::new(is, ""),
            "open" => Got::new(is, said(&shown["text"])),
            "word" | "truth" | "size" => self.literal(&exact.into(), is, &Yaml::Null)?,
            _ => {
                let whole = |text: &str| text.parse().map_err(|_| format!("`{exact}` is no {is}"));
                let (above, below) = exact.split_once('/').unwrap_or((exact, "1"));
                Got { number: Some((whole(above)?, whole(below)?)), ..Got::new(is, "") }
            }
        })
    }

    pub(crate) fn shown(&self, got: &Got) -> Json {
        let exact = match (&*got.is, got.number) {
            ("size", _) => Some(self.words(got)),
            ("slope", Some((above, below))) => Some(format!("{above}/{below}")),
            (_, Some((number, _))) => Some(number.to_string()),
            _ => got.is_value().then(|| got.word.clone()),
        };
        json!({"text": self.words(got), "is": got.is, "exact": exact})
    }

    /// As reports print it.
    pub(crate) fn words(&self, got: &Got) -> String {
        let (above, below) = got.number.unwrap_or_default();
        let (number, below) = (above as i64, below as i64);
        match &*got.is {
            "length" => Length::from_nanometres(number).in_notation(self.notation).to_string(),
            "slope" => Slope::new(number, below)
                .map_or_else(String::new, |slope| slope.in_notation(self.notation).to_string()),
            "angle" => {
                let tenths = (number + 50_000).div_euclid(100_000) * 100_000;
                let about = if tenths == number { "" } else { "about " };
                format!("{about}{}", Angle::from_microdegrees(tenths))
            }
            "size" => {
                self.ladder.get(number as usize).map_or_else(String::new, |(names, _)| names[0].to_string())
            }
            "load" => FixtureUnits::from_thousandths(number).in_unit(self.unit).to_string(),
            "flow" => match (Flow::from_picolitres_per_minute(number), self.notation) {
                (flow, Notation::Inches) => flow.to_string(),
                (flow, _) => flow.in_litres_per_second(),
            },
            "volume" => Volume::from_picolitres(number).to_string(),
            "temperature" => Temperature::from_kelvin_900ths(number).to_string(),
            "period" => Period::from_seconds(number).to_string(),
            "velocity" => Velocity::from_nanometres_per_second(number).in_notation(self.notation),
            "ratio" => Ratio::from_parts_of_720_million(number).for_people(),
            "count" => number.to_string(),
            "truth" if got.word == "true" => "yes".to_owned(),
            "truth" if got.word == "false" => "no".to_owned(),
            "word" => got.word.replace('_', " "),
            "not_permitted" => "not permitted".to_owned(),
            "no_limit" => "no limit".to_owned(),
            "absent" => "none".to_owned(),
            _ => got.word.clone(),
        }
    }
}
