//! The cut list: lengths against published examples, pieces laid end to end, stock cut with little waste.

use crownweir::quantity::Length;
use crownweir::shop::{self, Cell, Cut, Dimensions, End, Job, MOST_STEPS, Piece, Practice, SheetKind, pack};
use crownweir::{Limits, Measured, Network};
use crownweir_tests::{network, network_text, rules};
use proptest::prelude::*;

fn length(text: &str) -> Length {
    text.parse().unwrap_or_else(|error| panic!("{error}"))
}

/// Dimensions of fittings for 2 in pipe, engaged 3/4 in, as lines of YAML.
pub(super) fn dimensions(rows: &str) -> Dimensions {
    let text = format!(
        "crownweir: dimensions/1
title: of a test
pipes:
  - {{standard: none, materials: [pvc], cite: {{basis: invented}}, stock: [10 ft], rows: [{{size: 2 in, outside: 2.375 in, inside: 2 in}}]}}
fittings:
  - standard: none
    materials: [pvc]
    cite: {{basis: maker}}
    joints: [{{size: 2 in, engagement: 3/4 in}}]
    rows: [{rows}]
"
    );
    Dimensions::read("dimensions.yaml", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

/// A level drain of 2 in pipe in inches, ending at the sewer.
pub(super) fn drain(steps: &str) -> Network {
    network(&format!(
        "crownweir: network/1
name: n
drains:
  - {{size: 2 in, material: pvc, slope: level, direction: east, path: [{steps}, {{disposal: {{name: Z, position: [0 in, 0 in, 0 in]}}}}]}}
"
    ))
}

fn pieces(network: &Network, dimensions: &Dimensions) -> Vec<Piece> {
    Job::new(network, dimensions).pieces().to_vec()
}

/// The cut of a pipe by name.
#[track_caller]
fn cut(network: &Network, dimensions: &Dimensions, pipe: &str) -> Cut {
    let pipe = network.pipe_named(pipe).expect("a pipe");
    let pieces = pieces(network, dimensions);
    pieces
        .into_iter()
        .find(|piece| piece.pipe == pipe)
        .expect("a piece")
        .cut
}

// Modern Plumbing (2015), page 327, and (2022), page 342: 2 in pipe between fittings whose faces are 4 ft 6 in apart,
// engaged 3/4 in at each end, is cut 4 ft 7-1/2 in. Whatever the fittings, a face stands the engagement before the stop.
#[test]
fn face_to_face_and_both_engagements() {
    for face in ["2 in", "3-1/8 in"] {
        let stop = length(face).checked_sub(length("3/4 in")).expect("a length");
        let centres = length("4 ft 6 in")
            .checked_add(length(face))
            .and_then(|sum| sum.checked_add(length(face)));
        let network = drain(&format!(
            "{{fitting: {{name: A}}}}, {{pipe: {{length: 3 ft}}}}, {{fitting: {{name: B, pattern: coupling}}}}, \
             {{pipe: {{name: measured, length: {}}}}}, {{fitting: {{name: C, pattern: coupling}}}}, {{pipe: {{length: 3 ft}}}}",
            centres.expect("a length")
        ));
        let dimensions = dimensions(&format!(
            "{{pattern: coupling, size: 2 in, centre_to_stop: {stop}}}"
        ));
        assert_eq!(
            cut(&network, &dimensions, "measured"),
            Cut::To(length("4 ft 7-1/2 in"))
        );
    }
}

// Modern Plumbing (2022), page 339: a 3 in closet line, 16 in from the flange's centre to the face of the tee, an ell
// with a laying length of 3 in at one end, engaged 1-1/2 in at the tee: cut 14-1/2 in.
#[test]
fn centre_to_face_less_one_and_more_one() {
    let text = "crownweir: dimensions/1
title: of a test
fittings:
  - standard: none
    materials: [pvc]
    cite: {basis: maker}
    joints: [{size: 3 in, engagement: 1-1/2 in}]
    rows:
      - {pattern: quarter_bend, size: 3 in, centre_to_stop: 3 in}
      # Its face is 4 in from its centre.
      - {pattern: sanitary_tee, size: 3 in, centre_to_stop: 2-1/2 in}
";
    let dimensions = Dimensions::read("dimensions.yaml", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"));
    let network = network(
        "crownweir: network/1
name: n
drains:
  - size: 3 in
    material: pvc
    slope: level
    direction: east
    path:
      - fitting: {name: flange}
      - pipe: {slope: vertical, length: 1 ft}
      - fitting: {name: ell, pattern: quarter_bend}
      - pipe: {name: closet line, length: 20 in}
      - fitting: {name: tee, pattern: sanitary_tee}
      - pipe: {slope: vertical, length: 4 ft}
      - disposal: {name: Z}
",
    );
    assert_eq!(
        cut(&network, &dimensions, "closet line"),
        Cut::To(length("14-1/2 in"))
    );
}

// Modern Plumbing (2015), page 319: a stub-out 14 in above the finished floor, the floor 3/4 in thick, is marked 14-3/4 in
// above the subfloor; then the laying length of the bend comes off.
#[test]
fn a_stub_out_is_cut_from_the_subfloor() {
    let network = drain(
        "{fitting: {name: A}}, {pipe: {length: 1 ft}}, {fitting: {name: bend, pattern: quarter_bend}}, \
         {pipe: {name: riser, slope: vertical, length: 14-3/4 in}}",
    );
    let dimensions = dimensions("{pattern: quarter_bend, size: 2 in, centre_to_stop: 2-5/16 in}");
    assert_eq!(cut(&network, &dimensions, "riser"), Cut::To(length("12-7/16 in")));
}

/// The travel of an offset by two bends of 45 degrees, and its cut where each bend takes so much.
fn offset_of_45(offset: &str, takes: &str) -> (f64, Cut) {
    let network = drain(&format!(
        "{{fitting: {{name: A}}}}, {{pipe: {{length: 3 ft}}}}, {{fitting: {{name: B, pattern: eighth_bend}}}}, \
         {{pipe: {{name: travel, offset: {{{offset}}}}}}}, {{fitting: {{name: C, pattern: eighth_bend}}}}, {{pipe: {{length: 3 ft}}}}"
    ));
    let pipe = &network.graph()[network.pipe_named("travel").expect("a pipe")];
    let travel = pipe.length.expect("a length").as_inches_f64();
    let dimensions = dimensions(&format!(
        "{{pattern: eighth_bend, size: 2 in, centre_to_stop: {takes}}}"
    ));
    (travel, cut(&network, &dimensions, "travel"))
}

// Elements of Plumbing, Measurements: a 45 degree offset of 12 in has a travel of 16.92 in by the constant 1.41; a public
// discussion takes 1 in at each end off it: 14.92. By the root of two it is 16.97, and 14.97 to the nearest 1/16 is 15.
#[test]
fn an_offset_less_both_take_offs() {
    let (travel, cut) = offset_of_45("set: 12 in", "1 in");
    assert!((travel - 16.97).abs() < 0.005, "{travel}");
    assert!((travel - 12.0 * 1.41).abs() < 0.06);
    assert_eq!(cut, Cut::To(length("15 in")));
}

// Modern Plumbing, slides of chapter 4: offsets of 30, 18 and 33 in by 45 degree fittings travel 42-7/16, 25-7/16 and
// 46-11/16 in. For 15 in the slides print 22-1/4 in, which is wrong: 15 x 1.414 is 21.21, 21-3/16 to the nearest 1/16.
#[test]
fn offsets_on_a_tape() {
    for (set, travel) in [
        ("30 in", "42-7/16 in"),
        ("18 in", "25-7/16 in"),
        ("33 in", "46-11/16 in"),
        ("15 in", "21-3/16 in"),
    ] {
        let (_, cut) = offset_of_45(&format!("set: {set}"), "0 in");
        assert_eq!(cut, Cut::To(length(travel)), "{set}");
    }
}

// An apprentices' page on rolling offsets, January 2011: rise 30-5/8, roll 17-5/8, 45 degree fittings that take 3 in each:
// true offset 35-3/8, travel 50. The page prints 46 in from end to end, which is wrong: 50 - 6 = 44.
#[test]
fn a_rolling_offset_less_both_take_offs() {
    let (travel, cut) = offset_of_45("set: 30-5/8 in, left: 17-5/8 in", "3 in");
    assert!((travel - 49.97).abs() < 0.005, "{travel}");
    assert_eq!(cut, Cut::To(length("44 in")));
}

// Modern Plumbing (2022), page 339: a bathtub's run of 9-1/2 ft at 1/4 in a foot falls 2-3/8 in; begun 1 in below the
// joists it ends 3-3/8 in below them.
#[test]
fn a_fall_below_the_joists() {
    let network = network(
        "crownweir: network/1
name: n
storeys: [{storey: a, height: 9 ft}]
drains:
  - {size: 2 in, material: pvc, slope: 1/4 in/ft, storey: a, path: [{fitting: {name: A, height: -1 in}}, {pipe: {length: 9 ft 6 in}}, {disposal: {name: Z}}]}
",
    );
    let end = network.graph()[network.disposal()].elevation;
    assert_eq!(end, Length::ZERO.checked_sub(length("3-3/8 in")));
}

#[test]
fn what_a_piece_lacks_is_named_and_it_is_not_cut() {
    let network = drain(
        "{fitting: {name: A}}, {pipe: {name: one, length: 3 ft}}, {fitting: {name: B, pattern: long_sweep}}, \
         {pipe: {name: two, length: 3 ft, direction: north}}, {cleanout: {name: C}}, {pipe: {name: three}}",
    );
    let dimensions = dimensions("{pattern: long_sweep, size: 2 in, outlet: 3 in}");
    let missing = |pipe: &str| match cut(&network, &dimensions, pipe) {
        Cut::NotStated(missing) => missing,
        other => panic!("{other:?}"),
    };
    assert_eq!(
        missing("one"),
        ["`A`: its pattern", "the centre-to-stop of a 2 in pvc long sweep"]
    );
    assert_eq!(missing("two"), ["dimensions of a 2 in pvc cleanout"]);
    assert_eq!(
        missing("three"),
        ["`three`: its length", "dimensions of a 2 in pvc cleanout"]
    );
}

/// A wye of 2 in whose branch is 2 in takes 2-1/2 in at its inlet and 7/8 in at its outlet; with a branch of 1-1/2 in, 2-1/4
/// in and 3/4 in. By hand, the coupling taking 1/16 in: 36 - 1/16 - 2-1/2 and 36 - 7/8, or 36 - 1/16 - 2-1/4 and 36 - 3/4.
/// Which of them it is no one knows while the pipe in its branch has no size; without a pipe it is as wide as the others.
#[test]
fn a_fitting_with_a_pipe_of_unknown_size_is_not_cut_to() {
    let dimensions = dimensions(
        "{pattern: coupling, size: 2 in, centre_to_stop: 1/16 in}, \
         {pattern: wye, size: 2 in, outlet: 7/8 in, inlet: 2-1/2 in, branch: 2-3/4 in}, \
         {pattern: wye, size: [2 in, 2 in, 1-1/2 in], outlet: 3/4 in, inlet: 2-1/4 in, branch: 2-1/2 in}",
    );
    let cuts = |[size, arm]: [&str; 2]| {
        let branch = format!(
            "  - {{size: {arm}, material: pvc, slope: level, direction: south-east, path: [{{fitting: {{name: B}}}}, {{pipe: {{name: arm, length: 2 ft}}}}, {{at: W}}]}}\n"
        );
        let network = network(&format!(
            "crownweir: network/1
name: n
drains:
  - size: {size}
    material: pvc
    slope: level
    direction: east
    path: [{{fitting: {{name: A, pattern: coupling}}}}, {{pipe: {{name: one, size: 2 in, length: 3 ft}}}}, {{fitting: {{name: W, pattern: wye}}}}, {{pipe: {{name: two, length: 3 ft}}}}, {{disposal: {{name: Z}}}}]
{}",
            if arm.is_empty() { "" } else { &branch }
        ));
        ["one", "two"].map(|pipe| cut(&network, &dimensions, pipe))
    };
    let to = |cuts: [&str; 2]| cuts.map(|own| Cut::To(length(own)));
    let missing =
        |what: &str| Cut::NotStated(vec![format!("`W`: the size of `{what}`, which is joined to it")]);
    assert_eq!(cuts(["2 in", "2 in"]), to(["33-7/16 in", "35-1/8 in"]));
    assert_eq!(cuts(["2 in", ""]), to(["33-7/16 in", "35-1/8 in"]));
    assert_eq!(cuts(["2 in", "1-1/2 in"]), to(["33-11/16 in", "35-1/4 in"]));
    assert_eq!(cuts(["2 in", "open"]), [missing("arm"), missing("arm")]);
    let [one, _] = cuts(["open", "1-1/2 in"]);
    assert_eq!(one, missing("two"));
}

#[test]
fn no_fitting_joins_more_pipes_than_it_has_openings() {
    let mut text = String::from(
        "crownweir: network/1\nname: n\ndrains:\n  - {size: 2 in, material: pvc, slope: level, path: [{fitting: {name: A, pattern: double_wye}}, {pipe: {name: out, length: 3 ft}}, {disposal: {name: Z}}]}\n",
    );
    for number in 0..4 {
        text.push_str(&format!("  - {{size: 2 in, material: pvc, slope: level, path: [{{fitting: {{name: B{number}}}}}, {{pipe: {{length: 3 ft}}}}, {{at: A}}]}}\n"));
    }
    let dimensions = dimensions("{pattern: double_wye, size: 2 in, centre_to_stop: 3 in}");
    let missing = "`A`: of which fittings it is made, for more than 4 pipes".to_owned();
    assert_eq!(
        cut(&network(&text), &dimensions, "out"),
        Cut::NotStated(vec![missing])
    );
}

#[test]
fn fittings_that_are_too_close_are_told() {
    let between = |centres: &str| {
        let network = drain(&format!(
            "{{fitting: {{name: A}}}}, {{pipe: {{length: 3 ft}}}}, {{fitting: {{name: B, pattern: quarter_bend}}}}, \
             {{pipe: {{name: short, length: {centres}, direction: north}}}}, {{fitting: {{name: C, pattern: quarter_bend}}}}, \
             {{pipe: {{length: 3 ft, direction: east}}}}"
        ));
        let dimensions = dimensions("{pattern: quarter_bend, size: 2 in, centre_to_stop: 2-5/16 in}");
        let pipe = network.pipe_named("short").expect("a pipe");
        let pieces = pieces(&network, &dimensions);
        let piece = pieces
            .into_iter()
            .find(|piece| piece.pipe == pipe)
            .expect("a piece");
        (piece.cut, piece.remarks.join("; "))
    };
    // Each bend takes 2-5/16 in and holds 3/4 in of pipe: under 6-1/8 in they would go into each other, and a coupling
    // of 1-1/2 in goes between them from 7-5/8 in on.
    assert_eq!(between("6 in"), (Cut::NoRoom(length("6-1/8 in")), String::new()));
    assert_eq!(
        between("7-1/2 in"),
        (
            Cut::To(length("2-7/8 in")),
            "1-3/8 in clear: too close for a repair coupling of 1-1/2 in".to_owned()
        )
    );
    assert_eq!(between("7-5/8 in"), (Cut::To(length("3 in")), String::new()));
}

#[test]
fn a_coupling_that_one_longer_piece_makes_needless_is_told() {
    let joined = |first: &str| {
        let network = drain(&format!(
            "{{fitting: {{name: A, pattern: coupling}}}}, {{pipe: {{name: first, length: {first}}}}}, \
             {{fitting: {{name: B, pattern: coupling}}}}, {{pipe: {{length: 4 ft}}}}"
        ));
        let dimensions = dimensions("{pattern: coupling, size: 2 in, centre_to_stop: 1/16 in}");
        let pipe = network.pipe_named("first").expect("a pipe");
        let pieces = pieces(&network, &dimensions);
        pieces
            .into_iter()
            .find(|piece| piece.pipe == pipe)
            .expect("a piece")
            .remarks
    };
    // The stock is 10 ft long.
    assert_eq!(
        joined("5 ft"),
        ["one piece of 8 ft 11-15/16 in would do for this and D2 (2 in), without the coupling"]
    );
    assert_eq!(joined("6 ft 1 in"), [""; 0]);
}

#[test]
fn a_closet_s_own_outlet_is_no_piece() {
    let network = network(&network_text("larch-terrace.yaml"));
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let pieces = pieces(&network, &dimensions);
    assert_eq!(pieces.len() + 1, network.graph().edge_count());
    let outlet = network.pipe_named("closet to flange").expect("a pipe");
    assert!(pieces.iter().all(|piece| piece.pipe != outlet));
}

#[test]
fn faulty_dimensions_are_told_at_their_place() {
    let problems = |from: &str, to: &str| {
        let good = "crownweir: dimensions/1
title: good
sizes: [[2 in, DN 50]]
pipes:
  - {standard: s, materials: [pvc], cite: {document: d, basis: published}, stock: [10 ft], rows: [{size: 2 in, outside: 2.375 in, inside: 2 in}]}
fittings:
  - standard: s
    materials: [pvc]
    cite: {basis: maker}
    joints: [{size: 2 in, engagement: 3/4 in}]
    rows:
      - {pattern: wye, size: [2 in, 2 in, 1-1/2 in], outlet: 1 in, inlet: 2 in, branch: 2 in}
";
        assert_eq!(good.matches(from).count(), 1, "{from}");
        let text = good.replace(from, to);
        let read = Dimensions::read("d.yaml", text.as_bytes(), &Limits::default());
        read.err()
            .map(|problems| problems.to_string())
            .unwrap_or_default()
    };
    assert_eq!(problems("title: good", "title: good"), "");
    for (from, to, said) in [
        ("title: good", "titel: good", "d.yaml:2:1: `titel` is not a key"),
        (
            "inside: 2 in",
            "inside: 2.5 in",
            "d.yaml:5:99: the inside diameter 2-1/2 in is not between",
        ),
        (
            "{document: d, basis: published}",
            "{basis: published}",
            "has a document that it was read in",
        ),
        ("stock: [10 ft]", "stock: [0 in]", "sold in lengths above zero"),
        (
            "pattern: wye",
            "pattern: coupling",
            "d.yaml:12:9: the pattern coupling has no branch",
        ),
        (
            "pattern: wye",
            "pattern: wy",
            "`wy` is not the name of a fitting pattern",
        ),
        (
            "[2 in, 2 in, 1-1/2 in]",
            "[2 in, 1-1/2 in]",
            "has a branch, whose size is left out",
        ),
        ("[2 in, 2 in, 1-1/2 in]", "[2 in]", "a list"),
        (
            "engagement: 3/4 in",
            "engagement: 3/4 in, gap: 1/8 in",
            "goes into a fitting or is butted",
        ),
        (
            "engagement: 3/4 in}",
            "engagement: 3/4 in}, {size: DN 50, engagement: 1 in}",
            "a second line for the joints",
        ),
        ("engagement: 3/4 in", "engagement: 3/4", "`3/4` has no unit"),
        (
            "[[2 in, DN 50]]",
            "[[2 in, DN 50], [3 in, DN 50]]",
            "among the names of two sizes",
        ),
        (
            "dimensions/1",
            "network/1",
            "this is a file of the format `network/1`",
        ),
    ] {
        let told = problems(from, to);
        assert!(told.contains(said), "{to}: {told}");
    }
}

#[test]
fn a_user_s_figures_go_before_those_that_come_with_the_program() {
    let own = "crownweir: dimensions/1
title: my own
fittings:
  - {standard: s, materials: [pvc], cite: {basis: maker}, rows: [{pattern: quarter_bend, size: DN 50, centre_to_stop: 2 in}]}
";
    let network = drain(
        "{fitting: {name: A, pattern: quarter_bend}}, {pipe: {name: one, length: 3 ft}}, \
         {fitting: {name: B, pattern: quarter_bend}}, {pipe: {length: 3 ft, direction: north}}",
    );
    let published = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(cut(&network, &published, "one"), Cut::To(length("31-3/8 in")));
    let over = published.with("own.yaml", own.as_bytes(), &Limits::default());
    let over = over.unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(cut(&network, &over, "one"), Cut::To(length("32 in")));
    assert_eq!(over.titles().first().map(String::as_str), Some("my own"));
}

#[test]
fn the_demonstration_buildings_are_cut_whole() {
    let own = concat!(env!("CARGO_MANIFEST_DIR"), "/dimensions/demonstration.yaml");
    let own = std::fs::read(own).expect("the file");
    let dimensions = Dimensions::published()
        .and_then(|base| base.with("demonstration.yaml", &own, &Limits::default()))
        .unwrap_or_else(|problems| panic!("{problems}"));
    for name in ["heron-point.yaml", "larch-terrace.yaml"] {
        let network = network(&network_text(name));
        let practice = Practice::published().unwrap_or_else(|problems| panic!("{problems}"));
        let (plumbing, framing) = (rules("ipc-2021"), rules("framing-irc-2021"));
        let planned = shop::with_plates(&network, &framing).expect("known sizes");
        let job = Job::new(&network, &dimensions)
            .with_practice(&practice)
            .with_plumbing(Measured::new(&network, &plumbing).expect("known sizes"))
            .with_framing(Measured::new(&planned, &framing).expect("known sizes"));
        let uncut: Vec<_> = job
            .pieces()
            .iter()
            .filter(|piece| piece.length().is_none())
            .collect();
        assert!(uncut.is_empty(), "{name}: {uncut:?}");
        for kind in shop::SheetKind::ALL {
            let sheet = kind.sheet(&job);
            // The boathouse alone has an offset.
            let none = kind.name == "offsets" && name.starts_with("larch");
            assert_eq!(sheet.rows.is_empty(), none, "{name}: {}", kind.name);
            for row in &sheet.rows {
                assert_eq!(row.len(), sheet.columns.len(), "{name}: {}", kind.name);
                let missing = row.iter().find(|cell| matches!(cell, Cell::NotStated(_)));
                assert_eq!(missing, None, "{name}: {}", kind.name);
            }
        }
        // Every piece is cut out of some length of stock, and once.
        let stock = SheetKind::named("stock").expect("the sheet").sheet(&job);
        let listed = stock.rows.iter().filter_map(|row| match &row[4] {
            Cell::List(pieces) => Some(
                pieces
                    .iter()
                    .map(|piece| piece.split(' ').next().unwrap_or_default().to_owned()),
            ),
            _ => None,
        });
        let mut listed: Vec<String> = listed.flatten().collect();
        listed.sort();
        let mut marks: Vec<String> = job.pieces().iter().map(|piece| piece.mark.clone()).collect();
        marks.sort();
        assert_eq!(listed, marks, "{name}");
    }
}

/// First-fit decreasing, written as its definition says.
fn first_fit_decreasing(pieces: &[u64], stock: u64, kerf: u64) -> usize {
    let mut sizes: Vec<u64> = pieces.iter().map(|piece| piece + kerf).collect();
    sizes.sort_unstable_by(|one, other| other.cmp(one));
    let mut bins: Vec<u64> = Vec::new();
    for size in sizes {
        match bins.iter_mut().find(|room| **room >= size) {
            Some(room) => *room -= size,
            None => bins.push(stock + kerf - size),
        }
    }
    bins.len()
}

/// The fewest lengths of stock, by trying everything.
fn fewest(pieces: &[u64], stock: u64, kerf: u64, bins: &mut Vec<u64>) -> usize {
    let Some((first, rest)) = pieces.split_first() else {
        return bins.len();
    };
    let size = first + kerf;
    let mut best = usize::MAX;
    for at in 0..bins.len() {
        if bins[at] >= size {
            bins[at] -= size;
            best = best.min(fewest(rest, stock, kerf, bins));
            bins[at] += size;
        }
    }
    bins.push(stock + kerf - size);
    best = best.min(fewest(rest, stock, kerf, bins));
    bins.pop();
    best
}

/// A packing holds every piece once, and no length of stock holds more than it has.
fn is_sound(lengths: &[Vec<usize>], pieces: &[u64], stock: u64, kerf: u64) -> bool {
    let mut seen: Vec<usize> = lengths.iter().flatten().copied().collect();
    seen.sort_unstable();
    let fits = lengths.iter().all(|bin| {
        let cuts = bin.len() as u64 - 1;
        bin.iter().map(|&at| pieces[at]).sum::<u64>() + cuts * kerf <= stock
    });
    fits && seen == (0..pieces.len()).collect::<Vec<_>>()
}

// First-fit decreasing takes three lengths of 10 where two do: D. S. Johnson's kind of example, checked by hand.
#[test]
fn the_search_finds_what_first_fit_misses() {
    let pieces = [4, 4, 3, 3, 3, 3];
    assert_eq!(first_fit_decreasing(&pieces, 10, 0), 3);
    let packing = pack(&pieces, 10, 0, MOST_STEPS).expect("a packing");
    assert_eq!((packing.lengths.len(), packing.at_least), (2, 2));
    assert_eq!(pack(&pieces, 10, 0, 0).expect("a packing").lengths.len(), 3);
    // With a kerf of 1, two lengths of 10 no longer do: each holds two cuts more.
    assert_eq!(
        pack(&pieces, 10, 1, MOST_STEPS).expect("a packing").lengths.len(),
        3
    );
    assert!(pack(&[11], 10, 0, MOST_STEPS).is_none());
    assert!(pack(&[0], 10, 0, MOST_STEPS).is_none());
    assert!(pack(&[u64::MAX], u64::MAX, 1, MOST_STEPS).is_none());
    assert_eq!(pack(&[], 10, 0, MOST_STEPS).expect("a packing").lengths.len(), 0);
}

/// A line of pipes with random lengths, straight or turned at each joint.
#[derive(Debug, Clone)]
struct Leg {
    /// Tenths of a millimetre, so that inches never come out even.
    length: i64,
    /// Quarters of a turn to the right, or down.
    turn: u8,
}

fn legs() -> impl Strategy<Value = Vec<Leg>> {
    let leg = (4_000_i64..40_000, 0_u8..4).prop_map(|(length, turn)| Leg { length, turn });
    proptest::collection::vec(leg, 2..25)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn stock_is_cut_no_worse_than_by_first_fit(pieces in proptest::collection::vec(1_u64..=120, 0..40), kerf in 0_u64..3) {
        let packing = pack(&pieces, 120, kerf, 20_000).expect("every piece fits");
        prop_assert!(is_sound(&packing.lengths, &pieces, 120, kerf));
        prop_assert!(packing.lengths.len() <= first_fit_decreasing(&pieces, 120, kerf));
        prop_assert!(packing.at_least <= packing.lengths.len());
    }

    #[test]
    fn a_few_pieces_are_cut_as_well_as_can_be(pieces in proptest::collection::vec(10_u64..=100, 0..9), kerf in 0_u64..3) {
        let packing = pack(&pieces, 100, kerf, MOST_STEPS).expect("every piece fits");
        let fewest = fewest(&pieces, 100, kerf, &mut Vec::new());
        prop_assert!(is_sound(&packing.lengths, &pieces, 100, kerf));
        prop_assert_eq!(packing.lengths.len(), fewest);
        prop_assert!(packing.at_least <= fewest);
    }

    #[test]
    fn pieces_and_fittings_laid_end_to_end_come_out_where_they_belong(legs in legs(), takes in 100_i64..900, metric in any::<bool>()) {
        let (mut steps, mut last) = (String::from("{fitting: {name: N0, pattern: quarter_bend}}"), None);
        for (index, leg) in legs.iter().enumerate() {
            // Bearings in quarters; 4 is down, after which any way will do.
            let way = match (last, leg.turn) {
                (Some(4), turn) => u32::from(turn),
                (_, 3) => 4,
                (Some(last), turn) => (last + [0, 1, 3][usize::from(turn)]) % 4,
                (None, turn) => u32::from(turn),
            };
            if let Some(last) = last {
                let pattern = if last == way { "coupling" } else { "quarter_bend" };
                steps.push_str(&format!(", {{fitting: {{name: N{index}, pattern: {pattern}}}}}"));
            }
            let way_text = match way {
                4 => "slope: vertical".to_owned(),
                way => format!("slope: level, direction: {} deg", way * 90),
            };
            steps.push_str(&format!(", {{pipe: {{length: {} mm, {way_text}}}}}", leg.length as f64 / 10.0));
            last = Some(way);
        }
        let units = if metric { "millimetres" } else { "inches" };
        let network = network(&format!("crownweir: network/1\nname: n\nunits: {units}\ndrains:\n  - {{size: 2 in, material: pvc, path: [{steps}, {{disposal: {{name: Z, position: [0 mm, 0 mm, 0 mm]}}}}]}}\n"));
        let takes = takes as f64 / 10.0;
        let dimensions = dimensions(&format!("{{pattern: quarter_bend, size: 2 in, centre_to_stop: {takes} mm}}, {{pattern: coupling, size: 2 in, centre_to_stop: 1.7 mm}}"));
        let job = Job::new(&network, &dimensions);
        // From the sewer up, each piece and what its fittings take along the line it belongs to.
        let mut laid = [0_i64; 3];
        let mut node = network.disposal();
        let grain = shop::grain(network.notation()).nanometres();
        loop {
            let graph = network.graph();
            let ends = |pipe| graph.edge_endpoints(pipe).expect("its ends");
            let Some(pipe) = graph.edge_indices().find(|&pipe| ends(pipe).1 == node) else {
                break;
            };
            let above = ends(pipe).0;
            // Several where the pipe is longer than its stock of 10 ft.
            let pieces = || job.pieces().iter().filter(|piece| piece.pipe == pipe);
            let cut: i64 = pieces().map(|piece| piece.length().expect("a cut").nanometres()).sum();
            prop_assert!(pieces().all(|piece| piece.length() <= Some(length("10 ft"))));
            let stops: i64 = pieces().flat_map(|piece| &piece.ends).map(|end| match end {
                End::Fitting { stop, .. } => stop.nanometres(),
                _ => 0,
            }).sum();
            let from = job.geometry().place(node).known().expect("a place");
            let to = job.geometry().place(above).known().expect("a place");
            for axis in 0..3 {
                laid[axis] += (to[axis].nanometres() - from[axis].nanometres()).signum() * (cut + stops);
                let off = (laid[axis] - to[axis].nanometres()).abs();
                prop_assert!(off <= grain / 2 + 1, "off by {off} nm");
            }
            node = above;
        }
        prop_assert_eq!(node, network.node_named("N0").expect("the upper end"));
    }
}
