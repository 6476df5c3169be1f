//! Two rule sets compared: what means the same is the same however it is written, and each kind of change is told.

use crownweir::{Change, Limits, RuleSet, changes, published};
use crownweir_tests::rules;

fn read(text: &str) -> RuleSet {
    RuleSet::read("after.yaml", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

fn edited(edits: &[(&str, &str)]) -> RuleSet {
    let mut text = published::text("ipc-2021").expect("the rule set").to_owned();
    for (from, to) in edits {
        assert!(text.contains(from), "{from}");
        text = text.replacen(from, to, 1);
    }
    read(&text)
}

fn between(edits: &[(&str, &str)]) -> Vec<Change> {
    changes(&rules("ipc-2021"), &edited(edits))
}

/// Each change as `section name: text`.
fn told(changes: &[Change]) -> Vec<String> {
    let line = |change: &Change| format!("{} {}: {change}", change.section.name(), change.name);
    changes.iter().map(line).collect()
}

#[track_caller]
fn tells(edits: &[(&str, &str)], expected: &[&str]) {
    assert_eq!(told(&between(edits)), expected);
}

#[test]
fn what_means_the_same_is_the_same() {
    tells(
        &[
            (
                "{trap.seal: {at_least: 2 in, at_most: 4 in}}",
                "{trap.seal: {at_most: 1/3 ft, at_least: 2 in}} # so",
            ),
            (
                "{trap.outlet_offset: {at_most: 30 in}}",
                "{all: [{trap.outlet_offset: {at_most: 762 mm}}]}",
            ),
            ("- [1-1/4 in, 1/4 in/ft]", "- [DN 32, '1:48']"),
            (
                "{fixture.type: {none_of: [water_closet, urinal, shower, continuous_flow, other, floor_sink]}}",
                "{all: [{fixture.type: {none_of: [floor_sink, water_closet, urinal, other, shower, continuous_flow]}}]}",
            ),
            (
                "{times: 1/2, of: {diameter: stack.largest_size}}",
                "{times: 0.5, of: {diameter: {fact: stack.largest_size}}}",
            ),
            (
                "require: {cleanout.accessible: true}",
                "require: {cleanout.accessible: {is_not: false}}",
            ),
            ("least: 8 ft", "least: 96 in"),
        ],
        &[],
    );
}

#[test]
fn the_order_of_rules_rows_and_columns_makes_no_difference() {
    let text = published::text("ipc-2021").expect("the rule set");
    // Rules after the first are put before it, one by one; a table's columns and keys change places.
    let (head, rest) = text.split_once("\nrules:\n").expect("rules");
    let mut rules_backwards: Vec<_> = rest.split("\n  - rule:").collect();
    rules_backwards.reverse();
    let backwards: Vec<_> = rules_backwards
        .iter()
        .map(|rule| rule.trim_start_matches("  - rule:").trim_start())
        .filter(|rule| !rule.is_empty() && !rule.starts_with('#'))
        .collect();
    let text = format!("{head}\nrules:\n  - rule: {}", backwards.join("\n  - rule: "));
    let text = text
        .replace(
            "columns: [{name: load, of: load, unit: dfu}, {name: trap, of: size}]",
            "columns: [{name: trap, of: size}, {name: load, of: load, unit: dfu}]",
        )
        .replace(
            "- [5.7 gpm, 2, 1-1/2 in]\n      - [12.3 gpm, 3, 2 in]",
            "- [12.3 gpm, 2 in, 3]\n      - [5.7 gpm, 1-1/2 in, 2]",
        )
        .replace(
            "- [25.8 gpm, 5, 3 in]\n      - [55.6 gpm, 6, 4 in]",
            "- [25.8 gpm, 3 in, 5]\n      - [55.6 gpm, 4 in, 6]",
        );
    let other = read(&text);
    assert_ne!(
        other.rules.first().map(|rule| &rule.name),
        rules("ipc-2021").rules.first().map(|rule| &rule.name)
    );
    assert_eq!(told(&changes(&rules("ipc-2021"), &other)), Vec::<String>::new());
}

#[test]
fn a_rule_set_in_json_is_the_same() {
    let text = published::text("ipc-2021").expect("the rule set");
    let value: serde_yaml::Value = serde_yaml::from_str(text).expect("YAML");
    let json = serde_json::to_string(&value).expect("JSON");
    assert_eq!(
        told(&changes(&rules("ipc-2021"), &read(&json))),
        Vec::<String>::new()
    );
}

#[test]
fn the_head_the_sizes_and_the_definitions_are_compared() {
    tells(
        &[
            ("revision: 1", "revision: 2"),
            ("framing_rules: framing-irc-2021\n", ""),
            (
                "  - These figures are not the code. The adopted book, its local amendments and the authority decide.\n",
                "",
            ),
            (
                "{size: 15 in, also: [DN 375], diameter: 15 in}",
                "{size: 15 in, also: [DN 375, DN 400], diameter: 15-1/4 in}\n  - {size: 18 in, diameter: 18 in}",
            ),
            ("most_from_vertical: 45 deg", "most_from_vertical: 60 deg"),
            ("measured_from: trap_weir", "measured_from: fixture_outlet"),
            (
                "note: 8 ft is repeated in exam texts and older manuals",
                "note: another",
            ),
        ],
        &[
            "head : revision: was 1, now 2",
            "head : framing_rules: dropped: framing-irc-2021",
            "head : note: dropped: These figures are not the code. The adopted book, its local amendments and the authority decide.",
            "sizes 15 in: diameter: was 1 ft 3 in, now 1 ft 3-1/4 in",
            "sizes 15 in: names: was 15 in, DN 375, now 15 in, DN 375, DN 400",
            "sizes 18 in: added: 1 ft 6 in",
            "definitions vertical: meaning: was at most 45 deg from plumb, now at most 60 deg from plumb",
            "definitions branch_interval: citation: was IPC 2021, section 202 (from memory, to be checked against the adopted book), note: 8 ft is repeated in exam texts and older manuals, now IPC 2021, section 202 (from memory, to be checked against the adopted book), note: another",
            "definitions trap_arm: meaning: was measured from the trap weir, now measured from the fixture outlet",
        ],
    );
}

#[test]
fn a_size_under_another_name_is_the_same_size() {
    tells(
        &[(
            "{size: 2 in, also: [DN 50], diameter: 2 in}",
            "{size: DN 50, also: [2 in], diameter: 2 in}",
        )],
        &[],
    );
    tells(
        &[(
            "{size: 15 in, also: [DN 375], diameter: 15 in}",
            "{size: DN 375, also: [15 in], diameter: 15-1/4 in}",
        )],
        &["sizes 15 in: diameter: was 1 ft 3 in, now 1 ft 3-1/4 in"],
    );
}

#[test]
fn tables_are_compared_row_by_row_and_cell_by_cell() {
    tells(
        &[
            (
                "- [4 in, none, 180, 216, 250]",
                "- [4 in, none, 150, 216, {value: 250, cite: {section: Local 7, basis: published}}]",
            ),
            ("      - [4 in, 16]\n", "      - [5 in, 20]\n"),
            (
                "  closet-drain-sizes:\n    title: Smallest drain",
                "  closet-drain-sizes:\n    title: Least drain",
            ),
        ],
        &[
            "tables building-drains: size 4 in, slope 1/8 in/ft, load: was 180 dfu, now 150 dfu",
            "tables building-drains: size 4 in, slope 1/2 in/ft, citation of load: was IPC 2021, Table 710.1(1) (published), now IPC 2021, Local 7 (published)",
            "tables closet-drain-sizes: title: was Smallest drain by whether it takes a water closet, now Least drain by whether it takes a water closet",
            "tables trap-arms: trap 4 in: dropped: length 16 ft",
            "tables trap-arms: trap 5 in: added: length 20 ft",
        ],
    );
}

#[test]
fn a_table_more_or_by_other_keys_is_told() {
    let table = "  spare:
    title: A spare table
    cite: {section: x, basis: published}
    keys: [{name: size, of: size, match: from}]
    columns: [{name: load, of: load, unit: dfu}]
    rows: [[1-1/4 in, 1]]
";
    let more = format!("\ntables:\n{table}");
    tells(
        &[("\ntables:\n", &more)],
        &["tables spare: added: A spare table, 1 rows [IPC 2021, x]"],
    );
    let without = edited(&[]);
    let back = changes(&edited(&[("\ntables:\n", &more)]), &without);
    assert_eq!(
        told(&back),
        ["tables spare: dropped: A spare table, 1 rows [IPC 2021, x]"]
    );
    tells(
        &[(
            "keys: [{name: trap, of: size, match: exact}]",
            "keys: [{name: trap, of: size, match: from}]",
        )],
        &["tables trap-arms: keys: was trap (size, exact); 5 rows, now trap (size, from); 5 rows"],
    );
    tells(
        &[
            (
                "columns: [{name: load, of: load, unit: dfu}, {name: trap, of: size}]",
                "columns: [{name: load, of: load, unit: dfu}, {name: trap, of: size}, {name: drain, of: size}]",
            ),
            ("- [5.7 gpm, 2, 1-1/2 in]", "- [5.7 gpm, 2, 1-1/2 in, 2 in]"),
            ("- [12.3 gpm, 3, 2 in]", "- [12.3 gpm, 3, 2 in, 2 in]"),
            ("- [25.8 gpm, 5, 3 in]", "- [25.8 gpm, 5, 3 in, 3 in]"),
            ("- [55.6 gpm, 6, 4 in]", "- [55.6 gpm, 6, 4 in, 4 in]"),
        ],
        &["tables showers: column drain: added: size"],
    );
}

#[test]
fn the_order_of_rows_is_told_where_it_decides() {
    let (first, second) = (
        "      - [sanitary_tee, horizontal_to_vertical, 1-1/4 in, none]\n",
        "      - [sanitary_tee, any, none, none]\n",
    );
    let (was, now) = (format!("{first}{second}"), format!("{second}{first}"));
    tells(
        &[(&was, &now)],
        &[
            "tables fitting-turns: order of rows: was pattern sanitary tee, direction horizontal to vertical before pattern sanitary tee, direction any, now pattern sanitary tee, direction any before pattern sanitary tee, direction horizontal to vertical",
        ],
    );
}

#[test]
fn rules_are_compared_part_by_part() {
    tells(
        &[
            (
                "when: {fixture.type: clothes_washer}\n    require: {trap.drain_size: {at_least: 2 in}}",
                "when: {fixture.type: {one_of: [clothes_washer, service_sink]}}\n    require: {trap.drain_size: {at_least: 3 in}}",
            ),
            ("  - rule: valve-access\n", "  - rule: valve-reach\n"),
            (
                "require: {pipe.slope: {at_most: 1/2 in/ft}}\n    severity: advice",
                "require: {pipe.slope: {at_most: 1/2 in/ft}}\n    severity: advice\n    advice: less",
            ),
            ("severity: needs_approval", "severity: violation"),
            (
                "message: the valve cannot be reached",
                "message: it cannot be reached",
            ),
            (
                "show: {needed: {table: wet-vents, column: load, smallest: size, holds: drain.wet_load}}",
                "show: {needed: {table: common-vents, column: load, smallest: size, holds: drain.wet_load}}",
            ),
        ],
        &[
            "rules building-trap: severity: was needs approval, now violation",
            "rules drain-too-steep: advice: added: less",
            "rules standpipe-drain-size: when: was fixture.type is clothes washer, now fixture.type is clothes washer or service sink",
            "rules standpipe-drain-size: require: was trap.drain_size is at least 2 in, now trap.drain_size is at least 3 in",
            "rules valve-access: dropped: Air admittance valve within reach [IPC 2021, section 918.5]",
            "rules valve-reach: added: Air admittance valve within reach [IPC 2021, section 918.5]",
            "rules wet-vent-size: show needed: was the smallest size whose `load` in table wet-vents is at least drain.wet_load, now the smallest size whose `load` in table common-vents is at least drain.wet_load",
        ],
    );
}

#[test]
fn arrangements_protection_and_loads_are_compared() {
    tells(
        &[
            (
                "require: {protection.fixtures_at_vent: {at_most: 2}}",
                "require: {protection.fixtures_at_vent: {at_most: 3}}",
            ),
            ("pattern: common_levels", "pattern: common"),
            (
                "      - require: {not: {protection.upper_fixture: water_closet}}\n        cite: {section: \"911.3\", basis: memory}\n        message: the upper fixture is a water closet\n",
                "",
            ),
            (
                "advice: vent this fixture within the reach",
                "advice: vent it within the reach",
            ),
            (
                "load: {flow: fixture.flow, per: 1 gpm, load: 2 dfu}",
                "load: {flow: fixture.flow, per: 1 gpm, load: 1 dfu}",
            ),
            (
                "    - when: {fixture.type: shower}\n      load: {table: showers, column: load, keys: {flow: fixture.flow}}\n",
                "",
            ),
        ],
        &[
            "loads fixture: load where fixture.type is continuous flow: was fixture.flow at 2 dfu for each 1 gpm, now fixture.flow at 1 dfu for each 1 gpm",
            "loads fixture: dropped: `load` of table showers for fixture.flow where fixture.type is shower",
            "protection trap-protection: advice: was vent this fixture within the reach of its trap arm, or bring it to a vented branch as one of the arrangements allows; no wet or circuit vent lies along a run of the kind `building_drain`, now vent it within the reach of its trap arm, or bring it to a vented branch as one of the arrangements allows; no wet or circuit vent lies along a run of the kind `building_drain`",
            "arrangements common-vent: condition: was protection.fixtures_at_vent is at most 2, now protection.fixtures_at_vent is at most 3",
            "arrangements common-vent-at-two-levels: pattern: was common_levels, now common",
            "arrangements common-vent-at-two-levels: condition: dropped: not protection.upper_fixture is water closet [IPC 2021, section 911.3]",
        ],
    );
}

#[test]
fn a_difference_that_words_round_away_is_told_exactly() {
    let found = between(&[(
        "require: {vent.take_off: {at_least: 45 deg}}",
        "require: {vent.take_off: {at_least: 45.01 deg}}",
    )]);
    let [only] = &found[..] else { panic!("{found:?}") };
    assert_ne!(only.before, only.after);
}

#[test]
fn a_change_knows_its_places() {
    let found = between(&[("- [4 in, none, 180, 216, 250]", "- [4 in, none, 150, 216, 250]")]);
    let [only] = &found[..] else { panic!("{found:?}") };
    let text = published::text("ipc-2021").expect("the rule set");
    let line = text.lines().position(|line| line.contains("- [4 in, none, 180"));
    let place = only.place_before.as_ref().expect("a place");
    assert_eq!(Some(place.line), line.map(|line| line + 1));
    assert_eq!(
        only.place_after.as_ref().map(|place| place.line),
        Some(place.line)
    );
    assert_eq!(
        only.keys,
        [("size", "4 in"), ("slope", "1/8 in/ft")].map(|(key, value)| (key.to_owned(), value.to_owned()))
    );
    assert_eq!(only.part, "load");
}

/// Formula, viscosity and operands of the hydraulics are told one by one, or the whole where only one side has any.
#[test]
fn hydraulics_are_compared_part_by_part() {
    let before = published::text("en-12056-2").expect("the rule set");
    let edited = |from: &str, to: &str| {
        assert!(before.contains(from), "{from}");
        read(&before.replacen(from, to, 1))
    };
    let own = rules("en-12056-2");
    let of = |one: &RuleSet, other: &RuleSet| told(&changes(one, other));
    for (from, to, part) in [
        ("viscosity: 1.31 mm2/s", "viscosity: 1.14 mm2/s", "viscosity"),
        ("roughness: 1 mm", "roughness: 2 mm", "roughness"),
    ] {
        let lines = of(&own, &edited(from, to));
        let values = [from, to].map(|text| text.split_once(": ").map_or("", |(_, value)| value));
        assert_eq!(lines.len(), 1, "{lines:?}");
        for said in [part, values[0], values[1]] {
            assert!(lines[0].contains(said), "{lines:?}");
        }
    }
    let cut = |text: &str| {
        let (head, rest) = text.split_once("hydraulics:\n").expect("hydraulics");
        let (_, tail) = rest.split_once("\ntables:\n").expect("tables");
        read(&format!("{head}\ntables:\n{tail}"))
    };
    let without = cut(before);
    for (lines, how) in [(of(&own, &without), "dropped"), (of(&without, &own), "added")] {
        let lines: Vec<_> = lines
            .iter()
            .filter(|line| line.starts_with("hydraulics"))
            .collect();
        assert!(
            lines.len() == 1 && lines[0].contains("Colebrook and White") && lines[0].contains(how),
            "{lines:?}"
        );
    }
}
