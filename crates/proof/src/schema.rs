//! The JSON Schema of worked examples, for editors. Their networks may have placeholders anywhere, which no schema
//! follows: a value with one is let pass.

use std::borrow::Cow;

pub(crate) use crownweir_document::schema::lists_may_be_empty;
use crownweir_rulebook::Fact;
use schemars::generate::SchemaSettings;
use schemars::transform::{Transform, transform_subschemas};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde_json::Value;

use crate::wire::{ExampleFile, Scalar};

/// Text in which a placeholder stands.
const PLACEHOLDER: &str = r"\$[A-Z]";

/// The schema of a file of worked examples.
#[must_use]
pub fn example() -> Schema {
    SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<ExampleFile>()
}

impl JsonSchema for Scalar {
    fn schema_name() -> Cow<'static, str> {
        "value".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({"type": ["string", "number", "boolean"]})
    }
}

/// A fact, by name or by a placeholder.
pub(crate) struct FactName;

impl JsonSchema for FactName {
    fn schema_name() -> Cow<'static, str> {
        "fact".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({"anyOf": [{"enum": Fact::NAMES}, {"type": "string", "pattern": PLACEHOLDER}]})
    }
}

/// A network, or the name of one under `networks`.
pub(crate) struct DrawnOrNamed;

impl JsonSchema for DrawnOrNamed {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "network_or_name".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        json_schema!({"anyOf": [generator.subschema_for::<Drawn>(), {"type": "string"}]})
    }
}

/// A network with placeholders.
pub(crate) struct Drawn;

impl JsonSchema for Drawn {
    fn schema_name() -> Cow<'static, str> {
        "network".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let mut network = crownweir_network::schema::network();
        Loosen.transform(&mut network);
        network.remove("$schema");
        let own = network.remove("$defs");
        for (name, mut part) in own
            .as_ref()
            .and_then(Value::as_object)
            .cloned()
            .into_iter()
            .flatten()
        {
            if let Some(part) = part.as_object_mut() {
                part.entry("title")
                    .or_insert_with(|| name.replace('_', " ").into());
            }
            let name = format!("network_{name}");
            generator.definitions_mut().insert(name, part);
        }
        let filled = json_schema!({
            "anyOf": [
                {"type": "string", "pattern": PLACEHOLDER},
                {"type": "object", "not": {"propertyNames": {"not": {"pattern": PLACEHOLDER}}}},
            ],
        });
        generator
            .definitions_mut()
            .insert("placeholder".to_owned(), filled.into());
        let mut network = network.to_value();
        or_placeholder(&mut network);
        network.try_into().unwrap_or_default()
    }
}

/// Lets a placeholder stand for any value and a mapping with one among its keys pass, and names the definitions apart from those of examples.
struct Loosen;

impl Transform for Loosen {
    fn transform(&mut self, schema: &mut Schema) {
        transform_subschemas(self, schema);
        let Some(keywords) = schema.as_object_mut() else {
            return;
        };
        if let Some(Value::String(path)) = keywords.get_mut("$ref") {
            *path = path.replace("#/$defs/", "#/$defs/network_");
        }
        if let Some(properties) = keywords.get_mut("properties").and_then(Value::as_object_mut) {
            properties.values_mut().for_each(or_placeholder);
        }
        for keyword in ["items", "additionalProperties"] {
            if let Some(part) = keywords.get_mut(keyword) {
                or_placeholder(part);
            }
        }
    }
}

fn or_placeholder(part: &mut Value) {
    let Some(keywords) = part.as_object_mut() else {
        return;
    };
    let description = keywords.shift_remove("description");
    let own = std::mem::take(keywords);
    let mut loose = json_schema!({"anyOf": [own, {"$ref": "#/$defs/placeholder"}]});
    if let Some(description) = description {
        loose.insert("description".to_owned(), description);
    }
    *part = loose.to_value();
}
