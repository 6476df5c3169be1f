//! Loads, flows, volumes, temperatures and times: whole numbers of a unit small enough for the trade's figures.

use std::fmt;
use std::str::FromStr;

use crate::QuantityError;
use crate::number::{Complaint, decimal, divide_to_even};

/// A quantity held as a whole number of small units.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $expected:literal, $make:ident, $get:ident, $unit_doc:literal,
     signed: $signed:literal, units: { $($unit:literal)|+ => $size:expr $(, $($more:literal)|+ => $more_size:expr)* }) => {
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
                divide_to_even(i128::from(self.0) * i128::from(numerator), i128::from(denominator)).map(Self)
            }

            fn read(text: &str) -> Result<Self, QuantityError> {
                let complaint = Complaint { text, expected: Self::EXPECTED };
                let (negative, rest) = complaint.begin()?;
                let (number, unit) = complaint.number(&rest)?;
                let size: i128 = match unit.trim() {
                    "" => return Err(complaint.missing_unit()),
                    $($unit)|+ => $size,
                    $($($more)|+ => $more_size,)*
                    unit => return Err(complaint.unknown_unit(unit)),
                };
                if negative && !$signed {
                    return Err(complaint.negative());
                }
                let count = complaint.units(number, size)?;
                Ok(Self(if negative { -count } else { count }))
            }
        }

        crate::text::as_text!($name);
    };
}

macro_rules! reads_plainly {
    ($($name:ident),*) => {
        $(impl FromStr for $name {
            type Err = QuantityError;
            fn from_str(text: &str) -> Result<Self, QuantityError> {
                Self::read(text)
            }
        })*
    };
}

quantity! {
    /// A load in fixture units, in whole thousandths.
    FixtureUnits, "a load such as `3 dfu` or `0.5 dfu`", from_thousandths, thousandths, "thousandths of a fixture unit",
    signed: false,
    units: { "dfu" | "DFU" | "fu" | "FU" | "fixture unit" | "fixture units" => 1000 }
}

/// Picolitres in a litre.
const LITRE: i64 = 1_000_000_000_000;
/// Picolitres in a US gallon, 3.785 411 784 L exactly (NIST Handbook 44, appendix C).
const GALLON: i64 = 3_785_411_784_000;

quantity! {
    /// A rate of flow in whole picolitres a minute, so that thousandths of a US gallon a minute are exact.
    Flow, "a flow such as `2 gpm`, `0.5 L/s` or `30 L/min`", from_picolitres_per_minute, picolitres_per_minute,
    "picolitres a minute",
    signed: false,
    units: { "gpm" | "gal/min" => GALLON as i128, "L/s" | "l/s" => 60 * LITRE as i128, "L/min" | "l/min" => LITRE as i128 }
}

quantity! {
    /// A volume in whole picolitres, so that thousandths of a US gallon are exact.
    Volume, "a volume such as `1.6 gal` or `6 L`", from_picolitres, picolitres, "picolitres",
    signed: false,
    units: { "gal" | "gpf" | "gallon" | "gallons" => GALLON as i128, "L" | "l" | "Lpf" => LITRE as i128, "mL" | "ml" => LITRE as i128 / 1000 }
}

quantity! {
    /// A length of time in whole seconds.
    Period, "a time such as `15 min`", from_seconds, seconds, "seconds",
    signed: false,
    units: { "s" | "sec" => 1, "min" | "minutes" => 60, "h" | "hours" => 3600 }
}

quantity! {
    /// A temperature in 900ths of a kelvin above absolute zero, so that hundredths of a degree are exact in
    /// both scales.
    Temperature, "a temperature such as `0 F` or `-18 C`", from_nine_hundredths_of_kelvin, nine_hundredths_of_kelvin,
    "900ths of a kelvin",
    signed: true,
    units: { "F" | "\u{b0}F" | "C" | "\u{b0}C" => 900 }
}

reads_plainly!(FixtureUnits, Flow, Volume, Period);

impl FromStr for Temperature {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        Self::read(text)?;
        let (negative, rest) = complaint.begin()?;
        let (mut number, unit) = complaint.number(&rest)?;
        if negative {
            number.numerator = -number.numerator;
        }
        let above = if unit.trim().ends_with('F') {
            // T(K) = (t(F) + 459.67) x 5/9
            complaint.units(number, 500)?.checked_add(229_835)
        } else {
            // T(K) = t(C) + 273.15
            complaint.units(number, 900)?.checked_add(245_835)
        };
        match above {
            Some(above) if above >= 0 => Ok(Self(above)),
            Some(_) => Err(complaint.negative()),
            None => Err(complaint.overflow()),
        }
    }
}

impl Flow {
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

impl fmt::Display for FixtureUnits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        decimal(f, self.0, 1000)?;
        f.write_str(" dfu")
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
    /// Fahrenheit where hundredths of a degree are exact, else Celsius.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let fahrenheit = self.0 - 229_835;
        if fahrenheit % 5 == 0 {
            decimal(f, fahrenheit / 5, 100)?;
            return f.write_str(" F");
        }
        let celsius = self.0 - 245_835;
        decimal(f, divide_to_even(i128::from(celsius), 9).unwrap_or(0), 100)?;
        f.write_str(" C")
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
        assert_eq!(
            "2 dfu".parse::<FixtureUnits>().map(FixtureUnits::thousandths),
            Ok(2000)
        );
        assert_eq!(
            "0.5 FU"
                .parse::<FixtureUnits>()
                .map(|load| load.to_string())
                .as_deref(),
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
            assert!(text.parse::<FixtureUnits>().is_err(), "{text}");
        }
        assert!("-300 C".parse::<Temperature>().is_err());
        assert!("20".parse::<Temperature>().is_err());
    }
}
