//! What must hold of networks that differ in one thing: more load, a longer arm, other names, one storey more.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use crownweir::{Report, RuleSet, Verdict, check};
use crownweir_tests::{network, rules};
use proptest::prelude::*;

/// Read once, for it takes longer than a check.
static RULES: LazyLock<RuleSet> = LazyLock::new(|| rules("ipc-2021"));

fn checked(text: &str) -> Report {
    check(&network(text), &RULES).unwrap_or_else(|error| panic!("{error}"))
}

const SIZES: [&str; 6] = ["1-1/4 in", "1-1/2 in", "2 in", "2-1/2 in", "3 in", "4 in"];
const SLOPES: [&str; 4] = ["1/16 in/ft", "1/8 in/ft", "1/4 in/ft", "1/2 in/ft"];
const TYPES: [&str; 7] = [
    "lavatory",
    "water_closet",
    "bathtub",
    "kitchen_sink",
    "floor_drain",
    "urinal",
    "bidet",
];

/// What is violated: rule and element.
fn violated(report: &Report) -> BTreeSet<(String, String)> {
    let found = report
        .findings
        .iter()
        .filter(|one| one.verdict == Verdict::Violated);
    found.map(|one| (one.rule.clone(), one.name.clone())).collect()
}

fn fixture(name: &str, kind: &str, trap: &str) -> String {
    format!(
        "fixture: {{name: {name}, type: {kind}, flush_volume: 1.6 gal, rim_height: 30 in, trap: {{size: {trap}, kind: p, seal: 2 in}}}}"
    )
}

/// A node of a tree of drains: where it leads, size, slope, whether it is a stack, load.
type Branch = (proptest::sample::Index, usize, usize, bool, u32);

fn tree_text(tree: &[Branch], more: Option<(usize, u32)>) -> String {
    let mut text = String::from(
        "crownweir: network/1\nname: tree\ndrains:\n  - {kind: building_drain, size: 3 in, slope: 1/4 in/ft, path: [{fitting: {name: N0}}, {pipe: {name: last, length: 20 ft}}, {disposal: {name: sewer}}]}\n",
    );
    for (number, (parent, size, slope, stack, load)) in tree.iter().enumerate() {
        let own = number + 1;
        let parent = parent.index(own);
        let (kind, slope) = if *stack {
            ("stack", "vertical")
        } else {
            ("branch", SLOPES[*slope])
        };
        text.push_str(&format!("  - {{kind: {kind}, size: {}, slope: {slope}, path: [{{fitting: {{name: N{own}}}}}, {{pipe: {{name: P{own}, length: 9 ft}}}}, {{at: N{parent}}}]}}\n", SIZES[*size]));
        let extra = more.filter(|more| more.0 == number).map_or(0, |more| more.1);
        text.push_str(&format!("  - {{size: 3 in, slope: 1/4 in/ft, path: [{{fixture: {{name: F{own}, type: connected_load, load: {} dfu}}}}, {{pipe: {{length: 1 ft}}}}, {{at: N{own}}}]}}\n", load + extra));
    }
    text
}

/// How the first trap of a little network is vented.
const SHAPES: [&str; 5] = ["own", "wet", "below", "stack", "line"];

/// A trap with an arm of so many inches, vented in one of the shapes.
fn arm_text(shape: &str, kind: &str, trap: &str, size: &str, slope: &str, inches: u32) -> String {
    let trap_line = |at: &str, first: &str| {
        format!(
            "  - {{size: {size}, storey: a, slope: {slope}, path: [{{{}}}, {{pipe: {{length: {inches} in}}}}, {first}{{at: {at}}}]}}\n",
            fixture("F", kind, trap)
        )
    };
    let other = |at: &str| {
        format!(
            "  - {{size: 2 in, storey: a, slope: 1/4 in/ft, path: [{{{}}}, {{pipe: {{length: 2 ft}}}}, {{at: {at}}}]}}\n",
            fixture("G", "lavatory", "1-1/4 in")
        )
    };
    let drains = match shape {
        "own" => trap_line("V", ""),
        "wet" => trap_line("J", "") + &other("V"),
        "below" => trap_line("J", "{fitting: {name: X}}, {pipe: {size: 3 in, length: 2 ft}}, ") + &other("X"),
        "line" => trap_line("J", "{fitting: {name: X}}, {pipe: {size: 3 in, length: 4 ft}}, ") + &other("V"),
        _ => trap_line("S", "") + &other("T"),
    };
    format!(
        "crownweir: network/1
name: arm
site: {{occupancy: private}}
storeys: [{{storey: a, elevation: 0 ft, height: 9 ft}}]
drains:
  - {{size: 3 in, storey: a, slope: 1/4 in/ft, path: [{{cleanout: {{name: C}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: V}}}}, {{pipe: {{length: 2 ft}}}}, {{fitting: {{name: J}}}}, {{pipe: {{length: 9 ft}}}}, {{at: N}}]}}
  - {{kind: stack, size: 3 in, slope: vertical, path: [{{fitting: {{name: T}}}}, {{pipe: {{length: 5 ft}}}}, {{fitting: {{name: S}}}}, {{pipe: {{length: 5 ft}}}}, {{at: N}}]}}
  - {{kind: building_drain, size: 4 in, slope: 1/4 in/ft, path: [{{cleanout: {{name: Z}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: N}}}}, {{pipe: {{length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}
{drains}vents:
  - {{size: 2 in, slope: vertical, path: [{{at: V}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: roof}}}}]}}
  - {{kind: stack_vent, size: 3 in, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: top}}}}]}}
"
    )
}

/// A fixture of a line: type, size, whether a vent of its own stands on its drain, the joint that it enters.
type Placed = (usize, usize, bool, usize);

/// A line with joints and vents at some of them; no two fixture drains of one length, for of twins only the name can
/// tell which comes first. `name` gives each thing its name, `order` the order of the runs.
fn line_text(fixtures: &[Placed], vents: &[bool], name: &dyn Fn(&str) -> String, reversed: bool) -> String {
    let mut path = format!(
        "{{cleanout: {{name: {}}}}}, {{pipe: {{name: {}, length: 1 ft}}}}",
        name("C"),
        name("P")
    );
    let mut runs = Vec::new();
    let mut dry = Vec::new();
    for (number, vented) in vents.iter().enumerate() {
        let joint = name(&format!("J{number}"));
        path.push_str(&format!(
            ", {{fitting: {{name: {joint}}}}}, {{pipe: {{name: {}, length: 2 ft}}}}",
            name(&format!("Q{number}"))
        ));
        if *vented {
            dry.push(format!("  - {{size: 2 in, slope: vertical, path: [{{at: {joint}}}, {{pipe: {{name: {}, length: 20 ft}}}}, {{terminal: {{name: {}}}}}]}}\n", name(&format!("D{number}")), name(&format!("R{number}"))));
        }
    }
    for (number, (kind, size, vented, at)) in fixtures.iter().enumerate() {
        let (own, joint) = (name(&format!("F{number}")), name(&format!("J{at}")));
        let tee = name(&format!("T{number}"));
        runs.push(format!("  - {{size: {}, storey: a, slope: 1/4 in/ft, path: [{{{}}}, {{pipe: {{name: {}, length: 2 ft}}}}, {{fitting: {{name: {tee}}}}}, {{pipe: {{name: {}, length: {} in}}}}, {{at: {joint}}}]}}\n", SIZES[*size], fixture(&own, TYPES[*kind], "1-1/2 in"), name(&format!("A{number}")), name(&format!("B{number}")), 12 + number));
        if *vented {
            dry.push(format!("  - {{size: 2 in, slope: vertical, path: [{{at: {tee}}}, {{pipe: {{name: {}, length: 20 ft}}}}, {{terminal: {{name: {}}}}}]}}\n", name(&format!("E{number}")), name(&format!("S{number}"))));
        }
    }
    runs.push(format!(
        "  - {{size: 3 in, storey: a, slope: 1/4 in/ft, path: [{path}, {{disposal: {{name: {}}}}}]}}\n",
        name("sewer")
    ));
    if reversed {
        runs.reverse();
        dry.reverse();
    }
    let dry = if dry.is_empty() {
        String::new()
    } else {
        format!("vents:\n{}", dry.concat())
    };
    format!(
        "crownweir: network/1\nname: line\nsite: {{occupancy: private}}\nstoreys: [{{storey: a, elevation: 0 ft, height: 9 ft}}]\ndrains:\n{}{dry}",
        runs.concat()
    )
}

/// Storeys alike on one stack: on each, fixtures on a branch, the first with a vent, the others with one or without.
fn storeys_text(storeys: u32, fixtures: &[(usize, usize, bool)]) -> String {
    let mut branch = String::from("{cleanout: {name: \"C {storey}\"}}, {pipe: {length: 1 ft}}");
    let mut runs = String::new();
    let mut vents = String::new();
    for (number, (kind, size, vented)) in fixtures.iter().enumerate() {
        let joint = format!("\"J{number} {{storey}}\"");
        branch.push_str(&format!(
            ", {{fitting: {{name: {joint}}}}}, {{pipe: {{length: 2 ft}}}}"
        ));
        runs.push_str(&format!("      - {{size: {}, storey: '{{storey}}', slope: 1/4 in/ft, path: [{{{}}}, {{pipe: {{length: 2 ft}}}}, {{at: {joint}}}]}}\n", SIZES[*size], fixture(&format!("\"F{number} {{storey}}\""), TYPES[*kind], "1-1/2 in")));
        // What gets its air through the stack hangs on the storeys above; a vent at the head of the branch keeps it from that.
        if *vented || number == 0 {
            vents.push_str(&format!("      - {{size: 2 in, slope: vertical, path: [{{at: {joint}}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: \"R{number} {{storey}}\"}}}}]}}\n"));
        }
    }
    let vents = if vents.is_empty() {
        vents
    } else {
        format!("    vents:\n{vents}")
    };
    format!("crownweir: network/1
name: storeys
site: {{occupancy: private}}
storeys: [{{storey: cellar, elevation: 0 ft, height: 9 ft}}, {{storey: \"{{number}}\", numbers: 1..{storeys}, height: 9 ft}}]
drains:
  - {{run: main, kind: stack, size: 4 in, slope: vertical, path: [{{fitting: {{name: T cellar}}}}, {{pipe: {{length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}
repeat:
  - storeys: 1..{storeys}
    drains:
      - {{run: main, kind: stack, size: 4 in, slope: vertical, path: [{{fitting: {{name: \"T {{storey}}\"}}}}, {{pipe: {{name: \"stack {{storey}}\", length: 9 ft}}}}, {{at: \"T {{below}}\"}}]}}
      - {{size: 3 in, storey: '{{storey}}', slope: 1/4 in/ft, path: [{branch}, {{at: \"T {{storey}}\"}}]}}
{runs}{vents}vents:
  - {{kind: stack_vent, size: 4 in, slope: vertical, path: [{{at: T {storeys}}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: top}}}}]}}
")
}

/// What is found on the branches of the storeys up to `storey`, by fixture, branch and vent.
fn found_up_to(report: &Report, storey: u32) -> BTreeSet<(String, String, String)> {
    let shared = ["stack", "system", "branch interval"];
    let found = report.findings.iter().filter(|one| {
        let number = one.storey.as_deref().and_then(|name| name.parse::<u32>().ok());
        number.is_some_and(|number| number <= storey)
            && !shared.contains(&one.kind.as_str())
            && !one.name.starts_with("stack ")
    });
    found
        .map(|one| (one.rule.clone(), one.name.clone(), one.message.clone()))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn more_load_never_mends_a_drain(
        tree in proptest::collection::vec((any::<proptest::sample::Index>(), 0..SIZES.len(), 0..SLOPES.len(), any::<bool>(), 0_u32..30), 1..20),
        at in any::<proptest::sample::Index>(),
        more in 1_u32..200,
    ) {
        let before = violated(&checked(&tree_text(&tree, None)));
        let after = violated(&checked(&tree_text(&tree, Some((at.index(tree.len()), more)))));
        let capacity = |one: &&(String, String)| one.0.contains("capacity") || one.0.ends_with("-size");
        let mended: Vec<_> = before.iter().filter(capacity).filter(|one| !after.contains(*one)).collect();
        prop_assert!(mended.is_empty(), "{mended:?}");
    }

    #[test]
    fn a_longer_arm_is_never_better(
        shape in 0..SHAPES.len(), kind in 0..TYPES.len(), trap in 0..4_usize, size in 0..5_usize, slope in 0..SLOPES.len(),
        inches in 6_u32..200, more in 1_u32..200,
    ) {
        let faults = |inches: u32| {
            let text = arm_text(SHAPES[shape], TYPES[kind], SIZES[trap], SIZES[size], SLOPES[slope], inches);
            let found = violated(&checked(&text));
            let asked = ["trap-arm-length", "trap-arm-fall", "trap-protection"];
            found.into_iter().any(|(rule, name)| name == "F" && asked.contains(&rule.as_str()))
        };
        prop_assert!(!faults(inches) || faults(inches + more), "{} in is at fault and {} in is not", inches, inches + more);
    }

    #[test]
    fn names_and_order_change_no_finding(
        fixtures in proptest::collection::vec((0..TYPES.len(), 0..SIZES.len(), any::<bool>(), 0..5_usize), 1..9),
        vents in proptest::collection::vec(any::<bool>(), 5),
        seed in any::<u64>(),
    ) {
        let plain = |name: &str| name.to_owned();
        // Other names, in another order of the alphabet; the first one is kept behind them to be told by.
        let other = |name: &str| {
            let mut hash = seed;
            for byte in name.bytes() {
                hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
            }
            format!("n{hash:x}_{name}")
        };
        let told = |text: &str| {
            let report = checked(text);
            let found = report.findings.iter().map(|one| {
                let name = one.name.rsplit('_').next().unwrap_or_default().to_owned();
                let message: Vec<_> = one.message.split('`').step_by(2).map(str::to_owned).collect();
                (one.rule.clone(), name, one.verdict, message)
            });
            let mut found: Vec<_> = found.collect();
            found.sort();
            found
        };
        let first = told(&line_text(&fixtures, &vents, &plain, false));
        prop_assert_eq!(&first, &told(&line_text(&fixtures, &vents, &plain, true)));
        prop_assert_eq!(&first, &told(&line_text(&fixtures, &vents, &other, false)));
    }

    #[test]
    fn one_storey_more_changes_nothing_on_the_others(
        fixtures in proptest::collection::vec((0..TYPES.len(), 2..SIZES.len(), any::<bool>()), 1..5),
        storeys in 2_u32..5,
    ) {
        let few = checked(&storeys_text(storeys, &fixtures));
        let many = checked(&storeys_text(storeys + 1, &fixtures));
        // What stands highest has no water from above; a copy of it, and all below, have.
        let (few, many) = (found_up_to(&few, storeys - 1), found_up_to(&many, storeys - 1));
        let apart: Vec<_> = few.symmetric_difference(&many).collect();
        prop_assert!(apart.is_empty(), "{apart:?}");
    }
}
