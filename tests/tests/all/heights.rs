//! Heights that deny one another are refused, whoever states them, and what a building can have is not.

use crownweir::quantity::Length;
use crownweir::{Edit, Limits, Network, NodeKind, NodeProperty, PipeProperty};
use crownweir_tests::network;

/// What is told of a file that is refused; nothing of one that is read.
fn told(text: &str) -> String {
    match Network::read("network.yaml", text.as_bytes(), &Limits::default()) {
        Ok(_) => String::new(),
        Err(problems) => problems.to_string(),
    }
}

fn length(text: &str) -> Length {
    text.parse().unwrap_or_else(|error| panic!("{text}: {error}"))
}

/// A sink on a storey whose floor is the datum, its drain, and a vent to a valve. The tee where they meet stands 18 in above
/// the floor.
fn sink(fixture: &str, vent: &str, valve: &str) -> String {
    format!(
        "crownweir: network/1
name: n
storeys: [{{storey: a, height: 9 ft}}, {{storey: b}}]
drains:
  - size: 2 in
    storey: a
    slope: 1/4 in/ft
    path:
      - fixture: {{name: F, type: sink, {fixture}}}
      - pipe: {{name: arm, length: 1 ft}}
      - fitting: {{name: bend}}
      - pipe: {{name: arm on, length: 1 ft}}
      - fitting: {{name: T, height: 18 in}}
      - pipe: {{name: down, slope: vertical, length: 1 ft}}
      - fitting: {{name: J}}
      - pipe: {{name: on, length: 4 ft}}
      - disposal: {{name: sewer}}
vents:
  - size: 2 in
    storey: a
    slope: vertical
    path:
      - at: T
      - pipe: {{name: lower, length: {vent}}}
      - fitting: {{name: M}}
      - pipe: {{name: upper, length: 12 in}}
      - valve: {{name: V, {valve}}}
"
    )
}

const MEND_BY_VENT: &str =
    "correct one of the two: the height as stated, or the vent's lengths, slopes and heights";

// Heights are whole nanometres, and a third of an inch is none: a slope that comes of them is not to be a hair too gentle.
#[test]
fn a_drain_falls_as_the_one_by_which_the_height_of_its_end_was_reckoned() {
    // By hand: both weirs stand 18 in above the floor, 20 in from the tee.
    let network = network(
        "crownweir: network/1
name: n
storeys: [{storey: a, height: 9 ft}]
drains:
  - {size: 2 in, storey: a, path: [{fixture: {name: F, type: sink, weir_height: 18 in}}, {pipe: {name: stated, slope: 1/4 in/ft, length: 20 in}}, {fitting: {name: T}}, {pipe: {slope: vertical, length: 1 ft}}, {disposal: {name: sewer}}]}
  - {size: 2 in, storey: a, path: [{fixture: {name: G, type: sink, weir_height: 18 in}}, {pipe: {name: left out, length: 20 in}}, {at: T}]}
",
    );
    let slope = |name| {
        let pipe = network.pipe_named(name).expect("the pipe");
        network.graph()[pipe].slope.expect("its slope").to_string()
    };
    assert_eq!(slope("stated"), "1/4 in/ft");
    assert_eq!(slope("left out"), "1/4 in/ft");
}

// Water stands in a trap up to its weir, and runs over the rim of a fixture: the order of the two is what the words mean.
#[test]
fn a_trap_weir_stands_no_higher_than_the_rim_of_its_fixture() {
    // By hand: the weir stands 2 ft at 1/4 in/ft above the tee, at 18-1/2 in.
    for (fixture, refused) in [
        ("rim_height: 36 in, weir_height: 18-1/2 in", ""),
        ("rim_height: 18-1/2 in, weir_height: 18-1/2 in", ""),
        // What rounding explains.
        ("rim_height: 18-1/4 in", ""),
        (
            "rim_height: 18 in, weir_height: 18-1/2 in",
            "network.yaml:9:72: the trap weir of `F` stands 1 ft 6-1/2 in above the floor, but its rim only 1 ft 6 in; \
             correct the height of the weir or of the rim",
        ),
        (
            "rim_height: 18 in",
            "network.yaml:9:52: the trap weir of `F` stands 1 ft 6-1/2 in above the floor, but its rim only 1 ft 6 in; \
             correct the height of the weir or of the rim",
        ),
        // From the floor above, the weir is far below.
        ("rim_height: 18 in, storey: b", ""),
        // Of a fixture on no storey it is not known.
        ("rim_height: 24-1/2 in, trap: {outlet_drop: 6 in}", ""),
        (
            "rim_height: 24 in, trap: {outlet_drop: 6 in}",
            "network.yaml:9:52: the outlet of `F` stands 2 ft 1/2 in above the floor, 6 in above its trap weir, but its \
             rim only 2 ft; correct the drop, or the height of the weir or of the rim",
        ),
        // A standpipe, 30 in high by its rim and its weir.
        ("rim_height: 48-1/2 in, standpipe_height: 30 in", ""),
        ("rim_height: 48-1/2 in, standpipe_height: 30-1/4 in", ""),
        (
            "rim_height: 48-1/2 in, standpipe_height: 42 in",
            "network.yaml:9:81: the standpipe of `F` is stated 3 ft 6 in high, but its rim stands 2 ft 6 in above its trap \
             weir; correct the height of the standpipe, of its rim or of the weir",
        ),
        (
            "rim_height: 48-1/2 in, standpipe_height: 18 in",
            "network.yaml:9:81: the standpipe of `F` is stated 1 ft 6 in high, but its rim stands 2 ft 6 in above its trap \
             weir; correct the height of the standpipe, of its rim or of the weir",
        ),
    ] {
        assert_eq!(
            told(&sink(fixture, "12 in", "kind: branch")),
            refused,
            "{fixture}"
        );
    }
}

#[test]
fn a_valve_stands_where_its_vent_leads() {
    // By hand: the valve stands 2 ft above the tee, at 42 in, and 1 ft 11-3/4 in above the bend from which the drain comes.
    for (valve, refused) in [
        ("height_above_drain: 2 ft", String::new()),
        // From the top of the drain.
        ("height_above_drain: 22-1/2 in", String::new()),
        // Above the drain to which the waste goes down: what is vented is the one that comes to the tee.
        (
            "height_above_drain: 3 ft",
            format!(
                "network.yaml:27:46: `V` is stated 3 ft above the drain that it vents, but stands 2 ft above it by its \
                 vent; {MEND_BY_VENT}"
            ),
        ),
        ("height_above_rim: 1 ft", String::new()),
        (
            "height_above_drain: 4 in",
            format!(
                "network.yaml:27:46: `V` is stated 4 in above the drain that it vents, but stands 1 ft 11-3/4 in \
                 above it by its vent; {MEND_BY_VENT}"
            ),
        ),
        (
            "height_above_rim: 20 in",
            format!(
                "network.yaml:27:44: `V` is stated 1 ft 8 in above the rim of the highest fixture that it serves, but \
                 stands 1 ft above that of `F` by its vent; {MEND_BY_VENT}"
            ),
        ),
    ] {
        let own = told(&sink("rim_height: 30 in", "12 in", valve));
        assert_eq!(own, refused, "{valve}");
    }
    // Where what comes to the tee is plumb too, or its slope not stated, the drain below may be meant.
    for slope in [", slope: vertical", ""] {
        let text = sink("rim_height: 50 in", "12 in", "height_above_drain: 3 ft");
        let text = text
            .replace("    slope: 1/4 in/ft\n", "")
            .replace("arm on, length: 1 ft", &format!("arm on, length: 1 ft{slope}"));
        assert_eq!(told(&text), "", "{slope}");
    }
    // Where the drain goes on level, the valve stands no higher above it than the vent leads.
    let level = |valve: &str| {
        let text = sink("rim_height: 30 in", "12 in", valve);
        told(&text.replace("{name: down, slope: vertical, length", "{name: down, length"))
    };
    assert_eq!(level("height_above_drain: 2 ft"), "");
    assert_eq!(level("height_above_drain: 27 in"), "");
    assert!(level("height_above_drain: 3 ft").contains("but stands 2 ft above it by its vent"));
    // Below the rim of its own fixture.
    let low = told(&sink("rim_height: 60 in", "12 in", "height_above_rim: 6 in"));
    assert!(
        low.contains("but stands 1 ft 6 in below that of `F` by its vent"),
        "{low}"
    );
    // Without any height above a floor, lengths and slopes tell as much.
    let relative =
        sink("rim_height: 30 in", "12 in", "height_above_drain: 4 in").replace(", height: 18 in", "");
    assert!(told(&relative).contains("`V` is stated 4 in above the drain that it vents"));
    // Where a length of the vent is not known, nothing is.
    let open = sink("rim_height: 30 in", "12 in", "height_above_drain: 4 in");
    assert_eq!(
        told(&open.replace("{name: upper, length: 12 in}", "{name: upper}")),
        ""
    );
}

// Water runs down from a fixture to the drain, so that the rim lies no lower: whatever stands above both stands further
// above the drain.
#[test]
fn a_valve_stands_no_higher_above_a_rim_than_above_the_drain() {
    let valve = |stated: &str| {
        let text = sink("", "12 in", stated);
        told(&text.replace("{name: upper, length: 12 in}", "{name: upper}"))
    };
    assert_eq!(valve("height_above_drain: 6 in, height_above_rim: 6 in"), "");
    assert_eq!(valve("height_above_drain: 6 in, height_above_rim: -1 ft"), "");
    assert_eq!(
        valve("height_above_drain: 4 in, height_above_rim: 6 in"),
        "network.yaml:27:46: `V` is stated 6 in above the rim of the highest fixture that it serves, but only 4 in above \
         the drain that it vents, which lies lower; correct one of the two"
    );
}

#[test]
fn a_height_and_a_place_say_the_same() {
    let text = |stated: &str| {
        let text = sink("rim_height: 30 in", "12 in", "kind: branch");
        text.replace("{name: T, height: 18 in}", &format!("{{name: T, {stated}}}"))
    };
    assert_eq!(told(&text("height: 18 in, position: [0 in, 0 in, 18 in]")), "");
    assert_eq!(told(&text("position: [0 in, 0 in, 20 in]")), "");
    assert_eq!(
        told(&text("height: 18 in, position: [0 in, 0 in, 20 in]")),
        "network.yaml:13:36: `T` is placed 1 ft 8 in above the datum, but stands 1 ft 6 in above it by its height above \
         the floor; correct one of the two"
    );
}

#[test]
fn each_floor_lies_on_the_storey_below() {
    let text = |storeys: &str| {
        let text = sink("rim_height: 30 in", "12 in", "kind: branch");
        told(&text.replace("{storey: b}", storeys))
    };
    assert_eq!(text("{storey: b, elevation: 9 ft}"), "");
    assert_eq!(
        text("{storey: b, elevation: 10 ft}"),
        "network.yaml:3:61: the floor is stated at 10 ft, but `a` below it reaches up to 9 ft by its height; correct the \
         elevation, or the height of the storey below"
    );
    // Without a height between, two floors may be level, and none lies below one before it.
    assert_eq!(
        text("{storey: b}, {storey: c, elevation: 20 ft}, {storey: d, elevation: 20 ft}"),
        ""
    );
    assert_eq!(
        text("{storey: b}, {storey: c, elevation: 20 ft}, {storey: d, elevation: 19 ft}"),
        "network.yaml:3:105: the floor is stated at 19 ft, but that of `c` before it at 20 ft; storeys stand in the order \
         from the lowest up"
    );
}

/// Edits of whatever the heights of the sink hang on.
fn edits(network: &Network) -> Vec<Edit> {
    let node = |name: &str, set: NodeProperty| Edit::Node {
        node: name.to_owned(),
        set,
    };
    let pipe = |name: &str, set: PipeProperty| Edit::Pipe {
        pipe: name.to_owned(),
        set,
    };
    let stands = |name: &str, alter: &dyn Fn(&mut NodeKind)| {
        let id = network.node_named(name).expect("a node");
        let mut kind = network.graph()[id].kind.clone();
        alter(&mut kind);
        node(name, NodeProperty::Stands(kind))
    };
    let mut edits = Vec::new();
    for (name, heights) in [
        ("F", ["18-1/2 in", "31 in", "52 in"]),
        ("T", ["18 in", "29 in", "10 ft"]),
        ("M", ["30 in", "44 in", "9 ft"]),
        ("V", ["42 in", "60 in", "20 in"]),
    ] {
        edits.push(node(name, NodeProperty::Elevation(None)));
        for height in heights {
            edits.push(node(name, NodeProperty::Elevation(Some(length(height)))));
        }
    }
    for (name, lengths) in [
        ("arm", ["1 ft", "60 ft"]),
        ("arm on", ["2 ft", "50 ft"]),
        ("lower", ["12 in", "2 in"]),
        ("upper", ["30 in", "12 in"]),
    ] {
        edits.push(pipe(name, PipeProperty::Length(None)));
        for text in lengths {
            edits.push(pipe(name, PipeProperty::Length(Some(length(text)))));
        }
    }
    for slope in ["vertical", "1/4 in/ft"] {
        edits.push(pipe("down", PipeProperty::Slope(slope.parse().ok())));
        edits.push(pipe("arm on", PipeProperty::Slope(slope.parse().ok())));
    }
    for storey in [0, 1] {
        edits.push(node("F", NodeProperty::Storey(Some(storey))));
    }
    for (rim, drop, standpipe) in [
        (None, None, None),
        (Some("30 in"), Some("6 in"), None),
        (Some("20 in"), Some("6 in"), None),
        (Some("30 in"), None, Some("20 in")),
    ] {
        edits.push(stands("F", &|kind| {
            if let NodeKind::Fixture(fixture) = kind {
                let fixture = std::sync::Arc::make_mut(fixture);
                fixture.rim_height = rim.map(length);
                fixture.trap.outlet_drop = drop.map(length);
                fixture.standpipe_height = standpipe.map(length);
            }
        }));
    }
    for (drain, rim) in [
        (None, None),
        (Some("24 in"), Some("8 in")),
        (Some("3 ft"), None),
        (Some("8 in"), None),
        (None, Some("20 in")),
    ] {
        edits.push(stands("V", &|kind| {
            if let NodeKind::Valve(valve) = kind {
                valve.height_above_drain = drain.map(length);
                valve.height_above_rim = rim.map(length);
            }
        }));
    }
    edits
}

// An edit is made in place, where only what is around it is looked at, or the network is built from its parts anew, where
// all of it is: one after another, each is refused both ways or neither.
#[test]
fn an_edit_in_place_refuses_what_a_network_built_anew_does() {
    let valve = "height_above_drain: 24 in, height_above_rim: 8 in";
    let text = sink("rim_height: 30 in, trap: {outlet_drop: 6 in}", "12 in", valve);
    let given = text.replace("{name: M}", "{name: M, height: 30 in}");
    let (mut refused, mut made) = (0, 0);
    for first in [network(&text), network(&given)] {
        let (id, run) = first.runs().next().expect("a run");
        let anew = Edit::RunKind {
            run: id,
            kind: run.kind,
        };
        let edits = edits(&first);
        for one in &edits {
            let mut second = first.clone();
            if second.edit(std::slice::from_ref(one)).is_err() {
                continue;
            }
            for other in &edits {
                let (mut in_place, mut whole) = (second.clone(), second.clone());
                assert!(in_place.is_edited_in_place(std::slice::from_ref(other)));
                let own = in_place.edit(std::slice::from_ref(other));
                let all = whole.edit(&[other.clone(), anew.clone()]);
                assert_eq!(own.is_ok(), all.is_ok(), "{one:?}\n{other:?}\n{own:?}\n{all:?}");
                let count = if own.is_ok() { &mut made } else { &mut refused };
                *count += 1;
            }
        }
    }
    assert!(refused > 200 && made > 200, "{refused} refused, {made} made");
}

#[test]
fn an_edit_that_denies_a_height_is_told_of_what_it_edits() {
    let mut network = network(&sink("rim_height: 30 in", "12 in", "height_above_drain: 24 in"));
    let tee = Edit::Node {
        node: "T".to_owned(),
        set: NodeProperty::Elevation(Some(length("31 in"))),
    };
    let told = network
        .edit(&[tee])
        .expect_err("the weir comes to stand above the rim");
    assert_eq!(
        told.to_string(),
        "network.yaml:9:18: the trap weir of `F` stands 2 ft 7-1/2 in above the floor, but its rim only 2 ft 6 in; correct \
         the height of the weir or of the rim"
    );
    let weir = Edit::Node {
        node: "F".to_owned(),
        set: NodeProperty::Storey(Some(1)),
    };
    let shorter = Edit::Pipe {
        pipe: "upper".to_owned(),
        set: PipeProperty::Length(Some(length("30 in"))),
    };
    let told = network
        .edit(&[weir, shorter])
        .expect_err("the valve comes to stand higher");
    let told = told.to_string();
    assert!(
        told.contains("`V` is stated 2 ft above the drain that it vents"),
        "{told}"
    );
}

// A slope that is chosen lifts what drains through it: so steep that the weir comes to stand above the rim is none to choose.
#[test]
fn no_slope_is_chosen_that_lifts_a_weir_above_its_rim() {
    let text = sink("rim_height: 20 in", "12 in", "kind: branch").replace(
        "{name: arm, length: 1 ft}",
        "{name: arm, length: 1 ft, slope: {at_least: 1/8 in/ft, at_most: 3 in/ft}}",
    );
    let mut network = network(&text);
    let arm = network.pipe_named("arm").expect("the arm");
    assert!(network.set_slopes(&[(arm, "1/4 in/ft".parse().ok())]));
    assert!(network.to_yaml().is_ok());
    assert!(!network.set_slopes(&[(arm, "3 in/ft".parse().ok())]));
    let told = network.to_yaml().expect_err("no file can state it").to_string();
    assert_eq!(
        told,
        "the height or place of `F` would be read otherwise than it is"
    );
}

/// A drain of 2 in through joists whose upper edges lie 3/4 in below the floor, 108 in above the datum.
fn through(kind: &str, passes: &str) -> String {
    format!(
        "crownweir: network/1
name: n
storeys: [{{storey: a, height: 9 ft}}, {{storey: b}}]
framing: [{{framing: j, kind: {kind}, depth: 11-1/4 in, spacing: 16 in, storey: b, top: -3/4 in}}]
drains:
  - size: 2 in
    storey: b
    slope: 1/4 in/ft
    path:
      - fixture: {{name: F, type: sink, weir_height: -4 in}}
      - pipe: {{name: run, length: 8 ft, passes: [{{framing: j, first: 1 ft{passes}}}]}}
      - disposal: {{name: sewer}}
"
    )
}

// What is read to an eighth of an inch three times is out by a quarter at the most that is rounding; see the allowance in
// the source.
#[test]
fn a_pipe_passes_a_joist_where_its_heights_have_it() {
    const MEND: &str =
        "correct a height or a slope, or the centre, or leave the centre out where heights give it";
    // By hand: the lower edge is 12 in below the floor. The pipe lies 4-1/4 in below it at the first joist, 7-3/4 in above
    // that edge, and 1/3 in lower at each further one.
    let denied = |number: u32, stated: &str, lies: &str| {
        format!(
            "network.yaml:11:50: `run` is stated to pass number {number} of `j` {stated} above the lower edge, but lies \
             {lies} it by its heights; {MEND}"
        )
    };
    for (kind, passes, refused) in [
        ("joist", "", String::new()),
        ("joist", ", centre: 7-3/4 in", String::new()),
        ("joist", ", centre: 8 in", String::new()),
        ("joist", ", centre: 7-1/2 in", String::new()),
        (
            "joist",
            ", centre: 8-1/16 in",
            denied(1, "8-1/16 in", "7-3/4 in above"),
        ),
        (
            "joist",
            ", centre: middle",
            denied(1, "5-5/8 in", "7-3/4 in above"),
        ),
        ("joist", ", centre: 7-1/2 in, count: 2", String::new()),
        // One centre for several joists: it is told of the first that the fall takes too far from it.
        (
            "joist",
            ", centre: 7-1/2 in, count: 5",
            denied(3, "7-1/2 in", "about 7-1/16 in above"),
        ),
        // A rafter rises along its length, a stud has no height of its own.
        ("rafter", ", centre: 3 in", String::new()),
        ("stud", ", centre: 3 in", String::new()),
    ] {
        assert_eq!(told(&through(kind, passes)), refused, "{kind}{passes}");
    }
    let below = through("joist", ", centre: 2 in").replace("-4 in", "-15 in");
    assert_eq!(told(&below), denied(1, "2 in", "3-1/4 in below"));
    // The same of an edit.
    let network = network(&through("joist", ", centre: 7-3/4 in"));
    let lower = Edit::Node {
        node: "F".to_owned(),
        set: NodeProperty::Elevation(Some(length("103 in"))),
    };
    let refused = network
        .clone()
        .edit(&[lower])
        .map_or_else(|error| error.to_string(), |_| String::new());
    assert!(
        refused.contains("but lies 6-3/4 in above it by its heights"),
        "{refused}"
    );
}

// The upper edge lies 3/4 in below the floor and the lower one 12 in; the axis of the 2 in pipe 1/4 in below the weir. A pipe
// may be 1/4 in larger than half its name, and heights are out by 1/4 in.
#[test]
fn a_pipe_does_not_pass_what_it_lies_outside_of() {
    const OUTSIDE: &str =
        "correct a height or a slope, or the depth of the framing, or leave out what the pipe does not pass";
    const NOTCH: &str = "correct a height, a slope or the notch, or have a hole bored";
    let refused = |said: String, mend: &str| {
        format!("network.yaml:11:50: `run` is stated to pass number 1 of `j`{said}; {mend}")
    };
    let outside = |lies: &str| refused(format!(", but lies {lies} edge by its heights"), OUTSIDE);
    let notch = |said: &str| refused(format!(" in a notch 1 in deep{said}"), NOTCH);
    let top = ", cut: notched, notch_depth: 1 in, notch_edge: top";
    for (kind, passes, weir, expected) in [
        ("joist", "", "-13-1/4 in", String::new()),
        ("joist", "", "-13-3/8 in", outside("1-5/8 in below the lower")),
        ("joist", "", "1 in", String::new()),
        ("joist", "", "1-1/8 in", outside("1-5/8 in above the upper")),
        ("rafter", "", "-15 in", String::new()),
        ("stud", ", centre: 12-3/4 in", "-4 in", String::new()),
        (
            "stud",
            ", centre: 13 in",
            "-4 in",
            refused(
                " 1 ft 1 in from one edge, but that is 11-1/4 in deep".to_owned(),
                "correct the centre, or the depth of the framing",
            ),
        ),
        ("joist", top, "-1-3/4 in", String::new()),
        (
            "joist",
            top,
            "-1-7/8 in",
            notch(" at the top, but its axis lies 1-3/8 in deep by its heights"),
        ),
        (
            "joist",
            ", cut: notched, notch_depth: 1 in, notch_edge: bottom",
            "-4 in",
            notch(" at the bottom, but its axis lies 7-3/4 in deep by its heights"),
        ),
        (
            "joist",
            ", cut: end_notched, notch_depth: 1 in",
            "-4 in",
            notch(", but its axis lies 3-1/2 in deep by its heights"),
        ),
        ("rafter", top, "-4 in", String::new()),
        (
            "stud",
            ", cut: notched, notch_depth: 1 in",
            "-4 in",
            String::new(),
        ),
    ] {
        let text = through(kind, passes).replace("-4 in", weir);
        assert_eq!(told(&text), expected, "{kind}{passes} {weir}");
    }
}
