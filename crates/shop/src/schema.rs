//! The JSON Schemas of files of dimensions and of sheets.

use std::borrow::Cow;

use crownweir_quantity::NominalSize;
use crownweir_vocabulary::FittingPattern;
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use crate::dimensions::Part;
use crate::practice::Practice;
use crate::wire::DimensionsFile;
use crate::write::SheetsJson;

/// The schema of a file of dimensions.
#[must_use]
pub fn dimensions() -> Schema {
    SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<DimensionsFile>()
}

/// The schema of a file of practice.
#[must_use]
pub fn practice() -> Schema {
    SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<Practice>()
}

/// The schema of sheets as JSON.
#[must_use]
pub fn sheets() -> Schema {
    SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<SheetsJson<'_>>()
}

/// One size for all ends, or the sizes of outlet, inlet and branch.
pub(crate) struct Sizes;

impl JsonSchema for Sizes {
    fn schema_name() -> Cow<'static, str> {
        "sizes".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let size = generator.subschema_for::<NominalSize>();
        json_schema!({
            "title": "Nominal size, or sizes",
            "anyOf": [
                size.clone(),
                {"type": "array", "items": size, "minItems": 2, "maxItems": 3},
            ],
        })
    }
}

/// A fitting pattern, or one of the other parts that pipes end in.
pub(crate) struct PartName;

impl JsonSchema for PartName {
    fn schema_name() -> Cow<'static, str> {
        "part".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let pattern = generator.subschema_for::<FittingPattern>();
        let others: Vec<_> = Part::OTHERS.iter().map(|(name, _)| *name).collect();
        json_schema!({"title": "Fitting pattern or part", "anyOf": [pattern, {"enum": others}]})
    }
}
