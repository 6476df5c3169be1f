//! The example file as written. Values stay text: placeholders are filled in before they are read.
//!
//! Wherever a value stands, `$NAME` (capitals, digits and underscores) may stand for what the case puts there.

use std::collections::BTreeMap;
use std::fmt;

use crownweir_rulebook::Basis;
use serde::Deserialize;

#[cfg(feature = "schema")]
use crate::schema;

/// Worked examples of a rule set: small networks with the answers that a source gives for them.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a file of worked examples: keys with values, such as `answer: reckoned`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "example", transform = schema::lists_may_be_empty))]
pub struct ExampleFile {
    /// The format and its version: `example/1`.
    #[serde(rename = "crownweir")]
    #[cfg_attr(feature = "schema", schemars(extend("const" = crate::example::FORMAT)))]
    pub _format: String,
    /// What the examples are about, in a line.
    pub example: String,
    /// Where the answers come from: document, edition and section, or what kind of publication and where in it.
    pub source: String,
    /// What kind of answer it is.
    pub answer: Answer,
    /// How the answer is known: `published` (read in the source named), `memory` (written from memory, to be
    /// compared with the adopted book) or `common_practice`. Published, where nothing is said.
    #[serde(default = "published")]
    pub basis: Basis,
    /// How far the source can be relied on; needed where the answer is independent.
    pub confidence: Option<Confidence>,
    /// What a reader should know: doubts, what was left out, what corroborates it. Needed where the confidence is
    /// low: the note then says that the answer has been reckoned again and agrees.
    pub note: Option<String>,
    /// The network of the cases, as in a network file, with placeholders such as `$SIZE` where they differ.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::Drawn>"))]
    pub network: Option<serde_yaml::Value>,
    /// Further networks, for cases to name.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "BTreeMap<String, schema::Drawn>"))]
    pub networks: BTreeMap<String, serde_yaml::Value>,
    /// The cases.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    pub cases: Vec<CaseFile>,
}

fn published() -> Basis {
    Basis::Published
}

/// What kind of answer an example gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "answer"))]
pub enum Answer {
    /// An answer or verdict published by a source other than the table or section itself.
    Independent,
    /// Worked by hand from the section cited.
    Reckoned,
    /// The figure as it stands in the table, or in a source that quotes the table.
    Table,
}

impl Answer {
    /// The kind in a word.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Independent => "independent",
            Self::Reckoned => "reckoned",
            Self::Table => "table",
        }
    }
}

/// How far a source can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "confidence")
)]
pub enum Confidence {
    /// The whole question and answer stand in a standard, a ruling or an authority's own page.
    High,
    /// A textbook, a course, an examination or a trade manual.
    Medium,
    /// A forum, a quiz, or a page of which only a part was seen.
    Low,
}

/// One case: what is put into the network, and what is expected of it.
#[derive(Debug, Default, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a case, such as `{put: {LENGTH: 5 ft}, held: [{rule: trap-arm-length, on: LAV}]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "case", transform = schema::lists_may_be_empty))]
pub struct CaseFile {
    /// What the case is about, where the values put do not tell.
    pub case: Option<String>,
    /// The source of this case's answer, where it is another than the file's.
    pub source: Option<String>,
    /// The kind of this case's answer, where it is another than the file's.
    pub answer: Option<Answer>,
    /// How this case's answer is known, where otherwise than the file's.
    pub basis: Option<Basis>,
    /// How far this case's source can be relied on.
    pub confidence: Option<Confidence>,
    /// A note on this case.
    pub note: Option<String>,
    /// A network of the case's own in place of the file's, or the name of one of the `networks`.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::DrawnOrNamed>"))]
    pub network: Option<serde_yaml::Value>,
    /// What stands for each placeholder: `SIZE: 3 in` stands for `$SIZE`. It is put as it is written and may be
    /// any piece of YAML.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(extend("propertyNames" = {"pattern": "^[A-Z][A-Z0-9_]*$"})))]
    pub put: BTreeMap<String, Scalar>,
    /// Many cases in one: each row puts its own values.
    pub grid: Option<GridFile>,
    /// The load of each pipe named.
    #[serde(default)]
    pub loads: BTreeMap<String, Scalar>,
    /// Facts as they should be measured.
    #[serde(default)]
    pub facts: Vec<FactFile>,
    /// The smallest size at which a rule holds.
    #[serde(default)]
    pub sizes: Vec<SizeFile>,
    /// Rules that hold.
    #[serde(default)]
    pub held: Vec<ElementFile>,
    /// Rules that are broken.
    #[serde(default)]
    pub violated: Vec<ElementFile>,
    /// Rules of which it cannot be told.
    #[serde(default)]
    pub undetermined: Vec<ElementFile>,
    /// Rules that do not apply.
    #[serde(default)]
    pub not_applicable: Vec<ElementFile>,
    /// Rules that leave it to a visit.
    #[serde(default)]
    pub on_site: Vec<ElementFile>,
    /// The limits that rules read, whether or not they hold.
    #[serde(default)]
    pub limits: Vec<LimitFile>,
    /// How traps are protected.
    #[serde(default)]
    pub traps: Vec<TrapFile>,
    /// Findings of the whole network: exactly these and no others.
    pub findings: Option<FindingsFile>,
}

/// A table of values to put: one case for each row.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a grid of values to put, such as `{put: [SIZE, LENGTH], rows: [[2 in, 8 ft], [3 in, 12 ft]]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "grid", transform = schema::lists_may_be_empty))]
pub struct GridFile {
    /// The placeholders' names.
    pub put: Vec<String>,
    /// What stands for them, row by row.
    pub rows: Vec<Vec<Scalar>>,
}

/// A fact as it should be measured.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a fact with its value, such as `{of: P1, fact: drain.load, is: 4 dfu}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "expected_fact")
)]
pub struct FactFile {
    /// The element's name in the network; left out for the whole network.
    pub of: Option<Scalar>,
    /// The fact's name, such as `drain.load`.
    #[cfg_attr(feature = "schema", schemars(with = "schema::FactName"))]
    pub fact: String,
    /// Its value with its unit; `absent` where there is no such thing, `unknown` where it cannot be told.
    pub is: Scalar,
    /// How far it may be off either way.
    pub within: Option<Scalar>,
    /// Why it may be off; needed with `within`.
    pub because: Option<String>,
}

/// The smallest size at which a rule holds: at every smaller one of the rule set it must not.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the smallest size at which a rule holds, such as `{put: SIZE, rule: drain-size, is: 3 in}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "expected_size")
)]
pub struct SizeFile {
    /// The placeholder for which the sizes are put, without its `$`.
    pub put: String,
    /// The rule's name.
    pub rule: String,
    /// The element's name; left out for the whole network.
    pub on: Option<Scalar>,
    /// The size.
    pub is: Scalar,
}

/// A rule on an element.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a rule and the element it is about, such as `{rule: trap-arm-length, on: LAV}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "rule_on_elements")
)]
pub struct ElementFile {
    /// The rule's name.
    pub rule: String,
    /// The names of the elements; left out for every element that the rule speaks about.
    pub on: Option<Names>,
    /// The limit that is read: a value with its unit, `none` (not permitted), `unlimited` or `unfilled`.
    pub limit: Option<Scalar>,
}

/// The limit that a rule reads for an element.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a limit that a rule reads, such as `{rule: trap-arm-length, on: LAV, is: 5 ft}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "expected_limit")
)]
pub struct LimitFile {
    /// The rule's name.
    pub rule: String,
    /// The element's name; left out for every element that the rule speaks about.
    pub on: Option<Scalar>,
    /// The table's column that the limit stands in, where the rule reads several.
    pub column: Option<String>,
    /// The limit: a value with its unit, `none` (not permitted), `unlimited` or `unfilled`.
    pub is: Scalar,
}

/// How a trap is protected.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "how a trap is protected, such as `{of: LAV, by: individual-vent}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "protected_trap")
)]
pub struct TrapFile {
    /// The fixture's name.
    pub of: Scalar,
    /// The name of the arrangement that protects it; `none` where none does, `unknown` where it cannot be told.
    pub by: String,
    /// With `by: none`, the arrangement that comes nearest.
    pub nearest: Option<String>,
    /// With `nearest`, a limit that one of its failed conditions reads.
    pub limit: Option<Scalar>,
}

/// Findings of the whole network. A list that is given is complete: nothing else is found with that verdict.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the findings, by verdict, such as `{violated: [{rule: trap-arm-length, on: LAV}]}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "findings")
)]
pub struct FindingsFile {
    /// Every breach: of each rule on each element.
    pub violated: Option<Vec<FindingFile>>,
    /// Everything that cannot be told.
    pub undetermined: Option<Vec<FindingFile>>,
}

/// A finding.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a finding, such as `{rule: trap-arm-length, on: LAV}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "finding")
)]
pub struct FindingFile {
    /// The rule's name.
    pub rule: String,
    /// The element's name; the network's own name for the whole network.
    pub on: Scalar,
}

/// One name or several.
#[derive(Debug, Deserialize)]
#[serde(
    untagged,
    expecting = "this does not belong here, expected a name, or a list such as `[one, two]`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "names"))]
pub enum Names {
    /// One.
    One(Scalar),
    /// Several.
    Several(Vec<Scalar>),
}

/// A value of whatever kind, as written.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged, expecting = "this does not belong here, expected a single value")]
pub enum Scalar {
    /// Yes or no.
    Truth(bool),
    /// A whole number.
    Whole(i64),
    /// A decimal number.
    Decimal(f64),
    /// Text.
    Text(String),
}

impl fmt::Display for Scalar {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Truth(truth) => truth.fmt(f),
            Self::Whole(whole) => whole.fmt(f),
            Self::Decimal(decimal) => decimal.fmt(f),
            Self::Text(text) => f.write_str(text),
        }
    }
}
