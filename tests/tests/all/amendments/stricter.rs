//! Which of two values asks more, where the stricter stands.

use crownweir::{Limits, RuleSet, Text};

use super::{amended, day, named};

#[test]
fn what_is_not_permitted_asks_most_and_what_has_no_limit_least() {
    let arm = |name: &str, to: &str| {
        named(
            name,
            "precedence: most_restrictive\n",
            &format!(
                "  - set: {{table: trap-arms, row: {{trap: 2 in}}, column: length, was: 8 ft, to: {to}}}"
            ),
        )
    };
    for (first, second, stands) in [
        ("none", "5 ft", "Barred"),
        ("unlimited", "5 ft", "Value"),
        ("5 ft", "none", "Barred"),
    ] {
        let rules =
            amended(&[("a", &arm("a", first)), ("b", &arm("b", second))], "2026-11-25").expect("decided");
        let table = rules
            .tables
            .iter()
            .find(|table| table.name == "trap-arms")
            .expect("a table");
        let content = format!("{:?}", table.rows()[2].cells[0].content);
        assert!(content.starts_with(stands), "{first}, {second}: {content}");
    }
}

/// Of two limits of a rule the one that asks more stands: the smaller most, the larger least.
#[test]
fn of_two_limits_the_stricter_stands() {
    for (rule, fact, order, was, [less, more]) in [
        (
            "trap-outlet-drop",
            "trap.outlet_drop",
            "at_most",
            "24 in",
            ["20 in", "18 in"],
        ),
        ("trap-seal", "trap.seal", "at_most", "4 in", ["3-1/2 in", "3 in"]),
        ("trap-seal", "trap.seal", "at_least", "2 in", ["2-1/2 in", "3 in"]),
    ] {
        let set = |name: &str, to: &str| {
            let change =
                format!("  - set: {{rule: {rule}, limit: {fact}, order: {order}, was: {was}, to: {to}}}");
            named(name, "precedence: most_restrictive\n", &change)
        };
        for (first, second, holds) in [(less, more, true), (more, less, false)] {
            let both = [("state", set("state", first)), ("town", set("town", second))];
            let both = both.each_ref().map(|(name, text)| (*name, text.as_str()));
            let rules = amended(&both, "2026-11-25").unwrap_or_else(|error| panic!("{error}"));
            let void = rules.changes.last().map(|change| change.void.is_some());
            assert_eq!(void, Some(!holds), "{rule} {order}: {first}, then {second}");
        }
    }
}

/// Which value of a column asks more hangs on how the rules use it, through whatever is reckoned with it; of a column that
/// is used both ways, or not at all, it cannot be told.
#[test]
fn which_cell_is_the_stricter_hangs_on_its_use() {
    const COLUMNS: &str = "keys: {kind: pipe.kind}}";
    let length = format!("{{table: own, column: length, {COLUMNS}");
    let size = format!("{{table: own, column: size, {COLUMNS}");
    let smallest = "{table: by-size, column: length, smallest: size, holds: pipe.length}";
    let most = |figure: &str| format!("{{pipe.length: {{at_most: {figure}}}}}");
    let least = |figure: &str| format!("{{pipe.length: {{at_least: {figure}}}}}");
    let (own, by_size) = (
        "table: own, row: {kind: stack}",
        "table: by-size, row: {size: 3 in}",
    );
    let (lengths, sizes) = (["4 ft", "5 ft", "6 ft"], ["2 in", "3 in", "4 in"]);
    let (smaller, larger, unknown) = (Some("smaller"), Some("larger"), None);
    for (require, row, column, [low, was, high], stricter) in [
        (most(&length), own, "length", lengths, smaller),
        (least(&length), own, "length", lengths, larger),
        (
            most(&format!("{{times: 2, of: {length}}}")),
            own,
            "length",
            lengths,
            smaller,
        ),
        (
            most(&format!("{{sum: [1 ft, {length}]}}")),
            own,
            "length",
            lengths,
            smaller,
        ),
        (
            least(&format!("{{larger_of: [1 ft, {length}]}}")),
            own,
            "length",
            lengths,
            larger,
        ),
        (
            least(&format!("{{smaller_of: [1 ft, {length}]}}")),
            own,
            "length",
            lengths,
            larger,
        ),
        (
            least(&format!("{{diameter: {size}}}")),
            own,
            "size",
            sizes,
            larger,
        ),
        (
            format!("{{pipe.size: {{at_least: {{size_for: {length}}}}}}}"),
            own,
            "length",
            lengths,
            larger,
        ),
        (
            format!("{{pipe.size: {{at_most: {{sizes_up: 1, of: {size}}}}}}}"),
            own,
            "size",
            sizes,
            smaller,
        ),
        // Where cells hold less, a larger size is needed.
        (
            format!("{{pipe.size: {{at_least: {smallest}}}}}"),
            by_size,
            "length",
            lengths,
            smaller,
        ),
        (
            format!("{{pipe.size: {{at_most: {smallest}}}}}"),
            by_size,
            "length",
            lengths,
            larger,
        ),
        (
            format!("{{all: [{}, {}]}}", most(&length), least(&length)),
            own,
            "length",
            lengths,
            unknown,
        ),
        (
            format!("{{pipe.length: {{is: {length}}}}}"),
            own,
            "length",
            lengths,
            unknown,
        ),
        (most("9 ft"), own, "length", lengths, unknown),
    ] {
        let base = used(&require);
        let set = |name: &str, to: &str| {
            named(
                name,
                "precedence: most_restrictive\n",
                &format!("  - set: {{{row}, column: {column}, was: {was}, to: {to}}}"),
            )
            .replacen(
                "{rules: ipc-2021, document: IPC, edition: \"2021\"",
                "{rules: gull-lane, document: Gull Lane, edition: \"1\"",
                1,
            )
        };
        for (first, second, goes_if) in [(high, low, "smaller"), (low, high, "larger")] {
            let texts = [
                ("base", base.clone()),
                ("state", set("state", first)),
                ("town", set("town", second)),
            ];
            let [base, state, town] = texts.each_ref().map(|(name, text)| Text {
                name,
                bytes: text.as_bytes(),
            });
            let rules = RuleSet::amended(base, &[state, town], day("2026-11-25"), &Limits::default());
            match (rules, stricter) {
                (Ok(rules), Some(stricter)) => {
                    let void = rules.changes.last().map(|change| change.void.is_some());
                    assert_eq!(
                        void,
                        Some(stricter != goes_if),
                        "{require}: {first}, then {second}"
                    );
                }
                (Err(problems), None) => assert!(
                    problems
                        .to_string()
                        .contains("which asks more, this or `state`, cannot be told"),
                    "{problems}"
                ),
                (Ok(_), None) => panic!("{require}: decided"),
                (Err(problems), Some(_)) => panic!("{require}: {problems}"),
            }
        }
    }
}

/// A rule set with a rule that requires what is given, beside rules that use like columns of other tables in either way.
fn used(require: &str) -> String {
    let rule = |name: &str, require: &str| {
        format!(
            "  - {{rule: {name}, title: t, subject: drain, require: {require}, severity: advice, cite: {{basis: common_practice}}, message: m}}\n"
        )
    };
    let tables: String = [("own", "4"), ("other", "7")]
        .map(|(name, last)| {
            let head = format!("title: t, cite: {{section: {last}, basis: memory}}").replace("section: ", "section: T");
            let columns = "columns: [{name: length, of: length}, {name: size, of: size}]";
            format!(
                "  {name}: {{{head}, keys: [{{name: kind, of: pipe.kind, match: exact}}], {columns}, rows: [[stack, 5 ft, 3 in], [branch, 5 ft, 3 in]]}}\n"
            )
        })
        .concat();
    let by_size: String = ["by-size", "other-by-size"]
        .map(|name| {
            format!(
                "  {name}: {{title: t, cite: {{section: T, basis: memory}}, keys: [{{name: size, of: size, match: exact}}], columns: [{{name: length, of: length}}], rows: [[2 in, 4 ft], [3 in, 5 ft], [4 in, 9 ft]]}}\n"
            )
        })
        .concat();
    let other = "{table: other, column: length, keys: {kind: pipe.kind}}";
    let smallest = "{table: other-by-size, column: length, smallest: size, holds: pipe.length}";
    let rules = [
        rule("own", require),
        rule("other-most", &format!("{{pipe.length: {{at_most: {other}}}}}")),
        rule("other-least", &format!("{{pipe.length: {{at_least: {other}}}}}")),
        rule(
            "smallest-most",
            &format!("{{pipe.size: {{at_most: {smallest}}}}}"),
        ),
        rule(
            "smallest-least",
            &format!("{{pipe.size: {{at_least: {smallest}}}}}"),
        ),
    ]
    .concat();
    format!(
        "crownweir: ruleset/1
name: gull-lane
title: Rules of an invented town
document: Gull Lane
edition: \"1\"
revision: 1
sizes: [{{size: 2 in, diameter: 2 in}}, {{size: 3 in, diameter: 3 in}}, {{size: 4 in, diameter: 4 in}}, {{size: 6 in, diameter: 6 in}}]
definitions:
  vertical: {{most_from_vertical: 45 deg, cite: {{basis: common_practice}}}}
  branch_interval: {{counted_by: storey, cite: {{basis: common_practice}}}}
  bathroom_group: {{needs: [[lavatory]], cite: {{basis: common_practice}}}}
  trap_arm: {{measured_from: trap_weir, cite: {{basis: common_practice}}}}
  vent_length: {{measured_to: open_air, cite: {{basis: common_practice}}}}
loads: {{fixture: []}}
tables:
{tables}{by_size}arrangements: []
rules:
{rules}"
    )
}
