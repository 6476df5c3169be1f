//! What JSON Schemas of files have to admit because of how documents are decoded. Nothing of any one format
//! stands here.

use schemars::Schema;

/// Lets each list or table of a format's part be left empty, as in `notes:` with nothing after it. A list that
/// needs an item stays as it is.
pub fn lists_may_be_empty(part: &mut Schema) {
    let Some(properties) = part
        .get_mut("properties")
        .and_then(|properties| properties.as_object_mut())
    else {
        return;
    };
    for property in properties
        .values_mut()
        .filter_map(|property| property.as_object_mut())
    {
        let kind = property.get("type").and_then(|kind| kind.as_str());
        let (Some(kind @ ("array" | "object")), None) = (kind, property.get("minItems")) else {
            continue;
        };
        let either = vec![kind.to_owned(), "null".to_owned()];
        property.insert("type".to_owned(), either.into());
    }
}
