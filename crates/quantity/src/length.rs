//! Lengths, as whole nanometres.

use std::fmt;
use std::str::FromStr;

use crate::motion::about;
use crate::number::{Complaint, decimal, divide_to_even, fraction};
use crate::{Notation, QuantityError, Rounding};

const MILLIMETRE: i64 = Length::MILLIMETRE.0;
const INCH: i64 = Length::INCH.0;
const FOOT: i64 = Length::FOOT.0;

/// A length in whole nanometres, so that 1/64 in (396 875 nm) and 1 mm are both exact. Differences of heights
/// may be negative; a length read from text is not, save by [`Length::parse_signed`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Length(i64);

impl Length {
    pub(crate) const EXPECTED: &'static str = "a length such as `42 in`, `7 ft 6-1/2 in` or `1067 mm`";

    /// No length.
    pub const ZERO: Self = Self(0);
    /// A millimetre, of a million nanometres.
    pub const MILLIMETRE: Self = Self(1_000_000);
    /// A metre.
    pub const METRE: Self = Self(1000 * Self::MILLIMETRE.0);
    /// An inch, which is 25.4 mm exactly (international yard and pound agreement of 1959).
    pub const INCH: Self = Self(25_400_000);
    /// A foot of twelve inches.
    pub const FOOT: Self = Self(12 * Self::INCH.0);

    /// So many nanometres.
    #[must_use]
    pub const fn from_nanometres(nanometres: i64) -> Self {
        Self(nanometres)
    }

    /// The length in nanometres.
    #[must_use]
    pub const fn nanometres(self) -> i64 {
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

    /// The length times a ratio, rounded half to even to the nanometre; none on overflow or division by zero.
    #[must_use]
    pub fn checked_scale(self, numerator: i64, denominator: i64) -> Option<Self> {
        divide_to_even(
            i128::from(self.0) * i128::from(numerator),
            i128::from(denominator),
        )
        .map(Self)
    }

    /// The length in metres, in floating point.
    #[must_use]
    pub fn as_metres_f64(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// The length nearest to a figure in metres; none where it is not finite or too large to be held.
    #[must_use]
    pub fn from_metres_f64(metres: f64) -> Option<Self> {
        crate::motion::rounded(metres * 1e9).map(Self)
    }

    /// The length in inches, in floating point.
    #[must_use]
    pub fn as_inches_f64(self) -> f64 {
        self.0 as f64 / INCH as f64
    }

    /// Reads a length that may lie below its datum, with a minus before it.
    ///
    /// # Errors
    /// As [`FromStr`], save that a minus is accepted.
    pub fn parse_signed(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: "a length such as `42 in`, `-3 ft 6 in` or `1067 mm`",
        };
        let (negative, rest) = complaint.begin()?;
        let count = read(complaint, &rest)?;
        complaint.held(count, negative).map(Self)
    }

    /// Whether a length as files write it is in metric units; none where the text is no length.
    #[must_use]
    pub fn is_metric(text: &str) -> Option<bool> {
        // Of the units that can be read, those of the metre end so and no other does.
        Self::parse_signed(text)
            .ok()
            .map(|_| text.trim_end().ends_with('m'))
    }

    /// The length for people: to 1/16 in or 1 mm, with `about` before it where that rounds.
    #[must_use]
    pub const fn in_notation(self, notation: Notation) -> InNotation {
        InNotation {
            length: self,
            notation,
        }
    }

    /// The length in decimal inches, where it is a whole number of thousandths.
    #[must_use]
    pub fn in_decimal_inches(self) -> Option<String> {
        let thousandth = INCH / 1000;
        let is_whole = self.0 % thousandth == 0;
        is_whole.then(|| format!("{} in", about(self.0, INCH, 1000)))
    }

    /// The length rounded as far as [`Self::in_notation`] does, to one side.
    #[must_use]
    pub fn rounded(self, notation: Notation, rounding: Rounding) -> Self {
        Self(rounding.to_grain(self.0, grain(notation)))
    }
}

/// The nanometres to which lengths are printed for people.
const fn grain(notation: Notation) -> i64 {
    match notation {
        Notation::Inches => INCH / 16,
        Notation::Millimetres => MILLIMETRE,
    }
}

impl FromStr for Length {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        let (negative, rest) = complaint.begin()?;
        let count = read(complaint, &rest)?;
        if negative {
            return Err(complaint.negative());
        }
        complaint.held(count, negative).map(Self)
    }
}

/// The nanometres of a length without sign.
fn read(complaint: Complaint<'_>, text: &str) -> Result<i128, QuantityError> {
    if text.is_empty() {
        return Err(complaint.not_a_number());
    }
    let mut total: i128 = 0;
    let mut rest = text;
    let mut last_unit = i64::MAX;
    while !rest.is_empty() {
        let (number, after) = complaint.number(rest)?;
        let after = after.trim_start();
        let end = after
            .find(|c: char| c.is_ascii_digit() || c.is_whitespace() || c == '-' || c == '.')
            .unwrap_or(after.len());
        let end = match after.chars().next() {
            Some(sign @ ('"' | '\'')) => sign.len_utf8(),
            _ => end,
        };
        let (name, after) = after.split_at(end);
        let unit = match name {
            "" => return Err(complaint.missing_unit()),
            "in" | "inch" | "inches" | "\"" => INCH,
            "ft" | "foot" | "feet" | "'" => FOOT,
            "mm" => MILLIMETRE,
            "cm" => 10 * MILLIMETRE,
            "m" => 1000 * MILLIMETRE,
            _ => return Err(complaint.unknown_unit(name)),
        };
        // Only feet are followed by a second part, and that in inches.
        if last_unit != i64::MAX && (last_unit, unit) != (FOOT, INCH) {
            return Err(complaint.unknown_unit(name));
        }
        last_unit = unit;
        let part = complaint.units(number, i128::from(unit))?;
        total = total.checked_add(part).ok_or_else(|| complaint.overflow())?;
        rest = after.trim_start();
        // `7 ft-6 in` and `7'-6"`: one dash may join feet to inches, and then inches must follow.
        if let Some(joined) = rest.strip_prefix('-') {
            rest = joined.trim_start();
            if rest.is_empty() {
                return Err(complaint.not_a_number());
            }
        }
    }
    Ok(total)
}

impl fmt::Display for Length {
    /// Exact: what is printed reads back as the same length, by [`Length::parse_signed`] where it is negative. Whole millimetres print as such, other multiples
    /// of 1/64 in as feet and inches, the rest as decimal millimetres.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 % MILLIMETRE != 0 && self.0 % (INCH / 64) == 0 {
            return inches(
                f,
                self.0 < 0,
                self.0.unsigned_abs() / (INCH / 64).unsigned_abs(),
                64,
            );
        }
        decimal(f, self.0, MILLIMETRE)?;
        f.write_str(" mm")
    }
}

/// Feet and inches from a number of parts of an inch.
fn inches(f: &mut fmt::Formatter<'_>, negative: bool, count: u64, parts: u64) -> fmt::Result {
    if negative {
        f.write_str("-")?;
    }
    let (feet, rest) = (count / (12 * parts), count % (12 * parts));
    if feet > 0 {
        write!(f, "{feet} ft")?;
        if rest == 0 {
            return Ok(());
        }
        f.write_str(" ")?;
    }
    fraction(f, rest, parts)?;
    f.write_str(" in")
}

/// A length as people write it; made by [`Length::in_notation`].
#[derive(Debug, Clone, Copy)]
pub struct InNotation {
    length: Length,
    notation: Notation,
}

impl fmt::Display for InNotation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let nanometres = self.length.0;
        let grain = grain(self.notation);
        if nanometres % grain != 0 {
            f.write_str("about ")?;
        }
        let count = divide_to_even(i128::from(nanometres), i128::from(grain)).unwrap_or(0);
        match self.notation {
            Notation::Inches => inches(f, count < 0, count.unsigned_abs(), 16),
            Notation::Millimetres if count.unsigned_abs() >= 10_000 => {
                decimal(f, count, 1000)?;
                f.write_str(" m")
            }
            Notation::Millimetres => write!(f, "{count} mm"),
        }
    }
}

crate::text::as_text!(Length);

#[cfg(test)]
mod tests {
    use super::*;

    fn nanometres(text: &str) -> Result<i64, QuantityError> {
        text.parse::<Length>().map(Length::nanometres)
    }

    #[test]
    fn trade_notation_is_read_exactly() {
        // 1 in = 25.4 mm: international yard and pound agreement, 1959.
        for (text, expected) in [
            ("42 in", 1_066_800_000),
            ("42\"", 1_066_800_000),
            ("7 ft 6-1/2 in", 2_298_700_000),
            ("7' 6 1/2\"", 2_298_700_000),
            ("7'6-1/2\"", 2_298_700_000),
            ("7 ft", 2_133_600_000),
            ("1067 mm", 1_067_000_000),
            ("2.4 m", 2_400_000_000),
            ("30 cm", 300_000_000),
            ("1/64 in", 396_875),
            (".5 in", 12_700_000),
            ("38.1 mm", 38_100_000),
        ] {
            assert_eq!(nanometres(text), Ok(expected), "{text}");
        }
        assert_eq!(nanometres("1.5 in"), nanometres("1-1/2 in"));
        assert_eq!(nanometres("1.5 in"), nanometres("38.1 mm"));
        assert_ne!(nanometres("1.5 in"), nanometres("38 mm"));
    }

    #[test]
    fn what_is_not_a_length_is_told_apart() {
        let error = |text: &str| text.parse::<Length>().err();
        assert!(matches!(error("42"), Some(QuantityError::MissingUnit { .. })));
        assert!(matches!(error("nan in"), Some(QuantityError::NotANumber { .. })));
        assert!(matches!(error(".nan"), Some(QuantityError::NotANumber { .. })));
        assert!(matches!(error("inf"), Some(QuantityError::NotANumber { .. })));
        assert!(matches!(
            error("99999999999999 ft"),
            Some(QuantityError::Overflow { .. })
        ));
        assert!(matches!(error("-3 in"), Some(QuantityError::Negative { .. })));
        assert!(matches!(
            error("3 furlongs"),
            Some(QuantityError::UnknownUnit { .. })
        ));
        assert!(matches!(error("1/3 in"), Some(QuantityError::OffGrid { .. })));
        assert!(matches!(
            error("1/0 in"),
            Some(QuantityError::DividedByZero { .. })
        ));
        assert!(matches!(error("  "), Some(QuantityError::Empty { .. })));
        assert!(matches!(
            error("1e400 in"),
            Some(QuantityError::UnknownUnit { .. })
        ));
        assert!(matches!(
            error("3 mm 2 in"),
            Some(QuantityError::UnknownUnit { .. })
        ));
        assert!(matches!(
            error("99999999999999999 km"),
            Some(QuantityError::UnknownUnit { .. })
        ));
        assert!(matches!(
            error(&"9".repeat(40)),
            Some(QuantityError::Overflow { .. })
        ));
        assert!(matches!(
            error(&"9".repeat(65)),
            Some(QuantityError::TooLong { .. })
        ));
        assert!(matches!(
            error("7 ft --6 in"),
            Some(QuantityError::NotANumber { .. })
        ));
        assert!(matches!(error("7 ft -"), Some(QuantityError::NotANumber { .. })));
        // Feet come before inches, once each.
        for text in ["6 in 7 ft", "7 ft 7 ft", "6 in 6 in", "7 ft 6"] {
            assert!(error(text).is_some(), "{text}");
        }
    }

    #[test]
    fn a_minus_is_read_only_where_asked_for() {
        let read = |text: &str| Length::parse_signed(text).map(Length::nanometres);
        assert_eq!(read("-3 ft 6 in"), Ok(-1_066_800_000));
        assert_eq!(read("\u{2212}1 mm"), Ok(-1_000_000));
        assert_eq!(read("1 mm"), Ok(1_000_000));
        assert!(matches!(read("-"), Err(QuantityError::NotANumber { .. })));
        assert!(matches!(read("--1 mm"), Err(QuantityError::NotANumber { .. })));
        assert_eq!(read(&Length(i64::MIN).to_string()), Ok(i64::MIN));
        assert!(matches!(
            read("-9223372036854.775809 mm"),
            Err(QuantityError::Overflow { .. })
        ));
    }

    #[test]
    fn scaling_rounds_halves_to_the_even_nanometre() {
        let half = |nanometres| Length(nanometres).checked_scale(1, 2).map(Length::nanometres);
        assert_eq!([half(1), half(3), half(5)], [Some(0), Some(2), Some(2)]);
        assert_eq!([half(-1), half(-3), half(-5)], [Some(0), Some(-2), Some(-2)]);
        assert_eq!(Length(1).checked_scale(1, 0), None);
        assert_eq!(Length(i64::MAX).checked_scale(2, 1), None);
        assert_eq!(Length(i64::MAX).checked_scale(2, 2), Some(Length(i64::MAX)));
        assert_eq!(Length(i64::MIN).checked_scale(i64::MIN, -1), None);
    }

    #[test]
    fn a_message_is_one_line_and_quotes_the_text() {
        let message = |text: &str| text.parse::<Length>().map_err(|error| error.to_string());
        assert_eq!(
            message("42"),
            Err(
                "`42` has no unit, expected a length such as `42 in`, `7 ft 6-1/2 in` or `1067 mm`"
                    .to_owned()
            )
        );
        assert_eq!(
            message("a\n\u{1b}[31m\u{202e}"),
            Err(
                "`a\u{fffd}\u{fffd}[31m\u{fffd}` does not begin with a number, expected a length such as \
                 `42 in`, `7 ft 6-1/2 in` or `1067 mm`"
                    .to_owned()
            )
        );
        let long = message(&"9".repeat(65)).err();
        assert!(
            long.is_some_and(|long| long.starts_with(&format!("`{}\u{2026}` is too long", "9".repeat(40))))
        );
    }

    #[test]
    fn a_bare_number_in_a_file_is_told_what_it_lacks() {
        for bare in ["42", "-42", "1.5", "0x10"] {
            let error = serde_yaml::from_str::<Length>(bare).map_err(|error| error.to_string());
            assert!(
                error
                    .as_ref()
                    .is_err_and(|error| error.contains("has no unit") && error.contains("`42 in`")),
                "{bare}: {error:?}"
            );
        }
        for other in ["true", "null", "[1 in]", "{a: 1 in}", ".nan", ".inf", "1e400"] {
            let error = serde_yaml::from_str::<Length>(other).map_err(|error| error.to_string());
            assert!(
                error.as_ref().is_err_and(|error| error.contains("`42 in`")),
                "{other}: {error:?}"
            );
        }
    }

    #[test]
    fn people_read_sixteenths_and_whole_millimetres() {
        let show = |nanometres, notation| Length(nanometres).in_notation(notation).to_string();
        assert_eq!(show(2_298_700_000, Notation::Inches), "7 ft 6-1/2 in");
        assert_eq!(show(396_875, Notation::Inches), "about 0 in");
        assert_eq!(show(1_066_800_000, Notation::Millimetres), "about 1067 mm");
        assert_eq!(show(12_500_000_000, Notation::Millimetres), "12.5 m");
        assert_eq!(show(-25_400_000, Notation::Inches), "-1 in");
        assert_eq!(show(25_400_000, Notation::Millimetres), "about 25 mm");
        assert_eq!(show(9_999_500_000, Notation::Millimetres), "about 10 m");
        assert_eq!(show(1_000_000_000, Notation::Inches), "about 3 ft 3-3/8 in");
    }
}
