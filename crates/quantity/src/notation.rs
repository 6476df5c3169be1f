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
