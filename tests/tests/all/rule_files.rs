//! Rule files with mistakes in them: each is told with its place, what was expected, and the nearest word.

use std::cmp::Ordering;

use crownweir::quantity::{LoadUnit, Notation, Ratio};
use crownweir::rulebook::MOST_PLACES;
use crownweir::{
    Basis, Fact, Gap, Got, Limits, Measured, RuleSet, Severity, Subject, Value, check, published,
};
use crownweir_tests::{network, network_text, rules};

/// The published rule set with one thing replaced.
fn edited(from: &str, to: &str) -> Result<RuleSet, String> {
    let text = published::text("ipc-2021").expect("the rule set");
    assert!(text.contains(from), "{from}");
    let text = text.replacen(from, to, 1);
    RuleSet::read("rules.yaml", text.as_bytes(), &Limits::default()).map_err(|problems| problems.to_string())
}

#[track_caller]
fn refused(from: &str, to: &str, said: &[&str]) {
    let error = match edited(from, to) {
        Ok(_) => panic!("`{to}` is accepted"),
        Err(error) => error,
    };
    for said in said {
        assert!(error.contains(said), "{said:?} is not said: {error}");
    }
    // File, line and column stand before each problem.
    let place = error.split(": ").next().unwrap_or_default();
    let mut parts = place.rsplit(':');
    let numbers = [parts.next(), parts.next()].map(|part| part.and_then(|part| part.parse::<u32>().ok()));
    assert!(
        numbers
            .iter()
            .all(|number| number.is_some_and(|number| number > 0)),
        "{error}"
    );
    assert!(place.starts_with("rules.yaml"), "{error}");
}

#[test]
fn a_load_is_never_unlimited() {
    refused(
        "      - [bathtub, 2]\n",
        "      - [bathtub, unlimited]\n",
        &["the table `fixture-loads` has an `unlimited` cell here, and what discharges has a load"],
    );
}

#[test]
fn misspelt_keys_facts_and_words_suggest_the_nearest() {
    refused(
        "severity: violation",
        "severty: violation",
        &["`severty` is not a key", "did you mean `severity`?"],
    );
    refused(
        "{trap.seal: {at_least: 2 in",
        "{trap.seel: {at_least: 2 in",
        &["no fact `trap.seel`", "did you mean `trap.seal`?"],
    );
    refused(
        "{trap.seal: {at_least: 2 in",
        "{trap.seal: {at_lest: 2 in",
        &["`at_lest` cannot be asked", "did you mean `at_least`?"],
    );
    refused(
        "when: {fixture.type: shower}",
        "when: {fixture.type: showr}",
        &["`showr` is not a word", "did you mean `shower`?"],
    );
    refused(
        "{table: trap-arms, column: length",
        "{table: trap-arm, column: length",
        &["no table `trap-arm`", "did you mean `trap-arms`?"],
    );
    refused(
        "column: length, keys: {trap: trap.size}",
        "column: lenght, keys: {trap: trap.size}",
        &["no column `lenght`", "did you mean `length`?"],
    );
    refused(
        "keys: {trap: trap.size}",
        "keys: {trp: trap.size}",
        &["not looked up by `trp`", "did you mean `trap`?"],
    );
    refused(
        "keys: {trap: trap.size}",
        "keys: {trap: trap.sise}",
        &["no fact `trap.sise`", "did you mean `trap.size`?"],
    );
    refused(
        "a {fixture.type} asks for {limit}",
        "a {fixture.tipe} asks for {limit}",
        &["speaks of `fixture.tipe`", "did you mean `fixture.type`?"],
    );
    refused("match: exact}", "match: exakt}", &["`exakt`"]);
}

#[test]
fn unlike_things_are_not_compared() {
    refused(
        "{trap.size: {at_most: trap.drain_size}}",
        "{trap.size: {at_most: trap.seal}}",
        &["`trap.seal` is a length, where a size belongs"],
    );
    refused("{at_most: 24 in}", "{at_most: 1/4 in/ft}", &["a length such as"]);
    refused(
        "{drain.load: {at_most: {table: branches-and-stacks, column: branch",
        "{pipe.slope: {at_most: {table: branches-and-stacks, column: branch",
        &["is a load, where a slope belongs"],
    );
    refused(
        "{trap_arm.fall: {at_most: {diameter: trap_arm.size}}}",
        "{trap_arm.fall: {at_most: {diameter: trap_arm.length}}}",
        &["`trap_arm.length` is a length, where a size belongs"],
    );
    refused(
        "{fixture.type: shower}\n    require: {trap.size",
        "{fixture.type: {at_least: shower}}\n    require: {trap.size",
        &["no more and no less"],
    );
    refused(
        "require: {trap.size: {at_most: trap.drain_size}}",
        "require: {pipe.size: {at_most: trap.drain_size}}",
        &["a rule about trap cannot speak of `pipe.size`"],
    );
}

#[test]
fn a_key_stands_once_and_bounds_do_not_cross() {
    refused(
        "- [lavatory, 1]",
        "- [lavatory, 1]\n      - [lavatory, 2]",
        &["has these keys twice", "the first row with them stands in line"],
    );
    refused(
        "{trap.seal: {at_least: 2 in, at_most: 4 in}}",
        "{trap.seal: {at_least: 4 in, at_most: 2 in}}",
        &["nothing is at least 4 in and at most 2 in"],
    );
}

#[test]
fn values_need_units_sizes_a_ladder_and_rows_their_width() {
    refused("{at_most: 24 in}", "{at_most: 24}", &["`24` has no unit"]);
    refused("times: 10", "times: 0.0123456789", &["is not a multiple"]);
    refused("- [lavatory, 1]", "- [lavatory, one]", &["`one`"]);
    refused(
        "- [lavatory, 1]",
        "- [lavatory]",
        &["this row has 1 entry", "expected 2"],
    );
    refused(
        "- [1-1/4 in, 5]",
        "- [1-3/8 in, 5]",
        &["`1-3/8 in` is not among the rule set's `sizes`"],
    );
    refused(
        "- {size: 2 in, also: [DN 50], diameter: 2 in}",
        "- {size: 2 in, also: [DN 40], diameter: 2 in}",
        &["`DN 40` stands on the ladder already"],
    );
    refused(
        "diameter: 2-1/2 in}",
        "diameter: 1 in}",
        &["the sizes do not grow"],
    );
}

#[test]
fn a_bathroom_group_has_no_more_places_than_are_counted() {
    let own = "may_have: [[bidet], [emergency_floor_drain]]";
    let with = |places: usize| format!("may_have: [{}]", vec!["[bidet]"; places].join(", "));
    let needed = rules("ipc-2021").definitions.bathroom_group.needs.len();
    let most = MOST_PLACES - needed;
    refused(
        own,
        &with(most + 1),
        &["the bathroom group has 9 places", "expected at most 8"],
    );
    let read = edited(own, &with(most)).expect("a rule set");
    assert_eq!(read.definitions.bathroom_group.places().count(), MOST_PLACES);
}

#[test]
fn citations_and_severities_are_held_to() {
    refused(
        "cite: {section: \"1002.4\", basis: published}",
        "cite: {basis: published}",
        &["names no section"],
    );
    refused(
        "    cite: {section: \"1002.4\", basis: published}\n",
        "",
        &["`cite` is missing"],
    );
    refused(
        "severity: advice\n    cite: {basis: common_practice}",
        "severity: violation\n    cite: {basis: common_practice}",
        &["common practice is not code"],
    );
    refused(
        "  - rule: trap-seal",
        "  - rule: trap-size",
        &["a second rule is called `trap-size`"],
    );
    refused(
        "checked: 2026-11-25",
        "checked: 2026-13-25",
        &["`2026-13-25` is not a day"],
    );
    refused("crownweir: ruleset/1", "crownweir: ruleset/9", &["`ruleset/1`"]);
    refused(
        "confirm_on_site: true",
        "confirm_on_site: false",
        &["asks nothing"],
    );
}

#[test]
fn all_problems_come_at_once() {
    let text = published::text("ipc-2021").expect("the rule set");
    let text = text
        .replacen("    severity: violation", "    severty: violation", 1)
        .replace("{trap.seal: {at_least", "{trap.seel: {at_least")
        .replace("outlet_offset: {at_most: 30 in", "outlet_offset: {at_most: 30")
        .replacen("times: 10", "times: ten", 1);
    let problems =
        RuleSet::read("rules.yaml", text.as_bytes(), &Limits::default()).expect_err("four mistakes");
    assert_eq!(problems.list.len(), 4, "{problems}");
    assert!(problems.list[0].message.contains("`severty`"));
    let lines: Vec<usize> = problems.list.iter().map(|problem| problem.place.line).collect();
    assert!(lines.is_sorted());
    let unit = &problems.list[2];
    assert_eq!(
        (unit.message.as_str(), unit.offending.as_str()),
        ("`30` has no unit", "30")
    );
    assert_eq!(
        unit.expected.as_deref(),
        Some("a length such as `6 ft`, `42 in` or `1067 mm`")
    );
}

#[test]
fn every_rule_and_table_says_where_it_comes_from() {
    let rules = rules("ipc-2021");
    assert!(rules.rules.len() >= 60, "{}", rules.rules.len());
    let cited = rules
        .rules
        .iter()
        .map(|rule| (&rule.name, &rule.citation, rule.severity));
    for (name, citation, severity) in cited {
        let practice = citation.basis == Basis::CommonPractice;
        assert_eq!(citation.section.is_none(), practice, "{name}");
        assert!(!practice || severity == Severity::Advice, "{name}");
        assert_eq!(citation.checked.as_deref(), Some("2026-11-25"), "{name}");
    }
    for table in &rules.tables {
        let practice = table.citation.basis == Basis::CommonPractice;
        assert_eq!(table.citation.section.is_none(), practice, "{}", table.name);
        assert!(!table.rows().is_empty(), "{}", table.name);
    }
}

#[test]
fn every_report_tells_what_the_rule_set_does_not_check() {
    let network = network(&network_text("larch-terrace.yaml"));
    for name in published::names() {
        let rules = rules(name);
        assert!(!rules.not_checked.is_empty(), "{name}");
        let report = check(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(report.not_checked, rules.not_checked, "{name}");
    }
    refused(
        "- {matter: condensate,",
        "- {matter: freezing,",
        &["a second matter is called `freezing`"],
    );
    refused(
        "- {matter: condensate, title:",
        "- {matter: condensate, titel:",
        &["did you mean `title`?"],
    );
}

// Published or seen figures of the reference list, read back from the tables by the engine's own look-up: IPC 2018
// Table 710.1(1) (a public page), Table 710.1(2) (a government code taken from it), Table 909.1 (trade magazine).
#[test]
fn tables_give_the_figures_that_were_read() {
    use crownweir::Value;
    let rules = rules("ipc-2021");
    let size = |text: &str| {
        Value::Size(
            rules
                .ladder
                .find(text.parse().expect("a size"))
                .expect("on the ladder"),
        )
    };
    let slope = |text: &str| Value::Slope(text.parse().expect("a slope"));
    let cell = |table: &str, keys: &[Value], column: usize| {
        let table = rules
            .tables
            .iter()
            .find(|one| one.name == table)
            .expect("a table");
        table
            .find(keys)
            .map(|row| table.rows()[row].cells[column].content)
    };
    let load = |dfu: i64| Some(crownweir_content(dfu));
    for (pipe, fall, dfu) in [
        ("3 in", "1/8 in/ft", 36),
        ("3 in", "1/4 in/ft", 42),
        ("4 in", "1/2 in/ft", 250),
        ("8 in", "1/16 in/ft", 1400),
        ("15 in", "1/2 in/ft", 12000),
    ] {
        assert_eq!(
            cell("building-drains", &[size(pipe), slope(fall)], 0),
            load(dfu),
            "{pipe} at {fall}"
        );
    }
    // Between two columns the gentler one holds; 2 % is gentler than 1/4 in/ft.
    assert_eq!(
        cell("building-drains", &[size("4 in"), slope("2 %")], 0),
        load(180)
    );
    assert_eq!(
        cell("building-drains", &[size("DN 100"), slope("1:48")], 0),
        load(216)
    );
    for (pipe, column, dfu) in [
        ("2 in", 0, 6),
        ("3 in", 1, 20),
        ("4 in", 2, 240),
        ("4 in", 3, 500),
        ("10 in", 3, 5600),
    ] {
        assert_eq!(
            cell("branches-and-stacks", &[size(pipe)], column),
            load(dfu),
            "{pipe}"
        );
    }
    assert_eq!(
        cell("trap-arms", &[size("2-1/2 in")], 0),
        None,
        "no row is no answer"
    );
}

fn crownweir_content(dfu: i64) -> crownweir::Content {
    crownweir::Content::Value(crownweir::Value::Load(
        crownweir::quantity::Load::from_thousandths(dfu * 1000),
    ))
}

#[test]
fn what_is_not_permitted_reads_as_none() {
    let barred = edited("- [2 in, 8]\n", "- [2 in, none]\n").unwrap_or_else(|error| panic!("{error}"));
    let network = crownweir_tests::network(&crownweir_tests::network_text("heron-point.yaml"));
    let report = crownweir::check(&network, &barred).expect("known sizes");
    let arm = report.findings.iter().find(|one| one.rule == "trap-arm-length");
    let arm = arm.expect("a trap arm of 2 in");
    assert!(
        arm.message.ends_with("none is permitted for a 2 in trap"),
        "{}",
        arm.message
    );
}

#[test]
fn a_cell_to_be_filled_leaves_the_rule_open_and_is_named() {
    let open = edited("- [2 in, 8]\n", "- [2 in, unfilled]\n").unwrap_or_else(|error| panic!("{error}"));
    let network = crownweir_tests::network(&crownweir_tests::network_text("heron-point.yaml"));
    let report = crownweir::check(&network, &open).expect("known sizes");
    assert!(!report.has_violations() && report.has_undetermined());
    for finding in &report.findings {
        assert_eq!(finding.rule, "trap-arm-length");
        let named = "the cell `length` of the table `trap-arms` at 2 in, to be filled from its source";
        assert_eq!(finding.needed(), [named]);
    }
}

#[test]
fn a_definition_changes_what_rules_see() {
    // One town calls a pipe vertical up to 72 degrees from plumb. A drain at 30 degrees above the floor is then no
    // longer a horizontal one.
    let source = crownweir_tests::network_text("larch-terrace.yaml");
    let steep = source.replace(
        "{name: closet drain, length: 600 mm}",
        "{name: closet drain, length: 300 mm, slope: 30 deg}",
    );
    let network = crownweir_tests::network(&steep);
    let asks = |rules: &RuleSet| {
        let report = crownweir::check(&network, rules).expect("known sizes");
        report
            .findings
            .iter()
            .any(|finding| finding.rule == "drain-too-steep")
    };
    assert!(asks(&rules("ipc-2021")));
    let town = edited("most_from_vertical: 45 deg", "most_from_vertical: 72 deg")
        .unwrap_or_else(|error| panic!("{error}"));
    assert!(!asks(&town));
}

#[test]
fn a_citation_names_a_document_that_the_file_lists() {
    let cite = "cite: {section: \"1002.5\", basis: published}";
    let other = |document: &str| {
        format!("cite: {{document: {document}, edition: \"2018\", section: \"1\", basis: published}}")
    };
    refused(
        cite,
        &other("Fuel Gas Code"),
        &[
            "the file does not list `Fuel Gas Code` of edition `2018`",
            "`also_cites`",
        ],
    );
    let text = published::text("ipc-2021").expect("the rule set");
    let listed = text
        .replacen(
            "notes:",
            "also_cites: [{document: Residential Code, edition: \"2018\"}]\nnotes:",
            1,
        )
        .replacen(cite, &other("Residential Code"), 1);
    let read = |text: &str| RuleSet::read("rules.yaml", text.as_bytes(), &Limits::default());
    let rules = read(&listed).unwrap_or_else(|problems| panic!("{problems}"));
    let cited = rules.rule("trap-size").expect("a rule").citation.to_string();
    assert_eq!(cited, "Residential Code 2018, section 1");
    let misspelt = read(&listed.replacen(
        "document: Residential Code, edition: \"2018\", section",
        "document: Residental Code, edition: \"2018\", section",
        1,
    ));
    let problems = misspelt.expect_err("misspelt").to_string();
    assert!(
        problems.contains("did you mean `Residential Code`?"),
        "{problems}"
    );
}

/// The line of the published rule set on which `text` stands first.
fn line(text: &str) -> usize {
    let whole = published::text("ipc-2021").expect("the rule set");
    whole.lines().position(|line| line.contains(text)).expect(text) + 1
}

#[test]
fn a_when_that_nothing_can_meet_is_refused_with_the_parts_that_deny_each_other() {
    refused(
        "when: {pipe.kind: stack, pipe.orientation: vertical, stack.branch_intervals: {at_most: 3}}",
        "when: {pipe.kind: stack, pipe.size: {at_most: 3 in}, all: [{pipe.size: {at_least: 4 in}}]}",
        &[
            "this `when` can never hold",
            "`pipe.size is at most 3 in` contradicts `pipe.size is at least 4 in`",
            &format!(
                "rules.yaml:{}:11: this `when`",
                line("when: {pipe.kind: stack, pipe.orientation: vertical, stack.branch_intervals: {at_most")
            ),
        ],
    );
    refused(
        "when: {fixture.type: shower}\n    require",
        "when: {fixture.type: shower, not: {fixture.type: {one_of: [shower, bathtub]}}}\n    require",
        &["`fixture.type is shower` contradicts `not fixture.type is shower or bathtub`"],
    );
    // Only by the table: no drain of 3 in or less may lie at 1/16 in/ft.
    refused(
        "when: {pipe.orientation: horizontal, drain.water_closets: {at_least: 1}}",
        "when: {pipe.size: {at_most: 3 in}, pipe.slope: {at_most: 1/16 in/ft}, all: [{pipe.slope: {at_least: {table: drain-slopes, column: slope, keys: {size: pipe.size}}}}]}",
        &["pipe.size is at most 3 in", "cannot all be"],
    );
    refused(
        "when: {stack.branch_intervals: {at_least: 5}}",
        "when: {stack.branch_intervals: {more_than: 4, less_than: 5}}",
        &["`stack.branch_intervals is more than 4` contradicts `stack.branch_intervals is less than 5`"],
    );
    refused(
        "drain.stack_base_distance: {present: true}\n      any",
        "drain.stack_base_distance: {present: false, at_least: 1 in}\n      any",
        &["does not exist` contradicts"],
    );
    refused(
        "when: {fixture.type: clothes_washer}\n      load",
        "when: {fixture.type: clothes_washer, trap.size: {less_than: 1-1/4 in}}\n      load",
        &["nothing meets `trap.size is less than 1-1/4 in`"],
    );
}

#[test]
fn a_when_that_something_can_meet_is_let_pass() {
    for accepted in [
        "when: {stack.branch_intervals: {more_than: 4, less_than: 6}}",
        "when: {stack.load: {more_than: 4 dfu, less_than: 5 dfu}}",
        "when: {any: [{stack.load: {less_than: 0 dfu}}, {stack.largest_size: 2 in}]}",
        "when: {stack.largest_size: {at_least: stack.smallest_size}}",
    ] {
        edited("when: {stack.branch_intervals: {at_least: 5}}", accepted).expect(accepted);
    }
}

/// What a count comes to when it is multiplied, if that is whole; what adds up, and what does not.
#[test]
fn values_are_reckoned_exactly_or_not_at_all() {
    let count = Value::Count;
    assert_eq!(count(6).scaled(2, 3), Some(count(4)));
    assert_eq!(count(7).scaled(3, 1), Some(count(21)));
    assert_eq!(count(7).scaled(1, 2), None);
    assert_eq!(count(7).scaled(1, 0), None);
    let ratio = |parts| Value::Ratio(Ratio::from_parts_of_720_million(parts));
    let flow = |text: &str| Value::Flow(text.parse().expect("a flow"));
    let velocity = |text: &str| Value::Velocity(text.parse().expect("a velocity"));
    assert_eq!(ratio(5).plus(ratio(3)), Some(ratio(8)));
    assert_eq!(ratio(5).minus(ratio(3)), Some(ratio(2)));
    assert_eq!(count(5).plus(count(3)), Some(count(8)));
    assert_eq!(count(5).minus(count(3)), Some(count(2)));
    assert_eq!(flow("5 gpm").plus(flow("3 gpm")), Some(flow("8 gpm")));
    assert_eq!(flow("5 gpm").minus(flow("3 gpm")), Some(flow("2 gpm")));
    assert_eq!(flow("6 gpm").scaled(3, 2), Some(flow("9 gpm")));
    assert_eq!(
        velocity("5 ft/s").plus(velocity("3 ft/s")),
        Some(velocity("8 ft/s"))
    );
    assert_eq!(
        velocity("5 ft/s").minus(velocity("3 ft/s")),
        Some(velocity("2 ft/s"))
    );
    assert_eq!(ratio(5).plus(count(3)), None);
    assert_eq!(count(5).minus(ratio(3)), None);
}

/// What is read in millimetres and what in inches hangs on how the rule set names its sizes.
#[test]
fn a_rule_set_is_read_in_the_notation_of_its_sizes() {
    let notation = |name| rules(name).ladder.notation();
    assert_eq!(notation("ipc-2021"), Notation::Inches);
    assert_eq!(notation("en-12056-2"), Notation::Millimetres);
}

/// A ladder that ends sooner has the sizes up to its last, and that one too.
#[test]
fn a_ladder_ends_with_the_size_given() {
    let ladder = rules("ipc-2021").ladder.clone();
    let three = ladder
        .find("3 in".parse().expect("a size"))
        .expect("on the ladder");
    let shorter = ladder.up_to(three);
    let all: Vec<_> = shorter.sizes().collect();
    assert_eq!(
        all,
        ladder.sizes().filter(|size| *size <= three).collect::<Vec<_>>()
    );
    assert_eq!(shorter.rung(three), ladder.rung(three));
}

/// A value stands to another of its dimension as the physical things do: 0 degrees Celsius are 32 Fahrenheit.
#[test]
fn temperatures_are_compared_over_the_scales() {
    let temperature = |text: &str| Value::Temperature(text.parse().expect("a temperature"));
    let compared = |one, other| temperature(one).compare(temperature(other));
    assert_eq!(compared("0 C", "32 F"), Some(Ordering::Equal));
    assert_eq!(compared("-18 C", "0 F"), Some(Ordering::Less));
    assert_eq!(compared("1 C", "32 F"), Some(Ordering::Greater));
}

/// Loads are counted in the unit that the rule set names.
#[test]
fn a_rule_set_tells_in_which_unit_it_counts_loads() {
    let unit = |name| rules(name).ladder.load_unit();
    assert_eq!(unit("ipc-2021"), LoadUnit::FixtureUnit);
    assert_eq!(unit("en-12056-2"), LoadUnit::DischargeUnit);
}

/// `is` compares with another fact too, and is told apart from `is_not` and from a bound.
#[test]
fn a_fact_may_be_asked_to_be_another() {
    let rules = |asked: &str| {
        let rule = format!(
            "  - rule: own\n    title: t\n    subject: vent\n    require: {{pipe.size: {asked}}}\n    severity: violation\n    cite: {{section: \"1\", basis: memory}}\n    message: m\n\n"
        );
        edited("\nrules:\n", &format!("\nrules:\n{rule}")).expect(asked)
    };
    let broken = |rules: &RuleSet, size: &str| {
        let text = format!(
            "crownweir: network/1
name: n
drains: [{{size: 3 in, slope: 1/4 in/ft, path: [{{fixture: {{name: F, type: sink, trap: {{size: 2 in}}}}}}, {{pipe: {{length: 3 ft}}}}, {{fitting: {{name: T}}}}, {{pipe: {{length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}]
vents: [{{size: {size}, slope: vertical, path: [{{at: T}}, {{pipe: {{name: vent, length: 9 ft}}}}, {{terminal: {{name: roof}}}}]}}]
"
        );
        let report = check(&network(&text), rules).expect("known sizes");
        let row = report.summary.iter().find(|row| row.rule == "own");
        row.expect("a rule").violated
    };
    let (same, other) = (rules("{is: {fact: vent.served_size}}"), rules("{is_not: 3 in}"));
    assert_eq!(
        ["2 in", "3 in", "4 in"].map(|size| broken(&same, size)),
        [1, 0, 1]
    );
    assert_eq!(
        ["2 in", "3 in", "4 in"].map(|size| broken(&other, size)),
        [0, 1, 0]
    );
}

/// A limit may be reckoned of several: what they come to together, the larger of them, or the smaller.
#[test]
fn a_limit_may_be_a_sum_or_the_larger_or_smaller_of_several() {
    for (operand, longest, over) in [
        ("{sum: [12 in, 18 in]}", "30 in", "31 in"),
        ("{larger_of: [12 in, 18 in]}", "18 in", "19 in"),
        ("{smaller_of: [12 in, 18 in]}", "12 in", "13 in"),
    ] {
        let rule = format!(
            "  - rule: own\n    title: t\n    subject: trap_arm\n    require: {{trap_arm.length: {{at_most: {operand}}}}}\n    severity: violation\n    cite: {{section: \"1\", basis: memory}}\n    message: m\n\n"
        );
        let rules = edited("\nrules:\n", &format!("\nrules:\n{rule}")).expect(operand);
        let broken = |length: &str| {
            let text = format!(
                "crownweir: network/1
name: n
drains: [{{size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: F, type: sink, trap: {{size: 2 in}}}}}}, {{pipe: {{length: {length}}}}}, {{fitting: {{name: T}}}}, {{pipe: {{length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}]
vents: [{{size: 2 in, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 9 ft}}}}, {{terminal: {{name: roof}}}}]}}]
"
            );
            let report = check(&network(&text), &rules).expect("known sizes");
            let row = report.summary.iter().find(|row| row.rule == "own");
            row.expect("a rule").violated
        };
        assert_eq!([longest, over].map(broken), [0, 1], "{operand}");
    }
}

/// A column is named where a table has several, and what a message shows of a table is read as that column's.
#[test]
fn the_column_of_a_table_is_found() {
    edited("table: trap-arms, column: length, ", "table: trap-arms, ").expect("its only column");
    refused(
        "table: branches-and-stacks, column: branch, ",
        "table: branches-and-stacks, ",
        &[
            "the table `branches-and-stacks` has no column",
            "expected one of branch, ",
        ],
    );
    let rule = "  - rule: own\n    title: t\n    subject: drain\n    require: {pipe.size: {at_least: 4 in}}\n    severity: violation\n    cite: {section: \"1\", basis: memory}\n    show: {least: {table: drain-slopes, column: slope, keys: {size: pipe.size}}}\n    message: at least {least}\n\n";
    let rules = edited("\nrules:\n", &format!("\nrules:\n{rule}")).expect("a rule");
    let text = "crownweir: network/1
name: n
drains: [{size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: F, type: sink, trap: {size: 2 in}}}, {pipe: {length: 3 ft}}, {disposal: {name: sewer}}]}]
";
    let report = check(&network(text), &rules).expect("known sizes");
    let own = report.findings.iter().find(|finding| finding.rule == "own");
    assert_eq!(own.expect("a finding").message, "at least 1/4 in/ft");
}

/// Where no rule reads where a trap's air comes from, it is measured all the same for a message that tells it.
#[test]
fn what_only_a_message_tells_is_measured() {
    let text = published::text("framing-irc-2021").expect("the rule set");
    let rule = "  - rule: own\n    title: t\n    subject: trap_arm\n    require: {fixture.type: lavatory}\n    severity: violation\n    cite: {section: \"1\", basis: memory}\n    message: \"the arm is {trap_arm.length} long\"\n\n";
    let (head, _) = text.split_once("\nrules:\n").expect("rules");
    let text = format!("{head}\nrules:\n{rule}");
    let rules = RuleSet::read("rules.yaml", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"));
    let text = "crownweir: network/1
name: n
drains: [{size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: F, type: sink, trap: {size: 2 in}}}, {pipe: {length: 3 ft}}, {fitting: {name: T}}, {pipe: {length: 3 ft}}, {disposal: {name: sewer}}]}]
vents: [{size: 2 in, slope: vertical, path: [{at: T}, {pipe: {length: 9 ft}}, {terminal: {name: roof}}]}]
";
    let report = check(&network(text), &rules).expect("known sizes");
    let told: Vec<&str> = report
        .findings
        .iter()
        .map(|finding| finding.message.as_str())
        .collect();
    assert_eq!(told, ["the arm is 3 ft long"]);
}

/// A fact that hangs on a definition which may be left out is refused where the rule set leaves it out, wherever it is
/// asked for; asked for by no rule, it is undetermined and names the definition.
#[test]
fn a_fact_of_sharp_turns_asks_for_their_definition() {
    for (from, to, fact) in [
        (
            "{trap.seal: {at_least: 2 in",
            "{trap_arm.bends: {at_most: 1}, trap.seal: {at_least: 2 in",
            "trap_arm.bends",
        ),
        (
            "when: {fixture.type: shower}",
            "when: {fixture.type: shower, trap_arm.bends: 1}",
            "trap_arm.bends",
        ),
    ] {
        let said =
            format!("`{fact}` tells of sharp turns, and the rule set does not say what a sharp turn is");
        refused(from, to, &[&said, "expected `sharp_turn` among the definitions"]);
    }
    let rule = |message: &str| {
        format!(
            "rules:\n  - {{rule: near-turn, title: t, subject: drain, require: {{pipe.size: {{at_least: 2 in}}}}, severity: violation, cite: {{section: \"1\", basis: memory}}, message: \"{message}\"}}\n"
        )
    };
    refused(
        "rules:\n",
        &rule("{drain.bend_behind}"),
        &["`drain.bend_behind` tells of sharp turns"],
    );
    let text = published::text("ipc-2021").expect("the rule set");
    let defined = text.replacen(
        "definitions:\n",
        "definitions:\n  sharp_turn: {more_than: 60 deg, cite: {section: \"1\", basis: memory}}\n",
        1,
    );
    let with = defined.replacen("rules:\n", &rule("{drain.bend_behind}"), 1);
    assert!(RuleSet::read("rules.yaml", with.as_bytes(), &Limits::default()).is_ok());
    let line = network(
        "crownweir: network/1
name: arm
drains:
  - {size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: F, type: lavatory, trap: {size: 1-1/2 in}}}, {pipe: {length: 1 ft}}, {fitting: {name: B, pattern: sixth_bend}}, {pipe: {length: 1 ft}}, {fitting: {name: T, pattern: sanitary_tee}}, {pipe: {slope: vertical, length: 3 ft}}, {disposal: {name: sewer}}]}
vents:
  - {size: 2 in, slope: vertical, path: [{at: T}, {pipe: {length: 9 ft}}, {terminal: {name: roof}}]}
",
    );
    let bends = |rules: &RuleSet| {
        let measured = Measured::new(&line, rules).expect("known sizes");
        let traps = measured.elements(Subject::TrapArm);
        measured.fact(Subject::TrapArm, traps[0], Fact::TrapArmBends)
    };
    match bends(&rules("ipc-2021")) {
        Got::Missing(Gap::NotInRuleSet { datum }) => assert_eq!(datum, "the definition of `sharp_turn`"),
        other => panic!("{other:?}"),
    }
    for (most, count) in [("59 deg", 1), ("60 deg", 0)] {
        let text = defined.replacen("more_than: 60 deg", &format!("more_than: {most}"), 1);
        let rules = RuleSet::read("rules.yaml", text.as_bytes(), &Limits::default()).expect("a rule set");
        assert_eq!(bends(&rules), Got::Known(Value::Count(count)), "{most}");
    }
}
