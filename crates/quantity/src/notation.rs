//! Which units people read.

/// How lengths and slopes are printed for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Notation {
    /// Feet and inches with fractions; fall in inches per foot.
    #[default]
    Inches,
    /// Millimetres and metres; fall in per cent.
    Millimetres,
}

/// To which side a limit is rounded that cannot be printed as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Rounding {
    /// Down: what is at most the figure printed keeps the limit.
    Down,
    /// Up: what is at least the figure printed keeps the limit.
    Up,
}

impl Rounding {
    /// A count as a multiple of a grain; as it is where that cannot be held.
    pub(crate) fn to_grain(self, count: i64, grain: i64) -> i64 {
        let over = count.checked_rem_euclid(grain).unwrap_or(0);
        let rounded = match self {
            _ if over == 0 => Some(count),
            Self::Down => count.checked_sub(over),
            Self::Up => count.checked_add(grain - over),
        };
        rounded.unwrap_or(count)
    }
}
