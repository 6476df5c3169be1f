//! A network that is written as a file reads as the same network.

use std::collections::BTreeSet;

use crate::sessions::{EXAMPLES, NETWORKS, RULES, Step, edits, steps};
use crownweir::network::{WriteError, WriteFault};
use crownweir::quantity::{Length, Slope};
use crownweir::{Edit, Network, NodeProperty, PipeProperty, check};
use crownweir_tests::network;
use crownweir_tests::written::{again, content, told};
use proptest::prelude::*;
use proptest::sample::Index;

/// A file that says all that a network file can say, save by models and repetitions.
const EVERY_WORD: &str = r##"
crownweir: network/1
name: "every word: 'one' of them #1"
units: millimetres
rules: en-12056-2
framing_rules: framing-irc-2021
dimensions: [a.yaml, "b: c.yaml"]
site: {occupancy: private, winter_design_temperature: -10.5 C, dwelling_units: 3, use: dwelling, system_type: I}
defaults: {material: pvc, horizontal_support_spacing: 1 m, vertical_support_spacing: 2.5 m, mid_storey_guide: true}
storeys:
  - {storey: cellar, elevation: -2.5 m, height: 2.5 m}
  - {storey: "{number}", numbers: 1..2, height: 3 m}
  - {storey: roof, elevation: 6 m}
  - {storey: attic, height: 2.2 m}
framing:
  - {framing: joists, kind: joist, make: sawn, depth: 286 mm, thickness: 38 mm, spacing: 406 mm, span: 3.6 m, storey: 1, top: -19 mm, bearing: false, doubled: true}
  - {framing: studs, kind: stud, depth: 140 mm, bearing: true}
  - {framing: laid out, kind: joist, depth: 11-1/4 in, spacing: 406 mm, storey: 2, top: -19 mm, layout: {runs: north_south, first: -1 m, count: 3, bearings: [1 m, -2 m]}}
drains:
  - run: main
    kind: building_drain
    storey: cellar
    underground: true
    size: DN 100
    slope: 1:50
    path:
      - cleanout: {name: CO, size: DN 100, clearance: 450 mm, accessible: true}
      - pipe: {length: 1 m, inverts: [-2600 mm, -2620 mm]}
      - fitting: {name: W1, pattern: wye}
      - pipe: {length: 2 m, inverts: [-2620 mm, -2640 mm], underground: false, support_spacing: 900 mm, material: cast_iron}
      - fitting: {name: W2, pattern: wye}
      - pipe: {name: last, length: 3 m, slope: {at_least: 1 %, at_most: 2.5 %}, size: open, mid_storey_guide: false}
      - cleanout: {name: MH, manhole: true}
      - pipe: {length: 1 m, inverts: [-2700 mm, -2722 mm], slope: 1:50}
      - disposal: {name: pit, sump: true}
  - size: DN 50
    slope: 2 %
    storey: 1
    direction: north
    path:
      - fixture: {name: S1, type: shower, occupancy: public, heads: 2, flow: 12 L/min, rim_height: 20 mm, group: bath, trap: {size: DN 50, seal: 50 mm, kind: p, outlet_drop: 100 mm, outlet_offset: 50 mm, removable: true}}
      - pipe:
          length: 1 m
          passes:
            - {framing: joists, first: 100 mm, count: 2, spacing: 410 mm, hole: 60 mm, centre: middle, bearing_distance: 900 mm, next_cut: none, doubled: true, doubled_in_row: 2}
            - {framing: studs, count: 2, cut: notched, notch_depth: 20 mm, notch_length: 60 mm, notch_edge: bottom, centre: 30 mm, next_cut: 1 m, steel_plate: true, metal_tie: false}
            - {framing: joists, first: 990 mm}
      - fitting: {name: B1, pattern: eighth_bend}
      - pipe: {offset: {left: 300 mm}}
      - fitting: {name: B2, pattern: eighth_bend}
      - pipe: {length: 500 mm, direction: left 30 deg}
      - fitting: {name: B3, pattern: eighth_bend}
      - pipe: {offset: {set: 200 mm, right: 100 mm}}
      - fitting: {name: B4, pattern: eighth_bend}
      - pipe: {length: 500 mm, slope: vertical}
      - fitting: {name: B5, pattern: eighth_bend}
      - pipe: {offset: {set: 300 mm}, direction: 12.345 deg}
      - fitting: {name: B6, pattern: eighth_bend}
      - pipe: {offset: {set: 0 mm, right: 250 mm}}
      - fitting: {name: B7, pattern: eighth_bend}
      - pipe: {length: 500 mm, slope: vertical, enters: branch}
      - at: W1
  - size: DN 50
    slope: vertical
    direction: east
    path:
      - fitting: {name: B8, pattern: sixth_bend, storey: 1}
      - pipe: {offset: {set: 30 mm, left: 40 mm}}
      - fitting: {name: B9, pattern: sixth_bend}
      - pipe: {}
      - at: W2
  - {slope: 45 deg, path: [{fixture: {name: WC, type: water_closet, flush: tank, flush_volume: 6 L, storey: 1, weir_height: -30 mm}}, {pipe: {}}, {at: B8}]}
  - {storey: 1, path: [{fixture: {name: U1, type: urinal, flush: valve, urinal: stall}}, {pipe: {name: "null"}}, {at: B8}]}
  - {path: [{fixture: {name: X1, type: other, load: 1.5 DU, pumped: true, acid_waste: true}}, {pipe: {}}, {at: B8}]}
  - {path: [{fixture: {name: CW, type: clothes_washer, standpipe_height: 2 ft 6-1/64 in}}, {pipe: {}}, {at: B8}]}
  - {path: [{fixture: {name: KS, type: kitchen_sink, compartments: 2}}, {pipe: {size: DN 40, slope: 1/7 in/ft}}, {at: B8}]}
  - path:
      - fixture: {name: FD, type: floor_drain, position: [1 m, 2 m, 300 mm]}
      - pipe: {}
      - fitting: {name: P1, position: [3 m, 1.5 m, 250 mm]}
      - pipe: {}
      - fitting: {name: P2, position: [3 m, 2 m, 260 mm]}
      - pipe: {length: 501 mm}
      - fitting: {name: P3, position: [3 m, 2.5 m, 250 mm]}
      - pipe: {direction: east}
      - at: W2
vents:
  - {size: DN 50, slope: vertical, path: [{at: B1}, {pipe: {length: 3 m}}, {terminal: {name: T, storey: roof, through: roof, height_above_roof: 300 mm, roof_use: occupied, nearest_opening: {distance: 4 m, above: -1 m}, lot_line_distance: 5 m, height_above_ground: 9 m, enlarged_to: DN 100, enlarged_inside: 300 mm}}]}
  - {kind: stack_vent, path: [{at: W2}, {pipe: {}}, {valve: {name: AV, kind: branch, height_above_drain: 4.6 m, height_above_rim: -20 mm, accessible: true, air_flow: 8 L/s, storey: 1, height: 2 m}}]}
  - {path: [{at: pit}, {pipe: {}}, {terminal: {name: 7, nearest_opening: none}}]}
tests:
  - {section: "drains: all", medium: water, head: 3 m, height: 2 m, duration: 15 min}
  - {section: "true", medium: smoke}
"##;

fn is_told_alike(network: &Network, read: &Network, is_edited: bool) {
    for rules in RULES.iter() {
        let told = |network| match check(network, rules) {
            Ok(report) => told(&report, is_edited),
            // Sizes that the rule set does not know are told by their places.
            Err(_) => Vec::new(),
        };
        let (one, other) = (told(network), told(read));
        let only = |one: &[String], other: &[String]| -> Vec<String> {
            let only = one.iter().filter(|line| !other.contains(line));
            only.take(5).cloned().collect()
        };
        let (only_one, only_other) = (only(&one, &other), only(&other, &one));
        assert!(
            one == other,
            "{} {}: {only_one:#?}\n{only_other:#?}",
            rules.name,
            network.name()
        );
    }
}

#[test]
fn what_was_read_is_written_as_the_same() {
    for network in NETWORKS.iter().chain(EXAMPLES.iter()) {
        let read = again(network, false).unwrap_or_else(|error| panic!("{error}"));
        is_told_alike(network, &read, false);
    }
}

#[test]
fn every_word_of_the_format_is_written() {
    let everything = network(EVERY_WORD);
    let mut written = vec![everything.to_yaml().expect("no fault")];
    is_told_alike(&everything, &again(&everything, false).expect("no fault"), false);
    written.extend(
        NETWORKS
            .iter()
            .map(|network| network.to_yaml().expect("no fault")),
    );
    // Each property in the schema of the format, save those of models and repetitions, what is derived of turns, and the
    // defaults of cleanouts and terminals, which stand with each of them.
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../../../schemas/network.json")).expect("a schema");
    let mut open = vec![&schema];
    let mut keys = BTreeSet::new();
    while let Some(value) = open.pop() {
        if let Some(properties) = value
            .get("properties")
            .and_then(|properties| properties.as_object())
        {
            keys.extend(properties.keys());
        }
        open.extend(value.as_object().into_iter().flat_map(|object| object.values()));
        open.extend(value.as_array().into_iter().flatten());
    }
    let is_written = |key: &str| {
        let keys = [
            format!("{{{key}: "),
            format!(", {key}: "),
            format!("\n{key}:"),
            format!("{key}: network/1"),
        ];
        let lines = [format!(" {key}: "), format!(" {key}:\n")];
        written
            .iter()
            .any(|text| keys.iter().chain(&lines).any(|key| text.contains(key)))
    };
    let missing: Vec<_> = keys.into_iter().filter(|key| !is_written(key)).collect();
    assert_eq!(
        missing,
        ["cleanouts", "model", "models", "numbers", "repeat", "terminals"],
        "{}",
        written.concat()
    );
}

/// A slope that was chosen is stated; what would be chosen among is no more.
#[test]
fn slopes_that_were_chosen_are_written() {
    let mut network = network(EVERY_WORD);
    let last = network.pipe_named("last").expect("the pipe");
    let slope = Slope::new(1, 80);
    assert!(network.set_slopes(&[(last, slope)]));
    let read = again(&network, true).unwrap_or_else(|error| panic!("{error}"));
    let last = read.pipe_named("last").expect("the pipe");
    assert_eq!(
        (read.graph()[last].slope, read.graph()[last].slope_bounds),
        (slope, None)
    );
}

/// What follows from other figures in a network follows in the one that is read of its text too, when it is edited.
#[test]
fn what_follows_still_follows_in_what_is_read() {
    let mut compared = 0;
    for network in NETWORKS
        .iter()
        .filter(|network| network.graph().edge_count() < 500)
    {
        let read = again(network, false).unwrap_or_else(|error| panic!("{error}"));
        for pipe in network.graph().edge_weights() {
            let longer = pipe
                .length
                .and_then(|length| length.checked_add(Length::from_nanometres(3_000_000)));
            let edit = Edit::Pipe {
                pipe: pipe.name.to_string(),
                set: PipeProperty::Length(longer),
            };
            let (mut one, mut other) = (network.clone(), read.clone());
            let edits = [edit];
            match (one.edit(&edits), other.edit(&edits)) {
                (Ok(_), Ok(_)) => {
                    assert_eq!(content(&one, false), content(&other, false));
                    compared += 1;
                }
                (Err(_), Err(_)) => {}
                (one, other) => panic!("{} {one:?} {other:?}", pipe.name),
            }
        }
    }
    assert!(compared > 100, "{compared}");
}

const PLACED: &str = "
crownweir: network/1
name: one place
drains: [{path: [{fitting: {name: A, position: [1 m, 2 m, 3 m]}}, {pipe: {}}, {disposal: {name: Z}}]}]
";

#[test]
fn what_no_file_can_state_is_told() {
    let told = |alter: fn(&mut Network)| {
        let mut network = network(EVERY_WORD);
        alter(&mut network);
        network.to_yaml().expect_err("no file states it").to_string()
    };
    assert_eq!(
        told(|network| set(network, "KS", NodeProperty::Elevation(Some(Length::METRE)))),
        "the height of `KS` is not above a floor: it is on no storey, or that of the floor is not known"
    );
    assert_eq!(
        told(|network| {
            *network = crownweir_tests::network(PLACED);
            set(network, "A", NodeProperty::Elevation(None));
        }),
        "the place of `A` in plan is known, and its height is not"
    );
    assert_eq!(
        told(|network| {
            let mut passages = network.passages().to_vec();
            passages.iter_mut().for_each(|passage| passage.number += 1);
            network.set_passages(passages);
        }),
        "what is said of the passages of `S1 to B1` would be read otherwise or refused"
    );
    assert_eq!(
        told(|network| {
            let mut tests = network.tests().to_vec();
            tests
                .iter_mut()
                .for_each(|test| test.head = Some(Length::from_nanometres(-1)));
            network.set_tests(tests);
        }),
        "what is said of the test of `drains: all` would be refused\nwhat is said of the test of `true` would be refused"
    );
}

fn set(network: &mut Network, node: &str, set: NodeProperty) {
    let node = node.to_owned();
    network.edit(&[Edit::Node { node, set }]).expect("it is made");
}

/// A network of which everything that has a name is called so.
fn called(name: &str) -> String {
    let quoted = |rest: &str| serde_json::to_string(&format!("{name}{rest}")).expect("text");
    let [plain, one, two, three, four] = ["", "1", "2", "3", "4"].map(quoted);
    format!(
        "{{\"crownweir\": \"network/1\", \"name\": {plain}, \"rules\": {plain}, \"framing_rules\": {plain}, \"dimensions\": [{plain}, {one}],
  \"storeys\": [{{\"storey\": {plain}}}, {{\"storey\": {one}}}], \"framing\": [{{\"framing\": {plain}, \"kind\": \"joist\", \"storey\": {one}}}],
  \"drains\": [{{\"run\": {one}, \"storey\": {plain}, \"path\": [
    {{\"fixture\": {{\"name\": {plain}, \"type\": \"lavatory\", \"group\": {plain}}}}}, {{\"pipe\": {{\"name\": {plain}, \"passes\": [{{\"framing\": {plain}}}]}}}},
    {{\"fitting\": {{\"name\": {one}}}}}, {{\"pipe\": {{}}}}, {{\"disposal\": {{\"name\": {two}, \"storey\": {one}}}}}]}}],
  \"vents\": [{{\"path\": [{{\"at\": {one}}}, {{\"pipe\": {{\"name\": {two}}}}}, {{\"valve\": {{\"name\": {three}}}}}]}},
    {{\"path\": [{{\"at\": {one}}}, {{\"pipe\": {{}}}}, {{\"terminal\": {{\"name\": {four}}}}}]}}],
  \"tests\": [{{\"section\": {plain}, \"medium\": \"water\"}}]}}"
    )
}

fn is_called(name: &str) {
    let network = network(&called(name));
    let read = again(&network, false).unwrap_or_else(|error| panic!("{name:?} {error}"));
    assert!(
        read.node_named(name).is_some() && read.pipe_named(name).is_some(),
        "{name:?}"
    );
}

#[test]
fn names_are_written_as_they_are() {
    for name in [
        "null",
        "true",
        "no",
        "~",
        "1",
        "-1",
        "1.0",
        ".5",
        "1e3",
        "0x1F",
        "12:30",
        "2026-11-27",
        "open",
        "none",
        "vertical",
        " leading",
        "trailing ",
        "a: b",
        "a #b",
        "#a",
        "- a",
        "-",
        "? a",
        "a:",
        ":a",
        "*a",
        "&a",
        "!a",
        "|",
        ">",
        "%a",
        "@a",
        "`a`",
        "'a'",
        "\"a\"",
        "\\",
        "\\u0041",
        "a\\n",
        "{a}",
        "[a]",
        "a, b",
        "{storey}",
        "{number}",
        "a to b",
        " to ",
        "<<",
        "=",
        "---",
        "...",
        "\u{fe0f}",
        "Küche",
        "台所",
        "a\u{2028}b",
        "a\u{2029}b",
        "\u{feff}a",
        "a\u{feff}",
        "\u{fffe}",
        "\u{ffff}",
        "\u{10ffff}",
        "a\u{a0}",
        "\u{200b}x",
        "a\u{202e}b",
        "e\u{301}",
    ] {
        is_called(name);
    }
    is_called(&"x".repeat(199));
    is_called(&"\u{1f6bf}".repeat(49));
}

/// Whether a fault is one that these edits can bring about: a height on no storey, or a place in plan without one.
fn is_expected(error: &WriteError) -> bool {
    let is_expected =
        |fault: &WriteFault| matches!(fault, WriteFault::Height { .. } | WriteFault::Place { .. });
    error.faults.iter().all(is_expected)
}

/// Edits one after the other; what they make is written and read after each.
fn go(network: &Network, steps: &[Step]) {
    let mut network = network.clone();
    for (count, step) in steps.iter().enumerate() {
        if network.graph().edge_count() == 0 {
            return;
        }
        if network.edit(&edits(&network, step, count)).is_err() {
            continue;
        }
        let names = |network: &Network| {
            let runs = network
                .graph()
                .edge_weights()
                .filter_map(|pipe| network.run(pipe.run));
            runs.map(|run| run.name.clone()).collect::<BTreeSet<_>>()
        };
        match again(&network, true) {
            // What is told of a run has its name, which may have a number behind it.
            Ok(read) if count + 1 == steps.len() && names(&network) == names(&read) => {
                // Of a stack that divides, what is told hangs on how nodes are numbered: as they flow, when it is built anew.
                let (run, kind) = network
                    .runs()
                    .next()
                    .map(|(id, run)| (id, run.kind))
                    .expect("a run");
                network
                    .edit(&[Edit::RunKind { run, kind }])
                    .expect("nothing is altered");
                if content(&network, true) == content(&read, true) {
                    is_told_alike(&network, &read, true);
                }
            }
            Ok(_) => {}
            Err(error) => assert!(is_expected(&error), "{error}"),
        }
    }
}

proptest! {
    #[test]
    fn any_name_is_written_as_it_is(name in "\\PC{1,40}") {
        if !name.trim().is_empty() {
            is_called(&name);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, max_shrink_iters: 400, ..ProptestConfig::default() })]

    #[test]
    fn what_was_edited_is_written_as_the_same(network in any::<Index>(), steps in steps()) {
        go(&NETWORKS[network.index(NETWORKS.len())], &steps);
    }

    #[test]
    fn what_was_edited_in_a_worked_example_is_written_as_the_same(network in any::<Index>(), steps in steps()) {
        go(&EXAMPLES[network.index(EXAMPLES.len())], &steps);
    }
}
