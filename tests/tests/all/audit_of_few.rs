//! What the audit tells of a rule set of a few lines: all that it has to say of one kind, and nothing else.

use std::fmt::Write as _;

use crownweir::{Limits, MemoryCells, Remark, RemarkKind as Kind, RuleSet, Weight, audit};

/// A rule set with four sizes, up to its tables.
const HEAD: &str = "crownweir: ruleset/1
name: gull-lane
title: Rules of an invented town
document: Gull Lane
edition: \"1\"
revision: 1
sizes: [{size: 2 in, diameter: 2 in}, {size: 3 in, diameter: 3 in}, {size: 4 in, diameter: 4 in}, {size: 6 in, diameter: 6 in}]
definitions:
  vertical: {most_from_vertical: 45 deg, cite: {basis: common_practice}}
  branch_interval: {counted_by: storey, cite: {basis: common_practice}}
  bathroom_group: {needs: [[lavatory]], cite: {basis: common_practice}}
  trap_arm: {measured_from: trap_weir, cite: {basis: common_practice}}
  vent_length: {measured_to: open_air, cite: {basis: common_practice}}
loads: {fixture: []}
arrangements: []
tables:
";

/// The line of the first row of the first table.
const FIRST_ROW: usize = 23;

/// A table with the keys and the one column given.
fn table(name: &str, keys: &str, gives: &str, rows: &[&str]) -> String {
    let mut text = format!(
        "  {name}:
    title: t
    cite: {{basis: common_practice}}
    keys: [{keys}]
    columns: [{{name: figure, of: {gives}}}]
    rows:
"
    );
    for row in rows {
        let _ = writeln!(text, "      - {row}");
    }
    text
}

/// A rule about drains.
fn rule(name: &str, when: &str, require: &str) -> String {
    format!(
        "  - {{rule: {name}, title: t, subject: drain, when: {when}, require: {require}, severity: advice, cite: {{basis: common_practice}}, message: m}}\n"
    )
}

#[track_caller]
fn read(tables: &str, rules: &str) -> RuleSet {
    let text = format!("{HEAD}{tables}rules:\n{rules}");
    RuleSet::read("few.yaml", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

/// The remarks of a kind, by line.
fn of(kind: Kind, rules: &RuleSet) -> Vec<Remark> {
    let mut remarks = audit(rules, MemoryCells::Counted);
    remarks.retain(|remark| remark.kind == kind);
    remarks
}

/// Their messages.
fn told(kind: Kind, tables: &str, rules: &str) -> Vec<String> {
    let remarks = of(kind, &read(tables, rules)).into_iter();
    remarks.map(|remark| remark.message).collect()
}

/// Each row that no look-up finds, and the row that takes all that it matches, both counted from 0.
#[test]
fn a_row_is_never_found_where_earlier_ones_take_all_that_it_matches() {
    let truths = "{name: a, of: truth, match: exact}, {name: b, of: truth, match: exact}, {name: c, of: truth, match: exact}";
    let size = |matching: &str| format!("{{name: size, of: size, match: {matching}}}");
    let load = |matching: &str| format!("{{name: load, of: load, unit: dfu, match: {matching}}}");
    let by_kind = format!("{{name: kind, of: pipe.kind, match: exact}}, {}", load("up_to"));
    for (keys, rows, expected) in [
        // The third row is found by a single one of the eight combinations, the last by none.
        (
            truths.to_owned(),
            &[
                "[false, any, any, 1]",
                "[any, false, any, 2]",
                "[any, any, true, 3]",
                "[true, true, false, 4]",
                "[any, any, any, 5]",
            ][..],
            &[(4, 0)][..],
        ),
        // For sizes over 3 in.
        (size("up_to"), &["[3 in, 1]", "[any, 2]"], &[]),
        (size("from"), &["[3 in, 1]", "[any, 2]"], &[]),
        // Every size has a row of its own.
        (
            size("exact"),
            &["[2 in, 1]", "[3 in, 2]", "[4 in, 3]", "[6 in, 4]", "[any, 5]"],
            &[(4, 0)],
        ),
        (
            size("exact"),
            &["[2 in, 1]", "[3 in, 2]", "[4 in, 3]", "[any, 5]"],
            &[],
        ),
        (
            format!("{{name: own, of: truth, match: exact}}, {}", size("exact")),
            &["[true, 2 in, 1]", "[false, 2 in, 2]", "[any, 2 in, 3]"],
            &[(2, 1)],
        ),
        // A row for anything ends a look-up.
        (load("up_to"), &["[any, 1]", "[10, 2]"], &[(1, 0)]),
        (load("up_to"), &["[20, 1]", "[10, 2]", "[any, 3]"], &[]),
        (load("from"), &["[any, 1]", "[5, 2]"], &[(1, 0)]),
        // No load is under nothing.
        (load("from"), &["[0, 1]", "[any, 2]"], &[(1, 0)]),
        (load("from"), &["[2, 1]", "[any, 2]"], &[]),
        // Of two rows that end alike the first counts.
        (
            by_kind.clone(),
            &["[stack, 10, 1]", "[any, 10, 2]", "[any, 20, 3]", "[stack, 20, 4]"],
            &[(3, 2)],
        ),
        (
            by_kind,
            &["[stack, 10, 1]", "[any, 10, 2]", "[stack, 20, 3]", "[any, 20, 4]"],
            &[],
        ),
    ] {
        let found = of(
            Kind::RowNeverFound,
            &read(&table("t", &keys, "count", rows), "  []\n"),
        );
        let found: Vec<_> = found
            .iter()
            .map(|remark| {
                assert_eq!(remark.weight, Weight::Fault);
                let row = remark.place.line - FIRST_ROW;
                let takes =
                    |row: usize| format!("the row in line {} takes all that it matches", FIRST_ROW + row);
                let by = (0..rows.len()).find(|by| remark.message.ends_with(&takes(*by)));
                (row, by.unwrap_or(rows.len()))
            })
            .collect();
        assert_eq!(found, expected, "{keys}: {rows:?}");
    }
}

/// A row with a key along the head is several rows, and is told of once.
#[test]
fn a_row_along_the_head_is_told_of_once() {
    let tables = "  t:
    title: t
    cite: {basis: common_practice}
    keys: [{name: own, of: truth, match: exact}]
    across: {name: size, of: size, match: exact, at: [2 in, 3 in], gives: {name: figure, of: count}}
    rows: [[any, 1, 2],
      [true, 3, 4], [false, 5, 6]]
";
    assert_eq!(
        told(Kind::RowNeverFound, tables, "  []\n"),
        [
            "no look-up of the table `t` finds the row for yes, 2 in: the row in line 22 takes all that it matches",
            "no look-up of the table `t` finds the row for no, 2 in: the row in line 22 takes all that it matches",
        ]
    );
}

/// Rows overlap where each is the more particular in one exact key, and they say otherwise.
#[test]
fn rows_overlap_where_each_is_the_more_particular_in_one_key() {
    let exact = "{name: kind, of: pipe.kind, match: exact}, {name: size, of: size, match: exact}";
    let third = format!("{exact}, {{name: own, of: truth, match: exact}}");
    let bound = "{name: kind, of: pipe.kind, match: exact}, {name: size, of: size, match: up_to}";
    for (keys, rows, expected) in [
        (
            exact,
            &["[stack, any, 1]", "[any, 2 in, 2]", "[any, any, 3]"][..],
            Some(("stack, any", 0, "any, 2 in")),
        ),
        (
            exact,
            &["[any, 2 in, 2]", "[stack, any, 1]"],
            Some(("any, 2 in", 0, "stack, any")),
        ),
        // They say the same.
        (exact, &["[stack, any, 1]", "[any, 2 in, 1]"], None),
        // One is the more particular in both, or they share no key.
        (
            exact,
            &["[stack, 2 in, 1]", "[any, 2 in, 2]", "[any, any, 3]"],
            None,
        ),
        (exact, &["[stack, any, 1]", "[branch, any, 2]"], None),
        (&third, &["[stack, any, true, 1]", "[any, 2 in, false, 2]"], None),
        (
            &third,
            &["[stack, any, true, 1]", "[any, 2 in, true, 2]"],
            Some(("stack, any, yes", 0, "any, 2 in, yes")),
        ),
        (&third, &["[stack, any, true, 1]", "[stack, any, any, 2]"], None),
        // Of bounds the nearest is taken, whatever the order.
        (bound, &["[stack, any, 1]", "[any, 2 in, 2]"], None),
    ] {
        let expected = expected.map(|(earlier, at, later)| {
            let line = FIRST_ROW + at;
            format!(
                "in the table `t` the rows for {earlier} (line {line}) and for {later} both match some keys, and the earlier one is taken"
            )
        });
        let found = told(Kind::RowsOverlap, &table("t", keys, "count", rows), "  []\n");
        assert_eq!(found, expected.into_iter().collect::<Vec<_>>(), "{rows:?}");
    }
}

/// What lies beyond the bounds of a table's rows is told with the side on which it lies.
#[test]
fn values_beyond_the_bounds_are_told_with_their_side() {
    let load = |matching: &str| format!("{{name: load, of: load, unit: dfu, match: {matching}}}");
    let size = "{name: size, of: size, match: up_to}".to_owned();
    let exact = "{name: count, of: count, match: exact}".to_owned();
    let by_kind = format!("{{name: kind, of: pipe.kind, match: exact}}, {}", load("up_to"));
    for (keys, rows, expected) in [
        (load("up_to"), &["[10, 1]", "[20, 2]"][..], Some("over 20 dfu")),
        (load("up_to"), &["[10, 1]", "[any, 2]"], None),
        (load("from"), &["[2, 1]", "[5, 2]"], Some("under 2 dfu")),
        (load("from"), &["[0, 1]", "[5, 2]"], None),
        (load("from"), &["[2, 1]", "[any, 2]"], None),
        (size, &["[2 in, 1]", "[3 in, 2]"], None),
        (exact, &["[2, 1]", "[3, 2]"], None),
        (
            by_kind.clone(),
            &["[stack, 10, 1]", "[branch, 10, 2]"],
            Some("over 10 dfu"),
        ),
        (
            by_kind.clone(),
            &["[stack, 10, 1]", "[stack, 20, 1]", "[branch, 10, 2]"],
            Some("over 20 dfu; with some other keys its rows end sooner"),
        ),
        (
            by_kind,
            &["[stack, 10, 1]", "[branch, 10, 2]", "[any, any, 3]"],
            None,
        ),
    ] {
        let found = of(
            Kind::BeyondRows,
            &read(&table("t", &keys, "count", rows), "  []\n"),
        );
        let found: Vec<_> = found
            .iter()
            .map(|remark| (remark.weight, remark.message.as_str()))
            .collect();
        let expected = expected.map(|side| format!("the table `t` has no row for a `load` {side}"));
        let expected: Vec<_> = expected
            .iter()
            .map(|message| (Weight::Notice, message.as_str()))
            .collect();
        assert_eq!(found, expected, "{keys}: {rows:?}");
    }
}

/// What a table passes over is missing whatever other tables have, what lies at its ends only where another has it.
#[test]
fn sizes_are_missing_between_rows_and_at_ends_that_other_tables_have() {
    let key = |matching: &str| format!("{{name: size, of: size, match: {matching}}}");
    let other = table(
        "other",
        &key("exact"),
        "count",
        &["[2 in, 1]", "[3 in, 2]", "[4 in, 3]", "[6 in, 4]"],
    );
    let (few, wide) = (["[3 in, 1]", "[4 in, 2]"], ["[2 in, 1]", "[6 in, 2]"]);
    let stops = "by its key `size`, the table `t` stops short of sizes that other tables have:";
    for (matching, rows, beside, expected) in [
        ("exact", &few[..], "", None),
        ("exact", &few, &*other, Some(format!("{stops} 2 in, 6 in"))),
        ("from", &few, &other, Some(format!("{stops} 2 in"))),
        ("up_to", &few, &other, Some(format!("{stops} 6 in"))),
        (
            "exact",
            &wide,
            "",
            Some("by its key `size`, the table `t` passes over 3 in, 4 in".to_owned()),
        ),
        ("from", &wide, "", None),
        ("up_to", &wide, "", None),
        ("exact", &["[3 in, 1]", "[any, 2]"], &other, None),
    ] {
        let tables = format!("{}{beside}", table("t", &key(matching), "count", rows));
        let expected: Vec<_> = expected.into_iter().collect();
        assert_eq!(
            told(Kind::SizesMissing, &tables, "  []\n"),
            expected,
            "{matching} {rows:?}"
        );
    }
    // Its own rows by another key are no other table's; bounds in another table are not rows for exactly a size.
    let two = format!("{}, {{name: inlet, of: size, match: exact}}", key("exact"));
    let own = table(
        "t",
        &two,
        "count",
        &["[2 in, 2 in, 1]", "[3 in, 3 in, 2]", "[2 in, 4 in, 3]"],
    );
    let bounds = table("other", &key("up_to"), "count", &["[2 in, 1]", "[6 in, 2]"]);
    assert_eq!(
        told(Kind::SizesMissing, &format!("{own}{bounds}"), "  []\n"),
        Vec::<String>::new()
    );
}

/// A column runs as is certain of any code, else as at least two thirds of its own steps do.
#[test]
fn a_column_runs_as_is_certain_or_as_most_of_its_steps() {
    let sizes = ["2 in", "3 in", "4 in", "6 in"];
    let loads = ["1 dfu", "2 dfu", "3 dfu", "4 dfu", "5 dfu", "6 dfu"];
    let lengths = |of: &[u8]| of.iter().map(|length| format!("{length} ft")).collect::<Vec<_>>();
    let counts = |of: &[u8]| of.iter().map(ToString::to_string).collect::<Vec<_>>();
    let owned = |of: &[&str]| of.iter().map(|one| (*one).to_owned()).collect::<Vec<_>>();
    for (key, keys, gives, cells, against) in [
        // Larger pipes carry more, higher loads need larger pipes and may be vented less far: a single step tells.
        (
            "size",
            &sizes[..],
            "load",
            owned(&["2 dfu", "1 dfu"]),
            &[(1, "less")][..],
        ),
        ("load", &loads, "size", owned(&["3 in", "2 in"]), &[(1, "less")]),
        ("load", &loads, "length", lengths(&[3, 4]), &[(1, "more")]),
        ("load", &loads, "length", lengths(&[4, 3, 3]), &[]),
        // What may be is least where it is not permitted and most without a limit.
        (
            "size",
            &sizes,
            "load",
            owned(&["none", "1 dfu", "none", "unlimited"]),
            &[(2, "less")],
        ),
        (
            "size",
            &sizes,
            "load",
            owned(&["1 dfu", "unlimited", "2 dfu"]),
            &[(2, "less")],
        ),
        (
            "size",
            &sizes,
            "load",
            owned(&["2 dfu", "unfilled", "1 dfu"]),
            &[(2, "less")],
        ),
        // What has to be is not: there only figures count.
        (
            "load",
            &loads,
            "size",
            owned(&["2 in", "none", "3 in", "unlimited", "4 in"]),
            &[],
        ),
        // Of lengths by size nothing is certain.
        ("size", &sizes, "length", lengths(&[1, 2, 3, 2]), &[(3, "less")]),
        ("size", &sizes, "length", lengths(&[3, 2, 1, 2]), &[(3, "more")]),
        ("size", &sizes, "length", lengths(&[1, 2, 1]), &[]),
        ("size", &sizes, "length", lengths(&[2, 2, 2]), &[]),
        ("load", &loads, "count", counts(&[1, 2, 3, 4, 3, 2]), &[]),
        ("load", &loads, "count", counts(&[4, 3, 2, 1, 2, 3]), &[]),
        // Words have no order.
        (
            "size",
            &sizes,
            "fixture.type",
            owned(&["sink", "lavatory", "bathtub"]),
            &[],
        ),
    ] {
        let rows: Vec<_> = keys
            .iter()
            .zip(&cells)
            .map(|(key, cell)| format!("[{key}, {cell}]"))
            .collect();
        let rows: Vec<_> = rows.iter().map(String::as_str).collect();
        let key = format!("{{name: key, of: {key}, match: exact}}");
        let found = of(Kind::OutOfOrder, &read(&table("t", &key, gives, &rows), "  []\n"));
        let found: Vec<_> = found
            .iter()
            .map(|remark| {
                let how = ["less", "more"]
                    .into_iter()
                    .find(|how| remark.message.contains(&format!(", {how} than ")));
                (remark.place.line - FIRST_ROW, how.unwrap_or_default())
            })
            .collect();
        assert_eq!(found, against, "{gives}: {rows:?}");
    }
    // Each series by itself: rows that differ in another key stand in no order.
    let keys = "{name: kind, of: pipe.kind, match: exact}, {name: size, of: size, match: exact}";
    let rows = [
        "[stack, 3 in, 9 dfu]",
        "[stack, 2 in, 8 dfu]",
        "[branch, 2 in, 2 dfu]",
        "[branch, 3 in, 1 dfu]",
    ];
    assert_eq!(
        told(Kind::OutOfOrder, &table("t", keys, "load", &rows), "  []\n"),
        [format!(
            "`figure` of the table `t` for kind branch, size 3 in is 1 dfu, less than 2 dfu for size 2 in in line {}",
            FIRST_ROW + 2
        )]
    );
}

/// A word that a rule looks up and no row has is told of; one that its `when` leaves out, or that no drain can be, is not.
#[test]
fn a_word_without_a_row_is_one_that_the_rule_can_come_to() {
    let kinds = "{name: kind, of: pipe.kind, match: exact}, {name: own, of: truth, match: exact}";
    let rows = [
        "[stack, any, 3 in]",
        "[building_drain, true, 3 in]",
        "[building_sewer, any, 3 in]",
        "[branch, any, 3 in]",
    ];
    let size = "{pipe.size: {at_least: {table: t, column: figure, keys: {kind: pipe.kind, own: drain.in_trap_arm}}}}";
    let tables = table("t", kinds, "size", &rows);
    let looked_up = |words: &str| {
        format!("the table `t` has no row for pipe.kind `{words}, which the rule `own` looks up")
    };
    let drains = "pipe.kind: {one_of: [stack, building_drain, building_sewer, branch]}";
    let found = told(
        Kind::WordWithoutRow,
        &tables,
        &rule("own", &format!("{{{drains}}}"), size),
    );
    assert_eq!(found, [looked_up("building_drain`, drain.in_trap_arm `no`")]);
    for when in [
        "pipe.kind: {one_of: [stack, building_sewer, branch]}".to_owned(),
        format!("{drains}, drain.in_trap_arm: true"),
        "pipe.kind: stack, pipe.size: {at_least: 3 in}".to_owned(),
    ] {
        let found = told(
            Kind::WordWithoutRow,
            &tables,
            &rule("own", &format!("{{{when}}}"), size),
        );
        assert_eq!(found, Vec::<String>::new(), "{when}");
    }
    // What connects a load has no trap.
    let tables = table(
        "t",
        "{name: type, of: fixture.type, match: exact}",
        "size",
        &["[lavatory, 2 in]"],
    );
    let of_traps = rule(
        "own",
        "{fixture.type: {one_of: [lavatory, sink, connected_load]}}",
        "{trap.size: {at_least: {table: t, column: figure, keys: {type: fixture.type}}}}",
    );
    assert_eq!(
        told(
            Kind::WordWithoutRow,
            &tables,
            &of_traps.replace("subject: drain", "subject: trap")
        ),
        ["the table `t` has no row for fixture.type `sink`, which the rule `own` looks up"]
    );
}

/// What nothing can meet is a fault, but for words that are denied, which may be meant; what nothing can break is one.
#[test]
fn what_nothing_can_meet_or_break_is_told_with_its_weight() {
    let sizes = table(
        "t",
        "{name: kind, of: pipe.kind, match: exact}",
        "size",
        &["[stack, 3 in]", "[branch, 2 in]"],
    );
    let by_kind = "{pipe.size: {at_least: {table: t, column: figure, keys: {kind: pipe.kind}}}}";
    for (when, require, kind, weight) in [
        (
            "{pipe.size: 2 in}",
            "{pipe.size: {at_least: 3 in}}",
            Kind::NeverMet,
            Weight::Fault,
        ),
        (
            "{pipe.kind: stack}",
            "{pipe.kind: {is_not: stack}}",
            Kind::NeverMet,
            Weight::Notice,
        ),
        (
            "{pipe.kind: stack, pipe.size: 2 in}",
            "{pipe.size: {at_least: 3 in}, pipe.kind: {is_not: branch}}",
            Kind::NeverMet,
            Weight::Fault,
        ),
        (
            "{pipe.size: {at_most: 2 in}, pipe.kind: stack}",
            by_kind,
            Kind::NeverMet,
            Weight::Fault,
        ),
        (
            "{pipe.size: {at_least: 3 in}, pipe.kind: stack}",
            by_kind,
            Kind::AlwaysMet,
            Weight::Fault,
        ),
        (
            "{pipe.size: {at_least: 3 in}}",
            "{pipe.size: {more_than: 2 in}}",
            Kind::AlwaysMet,
            Weight::Fault,
        ),
        // Absent, it would break the rule; there being one, nothing can.
        (
            "{pipe.kind: stack}",
            "{pipe.size: {at_least: 2 in}}",
            Kind::AlwaysMet,
            Weight::Fault,
        ),
    ] {
        let found: Vec<_> = audit(&read(&sizes, &rule("own", when, require)), MemoryCells::Counted)
            .into_iter()
            .filter(|remark| [Kind::NeverMet, Kind::AlwaysMet, Kind::NeverApplies].contains(&remark.kind))
            .map(|remark| (remark.kind, remark.weight))
            .collect();
        assert_eq!(found, [(kind, weight)], "{when}: {require}");
    }
    for (when, require) in [
        ("{pipe.kind: stack}", "{pipe.size: {at_least: 3 in}}"),
        // Whether there is one is what the rule asks.
        (
            "{pipe.kind: stack}",
            "{drain.largest_inlet_size: {present: true}}",
        ),
        ("{pipe.kind: stack}", by_kind),
    ] {
        for kind in [Kind::NeverMet, Kind::AlwaysMet, Kind::NeverApplies] {
            let found = told(kind, &sizes, &rule("own", when, require));
            assert_eq!(found, Vec::<String>::new(), "{when}: {require}");
        }
    }
}

/// Two rules that can never both hold are told of with what they ask, and where: always, or for some kinds alone.
#[test]
fn rules_that_deny_each_other_are_told_of_with_where() {
    let sizes = table(
        "t",
        "{name: kind, of: pipe.kind, match: exact}",
        "size",
        &["[stack, 6 in]", "[branch, 2 in]", "[building_drain, 6 in]"],
    );
    let by_kind = "{pipe.size: {at_least: {table: t, column: figure, keys: {kind: pipe.kind}}}}";
    let most = "{pipe.size: {at_most: 4 in}}";
    for (when, other_when, require, other, expected) in [
        (
            "{pipe.kind: stack}",
            "{drain.fixtures: {at_least: 2}}",
            "{pipe.size: {at_least: 6 in}}",
            most,
            Some(""),
        ),
        (
            "{pipe.kind: {one_of: [stack, branch, building_drain]}}",
            "{drain.fixtures: {at_least: 2}}",
            by_kind,
            most,
            Some(" where pipe.kind is stack or building drain"),
        ),
        // They never apply to the same, or speak of different things.
        (
            "{pipe.kind: stack}",
            "{pipe.kind: branch}",
            "{pipe.size: {at_least: 6 in}}",
            most,
            None,
        ),
        (
            "{pipe.kind: stack}",
            "{pipe.kind: stack}",
            "{pipe.size: {at_least: 4 in}}",
            most,
            None,
        ),
        (
            "{pipe.kind: stack}",
            "{pipe.kind: stack}",
            "{drain.fixtures: {at_least: 4}}",
            most,
            None,
        ),
    ] {
        let rules = format!(
            "{}{}",
            rule("one", when, require),
            rule("other", other_when, other)
        );
        let found = told(Kind::Contradiction, &sizes, &rules);
        let beginning =
            expected.map(|whenever| format!("and `other` can never both hold{whenever}: the one asks that "));
        assert_eq!(found.len(), usize::from(expected.is_some()), "{found:?}");
        for (found, beginning) in found.iter().zip(beginning) {
            assert!(found.contains(&beginning), "{found}\ndoes not say: {beginning}");
        }
    }
}

/// Facts that no rule speaks of are those of what the rules are about; what a message or a figure shows is spoken of.
#[test]
fn unused_facts_are_of_what_the_rules_are_about() {
    let unused = |rules: &str| -> Vec<String> {
        let tables = table(
            "t",
            "{name: size, of: size, match: exact}",
            "count",
            &["[2 in, 1]", "[3 in, 2]"],
        );
        told(Kind::UnusedFact, &tables, rules)
    };
    let names = |unused: &[String], fact: &str| unused.iter().any(|one| one.ends_with(&format!("`{fact}`")));
    let own = rule(
        "own",
        "{pipe.kind: stack}",
        "{drain.fixtures: {at_most: {table: t, column: figure, keys: {size: pipe.size}}}}",
    );
    let found = unused(&own);
    for (fact, is_unused) in [
        ("drain.load", true),
        ("pipe.length", true),
        // Asked of, asked by, looked up by.
        ("drain.fixtures", false),
        ("pipe.kind", false),
        ("pipe.size", false),
        // Of what no rule is about.
        ("trap.seal", false),
        ("protection.pattern", false),
        ("cleanout.accessible", false),
    ] {
        assert_eq!(names(&found, fact), is_unused, "{fact}");
    }
    let shown = own.replace("message: m", "message: \"{pipe.length}\"");
    assert!(!names(&unused(&shown), "pipe.length"));
}

/// Cells to be filled are told of one by one, cells from memory by their table or one by one.
#[test]
fn cells_are_told_of_by_what_they_rest_on() {
    let tables = "  t:
    title: t
    cite: {section: Table 1, basis: memory}
    keys: [{name: size, of: size, match: exact}]
    columns: [{name: figure, of: count}]
    rows:
      - [2 in, 1]
      - [3 in, unfilled]
      - {row: [4 in, 3], cite: {section: Table 1, basis: published}}
      - [6 in, 4]
";
    let rules = read(tables, "  []\n");
    let messages = |memory, kind| -> Vec<(usize, String)> {
        let remarks = audit(&rules, memory).into_iter();
        let of_kind = remarks.filter(|remark| remark.kind == kind);
        of_kind
            .map(|remark| (remark.place.line - FIRST_ROW, remark.message))
            .collect()
    };
    assert_eq!(
        messages(MemoryCells::Counted, Kind::Unfilled),
        [(
            1,
            "`figure` of the table `t` for size 3 in is not filled".to_owned()
        )]
    );
    let counted = of(Kind::FromMemory, &rules);
    assert_eq!(counted.len(), 1);
    assert_eq!(
        counted[0].message,
        "2 of the 3 cells of the table `t` rest on memory alone"
    );
    assert_eq!(
        messages(MemoryCells::Listed, Kind::FromMemory),
        [(0, "2 in is 1"), (3, "6 in is 4")].map(|(row, is)| (
            row,
            format!("`figure` of the table `t` for size {is}, from memory")
        ))
    );
    assert_eq!(
        told(
            Kind::FromMemory,
            &table(
                "t",
                "{name: size, of: size, match: exact}",
                "count",
                &["[2 in, 1]"]
            ),
            "  []\n"
        ),
        Vec::<String>::new()
    );
}

/// A case of the loads that earlier ones leave nothing, an arrangement that asks what cannot be, and a rule that asks what
/// another does are told of with what they are.
#[test]
fn loads_arrangements_and_rules_that_do_nothing_are_told_of() {
    let with = |from: &str, to: &str, rules: &str| {
        let head = HEAD.replacen(from, to, 1);
        let tables = table(
            "t",
            "{name: size, of: size, match: exact}",
            "count",
            &["[2 in, 1]"],
        );
        let text = format!("{head}{tables}rules:\n{rules}");
        RuleSet::read("few.yaml", text.as_bytes(), &Limits::default())
            .unwrap_or_else(|problems| panic!("{problems}"))
    };
    let messages = |kind, rules: &RuleSet| -> Vec<String> {
        let remarks = of(kind, rules).into_iter();
        remarks
            .map(|remark| format!("{}: {}", remark.weight.name(), remark.message))
            .collect()
    };
    let none = Vec::<String>::new();
    let loads = |second: &str| {
        let cases = format!(
            "[{{when: {{fixture.type: {{one_of: [lavatory, sink]}}}}, load: 1 dfu}}, {{when: {{fixture.type: {second}}}, load: 2 dfu}}]"
        );
        with("{fixture: []}", &format!("{{fixture: {cases}}}"), "  []\n")
    };
    assert_eq!(
        messages(Kind::CaseNeverReached, &loads("sink")),
        [
            "fault: no fixture comes to case 2 of the loads, where fixture.type is sink: the cases before it take them all"
        ]
    );
    assert_eq!(messages(Kind::CaseNeverReached, &loads("bathtub")), none);
    let arrangement = |most: &str| {
        let condition = |require: &str| {
            format!("{{require: {{{require}}}, cite: {{basis: common_practice}}, message: m}}")
        };
        let conditions = [
            condition("protection.same_storey: true"),
            condition("protection.fixtures_at_vent: {at_least: 3}"),
            condition(&format!("protection.fixtures_at_vent: {{at_most: {most}}}")),
        ]
        .join(", ");
        with(
            "arrangements: []",
            &format!(
                "protection: {{rule: protected, title: t, cite: {{basis: common_practice}}, message: m}}\narrangements: [{{arrangement: own, title: t, pattern: common, cite: {{basis: common_practice}}, conditions: [{conditions}]}}]"
            ),
            "  []\n",
        )
    };
    assert_eq!(
        messages(Kind::NeverMet, &arrangement("2")),
        [
            "fault: no trap can be protected by `own`: `protection.fixtures_at_vent is at least 3` and \
          `protection.fixtures_at_vent is at most 2` cannot all be"
        ]
    );
    assert_eq!(messages(Kind::NeverMet, &arrangement("3")), none);
    // With arrangements, their shapes are told by the pattern; framing asks nothing of traps.
    let unused = messages(Kind::UnusedFact, &arrangement("3"));
    let names = |fact: &str| unused.iter().any(|one| one.ends_with(&format!("`{fact}`")));
    assert!(names("drain.load") && !names("protection.pattern") && !names("passage.depth"));
    assert!(unused.iter().all(|one| !one.contains("`passage.")), "{unused:?}");
    let least = |size: &str| format!("{{pipe.size: {{at_least: {size}}}}}");
    let same = format!(
        "{}{}",
        rule("one", "{pipe.kind: stack}", &least("3 in")),
        rule("other", "{all: [{pipe.kind: stack}]}", &least("3 in"))
    );
    let first = with("", "", &same).rules[0].place.line;
    assert_eq!(
        messages(Kind::SameRule, &with("", "", &same)),
        [format!(
            "fault: the rule `other` asks the same of the same things as `one` in line {first}"
        )]
    );
    let apart = same.replacen("{pipe.kind: stack}", "{pipe.kind: branch}", 1);
    assert_eq!(messages(Kind::SameRule, &with("", "", &apart)), none);
    let always = rule("own", &least("3 in"), &least("2 in"));
    assert_eq!(
        messages(Kind::AlwaysMet, &with("", "", &always)),
        [
            "fault: nothing can break the rule `own`: whatever it applies to, `pipe.size is at least 2 in` holds"
        ]
    );
}

/// Two facts that are words may both be words that nothing names, and differ.
#[test]
fn words_that_nothing_names_may_differ() {
    let other = "{none_of: [lavatory]}";
    let of_traps = rule(
        "own",
        &format!("{{fixture.type: {other}, protection.upper_fixture: {other}}}"),
        "{protection.upper_fixture: {is: {fact: fixture.type}}}",
    )
    .replace("subject: drain", "subject: trap");
    let tables = table(
        "t",
        "{name: size, of: size, match: exact}",
        "count",
        &["[2 in, 1]"],
    );
    for kind in [Kind::AlwaysMet, Kind::NeverMet] {
        assert_eq!(told(kind, &tables, &of_traps), Vec::<String>::new());
    }
}

/// A table that nothing reads is told of, and a column of one that something reads; a figure for a message is read.
#[test]
fn tables_and_columns_are_read_by_rules_and_messages() {
    let tables = "  t:
    title: t
    cite: {basis: common_practice}
    keys: [{name: size, of: size, match: exact}]
    columns: [{name: most, of: count}, {name: least, of: size}]
    rows: [[2 in, 1, 3 in]]
";
    let look_up = |column: &str| format!("{{table: t, column: {column}, keys: {{size: pipe.size}}}}");
    let plain = rule("own", "{pipe.kind: stack}", "{drain.fixtures: {at_most: 9}}");
    let reads = rule(
        "own",
        "{pipe.kind: stack}",
        &format!("{{drain.fixtures: {{at_most: {}}}}}", look_up("most")),
    );
    let shows = reads.replace(
        "message: m",
        &format!("show: {{size: {}}}, message: \"{{size}}\"", look_up("least")),
    );
    for (rules, table, column) in [
        (&plain, &["nothing reads the table `t`"][..], &[][..]),
        (&reads, &[], &["nothing reads `least` of the table `t`"]),
        (&shows, &[], &[]),
    ] {
        assert_eq!(told(Kind::UnreadTable, tables, rules), table);
        assert_eq!(told(Kind::UnreadColumn, tables, rules), column);
    }
}

/// For a person, what is said of several words is said once, with all of them; for a program each is a remark.
#[test]
fn the_text_says_once_what_is_said_of_several_words() {
    let tables = table(
        "t",
        "{name: kind, of: pipe.kind, match: exact}",
        "size",
        &["[stack, 3 in]"],
    );
    let size = "{pipe.size: {at_least: {table: t, column: figure, keys: {kind: pipe.kind}}}}";
    let rules = read(
        &tables,
        &rule(
            "own",
            "{pipe.kind: {one_of: [stack, branch, building_drain]}}",
            size,
        ),
    );
    let found = of(Kind::WordWithoutRow, &rules);
    let each: Vec<_> = found.iter().map(|remark| remark.message.as_str()).collect();
    let alone = |word: &str| {
        format!("the table `t` has no row for pipe.kind `{word}`, which the rule `own` looks up")
    };
    assert_eq!(each, [alone("branch"), alone("building_drain")]);
    let text = crownweir::report::without_escapes(&crownweir::report::audit_text(&rules, &found));
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let together =
        "the table `t` has no row for pipe.kind `branch`, `building_drain`, which the rule `own` looks up";
    assert!(text.contains(together), "{text}");
    assert!(text.contains("Words without a row (2 faults)"), "{text}");
}
