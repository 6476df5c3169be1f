//! The schemas of what stands in a table. Of what kind a value has to be, the table's own keys and columns say,
//! which no schema can follow.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::{add, lists_may_be_empty};
use crate::facts::Fact;
use crate::tables::PLAIN;
use crate::wire::{CitationFile, DimensionFile};

impl JsonSchema for DimensionFile {
    fn schema_name() -> Cow<'static, str> {
        "dimension".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let plain = PLAIN.iter().map(|dimension| dimension.name());
        let names: Vec<_> = plain.chain(Fact::NAMES.iter().copied()).collect();
        json_schema!({
            "description": "A dimension, or a fact whose kind of value, or whose words, belong here.",
            "enum": names,
        })
    }
}

/// A single value of any kind.
pub(crate) struct Scalar;

impl JsonSchema for Scalar {
    fn schema_name() -> Cow<'static, str> {
        "value".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A value with its unit, or a bare number where the key or column declares one. \
                Of a key, `any` matches whatever there is.",
            "type": ["string", "number", "boolean"],
            "examples": ["2 in", "1/4 in/ft", 24, "lavatory", "any"],
        })
    }
}

struct Cell;

impl JsonSchema for Cell {
    fn schema_name() -> Cow<'static, str> {
        "cell".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let content = json_schema!({
            "description": "A value with its unit, or a bare number where the column declares one; `none` where \
                the code allows nothing, `unlimited` where it sets no limit, `unfilled` where the adopter has to \
                fill it in.",
            "type": ["string", "number", "boolean"],
        });
        json_schema!({
            "anyOf": [
                generator.subschema_for::<Scalar>(),
                {
                    "description": "A cell with a citation of its own.",
                    "type": "object",
                    "properties": {"value": content, "cite": generator.subschema_for::<CitationFile>()},
                    "required": ["value"],
                    "additionalProperties": false,
                },
            ],
        })
    }
}

/// A row of a table.
pub(crate) struct Row;

impl JsonSchema for Row {
    fn schema_name() -> Cow<'static, str> {
        "row".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let items = json_schema!({
            "description": "A value for each key, then a cell for each column, or for each value across the head.",
            "type": "array",
            "items": generator.subschema_for::<Cell>(),
        });
        json_schema!({
            "anyOf": [
                items,
                {
                    "description": "A row with a citation of its own.",
                    "type": "object",
                    "properties": {"row": items, "cite": generator.subschema_for::<CitationFile>()},
                    "required": ["row"],
                    "additionalProperties": false,
                },
            ],
        })
    }
}

/// A table gives `columns`, or one kind of cell `across` its head.
pub(crate) fn across_or_columns(table: &mut Schema) {
    let choice = json_schema!({
        "if": {"required": ["across"], "properties": {"across": {"type": "object"}}},
        "then": {"properties": {"columns": {"maxItems": 0}}},
        "else": {"required": ["columns"], "properties": {"columns": {"type": "array", "minItems": 1}}},
    });
    lists_may_be_empty(table);
    add(table, choice);
}
