//! Why a text is not a quantity.

/// Why a text is not the quantity it should be. The text is quoted as written, save that it is cut to its first
/// 40 characters and that control characters are replaced, so that a message stays one line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// Nothing is written.
    #[error("the value is empty, expected {expected}")]
    Empty {
        /// What would have been accepted.
        expected: &'static str,
    },
    /// A number without its unit.
    #[error("`{text}` has no unit, expected {expected}")]
    MissingUnit {
        /// The text.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// A unit that is not known for this quantity.
    #[error("`{text}` has the unknown unit `{unit}`, expected {expected}")]
    UnknownUnit {
        /// The text.
        text: String,
        /// The unit.
        unit: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// Not a number where one should stand.
    #[error("`{text}` does not begin with a number, expected {expected}")]
    NotANumber {
        /// The text.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// Below zero where that makes no sense.
    #[error("`{text}` is negative, expected {expected}")]
    Negative {
        /// The text.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// Too large to be held.
    #[error("`{text}` is too large, expected {expected}")]
    Overflow {
        /// The text.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// Finer than the quantity can hold exactly.
    #[error("`{text}` cannot be held exactly, expected {expected}")]
    OffGrid {
        /// The text.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// Zero where that makes no sense.
    #[error("`{text}` is zero, expected {expected}")]
    Zero {
        /// The text.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// A fraction over zero.
    #[error("`{text}` divides by zero, expected {expected}")]
    DividedByZero {
        /// The text.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// Longer than any quantity needs; it was not read.
    #[error("`{text}` is too long, expected {expected}")]
    TooLong {
        /// The text, cut short.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// Colder than anything can be.
    #[error("`{text}` is below absolute zero, expected {expected}")]
    BelowAbsoluteZero {
        /// The text.
        text: String,
        /// What would have been accepted.
        expected: &'static str,
    },
}

impl QuantityError {
    /// What would have been accepted, with examples.
    #[must_use]
    pub fn expected(&self) -> &'static str {
        match self {
            Self::Empty { expected }
            | Self::MissingUnit { expected, .. }
            | Self::UnknownUnit { expected, .. }
            | Self::NotANumber { expected, .. }
            | Self::Negative { expected, .. }
            | Self::Overflow { expected, .. }
            | Self::OffGrid { expected, .. }
            | Self::Zero { expected, .. }
            | Self::DividedByZero { expected, .. }
            | Self::TooLong { expected, .. }
            | Self::BelowAbsoluteZero { expected, .. } => expected,
        }
    }
}
