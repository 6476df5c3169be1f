//! The schemas of what stands in an amendment. Whether a change fits its base is told where the two meet.

use std::borrow::Cow;

use crownweir_document::schema::has_one_key;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use crate::day::Day;
use crate::wire::{ArrangementFile, CitationFile, MatterFile, RuleFile, SharpTurnFile, TableFile};

impl JsonSchema for Day {
    fn schema_name() -> Cow<'static, str> {
        "day".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "string",
            "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
            "errorMessage": "expected a day such as `2026-11-25`",
            "examples": ["2026-11-25"],
        })
    }
}

/// A value of whatever kind its place in the base asks for.
pub(crate) struct Written;

impl JsonSchema for Written {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "written".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({"examples": ["2 in", 24, {"fact": "pipe.size"}]})
    }
}

/// A citation that may go unread: that of a change which sets nothing, or at the head where each change has its own.
/// Whether it names a section is told where it is read.
pub(crate) struct ChangeCitation;

impl JsonSchema for ChangeCitation {
    fn schema_name() -> Cow<'static, str> {
        "citation_of_change".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let mut citation = CitationFile::json_schema(generator);
        citation.remove("if");
        citation.remove("else");
        citation
    }
}

/// A rule, table, arrangement, definition or matter as a rule set writes it; its name and its citation stand in the change.
pub(crate) struct Body;

impl JsonSchema for Body {
    fn schema_name() -> Cow<'static, str> {
        "body".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let kinds = [
            ("A rule.", RuleFile::json_schema(generator), "rule"),
            ("A table.", TableFile::json_schema(generator), "table"),
            (
                "An arrangement.",
                ArrangementFile::json_schema(generator),
                "arrangement",
            ),
            (
                "The one definition that a rule set may do without: of a sharp turn.",
                SharpTurnFile::json_schema(generator),
                "sharp_turn",
            ),
            (
                "A matter that is not checked.",
                MatterFile::json_schema(generator),
                "matter",
            ),
        ];
        let kinds = kinds.map(|(description, mut body, name)| {
            body.insert("description".to_owned(), description.into());
            if let Some(properties) = body.get_mut("properties").and_then(|found| found.as_object_mut()) {
                properties.shift_remove(name);
            }
            if let Some(required) = body.get_mut("required").and_then(|found| found.as_array_mut()) {
                required.retain(|key| key != name && key != "cite");
            }
            body
        });
        json_schema!({"anyOf": kinds})
    }
}

/// A change does one thing.
pub(crate) fn one_verb(change: &mut Schema) {
    has_one_key(change, &["cite", "from", "until"]);
}
