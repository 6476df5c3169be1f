//! The JSON Schemas of the file formats, by which editors complete and explain keys. They are made from the types
//! that files are decoded to, and say nothing that those do not.

use schemars::Schema;
use schemars::transform::{Transform, transform_subschemas};
use serde_json::Value;

/// The schema of one format.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct Format {
    /// Name by which commands ask for it, and its file is called.
    pub name: &'static str,
    /// What the format is for.
    pub title: &'static str,
    make: fn() -> Schema,
}

/// Every format that has a schema.
pub const ALL: &[Format] = &[
    Format {
        name: "network",
        title: "A network: the drains, wastes and vents of a building",
        make: crownweir_network::schema::network,
    },
    Format {
        name: "ruleset",
        title: "A rule set: a plumbing code as data",
        make: crownweir_rulebook::schema::ruleset,
    },
    Format {
        name: "findings",
        title: "What a check found, as `check --format json` prints it",
        make: crownweir_report::schema::findings,
    },
];

impl Format {
    /// The format of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        ALL.iter().find(|format| format.name == name)
    }

    /// Its schema.
    #[must_use]
    pub fn schema(&self) -> Value {
        let mut schema = (self.make)();
        schema.insert("title".to_owned(), self.title.into());
        Tidy.transform(&mut schema);
        let definitions = schema.get_mut("$defs").and_then(Value::as_object_mut);
        for (name, definition) in definitions.into_iter().flatten() {
            if let Some(definition) = definition.as_object_mut()
                && !definition.contains_key("title")
            {
                definition.shift_insert(0, "title".to_owned(), title(name).into());
            }
        }
        schema.to_value()
    }

    /// Its schema as the text of a file.
    #[must_use]
    pub fn text(&self) -> String {
        // The alternate form is indented.
        format!("{:#}\n", self.schema())
    }
}

/// `Fitting pattern` for `fitting_pattern`.
fn title(name: &str) -> String {
    let words = name.replace('_', " ");
    let mut letters = words.chars();
    let first = letters.next().map(|first| first.to_ascii_uppercase());
    first.into_iter().chain(letters).collect()
}

/// Takes out what no editor knows: formats that are Rust's names of numbers.
struct Tidy;

impl Transform for Tidy {
    fn transform(&mut self, schema: &mut Schema) {
        if schema
            .get("format")
            .and_then(Value::as_str)
            .is_some_and(|format| format.starts_with("uint"))
        {
            schema.remove("format");
        }
        transform_subschemas(self, schema);
    }
}
