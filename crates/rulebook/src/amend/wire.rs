//! The amendment file as written. Values and conditions stay as they are here; they are read as part of the base.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_yaml::Value;

use super::{Origin, Precedence, Status};
use crate::day::Day;
#[cfg(feature = "schema")]
use crate::schema;
use crate::wire::{ArrangementFile, CitationFile, CitedFile, MatterFile, RuleFile, TableFile};

/// What a local law changes in a plumbing code.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "an amendment: keys with values, such as `status: in_force`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "amendment", transform = schema::lists_may_be_empty))]
pub(crate) struct AmendmentFile {
    /// What kind of file this is. Checked before the rest is decoded.
    #[serde(rename = "crownweir")]
    #[cfg_attr(feature = "schema", schemars(extend("const" = super::FORMAT)))]
    pub(crate) _format: String,
    /// The name by which commands and networks ask for it.
    pub(crate) name: String,
    /// A title for people.
    pub(crate) title: String,
    /// Where it is law, from the widest to the narrowest: state, county, town.
    pub(crate) jurisdiction: Vec<String>,
    /// The ordinance, code or rule that makes the changes, as citations name it.
    pub(crate) document: String,
    /// Its edition, year or date.
    pub(crate) edition: String,
    /// The rule set that it changes.
    pub(crate) base: BaseFile,
    /// Whether it is law.
    pub(crate) status: Status,
    /// The day from which it is in force; without one, it counts as in force at all times.
    pub(crate) from: Option<Day>,
    /// The first day on which it no longer is.
    pub(crate) until: Option<Day>,
    /// Which text stands where another amendment changes the same thing.
    pub(crate) precedence: Option<Precedence>,
    /// Who adopted it.
    pub(crate) authority: Option<String>,
    /// Where its text was read.
    pub(crate) source: Option<SourceFile>,
    /// Whether it is real law or made up for a demonstration.
    pub(crate) origin: Origin,
    /// The day on which it was last compared with its source.
    pub(crate) checked: Option<Day>,
    /// Other documents that citations may name.
    #[serde(default)]
    pub(crate) also_cites: Vec<CitedFile>,
    /// What a reader should know before relying on it.
    #[serde(default)]
    pub(crate) notes: Vec<String>,
    /// Where changes come from that do not say it themselves.
    #[expect(dead_code, reason = "taken from the tree, where it has its place")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::ChangeCitation>"))]
    pub(crate) cite: Option<CitationFile>,
    /// The changes, in order.
    #[cfg_attr(feature = "schema", schemars(length(max = super::MOST_CHANGES)))]
    pub(crate) changes: Vec<ChangeFile>,
}

/// The rule set that an amendment changes.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the base of an amendment, such as `{rules: ipc-2021, document: IPC, edition: \"2021\", from_revision: 1}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "base"))]
pub(crate) struct BaseFile {
    /// The rule set's name.
    pub(crate) rules: String,
    /// The document that it re-expresses.
    pub(crate) document: String,
    /// That document's edition: section numbers mean nothing without it.
    pub(crate) edition: String,
    /// The first revision of the rule set that the changes were written for.
    pub(crate) from_revision: u32,
    /// The last one; none where later ones are trusted to be alike.
    pub(crate) to_revision: Option<u32>,
}

/// Where a text was read.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "where a text was read, such as `{read_in: the town's own page, on: 2026-11-25}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "source"))]
pub(crate) struct SourceFile {
    /// What was read, or its address.
    pub(crate) read_in: String,
    /// The day on which it was.
    pub(crate) on: Option<Day>,
}

/// One change: exactly one of the verbs, with what it needs.
#[derive(Debug, Default, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a change, such as `{set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 3 ft, to: 2 ft}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "change", transform = schema::one_verb))]
pub(crate) struct ChangeFile {
    /// Puts a value where the code leaves a blank to the adopter.
    pub(crate) fill: Option<FillFile>,
    /// Puts a value in place of another.
    pub(crate) set: Option<SetFile>,
    /// Keeps every value from being less.
    pub(crate) floor: Option<BoundFile>,
    /// Keeps every value from being more.
    pub(crate) cap: Option<BoundFile>,
    /// Puts a whole rule, table or arrangement in place of another.
    pub(crate) replace: Option<ReplaceFile>,
    /// Adds a rule, an arrangement, a table, a row of one, a definition, or a matter that is not checked.
    pub(crate) add: Option<AddFile>,
    /// Takes out a rule, a condition, an exception, an arrangement, a row, a matter that is not checked, or all that cites a
    /// section.
    pub(crate) drop: Option<DropFile>,
    /// Narrows what a rule applies to, or what an arrangement is good for.
    pub(crate) restrict: Option<RestrictFile>,
    /// Takes cases out of a rule.
    pub(crate) except: Option<ExceptFile>,
    /// Makes an arrangement, or what a rule forbids, a matter of the authority's permission.
    pub(crate) gate: Option<GateFile>,
    /// Carries text that no network can be checked by.
    pub(crate) note: Option<NoteFile>,
    /// Gives a section another number.
    pub(crate) renumber: Option<RenumberFile>,
    /// Where the change comes from, if not from where the whole amendment does.
    #[expect(dead_code, reason = "taken from the tree, where it has its place")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::ChangeCitation>"))]
    pub(crate) cite: Option<CitationFile>,
    /// The day from which this change is in force, if later than the amendment.
    pub(crate) from: Option<Day>,
    /// The first day on which this change no longer is in force.
    pub(crate) until: Option<Day>,
}

/// A blank of the code and the value that is put there.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a blank to be filled, such as `{rule: roof-terminal-height, limit: terminal.height_above_roof, to: 10 in}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "fill", transform = schema::lists_may_be_empty))]
pub(crate) struct FillFile {
    /// The table in which it stands.
    pub(crate) table: Option<String>,
    /// The row, by its keys.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "BTreeMap<String, schema::Scalar>"))]
    pub(crate) row: BTreeMap<String, Value>,
    /// The column; not needed where the table has one.
    pub(crate) column: Option<String>,
    /// The rule whose limit it is.
    pub(crate) rule: Option<String>,
    /// The fact whose limit it is.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::AnyFact>"))]
    pub(crate) limit: Option<String>,
    /// Which of the fact's limits, where it has two.
    pub(crate) order: Option<Order>,
    /// The value, as a rule set writes it.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Written"))]
    pub(crate) to: Value,
}

/// A value, what it was and what it becomes.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a value to be set, such as `{table: trap-arms, row: {trap: 2 in}, column: length, was: 3 ft, to: 2 ft}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "set", transform = schema::lists_may_be_empty))]
pub(crate) struct SetFile {
    /// The table in which it stands.
    pub(crate) table: Option<String>,
    /// The row, by its keys.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "BTreeMap<String, schema::Scalar>"))]
    pub(crate) row: BTreeMap<String, Value>,
    /// The column; not needed where the table has one.
    pub(crate) column: Option<String>,
    /// The rule whose limit it is.
    pub(crate) rule: Option<String>,
    /// The fact whose limit it is.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::AnyFact>"))]
    pub(crate) limit: Option<String>,
    /// The fact by which the rule is told when to apply.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::AnyFact>"))]
    pub(crate) when: Option<String>,
    /// Which of the fact's limits, where it has two.
    pub(crate) order: Option<Order>,
    /// The definition that holds it.
    pub(crate) definition: Option<String>,
    /// The rule of which it says how serious a breach is.
    pub(crate) severity: Option<String>,
    /// What is expected to stand there.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Written"))]
    pub(crate) was: Value,
    /// What stands there from now on.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Written"))]
    pub(crate) to: Value,
}

/// An order between a fact and its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "order"))]
pub(crate) enum Order {
    /// Equal.
    Is,
    /// Not equal.
    IsNot,
    /// Among several.
    OneOf,
    /// Among none of several.
    NoneOf,
    /// Not under it.
    AtLeast,
    /// Not over it.
    AtMost,
    /// Over it.
    MoreThan,
    /// Under it.
    LessThan,
    /// Whether there is such a thing at all.
    Present,
}

impl Order {
    pub(crate) const ALL: [Self; 9] = [
        Self::Is,
        Self::IsNot,
        Self::OneOf,
        Self::NoneOf,
        Self::AtLeast,
        Self::AtMost,
        Self::MoreThan,
        Self::LessThan,
        Self::Present,
    ];

    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Is => "is",
            Self::IsNot => "is_not",
            Self::OneOf => "one_of",
            Self::NoneOf => "none_of",
            Self::AtLeast => "at_least",
            Self::AtMost => "at_most",
            Self::MoreThan => "more_than",
            Self::LessThan => "less_than",
            Self::Present => "present",
        }
    }
}

/// A bound under or over values that stay.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a bound under or over values, such as `{table: trap-arms, column: length, at: 2 ft}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "bound", transform = schema::lists_may_be_empty))]
pub(crate) struct BoundFile {
    /// The table in which it stands.
    pub(crate) table: Option<String>,
    /// The rows, by some of their keys; all rows without any.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "BTreeMap<String, schema::Scalar>"))]
    pub(crate) row: BTreeMap<String, Value>,
    /// The column; not needed where the table has one.
    pub(crate) column: Option<String>,
    /// The rule whose limit it is.
    pub(crate) rule: Option<String>,
    /// The fact whose limit it is.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::AnyFact>"))]
    pub(crate) limit: Option<String>,
    /// Which of the fact's limits, where it has two.
    pub(crate) order: Option<Order>,
    /// The bound.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Written"))]
    pub(crate) at: Value,
}

/// A whole rule, table or arrangement, and what stands in its place.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "what is to be replaced, such as `{rule: trap-arm-length, with: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "replace")
)]
pub(crate) struct ReplaceFile {
    /// The rule, by its name.
    pub(crate) rule: Option<String>,
    /// The table, by its name.
    pub(crate) table: Option<String>,
    /// The arrangement, by its name.
    pub(crate) arrangement: Option<String>,
    /// What stands in its place, as a rule set writes it, without its name and without `cite`.
    #[expect(dead_code, reason = "taken from the tree, where it has its place")]
    #[cfg_attr(feature = "schema", schemars(with = "schema::Body"))]
    pub(crate) with: BodyFile,
}

/// A whole rule, table or arrangement. It is read where it has been laid over the base, and here only tells which keys it
/// can have, where they are asked for by one that none has.
#[derive(Debug)]
pub(crate) struct BodyFile;

impl<'de> Deserialize<'de> for BodyFile {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        const NAMELESS: &str = "unknown field ``, expected one of ";
        fn keys<T: for<'de> Deserialize<'de>>(body: &Value) -> Option<String> {
            let told = T::deserialize(body).err()?.to_string();
            told.strip_prefix(NAMELESS).map(str::to_owned)
        }
        let body = Value::deserialize(deserializer)?;
        if body.get("").is_none() {
            return Ok(Self);
        }
        let keys = [
            keys::<RuleFile>(&body),
            keys::<TableFile>(&body),
            keys::<ArrangementFile>(&body),
            keys::<MatterFile>(&body),
        ];
        let keys: Vec<String> = keys.into_iter().flatten().collect();
        Err(serde::de::Error::custom(format!("{NAMELESS}{}", keys.join(", "))))
    }
}

/// A new rule, arrangement, table, row of a table, definition, or matter that is not checked.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "what is to be added, such as `{rule: long-vent, with: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "add"))]
pub(crate) struct AddFile {
    /// The name of the new rule.
    pub(crate) rule: Option<String>,
    /// The name of the new arrangement.
    pub(crate) arrangement: Option<String>,
    /// The table that gets the row, or the name of a new one.
    pub(crate) table: Option<String>,
    /// The definition that the base leaves out.
    pub(crate) definition: Option<String>,
    /// The name of the matter that is not checked.
    pub(crate) matter: Option<String>,
    /// A table's new row, as a rule set writes it.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::Row>"))]
    pub(crate) row: Option<Value>,
    /// The rule, table, arrangement, definition or matter, as a rule set writes it, without its name and without `cite`.
    #[expect(dead_code, reason = "taken from the tree, where it has its place")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::Body>"))]
    pub(crate) with: Option<BodyFile>,
}

/// What is taken out.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "what is to be dropped, such as `{rule: trap-arm-length}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "drop", transform = schema::lists_may_be_empty))]
pub(crate) struct DropFile {
    /// The rule that is dropped, or of which something is.
    pub(crate) rule: Option<String>,
    /// A condition by which the rule is told when to apply, by its fact.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::AnyFact>"))]
    pub(crate) when: Option<String>,
    /// An exception of the rule, by its name.
    pub(crate) exception: Option<String>,
    /// The arrangement that is dropped, or of which a condition is.
    pub(crate) arrangement: Option<String>,
    /// A condition of the arrangement, by its fact.
    #[cfg_attr(feature = "schema", schemars(with = "Option<schema::AnyFact>"))]
    pub(crate) condition: Option<String>,
    /// The table of which a row is dropped.
    pub(crate) table: Option<String>,
    /// A row of the table, by its keys.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "BTreeMap<String, schema::Scalar>"))]
    pub(crate) row: BTreeMap<String, Value>,
    /// A matter that is not checked: it is no longer asked, or a rule that is added checks it.
    pub(crate) matter: Option<String>,
    /// A section: all rules, arrangements, conditions and matters that cite it or a part of it.
    pub(crate) section: Option<String>,
}

/// What is narrowed, and to what.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "what is to be narrowed, such as `{rule: trap-arm-length, to: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "restrict")
)]
pub(crate) struct RestrictFile {
    /// The rule, by its name.
    pub(crate) rule: Option<String>,
    /// The arrangement, by its name.
    pub(crate) arrangement: Option<String>,
    /// The further condition.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Condition"))]
    pub(crate) to: Value,
    /// What to say of an arrangement where the condition fails.
    #[expect(dead_code, reason = "taken from the tree, where it has its place")]
    pub(crate) message: Option<String>,
}

/// Cases that are taken out of a rule.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "an exception to a rule, such as `{rule: trap-arm-length, exception: islands, when: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "except"))]
pub(crate) struct ExceptFile {
    /// The rule, by its name.
    pub(crate) rule: String,
    /// The exception's name.
    pub(crate) exception: String,
    /// When it holds.
    #[cfg_attr(feature = "schema", schemars(with = "schema::Condition"))]
    pub(crate) when: Value,
}

/// What becomes a matter of the authority's permission.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "what needs permission, such as `{arrangement: circuit-vent}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "gate"))]
pub(crate) struct GateFile {
    /// The rule: what it forbids is allowed with permission.
    pub(crate) rule: Option<String>,
    /// The arrangement: it is good with permission only.
    pub(crate) arrangement: Option<String>,
}

/// Text that no network can be checked by.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a note, such as `{text: the inspector is told a day before, rule: trap-arm-length}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "note"))]
pub(crate) struct NoteFile {
    /// In our own words.
    pub(crate) text: String,
    /// The rule whose findings carry it; none where it concerns the whole.
    pub(crate) rule: Option<String>,
}

/// A section's number in the base, and in this jurisdiction.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a section's new number, such as `{rule: trap-arm-length, was: \"1.1\", to: \"12\"}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "renumber")
)]
pub(crate) struct RenumberFile {
    /// Only the rule's own citation.
    pub(crate) rule: Option<String>,
    /// Only the table's own citation.
    pub(crate) table: Option<String>,
    /// Only the arrangement's own citation.
    pub(crate) arrangement: Option<String>,
    /// The number in the base.
    pub(crate) was: String,
    /// The number in this jurisdiction.
    pub(crate) to: String,
}
