//! Straps, holes, materials and the test sheet: figures against published tables, and sheets of the demo buildings.

use crownweir::quantity::{Angle, Length};
use crownweir::shop::{self, Cell, Dimensions, Job, Practice, Reason, Section, Sheet, SheetKind, schedule};
use crownweir::{Fact, Got, Limits, Measured, Network, RuleSet, Subject, Text, Value, published};
use crownweir_tests::{network, network_text, rules};

fn length(text: &str) -> Length {
    text.parse().unwrap_or_else(|error| panic!("{text}: {error}"))
}

fn practice() -> Practice {
    Practice::published().unwrap_or_else(|problems| panic!("{problems}"))
}

/// A sheet of a network by a rule set for its pipes, and by that for framing.
fn sheet(network: &Network, rules: &RuleSet, name: &str) -> Sheet {
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    sheet_by(network, rules, name, &dimensions)
}

/// The same by such fittings.
fn sheet_by(network: &Network, rules: &RuleSet, name: &str, dimensions: &Dimensions) -> Sheet {
    let practice = practice();
    let framing = crownweir_tests::rules("framing-irc-2021");
    let planned = shop::with_plates(network, &framing).expect("known sizes");
    let job = Job::new(network, dimensions)
        .with_practice(&practice)
        .with_plumbing(Measured::new(network, rules).expect("known sizes"))
        .with_framing(Measured::new(&planned, &framing).expect("known sizes"));
    SheetKind::named(name).expect("a sheet").sheet(&job)
}

/// A network's shop sheet by the fittings of the demonstration, whatever rules there are.
fn demonstrated(network: &Network, name: &str) -> Sheet {
    SheetKind::named(name)
        .expect("a sheet")
        .sheet(&Job::new(network, &demonstration()))
}

/// The fittings of the demonstration.
fn demonstration() -> Dimensions {
    let own = concat!(env!("CARGO_MANIFEST_DIR"), "/dimensions/demonstration.yaml");
    let own = std::fs::read(own).expect("the file");
    Dimensions::published()
        .and_then(|base| base.with("demonstration.yaml", &own, &Limits::default()))
        .unwrap_or_else(|problems| panic!("{problems}"))
}

/// The cells of a column.
fn column<'s>(sheet: &'s Sheet, key: &str) -> Vec<&'s Cell> {
    let at = sheet
        .columns
        .iter()
        .position(|column| column.key == key)
        .expect(key);
    sheet.rows.iter().map(|row| &row[at]).collect()
}

fn texts(sheet: &Sheet, key: &str) -> Vec<String> {
    let cells = column(sheet, key).into_iter();
    cells
        .map(|cell| match cell {
            Cell::Text(text) => text.clone(),
            _ => String::new(),
        })
        .collect()
}

/// The drain of [`straight`] in PVC of 2 in, with defaults in the file.
fn stating(defaults: &str) -> String {
    straight_text("pvc", "2 in").replacen("drains:", &format!("defaults: {{{defaults}}}\ndrains:"), 1)
}

fn with_defaults(defaults: &str) -> Network {
    network(&stating(defaults))
}

/// A straight horizontal drain, and a straight vertical one below it.
fn straight(material: &str, size: &str) -> Network {
    network(&straight_text(material, size))
}

fn straight_text(material: &str, size: &str) -> String {
    format!(
        "
crownweir: network/1
name: straight
storeys: [{{storey: ground, height: 12 ft}}, {{storey: upper, height: 9 ft}}]
drains:
  - run: line
    storey: upper
    size: {size}
    material: {material}
    path:
      - fixture: {{name: F, type: sink, weir_height: 24 in}}
      - pipe: {{name: flat, length: 47 ft, slope: 1/4 in/ft}}
      - fitting: {{name: E, pattern: long_sweep}}
      - pipe: {{name: drop, length: 10 ft, slope: vertical}}
      - disposal: {{name: sewer}}
"
    )
}

/// How far apart the straps of a horizontal pipe are at the most, and how many there are.
fn widest(network: &Network, rules: &RuleSet) -> (Length, usize) {
    let measured = Measured::new(network, rules).expect("known sizes");
    let schedule = schedule(network, &measured, &practice(), &[]);
    let flat = network.pipe_named("flat").expect("the pipe");
    let places: Vec<Length> = schedule
        .straps
        .iter()
        .filter(|strap| strap.pipe == flat)
        .map(|strap| strap.along)
        .collect();
    let gaps = places
        .windows(2)
        .map(|pair| pair[1].checked_sub(pair[0]).expect("in order"));
    (gaps.max().expect("more than one"), places.len())
}

/// Spacings from the tables of three codes: IRC 2018 Table P2605.1 and IPC Table 308.5 (ABS, PVC 4 ft; copper tube of
/// 1-1/2 in 10 ft; cast iron 5 ft), UPC Table 313.3 as a state prints it (copper of 1-1/2 in 6 ft, plastic 4 ft), and a
/// province's 7.3.4.5. with NPC 2.3.4.5. (plastic 1.2 m, hard copper 3 m). 45 ft lie between the first strap and the
/// last, each 1 ft from its end: so many more are needed, at the fewest.
#[test]
fn straps_are_no_further_apart_than_each_code_allows() {
    let cases = [
        ("ipc-2021", "pvc", "2 in", "4 ft", 13),
        ("ipc-2021", "abs", "3 in", "4 ft", 13),
        ("ipc-2021", "copper_tube", "1-1/2 in", "10 ft", 6),
        ("ipc-2021", "cast_iron", "3 in", "5 ft", 10),
        ("upc-2021", "pvc", "2 in", "4 ft", 13),
        ("upc-2021", "copper_tube", "1-1/2 in", "6 ft", 9),
        ("upc-2021", "copper_tube", "2 in", "10 ft", 6),
        ("npc-2020", "abs", "3 in", "1.2 m", 13),
    ];
    for (code, material, size, limit, count) in cases {
        let (gap, found) = widest(&straight(material, size), &rules(code));
        assert!(gap <= length(limit), "{code} {material} {size}: {gap}");
        assert_eq!(found, count, "{code} {material} {size}");
    }
}

/// A stack of 3 in into a drain 2 ft under the lower floor, with what else is stated of that drain.
fn into_the_ground(below: &str) -> Network {
    network(&format!(
        "
crownweir: network/1
name: into the ground
units: inches
storeys: [{{storey: lower, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
defaults: {{material: pvc, vertical_support_spacing: 4 ft}}
drains:
  - run: line
    storey: upper
    size: 3 in
    slope: 1/4 in/ft
    path:
      - fixture: {{name: F, type: connected_load, load: 10 dfu, weir_height: -12 in}}
      - pipe: {{length: 4 ft}}
      - fitting: {{name: T, pattern: long_sweep}}
      - pipe: {{name: stack, slope: vertical}}
      - fitting: {{name: S, pattern: long_sweep, storey: lower, height: -2 ft}}
      - pipe: {{name: out, length: 4 ft{below}}}
      - disposal: {{name: sewer}}
"
    ))
}

/// By hand: the drain in the ground lies from 2 ft to 2 ft 1 in under the floor; 10 ft of water over its highest joint (IPC 2021,
/// 312.2) stand 8 ft over the floor, 10 ft 1 in over its lowest.
#[test]
fn the_groundwork_is_tested_before_it_is_covered() {
    let test = |below: &str| sheet(&into_the_ground(below), &rules("ipc-2021"), "test");
    let sheet = test(", underground: true");
    let rows = sheet
        .rows
        .iter()
        .map(|row| [0, 1, 2, 3].map(|cell| row[cell].clone()));
    let own: Vec<_> = rows
        .take_while(|row| row[0] == Cell::from("groundwork, before it is covered"))
        .collect();
    let row = |level: &str, height: Length, head: &str| {
        [
            Cell::from("groundwork, before it is covered"),
            Cell::from(level),
            Cell::Length(height),
            Cell::Length(length(head)),
        ]
    };
    let below = Length::ZERO.checked_sub(length("2 ft 1 in")).expect("a length");
    assert_eq!(own[0], row("water level", length("8 ft"), "0 in"));
    assert_eq!(own[1], row("floor of lower", Length::ZERO, "8 ft"));
    assert_eq!(own[2], row("lowest joint, sewer", below, "10 ft 1 in"));
    let lines: Vec<_> = own[3..].iter().map(|row| row[1].clone()).collect();
    assert!(lines.contains(&Cell::from("inspector")), "{lines:?}");
    let after = texts(&sheet, "section")
        .into_iter()
        .find(|section| !section.starts_with("groundwork"));
    assert_eq!(after.as_deref(), Some("the whole, one section"));
    let said = "The groundwork is tested by itself before the slab is poured or the trench filled, with a standpipe up to 8 ft above the \
                datum, 10 ft over its highest joint; all its other openings are plugged.";
    assert!(sheet.notes.iter().any(|note| note == said), "{:#?}", sheet.notes);
    assert!(
        texts(&test(""), "section")
            .iter()
            .all(|section| section == "the whole, one section")
    );
}

/// By hand: the stack comes down from 1 ft 1 in below the upper floor, 7 ft 11 in above the lower one, to a drain 2 ft under that.
/// The ground bears its foot; 4 ft above the floor, 3 ft 11 in along it, is the one strap that it needs. Where the drain below
/// hangs in the open, its foot is held 4 in up, and it passes a floor.
#[test]
fn nothing_is_strapped_in_the_ground() {
    let straps = |below: &str| {
        let network = into_the_ground(below);
        let sheet = sheet(&network, &rules("ipc-2021"), "straps");
        let along = column(&sheet, "along").into_iter().cloned();
        let own: Vec<_> = texts(&sheet, "pipe")
            .into_iter()
            .zip(along)
            .zip(texts(&sheet, "reason"))
            .filter(|((pipe, _), _)| pipe == "stack")
            .map(|((_, along), reason)| (along, reason))
            .collect();
        let said = "What comes out of the ground is borne by it: the foot of `stack` is bedded on firm ground or concrete, \
                    and is held from the floor up.";
        (own, sheet.notes.iter().any(|note| note == said))
    };
    let at = |text: &str, reason: &str| (Cell::Length(length(text)), reason.to_owned());
    assert_eq!(
        straps(", underground: true"),
        (vec![at("3 ft 11 in", "spacing")], true)
    );
    let (open, said) = straps("");
    assert!(!said);
    assert!(open.contains(&at("9 ft 7 in", "foot of the line")), "{open:?}");
    assert!(open.contains(&at("7 ft 11 in", "at the floor")), "{open:?}");
}

/// What is checked is built: 45 ft lie between the first strap and the last, which is 18 spaces of 30 in. A wider spacing
/// than the 4 ft of IPC Table 308.5 is not taken. Of 10 ft of pipe that stands, 2 in wide, one strap at the foot 4 in up
/// leaves three spaces of 3 ft, the fourth strap at the floor 3 ft below the upper end (24 in above 12 ft - 11-3/4 in).
#[test]
fn straps_are_as_close_as_the_file_states() {
    let ipc = rules("ipc-2021");
    for (stated, gap, count, told) in [
        (
            "30 in",
            "30 in",
            19,
            "pvc of 2 in, horizontal: 2 ft 6 in, as the file states; at most 4 ft [IPC 2021, section 308.5]",
        ),
        (
            "6 ft",
            "4 ft",
            13,
            "pvc of 2 in, horizontal: at most 4 ft [IPC 2021, section 308.5], though the file states 6 ft",
        ),
    ] {
        let stating = with_defaults(&format!("horizontal_support_spacing: {stated}"));
        let (widest, found) = widest(&stating, &ipc);
        assert_eq!((widest, found), (length(gap), count), "{stated}");
        let notes = sheet(&stating, &ipc, "straps").notes;
        assert!(notes.iter().any(|note| note == told), "{notes:#?}");
    }
}

/// The UPC's table gives plastic that stands no spacing, and sizes of 3 in no guide by the IPC; a file states both.
#[test]
fn uprights_are_held_as_the_file_states() {
    let reasons = |code: &str, defaults: &str| {
        let network = with_defaults(defaults);
        let rules = rules(code);
        let measured = Measured::new(&network, &rules).expect("known sizes");
        let drop = network.pipe_named("drop").expect("the pipe");
        let schedule = schedule(&network, &measured, &practice(), &[]);
        let own = schedule.straps.into_iter().filter(|strap| strap.pipe == drop);
        (
            own.map(|strap| strap.reason).collect::<Vec<_>>(),
            schedule.spacings,
        )
    };
    let (held, spacings) = reasons("upc-2021", "vertical_support_spacing: 4 ft");
    assert!(held.contains(&Reason::Spacing), "{held:?}");
    assert!(
        spacings.contains(
            &"pvc of 2 in, vertical: 4 ft, as the file states; no rule asks for a spacing".to_owned()
        ),
        "{spacings:#?}"
    );
    let guided = |defaults: &str| {
        let wide = |text: &str| text.replace("size: 2 in", "size: 3 in");
        let network = crownweir_tests::network(&wide(&stating(defaults)));
        let ipc = rules("ipc-2021");
        let measured = Measured::new(&network, &ipc).expect("known sizes");
        let straps = schedule(&network, &measured, &practice(), &[]).straps;
        straps.iter().any(|strap| strap.reason == Reason::Guide)
    };
    assert!(guided("mid_storey_guide: true"));
    assert!(!guided("mid_storey_guide: false"));
}

/// The UPC's table asks for plastic uprights at the base and at each floor, without a spacing, and for guides between (a
/// state's print of Table 313.3); the IPC's for 10 ft, with a guide half-way for sizes up to 2 in (Table 308.5, note b).
#[test]
fn uprights_are_held_at_foot_and_floor_and_guided() {
    let reasons = |code: &str, size: &str| {
        let network = straight("pvc", size);
        let rules = rules(code);
        let measured = Measured::new(&network, &rules).expect("known sizes");
        let drop = network.pipe_named("drop").expect("the pipe");
        let all = schedule(&network, &measured, &practice(), &[]).straps;
        let own = all.into_iter().filter(|strap| strap.pipe == drop);
        own.map(|strap| strap.reason).collect::<Vec<_>>()
    };
    assert_eq!(
        reasons("upc-2021", "3 in"),
        [Reason::Floor, Reason::Guide, Reason::Foot]
    );
    assert_eq!(reasons("ipc-2021", "3 in"), [Reason::Floor, Reason::Foot]);
    assert_eq!(
        reasons("ipc-2021", "2 in"),
        [Reason::Floor, Reason::Guide, Reason::Foot]
    );
}

/// A stack of 3 in PVC with straps 10 ft apart at the most (IPC Table 308.5) and a floor 10 ft 9 in above its foot's strap:
/// a strap at 10 ft would stand 9 in under the floor that holds the pipe anyway.
#[test]
fn no_strap_comes_close_to_a_floor_that_holds_the_pipe() {
    let network = network(
        "
crownweir: network/1
name: stack
storeys: [{storey: cellar, height: 11 ft 1 in}, {storey: ground, height: 9 ft}]
drains:
  - run: stack
    kind: stack
    storey: cellar
    size: 3 in
    material: pvc
    path:
      - fitting: {name: T, storey: ground, height: 8 ft}
      - pipe: {name: drop, slope: vertical}
      - disposal: {name: sewer, height: 0 in}
",
    );
    let rules = rules("ipc-2021");
    let measured = Measured::new(&network, &rules).expect("known sizes");
    let straps = schedule(&network, &measured, &practice(), &[]).straps;
    let total = length("19 ft 1 in");
    let up = |along: Length| total.checked_sub(along).expect("a length").to_string();
    let held: Vec<_> = straps
        .iter()
        .map(|strap| (up(strap.along), strap.reason))
        .collect();
    assert_eq!(
        held,
        [
            ("11 ft 1 in".to_owned(), Reason::Floor),
            ("5 ft 8-1/2 in".to_owned(), Reason::Spacing),
            ("4 in".to_owned(), Reason::Foot),
        ]
    );
}

/// A textbook's bathtub run of 9-1/2 ft at 1/4 in/ft falls 2-3/8 in (Modern Plumbing, 2022, page 339): straps 9-1/2 ft
/// apart lie as much apart in height, each reckoned from the ends of the pipe and rounded alone.
#[test]
fn heights_at_straps_follow_the_fall() {
    let network = straight("pvc", "2 in");
    let flat = network.pipe_named("flat").expect("the pipe");
    let at = |along: &str| network.height_along(flat, length(along)).expect("a height");
    assert_eq!(at("3 ft").checked_sub(at("12 ft 6 in")), Some(length("2-3/8 in")));
}

/// 0.433 psi a foot and 9.8 kPa a metre, as pages on static head print them: 10 ft 4.33 psi, 20 ft 8.66, 30 ft 12.99,
/// 40 ft 17.3; 3 m 29.4 kPa.
#[test]
fn heads_press_as_published() {
    for (head, psi) in [
        ("1 ft", 0.433),
        ("10 ft", 4.33),
        ("20 ft", 8.66),
        ("30 ft", 12.99),
        ("40 ft", 17.3),
    ] {
        let pounds = shop::pressure(length(head)) / 6894.757;
        assert!((pounds - psi).abs() < 0.05, "{head}: {pounds}");
    }
    assert!((shop::pressure(length("3 m")) / 1000.0 - 29.4).abs() < 0.05);
}

/// Sections of at most 30 ft, each taking in the upper 10 ft of the one below (Philadelphia P-312.2): 60 ft take three.
#[test]
fn a_tall_system_is_tested_in_sections() {
    let feet = |feet: i64| Length::from_nanometres(feet * Length::FOOT.nanometres());
    let section = |bottom, top| Section {
        bottom: feet(bottom),
        top: feet(top),
    };
    let sections = |height| shop::sections(feet(0), feet(height), feet(30), feet(10));
    assert_eq!(sections(30), Some(vec![section(0, 30)]));
    assert_eq!(sections(31), Some(vec![section(0, 30), section(20, 31)]));
    assert_eq!(
        sections(60),
        Some(vec![section(0, 30), section(20, 50), section(40, 60)])
    );
    assert_eq!(shop::sections(feet(0), feet(60), feet(10), feet(10)), None);
    assert_eq!(shop::sections(feet(1), feet(0), feet(30), feet(10)), None);
    assert_eq!(shop::sections(feet(0), feet(60), feet(30), feet(-1)), None);
    // What would be cut off is none either.
    assert_eq!(shop::sections(feet(0), feet(30_000), feet(2), feet(1)), None);
}

/// The limit of a section's height comes from the rule set: an amendment brings it in, and a plug's usual rating stands in
/// for it without one.
#[test]
fn the_most_height_of_a_section_is_the_rule_sets() {
    let tall = "
crownweir: network/1
name: tall
defaults: {material: copper_tube}
storeys: [{storey: \"{number}\", numbers: 1..4, height: 20 ft}]
drains:
  - {kind: stack, size: 3 in, slope: vertical, path: [{fixture: {name: F, type: sink, storey: 4, weir_height: 2 ft}}, {pipe: {}}, {disposal: {name: sewer, storey: 1, height: 0 in}}]}
";
    let network = network(tall);
    let day = "2026-11-26".parse().expect("a day");
    let text = |name: &'static str, text: Option<&'static str>| Text {
        name,
        bytes: text.expect("a text").as_bytes(),
    };
    let amended = RuleSet::amended(
        text("ipc-2021", published::text("ipc-2021")),
        &[text(
            "philadelphia-tests",
            published::amendment("philadelphia-tests"),
        )],
        day,
        &Limits::default(),
    )
    .unwrap_or_else(|problems| panic!("{problems}"));
    let said = |rules: &RuleSet| sheet(&network, rules, "test").notes.join("\n");
    let by_law = said(&amended);
    assert!(by_law.contains("P-312.2"), "{by_law}");
    let by_plug = said(&rules("ipc-2021"));
    assert!(by_plug.contains("test plugs"), "{by_plug}");
    // 62 ft in sections of 30 ft that overlap by 10 ft.
    let sheet = sheet(&network, &amended, "test");
    let mut sections = texts(&sheet, "section");
    sections.dedup();
    assert_eq!(sections.len(), 3, "{sections:?}");
    // Copper may be tested with air: nothing forbids it, and the sheet says on what terms.
    assert!(by_law.contains("An air test is not ruled out"), "{by_law}");
}

/// 62 ft in sections of 30 ft that overlap by 10 ft begin at 0, 20 and 40 ft: of a stack and a vent stack that ends at 36 ft,
/// the one takes two test tees and the other one.
#[test]
fn what_parts_a_test_is_bought_and_cut_for() {
    let network = network(
        "
crownweir: network/1
name: tall
units: inches
defaults: {material: copper_tube}
storeys: [{storey: \"{number}\", numbers: 1..4, height: 20 ft}]
drains:
  - {kind: stack, size: 3 in, slope: vertical, path: [{fixture: {name: F, type: sink, storey: 4, weir_height: 2 ft}}, {pipe: {name: upper}}, {fitting: {name: T, storey: 2, height: 5 ft}}, {pipe: {name: lower}}, {fitting: {name: J, storey: 1, height: 1 ft}}, {pipe: {}}, {disposal: {name: sewer, storey: 1, height: 0 in}}]}
  - {size: 2 in, slope: vertical, path: [{fitting: {name: V, storey: 2, height: 16 ft}}, {pipe: {name: beside, length: 18 ft}}, {fitting: {name: W}}, {pipe: {}}, {at: J}]}
",
    );
    let ipc = rules("ipc-2021");
    let materials = sheet(&network, &ipc, "materials");
    let items = texts(&materials, "item")
        .into_iter()
        .zip(texts(&materials, "size"));
    let tests: Vec<_> = items
        .zip(column(&materials, "number"))
        .filter(|((item, _), _)| item.starts_with("test "))
        .collect();
    let counted = |item: &str, size: &str, number| ((item.to_owned(), size.to_owned()), Cell::Count(number));
    let tests: Vec<_> = tests
        .into_iter()
        .map(|(what, number)| (what, number.clone()))
        .collect();
    assert_eq!(
        tests,
        [
            counted("test tee", "2 in", 1),
            counted("test plug", "2 in", 1),
            counted("test tee", "3 in", 2),
            counted("test plug", "3 in", 2),
        ]
    );
    let cuts = sheet(&network, &ipc, "cuts");
    let divided: Vec<_> = column(&cuts, "from")
        .into_iter()
        .zip(column(&cuts, "remarks"))
        .filter_map(|(from, remarks)| match (from, remarks) {
            (Cell::Text(from), Cell::List(remarks)) => {
                let tee = remarks
                    .iter()
                    .find_map(|remark| remark.strip_prefix("divide for the test tee at "))?;
                Some((from.clone(), tee.split(" above").next()?.to_owned()))
            }
            _ => None,
        })
        .collect();
    let at = |from: &str, height: &str| (from.to_owned(), height.to_owned());
    assert_eq!(divided, [at("F", "40 ft"), at("T", "20 ft"), at("V", "20 ft")]);
    let notes = sheet(&network, &ipc, "test").notes;
    assert!(
        notes.contains(&"Test tees at 40 ft: in `upper`.".to_owned()),
        "{notes:#?}"
    );
}

/// No air in plastic, whatever the code: NPC allows 35 kPa, the makers' bulletin forbids it.
#[test]
fn air_is_ruled_out_by_code_or_material() {
    let network = straight("abs", "3 in");
    let notes = |code: &str| sheet(&network, &rules(code), "test").notes.join("\n");
    assert!(
        notes("ipc-2021")
            .contains("Air, by the rule set: No air test of plastic pipe [IPC 2021, section 312.3]")
    );
    let canadian = notes("npc-2020");
    assert!(!canadian.contains("Air, by the rule set"), "{canadian}");
    assert!(canadian.contains("No air test of abs"), "{canadian}");
}

/// Plane geometry: square to members a piece is as long as the bay is clear; at 45 degrees the diagonal less what the
/// pipe's width takes: (14.5 - 2.375 sin 45) / cos 45 = 14.5 sqrt 2 - 2.375 = 18.131 in.
#[test]
fn pieces_that_go_in_between_members() {
    let longest = |degrees: i64| {
        let angle = Angle::from_microdegrees(degrees * 1_000_000);
        shop::longest_piece(length("14-1/2 in"), length("2-3/8 in"), angle)
    };
    assert_eq!(longest(0), Some(length("14-1/2 in")));
    let skew = longest(45).expect("a length").as_inches_f64();
    assert!((skew - 18.131).abs() < 0.001, "{skew}");
    assert_eq!(longest(90), None);
    assert_eq!(
        shop::longest_piece(
            length("2 in"),
            length("3-1/2 in"),
            Angle::from_microdegrees(60_000_000)
        ),
        None
    );
}

/// Plane geometry: a pipe of 2.375 in through 1-1/2 in at 45 degrees from square shows 2.375 sqrt 2 = 3.359 in in each face,
/// and the two are 1-1/2 in apart: 4.859 in, 4-7/8 to the next sixteenth. Square, the rule set's 2-9/16 in does, as it does
/// for the fall of 1/4 in/ft: 2.375 in and 1-1/2 in / 48 are 2.406 in.
#[test]
fn a_pipe_at_a_slant_has_a_wider_hole() {
    let holes = |direction: &str, thickness: &str| {
        let network = network(&format!(
            "
crownweir: network/1
name: slant
storeys: [{{storey: ground, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
framing:
  - {{framing: joists, kind: joist, make: sawn, depth: 11-1/4 in, {thickness}spacing: 16 in, span: 12 ft, storey: upper, top: 0 in, layout: {{runs: east_west, first: 12 in, count: 2}}}}
drains:
  - storey: upper
    size: 2 in
    material: pvc
    slope: 1/4 in/ft
    direction: {direction}
    path:
      - fitting: {{name: A, position: [0 in, 0 in, 103 in]}}
      - pipe: {{name: run, length: 6 ft}}
      - disposal: {{name: sewer}}
"
        ));
        let holes = sheet(&network, &rules("ipc-2021"), "holes");
        assert_eq!(holes.rows.len(), 2, "{holes:?}");
        column(&holes, "hole").into_iter().cloned().collect::<Vec<_>>()
    };
    let thick = "thickness: 1-1/2 in, doubled: false, ";
    assert_eq!(
        holes("north", thick),
        [
            Cell::Length(length("2-9/16 in")),
            Cell::Length(length("2-9/16 in"))
        ]
    );
    assert_eq!(
        holes("north-east", thick),
        [Cell::Length(length("4-7/8 in")), Cell::Length(length("4-7/8 in"))]
    );
    // Without the members' thickness, or whether they are doubled, it is not known how wide the hole has to be.
    for (known, missing) in [
        ("", "thickness of the framing"),
        ("thickness: 1-1/2 in, ", "doubled"),
    ] {
        let missing = Cell::NotStated(vec![format!("`run`: `{missing}`")]);
        assert_eq!(holes("north-east", known), [missing.clone(), missing]);
    }
    assert_eq!(
        holes("north", ""),
        [
            Cell::Length(length("2-9/16 in")),
            Cell::Length(length("2-9/16 in"))
        ]
    );
}

/// By hand: joists every 16 in from 4 in east on stand at 4, 20, 36, 52, 68 and 84 in, so that a pipe from 40 in to 88 in east
/// passes numbers 4, 5 and 6; 1 in north for 1 in east from 10 in north on it is 22, 38 and 54 in north there, and the south
/// bearing is 24 in south of the origin.
#[test]
fn a_hole_is_told_by_its_member_in_the_row_and_its_place_along_it() {
    let holes = |bearings: &str| {
        let network = network(&format!(
            "
crownweir: network/1
name: row
storeys: [{{storey: ground, elevation: 0 in, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
framing:
  - {{framing: joists, kind: joist, make: sawn, depth: 9-1/4 in, thickness: 1-1/2 in, doubled: false, spacing: 16 in, span: 12 ft, storey: upper, top: 0 in, layout: {{runs: north_south, first: 4 in, count: 20{bearings}}}}}
drains:
  - storey: upper
    size: 2 in
    material: pvc
    slope: 1/4 in/ft
    direction: north-east
    path:
      - fitting: {{name: A, position: [40 in, 10 in, 104 in]}}
      - pipe: {{name: run, length: 67.9 in}}
      - disposal: {{name: sewer}}
"
        ));
        sheet(&network, &rules("ipc-2021"), "holes")
    };
    let lengths = |texts: [&str; 3]| texts.map(|text| Cell::Length(length(text)));
    let borne = holes(", bearings: [10 ft, -24 in]");
    assert_eq!(texts(&borne, "member"), ["joists 4", "joists 5", "joists 6"]);
    assert_eq!(
        column(&borne, "in_member")
            .into_iter()
            .cloned()
            .collect::<Vec<_>>(),
        lengths(["3 ft 10 in", "5 ft 2 in", "6 ft 6 in"])
    );
    assert_eq!(texts(&borne, "from"), ["its south bearing"; 3]);
    // Findings call them by the same numbers.
    for number in 4..=6 {
        let name = format!("`run, joists {number}`");
        assert!(
            borne.notes.iter().any(|note| note.contains(&name)),
            "{:#?}",
            borne.notes
        );
    }
    assert!(
        borne.notes.iter().any(|note| note.contains("not number 4")),
        "{:#?}",
        borne.notes
    );
    let bare = holes("");
    assert_eq!(
        column(&bare, "in_member")
            .into_iter()
            .cloned()
            .collect::<Vec<_>>(),
        lengths(["1 ft 10 in", "3 ft 2 in", "4 ft 6 in"])
    );
    assert_eq!(texts(&bare, "from"), ["the origin, north"; 3]);
}

/// Lower edges of joists are 98-3/4 in up. PVC of 8 in is 8-5/8 in wide outside and touches them with its centre up to 4-5/16 in
/// lower; copper of 1-1/2 in is 1-5/8 in wide and touches them up to 13/16 in lower. 2 in along, a fall of 1/8 in/ft takes 0.02 in.
#[test]
fn what_touches_wood_goes_by_the_outside_diameter() {
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let passed = |pipe: &str, height: &str| {
        let network = network(&format!(
            "
crownweir: network/1
name: touch
units: inches
storeys: [{{storey: ground, elevation: 0 in, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
framing:
  - {{framing: joists, kind: joist, make: sawn, depth: 9-1/4 in, thickness: 1-1/2 in, doubled: false, spacing: 16 in, span: 12 ft, storey: upper, top: 0 in, layout: {{runs: north_south, first: 2 in, count: 1}}}}
drains: [{{{pipe}, slope: 1/8 in/ft, storey: upper, direction: east, path: [{{fitting: {{name: A, position: [0 in, 0 in, {height}]}}}}, {{pipe: {{length: 4 in}}}}, {{disposal: {{name: sewer}}}}]}}]
"
        ));
        let found = shop::anchored(&network, &dimensions).unwrap_or_else(|problems| panic!("{problems}"));
        sheet(&found, &rules("ipc-2021"), "holes").rows.len()
    };
    // 4.28 in and 4.34 in lower there, 0.78 in and 0.90 in.
    assert_eq!(passed("size: 8 in, material: pvc", "94.49 in"), 1);
    assert_eq!(passed("size: 8 in, material: pvc", "94.43 in"), 0);
    assert_eq!(passed("size: 1-1/2 in, material: copper_tube", "97.99 in"), 1);
    assert_eq!(passed("size: 1-1/2 in, material: copper_tube", "97.87 in"), 0);
}

/// Plane geometry: 2 in PVC 20 degrees out of square through 1-1/2 in needs 2.375 / cos 20 + 1.5 tan 20 = 3.073 in. A third of
/// 9-1/4 in is 3.083 in (IRC R502.8.1), but no bit between: the next, 3-1/8 in, is too wide, and 9-3/8 in allow it.
#[test]
fn a_hole_is_judged_as_it_is_bored() {
    let holes = |depth: &str, hole: &str| {
        let network = network(&format!(
            "
crownweir: network/1
name: slant
storeys: [{{storey: ground, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
framing:
  - {{framing: joists, kind: joist, make: sawn, depth: {depth}, thickness: 1-1/2 in, doubled: false, spacing: 16 in, span: 12 ft, storey: upper}}
drains:
  - storey: upper
    size: 2 in
    material: pvc
    slope: 1/4 in/ft
    path:
      - fixture: {{name: F, type: sink, weir_height: -4-1/2 in}}
      - pipe: {{name: run, length: 4 ft, passes: [{{framing: joists, first: 1 ft, spacing: 17.03 in, {hole}centre: middle, next_cut: none, bearing_distance: 4 ft, steel_plate: true}}]}}
      - disposal: {{name: sewer}}
"
        ));
        let holes = sheet(&network, &rules("ipc-2021"), "holes");
        (
            column(&holes, "hole")[0].clone(),
            texts(&holes, "verdict").remove(0),
        )
    };
    let bored = |verdict: &str| (Cell::Length(length("3-1/8 in")), verdict.to_owned());
    assert_eq!(holes("9-1/4 in", ""), bored("NO"));
    assert_eq!(holes("9-1/4 in", "hole: 3-1/8 in, "), bored("NO"));
    assert_eq!(holes("9-3/8 in", ""), bored("good"));
    // 3.08 in is under a third as it is stated, and no bit either.
    assert_eq!(holes("9-1/4 in", "hole: 3.08 in, "), bored("NO"));
}

/// One figure, two files: the outside diameters that holes are bored over are those of the dimensions.
#[test]
fn outside_diameters_agree_with_the_dimensions() {
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let rules = rules("framing-irc-2021");
    let mut compared = 0;
    for material in ["abs", "pvc", "cast_iron", "copper_tube"] {
        for size in ["1-1/4 in", "1-1/2 in", "2 in", "3 in", "4 in", "6 in", "8 in"] {
            let network = network(&format!(
                "
crownweir: network/1
name: one
framing: [{{framing: joists, kind: joist}}]
drains: [{{size: {size}, material: {material}, path: [{{fixture: {{name: F, type: sink}}}}, {{pipe: {{passes: [{{framing: joists}}]}}}}, {{disposal: {{name: sewer}}}}]}}]
"
            ));
            let measured = Measured::new(&network, &rules).expect("known sizes");
            let own = measured.fact(Subject::Passage, 0, Fact::PassageOutside);
            let material = material.parse().expect("a material");
            let there = dimensions.pipe(material, size.parse().expect("a size"));
            if let (Got::Known(Value::Length(own)), Some(there)) = (own, there) {
                assert_eq!(own, there.outside, "{material} {size}");
                compared += 1;
            }
        }
    }
    assert!(compared > 20, "{compared}");
}

#[test]
fn the_boathouse_is_full_and_every_hole_is_good() {
    let network = network(&network_text("heron-point.yaml"));
    let rules = rules("ipc-2021");
    let holes = sheet_by(&network, &rules, "holes", &demonstration());
    let verdicts = texts(&holes, "verdict");
    assert!(verdicts.len() >= 14, "{}", verdicts.len());
    assert!(
        verdicts.iter().all(|verdict| verdict == "good"),
        "{verdicts:?}\n{:#?}",
        holes.notes
    );
    let in_wood = |note: &&String| {
        ["in a member of", "stands too near", "comes out below"]
            .iter()
            .any(|said| note.contains(said))
    };
    assert_eq!(holes.notes.iter().find(in_wood), None);
    for name in ["straps", "materials", "test"] {
        let sheet = sheet(&network, &rules, name);
        assert!(sheet.rows.len() > 10, "{name}");
        let open = sheet
            .rows
            .iter()
            .flatten()
            .filter(|cell| matches!(cell, Cell::NotStated(_)));
        assert_eq!(open.count(), 0, "{name}");
    }
}

/// Joists of 9-1/4 in under the same pipes: the bathtub's drain lies too low for both that it passes.
#[test]
fn a_run_too_low_for_shallower_joists_is_told_with_what_it_can_pass() {
    let text = network_text("heron-point.yaml").replace("depth: 11-1/4 in", "depth: 9-1/4 in");
    let holes = sheet(&network(&text), &rules("ipc-2021"), "holes");
    assert!(texts(&holes, "verdict").iter().any(|verdict| verdict == "NO"));
    let notes = holes.notes.join("\n");
    assert!(
        notes.contains("`bathtub 1` can pass none of 2 `north joists`"),
        "{notes}"
    );
    assert!(notes.contains("in the lower half"), "{notes}");
    assert!(notes.contains("IRC 2021, R502.8.1"), "{notes}");
}

#[test]
fn the_dwelling_in_millimetres_has_its_holes() {
    let network = network(&network_text("larch-terrace.yaml"));
    let holes = sheet_by(&network, &rules("ipc-2021"), "holes", &demonstration());
    let verdicts = texts(&holes, "verdict");
    assert_eq!(verdicts, ["good"; 4], "{:#?}", holes.notes);
    let lengths = |key| column(&holes, key).into_iter().cloned().collect::<Vec<_>>();
    // From the fall by hand: the tub's arm starts 1800/48 mm over the tee 235 mm below the floor, 197.5 mm below it, and passes
    // joists 252, 658 and 1064 mm along it; the basin's drain passes one 93 mm and 250 mm before it joins 1500 mm from the tee,
    // 1843/48 mm over that. The joists reach from 19 to 305 mm below the floor. The rule set's hole of 2-1/8 in is 53.975 mm.
    let centres = ["108 mm", "102 mm", "94 mm", "85 mm"];
    let centres = centres.map(|centre| Cell::Length(length(centre)));
    assert_eq!(lengths("centre"), centres);
    assert!(
        lengths("hole")
            .iter()
            .all(|hole| *hole == Cell::Length(length("54 mm")))
    );
}

/// A run of 2 in to the east through joists of which no layout is stated, and an arm that comes to its end another way.
fn two_ways(arm: &str, passes: &str) -> Sheet {
    let network = network(&format!(
        "
crownweir: network/1
name: two ways
units: inches
storeys: [{{storey: lower, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
defaults: {{material: pvc}}
framing: [{{framing: fj, kind: joist, make: sawn, depth: 11-1/4 in, thickness: 1-1/2 in, spacing: 16 in, span: 12 ft, storey: upper, top: 0 in, doubled: false}}]
drains:
  - direction: east
    storey: upper
    size: 2 in
    slope: 1/4 in/ft
    path:
      - fixture: {{name: F, type: sink, weir_height: -4 in}}
      - pipe: {{name: run, length: 4 ft, passes: [{{framing: fj, first: 12 in, count: 2, next_cut: none}}]}}
      - fitting: {{name: J}}
      - pipe: {{length: 2 ft, direction: east}}
      - disposal: {{name: sewer}}
  - direction: {arm}
    storey: upper
    size: 2 in
    slope: 1/4 in/ft
    path:
      - fixture: {{name: G, type: sink}}
      - pipe: {{name: arm, length: 4 ft, passes: [{{framing: fj, first: 12 in, next_cut: none{passes}}}]}}
      - at: J
"
    ));
    sheet(&network, &rules("ipc-2021"), "holes")
}

/// Joists run one way: where two pipes pass the same at angles that differ, one of them is not square to them. By hand, 16 in
/// at 45 degrees is 22-5/8 in along the arm: 2.375 x 1.414 and 1-1/2 in make 4.86 in, more than a third of 11-1/4 in.
#[test]
fn one_row_of_joists_is_not_square_to_two_pipes_that_differ() {
    for (arm, passes, verdicts) in [
        ("east", "", ["good", "good", "good"]),
        ("west", "", ["good", "good", "good"]),
        ("south", "", ["good", "good", "open"]),
        ("south-east", "", ["good", "good", "open"]),
        ("south-east", ", hole: 3 in", ["good", "good", "open"]),
        ("south-east", ", spacing: 22-5/8 in", ["good", "good", "NO"]),
    ] {
        let holes = two_ways(arm, passes);
        assert_eq!(
            texts(&holes, "verdict"),
            verdicts,
            "{arm}{passes} {:#?}",
            holes.notes
        );
        let said = "`fj` is taken to run north, square to `run`, for no `layout` of it is stated. The holes of `arm` are open: they \
                    pass it at another angle.";
        let is_said = holes.notes.iter().any(|note| note == said);
        assert_eq!(is_said, verdicts[2] == "open", "{:#?}", holes.notes);
    }
    let holes = two_ways("south", "");
    let missing = Cell::NotStated(vec!["`arm`: `layout of the framing`".to_owned()]);
    assert_eq!(column(&holes, "hole").last(), Some(&&missing));
}

/// Counted by hand in the file.
#[test]
fn the_counter_is_asked_for_what_the_file_has() {
    let network = straight("pvc", "2 in");
    let list = sheet(&network, &rules("ipc-2021"), "materials");
    let of = |item: &str| {
        let rows = list.rows.iter().filter(|row| row[3] == Cell::from(item));
        rows.map(|row| (row[2].clone(), row[4].clone(), row[5].clone()))
            .collect::<Vec<_>>()
    };
    let size = || Cell::from("2 in");
    assert_eq!(
        of("pipe, pieces"),
        [(size(), Cell::Count(4), Cell::Length(length("57 ft")))]
    );
    assert_eq!(of("long sweep"), [(size(), Cell::Count(1), Cell::Empty)]);
    assert_eq!(of("coupling"), [(size(), Cell::Count(2), Cell::Empty)]);
    // What the sweep takes is not known: 47 ft are three lengths of 20 ft, and four pieces have eight ends; a quart makes sixty
    // joints of 2 in.
    assert_eq!(
        of("PVC cement (ASTM D2564)"),
        [(Cell::from("quart"), Cell::Count(1), Cell::Empty)]
    );
}

/// The run of the tee goes through and its branch is free; two branches of the double wye are.
#[test]
fn openings_that_no_pipe_joins_are_told_at_the_counter() {
    let text = straight_text("pvc", "2 in").replace(
        "      - disposal: {name: sewer}",
        "      - fitting: {name: T, pattern: sanitary_tee}\n      - pipe: {length: 1 ft, slope: vertical}\n      \
         - fitting: {name: W, pattern: double_wye}\n      - pipe: {length: 1 ft, slope: vertical}\n      - disposal: {name: sewer}",
    );
    let list = sheet(&network(&text), &rules("ipc-2021"), "materials");
    let told = "Openings that no pipe joins are left open, and no plug for them is counted: `T`, `W` (2).";
    assert!(list.notes.contains(&told.to_owned()), "{:#?}", list.notes);
    let list = sheet(&straight("pvc", "2 in"), &rules("ipc-2021"), "materials");
    assert!(!list.notes.iter().any(|note| note.contains("left open")));
}

#[test]
fn a_file_of_practice_that_cannot_be_meant_is_refused() {
    let text = include_str!("../../../crates/shop/data/practice.yaml");
    let told = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        let text = text.replacen(from, to, 1);
        let read = Practice::read("practice.yaml", text.as_bytes(), &Limits::default());
        read.expect_err("a problem").to_string()
    };
    assert!(told("joints: 90", "joints: 0").contains("a quart that makes no joint"));
    assert!(told("longer_than: 1 ft", "longer_than: 1").contains("`1` has no unit"));
    let unsourced = told(
        "document: a project specification",
        "note: x, checked: a project specification",
    );
    assert!(unsourced.contains("practice.yaml:"), "{unsourced}");
}

/// The boathouse as first roughed in has wyes whose vents leave at right angles: what depends on them says so, and all else
/// is there.
#[test]
fn a_faulty_building_has_its_sheets_with_what_it_contradicts() {
    let network = network(&network_text("heron-point-faulty.yaml"));
    for kind in shop::SheetKind::ALL {
        let sheet = demonstrated(&network, kind.name);
        let told = sheet.notes.iter().any(|note| {
            note.contains("`V-FD-1` (wye) has a branch at 45 deg, but `floor drain vent` is at 88.8 deg")
        });
        let depends = ["offsets", "cuts", "stock", "materials"].contains(&kind.name);
        assert_eq!(told, depends, "{}", kind.name);
    }
    let cuts = demonstrated(&network, "cuts");
    let cut = column(&cuts, "cut");
    let known = cut.iter().filter(|cell| matches!(cell, Cell::Length(_))).count();
    let at_it = |key| {
        texts(&cuts, key)
            .iter()
            .map(|name| name == "V-FD-1")
            .collect::<Vec<_>>()
    };
    for ((cell, from), to) in cut.iter().zip(at_it("from")).zip(at_it("to")) {
        if from || to {
            assert!(matches!(cell, Cell::NotStated(_)), "{cell:?}");
        }
    }
    assert!(known * 10 > cut.len() * 5, "{known} of {}", cut.len());
}

/// What a workbook holds, read by general-purpose readers of the two formats that it is made of: numbers where the sheet
/// has numbers, words never as a formula.
#[test]
fn a_workbook_holds_numbers_as_numbers_and_words_as_words() {
    use std::io::Read as _;
    let text = network_text("heron-point.yaml").replacen("name: Heron Point boathouse", "name: \"=1+1\"", 1);
    let network = network(&text);
    let sheets = [demonstrated(&network, "cuts"), demonstrated(&network, "levels")];
    let bytes = shop::workbook(&sheets).expect("a workbook");
    assert!(
        bytes == shop::workbook(&sheets).expect("a workbook"),
        "no clock is asked"
    );
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).expect("a zip file");
    let mut part = |name: &str| {
        let mut text = String::new();
        let mut file = archive.by_name(name).expect(name);
        file.read_to_string(&mut text).expect("text");
        text
    };
    let words = part("xl/sharedStrings.xml");
    assert!(
        words.contains("=1+1: cut list") && words.contains("cut (in)"),
        "{words}"
    );
    let names = part("xl/workbook.xml");
    assert!(
        names.contains("name=\"cuts\"") && names.contains("name=\"levels\""),
        "{names}"
    );
    for (number, sheet) in (1..).zip(&sheets) {
        let cells = cells(&part(&format!("xl/worksheets/sheet{number}.xml")));
        for (row, own) in (4..).zip(&sheet.rows) {
            for (letter, cell) in ('A'..).zip(own) {
                let found = cells.get(&format!("{letter}{row}"));
                match cell {
                    Cell::Length(length) => {
                        let (kind, value) = found.expect("a cell");
                        assert_eq!(kind, "n");
                        let value: f64 = value.parse().expect("a number");
                        assert!(
                            (value - length.as_inches_f64()).abs() <= 1.0 / 32.0,
                            "{letter}{row}"
                        );
                        assert_eq!(value * 16.0, (value * 16.0).round(), "{letter}{row}");
                    }
                    Cell::Text(_) => {
                        assert_eq!(found.map(|(kind, _)| kind.as_str()), Some("s"), "{letter}{row}")
                    }
                    _ => {}
                }
            }
        }
    }
}

/// The cells of a page of a workbook: by their places, what kind each is and what stands in it.
fn cells(page: &str) -> std::collections::BTreeMap<String, (String, String)> {
    use quick_xml::events::Event;
    let mut reader = quick_xml::Reader::from_str(page);
    let mut cells = std::collections::BTreeMap::new();
    let mut at: Option<(String, String)> = None;
    loop {
        match reader.read_event().expect("XML") {
            Event::Eof => return cells,
            Event::Start(tag) if tag.name().as_ref() == b"c" => {
                let attribute = |key: &str| {
                    let found = tag.try_get_attribute(key).expect("an attribute")?;
                    Some(String::from_utf8_lossy(&found.value).into_owned())
                };
                at = attribute("r").map(|place| (place, attribute("t").unwrap_or_else(|| "n".to_owned())));
            }
            Event::Start(tag) => assert_ne!(tag.name().as_ref(), b"f", "a formula"),
            Event::Text(text) => {
                if let Some((place, kind)) = at.take() {
                    let text = String::from_utf8_lossy(&text).into_owned();
                    cells.insert(place, (kind, text));
                }
            }
            _ => {}
        }
    }
}

/// What the sheet of places says of pipes that run into each other.
fn clashes(network: &Network) -> Vec<String> {
    let notes = demonstrated(network, "places").notes;
    notes
        .into_iter()
        .filter(|note| note.contains("runs into"))
        .collect()
}

/// Outside diameters: 2.375 in of 2 in and 3.500 in of 3 in PVC (ASTM D2665); how near two lines in space come to each other
/// is plain geometry.
#[test]
fn pipes_that_run_through_each_other_are_told() {
    let crossing = |mut second: [[f64; 3]; 2]| {
        // Water goes down.
        second.sort_by(|one, other| other[2].total_cmp(&one[2]));
        let at = |name: &str, [east, north, up]: [f64; 3]| {
            format!("{{name: {name}, position: [{east:.3} in, {north:.3} in, {up:.3} in]}}")
        };
        let run = |size: &str, names: [&str; 2], ends: [[f64; 3]; 2], sewer: &str| {
            let [start, end] = [0, 1].map(|end| at(names[end], ends[end]));
            format!(
                "{{size: {size}, path: [{{cleanout: {start}}}, {{pipe: {{}}}}, {{fitting: {end}}}, {{pipe: {{}}}}, {sewer}]}}"
            )
        };
        let sewer = at("sewer", [300.0, 0.0, -200.0]);
        network(&format!(
            "
crownweir: network/1
name: crossing
defaults: {{material: pvc}}
drains:
  - {}
  - {}
",
            run(
                "3 in",
                ["A", "B"],
                [[0.0, 0.0, 0.0], [100.0, 0.0, -2.0]],
                &format!("{{disposal: {sewer}}}")
            ),
            run("2 in", ["C", "D"], second, "{at: sewer}"),
        ))
    };
    let radii = (3.5 + 2.375) / 2.0;
    let mut told = 0;
    for degrees in [30.0_f64, 45.0, 90.0, 135.0] {
        let (sine, cosine) = degrees.to_radians().sin_cos();
        for (eighths, steep) in (10..40).flat_map(|eighths| [(eighths, 0.0), (eighths, 0.5)]) {
            let above = f64::from(eighths) / 8.0;
            // Over the middle of the first, 1 in below its start, square to both.
            let end = |far: f64| [50.0 + far * cosine, far * sine, -1.0 + above + far * steep];
            let found = clashes(&crossing([end(-40.0), end(60.0)]));
            // Of two lines: |(b - a) . (u x v)| / |u x v|.
            let (own, other) = ([100.0, 0.0, -2.0], [cosine, sine, steep]);
            let square = [0, 1, 2].map(|axis: usize| {
                let (next, last) = ((axis + 1) % 3, (axis + 2) % 3);
                own[next] * other[last] - own[last] * other[next]
            });
            let apart = above * square[2].abs() / square.iter().map(|part| part * part).sum::<f64>().sqrt();
            // Where tapes do not tell it is anyone's guess.
            if (apart - radii).abs() > 1.0 / 8.0 {
                assert_eq!(
                    found.len(),
                    usize::from(apart < radii),
                    "{degrees} {above} {steep}: {apart} {found:?}"
                );
                told += found.len();
            }
        }
    }
    assert!(told > 40, "{told}");
    // Beside it.
    assert_eq!(
        clashes(&crossing([[10.0, 3.25, -0.2], [90.0, 3.25, -1.8]])).len(),
        0
    );
    assert_eq!(
        clashes(&crossing([[10.0, 2.75, -0.2], [90.0, 2.75, -1.8]])).len(),
        1
    );
}

#[test]
fn no_two_pipes_of_the_buildings_run_into_each_other() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/networks");
    let mut looked_at = 0;
    for file in std::fs::read_dir(folder).expect("the folder") {
        let name = file.expect("a file").file_name().to_string_lossy().into_owned();
        if name.ends_with(".yaml") {
            assert_eq!(
                clashes(&network(&network_text(&name))),
                Vec::<String>::new(),
                "{name}"
            );
            looked_at += 1;
        }
    }
    assert!(looked_at >= 16, "{looked_at}");
}

/// The laundry's riser came up through the closet's drain before it was led past the closet.
#[test]
fn a_riser_through_a_drain_cannot_be_built() {
    let text = network_text("larch-terrace.yaml");
    let text = text.replacen(
        "length: 250 mm, direction: right 45 deg",
        "length: 50 mm, direction: right 45 deg",
        1,
    );
    let network = network(&text);
    let [note] = &clashes(&network)[..] else {
        panic!("one clash");
    };
    let start = "`laundry riser` runs into `closet drain` 8700 mm west, ";
    assert!(note.starts_with(start), "{note}");
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let unbuildable = Job::new(&network, &dimensions).unbuildable();
    assert!(
        unbuildable.iter().any(|one| one.message.starts_with(start)),
        "{unbuildable:?}"
    );
}
