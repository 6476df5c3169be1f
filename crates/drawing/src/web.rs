//! The network as lists by number, the way a drawing goes through it.
//!
//! The numbers are the drawing's own: they follow the flow, have no gaps, and do not tell how the network came to be.

use crownweir_network::{FlowOrder, Network, Node, NodeId, Pipe, PipeId, RunId};
use crownweir_vocabulary::{Role, RunKind};

/// No pipe, no sheet.
pub(crate) const NONE: u32 = u32::MAX;

/// Pipes and the nodes they join, by the drawing's own numbers.
#[derive(Debug)]
pub(crate) struct Web<'a> {
    pub(crate) network: &'a Network,
    /// What each node and each pipe is in the graph, and the nodes in the orders in which water and air flow.
    order: FlowOrder,
    /// By their numbers in the graph.
    numbers: Numbers,
    pub(crate) from: Vec<u32>,
    pub(crate) to: Vec<u32>,
    /// The run of each pipe.
    pub(crate) run: Vec<RunId>,
    pub(crate) is_vent: Vec<bool>,
    /// Nearer to plumb than to level.
    pub(crate) is_upright: Vec<bool>,
    /// The drain that leaves each node.
    pub(crate) down: Vec<u32>,
    pub(crate) drains_in: Vec<Vec<u32>>,
    pub(crate) vents_in: Vec<Vec<u32>>,
    pub(crate) vents_out: Vec<Vec<u32>>,
    /// The storey in whose strip each node is drawn.
    pub(crate) storey: Vec<u32>,
}

/// The drawing's own numbers by those in the graph.
#[derive(Debug)]
struct Numbers {
    nodes: Vec<u32>,
    pipes: Vec<u32>,
}

pub(crate) fn number(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(NONE)
}

/// The place of each number in a list of numbers.
fn places(list: impl ExactSizeIterator<Item = usize> + Clone) -> Vec<u32> {
    let mut places = vec![NONE; list.clone().max().map_or(0, |most| most + 1)];
    for (place, index) in (0..).zip(list) {
        places[index] = place;
    }
    places
}

impl<'a> Web<'a> {
    pub(crate) fn new(network: &'a Network) -> Self {
        let graph = network.graph();
        let order = network.flow_order();
        let (nodes, pipes) = (order.nodes.len(), order.pipes.len());
        let mut web = Self {
            network,
            numbers: Numbers {
                nodes: places(order.nodes.iter().map(|id| id.index())),
                pipes: places(order.pipes.iter().map(|id| id.index())),
            },
            order,
            from: Vec::with_capacity(pipes),
            to: Vec::with_capacity(pipes),
            run: Vec::with_capacity(pipes),
            is_vent: Vec::with_capacity(pipes),
            is_upright: Vec::with_capacity(pipes),
            down: vec![NONE; nodes],
            drains_in: vec![Vec::new(); nodes],
            vents_in: vec![Vec::new(); nodes],
            vents_out: vec![Vec::new(); nodes],
            storey: Vec::new(),
        };
        for (own, &id) in (0..).zip(&web.order.pipes) {
            let (Some((from, to)), Some(pipe)) = (graph.edge_endpoints(id), graph.edge_weight(id)) else {
                continue;
            };
            let [from, to] = [from, to].map(|node| web.numbers.nodes[node.index()]);
            web.from.push(from);
            web.to.push(to);
            web.run.push(pipe.run);
            web.is_vent.push(pipe.role == Role::Vent);
            let kind = network.run(pipe.run).map(|run| run.kind);
            web.is_upright.push(match pipe.slope {
                Some(slope) => slope.angle_from_vertical() < slope.angle_from_horizontal(),
                None => matches!(
                    kind,
                    Some(RunKind::Stack | RunKind::StackVent | RunKind::VentStack)
                ),
            });
            if pipe.role == Role::Vent {
                web.vents_out[from as usize].push(own);
                web.vents_in[to as usize].push(own);
            } else {
                web.down[from as usize] = own;
                web.drains_in[to as usize].push(own);
            }
        }
        web.storey = web.storeys();
        web
    }

    /// All nodes, as the graph numbers them, by the drawing's numbers.
    pub(crate) fn nodes(&self) -> &[NodeId] {
        &self.order.nodes
    }

    /// The number of a node in the graph.
    pub(crate) fn node_id(&self, node: u32) -> Option<NodeId> {
        self.order.nodes.get(node as usize).copied()
    }

    /// The number of a pipe in the graph.
    pub(crate) fn pipe_id(&self, pipe: u32) -> Option<PipeId> {
        self.order.pipes.get(pipe as usize).copied()
    }

    /// The drawing's number of a node, by that in the graph.
    pub(crate) fn node_numbered(&self, index: u32) -> Option<u32> {
        let number = self.numbers.nodes.get(index as usize).copied();
        number.filter(|&number| number != NONE)
    }

    /// The drawing's number of a pipe, by that in the graph.
    pub(crate) fn pipe_numbered(&self, index: u32) -> Option<u32> {
        let number = self.numbers.pipes.get(index as usize).copied();
        number.filter(|&number| number != NONE)
    }

    /// What stands at a node.
    pub(crate) fn node(&self, node: u32) -> Option<&'a Node> {
        self.network.graph().node_weight(self.node_id(node)?)
    }

    /// What a pipe is.
    pub(crate) fn pipe(&self, pipe: u32) -> Option<&'a Pipe> {
        self.network.graph().edge_weight(self.pipe_id(pipe)?)
    }

    /// The nodes that drains touch, each after all that drain into it.
    pub(crate) fn drain_order(&self) -> impl DoubleEndedIterator<Item = u32> + use<'_> {
        self.order.drains.iter().map(|id| self.numbers.nodes[id.index()])
    }

    /// The nodes that vents touch, each after all whose vents lead to it.
    pub(crate) fn vent_order(&self) -> impl Iterator<Item = u32> + use<'_> {
        self.order.vents.iter().map(|id| self.numbers.nodes[id.index()])
    }

    /// The storey in whose strip each node is drawn.
    fn storeys(&self) -> Vec<u32> {
        let mut storeys = vec![NONE; self.down.len()];
        let stated = |node: u32| self.node(node)?.storey;
        for node in self.drain_order().rev() {
            let down = self.down[node as usize];
            // A joint on a stack is drawn in the strip of the branch that it takes, which may hang below that floor.
            let level = self.drains_in[node as usize]
                .iter()
                .filter(|&&pipe| !self.is_upright[pipe as usize])
                .filter_map(|&pipe| stated(self.from[pipe as usize]));
            let own = stated(node).max(level.max());
            // A drain runs level in the strip of what it leads to; a vertical one may reach a higher strip.
            storeys[node as usize] = if down == NONE {
                stated(node).unwrap_or(0)
            } else {
                let below = storeys[self.to[down as usize] as usize];
                let below = if below == NONE { 0 } else { below };
                match (own, self.is_upright[down as usize]) {
                    (Some(own), true) => own.max(below),
                    _ => below,
                }
            };
        }
        for node in self.vent_order() {
            if storeys[node as usize] != NONE {
                continue;
            }
            let before = self.vents_in[node as usize]
                .iter()
                .map(|&pipe| storeys[self.from[pipe as usize] as usize])
                .filter(|&storey| storey != NONE)
                .max();
            let own = stated(node);
            storeys[node as usize] = own.or(before).unwrap_or(0);
        }
        storeys
    }

    pub(crate) fn name(&self, node: u32) -> &str {
        self.node(node).map_or("", |node| &node.name)
    }

    pub(crate) fn kind_of(&self, pipe: u32) -> Option<RunKind> {
        let run = *self.run.get(pipe as usize)?;
        self.network.run(run).map(|run| run.kind)
    }
}
