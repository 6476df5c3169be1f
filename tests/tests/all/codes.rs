//! The published codes with what generated networks need of each: its sizes, its unit of load, what its site states.

use std::sync::LazyLock;

use crownweir::{Limits, RuleSet, Text, published};

/// A published code.
pub struct Code {
    /// Its rule set; that of NPC 2020 with its open tables filled as an adopter would fill them.
    pub rules: RuleSet,
    /// Sizes of its ladder, the smallest first.
    pub sizes: [&'static str; 6],
    /// The unit of loads.
    pub unit: &'static str,
    /// What the site states.
    pub site: &'static str,
}

const INCHES: [&str; 6] = ["1-1/4 in", "1-1/2 in", "2 in", "2-1/2 in", "3 in", "4 in"];
const MILLIMETRES: [&str; 6] = ["DN 40", "DN 50", "DN 60", "DN 70", "DN 90", "DN 100"];

fn rules(name: &str, amendments: &[&'static str]) -> RuleSet {
    let text = |name, text: Option<&'static str>| Text {
        name,
        bytes: text.unwrap_or_default().as_bytes(),
    };
    let amendments: Vec<_> = amendments
        .iter()
        .map(|&name| text(name, published::amendment(name)))
        .collect();
    let on = "2026-11-25".parse().expect("a day");
    RuleSet::amended(
        text(name, published::text(name)),
        &amendments,
        on,
        &Limits::default(),
    )
    .unwrap_or_else(|problems| panic!("{problems}"))
}

fn code(name: &str, amendments: &[&'static str]) -> Code {
    Code {
        rules: rules(name, amendments),
        sizes: INCHES,
        unit: "dfu",
        site: "occupancy: private",
    }
}

/// Read once, for it takes longer than a check.
pub static CODES: LazyLock<[Code; 4]> = LazyLock::new(|| {
    [
        code("ipc-2021", &[]),
        code("upc-2021", &[]),
        code("npc-2020", &["npc-2020-vent-tables"]),
        Code {
            sizes: MILLIMETRES,
            unit: "DU",
            site: "occupancy: private, use: dwelling, system_type: I",
            ..code("en-12056-2", &[])
        },
    ]
});
