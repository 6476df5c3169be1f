//! Cells, limits, bounds and definitions that amendments set.

use crownweir::{Content, Limits, RuleSet, Text, changes};

use super::{amended, day, house, invented, named, own_base, plain_house, refused, run, with};

#[test]
fn a_smallest_size_is_cited_by_the_cell_that_keeps_smaller_ones_from_it() {
    let text = house("length: 2 ft", "", "height_above_roof: 10 in", "4 in");
    let text = text.replace("{size: 3 in, slope: vertical", "{size: 1-1/4 in, slope: vertical");
    let of_upc = |changes: &str| {
        invented(changes).replace(
            "base: {rules: ipc-2021, document: IPC",
            "base: {rules: upc-2021, document: UPC",
        )
    };
    // A lavatory counts 1 dfu, which a vent of 1-1/4 in takes by the printed table.
    for (cell, cited) in [
        (
            "row: {size: 1-1/4 in}, column: vent, was: 1 dfu, to: 0.5 dfu",
            Some("Ordinance 2026, section 1, amending UPC 2021, Table 703.2"),
        ),
        // Of a size further up nothing hangs here.
        ("row: {size: 3 in}, column: vent, was: 84 dfu, to: 80 dfu", None),
    ] {
        let amendment = of_upc(&format!("  - set: {{table: drains-and-vents, {cell}}}"));
        let texts = [Text {
            name: "town.yaml",
            bytes: amendment.as_bytes(),
        }];
        let rules = RuleSet::amended(
            own_base(&amendment),
            &texts,
            day("2026-11-25"),
            &Limits::default(),
        )
        .unwrap_or_else(|problems| panic!("{problems}"));
        let report = run(&rules, &text);
        let found = report.findings.iter().find(|one| one.rule == "vent-size");
        assert_eq!(
            found.map(|one| one.citation.to_string()).as_deref(),
            cited,
            "{cell}"
        );
    }
}

#[test]
fn a_limit_is_cited_by_itself_and_a_restricted_rule_by_the_code() {
    let rules = amended(&[("town", &invented("  - set: {rule: trap-seal, limit: trap.seal, order: at_least, was: 2 in, to: 3 in}\n    from: 2026-06-01"))], "2026-11-25").expect("a rule set");
    let sealed = |seal: &str| {
        let report = run(
            &rules,
            &plain_house().replace("seal: 2 in", &format!("seal: {seal}")),
        );
        let found = report
            .findings
            .into_iter()
            .find(|one| one.rule == "trap-seal")
            .expect("a finding");
        (found.message, found.citation.to_string(), found.changes.len())
    };
    assert_eq!(
        sealed("2 in"),
        (
            "the seal is 2 in deep; 3 in is the least".to_owned(),
            "Ordinance 2026, section 1, in force from 2026-06-01, amending IPC 2021, section 1002.4"
                .to_owned(),
            1
        )
    );
    assert_eq!(sealed("5 in").1, "IPC 2021, section 1002.4");
    let restricted = invented(
        "  - restrict: {rule: trap-arm-fall, to: {system.storeys: {at_most: 4}}}\n  - gate: {rule: crown-vent}",
    );
    let rules = amended(&[("town", &restricted)], "2026-11-25").expect("a rule set");
    for rule in ["trap-arm-fall", "crown-vent"] {
        assert!(
            rules.rule(rule).expect("a rule").citation.set_by.is_none(),
            "{rule}"
        );
    }
}

/// What an amendment may expect of a definition: what stands there, in whatever spelling, or what stood there before an
/// amendment under it; not what it has itself altered.
#[test]
fn a_definition_may_be_expected_as_it_stands_or_stood_below() {
    let set = |was: &str, to: &str| {
        format!(
            "  - set: {{definition: vertical, was: {{most_from_vertical: {was}}}, to: {{most_from_vertical: {to}}}}}"
        )
    };
    let state = named("state", "", &set("45.0 degrees", "40 deg"));
    for was in ["45 deg", "40 deg"] {
        let town = named("town", "precedence: local_text\n", &set(was, "30 deg"));
        let rules = amended(&[("state", &state), ("town", &town)], "2026-11-25");
        assert!(rules.is_ok(), "{was}: {:?}", rules.err());
    }
    let town = named("town", "precedence: local_text\n", &set("35 deg", "30 deg"));
    let error = amended(&[("state", &state), ("town", &town)], "2026-11-25").expect_err("neither");
    assert!(error.contains("the change expects"), "{error}");
    let twice = format!("{}\n{}", set("45 deg", "40 deg"), set("45 deg", "30 deg"));
    refused(&twice, &["the change expects"]);
}

/// A rule that counts sharp turns over a code that does not say what one is: refused until the amendment says it.
#[test]
fn a_definition_that_the_base_leaves_out_may_be_added() {
    let rule = "  - add: {rule: bends, with: {title: t, subject: trap_arm, require: {trap_arm.bends: {at_most: 0}}, severity: violation, message: m}}";
    refused(
        rule,
        &[
            "town.yaml:12:70: ",
            "`trap_arm.bends` tells of sharp turns, and the rule set does not say what a sharp turn is",
            "expected a change that defines it too, such as `add: {definition: sharp_turn, with: {more_than: 60 deg, cite: {...}}}`",
        ],
    );
    // The form that is shown is one that is taken.
    let shown = "  - add: {definition: sharp_turn, with: {more_than: 60 deg, cite: {section: \"1\", basis: published}}}";
    let text = invented(&format!("{rule}\n{shown}"));
    amended(&[("town.yaml", &text)], "2026-11-25").unwrap_or_else(|error| panic!("{error}"));
    refused(
        "  - set: {definition: sharp_turn, was: {more_than: 45 deg}, to: {more_than: 60 deg}}",
        &["the base has no definition of `sharp_turn`; expected `add: {definition: sharp_turn, "],
    );
    refused(
        "  - set: {definition: vertcal, was: {most_from_vertical: 45 deg}, to: {most_from_vertical: 60 deg}}",
        &[
            "the base has no definition of `vertcal`; expected one of vertical, branch_interval, bathroom_group, trap_arm, vent_length; did you mean `vertical`?",
        ],
    );
    let define = |angle: &str| format!("  - add: {{definition: sharp_turn, with: {{more_than: {angle}}}}}");
    let arm = "crownweir: network/1
name: arm
drains:
  - {size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: F, type: lavatory, trap: {size: 1-1/2 in}}}, {pipe: {length: 1 ft}}, {fitting: {name: B, pattern: sixth_bend}}, {pipe: {length: 1 ft}}, {fitting: {name: T, pattern: sanitary_tee}}, {pipe: {slope: vertical, length: 3 ft}}, {disposal: {name: sewer}}]}
vents:
  - {size: 2 in, slope: vertical, path: [{at: T}, {pipe: {length: 9 ft}}, {terminal: {name: roof}}]}
";
    for (angle, violated) in [("59.9 deg", 1), ("60 deg", 0)] {
        let text = named("town", "", &format!("{}\n{rule}", define(angle)));
        let rules = amended(&[("town.yaml", &text)], "2026-11-25").unwrap_or_else(|error| panic!("{error}"));
        let sharp = rules.definitions.sharp_turn.as_ref().expect("a definition");
        assert_eq!(sharp.citation.document.as_ref(), "Ordinance");
        let set_by = sharp.citation.set_by.as_ref().expect("an amendment");
        assert_eq!(set_by.amendment.name, "town");
        let row = run(&rules, arm)
            .summary
            .into_iter()
            .find(|row| row.rule == "bends")
            .expect("the rule");
        assert_eq!((row.subjects, row.violated), (1, violated), "{angle}");
        let told = changes(&with(&[]), &rules);
        let told: Vec<_> = told
            .iter()
            .filter(|one| one.section.name() == "definitions")
            .collect();
        let told: Vec<_> = told
            .iter()
            .map(|one| (one.name.as_str(), one.part.as_str(), &one.before))
            .collect();
        assert_eq!(
            told,
            [
                ("sharp_turn", "meaning", &None),
                ("sharp_turn", "citation", &None)
            ]
        );
    }
    for (change, said) in [
        (
            "  - add: {definition: vertical, with: {most_from_vertical: 30 deg}}".to_owned(),
            "the base has the definition of `vertical` already; expected `set` with what stands there",
        ),
        (
            format!("{}\n{}", define("30 deg"), define("60 deg")),
            "has the definition of `sharp_turn` already",
        ),
        (
            "  - add: {definition: sharp_turns, with: {more_than: 30 deg}}".to_owned(),
            "did you mean `sharp_turn`?",
        ),
        (define("30"), "`30` has no unit"),
    ] {
        refused(&change, &[said]);
    }
}

#[test]
fn bounds_that_bind_nothing_and_bounds_without_end_are_refused() {
    refused(
        "  - floor: {rule: trap-seal, limit: trap.seal, order: at_least, at: 1 in}",
        &["the limit is not beyond it"],
    );
    refused(
        "  - cap: {table: trap-arms, row: {trap: 12 in}, column: length, at: 1 ft}",
        &["has no `trap` 12 in"],
    );
    let pile: Vec<String> = (0..900)
        .map(|step| {
            format!(
                "  - cap: {{table: main-vents, column: length, at: {} ft}}",
                2000 - step
            )
        })
        .collect();
    refused(&pile.join("\n"), &["floors and caps are laid over more than"]);
}

/// A cap comes over what is more and what has no limit, a floor under what is less, and neither touches what is not
/// permitted; what an earlier amendment has set keeps its value where the later one gives way.
#[test]
fn bounds_come_over_the_cells_beyond_them_and_no_others() {
    let bound = |verb: &str, head: &str| {
        let change = format!("  - {verb}: {{table: waste-stacks, column: one_interval, at: 2 dfu}}");
        named("town", head, &change)
    };
    // The base has none, 1, 2 and for the five sizes from 2-1/2 in on no limit.
    let cells = |rules: &RuleSet| -> Vec<String> {
        let table = rules.tables.iter().find(|table| table.name == "waste-stacks");
        let rows = table.expect("a table").rows().iter();
        rows.map(|row| match row.cells[0].content {
            Content::Value(value) => value.exact(&rules.ladder).1,
            other => format!("{other:?}"),
        })
        .collect()
    };
    let told = |rules: &RuleSet| -> Vec<_> {
        let own = rules
            .changes
            .iter()
            .filter(|change| change.amendment.name == "town");
        own.map(|change| (change.what.clone(), change.now.clone(), change.void.clone()))
            .collect()
    };
    let now = Some("2 dfu".to_owned());
    for (verb, stand, what) in [
        (
            "cap",
            ["Barred", "1000", "2000", "2000", "2000", "2000", "2000", "2000"],
            "cap over one_interval, 5 of its cells",
        ),
        (
            "floor",
            [
                "Barred",
                "2000",
                "2000",
                "Unlimited",
                "Unlimited",
                "Unlimited",
                "Unlimited",
                "Unlimited",
            ],
            "floor under one_interval, 1 of its cells",
        ),
    ] {
        let rules = amended(&[("town", &bound(verb, ""))], "2026-11-25").expect(verb);
        assert_eq!(cells(&rules), stand, "{verb}");
        assert_eq!(told(&rules), [(what.to_owned(), now.clone(), None)]);
        let change = rules.changes.first().expect("a change");
        assert_eq!(change.citation.as_deref(), Some("Ordinance 2026, section 1"));
    }
    let state = named(
        "state",
        "",
        "  - set: {table: waste-stacks, row: {size: 4 in}, column: one_interval, was: unlimited, to: 9 dfu}",
    );
    let town = bound("cap", "precedence: state_first\n");
    let rules = amended(&[("state", &state), ("town", &town)], "2026-11-25").expect("the town gives way");
    assert_eq!(
        cells(&rules),
        ["Barred", "1000", "2000", "2000", "2000", "9000", "2000", "2000"]
    );
    assert_eq!(
        told(&rules),
        [
            (
                "cap over one_interval, 4 of its cells".to_owned(),
                now.clone(),
                None
            ),
            (
                "cap over one_interval, 1 of its cells".to_owned(),
                now,
                Some("`state` stands".to_owned())
            ),
        ]
    );
}

/// A row is found by any name that the ladder has for its size.
#[test]
fn a_row_may_be_named_by_another_name_of_its_size() {
    let change = "  - set: {table: trap-arms, row: {trap: DN 50}, column: length, was: 8 ft, to: 7 ft}";
    let rules =
        amended(&[("town", &invented(change))], "2026-11-25").unwrap_or_else(|error| panic!("{error}"));
    let told: Vec<_> = rules
        .changes
        .iter()
        .map(|one| (one.what.as_str(), one.was.as_deref()))
        .collect();
    assert_eq!(told, [("length at trap DN 50", Some("8 ft"))]);
}

/// A limit's citation is that limit's: not that of the rule's other limit, and of the last amendment that set it.
#[test]
fn each_limit_is_cited_by_who_set_it_last() {
    let set = |order: &str, was: &str, to: &str, section: &str| {
        format!(
            "  - set: {{rule: trap-seal, limit: trap.seal, order: {order}, was: {was}, to: {to}}}\n    cite: {{section: \"{section}\", basis: published}}"
        )
    };
    let state = format!(
        "{}\n{}",
        set("at_least", "2 in", "3 in", "7"),
        set("at_most", "4 in", "5 in", "8")
    );
    let state = named("state", "", &state);
    let town = named(
        "town",
        "precedence: local_text\n",
        &set("at_least", "3 in", "2-1/2 in", "9"),
    );
    let cited = |texts: &[(&str, &str)], seal: &str| {
        let rules = amended(texts, "2026-11-25").unwrap_or_else(|error| panic!("{error}"));
        let report = run(
            &rules,
            &plain_house().replace("seal: 2 in", &format!("seal: {seal}")),
        );
        let found = report.findings.iter().find(|one| one.rule == "trap-seal");
        found.map(|one| one.citation.to_string())
    };
    let one = [("state", state.as_str())];
    let both = [("state", state.as_str()), ("town", town.as_str())];
    let by = |section: &str| {
        Some(format!(
            "Ordinance 2026, section {section}, amending IPC 2021, section 1002.4"
        ))
    };
    assert_eq!(cited(&one, "2 in"), by("7"));
    assert_eq!(cited(&one, "6 in"), by("8"));
    assert_eq!(cited(&both, "2-3/4 in"), None);
    assert_eq!(cited(&both, "2 in"), by("9, amending Ordinance 2026, section 7"));
    assert_eq!(cited(&both, "6 in"), by("8"));
}

/// What is expected of a definition has to say the same as what stands there, and be keys with values as that is.
#[test]
fn what_a_definition_is_expected_to_be_is_compared_by_value() {
    let set = |was: &str| {
        let change =
            format!("  - set: {{definition: branch_interval, was: {was}, to: {{counted_by: storey}}}}");
        amended(&[("town", &invented(&change))], "2026-11-25").map(|_| ())
    };
    assert_eq!(set("{counted_by: distance, least: 96 in}"), Ok(()));
    for was in [
        "{counted_by: distance, least: 9 ft}",
        "{counted_by: distance}",
        "{counted_by: distance, least: 8 ft, most: 9 ft}",
        "distance",
    ] {
        let error = set(was).expect_err(was);
        assert!(
            error.contains(&format!(
                "the change expects {was}, and the base has {{counted_by: distance, least: 8 ft"
            )),
            "{error}"
        );
    }
    // A definition that stands there is meant, and not one that could be added.
    let add = "  - add: {definition: sharp_turn, with: {more_than: 60 deg}}";
    let set = "  - set: {definition: sharp_turns, was: {more_than: 60 deg}, to: {more_than: 50 deg}}";
    refused(
        &format!("{add}\n{set}"),
        &["trap_arm, vent_length, sharp_turn; did you mean `sharp_turn`?"],
    );
}
