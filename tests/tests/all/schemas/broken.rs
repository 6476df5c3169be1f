//! Broken files: what the loader refuses, the schema marks as wrong.

use crownweir_tests::network_text;
use jsonschema::Validator;

use super::{as_loaded, loads, schema, validator};

/// A shipped file with one thing replaced: neither the loader nor the schema has it.
#[track_caller]
fn refused(format: &str, schema: &Validator, text: &str, from: &str, to: &str) {
    assert!(text.contains(from), "{from}");
    let broken = text.replacen(from, to, 1);
    assert!(!loads(format, &broken), "`{to}` loads");
    assert!(!schema.is_valid(&as_loaded(&broken)), "`{to}` complies");
}

#[test]
fn broken_networks_are_refused_by_both() {
    let schema = validator(&schema("network"));
    let text = network_text("larch-terrace.yaml");
    for (from, to) in [
        // Misspelt keys.
        ("units: millimetres", "unit: millimetres"),
        ("site: {occupancy", "site: {ocupancy"),
        ("flush_volume: 6 L", "flush_vol: 6 L"),
        ("seal:", "seel:"),
        ("- fixture: {name: closet", "- fixtrue: {name: closet"),
        ("horizontal_support_spacing", "horizontal_support"),
        // Wrong words.
        ("network/1", "network/9"),
        ("units: millimetres", "units: metres"),
        ("occupancy: private", "occupancy: privat"),
        ("type: water_closet", "type: toilet"),
        ("pattern: closet_bend", "pattern: closet bend"),
        ("material: abs", "material: ABS"),
        ("kind: integral", "kind: built_in"),
        // Quantities without their unit, or of another kind.
        ("length: 600 mm", "length: 600"),
        ("length: 600 mm", "length: 600 dfu"),
        ("height: 2750 mm", "height: 2.75"),
        ("height: 2750 mm", "height: tall"),
        ("size: DN 75", "size: 75"),
        ("size: DN 75", "size: 3 ft"),
        ("slope: 1:48", "slope: 2"),
        ("slope: 1:48", "slope: steep"),
        ("flush_volume: 6 L", "flush_volume: 6"),
        (
            "winter_design_temperature: -10 C",
            "winter_design_temperature: -10",
        ),
        ("length: 600 mm", "length: -600 mm"),
        // Wrong kinds of value.
        ("mid_storey_guide: true", "mid_storey_guide: sometimes"),
        ("material: abs", "material: [abs]"),
        (
            "storeys:\n  - {storey: ground, height: 2750 mm}\n",
            "storeys:\n  - ground\n",
        ),
        ("name: closet,", "name: [closet],"),
        // What is missing, or too much.
        ("name: Larch Terrace fourplex, dwelling 1\n", ""),
        ("crownweir: network/1\n", ""),
        ("{storey: ground, height", "{height"),
        ("fixture: {name: closet, type", "fixture: {type"),
        ("name: closet, type: water_closet,", "name: closet,"),
        (
            "- fitting: {name: bend, pattern: closet_bend}",
            "- fitting: {pattern: closet_bend}",
        ),
        ("- at: tee 1", "- {at: tee 1, pipe: {length: 1 m}}"),
        ("- at: tee 1", "- {}"),
    ] {
        refused("network", &schema, &text, from, to);
    }
    let text = network_text("heron-point.yaml");
    let model = "models:\n";
    refused(
        "network",
        &schema,
        &text,
        model,
        "models:\n  one: {type: lavatory, group: a}\n",
    );
    refused(
        "network",
        &schema,
        &text,
        model,
        "models:\n  one: {type: lavatory, nane: a}\n",
    );
}

#[test]
fn broken_rule_sets_are_refused_by_both() {
    let schema = validator(&schema("ruleset"));
    let text = crownweir::published::text("ipc-2021").expect("the rule set");
    for (from, to) in [
        // Misspelt keys.
        ("severity: violation", "severty: violation"),
        ("definitions:\n", "definition:\n"),
        ("{trap.seal: {at_least: 2 in", "{trap.seal: {at_lest: 2 in"),
        ("match: exact", "mach: exact"),
        ("most_from_vertical", "from_vertical"),
        (
            "table: water-closet-loads, column",
            "tabel: water-closet-loads, column",
        ),
        (
            "{flow: fixture.flow, per: 1 gpm",
            "{flow: fixture.flow, for: 1 gpm",
        ),
        ("load: 2 dfu}", "load: 2 dfu, least: 1 dfu}"),
        (
            "- row: [private, 1.6 gal, 3]\n        cite:",
            "- row: [private, 1.6 gal, 3]\n        cites:",
        ),
        ("also: [DN 32]", "alias: [DN 32]"),
        // Facts and words that are not there.
        ("{trap.seal: {at_least: 2 in", "{trap.seel: {at_least: 2 in"),
        ("flush: fixture.flush_volume", "flush: fixture.flushvolume"),
        ("when: {fixture.type: shower}", "when: {fixture.type: showr}"),
        ("{one_of: [other, floor_sink]}", "{one_of: [other, floor_sinks]}"),
        ("of: fixture.type", "of: fixture.tipe"),
        ("subject: trap\n", "subject: traps\n"),
        ("severity: violation", "severity: grave"),
        ("basis: memory}", "basis: hearsay}"),
        ("match: up_to", "match: upto"),
        ("counted_by: distance", "counted_by: floors"),
        ("ruleset/1", "ruleset/2"),
        // Quantities without their unit, of another kind, or out of order.
        ("{trap.seal: {at_least: 2 in", "{trap.seal: {at_least: 2"),
        ("{trap.seal: {at_least: 2 in", "{trap.seal: {at_least: 2 dfu"),
        ("{trap.seal: {at_least: 2 in", "{trap.seal: {at_least: trap.size"),
        ("most_from_vertical: 45 deg", "most_from_vertical: 45"),
        ("least: 8 ft", "least: 8"),
        ("per: 1 gpm, load: 2 dfu", "per: 1, load: 2 dfu"),
        ("diameter: 1-1/4 in}", "diameter: 1-1/4}"),
        (
            "when: {fixture.type: shower}",
            "when: {fixture.type: {at_least: shower}}",
        ),
        // Wrong kinds of value.
        ("edition: \"2021\"", "edition: 2021"),
        ("section: \"202\"", "section: 202"),
        ("revision: 1", "revision: first"),
        ("checked: 2026-11-25", "checked: yesterday"),
        ("when: {fixture.type: shower}", "when: shower"),
        ("when: {fixture.type: shower}", "when: {fixture.type: {}}"),
        (
            "when: {fixture.type: shower}",
            "when: {any: {fixture.type: shower}}",
        ),
        (
            "{fixture.type: {one_of: [other, floor_sink]}}",
            "{fixture.type: {one_of: other}}",
        ),
        ("- [bathtub, 2]", "- bathtub"),
        ("- [bathtub, 2]", "- [bathtub, null]"),
        ("column: load, keys: {occupancy", "column: 1, keys: {occupancy"),
        // What is missing, or denies itself.
        ("    title: Load of each fixture\n", ""),
        ("    counted_by: distance\n", ""),
        (
            "cite: {section: \"202\", basis: memory}",
            "cite: {section: \"202\"}",
        ),
        ("cite: {section: \"202\", basis: memory}", "cite: {basis: memory}"),
        ("counted_by: distance", "counted_by: storey"),
        ("    severity: violation\n", ""),
        (
            "    severity: violation\n",
            "    severity: violation\n    confirm_on_site: true\n",
        ),
        ("    columns: [{name: load, of: load, unit: dfu}]\n", ""),
    ] {
        refused("ruleset", &schema, text, from, to);
    }
}

#[test]
fn broken_amendments_are_refused_by_both() {
    let schema = validator(&schema("amendment"));
    let path = super::project().join("rulesets/amendments/heron-county.yaml");
    let text = std::fs::read_to_string(path).expect("the amendment");
    for (from, to) in [
        ("jurisdiction:", "juristiction:"),
        ("- fill: {table", "- fil: {table"),
        (
            "column: one_interval, to: 1900 dfu",
            "colum: one_interval, to: 1900 dfu",
        ),
        ("was: 6 ft, to: 5 ft", "is: 6 ft, to: 5 ft"),
        ("order: at_most", "order: at_lest"),
        ("limit: fixture.standpipe_height", "limit: fixture.standpipe"),
        (
            "condition: protection.same_storey",
            "condition: protection.same_story",
        ),
        (
            "to: {system.storeys: {at_most: 4}}",
            "to: {system.storys: {at_most: 4}}",
        ),
        (
            "to: {system.storeys: {at_most: 4}}",
            "to: {system.storeys: {at_most: four}}",
        ),
        ("status: in_force", "status: active"),
        ("origin: invented", "origin: made_up"),
        ("precedence: local_text", "precedence: mine"),
        ("from: 2025-07-01", "from: July 2025"),
        ("edition: \"2025\"", "edition: 2025"),
        ("edition: \"2021\", from_revision", "from_revision"),
        ("from_revision: 1", "from_revision: first"),
        ("status: in_force\n", ""),
        ("pattern: individual", "pattern: individal"),
        (
            "title: a vent to a single fixture of an outbuilding",
            "titel: a vent",
        ),
        (
            "- gate: {arrangement: vertical-wet-vent}",
            "- gate: {method: vertical-wet-vent}",
        ),
        (
            "cite: {section: \"4.1\", basis: published",
            "cite: {section: \"4.1\", basis: rumour",
        ),
        ("- note: {text:", "- note: {texts:"),
        (
            "  - cap: {table",
            "  - floor: {rule: trap-seal, at: 2 in}\n    cap: {table",
        ),
    ] {
        refused("amendment", &schema, &text, from, to);
    }
}

#[test]
fn broken_examples_are_refused_by_both() {
    let schema = validator(&schema("example"));
    let path = super::project().join("rulesets/ipc-2021/examples/bathroom-groups.yaml");
    let text = std::fs::read_to_string(path).expect("the examples");
    for (from, to) in [
        ("answer: reckoned", "answer: guessed"),
        ("basis: memory", "basis: hearsay"),
        ("source: International", "sauce: International"),
        ("violated: [{rule", "violatet: [{rule"),
        ("loads: {group: $LOAD}", "loads: [$LOAD]"),
        (
            "held: [{rule: bathroom-group, on",
            "held: [{rule: bathroom-group, at",
        ),
        ("      put: [FLUSH, SECOND, THIRD, FOURTH, LOAD]\n", ""),
        ("put: {STOREY: upper}", "put: {storey: upper}"),
        ("site: {occupancy: private}", "site: {occupancy: privat}"),
        ("{pipe: {length: 3 ft}}", "{pipe: {lenght: 3 ft}}"),
        ("{pipe: {length: 3 ft}}", "{pipe: {length: 3}}"),
        ("crownweir: network/1", "crownweir: network/2"),
    ] {
        refused("example", &schema, &text, from, to);
    }
}
