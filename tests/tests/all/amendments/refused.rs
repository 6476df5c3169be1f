//! Changes that are refused: each is told with its place, and what was expected.

use crownweir::{Limits, RuleSet, Text, published};

use super::{amended, day, invented, refused};

#[test]
fn a_base_that_has_moved_is_an_error_that_shows_both_values() {
    refused(
        "  - set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 9 ft, to: 7 ft}",
        &[
            "town.yaml:12:",
            "the change expects 9 ft, and the base has 8 ft",
            "the base has it at base.yaml:",
        ],
    );
    refused(
        "  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 20 in, to: 18 in}",
        &["the change expects 20 in, and the base has 24 in"],
    );
    refused(
        "  - set: {definition: vertical, was: {most_from_vertical: 60 deg}, to: {most_from_vertical: 72 deg}}",
        &["the change expects {most_from_vertical: 60 deg}, and the base has {most_from_vertical: 45 deg}"],
    );
    for (from, to, said) in [
        (
            "edition: \"2021\"",
            "edition: \"2018\"",
            "written for the edition `2018`, and the base is of `2021`",
        ),
        (
            "from_revision: 1",
            "from_revision: 2",
            "written for revision 2 and later ones, and the base is at revision 1",
        ),
        ("document: IPC", "document: UPC", "written for the document `UPC`"),
        (
            "rules: ipc-2021",
            "rules: upc-2021",
            "written for the rules `upc-2021`",
        ),
        (
            "rules: ipc-2021",
            "rules: ipc2021",
            "written for the rules `ipc2021`, and the base is of `ipc-2021`; expected `ipc-2021`, the base that stands \
             below; did you mean `ipc-2021`?",
        ),
        (", edition: \"2021\"", "", "`edition` is missing here"),
        ("edition: \"2026\"\n", "", "`edition` is missing here"),
    ] {
        let text = invented("  - drop: {rule: crown-vent}").replacen(from, to, 1);
        let error = amended(&[("town.yaml", &text)], "2026-11-25").expect_err(to);
        assert!(error.contains(said), "{error}");
    }
}

#[test]
fn what_takes_out_says_where_it_comes_from_too() {
    for change in [
        "  - drop: {rule: crown-vent}",
        "  - drop: {arrangement: common-vent}",
    ] {
        let text = invented(change);
        assert!(amended(&[("town.yaml", &text)], "2026-11-25").is_ok(), "{change}");
        let text = text.replacen("cite: {section: \"1\", basis: published}\n", "", 1);
        let error = amended(&[("town.yaml", &text)], "2026-11-25").expect_err(change);
        assert!(
            error.contains("town.yaml:11:5: the change does not say where it comes from"),
            "{error}"
        );
    }
}

#[test]
fn a_fact_that_is_none_leads_to_the_one_meant() {
    let rule = |asked: &str| {
        format!(
            "  - add: {{rule: r, with: {{title: t, subject: vent, require: {asked}, severity: violation, message: m}}}}"
        )
    };
    for (asked, said) in [
        ("{vent.size: {at_least: 2 in}}", "did you mean `pipe.size`?"),
        (
            "{vent.developed_lenght: {at_most: 2 in}}",
            "did you mean `vent.developed_length`?",
        ),
        (
            "{fact: {at_least: 2 in}}",
            "expected a fact of pipe, vent, stack, system, by its full name",
        ),
        (
            "{trap.size: {at_least: 2 in}}",
            "expected a fact of pipe, vent, stack, system, by its full name",
        ),
    ] {
        refused(&rule(asked), &[said]);
    }
}

#[test]
fn a_citation_names_document_and_edition_together() {
    refused(
        "  - drop: {rule: crown-vent}\n  - add: {rule: r, with: {title: t, subject: vent, require: {pipe.size: {at_least: 2 in}}, severity: violation, message: m}}\n    cite: {document: Some Code, section: \"903.1\", basis: published}",
        &["names a document without an edition"],
    );
}

#[test]
fn a_figure_by_itself_carries_its_unit() {
    for (change, said) in [
        (
            "set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8 ft, to: 7}",
            "town.yaml:12:79: `7` has no unit; expected a unit, such as `7 ft`",
        ),
        (
            "set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8, to: 7 ft}",
            "town.yaml:12:69: `8` has no unit; expected a unit, such as `8 ft`",
        ),
        (
            "set: {table: fixture-loads, row: {type: lavatory}, column: load, was: 1 dfu, to: 2}",
            "town.yaml:12:86: `2` has no unit; expected a unit, such as `2 dfu`",
        ),
        (
            "cap: {table: trap-arms, column: length, at: 6}",
            "town.yaml:12:49: `6` has no unit; expected a unit, such as `6 ft`",
        ),
        (
            "floor: {table: trap-arms, row: {trap: 4 in}, column: length, at: 20-1/2}",
            "town.yaml:12:70: `20-1/2` has no unit; expected a unit, such as `20-1/2 ft`",
        ),
        (
            "set: {table: branches-and-stacks, row: {size: 15}, column: one_interval, was: 1 dfu, to: 2 dfu}",
            "town.yaml:12:51: `15` has no unit",
        ),
    ] {
        refused(&format!("  - {change}"), &[said]);
    }
    // Under the head of its table, which states the unit.
    let row = invented("  - add: {table: trap-arms, row: [2-1/2 in, 10]}");
    assert!(amended(&[("town.yaml", &row)], "2026-11-25").is_ok());
}

// What an amendment has itself changed or dropped is not said to be the base's.
#[test]
fn a_second_change_of_the_same_thing_is_told_as_such() {
    let arm = "set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8 ft, to: 7 ft}";
    let drop = "drop: {rule: trap-seal}";
    for (first, second, said) in [
        (
            arm,
            "set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8 ft, to: 6 ft}",
            "town.yaml:13:10: the amendment has changed this already; expected one change to each thing",
        ),
        (
            drop,
            "set: {rule: trap-seal, limit: trap.seal, order: at_least, was: 2 in, to: 3 in}",
            "town.yaml:13:10: the amendment has dropped the rule `trap-seal` itself; expected one change to each thing",
        ),
    ] {
        refused(&format!("  - {first}\n  - {second}"), &[said]);
    }
    refused(
        &format!("  - {arm}\n    {drop}"),
        &["a change does one thing, and this one `set` and `drop`; expected exactly one of fill, set,"],
    );
}

// Nobody sees by looking what is wrong there.
#[test]
fn a_letter_that_only_looks_like_another_is_told() {
    for (change, said) in [
        (
            "set: {table: tr\u{430}p-arms, row: {trap: 2 in}, column: length, was: 8 ft, to: 7 ft}",
            "did you mean `trap-arms`? `\u{430}` (U+0430) only looks like `a`",
        ),
        (
            "set: {table: trap-arms, row: {trap: 1\u{2013}1/2 in}, column: length, was: 6 ft, to: 5 ft}",
            "`\u{2013}` (U+2013) only looks like `-`",
        ),
        (
            "set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8 ft, to: \u{ff17} ft}",
            "`\u{ff17}` (U+FF17) only looks like `7`",
        ),
    ] {
        refused(&format!("  - {change}"), &[said]);
    }
}

// The word that is not known is told, and not that the rule lacks it.
#[test]
fn what_is_cut_out_of_a_rule_that_is_added_is_not_told_as_missing() {
    let rule = "  - add: {rule: r, with: {title: t, subject: vent, require: {pipe.size: {at_least: 2 in}}, severity: warning, message: m}}";
    let error = amended(&[("town.yaml", &invented(rule))], "2026-11-25").expect_err("no severity");
    assert_eq!(error.lines().count(), 1, "{error}");
    assert!(
        error.contains("`warning` is not a word that is known here"),
        "{error}"
    );
}

// What is wrong with the head hides nothing that is wrong with the changes.
#[test]
fn all_that_can_be_judged_of_an_amendment_is_told_at_once() {
    let slips = "  - set: {table: trap-arm, row: {trap: 2 in}, column: length, was: 8 ft, to: 7 ft}
  - set: {table: trap-arms, row: {trap: 2 in}, colum: length, was: 8 ft, to: 7 ft}
  - drop: {rule: no-such-rule}";
    let told = [
        "town.yaml:12:18: the base has no table `trap-arm`",
        "town.yaml:13:48: `colum` is not a key that is known here",
        "town.yaml:14:18: the base has no rule `no-such-rule`",
    ];
    for (from, to, own) in [
        (
            "from_revision: 1",
            "from_revision: 9",
            "town.yaml:7:72: the amendment was written for revision 9 and later ones",
        ),
        (
            "rules: ipc-2021",
            "rules: ipc2021",
            "town.yaml:7:15: the amendment was written for the rules `ipc2021`",
        ),
        (
            "status: in_force",
            "status: in_force\nfrom: 2027-03-01\nuntil: 2027-02-01",
            "town.yaml:10:8: it ends before it begins",
        ),
    ] {
        let head = invented(slips).replace(from, to);
        let error = amended(&[("town.yaml", &head)], "2026-11-25").expect_err(own);
        let lines: Vec<&str> = error.lines().collect();
        let moved = head.lines().count() - invented(slips).lines().count();
        let told = told.iter().map(|line| {
            let (_, rest) = line.split_once(":1").expect("a line above ten");
            let (number, rest) = rest.split_once(':').expect("a column");
            let number: usize = number.parse().expect("a line");
            format!("town.yaml:1{}:{rest}", number + moved)
        });
        let expected: Vec<String> = std::iter::once(own.to_owned()).chain(told).collect();
        assert_eq!(lines.len(), expected.len(), "{error}");
        for (line, expected) in lines.iter().zip(&expected) {
            assert!(line.starts_with(expected), "{line}\n{expected}");
        }
    }
}

#[test]
fn what_changes_nothing_or_speaks_of_nothing_is_refused() {
    for (changes, said) in [
        (
            "  - set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8 ft, to: 96 in}",
            "the change changes nothing",
        ),
        (
            "  - set: {table: trap-arm, row: {trap: 2 in}, column: length, was: 8 ft, to: 7 ft}",
            "no table `trap-arm`; did you mean `trap-arms`?",
        ),
        (
            "  - drop: {arrangement: wet-vent}",
            "the base has no arrangement `wet-vent`; expected one of individual-vent, common-vent,",
        ),
        (
            "  - set: {table: trap-arms, row: {trap: 5 in}, column: length, was: 8 ft, to: 7 ft}",
            "the table `trap-arms` has no `trap` 5 in; expected one of 1-1/4 in, 1-1/2 in, 2 in, 3 in, 4 in",
        ),
        (
            "  - set: {table: trap-arms, row: {trap: 2 inn}, column: length, was: 8 ft, to: 7 ft}",
            "`2 inn` has the unknown unit `inn`",
        ),
        (
            "  - set: {table: trap-arms, row: {}, column: length, was: 8 ft, to: 7 ft}",
            "5 cells of the table `trap-arms` fit",
        ),
        (
            "  - set: {table: trap-arms, row: {tarp: 2 in}, column: length, was: 8 ft, to: 7 ft}",
            "the table `trap-arms` has no key `tarp`; expected trap",
        ),
        (
            "  - set: {table: trap-arms, row: {trap: 2 in}, column: lenth, was: 8 ft, to: 7 ft}",
            "the table `trap-arms` has no column `lenth`; expected length; did you mean `length`?",
        ),
        (
            "  - set: {rule: trap-seel, limit: trap.seal, was: 2 in, to: 3 in}",
            "no rule `trap-seel`; did you mean `trap-seal`?",
        ),
        (
            "  - set: {rule: trap-seal, limit: trap.seal, was: 2 in, to: 3 in}",
            "compared there more than once; expected `order`, one of at_least, at_most",
        ),
        (
            "  - set: {rule: trap-seal, limit: trap.seel, was: 2 in, to: 3 in}",
            "did you mean `trap.seal`?",
        ),
        (
            "  - set: {definition: vertikal, was: {}, to: {}}",
            "did you mean `vertical`?",
        ),
        (
            "  - fill: {table: trap-arms, row: {trap: 2 in}, column: length, to: 7 ft}",
            "filled already, with 8",
        ),
        (
            "  - fill: {rule: trap-outlet-drop, limit: trap.outlet_drop, to: 7 in}",
            "leaves nothing to the adopter",
        ),
        (
            "  - floor: {table: trap-arms, column: length, at: 1 ft}",
            "no value is beyond it",
        ),
        (
            "  - replace: {rule: nothing-like-it, with: {}}",
            "no rule `nothing-like-it`",
        ),
        (
            "  - add: {rule: trap-seal, with: {}}",
            "has the rule `trap-seal` already",
        ),
        (
            "  - drop: {section: \"91\"}",
            "no rule, arrangement or matter cites section 91 of the base",
        ),
        (
            "  - drop: {rule: frost-closure, when: system.storeys}",
            "applies by `system.storeys` in 0 places",
        ),
        (
            "  - drop: {rule: trap-seal, exception: none}",
            "has no exception `none`",
        ),
        (
            "  - drop: {arrangement: common-vent, condition: protection.bathroom_groups}",
            "0 conditions of the arrangement",
        ),
        (
            "  - drop: {table: trap-arms, row: {trap: 5 in}}",
            "the table `trap-arms` has no `trap` 5 in",
        ),
        (
            "  - set: {table: building-drains, row: {size: 4 in, slope: 3/16 in/ft}, was: 216 dfu, to: 200 dfu}",
            "the table `building-drains` has no `slope` 3/16 in/ft",
        ),
        (
            "  - set: {table: building-drains, row: {size: 4 in, slop: 1/4 in/ft}, was: 216 dfu, to: 200 dfu}",
            "the table `building-drains` has no key `slop`; expected one of size, slope; did you mean `slope`?",
        ),
        (
            "  - restrict: {arrangement: common-vent, to: {system.storeys: {at_most: 2}}}",
            "`message` is missing here; expected `arrangement`, `to`, `message`",
        ),
        ("  - gate: {rule: building-trap}", "needs permission already"),
        (
            "  - renumber: {rule: trap-seal, was: \"1002.3\", to: \"4.8\"}",
            "does not cite section 1002.3",
        ),
        (
            "  - gate: {rule: trap-seal}\n    drop: {rule: trap-seal}",
            "a change does one thing",
        ),
        ("  - {}", "a change does one thing"),
        ("  - drop: {}", "nothing is named here"),
        ("  - dorp: {rule: trap-seal}", "did you mean `drop`?"),
        (
            "  - note: {text: t, rule: trap-seel}",
            "did you mean `trap-seal`?",
        ),
    ] {
        refused(changes, &[said, "town.yaml:12:"]);
    }
}

#[test]
fn what_a_change_puts_in_is_read_as_the_rule_set_is() {
    refused(
        "  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 24 in, to: 2 dfu}",
        &["town.yaml:12:", "a length such as"],
    );
    refused(
        "  - add: {rule: r, with: {title: t, subject: vent, require: {pipe.siez: {at_least: 2 in}}, severity: violation, message: m}}",
        &["town.yaml:12:", "did you mean `pipe.size`?"],
    );
    refused(
        "  - restrict: {rule: trap-seal, to: {pipe.size: 2 in}}",
        &["town.yaml:12:", "a rule about trap cannot speak of `pipe.size`"],
    );
}

#[test]
fn changes_piled_up_without_end_are_refused_and_not_followed_down() {
    let pile: Vec<String> = (0..900)
        .map(|step| {
            let verb = if step % 2 == 0 { "floor" } else { "cap" };
            format!(
                "  - {verb}: {{rule: trap-outlet-drop, limit: trap.outlet_drop, at: {} in}}",
                step + 1
            )
        })
        .collect();
    refused(&pile.join("\n"), &["the changes pile up more than"]);
    let restricted = vec!["  - restrict: {rule: trap-outlet-drop, to: {system.storeys: {at_most: 4}}}"; 900];
    refused(&restricted.join("\n"), &["the changes pile up more than"]);
    let enough = vec!["  - note: {text: once more}"; 1000];
    assert!(amended(&[("town.yaml", &invented(&enough.join("\n")))], "2026-11-25").is_ok());
    let many = vec!["  - note: {text: once more}"; 1001];
    refused(&many.join("\n"), &["makes 1001 changes"]);
    refused(
        "  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 24 in, to: 23 in}\n  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 23 in, to: 22 in}",
        &["town.yaml:13:", "the amendment has changed this already"],
    );
}

#[test]
fn keys_that_do_not_go_together_are_refused_and_drop_nothing() {
    for changes in [
        "  - drop: {rule: trap-arm-length, condition: trap.size}",
        "  - drop: {arrangement: horizontal-wet-vent, when: protection.same_storey}",
        "  - drop: {rule: trap-seal, section: \"1002.4\"}",
        "  - drop: {rule: trap-seal, when: trap.kind, exception: e}",
        "  - set: {table: trap-arms, row: {trap: 2 in}, column: length, order: is, was: 8 ft, to: 7 ft}",
        "  - add: {table: trap-arms, row: [5 in, 20], with: {}}",
        "  - gate: {rule: trap-seal, arrangement: common-vent}",
    ] {
        refused(
            changes,
            &["what the change speaks of is not clear from `", "expected `"],
        );
    }
    refused(
        "  - cap: {table: main-vents, column: lenth, at: 5 ft}",
        &["the table `main-vents` has no column `lenth`; expected length; did you mean `length`?"],
    );
    refused(
        "  - replace: {rule: trap-seal, with: {rule: other}}",
        &["has another name here"],
    );
}

/// The place is that of the name itself, in the change's line.
#[test]
fn a_name_that_a_table_has_not_is_pointed_at() {
    for (change, column, said) in [
        (
            "  - set: {table: trap-arms, row: {trap: 2 in}, column: lenght, was: 8 ft, to: 7 ft}",
            "lenght",
            "the table `trap-arms` has no column `lenght`; expected length; did you mean `length`?",
        ),
        (
            "  - set: {table: trap-arms, row: {trp: 2 in}, column: length, was: 8 ft, to: 7 ft}",
            "trp",
            "the table `trap-arms` has no key `trp`; expected trap; did you mean `trap`?",
        ),
        (
            "  - drop: {table: trap-arms, row: {trp: 2 in}}",
            "trp",
            "the table `trap-arms` has no key `trp`; expected trap; did you mean `trap`?",
        ),
        (
            "  - floor: {table: trap-arms, row: {trp: 2 in}, column: length, at: 9 ft}",
            "trp",
            "the table `trap-arms` has no key `trp`; expected trap; did you mean `trap`?",
        ),
    ] {
        let place = change.find(column).expect("it stands there") + 1;
        refused(change, &[&format!("town.yaml:12:{place}: {said}")]);
    }
}

/// As `to` is: the base is not to blame.
#[test]
fn what_is_expected_and_cannot_be_read_is_said_to_be_so() {
    // A blank could stand there, and does not.
    refused(
        "  - set: {table: trap-arms, row: {trap: 2 in}, column: length, was: unfilled, to: 7 ft}",
        &["the change expects unfilled, and the base has 8 ft"],
    );
    // Nor could a row's key be anything at all.
    refused(
        "  - set: {table: trap-arms, row: {trap: any}, column: length, was: 8 ft, to: 7 ft}",
        &["the table `trap-arms` has no `trap` any; expected one of 1-1/4 in, "],
    );
    for (change, place, said) in [
        (
            "  - set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8 fet, to: 7 ft}",
            "8 fet",
            "`8 fet` has the unknown unit `fet`",
        ),
        (
            "  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 24 inn, to: 18 in}",
            "24 inn",
            "`24 inn` has the unknown unit `inn`",
        ),
        (
            "  - set: {definition: vertical, was: {most_from_vertical: 45 dgr}, to: {most_from_vertical: 72 deg}}",
            "45 dgr",
            "`45 dgr` has the unknown unit `dgr`",
        ),
    ] {
        let column = change.find(place).expect("it stands there") + 1;
        refused(change, &[&format!("town.yaml:12:{column}: {said}")]);
    }
}

#[test]
fn a_key_that_a_change_lacks_is_named() {
    refused(
        "  - restrict: {arrangement: common-vent, to: {drain.size: {at_least: 2 in}}}",
        &["town.yaml:12:15: `message` is missing here; expected `arrangement`, `to`, `message`"],
    );
    refused(
        "  - drop: {table: trap-arms}",
        &["`row` is missing here; expected `table`, `row`"],
    );
}

#[test]
fn a_problem_that_an_amendment_causes_in_the_base_names_it() {
    refused(
        "  - replace: {table: trap-arms, with: {title: t, keys: [{name: pipe, of: size, match: exact}], columns: [{name: length, of: length}], rows: [[2 in, 8 ft]]}}",
        &[
            "base.yaml:",
            "this comes of the amendments: table `trap-arms` replaced (town.yaml:12)",
        ],
    );
    refused(
        "  - drop: {rule: crown-vent}\n    cite: {section: 12, basis: published}",
        &["`12` is read as a number, and a text belongs here", "in quotes"],
    );
}

/// What an amendment that speaks of a rule that is none is told over the base at a revision, and of which words in its
/// file: that there is no such rule is told where the amendment is for that code.
fn told_over(revision: &str, written_for: &str) -> Vec<(String, String)> {
    let base = published::text("ipc-2021").expect("the base");
    let base = base.replacen("revision: 1", &format!("revision: {revision}"), 1);
    let own = invented("  - drop: {rule: trap-seel}").replacen(
        "{rules: ipc-2021, document: IPC, edition: \"2021\", from_revision: 1}",
        written_for,
        1,
    );
    let [base, own] = [("base.yaml", &base), ("town.yaml", &own)].map(|(name, text)| Text {
        name,
        bytes: text.as_bytes(),
    });
    let problems =
        RuleSet::amended(base, &[own], day("2026-11-25"), &Limits::default()).expect_err("a fault");
    let list = problems.list.iter();
    list.map(|problem| (problem.offending.clone(), problem.to_string()))
        .collect()
}

#[test]
fn an_amendment_for_another_code_is_told_of_that_alone() {
    for (written_for, expected) in [
        (
            "{rules: ipc2021, document: IPC, edition: \"2021\", from_revision: 1}",
            &[
                ("ipc2021", "expected `ipc-2021`, the base that stands below"),
                ("trap-seel", "has no rule `trap-seel`"),
            ][..],
        ),
        (
            "{rules: ipc-2021, document: International Plumbing Code, edition: \"2021\", from_revision: 1}",
            &[
                (
                    "International Plumbing Code",
                    "expected `IPC`, the base that stands below",
                ),
                ("trap-seel", "has no rule `trap-seel`"),
            ],
        ),
        (
            "{rules: ipc2021, document: IPC, edition: \"2018\", from_revision: 1}",
            &[
                ("ipc2021", "expected a base of `ipc2021`"),
                ("\"2018\"", "expected a base of `2018`"),
            ],
        ),
        (
            "{rules: ipc2021, document: UPC, edition: \"2021\", from_revision: 1}",
            &[
                ("ipc2021", "expected a base of `ipc2021`"),
                ("UPC", "expected a base of `UPC`"),
            ],
        ),
    ] {
        let told = told_over("1", written_for);
        assert_eq!(told.len(), expected.len(), "{told:?}");
        for ((at, told), (place, said)) in told.iter().zip(expected) {
            assert!(at == place && told.contains(said), "{at}: {told}");
        }
    }
}

#[test]
fn a_misspelt_key_of_the_head_hides_no_change() {
    let text = invented("  - drop: {rule: trap-seel}").replacen("title:", "titel:", 1);
    let error = amended(&[("town.yaml", &text)], "2026-11-25").expect_err("two faults");
    for said in ["did you mean `title`?", "did you mean `trap-seal`?"] {
        assert!(error.contains(said), "{error}");
    }
}

#[test]
fn the_revisions_that_an_amendment_is_for_begin_and_end_with_those_named() {
    let none = "has no rule `trap-seel`";
    for (revisions, at, said) in [
        ("from_revision: 1", "trap-seel", none),
        ("from_revision: 3, to_revision: 3", "trap-seel", none),
        ("from_revision: 1, to_revision: 5", "trap-seel", none),
        (
            "from_revision: 1, to_revision: 2",
            "2",
            "written for revisions 1 to 2, and the base is at revision 3",
        ),
        (
            "from_revision: 3, to_revision: 2",
            "2",
            "written for revisions 3 to 2, and the base is at revision 3",
        ),
        ("from_revision: 4", "4", "written for revision 4 and later ones"),
        (
            "from_revision: 4, to_revision: 5",
            "4",
            "written for revisions 4 to 5",
        ),
    ] {
        let for_these = format!("{{rules: ipc-2021, document: IPC, edition: \"2021\", {revisions}}}");
        let told = told_over("3", &for_these);
        let (place, first) = &told[0];
        assert!(
            place == at && first.contains(said),
            "{revisions}: {place}: {first}"
        );
        // What else is wrong is told beside a base that has moved.
        let (last, only) = (told.last().map(|(_, told)| told), 1 + usize::from(said != none));
        assert!(last.is_some_and(|last| last.contains(none)), "{told:?}");
        assert_eq!(told.len(), only, "{told:?}");
    }
}

/// What stands in the place of a name that is none is told in full.
#[test]
fn what_could_be_taken_out_is_listed() {
    for (change, said) in [
        (
            "  - drop: {rule: trap-seal, exception: none}",
            "has no exception `none`; expected nothing: there is none",
        ),
        (
            "  - drop: {arrangement: common-vent, condition: protection.storey}",
            "0 conditions of the arrangement `common-vent` go by `protection.storey`; expected one of \
             protection.fixtures_at_vent, protection.same_storey, protection.turns_down; did you mean \
             `protection.same_storey`?",
        ),
        (
            "  - drop: {rule: trap-seal, when: trap.knid}",
            "the rule `trap-seal` applies by `trap.knid` in 0 places; expected trap.kind; did you mean \
             `trap.kind`?",
        ),
        // The nearest of the others: that the section itself is cited elsewhere helps nobody here.
        (
            "  - renumber: {rule: trap-seal, was: \"1002.3\", to: \"4.8\"}",
            "the rule `trap-seal` does not cite section 1002.3 of the base; did you mean `1002.",
        ),
        (
            "  - drop: {section: \"1002.44\"}",
            "no rule, arrangement or matter cites section 1002.44 of the base; did you mean `1002.4`?",
        ),
    ] {
        refused(change, &[said]);
    }
}

/// Where a limit is not found, the name of its fact is pointed at.
#[test]
fn a_fact_that_a_rule_does_not_ask_about_is_pointed_at() {
    for key in ["limit", "when"] {
        let change = format!("  - set: {{rule: trap-seal, {key}: trap.knd, was: 24 in, to: 20 in}}");
        let column = change.find("trap.knd").expect("it stands there") + 1;
        refused(
            &change,
            &[&format!(
                "town.yaml:12:{column}: `trap.knd` is not compared there"
            )],
        );
    }
}
