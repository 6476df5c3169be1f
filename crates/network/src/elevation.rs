//! Heights, lengths and slopes that geometry alone settles, and figures that contradict each other.

use std::collections::{HashMap, HashSet, VecDeque};

use crownweir_quantity::{Length, Notation, Slope};
use crownweir_vocabulary::Role;
use petgraph::Direction;
use petgraph::visit::EdgeRef;

use crate::model::{Graph, Node, NodeId, Pipe, PipeId};

/// Stated figures are rounded by whoever writes them; only a difference larger than this contradicts (6.35 mm).
pub(crate) const ROUNDING_ALLOWANCE: Length = Length::from_nanometres(6_350_000);

/// Whether two figures for the same thing are further apart than rounding explains.
pub(crate) fn differ(one: Length, other: Length) -> bool {
    let apart = one.nanometres().abs_diff(other.nanometres());
    apart > ROUNDING_ALLOWANCE.nanometres().unsigned_abs()
}

/// Length and slope of a straight pipe between two points. The slope of a pipe that is not vertical is its
/// fall (a vent's rise) over its length, as the trade measures it.
pub(crate) fn measure(from: [Length; 3], to: [Length; 3], role: Role) -> Option<(Length, Slope)> {
    let along = |axis: usize| to[axis].nanometres().checked_sub(from[axis].nanometres());
    let (x, y, z) = (along(0)?, along(1)?, along(2)?);
    // Floating point enters here alone: a square root of whole nanometres, rounded to the nanometre.
    let length = ((x as f64).powi(2) + (y as f64).powi(2) + (z as f64).powi(2))
        .sqrt()
        .round();
    if !(length > 0.0 && length < 1e18) {
        return None;
    }
    let length = Length::from_nanometres(length as i64);
    let fall = match role {
        Role::Vent => z,
        _ => z.checked_neg()?,
    };
    Slope::from_fall(Length::from_nanometres(fall), length).map(|slope| (length, slope))
}

/// The slope of a pipe of a length whose ends lie at these heights.
pub(crate) fn between(start: Length, end: Length, length: Length, role: Role) -> Option<Slope> {
    let fall = match role {
        Role::Vent => end.checked_sub(start),
        _ => start.checked_sub(end),
    };
    Slope::from_fall(fall?, length)
}

/// How far apart heights may lie that are the same: each pipe by which one is reckoned rounds it to the nanometre.
const PLAY: i64 = 16;

/// The slope of a pipe whose ends lie so far apart by heights that may have been reckoned: the simplest that it can be.
pub(crate) fn by_heights(fall: Length, length: Length) -> Option<Slope> {
    let exact = Slope::from_fall(fall, length)?;
    if exact.is_vertical() {
        return Some(exact);
    }
    let (most, run) = (
        i128::from(fall.nanometres()).abs(),
        i128::from(length.nanometres()),
    );
    let play = i128::from(PLAY);
    if most <= play {
        return Some(Slope::LEVEL);
    }
    let (rise, run) = simplest((most - play, run), (most + play, run));
    let rise = i64::try_from(rise * i128::from(fall.nanometres().signum())).ok()?;
    Slope::new(rise, i64::try_from(run).ok()?)
}

/// The ratio with the least terms from one ratio above nothing to another above it.
fn simplest(least: (i128, i128), most: (i128, i128)) -> (i128, i128) {
    let whole = least.0.checked_div(least.1).unwrap_or(0);
    if whole * least.1 == least.0 {
        return (whole, 1);
    }
    if (whole + 1) * most.1 <= most.0 {
        return (whole + 1, 1);
    }
    let (rest, above) = (
        (least.0 - whole * least.1, least.1),
        (most.0 - whole * most.1, most.1),
    );
    let (run, rise) = simplest((above.1, above.0), (rest.1, rest.0));
    (whole * run + rise, run)
}

/// Whether a pipe goes up: a vent does, save a plumb one by which a loop comes down to its foot, or which comes down by the
/// heights of its ends.
pub(crate) fn goes_up(graph: &Graph, edge: PipeId) -> bool {
    let Some((pipe, (_, to))) = graph.edge_weight(edge).zip(graph.edge_endpoints(edge)) else {
        return false;
    };
    let plumb = pipe.slope.is_some_and(Slope::is_vertical);
    let to_foot = || graph.edges(to).any(|next| next.weight().role == Role::Drain);
    pipe.role == Role::Vent && !(plumb && (to_foot() || comes_down(graph, edge, pipe)))
}

/// Whether a pipe ends lower than it begins, by heights that its own length, where it is known, does not deny.
fn comes_down(graph: &Graph, edge: PipeId, pipe: &Pipe) -> bool {
    let fall = apart(graph, edge).and_then(|apart| Length::ZERO.checked_sub(apart));
    let fall = fall.filter(|&fall| fall > Length::ZERO && differ(fall, Length::ZERO));
    fall.is_some_and(|fall| pipe.length.is_none_or(|length| !differ(length, fall)))
}

/// The height of a pipe's end above its start.
pub(crate) fn rise(graph: &Graph, edge: PipeId) -> Option<Length> {
    let pipe = graph.edge_weight(edge)?;
    let by = pipe.slope?.fall_over(pipe.length?)?;
    if goes_up(graph, edge) {
        Some(by)
    } else {
        Length::ZERO.checked_sub(by)
    }
}

/// Carries stated heights along pipes of known length and slope, and fills in what two known heights settle. Gives the pipes
/// in which something was filled in.
pub(crate) fn settle(graph: &mut Graph) -> Vec<PipeId> {
    let mut waiting: VecDeque<_> = graph
        .node_indices()
        .filter(|&id| graph.node_weight(id).is_some_and(|node| node.elevation.is_some()))
        .collect();
    spread(graph, &mut waiting, &|_| true);
    let all: Vec<PipeId> = graph.edge_indices().collect();
    fill(graph, all.into_iter())
}

/// Carries the heights of the nodes that wait along pipes of known length and slope, to those of unknown height that
/// are `within`.
pub(crate) fn spread(graph: &mut Graph, waiting: &mut VecDeque<NodeId>, within: &dyn Fn(NodeId) -> bool) {
    while let Some(id) = waiting.pop_front() {
        let Some(height) = graph.node_weight(id).and_then(|node| node.elevation) else {
            continue;
        };
        for direction in [Direction::Outgoing, Direction::Incoming] {
            let mut pipes = graph.neighbors_directed(id, direction).detach();
            while let Some((edge, other)) = pipes.next(graph) {
                let rise = rise(graph, edge);
                let reached = match direction {
                    Direction::Outgoing => rise.and_then(|rise| height.checked_add(rise)),
                    Direction::Incoming => rise.and_then(|rise| height.checked_sub(rise)),
                };
                if let Some(node) = graph.node_weight_mut(other)
                    && node.elevation.is_none()
                    && reached.is_some()
                    && within(other)
                {
                    node.elevation = reached;
                    waiting.push_back(other);
                }
            }
        }
    }
}

/// Fills in the lengths and slopes of some pipes, in ascending order, that the heights of their ends settle; gives those in
/// which it did, likewise.
pub(crate) fn fill(graph: &mut Graph, pipes: impl Iterator<Item = PipeId>) -> Vec<PipeId> {
    let mut filled = Vec::new();
    for edge in pipes {
        let Some(apart) = apart(graph, edge) else {
            continue;
        };
        let upward = goes_up(graph, edge);
        let Some(pipe) = graph.edge_weight_mut(edge) else {
            continue;
        };
        let fall = if upward {
            Some(apart)
        } else {
            Length::ZERO.checked_sub(apart)
        };
        match (pipe.slope, pipe.length, fall) {
            (Some(slope), None, Some(fall)) if slope.is_vertical() && fall > Length::ZERO => {
                pipe.length = Some(fall);
                filled.push(edge);
            }
            (None, Some(length), Some(fall)) => {
                pipe.slope = by_heights(fall, length);
                filled.push(edge);
            }
            _ => {}
        }
    }
    filled
}

/// How far the end of a pipe stands above its start, by the heights of the two.
pub(crate) fn apart(graph: &Graph, edge: PipeId) -> Option<Length> {
    let (from, to) = graph.edge_endpoints(edge)?;
    let height = |id| graph.node_weight(id).and_then(|node: &Node| node.elevation);
    height(to)?.checked_sub(height(from)?)
}

/// Of how many denied pipes it is told whose heights deny them, and among how many nodes these are looked for.
const MOST_TRACED: usize = 50;
const MOST_NODES_TRACED: usize = 1000;

/// Where heights come from: which nodes are given one, and in which pipes, in ascending order, something was filled in by
/// those of their ends, so that they carry none.
pub(crate) struct Sources<'s> {
    pub(crate) given: &'s dyn Fn(NodeId) -> bool,
    pub(crate) filled: &'s [PipeId],
}

/// Tells of those of some pipes whose own figures deny the heights of their ends.
pub(crate) fn check(
    graph: &Graph,
    pipes: impl Iterator<Item = PipeId>,
    sources: &Sources<'_>,
    notation: Notation,
    deny: &mut dyn FnMut(PipeId, String),
) {
    let mut traced = 0;
    let mut by_heights_of = |ends| {
        traced += 1;
        if traced > MOST_TRACED {
            return String::new();
        }
        by_heights_of(graph, ends, sources)
    };
    for edge in pipes {
        let (Some(apart), Some(pipe), Some((from, to))) = (
            apart(graph, edge),
            graph.edge_weight(edge),
            graph.edge_endpoints(edge),
        ) else {
            continue;
        };
        if let Some(stated) = rise(graph, edge)
            && differ(stated, apart)
        {
            let denied = denied(graph, (edge, pipe), (from, to), (stated, apart), notation);
            deny(edge, denied + &by_heights_of([from, to]));
        } else if leads_back(pipe, apart) {
            let slope = pipe.slope.filter(|slope| slope.is_vertical());
            let as_stated = slope.map_or("by its slope", |_| "plumb");
            let way = if pipe.role == Role::Vent { "up" } else { "down" };
            let stands = stands(graph, (from, to), apart, notation);
            let denied = format!("`{}` leads {way} {as_stated}, but {stands}", pipe.name);
            deny(edge, denied + &by_heights_of([from, to]));
        }
    }
}

/// Whether the heights of a pipe's ends deny the way that its slope leads, where its length is not stated. A vent may come
/// down again on its way; but a plumb one whose ends stand level, or nearly so, would have no length.
fn leads_back(pipe: &Pipe, apart: Length) -> bool {
    let Some(slope) = pipe.slope.filter(|_| pipe.length.is_none()) else {
        return false;
    };
    if pipe.role != Role::Drain {
        return slope.is_vertical() && apart <= Length::ZERO && !differ(apart, Length::ZERO);
    }
    let back = apart > Length::ZERO;
    match slope.is_vertical() {
        true => back || apart == Length::ZERO,
        false => slope.rise() > 0 && back && differ(apart, Length::ZERO),
    }
}

/// By whose given heights two nodes stand as they do, if by those of others than themselves.
fn by_heights_of(graph: &Graph, ends: [NodeId; 2], sources: &Sources<'_>) -> String {
    let sources = ends.map(|end| source(graph, end, sources));
    let [Some(one), Some(other)] = sources.map(|source| source.and_then(|id| graph.node_weight(id))) else {
        return String::new();
    };
    if sources == ends.map(Some) || one.name == other.name {
        return String::new();
    }
    format!(", by the heights of `{}` and `{}`", one.name, other.name)
}

/// The nearest node of given height from which the height of another is reckoned along pipes.
fn source(graph: &Graph, of: NodeId, sources: &Sources<'_>) -> Option<NodeId> {
    let mut seen = HashSet::from([of]);
    let mut waiting = VecDeque::from([of]);
    while let Some(id) = waiting.pop_front() {
        if (sources.given)(id) {
            return Some(id);
        }
        let edges = graph.edges_directed(id, Direction::Outgoing);
        for edge in edges.chain(graph.edges_directed(id, Direction::Incoming)) {
            let agrees = rise(graph, edge.id()).zip(apart(graph, edge.id()));
            let other = if edge.source() == id {
                edge.target()
            } else {
                edge.source()
            };
            let carries = sources.filled.binary_search(&edge.id()).is_err();
            if carries
                && agrees.is_some_and(|(rise, apart)| !differ(rise, apart))
                && seen.len() < MOST_NODES_TRACED
                && seen.insert(other)
            {
                waiting.push_back(other);
            }
        }
    }
    None
}

/// What is to be said of a pipe whose own rise is not that of its end above its start.
fn denied(
    graph: &Graph,
    (edge, pipe): (PipeId, &Pipe),
    (from, to): (NodeId, NodeId),
    (stated, apart): (Length, Length),
    notation: Notation,
) -> String {
    let verb = if goes_up(graph, edge) { "rises" } else { "falls" };
    format!(
        "`{}` {verb} {} by its length and slope, but {}",
        pipe.name,
        magnitude(stated, notation),
        stands(graph, (from, to), apart, notation),
    )
}

/// Where the end of a pipe stands by its start.
fn stands(graph: &Graph, (from, to): (NodeId, NodeId), apart: Length, notation: Notation) -> String {
    let name = |id| graph.node_weight(id).map_or("", |node: &Node| &*node.name);
    let (from, to) = (name(from), name(to));
    if apart == Length::ZERO {
        return format!("`{to}` stands level with `{from}`");
    }
    let side = if apart > Length::ZERO { "above" } else { "below" };
    format!("`{to}` stands {} {side} `{from}`", magnitude(apart, notation))
}

pub(crate) fn magnitude(length: Length, notation: Notation) -> impl std::fmt::Display {
    Length::from_nanometres(length.nanometres().saturating_abs()).in_notation(notation)
}

/// Heights of nodes above one of those that they are joined to by pipes of known length and slope.
pub(crate) enum Offsets {
    /// By node, of a whole network.
    All(Vec<Option<Length>>),
    /// Of some nodes.
    Few(HashMap<NodeId, Length>),
}

impl Offsets {
    fn get(&self, node: NodeId) -> Option<Length> {
        match self {
            Self::All(all) => all.get(node.index()).copied().flatten(),
            Self::Few(few) => few.get(&node).copied(),
        }
    }

    fn set(&mut self, node: NodeId, offset: Length) {
        match self {
            Self::All(all) => {
                if let Some(slot) = all.get_mut(node.index()) {
                    *slot = Some(offset);
                }
            }
            Self::Few(few) => {
                few.insert(node, offset);
            }
        }
    }
}

/// Tells of pipes that close a way round on which no height is known, and whose own figures deny those of the rest of
/// it. Of all such pipes at some nodes.
pub(crate) fn check_around(
    graph: &Graph,
    nodes: impl Iterator<Item = NodeId>,
    mut offsets: Offsets,
    notation: Notation,
    deny: &mut dyn FnMut(PipeId, String),
) {
    let mut told = Vec::new();
    let mut waiting = VecDeque::new();
    for first in nodes {
        let is_known = graph
            .node_weight(first)
            .is_none_or(|node| node.elevation.is_some());
        if is_known || offsets.get(first).is_some() {
            continue;
        }
        offsets.set(first, Length::ZERO);
        waiting.push_back(first);
        while let Some(id) = waiting.pop_front() {
            let Some(own) = offsets.get(id) else { continue };
            for (direction, edges) in [
                (Direction::Outgoing, graph.edges_directed(id, Direction::Outgoing)),
                (Direction::Incoming, graph.edges_directed(id, Direction::Incoming)),
            ] {
                for edge in edges {
                    let Some(rise) = rise(graph, edge.id()) else {
                        continue;
                    };
                    let (other, reached) = match direction {
                        Direction::Outgoing => (edge.target(), own.checked_add(rise)),
                        Direction::Incoming => (edge.source(), own.checked_sub(rise)),
                    };
                    match (offsets.get(other), reached) {
                        (None, Some(reached)) => {
                            offsets.set(other, reached);
                            waiting.push_back(other);
                        }
                        // Each pipe is met from both its ends.
                        (Some(there), _) if direction == Direction::Outgoing => {
                            if let Some(apart) = there.checked_sub(own)
                                && differ(rise, apart)
                            {
                                told.push((edge.id(), rise, apart));
                            }
                        }
                        _ => {}
                    }
                }
            }
        }
    }
    told.sort_unstable_by_key(|(edge, ..)| *edge);
    for (edge, rise, apart) in told {
        if let Some((pipe, ends)) = graph.edge_weight(edge).zip(graph.edge_endpoints(edge)) {
            let denied = denied(graph, (edge, pipe), ends, (rise, apart), notation);
            deny(edge, format!("{denied} by the other way round"));
        }
    }
}
