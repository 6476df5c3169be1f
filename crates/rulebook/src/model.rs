//! A rule set as loaded: every name resolved, every comparison of one dimension, every value with its citation.

use std::ops::Deref;
use std::sync::Arc;

use crownweir_document::Place;
use crownweir_quantity::{Angle, Flow, Length, Load, LoadUnit, Viscosity};
use crownweir_vocabulary::{FixtureType, Pattern};

use crate::amend::{Amendment, AppliedChange, Layer};
use crate::day::Day;
use crate::facts::{Fact, Subject};
use crate::table::Table;
use crate::value::{Ladder, Value};
use crate::walk;

/// A rule set. All its [parts](RuleSetParts) are read as fields of it, `rules.tables`, and none can be altered: look-ups
/// call tables, and sizes of the ladder, by their places. Who changes the law lays an [amendment](Self::amended) over it.
///
/// ```
/// # let text = crownweir_rulebook::published::text("ipc-2021").unwrap_or_default();
/// # let rules = crownweir_rulebook::RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
/// assert!(rules.tables.iter().any(|table| table.name == "trap-arms"));
/// # Ok::<(), crownweir_rulebook::Diagnostics>(())
/// ```
///
/// ```compile_fail,E0596
/// # fn alter(mut rules: crownweir_rulebook::RuleSet) {
/// rules.tables.clear();
/// # }
/// ```
#[derive(Debug, Clone)]
pub struct RuleSet {
    pub(crate) parts: RuleSetParts,
}

impl Deref for RuleSet {
    type Target = RuleSetParts;

    fn deref(&self) -> &RuleSetParts {
        &self.parts
    }
}

/// What a [`RuleSet`] is made of.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct RuleSetParts {
    /// Name by which networks and commands ask for it.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// The document it re-expresses, as citations name it.
    pub document: String,
    /// The document's edition.
    pub edition: String,
    /// The rule set's own revision, which grows with every change.
    pub revision: u32,
    /// The rule set that goes with it where pipes pass framing, by name or file, where it says so.
    pub framing_rules: Option<String>,
    /// What a reader should know before relying on it.
    pub notes: Vec<String>,
    /// The nominal sizes in order.
    pub ladder: Ladder,
    /// What terms mean in this code.
    pub definitions: Definitions,
    /// How loads are reckoned.
    pub loads: Loads,
    /// How water flows in the pipes, where the rule set says so.
    pub hydraulics: Option<Hydraulics>,
    /// What a pipe takes up where it passes framing, where the rule set says so.
    pub framing: Option<Framing>,
    /// Tables.
    pub tables: Vec<Table>,
    /// Rules.
    pub rules: Vec<Rule>,
    /// What the code asks within the same field, and no rule here checks.
    pub not_checked: Vec<Matter>,
    /// Ways of protecting a trap that the code admits.
    pub arrangements: Vec<Arrangement>,
    /// What the code asks for a trap that nothing protects; none where it does not speak of traps.
    pub protection: Option<Protection>,
    /// The amendments laid over the code, in order, those that are not in force too.
    pub layers: Vec<Layer>,
    /// What they change, in order.
    pub changes: Vec<AppliedChange>,
}

/// How a value or rule is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "basis"))]
#[non_exhaustive]
pub enum Basis {
    /// Read in the document cited or in one that quotes it.
    Published,
    /// What the trade does; no document asks for it.
    CommonPractice,
    /// Written from memory; to be compared with the adopted book before it is relied on.
    Memory,
}

impl Basis {
    /// The basis in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::CommonPractice => "common practice",
            Self::Memory => "from memory, to be checked against the adopted book",
        }
    }
}

/// Where a value or rule comes from.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Citation {
    /// Document.
    pub document: Arc<str>,
    /// Edition.
    pub edition: Arc<str>,
    /// Section or table; none for common practice.
    pub section: Option<Arc<str>>,
    /// How it is known.
    pub basis: Basis,
    /// The day it was last compared with its source, as year-month-day.
    pub checked: Option<Arc<str>>,
    /// Anything a reader should know: what corroborates it, which sources disagree and why this one was taken.
    pub note: Option<Arc<str>>,
    /// The amendment that set it, where one did.
    pub set_by: Option<SetBy>,
    /// The day from which it is in force, where that is not the day of the whole amendment.
    pub since: Option<Day>,
    /// What stood in its place before.
    pub amends: Option<Box<Citation>>,
}

/// An amendment, and where in its file it sets a value or a rule.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct SetBy {
    /// The amendment.
    pub amendment: Arc<Amendment>,
    /// Where it says so.
    pub place: Place,
}

impl std::fmt::Display for Citation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.section {
            Some(section) => {
                let section_sign = if section.starts_with(|first: char| first.is_ascii_digit()) {
                    "section "
                } else {
                    ""
                };
                write!(f, "{} {}, {section_sign}{section}", self.document, self.edition)?;
            }
            None => f.write_str("common practice")?,
        }
        let from = self.set_by.as_ref().and_then(|set_by| set_by.amendment.from);
        if let Some(from) = self.since.or(from) {
            write!(f, ", in force from {from}")?;
        }
        match &self.amends {
            Some(amended) if amended.basis == Basis::Memory => {
                write!(f, ", amending {amended} (from memory)")
            }
            Some(amended) => write!(f, ", amending {amended}"),
            None => Ok(()),
        }
    }
}

/// What terms mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Definitions {
    /// Where vertical ends.
    pub vertical: Vertical,
    /// What a branch interval is.
    pub branch_interval: BranchInterval,
    /// What makes a bathroom group.
    pub bathroom_group: BathroomGroup,
    /// From where a trap arm is measured.
    pub trap_arm: TrapArmStart,
    /// Where the developed length of a branch vent ends.
    pub vent_length: VentLengthEnd,
    /// When a turn is sharp; none where no rule asks.
    pub sharp_turn: Option<SharpTurn>,
}

/// Where vertical ends and horizontal begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Vertical {
    /// A pipe that leans further from plumb than this is horizontal.
    pub most_from_vertical: Angle,
    /// Where that is said.
    pub citation: Citation,
}

/// What a branch interval is.
#[derive(Debug, Clone, PartialEq)]
pub struct BranchInterval {
    /// A connection at least this far below the one that opened the interval opens the next; without a length,
    /// each storey whose fixtures have a connection is one. A connection of fixtures on several storeys, or on none that
    /// is stated, counts to its own.
    pub least: Option<Length>,
    /// Where that is said.
    pub citation: Citation,
}

/// What makes a bathroom group.
#[derive(Debug, Clone, PartialEq)]
pub struct BathroomGroup {
    /// Places that must be filled, each by one of the fixtures listed.
    pub needs: Vec<Vec<FixtureType>>,
    /// Places that may be filled.
    pub may_have: Vec<Vec<FixtureType>>,
    /// Where that is said.
    pub citation: Citation,
}

impl BathroomGroup {
    /// All places, the necessary ones first.
    pub fn places(&self) -> impl Iterator<Item = &Vec<FixtureType>> {
        self.needs.iter().chain(&self.may_have)
    }
}

/// From where a trap arm is measured.
#[derive(Debug, Clone, PartialEq)]
pub struct TrapArmStart {
    /// Whether the way from the fixture's outlet to the weir counts too.
    pub from_outlet: bool,
    /// Where that is said.
    pub citation: Citation,
}

/// Where the developed length of a branch vent ends.
#[derive(Debug, Clone, PartialEq)]
pub struct VentLengthEnd {
    /// Whether it ends where the branch vent meets a stack vent or vent stack, rather than in open air.
    pub at_main_vent: bool,
    /// Where that is said.
    pub citation: Citation,
}

/// When a drain turns its water sharply.
#[derive(Debug, Clone, PartialEq)]
pub struct SharpTurn {
    /// A turn by more than this is sharp.
    pub more_than: Angle,
    /// Where that is said.
    pub citation: Citation,
}

/// How loads are reckoned.
#[derive(Debug, Clone, PartialEq)]
pub struct Loads {
    /// The unit that loads are counted in.
    pub unit: LoadUnit,
    /// How a probable flow follows from them.
    pub model: LoadModel,
    /// Where that is said.
    pub citation: Option<Citation>,
    /// A fixture's load: the first case whose condition holds.
    pub fixture: Vec<LoadCase>,
    /// The load of a whole bathroom group, told from the fixture in the group's first place.
    pub group: Option<Operand>,
}

impl Loads {
    /// Whether a fixture's load is looked up in that column of that table.
    #[must_use]
    pub fn reads(&self, table: usize, column: usize) -> bool {
        let mut found = false;
        for case in &self.fixture {
            walk::operands(&case.load, &mut |operand| {
                let lookup = walk::lookup(operand);
                found |= lookup.is_some_and(|one| (one.table, one.column) == (table, column));
            });
        }
        found
    }
}

/// How a probable peak flow follows from loads.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum LoadModel {
    /// Loads are summed, and the flow is what the rule set reads for the sum, where it says how.
    Sum {
        /// A drain's probable flow.
        probable_flow: Option<Operand>,
    },
    /// `Q = K sqrt(sum DU)`, and never less than the largest single load stands for; of one fixture alone, that.
    RootSum {
        /// `K`, asked of the whole network.
        factor: Operand,
        /// The flow that a load of 1 stands for.
        unit_flow: Flow,
    },
}

/// How water flows in the pipes. Operands are asked of each pipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Hydraulics {
    /// The formula of flow.
    pub formula: FlowFormula,
    /// A pipe's true bore.
    pub bore: Operand,
    /// Its roughness: a ratio for the Manning formula, a length for that of Colebrook and White.
    pub roughness: Operand,
    /// How far a drain may be filled, as depth over bore.
    pub filling: Option<Operand>,
    /// What a drain carries when filled is rounded to multiples of this.
    pub capacity_step: Option<Flow>,
    /// What share of a stack's bore the sheet of water may fill.
    pub stack_filling: Option<Operand>,
    /// The friction factor of air in vents.
    pub air_friction: Option<Operand>,
    /// Where that is said.
    pub citation: Citation,
}

/// What a pipe takes up where it passes framing. Operands are asked of each pipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Framing {
    /// The pipe's outside diameter.
    pub outside_diameter: Operand,
    /// The diameter of the hole that is bored for it.
    pub hole: Operand,
    /// Where that is said.
    pub citation: Citation,
}

impl Framing {
    /// Every operand.
    pub fn operands(&self) -> impl Iterator<Item = &Operand> {
        [&self.outside_diameter, &self.hole].into_iter()
    }

    /// The same, to be altered.
    pub fn operands_mut(&mut self) -> impl Iterator<Item = &mut Operand> {
        [&mut self.outside_diameter, &mut self.hole].into_iter()
    }
}

/// A formula of flow in partly full drains.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum FlowFormula {
    /// The Manning formula.
    Manning,
    /// The formula of Colebrook and White.
    ColebrookWhite {
        /// Kinematic viscosity of the water.
        viscosity: Viscosity,
    },
}

impl Hydraulics {
    /// Every operand.
    pub fn operands(&self) -> impl Iterator<Item = &Operand> {
        let optional = [&self.filling, &self.stack_filling, &self.air_friction];
        [&self.bore, &self.roughness]
            .into_iter()
            .chain(optional.into_iter().flatten())
    }

    /// The same, to be altered.
    pub fn operands_mut(&mut self) -> impl Iterator<Item = &mut Operand> {
        let optional = [&mut self.filling, &mut self.stack_filling, &mut self.air_friction];
        [&mut self.bore, &mut self.roughness]
            .into_iter()
            .chain(optional.into_iter().flatten())
    }
}

impl LoadModel {
    /// The operand of the model, where it has one.
    #[must_use]
    pub const fn operand(&self) -> Option<&Operand> {
        match self {
            Self::Sum { probable_flow } => probable_flow.as_ref(),
            Self::RootSum { factor, .. } => Some(factor),
        }
    }

    /// The same, to be altered.
    pub const fn operand_mut(&mut self) -> Option<&mut Operand> {
        match self {
            Self::Sum { probable_flow } => probable_flow.as_mut(),
            Self::RootSum { factor, .. } => Some(factor),
        }
    }
}

/// One case of a fixture's load.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadCase {
    /// When it applies.
    pub when: Condition,
    /// The load; of a case in full, the flow.
    pub load: Operand,
    /// Whether it is a flow that adds to the probable flow in full, and no load.
    pub in_full: bool,
    /// Where it is written.
    pub place: Place,
}

/// How serious a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "severity")
)]
#[non_exhaustive]
pub enum Severity {
    /// Against the code.
    Violation,
    /// Allowed only with the authority's permission.
    NeedsApproval,
    /// Against what the trade holds good practice; never presented as code.
    Advice,
}

impl std::fmt::Display for Severity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

impl Severity {
    /// The severity in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Violation => "violation",
            Self::NeedsApproval => "needs approval",
            Self::Advice => "advice",
        }
    }
}

/// A rule.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Name, which stays the same from revision to revision.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// What it speaks about.
    pub subject: Subject,
    /// To which subjects it applies.
    pub when: Condition,
    /// What it asks of them; none where only a visit can settle it.
    pub require: Option<Condition>,
    /// How serious a breach is.
    pub severity: Severity,
    /// Where it comes from.
    pub citation: Citation,
    /// What to say of a breach, or what to look at on site.
    pub message: Message,
    /// What to do about it.
    pub advice: Option<Message>,
    /// Figures that the message shows beside the facts.
    pub show: Vec<(String, Operand)>,
    /// Limits that come from elsewhere than the rule.
    pub limit_citations: Vec<LimitCitation>,
    /// Where it does not apply after all; part of `when` already.
    pub exceptions: Vec<Exception>,
    /// What a reader of its findings should know and no network can show.
    pub notes: Vec<String>,
    /// Where it is defined.
    pub place: Place,
}

/// What the code asks, and the rule set does not check.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Matter {
    /// Name, which stays the same from revision to revision.
    pub name: String,
    /// What is not checked, for people.
    pub title: String,
    /// Where the code asks it.
    pub citation: Citation,
    /// Where it is defined.
    pub place: Place,
}

/// A limit of a rule that comes from elsewhere than the rule.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitCitation {
    /// The fact whose limit it is.
    pub fact: Fact,
    /// The word by which files compare the fact with it.
    pub order: &'static str,
    /// Where it comes from.
    pub citation: Citation,
}

impl Rule {
    /// What it applies to before its exceptions take out of it, and for each of them what is left.
    pub(crate) fn when_and_less(&self) -> (&Condition, &[Condition]) {
        match &self.when {
            Condition::All(parts) if !self.exceptions.is_empty() => {
                parts.split_first().unwrap_or((&self.when, &[]))
            }
            when => (when, &[]),
        }
    }

    /// Takes an exception out, as if it had never been; nothing where there is none at that place.
    pub fn drop_exception(&mut self, at: usize) {
        if at >= self.exceptions.len() {
            return;
        }
        self.exceptions.remove(at);
        // What the rule applies to comes first.
        if let Condition::All(parts) = &mut self.when
            && at + 1 < parts.len()
        {
            parts.remove(at + 1);
        }
    }

    /// Where the limit that a test compares with comes from.
    #[must_use]
    pub fn citation_of(&self, test: &FactTest) -> &Citation {
        let order = test.check.order();
        let own = self
            .limit_citations
            .iter()
            .find(|own| own.fact == test.fact && own.order == order);
        own.map_or(&self.citation, |own| &own.citation)
    }
}

impl Check {
    /// The word by which files ask it.
    #[must_use]
    pub fn order(&self) -> &'static str {
        match self {
            Self::Present(_) => "present",
            Self::Among { values, wanted } => match (values.len(), wanted) {
                (1, true) => "is",
                (1, false) => "is_not",
                (_, true) => "one_of",
                (_, false) => "none_of",
            },
            Self::Compare(Comparison::Is, _) => "is",
            Self::Compare(Comparison::AtLeast, _) => "at_least",
            Self::Compare(Comparison::AtMost, _) => "at_most",
            Self::Compare(Comparison::MoreThan, _) => "more_than",
            Self::Compare(Comparison::LessThan, _) => "less_than",
        }
    }
}

/// Where a rule does not apply.
#[derive(Debug, Clone, PartialEq)]
pub struct Exception {
    /// Name, unique within the rule.
    pub name: String,
    /// When it holds.
    pub when: Condition,
    /// Where it comes from.
    pub citation: Citation,
    /// Where it is written.
    pub place: Place,
}

/// Text with places for figures.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Message {
    /// The pieces in order.
    pub pieces: Vec<Piece>,
}

/// A piece of a message.
#[derive(Debug, Clone, PartialEq)]
pub enum Piece {
    /// Text as it stands.
    Text(String),
    /// A fact's value.
    Fact(Fact),
    /// A figure that the rule shows, by its place in the rule's list.
    Shown(usize),
    /// The value that the deciding comparison measured.
    Measured,
    /// The limit that it was compared with.
    Limit,
    /// Whether that limit is the least or the most, of a rule that asks for both.
    LeastOrMost,
}

/// A condition on a subject's facts.
#[derive(Debug, Clone, PartialEq)]
pub enum Condition {
    /// All hold. An empty list holds always.
    All(Vec<Condition>),
    /// At least one holds.
    Any(Vec<Condition>),
    /// It does not hold.
    Not(Box<Condition>),
    /// A comparison.
    Test(FactTest),
}

/// A comparison of a fact.
#[derive(Debug, Clone, PartialEq)]
pub struct FactTest {
    /// The fact.
    pub fact: Fact,
    /// What is asked of it.
    pub check: Check,
}

/// What is asked of a fact.
#[derive(Debug, Clone, PartialEq)]
pub enum Check {
    /// Whether there is such a thing at all.
    Present(bool),
    /// Equal to any of the values, or to none of them.
    Among {
        /// The values.
        values: Vec<Value>,
        /// Whether it should be among them.
        wanted: bool,
    },
    /// In order with a limit.
    Compare(Comparison, Operand),
}

/// An order between a value and a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Comparison {
    /// Equal.
    Is,
    /// Not under it.
    AtLeast,
    /// Not over it.
    AtMost,
    /// Over it.
    MoreThan,
    /// Under it.
    LessThan,
}

impl Comparison {
    /// The comparison in words, to stand between value and limit.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Is => "is",
            Self::AtLeast => "is at least",
            Self::AtMost => "is at most",
            Self::MoreThan => "is more than",
            Self::LessThan => "is less than",
        }
    }

    /// Whether a value keeps a limit by this comparison; values of different dimensions do not.
    #[must_use]
    pub fn holds(self, value: Value, limit: Value) -> bool {
        value.compare(limit).is_some_and(|order| match self {
            Self::Is => order.is_eq(),
            Self::AtLeast => order.is_ge(),
            Self::AtMost => order.is_le(),
            Self::MoreThan => order.is_gt(),
            Self::LessThan => order.is_lt(),
        })
    }
}

/// A value, or how to come by it.
#[derive(Debug, Clone, PartialEq)]
pub enum Operand {
    /// A value.
    Literal(Value),
    /// Another fact of the subject.
    Fact(Fact),
    /// A table's cell.
    Lookup(Lookup),
    /// The smallest size for which a table's cell is not under a value.
    SmallestSize {
        /// The look-up; its key at `size_key` is the size sought.
        lookup: Lookup,
        /// Which key that is.
        size_key: usize,
        /// What the cell must hold.
        holds: Box<Operand>,
    },
    /// A multiple.
    Times {
        /// Numerator.
        numerator: i64,
        /// Denominator.
        denominator: i64,
        /// Of what.
        of: Box<Operand>,
    },
    /// The sum of all.
    Sum(Vec<Operand>),
    /// The largest of all.
    LargerOf(Vec<Operand>),
    /// The smallest of all.
    SmallerOf(Vec<Operand>),
    /// A size's diameter.
    Diameter(Box<Operand>),
    /// The smallest size of at least a diameter.
    SizeFor(Box<Operand>),
    /// A size some steps further up the ladder.
    SizesUp(u16, Box<Operand>),
    /// A flow as a load, at a rate of so much load for so much flow.
    FlowAsLoad {
        /// The flow.
        flow: Box<Operand>,
        /// So much flow.
        per: Flow,
        /// Counts as so much load.
        load: Load,
    },
}

/// A look-up in a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Lookup {
    /// Index of the table in the rule set.
    pub table: usize,
    /// Index of the column.
    pub column: usize,
    /// A value for each key.
    pub keys: Vec<Operand>,
}

/// A way of protecting a trap that the code admits.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrangement {
    /// Name.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// The shape in the graph.
    pub pattern: Pattern,
    /// What else must hold.
    pub conditions: Vec<ArrangementCondition>,
    /// Whether it protects a trap only with the authority's permission.
    pub needs_approval: bool,
    /// Where it comes from.
    pub citation: Citation,
    /// Where it is defined.
    pub place: Place,
}

/// What must hold for an arrangement to protect a trap.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrangementCondition {
    /// The condition.
    pub require: Condition,
    /// Where it comes from.
    pub citation: Citation,
    /// What to say when it fails.
    pub message: Message,
    /// What would make it hold.
    pub advice: Option<Message>,
    /// Whether it tells what the arrangement is for. Where it fails, the arrangement is no near miss: another comes
    /// nearest, or none.
    pub defining: bool,
    /// Where it is written.
    pub place: Place,
}

/// What the code asks for a trap that nothing protects.
#[derive(Debug, Clone, PartialEq)]
pub struct Protection {
    /// Name by which findings call it.
    pub rule: String,
    /// Title for people.
    pub title: String,
    /// Where it comes from.
    pub citation: Citation,
    /// What to say when no vent is reached at all.
    pub message: Message,
    /// What to do about it.
    pub advice: Option<Message>,
    /// Where it is defined.
    pub place: Place,
}

impl RuleSet {
    /// The parts, to be altered in a copy for a trial, as the proof of worked examples does. Nothing is checked of what is
    /// altered: a size that is on no ladder, or a look-up in a table that has moved, reads as absent or as another.
    pub fn unchecked(&mut self) -> &mut RuleSetParts {
        &mut self.parts
    }

    /// Its name and revision, with the names of the amendments laid over it.
    #[must_use]
    pub fn called(&self) -> String {
        let layers = self
            .layers
            .iter()
            .map(|layer| format!(" + {}", layer.amendment.name));
        format!(
            "{} revision {}{}",
            self.name,
            self.revision,
            layers.collect::<String>()
        )
    }

    /// Whether it says what load a fixture has; a code of framing does not, and nothing is to be said of loads by it.
    #[must_use]
    pub fn counts_loads(&self) -> bool {
        !self.loads.fixture.is_empty() || self.loads.group.is_some()
    }

    /// Whether it has rules for where pipes pass framing.
    #[must_use]
    pub fn speaks_of_framing(&self) -> bool {
        self.rules.iter().any(|rule| rule.subject == Subject::Passage)
    }

    /// The rule of that name.
    #[must_use]
    pub fn rule(&self, name: &str) -> Option<&Rule> {
        self.rules.iter().find(|rule| rule.name == name)
    }

    /// A table by its index in a [`Lookup`].
    #[must_use]
    pub fn table(&self, index: usize) -> Option<&Table> {
        self.tables.get(index)
    }
}
