//! The JSON Schema of a report, for programs that read one. It promises what is there; keys that it does not name
//! may be added.

use schemars::Schema;
use schemars::generate::SchemaSettings;

use crate::json::ReportJson;

/// The schema of a report as JSON.
#[must_use]
pub fn findings() -> Schema {
    SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<ReportJson<'static>>()
}
