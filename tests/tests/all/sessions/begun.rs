//! Networks that are begun from nothing: whatever is built so by edits is found to be what is read from a file.

use crownweir::petgraph::Direction::Outgoing;
use crownweir::petgraph::visit::{EdgeRef, IntoEdgeReferences};
use crownweir::propose::{Effort, Sizing, size};
use crownweir::quantity::Length;
use crownweir::vocabulary::{FittingPattern, FixtureType, Inlet, Role, RunKind};
use crownweir::{
    BeginError, Beginning, Edit, Element, Fixture, Limits, Network, Node, NodeId, NodeKind, Pipe, PipeId,
    Report, Run, Session, SiteProperty, Storey, Terminal, check,
};
use crownweir_tests::written::{again, content, told as found_in};
use crownweir_tests::{network, rules};

use super::{EXAMPLES, NETWORKS, RULES, is_as_checked_afresh};

fn bare(storeys: Vec<Storey>) -> Beginning {
    Beginning {
        storeys,
        ..Beginning::new("boathouse", Node::new("sewer", NodeKind::Disposal))
    }
}

fn begun(beginning: Beginning) -> Network {
    Network::begin(beginning).unwrap_or_else(|error| panic!("{error}"))
}

fn length(text: &str) -> Length {
    Length::parse_signed(text).expect("a length")
}

/// What a network is begun with that is to become as one that was read.
fn beginning_of(read: &Network) -> Beginning {
    Beginning {
        name: read.name().to_owned(),
        file: read.file().to_owned(),
        rules: read.rules().map(str::to_owned),
        notation: read.notation(),
        site: read.site().clone(),
        storeys: read.storeys().to_vec(),
        disposal: node_of(read, read.disposal()),
        ends_in_sump: read.ends_in_sump(),
    }
}

/// What the author stated of a node.
fn node_of(read: &Network, id: NodeId) -> Node {
    let own = &read.graph()[id];
    Node {
        elevation: own.elevation.filter(|_| read.states_height(id)),
        ..own.clone()
    }
}

/// The edit that adds a pipe of which the author stated as much.
fn pipe_of(read: &Network, id: PipeId) -> Edit {
    let own = &read.graph()[id];
    let (from, to) = read.graph().edge_endpoints(id).expect("its ends");
    let [from, to] = [from, to].map(|id| read.graph()[id].name.to_string());
    let pipe = Box::new(Pipe {
        length: own.length.filter(|_| read.states_length(id)),
        // A drain that goes up does so by its heights.
        slope: own.slope.filter(|slope| slope.rise() >= 0),
        ..own.clone()
    });
    Edit::AddPipe { from, to, pipe }
}

fn runs_of(read: &Network) -> Vec<Edit> {
    read.runs().map(|(_, run)| Edit::AddRun(run.clone())).collect()
}

fn nodes_of(read: &Network) -> impl Iterator<Item = Edit> {
    let others = read.graph().node_indices().filter(|&id| id != read.disposal());
    others.map(|id| Edit::AddNode(node_of(read, id)))
}

/// Whether all of a network can be added by edits: no places in plan, no framing, no offsets.
fn is_of_edits(read: &Network) -> bool {
    let graph = read.graph();
    let is_placed = |id| read.place_in_plan(id).iter().any(Option::is_some);
    let has_way = |id| read.bearing(id).is_some() || read.offset(id).is_some() || read.inverts(id).is_some();
    let is_placed = graph.node_indices().any(is_placed);
    !is_placed && !graph.edge_indices().any(has_way) && read.passages().is_empty()
}

/// What is found, save the numbers of elements.
fn unnumbered(mut report: Report) -> Report {
    for finding in &mut report.findings {
        finding.element = Element::System;
    }
    report
}

#[track_caller]
fn is_alike(own: &Report, read: &Report) {
    let [own, read] = [own, read].map(|report| unnumbered(report.clone()));
    if own == read {
        return;
    }
    let of = |report: &Report| -> Vec<String> {
        let findings = report.findings.iter().map(|one| format!("{one:?}"));
        let rows = report.summary.iter().map(|one| format!("{one:?}"));
        let mut rest = report.clone();
        (rest.findings, rest.summary) = (Vec::new(), Vec::new());
        findings
            .chain(rows)
            .chain(format!("{rest:#?}").lines().map(str::to_owned))
            .collect()
    };
    let (one, other) = (of(&own), of(&read));
    let only = |one: &[String], other: &[String]| -> Vec<String> {
        one.iter().filter(|line| !other.contains(line)).cloned().collect()
    };
    panic!(
        "{} by {}: {:#?}\n{:#?}",
        read.file,
        read.rules,
        only(&one, &other),
        only(&other, &one)
    );
}

fn all() -> impl Iterator<Item = &'static Network> {
    NETWORKS.iter().chain(EXAMPLES.iter())
}

#[test]
fn what_is_added_to_a_begun_network_is_found_to_be_what_was_read() {
    let (mut count, mut left_out) = (0, 0);
    for (index, read) in all().enumerate() {
        if !is_of_edits(read) {
            left_out += 1;
            continue;
        }
        let mut own = begun(beginning_of(read));
        let pipes = read.graph().edge_indices().map(|id| pipe_of(read, id));
        let edits: Vec<_> = runs_of(read)
            .into_iter()
            .chain(nodes_of(read))
            .chain(pipes)
            .collect();
        own.edit(&edits)
            .unwrap_or_else(|error| panic!("{}: {error}", read.file()));
        own.set_tests(read.tests().to_vec());
        let held = |network: &Network| -> Vec<String> {
            let of_files = ["framing", "dimensions", "rules"];
            let all = content(network, false).into_iter();
            all.filter(|line| !of_files.iter().any(|of| line.starts_with(of)))
                .collect()
        };
        assert_eq!(held(&own), held(read), "{}", read.file());
        for at in 0..2 {
            let rules = &RULES[(index + at) % RULES.len()];
            let Ok(told) = check(read, rules) else { continue };
            let found = check(&own, rules).unwrap_or_else(|error| panic!("{error}"));
            is_alike(&found, &told);
            count += 1;
        }
        again(&own, true).unwrap_or_else(|error| panic!("{}: {error}", read.file()));
    }
    assert!(count > 4000 && left_out < count / 4, "{count} {left_out}");
}

/// Pipe by pipe, from the point of disposal up; then the vents.
#[test]
fn a_session_follows_a_network_that_grows_from_nothing() {
    let mut count = 0;
    for (index, read) in all().enumerate().filter(|(_, read)| is_of_edits(read)) {
        let rules = (0..RULES.len()).map(|at| &RULES[(index + at) % RULES.len()]);
        let Some((rules, told)) = rules
            .filter_map(|rules| Some((rules, check(read, rules).ok()?)))
            .next()
        else {
            continue;
        };
        let empty = begun(beginning_of(read));
        let mut session = Session::new(empty, rules.clone()).unwrap_or_else(|error| panic!("{error}"));
        let nothing = session.report();
        is_as_checked_afresh(&mut session);
        let mut steps = 0;
        let mut go = |session: &mut Session, edits: &[Edit]| {
            let edited = session.edit(edits);
            edited.unwrap_or_else(|error| panic!("{}: {error}", read.file()));
            steps += 1;
            if read.graph().node_count() < 30 {
                is_as_checked_afresh(session);
            }
        };
        go(&mut session, &runs_of(read));
        for &id in read.drain_order().iter().rev() {
            let drains = read.graph().edges_directed(id, Outgoing);
            let drains = drains.filter(|edge| edge.weight().role == Role::Drain);
            let drains: Vec<Edit> = drains.map(|edge| pipe_of(read, edge.id())).collect();
            if !drains.is_empty() {
                let node = Edit::AddNode(node_of(read, id));
                go(&mut session, &[vec![node], drains].concat());
            }
        }
        let is_new = |name: &str| {
            read.node_named(name)
                .is_some_and(|id| read.drain_rank(id).is_none())
        };
        let nodes = nodes_of(read).filter(|edit| matches!(edit, Edit::AddNode(node) if is_new(&node.name)));
        let vents = read.graph().edge_references();
        let vents = vents.filter(|edge| edge.weight().role == Role::Vent);
        let vents = vents.map(|edge| pipe_of(read, edge.id()));
        go(&mut session, &nodes.chain(vents).collect::<Vec<_>>());
        // Only the tests of the file are no edit.
        if !read.tests().is_empty() {
            let mut network = session.network().clone();
            network.set_tests(read.tests().to_vec());
            let found = check(&network, rules).unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(found_in(&found, false), found_in(&told, false), "{}", read.file());
        } else {
            let grown = session.report();
            assert_eq!(found_in(&grown, false), found_in(&told, false), "{}", read.file());
        }
        // A hundred edits can be undone.
        if steps <= 100 {
            while session.undo().expect("sizes that are known").is_some() {}
            is_alike(&session.report(), &nothing);
        }
        count += 1;
    }
    assert!(count > 200, "{count}");
}

#[test]
fn a_network_without_a_pipe_is_all_that_others_are() {
    for rules in &*RULES {
        for storeys in [Vec::new(), vec![Storey::new("ground", Some(length("9 ft")))]] {
            for ends_in_sump in [false, true] {
                let storey = (!storeys.is_empty()).then_some(0);
                let disposal = Node {
                    storey,
                    elevation: storey.map(|_| length("-2 ft")),
                    ..Node::new("sewer", NodeKind::Disposal)
                };
                let own = begun(Beginning {
                    disposal,
                    ends_in_sump,
                    ..bare(storeys.clone())
                });
                let report = check(&own, rules).unwrap_or_else(|error| panic!("{error}"));
                // Its file reads as the same.
                let read = again(&own, true).unwrap_or_else(|error| panic!("{error}"));
                let mut of_file = check(&read, rules).unwrap_or_else(|error| panic!("{error}"));
                let place = |report: &mut Report| {
                    report.file.clear();
                    report
                        .findings
                        .iter_mut()
                        .for_each(|one| one.position = Default::default());
                };
                let mut told = report.clone();
                place(&mut of_file);
                place(&mut told);
                is_alike(&of_file, &told);
                let order = own.flow_order();
                assert_eq!((order.nodes, order.pipes.len()), (vec![own.disposal()], 0));
                assert!(!matches!(
                    size(&own, rules, Effort::default()),
                    Ok(Sizing::Conflict { .. })
                ));
                let mut session = Session::new(own, rules.clone()).unwrap_or_else(|error| panic!("{error}"));
                session.make_ready();
                is_as_checked_afresh(&mut session);
                assert!(session.undo().expect("sizes").is_none());
            }
        }
    }
}

#[test]
fn what_a_file_may_not_state_is_refused_where_a_network_begins() {
    let told = |alter: fn(&mut Beginning)| -> String {
        let mut beginning = bare(vec![
            Storey::new("ground", Some(length("9 ft"))),
            Storey::new("upper", None),
        ]);
        alter(&mut beginning);
        let error: BeginError = Network::begin(beginning).expect_err("it is refused");
        error.to_string()
    };
    assert_eq!(
        told(|own| own.name = " ".to_owned()),
        "the name of the building: the name is empty; expected at least one letter or digit"
    );
    assert_eq!(
        told(|own| own.rules = Some("\u{7}".to_owned())),
        "the name of the rule set: the name holds a control character; expected plain text"
    );
    assert_eq!(
        told(|own| own.storeys[1].name = "ground".into()),
        "storey 2: two storeys are called `ground`; expected a name of its own for each storey"
    );
    assert_eq!(
        told(|own| own.storeys[1].elevation = "8 ft".parse().ok()),
        "storey 2: the floor is stated at 8 ft, but `ground` below it reaches up to 9 ft by its height; correct the \
         elevation, or the height of the storey below"
    );
    assert_eq!(
        told(|own| own.storeys[0].height = Some(Length::from_nanometres(-1))),
        "storey 1: the height of the storey `ground` is negative; expected a length that is not negative"
    );
    assert_eq!(
        told(|own| own.disposal.storey = Some(2)),
        "the point of disposal: there is no storey number 2"
    );
    assert_eq!(
        told(|own| own.disposal.kind = Terminal::default().into()),
        "the point of disposal: the vent terminal `sewer` is no point of disposal"
    );
    assert_eq!(
        told(|own| own.disposal.name = "".into()),
        "the point of disposal: the name is empty; expected at least one letter or digit"
    );
    // All of them are told.
    let all = told(|own| {
        own.name.clear();
        own.storeys[1].name = "".into();
        own.disposal.kind = FittingPattern::Wye.into();
    });
    assert_eq!(all.lines().count(), 3, "{all}");
    let many = Beginning {
        storeys: vec![Storey::new("same", None); 1000],
        ..bare(Vec::new())
    };
    let error = Network::begin(many).expect_err("they have one name");
    assert_eq!(error.faults.len() + error.omitted, 999);
    assert_eq!(error.faults.len(), Limits::default().diagnostics);
}

/// A bathroom, drawn step by step.
#[test]
fn a_bathroom_is_drawn_from_nothing() {
    let file = "
crownweir: network/1
name: Heron Point boathouse, bathroom of the warden
rules: ipc-2021
units: inches
site: {occupancy: private, winter_design_temperature: 12 F}
storeys: [{storey: ground, height: 10 ft}]
drains:
  - run: warden's drain
    kind: building_drain
    size: 3 in
    slope: 1/4 in/ft
    storey: ground
    path:
      - fixture: {name: WC-9, type: water_closet, flush_volume: 1.6 gal, weir_height: 8 in, trap: {size: 3 in, kind: integral}}
      - pipe: {name: arm of WC-9, length: 2 ft}
      - fitting: {name: W-9, pattern: wye}
      - pipe: {name: to the sewer, length: 20 ft}
      - disposal: {name: sewer}
  - run: basin
    size: 1-1/2 in
    slope: 1/4 in/ft
    storey: ground
    path:
      - fixture: {name: LAV-9, type: lavatory, trap: {size: 1-1/4 in, kind: p, seal: 2 in}}
      - pipe: {name: arm of LAV-9, length: 7 ft, size: 1-1/4 in}
      - fitting: {name: T-9, pattern: sanitary_tee}
      - pipe: {name: drop, length: 2 ft, slope: vertical}
      - fitting: {name: B-9, pattern: long_sweep}
      - pipe: {name: to the wye, length: 3 ft}
      - at: W-9
vents:
  - run: vent
    size: 1-1/2 in
    slope: vertical
    storey: ground
    path:
      - at: T-9
      - pipe: {name: vent of LAV-9, length: 12 ft}
      - terminal: {name: roof, through: roof, height_above_roof: 12 in}
";
    let read = network(file);
    let on_ground = |node: Node| {
        Edit::AddNode(Node {
            storey: Some(0),
            ..node
        })
    };
    let size = |text: &str| text.parse().ok();
    let mut own = begun(Beginning {
        rules: Some("ipc-2021".to_owned()),
        storeys: vec![Storey::new("ground", Some(length("10 ft")))],
        disposal: Node {
            storey: Some(0),
            ..Node::new("sewer", NodeKind::Disposal)
        },
        ..Beginning::new(
            "Heron Point boathouse, bathroom of the warden",
            Node::new("sewer", NodeKind::Disposal),
        )
    });
    let (drain, basin, vent) = (
        own.next_run(),
        own.next_run().next(),
        own.next_run().next().next(),
    );
    let pipe = |from: &str, to: &str, pipe: Pipe| Edit::AddPipe {
        from: from.to_owned(),
        to: to.to_owned(),
        pipe: Box::new(pipe),
    };
    let three = Pipe {
        size: size("3 in"),
        slope: "1/4 in/ft".parse().ok(),
        enters: Inlet::Run,
        ..Pipe::new("arm of WC-9", Role::Drain, drain)
    };
    let small = Pipe {
        size: size("1-1/2 in"),
        run: basin,
        ..three.clone()
    };
    let run = |name: &str, kind| {
        Edit::AddRun(Run {
            name: name.into(),
            kind,
        })
    };
    let mut closet = Fixture::new(FixtureType::WaterCloset);
    closet.occupancy = Some(crownweir::vocabulary::Occupancy::Private);
    closet.flush_volume = "1.6 gal".parse().ok();
    closet.trap.size = size("3 in");
    let mut lavatory = Fixture::new(FixtureType::Lavatory);
    lavatory.occupancy = closet.occupancy;
    lavatory.trap.size = size("1-1/4 in");
    lavatory.trap.kind = Some(crownweir::vocabulary::TrapKind::P);
    lavatory.trap.seal = "2 in".parse().ok();
    let roof = Terminal {
        through: Some(crownweir::vocabulary::Through::Roof),
        height_above_roof: "12 in".parse().ok(),
        ..Terminal::default()
    };
    // The closet first, and then the basin.
    let steps = [
        vec![
            Edit::Site(SiteProperty::WinterDesignTemperature("12 F".parse().ok())),
            run("warden's drain", RunKind::BuildingDrain),
            on_ground(Node {
                elevation: Some(length("8 in")),
                ..Node::new("WC-9", closet)
            }),
            on_ground(Node::new("W-9", FittingPattern::Wye)),
            pipe(
                "WC-9",
                "W-9",
                Pipe {
                    length: size_of("2 ft"),
                    ..three.clone()
                },
            ),
            pipe(
                "W-9",
                "sewer",
                Pipe {
                    name: "to the sewer".into(),
                    length: size_of("20 ft"),
                    ..three
                },
            ),
        ],
        vec![
            run("basin", RunKind::Branch),
            run("vent", RunKind::BranchVent),
            on_ground(Node::new("LAV-9", lavatory)),
            on_ground(Node::new("T-9", FittingPattern::SanitaryTee)),
            on_ground(Node::new("B-9", FittingPattern::LongSweep)),
            on_ground(Node::new("roof", roof)),
            pipe(
                "LAV-9",
                "T-9",
                Pipe {
                    name: "arm of LAV-9".into(),
                    size: size("1-1/4 in"),
                    length: size_of("7 ft"),
                    ..small.clone()
                },
            ),
            pipe(
                "T-9",
                "B-9",
                Pipe {
                    name: "drop".into(),
                    length: size_of("2 ft"),
                    slope: "vertical".parse().ok(),
                    ..small.clone()
                },
            ),
            pipe(
                "B-9",
                "W-9",
                Pipe {
                    name: "to the wye".into(),
                    length: size_of("3 ft"),
                    enters: Inlet::Branch,
                    ..small.clone()
                },
            ),
            pipe(
                "T-9",
                "roof",
                Pipe {
                    name: "vent of LAV-9".into(),
                    role: Role::Vent,
                    run: vent,
                    length: size_of("12 ft"),
                    slope: "vertical".parse().ok(),
                    ..small
                },
            ),
        ],
    ];
    for edits in &steps {
        own.edit(edits).unwrap_or_else(|error| panic!("{error}"));
    }
    assert_eq!(content(&own, false), content(&read, false));
    let rules = rules("ipc-2021");
    let [report, of_file] =
        [&own, &read].map(|network| check(network, &rules).unwrap_or_else(|error| panic!("{error}")));
    assert_eq!(found_in(&report, false), found_in(&of_file, false));
    // The arm of the basin is too long for its size.
    assert!(
        report
            .findings
            .iter()
            .any(|finding| finding.rule == "trap-arm-length")
    );
    again(&own, true).unwrap_or_else(|error| panic!("{error}"));
}

fn size_of(text: &str) -> Option<Length> {
    text.parse().ok()
}
