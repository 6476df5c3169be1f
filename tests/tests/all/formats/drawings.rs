//! Drawings: nothing written lies over anything else, and everything is there.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use crownweir::drawing::{Area, Drawing, Options, Sheet};
use crownweir::{Element, Measured, Network, NodeKind, Verdict, report, shop};
use crownweir_benches::tower;
use crownweir_tests::{network, network_text, rules};

use super::hostile;

/// A house of `fixtures` fixtures on two floors: bathrooms of four along two stacks and the building drain.
fn house(fixtures: usize) -> String {
    let mut text = String::from(
        "crownweir: network/1
name: a house
site: {occupancy: private}
storeys: [{storey: ground, height: 9 ft}, {storey: upper, height: 9 ft}]
drains:
  - {run: building drain, kind: building_drain, storey: ground, size: 4 in, slope: 1/4 in/ft, path: [{cleanout: {name: CO, size: 4 in}}",
    );
    let baths = fixtures.div_ceil(4);
    for bath in 0..baths {
        let _ = write!(
            text,
            ", {{pipe: {{length: 4 ft}}}}, {{fitting: {{name: BD-{bath}, pattern: wye}}}}"
        );
    }
    text.push_str(", {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}\n");
    let mut vents = String::from("vents:\n");
    for bath in 0..baths {
        let storey = if bath % 2 == 0 { "ground" } else { "upper" };
        let _ = write!(
            text,
            "  - {{storey: {storey}, size: 3 in, slope: 1/4 in/ft, path: [
      {{fixture: {{name: WC-{bath}, type: water_closet, trap: {{size: 3 in, kind: integral}}}}}}, {{pipe: {{slope: vertical, length: 1 ft}}}},
      {{fitting: {{name: CB-{bath}, pattern: closet_bend}}}}, {{pipe: {{length: 2 ft}}}}, {{fitting: {{name: W1-{bath}, pattern: wye}}}},
      {{pipe: {{length: 2 ft}}}}, {{fitting: {{name: W2-{bath}, pattern: wye}}}}, {{pipe: {{length: 2 ft}}}},
      {{fitting: {{name: W3-{bath}, pattern: wye}}}}, {{pipe: {{length: 2 ft, slope: vertical}}}}, {{at: BD-{bath}}}]}}
  - {{storey: {storey}, size: 1-1/2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: LAV-{bath}, type: lavatory, trap: {{size: 1-1/4 in}}}}}}, {{pipe: {{length: 3 ft}}}},
      {{fitting: {{name: T-{bath}, pattern: sanitary_tee}}}}, {{pipe: {{slope: vertical, length: 2 ft}}}}, {{fitting: {{name: E-{bath}, pattern: long_sweep}}}}, {{pipe: {{length: 1 ft}}}}, {{at: W1-{bath}}}]}}
  - {{storey: {storey}, size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: SH-{bath}, type: shower, trap: {{size: 2 in}}}}}}, {{pipe: {{length: 3 ft}}}}, {{at: W2-{bath}}}]}}
  - {{storey: {storey}, size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: FD-{bath}, type: floor_drain, trap: {{size: 2 in}}}}}}, {{pipe: {{length: 3 ft}}}}, {{at: W3-{bath}}}]}}
"
        );
        let _ = writeln!(
            vents,
            "  - {{size: 2 in, slope: vertical, path: [{{at: T-{bath}}}, {{pipe: {{length: 9 ft}}}}, {{terminal: {{name: VT-{bath}}}}}]}}"
        );
    }
    text + &vents
}

/// The networks under test, with their rule sets.
fn networks() -> Vec<(String, String, &'static str)> {
    let mut all: Vec<(String, String, &str)> =
        std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/networks"))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.ends_with(".yaml"))
            .map(|name| {
                let by = match &name {
                    name if name.contains("-upc") => "upc-2021",
                    name if name.contains("-npc") => "npc-2020",
                    name if name.contains("-en") => "en-12056-2",
                    _ => "ipc-2021",
                };
                (name.clone(), network_text(&name), by)
            })
            .collect();
    all.sort();
    assert!(all.len() >= 13);
    all.push(("a house of 60 fixtures".to_owned(), house(60), "ipc-2021"));
    for storeys in [1, 3, 8, 25] {
        all.push((
            format!("a tower of {storeys} storeys"),
            tower(storeys),
            "ipc-2021",
        ));
    }
    for name in hostile::NAMES {
        all.push((name.to_owned(), hostile::hostile(name), "ipc-2021"));
    }
    all
}

fn each(check: impl Fn(&str, &Measured<'_>, &crownweir::Report, &Drawing, Options)) {
    for (name, text, by) in networks() {
        let (network, rules) = (network(&text), rules(by));
        let measured = Measured::new(&network, &rules).unwrap();
        let found = measured.check();
        for (loads, pieces) in [(false, false), (true, false), (false, true), (true, true)] {
            let options = Options { loads, pieces };
            let drawing = report::drawing(&measured, &found, options);
            let name = format!("{name}, loads {loads}, pieces {pieces}");
            check(&name, &measured, &found, &drawing, options);
        }
    }
}

/// Pairs of boxes that lie over each other.
fn overlaps(boxes: &[(Area, String)]) -> Vec<String> {
    let mut sorted: Vec<_> = boxes.iter().collect();
    sorted.sort_by_key(|(area, _)| area.from.x);
    let mut found = Vec::new();
    for (place, (area, text)) in sorted.iter().enumerate() {
        let near = sorted[place + 1..]
            .iter()
            .take_while(|(other, _)| other.from.x < area.to.x);
        found.extend(
            near.filter(|(other, _)| other.overlaps(area))
                .map(|(_, other)| format!("`{text}` over `{other}`")),
        );
    }
    found
}

fn written(sheet: &Sheet) -> Vec<(Area, String)> {
    let texts = sheet.texts().map(|(area, text)| (area, text.to_owned()));
    let marks = sheet
        .marks()
        .map(|(area, number)| (area, format!("mark {number}")));
    texts.chain(marks).collect()
}

#[test]
fn nothing_written_lies_over_anything_else() {
    each(|name, _, _, drawing, _| {
        for sheet in &drawing.sheets {
            let written = written(sheet);
            let overlaps = overlaps(&written);
            assert!(overlaps.is_empty(), "{name}, {}: {overlaps:#?}", sheet.title());
            let pieces: Vec<_> = sheet.pieces().collect();
            for (area, text) in &written {
                let crossed = pieces.iter().find(|piece| area.is_crossed_by(piece.0, piece.1));
                assert!(
                    crossed.is_none(),
                    "{name}, {}: a pipe through `{text}`",
                    sheet.title()
                );
            }
            let (width, height) = sheet.size();
            for (area, text) in &written {
                let inside =
                    area.from.x >= 0 && area.from.y >= 0 && area.to.x <= width && area.to.y <= height;
                assert!(inside, "{name}: `{text}` is off the sheet");
            }
        }
    });
}

#[test]
fn the_check_of_overlaps_does_find_some() {
    let network = network(&network_text("heron-point.yaml"));
    let rules = rules("ipc-2021");
    let measured = Measured::new(&network, &rules).unwrap();
    let drawing = report::drawing(&measured, &measured.check(), Options::default());
    let mut written = written(&drawing.sheets[0]);
    let first = written[0].clone();
    written.push(first);
    assert_eq!(overlaps(&written).len(), 1);
}

#[test]
fn everything_is_drawn_and_finds_room() {
    each(|name, measured, found, drawing, options| {
        let unplaced: usize = drawing.sheets.iter().map(Sheet::unplaced).sum();
        assert_eq!(unplaced, 0, "{name}");
        let graph = measured.network().graph();
        let count = |what: &str| {
            let texts = drawing.sheets.iter().flat_map(Sheet::texts);
            texts.filter(|(_, text)| *text == what).count()
        };
        let mut sizes = std::collections::BTreeMap::<String, usize>::new();
        let numbers = measured.network().piece_numbers();
        for (id, pipe) in graph.edge_indices().zip(graph.edge_weights()) {
            let number = &numbers[id.index()];
            if let Some(size) = pipe.size {
                let text = if options.pieces {
                    format!("{number} · {size}")
                } else {
                    size.to_string()
                };
                *sizes.entry(text).or_default() += 1;
            }
        }
        for (size, pipes) in sizes {
            // A pipe that goes on on another sheet bears its size on both.
            assert!(count(&size) >= pipes, "{name}: {size}");
        }
        for node in graph.node_weights() {
            let drawn = !matches!(node.kind, NodeKind::Fitting { .. });
            if drawn && node.name.is_ascii() && node.name.len() <= 18 {
                assert!(count(&node.name) >= 1, "{name}: {}", node.name);
            }
        }
        if let (true, Some(load)) = (options.loads, &found.load) {
            assert!(count(load) >= 1, "{name}");
        }
        let marked: BTreeSet<String> = drawing
            .sheets
            .iter()
            .flat_map(Sheet::mark_ids)
            .map(str::to_owned)
            .collect();
        for (finding, number) in found.findings.iter().zip(1..) {
            let has_place = matches!(
                measured.place_of(finding.element),
                Element::Node(_) | Element::Pipe(_)
            );
            if finding.verdict == Verdict::Violated && has_place {
                assert!(marked.contains(&format!("mark-{number}")), "{name}: {number}");
            }
        }
    });
}

#[test]
fn sheets_fit_a_page_across() {
    each(|name, _, _, drawing, _| {
        for sheet in &drawing.sheets {
            let (width, _) = sheet.size();
            assert!(width <= 2_000, "{name}, {}: {width}", sheet.title());
        }
    });
}

/// The names of the elements of an XML document, in order.
fn elements(xml: &str) -> Vec<String> {
    let mut reader = quick_xml::Reader::from_str(xml);
    reader.config_mut().check_end_names = true;
    let mut names = Vec::new();
    loop {
        match reader.read_event().unwrap_or_else(|error| panic!("{error}")) {
            quick_xml::events::Event::Start(tag) | quick_xml::events::Event::Empty(tag) => {
                for attribute in tag.attributes() {
                    let key = attribute.unwrap().key;
                    assert!(!key.as_ref().starts_with(b"on"), "a handler");
                }
                names.push(String::from_utf8(tag.name().as_ref().to_vec()).unwrap());
            }
            quick_xml::events::Event::Eof => return names,
            quick_xml::events::Event::PI(_) | quick_xml::events::Event::CData(_) => panic!("foreign markup"),
            _ => {}
        }
    }
}

#[test]
fn svg_is_xml_with_no_elements_but_its_own() {
    let own = ["svg", "title", "style", "rect", "g", "path", "text", "a"];
    each(|name, _, _, drawing, _| {
        let svg = drawing.svg();
        for element in elements(&svg) {
            assert!(own.contains(&element.as_str()), "{name}: <{element}>");
        }
        assert!(!svg.contains(hostile::acts), "{name}");
    });
}

#[test]
fn the_same_network_is_drawn_the_same() {
    let drawn = || {
        let (network, rules) = (network(&tower(12)), rules("ipc-2021"));
        let measured = Measured::new(&network, &rules).unwrap();
        report::drawing(
            &measured,
            &measured.check(),
            Options {
                loads: true,
                pieces: true,
            },
        )
        .svg()
    };
    assert!(drawn() == drawn());
}

fn shop_sheets(network: &Network) -> Vec<shop::Sheet> {
    let dimensions = shop::Dimensions::published().unwrap();
    let job = shop::Job::new(network, &dimensions);
    shop::SheetKind::ALL.iter().map(|kind| kind.sheet(&job)).collect()
}

/// The tags of a page, without what stands in them.
fn tags(page: &str) -> Vec<String> {
    let mut tags = Vec::new();
    for piece in page.split('<').skip(1) {
        let name: String = piece
            .chars()
            .take_while(|letter| letter.is_ascii_alphanumeric() || "!/".contains(*letter))
            .collect();
        // How many labels fit the drawing depends on how long they are.
        if !["g", "/g", "path", "text", "/text"].contains(&name.as_str()) {
            tags.push(name);
        }
    }
    tags
}

#[test]
fn the_page_takes_hostile_names_as_text() {
    let page = |text: &str| {
        let (network, rules) = (network(text), rules("ipc-2021"));
        let measured = Measured::new(&network, &rules).unwrap();
        report::page(
            &measured,
            &measured.check(),
            &shop_sheets(&network),
            Options {
                loads: true,
                pieces: true,
            },
        )
    };
    let plain = tags(&page(&hostile::hostile("x")));
    assert!(!plain.contains(&"script".to_owned()));
    hostile::each(|name, text| {
        let page = page(text);
        assert_eq!(tags(&page), plain, "{name}");
        assert!(!page.contains(hostile::acts), "{name}");
        assert!(page.len() < 200_000, "{name}");
    });
}

#[test]
fn links_of_the_page_lead_to_one_place_each() {
    each(|name, measured, found, _, options| {
        let page = report::page(measured, found, &shop_sheets(measured.network()), options);
        let after = |what: &str| -> Vec<String> {
            page.split(what)
                .skip(1)
                .map(|rest| rest.split(['"', '>', ' ']).next().unwrap_or_default().to_owned())
                .collect()
        };
        let ids = after(" id=\"");
        let unique: BTreeSet<_> = ids.iter().collect();
        assert_eq!(unique.len(), ids.len(), "{name}: an anchor occurs twice");
        let targets = after("href=\"#");
        assert!(targets.len() > 5, "{name}");
        for target in targets {
            assert!(unique.contains(&target), "{name}: nothing is called {target}");
        }
        assert!(
            !page.contains("http://") && !page.contains("https://"),
            "{name}: something from elsewhere"
        );
    });
}

/// A network of three pipes: one runs east, one north, one is vertical.
const CORNER: &str = "crownweir: network/1
name: a corner
storeys: [{storey: ground, height: 9 ft}]
drains:
  - size: 2 in
    slope: 1/4 in/ft
    storey: ground
    path:
      - fixture: {name: L1, type: lavatory, trap: {size: 1-1/4 in}}
      - pipe: {length: 3 ft, direction: east}
      - fitting: {name: T1, pattern: sanitary_tee}
      - pipe: {length: 6 ft, slope: vertical}
      - fitting: {name: E1, pattern: long_sweep}
      - pipe: {length: 5 ft, direction: north}
      - disposal: {name: sewer, height: 0 in}
vents:
  - {size: 2 in, slope: vertical, path: [{at: T1}, {pipe: {length: 9 ft}}, {terminal: {name: roof}}]}
";

#[test]
fn an_isometric_view_has_its_axes_at_thirty_degrees() {
    let (network, rules) = (network(CORNER), rules("ipc-2021"));
    let measured = Measured::new(&network, &rules).unwrap();
    let drawing = report::drawing(&measured, &measured.check(), Options::default());
    let sheet = &drawing.sheets[0];
    assert!(sheet.texts().any(|(_, text)| text.contains("isometric")));
    let mut seen = [0, 0, 0];
    for (from, to) in sheet.pieces() {
        let (dx, dy) = (f64::from(to.x - from.x), f64::from(to.y - from.y));
        let length = dx.hypot(dy);
        assert!(length > 20.0);
        // ISO 5456-3: the axes of an isometric view lie at 30 degrees to the horizontal, the third upright. A fall of
        // 1/4 inch to the foot adds little.
        let degrees = (-dy).atan2(dx).to_degrees();
        let axis = [-30.0, 30.0, 90.0].iter().position(|axis: &f64| {
            let off = (degrees - axis).rem_euclid(180.0);
            !(4.0..=176.0).contains(&off)
        });
        seen[axis.unwrap_or_else(|| panic!("{degrees} degrees"))] += 1;
    }
    // East, north, and two upright pipes.
    assert_eq!(seen, [1, 1, 2]);
}

#[test]
fn a_network_without_places_is_a_schematic_riser() {
    let text = CORNER
        .replace(", direction: north", "")
        .replace(", direction: east", "");
    let (network, rules) = (network(&text), rules("ipc-2021"));
    let measured = Measured::new(&network, &rules).unwrap();
    let drawing = report::drawing(&measured, &measured.check(), Options::default());
    assert!(
        drawing.sheets[0]
            .texts()
            .any(|(_, text)| text.contains("schematic"))
    );
}

#[test]
fn loads_are_drawn_where_the_rule_set_counts_them() {
    let network = network(&network_text("heron-point.yaml"));
    let options = Options {
        loads: true,
        ..Options::default()
    };
    for (code, has_loads) in [("ipc-2021", true), ("framing-irc-2021", false)] {
        let rules = rules(code);
        let measured = Measured::new(&network, &rules).unwrap();
        let drawing = report::drawing(&measured, &measured.check(), options);
        let has = |sheet: &Sheet| sheet.texts().any(|(_, text)| text.contains("dfu"));
        assert_eq!(drawing.sheets.iter().any(has), has_loads, "{code}");
    }
}

#[test]
fn a_terminal_is_labelled_by_what_it_passes_as_far_as_that_is_stated() {
    let rules = rules("ipc-2021");
    for (stated, label, word) in [
        (", through: roof", "VTR", "vent through roof"),
        (", through: wall", "VTW", "vent through wall"),
        ("", "VT", "vent terminal"),
    ] {
        let text = format!(
            "
crownweir: network/1
name: terminal
drains:
  - {{size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: F, type: sink}}}}, {{pipe: {{length: 3 ft}}}}, {{fitting: {{name: X}}}}, {{pipe: {{length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}
vents:
  - {{size: 2 in, slope: vertical, path: [{{at: X}}, {{pipe: {{length: 9 ft}}}}, {{terminal: {{name: T{stated}}}}}]}}
"
        );
        let network = network(&text);
        let measured = Measured::new(&network, &rules).unwrap();
        let drawing = report::drawing(&measured, &measured.check(), Options::default());
        let texts: Vec<&str> = drawing.sheets[0].texts().map(|(_, text)| text).collect();
        assert!(
            texts
                .iter()
                .any(|text| text.split_whitespace().any(|one| one == label)),
            "{label}: {texts:?}"
        );
        assert!(texts.iter().any(|text| text.contains(word)), "{word}: {texts:?}");
    }
}
