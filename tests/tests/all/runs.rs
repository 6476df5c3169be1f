//! How drains run, where the file leaves something out: what is not stated is not known, and never taken for nothing.

use crownweir::{Got, Measured, Subject};
use crownweir_tests::{checked, network, rules};

/// A fact of the pipe or fixture called `name`, as text; `unknown` where it cannot be told.
fn fact(text: &str, subject: Subject, name: &str, fact: &str) -> String {
    let (network, rules) = (network(text), rules("upc-2021"));
    let measured = Measured::new(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
    let element = match subject {
        Subject::TrapArm => {
            let mut nodes = network.graph().node_indices();
            nodes
                .find(|&node| &*network.graph()[node].name == name)
                .expect("the fixture")
                .index()
        }
        _ => network.pipe_named(name).expect("the pipe").index(),
    };
    let fact = fact.parse().expect("a fact");
    match measured.fact(subject, u32::try_from(element).expect("small"), fact) {
        Got::Known(value) => value.in_words(&rules.ladder, network.notation()),
        Got::Absent => "absent".to_owned(),
        Got::Missing(_) => "unknown".to_owned(),
    }
}

fn arm(first: &str, second: &str) -> String {
    format!(
        "crownweir: network/1
name: arm
drains: [{{size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: F, type: sink, trap: {{size: 2 in}}}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: A{first}}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: B{second}}}}}, {{pipe: {{name: last, length: 1 ft}}}}, {{fitting: {{name: T, pattern: wye}}}}, {{pipe: {{name: drain, length: 5 ft}}}}, {{disposal: {{name: sewer}}}}]}}]
vents: [{{size: 2 in, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 9 ft}}}}, {{terminal: {{name: roof}}}}]}}]
"
    )
}

#[test]
fn turns_in_a_trap_arm_are_summed_and_a_missing_pattern_keeps_the_sum_open() {
    let turned = |text: &str| fact(text, Subject::TrapArm, "F", "trap_arm.horizontal_turn");
    let bend = ", pattern: eighth_bend";
    assert_eq!(turned(&arm(bend, bend)), "90 deg");
    assert_eq!(turned(&arm(bend, "")), "unknown");
    assert_eq!(turned(&arm("", bend)), "unknown");
    assert_eq!(
        turned(&arm(", pattern: coupling", ", pattern: coupling")),
        "0 deg"
    );
}

#[test]
fn a_drain_goes_on_from_the_end_of_a_trap_arm() {
    let text = arm(", pattern: coupling", ", pattern: coupling");
    let run = |name: &str| fact(&text, Subject::Drain, name, "drain.horizontal_run");
    assert_eq!((run("last").as_str(), run("drain").as_str()), ("absent", "5 ft"));
}

fn height(between: &str) -> String {
    format!(
        "crownweir: network/1
name: height
drains: [{{size: 2 in, slope: vertical, path: [{{fixture: {{name: F, type: connected_load, load: 1 dfu}}}}, {{pipe: {{name: top, length: 4 ft}}}}, {{fitting: {{name: A}}}}, {{pipe: {{{between}}}}}, {{fitting: {{name: B}}}}, {{pipe: {{name: foot, length: 5 ft}}}}, {{disposal: {{name: sewer}}}}]}}]
"
    )
}

#[test]
fn vertical_pipe_is_measured_as_far_as_it_is_known() {
    let of =
        |between: &str, name: &str| fact(&height(between), Subject::Drain, name, "drain.vertical_length");
    assert_eq!(of("length: 6 ft", "top"), "15 ft");
    assert_eq!(of("length: 6 ft", "foot"), "15 ft");
    assert_eq!(of("name: gap", "top"), "unknown");
    assert_eq!(of("size: 3 in, length: 6 ft", "top"), "4 ft");
    assert_eq!(of("slope: 1/4 in/ft, length: 6 ft", "foot"), "5 ft");
}

#[test]
fn traps_are_counted_by_their_size_and_one_of_unknown_size_keeps_the_count_open() {
    let text = |trap: &str| {
        format!(
            "crownweir: network/1
name: traps
drains:
  - {{size: 4 in, slope: 1/4 in/ft, path: [{{fixture: {{name: F, type: other, trap: {{size: 3 in}}}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: A}}}}, {{pipe: {{name: drain, length: 1 ft}}}}, {{disposal: {{name: sewer}}}}]}}
  - {{size: 4 in, slope: 1/4 in/ft, path: [{{fixture: {{name: G, type: other{trap}}}}}, {{pipe: {{length: 1 ft}}}}, {{at: A}}]}}
  - {{size: 4 in, slope: 1/4 in/ft, path: [{{fixture: {{name: H, type: connected_load, load: 9 dfu}}}}, {{pipe: {{length: 1 ft}}}}, {{at: A}}]}}
"
        )
    };
    let of = |trap: &str, name: &str| fact(&text(trap), Subject::Drain, "drain", name);
    assert_eq!(of(", trap: {size: 3 in}", "drain.largest_traps"), "2");
    assert_eq!(of(", trap: {size: 2 in}", "drain.largest_traps"), "1");
    assert_eq!(of(", trap: {size: 2 in}", "drain.largest_trap"), "3 in");
    assert_eq!(of(", trap: {size: 4 in}", "drain.largest_trap"), "4 in");
    assert_eq!(of("", "drain.largest_traps"), "unknown");
    assert_eq!(of("", "drain.largest_trap"), "unknown");
}

fn vented(level: &str) -> String {
    format!(
        "crownweir: network/1
name: vents
drains:
  - {{size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: F, type: sink}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: A}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: B}}}}, {{pipe: {{length: 1 ft}}}}, {{disposal: {{name: sewer}}}}]}}
  - {{size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: G, type: sink}}}}, {{pipe: {{length: 1 ft}}}}, {{at: B}}]}}
vents:
  - {{size: 2 in, path: [{{at: A}}, {{pipe: {{name: one, slope: vertical, length: 4 ft}}}}, {{fitting: {{name: V}}}}, {{pipe: {{name: level, {level}, length: 6 ft}}}}, {{fitting: {{name: W}}}}, {{pipe: {{name: up, slope: vertical, length: 3 ft}}}}, {{terminal: {{name: roof}}}}]}}
  - {{size: 2 in, path: [{{at: B}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: X}}}}, {{pipe: {{name: long, slope: 1/8 in/ft, length: 20 ft}}}}, {{at: W}}]}}
"
    )
}

#[test]
fn the_horizontal_part_of_a_vent_is_that_of_its_longest_way() {
    let of = |level: &str, name: &str| fact(&vented(level), Subject::Vent, name, "vent.horizontal_length");
    assert_eq!(of("slope: 1/8 in/ft", "one"), "6 ft");
    assert_eq!(of("slope: 1/8 in/ft", "long"), "20 ft");
    assert_eq!(of("slope: 1/8 in/ft", "up"), "20 ft");
    assert_eq!(of("slope: vertical", "one"), "0 in");
    assert_eq!(of("size: 3 in", "one"), "unknown");
    assert_eq!(of("size: 3 in", "long"), "20 ft");
}

#[test]
fn plumb_drains_from_storey_to_storey_in_runs_without_a_kind_are_told_where_others_are_stacks() {
    let text = |one: &str, other: &str| {
        let stack = |name: &str, kind: &str| {
            format!(
                "  - {{run: {name}, {kind}size: 3 in, slope: vertical, path: [{{fixture: {{name: {name} load, type: connected_load, load: 4 dfu, storey: upper}}}}, \
                 {{pipe: {{name: {name} drop}}}}, {{fitting: {{name: {name} foot, storey: lower}}}}, {{pipe: {{slope: 1/4 in/ft, length: 3 ft}}}}, {{at: D}}]}}\n"
            )
        };
        format!(
            "crownweir: network/1\nname: two stacks\nrules: ipc-2021\nstoreys: [{{storey: lower, height: 9 ft}}, {{storey: upper, height: 9 ft}}]\ndrains:\n{}{}  \
             - {{kind: building_drain, size: 4 in, slope: 1/4 in/ft, storey: lower, path: [{{fitting: {{name: D}}}}, {{pipe: {{length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}\n",
            stack("A", one),
            stack("B", other)
        )
    };
    let told = |one: &str, other: &str| checked(&text(one, other)).unmarked_stacks;
    assert_eq!(told("kind: stack, ", ""), ["B drop"]);
    assert_eq!(told("kind: stack, ", "kind: stack, "), [""; 0]);
    // Where no run is a stack, that is told instead.
    assert_eq!(told("", ""), [""; 0]);
    let shown = crownweir::report::text(&checked(&text("kind: stack, ", "")), &|_| None);
    assert!(
        shown.contains("`B drop` leads plumb from storey to storey in a run without a kind"),
        "{shown}"
    );
}
