//! Nominal sizes: names, not lengths.

use std::fmt;
use std::str::FromStr;

use crate::QuantityError;
use crate::number::{Complaint, fraction};

/// By which system a nominal size is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SizeSystem {
    /// Inches; the number counts 64ths.
    Inch,
    /// DN numbers.
    Dn,
    /// Millimetres of outside diameter, as some plastics are sold.
    Millimetre,
}

/// A nominal size by name. It has no order and no length of its own: a rule set's ladder of sizes says which
/// names mean the same and which is larger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct NominalSize {
    system: SizeSystem,
    number: u32,
}

impl NominalSize {
    pub(crate) const EXPECTED: &'static str = "a nominal size such as `1-1/2 in` or `DN 50`";

    /// The system of the name.
    #[must_use]
    pub const fn system(self) -> SizeSystem {
        self.system
    }

    /// The number in the name: 64ths of an inch, a DN number, or millimetres.
    #[must_use]
    pub const fn number(self) -> u32 {
        self.number
    }
}

impl FromStr for NominalSize {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let complaint = Complaint {
            text,
            expected: Self::EXPECTED,
        };
        let (negative, rest) = complaint.begin()?;
        let (dn, digits) = match rest.get(..2) {
            Some("DN" | "dn" | "Dn") => (true, rest[2..].trim_start()),
            _ => (false, rest.as_str()),
        };
        let (number, unit) = complaint.number(digits)?;
        let (system, parts) = match (dn, unit.trim()) {
            (true, "") => (SizeSystem::Dn, 1),
            (false, "in" | "inch" | "inches" | "\"") => (SizeSystem::Inch, 64),
            (false, "mm") => (SizeSystem::Millimetre, 1),
            (false, "") => return Err(complaint.missing_unit()),
            (_, unit) => return Err(complaint.unknown_unit(unit)),
        };
        if negative {
            return Err(complaint.negative());
        }
        match u32::try_from(complaint.units(number, parts)?) {
            Ok(0) => Err(complaint.zero()),
            Ok(number) => Ok(Self { system, number }),
            Err(_) => Err(complaint.overflow()),
        }
    }
}

impl fmt::Display for NominalSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.system {
            SizeSystem::Inch => {
                fraction(f, u64::from(self.number), 64)?;
                f.write_str(" in")
            }
            SizeSystem::Dn => write!(f, "DN {}", self.number),
            SizeSystem::Millimetre => write!(f, "{} mm", self.number),
        }
    }
}

crate::text::as_text!(NominalSize);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_and_printed() {
        for (text, printed) in [
            ("1-1/2 in", "1-1/2 in"),
            ("1.5 in", "1-1/2 in"),
            ("1-1/2\"", "1-1/2 in"),
            ("2 in", "2 in"),
            ("DN 50", "DN 50"),
            ("DN50", "DN 50"),
            ("110 mm", "110 mm"),
        ] {
            assert_eq!(
                text.parse::<NominalSize>()
                    .map(|size| size.to_string())
                    .as_deref(),
                Ok(printed)
            );
        }
        // A name is not a length: 38 mm and 1-1/2 in may be the same pipe, but not by themselves.
        assert_ne!("38 mm".parse::<NominalSize>(), "1-1/2 in".parse::<NominalSize>());
        for text in [
            "2",
            "0 in",
            "-2 in",
            "DN",
            "DN x",
            "2 ft",
            "1/3 in",
            "\u{e9}\u{e9}",
        ] {
            assert!(text.parse::<NominalSize>().is_err(), "{text}");
        }
    }
}
