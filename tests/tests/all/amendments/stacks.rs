//! Amendments over amendments: whose text stands, and what a later one may expect.

use crownweir::RuleSet;

use super::{amended, house, named, violated};

#[test]
fn precedence_is_declared_and_never_assumed() {
    let arm = |to: &str| {
        format!("  - set: {{table: trap-arms, row: {{trap: 1-1/2 in}}, column: length, was: 6 ft, to: {to}}}")
    };
    let length = |first: &str, second: &str, head: &str| {
        let (state, town) = (named("state", "", &arm(first)), named("town", head, &arm(second)));
        let rules = amended(&[("state", &state), ("town", &town)], "2026-11-25")?;
        let longest = ["4 ft 6 in", "5 ft", "5 ft 6 in", "6 ft"]
            .into_iter()
            .rfind(|length| {
                !violated(
                    &rules,
                    &house(
                        &format!("length: {length}"),
                        "",
                        "height_above_roof: 8 in",
                        "4 in",
                    ),
                    "trap-arm-length",
                )
            });
        Ok::<_, String>(longest)
    };
    let undeclared = length("5 ft", "5 ft 6 in", "").expect_err("undeclared");
    assert!(
        undeclared.contains("the amendment `state` changes this too")
            && undeclared.contains("most_restrictive"),
        "{undeclared}"
    );
    assert_eq!(
        length("5 ft", "5 ft 6 in", "precedence: local_text\n"),
        Ok(Some("5 ft 6 in"))
    );
    assert_eq!(
        length("5 ft", "5 ft 6 in", "precedence: state_first\n"),
        Ok(Some("5 ft"))
    );
    assert_eq!(
        length("5 ft", "5 ft 6 in", "precedence: most_restrictive\n"),
        Ok(Some("5 ft"))
    );
    assert_eq!(
        length("5 ft 6 in", "5 ft", "precedence: most_restrictive\n"),
        Ok(Some("5 ft"))
    );
    // What cannot be compared is not decided.
    let state = named("state", "", "  - drop: {rule: crown-vent}");
    let town = named(
        "town",
        "precedence: most_restrictive\n",
        "  - gate: {rule: trap-arm-fall}",
    );
    assert!(amended(&[("state", &state), ("town", &town)], "2026-11-25").is_ok());
    let gate = named("state", "", "  - gate: {rule: crown-vent}");
    let drop = named(
        "town",
        "precedence: most_restrictive\n",
        "  - drop: {rule: crown-vent}",
    );
    let error = amended(&[("state", &gate), ("town", &drop)], "2026-11-25").expect_err("cannot be told");
    assert!(
        error.contains("which asks more, this or `state`, cannot be told"),
        "{error}"
    );
}

#[test]
fn all_problems_of_all_amendments_come_at_once() {
    let town = named(
        "town",
        "",
        "  - drop: {rule: trap-seel}\n  - drop: {table: x, row: {}}\n  - dorp: {rule: crown-vent}\n  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 24 in, to: 2 dfu}",
    );
    let state = named("state", "", "  - gate: {arrangement: comon-vent}");
    let error = amended(&[("state.yaml", &state), ("town.yaml", &town)], "2026-11-25").expect_err("problems");
    for said in [
        "state.yaml:12:",
        "town.yaml:12:",
        "town.yaml:13:",
        "town.yaml:14:",
        "town.yaml:15:",
        "did you mean `common-vent`?",
    ] {
        assert!(error.contains(said), "{error}");
    }
    let twice = amended(&[("a", &town), ("b", &town)], "2026-11-25").expect_err("twice");
    assert!(twice.contains("the amendment `town` is given twice"), "{twice}");
}

#[test]
fn amendments_stack_and_a_later_one_may_expect_what_either_left() {
    let first = named(
        "state",
        "",
        "  - add: {table: trap-arms, row: [2-1/2 in, 10]}\n  - set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8 ft, to: 7 ft}",
    );
    for was in ["8 ft", "7 ft"] {
        let second = named(
            "town",
            "precedence: local_text\n",
            &format!(
                "  - set: {{table: trap-arms, row: {{trap: 2-1/2 in}}, column: length, was: 10 ft, to: 9 ft}}\n  - set: {{table: trap-arms, row: {{trap: 2 in}}, column: length, was: {was}, to: 6 ft}}"
            ),
        );
        let rules = amended(&[("state", &first), ("town", &second)], "2026-11-25")
            .unwrap_or_else(|error| panic!("{error}"));
        let table = rules
            .tables
            .iter()
            .find(|table| table.name == "trap-arms")
            .expect("a table");
        let cited = table
            .rows()
            .iter()
            .filter_map(|row| row.cells[0].citation.as_ref());
        let depth = cited.map(|one| std::iter::successors(Some(one), |one| one.amends.as_deref()).count());
        assert_eq!(
            depth.max(),
            Some(3),
            "the town's over the state's over the code's"
        );
    }
}

/// A row for keys that another amendment has added a row for: who insists is told to set it, who gives way is passed over.
#[test]
fn a_row_that_another_amendment_has_added_is_not_added_again() {
    let state = named("state", "", "  - add: {table: trap-arms, row: [2-1/2 in, 10]}");
    let town = |precedence: &str| {
        named(
            "town",
            precedence,
            "  - add: {table: trap-arms, row: [2-1/2 in, 9]}",
        )
    };
    let both = |town: &str| amended(&[("state", &state), ("town", town)], "2026-11-25");
    let rules = both(&town("precedence: state_first\n")).expect("the town gives way");
    assert_eq!(rules.layers[1].void, 1);
    let error = both(&town("precedence: local_text\n")).expect_err("a second row");
    assert!(error.contains("has a row for 2-1/2 in already"), "{error}");
}

#[test]
fn amendments_that_agree_or_give_way_do_not_break_the_stack() {
    let five = "  - set: {table: trap-arms, row: {trap: 1-1/2 in}, column: length, was: 6 ft, to: 5 ft}";
    let (state, town) = (named("state", "", five), named("town", "", five));
    let rules = amended(&[("state", &state), ("town", &town)], "2026-11-25").expect("they say the same");
    assert_eq!(rules.layers[1].void, 1);
    let drops = named(
        "state",
        "",
        "  - drop: {rule: roof-terminal-height}\n  - drop: {table: trap-arms, row: {trap: 2 in}}\n  - drop: {rule: crown-vent}",
    );
    let adds = "  - fill: {rule: roof-terminal-height, limit: terminal.height_above_roof, to: 10 in}\n  - add: {table: trap-arms, row: [2 in, 9]}\n  - add: {rule: crown-vent, with: {title: t, subject: vent, require: {pipe.size: {at_least: 2 in}}, severity: violation, message: m}}";
    let gives_way = named("town", "precedence: state_first\n", adds);
    let rules =
        amended(&[("state", &drops), ("town", &gives_way)], "2026-11-25").expect("the town gives way");
    assert_eq!(rules.layers[1].void, 3);
    assert!(rules.rule("roof-terminal-height").is_none() && rules.rule("crown-vent").is_none());
    let insists = named("town", "precedence: local_text\n", adds);
    let error = amended(&[("state", &drops), ("town", &insists)], "2026-11-25").expect_err("nothing to fill");
    assert!(
        error.contains("the amendment `state` has dropped the rule `roof-terminal-height`"),
        "{error}"
    );
    // Conditions are told apart by what they ask: dropping one is no change to another.
    let (one, other) = ("protection.same_storey", "protection.straight_down");
    let drop =
        |fact: &str| format!("  - drop: {{arrangement: common-vent-at-two-levels, condition: {fact}}}");
    let both = [named("state", "", &drop(one)), named("town", "", &drop(other))];
    assert!(amended(&[("state", &both[0]), ("town", &both[1])], "2026-11-25").is_ok());
}

/// What an earlier amendment has dropped cannot be changed, unless the later one gives way; what is a change to
/// something else goes ahead.
#[test]
fn a_dropped_arrangement_is_not_changed_any_more() {
    let drop = named("state", "", "  - drop: {arrangement: common-vent}");
    let gate = |head: &str, name: &str| named("town", head, &format!("  - gate: {{arrangement: {name}}}"));
    let both = |town: &str| amended(&[("state", &drop), ("town", town)], "2026-11-25");
    let error = both(&gate("", "common-vent")).expect_err("dropped");
    assert!(
        error.contains("the amendment `state` has dropped the arrangement `common-vent`"),
        "{error}"
    );
    let rules = both(&gate("precedence: state_first\n", "common-vent")).expect("the town gives way");
    assert_eq!(rules.layers[1].void, 1);
    let rules = both(&gate("", "individual-vent")).expect("another");
    assert_eq!(rules.layers[1].void, 0);
}

/// Each change of the amendment `town`: what it is, what stood there, what it puts there, and why it does not hold.
fn told(rules: &RuleSet) -> Vec<[Option<&str>; 4]> {
    let own = rules.changes.iter().filter(|one| one.amendment.name == "town");
    own.map(|one| {
        [
            Some(one.what.as_str()),
            one.was.as_deref(),
            one.now.as_deref(),
            one.void.as_deref(),
        ]
    })
    .collect()
}

/// Who gives way is told what stands there; who goes ahead is told of one change and not of two.
#[test]
fn what_gives_way_is_told_with_what_stands() {
    let arm = |was: &str, to: &str| {
        format!(
            "  - set: {{table: trap-arms, row: {{trap: 1-1/2 in}}, column: length, was: {was}, to: {to}}}"
        )
    };
    let angle = |was: &str, to: &str| {
        format!(
            "  - set: {{definition: vertical, was: {{most_from_vertical: {was}}}, to: {{most_from_vertical: {to}}}}}"
        )
    };
    let state = named(
        "state",
        "",
        &format!("{}\n{}", arm("6 ft", "5 ft"), angle("45 deg", "30 deg")),
    );
    let town = |precedence: &str| {
        let changes = format!("{}\n{}", arm("6 ft", "5 ft 6 in"), angle("45 deg", "20 deg"));
        let town = named("town", &format!("precedence: {precedence}\n"), &changes);
        amended(&[("state", &state), ("town", &town)], "2026-11-25").unwrap_or_else(|error| panic!("{error}"))
    };
    let stands = Some("`state` stands");
    assert_eq!(
        told(&town("state_first")),
        [
            [
                Some("length at trap 1-1/2 in"),
                Some("5 ft"),
                Some("5 ft 6 in"),
                stands
            ],
            [Some("the whole"), None, None, stands],
        ]
    );
    assert_eq!(
        told(&town("local_text")),
        [
            [
                Some("length at trap 1-1/2 in"),
                Some("5 ft"),
                Some("5 ft 6 in"),
                None
            ],
            [
                Some("what it means"),
                Some("{most_from_vertical: 30 deg}"),
                Some("{most_from_vertical: 20 deg}"),
                None
            ],
        ]
    );
}

/// Of several amendments that change the same, the last stands in the way; of one amendment's changes to it, only what
/// stood before the first may still be expected.
#[test]
fn the_last_amendment_counts_and_the_first_of_its_changes() {
    let arm = |was: &str, to: &str| {
        format!("  - set: {{table: trap-arms, row: {{trap: 2 in}}, column: length, was: {was}, to: {to}}}")
    };
    let local = |name: &str, changes: &str| named(name, "precedence: local_text\n", changes);
    let three = [
        ("a", named("a", "", &arm("8 ft", "7 ft"))),
        ("b", local("b", &arm("7 ft", "6 ft"))),
        ("c", named("c", "", &arm("6 ft", "5 ft"))),
    ];
    let three = three.each_ref().map(|(name, text)| (*name, text.as_str()));
    let error = amended(&three, "2026-11-25").expect_err("undeclared");
    assert!(error.contains("the amendment `b` changes this too"), "{error}");
    let cap = "  - cap: {table: trap-arms, row: {trap: 2 in}, column: length, at: 6 ft}";
    let state = named("state", "", &format!("{}\n{cap}", arm("8 ft", "7 ft")));
    let town = |was: &str| {
        amended(
            &[("state", &state), ("town", &local("town", &arm(was, "5 ft")))],
            "2026-11-25",
        )
    };
    let error = town("7 ft").expect_err("what stood between");
    assert!(
        error.contains("the change expects 7 ft, and the base has 6 ft"),
        "{error}"
    );
    for was in ["8 ft", "6 ft"] {
        let rules = town(was).unwrap_or_else(|error| panic!("{error}"));
        let arms = rules.tables.iter().find(|table| table.name == "trap-arms");
        let cited = arms.and_then(|table| table.rows()[2].cells[0].citation.as_ref());
        // The state's two changes are one citation.
        assert_eq!(
            cited.map(ToString::to_string).as_deref(),
            Some(
                "Ordinance 2026, section 1, amending Ordinance 2026, section 1, amending IPC 2021, Table 909.1"
            )
        );
    }
    let with =
        "{title: t, subject: vent, require: {pipe.size: {at_least: 2 in}}, severity: violation, message: m}";
    let state = format!("  - replace: {{rule: crown-vent, with: {with}}}\n  - drop: {{rule: crown-vent}}");
    let town = named("town", "", "  - gate: {rule: crown-vent}");
    let error = amended(
        &[("state", &named("state", "", &state)), ("town", &town)],
        "2026-11-25",
    );
    let error = error.expect_err("dropped");
    assert!(
        error.contains("the amendment `state` has dropped the rule `crown-vent`"),
        "{error}"
    );
}
