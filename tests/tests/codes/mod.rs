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
    /// The rules by which an arm can be too long.
    pub arm_rules: &'static [&'static str],
    /// The shortest arm, in inches, from which on a longer one can only be worse: by NPC 2020, sentence 2.5.1.1.(3),
    /// a floor drain does without a vent from 450 mm of drain on.
    pub least_arm: u32,
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

fn code(name: &str, amendments: &[&'static str], arm_rules: &'static [&'static str]) -> Code {
    Code {
        rules: rules(name, amendments),
        sizes: INCHES,
        unit: "dfu",
        site: "occupancy: private",
        arm_rules,
        least_arm: 6,
    }
}

/// Read once, for it takes longer than a check.
pub static CODES: LazyLock<[Code; 4]> = LazyLock::new(|| {
    let ipc = ["trap-arm-length", "trap-arm-fall", "trap-protection"].as_slice();
    let upc = [
        "trap-arm-length",
        "trap-arm-fall",
        "trap-protection",
        "closet-to-vent",
    ]
    .as_slice();
    let npc = [
        "trap-arm-length",
        "trap-arm-fall",
        "trap-protection",
        "closet-arm-run",
    ]
    .as_slice();
    let en = ["branch-length", "branch-drop", "trap-protection"].as_slice();
    [
        code("ipc-2021", &[], ipc),
        code("upc-2021", &[], upc),
        Code {
            least_arm: 18,
            ..code("npc-2020", &["npc-2020-vent-tables"], npc)
        },
        Code {
            sizes: MILLIMETRES,
            unit: "DU",
            site: "occupancy: private, use: dwelling, system_type: I",
            ..code("en-12056-2", &[], en)
        },
    ]
});
