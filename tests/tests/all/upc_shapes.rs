//! Awkward shapes of venting by UPC 2021: which arrangement protects each trap, and of an unprotected one what is
//! said: the nearest arrangement, the condition that fails, by how much, and what would make it hold.
//!
//! Sections are those of the Uniform Plumbing Code, edition 2021; how each figure is known stands in the rule set.

use crownweir::{Arranged, Finding, Measured, NodeKind, Verdict, check};
use crownweir_tests::{network, rules};

/// A network of one storey: drains and vents, a run to a line. `@name type size` stands for a fixture.
fn network_of(drains: &[&str], vents: &[&str]) -> String {
    let run = |run: &&str| {
        let steps = run.split(" > ").map(|step| format!("{{{}}}", spelled(step)));
        format!("path: [{}]}}\n", steps.collect::<Vec<_>>().join(", "))
    };
    let lines = |runs: &[&str], head: &str| {
        let lines = runs.iter().map(|one| format!("{head}{}", run(one)));
        lines.collect::<String>()
    };
    format!(
        "crownweir: network/1
name: shapes
site: {{occupancy: private}}
storeys: [{{storey: floor, elevation: 0 ft, height: 9 ft}}]
drains:
{}vents:
{}",
        lines(drains, "  - {size: 3 in, storey: floor, slope: 1/4 in/ft, "),
        lines(vents, "  - {size: 2 in, storey: floor, slope: vertical, ")
    )
}

/// A step as a file has it: a fixture, a pipe by its length, a joint by its name in capitals, or what is not short.
fn spelled(step: &str) -> String {
    if let Some(fixture) = step.strip_prefix('@') {
        let mut words = fixture.split(' ');
        let (name, kind) = (words.next().unwrap_or_default(), words.next().unwrap_or_default());
        let (rim, size) = match kind {
            "water_closet" => ("15 in", "3 in"),
            "bathtub" => ("16 in", "1-1/2 in"),
            "lavatory" => ("32 in", "1-1/4 in"),
            "urinal" => ("24 in", "2 in"),
            _ => ("36 in", "1-1/2 in"),
        };
        return format!(
            "fixture: {{name: {name}, type: {kind}, flush_volume: 1 gal, rim_height: {rim}, trap: {{size: {size}, kind: p, seal: 2 in}}}}"
        );
    }
    if step.ends_with(" ft") || step.ends_with(" in") {
        return format!("pipe: {{length: {step}}}");
    }
    if let Some(length) = step.strip_suffix(" down") {
        return format!("pipe: {{slope: vertical, length: {length}}}");
    }
    match step.chars().next() {
        Some('=') => format!("at: {}", &step[1..]),
        Some(first) if first.is_uppercase() => format!("fitting: {{name: {step}}}"),
        _ => step.to_owned(),
    }
}

const SEWER: &str = "disposal: {name: sewer}";
const ROOF: &str = "terminal: {name: roof}";

fn findings(text: &str) -> Vec<Finding> {
    let report = check(&network(text), &rules("upc-2021")).unwrap_or_else(|error| panic!("{error}"));
    report.findings
}

/// The arrangement that protects a fixture's trap, or `none` with the nearest.
fn by(text: &str, fixture: &str) -> String {
    let (network, rules) = (network(text), rules("upc-2021"));
    let measured = Measured::new(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
    let node = network
        .node_named(fixture)
        .unwrap_or_else(|| panic!("no {fixture}"));
    let is_fixture = network
        .graph()
        .node_weight(node)
        .is_some_and(|node| matches!(node.kind, NodeKind::Fixture(_)));
    assert!(is_fixture, "{fixture}");
    match measured.arranged(u32::try_from(node.index()).unwrap_or(u32::MAX)) {
        Arranged::By(_, arrangement) => arrangement.name.clone(),
        Arranged::Open(gaps) => format!("open: {gaps:?}"),
        Arranged::Nearest(Some((nearest, _))) => format!("none, nearest {}", nearest.name),
        Arranged::Nearest(None) => "none".to_owned(),
    }
}

/// What is said of an unprotected trap: why, by how much it fails (measured and limit), and what to do.
fn why(text: &str, fixture: &str) -> (String, Option<(String, String)>, String) {
    let found = findings(text)
        .into_iter()
        .find(|one| one.rule == "trap-protection" && one.verdict == Verdict::Violated && one.name == fixture);
    let found = found.unwrap_or_else(|| panic!("{fixture} is protected by {}", by(text, fixture)));
    let figures = found.measured.zip(found.limit);
    (
        found.message,
        figures.map(|(measured, limit)| (measured.text, limit.text)),
        found.advice.unwrap_or_default(),
    )
}

fn figures(measured: &str, limit: &str) -> Option<(String, String)> {
    Some((measured.to_owned(), limit.to_owned()))
}

/// Section 908.2: one bathroom group to a wet vent. Two back to back share none, though their lavatories share a vent;
/// each with a wet vent of its own holds.
#[test]
fn two_bathroom_groups_back_to_back_need_a_wet_vent_each() {
    let shared = network_of(
        &[
            &format!("T > 1 ft down > Q > 2 ft > J > 1 ft > K > 1 ft > L > 9 ft > {SEWER}"),
            "@lav1 lavatory > 2 ft > =T",
            "@lav2 lavatory > 2 ft > =T",
            "@tub1 bathtub > 3 ft > =J",
            "@tub2 bathtub > 3 ft > =K",
            "@wc1 water_closet > 3 ft > =L",
            "@wc2 water_closet > 3 ft > =L",
        ],
        &[&format!("=T > 12 ft > {ROOF}")],
    );
    assert_eq!(by(&shared, "lav1"), "common-vent");
    let (message, by_how_much, advice) = why(&shared, "tub1");
    assert!(
        message.contains("make 2 bathroom groups, and 1 is allowed"),
        "{message}"
    );
    assert_eq!(by_how_much, figures("2", "1"));
    assert_eq!(advice, "give each bathroom group a wet vent of its own");
    for fixture in ["tub2", "wc1", "wc2"] {
        assert_eq!(
            by(&shared, fixture),
            "none, nearest horizontal-wet-vent",
            "{fixture}"
        );
    }
    let apart = network_of(
        &[
            &format!("@lav1 lavatory > 2 ft > T > 2 ft > J > 1 ft > L > 2 ft > M > 9 ft > {SEWER}"),
            "@lav2 lavatory > 2 ft > U > 2 ft > K > 1 ft > N > 2 ft > V > 1 ft > =M",
            "@tub1 bathtub > 3 ft > =J",
            "@tub2 bathtub > 3 ft > =K",
            "@wc1 water_closet > 3 ft > =L",
            "@wc2 water_closet > 3 ft > =N",
        ],
        &[
            &format!("=T > 12 ft > {ROOF}"),
            "=U > 12 ft > terminal: {name: second}",
        ],
    );
    for fixture in ["tub1", "wc1", "tub2", "wc2"] {
        assert_eq!(by(&apart, fixture), "horizontal-wet-vent", "{fixture}");
    }
}

/// Sections 1003.3 and 908.2.1: a dry vent downstream of the joint of two arms is that of neither; one downstream of a
/// single fixture vents it and what joins below.
#[test]
fn a_dry_vent_below_the_joint_of_two_arms_vents_neither() {
    let text = |second: &str| {
        network_of(
            &[
                &format!("@first lavatory > 1 ft > J > 1 ft > T > 2 ft > K > 9 ft > {SEWER}"),
                second,
                "@third water_closet > 2 ft > =K",
            ],
            &[&format!("=T > 12 ft > {ROOF}")],
        )
    };
    let alone = text("@second bathtub > 1 ft > =sewer");
    assert_eq!(by(&alone, "first"), "individual-vent");
    assert_eq!(by(&alone, "third"), "horizontal-wet-vent");
    let joined = text("@second bathtub > 1 ft > =J");
    let (message, by_how_much, advice) = why(&joined, "first");
    assert!(
        message.contains("2 fixtures reach the vent by one drain"),
        "{message}"
    );
    assert_eq!(by_how_much, figures("2", "1"));
    assert!(advice.contains("where the two drains meet"), "{advice}");
    // Nor is it the vent of one fixture or of two lavatories that could wet-vent the closet.
    let (message, _, _) = why(&joined, "third");
    assert!(
        message.contains("what discharges at the dry vent, 2 in number"),
        "{message}"
    );
    assert_eq!(
        by(&text("@second lavatory > 1 ft > =J"), "third"),
        "horizontal-wet-vent"
    );
}

/// Section 908.2.1, as the code body's bulletin of 9 April 2026 draws it in figure a: a closet that stands upstream on
/// plan joins the lavatory's wet vent below its dry vent. Two closets by one drain do not.
#[test]
fn a_water_closet_upstream_of_the_lavatory_joins_below_its_vent() {
    let text = |more: &str| {
        network_of(
            &[
                &format!("@wc water_closet > 2 ft > A > 2 ft > B > 9 ft > {SEWER}"),
                "@lav lavatory > 2 ft > T > 2 ft > =B",
                more,
            ],
            &[&format!("=T > 12 ft > {ROOF}")],
        )
    };
    assert_eq!(
        by(&text("@other bidet > 2 ft > =sewer"), "wc"),
        "horizontal-wet-vent"
    );
    let two = text("@other bidet > 2 ft > =A");
    for fixture in ["wc", "other"] {
        let (message, by_how_much, advice) = why(&two, fixture);
        assert!(
            message.contains("2 fixtures reach the wet vent by one drain"),
            "{message}"
        );
        assert_eq!(by_how_much, figures("2", "1"));
        assert_eq!(
            advice,
            "carry each fixture drain to the wet vent by itself, below the dry vent"
        );
    }
}

/// Section 908.2.4: the closet is the last. What joins below it is not protected, what joins above is.
#[test]
fn what_joins_a_wet_vent_below_the_water_closet_is_not_protected() {
    let text = network_of(
        &[
            &format!("@lav lavatory > 2 ft > T > 1 ft > J > 1 ft > K > 1 ft > L > 9 ft > {SEWER}"),
            "@bid bidet > 2 ft > =J",
            "@wc water_closet > 2 ft > =K",
            "@tub bathtub > 2 ft > =L",
        ],
        &[&format!("=T > 12 ft > {ROOF}")],
    );
    assert_eq!(by(&text, "bid"), "horizontal-wet-vent");
    assert_eq!(by(&text, "wc"), "horizontal-wet-vent");
    let (message, by_how_much, advice) = why(&text, "tub");
    assert!(
        message.contains("a water closet joins the wet vent above this fixture"),
        "{message}"
    );
    assert_eq!(by_how_much, figures("1", "0"));
    assert_eq!(advice, "join the water closet below all others");
}

/// Section 908.2.1: each by its own drain; one that enters another's arm takes that one's protection with it.
#[test]
fn a_fixture_that_enters_by_anothers_arm_is_on_no_wet_vent() {
    let text = |at: &str| {
        network_of(
            &[
                &format!("@lav lavatory > 2 ft > T > 2 ft > I > 1 ft > J > 9 ft > {SEWER}"),
                "@wc water_closet > 2 ft > X > 1 ft > =J",
                &format!("@tub bathtub > 2 ft > ={at}"),
            ],
            &[&format!("=T > 12 ft > {ROOF}")],
        )
    };
    assert_eq!(by(&text("I"), "tub"), "horizontal-wet-vent");
    assert_eq!(by(&text("I"), "wc"), "horizontal-wet-vent");
    for fixture in ["wc", "tub"] {
        assert_eq!(
            by(&text("X"), fixture),
            "none, nearest horizontal-wet-vent",
            "{fixture}"
        );
    }
}

/// Section 911.1: what lies below a drop is on no circuit vent, though the branch runs level again; nor is what lies
/// above, for the branch that the vent serves is one.
#[test]
fn a_branch_that_turns_vertical_and_back_is_no_circuit() {
    let text = |mid: &str| {
        network_of(
            &[
                &format!(
                    "cleanout: {{name: C}} > 1 ft > A > 1 ft > V > 1 ft > B > {mid} > D > 2 ft > E > 9 ft > {SEWER}"
                ),
                "@a urinal > 1 ft > =A",
                "@b urinal > 1 ft > =B",
                "@d urinal > 1 ft > =D",
                "@e urinal > 1 ft > =E",
            ],
            &[&format!("=V > 12 ft > {ROOF}")],
        )
    };
    for urinal in ["b", "d", "e"] {
        assert_eq!(by(&text("2 ft"), urinal), "circuit-vent", "{urinal}");
    }
    let dropped = text("1 ft > X > 2 ft down > Y > 1 ft");
    for urinal in ["b", "d", "e"] {
        let (message, _, advice) = why(&dropped, urinal);
        assert!(
            message.contains("nearest arrangement is a circuit vent")
                && message.contains("does not stay horizontal from its vent to its lowest fixture drain"),
            "{message}"
        );
        assert_eq!(advice, "vent what lies below the drop by itself");
    }
    // Back up to its own level there is no way for water: a drop within one fixture's drain spoils only that one.
    let own = text("2 ft").replace(
        "{pipe: {length: 1 ft}}, {at: D}",
        "{pipe: {length: 1 ft}}, {fitting: {name: P}}, {pipe: {slope: vertical, length: 1 ft}}, {at: D}",
    );
    assert_eq!(by(&own, "b"), "circuit-vent");
    let (message, _, _) = why(&own, "d");
    assert!(
        message.contains("the fixture drain joins the branch vertically"),
        "{message}"
    );
}

/// Section 905.3: the vent of a lavatory that runs level before it has risen 6 in above the rim.
#[test]
fn a_vent_that_goes_flat_below_the_flood_rim_is_told() {
    let found = |height: &str| {
        let text = network_of(
            &[&format!(
                "@lav lavatory > 2 ft > fitting: {{name: T, height: 18 in}} > 9 ft > {SEWER}"
            )],
            &[&format!(
                "=T > pipe: {{}} > fitting: {{name: E, height: {height}}} > pipe: {{name: flat, slope: level, length: 4 ft}} > F > 9 ft > {ROOF}"
            )],
        );
        let found = findings(&text).into_iter();
        let mut found =
            found.filter(|one| one.rule == "vent-turned-too-low" && one.verdict == Verdict::Violated);
        let first = found.next();
        assert!(found.next().is_none(), "{text}");
        first.map(|one| {
            let texts =
                [one.measured, one.limit, one.headroom].map(|figure| figure.map(|figure| figure.text));
            (one.name, texts.map(Option::unwrap_or_default), one.advice)
        })
    };
    assert_eq!(found("38 in"), None);
    let (name, [measured, limit, headroom], advice) = found("37 in").expect("a finding");
    assert_eq!(
        (name.as_str(), measured.as_str(), limit.as_str()),
        ("flat", "5 in", "6 in")
    );
    assert_eq!(headroom, "-1 in");
    assert_eq!(advice.as_deref(), Some("carry the vent up plumb before it turns"));
}

/// Section 909.1: the foot vent may lie below the rim, and has to be 6 in above it before it joins another.
#[test]
fn a_loop_whose_return_rises_late() {
    let text = |top: &str| {
        network_of(
            &[
                &format!(
                    "fixture: {{name: sink, type: kitchen_sink, rim_height: 36 in, weir_height: 16 in, trap: {{size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 8 in}}}} > 2 ft > V > 2 ft down > Q > 1 ft > fitting: {{name: J, pattern: wye}} > 4 ft > S > 9 ft > {SEWER}"
                ),
                "F > 1 ft down > =J",
            ],
            &[
                "=V > pipe: {} > fitting: {name: U, height: 33 in} > pipe: {slope: level, length: 1 ft} > fitting: {name: W, height: 33 in} > pipe: {} > =F",
                &format!(
                    "=F > pipe: {{slope: 1/4 in/ft, length: 8 ft}} > R > pipe: {{}} > cleanout: {{name: X, height: 12 in}} > pipe: {{}} > fitting: {{name: G, height: {top}}} > pipe: {{slope: level, length: 2 ft}} > =H"
                ),
                &format!("=S > pipe: {{}} > H > 12 ft > {ROOF}"),
            ],
        )
    };
    assert_eq!(by(&text("42 in"), "sink"), "island-vent");
    let (message, by_how_much, advice) = why(&text("41-1/2 in"), "sink");
    assert!(
        message.contains("the nearest arrangement is the vent of an island fixture")
            && message.contains("reaches 5-1/2 in above the flood level rim")
            && message.contains("6 in above it is the least"),
        "{message}"
    );
    assert_eq!(by_how_much, figures("5-1/2 in", "6 in"));
    assert_eq!(
        advice,
        "carry the foot vent up to 6 in above the flood level rim before it joins"
    );
}

/// Section 910: what an oversized drain protects needs permission, and so is named after what is a matter of right.
#[test]
fn a_combination_waste_and_vent_is_a_matter_of_permission() {
    let text = |size: &str| {
        network_of(
            &[
                &format!("cleanout: {{name: C}} > 1 ft > V > 1 ft > A > 9 ft > B > 9 ft > {SEWER}"),
                &format!(
                    "fixture: {{name: a, type: floor_drain, trap: {{size: {size}, kind: p, seal: 3 in}}}} > pipe: {{length: 12 ft, size: {size}}} > =A"
                ),
                "fixture: {name: b, type: floor_sink, flow: 7 gpm, trap: {size: 3 in, kind: p, seal: 3 in}} > 12 ft > =B",
            ],
            &[&format!(
                "=V > pipe: {{size: 3 in, length: 1 ft}} > cleanout: {{name: P}} > pipe: {{size: 3 in, length: 9 ft}} > {ROOF}"
            )],
        )
    };
    let found = findings(&text("3 in"));
    let gated: Vec<_> = found
        .iter()
        .filter(|one| one.rule == "combination-waste-and-vent")
        .map(|one| one.name.as_str())
        .collect();
    assert_eq!(gated, ["a", "b"]);
    let (message, by_how_much, advice) = why(&text("2 in"), "a");
    assert!(
        message.contains("two sizes more than a floor drain asks for is 3 in"),
        "{message}"
    );
    assert_eq!(by_how_much, figures("2 in", "3 in"));
    assert_eq!(advice, "enlarge trap and drain to 3 in");
}
