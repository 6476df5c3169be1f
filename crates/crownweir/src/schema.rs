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

impl Format {
    /// Every format that has a schema.
    pub const ALL: &'static [Self] = &[
        Self {
            name: "network",
            title: "A network: the drains, wastes and vents of a building",
            make: crownweir_network::schema::network,
        },
        Self {
            name: "ruleset",
            title: "A rule set: a plumbing code as data",
            make: crownweir_rulebook::schema::ruleset,
        },
        Self {
            name: "amendment",
            title: "An amendment: what a local law changes in a rule set",
            make: crownweir_rulebook::schema::amendment,
        },
        Self {
            name: "example",
            title: "Worked examples: networks with the answers that a source gives for them",
            make: crownweir_proof::schema::example,
        },
        Self {
            name: "findings",
            title: "What a check found, as `check --format json` prints it",
            make: crownweir_report::schema::findings,
        },
        Self {
            name: "results",
            title: "A line of the results that `batch` writes",
            make: crownweir_batch::schema,
        },
        Self {
            name: "dimensions",
            title: "Dimensions of pipes and fittings",
            make: crownweir_shop::schema::dimensions,
        },
        Self {
            name: "practice",
            title: "What the trade does where rule sets are silent",
            make: crownweir_shop::schema::practice,
        },
        Self {
            name: "sheets",
            title: "Shop sheets, as `shop --format json` prints them",
            make: crownweir_shop::schema::sheets,
        },
    ];

    /// The format of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        Self::ALL.iter().find(|format| format.name == name)
    }

    fn schema(&self) -> Value {
        let mut schema = (self.make)();
        let definitions = schema.get_mut("$defs").and_then(Value::as_object_mut);
        for (name, definition) in definitions.into_iter().flatten() {
            if let Some(definition) = definition.as_object_mut() {
                definition.entry("title").or_insert_with(|| title(name).into());
            }
        }
        schema.insert("title".to_owned(), self.title.into());
        Tidy.transform(&mut schema);
        schema.to_value()
    }

    /// Its schema as the text of a file.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        lay_out(&self.schema(), 0, 0, &mut text);
        text.push('\n');
        text
    }
}

/// `Fitting pattern` for `fitting_pattern`.
fn title(name: &str) -> String {
    let words = name.replace('_', " ");
    let mut letters = words.chars();
    let first = letters.next().map(|first| first.to_ascii_uppercase());
    first.into_iter().chain(letters).collect()
}

/// Takes out what no editor knows, formats that are Rust's names of numbers, and puts what a reader looks for
/// first.
struct Tidy;

impl Transform for Tidy {
    fn transform(&mut self, schema: &mut Schema) {
        let is_of_rust = |format: &str| format.starts_with("uint");
        if schema
            .get("format")
            .and_then(Value::as_str)
            .is_some_and(is_of_rust)
        {
            schema.remove("format");
        }
        if let Some(keywords) = schema.as_object_mut() {
            for first in ["type", "description", "title", "$schema"] {
                if let Some(value) = keywords.shift_remove(first) {
                    keywords.shift_insert(0, first.to_owned(), value);
                }
            }
        }
        transform_subschemas(self, schema);
    }
}

/// How long a line may grow before what it holds is spread over several.
const WIDTH: usize = 110;

/// Writes JSON with one line for whatever fits on one; `used` is how much of the line is taken already.
fn lay_out(value: &Value, depth: usize, used: usize, text: &mut String) {
    let line = on_one_line(value);
    let indent = |depth: usize| "  ".repeat(depth);
    if 2 * depth + used + line.chars().count() <= WIDTH {
        text.push_str(&line);
        return;
    }
    let parts: Vec<(String, &Value)> = match value {
        Value::Array(items) => items.iter().map(|item| (String::new(), item)).collect(),
        Value::Object(entries) => {
            let entries = entries.iter();
            entries
                .map(|(key, value)| (format!("{}: ", Value::from(key.as_str())), value))
                .collect()
        }
        _ => {
            text.push_str(&line);
            return;
        }
    };
    text.push_str(if value.is_array() { "[" } else { "{" });
    let count = parts.len();
    for (index, (key, part)) in parts.into_iter().enumerate() {
        text.push('\n');
        text.push_str(&indent(depth + 1));
        text.push_str(&key);
        lay_out(part, depth + 1, key.chars().count(), text);
        if index + 1 < count {
            text.push(',');
        }
    }
    text.push('\n');
    text.push_str(&indent(depth));
    text.push(if value.is_array() { ']' } else { '}' });
}

fn on_one_line(value: &Value) -> String {
    match value {
        Value::Array(items) => {
            let items: Vec<_> = items.iter().map(on_one_line).collect();
            format!("[{}]", items.join(", "))
        }
        Value::Object(entries) => {
            let entries = entries.iter();
            let entries: Vec<_> = entries
                .map(|(key, value)| format!("{}: {}", Value::from(key.as_str()), on_one_line(value)))
                .collect();
            format!("{{{}}}", entries.join(", "))
        }
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_laid_out_is_the_schema() {
        for format in Format::ALL {
            assert_eq!(serde_json::from_str(&format.text()).ok(), Some(format.schema()));
        }
    }
}
