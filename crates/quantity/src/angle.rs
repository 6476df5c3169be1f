//! Angles, as whole millionths of a degree.

use std::fmt;
use std::str::FromStr;

use crate::number::{Complaint, decimal};
use crate::{QuantityError, Rounding};

const DEGREE: i64 = 1_000_000;

/// An angle in whole millionths of a degree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Angle(i64);

impl Angle {
    pub(crate) const EXPECTED: &'static str = "an angle such as `45 deg`";

    /// So many millionths of a degree.
    #[must_use]
    pub const fn from_microdegrees(microdegrees: i64) -> Self {
        Self(microdegrees)
    }

    /// The angle in millionths of a degree.
    #[must_use]
    pub const fn microdegrees(self) -> i64 {
        self.0
    }

    /// The angle rounded to a tenth of a degree, to one side.
    #[must_use]
    pub fn rounded(self, rounding: Rounding) -> Self {
        Self(rounding.to_grain(self.0, DEGREE / 10))
    }
}

impl FromStr for Angle {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        let (negative, rest) = complaint.begin()?;
        let (number, unit) = complaint.number(&rest)?;
        match unit.trim() {
            "deg" | "degree" | "degrees" | "\u{b0}" => {}
            "" => return Err(complaint.missing_unit()),
            unit => return Err(complaint.unknown_unit(unit)),
        }
        if negative {
            return Err(complaint.negative());
        }
        let count = complaint.units(number, i128::from(DEGREE))?;
        complaint.held(count, negative).map(Self)
    }
}

impl fmt::Display for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        decimal(f, self.0, DEGREE)?;
        f.write_str(" deg")
    }
}

crate::text::as_text!(Angle);
