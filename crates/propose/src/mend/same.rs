//! Which remedies come to the same.

use std::sync::Arc;

use crownweir_network::{Network, Node, NodeKind, Passage, Pipe, PipeId, Position, Test};
use crownweir_quantity::Length;

/// Whether a plumber builds the same after either of two remedies: the same pieces, of the same sizes, at the same
/// places, tested alike. Two things make no difference to that:
///
/// - how the file says it: where it stands there, by how many changes it came about, whether a pipe states a size or
///   has it from its run;
/// - how much room is kept free before a cleanout: what the rules ask is the least there has to be, more is never
///   wrong, and it is no other piece. The remedy that is found first asks for the least.
pub(super) fn is_same(one: &Network, other: &Network) -> bool {
    pieces(one) == pieces(other)
        && pipes(one) == pipes(other)
        && tests(one) == tests(other)
        && passages(one) == passages(other)
}

/// The nodes with their places in plan, by their names.
fn pieces(network: &Network) -> Vec<(Node, [Option<Length>; 2])> {
    let graph = network.graph();
    let mut pieces: Vec<_> = graph
        .node_indices()
        .filter_map(|id| {
            let mut node = graph.node_weight(id)?.clone();
            node.position = Position::default();
            if let NodeKind::Cleanout(cleanout) = &mut node.kind {
                cleanout.clearance = None;
            }
            Some((node, network.place_in_plan(id)))
        })
        .collect();
    pieces.sort_by(|(one, _), (other, _)| one.name.cmp(&other.name));
    pieces
}

/// The pipes with the names of their ends, by their own names.
fn pipes(network: &Network) -> Vec<(Pipe, [Arc<str>; 2])> {
    let graph = network.graph();
    let mut pipes: Vec<_> = graph
        .edge_indices()
        .filter_map(|id| {
            let (from, to) = graph.edge_endpoints(id)?;
            let mut pipe = graph.edge_weight(id)?.clone();
            pipe.position = Position::default();
            let name = |end| graph.node_weight(end).map(|node: &Node| Arc::clone(&node.name));
            Some((pipe, [name(from)?, name(to)?]))
        })
        .collect();
    pipes.sort_by(|(one, _), (other, _)| one.name.cmp(&other.name));
    pipes
}

fn tests(network: &Network) -> Vec<Test> {
    let tests = network.tests().iter().cloned();
    tests
        .map(|test| Test {
            position: Position::default(),
            ..test
        })
        .collect()
}

/// The framing that is passed, with the names of the pipes in place of their numbers.
fn passages(network: &Network) -> Vec<(Arc<str>, Passage)> {
    let graph = network.graph();
    let mut passages: Vec<_> = network
        .passages()
        .iter()
        .filter_map(|passage| {
            let pipe = Arc::clone(&graph.edge_weight(passage.pipe)?.name);
            let mut passage = passage.clone();
            passage.pipe = PipeId::end();
            passage.position = Position::default();
            Some((pipe, passage))
        })
        .collect();
    passages.sort_by(|(one, own), (other, its)| {
        one.cmp(other)
            .then_with(|| (own.members, own.number).cmp(&(its.members, its.number)))
    });
    passages
}
