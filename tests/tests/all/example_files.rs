//! Worked-example files: what they may say, and what is said of a faulty one.

use crownweir::proof::{Answer, Example, Outcome, Pins, State, Tried, prove};
use crownweir::{Limits, RuleSet, Text, published};
use crownweir_tests::rules;

const GOOD: &str = "crownweir: example/1
example: a branch
source: International Plumbing Code 2021, table 710.1(2)
answer: table
network:
  crownweir: network/1
  name: branch
  drains:
    - {size: $SIZE, slope: 1/4 in/ft, path: [{fixture: {name: F, type: connected_load, load: $LOAD}}, {pipe: {name: branch, length: 10 ft}}, {at: T}]}
    - {kind: stack, size: 4 in, slope: vertical, path: [{fitting: {name: T}}, {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}
cases:
  - put: {SIZE: 3 in, LOAD: 20 dfu}
    held: [{rule: branch-capacity, on: branch}]
";

fn read(text: &str) -> Result<Example, crownweir::Diagnostics> {
    Example::read("example.yaml", text.as_bytes(), &Limits::default())
}

#[track_caller]
fn outcomes(text: &str) -> Vec<Outcome> {
    let example = read(text).unwrap_or_else(|problems| panic!("{problems}"));
    prove(&rules("ipc-2021"), &[example])
}

/// The good example with its case's expectations replaced.
fn expecting(what: &str) -> String {
    GOOD.replace("held: [{rule: branch-capacity, on: branch}]", what)
}

#[track_caller]
fn met(what: &str) {
    let outcomes = outcomes(&expecting(what));
    let unmet: Vec<_> = outcomes.iter().flat_map(|outcome| &outcome.unmet).collect();
    assert!(unmet.is_empty(), "{unmet:?}");
}

/// One expectation that is not met, with what is said of it.
#[track_caller]
fn unmet(what: &str, expected: &str, came: &str) {
    let outcomes = outcomes(&expecting(what));
    let unmet: Vec<_> = outcomes.iter().flat_map(|outcome| &outcome.unmet).collect();
    assert_eq!(unmet.len(), 1, "{unmet:?}");
    assert_eq!(unmet[0].expected, expected);
    assert_eq!(unmet[0].came, came);
    assert_eq!(unmet[0].place.line, 13);
}

#[test]
fn expectations_of_every_kind_are_met() {
    met("loads: {branch: 20 dfu}");
    met("facts: [{of: branch, fact: drain.load, is: 19 dfu, within: 1 dfu, because: the source rounds}]");
    met(
        "facts: [{of: branch, fact: pipe.material, is: unknown}, {of: branch, fact: drain.stack_base_distance, is: absent}]",
    );
    met("facts: [{fact: system.water_closets, is: 0}]");
    met("held: [{rule: branch-capacity, on: [branch], limit: 20 dfu}]");
    met("sizes: [{put: SIZE, rule: branch-capacity, on: branch, is: 3 in}]");
    met("limits: [{rule: branch-capacity, on: branch, column: branch, is: 20 dfu}]");
    met("not_applicable: [{rule: valve-access}, {rule: building-drain-capacity, on: branch}]");
    met("undetermined: [{rule: horizontal-supports, on: branch}]");
    met("on_site: [{rule: slope-as-laid, on: branch}]");
    met("findings: {violated: [{rule: open-air-vent, on: branch}]}");
}

#[test]
fn what_came_instead_is_told() {
    unmet(
        "loads: {branch: 21 dfu}",
        "`drain.load` for `branch` is 21 dfu",
        "it is 20 dfu",
    );
    unmet(
        "violated: [{rule: branch-capacity, on: branch, limit: 20 dfu}]",
        "`branch-capacity` is violated for `branch` with the limit 20 dfu",
        "it holds, drain.load 20 dfu, limit 20 dfu",
    );
    unmet(
        "held: [{rule: branch-capacity, on: branch, limit: 160 dfu}]",
        "`branch-capacity` holds for `branch` with the limit 160 dfu",
        "it reads 20 dfu",
    );
    unmet(
        "held: [{rule: branch-capacty, on: branch}]",
        "`branch-capacty` holds for `branch`",
        "the rule set has no rule `branch-capacty`; did you mean `branch-capacity`?",
    );
    unmet(
        "held: [{rule: branch-capacity, on: twig}]",
        "`branch-capacity` holds for `twig`",
        "there is no such drain",
    );
    unmet(
        "sizes: [{put: SIZE, rule: branch-capacity, on: branch, is: 4 in}]",
        "4 in is the smallest size at which `branch-capacity` holds for `branch`",
        "it holds at 3 in too",
    );
    unmet(
        "sizes: [{put: SIZE, rule: branch-capacity, on: branch, is: 2-1/2 in}]",
        "2-1/2 in is the smallest size at which `branch-capacity` holds for `branch`",
        "at 2-1/2 in: it is violated, drain.load 20 dfu, limit 12 dfu",
    );
    unmet(
        "traps: [{of: F, by: individual-vent}]",
        "`individual-vent` protects the trap of `F`",
        "there is no such trap",
    );
    unmet(
        "findings: {violated: [{rule: drain-slope, on: branch}]}",
        "exactly the 1 findings listed are violated",
        "not found: `drain-slope` for `branch`; found as well: `open-air-vent` for `branch`",
    );
}

/// Every one of `said` stands in the problems of `text`.
#[track_caller]
fn refused(text: &str, said: &[&str]) {
    let problems = read(text).expect_err("a faulty file is read").to_string();
    for said in said {
        assert!(problems.contains(said), "{said:?} is not said:\n{problems}");
    }
}

#[test]
fn faults_are_told_with_their_places() {
    refused(
        &GOOD.replace("example/1", "network/1"),
        &["1:12: this is a file of the format `network/1`"],
    );
    refused(
        &expecting("helt: [{rule: branch-capacity, on: branch}]"),
        &["13:5: `helt` is not a key", "did you mean `held`?"],
    );
    refused(&expecting("held: []"), &["12:5: the case expects nothing"]);
    refused(
        &expecting("facts: [{of: branch, fact: drain.lode, is: 2 dfu}]"),
        &[
            "13:32: there is no fact `drain.lode`",
            "did you mean `drain.load`?",
        ],
    );
    refused(
        &expecting("facts: [{of: branch, fact: drain.load, is: 2}]"),
        &["13:48", "expected a load such as `3 dfu`"],
    );
    refused(
        &expecting("facts: [{fact: drain.load, is: 2 dfu}]"),
        &["`drain.load` is not a fact of the whole network"],
    );
    refused(
        &expecting("facts: [{of: branch, fact: drain.load, is: 2 dfu, within: 1 dfu}]"),
        &["a tolerance and its reason go together"],
    );
    refused(
        &expecting("limits: [{rule: branch-capacity, on: branch, is: plenty}]"),
        &["`plenty` is not a limit"],
    );
    refused(
        &expecting("loads: {branch: $MOST}"),
        &["nothing is put for `$MOST`"],
    );
    refused(
        &GOOD.replace("LOAD: 20 dfu", "LOAD: 20 dfu, SLOPE: 2 %"),
        &["`SLOPE` is put, and nothing here says `$SLOPE`"],
    );
    refused(
        &GOOD.replace("LOAD: 20 dfu", "LAOD: 20 dfu"),
        &[
            "9:94: nothing is put for `$LOAD`",
            "the case in line 12 puts `LAOD`: was `LOAD` meant?",
        ],
    );
    refused(
        &GOOD.replace("answer: table", "answer: independent"),
        &["says how far its source can be relied on"],
    );
    refused(
        &GOOD.replace("answer: table", "answer: independent\nconfidence: low"),
        &["counts only where it has been reckoned again"],
    );
    refused(
        &GOOD.replace(
            "put: {SIZE: 3 in, LOAD: 20 dfu}",
            "grid: {put: [SIZE, LOAD], rows: [[3 in]]}",
        ),
        &["this row puts 1 values; expected 2: one for each name"],
    );
    refused(
        &GOOD.replace("  - put:", "  - network: other\n    put:"),
        &["there is no network `other`"],
    );
}

/// A fault in a network is told where it stands in the example file, with what was put when it came up.
#[test]
fn faults_of_the_network_are_told_where_they_stand() {
    refused(
        &GOOD.replace("3 in", "3 inn"),
        &["example.yaml:9:14: ", "so it is with LOAD 20 dfu, SIZE 3 inn"],
    );
    refused(
        &GOOD.replace("{at: T}", "{at: U}"),
        &["example.yaml:9:147: there is no node `U`"],
    );
    refused(
        &GOOD.replace("load: $LOAD", "loud: $LOAD"),
        &["9:88: `loud` is not a key"],
    );
}

#[test]
fn hostile_files_are_refused() {
    refused("crownweir: example/1\nexample: [", &["example.yaml:2"]);
    refused(
        &GOOD.replace("  name: branch", "  name: &anchor branch"),
        &["anchors"],
    );
    let rows = "[1 in], ".repeat(20_000);
    refused(
        &GOOD.replace(
            "put: {SIZE: 3 in, LOAD: 20 dfu}",
            &format!("put: {{LOAD: 1 dfu}}\n    grid: {{put: [SIZE], rows: [{rows}]}}"),
        ),
        &["cases come to more than"],
    );
}

/// A cell that is only known not to be less is half-pinned; one whose limit is told is pinned; the rest is bare.
#[test]
fn pins_tell_noticed_from_read() {
    let rules = rules("ipc-2021");
    let states = |text: &str| {
        let examples = [read(text).unwrap_or_else(|problems| panic!("{problems}"))];
        let pins = Pins::new(&rules, &examples).expect("every answer is reached");
        let mut worker = pins.worker();
        let tried: Vec<Tried> = (0..pins.pieces())
            .filter_map(|piece| worker.try_piece(piece))
            .collect();
        let report = pins.report(&tried);
        let table = report
            .tables
            .into_iter()
            .find(|table| table.name == "branches-and-stacks");
        let table = table.expect("the table");
        let cell = table
            .unpinned
            .iter()
            .find(|cell| cell.name == "20 dfu: `branch` at 3 in");
        (cell.map(|cell| cell.state), table.parts)
    };
    let (state, tally) = states(GOOD);
    assert_eq!(state, Some(State::HalfPinned));
    // Twelve rows of four, less the three cells that are to be filled from the book.
    assert_eq!((tally.all, tally.half, tally.bare), (45, 1, 44));
    let (state, tally) = states(&expecting(
        "held: [{rule: branch-capacity, on: branch, limit: 20 dfu}]",
    ));
    assert_eq!(state, None);
    assert_eq!((tally.table, tally.pinned(), tally.exercised()), (1, 1, 1));
    let (state, _) = states(
        &expecting("limits: [{rule: branch-capacity, on: branch, is: 20 dfu}]")
            .replace("20 dfu}\n", "1 dfu}\n"),
    );
    assert_eq!(state, None);
    let (state, _) = states(&GOOD.replace("LOAD: 20 dfu", "LOAD: 1 dfu"));
    assert_eq!(state, Some(State::Loose));
    let text = GOOD.replace("on: branch}]", "on: branch, limit: 160 dfu}]");
    let examples = [read(&text).unwrap_or_else(|problems| panic!("{problems}"))];
    let failed = Pins::new(&rules, &examples).expect_err("an answer is not reached");
    assert_eq!(failed.len(), 1);
    assert_eq!(failed[0].origin.answer, Answer::Table);
}

/// Of an amended rule set only what the amendment has put there is altered: the cell and not its column, the condition and not
/// its arrangement's others, the figure and not those beside it.
#[test]
fn of_changes_only_what_was_changed_is_altered() {
    let base = rules("ipc-2021");
    let town = "crownweir: amendment/1
name: town
title: An invented amendment
jurisdiction: [Invented]
document: Ordinance
edition: \"2026\"
base: {rules: ipc-2021, document: IPC, edition: \"2021\", from_revision: 1}
status: in_force
origin: invented
cite: {section: \"1\", basis: published}
changes:
  - set: {table: fixture-loads, row: {type: dishwasher}, column: load, was: 2 dfu, to: 3 dfu}
  - add: {table: trap-arms, row: [6 in, 20 ft]}
  - set: {rule: standpipe-height, limit: fixture.standpipe_height, order: at_most, was: 42 in, to: 40 in}
  - restrict: {arrangement: combination-drain-and-vent, to: {fixture.type: {one_of: [floor_drain, sink]}}, message: m}
  - set: {definition: vertical, was: {most_from_vertical: 45 deg}, to: {most_from_vertical: 40 deg}}
";
    let texts = [Text {
        name: "town.yaml",
        bytes: town.as_bytes(),
    }];
    let text = published::text("ipc-2021").expect("the base");
    let name = "ipc-2021";
    let whole = Text {
        name,
        bytes: text.as_bytes(),
    };
    let day = "2026-11-25".parse().expect("a day");
    let amended = RuleSet::amended(whole, &texts, day, &Limits::default());
    let amended = amended.unwrap_or_else(|problems| panic!("{problems}"));
    // No example reads any of it, so that all of it is told.
    let pins = Pins::new(&amended, &[])
        .expect("nothing is asked")
        .of_changes(&base);
    let report = pins.report(&[]);
    let all = report
        .tables
        .iter()
        .chain(&report.each_rule)
        .chain(&report.others);
    let told: Vec<_> = all
        .flat_map(|held| {
            held.unpinned
                .iter()
                .map(|one| format!("{}: {}", held.name, one.name))
        })
        .collect();
    assert_eq!(
        told,
        [
            "fixture-loads: 3 dfu: `load` at dishwasher",
            "trap-arms: 20 ft: `length` at 6 in",
            "standpipe-height: the rule itself",
            "standpipe-height: 3 ft 4 in",
            "arrangements: `combination-drain-and-vent`",
            "arrangements: condition 8 of `combination-drain-and-vent`",
            "arrangements: `floor drain, sink` in condition 8 of `combination-drain-and-vent`",
            "definitions: `vertical`",
        ]
    );
}
