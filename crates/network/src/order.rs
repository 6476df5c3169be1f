//! Orders of flow that nodes can join and leave.

use std::collections::{BTreeMap, HashSet};
use std::sync::OnceLock;

use crownweir_vocabulary::Role;
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::{EdgeRef, NodeIndexable};

use crate::model::{Graph, NodeId, PipeId};
use crate::structure::{ends_drains, leaving_each, sorted};

/// The nodes and pipes of a network in an order that does not depend on their numbers: the one in which a network that has
/// just been read numbers them.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct FlowOrder {
    /// All nodes: those of the drains, then those that only vents touch.
    pub nodes: Vec<NodeId>,
    /// All pipes, by the nodes that they leave.
    pub pipes: Vec<PipeId>,
    /// The nodes that drain pipes touch, each after all that drain into it; where there is none, the point of disposal.
    pub drains: Vec<NodeId>,
    /// The nodes that vent pipes touch, each after all whose vents lead to it.
    pub vents: Vec<NodeId>,
}

impl FlowOrder {
    pub(crate) fn of(graph: &Graph) -> Self {
        // A network's pipes lead round in no loop.
        let [drains, vents] = [Role::Drain, Role::Vent].map(|role| sorted(graph, role).unwrap_or_default());
        let mut is_listed = vec![false; graph.node_bound()];
        let mut nodes = Vec::with_capacity(graph.node_count());
        for &id in drains.iter().chain(&vents) {
            if let Some(is_listed) = is_listed.get_mut(id.index())
                && !std::mem::replace(is_listed, true)
            {
                nodes.push(id);
            }
        }
        let pipes = leaving_each(graph, &nodes);
        Self {
            nodes,
            pipes,
            drains,
            vents,
        }
    }
}

/// Nodes in an order in which each follows all from which water, or air, comes to it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Order {
    list: Vec<NodeId>,
    /// Of each node, by number, its rank; kept from when it is first asked for.
    ranks: OnceLock<Vec<u64>>,
}

/// What differs of a graph.
pub(crate) struct Differ<'d> {
    /// Nodes that have gone; their numbers may have been given again.
    pub(crate) removed: &'d [NodeId],
    /// Nodes at which edges have come or gone.
    pub(crate) touched: &'d [NodeId],
    /// Edges that have come.
    pub(crate) added: &'d [PipeId],
}

/// How far the ranks of two nodes that come next to one another are apart at first: half as far with every node that
/// comes between.
const APART: u64 = 1 << 31;
/// The rank of a node that is not in the order.
const OUT: u64 = 0;
/// How many nodes at most are moved within an order. To move one takes as long as to read a part of the list.
const MOST_MOVED: usize = 256;

/// One change of an order, at a place in its list.
#[derive(Debug)]
pub(crate) enum Change {
    In(usize),
    Out(usize, NodeId),
}

impl Order {
    pub(crate) fn new(list: Vec<NodeId>) -> Self {
        Self {
            list,
            ranks: OnceLock::new(),
        }
    }

    pub(crate) fn list(&self) -> &[NodeId] {
        &self.list
    }

    /// The rank of each node, by number.
    pub(crate) fn ranks(&self) -> &[u64] {
        self.ranks.get_or_init(|| ranks(&self.list))
    }

    /// A number that ascends along the order. None of a node that is not in it.
    pub(crate) fn rank(&self, node: NodeId) -> Option<u64> {
        self.ranks()
            .get(node.index())
            .copied()
            .filter(|&rank| rank != OUT)
    }

    /// Has nodes join, leave and move after edges have come and gone, so that every edge of `role` leads onward again, and
    /// tells what it changed and which nodes moved. None, with all as it was, where edges lead round in a loop or too
    /// many nodes would have to move.
    pub(crate) fn renew(
        &mut self,
        graph: &Graph,
        role: Role,
        differ: &Differ<'_>,
        moved: &mut Vec<NodeId>,
    ) -> Option<Vec<Change>> {
        let mut changes = Vec::new();
        if self.settle(graph, role, differ, (&mut changes, moved)).is_none() {
            self.revert(&changes);
            return None;
        }
        Some(changes)
    }

    /// Undoes what was changed.
    pub(crate) fn revert(&mut self, changes: &[Change]) {
        if changes.is_empty() {
            return;
        }
        for change in changes.iter().rev() {
            match *change {
                Change::In(at) => drop(self.list.remove(at)),
                Change::Out(at, node) => self.list.insert(at, node),
            }
        }
        self.ranks = OnceLock::new();
    }

    fn settle(
        &mut self,
        graph: &Graph,
        role: Role,
        differ: &Differ<'_>,
        (changes, moved): (&mut Vec<Change>, &mut Vec<NodeId>),
    ) -> Option<()> {
        for &node in differ.removed {
            self.take(node, changes);
        }
        for &node in differ.touched {
            let mut others = along(graph, node, role, Outgoing).chain(along(graph, node, role, Incoming));
            if others.next().is_some() || ends_drains(graph, node, role) {
                self.join(graph, role, node, changes)?;
            } else {
                self.take(node, changes);
            }
        }
        for &pipe in differ.added {
            let of_role = graph.edge_weight(pipe).filter(|pipe| pipe.role == role);
            let Some((from, to)) = of_role.and_then(|_| graph.edge_endpoints(pipe)) else {
                continue;
            };
            let (own, next) = (self.rank(from)?, self.rank(to)?);
            if own >= next {
                let above = self.above(graph, role, from, (to, next))?;
                if moved.len() + above.len() > MOST_MOVED {
                    return None;
                }
                for node in above.into_values() {
                    self.take(node, changes);
                    self.put(node, Some(to), changes);
                    moved.push(node);
                }
            }
        }
        Some(())
    }

    /// Has a node join, and before it all below it that are not in the order yet; nothing where they lead in a loop.
    fn join(&mut self, graph: &Graph, role: Role, node: NodeId, changes: &mut Vec<Change>) -> Option<()> {
        let mut path = vec![node];
        let mut on_path = HashSet::from([node]);
        while let Some(&node) = path.last() {
            if self.rank(node).is_none() {
                let below = || along(graph, node, role, Outgoing);
                if let Some(next) = below().find(|&next| self.rank(next).is_none()) {
                    if !on_path.insert(next) {
                        return None;
                    }
                    path.push(next);
                    continue;
                }
                let first = below().min_by_key(|&next| self.rank(next));
                self.put(node, first, changes);
            }
            path.pop();
        }
        Some(())
    }

    /// A node and all above it that follow another so far, by rank; nothing where that other is one of them, or there
    /// are too many.
    fn above(
        &self,
        graph: &Graph,
        role: Role,
        node: NodeId,
        (other, rank): (NodeId, u64),
    ) -> Option<BTreeMap<u64, NodeId>> {
        let mut found = BTreeMap::new();
        let mut open = vec![node];
        while let Some(node) = open.pop() {
            let own = self.rank(node)?;
            if node == other || found.len() > MOST_MOVED {
                return None;
            }
            if own > rank && found.insert(own, node).is_none() {
                open.extend(along(graph, node, role, Incoming));
            }
        }
        Some(found)
    }

    fn place(&self, node: NodeId) -> Option<usize> {
        let rank = self.rank(node)?;
        self.list
            .binary_search_by_key(&Some(rank), |&node| self.rank(node))
            .ok()
    }

    fn take(&mut self, node: NodeId, changes: &mut Vec<Change>) {
        if let Some(at) = self.place(node) {
            self.list.remove(at);
            self.set_rank(node, OUT);
            changes.push(Change::Out(at, node));
        }
    }

    /// Puts a node just before another, or last of all.
    fn put(&mut self, node: NodeId, next: Option<NodeId>, changes: &mut Vec<Change>) {
        let next = next.and_then(|next| Some((self.place(next)?, self.rank(next)?)));
        let at = next.map_or(self.list.len(), |(at, _)| at);
        let before = at.checked_sub(1).and_then(|before| self.list.get(before));
        let before = before.and_then(|&before| self.rank(before)).unwrap_or(OUT);
        let after = next.map_or(before.saturating_add(2 * APART), |(_, rank)| rank);
        let rank = before + (after - before) / 2;
        self.list.insert(at, node);
        changes.push(Change::In(at));
        if rank > before {
            self.set_rank(node, rank);
        } else {
            // No room between the two is left.
            self.ranks = OnceLock::new();
        }
    }

    fn set_rank(&mut self, node: NodeId, rank: u64) {
        if let Some(ranks) = self.ranks.get_mut() {
            if ranks.len() <= node.index() {
                ranks.resize(node.index() + 1, OUT);
            }
            if let Some(slot) = ranks.get_mut(node.index()) {
                *slot = rank;
            }
        }
    }
}

/// The nodes at the other ends of a node's edges of a role.
fn along(
    graph: &Graph,
    node: NodeId,
    role: Role,
    direction: petgraph::Direction,
) -> impl Iterator<Item = NodeId> {
    let edges = graph.edges_directed(node, direction);
    edges
        .filter(move |edge| edge.weight().role == role)
        .map(move |edge| match direction {
            Outgoing => edge.target(),
            Incoming => edge.source(),
        })
}

fn ranks(list: &[NodeId]) -> Vec<u64> {
    let bound = list.iter().map(|node| node.index() + 1).max().unwrap_or(0);
    let mut ranks = vec![OUT; bound];
    let mut rank = OUT;
    for node in list {
        rank = rank.saturating_add(APART);
        if let Some(slot) = ranks.get_mut(node.index()) {
            *slot = rank;
        }
    }
    ranks
}
