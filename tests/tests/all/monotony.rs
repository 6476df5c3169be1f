//! What must hold by every code of networks that differ in one thing: more load, one fixture more, a larger pipe, a
//! longer arm, a shorter vent, other names, one storey more.

use std::collections::{BTreeMap, BTreeSet};

use crate::codes::{CODES, Code};
use crownweir::{Fact, Got, Measured, Report, Subject, Value, Verdict, check};
use crownweir_tests::network;
use proptest::prelude::*;

fn checked(code: &Code, text: &str) -> Report {
    check(&network(text), &code.rules).unwrap_or_else(|error| panic!("{error}"))
}

/// How many sizes a code gives here.
const SIZES: usize = 6;
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
        "fixture: {{name: {name}, type: {kind}, flush_volume: 6 L, flush: tank, urinal: wall, rim_height: 30 in, trap: {{size: {trap}, kind: p, seal: 2 in}}}}"
    )
}

/// The rules by which an arm can be too long, and the shortest arm, in inches, from which on a longer one can only be
/// worse: by NPC 2020, sentence 2.5.1.1.(3), a floor drain does without a vent from 450 mm of drain on.
fn arms(code: &Code) -> (&'static [&'static str], u32) {
    match code.rules.name.as_str() {
        "upc-2021" => (
            &[
                "trap-arm-length",
                "trap-arm-fall",
                "trap-protection",
                "closet-to-vent",
            ],
            6,
        ),
        "npc-2020" => (
            &[
                "trap-arm-length",
                "trap-arm-fall",
                "trap-protection",
                "closet-arm-run",
            ],
            18,
        ),
        "en-12056-2" => (&["branch-length", "branch-drop", "trap-protection"], 6),
        _ => (&["trap-arm-length", "trap-arm-fall", "trap-protection"], 6),
    }
}

/// Whether a rule asks whether a drain can carry its load.
fn is_capacity(rule: &str) -> bool {
    let words = ["capacity", "-flow", "branch-load", "wet-vent-size"];
    words.iter().any(|word| rule.contains(word))
}

/// A node of a tree of drains: where it leads, size, slope, whether it is a stack, load.
type Branch = (proptest::sample::Index, usize, usize, bool, u32);

fn tree_text(code: &Code, tree: &[Branch], more: Option<(usize, u32)>, larger: Option<usize>) -> String {
    let (site, unit, [.., three, _]) = (code.site, code.unit, code.sizes);
    let mut text = format!(
        "crownweir: network/1\nname: tree\nsite: {{{site}}}\ndrains:\n  - {{kind: building_drain, size: {three}, slope: 1/4 in/ft, path: [{{fitting: {{name: N0}}}}, {{pipe: {{name: last, length: 20 ft}}}}, {{disposal: {{name: sewer}}}}]}}\n",
    );
    for (number, (parent, size, slope, stack, load)) in tree.iter().enumerate() {
        let own = number + 1;
        let parent = parent.index(own);
        let (kind, slope) = if *stack {
            ("stack", "vertical")
        } else {
            ("branch", SLOPES[*slope])
        };
        text.push_str(&format!("  - {{kind: {kind}, size: {}, slope: {slope}, path: [{{fitting: {{name: N{own}}}}}, {{pipe: {{name: P{own}, length: 9 ft}}}}, {{at: N{parent}}}]}}\n", code.sizes[size + usize::from(larger == Some(number))]));
        let extra = more.filter(|more| more.0 == number).map_or(0, |more| more.1);
        text.push_str(&format!("  - {{size: {three}, slope: 1/4 in/ft, path: [{{fixture: {{name: F{own}, type: connected_load, load: {} {unit}}}}}, {{pipe: {{length: 1 ft}}}}, {{at: N{own}}}]}}\n", load + extra));
    }
    text
}

/// How the first trap of a little network is vented.
const SHAPES: [&str; 5] = ["own", "wet", "below", "stack", "line"];

/// A trap with an arm of so many inches, vented in one of the shapes.
fn arm_text(
    code: &Code,
    shape: &str,
    kind: &str,
    trap: &str,
    size: &str,
    slope: &str,
    inches: u32,
) -> String {
    let (site, [small, _, two, _, three, four]) = (code.site, code.sizes);
    let trap_line = |at: &str, first: &str| {
        format!(
            "  - {{size: {size}, storey: a, slope: {slope}, path: [{{{}}}, {{pipe: {{length: {inches} in}}}}, {first}{{at: {at}}}]}}\n",
            fixture("F", kind, trap)
        )
    };
    let other = |at: &str| {
        format!(
            "  - {{size: {two}, storey: a, slope: 1/4 in/ft, path: [{{{}}}, {{pipe: {{length: 2 ft}}}}, {{at: {at}}}]}}\n",
            fixture("G", "lavatory", small)
        )
    };
    let drains = match shape {
        "own" => trap_line("V", ""),
        "wet" => trap_line("J", "") + &other("V"),
        "below" => {
            let joint = format!("{{fitting: {{name: X}}}}, {{pipe: {{size: {three}, length: 2 ft}}}}, ");
            trap_line("J", &joint) + &other("X")
        }
        "line" => {
            let joint = format!("{{fitting: {{name: X}}}}, {{pipe: {{size: {three}, length: 4 ft}}}}, ");
            trap_line("J", &joint) + &other("V")
        }
        _ => trap_line("S", "") + &other("T"),
    };
    format!(
        "crownweir: network/1
name: arm
site: {{{site}}}
storeys: [{{storey: a, elevation: 0 ft, height: 9 ft}}]
drains:
  - {{size: {three}, storey: a, slope: 1/4 in/ft, path: [{{cleanout: {{name: C}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: V}}}}, {{pipe: {{length: 2 ft}}}}, {{fitting: {{name: J}}}}, {{pipe: {{length: 9 ft}}}}, {{at: N}}]}}
  - {{kind: stack, size: {three}, slope: vertical, path: [{{fitting: {{name: T}}}}, {{pipe: {{length: 5 ft}}}}, {{fitting: {{name: S}}}}, {{pipe: {{length: 5 ft}}}}, {{at: N}}]}}
  - {{kind: building_drain, size: {four}, slope: 1/4 in/ft, path: [{{cleanout: {{name: Z}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: N}}}}, {{pipe: {{length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}
{drains}vents:
  - {{size: {two}, slope: vertical, path: [{{at: V}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: roof}}}}]}}
  - {{kind: stack_vent, size: {three}, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: top}}}}]}}
"
    )
}

/// A fixture of a line: type, size, whether a vent of its own stands on its drain, the joint that it enters, whether it
/// is counted in the bathroom group.
type Placed = (usize, usize, bool, usize, bool);

/// The dry vents of a line: size, length in feet.
type Dry = (usize, u32);

const DRY: Dry = (2, 20);

/// A line with joints and vents at some of them; no two fixture drains of one length, for of twins only the name can
/// tell which comes first. `name` gives each thing its name, `order` the order of the runs.
fn line_text(
    code: &Code,
    fixtures: &[Placed],
    vents: &[bool],
    (vent, feet): Dry,
    name: &dyn Fn(&str) -> String,
    reversed: bool,
) -> String {
    let (site, [_, trap, .., three, _]) = (code.site, code.sizes);
    let vent = code.sizes[vent];
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
            dry.push(format!("  - {{size: {vent}, slope: vertical, path: [{{at: {joint}}}, {{pipe: {{name: {}, length: {feet} ft}}}}, {{terminal: {{name: {}}}}}]}}\n", name(&format!("D{number}")), name(&format!("R{number}"))));
        }
    }
    for (number, (kind, size, vented, at, grouped)) in fixtures.iter().enumerate() {
        let (own, joint) = (name(&format!("F{number}")), name(&format!("J{at}")));
        let tee = name(&format!("T{number}"));
        let group = if *grouped { "group: bath, " } else { "" };
        let grouped_fixture =
            fixture(&own, TYPES[*kind], trap).replace("rim_height", &format!("{group}rim_height"));
        runs.push(format!("  - {{size: {}, storey: a, slope: 1/4 in/ft, path: [{{{}}}, {{pipe: {{name: {}, length: 2 ft}}}}, {{fitting: {{name: {tee}}}}}, {{pipe: {{name: {}, length: {} in}}}}, {{at: {joint}}}]}}\n", code.sizes[*size], grouped_fixture, name(&format!("A{number}")), name(&format!("B{number}")), 12 + number));
        if *vented {
            dry.push(format!("  - {{size: {vent}, slope: vertical, path: [{{at: {tee}}}, {{pipe: {{name: {}, length: {feet} ft}}}}, {{terminal: {{name: {}}}}}]}}\n", name(&format!("E{number}")), name(&format!("S{number}"))));
        }
    }
    runs.push(format!(
        "  - {{size: {three}, storey: a, slope: 1/4 in/ft, path: [{path}, {{disposal: {{name: {}}}}}]}}\n",
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
        "crownweir: network/1\nname: line\nsite: {{{site}}}\nstoreys: [{{storey: a, elevation: 0 ft, height: 9 ft}}]\ndrains:\n{}{dry}",
        runs.concat()
    )
}

/// Storeys alike on one stack: on each, fixtures on a branch, the first with a vent, the others with one or without.
fn storeys_text(code: &Code, storeys: u32, fixtures: &[(usize, usize, bool)]) -> String {
    let (site, [_, trap, two, _, three, four]) = (code.site, code.sizes);
    let mut branch = String::from("{cleanout: {name: \"C {storey}\"}}, {pipe: {length: 1 ft}}");
    let mut runs = String::new();
    let mut vents = String::new();
    for (number, (kind, size, vented)) in fixtures.iter().enumerate() {
        let joint = format!("\"J{number} {{storey}}\"");
        branch.push_str(&format!(
            ", {{fitting: {{name: {joint}}}}}, {{pipe: {{length: 2 ft}}}}"
        ));
        runs.push_str(&format!("      - {{size: {}, storey: '{{storey}}', slope: 1/4 in/ft, path: [{{{}}}, {{pipe: {{length: 2 ft}}}}, {{at: {joint}}}]}}\n", code.sizes[*size], fixture(&format!("\"F{number} {{storey}}\""), TYPES[*kind], trap)));
        // What gets its air through the stack hangs on the storeys above; a vent at the head of the branch keeps it from that.
        if *vented || number == 0 {
            vents.push_str(&format!("      - {{size: {two}, slope: vertical, path: [{{at: {joint}}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: \"R{number} {{storey}}\"}}}}]}}\n"));
        }
    }
    let vents = if vents.is_empty() {
        vents
    } else {
        format!("    vents:\n{vents}")
    };
    format!("crownweir: network/1
name: storeys
site: {{{site}}}
storeys: [{{storey: cellar, elevation: 0 ft, height: 9 ft}}, {{storey: \"{{number}}\", numbers: 1..{storeys}, height: 9 ft}}]
drains:
  - {{run: main, kind: stack, size: {four}, slope: vertical, path: [{{fitting: {{name: T cellar}}}}, {{pipe: {{length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}
repeat:
  - storeys: 1..{storeys}
    drains:
      - {{run: main, kind: stack, size: {four}, slope: vertical, path: [{{fitting: {{name: \"T {{storey}}\"}}}}, {{pipe: {{name: \"stack {{storey}}\", length: 9 ft}}}}, {{at: \"T {{below}}\"}}]}}
      - {{size: {three}, storey: '{{storey}}', slope: 1/4 in/ft, path: [{branch}, {{at: \"T {{storey}}\"}}]}}
{runs}{vents}vents:
  - {{kind: stack_vent, size: {four}, slope: vertical, path: [{{at: T {storeys}}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: top}}}}]}}
")
}

/// What is found on the branches of the storeys up to `storey`, by fixture, branch and vent.
fn found_up_to(report: &Report, storey: u32) -> BTreeSet<(String, String, String)> {
    let shared = ["stack", "system", "branch interval"];
    let found = report.findings.iter().filter(|one| {
        let number = one.storey.as_deref().and_then(|name| name.parse::<u32>().ok());
        number.is_some_and(|number| number <= storey)
            && !shared.iter().any(|kind| one.kind.starts_with(kind))
            && !one.name.starts_with("stack ")
    });
    found
        .map(|one| (one.rule.clone(), one.name.clone(), one.message.clone()))
        .collect()
}

/// The loads of every drain, as far as they are known: in groups, and each fixture by itself.
fn loads(measured: &Measured<'_>) -> BTreeMap<(String, &'static str), Value> {
    let mut loads = BTreeMap::new();
    let graph = measured.network().graph();
    for pipe in graph.edge_indices() {
        let number = u32::try_from(pipe.index()).expect("a pipe's number");
        for fact in [Fact::DrainLoad, Fact::DrainWetLoad, Fact::DrainProbableFlow] {
            if let Got::Known(value) = measured.fact(Subject::Drain, number, fact) {
                loads.insert((graph[pipe].name.to_string(), fact.name()), value);
            }
        }
    }
    loads
}

/// Whether a fixture belongs to a bathroom group that is complete.
fn has_group(measured: &Measured<'_>) -> bool {
    let mut fixtures = measured.elements(Subject::Fixture).into_iter();
    fixtures.any(|fixture| {
        measured.fact(Subject::Fixture, fixture, Fact::FixtureGroupComplete) == Got::Known(Value::Truth(true))
    })
}

fn line() -> impl Strategy<Value = (Vec<Placed>, Vec<bool>)> {
    let placed = (0..TYPES.len(), 0..SIZES, any::<bool>(), 0..5_usize, any::<bool>());
    (
        proptest::collection::vec(placed, 1..9),
        proptest::collection::vec(any::<bool>(), 5),
    )
}

fn tree() -> impl Strategy<Value = Vec<Branch>> {
    let branch = (
        any::<proptest::sample::Index>(),
        0..SIZES - 1,
        0..SLOPES.len(),
        any::<bool>(),
        0_u32..30,
    );
    proptest::collection::vec(branch, 1..20)
}

fn plain(name: &str) -> String {
    name.to_owned()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    #[test]
    fn more_load_never_mends_a_drain(code in 0..4_usize, tree in tree(), at in any::<proptest::sample::Index>(), more in 1_u32..200) {
        let code = &CODES[code];
        let before = violated(&checked(code, &tree_text(code, &tree, None, None)));
        let after = violated(&checked(code, &tree_text(code, &tree, Some((at.index(tree.len()), more)), None)));
        let mended: Vec<_> = before.iter().filter(|one| is_capacity(&one.0)).filter(|one| !after.contains(*one)).collect();
        prop_assert!(mended.is_empty(), "{mended:?}");
    }

    #[test]
    fn a_larger_drain_carries_no_less(code in 0..4_usize, tree in tree(), at in any::<proptest::sample::Index>()) {
        let code = &CODES[code];
        let mut tree = tree;
        let at = at.index(tree.len());
        // The smallest sizes do not stand in every table.
        tree[at].1 = tree[at].1.max(2);
        let before = checked(code, &tree_text(code, &tree, None, None));
        let after = violated(&checked(code, &tree_text(code, &tree, None, Some(at))));
        let own = format!("P{}", at + 1);
        // One that lies too flat for its size is held to no load by some codes, and one whose cell is to be filled is open.
        let held = !before.findings.iter().any(|one| one.name == own && (is_capacity(&one.rule) || one.rule.contains("slope")));
        let at_fault: Vec<_> = after.iter().filter(|one| one.1 == own && is_capacity(&one.0)).collect();
        prop_assert!(!held || at_fault.is_empty(), "{at_fault:?}");
    }

    #[test]
    fn a_fixture_more_never_lowers_a_load(code in 0..4_usize, (fixtures, vents) in line()) {
        let code = &CODES[code];
        let texts = [&fixtures[..fixtures.len() - 1], &fixtures[..]];
        let [few, many] = texts.map(|fixtures| network(&line_text(code, fixtures, &vents, DRY, &plain, false)));
        let [few, many] = [&few, &many].map(|network| Measured::new(network, &code.rules).expect("known sizes"));
        // A fixture that completes a bathroom group has the whole counted as one. By the International Plumbing Code a
        // closet, a bathtub and a bidet count 6 dfu together, each by itself, and with a lavatory they are a group of 5.
        let completes = has_group(&many) && !has_group(&few);
        let (few, many) = (loads(&few), loads(&many));
        for (of, few) in few {
            let counts_groups = of.1 != Fact::DrainWetLoad.name();
            let order = many.get(&of).and_then(|many| few.compare(*many));
            prop_assert!(order != Some(std::cmp::Ordering::Greater) || (completes && counts_groups), "{of:?}: {few:?}");
        }
    }

    #[test]
    fn a_longer_arm_is_never_better(
        code in 0..4_usize, shape in 0..SHAPES.len(), kind in 0..TYPES.len(), trap in 0..4_usize, size in 0..5_usize, slope in 0..SLOPES.len(),
        inches in 0_u32..200, more in 1_u32..200,
    ) {
        let code = &CODES[code];
        let (rules, least) = arms(code);
        let inches = least + inches;
        let faults = |inches: u32| {
            let text = arm_text(code, SHAPES[shape], TYPES[kind], code.sizes[trap], code.sizes[size], SLOPES[slope], inches);
            let found = violated(&checked(code, &text));
            found.into_iter().any(|(rule, name)| name == "F" && rules.contains(&rule.as_str()))
        };
        prop_assert!(!faults(inches) || faults(inches + more), "{} in is at fault and {} in is not", inches, inches + more);
    }

    #[test]
    fn a_shorter_or_larger_vent_is_never_worse(
        code in 0..4_usize, (fixtures, vents) in line(), size in 0..SIZES - 1, feet in 10_u32..400, less in 1_u32..400,
    ) {
        let code = &CODES[code];
        // By its name: one that is too small is held to no length by some codes, and one whose cell is to be filled is open.
        let found = |dry: Dry, open: bool| {
            let report = checked(code, &line_text(code, &fixtures, &vents, dry, &plain, false));
            let asked = |rule: &str| rule.contains("vent") && (rule.ends_with("-length") || rule.ends_with("vent-size") || rule == "vent-half-size");
            let found = report.findings.into_iter().filter(|one| asked(&one.rule) && (open || one.verdict == Verdict::Violated));
            found.map(|one| one.name).collect::<BTreeSet<_>>()
        };
        let before = found((size, feet), true);
        for dry in [(size, feet.saturating_sub(less).max(1)), (size + 1, feet)] {
            let after = found(dry, false);
            let worse: Vec<_> = after.difference(&before).collect();
            prop_assert!(worse.is_empty(), "{dry:?}: {worse:?}");
        }
    }

    #[test]
    fn names_and_order_change_no_finding(code in 0..4_usize, (fixtures, vents) in line(), seed in any::<u64>()) {
        let code = &CODES[code];
        // Other names, in another order of the alphabet; the first one is kept behind them to be told by.
        let other = |name: &str| {
            let mut hash = seed;
            for byte in name.bytes() {
                hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
            }
            format!("n{hash:x}_{name}")
        };
        let told = |text: &str| {
            let report = checked(code, text);
            let found = report.findings.iter().map(|one| {
                let name = one.name.rsplit('_').next().unwrap_or_default().to_owned();
                let message: Vec<_> = one.message.split('`').step_by(2).map(str::to_owned).collect();
                (one.rule.clone(), name, one.verdict, message)
            });
            let mut found: Vec<_> = found.collect();
            found.sort();
            found
        };
        let first = told(&line_text(code, &fixtures, &vents, DRY, &plain, false));
        prop_assert_eq!(&first, &told(&line_text(code, &fixtures, &vents, DRY, &plain, true)));
        prop_assert_eq!(&first, &told(&line_text(code, &fixtures, &vents, DRY, &other, false)));
    }

    #[test]
    fn one_storey_more_changes_nothing_on_the_others(
        code in 0..4_usize,
        fixtures in proptest::collection::vec((0..TYPES.len(), 2..SIZES, any::<bool>()), 1..5),
        storeys in 2_u32..5,
    ) {
        let code = &CODES[code];
        let few = checked(code, &storeys_text(code, storeys, &fixtures));
        let many = checked(code, &storeys_text(code, storeys + 1, &fixtures));
        // What stands highest has no water from above; a copy of it, and all below, have.
        let (few, many) = (found_up_to(&few, storeys - 1), found_up_to(&many, storeys - 1));
        let apart: Vec<_> = few.symmetric_difference(&many).collect();
        prop_assert!(apart.is_empty(), "{apart:?}");
    }
}
