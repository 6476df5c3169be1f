//! The rule file as written. Conditions, operands and rows stay as they are here; `load` reads them.

use std::collections::BTreeMap;
use std::fmt;

use crownweir_quantity::{Angle, Flow, Length, LoadUnit, NominalSize, Viscosity};
use crownweir_vocabulary::{FixtureType, Pattern};
use serde::Deserialize;
use serde::de::{Deserializer, Error, Visitor};
use serde_yaml::Value;

use crate::amend::wire::Order;
use crate::day::Day;
use crate::facts::Subject;
use crate::model::{Basis, Severity};
#[cfg(feature = "schema")]
use crate::schema;
use crate::table::Match;

/// A plumbing code's drainage and venting figures as data, each with its citation.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a rule set: keys with values, such as `revision: 1`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "ruleset", transform = schema::lists_may_be_empty))]
pub(crate) struct RuleSetFile {
    /// What kind of file this is. Checked before the rest is decoded.
    #[serde(rename = "crownweir")]
    #[cfg_attr(feature = "schema", schemars(extend("const" = crate::load::FORMAT)))]
    pub(crate) _format: String,
    /// Name by which networks and commands ask for it.
    pub(crate) name: String,
    /// Title for people.
    pub(crate) title: String,
    /// The document that it re-expresses, as citations name it.
    pub(crate) document: String,
    /// The document's edition, in quotes where it is a number.
    pub(crate) edition: String,
    /// The rule set's own revision, which grows with every change.
    pub(crate) revision: u32,
    /// The day on which it was last compared with its sources, as year-month-day.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$")))]
    pub(crate) checked: Option<String>,
    /// The rule set that goes with it where pipes pass framing, for networks that name none: a published one by name,
    /// or a file beside this one. Left out where none does.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    pub(crate) framing_rules: Option<String>,
    /// Other documents that citations may name.
    #[serde(default)]
    pub(crate) also_cites: Vec<CitedFile>,
    /// What a reader should know before relying on it.
    #[serde(default)]
    pub(crate) notes: Vec<String>,
    /// What the code asks within the same field, and no rule here checks.
    #[serde(default)]
    pub(crate) not_checked: Vec<MatterFile>,
    /// The nominal sizes, the smallest first.
    pub(crate) sizes: Vec<SizeFile>,
    /// What terms mean in this code.
    pub(crate) definitions: DefinitionsFile,
    /// How loads are reckoned.
    pub(crate) loads: LoadsFile,
    /// How water flows in the pipes, where rules ask.
    pub(crate) hydraulics: Option<HydraulicsFile>,
    /// What a pipe takes up where it passes framing, where rules ask.
    pub(crate) framing: Option<FramingFile>,
    /// The tables, each under the name by which rules look it up.
    pub(crate) tables: BTreeMap<String, TableFile>,
    /// What the code asks for a trap that nothing protects; left out where it does not speak of traps.
    pub(crate) protection: Option<ProtectionFile>,
    /// Ways of protecting a trap that the code admits.
    #[serde(default)]
    pub(crate) arrangements: Vec<ArrangementFile>,
    /// The rules.
    pub(crate) rules: Vec<RuleFile>,
}

/// What the code asks, and the rule set does not check.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a matter that is not checked, such as `{matter: sump-vents, title: vents of sumps, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "matter"))]
pub(crate) struct MatterFile {
    /// Its name, which stays the same from revision to revision.
    pub(crate) matter: String,
    /// What is not checked, for people.
    pub(crate) title: String,
    /// Where the code asks it.
    pub(crate) cite: CitationFile,
}

/// A document that citations may name beside the file's own.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a document with its edition, such as `{document: IPC, edition: \"2021\"}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "cited_document")
)]
pub(crate) struct CitedFile {
    /// The document, as citations name it.
    pub(crate) document: String,
    /// Its edition, in quotes where it is a number.
    pub(crate) edition: String,
}

/// Where a value or rule comes from, and how it is known.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a citation, such as `{section: \"1.1\", basis: published}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "citation", transform = schema::section_or_practice))]
pub(crate) struct CitationFile {
    /// The document, where it is another than that of the rule set.
    pub(crate) document: Option<String>,
    /// The edition, where it is another than that of the rule set.
    pub(crate) edition: Option<String>,
    /// Section or table, in quotes where it is a number. Only common practice has none.
    pub(crate) section: Option<String>,
    /// How it is known.
    pub(crate) basis: Basis,
    /// The day on which it was last compared with its source, as year-month-day.
    pub(crate) checked: Option<String>,
    /// What a reader should know: what corroborates it, which sources disagree and why this one was taken.
    pub(crate) note: Option<String>,
    /// The day from which it is in force, where that is not the day of its whole document.
    pub(crate) since: Option<Day>,
    /// What it stands in place of.
    pub(crate) amends: Option<Box<CitationFile>>,
}

/// One nominal size, with the names by which files call it.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a nominal size, such as `{size: 2 in, also: [DN 50], diameter: 2 in}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "size", transform = schema::lists_may_be_empty))]
pub(crate) struct SizeFile {
    /// The name that messages use.
    pub(crate) size: NominalSize,
    /// Other names for the same size.
    #[serde(default)]
    pub(crate) also: Vec<NominalSize>,
    /// The diameter by which rules reckon half sizes and numbers of diameters.
    pub(crate) diameter: Length,
}

/// What terms mean in this code.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "definitions, such as `{trap_arm: {measured_from: trap_weir, cite: {...}}, ...}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "definitions")
)]
pub(crate) struct DefinitionsFile {
    /// Where vertical ends and horizontal begins.
    pub(crate) vertical: VerticalFile,
    /// What a branch interval of a stack is.
    pub(crate) branch_interval: BranchIntervalFile,
    /// What makes a bathroom group.
    pub(crate) bathroom_group: BathroomGroupFile,
    /// From where the length of a trap arm is measured.
    pub(crate) trap_arm: TrapArmStartFile,
    /// Where the developed length of a branch vent ends.
    pub(crate) vent_length: VentLengthEndFile,
    /// When a drain turns its water sharply; only needed where something asks for a fact that tells of sharp turns.
    pub(crate) sharp_turn: Option<SharpTurnFile>,
}

/// Where vertical ends and horizontal begins.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the definition of vertical, such as `{most_from_vertical: 30 deg, cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "definition_of_vertical")
)]
pub(crate) struct VerticalFile {
    /// A pipe that leans further from plumb than this is horizontal.
    pub(crate) most_from_vertical: Angle,
    /// Where that is said.
    pub(crate) cite: CitationFile,
}

/// What a branch interval of a stack is.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the definition of a branch interval, such as `{counted_by: storey, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "definition_of_branch_interval", transform = schema::least_by_distance))]
pub(crate) struct BranchIntervalFile {
    /// How branch intervals are told apart.
    pub(crate) counted_by: CountedBy,
    /// A connection at least this far below the one that opened the interval opens the next; only with
    /// `counted_by: distance`.
    pub(crate) least: Option<Length>,
    /// Where that is said.
    pub(crate) cite: CitationFile,
}

/// How branch intervals are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "counted_by")
)]
pub(crate) enum CountedBy {
    /// By the distance between connections.
    Distance,
    /// Each storey whose fixtures have a connection is one. What brings water of several, or of none that is stated, counts
    /// to the storey that its connection stands on.
    Storey,
}

/// What makes a bathroom group. Each place is a list of the fixtures that can fill it.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the definition of a bathroom group, such as `{needs: [[water_closet], [lavatory]], cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "definition_of_bathroom_group", transform = schema::lists_may_be_empty))]
pub(crate) struct BathroomGroupFile {
    /// Places that must be filled, each by one of the fixtures listed.
    #[cfg_attr(feature = "schema", schemars(inner(length(min = 1))))]
    pub(crate) needs: Vec<Vec<FixtureType>>,
    /// Places that may be filled, each by one of the fixtures listed.
    #[serde(default)]
    pub(crate) may_have: Vec<Vec<FixtureType>>,
    /// Where that is said.
    pub(crate) cite: CitationFile,
}

/// From where the length of a trap arm is measured.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the definition of a trap arm's length, such as `{measured_from: trap_weir, cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "definition_of_trap_arm")
)]
pub(crate) struct TrapArmStartFile {
    /// Where it begins.
    pub(crate) measured_from: TrapArmPoint,
    /// Where that is said.
    pub(crate) cite: CitationFile,
}

/// Where a trap arm begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "trap_arm_point")
)]
pub(crate) enum TrapArmPoint {
    /// At the trap weir.
    TrapWeir,
    /// At the fixture's outlet: the way to the weir counts too.
    FixtureOutlet,
}

/// Where the developed length of a branch vent ends.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the definition of a vent's developed length, such as `{measured_to: open_air, cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "definition_of_vent_length")
)]
pub(crate) struct VentLengthEndFile {
    /// Where it ends.
    pub(crate) measured_to: VentPoint,
    /// Where that is said.
    pub(crate) cite: CitationFile,
}

/// Where a vent ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "vent_point")
)]
pub(crate) enum VentPoint {
    /// Where the branch vent meets a stack vent or vent stack.
    MainVent,
    /// In the open air.
    OpenAir,
}

/// When a drain turns its water sharply.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the definition of a sharp turn, such as `{more_than: 60 deg, cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "definition_of_sharp_turn")
)]
pub(crate) struct SharpTurnFile {
    /// A turn by more than this is sharp.
    pub(crate) more_than: Angle,
    /// Where that is said.
    pub(crate) cite: CitationFile,
}

/// How loads are reckoned.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "how loads are reckoned, such as `{fixture: [{load: ...}]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "loads", transform = schema::lists_may_be_empty))]
pub(crate) struct LoadsFile {
    /// The unit that loads are counted in; without it, fixture units.
    #[serde(default)]
    pub(crate) unit: LoadUnit,
    /// How a probable flow follows from loads: `sum`, where nothing is said, or `root_sum`.
    #[serde(default)]
    pub(crate) model: ModelFile,
    /// With `sum`: a drain's probable flow.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::FlowOperand>"))]
    pub(crate) probable_flow: Option<Value>,
    /// With `root_sum`: what the root of the sum is multiplied by.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::RatioOperand>"))]
    pub(crate) factor: Option<Value>,
    /// With `root_sum`: the flow that a load of 1 stands for.
    pub(crate) unit_flow: Option<Flow>,
    /// Where the model is said.
    pub(crate) cite: Option<CitationFile>,
    /// A fixture's load: the first case whose condition holds.
    pub(crate) fixture: Vec<LoadCaseFile>,
    /// The load of a whole bathroom group, told from the fixture in the group's first place.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::LoadOperand>"))]
    pub(crate) group: Option<Value>,
}

/// How a flow follows from loads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "load_model")
)]
pub(crate) enum ModelFile {
    /// Loads are summed.
    #[default]
    Sum,
    /// The root of the sum of loads is multiplied by a factor.
    RootSum,
}

/// How water flows in the pipes.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "how water flows in the pipes, such as `{formula: manning, bore: ..., roughness: ..., cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "hydraulics")
)]
pub(crate) struct HydraulicsFile {
    /// The formula of flow.
    pub(crate) formula: FormulaFile,
    /// A pipe's true bore.
    #[cfg_attr(feature = "schema", schemars(with = "schema::LengthOperand"))]
    pub(crate) bore: Value,
    /// A ratio with `manning`, a length with `colebrook_white`.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Operand"))]
    pub(crate) roughness: Value,
    /// With `colebrook_white`: the kinematic viscosity of the water.
    pub(crate) viscosity: Option<Viscosity>,
    /// How far a drain may be filled, as depth over bore.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::RatioOperand>"))]
    pub(crate) filling: Option<Value>,
    /// What share of a stack's bore the sheet of water may fill.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::RatioOperand>"))]
    pub(crate) stack_filling: Option<Value>,
    /// What a drain carries when filled is rounded to multiples of this, as where the code prints it.
    pub(crate) capacity_step: Option<Flow>,
    /// The friction factor of air in vents, in the form in which the loss is `f L/D V^2/2g`.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::RatioOperand>"))]
    pub(crate) air_friction: Option<Value>,
    /// Where it is said.
    pub(crate) cite: CitationFile,
}

/// What a pipe takes up where it passes framing.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "what a pipe takes up where it passes framing, such as `{outside_diameter: ..., hole: ..., cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "framing")
)]
pub(crate) struct FramingFile {
    /// A pipe's outside diameter.
    #[cfg_attr(feature = "schema", schemars(with = "schema::LengthOperand"))]
    pub(crate) outside_diameter: Value,
    /// The diameter of the hole that is bored for it.
    #[cfg_attr(feature = "schema", schemars(with = "schema::LengthOperand"))]
    pub(crate) hole: Value,
    /// Where it is said.
    pub(crate) cite: CitationFile,
}

/// A formula of flow in partly full drains.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "flow_formula")
)]
pub(crate) enum FormulaFile {
    /// That of Manning.
    Manning,
    /// That of Colebrook and White.
    ColebrookWhite,
}

/// One case of a fixture's load.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a case of a fixture's load, such as `{when: {fixture.type: lavatory}, load: ...}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "load_case", transform = schema::load_or_flow)
)]
pub(crate) struct LoadCaseFile {
    /// To which fixtures it applies; without it, to all that no case before took.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::Condition>"))]
    pub(crate) when: Value,
    /// The load.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::LoadOperand>"))]
    pub(crate) load: Option<Value>,
    /// In place of a load: a flow that adds to the probable flow in full.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::FlowOperand>"))]
    pub(crate) flow: Option<Value>,
}

/// A table that rules look values up in.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a table, such as `{title: ..., cite: {...}, keys: [...], columns: [...], rows: [...]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "table", transform = schema::across_or_columns))]
pub(crate) struct TableFile {
    /// Title for people.
    pub(crate) title: String,
    /// Where it comes from, unless a row or cell says otherwise.
    pub(crate) cite: CitationFile,
    /// What it is looked up by.
    #[cfg_attr(feature = "schema", schemars(length(max = crate::tables::MOST_KEYS)))]
    pub(crate) keys: Vec<KeyFile>,
    /// A key whose values stand across the table's head; instead of `columns`.
    pub(crate) across: Option<AcrossFile>,
    /// What it gives.
    #[serde(default)]
    pub(crate) columns: Vec<ColumnFile>,
    /// Its rows: a value for each key, then a cell for each column, or for each value across the head.
    #[cfg_attr(feature = "schema", schemars(with = "Vec<schema::Row>"))]
    pub(crate) rows: Vec<Value>,
}

/// What a table is looked up by.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a key of a table, such as `{name: size, of: size, match: exact}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "key"))]
pub(crate) struct KeyFile {
    /// Name by which a look-up gives the value.
    pub(crate) name: String,
    /// What kind of value it is.
    pub(crate) of: DimensionFile,
    /// How a row is found by it.
    #[serde(rename = "match")]
    pub(crate) matching: Match,
    /// The unit of bare numbers in the rows.
    #[cfg_attr(feature = "schema", schemars(extend("examples" = ["dfu", "in"])))]
    pub(crate) unit: Option<String>,
}

/// A key whose values stand across the table's head, above cells that are all of one kind.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the key that runs across a table's head, such as `{name: size, of: size, match: exact, at: [2 in, 3 in], gives: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "across", transform = schema::lists_may_be_empty))]
pub(crate) struct AcrossFile {
    /// Name by which a look-up gives the value.
    pub(crate) name: String,
    /// What kind of value it is.
    pub(crate) of: DimensionFile,
    /// How a column is found by it.
    #[serde(rename = "match")]
    pub(crate) matching: Match,
    /// The values across the table's head.
    #[cfg_attr(feature = "schema", schemars(with = "Vec<schema::Scalar>"))]
    pub(crate) at: Vec<Value>,
    /// What the cells below them hold.
    pub(crate) gives: ColumnFile,
}

/// What a table gives.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a column of a table, such as `{name: length, of: length, unit: ft}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "column"))]
pub(crate) struct ColumnFile {
    /// Name by which a look-up asks for it.
    pub(crate) name: String,
    /// What kind of value it holds.
    pub(crate) of: DimensionFile,
    /// The unit of bare numbers in it.
    pub(crate) unit: Option<String>,
}

/// The name of a dimension, or the name of a fact whose words the column holds.
#[derive(Debug, Clone)]
pub(crate) struct DimensionFile(pub(crate) String);

impl<'de> Deserialize<'de> for DimensionFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(DimensionFile)
    }
}

/// What the code asks for a trap that nothing protects.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the rule for a trap that nothing protects, such as `{rule: trap-protection, title: ..., cite: {...}, message: ...}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "protection")
)]
pub(crate) struct ProtectionFile {
    /// Name by which findings call it.
    pub(crate) rule: String,
    /// Title for people.
    pub(crate) title: String,
    /// Where it comes from.
    pub(crate) cite: CitationFile,
    /// What to say when no vent is reached at all, with facts in braces, such as `{trap.size}`.
    pub(crate) message: String,
    /// What to do about it.
    pub(crate) advice: Option<String>,
}

/// A way of protecting a trap that the code admits.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "an arrangement, such as `{arrangement: individual-vent, title: ..., pattern: individual, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "arrangement", transform = schema::lists_may_be_empty))]
pub(crate) struct ArrangementFile {
    /// Its name.
    pub(crate) arrangement: String,
    /// Title for people.
    pub(crate) title: String,
    /// The shape in the graph.
    pub(crate) pattern: Pattern,
    /// Where it comes from.
    pub(crate) cite: CitationFile,
    /// What else must hold.
    #[serde(default)]
    pub(crate) conditions: Vec<ArrangementConditionFile>,
    /// Whether it protects a trap only with the authority's permission.
    #[serde(default)]
    pub(crate) needs_approval: bool,
}

/// What must hold for an arrangement to protect a trap.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a condition of an arrangement, such as `{require: {...}, cite: {...}, message: ...}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "arrangement_condition")
)]
pub(crate) struct ArrangementConditionFile {
    /// The condition.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Condition"))]
    pub(crate) require: Value,
    /// Where it comes from.
    pub(crate) cite: CitationFile,
    /// What to say when it fails, with facts in braces, such as `{trap.size}`.
    pub(crate) message: String,
    /// What would make it hold.
    pub(crate) advice: Option<String>,
    /// Whether it tells what the arrangement is for. Where it fails, the arrangement is never told as the nearest.
    #[serde(default)]
    pub(crate) defining: bool,
}

/// One rule of the code, or one practice of the trade.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a rule, such as `{rule: trap-arm-length, title: ..., subject: trap, require: {...}, severity: violation, cite: {...}, message: ...}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "rule", transform = schema::asks_one_way))]
pub(crate) struct RuleFile {
    /// Its name, which stays the same from revision to revision.
    pub(crate) rule: String,
    /// Title for people.
    pub(crate) title: String,
    /// What it speaks about, which settles the facts that it can speak of.
    #[cfg_attr(feature = "schema", schemars(with = "Subject"))]
    pub(crate) subject: SubjectFile,
    /// To which subjects it applies; without it, to all.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::Condition>"))]
    pub(crate) when: Value,
    /// What it asks of them.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::Condition>"))]
    pub(crate) require: Option<Value>,
    /// That only a visit can settle it; instead of `require`.
    #[serde(default)]
    pub(crate) confirm_on_site: bool,
    /// How serious a breach is.
    pub(crate) severity: Option<Severity>,
    /// Where it comes from.
    pub(crate) cite: CitationFile,
    /// What to say of a breach, or what to look at on site, with facts in braces, such as `{pipe.size}`,
    /// `{measured}`, `{limit}` or a name under `show`; where a rule asks for both, `{least_or_most}` is which of the two
    /// the limit is. A figure less than nothing with `above` behind it is told as so much below, and
    /// `storey(s)` is `storey` behind a figure of 1 and else `storeys`.
    pub(crate) message: String,
    /// What to do about it, with the same in braces.
    pub(crate) advice: Option<String>,
    /// Figures that the message shows beside the facts, each under its name.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "BTreeMap<String, schema::Operand>"))]
    pub(crate) show: BTreeMap<String, Value>,
    /// Limits that come from elsewhere than the rule.
    #[serde(default)]
    pub(crate) limit_cites: Vec<LimitCiteFile>,
    /// Where it does not apply after all.
    #[serde(default)]
    pub(crate) exceptions: Vec<ExceptionFile>,
    /// Whether the code leaves its limit to the adopting authority.
    #[serde(default)]
    #[expect(dead_code, reason = "asked for by amendments, which see the file as written")]
    pub(crate) left_to_adopter: bool,
    /// What a reader of its findings should know and no network can show.
    #[serde(default)]
    pub(crate) notes: Vec<String>,
}

/// A limit of a rule that comes from elsewhere than the rule.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a limit with a citation of its own, such as `{limit: pipe.size, order: at_least, cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "limit_cite")
)]
pub(crate) struct LimitCiteFile {
    /// The fact whose limit it is.
    pub(crate) limit: String,
    /// How the fact is compared with it.
    pub(crate) order: Order,
    /// Where it comes from.
    pub(crate) cite: CitationFile,
}

/// Where a rule does not apply.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "an exception to a rule, such as `{exception: islands, when: {...}, cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "exception")
)]
pub(crate) struct ExceptionFile {
    /// Its name, unique within the rule.
    pub(crate) exception: String,
    /// When it holds.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Condition"))]
    pub(crate) when: Value,
    /// Where it comes from.
    pub(crate) cite: CitationFile,
}

#[derive(Debug, Clone, Copy)]
pub(crate) struct SubjectFile(pub(crate) Subject);

impl<'de> Deserialize<'de> for SubjectFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct SubjectVisitor;
        impl Visitor<'_> for SubjectVisitor {
            type Value = SubjectFile;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "a subject, one of {}", Subject::NAMES.join(", "))
            }
            fn visit_str<E: Error>(self, name: &str) -> Result<SubjectFile, E> {
                name.parse().map(SubjectFile).map_err(|_| {
                    E::custom(format_args!(
                        "`{name}` is not a subject, expected one of {}",
                        Subject::NAMES.join(", ")
                    ))
                })
            }
        }
        deserializer.deserialize_str(SubjectVisitor)
    }
}
