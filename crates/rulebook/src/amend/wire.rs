//! The amendment file as written. Values and conditions stay as they are here; they are read as part of the base.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_yaml::Value;

use super::{Origin, Precedence, Status};
use crate::day::Day;
use crate::wire::{CitationFile, CitedFile};

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "an amendment")]
pub(crate) struct AmendmentFile {
    /// Checked before the rest is decoded; stands here so that it is a known key.
    #[serde(rename = "crownweir")]
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
    pub(crate) cite: Option<CitationFile>,
    /// The changes, in order.
    pub(crate) changes: Vec<ChangeFile>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "the base of an amendment")]
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

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "where a text was read")]
pub(crate) struct SourceFile {
    /// What was read, or its address.
    pub(crate) read_in: String,
    /// The day on which it was.
    pub(crate) on: Option<Day>,
}

/// One change: exactly one of the verbs, with what it needs.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a change")]
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
    /// Adds a rule, an arrangement, or a row of a table.
    pub(crate) add: Option<AddFile>,
    /// Takes out a rule, a condition, an exception, an arrangement, a row, or all that cites a section.
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
    pub(crate) cite: Option<CitationFile>,
    /// The day from which this change is in force, if later than the amendment.
    pub(crate) from: Option<Day>,
    /// The first day on which this change no longer is in force.
    pub(crate) until: Option<Day>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a blank to be filled")]
pub(crate) struct FillFile {
    pub(crate) table: Option<String>,
    #[serde(default)]
    pub(crate) row: BTreeMap<String, Value>,
    pub(crate) column: Option<String>,
    pub(crate) rule: Option<String>,
    /// The fact whose limit it is.
    pub(crate) limit: Option<String>,
    /// Which of the fact's limits, where it has two.
    pub(crate) order: Option<Order>,
    pub(crate) to: Value,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a value to be set")]
pub(crate) struct SetFile {
    pub(crate) table: Option<String>,
    /// The row, by its keys.
    #[serde(default)]
    pub(crate) row: BTreeMap<String, Value>,
    pub(crate) column: Option<String>,
    pub(crate) rule: Option<String>,
    /// The fact whose limit it is.
    pub(crate) limit: Option<String>,
    /// The fact by which the rule is told when to apply.
    pub(crate) when: Option<String>,
    /// Which of the fact's limits, where it has two.
    pub(crate) order: Option<Order>,
    pub(crate) definition: Option<String>,
    /// What is expected to stand there.
    pub(crate) was: Value,
    pub(crate) to: Value,
}

/// An order between a fact and its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Order {
    Is,
    IsNot,
    OneOf,
    NoneOf,
    AtLeast,
    AtMost,
    MoreThan,
    LessThan,
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

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a bound under or over values")]
pub(crate) struct BoundFile {
    pub(crate) table: Option<String>,
    /// The rows, by some of their keys; all rows without any.
    #[serde(default)]
    pub(crate) row: BTreeMap<String, Value>,
    pub(crate) column: Option<String>,
    pub(crate) rule: Option<String>,
    /// The fact whose limit it is.
    pub(crate) limit: Option<String>,
    /// Which of the fact's limits, where it has two.
    pub(crate) order: Option<Order>,
    pub(crate) at: Value,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "what is to be replaced")]
pub(crate) struct ReplaceFile {
    pub(crate) rule: Option<String>,
    pub(crate) table: Option<String>,
    pub(crate) arrangement: Option<String>,
    /// What stands in its place, as a rule set writes it, without its name and without `cite`.
    #[expect(dead_code, reason = "taken from the tree, where it has its place")]
    pub(crate) with: Value,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "what is to be added")]
pub(crate) struct AddFile {
    pub(crate) rule: Option<String>,
    pub(crate) arrangement: Option<String>,
    pub(crate) table: Option<String>,
    /// A table's new row, as a rule set writes it.
    pub(crate) row: Option<Value>,
    /// The rule, table or arrangement, as a rule set writes it, without its name and without `cite`.
    #[expect(dead_code, reason = "taken from the tree, where it has its place")]
    pub(crate) with: Option<Value>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "what is to be dropped")]
pub(crate) struct DropFile {
    pub(crate) rule: Option<String>,
    /// A condition by which the rule is told when to apply, by its fact.
    pub(crate) when: Option<String>,
    /// An exception of the rule, by its name.
    pub(crate) exception: Option<String>,
    pub(crate) arrangement: Option<String>,
    /// A condition of the arrangement, by its fact.
    pub(crate) condition: Option<String>,
    pub(crate) table: Option<String>,
    /// A row of the table, by its keys.
    #[serde(default)]
    pub(crate) row: BTreeMap<String, Value>,
    /// A section: all rules, arrangements and conditions that cite it or a part of it.
    pub(crate) section: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "what is to be narrowed")]
pub(crate) struct RestrictFile {
    pub(crate) rule: Option<String>,
    pub(crate) arrangement: Option<String>,
    /// The further condition.
    pub(crate) to: Value,
    /// What to say of an arrangement where the condition fails.
    #[expect(dead_code, reason = "taken from the tree, where it has its place")]
    pub(crate) message: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "an exception to a rule")]
pub(crate) struct ExceptFile {
    pub(crate) rule: String,
    /// The exception's name.
    pub(crate) exception: String,
    /// When it holds.
    pub(crate) when: Value,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "what needs permission")]
pub(crate) struct GateFile {
    pub(crate) rule: Option<String>,
    pub(crate) arrangement: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a note")]
pub(crate) struct NoteFile {
    /// In our own words.
    pub(crate) text: String,
    /// The rule whose findings carry it; none where it concerns the whole.
    pub(crate) rule: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a section's new number")]
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
