//! Where everything stands: from positions, from directions and lengths, and what contradicts itself.

use crownweir::shop::{self, Dimensions, Geometry};
use crownweir::{Limits, Network, check};
use crownweir_tests::{network, rules};

fn problems(text: &str) -> String {
    match Network::read("network.yaml", text.as_bytes(), &Limits::default()) {
        Ok(_) => panic!("accepted:\n{text}"),
        Err(problems) => problems.to_string(),
    }
}

/// A drain in millimetres along the steps of a path, ending at the sewer; further runs as given.
fn drain(steps: &str, more: &str) -> String {
    format!(
        "crownweir: network/1
name: n
units: millimetres
storeys: [{{storey: a, height: 3 m}}]
drains:
  - {{size: DN 50, material: pvc, storey: a, slope: 1:50, path: [{steps}, {{disposal: {{name: Z, height: 0 mm}}}}]}}
{more}"
    )
}

/// A node's place in millimetres, `?` for what is not known.
fn place(network: &Network, name: &str) -> String {
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let geometry = Geometry::resolve(network, &dimensions);
    let place = geometry.place(network.node_named(name).expect("a node"));
    let millimetres = |length: Option<crownweir::quantity::Length>| {
        length.map_or("?".to_owned(), |length| {
            (length.nanometres() as f64 / 1e6).round().to_string()
        })
    };
    [place.east, place.north, place.up].map(millimetres).join(" ")
}

/// Plane geometry: an eighth bend in a turn of 51 deg is 6 deg off, which is 10 ft x 2 sin 3 deg = 1 ft 9/16 in over 10 ft; falls
/// alone come to no such angle, and 49 deg are 4 deg off, 8-3/8 in.
#[test]
fn a_bend_that_is_off_its_angle_is_told_with_how_far() {
    let notes = |direction: &str| {
        let network = network(&format!(
            "
crownweir: network/1
name: bend
units: inches
storeys: [{{storey: ground, height: 9 ft}}]
drains:
  - {{size: 2 in, slope: 1/4 in/ft, material: pvc, direction: 90 deg, storey: ground, path: [{{fitting: {{name: A}}}}, {{pipe: {{name: before, length: 2 ft}}}}, {{fitting: {{name: E, pattern: eighth_bend}}}}, {{pipe: {{name: after, length: 10 ft, direction: {direction}}}}}, {{disposal: {{name: Z, height: 0 in}}}}]}}
"
        ));
        let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
        let places = shop::SheetKind::named("places").expect("a sheet");
        let mut notes = places.sheet(&shop::Job::new(&network, &dimensions)).notes;
        notes.pop();
        notes
    };
    let by = "The places are by the directions and slopes of the file, not by the fitting.";
    assert_eq!(
        notes("141 deg"),
        [format!(
            "`E` (eighth bend) turns 45 deg, but `before` is at 51 deg to `after`, 6 deg off: 1 ft 9/16 in aside over the 10 ft of \
             `after`. {by}"
        )]
    );
    assert_eq!(
        notes("139 deg"),
        [format!(
            "`E` (eighth bend) turns 45 deg, but `before` is at 49 deg to `after`, 4 deg off: 8-3/8 in aside over the 10 ft of `after`. \
             {by}"
        )]
    );
    assert_eq!(notes("137 deg"), [""; 0]);
}

#[test]
fn a_direction_holds_until_another_is_stated() {
    let network = network(&drain(
        "{fitting: {name: A}}, {pipe: {length: 3 m, direction: east}}, {fitting: {name: B}}, {pipe: {length: 1 m}}, \
         {fitting: {name: C}}, {pipe: {direction: left, length: 2 m}}, {fitting: {name: D}}, \
         {pipe: {slope: vertical, length: 1 m}}, {fitting: {name: E}}, {pipe: {length: 500 mm}}",
        "",
    ));
    // By hand: falls of 10, 40, 20 and 60 mm at 1 in 50; lengths in plan are shorter by one part in 5000.
    assert_eq!(place(&network, "Z"), "0 0 0");
    assert_eq!(place(&network, "E"), "0 -500 10");
    assert_eq!(place(&network, "D"), "0 -500 1010");
    assert_eq!(place(&network, "C"), "0 -2499 1050");
    assert_eq!(place(&network, "B"), "-1000 -2499 1070");
    assert_eq!(place(&network, "A"), "-3999 -2499 1130");
}

#[test]
fn what_is_not_stated_stays_unknown() {
    let network = network(&drain(
        "{fitting: {name: A}}, {pipe: {length: 3 m}}, {fitting: {name: B}}, {pipe: {direction: east}}, \
         {fitting: {name: C}}, {pipe: {direction: north, length: 1 m}}",
        "",
    ));
    assert_eq!(place(&network, "C"), "0 -1000 20");
    // A pipe of unknown length that runs east tells how far north its ends lie.
    assert_eq!(place(&network, "B"), "? -1000 ?");
    assert_eq!(place(&network, "A"), "? ? ?");
}

#[test]
fn the_places_of_the_ends_give_the_length_of_a_pipe() {
    let between = |own: &str| {
        drain(
            &format!(
                "{{fitting: {{name: A, position: [-3 m, -4 m, 100 mm]}}}}, {{pipe: {{name: run{own}}}}}, \
                 {{fitting: {{name: B, position: [0 mm, 0 mm, 0 mm]}}}}, {{pipe: {{length: 1 m}}}}"
            ),
            "",
        )
        .replace("slope: 1:50, ", "")
        .replace(", height: 0 mm", "")
    };
    let network = network(&between(""));
    let pipe = network.pipe_named("run").expect("a pipe");
    // 3, 4 and 0.1 m by Pythagoras; the bearing's tangent is 3 over 4.
    assert_eq!(
        network.graph()[pipe].length.map(|length| length.nanometres()),
        Some(5_000_999_900)
    );
    let bearing = network.bearing(pipe).expect("a bearing").microdegrees();
    assert_eq!(bearing, 36_869_898);
    let error = problems(&between(", direction: north-east"));
    assert!(
        error.contains("network.yaml:6:")
            && error.contains("`B` stands 3000 mm east and 4000 mm north of `A`"),
        "{error}"
    );
}

#[test]
fn a_loop_that_does_not_close_is_an_error_with_both_figures() {
    let with = |last: &str| {
        drain(
            "{fixture: {name: F, type: lavatory}}, {pipe: {length: 1 m, direction: east}}, {fitting: {name: T, pattern: sanitary_tee}}, \
             {pipe: {slope: vertical, length: 1 m}}, {fitting: {name: E, pattern: long_sweep}}, {pipe: {length: 3 m}}",
            &format!(
                "  - {{run: stack, kind: stack, size: DN 50, material: pvc, slope: vertical, path: [{{fitting: {{name: S, pattern: sanitary_tee, storey: a, height: 2 m}}}}, {{pipe: {{length: 2 m}}}}, {{at: Z}}]}}
vents:
  - {{size: DN 40, path: [{{at: T}}, {{pipe: {{slope: vertical, length: 500 mm}}}}, {{fitting: {{name: V}}}}, {{pipe: {{length: {last}, slope: 1:50, direction: east}}}}, {{at: W}}]}}
  - {{size: DN 40, slope: vertical, path: [{{at: S}}, {{pipe: {{}}}}, {{fitting: {{name: W, storey: a}}}}, {{pipe: {{length: 2 m}}}}, {{terminal: {{name: roof}}}}]}}
"
            ),
        )
    };
    let sound = network(&with("3 m"));
    assert_eq!(place(&sound, "W"), "0 0 1620");
    // The pipe that closes the loop is told, with what it says itself and what the others say.
    let error = problems(&with("2.9 m"));
    assert!(
        error.contains("`T to V` is vertical, but `V` stands about 100 mm east of `T`"),
        "{error}"
    );
    let turned = with("3 m").replace(
        "1:50, direction: east}}, {at: W}",
        "1:50, direction: south-east}}, {at: W}",
    );
    let error = problems(&turned);
    assert!(
        error.contains(
            "`T to V` is vertical, but `V` stands about 879 mm east and about 2121 mm north of `T`"
        ),
        "{error}"
    );
}

#[test]
fn a_fall_that_cannot_reach_is_an_error_with_both_figures() {
    let error = problems(&drain(
        "{fitting: {name: A, height: 500 mm}}, {pipe: {length: 3 m, direction: east}}",
        "",
    ));
    assert!(
        error.contains("`A to Z` falls 60 mm by its length and slope, but `Z` stands 500 mm below `A`"),
        "{error}"
    );
}

/// Halfway between two stated heights the fault is told with the nodes that state them.
#[test]
fn heights_that_deny_each_other_are_told_with_whose_they_are() {
    let error = problems(&drain(
        "{fitting: {name: A, height: 500 mm}}, {pipe: {length: 1 m, direction: east}}, {fitting: {name: B}}, \
         {pipe: {length: 1 m, direction: east}}, {fitting: {name: C}}, {pipe: {length: 1 m, direction: east}}",
        "",
    ));
    assert!(
        error.contains("but `C` stands 460 mm below `B`, by the heights of `A` and `Z`"),
        "{error}"
    );
}

/// A plumb pipe of open length takes its length from the heights of its ends: it carries none from one to the other.
#[test]
fn heights_that_a_pipe_got_its_length_by_are_not_told_as_the_sources_of_others() {
    let error = problems(
        "
crownweir: network/1
name: heights
units: millimetres
storeys: [{storey: ground}]
drains:
  - {storey: ground, size: DN 50, slope: 1:50, path: [{fixture: {name: basin, type: lavatory, weir_height: 500 mm}}, {pipe: {length: 1 m}}, {fitting: {name: T, pattern: sanitary_tee}}, {pipe: {slope: vertical, length: 600 mm}}, {fitting: {name: E}}, {pipe: {length: 1 m}}, {disposal: {name: sewer, height: -200 mm}}]}
vents:
  - {storey: ground, size: DN 40, slope: vertical, path: [{at: T}, {pipe: {}}, {fitting: {name: V, height: 1 m}}, {pipe: {length: 1 m}}, {terminal: {name: roof}}]}
",
    );
    assert!(
        error.contains("but `E` stands 660 mm below `T`, by the heights of `basin` and `sewer`"),
        "{error}"
    );
}

/// A plumb vent between two that stand level would have no length: asking for it would be asking for what cannot be stated.
#[test]
fn a_plumb_vent_without_room_for_any_length_is_told() {
    let vent = |above: &str| {
        format!(
            "
crownweir: network/1
name: vents
units: millimetres
storeys: [{{storey: ground}}]
drains:
  - {{storey: ground, size: DN 50, slope: 1:50, path: [{{fixture: {{name: basin, type: lavatory}}}}, {{pipe: {{length: 1 m}}}}, {{fitting: {{name: T}}}}, {{pipe: {{length: 1 m}}}}, {{disposal: {{name: sewer, height: -200 mm}}}}]}}
vents:
  - {{storey: ground, size: DN 40, slope: vertical, path: [{{at: T}}, {{pipe: {{}}}}, {{fitting: {{name: V, height: 1 m}}}}, {{pipe: {{}}}}, {{fitting: {{name: W}}}}, {{pipe: {{length: 500 mm}}}}, {{terminal: {{name: roof, height: {above}}}}}]}}
"
        )
    };
    for (above, told) in [
        (
            "1500 mm",
            "`V to W` leads up plumb, but `W` stands level with `V`",
        ),
        (
            "1497 mm",
            "`V to W` leads up plumb, but `W` stands 3 mm below `V`, by the heights of `V` and `roof`",
        ),
    ] {
        let error = problems(&vent(above));
        assert!(error.contains(told), "{error}");
    }
    for above in ["1510 mm", "1501 mm", "1400 mm"] {
        let network = network(&vent(above));
        let pipe = network.pipe_named("V to W").expect("the pipe");
        assert!(network.graph()[pipe].length.is_some(), "{above}");
    }
}

// Of a pipe whose length is not stated, heights still tell which way it leads: common practice.
#[test]
fn a_drain_that_would_run_uphill_is_an_error_without_a_length_too() {
    let heights = |from: &str, slope: &str, to: &str| {
        format!(
            "crownweir: network/1\nname: n\nunits: millimetres\nstoreys: [{{storey: ground}}]\ndrains:\n  - {{storey: ground, size: DN 50, \
             path: [{{fitting: {{name: A, height: {from}}}}}, {{pipe: {{slope: {slope}}}}}, {{disposal: {{name: Z, height: {to}}}}}]}}\n"
        )
    };
    for (from, slope, to, told) in [
        (
            "0 mm",
            "vertical",
            "50 mm",
            "`A to Z` leads down plumb, but `Z` stands 50 mm above `A`",
        ),
        (
            "0 mm",
            "vertical",
            "0 mm",
            "`A to Z` leads down plumb, but `Z` stands level with `A`",
        ),
        (
            "0 mm",
            "1:50",
            "50 mm",
            "`A to Z` leads down by its slope, but `Z` stands 50 mm above `A`",
        ),
    ] {
        let error = problems(&heights(from, slope, to));
        assert!(error.contains(told), "{error}");
    }
    for (slope, to) in [("vertical", "-50 mm"), ("1:50", "-50 mm"), ("level", "0 mm")] {
        assert_eq!(network(&heights("0 mm", slope, to)).graph().edge_count(), 1);
    }
}

#[test]
fn directions_that_mean_nothing_are_refused() {
    let error = problems(&drain(
        "{fitting: {name: A}}, {pipe: {length: 1 m, direction: left}}",
        "",
    ));
    assert!(
        error.contains("turns from a direction that is not stated before it"),
        "{error}"
    );
    let error = problems(&drain(
        "{fitting: {name: A}}, {pipe: {length: 1 m, slope: vertical, direction: east}}",
        "",
    ));
    assert!(
        error.contains("is vertical and has no direction in plan"),
        "{error}"
    );
    let error = problems(&drain(
        "{fitting: {name: A}}, {pipe: {length: 1 m, direction: eastward}}",
        "",
    ));
    assert!(error.contains("expected a direction such as"), "{error}");
}

/// An offset in a level drain of so much set and roll between two bends.
fn offset(pattern: &str, offset: &str) -> String {
    drain(
        &format!(
            "{{fitting: {{name: A}}}}, {{pipe: {{length: 1 m, direction: north}}}}, {{fitting: {{name: B, pattern: {pattern}}}}}, \
             {{pipe: {{name: travel, offset: {{{offset}}}}}}}, {{fitting: {{name: C, pattern: {pattern}}}}}, {{pipe: {{length: 1 m}}}}"
        ),
        "",
    )
}

// Sources of the offsets: a rolling offset of 8 and 12 in by 45 and by 22-1/2 degree fittings, true offset 14.42, travel
// 20.39 and 37.68, setback 14.42 and 34.81 (a public page on the rolling-offset formula, with practice answers; the same
// true offset in a public how-to on rolling offsets). 60 degree fittings, 12 in: advance 6.9288, travel 13.8564 (a web
// copy of an old card on angle measurement).
#[test]
fn rolling_offsets_come_out_as_published() {
    for (pattern, given, travel, advance) in [
        ("eighth_bend", "set: 8 in, left: 12 in", 20.39, 14.42),
        ("sixteenth_bend", "set: 8 in, left: 12 in", 37.68, 34.81),
        ("sixth_bend", "set: 12 in", 13.8564, 6.9288),
    ] {
        let network = network(&offset(pattern, given));
        let pipe = &network.graph()[network.pipe_named("travel").expect("a pipe")];
        let length = pipe.length.expect("a length").as_inches_f64();
        assert!((length - travel).abs() < 0.011, "{pattern}: {length}");
        let north = |name: &str| {
            network.place_in_plan(network.node_named(name).expect("a node"))[1].expect("a place")
        };
        let run = north("C").as_inches_f64() - north("B").as_inches_f64();
        assert!((run - advance).abs() < 0.011, "{pattern}: {run}");
    }
    let network = network(&offset("eighth_bend", "set: 8 in, left: 12 in"));
    // It rolls to the left, which is west of north, and goes on as before.
    let east =
        |name: &str| network.place_in_plan(network.node_named(name).expect("a node"))[0].expect("a place");
    assert_eq!((east("B").as_inches_f64() * 1e4).round(), 120_000.0);
    assert_eq!(east("C"), "0 in".parse().expect("a length"));
}

#[test]
fn an_offset_needs_two_bends_of_one_angle() {
    let text = offset("eighth_bend", "set: 8 in");
    let error = problems(&text.replacen("pattern: eighth_bend", "pattern: sixth_bend", 1));
    assert!(error.contains("`B` turns 60 deg and `C` turns 45 deg"), "{error}");
    let error = problems(&offset("eighth_bend", "set: 8 in, left: 1 in, right: 1 in"));
    assert!(error.contains("goes to the left or to the right"), "{error}");
    let error = problems(&offset("eighth_bend", ""));
    assert!(error.contains("moves the line nowhere"), "{error}");
    let error = problems(&text.replace("direction: north", "name: first"));
    assert!(error.contains("needs the direction in plan"), "{error}");
    let error = problems(&text.replace("name: travel", "name: travel, length: 20 in"));
    assert!(
        error.contains("is stated as 508 mm, but the offset and its bends give about 287 mm"),
        "{error}"
    );
}

/// What is wrong with the angles of a network's fittings.
fn angles(text: &str) -> Option<String> {
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let geometry = Geometry::resolve(&network(text), &dimensions);
    let found = geometry.contradictions().iter();
    let found: Vec<String> = found.map(|one| one.problem.to_string()).collect();
    (!found.is_empty()).then(|| found.join("\n"))
}

#[test]
fn a_fitting_turns_as_its_pipes_do() {
    let bend = |pattern: &str, direction: &str| {
        drain(
            &format!(
                "{{fitting: {{name: A}}}}, {{pipe: {{length: 1 m, direction: north}}}}, {{fitting: {{name: B, pattern: {pattern}}}}}, \
                 {{pipe: {{length: 1 m, direction: {direction}}}}}"
            ),
            "",
        )
    };
    assert_eq!(angles(&bend("eighth_bend", "right 45 deg")), None);
    assert_eq!(angles(&bend("quarter_bend", "west")), None);
    assert_eq!(angles(&bend("coupling", "straight on")), None);
    let error = angles(&bend("eighth_bend", "east")).expect("an error");
    assert!(
        error.starts_with("network.yaml:6:")
            && error.contains("`B` (eighth bend) turns 45 deg, but `A to B` is at 90 deg to `B to Z`"),
        "{error}"
    );
    // A drain of 1 in 50 falls into a vertical pipe at 88.9 degrees, which a quarter bend makes up for.
    assert_eq!(
        angles(&bend("quarter_bend", "north, slope: vertical").replace("direction: north, slope", "slope")),
        None
    );
    let steep = bend("sixth_bend", "north, slope: vertical").replace("direction: north, slope", "slope");
    assert!(
        angles(&steep)
            .is_some_and(|error| error.contains("turns 60 deg, but `A to B` is at 88.9 deg to `B to Z`"))
    );
}

#[test]
fn a_branch_joins_at_its_angle() {
    let branch = |pattern: &str, direction: &str| {
        drain(
            &format!(
                "{{fitting: {{name: A}}}}, {{pipe: {{length: 1 m, direction: north}}}}, {{fitting: {{name: B, pattern: {pattern}}}}}, {{pipe: {{length: 1 m}}}}"
            ),
            &format!(
                "  - {{size: DN 50, slope: 1:50, path: [{{fitting: {{name: C}}}}, {{pipe: {{length: 1 m, direction: {direction}}}}}, {{at: B}}]}}\n"
            ),
        )
    };
    for (pattern, direction, sound) in [
        ("wye", "north-east", true),
        ("wye", "north-west", true),
        ("wye", "west", false),
        ("wye", "south-east", false),
        ("combination_wye", "west", true),
        ("combination_wye", "north-west", false),
    ] {
        assert_eq!(
            angles(&branch(pattern, direction)).is_none(),
            sound,
            "{pattern} {direction}"
        );
    }
}

/// What checks by the codes say of a fitting that its drains deny; a file without directions is asked for none.
#[test]
fn a_check_tells_what_a_fitting_is_made_for() {
    let turn = |pattern: &str, ways: [&str; 2]| {
        let [from, on] = ways.map(|way| format!("{{pipe: {{length: 1 m{way}}}}}"));
        drain(
            &format!("{{fitting: {{name: A}}}}, {from}, {{fitting: {{name: B, pattern: {pattern}}}}}, {on}"),
            "",
        )
    };
    let told = |code: &str, text: &str| {
        let report = check(&network(text), &rules(code)).unwrap_or_else(|error| panic!("{error}"));
        let of_angles = report
            .findings
            .into_iter()
            .filter(|one| one.rule == "fitting-angle");
        let of_angles = of_angles.map(|one| format!("{} {}: {}", one.severity.name(), one.name, one.message));
        of_angles.collect::<Vec<_>>()
    };
    let square = turn("coupling", [", direction: north", ", direction: east"]);
    let says = "B: between `A to B` and `B to Z` the way turns 90 deg; a coupling is made to go straight on";
    for (code, severity) in [
        ("ipc-2021", "violation"),
        ("upc-2021", "violation"),
        ("npc-2020", "advice"),
        ("en-12056-2", "advice"),
    ] {
        assert_eq!(told(code, &square), [format!("{severity} {says}")]);
    }
    let by_ipc = |pattern: &str, from: &str, on: &str| told("ipc-2021", &turn(pattern, [from, on]));
    assert_eq!(by_ipc("coupling", "", ""), Vec::<String>::new());
    assert_eq!(
        by_ipc("long_sweep", ", direction: north", ", direction: east"),
        Vec::<String>::new()
    );
    // The way between a drain at 1 in 50 and a vertical one needs no plan.
    for direction in ["", ", direction: north"] {
        assert_eq!(
            by_ipc("eighth_bend", direction, ", slope: vertical"),
            [
                "violation B: between `A to B` and `B to Z` the way turns 88.9 deg; an eighth bend is made to turn 45 deg"
            ]
        );
    }
    let open = by_ipc("coupling", "", ", direction: east");
    assert!(
        matches!(&open[..], [one] if one.contains("direction")),
        "{open:?}"
    );
}

/// Of a vent it is advice.
#[test]
fn a_check_tells_what_a_fitting_of_vents_is_made_for() {
    let turn = |on: &str| {
        let vent = format!(
            "vents:\n  - {{size: DN 50, slope: 1:50, path: [{{at: A}}, {{pipe: {{name: v1, length: 1 m, direction: north}}}}, \
             {{fitting: {{name: W, pattern: coupling}}}}, {{pipe: {{name: v2, length: 1 m, direction: {on}}}}}, \
             {{terminal: {{name: roof}}}}]}}\n"
        );
        let text = drain("{fitting: {name: A}}, {pipe: {length: 1 m}}", &vent);
        let report = check(&network(&text), &rules("ipc-2021")).unwrap_or_else(|error| panic!("{error}"));
        let told = report.findings.into_iter();
        let told = told.filter(|one| one.name == "W" && one.rule.ends_with("fitting-angle"));
        told.map(|one| format!("{} {}: {}", one.severity.name(), one.name, one.message))
            .collect::<Vec<_>>()
    };
    assert_eq!(
        turn("east"),
        ["advice W: between `v1` and `v2` the way turns 90 deg; a coupling is made to go straight on"]
    );
    assert_eq!(turn("north"), [""; 0]);
}

/// A wye has its branch at 45 degrees: a drain that comes in at that angle enters by the branch, whatever the file states.
#[test]
fn an_opening_that_the_angle_denies_is_told() {
    let branch = |enters: &str, direction: &str| {
        drain(
            "{fitting: {name: A}}, {pipe: {length: 1 m, direction: north}}, {fitting: {name: B, pattern: wye}}, \
             {pipe: {name: on, length: 1 m}}",
            &format!(
                "  - {{size: DN 50, slope: 1:50, path: [{{fitting: {{name: C}}}}, \
                 {{pipe: {{name: side, length: 1 m, direction: {direction}, enters: {enters}}}}}, {{at: B}}]}}\n"
            ),
        )
    };
    assert_eq!(angles(&branch("branch", "north-east")), None);
    let error = angles(&branch("run", "north-east")).expect("an error");
    assert!(
        error.starts_with("network.yaml:7:")
            && error.contains(
                "`side` is stated to enter `B` (wye) by its run, but at 45 deg to `on` it comes in by its branch"
            ),
        "{error}"
    );
    let straight = angles(&branch("branch", "north")).expect("an error");
    assert!(
        straight.contains("by its branch, but at 0 deg to `on` it comes in by its run"),
        "{straight}"
    );
}

/// A drain whose only heights are inverts, 5 m long at 1:50: PVC of DN 50 is 2.049 in inside (see the dimensions), half of
/// which is 26.02 mm.
#[test]
fn inverts_anchor_heights() {
    let file = |more: &str| {
        format!(
            "crownweir: network/1
name: n
units: millimetres
storeys: [{{storey: a, height: 3 m}}]
drains:
  - size: DN 50
    material: pvc
    storey: a
    path:
      - fitting: {{name: A}}
      - pipe: {{name: up, length: 2 m, slope: 1:50}}
      - fitting: {{name: B}}
      - pipe: {{name: down, length: 5 m, inverts: [1200 mm, 1100 mm]}}
      - disposal: {{name: Z{more}}}
"
        )
    };
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let anchored = |text: &str| shop::anchored(&network(text), &dimensions).map(|found| found.into_owned());
    let found = anchored(&file("")).unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(place(&found, "B"), "? ? 1226");
    assert_eq!(place(&found, "A"), "? ? 1266", "the fall of `up` carries it on");
    let down = Geometry::resolve(&found, &dimensions).way(found.pipe_named("down").expect("a pipe"));
    let inverts = down.inverts.expect("inverts");
    assert_eq!(
        inverts.map(|invert| (invert.nanometres() as f64 / 1e6).round()),
        [1200.0, 1100.0]
    );
    // Half the inside diameter above its invert, within what rounding explains, is what the file may state besides.
    assert!(anchored(&file(", height: 1126 mm")).is_ok());
    let error = anchored(&file(", height: 1100 mm"))
        .expect_err("denied")
        .to_string();
    assert!(
        error.starts_with("network.yaml:13:")
            && error.contains(
                "`Z` stands about 1126 mm above the datum by the invert of `down`, but 1100 mm by the heights stated elsewhere"
            ),
        "{error}"
    );
    let two = file("").replace("slope: 1:50", "inverts: [1300 mm, 1240 mm]");
    let error = anchored(&two).expect_err("denied").to_string();
    assert!(
        error.contains("by the invert of `down`, but about 1266 mm by that of `up`")
            || error.contains("by the invert of `up`, but about 1226 mm by that of `down`"),
        "{error}"
    );
}

/// Two drains that meet, each with a vent, and the vents that meet again; no height is stated anywhere.
fn round(second_vent: &str) -> String {
    format!(
        "crownweir: network/1
name: round
units: millimetres
drains:
  - {{size: DN 50, slope: 1:50, path: [{{fixture: {{name: F, type: sink}}}}, {{pipe: {{length: 1 m}}}}, {{fitting: {{name: A}}}}, {{pipe: {{length: 1 m}}}}, {{fitting: {{name: B}}}}, {{pipe: {{length: 1 m}}}}, {{disposal: {{name: Z}}}}]}}
  - {{size: DN 50, slope: 1:50, path: [{{fixture: {{name: G, type: sink}}}}, {{pipe: {{length: 1 m}}}}, {{fitting: {{name: C}}}}, {{pipe: {{length: 2 m}}}}, {{at: B}}]}}
vents:
  - {{size: DN 40, slope: vertical, path: [{{at: A}}, {{pipe: {{length: 2 m}}}}, {{fitting: {{name: V}}}}, {{pipe: {{length: 3 m}}}}, {{terminal: {{name: roof}}}}]}}
  - {{size: DN 40, slope: vertical, path: [{{at: C}}, {{pipe: {{name: second, {second_vent}}}}}, {{at: V}}]}}
"
    )
}

#[test]
fn two_ways_round_have_to_fall_alike_though_no_height_is_told() {
    // By hand: A stands 20 mm above B and V 2 m above that; C stands 40 mm above B, so that 1980 mm are left.
    let mut sound = network(&round("length: 1980 mm"));
    assert!(Network::read("n.yaml", round("length: 1985 mm").as_bytes(), &Limits::default()).is_ok());
    let said = problems(&round("length: 1 m"));
    assert!(said.contains(" by the other way round"), "{said}");
    assert!(said.contains("correct a length or a slope"), "{said}");
    // Where one of its figures is not stated, nothing is denied.
    assert!(Network::read("n.yaml", round("slope: 45 deg").as_bytes(), &Limits::default()).is_ok());

    // An edit is held to the same, and all stays as it was.
    let length = |length: &str| crownweir::Edit::Pipe {
        pipe: "second".to_owned(),
        set: crownweir::PipeProperty::Length(length.parse().ok()),
    };
    let refused = sound.edit(&[length("1 m")]).expect_err("it denies the other way");
    assert!(
        refused.to_string().contains(" by the other way round"),
        "{refused}"
    );
    assert!(sound.edit(&[length("1984 mm")]).is_ok());
}
