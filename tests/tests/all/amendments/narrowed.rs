//! What is taken out, narrowed, made a matter of permission, replaced or renumbered.

use crownweir::rulebook::Words;
use crownweir::{MemoryCells, RemarkKind, RuleSet, Verdict, Weight, audit, changes};
use crownweir_tests::network_text;

use super::{amended, house, invented, named, refused, run, violated, with};

#[test]
fn a_method_can_be_made_a_matter_of_permission() {
    let gate = invented("  - gate: {arrangement: horizontal-wet-vent}");
    let rules = amended(&[("town", &gate)], "2026-11-25").expect("a rule set");
    let report = run(&rules, &network_text("heron-point.yaml"));
    let gated: Vec<_> = report
        .findings
        .iter()
        .filter(|one| one.rule == "horizontal-wet-vent")
        .collect();
    assert_eq!(gated.len(), 9);
    assert!(gated.iter().all(|one| one.verdict == Verdict::Violated && one.severity == crownweir::Severity::NeedsApproval));
    assert!(!report.has_violations());
}

#[test]
fn a_breach_is_made_less_serious_and_cited_by_who_does() {
    let change = "  - set: {severity: crown-vent, was: violation, to: advice}";
    let rules = amended(&[("town.yaml", &invented(change))], "2026-11-25").expect("a rule set");
    let close = house("length: 2 in", "", "height_above_roof: 8 in", "4 in");
    let report = run(&rules, &close);
    let told = report.findings.iter().find(|one| one.rule == "crown-vent");
    let told = told.expect("a finding");
    assert_eq!(told.severity, crownweir::Severity::Advice);
    let cited = told.citation.to_string();
    assert!(
        cited.starts_with("Ordinance 2026, section 1, amending IPC 2021"),
        "{cited}"
    );
    // A rule that makes no breach more or less serious cites the code as before.
    let other = rules.rule("trap-arm-length").expect("a rule");
    assert!(other.citation.set_by.is_none());
    for (change, said) in [
        (
            "severity: crown-vent, was: advice, to: violation",
            "the base has violation",
        ),
        (
            "severity: crown-vent, was: violation, to: advise",
            "did you mean `advice`?",
        ),
        (
            "severity: crown-vemt, was: violation, to: advice",
            "did you mean `crown-vent`?",
        ),
        (
            "severity: crown-vent, was: violation, to: violation",
            "changes nothing",
        ),
        (
            "severity: test-witnessed, was: violation, to: advice",
            "left to a visit",
        ),
        (
            "rule: crown-vent, severity: crown-vent, was: violation, to: advice",
            "is not clear",
        ),
    ] {
        refused(&format!("  - set: {{{change}}}"), &[said]);
    }
}

#[test]
fn the_last_word_on_how_serious_a_breach_is_goes_by_precedence() {
    let change = |to| format!("  - set: {{severity: crown-vent, was: violation, to: {to}}}");
    let county = named("county", "", &change("advice"));
    let serious = |head: &str| {
        let town = named("town", head, &change("needs_approval"));
        let rules = amended(&[("county.yaml", &county), ("town.yaml", &town)], "2026-11-25")?;
        Ok::<_, String>(rules.rule("crown-vent").expect("a rule").severity)
    };
    assert!(
        serious("")
            .expect_err("no precedence")
            .contains("`county` changes this too")
    );
    let local = serious("precedence: local_text\n").expect("a rule set");
    assert_eq!(local, crownweir::Severity::NeedsApproval);
    let state = serious("precedence: state_first\n").expect("a rule set");
    assert_eq!(state, crownweir::Severity::Advice);
}

#[test]
fn a_rule_may_be_excepted_restricted_and_freed() {
    let rules = with(&["redwood-city-california", "chicago-frost"]);
    let turn = rules.rule("cleanout-at-turn").expect("a rule");
    assert_eq!(turn.exceptions[0].name, "turns-of-trap-arms");
    let removed = invented(
        "  - except: {rule: crown-vent, exception: e, when: {fixture.type: lavatory}}\n  - drop: {rule: crown-vent, exception: e}",
    );
    let rules = amended(&[("town", &removed)], "2026-11-25").expect("a rule set");
    assert!(rules.rule("crown-vent").expect("a rule").exceptions.is_empty());
    let close = house("length: 2 in", "", "height_above_roof: 8 in", "4 in");
    assert!(violated(&rules, &close, "crown-vent"));
    let excepted = invented("  - except: {rule: crown-vent, exception: e, when: {fixture.type: lavatory}}");
    assert!(!violated(
        &amended(&[("town", &excepted)], "2026-11-25").expect("a rule set"),
        &close,
        "crown-vent"
    ));
    let restricted = invented("  - restrict: {rule: crown-vent, to: {system.storeys: {at_least: 2}}}");
    assert!(!violated(
        &amended(&[("town", &restricted)], "2026-11-25").expect("a rule set"),
        &close,
        "crown-vent"
    ));
}

#[test]
fn sections_are_those_of_the_base_whatever_has_been_laid_over_them() {
    let first = named(
        "state",
        "",
        "  - set: {rule: trap-seal, limit: trap.seal, order: at_least, was: 2 in, to: 3 in}\n  - renumber: {rule: trap-size, was: \"1002.5\", to: \"9.9\"}",
    );
    let second = |change: &str| named("town", "precedence: local_text\n", change);
    let dropped = amended(
        &[
            ("state", &first),
            ("town", &second("  - drop: {section: \"1002.4\"}")),
        ],
        "2026-11-25",
    )
    .expect("a rule set");
    assert!(dropped.rule("trap-seal").is_none() && dropped.rule("floor-drain-seal").is_none());
    let own = amended(
        &[("state", &first), ("town", &second("  - drop: {section: \"1\"}"))],
        "2026-11-25",
    );
    assert!(
        own.expect_err("the ordinance's own section")
            .contains("cites section 1 of the base")
    );
    let renumbered = amended(
        &[
            ("state", &first),
            (
                "town",
                &second("  - renumber: {rule: trap-size, was: \"1002.5\", to: \"7.7\"}"),
            ),
        ],
        "2026-11-25",
    )
    .expect("a rule set");
    assert_eq!(
        renumbered.rule("trap-size").expect("a rule").citation.to_string(),
        "Ordinance 2026, section 7.7, amending Ordinance 2026, section 9.9, amending IPC 2021, section 1002.5"
    );
}

/// Every citation in a rule set, of rules, arrangements and their conditions, tables and cells.
fn citations(rules: &RuleSet) -> Vec<String> {
    let of_rules = rules.rules.iter().map(|rule| &rule.citation);
    let of_arrangements = rules.arrangements.iter().flat_map(|arrangement| {
        let conditions = arrangement.conditions.iter().map(|condition| &condition.citation);
        std::iter::once(&arrangement.citation).chain(conditions)
    });
    let of_tables = rules.tables.iter().map(|table| &table.citation);
    let of_cells = rules.tables.iter().flat_map(|table| table.rows());
    let of_cells = of_cells.flat_map(|row| row.cells.iter().filter_map(|cell| cell.citation.as_ref()));
    of_rules
        .chain(of_arrangements)
        .chain(of_tables)
        .chain(of_cells)
        .map(ToString::to_string)
        .collect()
}

/// Without a rule, table or arrangement a section gets its new number wherever it is cited, with one only there.
#[test]
fn a_section_is_renumbered_wherever_it_is_cited() {
    let base = amended(&[], "2026-11-25").expect("the base");
    let renumbered = |place: &str, was: &str| {
        let change = format!("  - renumber: {{{place}was: \"{was}\", to: \"4.9\"}}");
        let rules = amended(&[("town", &invented(&change))], "2026-11-25");
        let rules = rules.unwrap_or_else(|error| panic!("{error}"));
        // How each is known stands behind it in brackets.
        let count = |rules: &RuleSet, cited: &str| {
            let all = citations(rules);
            all.iter()
                .filter(|one| one.split(" (").next() == Some(cited))
                .count()
        };
        let was = format!("IPC 2021, section {was}");
        let now = count(&rules, &format!("Ordinance 2026, section 4.9, amending {was}"));
        let (before, left) = (count(&base, &was), count(&rules, &was));
        assert_eq!(before, now + left, "{change}");
        (now, left)
    };
    // 706.3 is cited by rules, 911.1 by conditions of arrangements, 910.1 by an arrangement.
    for section in ["706.3", "911.1", "910.1", "912.1"] {
        let (now, left) = renumbered("", section);
        assert!(now > 0 && left == 0, "{section}: {now}, {left}");
    }
    assert_eq!(renumbered("arrangement: horizontal-wet-vent, ", "912.1").0, 1);
    let (now, left) = renumbered("rule: trap-size, ", "1002.5");
    assert!(now == 1 && left > 0, "{left} left");
    // A table that is named, and none of the others of the section.
    let change = "  - renumber: {table: showers, was: Table 709.1, to: Table 4.9}";
    let rules = amended(&[("town", &invented(change))], "2026-11-25").expect("a rule set");
    let of_showers = |rules: &RuleSet| {
        let table = rules.tables.iter().find(|table| table.name == "showers");
        table.expect("the table").citation.to_string()
    };
    let cited = of_showers(&rules);
    assert!(
        cited.starts_with("Ordinance 2026, Table 4.9, amending IPC 2021, Table 709.1"),
        "{cited}"
    );
    let changed = citations(&rules);
    let changed = changed.iter().filter(|one| one.contains("Table 4.9")).count();
    assert_eq!(changed, 1);
    refused(
        "  - renumber: {was: \"1.1.1\", to: \"4.9\"}",
        &["nothing cites section 1.1.1"],
    );
    refused(
        "  - renumber: {arrangement: common-vent, was: \"912.1\", to: \"4.9\"}",
        &["the arrangement `common-vent` does not cite section 912.1"],
    );
}

#[test]
fn a_section_is_dropped_where_only_conditions_cite_it() {
    let rules = amended(
        &[("town", &invented("  - drop: {section: \"911.1\"}"))],
        "2026-11-25",
    );
    let rules = rules.expect("a rule set");
    let cited = citations(&rules);
    assert!(
        cited.iter().all(|one| !one.contains("section 911.1")),
        "{cited:?}"
    );
    let common = rules.arrangements.iter().find(|one| one.name == "common-vent");
    assert_eq!(common.expect("an arrangement").conditions.len(), 1);
}

#[test]
fn an_arrangement_is_replaced_and_nothing_else() {
    let change = "  - replace: {arrangement: common-vent, with: {title: a shared vent, pattern: common, conditions: []}}";
    let rules = amended(&[("town", &invented(change))], "2026-11-25").expect("a rule set");
    let of = |rules: &RuleSet| {
        let own = rules
            .arrangements
            .iter()
            .map(|one| (one.name.clone(), one.title.clone(), one.conditions.len()));
        own.collect::<Vec<_>>()
    };
    let mut expected = of(&amended(&[], "2026-11-25").expect("the base"));
    for (name, title, conditions) in &mut expected {
        if name == "common-vent" {
            (*title, *conditions) = ("a shared vent".to_owned(), 0);
        }
    }
    assert_eq!(of(&rules), expected);
    refused(
        "  - replace: {arrangement: common-went, with: {title: t, pattern: common, conditions: []}}",
        &["no arrangement `common-went`", "did you mean `common-vent`?"],
    );
}

#[test]
fn one_alternative_is_not_dropped_and_rows_find_their_place() {
    refused(
        "  - drop: {rule: vent-size, when: pipe.kind}",
        &["`pipe.kind` is one of several alternatives there"],
    );
    refused(
        "  - drop: {arrangement: individual-vent, condition: fixture.type}",
        &["0 conditions", "protection.turns_down"],
    );
    refused(
        "  - add: {table: trap-arms, row: [1-1/2 in, 4]}",
        &[
            "town.yaml:12:",
            "has a row for 1-1/2 in already",
            "expected `set`",
        ],
    );
    let rules = amended(
        &[(
            "town",
            &invented("  - add: {table: fitting-turns, row: [any, horizontal_to_vertical, 2 in, none]}"),
        )],
        "2026-11-25",
    )
    .expect("a rule set");
    let unreached = crownweir::audit(&rules, crownweir::MemoryCells::Counted);
    assert!(
        unreached
            .iter()
            .all(|remark| remark.weight != crownweir::Weight::Fault),
        "{unreached:?}"
    );
}

/// Each change of the rule set's last amendment: what it concerns and what is done to it.
fn done(rules: &RuleSet) -> Vec<(String, &str)> {
    let last = rules.layers.last().map(|layer| layer.amendment.name.clone());
    let own = rules
        .changes
        .iter()
        .filter(|change| Some(&change.amendment.name) == last.as_ref());
    own.map(|change| (change.part.to_string(), change.what.as_str()))
        .collect()
}

#[test]
fn what_is_dropped_with_a_section_is_told_by_its_kind() {
    let of = |section: &str| {
        let change = format!("  - drop: {{section: \"{section}\"}}");
        amended(&[("town", &invented(&change))], "2026-11-25").unwrap_or_else(|error| panic!("{error}"))
    };
    assert_eq!(
        done(&of("1002.4")),
        [
            ("rule `floor-drain-seal`".to_owned(), "dropped"),
            ("rule `trap-seal`".to_owned(), "dropped")
        ]
    );
    assert_eq!(
        done(&of("912.1")),
        [
            ("arrangement `vertical-wet-vent`".to_owned(), "dropped"),
            ("arrangement `horizontal-wet-vent`".to_owned(), "dropped")
        ]
    );
}

/// What one amendment has narrowed another may free again: the rule then applies where it did.
#[test]
fn a_rule_that_is_freed_of_a_restriction_applies_as_before() {
    let restrict = "  - restrict: {rule: RULE, to: {system.storeys: {at_least: 2}}}";
    let free = "  - drop: {rule: RULE, when: system.storeys}";
    let base = with(&[]);
    // A rule with a `when` of its own, and one without.
    for rule in ["trap-seal", "open-air-vent"] {
        let [state, town] = [restrict, free].map(|change| change.replace("RULE", rule));
        let state = named("state", "", &state);
        let town = named("town", "precedence: local_text\n", &town);
        let narrowed = amended(&[("state", &state)], "2026-11-25").expect("a rule set");
        let freed = amended(&[("state", &state), ("town", &town)], "2026-11-25");
        let freed = freed.unwrap_or_else(|error| panic!("{error}"));
        let when = |rules: &RuleSet| {
            let told = changes(&base, rules);
            let told = told.iter().filter(|one| one.name == rule && one.part == "when");
            told.count()
        };
        assert_eq!((when(&narrowed), when(&freed)), (1, 0), "{rule}");
        // Nothing is left of it in words either.
        let words = |rules: &RuleSet| Words::of(rules).in_line(&rules.rule(rule).expect("a rule").when);
        assert_eq!(words(&freed).trim_matches(['(', ')']), words(&base), "{rule}");
    }
}

/// Renumbering a rule's own citation is a change to that rule, renumbering a section is one to that section.
#[test]
fn renumbering_is_a_change_to_what_it_speaks_of() {
    let renumber = |place: &str, was: &str| format!("  - renumber: {{{place}was: \"{was}\", to: \"4.9\"}}");
    let both = |state: &str, town: &str| {
        let (state, town) = (named("state", "", state), named("town", "", town));
        amended(&[("state", &state), ("town", &town)], "2026-11-25").map(|_| ())
    };
    assert_eq!(both(&renumber("", "706.3"), &renumber("", "911.1")), Ok(()));
    let of_one = renumber("rule: trap-size, ", "1002.5");
    for (state, town) in [
        (renumber("", "706.3"), renumber("", "706.3")),
        (of_one.clone(), of_one.clone()),
        (of_one, "  - drop: {rule: trap-size}".to_owned()),
    ] {
        let error = both(&state, &town).expect_err(&town);
        assert!(
            error.contains("the amendment `state` changes this too"),
            "{error}"
        );
    }
}

/// What is not checked by the base is checked by a rule that an amendment adds, or another matter is left out.
#[test]
fn what_is_not_checked_is_added_and_dropped() {
    let names = |change: &str| {
        let rules = amended(&[("town", &invented(change))], "2026-11-25").expect("a rule set");
        let names: Vec<_> = rules.not_checked.iter().map(|one| one.name.clone()).collect();
        names
    };
    let base = amended(&[], "2026-11-25").expect("the base");
    assert!(base.not_checked.iter().any(|one| one.name == "sump-vents"));
    let (known, gone) = (
        names("  - note: {text: none}"),
        names("  - drop: {matter: sump-vents}"),
    );
    assert_eq!(known.len(), base.not_checked.len());
    assert_eq!(gone.len() + 1, known.len());
    assert!(!gone.contains(&"sump-vents".to_owned()));
    assert_eq!(names("  - drop: {section: \"906.5\"}"), gone);
    let more = names("  - add: {matter: hydrants, with: {title: drains of hydrants}}");
    assert_eq!(more.last().map(String::as_str), Some("hydrants"));
    assert_eq!(more.len(), known.len() + 1);
    for (change, said) in [
        (
            "  - drop: {matter: sump-vent}",
            "the base has no matter `sump-vent`",
        ),
        (
            "  - add: {matter: sump-vents, with: {title: again}}",
            "the base has the matter `sump-vents` already",
        ),
        (
            "  - add: {matter: hydrants, with: {titel: drains}}",
            "did you mean `title`?",
        ),
    ] {
        refused(change, &[said]);
    }
}

#[test]
fn what_a_change_would_not_change_is_told() {
    // An exception that takes out all that there is; the fault is the exception's, not the base's.
    refused(
        "  - except: {rule: trap-seal, exception: all, when: {}}",
        &[
            "town.yaml:12:",
            "this exception leaves nothing of the rule `trap-seal`",
        ],
    );
    // One that takes out what the rule leaves out already may be what the law says; a reader should know it.
    let nothing =
        invented("  - except: {rule: standpipe-height, exception: basins, when: {fixture.type: lavatory}}");
    let rules = amended(&[("town.yaml", &nothing)], "2026-11-25").expect("a rule set");
    let told = audit(&rules, MemoryCells::Counted);
    let told: Vec<_> = told
        .iter()
        .filter(|one| &*one.place.file == "town.yaml")
        .collect();
    let [only] = &told[..] else { panic!("{told:?}") };
    assert_eq!(
        (only.kind, only.weight),
        (RemarkKind::NeverApplies, Weight::Notice)
    );
    let said = "`basins` takes nothing out of the rule `standpipe-height`";
    assert!(only.message.contains(said), "{}", only.message);
    // What is looked at on a visit needs no permission.
    refused(
        "  - gate: {rule: test-witnessed}",
        &["`test-witnessed` is left to a visit"],
    );
    // The rule that every trap be protected is made of the arrangements.
    for change in [
        "gate: {rule: trap-protection}",
        "drop: {rule: trap-protection}",
        "except: {rule: trap-protection, exception: e, when: {fixture.type: lavatory}}",
        "set: {severity: trap-protection, was: violation, to: advice}",
    ] {
        refused(
            &format!("  - {change}"),
            &[
                "`trap-protection` asks for one of the arrangements",
                "expected an arrangement",
            ],
        );
    }
}

#[test]
fn an_amendment_has_a_name_by_which_it_can_be_asked_for() {
    let change = "  - gate: {arrangement: horizontal-wet-vent}";
    for (name, said) in [("a+b", "`+` stands between"), ("ipc-2021", "has that name")] {
        let text = named(name, "", change);
        let told = amended(&[("town", &text)], "2026-11-25").expect_err("a problem");
        assert!(told.contains(said), "{told}");
    }
}
