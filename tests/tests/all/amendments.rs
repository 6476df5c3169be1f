//! Amendments: every form of change, the answers that the shipped ones are known by, and everything that is refused.
//!
//! The worked rows are read in the amendments' own sources, which each file names; the rest is invented.

use crownweir::rulebook::{Part, Standing};
use crownweir::{Content, Day, Limits, Report, RuleSet, Text, Verdict, changes, check, published};
use crownweir_tests::{network, network_text};

const BASE: &str = "ipc-2021";

fn day(text: &str) -> Day {
    text.parse().unwrap_or_else(|error| panic!("{error}"))
}

fn base() -> Text<'static> {
    let text = published::text(BASE).expect("the base");
    Text {
        name: "base.yaml",
        bytes: text.as_bytes(),
    }
}

/// The published rule set that an amendment changes.
fn own_base(amendment: &str) -> Text<'static> {
    let named = amendment
        .split_once("base: {rules: ")
        .map_or("", |(_, rest)| rest);
    let name = named.split_once(',').map_or("", |(name, _)| name);
    let text = published::text(name).unwrap_or_else(|| panic!("no rule set `{name}`"));
    Text {
        name: "base.yaml",
        bytes: text.as_bytes(),
    }
}

fn amended(texts: &[(&str, &str)], on: &str) -> Result<RuleSet, String> {
    let texts: Vec<_> = texts
        .iter()
        .map(|(name, text)| Text {
            name,
            bytes: text.as_bytes(),
        })
        .collect();
    RuleSet::amended(base(), &texts, day(on), &Limits::default()).map_err(|problems| problems.to_string())
}

fn with(names: &[&str]) -> RuleSet {
    let texts: Vec<_> = names
        .iter()
        .map(|name| {
            (
                *name,
                published::amendment(name).unwrap_or_else(|| panic!("no amendment {name}")),
            )
        })
        .collect();
    // Each is laid over the rule set that it names.
    let named = |text: &str| {
        let (_, after) = text.split_once("base: {rules: ")?;
        published::names().find(|name| after.split(',').next() == Some(name))
    };
    let base = texts.first().and_then(|(_, text)| named(text)).unwrap_or(BASE);
    let text = published::text(base).expect("the base");
    let base = Text {
        name: "base.yaml",
        bytes: text.as_bytes(),
    };
    let texts: Vec<_> = texts
        .iter()
        .map(|(name, text)| Text {
            name,
            bytes: text.as_bytes(),
        })
        .collect();
    RuleSet::amended(base, &texts, day("2026-11-25"), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

/// An invented amendment with the changes given, one line each.
fn invented(changes: &str) -> String {
    named("town", "", changes)
}

fn named(name: &str, head: &str, changes: &str) -> String {
    format!(
        "crownweir: amendment/1
name: {name}
title: An invented amendment
jurisdiction: [Invented]
document: Ordinance
edition: \"2026\"
base: {{rules: ipc-2021, document: IPC, edition: \"2021\", from_revision: 1}}
status: in_force
origin: invented
cite: {{section: \"1\", basis: published}}
{head}changes:
{changes}
"
    )
}

#[track_caller]
fn refused(changes: &str, said: &[&str]) {
    let error = amended(&[("town.yaml", &invented(changes))], "2026-11-25").expect_err(changes);
    for said in said {
        assert!(error.contains(said), "{error}\ndoes not say: {said}");
    }
}

fn run(rules: &RuleSet, text: &str) -> Report {
    check(&network(text), rules).unwrap_or_else(|error| panic!("{error}"))
}

fn violated(rules: &RuleSet, text: &str, rule: &str) -> bool {
    let report = run(rules, text);
    let row = report.summary.iter().find(|row| row.rule == rule);
    row.unwrap_or_else(|| panic!("no rule {rule}")).violated > 0
}

/// A lavatory on its arm, with the pipes, terminal and building sewer as given.
fn house(arm: &str, branch: &str, terminal: &str, sewer: &str) -> String {
    format!(
        "crownweir: network/1
name: house
site: {{occupancy: private, winter_design_temperature: 40 F}}
storeys: [{{storey: ground, height: 9 ft}}]
defaults: {{material: pvc}}
drains:
  - {{kind: building_sewer, size: {sewer}, slope: 1/4 in/ft, path: [{{fitting: {{name: J, pattern: wye}}}}, {{pipe: {{name: sewer, length: 30 ft}}}}, {{disposal: {{name: main}}}}]}}
  - {{storey: ground, size: 1-1/2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: L, type: lavatory, trap: {{size: 1-1/2 in, kind: p, seal: 2 in}}}}}}, {{pipe: {{name: arm, {arm}}}}}, {{fitting: {{name: T, pattern: sanitary_tee}}}}, {{pipe: {{slope: vertical, length: 2 ft}}}}, {{fitting: {{name: E, pattern: long_sweep}}}}, {{pipe: {{name: branch, length: 5 ft{branch}}}}}, {{at: J}}]}}
vents:
  - {{size: 3 in, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 12 ft}}}}, {{terminal: {{name: roof, through: roof, roof_use: weather, {terminal}}}}}]}}
"
    )
}

fn plain_house() -> String {
    house("length: 3 ft", "", "height_above_roof: 8 in", "4 in")
}

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
            "row: {size: 1-1/4 in}, column: vent, was: 1, to: 0.5",
            Some("Ordinance 2026, section 1, amending UPC 2021, Table 703.2"),
        ),
        // Of a size further up nothing hangs here.
        ("row: {size: 3 in}, column: vent, was: 84, to: 80", None),
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
fn what_is_in_force_depends_on_the_day() {
    let text = published::amendment("heron-county").expect("a text");
    let height = |on: &str| {
        let rules = amended(&[("heron-county", text)], on).expect("a rule set");
        let standing = rules.layers[0].standing;
        let changed = rules
            .changes_to(&Part::Rule("standpipe-height".to_owned()))
            .filter(|change| change.void.is_none())
            .count();
        (
            standing,
            rules
                .changes
                .iter()
                .filter(|change| change.void.is_none())
                .count()
                > 0,
            changed,
        )
    };
    assert_eq!(
        height("2025-06-30"),
        (Standing::NotBefore(day("2025-07-01")), false, 0)
    );
    assert_eq!(height("2025-07-01"), (Standing::InForce, true, 0));
    assert_eq!(height("2027-01-01"), (Standing::InForce, true, 1));
    let pending = with(&["lake-zurich-illinois"]);
    assert_eq!(pending.layers[0].standing, Standing::Pending);
    assert!(pending.rule("cleanout-outside-wall").is_none());
    assert!(pending.changes.iter().all(|change| change.void.is_some()));
    let change = "  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 24 in, to: 20 in}";
    let ended = named("old", "from: 2020-01-01\nuntil: 2021-01-01\n", change).replace("in_force", "repealed");
    let over = |on: &str| amended(&[("old", &ended)], on).expect("a rule set").layers[0].standing;
    assert_eq!(over("2020-06-01"), Standing::InForce);
    assert_eq!(over("2021-01-01"), Standing::Over(Some(day("2021-01-01"))));
}

#[test]
fn precedence_is_declared_and_never_assumed() {
    let arm = |to: &str| {
        format!("  - set: {{table: trap-arms, row: {{trap: 1-1/2 in}}, column: length, was: 6, to: {to}}}")
    };
    let length = |first: &str, second: &str, head: &str| {
        let (state, town) = (named("state", "", &arm(first)), named("town", head, &arm(second)));
        let rules = amended(&[("state", &state), ("town", &town)], "2026-11-25")?;
        let longest = ["4 ft 6 in", "5 ft", "5 ft 6 in", "6 ft"]
            .into_iter()
            .rfind(|length| {
                !violated(
                    &rules,
                    &house(
                        &format!("length: {length}"),
                        "",
                        "height_above_roof: 8 in",
                        "4 in",
                    ),
                    "trap-arm-length",
                )
            });
        Ok::<_, String>(longest)
    };
    let undeclared = length("5", "5 ft 6 in", "").expect_err("undeclared");
    assert!(
        undeclared.contains("the amendment `state` changes this too")
            && undeclared.contains("most_restrictive"),
        "{undeclared}"
    );
    assert_eq!(
        length("5", "5 ft 6 in", "precedence: local_text\n"),
        Ok(Some("5 ft 6 in"))
    );
    assert_eq!(
        length("5", "5 ft 6 in", "precedence: state_first\n"),
        Ok(Some("5 ft"))
    );
    assert_eq!(
        length("5", "5 ft 6 in", "precedence: most_restrictive\n"),
        Ok(Some("5 ft"))
    );
    assert_eq!(
        length("5 ft 6 in", "5", "precedence: most_restrictive\n"),
        Ok(Some("5 ft"))
    );
    // What cannot be compared is not decided.
    let state = named("state", "", "  - drop: {rule: crown-vent}");
    let town = named(
        "town",
        "precedence: most_restrictive\n",
        "  - gate: {rule: trap-arm-fall}",
    );
    assert!(amended(&[("state", &state), ("town", &town)], "2026-11-25").is_ok());
    let gate = named("state", "", "  - gate: {rule: crown-vent}");
    let drop = named(
        "town",
        "precedence: most_restrictive\n",
        "  - drop: {rule: crown-vent}",
    );
    let error = amended(&[("state", &gate), ("town", &drop)], "2026-11-25").expect_err("cannot be told");
    assert!(
        error.contains("which asks more, this or `state`, cannot be told"),
        "{error}"
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
fn what_changes_nothing_or_speaks_of_nothing_is_refused() {
    for (changes, said) in [
        (
            "  - set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8 ft, to: 96 in}",
            "the change changes nothing",
        ),
        (
            "  - set: {table: trap-arm, row: {trap: 2 in}, column: length, was: 8, to: 7}",
            "no table `trap-arm`; did you mean `trap-arms`?",
        ),
        (
            "  - set: {table: trap-arms, row: {trap: 5 in}, column: length, was: 8, to: 7}",
            "the table `trap-arms` has no `trap` 5 in; expected one of 1-1/4 in, 1-1/2 in, 2 in, 3 in, 4 in",
        ),
        (
            "  - set: {table: trap-arms, row: {trap: 2 inn}, column: length, was: 8, to: 7}",
            "`2 inn` has the unknown unit `inn`",
        ),
        (
            "  - set: {table: trap-arms, row: {}, column: length, was: 8, to: 7}",
            "5 cells of the table `trap-arms` fit",
        ),
        (
            "  - set: {table: trap-arms, row: {tarp: 2 in}, column: length, was: 8, to: 7}",
            "the table `trap-arms` has no key `tarp`; expected trap",
        ),
        (
            "  - set: {table: trap-arms, row: {trap: 2 in}, column: lenth, was: 8, to: 7}",
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
            "  - fill: {table: trap-arms, row: {trap: 2 in}, column: length, to: 7}",
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
            "no rule or arrangement cites section 91 of the base",
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
            "  - set: {table: building-drains, row: {size: 4 in, slope: 3/16 in/ft}, was: 216, to: 200}",
            "the table `building-drains` has no `slope` 3/16 in/ft",
        ),
        (
            "  - set: {table: building-drains, row: {size: 4 in, slop: 1/4 in/ft}, was: 216, to: 200}",
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
fn all_problems_of_all_amendments_come_at_once() {
    let town = named(
        "town",
        "",
        "  - drop: {rule: trap-seel}\n  - drop: {table: x, row: {}}\n  - dorp: {rule: crown-vent}\n  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 24 in, to: 2 dfu}",
    );
    let state = named("state", "", "  - gate: {arrangement: comon-vent}");
    let error = amended(&[("state.yaml", &state), ("town.yaml", &town)], "2026-11-25").expect_err("problems");
    for said in [
        "state.yaml:12:",
        "town.yaml:12:",
        "town.yaml:13:",
        "town.yaml:14:",
        "town.yaml:15:",
        "did you mean `common-vent`?",
    ] {
        assert!(error.contains(said), "{error}");
    }
    let twice = amended(&[("a", &town), ("b", &town)], "2026-11-25").expect_err("twice");
    assert!(twice.contains("the amendment `town` is given twice"), "{twice}");
}

#[test]
fn amendments_stack_and_a_later_one_may_expect_what_either_left() {
    let first = named(
        "state",
        "",
        "  - add: {table: trap-arms, row: [2-1/2 in, 10]}\n  - set: {table: trap-arms, row: {trap: 2 in}, column: length, was: 8, to: 7}",
    );
    for was in ["8", "7"] {
        let second = named(
            "town",
            "precedence: local_text\n",
            &format!(
                "  - set: {{table: trap-arms, row: {{trap: 2-1/2 in}}, column: length, was: 10, to: 9}}\n  - set: {{table: trap-arms, row: {{trap: 2 in}}, column: length, was: {was}, to: 6}}"
            ),
        );
        let rules = amended(&[("state", &first), ("town", &second)], "2026-11-25")
            .unwrap_or_else(|error| panic!("{error}"));
        let table = rules
            .tables
            .iter()
            .find(|table| table.name == "trap-arms")
            .expect("a table");
        let cited = table
            .rows()
            .iter()
            .filter_map(|row| row.cells[0].citation.as_ref());
        let depth = cited.map(|one| std::iter::successors(Some(one), |one| one.amends.as_deref()).count());
        assert_eq!(
            depth.max(),
            Some(3),
            "the town's over the state's over the code's"
        );
    }
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
        "  - set: {table: trap-arms, row: {trap: 2 in}, column: length, order: is, was: 8, to: 7}",
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
    // A table that is named, and no rule that reads it.
    let change = "  - renumber: {table: trap-arms, was: Table 909.1, to: Table 4.9}";
    let rules = amended(&[("town", &invented(change))], "2026-11-25").expect("a rule set");
    let arms = |rules: &RuleSet| {
        let arms = rules.tables.iter().find(|table| table.name == "trap-arms");
        arms.expect("the table").citation.to_string()
    };
    assert_ne!(arms(&rules), arms(&base));
    assert!(
        arms(&rules).starts_with("Ordinance 2026, Table 4.9, amending "),
        "{}",
        arms(&rules)
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

/// A row for keys that another amendment has added a row for: who insists is told to set it, who gives way is passed over.
#[test]
fn a_row_that_another_amendment_has_added_is_not_added_again() {
    let state = named("state", "", "  - add: {table: trap-arms, row: [2-1/2 in, 10]}");
    let town = |precedence: &str| {
        named(
            "town",
            precedence,
            "  - add: {table: trap-arms, row: [2-1/2 in, 9]}",
        )
    };
    let both = |town: &str| amended(&[("state", &state), ("town", town)], "2026-11-25");
    let rules = both(&town("precedence: state_first\n")).expect("the town gives way");
    assert_eq!(rules.layers[1].void, 1);
    let error = both(&town("precedence: local_text\n")).expect_err("a second row");
    assert!(error.contains("has a row for 2-1/2 in already"), "{error}");
}

#[test]
fn amendments_that_agree_or_give_way_do_not_break_the_stack() {
    let five = "  - set: {table: trap-arms, row: {trap: 1-1/2 in}, column: length, was: 6, to: 5}";
    let (state, town) = (named("state", "", five), named("town", "", five));
    let rules = amended(&[("state", &state), ("town", &town)], "2026-11-25").expect("they say the same");
    assert_eq!(rules.layers[1].void, 1);
    let drops = named(
        "state",
        "",
        "  - drop: {rule: roof-terminal-height}\n  - drop: {table: trap-arms, row: {trap: 2 in}}\n  - drop: {rule: crown-vent}",
    );
    let adds = "  - fill: {rule: roof-terminal-height, limit: terminal.height_above_roof, to: 10 in}\n  - add: {table: trap-arms, row: [2 in, 9]}\n  - add: {rule: crown-vent, with: {title: t, subject: vent, require: {pipe.size: {at_least: 2 in}}, severity: violation, message: m}}";
    let gives_way = named("town", "precedence: state_first\n", adds);
    let rules =
        amended(&[("state", &drops), ("town", &gives_way)], "2026-11-25").expect("the town gives way");
    assert_eq!(rules.layers[1].void, 3);
    assert!(rules.rule("roof-terminal-height").is_none() && rules.rule("crown-vent").is_none());
    let insists = named("town", "precedence: local_text\n", adds);
    let error = amended(&[("state", &drops), ("town", &insists)], "2026-11-25").expect_err("nothing to fill");
    assert!(
        error.contains("the amendment `state` has dropped the rule `roof-terminal-height`"),
        "{error}"
    );
    // Conditions are told apart by what they ask: dropping one is no change to another.
    let (one, other) = ("protection.same_storey", "protection.straight_down");
    let drop =
        |fact: &str| format!("  - drop: {{arrangement: common-vent-at-two-levels, condition: {fact}}}");
    let both = [named("state", "", &drop(one)), named("town", "", &drop(other))];
    assert!(amended(&[("state", &both[0]), ("town", &both[1])], "2026-11-25").is_ok());
}

#[test]
fn what_is_not_permitted_asks_most_and_what_has_no_limit_least() {
    let arm = |name: &str, to: &str| {
        named(
            name,
            "precedence: most_restrictive\n",
            &format!("  - set: {{table: trap-arms, row: {{trap: 2 in}}, column: length, was: 8, to: {to}}}"),
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

#[test]
fn what_is_not_in_force_yet_is_checked_before_its_day() {
    for (head, change) in [
        ("from: 2027-01-01\n", "  - drop: {rule: trap-seel}"),
        ("", "  - drop: {rule: trap-seel}\n    from: 2027-01-01"),
    ] {
        let error = amended(&[("town.yaml", &named("town", head, change))], "2026-11-25").expect_err(change);
        assert!(error.contains("did you mean `trap-seal`?"), "{error}");
    }
    let pending = invented("  - drop: {rule: trap-seel}").replace("in_force", "pending");
    assert!(amended(&[("town.yaml", &pending)], "2026-11-25").is_err());
    let late = named(
        "town",
        "from: 2026-05-01\n",
        "  - drop: {rule: crown-vent}\n    from: 2026-04-01",
    );
    let error = amended(&[("town.yaml", &late)], "2026-11-25").expect_err("before the amendment itself");
    assert!(error.contains("do not lie in order"), "{error}");
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

/// What an earlier amendment has dropped cannot be changed, unless the later one gives way; what is a change to
/// something else goes ahead.
#[test]
fn a_dropped_arrangement_is_not_changed_any_more() {
    let drop = named("state", "", "  - drop: {arrangement: common-vent}");
    let gate = |head: &str, name: &str| named("town", head, &format!("  - gate: {{arrangement: {name}}}"));
    let both = |town: &str| amended(&[("state", &drop), ("town", town)], "2026-11-25");
    let error = both(&gate("", "common-vent")).expect_err("dropped");
    assert!(
        error.contains("the amendment `state` has dropped the arrangement `common-vent`"),
        "{error}"
    );
    let rules = both(&gate("precedence: state_first\n", "common-vent")).expect("the town gives way");
    assert_eq!(rules.layers[1].void, 1);
    let rules = both(&gate("", "individual-vent")).expect("another");
    assert_eq!(rules.layers[1].void, 0);
}

/// A change may begin on the day on which its amendment does, and not before it.
#[test]
fn a_change_begins_no_earlier_than_its_amendment() {
    let change = |from: &str| {
        named(
            "town",
            "from: 2026-05-01\n",
            &format!("  - drop: {{rule: crown-vent}}\n    from: {from}"),
        )
    };
    let laid = |from: &str| amended(&[("town", &change(from))], "2026-11-25");
    assert!(laid("2026-05-01").is_ok_and(|rules| rules.rule("crown-vent").is_none()));
    assert!(laid("2026-04-30").is_err());
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
