//! The rule sets that come with the library, as the text of their files.

/// The names of all of them.
pub const NAMES: &[&str] = &["ipc-2021"];

/// The text of the rule set called `name`.
#[must_use]
pub fn text(name: &str) -> Option<&'static str> {
    match name {
        "ipc-2021" => Some(include_str!("../../../rulesets/ipc-2021/ruleset.yaml")),
        _ => None,
    }
}
