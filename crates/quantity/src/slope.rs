//! Slopes, as exact ratios.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use crate::number::{Complaint, Ratio, decimal, divide_to_even, fraction};
use crate::{Angle, Length, Notation, QuantityError, Rounding};

/// Fall over run, as a reduced ratio. `1/4 in/ft` is 1/48 and `2 %` is 1/50: they are not equal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Slope {
    rise: i64,
    run: i64,
}

impl Slope {
    pub(crate) const EXPECTED: &'static str =
        "a slope such as `1/4 in/ft`, `2 %`, `1:50`, `20 mm/m`, `45 deg`, `level` or `vertical`";

    /// No fall.
    pub const LEVEL: Self = Self { rise: 0, run: 1 };
    /// Plumb.
    pub const VERTICAL: Self = Self { rise: 1, run: 0 };

    /// A ratio of fall to run; none if the run is negative, if it is zero and the fall not above zero, or if the
    /// ratio cannot be held. A negative fall is a back-graded pipe.
    #[must_use]
    pub fn new(rise: i64, run: i64) -> Option<Self> {
        reduced(i128::from(rise), i128::from(run))
    }

    /// The fall of the reduced ratio.
    #[must_use]
    pub const fn rise(self) -> i64 {
        self.rise
    }

    /// The run of the reduced ratio; zero when vertical.
    #[must_use]
    pub const fn run(self) -> i64 {
        self.run
    }

    /// Whether it is plumb.
    #[must_use]
    pub const fn is_vertical(self) -> bool {
        self.run == 0
    }

    /// Whether it has no fall.
    #[must_use]
    pub const fn is_level(self) -> bool {
        self.rise == 0
    }

    /// Reads a slope that may be back-graded, with a minus before it.
    ///
    /// # Errors
    /// As [`FromStr`], save that a minus is accepted before anything but `level`, `vertical` and `90 deg`.
    pub fn parse_signed(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: "a slope such as `1/4 in/ft`, `-2 %`, `1:50`, `level` or `vertical`",
        };
        let (negative, rest) = complaint.begin()?;
        read(complaint, &rest, negative)
    }

    /// The fall over a length of pipe. The trade measures along the pipe, not along the floor; at 1/2 in/ft the
    /// two differ by less than one part in a thousand. Rounded half to even to the nanometre; none on overflow.
    #[must_use]
    pub fn fall_over(self, length: Length) -> Option<Length> {
        if self.is_vertical() {
            return Some(length);
        }
        if i128::from(self.rise).abs() * 4 > i128::from(self.run) {
            // Steeper than 1 in 4 the two part: use the triangle. Floating point, rounded to the nanometre.
            let angle = (self.rise as f64).atan2(self.run as f64);
            let fall = (length.nanometres() as f64 * angle.sin()).round();
            return (fall.abs() < 9e18).then_some(Length::from_nanometres(fall as i64));
        }
        length.checked_scale(self.rise, self.run)
    }

    /// How far a pipe of so much length leads in plan: the third side of the triangle of length and [fall](Self::fall_over),
    /// to the nanometre below; none on overflow.
    #[must_use]
    pub fn run_over(self, length: Length) -> Option<Length> {
        let square = |side: Length| u128::from(side.nanometres().unsigned_abs()).pow(2);
        let rest = square(length).checked_sub(square(self.fall_over(length)?))?;
        i64::try_from(rest.isqrt()).ok().map(Length::from_nanometres)
    }

    /// The slope of a pipe that falls so much over its length; vertical when the two are equal, none when the
    /// fall is the greater or the length is not above zero.
    #[must_use]
    pub fn from_fall(fall: Length, length: Length) -> Option<Self> {
        let (fall, length) = (fall.nanometres(), length.nanometres());
        match fall.unsigned_abs().cmp(&length.unsigned_abs()) {
            _ if length <= 0 => None,
            Ordering::Greater => None,
            Ordering::Equal if fall > 0 => Some(Self::VERTICAL),
            Ordering::Equal => None,
            Ordering::Less => {
                // Up to 1 in 4 fall over length is the trade's slope, exact; steeper ones take the run of the
                // triangle, to the nearest nanometre.
                if u128::from(fall.unsigned_abs()) * 4 <= u128::from(length.unsigned_abs()) {
                    return Self::new(fall, length);
                }
                let square = |side: i64| u128::from(side.unsigned_abs()).pow(2);
                let run_squared = square(length) - square(fall);
                let root = run_squared.isqrt();
                let run = root + u128::from(run_squared - root * root > root);
                reduced(i128::from(fall), i128::try_from(run).ok()?)
            }
        }
    }

    /// The angle to the horizontal, rounded to a millionth of a degree.
    #[must_use]
    pub fn angle_from_horizontal(self) -> Angle {
        if self.is_vertical() {
            return Angle::from_microdegrees(90_000_000);
        }
        let degrees = (self.rise as f64).atan2(self.run as f64).to_degrees();
        Angle::from_microdegrees((degrees * 1e6).round() as i64)
    }

    /// The angle to the vertical, rounded to a millionth of a degree.
    #[must_use]
    pub fn angle_from_vertical(self) -> Angle {
        Angle::from_microdegrees(90_000_000 - self.angle_from_horizontal().microdegrees())
    }

    /// The ratio in floating point; none when vertical.
    #[must_use]
    pub fn as_f64(self) -> Option<f64> {
        (!self.is_vertical()).then(|| self.rise as f64 / self.run as f64)
    }

    /// The slope for people: inches per foot to 1/64, or per cent to hundredths, with `about` where that rounds.
    #[must_use]
    pub const fn in_notation(self, notation: Notation) -> SlopeInNotation {
        SlopeInNotation {
            slope: self,
            notation,
        }
    }

    /// The slope rounded as far as [`Self::in_notation`] does, to one side.
    #[must_use]
    pub fn rounded(self, notation: Notation, rounding: Rounding) -> Self {
        let (per_one, run) = (i128::from(per_one(notation)), i128::from(self.run));
        let scaled = i128::from(self.rise) * per_one;
        let (Some(down), Some(over)) = (scaled.checked_div_euclid(run), scaled.checked_rem_euclid(run))
        else {
            return self;
        };
        let count = match rounding {
            Rounding::Down => down,
            Rounding::Up => down + i128::from(over != 0),
        };
        reduced(count, per_one).unwrap_or(self)
    }
}

/// Into how many parts of one the slope is printed for people: 1/64 in to the foot, or hundredths of a per cent.
const fn per_one(notation: Notation) -> i64 {
    match notation {
        Notation::Inches => 12 * 64,
        Notation::Millimetres => 100 * 100,
    }
}

fn reduced(rise: i128, run: i128) -> Option<Slope> {
    if run < 0 || (run == 0 && rise <= 0) {
        return None;
    }
    let (mut a, mut b) = (rise.unsigned_abs(), run.unsigned_abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    let divisor = i128::try_from(a).ok()?;
    Some(Slope {
        rise: i64::try_from(rise / divisor).ok()?,
        run: i64::try_from(run / divisor).ok()?,
    })
}

impl Ord for Slope {
    fn cmp(&self, other: &Self) -> Ordering {
        // A vertical slope has run 0: cross multiplication then compares 1 with the other's run or rise.
        match (self.is_vertical(), other.is_vertical()) {
            (true, true) => Ordering::Equal,
            (true, false) => Ordering::Greater,
            (false, true) => Ordering::Less,
            _ => (i128::from(self.rise) * i128::from(other.run))
                .cmp(&(i128::from(other.rise) * i128::from(self.run))),
        }
    }
}

impl PartialOrd for Slope {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl FromStr for Slope {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        let (negative, rest) = complaint.begin()?;
        let slope = read(complaint, &rest, negative)?;
        if negative {
            return Err(complaint.negative());
        }
        Ok(slope)
    }
}

fn read(complaint: Complaint<'_>, text: &str, negative: bool) -> Result<Slope, QuantityError> {
    match text {
        "level" | "vertical" if negative => return Err(complaint.negative()),
        "level" => return Ok(Slope::LEVEL),
        "vertical" => return Ok(Slope::VERTICAL),
        _ => {}
    }
    let (number, unit) = complaint.number(text)?;
    let unit = unit.trim();
    // The sign goes in before the ratio is held, for one end of the range reaches further than the other.
    let make = |rise: Option<i128>, run: Option<i128>| {
        rise.and_then(|rise| if negative { rise.checked_neg() } else { Some(rise) })
            .zip(run)
            .and_then(|(rise, run)| reduced(rise, run))
            .ok_or_else(|| complaint.overflow())
    };
    let per = |over: i128| make(Some(number.numerator), number.denominator.checked_mul(over));
    match unit {
        "" => Err(complaint.missing_unit()),
        "in/ft" | "in per ft" | "in/foot" | "in per foot" => per(12),
        "\"/ft" | "\" per ft" | "\"/foot" | "\" per foot" => per(12),
        "%" => per(100),
        "mm/m" => per(1000),
        "deg" | "degree" | "degrees" | "\u{b0}" => {
            let steep = from_angle(complaint, number)?;
            if negative && steep.is_vertical() {
                return Err(complaint.negative());
            }
            make(Some(i128::from(steep.rise)), Some(i128::from(steep.run)))
        }
        _ => {
            let second = unit.strip_prefix(':').or_else(|| unit.strip_prefix("in "));
            let Some(second) = second else {
                // A fall is told by the run: the two are easily swapped.
                let expected = match unit {
                    "ft/in" | "ft per in" | "foot/in" | "foot per in" | "'/\"" => {
                        "the fall over the run, as in `1/4 in/ft`"
                    }
                    "m/mm" => "the fall over the run, as in `20 mm/m`",
                    _ => complaint.expected,
                };
                return Err(Complaint {
                    expected,
                    ..complaint
                }
                .unknown_unit(unit));
            };
            let (second, after) = complaint.number(second.trim_start())?;
            if !after.trim().is_empty() {
                return Err(complaint.unknown_unit(after.trim()));
            }
            if second.numerator == 0 {
                return Err(complaint.zero());
            }
            make(
                number.numerator.checked_mul(second.denominator),
                number.denominator.checked_mul(second.numerator),
            )
        }
    }
}

/// An angle above the horizontal. 0, 45 and 90 degrees are exact; the tangent of any other is rounded to the
/// nearest billionth.
fn from_angle(complaint: Complaint<'_>, degrees: Ratio) -> Result<Slope, QuantityError> {
    let microdegrees = complaint.held(complaint.units(degrees, 1_000_000)?, false)?;
    match microdegrees {
        0 => Ok(Slope::LEVEL),
        45_000_000 => Ok(Slope { rise: 1, run: 1 }),
        90_000_000 => Ok(Slope::VERTICAL),
        1..90_000_000 => {
            let tangent = (microdegrees as f64 / 1e6).to_radians().tan();
            reduced((tangent * 1e9).round() as i128, 1_000_000_000).ok_or_else(|| complaint.overflow())
        }
        _ => Err(complaint.overflow()),
    }
}

impl fmt::Display for Slope {
    /// Exact: what is printed reads back as the same slope. A negative one prints with a minus.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_vertical() {
            return f.write_str("vertical");
        }
        if self.rise == 0 {
            return f.write_str("level");
        }
        if self.rise < 0 {
            f.write_str("-")?;
        }
        let rise = self.rise.unsigned_abs();
        let run = self.run.unsigned_abs();
        let exact = |per_one: u64| {
            let scaled = u128::from(rise) * u128::from(per_one);
            scaled
                .is_multiple_of(u128::from(run))
                .then(|| scaled / u128::from(run))
        };
        if let Some(count) = exact(12 * 64).and_then(|count| u64::try_from(count).ok()) {
            fraction(f, count, 64)?;
            return f.write_str(" in/ft");
        }
        if let Some(count) = exact(1_000_000).and_then(|count| i64::try_from(count).ok()) {
            decimal(f, count, 10_000)?;
            return f.write_str(" %");
        }
        // A slope that was written as an angle is no ratio of small numbers.
        let angle = self.angle_from_horizontal().microdegrees().unsigned_abs();
        let degrees = format!("{} deg", (angle as f64 / 1e4).round() / 100.0);
        if degrees
            .parse::<Self>()
            .is_ok_and(|slope| (slope.rise.unsigned_abs(), slope.run) == (rise, self.run))
        {
            return f.write_str(&degrees);
        }
        write!(f, "{rise}:{run}")
    }
}

/// A slope as people write it; made by [`Slope::in_notation`].
#[derive(Debug, Clone, Copy)]
pub struct SlopeInNotation {
    slope: Slope,
    notation: Notation,
}

impl fmt::Display for SlopeInNotation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let slope = self.slope;
        if slope.is_vertical() || slope.rise == 0 {
            return slope.fmt(f);
        }
        let scaled = i128::from(slope.rise) * i128::from(per_one(self.notation));
        let Some(count) = divide_to_even(scaled, i128::from(slope.run)) else {
            return slope.fmt(f);
        };
        if scaled % i128::from(slope.run) != 0 {
            f.write_str("about ")?;
        }
        match self.notation {
            Notation::Inches => {
                if count < 0 {
                    f.write_str("-")?;
                }
                fraction(f, count.unsigned_abs(), 64)?;
                f.write_str(" in/ft")
            }
            Notation::Millimetres => {
                decimal(f, count, 100)?;
                f.write_str(" %")
            }
        }
    }
}

crate::text::as_text!(Slope);

#[cfg(test)]
mod tests;
