//! Shared helpers of the end-to-end tests.
#![forbid(unsafe_code)]

pub mod fuzzed;
pub mod shapes;
pub mod sources;
pub mod written;

use crownweir::proof::Example;
use crownweir::{Limits, Network, Report, RuleSet, check, published};

/// The text of a network file under `tests/networks`.
///
/// # Panics
/// When there is no such file.
#[must_use]
pub fn network_text(name: &str) -> String {
    let path = format!("{}/networks/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// A network's text without its directions in plan, so that pipes can be moved without moving others to fit. The two
/// lengths that only the plan settles are stated.
///
/// # Panics
/// When the text is not that of the dwelling of Larch Terrace.
#[must_use]
pub fn without_plan(text: &str) -> String {
    let mut plain = String::new();
    for line in text.lines().filter(|line| !line.starts_with("    direction: ")) {
        match line.split_once("direction: ") {
            Some((before, after)) if line.contains("- pipe: {") => {
                let (_, after) = after.split_once('}').unwrap_or_else(|| panic!("{line}"));
                let before = before.trim_end_matches(", ").trim_end();
                let length = if before.contains("length") {
                    ""
                } else {
                    ", length: 2 m"
                };
                plain.push_str(&format!("{before}{length}}}{after}"));
            }
            _ => plain.push_str(line),
        }
        plain.push('\n');
    }
    assert!(!plain.contains("direction: "), "{plain}");
    plain
}

/// The published rule set of that name.
///
/// # Panics
/// When it cannot be loaded.
#[must_use]
pub fn rules(name: &str) -> RuleSet {
    let text = published::text(name).unwrap_or_else(|| panic!("no rule set {name}"));
    RuleSet::read(name, text.as_bytes(), &Limits::default()).unwrap_or_else(|problems| panic!("{problems}"))
}

/// The worked examples of the published rule set of that name.
///
/// # Panics
/// When they cannot be read.
#[must_use]
pub fn examples(name: &str) -> Vec<Example> {
    let folder = format!("{}/../rulesets/{name}/examples", env!("CARGO_MANIFEST_DIR"));
    let entries = std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{folder}: {error}"));
    let mut files: Vec<_> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    files.sort();
    let read = |path: &std::path::PathBuf| {
        let name = path
            .file_name()
            .and_then(|name| name.to_str())
            .unwrap_or_default();
        let text = std::fs::read(path).unwrap_or_else(|error| panic!("{name}: {error}"));
        Example::read(name, &text, &Limits::default()).unwrap_or_else(|problems| panic!("{problems}"))
    };
    files.iter().map(read).collect()
}

/// The network in `text`.
///
/// # Panics
/// When it cannot be read.
#[must_use]
pub fn network(text: &str) -> Network {
    Network::read("network.yaml", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}\n{text}"))
}

/// What checking the network in `text` by IPC 2021 gives.
///
/// # Panics
/// When it cannot be checked.
#[must_use]
pub fn checked(text: &str) -> Report {
    check(&network(text), &rules("ipc-2021")).unwrap_or_else(|error| panic!("{error}"))
}
