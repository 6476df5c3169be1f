//! Shapes of venting that are easily misread: joints in unusual order, drops and returns, vents that rise late.
//!
//! Sections are those of the International Plumbing Code, edition 2021; how each figure is known stands in the rule set.

use crownweir::{Arranged, Fact, Got, Measured, Subject, Value, Verdict};
use crownweir_tests::shapes::{
    anothers_arm, back_to_back, battery, closet_upstream, drain, fixture, island, vent, vent_below, whole,
};
use crownweir_tests::{checked, network, rules};

/// Which arrangement protects each trap, with the shapes it can be seen in; of an unprotected one the nearest and
/// what is said of it.
fn protected(text: &str) -> Vec<(String, String)> {
    let (network, rules) = (network(text), rules("ipc-2021"));
    let measured = Measured::new(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
    let mut all: Vec<_> = network
        .graph()
        .node_indices()
        .filter_map(|id| {
            let node = network.graph().node_weight(id)?;
            let fixture = u32::try_from(id.index()).ok()?;
            matches!(node.kind, crownweir::NodeKind::Fixture(_)).then(|| {
                let by = match measured.arranged(fixture) {
                    Arranged::By(_, arrangement) => arrangement.name.clone(),
                    Arranged::Open(_) => "unknown".to_owned(),
                    Arranged::Nearest(Some((nearest, failed))) => {
                        format!("none: {} fails {}", nearest.name, failed.len())
                    }
                    Arranged::Nearest(None) => "none".to_owned(),
                };
                (node.name.to_string(), by)
            })
        })
        .collect();
    all.sort();
    all
}

fn by(text: &str, fixture: &str) -> String {
    let found = protected(text).into_iter().find(|(name, _)| name == fixture);
    found
        .map(|(_, by)| by)
        .unwrap_or_else(|| panic!("no fixture {fixture}"))
}

fn unprotected(text: &str, fixture: &str) -> (String, Option<String>) {
    let found = checked(text)
        .findings
        .into_iter()
        .find(|one| one.rule == "trap-protection" && one.verdict == Verdict::Violated && one.name == fixture);
    let found = found.unwrap_or_else(|| panic!("{fixture} is protected: {:?}", protected(text)));
    (found.message, found.advice)
}

fn fact(text: &str, of: &str, fact: Fact) -> Got {
    let (network, rules) = (network(text), rules("ipc-2021"));
    let measured = Measured::new(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
    let node = network.node_named(of).unwrap_or_else(|| panic!("no {of}"));
    measured.fact(
        Subject::Trap,
        u32::try_from(node.index()).unwrap_or(u32::MAX),
        fact,
    )
}

/// Sections 911.1 and 912.1: both lavatories on a common vent, the rest of the two groups on the wet vent below it.
#[test]
fn two_bathroom_groups_back_to_back_share_one_wet_vent() {
    let text = back_to_back(None);
    for lavatory in ["lav1", "lav2"] {
        assert_eq!(by(&text, lavatory), "common-vent");
    }
    for rest in ["tub1", "tub2", "wc1", "wc2"] {
        assert_eq!(by(&text, rest), "horizontal-wet-vent", "{rest}");
    }
    let text = back_to_back(Some("water_closet"));
    assert_eq!(by(&text, "more"), "none: horizontal-wet-vent fails 1");
    let (message, _) = unprotected(&text, "more");
    assert!(
        message.contains("make 3 bathroom groups; 2 is the most"),
        "{message}"
    );
    // A kitchen sink that joins below spoils nothing but its own protection.
    let text = back_to_back(Some("kitchen_sink"));
    assert_eq!(by(&text, "wc1"), "horizontal-wet-vent");
    assert!(by(&text, "more").starts_with("none"), "{:?}", protected(&text));
}

/// Sections 911.2 and 912.2.1: a vent downstream of the joint of two drains is their common vent, and that of a wet
/// vent for what joins below; for three fixtures upstream it is neither.
#[test]
fn a_dry_vent_may_stand_downstream_of_a_fixture() {
    let text = vent_below("bathtub");
    assert_eq!(by(&text, "first"), "common-vent");
    assert_eq!(by(&text, "second"), "common-vent");
    assert_eq!(by(&text, "third"), "horizontal-wet-vent");
    let more = drain(
        "2 in",
        &[&fixture("fourth", "bidet"), "pipe: {length: 1 ft}", "at: J"],
    );
    let text = text.replace("vents:\n", &format!("{more}vents:\n"));
    assert_eq!(by(&text, "second"), "none: common-vent fails 1");
    let (message, _) = unprotected(&text, "third");
    assert!(message.contains("fixtures that discharge at it: 3"), "{message}");
}

/// Section 912.2.1: one wet-vented drain may enter upstream of the dry-vented one.
#[test]
fn a_water_closet_may_stand_upstream_of_the_lavatory_that_vents_it() {
    let text = closet_upstream(&["wc"]);
    assert_eq!(by(&text, "wc"), "horizontal-wet-vent");
    let text = closet_upstream(&["wc", "other"]);
    assert!(by(&text, "wc").starts_with("none"), "{:?}", protected(&text));
    let (message, _) = unprotected(&text, "wc");
    assert!(
        message.contains("2 fixtures reach the wet vent by one drain"),
        "{message}"
    );
}

/// Section 912.1: each fixture by its own drain; one that enters another's arm takes that one's protection with it.
#[test]
fn a_fixture_that_enters_by_anothers_arm_is_on_no_wet_vent() {
    let text = anothers_arm;
    assert_eq!(by(&text("K"), "tub"), "horizontal-wet-vent");
    for fixture in ["wc", "tub"] {
        let found = by(&text("X"), fixture);
        assert!(found.starts_with("none"), "{fixture}: {found}");
    }
}

/// Section 914.1: what lies below a drop is on no circuit vent, though the branch runs level again; nor is what lies
/// above, for the branch that the vent serves is one.
#[test]
fn a_branch_that_turns_vertical_and_back_is_no_circuit() {
    let text = battery(&["pipe: {length: 2 ft}"]);
    for urinal in ["b", "d", "e"] {
        assert_eq!(by(&text, urinal), "circuit-vent");
    }
    assert_eq!(
        fact(&text, "e", Fact::CircuitFixtures),
        Got::Known(Value::Count(4))
    );
    let text = battery(&[
        "pipe: {length: 1 ft}",
        "fitting: {name: X}",
        "pipe: {slope: vertical, length: 2 ft}",
        "fitting: {name: Y}",
        "pipe: {length: 1 ft}",
    ]);
    let (message, advice) = unprotected(&text, "d");
    assert!(message.contains("does not stay horizontal"), "{message}");
    assert_eq!(advice.as_deref(), Some("vent what lies below the drop by itself"));
}

/// Two circuits on one branch, eight and eight; the first of the second stands above the second vent.
#[test]
fn circuits_in_line_are_counted_each_by_itself() {
    let text = |first: usize, second: usize| {
        let mut path = vec![
            "cleanout: {name: C}".to_owned(),
            "pipe: {length: 1 ft}".to_owned(),
        ];
        let mut drains = Vec::new();
        let mut vents = Vec::new();
        for number in 0..first + second {
            let joint = |letter: char| format!("fitting: {{name: {letter}{number}}}");
            path.extend([joint('J'), "pipe: {length: 2 ft}".to_owned()]);
            if number == 0 || number == first {
                path.extend([joint('V'), "pipe: {length: 2 ft}".to_owned()]);
                vents.push(vent(&format!("V{number}"), &format!("roof {number}")));
            }
            let name = format!("F{number}");
            drains.push(drain(
                "2 in",
                &[
                    &fixture(&name, "urinal"),
                    "pipe: {length: 1 ft}",
                    &format!("at: J{number}"),
                ],
            ));
        }
        path.push("disposal: {name: sewer}".to_owned());
        let path: Vec<&str> = path.iter().map(String::as_str).collect();
        drains.insert(0, drain("6 in", &path));
        whole(&drains, &vents)
    };
    let sixteen = text(8, 8);
    for urinal in ["F1", "F7", "F8", "F9", "F15"] {
        assert_eq!(by(&sixteen, urinal), "circuit-vent", "{urinal}");
    }
    assert!(by(&text(8, 9), "F16").starts_with("none"));
    assert_eq!(by(&text(8, 9), "F7"), "circuit-vent");
    assert!(by(&text(9, 8), "F7").starts_with("none"));
}

/// Section 905.4: the vent of a lavatory that runs level before it has risen 6 in above the rim.
#[test]
fn a_vent_that_goes_flat_below_the_flood_rim_is_told() {
    let text = |height: &str| {
        format!(
            "{}  - {{size: 2 in, storey: up, path: [{{at: T}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: E, height: {height}}}}}, {{pipe: {{name: flat, slope: level, length: 4 ft}}}}, {{fitting: {{name: F}}}}, {{pipe: {{slope: vertical, length: 9 ft}}}}, {{terminal: {{name: roof}}}}]}}\n",
            whole(
                &[drain(
                    "2 in",
                    &[
                        &fixture("lav", "lavatory"),
                        "pipe: {length: 2 ft}",
                        "fitting: {name: T, height: 18 in}",
                        "pipe: {length: 9 ft}",
                        "disposal: {name: sewer}"
                    ],
                )],
                &[],
            )
        )
    };
    let low = |height: &str| {
        let findings = checked(&text(height)).findings;
        let found = findings
            .into_iter()
            .find(|one| one.rule == "vent-turned-too-low" && one.verdict == Verdict::Violated);
        found.map(|one| (one.name, one.measured.map(|figure| figure.text)))
    };
    assert_eq!(low("38 in"), None);
    assert_eq!(low("37 in"), Some(("flat".to_owned(), Some("5 in".to_owned()))));
}

/// Section 916.2: the vent from the foot may lie below the rim, and has to be 6 in above it before it joins another.
#[test]
fn a_loop_whose_return_rises_late() {
    let text = island("42 in", "");
    assert_eq!(by(&text, "sink"), "island-fixture-vent");
    assert_eq!(
        fact(&text, "sink", Fact::ProtectionPattern),
        Got::Known(Value::Word("island"))
    );
    let (message, advice) = unprotected(&island("41-1/2 in", ""), "sink");
    assert!(
        message.contains("reaches 5-1/2 in above the flood level rim")
            && message.contains("6 in above it is the least"),
        "{message}"
    );
    assert_eq!(
        advice.as_deref(),
        Some("carry the vent from the foot up to 6 in above the flood level rim before it joins")
    );
}

/// A vent straight to open air is an individual vent, whatever else leaves the drain beside it, and in whatever order
/// the file has them. Common practice: a loop is built where no such vent can be.
#[test]
fn a_vent_to_open_air_beside_a_loop() {
    let text = island("42 in", "").replace("{at: S}, {pipe: {size: 2 in}}", "{at: V}, {pipe: {size: 2 in}}");
    let (head, vents) = text.split_once("vents:\n").unwrap_or_default();
    let mut vents: Vec<_> = vents.lines().collect();
    vents.reverse();
    for text in [text.clone(), format!("{head}vents:\n{}\n", vents.join("\n"))] {
        assert_eq!(
            fact(&text, "sink", Fact::ProtectionPattern),
            Got::Known(Value::Word("individual"))
        );
        assert_eq!(by(&text, "sink"), "individual-vent");
        assert_eq!(fact(&text, "sink", Fact::IslandVentSize), Got::Absent);
    }
}

/// A loop is told by its foot, where a drain leads its water back. Without one, what a vent comes down to stays there; a length
/// that is not by how much its ends differ is denied.
#[test]
fn a_plumb_vent_that_comes_down_to_no_foot_holds_water() {
    let loose = |length: &str| {
        let loose = island("42 in", "").replace(
            "slope: vertical, path: [{fitting: {name: F}}, {pipe: {length: 1 ft}}, {at: J}]",
            "slope: 1/4 in/ft, path: [{cleanout: {name: Z}}, {pipe: {length: 1 ft}}, {at: J}]",
        );
        loose.replacen(
            "{pipe: {slope: vertical}}, {at: F}",
            &format!(
                "{{pipe: {{slope: vertical, length: {length}}}}}, {{fitting: {{name: F, height: 3 in}}}}"
            ),
            1,
        )
    };
    let report = checked(&loose("30 in"));
    let mut sags = report.findings.iter().filter(|found| found.rule == "vent-sag");
    assert!(sags.any(|found| found.name == "W to F" && found.verdict == Verdict::Violated));
    let limits = crownweir::Limits::default();
    let read = crownweir::Network::read("network.yaml", loose("40 in").as_bytes(), &limits);
    let problems = read
        .err()
        .map(|problems| problems.to_string())
        .unwrap_or_default();
    let told = "`W to F` rises 3 ft 4 in by its length and slope, but `F` stands 2 ft 6 in below `W`";
    assert!(problems.contains(told), "{problems}");
}

/// The README shows how an island's vent is written.
#[test]
fn the_readme_s_island_is_vented_as_one() {
    let (_, rest) = include_str!("../../../README.md")
        .split_once("comes down to a *foot*")
        .expect("an island");
    let (_, rest) = rest.split_once("```yaml\n").expect("a network");
    let (text, _) = rest.split_once("```").expect("its end");
    assert_eq!(by(text, "KS"), "island-fixture-vent");
    let report = checked(text);
    assert!(
        report
            .findings
            .iter()
            .all(|found| found.verdict != Verdict::Violated)
    );
}
