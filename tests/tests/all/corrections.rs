//! The thirty commonest rough-in corrections (compiled from inspection checklists and offices' lists of frequent
//! corrections): each is found in a network that has it, or is on the list of what to confirm on site.

use crownweir::Verdict;
use crownweir_tests::{checked, network_text, without_plan};

enum Expect {
    /// A finding of this rule on this element.
    Found(&'static str, &'static str),
    /// An entry of this rule on the list for the visit.
    OnSite(&'static str),
}
use Expect::{Found, OnSite};

struct Correction {
    number: u32,
    what: &'static str,
    edits: &'static [(&'static str, &'static str)],
    expect: Expect,
}

const fn correction(
    number: u32,
    what: &'static str,
    edits: &'static [(&'static str, &'static str)],
    expect: Expect,
) -> Correction {
    Correction {
        number,
        what,
        edits,
        expect,
    }
}

const CORRECTIONS: &[Correction] = &[
    correction(
        1,
        "trap without a vent",
        &[(
            "at: washer tee}, {pipe: {name: washer vent}}, {at: V4}",
            "at: laundry cleanout}, {pipe: {name: washer vent}}, {at: V4}",
        )],
        Found("trap-protection", "washer"),
    ),
    correction(
        2,
        "trap arm too long",
        &[(
            "{name: basin arm, length: 600 mm}",
            "{name: basin arm, length: 1600 mm}",
        )],
        Found("trap-arm-length", "basin"),
    ),
    correction(
        3,
        "trap arm falls by more than its diameter",
        &[(
            "{name: sink arm, length: 800 mm}",
            "{name: sink arm, length: 800 mm, slope: 1:15}",
        )],
        Found("trap-arm-fall", "sink"),
    ),
    correction(
        4,
        "flat vent below the rim",
        &[(
            "- fitting: {name: V1, pattern: vent_quarter_bend}\n      - pipe: {name: level vent, slope: 1:96, length: 1200 mm}",
            "- fitting: {name: V1, pattern: vent_quarter_bend, height: 700 mm}\n      - pipe: {name: level vent, slope: 1:96, length: 1200 mm}\n      - fitting: {name: V1b}\n      - pipe: {slope: vertical}",
        )],
        Found("vent-turned-too-low", "level vent"),
    ),
    correction(
        5,
        "vent leaves a drain at its side",
        &[(
            "- pipe: {name: floor drain vent, slope: vertical}",
            "- pipe: {name: floor drain vent, slope: 1:48, length: 200 mm}\n      - fitting: {name: V3a}\n      - pipe: {slope: vertical}",
        )],
        Found("vent-take-off", "floor drain vent"),
    ),
    correction(
        6,
        "vent upstream of where the trap joins",
        &[(
            "at: washer tee}, {pipe: {name: washer vent}}",
            "at: laundry cleanout}, {pipe: {name: washer vent}}",
        )],
        Found("trap-protection", "washer"),
    ),
    correction(
        7,
        "crown vent",
        &[(
            "{name: basin arm, length: 600 mm}",
            "{name: basin arm, length: 60 mm}",
        )],
        Found("crown-vent", "basin"),
    ),
    correction(
        8,
        "sanitary tee laid flat",
        &[("{name: D, pattern: wye}", "{name: D, pattern: sanitary_tee}")],
        Found("fitting-for-turn", "D"),
    ),
    correction(
        9,
        "short bend at the base of a stack",
        &[(
            "{name: foot, pattern: combination_wye}",
            "{name: foot, pattern: quarter_bend}",
        )],
        Found("fitting-for-turn", "foot"),
    ),
    correction(
        10,
        "closets back to back on a double sanitary tee",
        &[
            (
                "- pipe: {name: stack between}",
                "- pipe: {name: stack between}\n      - fitting: {name: tee 3, pattern: double_sanitary_tee, storey: ground, height: 2400 mm}\n      - pipe: {name: stack middle}",
            ),
            (
                "drains:\n  - run: bath\n",
                "drains:\n  - {size: DN 75, slope: 1:48, storey: upper, path: [{fixture: {name: closet 2, type: water_closet, flush_volume: 6 L, trap: {kind: integral}}}, {pipe: {length: 300 mm}}, {at: tee 3}]}\n  - {size: DN 75, slope: 1:48, storey: upper, path: [{fixture: {name: closet 3, type: water_closet, flush_volume: 6 L, trap: {kind: integral}}}, {pipe: {length: 300 mm}}, {at: tee 3}]}\n  - run: bath\n",
            ),
        ],
        Found("opposed-water-closets", "tee 3"),
    ),
    correction(
        11,
        "too little fall",
        &[(
            "{name: drain 2, length: 6 m}",
            "{name: drain 2, length: 6 m, slope: 1:200}",
        )],
        Found("drain-slope", "drain 2"),
    ),
    correction(
        12,
        "too much fall",
        &[(
            "{name: closet drain, length: 600 mm}",
            "{name: closet drain, length: 600 mm, slope: 1:10}",
        )],
        Found("drain-too-steep", "closet drain"),
    ),
    correction(
        13,
        "drain too small for its load",
        &[(
            "{name: laundry branch, length: 1200 mm}",
            "{name: laundry branch, length: 1200 mm, size: DN 40}",
        )],
        Found("building-drain-branch-capacity", "laundry branch"),
    ),
    correction(
        14,
        "size reduced in the direction of flow",
        &[(
            "{name: drain 3, length: 900 mm}",
            "{name: drain 3, length: 900 mm, size: DN 80}",
        )],
        Found("drain-reduced", "drain 3"),
    ),
    correction(
        15,
        "standpipe too short",
        &[(
            "rim_height: 1000 mm, weir_height: 300 mm, standpipe_height: 700 mm",
            "rim_height: 600 mm, weir_height: 300 mm, standpipe_height: 300 mm",
        )],
        Found("standpipe-height", "washer"),
    ),
    correction(
        16,
        "water closet on less than 3 in",
        &[(
            "{name: closet drain, length: 600 mm}",
            "{name: closet drain, length: 600 mm, size: DN 50}",
        )],
        Found("water-closet-drain", "closet drain"),
    ),
    correction(
        17,
        "vent too small",
        &[(
            "{name: basin vent, slope: vertical}",
            "{name: basin vent, slope: vertical, size: DN 32}",
        )],
        Found("vent-size", "basin vent"),
    ),
    correction(
        18,
        "kitchen sink on a bathroom's wet vent",
        &[(
            "- pipe: {name: kitchen branch, length: 1200 mm}\n      - at: tee 2",
            "- pipe: {name: kitchen branch, length: 1200 mm}\n      - at: B",
        )],
        Found("trap-protection", "tub"),
    ),
    correction(
        19,
        "branch too near the base of a stack",
        &[
            (
                "{name: drain 1, length: 1800 mm}",
                "{name: drain 1, length: 500 mm}",
            ),
            (
                "      - pipe: {name: stack}\n",
                "      - pipe: {length: 300 mm}\n      - fitting: {name: tee 3, pattern: sanitary_tee, storey: ground}\n      - pipe: {name: stack}\n",
            ),
            (
                "drains:\n  - run: bath\n",
                "drains:\n  - {size: DN 50, slope: 1:48, storey: ground, path: [{fixture: {name: lower, type: connected_load, load: 1 dfu}}, {pipe: {length: 1 m}}, {at: tee 3}]}\n  - run: bath\n",
            ),
        ],
        Found("branch-near-stack-base", "laundry branch"),
    ),
    correction(
        20,
        "tall stack without a vent stack",
        &[
            (
                "  - {storey: upper, height: 2600 mm}",
                "  - {storey: upper, height: 2600 mm}\n  - {storey: \"{number}\", numbers: 1..5, height: 2600 mm}",
            ),
            (
                "vents:\n",
                "repeat:\n  - storeys: 1..5\n    drains:\n      - {run: tall, kind: stack, size: DN 100, slope: vertical, path: [{fitting: {name: \"X {storey}\", pattern: sanitary_tee, storey: \"{storey}\"}}, {pipe: {length: 2600 mm}}, {at: \"X {below}\"}]}\n      - {size: DN 75, slope: 1:48, path: [{fixture: {name: \"load {storey}\", type: connected_load, load: 5 dfu}}, {pipe: {length: 1 m}}, {at: \"X {storey}\"}]}\nvents:\n",
            ),
            (
                "drains:\n  - run: bath\n",
                "drains:\n  - {run: tall, kind: stack, size: DN 100, slope: vertical, path: [{fitting: {name: X upper}}, {pipe: {length: 3 m}}, {at: laundry wye}]}\n  - run: bath\n",
            ),
        ],
        Found("vent-stack-needed", "tall"),
    ),
    correction(
        21,
        "air admittance valve out of reach",
        &[(
            "- pipe: {slope: 1:96, length: 1200 mm}\n      - at: kitchen joint",
            "- pipe: {slope: 1:96, length: 1200 mm}\n      - valve: {name: valve, kind: branch, height_above_drain: 300 mm, accessible: false}",
        )],
        Found("valve-access", "valve"),
    ),
    correction(
        22,
        "no vent of sufficient size to open air",
        &[(
            "{name: roof vent, length: 2600 mm}",
            "{name: roof vent, length: 2600 mm, size: DN 32}",
        )],
        Found("building-vent-size", "Larch Terrace fourplex, dwelling 1"),
    ),
    correction(
        23,
        "cleanout missing",
        &[(
            "- cleanout: {name: last cleanout, size: DN 100, clearance: 600 mm, accessible: true}",
            "- fitting: {name: last cleanout, pattern: coupling}",
        )],
        Found("cleanout-at-junction", "Larch Terrace fourplex, dwelling 1"),
    ),
    correction(
        24,
        "cleanout covered",
        &[(
            "{name: last cleanout, size: DN 100, clearance: 600 mm, accessible: true}",
            "{name: last cleanout, size: DN 100, clearance: 600 mm, accessible: false}",
        )],
        Found("cleanout-access", "last cleanout"),
    ),
    correction(
        25,
        "no test, or too low a head",
        &[("head: 3.05 m", "head: 1 m")],
        Found("water-test-head", "whole dwelling"),
    ),
    correction(
        26,
        "plastic tested with air",
        &[("medium: water, head: 3.05 m", "medium: air")],
        Found("air-test-of-plastic", "whole dwelling"),
    ),
    correction(
        27,
        "supports too far apart",
        &[(
            "horizontal_support_spacing: 1200 mm",
            "horizontal_support_spacing: 1800 mm",
        )],
        Found("horizontal-supports", "basin arm"),
    ),
    correction(28, "no nail plates, framing cut too far", &[], OnSite("framing")),
    correction(29, "bedding, bearing plane, sleeves", &[], OnSite("bedding")),
    correction(
        30,
        "terminal too low",
        &[("height_above_roof: 300 mm", "height_above_roof: 50 mm")],
        Found("roof-terminal-height", "roof"),
    ),
];

#[test]
fn each_of_the_thirty_is_found_or_listed_for_the_visit() {
    // A mistake moves pipes; where they lie in plan is not what is corrected here.
    let clean = without_plan(&network_text("larch-terrace.yaml"));
    assert!(
        checked(&clean).findings.is_empty(),
        "the network without mistakes has findings"
    );
    let numbers: Vec<u32> = CORRECTIONS.iter().map(|correction| correction.number).collect();
    assert_eq!(numbers, (1..=30).collect::<Vec<_>>());
    for correction in CORRECTIONS {
        let mut text = clean.clone();
        for (from, to) in correction.edits {
            assert_eq!(text.matches(from).count(), 1, "{}: {from}", correction.what);
            text = text.replace(from, to);
        }
        let report = checked(&text);
        match correction.expect {
            Found(rule, name) => {
                let found = report.findings.iter().any(|finding| {
                    finding.rule == rule && finding.name == name && finding.verdict == Verdict::Violated
                });
                let all: Vec<_> = report.findings.iter().map(|one| (&one.rule, &one.name)).collect();
                assert!(found, "{} {}: {all:?}", correction.number, correction.what);
            }
            OnSite(rule) => {
                assert!(
                    report.on_site.iter().any(|visit| visit.rule == rule),
                    "{}",
                    correction.what
                );
            }
        }
    }
}
