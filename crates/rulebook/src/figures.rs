//! A figure and the limit that it is held to, in words.
//!
//! It judges nothing: what a limit reads as is never nearer to what misses it than the limit is.

use crownweir_quantity::{Length, Notation, Rounding};

use crate::model::Comparison;
use crate::value::{Ladder, Value};

/// How finely a value is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Grain {
    /// As people write it, to the nearest.
    Usual,
    /// As people write it, to the side on which a value compared with it so keeps it.
    Limit(Comparison),
    /// As it is.
    Exact,
}

impl Value {
    /// The value as people write it, so finely. See [`Self::in_words`].
    #[must_use]
    pub fn in_words_to(self, grain: Grain, ladder: &Ladder, notation: Notation) -> String {
        let usual = self.in_words(ladder, notation);
        if !usual.starts_with(ABOUT) {
            return usual;
        }
        let rounding = match grain {
            Grain::Exact => return self.exact_words(notation).unwrap_or(usual),
            Grain::Usual | Grain::Limit(Comparison::Is) => return usual,
            Grain::Limit(Comparison::AtMost | Comparison::LessThan) => Rounding::Down,
            Grain::Limit(Comparison::AtLeast | Comparison::MoreThan) => Rounding::Up,
        };
        let rounded = match self {
            Self::Length(length) => Self::Length(length.rounded(notation, rounding)),
            Self::Slope(slope) => Self::Slope(slope.rounded(notation, rounding)),
            Self::Angle(angle) => Self::Angle(angle.rounded(rounding)),
            Self::Flow(flow) => Self::Flow(flow.rounded(notation, rounding)),
            Self::Velocity(velocity) => Self::Velocity(velocity.rounded(notation, rounding)),
            Self::Ratio(ratio) => Self::Ratio(ratio.rounded(rounding)),
            _ => return usual,
        };
        format!("{ABOUT}{}", rounded.in_words(ladder, notation))
    }

    /// How finely the value and a limit that it is compared with are written: exactly where both would else read alike and are
    /// not.
    #[must_use]
    pub fn grains(
        self,
        order: Comparison,
        limit: Self,
        ladder: &Ladder,
        notation: Notation,
    ) -> (Grain, Grain) {
        let usual = (Grain::Usual, Grain::Limit(order));
        let own = self.in_words_to(usual.0, ladder, notation);
        let other = limit.in_words_to(usual.1, ladder, notation);
        let figure = |text: &str| text.strip_prefix(ABOUT).unwrap_or(text).to_owned();
        if self != limit && figure(&own) == figure(&other) {
            return (Grain::Exact, Grain::Exact);
        }
        usual
    }

    /// How finely the room between a value and its limit is written: exactly where it would else read as none and is some.
    #[must_use]
    pub fn grain_of_room(self, ladder: &Ladder, notation: Notation) -> Grain {
        let none = self.minus(self);
        none.map_or(Grain::Usual, |none| {
            self.grains(Comparison::Is, none, ladder, notation).0
        })
    }

    fn exact_words(self, notation: Notation) -> Option<String> {
        match self {
            Self::Length(length) => {
                let inches = match notation {
                    Notation::Inches => length.in_decimal_inches().or_else(|| thousandths(length)),
                    Notation::Millimetres => None,
                };
                inches.or_else(|| Some(length.to_string()))
            }
            Self::Slope(slope) => Some(slope.to_string()),
            Self::Angle(angle) => Some(angle.to_string()),
            Self::Flow(flow) => Some(flow.to_string()),
            Self::Velocity(velocity) => Some(velocity.to_string()),
            Self::Ratio(ratio) => Some(ratio.to_string()),
            _ => None,
        }
    }
}

/// A length to the nearest thousandth of an inch, where that is more than its usual figure says.
fn thousandths(length: Length) -> Option<String> {
    let to_nearest = |grain: i64| {
        let half = length.nanometres().checked_add(grain / 2)?;
        half.div_euclid(grain)
            .checked_mul(grain)
            .map(Length::from_nanometres)
    };
    let (fine, usual) = (to_nearest(INCH / 1000)?, to_nearest(INCH / 16)?);
    let words = fine.in_decimal_inches().filter(|_| fine != usual)?;
    Some(format!("{ABOUT}{words}"))
}

/// An inch in nanometres.
const INCH: i64 = Length::INCH.nanometres();

/// What stands before a figure that is rounded.
const ABOUT: &str = "about ";

#[cfg(test)]
mod tests {
    use crownweir_quantity::{Angle, Ratio, Slope, Velocity};

    use super::*;

    const MOST: Comparison = Comparison::AtMost;
    const LEAST: Comparison = Comparison::AtLeast;

    fn length(text: &str) -> Value {
        Length::parse_signed(text).map_or(Value::Truth(false), Value::Length)
    }

    fn slope(text: &str) -> Value {
        Slope::parse_signed(text).map_or(Value::Truth(false), Value::Slope)
    }

    fn said(value: Value, order: Comparison, notation: Notation) -> String {
        value.in_words_to(Grain::Limit(order), &Ladder::default(), notation)
    }

    // Whoever measures in inches is not told of millimetres, save of less than a thousandth.
    #[test]
    fn what_would_read_as_its_limit_is_told_more_finely() {
        let said = |text| length(text).in_words_to(Grain::Exact, &Ladder::default(), Notation::Inches);
        for (text, expected) in [
            ("38.1 mm", "1-1/2 in"),
            ("1.501 in", "1.501 in"),
            // 73/48 in, the fall of 6 ft 1 in at 1/4 in/ft.
            ("38.629167 mm", "about 1.521 in"),
            ("-38.629167 mm", "about -1.521 in"),
            ("38.100001 mm", "38.100001 mm"),
        ] {
            assert_eq!(said(text), expected);
        }
    }

    #[test]
    fn a_limit_is_rounded_to_the_side_on_which_it_is_kept() {
        use Notation::{Inches, Millimetres};
        let sixty_per_cent = length("2.1 in");
        for (value, order, notation, expected) in [
            (sixty_per_cent, MOST, Inches, "about 2-1/16 in"),
            (sixty_per_cent, LEAST, Inches, "about 2-1/8 in"),
            (length("1200 mm"), MOST, Inches, "about 3 ft 11-3/16 in"),
            (length("-2.1 in"), MOST, Inches, "about -2-1/8 in"),
            (length("3 ft"), MOST, Millimetres, "about 914 mm"),
            (length("3 ft"), LEAST, Millimetres, "about 915 mm"),
            (length("3 ft"), LEAST, Inches, "3 ft"),
            (slope("2 %"), LEAST, Inches, "about 1/4 in/ft"),
            (slope("1/4 in/ft"), LEAST, Millimetres, "about 2.09 %"),
            (slope("1/4 in/ft"), MOST, Millimetres, "about 2.08 %"),
            (slope("-1/4 in/ft"), LEAST, Millimetres, "about -2.08 %"),
        ] {
            assert_eq!(said(value, order, notation), expected);
        }
    }

    #[test]
    fn angles_velocities_and_ratios_are_rounded_to_that_side_too() {
        let third = Value::Ratio(Ratio::from_parts_of_720_million(240_000_000));
        let angle = Value::Angle(Angle::from_microdegrees(44_980_000));
        let velocity = Value::Velocity(Velocity::from_nanometres_per_second(600_000_001));
        for value in [third, angle, velocity] {
            for notation in [Notation::Inches, Notation::Millimetres] {
                let read = |grain| value.in_words_to(grain, &Ladder::default(), notation);
                let figure = |grain| {
                    let said = read(grain);
                    let figure = said.trim_start_matches(ABOUT).split([' ', '%']).next();
                    figure.and_then(|figure| figure.parse::<f64>().ok())
                };
                let (least, most) = (figure(Grain::Limit(LEAST)), figure(Grain::Limit(MOST)));
                assert!(least > most && most.is_some(), "{value:?}: {least:?}, {most:?}");
                let exact = read(Grain::Exact);
                assert!(!exact.starts_with(ABOUT), "{exact}");
            }
        }
    }

    #[test]
    fn figures_that_differ_read_unlike() {
        let read = |value: Value, order, limit: Value| {
            let ladder = Ladder::default();
            let (own, other) = value.grains(order, limit, &ladder, Notation::Inches);
            [
                value.in_words_to(own, &ladder, Notation::Inches),
                limit.in_words_to(other, &ladder, Notation::Inches),
            ]
        };
        let apart = read(length("3 ft 11-1/4 in"), MOST, length("1200 mm"));
        assert_eq!(apart, ["3 ft 11-1/4 in", "about 3 ft 11-3/16 in"]);
        // Both are nearer to 47-3/16 in than to the next sixteenth.
        let alike = read(length("47.2 in"), MOST, length("47.19 in"));
        assert_eq!(alike, ["47.2 in", "47.19 in"]);
        assert_eq!(read(length("2 in"), MOST, length("2 in")), ["2 in", "2 in"]);
        let room = length("0.01 in");
        assert_eq!(
            room.grain_of_room(&Ladder::default(), Notation::Inches),
            Grain::Exact
        );
    }
}
