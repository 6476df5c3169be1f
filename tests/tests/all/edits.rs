//! What a program that edits a network is told where edits are refused: which of them, and why.

use crownweir::propose::{Effort, Sizing, size};
use crownweir::quantity::{Flow, Length, Slope};
use crownweir::vocabulary::{FittingPattern, FixtureType, Occupancy, Role, RunKind, TrapKind};
use crownweir::{
    Change, Edit, EditFault, Fixture, Limits, Network, Node, NodeKind, NodeProperty, Pipe, PipeProperty,
    Refused, RuleSet, Run, RunId, Session, SlopeBounds, Terminal, Text, changes, published,
};
use crownweir_tests::written::again;

const FILE: &str = "
crownweir: network/1
name: house
drains:
  - slope: 1/4 in/ft
    size: 2 in
    path:
      - fixture: {name: L1, type: lavatory, trap: {size: 1-1/4 in}}
      - pipe: {name: arm, length: 3 ft}
      - fitting: {name: T1, pattern: sanitary_tee}
      - pipe: {name: drain, length: 8 ft}
      - disposal: {name: sewer}
vents:
  - {size: 2 in, slope: vertical, path: [{at: T1}, {pipe: {name: vent, length: 12 ft}}, {terminal: {name: roof}}]}
";

/// The place in the file of what stands elsewhere.
fn placed() -> Node {
    let network = crownweir_tests::network(FILE);
    network.graph()[network.disposal()].clone()
}

fn tee(name: &str) -> Edit {
    // A node made like another still has the other's place.
    let kind = FittingPattern::SanitaryTee.into();
    let name = name.into();
    Edit::AddNode(Node {
        name,
        kind,
        ..placed()
    })
}

fn fixture(name: &str, alter: impl Fn(&mut Fixture)) -> Edit {
    let mut fixture = Fixture::new(FixtureType::Lavatory);
    alter(&mut fixture);
    Edit::AddNode(Node::new(name, fixture))
}

fn pipe(name: &str, ends: [&str; 2], alter: impl Fn(&mut Pipe)) -> Edit {
    let mut pipe = Pipe {
        position: placed().position,
        ..Pipe::new(name, Role::Drain, RunId::new(0))
    };
    alter(&mut pipe);
    let [from, to] = ends.map(str::to_owned);
    let pipe = Box::new(pipe);
    Edit::AddPipe { from, to, pipe }
}

fn drain(name: &str, ends: [&str; 2]) -> Edit {
    pipe(name, ends, |_| ())
}

fn run(kind: RunKind) -> Edit {
    let name = "added".into();
    Edit::AddRun(Run { name, kind })
}

fn set(pipe: &str, set: PipeProperty) -> Edit {
    let pipe = pipe.to_owned();
    Edit::Pipe { pipe, set }
}

fn length(text: &str) -> PipeProperty {
    PipeProperty::Length(Some(text.parse().expect("a length")))
}

/// What a network tells of edits that it refuses.
#[track_caller]
fn refused(edits: &[Edit]) -> String {
    let mut network = crownweir_tests::network(FILE);
    let error = network.edit(edits).expect_err("it is refused");
    let named = |name: &str| network.pipe_named(name).is_some();
    assert!(network.graph().node_count() == 4 && network.graph().edge_count() == 3);
    assert!(["arm", "drain", "vent"].into_iter().all(named));
    error.to_string()
}

#[track_caller]
fn is_refused(edits: &[Edit], told: &str) {
    assert_eq!(refused(edits), told);
}

#[test]
fn the_edit_that_cannot_be_made_is_told_by_its_number_and_what_it_adds() {
    let arm = || drain("second arm", ["L2", "T1"]);
    let basin = || fixture("L2", |_| ());
    is_refused(
        &[basin(), drain("arm", ["L2", "T1"])],
        "edit 2, pipe `arm`: a second pipe is called `arm`; expected a name of its own",
    );
    is_refused(
        &[tee("T1")],
        "edit 1, node `T1`: a second node is called `T1`; expected another name",
    );
    is_refused(
        &[set("arms", length("3 ft"))],
        "edit 1, pipe `arms`: there is no pipe `arms`; did you mean `arm`?",
    );
    is_refused(
        &[basin(), arm(), set("arm", length("0 ft"))],
        "edit 3, pipe `arm`: the pipe `arm` has no length; expected a length above zero; leave it out where it is not \
         known",
    );
    is_refused(
        &[
            basin(),
            pipe("second arm", ["L2", "T1"], |pipe| pipe.run = RunId::new(1)),
        ],
        "edit 2, pipe `second arm`: `branch_vent` is not a kind of drain",
    );
    is_refused(
        &[Edit::RunKind {
            run: RunId::new(7),
            kind: RunKind::Stack,
        }],
        "edit 1, run number 7: there is no run number 7",
    );
    // All that cannot be made is told.
    let told = refused(&[drain("a", ["L1", "T9"]), Edit::RemoveNode("L9".to_owned())]);
    assert_eq!(told.lines().count(), 2, "{told}");
}

#[test]
fn an_edit_that_comes_before_what_it_refers_to_is_told_which_adds_it() {
    let arm = || drain("second arm", ["L2", "T1"]);
    is_refused(
        &[arm(), fixture("L2", |_| ())],
        "edit 1, pipe `second arm`: there is no node `L2`; edit 2 adds it, and has to stand before",
    );
    is_refused(
        &[
            fixture("L2", |_| ()),
            pipe("second arm", ["L2", "T1"], |pipe| pipe.run = RunId::new(2)),
            run(RunKind::Branch),
        ],
        "edit 2, pipe `second arm`: there is no run number 2; edit 3 adds it, and has to stand before",
    );
    is_refused(
        &[fixture("L2", |_| ()), set("second arm", length("1 ft")), arm()],
        "edit 2, pipe `second arm`: there is no pipe `second arm`; edit 3 adds it, and has to stand before",
    );
}

#[test]
fn what_comes_of_edits_is_told_of_the_edit_that_names_it_or_of_its_place_in_the_file() {
    is_refused(
        &[set("arm", length("1 ft")), fixture("L2", |_| ())],
        "edit 2, node `L2`: nothing is connected to the fixture `L2`; expected a path that passes it",
    );
    is_refused(
        &[fixture("L2", |_| ()), drain("second arm", ["T1", "L2"])],
        "edit 2, pipe `second arm`: two drains leave `T1`: water cannot choose between them; expected one pipe that leads \
         on; what joins here is written from its fixture to `at` this node, and a vent that leaves here under `vents`, from \
         `at` this node\nedit 1, node `L2`: a pipe leads into the fixture `L2`; expected pipes that lead away from it: a run of drains is \
         written the way water goes, from the fixture on",
    );
    // What no edit names stands where the file has it, and nothing of it in the wrong place.
    let told = refused(&[Edit::RemovePipe("drain".to_owned())]);
    assert!(told.starts_with("network.yaml:10:"), "{told}");
    let told = refused(&[Edit::RemoveNode("sewer".to_owned())]);
    assert!(
        told.contains("\nthe network has no point of disposal; ") || told.starts_with("the network has"),
        "{told}"
    );
    // Heights that deny one another, of which a new pipe is one.
    let stated = FILE
        .replace("name: house", "name: house\nstoreys: [{storey: 1}]")
        .replace("size: 2 in\n", "size: 2 in\n    storey: 1\n")
        .replace("T1, pattern", "T1, height: 2 in, pattern")
        .replace("{name: sewer}", "{name: sewer, height: 0 in}");
    let mut network = crownweir_tests::network(&stated);
    let steep = pipe("beside", ["T1", "sewer"], |pipe| {
        (pipe.length, pipe.slope) = ("8 ft".parse().ok(), "1/2 in/ft".parse().ok());
    });
    let edits = [Edit::RemovePipe("drain".to_owned()), steep];
    let told = network.edit(&edits).expect_err("it denies the heights");
    assert!(
        matches!(&told.faults[..], [EditFault::Edit { number: 2, what, problem }]
            if what == "pipe `beside`" && problem.place.line == 0 && problem.help.is_some()),
        "{told}"
    );
}

#[test]
fn what_a_file_may_not_state_is_refused_of_what_is_added() {
    let arm = |alter: fn(&mut Pipe)| [fixture("L2", |_| ()), pipe("p", ["L2", "T1"], alter)];
    for (alter, told) in [
        (
            (|pipe| pipe.name = "".into()) as fn(&mut Pipe),
            "edit 2, pipe ``: the name is empty; expected at least one letter or digit",
        ),
        (
            |pipe| pipe.name = "a\nb".into(),
            "edit 2, pipe `a\nb`: the name holds a control character; expected plain text",
        ),
        (
            |pipe| pipe.slope_bounds = bounds("1/2 in/ft", "1/4 in/ft"),
            "edit 2, pipe `p`: the least slope, 1/2 in/ft, is steeper than the most, 1/4 in/ft; expected the least first",
        ),
        (
            |pipe| (pipe.slope, pipe.slope_bounds) = ("2 %".parse().ok(), bounds("1 %", "2 %")),
            "edit 2, pipe `p`: the pipe `p` has a slope, and bounds within which one is to be chosen; expected one of the \
             two",
        ),
        (
            |pipe| pipe.length = Some(less()),
            "edit 2, pipe `p`: the length of the pipe `p` is negative; expected a length that is not negative",
        ),
        (
            |pipe| pipe.slope = Slope::new(-1, 50),
            "edit 2, pipe `p`: the slope of the pipe `p` is negative; expected one that is not; it may follow from heights",
        ),
    ] {
        is_refused(&arm(alter), told);
    }
    is_refused(
        &[
            Edit::AddNode(Node::new("VT2", Terminal::default())),
            pipe("v", ["T1", "VT2"], |pipe| {
                *pipe = Pipe::new("v", Role::Vent, RunId::new(1));
                pipe.slope_bounds = bounds("1 %", "2 %");
            }),
        ],
        "edit 2, pipe `v`: only the slope of a drain is chosen within bounds; expected a slope such as `1/4 in/ft` or \
         `vertical`",
    );
    let told = refused(&[fixture(" ", |_| ()), drain("p", [" ", "T1"])]);
    assert!(told.starts_with("edit 1, node ` `: the name is empty;"), "{told}");
    is_refused(
        &[fixture("L2", |basin| basin.trap.seal = Some(less()))],
        "edit 1, node `L2`: the trap seal of the fixture `L2` is negative; expected a length that is not negative",
    );
    is_refused(
        &[fixture("L2", |basin| {
            basin.flow = Some(Flow::from_picolitres_per_minute(-1))
        })],
        "edit 1, node `L2`: the flow of the fixture `L2` is negative; expected one that is not negative",
    );
    is_refused(
        &[fixture("L2", |basin| basin.group = Some("a\nb".into()))],
        "edit 1, node `L2`: the name holds a control character; expected plain text",
    );
    is_refused(
        &[set("drain", PipeProperty::Slope(Slope::new(-1, 50)))],
        "edit 1, pipe `drain`: the slope of the pipe `drain` is negative; expected one that is not; it may follow from \
         heights",
    );
    is_refused(
        &[Edit::Node {
            node: "roof".to_owned(),
            set: NodeProperty::Stands(
                Terminal {
                    height_above_roof: Some(less()),
                    ..Terminal::default()
                }
                .into(),
            ),
        }],
        "edit 1, node `roof`: the height above the roof of the vent terminal `roof` is negative; expected a length that \
         is not negative",
    );
}

#[test]
fn names_are_as_long_as_in_a_file_and_those_made_of_names_longer() {
    let long = |letter: &str, count| letter.repeat(count);
    let told = refused(&[tee(&long("x", 201))]);
    assert!(
        told.ends_with("the name is longer than 200 bytes; expected a shorter one"),
        "{told}"
    );
    let run = |name: String| {
        Edit::AddRun(Run {
            name: name.into(),
            kind: RunKind::Branch,
        })
    };
    assert!(refused(&[run(long("x", 201))]).contains("longer than 200 bytes"));
    let basin = long("y", 200);
    let arm = |name: &str| drain(name, [&basin, "T1"]);
    assert!(refused(&[fixture(&basin, |_| ()), arm(&long("x", 201))]).contains("longer than 200 bytes"));
    let mut network = crownweir_tests::network(FILE);
    let edits = [fixture(&basin, |_| ()), arm(&format!("{basin} to T1"))];
    assert!(network.edit(&edits).is_ok());
    again(&network, true).unwrap_or_else(|error| panic!("{error}"));
}

/// As when it is read, a pipe reaches what it is stated to pass.
#[test]
fn a_pipe_is_no_shorter_than_what_it_passes() {
    let framed = FILE
        .replace("drains:", "framing: [{framing: joists, kind: joist}]\ndrains:")
        .replace(
            "{name: drain, length: 8 ft}",
            "{name: drain, length: 8 ft, passes: [{framing: joists, first: 7 ft}]}",
        );
    let mut network = crownweir_tests::network(&framed);
    let told = network
        .edit(&[set("drain", length("6 ft"))])
        .expect_err("it ends before the joist");
    assert_eq!(
        told.to_string(),
        "edit 1, pipe `drain`: a member that `drain` is stated to pass stands beyond that length; expected a length that \
         reaches as far"
    );
    network
        .edit(&[set("drain", length("7 ft"))])
        .expect("it reaches the joist");
    again(&network, true).unwrap_or_else(|error| panic!("{error}"));
}

/// A trap of which no kind is stated is that with which the fixture is made, as in a file.
#[test]
fn a_water_closet_is_made_with_its_trap() {
    let mut network = crownweir_tests::network(FILE);
    let mut closet = Fixture::new(FixtureType::WaterCloset);
    closet.trap.kind = None;
    let stands = NodeProperty::Stands(closet.into());
    let edit = Edit::Node {
        node: "L1".to_owned(),
        set: stands,
    };
    network.edit(&[edit]).expect("it is made");
    let id = network.node_named("L1").expect("the node");
    assert!(
        matches!(&network.graph()[id].kind, NodeKind::Fixture(closet) if closet.trap.kind == Some(TrapKind::Integral))
    );
    again(&network, true).unwrap_or_else(|error| panic!("{error}"));
}

#[test]
fn a_size_that_the_rule_set_does_not_know_is_told_of_the_edit_that_states_it() {
    let mut session = session();
    let odd = pipe("second arm", ["L2", "T1"], |pipe| {
        pipe.size = "17 in".parse().ok()
    });
    let edits = [fixture("L2", |_| ()), odd];
    let refused = session.edit(&edits).expect_err("it is refused");
    assert!(matches!(refused, Refused::Sizes(_)));
    assert_eq!(
        refused.to_string(),
        "edit 2: `second arm` is of the size 17 in, which the rule set `ipc-2021` does not know"
    );
}

// Slopes may be chosen once more after an edit, and all is as if none had been chosen before it.
#[test]
fn slopes_are_chosen_after_an_edit_as_before() {
    let open = FILE
        .replace("slope: 1/4 in/ft", "slope: {at_least: 1 %, at_most: 4 %}")
        .replace("name: house", "name: house\nstoreys: [{storey: 1}]")
        .replace("size: 2 in\n", "size: 2 in\n    storey: 1\n")
        .replace("{name: sewer}", "{name: sewer, height: -2 ft}");
    let choose = |network: &mut Network, slope: &str| {
        let graph = network.graph();
        let open = graph
            .edge_indices()
            .filter(|&id| graph[id].slope_bounds.is_some());
        let slopes: Vec<_> = open.map(|id| (id, slope.parse().ok())).collect();
        assert!(network.set_slopes(&slopes));
    };
    let settled = |network: &Network| {
        let graph = network.graph();
        let mut heights: Vec<_> = graph
            .node_weights()
            .map(|node| (node.name.clone(), node.elevation))
            .collect();
        let pipes = graph.edge_weights();
        let mut slopes: Vec<_> = pipes
            .map(|pipe| (pipe.name.clone(), pipe.length, pipe.slope))
            .collect();
        heights.sort();
        slopes.sort_by(|one, other| one.0.cmp(&other.0));
        (heights, slopes)
    };
    let size = PipeProperty::Size("3 in".parse().ok());
    let second = pipe("second arm", ["L2", "T1"], |pipe| {
        (pipe.length, pipe.slope_bounds) = ("4 ft".parse().ok(), bounds("1 %", "4 %"));
    });
    let coupling = NodeProperty::Stands(FittingPattern::Coupling.into());
    let run_kind = Edit::RunKind {
        run: RunId::new(0),
        kind: RunKind::BuildingDrain,
    };
    for (edits, in_place) in [
        (vec![set("arm", size)], true),
        (vec![set("drain", length("9 ft"))], true),
        (vec![set("arm", PipeProperty::Slope("1 %".parse().ok()))], true),
        (vec![fixture("L2", |_| ()), second], true),
        (
            vec![Edit::Node {
                node: "T1".to_owned(),
                set: coupling,
            }],
            true,
        ),
        (vec![run_kind], false),
    ] {
        let mut network = crownweir_tests::network(&open);
        let mut plain = network.clone();
        choose(&mut network, "1 %");
        let edited = network.edit(&edits).expect("it is made");
        assert_eq!(edited.anew, !in_place);
        choose(&mut network, "2 %");
        plain.edit(&edits).expect("it is made");
        choose(&mut plain, "2 %");
        assert_eq!(settled(&network), settled(&plain), "{edits:?}");
        assert!(
            network
                .graph()
                .node_weights()
                .all(|node| node.elevation.is_some())
        );
        // And they are given up again.
        assert!(network.set_slopes(&[]) && plain.set_slopes(&[]));
        assert_eq!(settled(&network), settled(&plain), "{edits:?}");
    }
}

fn session() -> Session {
    let network = crownweir_tests::network(FILE);
    Session::new(network, crownweir_tests::rules("ipc-2021")).expect("known sizes")
}

#[test]
fn an_edit_is_undone_by_its_inverse_or_by_the_network_that_was_kept() {
    let mut session = session();
    let (before, kept) = (session.report(), session.network().clone());
    let there = [
        run(RunKind::Branch),
        set("arm", length("9 ft")),
        fixture("C1", |_| ()),
        pipe("drain of C1", ["C1", "T1"], |pipe| pipe.run = RunId::new(2)),
    ];
    let back = [Edit::RemoveNode("C1".to_owned()), set("arm", length("3 ft"))];
    let difference = session.edit(&there).expect("it is made");
    assert!(!difference.added.is_empty());
    let inverse = session.edit(&back).expect("it is undone");
    assert_eq!(
        (inverse.added, inverse.removed),
        (difference.removed, difference.added)
    );
    assert_eq!(session.report(), before);
    // The run stays behind, and another that is added comes after it.
    assert_eq!((kept.runs().count(), session.network().runs().count()), (2, 3));

    session.edit(&there[1..2]).expect("it is made");
    let mut session = Session::new(kept, session.rules().clone()).expect("known sizes");
    assert_eq!(session.report(), before);
}

// A height that followed from others follows again once it is no longer stated.
#[test]
fn what_followed_is_given_back_by_stating_nothing() {
    let stated = FILE
        .replace("name: house", "name: house\nstoreys: [{storey: 1}]")
        .replace("size: 2 in\n", "size: 2 in\n    storey: 1\n")
        .replace("{name: sewer}", "{name: sewer, height: 0 in}");
    let mut network = crownweir_tests::network(&stated);
    let height = |network: &Network| network.graph()[network.node_named("T1").expect("the tee")].elevation;
    let state = |height| Edit::Node {
        node: "T1".to_owned(),
        set: NodeProperty::Elevation(height),
    };
    // 8 ft at 1/4 in/ft.
    assert_eq!(height(&network), "2 in".parse().ok());
    network.edit(&[state(height(&network))]).expect("it is the same");
    let longer = [set("drain", length("16 ft"))];
    assert!(network.edit(&longer).is_err());
    network.edit(&[state(None)]).expect("it is undone");
    network.edit(&longer).expect("it follows");
    assert_eq!(height(&network), "4 in".parse().ok());
}

#[test]
fn an_amendment_is_previewed_laid_and_taken_back() {
    let mut session = session();
    let (base, name) = (session.rules().clone(), "alamo-texas");
    let text = |name, text: Option<&'static str>| Text {
        name,
        bytes: text.expect("a text").as_bytes(),
    };
    let amended = RuleSet::amended(
        text("ipc-2021", published::text("ipc-2021")),
        &[text(name, published::amendment(name))],
        "2026-01-01".parse().expect("a day"),
        &Limits::rules(),
    )
    .expect("it fits");
    let told: Vec<String> = changes(&base, &amended).iter().map(Change::to_string).collect();
    assert!(
        told.iter()
            .any(|change| change.starts_with("require: was terminal.height_above_roof")),
        "{told:?}"
    );
    let before = session.report();
    let preview = session.would_differ(&amended).expect("known sizes");
    assert!(
        preview
            .added
            .iter()
            .chain(&preview.removed)
            .any(|finding| finding.rule == "roof-terminal-height")
    );
    assert_eq!(session.report(), before);
    assert_eq!(session.set_rules(amended), Ok(preview));
    session.set_rules(base).expect("known sizes");
    assert_eq!(session.report(), before);
}

/// A length less than none.
fn less() -> Length {
    Length::from_nanometres(-1)
}

fn bounds(at_least: &str, at_most: &str) -> Option<SlopeBounds> {
    let slope = |text: &str| text.parse().expect("a slope");
    let (at_least, at_most) = (slope(at_least), slope(at_most));
    Some(SlopeBounds { at_least, at_most })
}

/// A storey that is written once gives many pipes one place; what edits add has none, and is no repetition of anything.
#[test]
fn of_what_edits_add_each_pipe_is_told_and_sized_by_itself() {
    let add = |size: &str| {
        let size = size.parse().ok();
        let of = |name: &str, role, run| Pipe {
            length: "3 ft".parse().ok(),
            slope: "1/4 in/ft".parse().ok(),
            size,
            ..Pipe::new(name, role, run)
        };
        let upright = Pipe {
            slope: "vertical".parse().ok(),
            ..of("second vent", Role::Vent, RunId::new(1))
        };
        let between = |from: &str, to: &str, pipe: Pipe| Edit::AddPipe {
            from: from.to_owned(),
            to: to.to_owned(),
            pipe: Box::new(pipe),
        };
        let mut closet = Fixture::new(FixtureType::WaterCloset);
        closet.occupancy = Some(Occupancy::Private);
        closet.flush_volume = "1.6 gal".parse().ok();
        closet.trap.size = "3 in".parse().ok();
        vec![
            Edit::AddNode(Node::new("WC", closet)),
            Edit::AddNode(Node::new("T2", FittingPattern::SanitaryTee)),
            Edit::AddNode(Node::new("second roof", Terminal::default())),
            between("WC", "T2", of("second arm", Role::Drain, RunId::new(0))),
            between("T2", "T1", of("second drain", Role::Drain, RunId::new(0))),
            between("T2", "second roof", upright),
            set("drain", PipeProperty::Size("3 in".parse().ok())),
        ]
    };
    let rules = crownweir_tests::rules("ipc-2021");
    let mut network = crownweir_tests::network(FILE);
    network.edit(&add("2-3/16 in")).expect("a network");
    let unknown = crownweir::check(&network, &rules).expect_err("no such size");
    let of: Vec<_> = unknown.0.iter().map(|one| one.element.as_str()).collect();
    assert_eq!(of, ["second arm", "second drain", "second vent"]);

    let mut network = crownweir_tests::network(FILE);
    network.edit(&add("")).expect("a network");
    let Ok(Sizing::Sized(sized)) = size(&network, &rules, Effort::default()) else {
        panic!("not sized");
    };
    let chosen = sized
        .chosen
        .iter()
        .map(|one| (one.name.as_str(), one.size.expect("a size").to_string()));
    let chosen: Vec<_> = chosen.collect();
    // Table 709.1: a water closet's drain is of 3 in; section 906.2: a vent of half the drain's size, no less than 1-1/4 in.
    let expected = [
        ("second arm", "3 in"),
        ("second vent", "1-1/2 in"),
        ("second drain", "3 in"),
    ];
    assert_eq!(chosen, expected.map(|(name, size)| (name, size.to_owned())));
}
