//! What a network file may leave out, what it may not contradict, and what the graph makes of awkward shapes.

use crownweir::vocabulary::{RoofUse, Through};
use crownweir::{Limits, Network, NodeKind, Verdict, check};
use crownweir_tests::{checked, network, network_text, rules, without_plan};

fn problems(text: &str) -> String {
    match Network::read("network.yaml", text.as_bytes(), &Limits::default()) {
        Ok(_) => panic!("accepted:\n{text}"),
        Err(problems) => problems.to_string(),
    }
}

/// A lavatory on a branch to the sewer, with the pipe written as given.
fn with_pipe(pipe: &str, ends: [&str; 2]) -> String {
    format!(
        "crownweir: network/1
name: n
units: millimetres
drains:
  - {{size: DN 50, path: [{{fitting: {{name: A{}}}}}, {{pipe: {{name: run{pipe}}}}}, {{disposal: {{name: Z{}}}}}]}}
",
        ends[0], ends[1]
    )
}

#[test]
fn coordinates_and_inverts_give_length_and_fall() {
    let from_points = network(&with_pipe(
        "",
        [", position: [0 m, 0 m, 0 m]", ", position: [3 m, 4 m, -100 mm]"],
    ));
    let pipe = &from_points.graph()[from_points.pipe_named("run").expect("a pipe")];
    // By Pythagoras: 3, 4 and 0.1 m give 5.001 m (rounded to the nanometre).
    assert_eq!(pipe.length.map(|length| length.nanometres()), Some(5_000_999_900));
    assert_eq!(
        pipe.slope
            .and_then(|slope| slope.as_f64())
            .map(|slope| (slope * 1e6).round()),
        Some(19_996.0)
    );
    let from_inverts = network(&with_pipe(", length: 5 m, inverts: [100 mm, 0 mm]", ["", ""]));
    let pipe = &from_inverts.graph()[from_inverts.pipe_named("run").expect("a pipe")];
    assert_eq!(pipe.slope, "1:50".parse().ok());
}

#[test]
fn figures_that_deny_each_other_are_both_shown() {
    let ends = [", position: [0 m, 0 m, 0 m]", ", position: [3 m, 4 m, -100 mm]"];
    let error = problems(&with_pipe(", length: 6 m", ends));
    assert!(
        error.contains("the length is stated as 6000 mm, but the coordinates of its ends give about 5001 mm"),
        "{error}"
    );
    let error = problems(&with_pipe(
        ", length: 5 m, slope: 1:20, inverts: [100 mm, 0 mm]",
        ["", ""],
    ));
    assert!(
        error.contains("the fall is stated as 250 mm, but the heights of its ends give 100 mm"),
        "{error}"
    );
}

#[test]
fn a_back_graded_drain_is_a_finding() {
    let report = checked(&with_pipe(", length: 5 m, inverts: [0 mm, 100 mm]", ["", ""]));
    let finding = report
        .findings
        .iter()
        .find(|finding| finding.rule == "drain-slope")
        .expect("a finding");
    assert_eq!(
        finding.measured.as_ref().map(|figure| figure.text.as_str()),
        Some("-2 %")
    );
}

#[test]
fn repeated_storeys_need_names_of_their_own() {
    let text = "crownweir: network/1
name: n
storeys: [{storey: '{number}', numbers: 1..3}]
repeat: [{storeys: 1..3, drains: [{path: [{fitting: {name: same}}, {pipe: {}}, {at: Z}]}]}]
drains: [{path: [{fitting: {name: A}}, {pipe: {}}, {disposal: {name: Z}}]}]
";
    assert!(problems(text).contains("`same` would be defined again on every storey"));
    let text = text.replace("name: same", "name: 'n {above}'");
    assert!(
        problems(&text).contains("there is no storey above `3`"),
        "{}",
        problems(&text)
    );
    let text = text
        .replace("{above}", "{storey}")
        .replace("storeys: 1..3, drains", "storeys: 3..1, drains");
    assert!(problems(&text).contains("`3..1` runs downward"));
}

/// A branch of the fixtures given, from the upper end down, each joining at a wye; `vented` names those with a vent
/// on their own drain.
fn branch(fixtures: &[(&str, &str)], vented: &[&str]) -> String {
    let mut text = String::from(
        "crownweir: network/1\nname: branch\nsite: {occupancy: private}\nstoreys: [{storey: a, height: 3 m}, {storey: b, height: 3 m}]\ndrains:\n  - {size: 4 in, slope: 1/4 in/ft, storey: a, path: [{cleanout: {name: CO}}, {pipe: {length: 1 ft}}",
    );
    for (name, _) in fixtures {
        text.push_str(&format!(
            ", {{fitting: {{name: J-{name}, pattern: wye}}}}, {{pipe: {{name: after {name}, length: 2 ft}}}}"
        ));
    }
    text.push_str(", {at: T}]}\n  - {run: stack, kind: stack, size: 4 in, slope: vertical, path: [{fitting: {name: T, pattern: sanitary_tee}}, {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}\n");
    let mut vents = String::new();
    for (name, kind) in fixtures {
        let details = match *kind {
            "water_closet" => "flush_volume: 1.6 gal, trap: {kind: integral}",
            _ => "trap: {size: 1-1/2 in, kind: p, seal: 2 in}",
        };
        text.push_str(&format!(
            "  - {{size: 3 in, slope: 1/4 in/ft, storey: a, path: [{{fixture: {{name: {name}, type: {kind}, {details}}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: V-{name}, pattern: wye}}}}, {{pipe: {{length: 1 ft}}}}, {{at: J-{name}}}]}}\n"
        ));
        if vented.contains(name) {
            vents.push_str(&format!("  - {{size: 2 in, slope: vertical, path: [{{at: V-{name}}}, {{pipe: {{length: 9 ft}}}}, {{terminal: {{name: roof {name}}}}}]}}\n"));
        }
    }
    format!("{text}vents:\n{vents}")
}

/// The fixtures whose traps nothing protects, with what is said of each.
fn unprotected(text: &str) -> Vec<(String, String)> {
    let report = checked(text);
    let found = report
        .findings
        .into_iter()
        .filter(|one| one.rule == "trap-protection" && one.verdict == Verdict::Violated);
    found.map(|one| (one.name, one.message)).collect()
}

#[test]
fn one_vent_serves_two_bathroom_groups_and_no_more() {
    let two = [
        ("L1", "lavatory"),
        ("W1", "water_closet"),
        ("B1", "bathtub"),
        ("L2", "lavatory"),
        ("W2", "water_closet"),
        ("B2", "shower"),
    ];
    assert_eq!(unprotected(&branch(&two, &["L1"])), []);
    let third = [&two[..], &[("L3", "lavatory")]].concat();
    let found = unprotected(&branch(&third, &["L1"]));
    assert_eq!(found.len(), 6, "{found:?}");
    assert!(
        found
            .iter()
            .all(|(_, message)| message.contains("make 3 bathroom groups; 2 is the most")),
        "{found:?}"
    );
    // The third lavatory with a vent of its own counts in the wet vent no less when it joins above its end.
    let inside = [&[("L3", "lavatory")], &two[..]].concat();
    assert_eq!(unprotected(&branch(&inside, &["L1", "L3"])).len(), 5);
    // Joined below the end it is none of the wet vent's business.
    assert_eq!(unprotected(&branch(&third, &["L1", "L3"])), []);
}

#[test]
fn a_closet_above_the_dry_vent_is_wet_vented_but_not_two_of_them() {
    let one = [("W1", "water_closet"), ("L1", "lavatory"), ("B1", "bathtub")];
    assert_eq!(unprotected(&branch(&one, &["L1"])), []);
    let two = [("W1", "water_closet"), ("W2", "water_closet"), ("L1", "lavatory")];
    let found = unprotected(&branch(&two, &["L1"]));
    let names: Vec<_> = found.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["W1", "W2"]);
    assert!(
        found[0].1.contains("2 fixtures reach the wet vent by one drain"),
        "{found:?}"
    );
}

#[test]
fn a_kitchen_sink_spoils_a_wet_vent() {
    let mixed = [("L1", "lavatory"), ("K", "kitchen_sink"), ("W1", "water_closet")];
    let found = unprotected(&branch(&mixed, &["L1", "K"]));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(
        found[0].0 == "W1"
            && found[0]
                .1
                .contains("fixtures on the wet vent that belong to no bathroom group: 1"),
        "{found:?}"
    );
    let below = [("L1", "lavatory"), ("W1", "water_closet"), ("K", "kitchen_sink")];
    assert_eq!(unprotected(&branch(&below, &["L1", "K"])), []);
}

#[test]
fn no_vent_at_all_is_said_so() {
    let found = unprotected(&branch(&[("W1", "water_closet")], &[]));
    assert_eq!(
        found,
        [(
            "W1".to_owned(),
            "no vent is met before the drain joins one that brings no air".to_owned()
        )]
    );
}

#[test]
fn lower_storeys_get_no_air_from_the_stack() {
    let text = without_plan(&network_text("larch-terrace.yaml"));
    // The sink's own vent away: its drain then joins the stack below the bathroom, which stands on the same storey
    // but is no fixture of one group with a sink.
    let text = text.replace("      - at: sink tee\n      - pipe: {name: sink vent, slope: vertical}\n      - fitting: {name: V2, pattern: vent_quarter_bend}", "      - at: basin turn\n      - pipe: {name: sink vent, slope: vertical}\n      - fitting: {name: V2, pattern: vent_quarter_bend}");
    let found = unprotected(&text);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].1.contains("a vertical wet vent"), "{found:?}");
}

#[test]
fn common_vents_at_two_levels_keep_to_their_table() {
    let text = |upper: &str, size: &str| {
        format!(
            "crownweir: network/1
name: levels
storeys: [{{storey: a, height: 3 m}}]
drains:
  - {{size: 2 in, slope: 1/4 in/ft, storey: a, path: [{{fixture: {{name: upper, type: {upper}, trap: {{size: 1-1/4 in, kind: p, seal: 2 in}}}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: A, pattern: sanitary_tee}}}}, {{pipe: {{slope: vertical, length: 1 ft, size: {size}}}}}, {{fitting: {{name: B, pattern: sanitary_tee}}}}, {{pipe: {{slope: vertical, length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}
  - {{size: 2 in, slope: 1/4 in/ft, storey: a, path: [{{fixture: {{name: lower, type: bathtub, trap: {{size: 1-1/2 in, kind: p, seal: 2 in}}}}}}, {{pipe: {{length: 2 ft}}}}, {{at: B}}]}}
vents: [{{size: 2 in, slope: vertical, path: [{{at: A}}, {{pipe: {{length: 9 ft}}}}, {{terminal: {{name: roof}}}}]}}]
"
        )
    };
    // Table 911.3 (basis: memory): 1-1/2 in takes 1 dfu from the upper fixture, 2 in takes 4.
    assert_eq!(unprotected(&text("lavatory", "1-1/2 in")), []);
    let found = unprotected(&text("kitchen_sink", "1-1/2 in"));
    assert!(
        found.len() == 1 && found[0].1.contains("carries 2 dfu and may carry 1 dfu"),
        "{found:?}"
    );
    assert_eq!(unprotected(&text("kitchen_sink", "2 in")), []);
}

#[test]
fn a_vent_stack_may_leave_the_building_drain_near_the_base() {
    let text = |below: &str| {
        format!(
            "crownweir: network/1
name: stack
drains:
  - {{size: 3 in, slope: 1/4 in/ft, path: [{{fixture: {{name: load, type: connected_load, load: 12 dfu}}}}, {{pipe: {{length: 3 ft}}}}, {{at: T}}]}}
  - {{run: stack, kind: stack, size: 3 in, slope: vertical, path: [{{fitting: {{name: T}}}}, {{pipe: {{length: 9 ft}}}}, {{at: B}}]}}
  - {{run: drain, kind: building_drain, size: 4 in, slope: 1/4 in/ft, path: [{{fitting: {{name: B, pattern: long_sweep}}}}, {{pipe: {{length: {below}}}}}, {{fitting: {{name: V}}}}, {{pipe: {{length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}
vents:
  - {{run: vent stack, kind: vent_stack, size: 2 in, slope: vertical, path: [{{at: V}}, {{pipe: {{name: vent stack, length: 300 ft}}}}, {{terminal: {{name: roof}}}}]}}
"
        )
    };
    let of = |text: &str, rule: &str| {
        let report = checked(text);
        report
            .findings
            .into_iter()
            .find(|one| one.rule == rule)
            .and_then(|one| one.limit)
            .map(|limit| limit.text)
    };
    assert_eq!(of(&text("30 in"), "vent-stack-connection"), None);
    assert_eq!(
        of(&text("31 in"), "vent-stack-connection").as_deref(),
        Some("2 ft 6 in")
    );
    // Its length is held against the stack all the same: 3 in, up to 21 dfu, 2 in vent (basis: memory).
    assert_eq!(of(&text("30 in"), "main-vent-length").as_deref(), Some("110 ft"));
}

#[test]
fn missing_data_leaves_rules_open_and_never_passes_them() {
    let text = network_text("larch-terrace.yaml");
    for (from, to, rule, missing) in [
        (
            "{name: basin arm, length: 600 mm}",
            "{name: basin arm}",
            "trap-arm-length",
            "`length` of drain `basin arm`",
        ),
        (
            "horizontal_support_spacing: 1200 mm, ",
            "",
            "horizontal-supports",
            "`support_spacing` of drain `closet drain`",
        ),
        (
            ", nearest_opening: {distance: 4 m, above: 500 mm}",
            "",
            "terminal-near-opening",
            "`nearest_opening` of vent terminal `roof`",
        ),
        (
            ", accessible: true}\n      - pipe: {name: drain 3",
            "}\n      - pipe: {name: drain 3",
            "cleanout-access",
            "`accessible` of cleanout `last cleanout`",
        ),
        (
            "{name: D, pattern: wye}",
            "{name: D}",
            "fitting-for-turn",
            "`pattern` of fitting `D`",
        ),
    ] {
        assert_eq!(text.matches(from).count(), 1, "{from}");
        let report = checked(&text.replace(from, to));
        let open: Vec<_> = report
            .findings
            .iter()
            .filter(|one| one.rule == rule && one.verdict == Verdict::Undetermined)
            .collect();
        assert!(!open.is_empty(), "{rule} is not open without {missing}");
        let named = open
            .iter()
            .flat_map(|one| one.needed())
            .any(|one| one.contains(missing));
        assert!(named, "{missing}: {open:?}");
        assert!(report.has_undetermined());
    }
}

/// By IPC 2021, table 709.1 (from memory), a private water closet counts 3 dfu up to 1.6 gal a flush and 4 above; by table
/// 710.1(2) (from memory) a 2 in branch takes 6 dfu.
#[test]
fn a_flush_that_is_not_stated_is_asked_for_where_it_matters() {
    let house = |fixtures: &[(&str, &str)]| {
        let runs = fixtures.iter().enumerate().map(|(number, (kind, states))| {
            format!(
                "  - {{size: 2 in, path: [{{fixture: {{name: F{number}, type: {kind}{states}}}}}, {{pipe: {{}}}}, {{at: A}}]}}\n"
            )
        });
        let runs: String = runs.collect();
        let text = format!(
            "crownweir: network/1
name: n
rules: ipc-2021
site: {{occupancy: private}}
drains:
{runs}  - {{size: 2 in, slope: 1/4 in/ft, path: [{{fitting: {{name: A}}}}, {{pipe: {{name: B}}}}, {{at: T}}]}}
  - {{kind: stack, size: 3 in, slope: vertical, path: [{{fitting: {{name: T}}}}, {{pipe: {{}}}}, {{disposal: {{name: Z}}}}]}}
"
        );
        let report = checked(&text);
        let told = report
            .findings
            .into_iter()
            .find(|one| one.rule == "branch-capacity" && one.name == "B");
        told.map(|one| (one.verdict, one.message))
    };
    let closet = ("water_closet", "");
    let others = |number: usize| vec![("lavatory", ""); number];
    assert_eq!(house(&[&[closet][..], &others(2)].concat()), None);
    let (verdict, message) = house(&[&[closet][..], &others(3)].concat()).expect("a finding");
    assert_eq!(verdict, Verdict::Undetermined);
    assert!(
        message.contains("`flush_volume` of water closet `F0`"),
        "{message}"
    );
    let stated = |flush| house(&[&[("water_closet", flush)][..], &others(3)].concat());
    assert_eq!(stated(", flush_volume: 1.6 gal"), None);
    let (verdict, message) = stated(", flush_volume: 1.7 gal").expect("a finding");
    assert_eq!(verdict, Verdict::Violated);
    assert!(message.contains("7 dfu"), "{message}");
    let (verdict, message) = house(&[&[closet; 2][..], &others(1)].concat()).expect("a finding");
    assert_eq!(verdict, Verdict::Violated);
    assert!(message.contains("7 dfu to 9 dfu"), "{message}");
}

#[test]
fn of_length_and_slope_the_one_is_asked_for_that_is_not_stated() {
    let arm = |states: &str| {
        let text = format!(
            "crownweir: network/1\nname: arm\nsite: {{occupancy: private}}\ndrains: [{{size: 1-1/4 in, path: [{{fixture: {{name: basin, type: lavatory, trap: {{size: 1-1/4 in}}}}}}, {{pipe: {{name: arm{states}}}}}, {{fitting: {{name: T}}}}, {{pipe: {{length: 3 ft, slope: vertical}}}}, {{disposal: {{name: sewer}}}}]}}]\nvents: [{{size: 1-1/4 in, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 9 ft}}}}, {{terminal: {{name: roof}}}}]}}]\n"
        );
        let report = checked(&text);
        let fall = report.findings.iter().find(|one| one.rule == "trap-arm-fall");
        fall.map(|one| one.needed()).unwrap_or_default()
    };
    assert_eq!(arm(", slope: 1/4 in/ft"), ["`length` of drain `arm`"]);
    assert_eq!(arm(", length: 2 ft"), ["`slope` of drain `arm`"]);
    assert_eq!(arm(""), ["`length and slope` of drain `arm`"]);
    assert!(arm(", length: 2 ft, slope: 1/4 in/ft").is_empty());
}

#[test]
fn what_holds_in_any_case_needs_no_datum() {
    let text = network_text("larch-terrace.yaml").replace(", winter_design_temperature: -10 C", "");
    // A 3 in terminal is large enough in any climate; a 2 in one only in a mild climate.
    assert!(checked(&text).findings.is_empty());
    let small = text.replace(
        "{name: roof vent, length: 2600 mm}",
        "{name: roof vent, length: 2600 mm, size: DN 50}",
    );
    let report = checked(&small);
    let open: Vec<_> = report
        .findings
        .iter()
        .map(|one| (one.rule.as_str(), one.verdict))
        .collect();
    assert_eq!(open, [("frost-closure", Verdict::Undetermined)]);
    let datum = "`winter_design_temperature` of network `Larch Terrace fourplex, dwelling 1`";
    assert_eq!(report.findings[0].needed(), [datum]);
}

#[test]
fn a_size_by_another_name_is_the_same_size() {
    let text = network_text("larch-terrace.yaml");
    let inches = text
        .replace("DN 75", "3 in")
        .replace("DN 80", "3 in")
        .replace("DN 40", "1-1/2 in")
        .replace("DN 50", "2 in")
        .replace("DN 32", "1-1/4 in")
        .replace("DN 100", "4 in");
    let rules = rules("ipc-2021");
    let summary = |text: &str| {
        format!(
            "{:?}",
            check(&network(text), &rules).expect("known sizes").summary
        )
    };
    assert_eq!(summary(&text), summary(&inches));
}

#[test]
fn every_size_that_a_rule_set_does_not_know_is_named() {
    let text = network_text("larch-terrace.yaml")
        .replace("DN 32", "DN 33")
        .replace("DN 40", "DN 41");
    let error = check(&network(&text), &rules("ipc-2021")).expect_err("unknown sizes");
    let told = error.to_string();
    assert!(told.contains("DN 33") && told.contains("DN 41"), "{told}");
    let places: Vec<(u32, u32)> = error.0.iter().map(|one| (one.line, one.column)).collect();
    assert!(places.is_sorted() && places.len() > 2, "{told}");
}

/// Each kind of element that has a size is told of by itself, and two of one kind together.
#[test]
fn a_size_that_a_rule_set_does_not_know_is_named_wherever_it_stands() {
    let text = |[trap, pipe, cleanout, vent, roof]: [&str; 5]| {
        format!(
            "crownweir: network/1
name: sizes
drains:
  - size: 3 in
    path:
      - fixture: {{name: F, type: sink, trap: {{size: {trap}}}}}
      - pipe: {{name: first, size: {pipe}}}
      - fitting: {{name: T}}
      - pipe: {{name: second, size: {pipe}}}
      - cleanout: {{name: CO, size: {cleanout}}}
      - pipe: {{name: third}}
      - disposal: {{name: sewer}}
vents:
  - path: [{{at: T}}, {{pipe: {{name: vent, size: {vent}}}}}, {{terminal: {{name: roof, enlarged_to: {roof}}}}}]
"
        )
    };
    let rules = rules("ipc-2021");
    let known = ["1-1/2 in", "2 in", "2 in", "2 in", "3 in"];
    assert!(check(&network(&text(known)), &rules).is_ok());
    for (place, elements) in [
        (0, &["F"][..]),
        (1, &["first", "second"]),
        (2, &["CO"]),
        (3, &["vent"]),
        (4, &["roof"]),
    ] {
        let mut sizes = known;
        sizes[place] = "7/8 in";
        let error = check(&network(&text(sizes)), &rules).expect_err("an unknown size");
        let told: Vec<&str> = error.0.iter().map(|one| one.element.as_str()).collect();
        assert_eq!(told, elements);
    }
}

#[test]
fn words_of_the_trade_suggest_the_nearest() {
    for (from, to, near) in [
        ("type: lavatory", "type: lavatry", "lavatory"),
        ("pattern: sanitary_tee", "pattern: sanitary_te", "sanitary_tee"),
        ("kind: building_drain", "kind: bulding_drain", "building_drain"),
        ("material: abs", "material: asb", "abs"),
        ("material: abs", "material: pcv", "pvc"),
    ] {
        let text = network_text("larch-terrace.yaml");
        assert!(text.contains(from), "{from}");
        let error = problems(&text.replacen(from, to, 1));
        assert!(error.contains(&format!("did you mean `{near}`?")), "{error}");
    }
}

#[test]
fn no_more_pipes_meet_at_a_node_than_any_fitting_has_openings_for() {
    let text = |count: usize| {
        let branches = (1..count).map(|number| {
            format!("  - {{size: 2 in, path: [{{fixture: {{name: \"{number}\", type: sink}}}}, {{pipe: {{length: 1 ft}}}}, {{at: J}}]}}\n")
        });
        let branches: String = branches.collect();
        format!(
            "crownweir: network/1\nname: star\ndrains:\n  - {{size: 2 in, path: [{{fitting: {{name: J}}}}, {{pipe: {{length: 1 ft}}}}, {{disposal: {{name: sewer}}}}]}}\n{branches}"
        )
    };
    assert_eq!(network(&text(100)).graph().edge_count(), 100);
    let error = problems(&text(101));
    assert!(
        error.contains("4:35: 101 pipes meet at the fitting `J`; at most 100 may"),
        "{error}"
    );
}

#[test]
fn what_is_no_yaml_is_told_with_what_mends_it() {
    let path =
        |steps: &str| format!("crownweir: network/1\nname: x\ndrains:\n  - size: 2 in\n    path:\n{steps}");
    for (steps, place, advice) in [
        (
            "      - fixture: {name: WC {storey}}\n",
            "6:28",
            "stands in quotation marks",
        ),
        (
            "      - {at: {storey} joint}\n",
            "6:23",
            "stands in quotation marks",
        ),
        (
            "      - at: a\n     - at: b\n",
            "7:6",
            "begins in the same column",
        ),
        (
            "      - at: a\n   storey: x\n",
            "7:4",
            "begins in the same column",
        ),
        ("\t- at: a\n", "6:2", "begin with spaces"),
    ] {
        let error = problems(&path(steps));
        assert!(error.contains(place) && error.contains(advice), "{error}");
    }
}

/// What stands under a misspelt key is looked through as what it is meant for; what stands under one that is none, or that
/// belongs elsewhere, is not.
#[test]
fn a_misspelt_key_hides_nothing_else() {
    let text = network_text("larch-terrace.yaml");
    let wrong = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        let text = text.replacen(from, to, 1).replacen("at: ", "at: nowhere ", 1);
        problems(&text)
    };
    for (from, to, near) in [
        ("\nname:", "\nnmae:", "name"),
        ("\ndrains:", "\ndrians:", "drains"),
        ("\nstoreys:", "\nstorys:", "storeys"),
        ("length:", "lenght:", "length"),
    ] {
        let error = wrong(from, to);
        assert!(error.contains(&format!("did you mean `{near}`?")), "{error}");
        assert!(error.contains("there is no node `nowhere "), "{error}");
        assert_eq!(error.matches(".yaml:").count(), 2, "{error}");
    }
    let error = wrong("\ndrains:", "\npipework:");
    assert!(!error.contains("there is no node"), "{error}");
}

#[test]
fn the_load_of_a_listed_fixture_is_the_rule_sets_to_give() {
    let error = problems(&network_text("larch-terrace.yaml").replacen(
        "type: lavatory",
        "type: lavatory, load: 3 dfu",
        1,
    ));
    assert!(
        error.contains("the load of the type `lavatory` is the rule set's to give"),
        "{error}"
    );
}

#[test]
fn every_run_tells_what_it_lacks_whatever_is_wrong_with_another() {
    let text = "crownweir: network/1
name: n
drains:
  - {size: 2 in, path: [{fitting: {name: A}}, {pipe: {length: 1 ft}}, {at: T8}]}
  - {size: 2 in, path: [{fitting: {name: B}}, {pipe: {length: 1 ft}}, {at: T9}]}
  - {size: 2 in, path: [{fitting: {name: C}}, {fitting: {name: D}}, {pipe: {length: 1 ft}}, {disposal: {name: Z}}]}
";
    let error = problems(text);
    for told in ["no node `T8`", "no node `T9`", "nothing joins this to `C`"] {
        assert!(error.contains(told), "{told}: {error}");
    }
}

/// A program writes a network as one line: what is wrong far along it has its column, counted in characters.
#[test]
fn a_place_on_a_long_line_is_told_by_its_column() {
    for name in ["run", "Übergang – ø"] {
        let pipes: Vec<String> = (0..3_000)
            .map(|number| {
                format!(r#"{{"fitting": {{"name": "{name} {number}"}}}}, {{"pipe": {{"length": "1 ft"}}}}"#)
            })
            .collect();
        let text = format!(
            r#"{{"crownweir": "network/1", "name": "n", "drains": [{{"size": "2 in", "path": [{}, {{"at": "nowhere"}}]}}]}}"#,
            pipes.join(", ")
        );
        let problems =
            Network::read("n.json", text.as_bytes(), &Limits::default()).expect_err("no such node");
        let problem = (&problems).into_iter().next().expect("a problem");
        let before = text
            .split_once(r#""nowhere""#)
            .map(|(before, _)| before.chars().count());
        assert_eq!(
            Some(problem.place.column),
            before.map(|before| before + 1),
            "{problems}"
        );
        assert_eq!(problem.place.line, 1);
    }
}

/// A program whose `main` gives errors back prints how they are shown to its writer.
#[test]
fn problems_are_shown_to_programmers_as_to_people() {
    let problems = Network::read("n.yaml", b"crownweir: network/1\nnames: n\n", &Limits::default());
    let problems = problems.expect_err("no such key");
    assert_eq!(format!("{problems:?}"), problems.to_string());
}

/// What holds for every cleanout and vent terminal, what each says of itself, and what tells of a roof where a vent ends
/// beside a wall.
#[test]
fn defaults_hold_for_cleanouts_and_terminals_that_say_nothing_else() {
    let text = "crownweir: network/1
name: defaults
defaults:
  cleanouts: {accessible: true, clearance: 24 in}
  terminals: {through: roof, height_above_roof: 12 in, roof_use: weather, nearest_opening: none}
drains:
  - {size: 2 in, slope: 1/4 in/ft, path: [{cleanout: {name: one}}, {pipe: {length: 1 ft}}, {cleanout: {name: two, accessible: false, clearance: 12 in}}, {pipe: {length: 1 ft}}, {fitting: {name: A}}, {pipe: {length: 1 ft}}, {fitting: {name: B}}, {pipe: {length: 1 ft}}, {disposal: {name: sewer}}]}
vents:
  - {size: 2 in, slope: vertical, path: [{at: A}, {pipe: {length: 9 ft}}, {terminal: {name: above}}]}
  - {size: 2 in, slope: vertical, path: [{at: B}, {pipe: {length: 9 ft}}, {terminal: {name: beside, through: wall, nearest_opening: {distance: 12 ft, above: 2 ft}}}]}
";
    let network = network(text);
    let kind = |name: &str| {
        let mut nodes = network.graph().node_weights();
        &nodes.find(|node| &*node.name == name).expect("a node").kind
    };
    let cleanout = |name| match kind(name) {
        NodeKind::Cleanout(own) => (own.accessible, own.clearance.map(|own| own.to_string())),
        other => panic!("{other:?}"),
    };
    assert_eq!(cleanout("one"), (Some(true), Some("2 ft".to_owned())));
    assert_eq!(cleanout("two"), (Some(false), Some("1 ft".to_owned())));
    let terminal = |name| match kind(name) {
        NodeKind::Terminal(own) => own,
        other => panic!("{other:?}"),
    };
    let (above, beside) = (terminal("above"), terminal("beside"));
    assert_eq!(
        (above.through, above.roof_use),
        (Some(Through::Roof), Some(RoofUse::Weather))
    );
    assert_eq!(
        (above.height_above_roof.is_some(), above.nearest_opening),
        (true, Some(None))
    );
    assert_eq!((beside.through, beside.roof_use), (Some(Through::Wall), None));
    assert_eq!(beside.height_above_roof, None);
    assert!(matches!(beside.nearest_opening, Some(Some(_))));
    // What was written out is what was read.
    let written = network.to_yaml().expect("a file");
    let again = crownweir_tests::network(&written);
    let kinds = |network: &Network| {
        let nodes = network.graph().node_weights();
        nodes.map(|node| format!("{:?}", node.kind)).collect::<Vec<_>>()
    };
    assert_eq!(kinds(&again), kinds(&network));
    let message = problems(&text.replace("clearance: 24 in", "clearence: 24 in"));
    assert!(
        message.contains("network.yaml:4:33") && message.contains("did you mean `clearance`"),
        "{message}"
    );
}
