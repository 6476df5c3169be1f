//! The runs as paths from node to node, and which of them defines each node.
//!
//! The order is that of the file, as far as a network was read from one: what is read from text that was written comes in
//! the same order again.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use crownweir_vocabulary::{Inlet, Role};
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::{EdgeIndexable, EdgeRef, IntoEdgeReferences, NodeIndexable};

use crate::model::{Graph, Network, NodeId, Pipe, PipeId, RunId};

/// The runs in the order in which they are written.
pub(super) struct Paths {
    pub(super) runs: Vec<RunPaths>,
    /// Of each node, by number, the run that defines it.
    definers: Vec<RunId>,
    /// Of each pipe, by number, whether it states by which opening it enters its fitting.
    enters: Vec<bool>,
}

/// The place in the file of what a path begins with; where that stands for several storeys, its storey and name too.
type Start = (u32, u32, Option<u32>, Arc<str>);

/// The paths of one run.
pub(super) struct RunPaths {
    pub(super) run: RunId,
    pub(super) role: Role,
    /// Each leads on from pipe to pipe.
    pub(super) paths: Vec<Vec<PipeId>>,
}

impl Paths {
    pub(super) fn of(network: &Network) -> Self {
        let graph = &network.graph;
        let pipes = in_file(graph);
        let next = next_of_each(graph, &pipes);
        let mut leads_on = vec![false; graph.edge_bound()];
        for pipe in next.iter().flatten() {
            set(&mut leads_on, pipe.index(), true);
        }
        let mut runs: Vec<RunPaths> = Vec::new();
        for &first in &pipes {
            if get(&leads_on, first.index()) {
                continue;
            }
            let Some(pipe) = graph.edge_weight(first) else {
                continue;
            };
            let mut path = vec![first];
            let mut last = first;
            while let Some(pipe) = next.get(last.index()).copied().flatten() {
                path.push(pipe);
                last = pipe;
            }
            match runs.last_mut() {
                Some(run) if run.run == pipe.run => run.paths.push(path),
                _ => runs.push(RunPaths {
                    run: pipe.run,
                    role: pipe.role,
                    paths: vec![path],
                }),
            }
        }
        let mut own = Self {
            runs: Vec::new(),
            definers: vec![RunId::default(); graph.node_bound()],
            enters: vec![false; graph.edge_bound()],
        };
        for node in graph.node_indices() {
            let definer = definer(graph, node);
            set(&mut own.definers, node.index(), definer);
            for edge in graph.edges_directed(node, Incoming) {
                let pipe = edge.weight();
                let straight = if pipe.run == definer {
                    Inlet::Run
                } else {
                    Inlet::Branch
                };
                let states = pipe.enters_stated || pipe.enters != straight;
                set(&mut own.enters, edge.id().index(), states);
            }
        }
        // By where they set out, which is by what the orders of flow go.
        for run in &mut runs {
            run.paths
                .sort_by_cached_key(|path| own.sets_out(graph, run.run, path));
        }
        own.runs = runs;
        own
    }

    /// Where a path sets out: at a node that its run defines, or else with its first pipe.
    fn sets_out(&self, graph: &Graph, run: RunId, path: &[PipeId]) -> Option<Start> {
        let first = *path.first()?;
        let (from, _) = graph.edge_endpoints(first)?;
        let node = graph.node_weight(from)?;
        let (place, name) = if self.defines(run, from) {
            (node.position, &node.name)
        } else {
            let pipe = graph.edge_weight(first)?;
            (pipe.position, &pipe.name)
        };
        Some((place.line, place.column, node.storey, Arc::clone(name)))
    }

    /// Whether a run defines a node.
    pub(super) fn defines(&self, run: RunId, node: NodeId) -> bool {
        self.definers.get(node.index()) == Some(&run)
    }

    pub(super) fn states_enters(&self, pipe: PipeId) -> bool {
        get(&self.enters, pipe.index())
    }

    /// All pipes in the order in which they are written.
    pub(super) fn pipes(&self) -> impl Iterator<Item = PipeId> {
        let paths = self.runs.iter().flat_map(|run| &run.paths);
        paths.flatten().copied()
    }

    /// The nodes that a run defines on one of its paths, each where it is met; `defined` tells those that are already
    /// defined, by number.
    pub(super) fn nodes_of(
        &self,
        graph: &Graph,
        run: RunId,
        path: &[PipeId],
        defined: &mut [bool],
    ) -> Vec<NodeId> {
        let mut nodes = Vec::new();
        for (index, &pipe) in path.iter().enumerate() {
            let Some((from, to)) = graph.edge_endpoints(pipe) else {
                continue;
            };
            for node in [from, to].into_iter().skip(usize::from(index > 0)) {
                if self.defines(run, node) && !get(defined, node.index()) {
                    set(defined, node.index(), true);
                    nodes.push(node);
                }
            }
        }
        nodes
    }
}

/// All pipes: drains before vents, run by run, and in each as they stand in the file.
fn in_file(graph: &Graph) -> Vec<PipeId> {
    let mut pipes: Vec<_> = graph.edge_references().collect();
    pipes.sort_by_cached_key(|edge| {
        let pipe: &Pipe = edge.weight();
        let storey = graph.node_weight(edge.source()).and_then(|node| node.storey);
        let place = (pipe.position.line, pipe.position.column, storey);
        (pipe.role == Role::Vent, pipe.run, place, Arc::clone(&pipe.name))
    });
    pipes.into_iter().map(|edge| edge.id()).collect()
}

/// Of each pipe, by number, the one of its run that goes on from it: where several lead to a node, from the last of them
/// that stands before it in the file.
fn next_of_each(graph: &Graph, pipes: &[PipeId]) -> Vec<Option<PipeId>> {
    let mut entering: HashMap<(NodeId, RunId), Vec<usize>> = HashMap::new();
    for (rank, &id) in pipes.iter().enumerate() {
        if let Some((pipe, (_, to))) = graph.edge_weight(id).zip(graph.edge_endpoints(id)) {
            entering.entry((to, pipe.run)).or_default().push(rank);
        }
    }
    let mut next = vec![None; graph.edge_bound()];
    for (rank, &id) in pipes.iter().enumerate() {
        let Some((pipe, (from, _))) = graph.edge_weight(id).zip(graph.edge_endpoints(id)) else {
            continue;
        };
        let Some(entering) = entering.get(&(from, pipe.run)) else {
            continue;
        };
        let before = entering.partition_point(|&other| other < rank);
        let before = entering.get(before.saturating_sub(1));
        let before = before.and_then(|&rank| pipes.get(rank));
        if let Some(slot) = before.and_then(|before| next.get_mut(before.index()))
            && slot.is_none()
        {
            *slot = Some(id);
        }
    }
    next
}

/// The run that defines a node, so that pipes of which nothing is stated enter it by the opening that they do: straight
/// through those of the run that defines it, by the branch all others.
fn definer(graph: &Graph, node: NodeId) -> RunId {
    let entering = || {
        let edges = graph.edges_directed(node, Incoming).map(|edge| edge.weight());
        edges.filter(|pipe| !pipe.enters_stated)
    };
    let straight = entering().filter(|pipe| pipe.enters == Inlet::Run);
    if let Some(run) = straight.map(|pipe| pipe.run).min() {
        return run;
    }
    let by_branch: HashSet<RunId> = entering().map(|pipe| pipe.run).collect();
    // The drain that leaves it, then drains before vents.
    let leaving = graph
        .edges_directed(node, Outgoing)
        .map(|edge| (false, edge.weight()));
    let entering = graph
        .edges_directed(node, Incoming)
        .map(|edge| (true, edge.weight()));
    let order = leaving
        .chain(entering)
        .map(|(enters, pipe)| (pipe.role == Role::Vent, enters, pipe.run));
    let first = order.clone().filter(|(_, _, run)| !by_branch.contains(run)).min();
    let (_, _, run) = first.or_else(|| order.min()).unwrap_or_default();
    run
}

pub(super) fn get(list: &[bool], at: usize) -> bool {
    list.get(at).copied().unwrap_or(false)
}

pub(super) fn set<T>(list: &mut [T], at: usize, to: T) {
    if let Some(slot) = list.get_mut(at) {
        *slot = to;
    }
}
