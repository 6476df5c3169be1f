//! The demo buildings by UPC 2021: what passes passes whole, and of what was got wrong for this code alone nothing is
//! missed and nothing else is found. Figures of the reference list are read back by the engine's own look-up.

use std::collections::BTreeSet;

use crownweir::quantity::{Length, Load};
use crownweir::{Day, Limits, Report, RuleSet, Severity, Text, Value, Verdict, check, published};
use crownweir_tests::{network, network_text, rules};

fn report(name: &str, by: &str) -> Report {
    check(&network(&network_text(name)), &rules(by)).unwrap_or_else(|error| panic!("{error}"))
}

fn found(report: &Report) -> BTreeSet<(&str, &str)> {
    let found = report.findings.iter();
    found.map(|one| (one.rule.as_str(), one.name.as_str())).collect()
}

fn passes_whole(name: &str, fixtures: usize, load: &str) {
    for by in ["upc-2021", "ipc-2021"] {
        let report = report(name, by);
        assert_eq!(found(&report), BTreeSet::new(), "{name} by {by}");
        let protected: usize = report.protected.iter().map(|one| one.traps).sum();
        assert_eq!((report.fixtures, protected), (fixtures, fixtures));
    }
    let report = report(name, "upc-2021");
    assert_eq!(report.load.as_deref(), Some(load));
    let ran = report.summary.iter().filter(|row| row.satisfied > 0).count();
    assert!(ran >= 45, "only {ran} rules found anything to hold for");
}

// Loads by hand from table 702.1 (as in the rule set), private: closet 3, basin 1, bathtub 2, sink 2, washer 3, floor
// drain 2.
#[test]
fn the_dwelling_passes_whole() {
    passes_whole("larch-terrace-upc.yaml", 6, "13 dfu");
}

// Public: six closets 24, eight basins 8, bathtub 2, five showers 10, sink 2, dishwasher 2, two washers 6, tray 2,
// three floor drains 6, urinal 2.
#[test]
fn the_boathouse_passes_whole() {
    passes_whole("heron-point-upc.yaml", 29, "64 dfu");
}

fn finds_exactly(name: &str, expected: &[(&str, &str)], by_permission: &[&str]) {
    let by_the_other = report(name, "ipc-2021");
    assert_eq!(found(&by_the_other), BTreeSet::new(), "{name} by ipc-2021");
    let report = report(name, "upc-2021");
    assert_eq!(found(&report), expected.iter().copied().collect());
    assert_eq!(report.findings.len(), expected.len(), "each once");
    for finding in &report.findings {
        assert_eq!(finding.verdict, Verdict::Violated, "{}", finding.rule);
        let gated = finding.severity == Severity::NeedsApproval;
        assert_eq!(gated, by_permission.contains(&finding.rule.as_str()));
    }
}

#[test]
fn mistakes_in_the_dwelling_are_found_and_nothing_else() {
    let expected = [
        // 1200 mm, and 42 in are 1066.8.
        ("trap-arm-length", "tub"),
        ("trap-and-arm", "basin"),
        // The whole wet vent of 6 dfu with its closet hangs on both pipes.
        ("closet-vent-size", "basin vent"),
        ("closet-vent-size", "level vent"),
        // 800 mm, and 30 in are 762.
        ("standpipe-height", "washer"),
        // At 1:96 the sewer has to be of 4 in, and the only vent is of 3.
        ("gentle-slope", "drain 3"),
        ("gentle-building-vent-area", "Larch Terrace fourplex, dwelling 2"),
        // 600 mm, and 24 in are 609.6.
        ("large-cleanout-clearance", "last cleanout"),
        // 2 dfu on a horizontal pipe for 1, and a sink on less than 2 in.
        ("drain-beyond-trap-arm", "sink"),
        ("horizontal-drain-capacity", "kitchen branch"),
        // 900 mm, and 3 ft are 914.4.
        ("terminal-near-lot-line", "roof"),
    ];
    finds_exactly("larch-terrace-upc-faulty.yaml", &expected, &["gentle-slope"]);
}

#[test]
fn mistakes_in_the_boathouse_are_found_and_nothing_else() {
    let expected = [
        ("trap-arm-length", "SHO-4"),
        ("trap-protection", "TUB-1"),
        ("cleanout-at-upper-end", "E-UR-1 to M-E"),
        ("terminal-near-lot-line", "VT-2"),
        // Men's 18 and women's 16 dfu, where 2 in takes 24.
        ("vent-size", "ground vent riser"),
        ("drain-beyond-trap-arm", "DW-1"),
        ("horizontal-drain-capacity", "E-DW-1 to G-A"),
        ("large-cleanout-clearance", "CO-1"),
        ("trap-and-arm", "LAV-8"),
        ("double-tee-barrel", "DF-1"),
    ];
    finds_exactly("heron-point-upc-faulty.yaml", &expected, &[]);
}

/// The first column's value in the row that the keys find.
/// A bathtub whose drain joins, beside that of a vented lavatory, a run of this kind.
fn bathtub_on(kind: &str) -> String {
    [
        "crownweir: network/1",
        "name: slab",
        "site: {occupancy: private}",
        "storeys: [{storey: ground, height: 9 ft}]",
        "drains:",
        &format!("  - {{kind: {kind}, size: 3 in, storey: ground, slope: 1/4 in/ft, path: [{{cleanout: {{name: end}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: A}}}}, {{pipe: {{length: 2 ft}}}}, {{fitting: {{name: B}}}}, {{pipe: {{length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}"),
        "  - {size: 1-1/2 in, storey: ground, slope: 1/4 in/ft, path: [{fixture: {name: basin, type: lavatory}}, {pipe: {length: 2 ft}}, {fitting: {name: T}}, {pipe: {length: 2 ft}}, {at: A}]}",
        "  - {size: 1-1/2 in, storey: ground, slope: 1/4 in/ft, path: [{fixture: {name: tub, type: bathtub, trap: {size: 1-1/2 in}}}, {pipe: {length: 2 ft}}, {at: B}]}",
        "vents: [{size: 1-1/2 in, slope: vertical, path: [{at: T}, {pipe: {length: 9 ft}}, {terminal: {name: roof}}]}]",
    ]
    .join("\n")
}

// The same pipes are wet-vented as a branch: section 908.2 speaks of one.
#[test]
fn what_joins_a_building_drain_is_told_that_no_wet_vent_lies_along_it_and_of_no_vent_that_is_not_there() {
    for by in ["upc-2021", "ipc-2021"] {
        let found = |kind: &str| {
            let report =
                check(&network(&bathtub_on(kind)), &rules(by)).unwrap_or_else(|error| panic!("{error}"));
            let found = report.findings.into_iter();
            found
                .filter(|one| one.rule == "trap-protection")
                .collect::<Vec<_>>()
        };
        assert_eq!(found("branch").len(), 0, "{by}");
        let [tub] = &found("building_drain")[..] else {
            panic!("{by}: the tub alone is unprotected");
        };
        assert_eq!(tub.name, "tub");
        assert_eq!(
            tub.message,
            "no vent is met before the drain joins one that brings no air"
        );
        let advice = tub.advice.as_deref().unwrap_or_default();
        assert!(advice.contains("`building_drain`"), "{by}: {advice}");
    }
}

fn cell(table: &str, column: &str, keys: &[Value]) -> Option<Value> {
    let rules = rules("upc-2021");
    let table = rules
        .tables
        .iter()
        .find(|one| one.name == table)
        .expect("the table");
    let column = table
        .columns()
        .iter()
        .position(|one| one.name == column)
        .expect("the column");
    let row = table.find(keys).expect("a row");
    match table.rows()[row].cells[column].content {
        crownweir::Content::Value(value) => Some(value),
        _ => None,
    }
}

fn size(name: &str) -> Value {
    let name = name.parse().expect("a size");
    Value::Size(rules("upc-2021").ladder.find(name).expect("on the ladder"))
}

fn load(units: i64) -> Option<Value> {
    Some(Value::Load(Load::from_thousandths(units * 1000)))
}

fn inches(count: i64) -> Option<Value> {
    Some(Value::Length(Length::from_nanometres(
        count * Length::INCH.nanometres(),
    )))
}

// Worked answers of the reference list, with their source.
#[test]
fn tables_give_the_answers_that_were_read() {
    let drains = "drains-and-vents";
    // A 2 in waste stack, largest load: a master plumber's reviewer.
    assert_eq!(cell(drains, "vertical", &[size("2 in")]), load(16));
    // A 2 in vent may be 120 ft long, a third of it horizontal: a trade forum and a study set.
    assert_eq!(cell(drains, "vent_length", &[size("2 in")]), inches(1440));
    // A 3 in horizontal drain with water closets: a county's health department and course notes.
    assert_eq!(cell(drains, "horizontal", &[size("3 in")]), load(35));
    // Vents of 1-1/2, 2, 2-1/2, 3 and 4 in: a garden forum that quotes the table of 2006.
    for (name, most) in [
        ("1-1/2 in", 8),
        ("2 in", 24),
        ("2-1/2 in", 48),
        ("3 in", 84),
        ("4 in", 256),
    ] {
        assert_eq!(cell(drains, "vent", &[size(name)]), load(most), "{name}");
    }
    // Trap to vent in a 1-1/2 in arm, 3.5 ft: preparation for a state's examination, a journeyman's examination.
    assert_eq!(cell("trap-arms", "length", &[size("1-1/2 in")]), inches(42));
    assert_eq!(cell("trap-arms", "length", &[size("3 in")]), inches(72));
    // Three water closets on a 3 in horizontal line, four on a stack: a forum of 2007, a state's law.
    let closets = |column| cell("closets-on-drains", column, &[size("3 in")]);
    assert_eq!(closets("horizontal"), Some(Value::Count(3)));
    assert_eq!(closets("vertical"), Some(Value::Count(4)));
    // A trap of 3 in takes six units and one of 2 in four: a forum of 2009 that quotes the table.
    assert_eq!(cell("trap-loads", "load", &[size("3 in")]), load(6));
    assert_eq!(cell("trap-loads", "load", &[size("2 in")]), load(4));
}

/// Table 703.2, note d, and the amendment in WAC 51-56-0700, both read: in a house that is altered a fourth water
/// closet may be put on a horizontal 3 in drain, where the authority approves.
#[test]
fn a_fourth_water_closet_on_3_in_is_a_matter_of_permission_in_washington() {
    let text = |name: &'static str, text: Option<&'static str>| Text {
        name,
        bytes: text.unwrap_or_else(|| panic!("no {name}")).as_bytes(),
    };
    let base = text("upc-2021", published::text("upc-2021"));
    let state = [text("washington-state", published::amendment("washington-state"))];
    let day: Day = "2026-11-26".parse().expect("a day");
    let amended =
        RuleSet::amended(base, &state, day, &Limits::default()).unwrap_or_else(|error| panic!("{error}"));
    let closets = |count: usize, dwellings: u32, rules: &RuleSet| {
        let mut drains = String::from(
            "  - {size: 3 in, slope: 1/4 in/ft, path: [{cleanout: {name: CO}}, {pipe: {length: 1 ft}}",
        );
        for number in 1..=count {
            drains.push_str(&format!(
                ", {{fitting: {{name: J{number}}}}}, {{pipe: {{name: P{number}, length: 3 ft}}}}"
            ));
        }
        drains.push_str(", {disposal: {name: sewer}}]}\n");
        for number in 1..=count {
            drains.push_str(&format!(
                "  - {{size: 3 in, slope: 1/4 in/ft, path: [{{fixture: {{name: WC{number}, type: water_closet, flush_volume: 1.6 gal}}}}, {{pipe: {{length: 2 ft}}}}, {{at: J{number}}}]}}\n"
            ));
        }
        let text = format!(
            "crownweir: network/1\nname: closets\nsite: {{occupancy: private, dwelling_units: {dwellings}}}\ndrains:\n{drains}"
        );
        let report = check(&network(&text), rules).unwrap_or_else(|error| panic!("{error}"));
        let found = report.findings.into_iter();
        found
            .filter(|one| one.rule.contains("water-closet") && one.verdict == Verdict::Violated)
            .map(|one| (one.rule, one.name, one.severity))
            .collect::<Vec<_>>()
    };
    let found = |rule: &str, pipe: &str, severity| (rule.to_owned(), pipe.to_owned(), severity);
    let broken = |pipe| found("water-closets-on-horizontal-drain", pipe, Severity::Violation);
    let gated = || found("fourth-water-closet", "P4", Severity::NeedsApproval);
    let plain = rules("upc-2021");
    assert_eq!(closets(3, 1, &plain), []);
    assert_eq!(closets(4, 1, &plain), [broken("P4")]);
    assert_eq!(closets(3, 1, &amended), []);
    assert_eq!(closets(4, 1, &amended), [gated()]);
    assert_eq!(closets(4, 2, &amended), [broken("P4")]);
    assert_eq!(closets(5, 1, &amended), [broken("P5"), gated()]);
}
