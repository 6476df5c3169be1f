//! What the examples pin, counted table by table and rule by rule.
//!
//! Nothing is run here.

use crate::wire::Answer;

/// How well the examples hold a part of the rule set in place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum State {
    /// Every alteration is noticed; by examples of that kind of answer, or of a better one, alone.
    Pinned(Answer),
    /// Some alterations are noticed.
    HalfPinned,
    /// It is read, and no alteration is noticed.
    Loose,
    /// No example reads it.
    Bare,
}

impl State {
    /// The state in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pinned(_) => "pinned",
            Self::HalfPinned => "half-pinned",
            Self::Loose => "loose",
            Self::Bare => "bare",
        }
    }
}

/// Parts counted by their state.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Tally {
    /// All parts.
    pub all: usize,
    /// Those pinned by independent answers.
    pub independent: usize,
    /// Those pinned with the help of answers reckoned by hand.
    pub reckoned: usize,
    /// Those pinned only with the help of figures read in the table itself.
    pub table: usize,
    /// Those half-pinned.
    pub half: usize,
    /// Those read, and not noticed.
    pub loose: usize,
    /// Those not read.
    pub bare: usize,
}

impl Tally {
    pub(crate) fn count(&mut self, state: State) {
        self.all += 1;
        *match state {
            State::Pinned(Answer::Independent) => &mut self.independent,
            State::Pinned(Answer::Reckoned) => &mut self.reckoned,
            State::Pinned(Answer::Table) => &mut self.table,
            State::HalfPinned => &mut self.half,
            State::Loose => &mut self.loose,
            State::Bare => &mut self.bare,
        } += 1;
    }

    fn add(&mut self, other: &Self) {
        self.all += other.all;
        self.independent += other.independent;
        self.reckoned += other.reckoned;
        self.table += other.table;
        self.half += other.half;
        self.loose += other.loose;
        self.bare += other.bare;
    }

    /// Those pinned, whatever the kind of answer.
    #[must_use]
    pub const fn pinned(&self) -> usize {
        self.independent + self.reckoned + self.table
    }

    /// Those that some example reads.
    #[must_use]
    pub const fn exercised(&self) -> usize {
        self.all - self.bare
    }

    /// The share that is pinned, in tenths of a per cent, rounded down.
    #[must_use]
    pub const fn per_mille(&self) -> usize {
        match self.all {
            0 => 1000,
            all => self.pinned() * 1000 / all,
        }
    }
}

/// A part that is not pinned, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Unpinned {
    /// The part.
    pub name: String,
    /// Its state.
    pub state: State,
}

/// What is pinned of a table, of a rule, or of another group of parts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Held {
    /// The table's, rule's or group's name.
    pub name: String,
    /// Cells; of a rule, the rule itself; of another group, its parts.
    pub parts: Tally,
    /// Bounds among a table's keys, or figures within a rule.
    pub bounds: Tally,
    /// What is not pinned.
    pub unpinned: Vec<Unpinned>,
}

/// What the examples pin of a rule set.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct PinReport {
    /// The rule set.
    pub rules: String,
    /// How many cases there are.
    pub cases: usize,
    /// How many alterations were tried.
    pub nudges: usize,
    /// Table by table.
    pub tables: Vec<Held>,
    /// Rule by rule.
    pub each_rule: Vec<Held>,
    /// Arrangements, loads and definitions.
    pub others: Vec<Held>,
}

impl PinReport {
    /// All cells of all tables.
    #[must_use]
    pub fn cells(&self) -> Tally {
        sum(&self.tables, |held| &held.parts)
    }

    /// All bounds among tables' keys.
    #[must_use]
    pub fn key_bounds(&self) -> Tally {
        sum(&self.tables, |held| &held.bounds)
    }

    /// All rules, each dropped.
    #[must_use]
    pub fn rules_dropped(&self) -> Tally {
        sum(&self.each_rule, |held| &held.parts)
    }

    /// All figures within rules.
    #[must_use]
    pub fn rule_figures(&self) -> Tally {
        sum(&self.each_rule, |held| &held.bounds)
    }
}

fn sum(list: &[Held], of: impl Fn(&Held) -> &Tally) -> Tally {
    let mut sum = Tally::default();
    list.iter().for_each(|held| sum.add(of(held)));
    sum
}
