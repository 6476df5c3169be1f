//! The JSON Schemas of rule sets and amendments, for editors. What they say is wrong, the reader refuses; names of
//! tables and columns, and what makes sense together, are left to the reader.

mod amendments;
mod expressions;
mod tables;

use crownweir_document::schema::has_one_key;
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, json_schema};

pub(crate) use amendments::{Body, ChangeCitation, Written, one_verb};
pub(crate) use crownweir_document::schema::lists_may_be_empty;
pub(crate) use expressions::{
    AnyFact, Condition, FlowOperand, LengthOperand, LoadOperand, Operand, RatioOperand,
};
pub(crate) use tables::{Row, Scalar, across_or_columns};

use crate::amend::wire::AmendmentFile;
use crate::wire::RuleSetFile;

/// The schema of a rule set.
#[must_use]
pub fn ruleset() -> Schema {
    root::<RuleSetFile>()
}

/// The schema of an amendment.
#[must_use]
pub fn amendment() -> Schema {
    root::<AmendmentFile>()
}

fn root<T: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<T>()
}

/// Adds keywords to a schema.
fn add(schema: &mut Schema, more: Schema) {
    if let Some(more) = more.to_value().as_object() {
        for (key, value) in more {
            schema.insert(key.clone(), value.clone());
        }
    }
}

/// A citation names a section, unless it is of common practice.
pub(crate) fn section_or_practice(citation: &mut Schema) {
    let choice = json_schema!({
        "if": {"properties": {"basis": {"const": "common_practice"}}},
        "else": {"required": ["section"], "properties": {"section": {"type": "string"}}},
    });
    add(citation, choice);
}

/// A least distance goes with intervals counted by distance, and only with those.
pub(crate) fn least_by_distance(interval: &mut Schema) {
    let choice = json_schema!({
        "if": {"properties": {"counted_by": {"const": "distance"}}},
        "then": {"required": ["least"], "properties": {"least": {"type": "string"}}},
        "else": {"properties": {"least": {"type": "null"}}},
    });
    add(interval, choice);
}

/// A case of a fixture's load gives a load, or a flow that counts in full.
pub(crate) fn load_or_flow(case: &mut Schema) {
    has_one_key(case, &["when"]);
}

/// A rule has a requirement and says how serious a breach is, or only a visit can settle it.
pub(crate) fn asks_one_way(rule: &mut Schema) {
    let choice = json_schema!({
        "if": {"required": ["confirm_on_site"], "properties": {"confirm_on_site": {"const": true}}},
        "then": {"properties": {"require": {"type": "null"}}},
        "else": {
            "required": ["require", "severity"],
            "properties": {"require": {"type": "object"}, "severity": {"type": "string"}},
        },
    });
    add(rule, choice);
    lists_may_be_empty(rule);
}
