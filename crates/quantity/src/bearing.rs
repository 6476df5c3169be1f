//! Directions in plan: bearings by the compass, and turns from the way one came.

use std::fmt;
use std::str::FromStr;

use crate::number::{Complaint, decimal};
use crate::{Angle, QuantityError};

const DEGREE: i64 = 1_000_000;
const CIRCLE: i64 = 360 * DEGREE;

/// The words of the compass, clockwise from north by eighths of a circle.
const COMPASS: [&str; 8] = [
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
];

/// A direction in plan, as whole millionths of a degree clockwise from north, from 0 to under 360 degrees. North is
/// whichever way the drawing takes for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Bearing(i64);

impl Bearing {
    pub(crate) const EXPECTED: &'static str = "a direction such as `east`, `south-west` or `30 deg`";

    /// So many millionths of a degree clockwise from north, whole circles taken off.
    #[must_use]
    pub const fn from_microdegrees(microdegrees: i64) -> Self {
        Self(microdegrees.rem_euclid(CIRCLE))
    }

    /// The angle clockwise from north, in millionths of a degree, under a full circle.
    #[must_use]
    pub const fn microdegrees(self) -> i64 {
        self.0
    }

    /// The bearing of the way from one point in plan to another, so far `east` and so far `north` of it, in any unit;
    /// none where the two are the same. Floating point, rounded to a millionth of a degree.
    #[must_use]
    pub fn of_way(east: f64, north: f64) -> Option<Self> {
        let degrees = east.atan2(north).to_degrees();
        let apart = east != 0.0 || north != 0.0;
        let microdegrees = crate::motion::rounded(degrees * DEGREE as f64)?;
        (apart && east.is_finite() && north.is_finite()).then_some(Self::from_microdegrees(microdegrees))
    }

    /// This bearing after a turn.
    #[must_use]
    pub const fn after(self, turn: Turn) -> Self {
        Self::from_microdegrees(self.0 + turn.0)
    }

    /// How far east and how far north a step of length one goes: exact along the four cardinal points, floating point
    /// between them.
    #[must_use]
    pub fn east_and_north(self) -> [f64; 2] {
        match self.0 / (90 * DEGREE) {
            quarter if self.0 % (90 * DEGREE) == 0 => match quarter {
                0 => [0.0, 1.0],
                1 => [1.0, 0.0],
                2 => [0.0, -1.0],
                _ => [-1.0, 0.0],
            },
            _ => {
                let angle = (self.0 as f64 / DEGREE as f64).to_radians();
                [angle.sin(), angle.cos()]
            }
        }
    }
}

impl FromStr for Bearing {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        let (negative, rest) = complaint.begin()?;
        match compass(&rest) {
            Some(bearing) if !negative => Ok(bearing),
            _ if negative => Err(complaint.negative()),
            _ => degrees(complaint, &rest).map(Self::from_microdegrees),
        }
    }
}

fn compass(word: &str) -> Option<Bearing> {
    let eighth = COMPASS.iter().position(|own| *own == word)?;
    Some(Bearing::from_microdegrees(
        45 * DEGREE * i64::try_from(eighth).ok()?,
    ))
}

/// An angle, in millionths of a degree.
fn degrees(complaint: Complaint<'_>, text: &str) -> Result<i64, QuantityError> {
    // The angle's own reader, so that units are read in one way; its complaint names what is expected here.
    match text.parse::<Angle>() {
        Ok(angle) if angle.microdegrees() <= CIRCLE => Ok(angle.microdegrees()),
        Ok(_) => Err(complaint.overflow()),
        Err(QuantityError::MissingUnit { .. }) => Err(complaint.missing_unit()),
        Err(QuantityError::UnknownUnit { unit, .. }) => Err(complaint.unknown_unit(&unit)),
        Err(_) => Err(complaint.not_a_number()),
    }
}

impl fmt::Display for Bearing {
    /// The word of the compass where there is one, else degrees clockwise from north.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let eighth = usize::try_from(self.0 / (45 * DEGREE)).unwrap_or_default();
        match COMPASS.get(eighth) {
            Some(word) if self.0 % (45 * DEGREE) == 0 => f.pad(word),
            _ => {
                decimal(f, self.0, DEGREE)?;
                f.write_str(" deg")
            }
        }
    }
}

/// A turn in plan, seen from above, as whole millionths of a degree clockwise; a turn to the left is negative.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Turn(i64);

impl Turn {
    /// So many millionths of a degree to the right.
    #[must_use]
    pub const fn from_microdegrees(microdegrees: i64) -> Self {
        Self(microdegrees % CIRCLE)
    }

    /// The turn to the right, in millionths of a degree.
    #[must_use]
    pub const fn microdegrees(self) -> i64 {
        self.0
    }
}

/// Which way to go on: by the compass, or by a turn from the way one came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Heading {
    /// By the compass.
    Bearing(Bearing),
    /// By a turn: `left`, `right 45 deg`, `straight on`.
    Turn(Turn),
}

impl Heading {
    pub(crate) const EXPECTED: &'static str =
        "a direction such as `east`, `south-west`, `30 deg`, `left`, `right 45 deg` or `straight on`";
}

impl FromStr for Heading {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        let (negative, rest) = complaint.begin()?;
        if negative {
            return Err(complaint.negative());
        }
        if rest == "straight on" {
            return Ok(Self::Turn(Turn::default()));
        }
        if let Some(bearing) = compass(&rest) {
            return Ok(Self::Bearing(bearing));
        }
        for (word, sign) in [("left", -1), ("right", 1)] {
            if let Some(by) = rest.strip_prefix(word) {
                let angle = match by.trim_start() {
                    "" => 90 * DEGREE,
                    by => degrees(complaint, by)?,
                };
                return Ok(Self::Turn(Turn::from_microdegrees(sign * angle)));
            }
        }
        degrees(complaint, &rest).map(|angle| Self::Bearing(Bearing::from_microdegrees(angle)))
    }
}

impl fmt::Display for Heading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bearing(bearing) => bearing.fmt(f),
            Self::Turn(Turn(0)) => f.write_str("straight on"),
            Self::Turn(Turn(turn)) => {
                f.write_str(if *turn < 0 { "left" } else { "right" })?;
                if turn.abs() == 90 * DEGREE {
                    return Ok(());
                }
                f.write_str(" ")?;
                decimal(f, turn.abs(), DEGREE)?;
                f.write_str(" deg")
            }
        }
    }
}

crate::text::as_text!(Bearing);
crate::text::as_text!(Heading);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_are_read_as_they_are_said() {
        for (text, microdegrees) in [
            ("north", 0),
            ("north-east", 45_000_000),
            ("south-west", 225_000_000),
            ("30 deg", 30_000_000),
            ("360 deg", 0),
            ("22.5\u{b0}", 22_500_000),
        ] {
            let bearing = Bearing::from_microdegrees(microdegrees);
            assert_eq!(text.parse::<Bearing>(), Ok(bearing), "{text}");
            assert_eq!(text.parse::<Heading>(), Ok(Heading::Bearing(bearing)), "{text}");
            assert_eq!(bearing.to_string().parse(), Ok(bearing), "{text}");
        }
        for (text, microdegrees) in [
            ("left", -90_000_000),
            ("right 45 deg", 45_000_000),
            ("straight on", 0),
        ] {
            let turn = Heading::Turn(Turn::from_microdegrees(microdegrees));
            assert_eq!(text.parse::<Heading>(), Ok(turn), "{text}");
            assert_eq!(turn.to_string(), text);
        }
        for text in [
            "nort",
            "left 45",
            "-30 deg",
            "361 deg",
            "leftish",
            "30",
            "",
            "east 30 deg",
        ] {
            assert!(text.parse::<Heading>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_turn_is_seen_from_above() {
        let after = |bearing: &str, heading: &str| match (bearing.parse::<Bearing>(), heading.parse()) {
            (Ok(bearing), Ok(Heading::Turn(turn))) => bearing.after(turn).to_string(),
            _ => String::new(),
        };
        assert_eq!(after("north", "left"), "west");
        assert_eq!(after("north", "right 45 deg"), "north-east");
        assert_eq!(after("30 deg", "left 60 deg"), "330 deg");
    }

    #[test]
    fn the_cardinal_points_are_exact() {
        for (text, way) in [
            ("north", [0.0, 1.0]),
            ("east", [1.0, 0.0]),
            ("south", [0.0, -1.0]),
            ("west", [-1.0, 0.0]),
        ] {
            assert_eq!(
                text.parse::<Bearing>().map(Bearing::east_and_north),
                Ok(way),
                "{text}"
            );
            assert_eq!(Bearing::of_way(way[0], way[1]), text.parse().ok(), "{text}");
        }
        assert_eq!(Bearing::of_way(-3.0, -3.0), "south-west".parse().ok());
        assert_eq!(Bearing::of_way(0.0, 0.0), None);
        assert_eq!(Bearing::of_way(f64::NAN, 1.0), None);
    }
}
