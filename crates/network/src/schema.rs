//! The JSON Schema of network files, for editors. What it says is wrong, the reader of network files refuses; it
//! does not know what makes sense together, which is left to the reader.

use std::borrow::Cow;

pub(crate) use crownweir_document::schema::lists_may_be_empty;
use crownweir_document::schema::{has_one_key, stated};
use crownweir_quantity::{Length, NominalSize, Slope};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use crate::open::{SizeFile, SlopeFile};
use crate::wire::{CentreFile, FixtureFile, Name, NetworkFile, NextCutFile, OpeningFile, SignedLength};

/// The schema of a network file.
#[must_use]
pub fn network() -> Schema {
    SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<NetworkFile>()
}

impl JsonSchema for Name {
    fn schema_name() -> Cow<'static, str> {
        "name".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": ["string", "integer"],
            "minLength": 1,
            "maxLength": 200,
            "pattern": r"\S",
        })
    }
}

impl JsonSchema for SignedLength {
    fn schema_name() -> Cow<'static, str> {
        "length_or_below".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        crownweir_quantity::schema::signed_length()
    }
}

impl JsonSchema for SizeFile {
    fn schema_name() -> Cow<'static, str> {
        "size_or_open".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "anyOf": [
                generator.subschema_for::<NominalSize>(),
                {"type": "string", "pattern": r"^\s*open\s*$", "examples": ["open"], "title": "Still to be chosen"},
            ],
        })
    }
}

impl JsonSchema for SlopeFile {
    fn schema_name() -> Cow<'static, str> {
        "slope_or_bounds".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "anyOf": [
                generator.subschema_for::<Slope>(),
                {
                    "title": "Bounds of a slope still to be chosen",
                    "type": "object",
                    "properties": {
                        "at_least": described::<Slope>(generator, "The least slope."),
                        "at_most": described::<Slope>(generator, "The most, not under the least."),
                    },
                    "required": ["at_least", "at_most"],
                    "additionalProperties": false,
                },
            ],
        })
    }
}

impl JsonSchema for OpeningFile {
    fn schema_name() -> Cow<'static, str> {
        "opening".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "The nearest door, window or air intake, or the word `none`.",
            "anyOf": [
                {"const": "none", "description": "None is about."},
                {
                    "type": "object",
                    "properties": {
                        "distance": described::<Length>(generator, "Horizontal distance."),
                        "above": described::<SignedLength>(
                            generator,
                            "Height of the terminal above the top of the opening; negative below it.",
                        ),
                    },
                    "required": ["distance", "above"],
                    "additionalProperties": false,
                },
            ],
        })
    }
}

impl JsonSchema for CentreFile {
    fn schema_name() -> Cow<'static, str> {
        "centre".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        length_or(generator, "middle", "In the middle of the member.")
    }
}

impl JsonSchema for NextCutFile {
    fn schema_name() -> Cow<'static, str> {
        "next_cut".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        length_or(generator, "none", "There is no other.")
    }
}

fn length_or(generator: &mut SchemaGenerator, word: &str, description: &str) -> Schema {
    let length = generator.subschema_for::<Length>();
    json_schema!({"anyOf": [{"const": word, "description": description}, length]})
}

fn described<T: JsonSchema>(generator: &mut SchemaGenerator, description: &str) -> Schema {
    let mut schema = generator.subschema_for::<T>();
    schema.insert("description".to_owned(), description.into());
    schema
}

/// A step has exactly one key.
pub(crate) fn one_key(step: &mut Schema) {
    has_one_key(step, &[]);
}

/// A fixture on a path has a type of its own or its model's.
pub(crate) fn one_fixture(fixture: &mut Schema) {
    let ways: [Schema; 2] = [stated("type"), stated("model")];
    fixture.insert(
        "anyOf".to_owned(),
        ways.into_iter().map(Schema::to_value).collect(),
    );
}

/// A fixture under `models`: what belongs to one fixture only has no place there.
pub(crate) struct Model;

impl JsonSchema for Model {
    fn schema_name() -> Cow<'static, str> {
        "model".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let mut model = FixtureFile::json_schema(generator);
        model.remove("required");
        model.remove("anyOf");
        model.insert(
            "type".to_owned(),
            vec!["object".to_owned(), "null".to_owned()].into(),
        );
        model.insert(
            "description".to_owned(),
            "What fixtures of this model have in common.".into(),
        );
        let of_one = ["name", "group", "model", "storey", "position"];
        let properties = model
            .get_mut("properties")
            .and_then(|properties| properties.as_object_mut());
        if let Some(properties) = properties {
            properties.retain(|key, _| !of_one.contains(&key.as_str()));
        }
        // Not among the properties, so that no editor offers them.
        let refused = json_schema!({
            format!("^({})$", of_one.join("|")): {
                "description": "Belongs to one fixture, not to a model of several.",
                "type": "null",
            },
        });
        model.insert("patternProperties".to_owned(), refused.to_value());
        model
    }
}
