//! The awkward shapes of `arrangements.rs` under EN 12056-2, which asks of a branch whether a vent leaves it, how long
//! it is and how far it drops, and not by what shape air reaches each trap.
//!
//! Clauses are remembered (basis: memory); the figures are those of system I and carry their own basis in the rule set.

use crownweir::{Arranged, Fact, Got, Measured, Report, Subject, Value, Verdict, check};
use crownweir_tests::shapes::{
    anothers_arm, back_to_back, battery, closet_upstream, drain, fixture, island, metric, vent, vent_below,
    whole,
};
use crownweir_tests::{network, rules};

/// Which arrangement protects the trap of a fixture, or `none`.
fn by(text: &str, fixture: &str) -> String {
    let (network, rules) = (network(&metric(text)), rules("en-12056-2"));
    let measured = Measured::new(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
    let node = network
        .node_named(fixture)
        .unwrap_or_else(|| panic!("no {fixture}"));
    match measured.arranged(u32::try_from(node.index()).unwrap_or(u32::MAX)) {
        Arranged::By(_, arrangement) => arrangement.name.clone(),
        Arranged::Nearest(_) => "none".to_owned(),
        Arranged::Open(gaps) => panic!("{fixture} is open: {gaps:?}"),
    }
}

fn fact(text: &str, of: &str, fact: Fact) -> Got {
    let (network, rules) = (network(&metric(text)), rules("en-12056-2"));
    let measured = Measured::new(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
    let node = network.node_named(of).unwrap_or_else(|| panic!("no {of}"));
    let node = u32::try_from(node.index()).unwrap_or(u32::MAX);
    measured.fact(Subject::Trap, node, fact)
}

fn length(text: &str) -> Got {
    let length = text.parse().unwrap_or_else(|error| panic!("{error}"));
    Got::Known(Value::Length(length))
}

fn report(text: &str) -> Report {
    check(&network(&metric(text)), &rules("en-12056-2")).unwrap_or_else(|error| panic!("{error}"))
}

/// The elements that violate a rule.
fn violated(text: &str, rule: &str) -> Vec<String> {
    let found = report(text).findings.into_iter();
    let mut found: Vec<_> = found
        .filter(|one| one.rule == rule && one.verdict == Verdict::Violated)
        .map(|one| one.name)
        .collect();
    found.sort();
    found
}

/// Every fixture of two groups on one branch is on a branch with a vent, however many groups there are.
#[test]
fn two_bathroom_groups_back_to_back_share_one_vented_branch() {
    let text = back_to_back(Some("kitchen_sink"));
    for lavatory in ["lav1", "lav2"] {
        assert_eq!(by(&text, lavatory), "vented-branch");
    }
    for rest in ["tub1", "tub2", "wc1", "wc2", "more"] {
        assert_eq!(by(&text, rest), "horizontal-vented-branch", "{rest}");
        assert_eq!(
            fact(&text, rest, Fact::TrapBranchVented),
            Got::Known(Value::Truth(true))
        );
    }
}

/// A vent downstream of the joint of two or three drains serves them all, and what joins below.
#[test]
fn a_dry_vent_may_stand_downstream_of_any_number_of_fixtures() {
    let text = vent_below("bathtub");
    for fixture in ["first", "second"] {
        assert_eq!(by(&text, fixture), "vented-branch");
    }
    assert_eq!(by(&text, "third"), "horizontal-vented-branch");
    let more = drain(
        "2 in",
        &[&fixture("fourth", "bidet"), "pipe: {length: 1 ft}", "at: J"],
    );
    let text = text.replace("vents:\n", &format!("{more}vents:\n"));
    assert_eq!(by(&text, "second"), "vented-branch");
    assert_eq!(by(&text, "third"), "horizontal-vented-branch");
}

/// The vent of a lavatory that joins further down is a vent of the branch, for one water closet upstream or two.
#[test]
fn water_closets_may_stand_upstream_of_the_lavatory_that_vents_them() {
    for closets in [&["wc"][..], &["wc", "other"]] {
        let text = closet_upstream(closets);
        for closet in closets {
            assert_eq!(by(&text, closet), "horizontal-vented-branch", "{closet}");
        }
    }
}

/// A fixture that enters by another's arm is on the same branch, which is as long for it as the two ways together.
#[test]
fn a_fixture_that_enters_by_anothers_arm_is_on_the_same_branch() {
    for (at, length_of_tub) in [("K", "11 ft"), ("X", "14 ft")] {
        let text = anothers_arm(at);
        for fixture in ["wc", "tub"] {
            assert_eq!(
                by(&text, fixture),
                "horizontal-vented-branch",
                "{fixture} at {at}"
            );
        }
        assert_eq!(fact(&text, "tub", Fact::TrapBranchLength), length(length_of_tub));
    }
}

/// A branch may turn vertical and back: its drop counts for what is above, by 3 m at the most where a vent leaves it.
#[test]
fn a_branch_that_turns_vertical_and_back_drops_for_what_is_above() {
    let text = |drop: &str| {
        let vertical = format!("pipe: {{slope: vertical, length: {drop}}}");
        battery(&[
            "pipe: {length: 1 ft}",
            "fitting: {name: X, pattern: quarter_bend}",
            &vertical,
            "fitting: {name: Y, pattern: quarter_bend}",
            "pipe: {length: 1 ft}",
        ])
    };
    for (urinal, drop) in [("a", "3 m"), ("b", "3 m"), ("d", "0 mm"), ("e", "0 mm")] {
        assert_eq!(fact(&text("3 m"), urinal, Fact::TrapBranchDrop), length(drop));
        assert_ne!(by(&text("3 m"), urinal), "none", "{urinal}");
    }
    assert_eq!(violated(&text("3 m"), "branch-drop"), [""; 0]);
    assert_eq!(violated(&text("3001 mm"), "branch-drop"), ["a", "b"]);
    // Below the drop air comes along by the level drain from its foot.
    assert_eq!(by(&text("3 m"), "d"), "horizontal-vented-branch");
}

/// A vent may run level below the rim, if it rises above it before it joins the vent of a stack.
#[test]
fn a_vent_that_goes_flat_below_the_flood_rim_has_to_rise_before_it_joins() {
    let text = |joint: &str| {
        format!(
            "{}  - {{kind: stack_vent, size: 4 in, storey: up, slope: vertical, path: [{{at: S}}, {{pipe: {{size: 4 in}}}}, {{fitting: {{name: H, height: {joint}}}}}, {{pipe: {{length: 9 ft}}}}, {{terminal: {{name: roof}}}}]}}
  - {{size: 2 in, storey: up, path: [{{at: T}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: E, height: 24 in}}}}, {{pipe: {{slope: level, length: 4 ft}}}}, {{fitting: {{name: F}}}}, {{pipe: {{name: last, slope: vertical}}}}, {{at: H}}]}}\n",
            whole(
                &[
                    drain(
                        "2 in",
                        &[
                            &fixture("lav", "lavatory"),
                            "pipe: {length: 2 ft}",
                            "fitting: {name: T, height: 18 in}",
                            "pipe: {length: 3 ft}",
                            "at: S",
                        ],
                    ),
                    "  - {kind: stack, size: 4 in, slope: vertical, path: [{fitting: {name: S}}, {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}\n".to_owned(),
                ],
                &[],
            )
        )
    };
    assert_eq!(violated(&text("32 in"), "branch-vent-joint"), [""; 0]);
    assert_eq!(violated(&text("31 in"), "branch-vent-joint"), ["last"]);
}

/// No clause knows a loop: a sink vented by one needs a stack that is open to the air.
#[test]
fn a_loop_is_no_vent_of_a_branch() {
    let text = island("42 in", "");
    assert_eq!(by(&text, "sink"), "none");
    let told = report(&text).findings.into_iter();
    let told: Vec<_> = told
        .filter(|one| one.rule == "trap-protection")
        .map(|one| one.message)
        .collect();
    assert_eq!(
        told,
        ["vented by the shape `island`, which the rule set admits in no arrangement"]
    );
}

/// One vent at the joint of three drains is that of all three.
#[test]
fn any_number_of_branches_may_share_a_vent() {
    let arm = |name: &str| {
        drain(
            "2 in",
            &[&fixture(name, "lavatory"), "pipe: {length: 2 ft}", "at: T"],
        )
    };
    let text = whole(
        &[
            drain(
                "3 in",
                &[
                    "fitting: {name: T}",
                    "pipe: {length: 9 ft}",
                    "disposal: {name: sewer}",
                ],
            ),
            arm("one"),
            arm("two"),
            arm("three"),
        ],
        &[vent("T", "roof")],
    );
    for lavatory in ["one", "two", "three"] {
        assert_eq!(by(&text, lavatory), "vented-branch");
    }
}
