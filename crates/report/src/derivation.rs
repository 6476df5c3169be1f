//! Derivations as indented lines.

use crownweir_evaluate::Derivation;

/// The value with what it comes from, one line for each part, those of parts further in.
#[must_use]
pub fn derivation(derivation: &Derivation) -> Vec<String> {
    let mut lines = Vec::new();
    add(derivation, 0, &mut lines);
    lines
}

fn add(one: &Derivation, depth: usize, lines: &mut Vec<String>) {
    let indent = "  ".repeat(depth);
    lines.push(if one.value.is_empty() {
        format!("{indent}{}", one.what)
    } else {
        format!("{indent}{}: {}", one.what, one.value)
    });
    for part in &one.parts {
        add(part, depth + 1, lines);
    }
}
