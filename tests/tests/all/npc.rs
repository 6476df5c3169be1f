//! The demo buildings by the National Plumbing Code of Canada 2020, and rows worked elsewhere, each with its source.
//!
//! Nothing here asks what a table holds: the worked examples beside the rule set do.

use std::collections::BTreeSet;

use crownweir::{Limits, Report, RuleSet, Severity, Text, Verdict, check, published};
use crownweir_tests::{checked, network, network_text, rules};

const CODE: &str = "npc-2020";
const TABLES: &str = "npc-2020-vent-tables";

/// The rule set with its two vent tables filled in, as an adopter would fill them.
fn filled() -> RuleSet {
    let text = |name, text: Option<&'static str>| Text {
        name,
        bytes: text.expect("a text").as_bytes(),
    };
    let amendments = [text(TABLES, published::amendment(TABLES))];
    let on = "2026-11-25".parse().expect("a day");
    RuleSet::amended(
        text(CODE, published::text(CODE)),
        &amendments,
        on,
        &Limits::default(),
    )
    .unwrap_or_else(|problems| panic!("{problems}"))
}

fn by(rules: &RuleSet, source: &str) -> Report {
    check(&network(source), rules).unwrap_or_else(|error| panic!("{error}"))
}

fn found(report: &Report) -> BTreeSet<(&str, &str)> {
    let findings = report.findings.iter();
    findings
        .map(|one| (one.rule.as_str(), one.name.as_str()))
        .collect()
}

#[track_caller]
fn silent(name: &str, fixtures: usize, load: &str) {
    let report = by(&filled(), &network_text(name));
    assert_eq!(found(&report), BTreeSet::new());
    assert_eq!((report.fixtures, report.load.as_deref()), (fixtures, Some(load)));
    let traps: usize = report.protected.iter().map(|one| one.traps).sum();
    assert_eq!(traps, fixtures);
    let ran = report.summary.iter().filter(|row| row.satisfied > 0).count();
    assert!(ran >= 45, "only {ran} rules found anything to hold for");
}

// Loads by hand from Table 2.4.9.3. (as in the rule set): bathroom group 6, sink 1.5, washer 2, floor drain of 3 in 3.
#[test]
fn the_dwelling_passes_whole() {
    silent("larch-terrace-npc.yaml", 6, "12.5 dfu");
}

// Upper floor: two groups 6 + 6, two lavatories 2, sink and private dishwasher 1.5 + 1.5, two washers 4, tray 1.5,
// floor drain 2. Men: two closets 8, two lavatories 2, two showers 3, urinal 3, floor drain 2. Women: the same less the
// urinal. 24.5 + 18 + 15.
#[test]
fn the_boathouse_passes_whole() {
    silent("heron-point-npc.yaml", 29, "57.5 dfu");
}

#[track_caller]
fn mistakes(name: &str, expected: &[(&str, &str)]) {
    let source = network_text(name);
    let report = by(&filled(), &source);
    assert_eq!(found(&report), expected.iter().copied().collect());
    assert_eq!(report.findings.len(), expected.len(), "each once");
    assert!(report.findings.iter().all(|one| one.verdict == Verdict::Violated));
    // None of them breaks the International Plumbing Code, nor leaves it open.
    assert_eq!(found(&checked(&source)), BTreeSet::new());
}

#[test]
fn the_mistakes_in_the_dwelling_are_found_and_nothing_else() {
    let name = "larch-terrace-npc-faulty.yaml";
    mistakes(
        name,
        &[
            ("trap-protection", "tub"),
            ("wet-vent-size", "wet vent down"),
            ("wet-vent-size", "wet vent"),
            ("trap-arm-turn", "sink"),
            ("drain-slope", "laundry branch"),
            (
                "building-vent-size",
                "Larch Terrace fourplex, dwelling 1, with mistakes",
            ),
            ("frost-closure", "roof"),
            ("terminal-lot-line", "roof"),
        ],
    );
    let report = by(&filled(), &network_text(name));
    let approvals = report
        .findings
        .iter()
        .filter(|one| one.severity == Severity::NeedsApproval);
    let approvals: Vec<_> = approvals.map(|one| one.rule.as_str()).collect();
    assert_eq!(approvals, ["frost-closure"]);
}

// NBC 2020, 9.23.5.: holes keep 50 mm from the edges of a joist, notches are in its top edge, no deeper than a third of it
// and beside a bearing, and a cut leaves two thirds of a bearing stud (as in the rule set).
#[test]
fn the_mistakes_in_the_dwellings_framing_are_found_and_nothing_else() {
    let by_framing = |name: &str| {
        let network = network(&network_text(name));
        let named = network.framing_rules().expect("it names its rules for framing");
        check(&network, &rules(named)).expect("known sizes")
    };
    let clean = by_framing("larch-terrace-npc.yaml");
    assert_eq!(found(&clean), BTreeSet::new());
    let held = |name: &str| {
        let row = clean.summary.iter().find(|row| row.rule == name);
        row.map_or(0, |row| row.satisfied)
    };
    for (rule, passages) in [
        ("joist-hole", 3),
        ("joist-hole-edge", 3),
        ("bearing-stud-left", 1),
        ("partition-stud-left", 20),
        ("top-plate-left", 2),
    ] {
        assert_eq!(held(rule), passages, "{rule}");
    }
    let faulty = by_framing("larch-terrace-npc-faulty.yaml");
    let expected = [
        ("joist-notch-depth", "closet drain, upper joists 1"),
        ("joist-notch-edge", "closet drain, upper joists 1"),
        ("joist-notch-place", "closet drain, upper joists 1"),
        ("notch-holds-pipe", "closet drain, upper joists 1"),
        ("joist-hole-edge", "tub arm, upper joists 1"),
        ("joist-hole-edge", "tub arm, upper joists 2"),
        ("bearing-stud-left", "sink arm, outside wall studs 1"),
    ];
    assert_eq!(found(&faulty), expected.into_iter().collect());
    assert!(faulty.findings.iter().all(|one| one.verdict == Verdict::Violated));
}

#[test]
fn the_mistakes_in_the_boathouse_are_found_and_nothing_else() {
    mistakes(
        "heron-point-npc-faulty.yaml",
        &[
            ("trap-protection", "TUB-1"),
            ("horizontal-supports", "sink arm"),
            ("dishwasher-trap-size", "DW-1"),
            ("stack-cleanout", "stack 2"),
            ("closet-arm-drop", "WC-5"),
            ("closet-arm-drop", "WC-6"),
            ("wet-vent-size", "T-LAV-7 to E-LAV-7"),
            ("wet-vent-size", "E-LAV-7 to W-A"),
            ("terminal-lot-line", "VT-1"),
        ],
    );
}

#[test]
fn what_is_to_be_filled_leaves_rules_open_and_is_named() {
    let report = by(&rules(CODE), &network_text("larch-terrace-npc.yaml"));
    let open: BTreeSet<_> = report.findings.iter().map(|one| one.rule.as_str()).collect();
    assert_eq!(
        open,
        BTreeSet::from(["branch-vent-length", "cleanout-spacing", "main-vent-length"])
    );
    for finding in &report.findings {
        assert_eq!(finding.verdict, Verdict::Undetermined, "{}", finding.name);
        let table = match finding.rule.as_str() {
            "branch-vent-length" => "`branch-vents`",
            "main-vent-length" => "`main-vents`",
            _ => "`cleanout-spacings`",
        };
        let needed = finding.needed();
        let [missing] = &needed[..] else {
            panic!("{:?}", finding.missing);
        };
        assert!(missing.contains(table), "{missing}");
        assert!(missing.contains("to be filled from its source"), "{missing}");
    }
}

/// A building drain of a size, slope and load.
fn drain(size: &str, slope: &str, load: &str) -> String {
    format!(
        "crownweir: network/1
name: drain
drains: [{{kind: building_drain, size: {size}, slope: \"{slope}\", path: [{{fixture: {{name: house, type: connected_load, load: {load}}}}}, {{pipe: {{name: drain, length: 9 m}}}}, {{disposal: {{name: sewer}}}}]}}]
"
    )
}

/// A water closet at the end of a wet vent that carries a load.
fn closet(size: &str, load: &str) -> String {
    format!(
        "crownweir: network/1
name: closet
drains:
  - {{size: {size}, slope: \"1:50\", path: [{{fixture: {{name: basins, type: other, load: {load}, trap: {{size: DN 40}}}}}}, {{pipe: {{length: 500 mm}}}}, {{fitting: {{name: T}}}}, {{pipe: {{name: wet, length: 1 m}}}}, {{at: J}}]}}
  - {{size: DN 75, slope: \"1:50\", path: [{{fixture: {{name: WC, type: water_closet, flush: tank}}}}, {{pipe: {{length: 500 mm}}}}, {{fitting: {{name: J}}}}, {{pipe: {{length: 1 m}}}}, {{disposal: {{name: sewer}}}}]}}
vents: [{{size: DN 40, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 3 m}}}}, {{terminal: {{name: roof}}}}]}}]
"
    )
}

/// A 3 in stack of 35 with a stack vent of a size and length, beside another whose stack vent has a size.
fn stack_vent(size: &str, length: &str, other: &str) -> String {
    format!(
        "crownweir: network/1
name: stacks
drains:
  - {{size: DN 75, slope: \"1:50\", path: [{{fixture: {{name: F, type: connected_load, load: 35 dfu}}}}, {{pipe: {{length: 1 m}}}}, {{at: T}}]}}
  - {{kind: stack, size: DN 75, slope: vertical, path: [{{fitting: {{name: T}}}}, {{pipe: {{length: 3 m}}}}, {{at: foot}}]}}
  - {{kind: building_drain, size: DN 100, slope: \"1:50\", path: [{{fitting: {{name: foot}}}}, {{pipe: {{length: 1 m}}}}, {{fitting: {{name: far}}}}, {{pipe: {{length: 1 m}}}}, {{disposal: {{name: sewer}}}}]}}
  - {{kind: stack, size: DN 75, slope: vertical, path: [{{fitting: {{name: U}}}}, {{pipe: {{length: 3 m}}}}, {{at: far}}]}}
vents:
  - {{kind: stack_vent, size: {size}, slope: vertical, path: [{{at: T}}, {{pipe: {{name: vent, length: {length}}}}}, {{terminal: {{name: roof}}}}]}}
  - {{kind: stack_vent, size: {other}, slope: vertical, path: [{{at: U}}, {{pipe: {{length: 3 m}}}}, {{terminal: {{name: roof 2}}}}]}}
"
    )
}

#[test]
fn rows_worked_elsewhere_come_out() {
    let code = filled();
    let rows = [
        // Study aid for the building code of Ontario 2024: 4 in carries 180 at 1:100 and 240 at 1:50.
        (
            "building-drain-capacity",
            drain("DN 100", "1:100", "180 dfu"),
            false,
        ),
        (
            "building-drain-capacity",
            drain("DN 100", "1:100", "181 dfu"),
            true,
        ),
        (
            "building-drain-capacity",
            drain("DN 100", "1:50", "240 dfu"),
            false,
        ),
        (
            "building-drain-capacity",
            drain("DN 100", "1:50", "241 dfu"),
            true,
        ),
        // Table 7.4.10.8. of Ontario 2012: 200 need 5 in at 1:100; 4 in at 1:133 takes nothing; 3 in takes 27 at 1:50.
        (
            "building-drain-capacity",
            drain("DN 125", "1:100", "200 dfu"),
            false,
        ),
        ("building-drain-capacity", drain("DN 100", "1:133", "1 dfu"), true),
        ("building-drain-capacity", drain("DN 75", "1:50", "27 dfu"), false),
        ("building-drain-capacity", drain("DN 75", "1:50", "28 dfu"), true),
        // An examination bank has 3 in at 1:100 pass, by an article that the code does not have.
        ("drain-slope", drain("DN 75", "1:100", "1 dfu"), true),
        ("drain-slope", drain("DN 75", "1:50", "1 dfu"), false),
        // Interpretation 14-02 of Ontario's plumbing inspectors: 3 on a 2 in wet vent with a water closet.
        ("wet-vent-size", closet("DN 50", "3 dfu"), false),
        ("wet-vent-size", closet("DN 50", "3.5 dfu"), true),
        // Plumber's page on wet venting: 1 1/2 in vents no water closet.
        ("wet-vent-size", closet("DN 40", "1 dfu"), true),
        // Textbook on the 2020 edition: 1 1/2 in for 3 m above a 3 in stack of 35, if another vent of the drain is 3 in.
        ("main-vent-length", stack_vent("DN 40", "3 m", "DN 75"), false),
        ("main-vent-half-size", stack_vent("DN 40", "3 m", "DN 75"), false),
        ("building-vent-size", stack_vent("DN 40", "3 m", "DN 75"), false),
        ("building-vent-size", stack_vent("DN 40", "3 m", "DN 40"), true),
    ];
    for (rule, source, violated) in rows {
        let report = by(&code, &source);
        let row = report.summary.iter().find(|row| row.rule == rule);
        let row = row.unwrap_or_else(|| panic!("no rule `{rule}`"));
        assert_eq!(row.violated > 0, violated, "{rule}: {source}");
        assert_eq!(row.satisfied > 0, !violated, "{rule}: {source}");
        assert_eq!(row.undetermined, 0, "{rule}: {source}");
    }
}

/// A trap's protection by its own size needs no vent; a bathtub in the same place does.
#[test]
fn a_floor_drain_may_do_without_a_vent_and_a_bathtub_may_not() {
    let source = |fixture: &str| {
        format!(
            "crownweir: network/1
name: floor
drains: [{{size: DN 75, slope: \"1:50\", path: [{{fixture: {{name: F, type: {fixture}, trap: {{size: DN 75}}}}}}, {{pipe: {{length: 1 m}}}}, {{disposal: {{name: sewer}}}}]}}]
"
        )
    };
    let protected = |fixture: &str| {
        let report = by(&rules(CODE), &source(fixture));
        !found(&report).contains(&("trap-protection", "F"))
    };
    assert!(protected("floor_drain"));
    assert!(!protected("bathtub"));
    // The International Plumbing Code asks for one either way.
    assert!(found(&checked(&source("floor_drain"))).contains(&("trap-protection", "F")));
}
