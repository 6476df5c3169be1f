//! Edits by which parts of a network come and go, most of which leave a network behind.

use crownweir::network::{Cleanout, Run, Terminal, Valve};
use crownweir::vocabulary::{FittingPattern, FixtureType, Inlet, Role, RunKind, ValveKind};
use crownweir::{Edit, Network, Node, NodeId, NodeKind, Pipe, PipeId, RunId, Session};
use crownweir_tests::rules;
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::{EdgeRef, IntoEdgeReferences};
use proptest::prelude::*;
use proptest::sample::Index;

use super::{
    EXAMPLES, LENGTHS, NETWORKS, RULES, SIZES, Step, fixture, go, is_as_checked_afresh, one, some_node,
    some_pipe,
};

/// How many kinds of such edits there are.
pub(super) const KINDS: u8 = 11;

/// A network, and what edits of it are made up as.
struct Making<'n> {
    network: &'n Network,
    count: usize,
    edits: Vec<Edit>,
}

impl Making<'_> {
    fn name(&self, node: NodeId) -> String {
        self.network.graph()[node].name.to_string()
    }

    fn pipes(&self, node: NodeId, direction: petgraph::Direction, role: Role) -> Vec<PipeId> {
        let edges = self.network.graph().edges_directed(node, direction);
        let edges = edges.filter(|edge| edge.weight().role == role);
        edges.map(|edge| edge.id()).collect()
    }

    /// The one pipe that leads on from a node which nothing else touches but pipes that have been taken out.
    fn leads_on(&self, node: NodeId) -> Option<NodeId> {
        let edges = self.network.graph().edges_directed(node, Outgoing);
        let next: Vec<_> = edges.map(|edge| edge.target()).collect();
        match next[..] {
            [next] => Some(next),
            _ => None,
        }
    }

    /// Takes out a node, and what nothing comes to any more below it.
    fn prune(&mut self, node: NodeId) {
        let mut node = node;
        loop {
            self.edits.push(Edit::RemoveNode(self.name(node)));
            let Some(next) = self.leads_on(node) else { return };
            let others = self.network.graph().edges_directed(next, Incoming).count() - 1;
            let ends = self.network.graph().edges_directed(next, Outgoing).count() != 1;
            if others > 0 || (ends && !matches!(self.network.graph()[next].kind, NodeKind::Terminal(_))) {
                return;
            }
            node = next;
        }
    }

    fn run(&mut self, kind: RunKind) -> RunId {
        let name = format!("added run {} {}", self.count, self.edits.len());
        let before = self
            .edits
            .iter()
            .filter(|edit| matches!(edit, Edit::AddRun(_)))
            .count();
        self.edits.push(Edit::AddRun(Run {
            name: name.as_str().into(),
            kind,
        }));
        (0..before).fold(self.network.next_run(), |run, _| run.next())
    }

    fn pipe(&mut self, from: &str, to: &str, like: Pipe) {
        let name = format!("added pipe {} {}", self.count, self.edits.len());
        self.edits.push(Edit::AddPipe {
            from: from.to_owned(),
            to: to.to_owned(),
            pipe: Box::new(Pipe {
                name: name.as_str().into(),
                ..like
            }),
        });
    }

    fn node(&mut self, kind: impl Into<NodeKind>, like: Node) -> String {
        let name = format!("added node {} {}", self.count, self.edits.len());
        self.edits.push(Edit::AddNode(Node {
            name: name.as_str().into(),
            elevation: None,
            kind: kind.into(),
            ..like
        }));
        name
    }

    /// Puts a fitting into a pipe; its name.
    fn split(&mut self, id: PipeId, pattern: FittingPattern, length: Index) -> String {
        let pipe = self.network.graph()[id].clone();
        let (from, to) = self.network.graph().edge_endpoints(id).expect("its ends");
        let like = self.network.graph()[from].clone();
        self.edits.push(Edit::RemovePipe(pipe.name.to_string()));
        let fitting = self.node(pattern, like);
        let upper = Pipe {
            enters: Inlet::Run,
            length: one(&LENGTHS, length),
            ..pipe.clone()
        };
        self.pipe(&self.name(from), &fitting, upper);
        self.pipe(&fitting, &self.name(to), pipe);
        fitting
    }
}

/// A pipe of some role, if there is one.
fn of_role(network: &Network, role: Role, at: Index) -> Option<PipeId> {
    let graph = network.graph();
    let all: Vec<PipeId> = graph
        .edge_indices()
        .filter(|&id| graph[id].role == role)
        .collect();
    (!all.is_empty()).then(|| all[at.index(all.len())])
}

/// Edits of a kind.
pub(super) fn edits(
    network: &Network,
    kind: u8,
    (element, what, value): (Index, Index, Index),
    count: usize,
) -> Vec<Edit> {
    let mut making = Making {
        network,
        count,
        edits: Vec::new(),
    };
    made(&mut making, kind, (element, what, value));
    making.edits
}

fn made(making: &mut Making<'_>, kind: u8, (element, what, value): (Index, Index, Index)) -> Option<()> {
    let network = making.network;
    let graph = network.graph();
    let node_of = |node: &Node| network.node_named(&node.name);
    match kind {
        // A coupling taken out, its two pipes made one.
        0 => {
            let fittings: Vec<NodeId> = graph
                .node_indices()
                .filter(|&id| matches!(graph[id].kind, NodeKind::Fitting { .. }))
                .filter(|&id| {
                    graph.edges_directed(id, Incoming).count() == 1 && making.leads_on(id).is_some()
                })
                .collect();
            let fitting = *fittings.get(element.index(fittings.len().max(1)))?;
            let upper = graph.edges_directed(fitting, Incoming).next()?;
            let (from, like) = (upper.source(), upper.weight().clone());
            let to = making.leads_on(fitting)?;
            making.edits.push(Edit::RemoveNode(making.name(fitting)));
            let (from, to) = (making.name(from), making.name(to));
            making.pipe(&from, &to, like);
        }
        // The last pipe of a branch led elsewhere.
        1 => {
            let id = of_role(network, Role::Drain, element)?;
            let from = graph.edge_endpoints(id)?.0;
            let like = graph[id].clone();
            making.edits.push(Edit::RemovePipe(like.name.to_string()));
            let (from, to) = (making.name(from), some_node(network, what).name.to_string());
            making.pipe(&from, &to, like);
        }
        // A vent from a drain's fitting to the middle of another vent.
        2 => {
            let like = graph[of_role(network, Role::Vent, element)?].clone();
            let joined = of_role(network, Role::Vent, what)?;
            let tee = making.split(joined, FittingPattern::Tee, value);
            let from = graph.edge_endpoints(of_role(network, Role::Drain, value)?)?.1;
            let run = making.run(RunKind::BranchVent);
            making.pipe(&making.name(from), &tee, Pipe { run, ..like });
        }
        // A vent of its own to the open air.
        3 => {
            let like = graph[of_role(network, Role::Vent, element)?].clone();
            let from = graph.edge_endpoints(of_role(network, Role::Drain, value)?)?.1;
            let terminal = making.node(Terminal::default(), graph[from].clone());
            let run = making.run(RunKind::BranchVent);
            making.pipe(&making.name(from), &terminal, Pipe { run, ..like });
        }
        // A fixture, or a cleanout, with all that is only there for it.
        4 | 5 => {
            let leaves: Vec<NodeId> = graph
                .node_indices()
                .filter(|&id| graph.edges_directed(id, Incoming).next().is_none())
                .collect();
            let leaf = *leaves.get(element.index(leaves.len().max(1)))?;
            making.prune(leaf);
        }
        // A vent, as far as it is no other's.
        6 => {
            let id = of_role(network, Role::Vent, element)?;
            let (from, to) = graph.edge_endpoints(id)?;
            if making.pipes(from, Incoming, Role::Vent).is_empty() {
                making.edits.push(Edit::RemovePipe(graph[id].name.to_string()));
                if graph.edges_directed(to, Incoming).count() == 1 {
                    making.prune(to);
                }
            }
        }
        // A cleanout on a stub of its own.
        7 => {
            let to = some_node(network, element);
            let like = graph[of_role(network, Role::Drain, what)?].clone();
            let cleanout = making.node(
                Cleanout {
                    size: one(&SIZES, value),
                    ..Cleanout::default()
                },
                to.clone(),
            );
            let run = making.run(RunKind::Branch);
            let enters = Inlet::Branch;
            making.pipe(&cleanout, &to.name, Pipe { run, enters, ..like });
        }
        // Another end of a vent under the same number.
        9 => {
            let is_end = |id: &NodeId| matches!(graph[*id].kind, NodeKind::Terminal(_) | NodeKind::Valve(_));
            let all: Vec<NodeId> = graph.node_indices().filter(is_end).collect();
            let end = *all.get(element.index(all.len().max(1)))?;
            replaced_end(making, end, ends()[what.index(3)].clone());
        }
        // A run with its pipes, and what nothing touches without them.
        10 => {
            let runs: Vec<RunId> = network.runs().map(|(id, _)| id).collect();
            let run = *runs.get(element.index(runs.len().max(1)))?;
            let own = |pipe: &PipeId| graph[*pipe].run == run;
            making.edits.push(Edit::RemoveRun(run));
            for node in graph.node_indices() {
                let mut touching = graph
                    .edges_directed(node, Incoming)
                    .chain(graph.edges_directed(node, Outgoing));
                if touching.all(|edge| own(&edge.id())) {
                    making.edits.push(Edit::RemoveNode(making.name(node)));
                }
            }
        }
        // A fixture whose drain joins in the middle of another, and has a vent there.
        _ => {
            let (_, like) = some_pipe(network, value);
            let joined = of_role(network, Role::Drain, element)?;
            let tee = making.split(joined, FittingPattern::SanitaryTee, value);
            let node = fixture(
                "added",
                [FixtureType::Lavatory, FixtureType::WaterCloset][what.index(2)],
            );
            let at = node_of(&some_node(network, what)).map(|id| graph[id].storey);
            let mut model = node.clone();
            model.storey = at.flatten();
            let name = making.node(node.kind, model);
            let run = making.run(RunKind::Branch);
            let enters = Inlet::Branch;
            let arm = Pipe {
                role: Role::Drain,
                run,
                enters,
                ..like.clone()
            };
            making.pipe(&name, &tee, arm);
            if value.index(2) == 0 {
                let like = graph[of_role(network, Role::Vent, what)?].clone();
                let to = graph.edge_endpoints(of_role(network, Role::Vent, what)?)?.1;
                let run = making.run(RunKind::BranchVent);
                making.pipe(&tee, &making.name(to), Pipe { run, ..like });
            }
        }
    }
    Some(())
}

/// The end of a vent taken out, and another put in its place with all vents that led there.
fn replaced_end(making: &mut Making<'_>, end: NodeId, kind: NodeKind) {
    let graph = making.network.graph();
    let node = Node {
        kind,
        ..graph[end].clone()
    };
    making.edits.push(Edit::RemoveNode(node.name.to_string()));
    making.edits.push(Edit::AddNode(node));
    for pipe in making.pipes(end, Incoming, Role::Vent) {
        let from = graph
            .edge_endpoints(pipe)
            .map(|(from, _)| from)
            .expect("its ends");
        making.edits.push(Edit::AddPipe {
            from: making.name(from),
            to: making.name(end),
            pipe: Box::new(graph[pipe].clone()),
        });
    }
}

/// What a vent may end at.
fn ends() -> [NodeKind; 3] {
    let valve = |kind| Valve {
        kind: Some(kind),
        ..Valve::default()
    };
    [
        valve(ValveKind::Branch).into(),
        Terminal::default().into(),
        valve(ValveKind::Stack).into(),
    ]
}

// What is new has the number of what it is put in place of, and vents further up lead there as before.
#[test]
fn a_vent_that_comes_to_end_otherwise_under_the_same_number_is_followed() {
    let mut replaced = 0;
    for network in EXAMPLES
        .iter()
        .filter(|network| network.name().contains("circuit"))
    {
        for rules in RULES.iter() {
            let Ok(mut session) = Session::new(network.clone(), rules.clone()) else {
                continue;
            };
            session.make_ready();
            let mut make = |session: &mut Session, make: &dyn Fn(&mut Making<'_>)| {
                replaced += 1;
                let mut making = Making {
                    network: session.network(),
                    count: replaced,
                    edits: Vec::new(),
                };
                make(&mut making);
                let edits = making.edits;
                session.edit(&edits).is_ok()
            };
            let vents = |session: &Session| -> Vec<PipeId> {
                let graph = session.network().graph();
                let vents = graph.edge_indices().filter(|&id| graph[id].role == Role::Vent);
                vents.collect()
            };
            for vent in vents(&session) {
                let pipe = session.network().graph()[vent].clone();
                make(&mut session, &|making| {
                    let (from, to) = making.network.graph().edge_endpoints(vent).expect("its ends");
                    making.edits.push(Edit::RemovePipe(pipe.name.to_string()));
                    let fitting = making.node(FittingPattern::Coupling, making.network.graph()[from].clone());
                    let (from, to) = (making.name(from), making.name(to));
                    let part = Pipe {
                        length: None,
                        ..pipe.clone()
                    };
                    making.pipe(&from, &fitting, part.clone());
                    making.pipe(&fitting, &to, part);
                });
            }
            for kind in ends().iter().chain(ends().iter().rev()) {
                let graph = session.network().graph();
                let ends: Vec<NodeId> = graph
                    .node_indices()
                    .filter(|&id| matches!(graph[id].kind, NodeKind::Terminal(_) | NodeKind::Valve(_)))
                    .collect();
                for end in ends {
                    if make(&mut session, &|making| replaced_end(making, end, kind.clone())) {
                        is_as_checked_afresh(&mut session);
                    }
                }
            }
        }
    }
    assert!(replaced > 100, "{replaced} replaced");
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let kind = prop_oneof![3 => super::STRUCTURE..super::STRUCTURE + KINDS, 1 => 0_u8..19];
    let step = (kind, any::<Index>(), any::<Index>(), any::<Index>());
    proptest::collection::vec(step, 1..16)
}

/// A drain that a vented building drain lets breathe stays what it is where a fitting is put into it, the part below too.
#[test]
fn a_fitting_that_is_put_into_a_combination_drain_is_followed() {
    let combined = |session: &mut Session| {
        let mut summary = session.report().summary.into_iter();
        let row = summary.find(|row| row.rule == "combination-drain-to-building-drain-size");
        row.map_or(0, |row| row.subjects - row.not_applicable)
    };
    let mut followed = 0;
    for network in EXAMPLES.iter().filter(|network| network.name() == "cellar") {
        let mut session = Session::new(network.clone(), rules("ipc-2021")).expect("known sizes");
        session.make_ready();
        let graph = session.network().graph();
        let named = graph
            .edge_references()
            .find(|edge| &*edge.weight().name == "foot");
        let Some((from, to, foot)) = named.map(|edge| (edge.source(), edge.target(), edge.weight().clone()))
        else {
            continue;
        };
        let [from, to] = [from, to].map(|node| graph[node].clone());
        let part = |name: &str, from: &str, to: &str| Edit::AddPipe {
            from: from.to_owned(),
            to: to.to_owned(),
            pipe: Box::new(Pipe {
                name: name.into(),
                ..foot.clone()
            }),
        };
        let edits = [
            Edit::RemovePipe("foot".to_owned()),
            Edit::AddNode(Node {
                name: "between".into(),
                ..from.clone()
            }),
            part("upper", &from.name, "between"),
            part("lower", "between", &to.name),
        ];
        let before = combined(&mut session);
        session.edit(&edits).unwrap_or_else(|error| panic!("{error}"));
        is_as_checked_afresh(&mut session);
        followed += usize::from(combined(&mut session) == before + 1);
    }
    assert!(followed > 0);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, max_shrink_iters: 400, ..ProptestConfig::default() })]

    #[test]
    fn whatever_comes_or_goes_a_session_tells_what_a_check_tells(
        network in any::<Index>(),
        rules in 0_usize..5,
        steps in steps(),
    ) {
        go(&NETWORKS[network.index(NETWORKS.len())], rules, &steps);
    }

    #[test]
    fn whatever_comes_or_goes_in_a_worked_example_a_session_tells_what_a_check_tells(
        network in any::<Index>(),
        rules in 0_usize..5,
        steps in steps(),
    ) {
        go(&EXAMPLES[network.index(EXAMPLES.len())], rules, &steps);
    }
}
