//! What is asked for: nothing that cannot change a verdict. What is open still is asked for by the same rule.

use crownweir::quantity::Notation;
use crownweir::{Effort, Finding, Sizing, Verdict, check, size};
use crownweir_tests::{network, network_text, rules, without_plan};

/// What a rule finds in a network, in the order of the report.
fn found(by: &str, rule: &str, text: &str) -> Vec<Finding> {
    let report = check(&network(text), &rules(by)).unwrap_or_else(|error| panic!("{error}"));
    report
        .findings
        .into_iter()
        .filter(|one| one.rule == rule)
        .collect()
}

/// The one violation that a rule finds, in words.
fn violation(by: &str, rule: &str, text: &str) -> String {
    let mut found = found(by, rule, text);
    found.retain(|one| one.verdict == Verdict::Violated);
    assert_eq!(found.len(), 1, "{found:?}");
    found[0].message.clone()
}

/// What a rule asks for, finding by finding.
fn asked(by: &str, rule: &str, text: &str) -> Vec<String> {
    let found = found(by, rule, text);
    assert!(
        found.iter().all(|one| one.verdict == Verdict::Undetermined),
        "{found:?}"
    );
    found.into_iter().map(|one| one.message).collect()
}

/// A sink whose vent turns level, or ends at a valve.
const SINK: &str = "\
crownweir: network/1
name: sink
storeys: [{storey: ground, elevation: 0 ft}]
drains:
  - kind: building_drain
    size: 4 in
    slope: 1/4 in/ft
    storey: ground
    path:
      - cleanout: {name: CO, size: 4 in}
      - pipe: {length: 2 ft}
      - fitting: {name: Y, pattern: wye, height: -2 ft}
      - pipe: {length: 3 ft}
      - disposal: {name: sewer}
  - size: 2 in
    slope: 1/4 in/ft
    storey: ground
    path:
      - fixture: {name: SINK, type: kitchen_sink, $WEIR, trap: {size: 1-1/2 in, kind: p}}
      - pipe: {length: 2 ft}
      - fitting: {name: T, pattern: sanitary_tee}
      - pipe: {slope: vertical}
      - fitting: {name: B, pattern: long_sweep}
      - pipe: {length: 4 ft}
      - at: Y
vents:
  - size: 2 in
    slope: vertical
    storey: ground
    path:
      - at: T
";

const TURNS: &str = "      - pipe: {length: $RISE}
      - fitting: {name: V, pattern: vent_quarter_bend}
      - pipe: {name: flat, length: 4 ft, slope: 1/4 in/ft}
      - fitting: {name: W, pattern: vent_quarter_bend}
      - pipe: {length: 12 ft}
      - terminal: {name: roof, $TERMINAL}
";

fn turns(weir: &str, rise: &str) -> String {
    let text = format!("{SINK}{TURNS}")
        .replace("$WEIR", weir)
        .replace("$RISE", rise);
    text.replace("$TERMINAL", "height_above_roof: 12 in")
}

// No rim lies below its trap weir. The weir stands at 18 in, the tee 1/2 in lower, the turn 6 in above that.
#[test]
fn a_vent_that_turns_too_low_above_the_weir_does_so_above_any_rim() {
    for by in ["ipc-2021", "upc-2021"] {
        let told = violation(by, "vent-turned-too-low", &turns("weir_height: 18 in", "6 in"));
        assert!(told.contains("at most 5-1/2 in above"), "{told}");
    }
    let told = violation(
        "ipc-2021",
        "vent-turned-too-low",
        &turns("weir_height: 18 in", "1/4 in"),
    );
    assert!(told.contains("at least 1/4 in below"), "{told}");
    let higher = asked(
        "ipc-2021",
        "vent-turned-too-low",
        &turns("weir_height: 18 in", "12 in"),
    );
    assert_eq!(
        higher,
        ["cannot be told: `rim_height` of kitchen sink `SINK` needed"]
    );
}

#[test]
fn a_valve_stands_as_high_above_the_rim_as_heights_tell() {
    let with = |fixture: &str, rise: &str| {
        let valve = "valve: {name: AAV, kind: stack}";
        format!("{SINK}      - pipe: {{length: {rise}}}\n      - {valve}\n").replace("$WEIR", fixture)
    };
    let rule = "stack-valve-height";
    // The tee stands at 17-1/2 in, the rim at 36 in.
    let rim = "weir_height: 18 in, rim_height: 36 in";
    assert!(found("ipc-2021", rule, &with(rim, "2 ft 6 in")).is_empty());
    let told = violation("ipc-2021", rule, &with(rim, "2 ft"));
    assert!(told.contains("stands 5-1/2 in above"), "{told}");
    // Without the rim it may still stand too low above the weir.
    let told = violation("ipc-2021", rule, &with("weir_height: 18 in", "6 in"));
    assert!(told.contains("at most 5-1/2 in above"), "{told}");
    assert_eq!(
        asked("ipc-2021", rule, &with("weir_height: 18 in", "2 ft")),
        ["cannot be told: `height_above_rim` of air admittance valve `AAV` needed"]
    );
}

#[test]
fn a_terminal_of_which_a_roof_is_told_passes_the_roof() {
    let text = turns("weir_height: 18 in", "4 ft");
    let bare = text.replace("height_above_roof: 12 in", "lot_line_distance: 20 ft");
    let used = text.replace("height_above_roof: 12 in", "roof_use: weather");
    let low = text.replace("12 in}", "4 in}");
    let wall = text.replace("12 in}", "12 in, through: wall}");
    for (by, rule) in [("ipc-2021", "wall-terminal"), ("npc-2020", "wall-terminal")] {
        assert!(found(by, rule, &text).is_empty());
        assert!(found(by, rule, &used).is_empty());
        assert!(asked(by, rule, &bare)[0].contains("`through`"));
    }
    assert_eq!(
        asked("upc-2021", "occupied-roof-terminal-height", &text),
        ["cannot be told: `roof_use` of vent terminal `roof` needed"]
    );
    violation("ipc-2021", "roof-terminal-height", &low);
    violation("upc-2021", "terminal-above-roof", &wall);
}

/// A building drain of two pipes.
fn drain(pipes: &str) -> String {
    format!(
        "crownweir: network/1\nname: drain\nstoreys: [{{storey: ground, elevation: 0 ft}}]\ndrains:
  - kind: building_drain
    size: 4 in
    storey: ground
    path:
      - cleanout: {{name: CO, size: 4 in, accessible: true}}
{pipes}      - disposal: {{name: sewer}}\n"
    )
}

#[test]
fn cleanouts_near_enough_ask_for_no_slopes() {
    let with = |first: &str, second: &str| {
        drain(&format!(
            "      - pipe: {{name: D1, {first}}}\n      - fitting: {{name: Y, pattern: wye}}\n      - pipe: {{name: D2, {second}}}\n"
        ))
    };
    let rule = "cleanout-spacing";
    assert!(found("ipc-2021", rule, &with("length: 40 ft", "length: 50 ft")).is_empty());
    // Together too far, if both lie level.
    let open = asked("ipc-2021", rule, &with("length: 60 ft", "length: 50 ft"));
    assert_eq!(
        open,
        ["cannot be told: `slope` of drain `D1` and `slope` of drain `D2` needed"]
    );
    // However long the rest is.
    let level = "slope: 1/4 in/ft";
    let told = violation(
        "ipc-2021",
        rule,
        &with(level, &format!("length: 101 ft, {level}")),
    );
    assert!(told.starts_with("at least 101 ft"), "{told}");
    let rest = asked("ipc-2021", rule, &with(level, &format!("length: 99 ft, {level}")));
    assert_eq!(rest.len(), 2, "{rest:?}");
}

#[test]
fn a_vent_is_too_long_however_long_its_rest_is() {
    let text = turns("weir_height: 18 in, rim_height: 20 in", "3 ft").replace(
        "size: 2 in\n    slope: vertical",
        "size: 1-1/4 in\n    slope: vertical",
    );
    let text = text.replace("kitchen_sink", "lavatory");
    let long = text.replace("length: 12 ft", "length: 50 ft").replace(
        "{length: 3 ft}\n      - fitting: {name: V",
        "{}\n      - fitting: {name: V",
    );
    // Table 703.2 lets a vent of 1-1/4 in be 45 ft long.
    let found = found("upc-2021", "vent-length", &long);
    assert!(!found.is_empty());
    for one in &found {
        assert_eq!(one.verdict, Verdict::Violated, "{}", one.message);
        assert!(one.message.contains("at least 54 ft"), "{}", one.message);
    }
    let short = long.replace("length: 50 ft", "length: 30 ft");
    assert!(!asked("upc-2021", "vent-length", &short).is_empty());
}

#[test]
fn a_storey_carries_no_more_than_what_stands_on_it() {
    let storey = |name: &str| {
        format!(
            "  - size: DN 75\n    slope: 1:50\n    storey: {name}\n    path:
      - fixture: {{name: WC {name}, type: water_closet, trap: {{size: DN 75, kind: integral}}}}
      - pipe: {{length: 1 m}}
      - at: {name} tee\n"
        )
    };
    let names: Vec<String> = (1..=4).map(|number| format!("s{number}")).collect();
    let storeys: String = names
        .iter()
        .map(|name| format!("  - {{storey: {name}, height: 3 m}}\n"))
        .collect();
    let mut joints = String::new();
    for name in names.iter().rev() {
        joints += &format!(
            "      - fitting: {{name: {name} tee, pattern: sanitary_tee, storey: {name}}}\n      - pipe: {{length: 3 m}}\n"
        );
    }
    let branches: String = names.iter().map(|name| storey(name)).collect();
    let text = format!(
        "crownweir: network/1\nname: tower\nstoreys:\n{storeys}drains:\n  - kind: stack\n    size: DN 75\n    slope: vertical\n    storey: s1\n    path:\n{joints}      - disposal: {{name: sewer}}\n{branches}"
    );
    // Each closet has 4 or 6 fixture units, whichever way it is flushed; a storey may have 18 and all together have 24.
    assert!(found("npc-2020", "branch-interval-capacity", &text).is_empty());
}

#[test]
fn a_file_in_metric_lengths_is_reported_in_them() {
    let file = |units: &str, length: &str| {
        format!(
            "crownweir: network/1\nname: n\n{units}drains:\n  - {{size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: L, type: lavatory}}}}, {{pipe: {{length: {length}}}}}, {{disposal: {{name: Z}}}}]}}\n"
        )
    };
    for (units, length, notation) in [
        ("", "900 mm", Notation::Millimetres),
        ("", "0.9 m", Notation::Millimetres),
        ("", "3 ft", Notation::Inches),
        ("units: inches\n", "900 mm", Notation::Inches),
        ("units: millimetres\n", "3 ft", Notation::Millimetres),
    ] {
        assert_eq!(
            network(&file(units, length)).notation(),
            notation,
            "{units}{length}"
        );
    }
    // One length in inches, or none at all, and it is as it was.
    let mixed = file("", "900 mm").replace("type: lavatory", "type: lavatory, rim_height: 31 in");
    assert_eq!(network(&mixed).notation(), Notation::Inches);
    let none = file("", "900 mm").replace("length: 900 mm", "");
    assert_eq!(network(&none).notation(), Notation::Inches);
}

#[test]
fn a_slope_is_chosen_that_a_level_shows() {
    // Section 708.1 asks for 2 %, which no level in sixteenths of an inch per foot shows.
    for (file, stated, bounds, chosen) in [
        (
            "heron-point-upc.yaml",
            "slope: 1/4 in/ft",
            "at_least: 1/8 in/ft, at_most: 1/2 in/ft",
            "1/4 in/ft",
        ),
        (
            "larch-terrace-upc.yaml",
            "slope: 1:48",
            "at_least: 1 %, at_most: 4 %",
            "2 %",
        ),
        // What the file names is set, whatever it is.
        (
            "heron-point-upc.yaml",
            "slope: 1/4 in/ft",
            "at_least: 2 %, at_most: 4 %",
            "2 %",
        ),
    ] {
        let text = network_text(file);
        let text = if file.starts_with("larch-terrace") {
            without_plan(&text)
        } else {
            text
        };
        let at = text.find("kind: building_drain").expect("a building drain");
        let (before, after) = text.split_at(at);
        let text = format!(
            "{before}{}",
            after.replacen(stated, &format!("slope: {{{bounds}}}"), 1)
        );
        let sized = match size(&network(&text), &rules("upc-2021"), Effort::default()) {
            Ok(Sizing::Sized(sized)) => sized,
            other => panic!("{other:?}"),
        };
        let slopes: Vec<_> = sized.chosen.iter().filter_map(|one| one.slope).collect();
        assert!(!slopes.is_empty(), "{file}");
        for slope in slopes {
            assert_eq!(Ok(slope), chosen.parse(), "{file}: {bounds}");
        }
    }
}

#[test]
fn what_may_be_asked_next_is_told() {
    // The vent turns level 53-1/2 in above the floor, and both sinks that it serves have their rim at 40 in.
    let second = "  - size: 1-1/2 in
    slope: 1/4 in/ft
    storey: ground
    path:
      - fixture: {name: OTHER, type: kitchen_sink$RIM, trap: {size: 1-1/2 in, kind: p}}
      - pipe: {length: 2 ft}
      - at: T
vents:";
    let rim = ", rim_height: 40 in";
    let told = |first: &str, other: &str| {
        let text = turns(&format!("weir_height: 18 in{first}"), "3 ft");
        let text = text.replace("vents:", &second.replace("$RIM", other));
        let report = check(&network(&text), &rules("ipc-2021")).unwrap_or_else(|error| panic!("{error}"));
        let findings = report
            .findings
            .iter()
            .filter(|one| one.rule == "vent-turned-too-low");
        let needed: Vec<String> = findings.flat_map(Finding::needed).collect();
        let mut elsewhere: Vec<String> = report.missing_elsewhere.iter().map(ToString::to_string).collect();
        elsewhere.retain(|datum| datum.contains("rim_height"));
        let shown = crownweir::report::text(&report, &|_| None);
        assert_eq!(
            shown.contains("Not stated either"),
            !report.missing_elsewhere.is_empty(),
            "{shown}"
        );
        [needed, elsewhere].map(|data| data.join(" "))
    };
    let of = |sink: &str| format!("`rim_height` of kitchen sink `{sink}`");
    assert_eq!(told("", ""), [of("SINK"), of("OTHER")]);
    assert_eq!(told(rim, ""), [of("OTHER"), String::new()]);
    assert_eq!(told("", rim), [of("SINK"), String::new()]);
    assert_eq!(told(rim, rim), ["", ""]);
}

#[test]
fn a_building_drain_of_open_size_is_a_building_drain() {
    // Its cleanout stands 32 ft from its end, 10 ft being the most, whatever its size.
    let text = turns("weir_height: 18 in", "3 ft")
        .replace(
            "  - kind: building_drain\n    size: 4 in\n",
            "  - kind: building_drain\n",
        )
        .replace(
            "      - pipe: {length: 3 ft}\n",
            "      - pipe: {length: 30 ft}\n",
        );
    assert!(violation("ipc-2021", "cleanout-at-junction", &text).contains("where the building drain ends"));
    let sized = match size(&network(&text), &rules("ipc-2021"), Effort { evaluations: 100 }) {
        Ok(Sizing::Sized(sized)) => sized,
        other => panic!("{other:?}"),
    };
    assert!(!sized.chosen.is_empty());
}
