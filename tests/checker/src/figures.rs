//! Figures: read exactly, compared, printed; and rows of tables found by them.

use crownweir_quantity::{
    Angle, FixtureUnits, Flow, Length, Period, Ratio, Slope, StatedLoad, Temperature, Velocity, Volume,
};
use serde_json::Value as Json;
use serde_yaml::Value as Yaml;

use crate::{Checker, Sound, agree, text};

/// What a fact, cell or operand comes to.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Got {
    /// A fraction, in the unit that the report's schema names; a size by its place on the ladder.
    Number(i128, i128),
    /// A word or truth value.
    Word(String),
    Barred,
    Unlimited,
    Absent,
    /// Not known, for want of this.
    Open(String),
}

impl Got {
    pub(crate) fn is_value(&self) -> bool {
        matches!(self, Self::Number(..) | Self::Word(_))
    }

    /// How much more this is than another, with the common denominator left out.
    fn over(&self, other: &Self) -> Option<i128> {
        match (self, other) {
            (Self::Number(a, b), Self::Number(c, d)) => Some(a * d - c * b),
            _ => None,
        }
    }

    pub(crate) fn same(&self, other: &Self) -> bool {
        self.over(other).map_or(self == other, |over| over == 0)
    }

    /// Whether a measured value is held by this limit.
    pub(crate) fn bounds(&self, measured: &Self, order: &str) -> bool {
        if *self == Self::Unlimited {
            return measured.is_value() && ["at_most", "less_than"].contains(&order);
        }
        let over = measured.over(self);
        match order {
            "is" => measured.is_value() && measured.same(self),
            "at_least" => over.is_some_and(|over| over >= 0),
            "at_most" => over.is_some_and(|over| over <= 0),
            "more_than" => over.is_some_and(|over| over > 0),
            "less_than" => over.is_some_and(|over| over < 0),
            _ => false,
        }
    }

    pub(crate) fn less(&self, other: &Self) -> Option<Self> {
        self.over(other).map(|over| Self::Number(over, 1))
    }

    /// A whole number made into another; nothing greater is permitted where there is none.
    pub(crate) fn map(self, make: impl Fn(i128) -> Option<i128>) -> Self {
        match self {
            Self::Number(number, _) => make(number).map_or(Self::Barred, |made| Self::Number(made, 1)),
            other => other,
        }
    }

    /// A multiple, rounded half to even.
    pub(crate) fn times(self, by: &Yaml) -> Self {
        let by = plain(by);
        let (numerator, denominator) = match (by.split_once('/'), by.split_once('.')) {
            (Some((above, below)), _) => (above.trim().to_owned(), below.trim().parse().unwrap_or(1)),
            (_, Some((whole, part))) => (format!("{whole}{part}"), 10_i128.pow(part.len() as u32)),
            _ => (by, 1),
        };
        let numerator: i128 = numerator.parse().unwrap_or(0);
        self.map(|number| {
            let (product, twice) = (number * numerator, 2 * denominator);
            let up = (2 * product + denominator).div_euclid(twice);
            let is_half = (2 * product + denominator).rem_euclid(twice) == 0;
            Some(up - i128::from(is_half && up % 2 != 0))
        })
    }

    pub(crate) fn with(self, other: Self, how: &str) -> Self {
        let Some(over) = self.over(&other) else { return other };
        match (how, &self, &other) {
            ("sum", Self::Number(one, _), Self::Number(two, _)) => Self::Number(one + two, 1),
            ("larger_of", ..) if over < 0 => other,
            ("smaller_of", ..) if over > 0 => other,
            _ => self,
        }
    }
}

pub(crate) struct Table<'a> {
    pub(crate) name: &'a str,
    pub(crate) yaml: &'a Yaml,
    pub(crate) keys: &'a [&'a Yaml],
    pub(crate) column: &'a Yaml,
    pub(crate) number: usize,
}

pub(crate) struct Found {
    pub(crate) row: usize,
    pub(crate) item: usize,
    pub(crate) content: Got,
}

impl Table<'_> {
    /// The cell in the row, or below the head, that fits the keys most closely.
    pub(crate) fn find(&self, checker: &Checker<'_>, values: &[Got]) -> Sound<Option<Found>> {
        let (head, own) =
            (self.yaml["across"]["at"].as_sequence(), self.yaml["keys"].as_sequence().map_or(0, Vec::len));
        let mut best: Option<(Vec<Option<Got>>, Found)> = None;
        for (row, yaml) in self.yaml["rows"].as_sequence().into_iter().flatten().enumerate() {
            let items = yaml["row"].as_sequence().or_else(|| yaml.as_sequence()).ok_or("a row is no list")?;
            for across in 0..head.map_or(1, Vec::len) {
                let mut written: Vec<&Yaml> = items.iter().take(own).collect();
                written.extend(head.map(|head| &head[across]));
                let (mut fits, mut bounds) = (true, Vec::new());
                for ((key, written), value) in self.keys.iter().zip(&written).zip(values) {
                    let bound = match written.as_str() == Some("any") {
                        true => None,
                        false => Some(checker.literal(
                            written,
                            key["of"].as_str().unwrap_or_default(),
                            key["unit"].as_str(),
                        )?),
                    };
                    let order = [("exact", "is"), ("up_to", "at_most"), ("from", "at_least")];
                    let order =
                        order.iter().find(|(name, _)| key["match"].as_str() == Some(name)).map_or("", |found| found.1);
                    fits &= bound.as_ref().is_none_or(|bound| bound.bounds(value, order));
                    bounds.push(bound.filter(|_| order != "is"));
                }
                let item = own + if head.is_some() { across } else { self.number };
                // An upper bound is closer the smaller it is, a lower one the larger.
                let nearer = |(key, (new, kept)): (&&Yaml, (&Option<Got>, &Option<Got>))| match (new, kept) {
                    (Some(new), Some(kept)) if key["match"].as_str() == Some("up_to") => {
                        new.over(kept).is_some_and(|over| over < 0)
                    }
                    (Some(new), Some(kept)) => new.over(kept).is_some_and(|over| over > 0),
                    (new, kept) => new.is_some() && kept.is_none(),
                };
                let closer =
                    best.as_ref().is_none_or(|(kept, _)| self.keys.iter().zip(bounds.iter().zip(kept)).any(nearer));
                if fits && closer {
                    let cell = items.get(item).ok_or("a row is too short")?;
                    let cell = if cell.is_mapping() { &cell["value"] } else { cell };
                    let content = match cell.as_str() {
                        Some("none") => Got::Barred,
                        Some("unlimited") => Got::Unlimited,
                        Some("unfilled") => Got::Open(self.unfilled(checker, &written)?),
                        _ => checker.literal(
                            cell,
                            self.column["of"].as_str().unwrap_or_default(),
                            self.column["unit"].as_str(),
                        )?,
                    };
                    best = Some((bounds, Found { row, item, content }));
                }
            }
        }
        Ok(best.map(|(_, found)| found))
    }

    fn unfilled(&self, checker: &Checker<'_>, written: &[&Yaml]) -> Sound<String> {
        let mut keys = Vec::new();
        for (key, written) in self.keys.iter().zip(written).filter(|(_, written)| written.as_str() != Some("any")) {
            let of = key["of"].as_str().unwrap_or_default();
            let value = checker.literal(written, of, key["unit"].as_str())?;
            keys.extend(checker.words(of, &value));
        }
        let (column, keys) = (self.column["name"].as_str().unwrap_or_default(), keys.join(", "));
        Ok(format!("the cell `{column}` of the table `{}` at {keys}, to be filled from its source", self.name))
    }
}

pub(crate) fn nanometres(yaml: &Yaml) -> i128 {
    Length::parse_signed(&plain(yaml)).map_or(0, |length| length.nanometres().into())
}

/// A scalar as it stands.
pub(crate) fn plain(yaml: &Yaml) -> String {
    match yaml {
        Yaml::String(text) => text.clone(),
        Yaml::Number(number) => number.to_string(),
        Yaml::Bool(truth) => truth.to_string(),
        _ => String::new(),
    }
}

impl Checker<'_> {
    /// A literal of a dimension; a bare number takes the unit of its place.
    pub(crate) fn literal(&self, yaml: &Yaml, of: &str, unit: Option<&str>) -> Sound<Got> {
        let mut text = plain(yaml);
        if let Some(unit) = unit.filter(|_| text.ends_with(|last: char| last.is_ascii_digit())) {
            text = format!("{text} {unit}");
        }
        let whole = |number: Option<i64>| number.map(|number| Got::Number(number.into(), 1));
        let read = match of {
            "length" => whole(Length::parse_signed(&text).ok().map(Length::nanometres)),
            "slope" => {
                Slope::parse_signed(&text).ok().map(|slope| Got::Number(slope.rise().into(), slope.run().into()))
            }
            "angle" => whole(text.parse().ok().map(Angle::microdegrees)),
            "size" => {
                let at = |name| self.ladder.iter().position(|(names, _)| names.contains(&name));
                text.parse().ok().and_then(at).map(|at| Got::Number(at as i128, 1))
            }
            "load" => whole(
                text.parse()
                    .ok()
                    .filter(|load: &StatedLoad| load.unit == self.unit)
                    .map(|load| load.load.thousandths()),
            ),
            "flow" => whole(text.parse().ok().map(Flow::picolitres_per_minute)),
            "volume" => whole(text.parse().ok().map(Volume::picolitres)),
            "temperature" => whole(text.parse().ok().map(Temperature::kelvin_900ths)),
            "period" => whole(text.parse().ok().map(Period::seconds)),
            "velocity" => whole(text.parse().ok().map(Velocity::nanometres_per_second)),
            "ratio" => whole(text.parse().ok().map(Ratio::parts_of_720_million)),
            "count" => whole(text.parse().ok()),
            _ => Some(Got::Word(text.clone())),
        };
        read.ok_or_else(|| format!("`{text}` is no {of}"))
    }

    /// What a step shows, its words and its exact figure being the same.
    pub(crate) fn shown(&self, shown: &Json) -> Sound<Got> {
        let (is, exact) = (text(&shown["is"]), text(&shown["exact"]));
        let whole = |text: &str| text.parse().map_err(|_| format!("`{exact}` is no number"));
        let got = match is {
            "not_permitted" => Got::Barred,
            "no_limit" => Got::Unlimited,
            "absent" => Got::Absent,
            "open" => Got::Open(text(&shown["text"]).to_owned()),
            "word" | "truth" | "size" => self.literal(&exact.into(), is, None)?,
            _ => match exact.split_once('/') {
                Some((above, below)) => Got::Number(whole(above)?, whole(below)?),
                None => Got::Number(whole(exact)?, 1),
            },
        };
        if !got.is_value() && !shown["exact"].is_null() {
            return Err(format!("`{is}` has no exact figure"));
        }
        let unvalued = match got {
            Got::Barred => "not permitted",
            Got::Unlimited => "no limit",
            Got::Absent => "none",
            _ => text(&shown["text"]),
        };
        let words = if got.is_value() { self.words(is, &got).unwrap_or_default() } else { unvalued.to_owned() };
        agree("the figure in words", text(&shown["text"]), &words)?;
        Ok(got)
    }

    /// A value as reports print it.
    pub(crate) fn words(&self, of: &str, got: &Got) -> Option<String> {
        let (number, below) = match got {
            Got::Number(number, below) => (i64::try_from(*number).ok()?, i64::try_from(*below).ok()?),
            Got::Word(word) if of == "truth" => {
                let said = [("true", "yes"), ("false", "no")].into_iter().find(|(truth, _)| word == truth);
                return said.map(|(_, said)| said.to_owned());
            }
            Got::Word(word) => return Some(word.replace('_', " ")),
            _ => return None,
        };
        Some(match of {
            "length" => Length::from_nanometres(number).in_notation(self.notation).to_string(),
            "slope" => Slope::new(number, below)?.in_notation(self.notation).to_string(),
            "angle" => {
                let tenths = (number + 50_000).div_euclid(100_000) * 100_000;
                let about = if tenths == number { "" } else { "about " };
                format!("{about}{}", Angle::from_microdegrees(tenths))
            }
            "size" => self.ladder.get(usize::try_from(number).ok()?)?.0.first()?.to_string(),
            "load" => FixtureUnits::from_thousandths(number).in_unit(self.unit).to_string(),
            "flow" => match self.notation {
                crownweir_quantity::Notation::Inches => Flow::from_picolitres_per_minute(number).to_string(),
                _ => Flow::from_picolitres_per_minute(number).in_litres_per_second(),
            },
            "volume" => Volume::from_picolitres(number).to_string(),
            "temperature" => Temperature::from_kelvin_900ths(number).to_string(),
            "period" => Period::from_seconds(number).to_string(),
            "velocity" => Velocity::from_nanometres_per_second(number).in_notation(self.notation),
            "ratio" => Ratio::from_parts_of_720_million(number).for_people(),
            "count" => number.to_string(),
            _ => return None,
        })
    }
}
