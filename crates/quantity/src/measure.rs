//! Loads, flows, volumes, temperatures and times: whole numbers of a unit small enough for the trade's figures.

use std::fmt;
use std::str::FromStr;

use crate::number::{Complaint, decimal};
use crate::{Notation, QuantityError, Rounding};

/// A quantity held as a whole number of small units.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $expected:literal, $make:ident, $get:ident, $unit_doc:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        pub struct $name(i64);

        impl $name {
            pub(crate) const EXPECTED: &'static str = $expected;

            #[doc = concat!("So many ", $unit_doc, ".")]
            #[must_use]
            pub const fn $make(count: i64) -> Self {
                Self(count)
            }

            #[doc = concat!("The number of ", $unit_doc, ".")]
            #[must_use]
            pub const fn $get(self) -> i64 {
                self.0
            }

            /// The sum; none on overflow.
            #[must_use]
            pub fn checked_add(self, other: Self) -> Option<Self> {
                self.0.checked_add(other.0).map(Self)
            }

            /// The difference; none on overflow.
            #[must_use]
            pub fn checked_sub(self, other: Self) -> Option<Self> {
                self.0.checked_sub(other.0).map(Self)
            }

            /// The value times a ratio, rounded half to even; none on overflow or division by zero.
            #[must_use]
            pub fn checked_scale(self, numerator: i64, denominator: i64) -> Option<Self> {
                $crate::number::divide_to_even(i128::from(self.0) * i128::from(numerator), i128::from(denominator)).map(Self)
            }
        }

        crate::text::as_text!($name);
    };
}
pub(crate) use quantity;

/// Reads a count of small units; `size` says how many of them the named unit holds.
pub(crate) fn read(
    text: &str,
    expected: &'static str,
    size: impl Fn(&str) -> Option<i64>,
) -> Result<i64, QuantityError> {
    let complaint = Complaint { text, expected };
    let (negative, rest) = complaint.begin()?;
    let (number, unit) = complaint.number(&rest)?;
    let unit = unit.trim();
    if unit.is_empty() {
        return Err(complaint.missing_unit());
    }
    let size = size(unit).ok_or_else(|| complaint.unknown_unit(unit))?;
    if negative {
        return Err(complaint.negative());
    }
    complaint.held(complaint.units(number, i128::from(size))?, false)
}

quantity! {
    /// A load in whole thousandths of whatever unit a code counts loads in; in fixture units, where no unit is named.
    Load, "a load such as `3 dfu` or `0.5 DU`", from_thousandths, thousandths, "thousandths of a unit of load"
}

/// Picolitres in a litre.
const LITRE: i64 = 1_000_000_000_000;
/// Picolitres in a US gallon, 3.785 411 784 L exactly (NIST Handbook 44, appendix C).
const GALLON: i64 = 3_785_411_784_000;

quantity! {
    /// A rate of flow in whole picolitres a minute, so that thousandths of a US gallon a minute are exact.
    Flow, "a flow such as `2 gpm`, `0.5 L/s` or `30 L/min`", from_picolitres_per_minute, picolitres_per_minute,
    "picolitres a minute"
}

quantity! {
    /// A volume in whole picolitres, so that thousandths of a US gallon are exact.
    Volume, "a volume such as `1.6 gal` or `6 L`", from_picolitres, picolitres, "picolitres"
}

quantity! {
    /// A length of time in whole seconds.
    Period, "a time such as `15 min`", from_seconds, seconds, "seconds"
}

quantity! {
    /// A temperature in 900ths of a kelvin above absolute zero, so that hundredths of a degree are exact in
    /// both scales.
    Temperature, "a temperature such as `0 F` or `-18 C`", from_kelvin_900ths, kelvin_900ths,
    "900ths of a kelvin"
}

/// 0 F is 459.67 x 5/9 K, and a degree is 5/9 K (definition of the scale).
const FAHRENHEIT_ZERO: i64 = 229_835;
/// 0 C is 273.15 K (definition of the scale).
const CELSIUS_ZERO: i64 = 245_835;

impl FromStr for Load {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        text.parse().map(|stated: crate::StatedLoad| stated.load)
    }
}

impl FromStr for Flow {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        read(text, Self::EXPECTED, |unit| match unit {
            "gpm" | "gal/min" => Some(GALLON),
            "L/s" | "l/s" => Some(60 * LITRE),
            "L/min" | "l/min" => Some(LITRE),
            _ => None,
        })
        .map(Self)
    }
}

impl FromStr for Volume {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        read(text, Self::EXPECTED, |unit| match unit {
            "gal" | "gpf" | "gallon" | "gallons" => Some(GALLON),
            "L" | "l" | "Lpf" => Some(LITRE),
            "mL" | "ml" => Some(LITRE / 1000),
            _ => None,
        })
        .map(Self)
    }
}

impl FromStr for Period {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        read(text, Self::EXPECTED, |unit| match unit {
            "s" | "sec" | "second" | "seconds" => Some(1),
            "min" | "minute" | "minutes" => Some(60),
            "h" | "hour" | "hours" => Some(3600),
            _ => None,
        })
        .map(Self)
    }
}

impl FromStr for Temperature {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        let (negative, rest) = complaint.begin()?;
        let (number, unit) = complaint.number(&rest)?;
        let (degree, zero) = match unit.trim() {
            "F" | "\u{b0}F" => (500, FAHRENHEIT_ZERO),
            "C" | "\u{b0}C" => (900, CELSIUS_ZERO),
            "" => return Err(complaint.missing_unit()),
            unit => return Err(complaint.unknown_unit(unit)),
        };
        let count = complaint.units(number, degree)?;
        let above = complaint.held(count, negative)?.checked_add(zero);
        match above {
            Some(above) if above >= 0 => Ok(Self(above)),
            Some(_) => Err(complaint.below_absolute_zero()),
            None => Err(complaint.overflow()),
        }
    }
}

impl Flow {
    /// The nearest multiple of a step, the larger of two that are as near; the flow itself where the step is none.
    ///
    /// ```
    /// # use crownweir_quantity::Flow;
    /// let flow = |text: &str| text.parse::<Flow>();
    /// assert_eq!(flow("2.497 L/s")?.to_step(flow("0.1 L/s")?), flow("2.5 L/s")?);
    /// # Ok::<(), crownweir_quantity::QuantityError>(())
    /// ```
    #[must_use]
    pub fn to_step(self, step: Self) -> Self {
        if step.0 <= 0 {
            return self;
        }
        let (flow, step) = (i128::from(self.0), i128::from(step.0));
        let nearest = (2 * flow + step).div_euclid(2 * step) * step;
        i64::try_from(nearest).map_or(self, Self)
    }

    /// The flow nearest to a figure in litres a second; none where it is not finite or too large to be held.
    #[must_use]
    pub fn from_litres_per_second_f64(litres: f64) -> Option<Self> {
        let picolitres = litres * 60.0 * LITRE as f64;
        #[expect(
            clippy::cast_possible_truncation,
            reason = "within the range of whole numbers that are held"
        )]
        (picolitres.abs() < 9.2e18).then(|| Self(picolitres.round() as i64))
    }

    /// The flow for people who read millimetres: to a thousandth of a litre a second.
    #[must_use]
    pub fn in_litres_per_second(self) -> String {
        format!("{} L/s", crate::motion::about(self.0, 60 * LITRE, 1000))
    }

    /// The flow rounded as far as it is printed for people, to one side: thousandths of a litre a second; in gallons it
    /// is printed as it is.
    #[must_use]
    pub fn rounded(self, notation: Notation, rounding: Rounding) -> Self {
        match notation {
            Notation::Inches => self,
            Notation::Millimetres => Self(rounding.to_grain(self.0, 60 * LITRE / 1000)),
        }
    }

    /// The flow in litres a second, in floating point.
    #[must_use]
    pub fn as_litres_per_second_f64(self) -> f64 {
        self.0 as f64 / LITRE as f64 / 60.0
    }

    /// The flow in US gallons a minute, in floating point.
    #[must_use]
    pub fn as_gpm_f64(self) -> f64 {
        self.0 as f64 / GALLON as f64
    }
}

impl fmt::Display for Load {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.in_unit(crate::LoadUnit::default()).fmt(f)
    }
}

/// Thousandths of gallons where they are whole, else decimal litres: exact either way.
fn gallons_or_litres(f: &mut fmt::Formatter<'_>, value: i64, gallons: &str, litres: &str) -> fmt::Result {
    if value != 0 && value % (GALLON / 1000) == 0 {
        decimal(f, value / (GALLON / 1000), 1000)?;
        return write!(f, " {gallons}");
    }
    decimal(f, value, LITRE)?;
    write!(f, " {litres}")
}

impl fmt::Display for Flow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        gallons_or_litres(f, self.0, "gpm", "L/min")
    }
}

impl fmt::Display for Volume {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        gallons_or_litres(f, self.0, "gal", "L")
    }
}

impl fmt::Display for Period {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            seconds if seconds % 3600 == 0 && seconds != 0 => write!(f, "{} h", seconds / 3600),
            seconds if seconds % 60 == 0 && seconds != 0 => write!(f, "{} min", seconds / 60),
            seconds => write!(f, "{seconds} s"),
        }
    }
}

impl fmt::Display for Temperature {
    /// Exact: Fahrenheit where hundredths of a degree are, else Celsius where they are, else Fahrenheit to the
    /// thousandth, which always is.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let fahrenheit = i128::from(self.0) - i128::from(FAHRENHEIT_ZERO);
        let celsius = i128::from(self.0) - i128::from(CELSIUS_ZERO);
        if fahrenheit % 5 != 0 && celsius % 9 == 0 {
            decimal(f, celsius / 9, 100)?;
            return f.write_str(" C");
        }
        decimal(f, fahrenheit * 2, 1000)?;
        f.write_str(" F")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_convert_by_their_definitions() {
        // 1 US gal = 3.785 411 784 L: NIST Handbook 44, appendix C.
        assert_eq!(
            "1 gpm".parse::<Flow>().map(Flow::picolitres_per_minute),
            Ok(3_785_411_784_000)
        );
        assert_eq!(
            "1.6 gal".parse::<Volume>().map(Volume::picolitres),
            Ok(6_056_658_854_400)
        );
        assert_eq!("60 L/min".parse::<Flow>(), "1 L/s".parse::<Flow>());
        assert_eq!("2 dfu".parse::<Load>().map(Load::thousandths), Ok(2000));
        assert_eq!(
            "0.5 FU".parse::<Load>().map(|load| load.to_string()).as_deref(),
            Ok("0.5 dfu")
        );
        assert_eq!("15 min".parse::<Period>().map(Period::seconds), Ok(900));
        // 0 F = -17.78 C (rounded), 32 F = 0 C, -40 F = -40 C exactly: definition of the scales.
        assert_eq!("32 F".parse::<Temperature>(), "0 C".parse::<Temperature>());
        assert_eq!("-40 F".parse::<Temperature>(), "-40 C".parse::<Temperature>());
        assert!("0 F".parse::<Temperature>().ok() > "-18 C".parse::<Temperature>().ok());
        assert_eq!(
            "-18 C".parse::<Temperature>().map(|t| t.to_string()).as_deref(),
            Ok("-0.4 F")
        );
    }

    #[test]
    fn temperatures_print_exactly() {
        for (text, printed) in [
            ("20 F", "20 F"),
            ("-5 \u{b0}F", "-5 F"),
            ("-18 \u{b0}C", "-0.4 F"),
            ("0.01 C", "0.01 C"),
            // A 900th of a kelvin above freezing is on neither scale's hundredths.
            ("1/900 C", "32.002 F"),
        ] {
            let read = text.parse::<Temperature>();
            assert_eq!(
                read.as_ref().map(ToString::to_string).as_deref(),
                Ok(printed),
                "{text}"
            );
            assert_eq!(printed.parse(), read, "{text}");
        }
        // Absolute zero is -273.15 C and -459.67 F: definition of the scales.
        assert_eq!("-273.15 C".parse(), Ok(Temperature(0)));
        assert_eq!("-459.67 F".parse(), Ok(Temperature(0)));
        for text in ["-273.16 C", "-459.68 F"] {
            assert!(matches!(
                text.parse::<Temperature>(),
                Err(QuantityError::BelowAbsoluteZero { .. })
            ));
        }
        // Differences reach the ends of the range, and still print.
        assert!(Temperature(i64::MIN).to_string().starts_with('-'));
        assert_eq!(
            Temperature(i64::MAX).to_string().parse(),
            Ok(Temperature(i64::MAX))
        );
    }

    #[test]
    fn units_may_be_written_out() {
        assert_eq!("1 hour".parse::<Period>(), "60 minutes".parse());
        assert_eq!("1 minute".parse::<Period>(), "60 seconds".parse());
        assert_eq!("1 fixture unit".parse::<Load>(), "1 dfu".parse());
        assert_eq!("500 mL".parse::<Volume>(), "0.5 L".parse());
        assert_eq!("1.28 gpf".parse::<Volume>(), "1.28 gal".parse());
        assert_eq!(
            "24 h"
                .parse::<Period>()
                .map(|period| period.to_string())
                .as_deref(),
            Ok("24 h")
        );
        assert_eq!(
            "1.6 gal"
                .parse::<Volume>()
                .map(|volume| volume.to_string())
                .as_deref(),
            Ok("1.6 gal")
        );
        assert_eq!(
            "30 L/min".parse::<Flow>().map(|flow| flow.to_string()).as_deref(),
            Ok("30 L/min")
        );
    }

    #[test]
    fn wrong_values_are_refused() {
        for text in [
            "2",
            "-2 dfu",
            "nan dfu",
            "0.0001 dfu",
            "2 gpm",
            "1e9 dfu",
            "9999999999999999999 dfu",
        ] {
            assert!(text.parse::<Load>().is_err(), "{text}");
        }
        assert!("-300 C".parse::<Temperature>().is_err());
        assert!("20".parse::<Temperature>().is_err());
    }
}
