//! Workings as indented lines.

use crownweir_evaluate::{Outcome, Step};

/// One line for each step, those of parts further in.
#[must_use]
pub fn workings(steps: &[Step]) -> Vec<String> {
    let mut lines = Vec::new();
    add(steps, 0, &mut lines);
    lines
}

fn add(steps: &[Step], depth: usize, lines: &mut Vec<String>) {
    let indent = "  ".repeat(depth);
    for step in steps {
        let line = match step {
            Step::Fact { fact, value } => format!("{fact} = {}", value.text),
            Step::Cell {
                table,
                keys,
                column,
                content,
                citation,
                place,
                ..
            } => {
                let keys: Vec<_> = keys
                    .iter()
                    .map(|(key, value)| format!("{key} {}", value.text))
                    .collect();
                let basis = citation.basis.name();
                let set = match &citation.set_by {
                    Some(_) => format!("; {}:{}", place.file, place.line),
                    None => String::new(),
                };
                format!(
                    "table {table} at {}: {column} = {} [{citation}; {basis}{set}]",
                    keys.join(", "),
                    content.text
                )
            }
            Step::Reckoned { how, value } => format!("{how} = {}", value.text),
            Step::Compared { what, outcome, .. } => {
                let outcome = match outcome {
                    Outcome::Satisfied => "yes",
                    Outcome::Violated => "no",
                    Outcome::Undetermined(_) => "cannot be told",
                };
                format!("{what}: {outcome}")
            }
            Step::Parts { how, steps } => {
                lines.push(format!("{indent}{how}"));
                add(steps, depth + 1, lines);
                continue;
            }
            Step::Shapes { patterns } => {
                let shapes: Vec<_> = patterns.iter().map(|shape| shape.replace('_', " ")).collect();
                format!("shapes: {}", shapes.join(", "))
            }
            Step::Arrangement {
                title, conditions, ..
            } => {
                lines.push(format!("{indent}arrangement = {title}"));
                for steps in conditions {
                    add(steps, depth, lines);
                }
                continue;
            }
            // What is told stands in the message itself.
            _ => continue,
        };
        lines.push(format!("{indent}{line}"));
    }
}
