//! The units that codes count loads in, and loads with their unit.
//!
//! It never converts one unit into another: what a unit stands for is a code's own.

use std::fmt;
use std::str::FromStr;

use crate::number::decimal;
use crate::{Load, QuantityError};

/// The unit that a code counts loads in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
#[non_exhaustive]
pub enum LoadUnit {
    /// Drainage fixture units.
    #[default]
    FixtureUnit,
    /// Discharge units.
    DischargeUnit,
}

impl LoadUnit {
    /// Every unit.
    pub const ALL: &'static [Self] = &[Self::FixtureUnit, Self::DischargeUnit];

    /// The unit as it stands behind a number.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FixtureUnit => "dfu",
            Self::DischargeUnit => "DU",
        }
    }

    fn of(unit: &str) -> Option<Self> {
        match unit {
            "dfu" | "DFU" | "fu" | "FU" | "fixture unit" | "fixture units" => Some(Self::FixtureUnit),
            "DU" | "du" | "discharge unit" | "discharge units" => Some(Self::DischargeUnit),
            _ => None,
        }
    }
}

impl<'de> serde::Deserialize<'de> for LoadUnit {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let known = Self::ALL.iter().find(|unit| unit.name() == text);
        known.copied().ok_or_else(|| {
            serde::de::Error::custom(format_args!(
                "`{text}` is not a unit of load, expected `dfu` or `DU`"
            ))
        })
    }
}

/// A load with the unit in which it is stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct StatedLoad {
    /// The load.
    pub load: Load,
    /// Its unit.
    pub unit: LoadUnit,
}

impl StatedLoad {
    pub(crate) const EXPECTED: &'static str = Load::EXPECTED;
}

impl Load {
    /// The load in a unit, to be shown.
    #[must_use]
    pub const fn in_unit(self, unit: LoadUnit) -> StatedLoad {
        StatedLoad { load: self, unit }
    }
}

impl FromStr for StatedLoad {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let mut own = LoadUnit::default();
        let count = crate::measure::read(text, Self::EXPECTED, |unit| LoadUnit::of(unit).map(|_| 1000))?;
        let unit = text.trim().trim_start_matches(|c: char| !c.is_alphabetic());
        if let Some(unit) = LoadUnit::of(unit) {
            own = unit;
        }
        Ok(Self {
            load: Load::from_thousandths(count),
            unit: own,
        })
    }
}

impl fmt::Display for StatedLoad {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        decimal(f, self.load.thousandths(), 1000)?;
        write!(f, " {}", self.unit.name())
    }
}

crate::text::as_text!(StatedLoad);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_load_keeps_its_unit() {
        for (text, printed) in [
            ("3 dfu", "3 dfu"),
            ("0.5 FU", "0.5 dfu"),
            ("1.8 DU", "1.8 DU"),
            ("2 discharge units", "2 DU"),
        ] {
            let read: Result<StatedLoad, _> = text.parse();
            assert_eq!(
                read.map(|load| load.to_string()).as_deref(),
                Ok(printed),
                "{text}"
            );
        }
        assert_ne!("2 dfu".parse::<StatedLoad>(), "2 DU".parse::<StatedLoad>());
        assert!("2 L/s".parse::<StatedLoad>().is_err());
        assert!("-2 DU".parse::<StatedLoad>().is_err());
    }
}
