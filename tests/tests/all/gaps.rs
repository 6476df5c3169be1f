//! Networks whose numbers have gaps after edits, against the same ones numbered anew: all that is told of the two is the
//! same.

use std::collections::{BTreeMap, BTreeSet};

use crate::codes::CODES;
use crownweir::RunId;
use crownweir::drawing::Options;
use crownweir::network::Run;
use crownweir::quantity::Length;
use crownweir::report;
use crownweir::shop::{self, Dimensions, Job, Practice, Sheet, SheetKind};
use crownweir::vocabulary::{FittingPattern, Inlet, Role, RunKind};
use crownweir::{
    Edit, Effort, Element, Finding, Graph, Measured, Network, Node, NodeId, NodeKind, Pipe, PipeId,
    PipeProperty, RuleSet, Sizing, Verdict, size,
};
use crownweir_tests::{examples, network, network_text, rules, without_plan};

/// Demo networks and towers that can be edited where they stand, and the worked examples that can.
fn networks() -> Vec<(String, Network)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/networks");
    let entries = std::fs::read_dir(folder).unwrap_or_else(|error| panic!("{folder}: {error}"));
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .into_string()
                .expect("a name")
        })
        .filter(|name| name.ends_with(".yaml"))
        .collect();
    names.sort();
    let demos = names.into_iter().map(|name| {
        let text = network_text(&name);
        let text = match name.starts_with("larch-terrace") {
            true => without_plan(&text),
            false => text,
        };
        (name, network(&text))
    });
    let towers = [1, 3, 12].map(|storeys| {
        (
            format!("tower of {storeys}"),
            network(&crownweir_benches::tower(storeys)),
        )
    });
    let houses = (0..20).map(|number| {
        let text = crownweir_benches::house(7, number);
        (format!("house {number}"), network(&text))
    });
    let codes = crownweir::published::names();
    let cases = codes.flat_map(|name| {
        let cases = examples(name).into_iter().flat_map(|example| example.cases);
        let networks = cases.map(|case| case.network().clone());
        networks.map(move |network| (format!("{} of {name}", network.name()), network))
    });
    demos.chain(towers).chain(houses).chain(cases).collect()
}

/// Makes edits where they stand; false where they cannot be, or would not leave a network.
fn edits(network: &mut Network, edits: &[Edit]) -> bool {
    let mut tried = network.clone();
    let stood = tried.edit(edits).is_ok_and(|edited| !edited.anew);
    if stood {
        *network = tried;
    }
    stood
}

fn ends(graph: &Graph, pipe: PipeId) -> [String; 2] {
    let (from, to) = graph.edge_endpoints(pipe).expect("its ends");
    [from, to].map(|node| graph[node].name.to_string())
}

/// A fitting in the middle of a pipe.
fn split(network: &mut Network, pipe: &str, count: usize) -> bool {
    let graph = network.graph();
    let id = network.pipe_named(pipe).expect("the pipe");
    let (own, [from, to]) = (graph[id].clone(), ends(graph, id));
    let start = &graph[graph.edge_endpoints(id).expect("its ends").0];
    let joint = format!("joint {count}");
    let node = Node {
        storey: start.storey,
        position: own.position,
        ..Node::new(joint.as_str(), FittingPattern::Coupling)
    };
    let half = own
        .length
        .map(|length| Length::from_nanometres(length.nanometres() / 2));
    let rest = own
        .length
        .zip(half)
        .and_then(|(length, half)| length.checked_sub(half));
    let upper = Pipe {
        name: format!("upper part {count}").into(),
        length: half,
        enters: Inlet::Run,
        ..own.clone()
    };
    let lower = Pipe { length: rest, ..own };
    edits(
        network,
        &[
            Edit::RemovePipe(pipe.to_owned()),
            Edit::AddNode(node),
            Edit::AddPipe {
                from,
                to: joint.clone(),
                pipe: Box::new(upper),
            },
            Edit::AddPipe {
                from: joint,
                to,
                pipe: Box::new(lower),
            },
        ],
    )
}

/// Edits by which a fixture like another comes, on a drain like its own.
fn another(network: &Network, fixture: NodeId, count: usize) -> Vec<Edit> {
    let graph = network.graph();
    let mut drains = graph.edge_indices().filter(|&pipe| {
        graph
            .edge_endpoints(pipe)
            .is_some_and(|(from, _)| from == fixture)
            && graph[pipe].role == Role::Drain
    });
    let drain = drains.next().expect("its drain");
    let name = format!("another {count}");
    let run = network.next_run();
    let [_, to] = ends(graph, drain);
    vec![
        Edit::AddRun(Run {
            name: name.as_str().into(),
            kind: RunKind::Branch,
        }),
        Edit::AddNode(Node {
            name: name.as_str().into(),
            elevation: None,
            ..graph[fixture].clone()
        }),
        Edit::AddPipe {
            from: name,
            to,
            pipe: Box::new(Pipe {
                name: format!("drain of another {count}").into(),
                run,
                enters: Inlet::Branch,
                ..graph[drain].clone()
            }),
        },
    ]
}

fn fixtures(network: &Network) -> Vec<NodeId> {
    let graph = network.graph();
    let nodes = graph.node_indices();
    nodes
        .filter(|&id| matches!(graph[id].kind, NodeKind::Fixture(_)))
        .collect()
}

/// What came of editing.
#[derive(Default)]
struct Shape {
    gaps: usize,
    given_again: usize,
    at_end: usize,
}

/// The network with pipes divided, fixtures taken out and others put in their places, and what numbers came of that.
/// None where it cannot be edited where it stands.
fn edited(network: &Network) -> Option<(Network, Shape)> {
    let mut edited = network.clone();
    let names = |network: &Network| -> BTreeMap<usize, String> {
        let graph = network.graph();
        graph
            .node_indices()
            .map(|id| (id.index(), graph[id].name.to_string()))
            .collect()
    };
    let before = names(network);
    let pipes: Vec<String> = network
        .graph()
        .edge_weights()
        .map(|pipe| pipe.name.to_string())
        .collect();
    let some = |length: usize, most: usize| (0..length).step_by(length.div_ceil(most).max(1));
    // Vents and drains alike, and from the end so that what comes does not follow the flow.
    let divided = some(pipes.len(), 7).filter(|&at| split(&mut edited, &pipes[pipes.len() - 1 - at], at));
    let divided = divided.count();
    let mut gone = Vec::new();
    for at in some(fixtures(network).len(), 6) {
        let all = fixtures(&edited);
        let Some(&fixture) = all.get(at) else { break };
        let like = another(&edited, fixture, at);
        let name = edited.graph()[fixture].name.to_string();
        if edits(&mut edited, &[Edit::RemoveNode(name)]) {
            gone.push(like);
        }
    }
    // One stays away, and its number is a gap.
    let came = gone
        .into_iter()
        .skip(1)
        .filter(|like| edits(&mut edited, like))
        .count();
    // A joint of those that were put in is taken out again, the pipes at it are joined up.
    let joined = usize::from(joined_up(&mut edited));
    if divided + came + joined == 0 {
        return None;
    }
    let after = names(&edited);
    let end = before.keys().max().expect("nodes");
    let shape = Shape {
        gaps: (0..=*after.keys().max().expect("nodes"))
            .filter(|number| !after.contains_key(number))
            .count(),
        given_again: after
            .iter()
            .filter(|(number, name)| before.get(number).is_some_and(|known| known != *name))
            .count(),
        at_end: after.keys().filter(|number| *number > end).count(),
    };
    Some((edited, shape))
}

/// Takes the first joint out of a network into which some were put, and lays one pipe in place of the two.
fn joined_up(network: &mut Network) -> bool {
    let graph = network.graph();
    let Some(joint) = graph
        .node_indices()
        .find(|&id| graph[id].name.starts_with("joint "))
    else {
        return false;
    };
    let of = |wanted: &dyn Fn((NodeId, NodeId)) -> bool| {
        let mut pipes = graph.edge_indices();
        pipes.find(|&pipe| graph.edge_endpoints(pipe).is_some_and(wanted))
    };
    let (Some(upper), Some(lower)) = (of(&|(_, to)| to == joint), of(&|(from, _)| from == joint)) else {
        return false;
    };
    let ([from, _], [_, to]) = (ends(graph, upper), ends(graph, lower));
    let length = graph[upper].length.zip(graph[lower].length);
    let pipe = Pipe {
        length: length.and_then(|(upper, lower)| upper.checked_add(lower)),
        ..graph[lower].clone()
    };
    let name = graph[joint].name.to_string();
    edits(
        network,
        &[
            Edit::RemoveNode(name),
            Edit::AddPipe {
                from,
                to,
                pipe: Box::new(pipe),
            },
        ],
    )
}

/// The same network, numbered anew: an edit of a run is not made where it stands.
fn numbered_anew(network: &Network) -> Network {
    let mut anew = network.clone();
    let run = RunId::new(0);
    let kind = network.run(run).expect("a run").kind;
    let edited = anew.edit(&[Edit::RunKind { run, kind }]).expect("the same kind");
    assert!(edited.anew);
    let graph = anew.graph();
    assert!(
        graph
            .node_indices()
            .map(|id| id.index())
            .eq(0..graph.node_count())
    );
    assert!(
        graph
            .edge_indices()
            .map(|id| id.index())
            .eq(0..graph.edge_count())
    );
    anew
}

/// What stands where, whatever the numbers.
fn parts(network: &Network) -> (BTreeSet<String>, BTreeSet<String>) {
    let graph = network.graph();
    let nodes = graph.node_weights().map(|node| format!("{node:?}"));
    let pipes = graph
        .edge_indices()
        .map(|id| format!("{:?} {:?}", graph[id], ends(graph, id)));
    (nodes.collect(), pipes.collect())
}

/// Findings without the numbers of their elements.
fn unnumbered(findings: &[Finding]) -> Vec<Finding> {
    let findings = findings.iter().cloned();
    findings
        .map(|mut finding| {
            finding.element = Element::System;
            finding
        })
        .collect()
}

/// All that is told of a network by a rule set, each with its name.
fn told(
    network: &Network,
    rules: &RuleSet,
    practice: &Practice,
    dimensions: &Dimensions,
) -> Vec<(String, String)> {
    let measured = Measured::new(network, rules).expect("known sizes");
    let mut found = measured.check();
    // Where several data are missing, one is named, and which depends on the order in which they are come upon.
    for finding in found
        .findings
        .iter_mut()
        .filter(|finding| finding.verdict == Verdict::Undetermined)
    {
        finding.message.clear();
        finding.missing.clear();
    }
    // The others are then told as missing elsewhere.
    found.missing_elsewhere.clear();
    let mut told = vec![("findings.csv".to_owned(), report::findings_csv(&found))];
    told.push(("fixtures.csv".to_owned(), report::fixtures_csv(&measured)));
    told.push(("pipes.csv".to_owned(), report::pipes_csv(&measured)));
    // So do workings, of what a fact is found by.
    told.push(("text".to_owned(), report::text(&found, &|_| None)));
    for (loads, pieces) in [(false, false), (true, true)] {
        let drawing = report::drawing(&measured, &found, Options { loads, pieces });
        told.push((format!("drawing, loads {loads}, pieces {pieces}"), drawing.svg()));
    }
    let plumbing = Measured::new(network, rules).expect("known sizes");
    let job = Job::new(network, dimensions)
        .with_practice(practice)
        .with_plumbing(plumbing);
    let sheets: Vec<Sheet> = SheetKind::ALL.iter().map(|kind| kind.sheet(&job)).collect();
    told.push(("sheets".to_owned(), shop::text(&sheets)));
    found.findings = unnumbered(&found.findings);
    told.push(("report".to_owned(), format!("{found:#?}")));
    told
}

/// The first line, or in a page or drawing the first element, that is not the same.
fn first_difference(one: &str, other: &str) -> Option<String> {
    let parts =
        |text: &str| -> Vec<String> { text.split_inclusive(['\n', '>']).map(str::to_owned).collect() };
    let (one, other) = (parts(one), parts(other));
    let most = one.len().max(other.len());
    let at = (0..most).find(|&at| one.get(at) != other.get(at))?;
    Some(format!("- {:?}\n+ {:?}", one.get(at), other.get(at)))
}

#[test]
fn what_is_told_of_a_network_does_not_depend_on_its_numbers() {
    let practice = Practice::published().unwrap_or_else(|problems| panic!("{problems}"));
    let dimensions = Dimensions::published().unwrap_or_else(|problems| panic!("{problems}"));
    let mut sets: Vec<RuleSet> = CODES.iter().map(|code| code.rules.clone()).collect();
    sets.extend(["framing-irc-2021", "framing-nbc-2020"].map(rules));
    let mut all = Shape::default();
    let mut compared = 0;
    let mut differing = Vec::new();
    for (turn, (name, network)) in networks().into_iter().enumerate() {
        let Some((edited, shape)) = edited(&network) else {
            continue;
        };
        all.gaps += shape.gaps;
        all.given_again += shape.given_again;
        all.at_end += shape.at_end;
        let anew = numbered_anew(&edited);
        assert_eq!(parts(&edited), parts(&anew), "{name}");
        compared += 1;
        let (one, other) = (report::dot(&edited), report::dot(&anew));
        if let Some(lines) = first_difference(&one, &other) {
            differing.push(format!("{name}, dot:\n{lines}"));
        }
        // Two sets for each network: all sets come about often enough.
        for rules in [0, 2].map(|more| &sets[(turn + more) % sets.len()]) {
            let [one, other] = [&edited, &anew].map(|network| {
                Measured::new(network, rules)
                    .is_ok()
                    .then(|| told(network, rules, &practice, &dimensions))
            });
            assert_eq!(one.is_some(), other.is_some());
            for ((what, one), (_, other)) in one.into_iter().flatten().zip(other.into_iter().flatten()) {
                if let Some(lines) = first_difference(&one, &other) {
                    differing.push(format!("{name} by {}, {what}:\n{lines}", rules.name));
                }
            }
        }
    }
    assert!(
        differing.is_empty(),
        "{} differ\n{}",
        differing.len(),
        differing.join("\n")
    );
    assert!(compared > 20, "{compared} networks");
    assert!(all.gaps > 20 && all.given_again > 20 && all.at_end > 20);
}

/// A sizing in words, and all of it that bears names.
fn sized(network: &Network, rules: &RuleSet) -> (Vec<String>, Sizing) {
    let sizing = size(network, rules, Effort { evaluations: 400 }).expect("known sizes");
    let mut words = Vec::new();
    let named = |pipes: &[PipeId]| -> Vec<String> {
        pipes
            .iter()
            .map(|&pipe| network.graph()[pipe].name.to_string())
            .collect()
    };
    let chosen = match &sizing {
        Sizing::Sized(sized) => &sized.chosen[..],
        Sizing::Conflict(conflict) => {
            let members = conflict.members.iter().chain(conflict.further.iter().flatten());
            words.extend(members.map(|one| format!("{} of {}", one.rule, one.name)));
            words.extend(
                conflict
                    .open
                    .iter()
                    .map(|one| format!("{:?} {:?}", named(&one.pipes), one.either)),
            );
            &conflict.chosen[..]
        }
        _ => &[],
    };
    words.extend(
        chosen
            .iter()
            .map(|one| format!("{:?} {:?} {:?}", named(&one.pipes), one.size, one.slope)),
    );
    (words, sizing)
}

#[test]
fn the_sizes_proposed_for_a_network_do_not_depend_on_its_numbers() {
    let (mut chosen, mut denied, mut spent) = (0, 0, 0);
    for (name, network) in networks() {
        if network.graph().node_count() > 150 {
            continue;
        }
        let Some((mut edited, _)) = edited(&network) else {
            continue;
        };
        let pipes: Vec<String> = edited
            .graph()
            .edge_weights()
            .map(|pipe| pipe.name.to_string())
            .collect();
        let open: Vec<Edit> = pipes
            .iter()
            .step_by(pipes.len().div_ceil(6))
            .map(|pipe| Edit::Pipe {
                pipe: pipe.clone(),
                set: PipeProperty::Size(None),
            })
            .collect();
        assert!(edits(&mut edited, &open));
        let anew = numbered_anew(&edited);
        for code in CODES.iter() {
            let rules = &code.rules;
            if Measured::new(&edited, rules).is_err() {
                continue;
            }
            let (words, sizing) = sized(&edited, rules);
            assert_eq!(words, sized(&anew, rules).0, "{name} by {}", rules.name);
            match sizing {
                Sizing::Sized(_) => chosen += 1,
                Sizing::Conflict(_) => denied += 1,
                _ => spent += 1,
            }
        }
    }
    assert!(chosen > 20 && denied > 0, "{chosen} {denied} {spent}");
}

// The order depends on no number, and is that of the numbers where a network has just been read.
#[test]
fn a_network_that_has_just_been_read_is_numbered_as_it_flows() {
    for (name, network) in networks() {
        let order = network.flow_order();
        let graph = network.graph();
        assert!(
            order.nodes.iter().map(|id| id.index()).eq(0..graph.node_count()),
            "{name}"
        );
        assert!(
            order.pipes.iter().map(|id| id.index()).eq(0..graph.edge_count()),
            "{name}"
        );
        assert_eq!(order.drains, network.drain_order(), "{name}");
        assert_eq!(order.vents, network.vent_order(), "{name}");
    }
}
