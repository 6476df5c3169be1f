//! Files of the demos, read or refused loudly.

use crownweir_network::Network;
use crownweir_rulebook::{RuleSet, published};

/// The demo buildings, each with the rule set that it is laid out by.
pub const DEMOS: [(&str, &str); 12] = [
    ("heron-point.yaml", "ipc-2021"),
    ("larch-terrace.yaml", "ipc-2021"),
    ("heron-point-upc.yaml", "upc-2021"),
    ("larch-terrace-upc.yaml", "upc-2021"),
    ("heron-point-npc.yaml", "npc-2020"),
    ("larch-terrace-npc.yaml", "npc-2020"),
    ("larch-terrace-en.yaml", "en-12056-2"),
    ("heron-point-faulty.yaml", "ipc-2021"),
    ("heron-point-upc-faulty.yaml", "upc-2021"),
    ("larch-terrace-upc-faulty.yaml", "upc-2021"),
    ("larch-terrace-npc-faulty.yaml", "npc-2020"),
    ("larch-terrace-en-faulty.yaml", "en-12056-2"),
];

pub fn network_text(name: &str) -> String {
    let path = format!("{}/../../tests/networks/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

pub fn rules(name: &str) -> RuleSet {
    let text = published::text(name).unwrap_or_else(|| panic!("no rule set {name}"));
    RuleSet::read(name, text.as_bytes(), &Default::default()).unwrap_or_else(|problems| panic!("{problems}"))
}

pub fn network(text: &str) -> Network {
    Network::read("network.yaml", text.as_bytes(), &Default::default())
        .unwrap_or_else(|problems| panic!("{problems}\n{text}"))
}
