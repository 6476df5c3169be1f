//! Files of the demos, read or refused loudly.

use crownweir_rulebook::{RuleSet, published};

pub fn network_text(name: &str) -> String {
    let path = format!("{}/../../tests/networks/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

pub fn rules(name: &str) -> RuleSet {
    let text = published::text(name).unwrap_or_else(|| panic!("no rule set {name}"));
    RuleSet::read(name, text.as_bytes(), &Default::default()).unwrap_or_else(|problems| panic!("{problems}"))
}
