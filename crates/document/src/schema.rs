//! What JSON Schemas of files have to admit because of how documents are decoded. Nothing of any one format
//! stands here.

use schemars::{Schema, json_schema};
use serde_json::Value;

/// Lets each list or table of a format's part be left empty, as in `notes:` with nothing after it. A list that
/// needs an item stays as it is.
pub fn lists_may_be_empty(part: &mut Schema) {
    let Some(properties) = part
        .get_mut("properties")
        .and_then(|properties| properties.as_object_mut())
    else {
        return;
    };
    for property in properties.values_mut() {
        may_be_empty(property);
    }
}

fn may_be_empty(value: &mut Value) {
    let kind = value.get("type").and_then(|kind| kind.as_str());
    let (Some(kind @ ("array" | "object")), None) = (kind, value.get("minItems")) else {
        return;
    };
    let either = vec![kind.to_owned(), "null".to_owned()];
    if let Some(value) = value.as_object_mut() {
        value.insert("type".to_owned(), either.into());
        if let Some(items) = value.get_mut("items") {
            may_be_empty(items);
        }
    }
}

/// A part has exactly one of its keys, those `beside` it not counted; others may stand there with nothing after
/// them.
pub fn has_one_key(part: &mut Schema, beside: &[&str]) {
    let properties = part
        .get("properties")
        .and_then(|properties| properties.as_object());
    let keys = properties.into_iter().flat_map(|properties| properties.keys());
    let ways = keys
        .filter(|key| !beside.contains(&key.as_str()))
        .map(|key| stated(key).to_value())
        .collect();
    part.insert("oneOf".to_owned(), ways);
}

/// The key is there, with something after it.
#[must_use]
pub fn stated(key: &str) -> Schema {
    json_schema!({"required": [key], "properties": {key: {"not": {"type": "null"}}}})
}
