//! Framing in network files, and the rules for holes and notches along a run that falls.

use crownweir::quantity::Length;
use crownweir::{
    Day, Fact, Got, Limits, Measured, Network, Report, RuleSet, Subject, Text, Value, Verdict, check,
    published, report,
};
use crownweir_tests::{network, rules};

/// A drain of 2 in through joists, with what is put for the joists and for what the drain passes.
fn through(joists: &str, passes: &str) -> String {
    format!(
        "\
crownweir: network/1
name: through
storeys: [{{storey: ground, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
framing: [{joists}]
drains:
  - storey: upper
    size: 2 in
    material: pvc
    slope: 1/4 in/ft
    path:
      - fixture: {{name: F, type: sink, weir_height: -3-1/2 in}}
      - pipe: {{name: run, length: 20 ft, passes: [{passes}]}}
      - disposal: {{name: sewer}}
"
    )
}

const TWO_BY_TEN: &str = "{framing: joists, kind: joist, make: sawn, depth: 9-1/4 in, thickness: 1-1/2 in, spacing: 16 in, span: 12 ft, top: 0 in}";

fn reading(text: &str) -> String {
    Network::read("network.yaml", text.as_bytes(), &Limits::default())
        .expect_err("a problem")
        .to_string()
}

fn checked(text: &str, rules: &RuleSet) -> Report {
    check(&network(text), rules).expect("known sizes")
}

fn found(report: &Report, verdict: Verdict) -> Vec<(&str, &str)> {
    let of = report
        .findings
        .iter()
        .filter(|finding| finding.verdict == verdict);
    of.map(|finding| (finding.rule.as_str(), finding.name.as_str()))
        .collect()
}

#[test]
fn what_a_file_gets_wrong_about_framing_is_told_at_its_place() {
    let cases = [
        (
            TWO_BY_TEN,
            "{framing: joist, first: 1 ft}",
            "12:",
            "there is no framing `joist`",
        ),
        (
            "{framing: joists, kind: joist}",
            "{framing: joists, first: 1 ft, count: 3}",
            "12:",
            "how far it is from one member to the next is not stated",
        ),
        (
            TWO_BY_TEN,
            "{framing: joists, first: 10 ft, count: 9}",
            "12:",
            "member 9 of 9 stands beyond the end of the pipe `run`",
        ),
        (
            TWO_BY_TEN,
            "{framing: joists, cut: notched, hole: 1 in}",
            "12:",
            "`hole` does not go with this `cut`",
        ),
        (
            TWO_BY_TEN,
            "{framing: joists, count: 0}",
            "12:",
            "0 members; from 1 to",
        ),
        (TWO_BY_TEN, "{framing: joists, centre: half}", "12:", "half"),
        (
            "{framing: joists, kind: joist, depth: 0 in}",
            "{framing: joists}",
            "4:",
            "a depth of nothing",
        ),
        (
            "{framing: joists, kind: stud, depth: 5-1/2 in, spacing: 16 in, storey: upper, top: 96 in, layout: {runs: north_south, first: 0 in, count: 8}}",
            "{framing: joists}",
            "4:",
            "a layout goes with joists and rafters, not with a stud",
        ),
        (
            "{framing: joists, kind: joist, storey: attic}",
            "{framing: joists}",
            "4:",
            "there is no storey `attic`",
        ),
        (
            "{framing: joists, kind: joist}, {framing: joists, kind: joist}",
            "{framing: joists}",
            "4:",
            "two rows of framing are called `joists`",
        ),
    ];
    for (joists, passes, line, message) in cases {
        let told = reading(&through(joists, passes));
        assert!(told.contains(message), "{told}");
        assert!(told.contains(&format!("network.yaml:{line}")), "{told}");
    }
}

#[test]
fn a_count_beyond_all_reason_is_refused() {
    let told = reading(&through(
        TWO_BY_TEN,
        "{framing: joists, first: 0 in, spacing: 1 mm, count: 4000000000}",
    ));
    assert!(told.contains("4000000000 members; from 1 to"), "{told}");
}

/// A textbook's bathtub run of 9-1/2 ft at 1/4 in/ft falls 2-3/8 in (Modern Plumbing, 2022, page 339).
#[test]
fn no_more_holes_are_in_a_member_than_it_has_any_room_for() {
    let text = |count: usize| {
        let steps = (0..count).map(|number| {
            let way = if number % 2 == 0 { "east" } else { "west" };
            format!("{{pipe: {{direction: {way}, length: 2 ft}}}}, {{fitting: {{name: \"{number}\"}}}}, ")
        });
        let steps: String = steps.collect();
        format!(
            "crownweir: network/1
name: to and fro
storeys: [{{storey: ground, height: 9 ft}}]
framing: [{{framing: joists, kind: joist, depth: 9-1/4 in, spacing: 16 in, storey: ground, top: 0 in, layout: {{runs: north_south, first: 1 ft, count: 1}}}}]
drains: [{{storey: ground, size: 2 in, slope: level, path: [{{fitting: {{name: F, position: [0 in, 0 in, -5 in]}}}}, {steps}{{pipe: {{direction: north, length: 1 ft}}}}, {{disposal: {{name: sewer}}}}]}}]
"
        )
    };
    assert_eq!(network(&text(500)).passages().len(), 500);
    let error = reading(&text(501));
    assert!(
        error.contains("pipes pass one member of `joists` more than 500 times"),
        "{error}"
    );
}

#[test]
fn passages_of_which_nothing_is_asked_are_told() {
    let text =
        through(TWO_BY_TEN, "{framing: joists, first: 10 in, count: 2}").replace("size: 2 in", "size: DN 50");
    for (rules_name, wanted) in [
        (
            "ipc-2021",
            Some(
                "the 2 passages through framing were not checked: the rule set `framing-irc-2021` does that",
            ),
        ),
        (
            "en-12056-2",
            Some("the 2 passages through framing were not checked: this rule set has no rules for framing"),
        ),
        ("framing-irc-2021", None),
    ] {
        let text = report::text(&checked(&text, &rules(rules_name)), &|_| None);
        let told = text.split_whitespace().collect::<Vec<_>>().join(" ");
        match wanted {
            Some(wanted) => assert!(told.contains(wanted), "{rules_name}: {told}"),
            None => assert!(!told.contains("were not checked"), "{told}"),
        }
    }
}

#[test]
fn holes_follow_the_fall() {
    let text = through(
        TWO_BY_TEN,
        "{framing: joists, first: 0 in, count: 2, spacing: 9 ft 6 in}",
    );
    let network = network(&text);
    let heights: Vec<_> = network
        .passages()
        .iter()
        .map(|passage| network.centre_of(passage).expect("a height").nanometres())
        .collect();
    // The weir lies 3-1/2 in below the top of joists of 9-1/4 in.
    let inches = |parts: i64| parts * Length::INCH.nanometres() / 32;
    assert_eq!(heights, [inches(184), inches(184 - 76)]);
}

/// Reckoned by hand from section R502.8.1: the hole for 2 in pipe, 2-9/16 in, may lie from 3-9/32 in to 5-31/32 in above
/// the lower edge of a 2x10, and a fall of 1/4 in/ft uses up those 2-11/16 in in 10 ft 9 in: of joists 16 in apart, nine.
#[test]
fn a_run_passes_as_many_joists_as_its_fall_leaves_room_for() {
    let text =
        through(TWO_BY_TEN, "{framing: joists, first: 0 in, count: 12}").replace("-3-1/2 in", "-3-9/32 in");
    let report = checked(&text, &rules("framing-irc-2021"));
    let broken = found(&report, Verdict::Violated);
    let expected: Vec<_> = ["run, joists 10", "run, joists 11", "run, joists 12"]
        .into_iter()
        .map(|name| ("joist-hole-edge", name))
        .collect();
    assert_eq!(broken, expected);
}

#[test]
fn a_height_or_a_member_that_is_not_stated_is_named() {
    for (stated, needed) in [
        (", top: 0 in", "`centre` of hole `run, joists 1`"),
        (", make: sawn", "`make of the framing`"),
    ] {
        let joists = TWO_BY_TEN.replace(stated, "");
        let report = checked(
            &through(&joists, "{framing: joists, first: 1 ft}"),
            &rules("framing-irc-2021"),
        );
        let missing: Vec<_> = report
            .findings
            .iter()
            .flat_map(crownweir::Finding::needed)
            .collect();
        assert!(
            missing.iter().any(|missing| missing.contains(needed)),
            "{missing:?}"
        );
    }
}

/// Three drains of 2 in pass one joist square to it, each through a hole of 2-9/16 in. Plane geometry: centres 12 in apart
/// along the joist and 5 in in height are 13 in apart, which leaves 10-7/16 in; 8 in and 6 in make 10 in, 40 in and 9 in
/// make 41 in; 2 in apart at one height they overlap by 9/16 in. The nearest other hole counts.
#[test]
fn the_wood_between_holes_follows_their_places() {
    let rules = rules("framing-irc-2021");
    let left = |places: [(i64, i64); 3]| {
        let drain = |(number, (along, height)): (usize, (i64, i64))| {
            format!(
                "  - size: 2 in\n    path: [{{fitting: {{name: A{number}, position: [{along} in, 0 in, {height} in]}}}}, \
                 {{pipe: {{name: run {number}, length: 4 ft, slope: 1/4 in/ft, direction: north}}}}, \
                 {{fitting: {{name: B{number}}}}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: C{number}}}}}, \
                 {{pipe: {{slope: 1/4 in/ft}}}}, {{at: J}}]\n"
            )
        };
        let drains: String = places.into_iter().enumerate().map(drain).collect();
        let network = network(&format!(
            "\
crownweir: network/1
name: beside one another
storeys: [{{storey: ground, elevation: 0 in, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
framing:
  - {{framing: joists, kind: joist, make: sawn, depth: 14 in, thickness: 1-1/2 in, spacing: 16 in, storey: upper, top: 0 in, layout: {{runs: east_west, first: 2 ft, count: 1}}}}
defaults: {{material: pvc}}
drains:
  - size: 2 in
    path: [{{fitting: {{name: J}}}}, {{pipe: {{slope: 1/4 in/ft}}}}, {{disposal: {{name: sewer}}}}]
{drains}"
        ));
        let measured = Measured::new(&network, &rules).expect("known sizes");
        let mut of_pipes: Vec<(String, i64)> = measured
            .elements(Subject::Passage)
            .into_iter()
            .map(|passage| {
                let name = measured.name_of(Subject::Passage, passage);
                match measured.fact(Subject::Passage, passage, Fact::PassageNextCut) {
                    Got::Known(Value::Length(left)) => (name, left.nanometres()),
                    other => panic!("{name}: {other:?}"),
                }
            })
            .collect();
        of_pipes.sort();
        of_pipes.into_iter().map(|(_, left)| left).collect::<Vec<_>>()
    };
    for (places, expected) in [
        ([(0, 100), (12, 105), (30, 105)], [167, 167, 247]),
        ([(12, 105), (0, 100), (30, 105)], [167, 167, 247]),
        ([(0, 96), (40, 105), (48, 99)], [615, 119, 119]),
        ([(0, 100), (2, 100), (20, 100)], [-9, -9, 247]),
        // 13 in to the one between them, which is 12 in higher, and 10 in to one another.
        ([(0, 95), (5, 107), (10, 95)], [119, 167, 119]),
    ] {
        for (left, sixteenths) in left(places).into_iter().zip(expected) {
            // To the nanometre, to which the root is rounded.
            assert!(
                (left - sixteenths * Length::INCH.nanometres() / 16).abs() <= 1,
                "{places:?}: {left}"
            );
        }
    }
}

/// A drain of 2 in, level at half the depth of 2x10 joists that run north-south 16 in apart, the first at the origin; it starts
/// 8 in east of that.
fn laid_out(direction: &str, passes: &str) -> String {
    format!(
        "crownweir: network/1
name: laid out
storeys: [{{storey: ground, height: 9 ft}}]
framing:
  - {{framing: fj, kind: joist, make: sawn, depth: 9-1/4 in, thickness: 1-1/2 in, spacing: 16 in, storey: ground, top: 0 in, layout: {{runs: north_south, first: 0 in, count: 20, bearings: [-6 ft, 6 ft]}}}}
drains:
  - storey: ground
    size: 2 in
    slope: level
    path:
      - fitting: {{name: A, position: [8 in, 0 in, -4-5/8 in]}}
      - pipe: {{name: run, direction: {direction}, length: 70 in{passes}}}
      - disposal: {{name: sewer}}
"
    )
}

/// By hand: going east the drain ends at 78 in, and so comes to the joists at 16, 32, 48 and 64 in, numbers 2 to 5 of the
/// row, 8, 24, 40 and 56 in along it, whichever of them it is stated to pass; each is judged, the one as it is stated.
#[test]
fn joists_that_the_layout_finds_are_not_left_out_where_others_are_stated() {
    let rules = rules("framing-irc-2021");
    for (passes, stated) in [
        ("", [false; 4]),
        (
            ", passes: [{framing: fj, first: 8 in, hole: 4 in}]",
            [true, false, false, false],
        ),
        (
            ", passes: [{framing: fj, first: 40 in, hole: 4 in}]",
            [false, false, true, false],
        ),
        (
            ", passes: [{framing: fj, first: 8 in, hole: 4 in, count: 4}]",
            [true; 4],
        ),
        (", passes: [{framing: fj, hole: 4 in, count: 4}]", [true; 4]),
    ] {
        let network = network(&laid_out("east", passes));
        let mut found: Vec<_> = network
            .passages()
            .iter()
            .map(|one| (one.called(), one.hole.is_some(), network.bearing_distance(one)))
            .collect();
        found.sort_unstable();
        let expected: Vec<_> = (2..)
            .zip(stated)
            .map(|(number, stated)| (number, stated, Some(Length::FOOT.checked_scale(6, 1).unwrap())))
            .collect();
        assert_eq!(found, expected, "{passes}");
        // A third of 9-1/4 in is 3-1/12 in: the hole of 4 in is too large.
        let report = check(&network, &rules).expect("known sizes");
        let broken = found_names(&report, "joist-hole");
        let expected: Vec<_> = (2..)
            .zip(stated)
            .filter(|(_, stated)| *stated)
            .map(|(number, _)| format!("run, fj {number}"))
            .collect();
        assert_eq!(broken, expected, "{passes}");
    }
}

fn found_names(report: &Report, rule: &str) -> Vec<String> {
    let broken = report
        .findings
        .iter()
        .filter(|finding| finding.verdict == Verdict::Violated && finding.rule.as_str() == rule);
    let mut names: Vec<String> = broken.map(|finding| finding.name.clone()).collect();
    names.sort_unstable();
    names
}

/// By hand: north the drain runs along the joists; north-east it comes to those at 16, 32 and 48 in, each further by the root
/// of two: 8 x 1.414 = 11-5/16 in, then 22-5/8 in from one to the next, 33-15/16 in.
#[test]
fn what_is_stated_of_joists_elsewhere_than_they_are_laid_out_is_refused() {
    for (direction, passes, told) in [
        (
            "east",
            "{framing: fj, first: 5 in}",
            "`run` is stated to pass number 1 of `fj` 5 in along it, but comes to number 2 of the row 8 in along it",
        ),
        (
            "east",
            "{framing: fj, first: 8 in, count: 3, spacing: 18 in}",
            "`run` is stated to pass number 2 of `fj` 2 ft 2 in along it, but comes to number 3 of the row 2 ft along it",
        ),
        (
            "east",
            "{framing: fj, count: 2}",
            "`run` is stated to pass 2 of `fj`, but comes to 4 by where both are laid",
        ),
        (
            "north",
            "{framing: fj, first: 8 in, count: 3}",
            "`run` is stated to pass number 1 of `fj`, but runs along them by where both are laid",
        ),
        (
            "west",
            "{framing: fj, first: 40 in}",
            "`run` is stated to pass number 1 of `fj` 3 ft 4 in along it, but comes to number 1 of the row 8 in along it",
        ),
        (
            "north-east",
            "{framing: fj, first: 11-5/16 in, count: 4}",
            "`run` is stated to pass number 2 of `fj` 2 ft 3-5/16 in along it, but comes to number 3 of the row about 2 ft 9-15/16 in",
        ),
    ] {
        let error = reading(&laid_out(direction, &format!(", passes: [{passes}]")));
        assert!(error.contains(told), "{error}");
    }
    for (direction, passes, count) in [
        ("east", "{framing: fj, first: 8-1/8 in}", 4),
        (
            "north-east",
            "{framing: fj, first: 11-5/16 in, count: 3, spacing: 22-5/8 in}",
            3,
        ),
    ] {
        let network = network(&laid_out(direction, &format!(", passes: [{passes}]")));
        assert_eq!(network.passages().len(), count, "{passes}");
    }
    // Where either is not known, what is stated stands.
    let text = laid_out("east", ", passes: [{framing: fj, first: 5 in}]").replace("direction: east, ", "");
    assert_eq!(network(&text).passages().len(), 1);
}

/// Without the maker's chart the finding is open and names it; an amendment that enters the chart settles it.
#[test]
fn the_makers_chart_settles_what_the_code_leaves_to_it() {
    let joists = "{framing: joists, kind: joist, make: i_joist, depth: 11-7/8 in, thickness: 1-3/4 in, spacing: 16 in}";
    let hole = |away: &str, hole: &str| {
        through(
            joists,
            &format!(
                "{{framing: joists, hole: {hole}, centre: middle, bearing_distance: {away}, steel_plate: true}}"
            ),
        )
    };
    let bare = checked(&hole("2 ft", "2-9/16 in"), &rules("framing-irc-2021"));
    assert_eq!(found(&bare, Verdict::Violated), []);
    let open: Vec<_> = bare
        .findings
        .iter()
        .map(|finding| finding.message.as_str())
        .collect();
    assert_eq!(open.len(), 2, "{open:?}");
    for message in open {
        assert!(message.contains("of the table `makers-chart`"), "{message}");
    }
    let text = |name: &'static str, text: Option<&'static str>| Text {
        name,
        bytes: text.expect("a text").as_bytes(),
    };
    let day: Day = "2026-11-26".parse().expect("a day");
    let charted = RuleSet::amended(
        text("framing-irc-2021", published::text("framing-irc-2021")),
        &[text(
            "heron-joist-chart",
            published::amendment("heron-joist-chart"),
        )],
        day,
        &Limits::default(),
    )
    .expect("the chart fits");
    // Up to 4 in: 24 in from the bearing.
    let of = |away, size| checked(&hole(away, size), &charted);
    assert!(of("24 in", "2-9/16 in").findings.is_empty());
    let near = of("23 in", "2-9/16 in");
    assert_eq!(
        found(&near, Verdict::Violated),
        [("makers-chart-bearing", "run, joists 1")]
    );
    assert_eq!(
        near.findings[0].limit.as_ref().map(|limit| limit.text.as_str()),
        Some("2 ft")
    );
    // Larger than any row: not at all.
    let large = of("6 ft", "7 in");
    assert_eq!(
        found(&large, Verdict::Violated),
        [
            ("makers-chart-bearing", "run, joists 1"),
            ("makers-chart-edge", "run, joists 1")
        ]
    );
}

/// The trade's table of which pipes fit which joist (2x6 to 2x12), reckoned from section R502.8.1 and the usual holes.
#[test]
fn which_pipes_fit_which_joist() {
    let rules = rules("framing-irc-2021");
    let fits = |depth: &str, size: &str| {
        let joists = TWO_BY_TEN.replace("9-1/4 in", depth);
        let text = through(&joists, "{framing: joists, centre: middle, steel_plate: true}")
            .replace("size: 2 in", &format!("size: {size}"));
        found(&checked(&text, &rules), Verdict::Violated).is_empty()
    };
    let expected = [
        ("5-1/2 in", [false, false, false, false]),
        ("7-1/4 in", [true, false, false, false]),
        ("9-1/4 in", [true, true, false, false]),
        ("11-1/4 in", [true, true, true, false]),
    ];
    for (depth, expected) in expected {
        let found = ["1-1/2 in", "2 in", "3 in", "4 in"].map(|size| fits(depth, size));
        assert_eq!(found, expected, "{depth}");
    }
}

/// A rule set without `protection` asks nothing of traps, and one that admits arrangements has to.
#[test]
fn protection_is_left_out_where_a_document_does_not_speak_of_traps() {
    let report = checked(&through(TWO_BY_TEN, ""), &rules("framing-irc-2021"));
    assert!(report.findings.is_empty(), "{:?}", report.findings);
    assert!(report.protected.is_empty());
    let text = published::text("ipc-2021").expect("the rule set");
    let (before, after) = text.split_once("\nprotection:\n").expect("protection");
    let (_, after) = after.split_once("\narrangements:\n").expect("arrangements");
    let cut = format!("{before}\narrangements:\n{after}");
    let told = RuleSet::read("cut.yaml", cut.as_bytes(), &Limits::default()).expect_err("a problem");
    let told = told.to_string();
    assert!(
        told.contains("ways of protecting a trap, where nothing asks for its protection"),
        "{told}"
    );
}

#[test]
fn what_a_published_rule_set_names_for_framing_is_published_and_speaks_of_it() {
    let named: Vec<(&str, Option<String>)> = published::names()
        .map(|name| (name, rules(name)))
        .filter(|(_, rules)| !rules.speaks_of_framing())
        .map(|(name, rules)| (name, rules.framing_rules.clone()))
        .collect();
    for framing in named.iter().filter_map(|(_, framing)| framing.as_ref()) {
        assert!(
            published::text(framing).is_some() && rules(framing).speaks_of_framing(),
            "{framing}"
        );
    }
    let without: Vec<&str> = named
        .iter()
        .filter(|(_, framing)| framing.is_none())
        .map(|(name, _)| *name)
        .collect();
    // The European standard goes with no published code for framing.
    assert_eq!(without, ["en-12056-2"]);
}

#[test]
fn a_rule_set_names_another_for_framing_and_amendments_leave_that() {
    let text = |name: &'static str, text: Option<&'static str>| Text {
        name,
        bytes: text.expect("published").as_bytes(),
    };
    let amendment = "npc-2020-vent-tables";
    let amended = RuleSet::amended(
        text("npc-2020", published::text("npc-2020")),
        &[text(amendment, published::amendment(amendment))],
        "2026-11-25".parse().unwrap(),
        &Limits::rules(),
    );
    let amended = amended.unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(amended.framing_rules.as_deref(), Some("framing-nbc-2020"));
    let text = published::text("npc-2020").unwrap();
    let reading = |framing: &str| {
        let text = text.replace("framing_rules: framing-nbc-2020\n", framing);
        RuleSet::read("own.yaml", text.as_bytes(), &Limits::rules()).map(|rules| rules.framing_rules.clone())
    };
    assert_eq!(reading("").unwrap(), None);
    for itself in ["npc-2020", "\"  \""] {
        let told = reading(&format!("framing_rules: {itself}\n"))
            .unwrap_err()
            .to_string();
        assert!(told.contains("is no other rule set"), "{told}");
    }
}
