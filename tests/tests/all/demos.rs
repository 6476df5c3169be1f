//! The demo buildings: what passes passes whole, what is wrong is found, and nothing else is reported.

use std::collections::BTreeSet;

use crownweir::report::{json, text};
use crownweir::{Finding, Measured, Report, Severity, Verdict, check};
use crownweir_tests::{checked, network, network_text, rules};

fn silent(name: &str, fixtures: usize, load: &str) {
    let report = checked(&network_text(name));
    let found: Vec<_> = report
        .findings
        .iter()
        .map(|one| (&one.rule, &one.name, &one.message))
        .collect();
    assert!(found.is_empty(), "{found:?}");
    assert_eq!(report.fixtures, fixtures);
    assert_eq!(report.load.as_deref(), Some(load));
    let traps: usize = report.protected.iter().map(|one| one.traps).sum();
    assert_eq!(
        traps, fixtures,
        "every trap is protected by an arrangement that is named"
    );
    let ran = report.summary.iter().filter(|row| row.satisfied > 0).count();
    assert!(ran >= 45, "only {ran} rules found anything to hold for");
}

// Loads by hand from Table 709.1 (as in the rule set): upper floor two bathroom groups 5 + 5, two lavatories 2, sink
// and dishwasher 2 + 2, two public washers 3 + 3, tray 2, floor drain 2; men 4 + 4 closets, 2 lavatories, 2 + 2
// showers, urinal 2, floor drain 2; women the same less the urinal: 26 + 18 + 16.
#[test]
fn the_boathouse_passes_whole() {
    silent("heron-point.yaml", 29, "60 dfu");
}

// One group 5, sink 2, private washer 2, floor drain 2.
#[test]
fn the_dwelling_in_millimetres_passes_whole() {
    let report = checked(&network_text("larch-terrace.yaml"));
    assert!(report.findings.is_empty(), "{:?}", report.findings);
    assert_eq!(report.load.as_deref(), Some("11 dfu"));
}

/// The mistakes in the order in which they were made, as rule and element.
const MISTAKES: [(&str, &str); 24] = [
    ("trap-arm-length", "LAV-8"),
    ("trap-protection", "UR-1"),
    ("vent-turned-too-low", "vent under the window"),
    ("vent-take-off", "women's floor drain vent"),
    ("trap-protection", "SHO-5"),
    ("fitting-for-turn", "M-B"),
    ("fitting-for-turn", "S1-C"),
    ("drain-slope", "W-D to W-E"),
    ("branch-capacity", "G-A to S2-A"),
    ("drain-reduced", "W-E to W-F"),
    ("trap-size", "CW-2"),
    ("standpipe-height", "CW-1"),
    ("crown-vent", "DW-1"),
    (
        "cleanout-at-junction",
        "Heron Point boathouse, as first roughed in",
    ),
    ("cleanout-clearance", "CO-4"),
    ("cleanout-size", "CO-1"),
    ("terminal-near-opening", "VT-2"),
    ("roof-terminal-height", "VT-1"),
    ("branch-near-stack-base", "W-F to BD-W"),
    ("horizontal-supports", "G-A to S2-A"),
    ("vent-size", "V-WC-6 to WV-D"),
    ("air-test-of-plastic", "whole system"),
    ("trap-seal", "LAV-3"),
    ("trap-outlet-offset", "TUB-1"),
];

#[test]
fn every_mistake_is_found_and_nothing_else() {
    let source = network_text("heron-point-faulty.yaml");
    let mut report = checked(&source);
    // The urinal's vent was forgotten, and so the tee that it would rise from is left open.
    let of_tee = |one: &Finding| (one.rule.as_str(), one.name.as_str()) == ("open-fitting", "T-UR-1");
    let of_tee: Vec<_> = report.findings.extract_if(.., |one| of_tee(one)).collect();
    assert_eq!(of_tee.len(), 1);
    assert_eq!(of_tee[0].severity, Severity::Advice);
    let found: BTreeSet<_> = report
        .findings
        .iter()
        .map(|one| (one.rule.as_str(), one.name.as_str()))
        .collect();
    assert_eq!(found, BTreeSet::from(MISTAKES));
    assert_eq!(report.findings.len(), MISTAKES.len(), "each once");
    let lines: Vec<&str> = source.lines().collect();
    for finding in &report.findings {
        assert_eq!(
            (finding.verdict, finding.severity),
            (Verdict::Violated, Severity::Violation),
            "{}",
            finding.rule
        );
        // The place is the element's own: its line names it, unless it is a pipe named after its ends.
        let line = lines[finding.position.line as usize - 1];
        let named =
            line.contains(&finding.name) || finding.name.contains(" to ") || finding.position.line == 1;
        assert!(named, "{}: {line}", finding.name);
    }
}

/// Each against the code's figure in inches, by hand.
#[test]
fn every_mistake_in_the_dwelling_is_found_and_nothing_else() {
    let expected = [
        // 40 mm against 2 in.
        ("trap-seal", "basin"),
        // 800 mm against 30 in, 762.
        ("trap-outlet-offset", "tub"),
        // 650 mm against 24 in, 609.6.
        ("trap-outlet-drop", "sink"),
        // 400 mm against 18 in, 457.2.
        ("standpipe-height", "washer"),
        ("cleanout-clearance", "laundry cleanout"),
        ("cleanout-size", "first cleanout"),
        // 1:100 against 1/8 in/ft, 1:96.
        ("drain-slope", "laundry branch"),
        // 100 mm against 6 in, 152.4; 2 m against 10 ft, 3.048.
        ("roof-terminal-height", "roof"),
        ("terminal-near-opening", "roof"),
        ("air-test-of-plastic", "whole dwelling"),
    ];
    let report = checked(&network_text("larch-terrace-faulty.yaml"));
    let found: BTreeSet<_> = report
        .findings
        .iter()
        .map(|one| (one.rule.as_str(), one.name.as_str()))
        .collect();
    assert_eq!(found, BTreeSet::from(expected));
    assert_eq!(report.findings.len(), expected.len(), "each once");
}

fn by_en(name: &str) -> Report {
    check(&network(&network_text(name)), &rules("en-12056-2")).unwrap_or_else(|error| panic!("{error}"))
}

// Loads by hand from EN 12056-2, table 2, system I: stack 1 two closets 2.0, four basins 0.5, bath 0.8, shower 0.6, 7.4;
// stack 2 sink and dishwasher 0.8, two public washers 1.5, tray 0.8, gully 1.5, women's two closets, two basins, two
// showers and a gully 7.7, 14.6; men's two closets, two basins, two showers, urinal 0.5 and a gully 8.2.
#[test]
fn the_boathouse_by_en_passes_whole() {
    let report = by_en("heron-point-en.yaml");
    let found: Vec<_> = report
        .findings
        .iter()
        .map(|one| (&one.rule, &one.name, &one.message))
        .collect();
    assert!(found.is_empty(), "{found:?}");
    assert_eq!(report.fixtures, 29);
    assert_eq!(report.load.as_deref(), Some("30.2 DU"));
    let traps: usize = report.protected.iter().map(|one| one.traps).sum();
    assert_eq!(
        traps, 29,
        "every trap is protected by an arrangement that is named"
    );
    let ran = report.summary.iter().filter(|row| row.satisfied > 0).count();
    assert!(ran >= 22, "only {ran} rules found anything to hold for");
}

/// The mistakes by EN 12056-2 as rule and element, with what each comes to by hand.
#[test]
fn every_mistake_by_en_is_found_and_nothing_else() {
    let expected = [
        // 500 + 2700 + 900 mm against 4 m.
        ("branch-length", "LAV-8"),
        // Four bends of 90 degrees against 270.
        ("branch-bends", "SHO-1"),
        // 1.02 m against 1 m.
        ("branch-drop", "KS-1"),
        ("branch-slope", "passage branch"),
        // 0.7 sqrt(1.6) = 0.885 L/s against 0.8.
        ("branch-flow", "galley branch"),
        // 0.8 L/s against 0.5, and DN 40 against DN 50.
        ("branch-flow", "tub drain"),
        ("fixture-branch-size", "TUB-1"),
        ("trap-seal", "LAV-3"),
        // To a stack of its own that ends below the floor above.
        ("trap-protection", "UR-1"),
        ("stack-open-to-air", "stack 3"),
        ("least-size", "CO-1 to foot 1"),
        ("size-reduced", "connection"),
        // DN 100 at 0.5 % half full: 1.756 L/s at 0.485 m/s, against 2.0 L/s of one closet and 0.5 m/s.
        ("building-drain-flow", "drain 1"),
        ("self-cleansing", "drain 1"),
        ("secondary-vent-size", "vent stack 2"),
        // 700 mm against the basins' rims at 850 mm.
        ("branch-vent-joint", "men's vent"),
        // 0.7 sqrt(5.3) = 1.612 L/s against 1.5.
        ("branch-valve-air", "laundry valve"),
        ("valve-accessible", "laundry valve"),
    ];
    let report = by_en("heron-point-en-faulty.yaml");
    let found: BTreeSet<_> = report
        .findings
        .iter()
        .map(|one| (one.rule.as_str(), one.name.as_str()))
        .collect();
    assert_eq!(found, BTreeSet::from(expected));
    assert_eq!(report.findings.len(), expected.len(), "each once");
    let violations = report
        .findings
        .iter()
        .filter(|one| (one.verdict, one.severity) == (Verdict::Violated, Severity::Violation));
    assert_eq!(violations.count(), expected.len());
}

#[test]
fn findings_carry_figures_and_sections() {
    let report = checked(&network_text("heron-point-faulty.yaml"));
    let finding = |rule: &str, name: &str| {
        let found = report
            .findings
            .iter()
            .find(|one| one.rule == rule && one.name == name);
        let found = found.expect("a finding");
        let text = |figure: &Option<crownweir::Figure>| figure.as_ref().map(|figure| figure.text.clone());
        (
            text(&found.measured),
            text(&found.limit),
            text(&found.headroom),
            found.citation.to_string(),
        )
    };
    let some = |text: &str| Some(text.to_owned());
    assert_eq!(
        finding("trap-arm-length", "LAV-8"),
        (
            some("5 ft 6 in"),
            some("5 ft"),
            some("-6 in"),
            "IPC 2021, section 909.1".to_owned()
        )
    );
    assert_eq!(
        finding("branch-capacity", "G-A to S2-A"),
        (
            some("4 dfu"),
            some("3 dfu"),
            some("-1 dfu"),
            "IPC 2021, section 710.1".to_owned()
        )
    );
    assert_eq!(
        finding("vent-turned-too-low", "vent under the window"),
        (
            some("-1 in"),
            some("6 in"),
            some("-7 in"),
            "IPC 2021, section 905.4".to_owned()
        )
    );
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let source = network_text("heron-point-faulty.yaml");
    let (one, other) = (checked(&source), checked(&source));
    assert_eq!(text(&one, &|_| None), text(&other, &|_| None));
    let as_json = |report| json(report, &|_| None, None).expect("json");
    assert_eq!(as_json(&one), as_json(&other));
    let value: serde_json::Value = serde_json::from_str(&as_json(&one)).expect("valid JSON");
    assert_eq!(value["totals"]["violations"], 24);
    assert_eq!(value["totals"]["advice"], 1);
    assert_eq!(value["findings"].as_array().map(Vec::len), Some(25));
}

#[test]
fn the_report_fits_eighty_columns() {
    let report = checked(&network_text("heron-point-faulty.yaml"));
    for line in text(&report, &|_| None).lines() {
        // Without the escape codes of colours.
        let mut plain = String::new();
        let mut rest = line;
        while let Some((before, after)) = rest.split_once('\u{1b}') {
            plain.push_str(before);
            rest = after.split_once('m').map_or("", |(_, after)| after);
        }
        plain.push_str(rest);
        assert!(plain.chars().count() <= 80, "{plain}");
    }
}

// What is not measured for a rule set that does not ask for it must not be missed: each rule by itself, the rest of its
// rule set taken away, finds on every demo building what it finds where everything is measured.
#[test]
fn a_rule_by_itself_misses_nothing_that_is_not_measured_for_it() {
    let mut found = 0;
    for code in [
        "ipc-2021",
        "upc-2021",
        "npc-2020",
        "en-12056-2",
        "framing-irc-2021",
        "framing-nbc-2020",
    ] {
        let mut alone = rules(code);
        let all = std::mem::take(&mut alone.unchecked().rules);
        let parts = alone.unchecked();
        (parts.arrangements, parts.protection) = (Vec::new(), None);
        let suffix = match code {
            "upc-2021" => "-upc",
            "npc-2020" => "-npc",
            "en-12056-2" => "-en",
            _ => "",
        };
        let names = ["heron-point", "larch-terrace"].map(|name| {
            ["", "-faulty"].map(|state| network(&network_text(&format!("{name}{suffix}{state}.yaml"))))
        });
        for rule in all {
            alone.unchecked().rules = vec![rule];
            for network in names.iter().flatten() {
                let whole = Measured::new(network, &alone).unwrap_or_else(|error| panic!("{error}"));
                let whole = whole.check();
                let asked = check(network, &alone).unwrap_or_else(|error| panic!("{error}"));
                assert_eq!(
                    format!("{asked:?}"),
                    format!("{whole:?}"),
                    "{code} {}",
                    alone.rules[0].name
                );
                found += asked.findings.len();
            }
        }
    }
    assert!(found > 100, "only {found} findings");
}
