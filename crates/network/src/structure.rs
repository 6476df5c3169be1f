//! What keeps a graph from being a drain-waste-vent network: water that has no one way to go, air that has
//! none, loops, loose ends.

use crownweir_vocabulary::Role;
use petgraph::Direction::{self, Incoming, Outgoing};
use petgraph::graph::DiGraph;
use petgraph::visit::{EdgeFiltered, EdgeIndexable, EdgeRef, IntoEdgeReferences, NodeIndexable};

use crate::model::{Graph, Node, NodeId, NodeKind, Pipe, PipeId, Position, RunId};

/// Which of the nodes and pipes, as they were numbered before, is now in each place.
pub(crate) struct Numbering {
    pub(crate) nodes: Vec<NodeId>,
    pub(crate) pipes: Vec<PipeId>,
}

/// What a problem of the graph is about.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Spot {
    Network,
    Node(NodeId),
}

/// Takes a problem: what it is about, what is wrong, and what would be right.
pub(crate) type Tell<'t> = dyn FnMut(Spot, String, &'static str) + 't;

/// The orders in which the passes over the graph go.
pub(crate) struct Orders {
    pub(crate) disposal: NodeId,
    pub(crate) drains: Vec<NodeId>,
    pub(crate) vents: Vec<NodeId>,
}

impl Orders {
    /// Numbers the nodes the way water and air flow, and the pipes by the nodes that they leave, so that the passes
    /// over the graph read memory from one end to the other. Of a checked graph there is always such a numbering.
    pub(crate) fn renumber(&mut self, graph: Graph) -> Option<(Graph, Numbering)> {
        let mut number = vec![None; graph.node_bound()];
        let mut order = Vec::with_capacity(graph.node_count());
        for list in [&mut self.drains, &mut self.vents] {
            for id in list {
                let place = number.get_mut(id.index())?;
                if place.is_none() {
                    *place = Some(NodeId::new(order.len()));
                    order.push(*id);
                }
                *id = place.unwrap_or(*id);
            }
        }
        let number = |id: NodeId| number.get(id.index()).copied().flatten();
        self.disposal = number(self.disposal)?;
        let pipes: Vec<_> = leaving_each(&graph, &order)
            .into_iter()
            .map(|id| {
                let (from, to) = graph.edge_endpoints(id)?;
                Some((id, number(from)?, number(to)?))
            })
            .collect::<Option<_>>()?;
        let mut renumbered = Graph::with_capacity(graph.node_count(), graph.edge_count());
        let (mut nodes, mut edges) = weights(graph);
        for id in &order {
            renumbered.add_node(nodes.get_mut(id.index())?.take()?);
        }
        for &(id, from, to) in &pipes {
            renumbered.add_edge(from, to, edges.get_mut(id.index())?.take()?);
        }
        let numbering = Numbering {
            nodes: order,
            pipes: pipes.into_iter().map(|(id, _, _)| id).collect(),
        };
        Some((renumbered, numbering))
    }
}

/// What stands at each node and what each pipe is, by number.
fn weights(graph: Graph) -> (Vec<Option<Node>>, Vec<Option<Pipe>>) {
    let (node_bound, edge_bound) = (graph.node_bound(), graph.edge_bound());
    let numbers: (Vec<_>, Vec<_>) = (graph.node_indices().collect(), graph.edge_indices().collect());
    // Without the gaps all stands in the same order.
    let (nodes, edges) = DiGraph::from(graph).into_nodes_edges();
    let mut by_number: (Vec<_>, Vec<_>) = (vec![None; node_bound], vec![None; edge_bound]);
    for (id, node) in numbers.0.into_iter().zip(nodes) {
        if let Some(slot) = by_number.0.get_mut(id.index()) {
            *slot = Some(node.weight);
        }
    }
    for (id, edge) in numbers.1.into_iter().zip(edges) {
        if let Some(slot) = by_number.1.get_mut(id.index()) {
            *slot = Some(edge.weight);
        }
    }
    by_number
}

/// How many pipes of each role enter and leave a node.
#[derive(Default)]
pub(crate) struct Degree {
    drains_in: usize,
    drains_out: usize,
    vents_in: usize,
    vents_out: usize,
}

impl Degree {
    pub(crate) fn of(graph: &Graph, id: NodeId) -> Self {
        let count = |direction, role| {
            graph
                .edges_directed(id, direction)
                .filter(|edge| edge.weight().role == role)
                .count()
        };
        Self {
            drains_in: count(Incoming, Role::Drain),
            drains_out: count(Outgoing, Role::Drain),
            vents_in: count(Incoming, Role::Vent),
            vents_out: count(Outgoing, Role::Vent),
        }
    }
}

pub(crate) fn check(graph: &Graph, ends_in_sump: bool, tell: &mut Tell<'_>) -> Option<Orders> {
    let mut disposal: Option<NodeId> = None;
    for id in graph.node_indices() {
        let Some(node) = graph.node_weight(id) else {
            continue;
        };
        if matches!(node.kind, NodeKind::Disposal) {
            if let Some(first) = disposal.and_then(|id| graph.node_weight(id)) {
                let message = format!("a second outlet, `{}`, beside `{}`", node.name, first.name);
                tell(Spot::Node(id), message, "one point of disposal for the network");
            }
            disposal = Some(disposal.unwrap_or(id));
        }
        if let Some((message, expected)) = fault(node, &Degree::of(graph, id), ends_in_sump) {
            tell(Spot::Node(id), message, expected);
        }
    }
    if disposal.is_none() {
        tell(
            Spot::Network,
            "the network has no point of disposal".to_owned(),
            "a step `disposal: {name: ...}` at the end of the building drain or sewer",
        );
    }
    let drains = order(graph, Role::Drain, tell);
    let vents = order(graph, Role::Vent, tell);
    Some(Orders {
        disposal: disposal?,
        drains: drains?,
        vents: vents?,
    })
}

/// Most pipes that meet at one node: no fitting has nearly so many openings, and what is told of a node by comparing its pipes
/// with each other stays quick.
const MOST_PIPES_AT_A_NODE: usize = 100;

/// What is wrong at a node by the pipes that meet there, and what would be right.
pub(crate) fn fault(node: &Node, degree: &Degree, ends_in_sump: bool) -> Option<(String, &'static str)> {
    let name = &node.name;
    let word = node.kind.word();
    let Degree {
        drains_in,
        drains_out,
        vents_in,
        vents_out,
    } = *degree;
    let pipes = drains_in + drains_out + vents_in + vents_out;
    // A network may begin with its point of disposal alone. What else there is leads to it, or is told of itself.
    if pipes == 0 && !matches!(node.kind, NodeKind::Disposal) {
        return Some((
            format!("nothing is connected to the {word} `{name}`"),
            "a path that passes it",
        ));
    }
    if pipes > MOST_PIPES_AT_A_NODE {
        return Some((
            format!("{pipes} pipes meet at the {word} `{name}`; at most {MOST_PIPES_AT_A_NODE} may"),
            "a fitting for each joint",
        ));
    }
    match node.kind {
        NodeKind::Fixture(_) if drains_in + vents_in > 0 => {
            return Some((
                format!("a pipe leads into the fixture `{name}`"),
                "pipes that lead away from it: a run of drains is written the way water goes, from the fixture on",
            ));
        }
        NodeKind::Terminal(_) | NodeKind::Valve(_) if drains_in + drains_out > 0 => {
            return Some((
                format!("a drain is connected to the {word} `{name}`"),
                "vents only: what leads to it is a run of its own under `vents`, from `at` the fitting where it leaves the drain",
            ));
        }
        NodeKind::Terminal(_) | NodeKind::Valve(_) if vents_out > 0 => {
            return Some((
                format!("a vent leaves the {word} `{name}`"),
                "vents written from the drain toward the open air",
            ));
        }
        NodeKind::Terminal(_) | NodeKind::Valve(_) => return None,
        // Air rises from the top of a sump.
        NodeKind::Disposal if ends_in_sump && drains_out + vents_in == 0 && vents_out == 1 => return None,
        NodeKind::Disposal if drains_out + vents_in + vents_out > 0 => {
            return Some((
                format!("a pipe leaves the point of disposal `{name}`, or a vent joins it"),
                "drains that lead to it",
            ));
        }
        NodeKind::Disposal => return None,
        _ => {}
    }
    if drains_in + drains_out > 0 {
        return match drains_out {
            0 => Some((
                format!("the drain ends in nothing at `{name}`"),
                "a pipe that leads on toward the point of disposal",
            )),
            // The foot of a loop: its vent goes on, and a drain that nothing else enters leads its water back.
            1 if vents_in > 0 && vents_out == 1 && drains_in == 0 => None,
            1 if vents_in > 0 => Some((
                format!("a vent leads into the drain at `{name}`"),
                "vents written from the drain toward the open air",
            )),
            1 => None,
            _ => Some((
                format!("two drains leave `{name}`: water cannot choose between them"),
                "one pipe that leads on; what joins here is written from its fixture to `at` this node, and a vent that leaves here under `vents`, from `at` this node",
            )),
        };
    }
    match vents_out {
        0 => Some((
            format!("the vent ends in nothing at `{name}`"),
            "a pipe that leads on to a terminal, a valve or another vent",
        )),
        1 if vents_in == 0 => Some((
            format!("the vent at `{name}` comes from no drain"),
            "`at: NAME` of a drain's fitting",
        )),
        1 => None,
        _ => Some((
            format!("the vent divides at `{name}`"),
            "one pipe that leads on toward the open air",
        )),
    }
}

/// Where a pipe stands in the file: its run first, then its place in the run, by name where a run is written once for
/// several storeys.
fn pipe_in_file(pipe: &Pipe) -> (RunId, u32, u32, &str) {
    (pipe.run, pipe.position.line, pipe.position.column, &pipe.name)
}

/// Where a node stands in the file: in the run that goes on from it, of a drain before that of a vent.
fn node_in_file(graph: &Graph, id: NodeId) -> Option<(RunId, Position, Option<u32>, &str)> {
    let node = graph.node_weight(id)?;
    let runs = graph
        .edges(id)
        .map(|edge| (edge.weight().role == Role::Vent, edge.weight().run));
    let run = runs.min().map_or(RunId::new(u32::MAX), |(_, run)| run);
    Some((run, node.position, node.storey, &node.name))
}

/// The pipes that lead to a node or away from it, as they stand in the file.
pub(crate) fn pipes_at(
    graph: &Graph,
    id: NodeId,
    direction: Direction,
) -> impl DoubleEndedIterator<Item = PipeId> {
    let mut edges = graph.edges_directed(id, direction);
    let (first, second) = (edges.next(), edges.next());
    // Few nodes have more than one.
    let mut several: Vec<_> = match second {
        Some(_) => first.into_iter().chain(second).chain(edges).collect(),
        None => Vec::new(),
    };
    several.sort_by(|one, other| pipe_in_file(one.weight()).cmp(&pipe_in_file(other.weight())));
    let one = first.filter(|_| second.is_none());
    one.into_iter().chain(several).map(|edge| edge.id())
}

/// The pipes that leave a node, the last of the file first.
fn leaving(graph: &Graph, id: NodeId) -> impl Iterator<Item = PipeId> {
    pipes_at(graph, id, Outgoing).rev()
}

/// The pipes that leave some nodes, node by node.
pub(crate) fn leaving_each(graph: &Graph, nodes: &[NodeId]) -> Vec<PipeId> {
    nodes.iter().flat_map(|&id| leaving(graph, id)).collect()
}

/// Whether a node stands at the end of all drains, be there any or not.
pub(crate) fn ends_drains(graph: &Graph, id: NodeId, role: Role) -> bool {
    let node = graph.node_weight(id);
    role == Role::Drain && node.is_some_and(|node| matches!(node.kind, NodeKind::Disposal))
}

/// The nodes that pipes of `role` touch, and with drains the point of disposal, upstream first; a loop is reported by the names on it.
///
/// A node follows the last of those above it as closely as can be, so that the passes over the graph find what they
/// have just written still in the processor's cache; petgraph's own order puts all branches before all stacks. How the
/// nodes are numbered so far does not matter, only where they stand in the file.
fn order(graph: &Graph, role: Role, tell: &mut Tell<'_>) -> Option<Vec<NodeId>> {
    let ordered = sorted(graph, role);
    if ordered.is_none() {
        report_loop(graph, role, tell);
    }
    ordered
}

/// The same; none where there is a loop.
pub(crate) fn sorted(graph: &Graph, role: Role) -> Option<Vec<NodeId>> {
    let mut waiting = vec![0_u32; graph.node_bound()];
    let mut touched = vec![false; graph.node_bound()];
    for edge in graph.edge_references().filter(|edge| edge.weight().role == role) {
        waiting[edge.target().index()] += 1;
        touched[edge.source().index()] = true;
        touched[edge.target().index()] = true;
    }
    let mut ready: Vec<NodeId> = graph
        .node_indices()
        .filter(|&id| touched[id.index()] || ends_drains(graph, id, role))
        .filter(|id| waiting[id.index()] == 0)
        .collect();
    // They come in this order already when a file has just been read, and then nothing is moved.
    ready.sort_by(|one, other| node_in_file(graph, *one).cmp(&node_in_file(graph, *other)));
    let mut ordered = Vec::new();
    while let Some(id) = ready.pop() {
        ordered.push(id);
        for edge in leaving(graph, id) {
            let target = match (graph.edge_weight(edge), graph.edge_endpoints(edge)) {
                (Some(pipe), Some((_, target))) if pipe.role == role => target,
                _ => continue,
            };
            let below = &mut waiting[target.index()];
            *below -= 1;
            if *below == 0 {
                ready.push(target);
            }
        }
    }
    waiting.iter().all(|&waiting| waiting == 0).then_some(ordered)
}

fn report_loop(graph: &Graph, role: Role, tell: &mut Tell<'_>) {
    let of_role = EdgeFiltered::from_fn(graph, |edge| edge.weight().role == role);
    let Err(cycle) = petgraph::algo::toposort(&of_role, None) else {
        return;
    };
    let mut names = Vec::new();
    for group in petgraph::algo::kosaraju_scc(&of_role) {
        if group.contains(&cycle.node_id()) {
            names = group
                .iter()
                .filter_map(|&id| graph.node_weight(id))
                .map(|node| format!("`{}`", node.name))
                .collect();
        }
    }
    names.sort();
    let more = names.len().saturating_sub(8);
    names.truncate(8);
    if more > 0 {
        names.push(format!("{more} more"));
    }
    tell(
        Spot::Node(cycle.node_id()),
        format!("these {role}s lead round in a loop: {}", names.join(", ")),
        "every path to end, a drain at the point of disposal, a vent in open air",
    );
}
