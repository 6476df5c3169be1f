//! Lengths summed along pipes.

use crownweir_quantity::Length;

/// A length summed along pipes, or a pipe whose length is not stated. Eight bytes, for there are several to each
/// node: whole nanometres, or far below them the number of the pipe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Distance(i64);

/// Numbers from here up are lengths; those below stand for pipes, counted from the least of all.
const LEAST_LENGTH: i64 = i64::MIN / 2;

impl Distance {
    pub(crate) const ZERO: Self = Self(0);

    pub(crate) fn of(length: Option<Length>, pipe: u32) -> Self {
        match length {
            Some(length) => Self::known(length.nanometres()),
            None => Self(i64::MIN + i64::from(pipe)),
        }
    }

    /// Lengths that would overflow stay at the largest that can be held: longer than any limit.
    pub(crate) fn known(nanometres: i64) -> Self {
        Self(nanometres.max(LEAST_LENGTH))
    }

    pub(crate) fn nanometres(self) -> i64 {
        if self.is_known() { self.0 } else { 0 }
    }

    /// The pipe whose length is missing.
    pub(crate) fn gap(self) -> Option<u32> {
        if self.is_known() {
            None
        } else {
            u32::try_from(self.0 - i64::MIN).ok()
        }
    }

    /// The sum; where both have a gap, the first one's.
    pub(crate) fn plus(self, other: Self) -> Self {
        match (self.is_known(), other.is_known()) {
            (true, true) => Self::known(self.0.saturating_add(other.0)),
            (true, false) => other,
            _ => self,
        }
    }

    pub(crate) fn is_known(self) -> bool {
        self.0 >= LEAST_LENGTH
    }

    /// The longer of two; what is not known wins, since it may be longer still.
    pub(crate) fn longer(self, other: Self) -> Self {
        match (self.is_known(), other.is_known()) {
            (false, _) => self,
            (_, false) => other,
            _ => Self(self.0.max(other.0)),
        }
    }

    /// Orders distances, those that are not known last.
    pub(crate) fn rank(self) -> (bool, i64) {
        (!self.is_known(), self.0)
    }

    /// The distance of a rank.
    pub(crate) fn ranked((_, own): (bool, i64)) -> Self {
        Self(own)
    }

    /// The shorter of two; what is not known wins, since it may be shorter still.
    pub(crate) fn shorter(self, other: Self) -> Self {
        match (self.is_known(), other.is_known()) {
            (false, _) => self,
            (_, false) => other,
            _ => Self(self.0.min(other.0)),
        }
    }
}

/// A distance or none, in as many bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Reach(i64);

impl Reach {
    pub(crate) const NONE: Self = Self(i64::MAX);

    pub(crate) fn to(distance: Option<Distance>) -> Self {
        distance.map_or(Self::NONE, |distance| Self(distance.0.min(i64::MAX - 1)))
    }

    pub(crate) fn get(self) -> Option<Distance> {
        (self != Self::NONE).then_some(Distance(self.0))
    }
}
