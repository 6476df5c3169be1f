//! Offsets: a line moved aside by two bends of one angle and the pipe between them.
//!
//! Floating point throughout, each result rounded to the nanometre.

use crownweir_quantity::{Angle, Bearing, Length, Slope, Turn};

/// A line moved aside, level by level or at a slant, by two bends of one angle. All figures are from centre to centre.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Offset {
    /// How far one way.
    pub set: Length,
    /// How far at right angles to it; zero where the offset is not a rolling one.
    pub roll: Length,
    /// By how much each of the two bends turns.
    pub angle: Angle,
}

impl Offset {
    /// The distance between the two lines: the root of the sum of the squares of set and roll.
    #[must_use]
    pub fn true_offset(self) -> Option<Length> {
        let [set, roll] = [self.set, self.roll].map(Length::as_metres_f64);
        Length::from_metres_f64(set.hypot(roll))
    }

    /// The length of the slanting pipe: the true offset over the sine of the angle.
    #[must_use]
    pub fn travel(self) -> Option<Length> {
        let (offset, sine) = (self.true_offset()?.as_metres_f64(), self.radians().sin());
        (sine > 0.0)
            .then(|| Length::from_metres_f64(offset / sine))
            .flatten()
    }

    /// How far the line gets on meanwhile in its own direction: the true offset over the tangent of the angle.
    #[must_use]
    pub fn advance(self) -> Option<Length> {
        let (offset, (sine, cosine)) = (self.true_offset()?.as_metres_f64(), self.radians().sin_cos());
        let right = self.angle.microdegrees() == 90_000_000;
        match (right, sine > 0.0) {
            (true, _) => Some(Length::ZERO),
            (false, true) => Length::from_metres_f64(offset * cosine / sine),
            (false, false) => None,
        }
    }

    /// The slanting pipe in a line.
    pub(crate) fn solve(self, line: Line) -> Option<Solved> {
        if line.plumb {
            self.in_plumb_line(line.bearing, line.side)
        } else {
            self.in_level_line(line.bearing, line.side, line.grade)
        }
    }

    /// The slanting pipe in a line that runs in the direction `bearing`, set down (a vent: up) and rolled to one side.
    /// An offset without a set lies at the line's own `grade`.
    fn in_level_line(self, bearing: Bearing, side: Side, grade: Option<Slope>) -> Option<Solved> {
        let (travel, advance) = (self.travel()?, self.advance()?);
        let (length, slope) = match grade {
            Some(grade) => (crate::plan::length_over(travel, grade)?, grade),
            None => (travel, Slope::from_fall(self.set, travel)?),
        };
        Some(Solved {
            length,
            slope,
            bearing: rolled(bearing, advance, side, self.roll),
        })
    }

    /// The slanting pipe in a vertical line, set in the direction `bearing` and rolled to one side.
    fn in_plumb_line(self, bearing: Bearing, side: Side) -> Option<Solved> {
        let (travel, advance) = (self.travel()?, self.advance()?);
        Some(Solved {
            length: travel,
            slope: Slope::from_fall(advance, travel)?,
            bearing: rolled(bearing, self.set, side, self.roll),
        })
    }

    fn radians(self) -> f64 {
        (self.angle.microdegrees() as f64 / 1e6).to_radians()
    }
}

/// The line that an offset moves aside.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line {
    /// Its direction in plan; of a vertical one, that in which it is set.
    pub(crate) bearing: Bearing,
    /// Whether it is vertical.
    pub(crate) plumb: bool,
    /// The slope at which the offset lies where it has no set.
    pub(crate) grade: Option<Slope>,
    /// To which side it is rolled.
    pub(crate) side: Side,
}

/// To which side, seen from above.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Left,
    Right,
}

/// The pipe of an offset.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Solved {
    pub(crate) length: Length,
    pub(crate) slope: Slope,
    /// None where the pipe has no way in plan.
    pub(crate) bearing: Option<Bearing>,
}

/// The direction of a way that goes so far along a bearing and so far to a side of it.
fn rolled(bearing: Bearing, along: Length, side: Side, roll: Length) -> Option<Bearing> {
    let aside = match side {
        Side::Left => -roll.as_metres_f64(),
        Side::Right => roll.as_metres_f64(),
    };
    // The angle from the bearing is that of the same way from north.
    let turn = Bearing::of_way(aside, along.as_metres_f64())?;
    Some(bearing.after(Turn::from_microdegrees(turn.microdegrees())))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn offset(set: &str, roll: &str, angle: &str) -> Option<Offset> {
        Some(Offset {
            set: set.parse().ok()?,
            roll: roll.parse().ok()?,
            angle: angle.parse().ok()?,
        })
    }

    /// True offset, travel and advance in hundredths of an inch.
    fn solved(set: &str, roll: &str, angle: &str) -> Option<[i64; 3]> {
        let offset = offset(set, roll, angle)?;
        let hundredths = |length: Length| (length.as_inches_f64() * 100.0).round() as i64;
        Some([offset.true_offset()?, offset.travel()?, offset.advance()?].map(hundredths))
    }

    #[test]
    fn offsets_come_out_as_published() {
        // Simple offsets, to the hundredth of an inch; see the sources in the crate `shop`'s tests of lengths.
        assert_eq!(solved("12 in", "0 in", "45 deg"), Some([1200, 1697, 1200]));
        assert_eq!(solved("12 in", "0 in", "60 deg"), Some([1200, 1386, 693]));
        // Rolling: set 8 and roll 12.
        assert_eq!(solved("8 in", "12 in", "45 deg"), Some([1442, 2040, 1442]));
        assert_eq!(solved("8 in", "12 in", "22.5 deg"), Some([1442, 3769, 3482]));
        assert_eq!(solved("12 in", "0 in", "90 deg"), Some([1200, 1200, 0]));
        assert_eq!(solved("12 in", "0 in", "0 deg"), None);
    }
}
