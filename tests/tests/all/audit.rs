//! The audit of rule sets: each kind of defect is put into a copy of the published rule set and found at its line.

use std::sync::LazyLock;

use crownweir::{Limits, MemoryCells, Remark, RemarkKind, RuleSet, Weight, audit, published};
use crownweir_tests::rules;

/// A copy of the published rule set with one thing replaced, in which places can be looked up.
struct Copy {
    text: String,
}

impl Copy {
    fn with(from: &str, to: &str) -> Self {
        let text = published::text("ipc-2021").expect("the rule set");
        assert!(text.contains(from), "{from}");
        Self {
            text: text.replacen(from, to, 1),
        }
    }

    fn and(self, from: &str, to: &str) -> Self {
        assert!(self.text.contains(from), "{from}");
        Self {
            text: self.text.replacen(from, to, 1),
        }
    }

    /// A rule more, as the first of them.
    fn with_rule(rule: &str) -> Self {
        Self::with("\nrules:\n", &format!("\nrules:\n{rule}"))
    }

    fn line(&self, of: &str) -> usize {
        let found = self.text.lines().position(|line| line.contains(of));
        found.unwrap_or_else(|| panic!("{of}")) + 1
    }

    fn audited(&self) -> Vec<Remark> {
        let limits = Limits::default();
        let rules = RuleSet::read("copy.yaml", self.text.as_bytes(), &limits);
        audit(
            &rules.unwrap_or_else(|problems| panic!("{problems}")),
            MemoryCells::Counted,
        )
    }

    /// Asserts that the audit has exactly one remark of the kind that it does not have of the rule set as
    /// published: on the line that has `at`, and saying all of `said`.
    #[track_caller]
    fn has(&self, kind: RemarkKind, weight: Weight, at: &str, said: &[&str]) {
        let new = self.more(kind);
        let [only] = &new[..] else {
            panic!("{} remarks of {kind:?}: {new:#?}", new.len());
        };
        assert_eq!(only.weight, weight, "{only:?}");
        assert_eq!(&*only.place.file, "copy.yaml");
        assert_eq!(only.place.line, self.line(at), "{only:?}");
        for said in said {
            assert!(
                only.message.contains(said),
                "{said:?} is not said: {}",
                only.message
            );
        }
    }

    fn more(&self, kind: RemarkKind) -> Vec<Remark> {
        static PUBLISHED: LazyLock<Vec<Remark>> =
            LazyLock::new(|| audit(&rules("ipc-2021"), MemoryCells::Counted));
        let mut of_kind = self.audited();
        of_kind.retain(|remark| remark.kind == kind);
        of_kind.retain(|remark| !PUBLISHED.iter().any(|known| known.message == remark.message));
        of_kind
    }
}

use RemarkKind as Kind;
use Weight::{Fault, Notice};

const SHORT_TEST: &str = "  - rule: short-test
    title: A short test
    subject: test
    when: {test.medium: water}
    require: {test.duration: {at_most: 10 min}}
    severity: advice
    cite: {basis: common_practice}
    message: too long
";

#[test]
fn rules_that_deny_each_other_are_found() {
    Copy::with_rule(SHORT_TEST).has(
        Kind::Contradiction,
        Fault,
        "rule: test-duration",
        &[
            "and `test-duration` can never both hold",
            "test.duration is at most 10 min",
            "the other that test.duration is at least 15 min",
        ],
    );
}

#[test]
fn rules_that_deny_each_other_by_a_table_are_found_with_the_size() {
    Copy::with("- [1-1/4 in, 5]\n", "- [1-1/4 in, 2 in]\n").has(
        Kind::Contradiction,
        Fault,
        "rule: crown-vent",
        &["`trap-arm-length`", "where trap.size is 1-1/4 in"],
    );
}

#[test]
fn rules_that_apply_to_different_things_do_not_deny_each_other() {
    let of_air = SHORT_TEST.replace("{test.medium: water}", "{test.medium: {none_of: [water, air]}}");
    assert_eq!(Copy::with_rule(&of_air).more(Kind::Contradiction), []);
}

#[test]
fn a_rule_that_applies_to_nothing_is_found() {
    // A file with such a rule is refused; an amendment could still bring it about.
    let mut rules = rules("ipc-2021");
    let tall = rules.rule("vent-stack-needed").expect("the rule").when.clone();
    let short = rules.rule("stack-capacity").expect("the rule").when.clone();
    let line = {
        let rule = rules
            .unchecked()
            .rules
            .iter_mut()
            .find(|rule| rule.name == "stack-capacity");
        let rule = rule.expect("the rule");
        rule.when = crownweir::rulebook::Condition::All(vec![short, tall]);
        rule.place.line
    };
    let found = audit(&rules, MemoryCells::Counted);
    let found: Vec<_> = found
        .iter()
        .filter(|remark| remark.kind == Kind::NeverApplies)
        .collect();
    let [only] = &found[..] else { panic!("{found:?}") };
    assert_eq!((only.place.line, only.weight), (line, Fault));
    assert!(
        only.message
            .contains("`stack.branch_intervals is at most 3` and `stack.branch_intervals is at least 5`"),
        "{}",
        only.message
    );
}

#[test]
fn a_rule_that_nothing_can_meet_is_found() {
    Copy::with(
        "when: {fixture.type: clothes_washer, fixture.receiving_size: {present: true}}",
        "when: {fixture.type: clothes_washer, fixture.receiving_size: {less_than: 3 in}}",
    )
    .has(
        Kind::NeverMet,
        Fault,
        "rule: standpipe-receiving-drain",
        &["fixture.receiving_size is at least 3 in"],
    );
    // By the table alone: nothing up to 2 in may have a slope of 1/8 in/ft.
    Copy::with(
        "when: {pipe.orientation: horizontal}\n    require: {pipe.slope: {at_least: {table",
        "when: {pipe.slope: {at_most: 1/8 in/ft}, pipe.size: {at_most: 2 in}}\n    require: {pipe.slope: {at_least: {table",
    )
    .has(Kind::NeverMet, Fault, "rule: drain-slope", &["table drain-slopes"]);
}

#[test]
fn an_arrangement_that_nothing_can_meet_is_found() {
    Copy::with(
        "      - require: {protection.same_storey: true}",
        "      - require: {protection.fixtures_at_vent: {at_least: 3}}",
    )
    .has(
        Kind::NeverMet,
        Fault,
        "arrangement: common-vent",
        &["no trap can be protected by `common-vent`"],
    );
}

#[test]
fn a_prohibition_is_noticed_and_no_fault() {
    Copy::with_rule(
        "  - rule: no-bidets
    title: No bidets
    subject: fixture
    when: {fixture.type: bidet}
    require: {fixture.type: {is_not: bidet}}
    severity: violation
    cite: {section: \"1\", basis: published}
    message: no bidets here
",
    )
    .has(Kind::NeverMet, Notice, "rule: no-bidets", &["`no-bidets`"]);
    // What is forbidden is not contradicted by how it would have to be.
    Copy::with_rule(
        "  - rule: no-valves
    title: No air admittance valves
    subject: valve
    require: {valve.kind: {present: false}}
    severity: violation
    cite: {section: \"1\", basis: published}
    message: no valves here
",
    )
    .has(
        Kind::Contradiction,
        Notice,
        "rule: stack-valve-kind",
        &["`no-valves` (line ", "and `stack-valve-kind` can never both hold"],
    );
}

#[test]
fn a_rule_that_nothing_can_break_is_found() {
    Copy::with(
        "{system.open_vents_without_loops: {at_least: 1}}",
        "{system.open_vents_without_loops: {at_least: 0}}",
    )
    .has(
        Kind::AlwaysMet,
        Fault,
        "rule: open-air-vent",
        &["system.open_vents_without_loops is at least 0"],
    );
    Copy::with("- [true, 3 in]", "- [true, 1-1/4 in]").has(
        Kind::AlwaysMet,
        Fault,
        "rule: water-closet-drain",
        &["closet-drain-sizes"],
    );
}

#[test]
fn a_rule_that_asks_the_same_is_found_however_it_is_written() {
    Copy::with_rule(
        "  - rule: offset-again
    title: Once more
    subject: trap
    when:
      not: {trap.kind: integral}
      all: [{trap.kind: {is_not: integral}}, {fixture.type: {none_of: [clothes_washer]}}]
    require: {trap.outlet_offset: {at_most: 2 ft 6 in}}
    severity: violation
    cite: {section: \"1\", basis: published}
    message: too far
",
    )
    .and("      not: {trap.kind: integral}\n", "")
    .has(
        Kind::SameRule,
        Fault,
        "rule: trap-outlet-offset",
        &["`offset-again` in line"],
    );
}

#[test]
fn a_case_of_the_loads_that_is_never_reached_is_found() {
    Copy::with(
        "- when: {fixture.type: urinal}",
        "- when: {fixture.type: {one_of: [water_closet]}}",
    )
    .has(
        Kind::CaseNeverReached,
        Fault,
        "- when: {fixture.type: {one_of: [water_closet]}}",
        &["case 2 of the loads"],
    );
    Copy::with(
        "- when: {fixture.type: {is_not: connected_load}}",
        "- when: {fixture.type: {one_of: [shower, urinal]}}",
    )
    .has(
        Kind::CaseNeverReached,
        Fault,
        "- when: {fixture.type: {one_of: [shower, urinal]}}",
        &["case 7 of the loads"],
    );
}

#[test]
fn a_row_that_no_look_up_finds_is_found() {
    let first = "      - [sanitary_tee, horizontal_to_vertical, 1-1/4 in, none]\n";
    let second = "      - [sanitary_tee, any, none, none]\n";
    let copy = Copy::with(&format!("{first}{second}"), &format!("{second}{first}"));
    let taken_by = format!("the row in line {} takes all", copy.line("[sanitary_tee, any"));
    copy.has(
        Kind::RowNeverFound,
        Fault,
        "[sanitary_tee, horizontal_to_vertical",
        &[&taken_by, "for sanitary tee, horizontal to vertical"],
    );
    // A row for anything ends a look-up among bounds, so what stands below it is never found.
    Copy::with(
        "- [0 gal, 0.5]\n      - [1 gal, 2]\n      - [any, 4]",
        "- [0 gal, 0.5]\n      - [any, 4]\n      - [1 gal, 2]",
    )
    .and(
        "- [0 gal, 0.5]\n      - [any, 4]",
        "- [any, 4]\n      - [0 gal, 0.5]",
    )
    .and("      - [1 gal, 2]\n", "")
    .has(Kind::RowNeverFound, Fault, "- [0 gal, 0.5]", &["`urinal-loads`"]);
}

/// Water closets have a case of their own among the loads, and the rule on the size of traps leaves showers to others.
#[test]
fn a_row_for_what_its_readers_leave_out_is_found() {
    let copy = Copy::with(
        "      - [bathtub, 2]\n",
        "      - [bathtub, 2]\n      - [water_closet, 40]\n",
    );
    copy.has(
        Kind::RowNeverFound,
        Fault,
        "[water_closet, 40]",
        &["`fixture-loads` up for water closet"],
    );
    let copy = Copy::with("  trap-sizes:", "  trap-sizes:");
    let own = copy.line("  trap-sizes:");
    let first = copy
        .text
        .lines()
        .skip(own)
        .find(|line| line.starts_with("      - ["))
        .expect("a row")
        .to_owned();
    Copy::with(
        &format!("{first}\n"),
        &format!("{first}\n      - [shower, 3 in]\n"),
    )
    .has(
        Kind::RowNeverFound,
        Fault,
        "[shower, 3 in]",
        &["`trap-sizes` up for shower"],
    );
}

/// A drain is no vent, whatever a rule says of it. A file with such a rule is refused.
#[test]
fn a_rule_on_drains_that_are_vents_is_refused() {
    for (subject, when) in [
        ("drain", "pipe.role: vent"),
        ("drain", "pipe.kind: stack_vent"),
        ("vent", "pipe.kind: building_drain"),
    ] {
        let rule = format!(
            "  - rule: odd\n    title: odd\n    subject: {subject}\n    when: {{{when}}}\n    require: {{pipe.size: {{at_least: 2 in}}}}\n    \
             severity: violation\n    cite: {{section: \"1\", basis: memory}}\n    message: odd\n"
        );
        let text = Copy::with_rule(&rule).text;
        let told = RuleSet::read("copy.yaml", text.as_bytes(), &Limits::default());
        let told = told.expect_err("a problem").to_string();
        let said = format!("this `when` can never hold of a {subject}: ");
        assert!(told.contains(&said), "{told}");
    }
}

#[test]
fn rows_that_overlap_are_noticed() {
    let tee = "- row: [tee, any, none, none]";
    let copy = Copy::with(
        tee,
        &format!("- [any, horizontal_to_vertical, 2 in, none]\n      {tee}"),
    );
    let found = copy.more(Kind::RowsOverlap);
    let line = copy.line(tee);
    assert!(
        found.iter().any(|remark| {
            (remark.weight, remark.place.line) == (Notice, line)
                && remark.message.contains("any, horizontal to vertical")
                && remark.message.contains("for tee, any both match")
        }),
        "{found:#?}"
    );
}

#[test]
fn a_word_without_a_row_is_found_where_a_rule_looks_it_up() {
    Copy::with("      - [lavatory, 1]\n", "").has(
        Kind::WordWithoutRow,
        Fault,
        "title: Load of each fixture",
        &["no row for fixture.type `lavatory`", "the load of a fixture"],
    );
    Copy::with("      - [public, 1.6 gal, 4]\n      - [public, any, 6]\n", "").has(
        Kind::WordWithoutRow,
        Fault,
        "title: Load of a water closet by its use",
        &["fixture.occupancy `public`"],
    );
    // What the rule leaves out is not looked up.
    let left_out = Copy::with("      - [bidet, 1-1/4 in]\n", "").and(
        "none_of: [water_closet, urinal, shower,",
        "none_of: [bidet, water_closet, urinal, shower,",
    );
    assert_eq!(left_out.more(Kind::WordWithoutRow), []);
    // Two words together.
    Copy::with("      - [quarter_bend, vertical_to_horizontal, none, 2 in]\n", "")
        .and("      - row: [any, any, 1-1/4 in, none]\n        cite: {section: \"706.3\", basis: memory, note: fittings that do not turn the flow}\n", "")
        .audited()
        .iter()
        .find(|remark| {
            let said = "no row for turn.pattern `quarter_bend`, turn.direction `vertical_to_horizontal`";
            remark.kind == Kind::WordWithoutRow && remark.message.contains(said)
        })
        .expect("the remark");
}

#[test]
fn values_beyond_the_rows_are_noticed() {
    Copy::with(
        "      - [1.6 gal, 5]\n      - [any, 6]\n",
        "      - [1.6 gal, 5]\n",
    )
    .has(
        Kind::BeyondRows,
        Notice,
        "title: Load of a whole bathroom group",
        &["no row for a `flush` over 1.6 gal"],
    );
}

#[test]
fn sizes_missing_from_a_series_are_noticed() {
    Copy::with(
        "      - [5 in, none, 390, 480, 575]\n      - [6 in, none, 700, 840, 1000]\n",
        "",
    )
    .has(
        Kind::SizesMissing,
        Notice,
        "title: Most load of building drains",
        &["by its key `size`", "passes over 5 in, 6 in"],
    );
    Copy::with("- [1-1/4 in, 1/4 in/ft]", "- [1-1/2 in, 1/4 in/ft]").has(
        Kind::SizesMissing,
        Notice,
        "title: Least slope of a horizontal drain",
        &["stops short of sizes that other tables have: 1-1/4 in"],
    );
}

#[test]
fn values_out_of_order_are_found() {
    let row = "- [5 in, none, 390, 480, 575]";
    for (wrong, said) in [
        // Larger and yet less than the size before it.
        (
            "- [5 in, none, 170, 480, 575]",
            "for size 5 in, slope 1/8 in/ft is 170 dfu, less than 180 dfu for size 4 in",
        ),
        // Steeper and yet less.
        (
            "- [5 in, none, 390, 480, 479]",
            "for size 5 in, slope 1/2 in/ft is 479 dfu, less than 480 dfu for slope 1/4 in/ft",
        ),
        // Permitted to smaller sizes, and not to it.
        (
            "- [5 in, none, none, 480, 575]",
            "for size 5 in, slope 1/8 in/ft is not permitted, less than 180 dfu",
        ),
    ] {
        Copy::with(row, wrong).has(Kind::OutOfOrder, Fault, wrong, &[said]);
    }
    // The next size then carries less than it.
    Copy::with(row, "- [5 in, none, 390, 841, 1000]").has(
        Kind::OutOfOrder,
        Fault,
        "- [6 in, none, 700, 840, 1000]",
        &["840 dfu, less than 841 dfu for size 5 in"],
    );
}

#[test]
fn vents_out_of_order_are_found() {
    let row = "- [4 in, 140, none, none, 27, 65, 200, 750,";
    // A higher load allowed a longer vent.
    let wrong = "- [4 in, 140, none, none, 36, 65, 200, 750,";
    Copy::with(row, wrong).has(
        Kind::OutOfOrder,
        Fault,
        wrong,
        &["load 140 dfu, vent 2 in is 36 ft, more than 35 ft for load 43 dfu"],
    );
    // A larger vent allowed less.
    let wrong = "- [4 in, 43, none, none, 35, 32, 250,";
    let copy = Copy::with("- [4 in, 43, none, none, 35, 85, 250,", wrong);
    let found = copy.more(Kind::OutOfOrder);
    assert!(
        found.iter().any(|remark| remark.place.line == copy.line(wrong)
            && remark
                .message
                .contains("vent 2-1/2 in is 32 ft, less than 35 ft for vent 2 in")),
        "{found:#?}"
    );
    // Trap arms, by the way that most of their own steps go.
    Copy::with("- [3 in, 12]\n", "- [3 in, 7]\n").has(
        Kind::OutOfOrder,
        Fault,
        "- [3 in, 7]",
        &["7 ft, less than 8 ft for trap 2 in"],
    );
}

#[test]
fn cells_to_be_filled_are_noticed() {
    Copy::with(
        "- [6 in, none, 700, 840, 1000]",
        "- [6 in, none, 700, 840, unfilled]",
    )
    .has(
        Kind::Unfilled,
        Notice,
        "- [6 in, none, 700, 840, unfilled]",
        &["for size 6 in, slope 1/2 in/ft is not filled"],
    );
}

#[test]
fn cells_from_memory_are_counted_and_on_request_listed() {
    let copy = Copy::with(
        "- [5 in, none, 390, 480, 575]",
        "- [5 in, none, 390, 480, {value: 575, cite: {section: x, basis: memory}}]",
    );
    copy.has(
        Kind::FromMemory,
        Notice,
        "title: Most load of building drains",
        &["1 of the 48 cells of the table `building-drains`"],
    );
    let rules = RuleSet::read("copy.yaml", copy.text.as_bytes(), &Limits::default()).expect("a rule set");
    let listed = audit(&rules, MemoryCells::Listed);
    let listed: Vec<_> = listed
        .iter()
        .filter(|remark| remark.kind == Kind::FromMemory && remark.message.contains("building-drains"))
        .collect();
    let [only] = &listed[..] else { panic!("{listed:?}") };
    assert_eq!(only.place.line, copy.line("{value: 575"));
    assert!(
        only.message.contains("is 575 dfu, from memory"),
        "{}",
        only.message
    );
}

#[test]
fn tables_columns_and_facts_that_nothing_reads_are_noticed() {
    let table = "  spare:
    title: A spare table
    cite: {section: x, basis: published}
    keys: [{name: size, of: size, match: from}]
    columns: [{name: load, of: load, unit: dfu}]
    rows: [[1-1/4 in, 1]]
";
    Copy::with("\ntables:\n", &format!("\ntables:\n{table}")).has(
        Kind::UnreadTable,
        Notice,
        "title: A spare table",
        &["nothing reads the table `spare`"],
    );
    Copy::with(
        "{table: showers, column: trap, keys: {flow: fixture.flow}}",
        "2 in",
    )
    .has(
        Kind::UnreadColumn,
        Notice,
        "title: Load and trap of a shower",
        &["nothing reads `trap` of the table `showers`"],
    );
    Copy::with(
        "require: {valve.accessible: true}",
        "require: {valve.kind: stack}",
    )
    .has(
        Kind::UnusedFact,
        Notice,
        "# yaml-language-server",
        &["no rule speaks of `valve.accessible`"],
    );
}

#[test]
fn what_is_too_large_is_said_to_be_left_out() {
    let rows: String = (1..=8_000).map(|row| format!("      - [{row}, 1]\n")).collect();
    let table = format!(
        "  huge:
    title: A huge table
    cite: {{section: x, basis: published}}
    keys: [{{name: load, of: load, match: up_to, unit: dfu}}]
    columns: [{{name: load, of: load, unit: dfu}}]
    rows:
{rows}"
    );
    let copy = Copy::with("\ntables:\n", &format!("\ntables:\n{table}"));
    let found = copy.more(Kind::NotExamined);
    assert!(
        found
            .iter()
            .any(|remark| remark.place.line == copy.line("title: A huge table")
                && remark.message.contains("too large")),
        "{found:?}"
    );
}

#[test]
fn every_kind_has_a_name_of_its_own() {
    let mut names: Vec<_> = Kind::ALL.iter().map(|kind| kind.name()).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), Kind::ALL.len());
}

/// The notices of a published rule set are these and no others; each agrees with what the printed tables leave out, as
/// far as they were read.
fn says(name: &str, expected: &str) {
    let remarks = audit(&rules(name), MemoryCells::Counted);
    let said: Vec<_> = remarks
        .iter()
        .map(|remark| {
            format!(
                "{} {}: {}",
                remark.weight.name(),
                remark.kind.name(),
                remark.message
            )
        })
        .collect();
    assert_eq!(said, expected.lines().collect::<Vec<_>>(), "{}", said.join("\n"));
    assert!(
        said.iter().all(|one| one.starts_with("notice ")),
        "{name} has a fault"
    );
}

#[test]
fn the_published_rule_set_has_no_fault_and_these_notices() {
    says("ipc-2021", include_str!("../../expected/audit-ipc-2021.txt"));
}

#[test]
fn nor_has_the_uniform_code_s() {
    says("upc-2021", include_str!("../../expected/audit-upc-2021.txt"));
}
