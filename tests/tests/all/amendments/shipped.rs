//! The shipped amendments: the answers that they are known by, read in their own sources, which each file names.

use crownweir::rulebook::Standing;
use crownweir::{Limits, RuleSet, Text, changes, published};
use crownweir_tests::{network, network_text};

use super::{amended, day, house, named, own_base, plain_house, run, violated, with};

#[test]
fn every_shipped_amendment_says_where_it_comes_from_and_changes_something() {
    let mut names: Vec<_> = published::amendments().collect();
    assert!(names.len() >= 12, "{names:?}");
    names.sort_unstable();
    let mut verbs = String::new();
    for name in names {
        let text = published::amendment(name).expect("a text");
        let own = Text {
            name,
            bytes: text.as_bytes(),
        };
        let rules = RuleSet::amended(own_base(text), &[own], day("2026-11-25"), &Limits::default())
            .unwrap_or_else(|problems| panic!("{problems}"));
        let layer = &rules.layers[0];
        assert_eq!(layer.amendment.name, name);
        if layer.standing == Standing::InForce {
            assert!(rules.changes.iter().any(|change| change.void.is_none()), "{name}");
        }
        assert!(
            layer.amendment.read_in.is_some()
                || layer.amendment.origin == crownweir::rulebook::Origin::Invented
        );
        verbs.push_str(text);
    }
    for verb in [
        "fill", "set", "floor", "cap", "replace", "add", "drop", "restrict", "except", "gate", "note",
        "renumber",
    ] {
        assert!(
            verbs.contains(&format!("  - {verb}:")),
            "no shipped amendment shows `{verb}`"
        );
    }
    for target in [
        "definition:",
        "exception:",
        "condition:",
        "section: \"912\"",
        "status: pending",
        "order: at_most",
    ] {
        assert!(verbs.contains(target), "no shipped amendment shows `{target}`");
    }
}

/// Each row as its law is described in the amendment's source.
#[test]
fn the_worked_rows_of_real_law_come_out() {
    let plain = with(&[]);
    // Alamo 9-1-1-5: a terminal of 10 in fails and one of 12 in passes.
    let alamo = with(&["alamo-texas"]);
    let terminal = |height: &str| {
        house(
            "length: 3 ft",
            "",
            &format!("height_above_roof: {height}"),
            "4 in",
        )
    };
    assert!(!violated(&plain, &terminal("10 in"), "roof-terminal-height"));
    assert!(violated(&alamo, &terminal("10 in"), "roof-terminal-height"));
    assert!(!violated(&alamo, &terminal("12 in"), "roof-terminal-height"));
    // Chicago 18-29-904.2: 3 in fails in any climate; 4 in with the increaser a foot inside passes.
    let chicago = with(&["chicago-frost"]);
    let enlarged = |more: &str| {
        house(
            "length: 3 ft",
            "",
            &format!("height_above_roof: 8 in{more}"),
            "4 in",
        )
    };
    assert!(!violated(&plain, &enlarged(""), "frost-closure"));
    assert!(violated(&chicago, &enlarged(""), "frost-closure"));
    let good = enlarged(", enlarged_to: 4 in, enlarged_inside: 12 in");
    assert!(!violated(&chicago, &good, "frost-closure") && !violated(&chicago, &good, "frost-increaser"));
    let short = enlarged(", enlarged_to: 4 in, enlarged_inside: 11 in");
    assert!(violated(&chicago, &short, "frost-increaser"));
    // Eudora: a building sewer of 3 in passes the table and fails the floor; plastic may be tested with air.
    let eudora = with(&["eudora-kansas"]);
    let sewer = |size: &str| house("length: 3 ft", "", "height_above_roof: 8 in", size);
    assert!(!violated(&plain, &sewer("3 in"), "building-drain-capacity"));
    assert!(violated(&eudora, &sewer("3 in"), "building-sewer-size"));
    assert!(!violated(&eudora, &sewer("4 in"), "building-sewer-size"));
    assert!(eudora.rule("air-test-of-plastic").is_none());
    // Kentucky: a waste pipe of 1-1/2 in in the ground fails.
    let kentucky = with(&["kentucky-slab"]);
    let buried = house(
        "length: 3 ft",
        ", underground: true",
        "height_above_roof: 8 in",
        "4 in",
    );
    assert!(violated(&kentucky, &buried, "waste-in-the-ground"));
    assert!(!violated(&kentucky, &plain_house(), "waste-in-the-ground"));
    // Massachusetts 10.16(11): an arm of 5.5 ft in 1-1/2 in fails, where the model allows 6 ft.
    let massachusetts = with(&["massachusetts-vents"]);
    let arm = |length: &str| {
        house(
            &format!("length: {length}"),
            "",
            "height_above_roof: 8 in",
            "4 in",
        )
    };
    assert!(!violated(&plain, &arm("5.5 ft"), "trap-arm-length"));
    assert!(violated(&massachusetts, &arm("5.5 ft"), "trap-arm-length"));
    assert!(!violated(&massachusetts, &arm("5 ft"), "trap-arm-length"));
    // Park City: no wet venting; nine traps of the boathouse are wet-vented.
    let park_city = with(&["park-city-kansas"]);
    let report = run(&park_city, &network_text("heron-point.yaml"));
    let unprotected = report.findings.iter().filter(|one| one.rule == "trap-protection");
    assert_eq!(unprotected.count(), 9);
    // New York: the largest vent of the house is 3 in and has to be 4, with a water closet and without.
    let new_york = with(&["new-york-city-main-vent"]);
    let with_closet = with_drain().replace(
        "vents:\n",
        "  - {size: 3 in, slope: 1/4 in/ft, path: [{fixture: {name: W, type: water_closet, flush_volume: 1.6 gal}}, {pipe: {length: 3 ft}}, {at: J}]}\nvents:\n",
    );
    for (text, rule) in [
        (with_drain(), "waste-building-vent-size"),
        (with_closet, "building-vent-size"),
    ] {
        assert!(!violated(&plain, &text, rule));
        assert!(violated(&new_york, &text, rule));
    }
}

/// What each amendment of venting leaves, and asks of a vent where it leaves a drain.
#[test]
fn amended_vents_are_those_of_the_law() {
    // Kildeer: each trap has a continuous vent of its own.
    let names = |rules: &RuleSet| {
        let names = rules.arrangements.iter().map(|one| one.name.clone());
        names.collect::<Vec<_>>()
    };
    let kildeer = with(&["kildeer-illinois"]);
    assert_eq!(names(&kildeer), ["individual-vent", "island-fixture-vent"]);
    // Massachusetts 10.16(1): combination drains by permission only.
    let massachusetts = with(&["massachusetts-vents"]);
    let by_permission = massachusetts.arrangements.iter().filter(|one| one.needs_approval);
    let by_permission: Vec<_> = by_permission.map(|one| one.name.as_str()).collect();
    assert_eq!(by_permission, ["combination-drain-and-vent"]);
    // Its table begins at 1-1/2 in: an arm of 1-1/4 in cannot be told.
    let arm = plain_house().replace("trap: {size: 1-1/2 in", "trap: {size: 1-1/4 in");
    let report = run(&massachusetts, &arm);
    let row = report.summary.iter().find(|row| row.rule == "trap-arm-length");
    assert_eq!(row.map(|row| row.undetermined), Some(1));
    // Topeka 14.35.370: a wye above the centre line, or a sanitary tee whose vent stands plumb.
    let (plain, topeka) = (with(&[]), with(&["topeka-kansas"]));
    let taken_off = |fitting: &str, slope: &str| {
        let level = plain_house().replace(
            "{pipe: {slope: vertical, length: 2 ft}}",
            "{pipe: {length: 2 ft}}",
        );
        level.replace("pattern: sanitary_tee", &format!("pattern: {fitting}")).replace(
            "size: 3 in, slope: vertical, path: [{at: T}, {pipe: {length: 12 ft}}",
            &format!("size: 3 in, slope: vertical, path: [{{at: T}}, {{pipe: {{slope: {slope}, length: 1 ft}}}}, {{fitting: {{name: U}}}}, {{pipe: {{length: 12 ft}}}}"),
        )
    };
    for (fitting, slope, by_the_model, by_the_city) in [
        ("wye", "vertical", false, false),
        ("combination_wye", "45 deg", false, false),
        ("wye", "44 deg", true, true),
        ("sanitary_tee", "vertical", false, false),
        ("sanitary_tee", "45 deg", false, true),
        ("tee", "vertical", false, true),
    ] {
        let text = taken_off(fitting, slope);
        let found = [&plain, &topeka].map(|rules| violated(rules, &text, "vent-take-off"));
        assert_eq!(found, [by_the_model, by_the_city], "{fitting} {slope}");
    }
    // Eudora: plastic is tested with air, and then at the pressure of the model code.
    let eudora = with(&["eudora-kansas"]);
    let tested = format!(
        "{}tests: [{{section: all, medium: air, head: 10 ft}}]\n",
        plain_house()
    );
    assert!(!violated(&plain, &tested, "air-test-pressure"));
    assert!(violated(&plain, &tested, "air-test-of-plastic"));
    assert!(violated(&eudora, &tested, "air-test-pressure"));
}

/// The house with a building drain, of which the size of the main vent is told.
fn with_drain() -> String {
    plain_house().replace("kind: building_sewer", "kind: building_drain")
}

#[test]
fn a_changed_definition_moves_what_rules_see() {
    // 50 degrees from plumb: beyond 45 in the model, within 72 in the old ordinance of Redwood City.
    let leaning = plain_house().replace("slope: vertical, length: 2 ft", "slope: 10 in/ft, length: 2 ft");
    let horizontal = |rules: &RuleSet| {
        let report = run(rules, &leaning);
        report
            .summary
            .iter()
            .find(|row| row.rule == "drain-slope")
            .map(|row| row.satisfied)
    };
    let (plain, redwood) = (
        horizontal(&with(&[])),
        horizontal(&with(&["redwood-city-california"])),
    );
    assert_eq!(plain, redwood.map(|count| count + 1));
}

#[test]
fn findings_say_which_file_and_line_set_the_value_and_under_which_citation() {
    let rules = with(&["massachusetts-vents", "alamo-texas"]);
    let text = house("length: 5.5 ft", "", "height_above_roof: 10 in", "4 in");
    let report = run(&rules, &text);
    let terminal = report
        .findings
        .iter()
        .find(|one| one.rule == "roof-terminal-height")
        .expect("a finding");
    assert_eq!(
        terminal.citation.to_string(),
        "City of Alamo Code of Ordinances as read in 2026, section 9-1-1-5, amending IPC 2021, section 903.1 (from memory)"
    );
    let set_by = terminal.citation.set_by.as_ref().expect("an amendment");
    let text = published::amendment("alamo-texas").expect("a text");
    let line = text
        .lines()
        .position(|line| line.contains("- fill:"))
        .map(|line| line + 1);
    assert_eq!(
        (set_by.amendment.name.as_str(), Some(set_by.place.line)),
        ("alamo-texas", line)
    );
    let network = network(&house("length: 5.5 ft", "", "height_above_roof: 10 in", "4 in"));
    let measured = crownweir::Measured::new(&network, &rules).expect("known sizes");
    let report = measured.check();
    let arm = report
        .findings
        .iter()
        .find(|one| one.rule == "trap-arm-length")
        .expect("a finding");
    // Whose limit was read in a cell that the state set cites the state.
    assert_eq!(
        arm.citation.to_string(),
        "248 CMR Register 1523, 2024, section 10.16(11) Table 1, in force from 2024-01-01, amending IPC 2021, Table 909.1"
    );
    let steps = crownweir::report::workings(&measured.workings_of(arm)).join("\n");
    assert!(
        steps.contains("length = 5 ft [248 CMR Register 1523, 2024, section 10.16(11) Table 1, in force from 2024-01-01, amending IPC 2021, Table 909.1; published; massachusetts-vents:"),
        "{steps}"
    );
}

#[test]
fn the_stricter_of_county_and_township_stands() {
    let rules = with(&["heron-county", "heron-point-township"]);
    let table = rules
        .tables
        .iter()
        .find(|table| table.name == "trap-arms")
        .expect("a table");
    let told: Vec<_> = table
        .rows()
        .iter()
        .map(|row| format!("{:?}", row.cells[0].content))
        .collect();
    assert_eq!(told.len(), 6, "{told:?}");
    let void: Vec<_> = rules
        .changes
        .iter()
        .filter_map(|change| change.void.as_deref())
        .collect();
    assert!(void.contains(&"`heron-county` stands"), "{void:?}");
    let longest = |length: &str, size: &str| {
        let text = house(
            &format!("length: {length}, size: {size}"),
            "",
            "height_above_roof: 12 in",
            "4 in",
        )
        .replace("trap: {size: 1-1/2 in", &format!("trap: {{size: {size}"));
        !violated(&rules, &text, "trap-arm-length")
    };
    assert!(longest("5 ft", "1-1/2 in") && !longest("5 ft 3 in", "1-1/2 in"));
    assert!(longest("7 ft", "2 in") && !longest("7 ft 3 in", "2 in"));
    assert!(longest("10 ft", "2-1/2 in"));
}

/// What a waste stack may take is the code's to say (IPC 2021, section 913.2, basis: memory): with a urinal on it a stack
/// vents no trap below, and is no near miss either; where an amendment lets urinals stand on it, it vents both.
#[test]
fn what_a_waste_stack_takes_is_the_codes_to_say() {
    let stack = |upper: &str| {
        format!(
            "crownweir: network/1
name: stack
site: {{occupancy: private}}
storeys: [{{storey: low, elevation: 0 ft, height: 9 ft}}, {{storey: high, height: 9 ft}}]
drains:
  - {{kind: stack, size: 3 in, slope: vertical, path: [{{fitting: {{name: T, storey: high}}}}, {{pipe: {{length: 9 ft}}}}, {{fitting: {{name: S, storey: low}}}}, {{pipe: {{length: 6 ft}}}}, {{disposal: {{name: sewer}}}}]}}
  - {{size: 2 in, storey: high, slope: 1/4 in/ft, path: [{{fixture: {{name: up, {upper}, trap: {{size: 2 in}}}}}}, {{pipe: {{length: 2 ft}}}}, {{at: T}}]}}
  - {{size: 2 in, storey: high, slope: 1/4 in/ft, path: [{{fixture: {{name: beside, type: kitchen_sink, trap: {{size: 1-1/2 in}}}}}}, {{pipe: {{length: 2 ft}}}}, {{at: T}}]}}
  - {{size: 2 in, storey: low, slope: 1/4 in/ft, path: [{{fixture: {{name: down, type: kitchen_sink, trap: {{size: 1-1/2 in}}}}}}, {{pipe: {{length: 2 ft}}}}, {{at: S}}]}}
vents:
  - {{kind: stack_vent, size: 3 in, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: roof}}}}]}}
"
        )
    };
    let of_down = |rules: &RuleSet, upper: &str| {
        let report = run(rules, &stack(upper));
        let finding = report
            .findings
            .iter()
            .find(|one| one.name == "down" && one.rule == "trap-protection");
        finding.map(|one| one.message.clone())
    };
    let urinal = "type: urinal, flush_volume: 0.5 gal";
    let closet = "type: water_closet, flush_volume: 1.6 gal";
    let plain = with(&[]);
    assert_eq!(of_down(&plain, "type: laundry_tray"), None);
    for soil in [urinal, closet] {
        let said = of_down(&plain, soil).expect("a finding");
        assert!(
            said.contains("the nearest arrangement is a vertical wet vent"),
            "{said}"
        );
    }
    let own = named(
        "town",
        "",
        "  - drop: {arrangement: waste-stack-vent, condition: stack.urinals}",
    );
    let rules = amended(&[("town.yaml", &own)], "2026-11-25").unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(of_down(&rules, urinal), None);
    assert!(of_down(&rules, closet).is_some());
    // Were it among the near misses, it would be the nearest, for only the soil keeps it from applying.
    let mut near = plain.clone();
    let arrangement = near
        .unchecked()
        .arrangements
        .iter_mut()
        .find(|one| one.name == "waste-stack-vent");
    for condition in &mut arrangement.expect("the arrangement").conditions {
        condition.defining = false;
    }
    let said = of_down(&near, closet).expect("a finding");
    assert!(
        said.contains("a waste stack vent, but water closets on the stack: 1"),
        "{said}"
    );
    let told: Vec<_> = changes(&plain, &near)
        .into_iter()
        .map(|one| (one.part, one.after))
        .collect();
    let after = Some("leaves it among the nearest".to_owned());
    assert_eq!(
        told,
        [
            (
                "failure of the condition that stack.water_closets is at most 0".to_owned(),
                after.clone()
            ),
            (
                "failure of the condition that stack.urinals is at most 0".to_owned(),
                after
            ),
        ]
    );
}
