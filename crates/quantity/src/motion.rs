//! Velocities, ratios and viscosities: whole numbers of a unit small enough for the trade's figures.
//!
//! Nothing here knows how water flows.

use std::fmt;
use std::str::FromStr;

use crate::measure::{quantity, read};
use crate::number::{Complaint, decimal};
use crate::{Length, Notation, QuantityError, Rounding};

quantity! {
    /// A velocity in whole nanometres a second, so that thousandths of a foot a second are exact.
    Velocity, "a velocity such as `2 ft/s` or `0.7 m/s`", from_nanometres_per_second, nanometres_per_second,
    "nanometres a second"
}

quantity! {
    /// A ratio of two like things in whole parts of 720 million, so that seven decimals, 24ths and 64ths are exact.
    Ratio, "a ratio such as `0.5`, `50 %` or `7/24`", from_parts_of_720_million, parts_of_720_million,
    "parts of 720 million"
}

quantity! {
    /// A kinematic viscosity in whole square micrometres a second.
    Viscosity, "a viscosity such as `1.31 mm2/s`", from_square_micrometres_per_second,
    square_micrometres_per_second, "square micrometres a second"
}

/// Nanometres in a metre.
const METRE: i64 = Length::METRE.nanometres();
/// Nanometres in a foot.
const FOOT: i64 = Length::FOOT.nanometres();
/// Parts in a whole.
const WHOLE: i64 = 720_000_000;
/// Square micrometres in a square millimetre.
const SQUARE_MILLIMETRE: i64 = 1_000_000;

impl FromStr for Velocity {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        read(text, Self::EXPECTED, |unit| match unit {
            "ft/s" | "fps" => Some(FOOT),
            "m/s" => Some(METRE),
            "mm/s" => Some(METRE / 1000),
            _ => None,
        })
        .map(Self::from_nanometres_per_second)
    }
}

impl FromStr for Viscosity {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        read(text, Self::EXPECTED, |unit| match unit {
            "mm2/s" | "mm\u{b2}/s" | "cSt" => Some(SQUARE_MILLIMETRE),
            _ => None,
        })
        .map(Self::from_square_micrometres_per_second)
    }
}

impl FromStr for Ratio {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        let (negative, rest) = complaint.begin()?;
        let (number, unit) = complaint.number(&rest)?;
        let whole = match unit.trim() {
            "" => WHOLE,
            "%" => WHOLE / 100,
            unit => return Err(complaint.unknown_unit(unit)),
        };
        if negative {
            return Err(complaint.negative());
        }
        let parts = complaint.units(number, i128::from(whole))?;
        complaint.held(parts, false).map(Self::from_parts_of_720_million)
    }
}

impl Velocity {
    /// The velocity nearest to a figure in metres a second; none where it is not finite or too large to be held.
    #[must_use]
    pub fn from_metres_per_second_f64(metres: f64) -> Option<Self> {
        rounded(metres * METRE as f64).map(Self::from_nanometres_per_second)
    }

    /// The velocity for people: to a hundredth of a foot or of a metre a second.
    #[must_use]
    pub fn in_notation(self, notation: Notation) -> String {
        let (unit, name) = Self::unit(notation);
        format!("{} {name}", about(self.nanometres_per_second(), unit, 100))
    }

    /// The velocity rounded as far as [`Self::in_notation`] does, to one side.
    #[must_use]
    pub fn rounded(self, notation: Notation, rounding: Rounding) -> Self {
        let grain = Self::unit(notation).0 / 100;
        Self::from_nanometres_per_second(rounding.to_grain(self.nanometres_per_second(), grain))
    }

    const fn unit(notation: Notation) -> (i64, &'static str) {
        match notation {
            Notation::Inches => (FOOT, "ft/s"),
            Notation::Millimetres => (METRE, "m/s"),
        }
    }
}

impl Ratio {
    /// The ratio nearest to a figure; none where it is not finite or too large to be held.
    #[must_use]
    pub fn from_f64(ratio: f64) -> Option<Self> {
        rounded(ratio * WHOLE as f64).map(Self::from_parts_of_720_million)
    }

    /// The ratio in floating point.
    #[must_use]
    pub fn as_f64(self) -> f64 {
        self.parts_of_720_million() as f64 / WHOLE as f64
    }

    /// The ratio for people: to a thousandth.
    #[must_use]
    pub fn for_people(self) -> String {
        about(self.parts_of_720_million(), WHOLE, 1000)
    }

    /// The ratio rounded to a thousandth, to one side.
    #[must_use]
    pub fn rounded(self, rounding: Rounding) -> Self {
        Self::from_parts_of_720_million(rounding.to_grain(self.parts_of_720_million(), WHOLE / 1000))
    }
}

impl Viscosity {
    /// The viscosity in square metres a second, in floating point.
    #[must_use]
    pub fn as_square_metres_per_second_f64(self) -> f64 {
        self.square_micrometres_per_second() as f64 * 1e-12
    }
}

/// A figure to the nearest whole number, unless it cannot be held exactly as one.
pub(crate) fn rounded(figure: f64) -> Option<i64> {
    const MOST: f64 = 9.0e15;
    #[expect(
        clippy::cast_possible_truncation,
        reason = "within the range in which floating point holds every whole number"
    )]
    (figure.abs() <= MOST).then(|| figure.round() as i64)
}

/// A count of small units as a decimal of `unit` to so many `grains`, with `about` where that rounds.
pub(crate) fn about(count: i64, unit: i64, grains: i64) -> String {
    let grain = unit / grains;
    let near = crate::number::divide_to_even(i128::from(count), i128::from(grain)).unwrap_or(i64::MAX);
    let told = if i128::from(near) * i128::from(grain) == i128::from(count) {
        ""
    } else {
        "about "
    };
    let (sign, near) = (if near < 0 { "-" } else { "" }, near.unsigned_abs());
    let grains = grains.unsigned_abs();
    let (whole, rest) = (near / grains, near % grains);
    if rest == 0 {
        return format!("{told}{sign}{whole}");
    }
    let width = grains.ilog10() as usize;
    let part = format!("{rest:0width$}");
    format!("{told}{sign}{whole}.{}", part.trim_end_matches('0'))
}

impl fmt::Display for Velocity {
    /// Exact: thousandths of a foot a second where they are whole, else metres a second.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let own = self.nanometres_per_second();
        if own != 0 && own % (FOOT / 1000) == 0 && own % (METRE / 1000) != 0 {
            decimal(f, own / (FOOT / 1000), 1000)?;
            return f.write_str(" ft/s");
        }
        decimal(f, own, METRE)?;
        f.write_str(" m/s")
    }
}

impl fmt::Display for Ratio {
    /// Exact: seven decimals where they are, else a fraction.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const DECIMALS: i64 = 10_000_000;
        let own = self.parts_of_720_million();
        if own % (WHOLE / DECIMALS) == 0 {
            return decimal(f, own / (WHOLE / DECIMALS), DECIMALS);
        }
        let (mut common, mut rest) = (WHOLE.unsigned_abs(), own.unsigned_abs());
        while rest != 0 {
            (common, rest) = (rest, common % rest);
        }
        let sign = if own < 0 { "-" } else { "" };
        write!(
            f,
            "{sign}{}/{}",
            own.unsigned_abs() / common,
            WHOLE.unsigned_abs() / common
        )
    }
}

impl fmt::Display for Viscosity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        decimal(f, self.square_micrometres_per_second(), SQUARE_MILLIMETRE)?;
        f.write_str(" mm2/s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_convert_by_their_definitions() {
        // 1 ft = 0.3048 m exactly.
        assert_eq!("2 ft/s".parse::<Velocity>(), "0.6096 m/s".parse::<Velocity>());
        assert_ne!("2 ft/s".parse::<Velocity>(), "0.61 m/s".parse::<Velocity>());
        assert_eq!("50 %".parse::<Ratio>(), "1/2".parse::<Ratio>());
        assert_eq!("0.011".parse::<Ratio>().map(Ratio::as_f64), Ok(0.011));
        assert_eq!(
            "1.31 mm2/s"
                .parse::<Viscosity>()
                .map(Viscosity::square_micrometres_per_second),
            Ok(1_310_000)
        );
    }

    #[test]
    fn they_print_as_the_trade_writes_them() {
        for (text, printed) in [
            ("2 ft/s", "2 ft/s"),
            ("0.7 m/s", "0.7 m/s"),
            ("700 mm/s", "0.7 m/s"),
            ("0 m/s", "0 m/s"),
        ] {
            let read = text.parse::<Velocity>();
            assert_eq!(read.map(|v| v.to_string()).as_deref(), Ok(printed), "{text}");
        }
        for (text, printed) in [("7/24", "7/24"), ("50 %", "0.5"), ("1/3", "1/3"), ("1", "1")] {
            let read = text.parse::<Ratio>();
            assert_eq!(read.map(|r| r.to_string()).as_deref(), Ok(printed), "{text}");
        }
        let read = "0.6096 m/s".parse::<Velocity>();
        assert_eq!(
            read.as_ref().map(|v| v.in_notation(Notation::Inches)).as_deref(),
            Ok("2 ft/s")
        );
        assert_eq!(
            read.map(|v| v.in_notation(Notation::Millimetres)).as_deref(),
            Ok("about 0.61 m/s")
        );
        assert_eq!(
            "7/24".parse::<Ratio>().map(Ratio::for_people).as_deref(),
            Ok("about 0.292")
        );
    }

    #[test]
    fn wrong_values_are_refused() {
        for text in ["2", "-2 m/s", "2 m", "1/7 mm/s", "99999999999999 m/s", ""] {
            assert!(text.parse::<Velocity>().is_err(), "{text}");
        }
        for text in ["-0.5", "1/7", "0.5 m", "1:2", ""] {
            assert!(text.parse::<Ratio>().is_err(), "{text}");
        }
        for figure in [f64::NAN, f64::INFINITY, 1e12] {
            assert_eq!(Velocity::from_metres_per_second_f64(figure), None);
        }
        assert_eq!(Ratio::from_f64(f64::NEG_INFINITY), None);
        assert_eq!(Ratio::from_f64(0.5), "0.5".parse().ok());
    }
}
