//! What the author gave of a network's geometry, and what follows from it: heights, lengths, slopes, places in plan.
//!
//! What follows is told apart from what is given, so that after an edit it can follow anew. Where nothing is known in
//! plan, only the part between given heights that the edit touches is derived again.

use std::collections::{BTreeSet, HashMap, HashSet, VecDeque};

use crownweir_quantity::{Length, Notation, Slope};
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::{EdgeRef, NodeIndexable};

use crate::elevation::{self, Offsets, Sources};
use crate::heights::{Keys, Levels};
use crate::model::{Graph, NodeId, Pipe, PipeId, Storey};
use crate::plan::{Plan, Solver};
use crate::structure::Numbering;

/// Which figures the author gave.
#[derive(Debug, Clone, Default)]
pub(crate) struct Given {
    /// By node: its height.
    pub(crate) heights: Vec<bool>,
    /// By pipe: its length.
    pub(crate) lengths: Vec<bool>,
    /// By pipe: its slope.
    pub(crate) slopes: Vec<bool>,
    /// Positions and directions; empty where there is none.
    pub(crate) plan: Plan,
}

impl Given {
    /// All that is known of a graph before anything is derived.
    pub(crate) fn of(graph: &Graph, plan: Plan) -> Self {
        Self {
            heights: graph
                .node_weights()
                .map(|node| node.elevation.is_some())
                .collect(),
            lengths: graph.edge_weights().map(|pipe| pipe.length.is_some()).collect(),
            slopes: graph.edge_weights().map(|pipe| pipe.slope.is_some()).collect(),
            plan,
        }
    }

    /// The same of a network whose nodes and pipes are numbered anew.
    pub(crate) fn renumbered(self, numbering: &Numbering) -> Self {
        let at = |list: &[bool], index: usize| list.get(index).copied().unwrap_or(false);
        let of_pipes = |list: &[bool]| {
            let pipes = numbering.pipes.iter();
            pipes.map(|old| at(list, old.index())).collect()
        };
        let nodes = numbering.nodes.iter();
        Self {
            heights: nodes.map(|old| at(&self.heights, old.index())).collect(),
            lengths: of_pipes(&self.lengths),
            slopes: of_pipes(&self.slopes),
            plan: self.plan.renumbered(numbering),
        }
    }

    pub(crate) fn height(&self, node: NodeId) -> bool {
        self.heights.get(node.index()).copied().unwrap_or(false)
    }

    pub(crate) fn length(&self, pipe: PipeId) -> bool {
        self.lengths.get(pipe.index()).copied().unwrap_or(false)
    }

    pub(crate) fn slope(&self, pipe: PipeId) -> bool {
        self.slopes.get(pipe.index()).copied().unwrap_or(false)
    }

    /// Takes out of a pipe what was not given.
    pub(crate) fn strip(&self, id: PipeId, pipe: &mut Pipe) {
        pipe.length = pipe.length.filter(|_| self.length(id));
        pipe.slope = pipe.slope.filter(|_| self.slope(id));
    }

    /// Takes out of a graph what was not given.
    pub(crate) fn strip_all(&self, graph: &mut Graph) {
        let nodes: Vec<_> = graph.node_indices().collect();
        for (id, node) in nodes.into_iter().zip(graph.node_weights_mut()) {
            node.elevation = node.elevation.filter(|_| self.height(id));
        }
        let pipes: Vec<_> = graph.edge_indices().collect();
        for (id, pipe) in pipes.into_iter().zip(graph.edge_weights_mut()) {
            self.strip(id, pipe);
        }
    }
}

/// Whose figures deny one another.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Denied {
    /// A pipe's own, or they deny where its ends stand.
    Pipe(PipeId),
    /// The heights of what stands at a node, stated under the first of these keys that it has.
    Node(NodeId, Keys),
}

/// Takes what denies itself: what is wrong, and how to mend it.
pub(crate) type Deny<'d> = dyn FnMut(Denied, String, &'static str) + 'd;

const MEND_HEIGHT: &str = "correct the length, the slope, or a height";
const MEND_ROUND: &str = "correct a length or a slope on one of the two ways between them";
const MEND_PLACE: &str = "correct its direction or length, or another on the way round between the two";

/// Derives all that follows from what is given; gives what is known in plan.
pub(crate) fn derive(
    graph: &mut Graph,
    stated: Plan,
    disposal: NodeId,
    storeys: &[Storey],
    notation: Notation,
    deny: &mut Deny<'_>,
) -> Plan {
    let heights: Vec<bool> = graph
        .node_weights()
        .map(|node| node.elevation.is_some())
        .collect();
    let filled = elevation::settle(graph);
    let mut plan = stated;
    if !plan.is_empty() {
        let mut solver = Solver {
            graph: &mut *graph,
            notation,
            plan,
        };
        solver.solve(disposal);
        solver.check(&mut |pipe, message| deny(Denied::Pipe(pipe), message, MEND_PLACE));
        plan = solver.plan;
    }
    let all = graph.edge_indices();
    let given = |node: NodeId| heights.get(node.index()) == Some(&true);
    let sources = Sources {
        given: &given,
        filled: &filled,
    };
    elevation::check(graph, all, &sources, notation, &mut |pipe, message| {
        deny(Denied::Pipe(pipe), message, MEND_HEIGHT);
    });
    if graph.node_weights().any(|node| node.elevation.is_none()) {
        let offsets = Offsets::All(vec![None; graph.node_bound()]);
        let nodes = graph.node_indices();
        elevation::check_around(graph, nodes, offsets, notation, &mut |pipe, message| {
            deny(Denied::Pipe(pipe), message, MEND_ROUND);
        });
    }
    let levels = Levels {
        graph: &*graph,
        storeys,
        notation,
    };
    levels.check(graph.node_indices(), deny);
    plan
}

/// What is known of a node's height, or of a pipe's length and slope, before it is derived anew.
#[derive(Debug, Default)]
pub(crate) struct Before {
    pub(crate) nodes: Vec<(NodeId, Option<Length>)>,
    pub(crate) pipes: Vec<(PipeId, Option<Length>, Option<Slope>)>,
}

/// Derives anew what may follow from the figures of some pipes and nodes, in a network of which nothing is known in
/// plan: the heights between those given, and what they settle of the pipes there. Heights spread from node to node in
/// the order of [`elevation::settle`], and none through a given one, so that all comes out as if the whole network had
/// been derived. Gives what was before. The heights of what stands at nodes are held to one another in
/// [`Levels::check`].
pub(crate) fn derive_around(
    graph: &mut Graph,
    given: &Given,
    nodes: &[NodeId],
    notation: Notation,
    deny: &mut Deny<'_>,
) -> Before {
    let mut region: HashSet<NodeId> = HashSet::new();
    let mut sources: BTreeSet<NodeId> = BTreeSet::new();
    let mut pipes: BTreeSet<PipeId> = BTreeSet::new();
    let mut open: Vec<NodeId> = Vec::new();
    for &node in nodes {
        pipes.extend(graph.edges_directed(node, Outgoing).map(|edge| edge.id()));
        pipes.extend(graph.edges_directed(node, Incoming).map(|edge| edge.id()));
        if given.height(node) {
            sources.insert(node);
        } else if region.insert(node) {
            open.push(node);
        }
    }
    while let Some(node) = open.pop() {
        for direction in [Outgoing, Incoming] {
            for edge in graph.edges_directed(node, direction) {
                let other = if direction == Outgoing {
                    edge.target()
                } else {
                    edge.source()
                };
                pipes.insert(edge.id());
                if given.height(other) {
                    sources.insert(other);
                } else if region.insert(other) {
                    open.push(other);
                }
            }
        }
    }
    let mut before = Before::default();
    for &node in &region {
        if let Some(weight) = graph.node_weight_mut(node) {
            before.nodes.push((node, weight.elevation.take()));
        }
    }
    before.nodes.sort_unstable_by_key(|(node, _)| *node);
    for &id in &pipes {
        if let Some(pipe) = graph.edge_weight_mut(id) {
            before.pipes.push((id, pipe.length, pipe.slope));
            given.strip(id, pipe);
        }
    }
    let mut waiting: VecDeque<NodeId> = sources.into_iter().collect();
    elevation::spread(graph, &mut waiting, &|node| region.contains(&node));
    let filled = elevation::fill(graph, pipes.iter().copied());
    let stated = |node: NodeId| given.heights.get(node.index()) == Some(&true);
    elevation::check(
        graph,
        pipes.iter().copied(),
        &Sources {
            given: &stated,
            filled: &filled,
        },
        notation,
        &mut |pipe, message| {
            deny(Denied::Pipe(pipe), message, MEND_HEIGHT);
        },
    );
    let nodes = before.nodes.iter().map(|(node, _)| *node);
    let offsets = Offsets::Few(HashMap::new());
    elevation::check_around(graph, nodes, offsets, notation, &mut |pipe, message| {
        deny(Denied::Pipe(pipe), message, MEND_ROUND);
    });
    before
}
