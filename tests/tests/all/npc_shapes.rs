//! Shapes of venting that are easily misread, by the National Plumbing Code of Canada 2020: groups back to back, vents
//! at unusual joints, drops and returns, vents that rise late.
//!
//! Articles are those of that code, Division B; how each figure is known stands in the rule set.

use std::sync::LazyLock;

use crownweir::{Arranged, Measured, Report, RuleSet, Verdict, check};
use crownweir_tests::{network, rules};

/// Read once, for it takes longer than a check.
static NPC: LazyLock<RuleSet> = LazyLock::new(|| rules("npc-2020"));

/// A fixture with its trap, by its type.
fn fixture(name: &str, kind: &str) -> String {
    let details = match kind {
        "water_closet" => "flush: tank, rim_height: 400 mm, trap: {size: DN 75, kind: integral}",
        "urinal" => "urinal: wall, rim_height: 600 mm, trap: {size: DN 50, kind: integral}",
        "lavatory" => "rim_height: 800 mm, trap: {size: DN 32, kind: p, seal: 50 mm}",
        _ => "rim_height: 900 mm, trap: {size: DN 40, kind: p, seal: 50 mm}",
    };
    format!("fixture: {{name: {name}, type: {kind}, {details}}}")
}

/// A drain of `size`: nodes and pipe lengths by turns.
fn drain(size: &str, path: &[&str]) -> String {
    let steps: Vec<_> = path.iter().map(|step| format!("{{{step}}}")).collect();
    let path = steps.join(", ");
    format!("  - {{size: {size}, storey: up, slope: \"1:50\", path: [{path}]}}\n")
}

/// A fixture's drain to a joint.
fn arm(size: &str, name: &str, kind: &str, at: &str) -> String {
    let at = format!("at: {at}");
    drain(size, &[&fixture(name, kind), "pipe: {length: 600 mm}", &at])
}

fn vent(at: &str) -> String {
    format!(
        "  - {{size: DN 50, slope: vertical, path: [{{at: {at}}}, {{pipe: {{length: 4 m}}}}, {{terminal: {{name: roof {at}}}}}]}}\n"
    )
}

fn whole(drains: &[String], vents: &[String]) -> String {
    format!(
        "crownweir: network/1\nname: shapes\nunits: millimetres\nsite: {{occupancy: private}}\nstoreys: [{{storey: low, elevation: 0 m, height: 3 m}}, {{storey: up, height: 3 m}}]\ndrains:\n{}vents:\n{}",
        drains.concat(),
        vents.concat()
    )
}

fn report(text: &str) -> Report {
    check(&network(text), &NPC).unwrap_or_else(|error| panic!("{error}"))
}

/// The arrangement that protects a trap; `none` with the nearest and how many of its conditions fail.
fn by(text: &str, fixture: &str) -> String {
    let network = network(text);
    let measured = Measured::new(&network, &NPC).unwrap_or_else(|error| panic!("{error}"));
    let node = network
        .node_named(fixture)
        .unwrap_or_else(|| panic!("no fixture {fixture}"));
    match measured.arranged(u32::try_from(node.index()).expect("a node's number")) {
        Arranged::By(_, arrangement) => arrangement.name.clone(),
        Arranged::Open(gaps) => format!("unknown: {gaps:?}"),
        Arranged::Nearest(Some((nearest, failed))) => {
            format!("none: {} fails {}", nearest.name, failed.len())
        }
        Arranged::Nearest(None) => "none".to_owned(),
    }
}

/// What is said of a trap that nothing protects, and what is to be done.
fn unprotected(text: &str, fixture: &str) -> (String, String) {
    let mut findings = report(text).findings.into_iter();
    let found = findings.find(|one| one.rule == "trap-protection" && one.name == fixture);
    let found = found.unwrap_or_else(|| panic!("{fixture}: {}", by(text, fixture)));
    assert_eq!(found.verdict, Verdict::Violated);
    (found.message, found.advice.unwrap_or_default())
}

fn violated(text: &str, rule: &str) -> Vec<String> {
    let findings = report(text).findings.into_iter();
    let found = findings.filter(|one| one.rule == rule && one.verdict == Verdict::Violated);
    found.map(|one| one.name).collect()
}

/// Two bathroom groups back to back: a lavatory's vent for both, bathtubs and then water closets below it.
fn back_to_back(joint: &str, more: &[String]) -> String {
    let joint = format!("fitting: {{name: J2, pattern: {joint}}}");
    let line = [
        "fitting: {name: T, pattern: sanitary_tee}",
        "pipe: {slope: vertical, length: 300 mm}",
        "fitting: {name: Q, pattern: long_sweep}",
        "pipe: {length: 600 mm}",
        "fitting: {name: J1, pattern: double_wye}",
        "pipe: {length: 300 mm}",
        &joint,
        "pipe: {length: 300 mm}",
        "fitting: {name: J3, pattern: double_wye}",
        "pipe: {size: DN 100, length: 3 m}",
        "disposal: {name: sewer}",
    ];
    let mut drains = vec![
        drain("DN 75", &line),
        arm("DN 40", "lav1", "lavatory", "T"),
        arm("DN 40", "lav2", "lavatory", "T"),
        arm("DN 50", "tub1", "bathtub", "J1"),
        arm("DN 50", "tub2", "bathtub", "J1"),
        arm("DN 75", "wc1", "water_closet", "J2"),
        arm("DN 75", "wc2", "water_closet", "J2"),
    ];
    drains.extend_from_slice(more);
    whole(&drains, &[vent("T")])
}

/// Article 2.5.2.1.: two water closets at one level at the end of a wet vent that the dual vent of the lavatories airs;
/// they meet on a double wye.
#[test]
fn two_bathroom_groups_back_to_back_share_one_wet_vent() {
    let text = back_to_back("double_wye", &[]);
    for (fixture, arrangement) in [
        ("lav1", "dual-vent"),
        ("lav2", "dual-vent"),
        ("tub1", "horizontal-wet-vent"),
        ("tub2", "horizontal-wet-vent"),
        ("wc1", "horizontal-wet-vent"),
        ("wc2", "horizontal-wet-vent"),
    ] {
        assert_eq!(by(&text, fixture), arrangement, "{fixture}");
    }
    // 2 lavatories of 1 and 2 bathtubs of 1.5 on 3 in, which takes 8 beside water closets.
    assert_eq!(violated(&text, "wet-vent-size"), Vec::<String>::new());
    assert_eq!(violated(&text, "opposed-water-closets"), Vec::<String>::new());
    assert_eq!(
        violated(&back_to_back("wye", &[]), "opposed-water-closets"),
        ["J2"]
    );

    let third = back_to_back("double_wye", &[arm("DN 75", "wc3", "water_closet", "J3")]);
    let (message, advice) = unprotected(&third, "wc3");
    assert!(
        message.contains("3 water closets are wet vented and 2 may be"),
        "{message}"
    );
    assert!(
        advice.contains("give a water closet a vent of its own"),
        "{advice}"
    );
    let below = back_to_back("double_wye", &[arm("DN 50", "tub3", "bathtub", "J3")]);
    let (message, _) = unprotected(&below, "tub3");
    assert!(
        message.contains("a water closet joins the wet vent above this fixture"),
        "{message}"
    );
    assert_eq!(by(&below, "tub1"), "horizontal-wet-vent");
}

/// A line of fixtures whose drains join before the dry vent, and a water closet after it.
fn vent_below(second: bool) -> String {
    let first = fixture("first", "lavatory");
    let line = [
        first.as_str(),
        "pipe: {length: 300 mm}",
        "fitting: {name: J, pattern: wye}",
        "pipe: {length: 300 mm}",
        "fitting: {name: T, pattern: wye}",
        "pipe: {length: 600 mm}",
        "fitting: {name: K, pattern: wye}",
        "pipe: {size: DN 75, length: 3 m}",
        "disposal: {name: sewer}",
    ];
    let mut drains = vec![drain("DN 50", &line), arm("DN 75", "closet", "water_closet", "K")];
    if second {
        drains.push(arm("DN 50", "second", "bathtub", "J"));
    }
    whole(&drains, &[vent("T")])
}

/// Articles 2.5.2.1. and 2.5.7.1.: a vent downstream of where two drains join is no dual vent, which stands where
/// trap arms meet; what joins further down is wet vented by it all the same.
#[test]
fn a_dry_vent_downstream_of_a_joint_is_no_dual_vent() {
    let text = vent_below(false);
    assert_eq!(by(&text, "first"), "individual-vent");
    assert_eq!(by(&text, "closet"), "horizontal-wet-vent");
    let text = vent_below(true);
    for fixture in ["first", "second"] {
        assert_eq!(by(&text, fixture), "none: dual-vent fails 1");
        let (message, advice) = unprotected(&text, fixture);
        assert!(
            message.contains("2 fixtures reach the vent by one drain"),
            "{message}"
        );
        assert!(advice.contains("by itself"), "{advice}");
    }
    assert_eq!(by(&text, "closet"), "horizontal-wet-vent");
}

/// A water closet whose drain a lavatory's, with its own vent, joins further down.
fn closet_upstream(closets: &[&str]) -> String {
    let first = fixture(closets[0], "water_closet");
    let line = [
        first.as_str(),
        "pipe: {length: 600 mm}",
        "fitting: {name: A, pattern: wye}",
        "pipe: {length: 600 mm}",
        "fitting: {name: B, pattern: wye}",
        "pipe: {length: 3 m}",
        "disposal: {name: sewer}",
    ];
    let basin = [
        &fixture("lav", "lavatory"),
        "pipe: {length: 600 mm}",
        "fitting: {name: T, pattern: wye}",
        "pipe: {length: 600 mm}",
        "at: B",
    ];
    let mut drains = vec![drain("DN 75", &line), drain("DN 50", &basin)];
    drains.extend(
        closets[1..]
            .iter()
            .map(|closet| arm("DN 75", closet, "water_closet", "A")),
    );
    whole(&drains, &[vent("T")])
}

/// Article 2.5.2.1.: the lavatory's drain is the wet vent, and the water closet the last that it airs, though its own
/// drain begins further up.
#[test]
fn a_water_closet_may_stand_upstream_of_the_lavatory_that_vents_it() {
    let text = closet_upstream(&["wc"]);
    assert_eq!(by(&text, "wc"), "horizontal-wet-vent");
    assert_eq!(by(&text, "lav"), "individual-vent");
    assert_eq!(violated(&text, "wet-vent-size"), Vec::<String>::new());
    let text = closet_upstream(&["wc", "other"]);
    let (message, _) = unprotected(&text, "wc");
    assert!(
        message.contains("2 fixtures reach the wet vent by one drain"),
        "{message}"
    );
}

/// Article 2.5.2.1.: each fixture by its own drain; one that enters another's arm takes that one's protection with it.
#[test]
fn a_fixture_that_enters_by_anothers_arm_is_on_no_wet_vent() {
    let text = |at: &str| {
        let lavatory = fixture("lav", "lavatory");
        let line = [
            lavatory.as_str(),
            "pipe: {length: 600 mm}",
            "fitting: {name: T, pattern: wye}",
            "pipe: {length: 300 mm}",
            "fitting: {name: I, pattern: wye}",
            "pipe: {length: 600 mm}",
            "fitting: {name: J, pattern: wye}",
            "pipe: {size: DN 75, length: 3 m}",
            "disposal: {name: sewer}",
        ];
        let closet = fixture("wc", "water_closet");
        let closet = [
            closet.as_str(),
            "pipe: {length: 600 mm}",
            "fitting: {name: X, pattern: wye}",
            "pipe: {length: 300 mm}",
            "at: J",
        ];
        let drains = [
            drain("DN 50", &line),
            drain("DN 75", &closet),
            arm("DN 40", "tub", "bathtub", at),
        ];
        whole(&drains, &[vent("T")])
    };
    assert_eq!(by(&text("I"), "tub"), "horizontal-wet-vent");
    assert_eq!(by(&text("I"), "wc"), "horizontal-wet-vent");
    for fixture in ["wc", "tub"] {
        let found = by(&text("X"), fixture);
        assert!(found.starts_with("none"), "{fixture}: {found}");
    }
}

/// Urinals on a branch with a circuit vent and a relief vent; `mid` is how the branch runs between two of them.
fn battery(mid: &[&str], relief: &[String]) -> String {
    let above = [
        "cleanout: {name: C}",
        "pipe: {length: 300 mm}",
        "fitting: {name: A, pattern: wye}",
        "pipe: {length: 300 mm}",
        "fitting: {name: V, pattern: wye}",
        "pipe: {length: 300 mm}",
        "fitting: {name: B, pattern: wye}",
    ];
    let below = [
        "fitting: {name: D, pattern: wye}",
        "pipe: {length: 600 mm}",
        "fitting: {name: E, pattern: wye}",
        "pipe: {length: 600 mm}",
        "fitting: {name: R, pattern: wye}",
        "pipe: {length: 1 m}",
        "fitting: {name: F, pattern: wye}",
        "pipe: {length: 3 m}",
        "disposal: {name: sewer}",
    ];
    let path: Vec<&str> = above.iter().chain(mid).chain(&below).copied().collect();
    let drains = [
        drain("DN 100", &path),
        arm("DN 50", "a", "urinal", "A"),
        arm("DN 50", "b", "urinal", "B"),
        arm("DN 50", "d", "urinal", "D"),
        arm("DN 50", "e", "urinal", "E"),
    ];
    let vents: Vec<_> = [vent("V")].into_iter().chain(relief.iter().cloned()).collect();
    whole(&drains, &vents)
}

/// Article 2.5.3.1.: what lies below a drop is on no circuit vent, though the branch runs level again; nor is any
/// without a relief vent below.
#[test]
fn a_branch_that_turns_vertical_and_back_is_no_circuit() {
    let straight = ["pipe: {length: 600 mm}"];
    let text = battery(&straight, &[vent("R")]);
    assert_eq!(by(&text, "a"), "individual-vent");
    for urinal in ["b", "d", "e"] {
        assert_eq!(by(&text, urinal), "circuit-vent");
    }
    let drop = [
        "pipe: {length: 300 mm}",
        "fitting: {name: X, pattern: long_sweep}",
        "pipe: {slope: vertical, length: 600 mm}",
        "fitting: {name: Y, pattern: long_sweep}",
        "pipe: {length: 300 mm}",
    ];
    // On its way down the branch would be a wet vent, for drains of 2 in and none of a water closet; for ones of 3 in
    // it is neither.
    let text = battery(&drop, &[vent("R")]).replace("DN 50, storey", "DN 75, storey");
    let (message, advice) = unprotected(&text, "d");
    assert!(message.contains("does not stay horizontal"), "{message}");
    assert!(
        advice.contains("vent what lies below the drop by itself"),
        "{advice}"
    );
    // Below a water closet too: with two things against the wet vent the circuit comes nearest.
    let text = battery(&straight, &[])
        .replace("DN 50, storey", "DN 75, storey")
        .replace(
            "name: a, type: urinal, urinal: wall",
            "name: a, type: water_closet, flush: tank",
        );
    let (message, advice) = unprotected(&text, "e");
    assert!(
        message.contains("or a vented drain of at most 6 dfu"),
        "{message}"
    );
    assert!(advice.contains("connect a relief vent"), "{advice}");
}

/// Article 2.5.6.2.: the vent of a lavatory that runs level before it has risen to the rim is to be avoided, and is
/// told as advice; article 2.5.6.4.: below the rim it may join no other vent.
#[test]
fn a_vent_that_goes_flat_below_the_flood_rim_is_told() {
    let text = |height: &str| {
        let lavatory = fixture("lav", "lavatory");
        let line = [
            lavatory.as_str(),
            "pipe: {length: 600 mm}",
            "fitting: {name: T, pattern: sanitary_tee, height: 450 mm}",
            "pipe: {slope: vertical, length: 1 m}",
            "fitting: {name: foot, pattern: wye}",
            "pipe: {length: 3 m}",
            "disposal: {name: sewer}",
        ];
        let other = [
            &fixture("sink", "sink"),
            "pipe: {length: 600 mm}",
            "fitting: {name: U, pattern: wye}",
            "pipe: {length: 600 mm}",
            "at: foot",
        ];
        let flat = format!(
            "  - {{size: DN 40, storey: up, path: [{{at: T}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: E, height: {height}}}}}, {{pipe: {{name: flat, slope: level, length: 1 m}}}}, {{at: G}}]}}\n"
        );
        let rise = "  - {size: DN 40, storey: up, slope: vertical, path: [{at: U}, {pipe: {}}, {fitting: {name: G}}, {pipe: {length: 3 m}}, {terminal: {name: roof}}]}\n";
        whole(
            &[drain("DN 50", &line), drain("DN 50", &other)],
            &[flat, rise.to_owned()],
        )
    };
    let told = |height: &str| {
        let findings = report(&text(height)).findings.into_iter();
        let rules = ["vent-turned-too-low", "vent-meeting-too-low"];
        let found = findings.filter(|one| rules.contains(&one.rule.as_str()) && one.name == "flat");
        let mut found: Vec<_> = found
            .map(|one| (one.rule, one.severity.name().to_owned()))
            .collect();
        found.sort();
        found
    };
    let pair = |rule: &str, severity: &str| (rule.to_owned(), severity.to_owned());
    assert_eq!(told("801 mm"), []);
    assert_eq!(told("800 mm"), [pair("vent-meeting-too-low", "violation")]);
    assert_eq!(
        told("799 mm"),
        [
            pair("vent-meeting-too-low", "violation"),
            pair("vent-turned-too-low", "advice")
        ]
    );
}

/// The code has no arrangement for a loop, whether its return rises early or late: a valve stands at an island.
#[test]
fn a_loop_is_no_arrangement() {
    let sink = fixture("sink", "kitchen_sink");
    let line = [
        sink.as_str(),
        "pipe: {length: 600 mm}",
        "fitting: {name: V, pattern: sanitary_tee, height: 400 mm}",
        "pipe: {slope: vertical, length: 600 mm}",
        "fitting: {name: J}",
        "pipe: {slope: vertical, length: 1 m}",
        "fitting: {name: S}",
        "pipe: {length: 3 m}",
        "disposal: {name: sewer}",
    ];
    let back = "  - {size: DN 50, storey: up, slope: vertical, path: [{fitting: {name: F}}, {pipe: {length: 300 mm}}, {at: J}]}\n";
    let text = |top: &str| {
        let vents = format!(
            "  - {{size: DN 50, storey: up, path: [{{at: V}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: U, height: 850 mm}}}}, {{pipe: {{slope: level, length: 300 mm}}}}, {{fitting: {{name: W, height: 850 mm}}}}, {{pipe: {{slope: vertical}}}}, {{at: F}}]}}
  - {{size: DN 50, storey: up, path: [{{at: F}}, {{pipe: {{slope: \"1:50\", length: 2 m}}}}, {{fitting: {{name: R}}}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: G, height: {top}}}}}, {{pipe: {{slope: vertical, length: 3 m}}}}, {{terminal: {{name: roof}}}}]}}\n"
        );
        whole(&[drain("DN 50", &line), back.to_owned()], &[vents])
    };
    for top in ["1200 mm", "850 mm"] {
        let (message, _) = unprotected(&text(top), "sink");
        assert!(
            message.contains("`island`, which the rule set admits in no arrangement"),
            "{message}"
        );
    }
}
