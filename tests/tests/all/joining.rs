//! Pipe that is longer than the stock it is cut from: its pieces, their couplings, and what hangs on them.

use crownweir::quantity::Length;
use crownweir::shop::{Cell, Cut, Dimensions, Job, Practice, Sheet, SheetKind};
use crownweir::{Limits, Measured, Network};
use crownweir_tests::{network, rules};

use super::cuts::{dimensions, drain};

fn length(text: &str) -> Length {
    text.parse().unwrap_or_else(|error| panic!("{text}: {error}"))
}

const BEND: &str = "{pattern: quarter_bend, size: 2 in, centre_to_stop: 2-5/16 in}";
const COUPLING: &str = ", {pattern: coupling, size: 2 in, centre_to_stop: 1/16 in}";

/// A drain of 2 in PVC from one bend to another.
fn long(length: &str) -> Network {
    drain(&format!(
        "{{fitting: {{name: A, pattern: quarter_bend}}}}, {{pipe: {{name: long, length: {length}}}}}, \
         {{fitting: {{name: B, pattern: quarter_bend}}}}, {{pipe: {{name: drop, slope: vertical, length: 3 ft}}}}"
    ))
}

/// Marks and cuts of the pieces of a pipe by name.
fn pieces(network: &Network, dimensions: &Dimensions, pipe: &str) -> Vec<(String, Cut)> {
    let pipe = network.pipe_named(pipe).expect("a pipe");
    let job = Job::new(network, dimensions);
    let own = job.pieces().iter().filter(|piece| piece.pipe == pipe);
    own.map(|piece| (piece.mark.clone(), piece.cut.clone())).collect()
}

fn cut_to(lengths: &[&str]) -> Vec<(String, Cut)> {
    let marks = (1..).map(|number| format!("D1-{number}"));
    marks
        .zip(lengths.iter().map(|text| Cut::To(length(text))))
        .collect()
}

/// By hand: 25 ft less 2-5/16 in at each bend is 295-3/8 in of pipe, more than two lengths of 10 ft; two couplings take 1/8 in
/// each between the ends in them, which leaves 120, 120 and 55-1/8 in. A pipe of 10 ft and the bends is one piece.
#[test]
fn pipe_longer_than_its_stock_is_joined_of_the_fewest_pieces() {
    let dimensions = dimensions(&format!("{BEND}{COUPLING}"));
    let network = long("25 ft");
    assert_eq!(
        pieces(&network, &dimensions, "long"),
        cut_to(&["10 ft", "10 ft", "4 ft 7-1/8 in"])
    );
    let whole = [("D1".to_owned(), Cut::To(length("10 ft")))];
    assert_eq!(pieces(&long("124-5/8 in"), &dimensions, "long"), whole);
    // A sixteenth more takes a coupling, and its second piece is as long as both joints hold at the least: 3/4 in each.
    let (first, last) = ("9 ft 10-7/16 in", "1-1/2 in");
    assert_eq!(
        pieces(&long("124-11/16 in"), &dimensions, "long"),
        cut_to(&[first, last])
    );
}

/// By hand: the first coupling would stand 2-5/16 + 120 + 1/16 = 122-3/8 in along, and reaches 13/16 in either way. A stud of
/// 1-1/2 in at 122-1/2 in leaves it 120-15/16 in, the piece 118-9/16 in; one more at 120 in then takes that, and leaves it
/// 118-7/16 in, the piece 116-1/16 in.
#[test]
fn couplings_stand_clear_of_the_wood_that_the_pipe_passes() {
    let dimensions = dimensions(&format!("{BEND}{COUPLING}"));
    let through = |passes: &str| {
        network(&format!(
            "crownweir: network/1
name: n
framing: [{{framing: studs, kind: stud, make: sawn, depth: 5-1/2 in, thickness: 1-1/2 in, spacing: 16 in}}]
drains:
  - size: 2 in
    material: pvc
    slope: level
    path:
      - fitting: {{name: A, pattern: quarter_bend}}
      - pipe: {{name: long, length: 15 ft, passes: [{passes}]}}
      - fitting: {{name: B, pattern: quarter_bend}}
      - pipe: {{slope: vertical, length: 3 ft}}
      - disposal: {{name: Z}}
"
        ))
    };
    let one = "{framing: studs, first: 122-1/2 in}";
    // 180 in less 4-5/8 in less 1/8 in less the first.
    assert_eq!(
        pieces(&through(one), &dimensions, "long"),
        cut_to(&["118-9/16 in", "56-11/16 in"])
    );
    let two = "{framing: studs, first: 120 in}, {framing: studs, first: 122-1/2 in}";
    assert_eq!(
        pieces(&through(two), &dimensions, "long"),
        cut_to(&["116-1/16 in", "59-3/16 in"])
    );
}

#[test]
fn what_a_coupling_takes_is_named_where_it_is_not_known() {
    let dimensions = dimensions(BEND);
    let missing = Cut::NotStated(vec!["dimensions of a 2 in pvc coupling".to_owned()]);
    let found = pieces(&long("15 ft"), &dimensions, "long");
    assert_eq!(
        found,
        [("D1-1".to_owned(), missing.clone()), ("D1-2".to_owned(), missing)]
    );
    let network = long("15 ft");
    let form = crownweir::shop::form(&Job::new(&network, &dimensions)).expect("a form");
    assert!(
        form.contains("{pattern: coupling, size: 2 in, centre_to_stop: ~}"),
        "{form}"
    );
}

fn sheet(network: &Network, dimensions: &Dimensions, name: &str) -> Sheet {
    let practice = Practice::published().unwrap_or_else(|problems| panic!("{problems}"));
    let rules = rules("ipc-2021");
    let job = Job::new(network, dimensions)
        .with_practice(&practice)
        .with_plumbing(Measured::new(network, &rules).expect("known sizes"));
    SheetKind::named(name).expect("a sheet").sheet(&job)
}

/// By hand: three pieces and the drop are four, with eight ends in sockets and two couplings; 120, 120, 55-1/8 and the drop of
/// 33-11/16 in come out of three lengths of 10 ft.
#[test]
fn cut_list_stock_and_counter_agree() {
    let dimensions = dimensions(&format!("{BEND}{COUPLING}"));
    let network = long("25 ft");
    let list = sheet(&network, &dimensions, "materials");
    let number = |item: &str| {
        let row = list.rows.iter().find(|row| row[3] == Cell::from(item));
        row.map(|row| row[4].clone())
    };
    assert_eq!(number("pipe, pieces"), Some(Cell::Count(4)));
    assert_eq!(number("coupling"), Some(Cell::Count(2)));
    let joints = "PVC cement (ASTM D2564): 8 joints, two to each piece of pipe";
    assert!(
        list.notes.iter().any(|note| note.starts_with(joints)),
        "{:?}",
        list.notes
    );
    let cuts = sheet(&network, &dimensions, "cuts");
    let ends: Vec<_> = cuts
        .rows
        .iter()
        .map(|row| (row[2].clone(), row[5].clone(), row[7].clone()))
        .collect();
    let row = |mark: &str, from: &str, to: &str| (Cell::from(mark), Cell::from(from), Cell::from(to));
    assert_eq!(
        ends,
        [
            row("D1-1", "A", "coupling"),
            row("D1-2", "coupling", "coupling"),
            row("D1-3", "coupling", "B"),
            row("D2", "B", "Z"),
        ]
    );
    let stock = sheet(&network, &dimensions, "stock");
    assert_eq!(stock.rows.len(), 3);
}

/// By hand: hubless pipe of 5 ft is joined with 1/8 in between: couplings at 3-1/8 (bend and gap) + 60 + 1/16 in, and 60-1/8 in
/// on from there. Held within 18 in of each, at the spacing of 5 ft, 4 in clear of them.
#[test]
fn hubless_pipe_that_lies_is_held_beside_its_couplings() {
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let network = network(
        "crownweir: network/1
name: n
drains:
  - size: 3 in
    material: cast_iron
    slope: 1/4 in/ft
    path:
      - fixture: {name: F, type: connected_load, load: 4 dfu}
      - pipe: {length: 2 ft}
      - fitting: {name: A, pattern: quarter_bend}
      - pipe: {name: long, length: 14 ft}
      - fitting: {name: B, pattern: quarter_bend}
      - pipe: {slope: vertical, length: 3 ft}
      - disposal: {name: Z}
",
    );
    let job = Job::new(&network, &dimensions);
    let pipe = network.pipe_named("long").expect("a pipe");
    let own = job.pieces().iter().filter(|piece| piece.pipe == pipe);
    let cuts: Vec<_> = own.map(|piece| piece.length()).collect();
    // 168 in less two bends of 5-1/8 in, less two gaps.
    let expected = ["5 ft", "5 ft", "37-1/2 in"].map(|text| Some(length(text)));
    assert_eq!(cuts, expected);
    let couplings = [length("65-3/16 in"), length("125-5/16 in")];
    let straps = sheet(&network, &dimensions, "straps");
    let along: Vec<Length> = straps
        .rows
        .iter()
        .filter(|row| row[2] == Cell::from("long"))
        .filter_map(|row| match &row[4] {
            Cell::Length(along) => Some(*along),
            _ => None,
        })
        .collect();
    for coupling in couplings {
        let off = |at: &Length| at.nanometres().abs_diff(coupling.nanometres());
        let nearest = along.iter().map(off).min().expect("a strap");
        assert!(
            nearest <= length("18 in").nanometres().unsigned_abs(),
            "{along:?}"
        );
        assert!(nearest >= length("4 in").nanometres().unsigned_abs(), "{along:?}");
    }
}

/// What its bends take is not known, and so 25 ft of pipe is not cut; whatever they take, it is three pieces of stock of 10 ft
/// with two couplings. By hand with the drop four pieces, eight joints.
#[test]
fn pipe_longer_than_stock_is_counted_with_couplings_before_it_can_be_cut() {
    let dimensions = dimensions(COUPLING.trim_start_matches(", "));
    let list = sheet(&long("25 ft"), &dimensions, "materials");
    let number = |item: &str| {
        let row = list.rows.iter().find(|row| row[3] == Cell::from(item));
        row.map(|row| row[4].clone())
    };
    assert_eq!(number("pipe, pieces"), Some(Cell::Count(4)));
    assert_eq!(number("coupling"), Some(Cell::Count(2)));
    let joints = "PVC cement (ASTM D2564): 8 joints, two to each piece of pipe";
    assert!(
        list.notes.iter().any(|note| note.starts_with(joints)),
        "{:?}",
        list.notes
    );
    let said = "`long` is longer than stock of 10 ft: its 3 pieces, the couplings between them and their joints are counted by its \
                length from centre to centre, for what its ends take is not known.";
    assert!(list.notes.iter().any(|note| note == said), "{:?}", list.notes);
    // Of one length of stock nothing is said.
    let short = sheet(&long("10 ft"), &dimensions, "materials");
    assert!(!short.notes.iter().any(|note| note.contains("longer than stock")));
}

/// A pipe that no building holds, in millions of pieces, is not cut.
#[test]
fn a_pipe_of_more_pieces_than_any_building_has_is_not_cut() {
    let dimensions = dimensions(&format!("{BEND}{COUPLING}"));
    let missing = "`long`: stock long enough to join it of fewer pieces".to_owned();
    assert_eq!(
        pieces(&long("100000000 ft"), &dimensions, "long"),
        [("D1".to_owned(), Cut::NotStated(vec![missing]))]
    );
}

/// Nobody guesses how long a length of pipe is.
#[test]
fn pipe_of_unstated_stock_is_not_joined_and_the_cut_list_says_so() {
    let text = format!(
        "crownweir: dimensions/1
title: of a test
pipes: [{{standard: none, materials: [pvc], cite: {{basis: invented}}, rows: [{{size: 2 in, outside: 2.375 in, inside: 2 in}}]}}]
fittings: [{{standard: none, materials: [pvc], cite: {{basis: maker}}, joints: [{{size: 2 in, engagement: 3/4 in}}], rows: [{BEND}]}}]
"
    );
    let dimensions = Dimensions::read("dimensions.yaml", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"));
    let network = long("25 ft");
    assert_eq!(
        pieces(&network, &dimensions, "long"),
        [("D1".to_owned(), Cut::To(length("295-3/8 in")))]
    );
    let cuts = sheet(&network, &dimensions, "cuts");
    let said = "2 in PVC: the lengths in which it is sold are not stated, and so no pipe of it is joined of several pieces.";
    assert!(cuts.notes.iter().any(|note| note == said), "{:?}", cuts.notes);
}
