//! What a check found, as data. How it is laid out is for whoever prints it.

use crownweir_network::Position;
use crownweir_rulebook::{Citation, Layer, Matter, Severity, Subject, Value};
use crownweir_vocabulary::RunKind;

use crate::evaluate::Outcome;
use crate::measure::Element;

/// Of how many elements that break a rule, or leave it open, findings are made. A network in which there are more
/// is told nothing new by the rest, and a hostile one must not fill the memory.
pub const MOST_OF_A_RULE: usize = 1000;

/// Everything that came of checking a network by a rule set.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Report {
    /// The network's own name.
    pub network: String,
    /// The file that the network was read from.
    pub file: String,
    /// The rule set's name.
    pub rules: String,
    /// The document that the rule set re-expresses.
    pub document: String,
    /// That document's edition.
    pub edition: String,
    /// The rule set's revision.
    pub revision: u32,
    /// The amendments laid over it, those that are not in force too.
    pub layers: Vec<Layer>,
    /// What is wrong or not known: violations first, then by place in the file.
    pub findings: Vec<Finding>,
    /// How many more findings there are: a rule that is broken in very many places is listed for the first
    /// [`MOST_OF_A_RULE`] only, and counted in the summary for all.
    pub omitted: usize,
    /// What only a visit can settle.
    pub on_site: Vec<OnSite>,
    /// How many traps each arrangement protects.
    pub protected: Vec<Protected>,
    /// What each rule came to, in the order of the rule set.
    pub summary: Vec<RuleSummary>,
    /// What the code asks, and no rule of the rule set checks.
    pub not_checked: Vec<Matter>,
    /// Whether the rule set counts loads; where it does not, as a code of framing, there is nothing to say of them.
    pub counts_loads: bool,
    /// The load at the point of disposal, or between which ends it lies, where loads are counted and that is known.
    pub load: Option<String>,
    /// How many fixtures there are.
    pub fixtures: usize,
    /// How many pipes there are.
    pub pipes: usize,
    /// Which of stack and building drain no run of the network is marked as, so that their rules had nothing to check;
    /// empty where the rule set has no rules on drains.
    pub unnamed: Vec<RunKind>,
    /// Drains of runs without a kind that lead plumb from one storey to a lower one, [`MOST_OF_A_RULE`] at most: rules on
    /// stacks are not asked of them. Empty where no run is marked as a stack, or the rule set has no rules on drains.
    pub unmarked_stacks: Vec<String>,
    /// Data that findings ask for, of the other elements that do not state them either, [`MOST_OF_A_RULE`] of each datum at
    /// most: of one sum a finding names the first element that is missing, and may name these next.
    pub missing_elsewhere: Vec<Missing>,
    /// Passages through framing of which the rule set asks nothing.
    pub passages_unasked: usize,
    /// The rule set for framing that the network names, or that goes with the rule set.
    pub framing_rules: Option<String>,
}

impl Report {
    /// How many findings there are of a verdict and severity, those in `omitted` too.
    #[must_use]
    pub fn count(&self, verdict: Verdict, severity: Severity) -> usize {
        let of_severity = self.summary.iter().filter(|row| row.severity == severity);
        of_severity
            .map(|row| match verdict {
                Verdict::Violated => row.violated,
                Verdict::Undetermined => row.undetermined,
            })
            .sum()
    }

    /// Whether any rule of the code is violated.
    #[must_use]
    pub fn has_violations(&self) -> bool {
        self.count(Verdict::Violated, Severity::Violation) > 0
    }

    /// Whether any rule, save advice, could not be settled.
    #[must_use]
    pub fn has_undetermined(&self) -> bool {
        let serious = self.summary.iter().filter(|row| row.severity != Severity::Advice);
        serious.map(|row| row.undetermined).sum::<usize>() > 0
    }
}

/// What a finding says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// What the rule asks does not hold.
    Violated,
    /// It cannot be told whether it holds.
    Undetermined,
}

/// What a rule comes to on one element.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Judgement {
    /// It does not apply.
    NotApplicable,
    /// What it asks holds.
    Satisfied,
    /// What it asks does not hold.
    Violated,
    /// It cannot be told.
    Undetermined,
    /// Only a visit can settle it.
    OnSite,
}

impl Judgement {
    /// By whether a rule applies, and whether what it requires holds, if it requires anything.
    pub(crate) fn of(applies: Outcome, require: Option<impl FnOnce() -> Outcome>) -> Self {
        if applies == Outcome::Violated {
            return Self::NotApplicable;
        }
        // Whether it applies may not be known: then it is looked at all the same.
        let Some(require) = require else {
            return Self::OnSite;
        };
        match (applies, require()) {
            // What is satisfied in any case needs no knowledge of whether it applies.
            (_, Outcome::Satisfied) => Self::Satisfied,
            (Outcome::Satisfied, Outcome::Violated) => Self::Violated,
            _ => Self::Undetermined,
        }
    }
}

/// A rule that an element breaks, or that cannot be settled for it.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Finding {
    /// The rule's name.
    pub rule: String,
    /// The rule's title.
    pub title: String,
    /// What was found.
    pub verdict: Verdict,
    /// How serious a breach is.
    pub severity: Severity,
    /// What the rule speaks about.
    pub subject: Subject,
    /// The element.
    pub element: Element,
    /// What the element is, in a word or two.
    pub kind: String,
    /// The element's name in the file.
    pub name: String,
    /// Of a fitting in which water turns, the name of the pipe by which it comes in.
    pub entered_by: Option<String>,
    /// The storey it is on.
    pub storey: Option<String>,
    /// Where the file defines it.
    pub position: Position,
    /// What is the matter.
    pub message: String,
    /// The figure measured.
    pub measured: Option<Figure>,
    /// The limit it was compared with.
    pub limit: Option<Figure>,
    /// How far the figure is from the limit; below zero when beyond it.
    pub headroom: Option<Figure>,
    /// What the network or the rule set must state before it can be told.
    pub missing: Vec<Missing>,
    /// Where the rule comes from.
    pub citation: Citation,
    /// What to do about it.
    pub advice: Option<String>,
    /// What the rule set adds that no network can show.
    pub notes: Vec<String>,
    /// What amendments have changed in the rule.
    pub changes: Vec<String>,
}

/// What must be stated before something can be told. In words, it says of what.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Missing {
    /// The network does not state it.
    OfElement {
        /// What is missing.
        datum: &'static str,
        /// What the element is, in a word or two.
        kind: String,
        /// The element's name in the file.
        name: String,
    },
    /// The rule set does not state it, or it is no figure that can be reckoned with.
    Other(String),
}

impl std::fmt::Display for Missing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::OfElement { datum, kind, name } => write!(f, "`{datum}` of {kind} `{name}`"),
            Self::Other(what) => f.write_str(what),
        }
    }
}

impl Finding {
    /// What must be stated before it can be told, in words.
    #[must_use]
    pub fn needed(&self) -> Vec<String> {
        self.missing.iter().map(ToString::to_string).collect()
    }

    /// The citation, and behind it what amendments have changed in the rule, in one line.
    #[must_use]
    pub fn cited(&self) -> String {
        let changes = self.changes.iter().map(|change| format!("; {change}"));
        std::iter::once(self.citation.to_string())
            .chain(changes)
            .collect()
    }

    /// The number of the element among those of the rule's subject.
    #[must_use]
    pub const fn number(&self) -> u32 {
        match self.element {
            Element::Node(number)
            | Element::Pipe(number)
            | Element::Stack(number)
            | Element::Interval(number)
            | Element::Passage(number)
            | Element::Test(number) => number,
            Element::System => 0,
        }
    }
}

/// In one line: line and column, where a file has the element, what it is and how it is called, what is the matter, and the
/// citation. With the name of the file before it and a colon, an editor finds the place.
impl std::fmt::Display for Finding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self {
            position,
            kind,
            name,
            message,
            citation,
            ..
        } = self;
        if position.is_in_file() {
            write!(f, "{position}: ")?;
        }
        write!(f, "{kind} `{name}`: {message} [{citation}]")
    }
}

impl Finding {
    /// Whether another finding says the same, whatever the number that its element has.
    pub(crate) fn says_the_same(&self, other: &Self) -> bool {
        self == other || {
            let numbered = Self {
                element: other.element,
                ..self.clone()
            };
            self.rule == other.rule && numbered == *other
        }
    }

    /// The order of findings in a report: violations first, the more serious first, then by place in the file, name
    /// and rule. No two are alike in all of that.
    pub(crate) fn cmp_in_report(&self, other: &Self) -> std::cmp::Ordering {
        let rank = |finding: &Self| {
            (
                finding.verdict,
                finding.severity,
                finding.position.line,
                finding.position.column,
            )
        };
        rank(self)
            .cmp(&rank(other))
            .then_with(|| (&self.name, &self.rule).cmp(&(&other.name, &other.rule)))
            .then_with(|| self.entered_by.cmp(&other.entered_by))
    }
}

/// A value and how people write it.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Figure {
    /// The value.
    pub value: Value,
    /// The value in the network's notation.
    pub text: String,
}

/// Something that only a visit can settle.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct OnSite {
    /// The rule's name.
    pub rule: String,
    /// What to look at.
    pub message: String,
    /// How many elements it concerns.
    pub count: usize,
    /// The names of the first of them.
    pub examples: Vec<String>,
    /// Where the rule comes from.
    pub citation: Citation,
}

/// How many traps an arrangement protects.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Protected {
    /// The arrangement's title.
    pub arrangement: String,
    /// How many traps.
    pub traps: usize,
    /// Where the arrangement comes from.
    pub citation: Citation,
}

/// What a rule came to.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct RuleSummary {
    /// The rule's name.
    pub rule: String,
    /// The rule's title.
    pub title: String,
    /// How serious a breach is.
    pub severity: Severity,
    /// Elements that the rule speaks about.
    pub subjects: usize,
    /// Elements that it does not apply to.
    pub not_applicable: usize,
    /// Elements that it holds for.
    pub satisfied: usize,
    /// Elements that break it.
    pub violated: usize,
    /// Elements for which it cannot be told.
    pub undetermined: usize,
    /// Elements to be looked at on site.
    pub on_site: usize,
}
