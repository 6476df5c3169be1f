//! The network as lists by number, the way a drawing goes through it.

use crownweir_network::Network;
use crownweir_vocabulary::{Role, RunKind};

/// No pipe, no sheet.
pub(crate) const NONE: u32 = u32::MAX;

/// Pipes and the nodes they join, by their numbers in the graph.
#[derive(Debug)]
pub(crate) struct Web<'a> {
    pub(crate) network: &'a Network,
    pub(crate) from: Vec<u32>,
    pub(crate) to: Vec<u32>,
    /// The run of each pipe.
    pub(crate) run: Vec<u32>,
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

pub(crate) fn number(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(NONE)
}

impl<'a> Web<'a> {
    pub(crate) fn new(network: &'a Network) -> Self {
        let graph = network.graph();
        let (nodes, pipes) = (graph.node_count(), graph.edge_count());
        let mut web = Self {
            network,
            from: Vec::with_capacity(pipes),
            to: Vec::with_capacity(pipes),
            run: Vec::with_capacity(pipes),
            is_vent: Vec::with_capacity(pipes),
            is_upright: Vec::with_capacity(pipes),
            down: vec![NONE; nodes],
            drains_in: vec![Vec::new(); nodes],
            vents_in: vec![Vec::new(); nodes],
            vents_out: vec![Vec::new(); nodes],
            storey: vec![NONE; nodes],
        };
        for id in graph.edge_indices() {
            let (Some((from, to)), Some(pipe)) = (graph.edge_endpoints(id), graph.edge_weight(id)) else {
                continue;
            };
            let own = number(id.index());
            web.from.push(number(from.index()));
            web.to.push(number(to.index()));
            web.run.push(pipe.run);
            web.is_vent.push(pipe.role == Role::Vent);
            let kind = network.runs().get(pipe.run as usize).map(|run| run.kind);
            web.is_upright.push(match pipe.slope {
                Some(slope) => slope.angle_from_vertical() < slope.angle_from_horizontal(),
                None => matches!(
                    kind,
                    Some(RunKind::Stack | RunKind::StackVent | RunKind::VentStack)
                ),
            });
            if pipe.role == Role::Vent {
                web.vents_out[from.index()].push(own);
                web.vents_in[to.index()].push(own);
            } else {
                web.down[from.index()] = own;
                web.drains_in[to.index()].push(own);
            }
        }
        web.settle_storeys();
        web
    }

    /// Gives every node the strip of a storey in which it is drawn.
    fn settle_storeys(&mut self) {
        let graph = self.network.graph();
        let stated = |node: u32| {
            let node = graph.node_weight(crownweir_network::NodeId::new(node as usize))?;
            node.storey
        };
        for id in self.network.drain_order().iter().rev() {
            let node = number(id.index());
            let down = self.down[id.index()];
            // A joint on a stack is drawn in the strip of the branch that it takes, which may hang below that floor.
            let level = self.drains_in[id.index()]
                .iter()
                .filter(|&&pipe| !self.is_upright[pipe as usize])
                .filter_map(|&pipe| stated(self.from[pipe as usize]));
            let own = stated(node).max(level.max());
            // A drain runs level in the strip of what it leads to; a vertical one may reach a higher strip.
            self.storey[id.index()] = if down == NONE {
                stated(node).unwrap_or(0)
            } else {
                let below = self.storey[self.to[down as usize] as usize];
                let below = if below == NONE { 0 } else { below };
                match (own, self.is_upright[down as usize]) {
                    (Some(own), true) => own.max(below),
                    _ => below,
                }
            };
        }
        for id in self.network.vent_order() {
            if self.storey[id.index()] != NONE {
                continue;
            }
            let before = self.vents_in[id.index()]
                .iter()
                .map(|&pipe| self.storey[self.from[pipe as usize] as usize])
                .filter(|&storey| storey != NONE)
                .max();
            let own = stated(number(id.index()));
            self.storey[id.index()] = own.or(before).unwrap_or(0);
        }
    }

    pub(crate) fn name(&self, node: u32) -> &str {
        let node = self
            .network
            .graph()
            .node_weight(crownweir_network::NodeId::new(node as usize));
        node.map_or("", |node| &node.name)
    }

    pub(crate) fn kind_of(&self, pipe: u32) -> Option<RunKind> {
        let run = *self.run.get(pipe as usize)?;
        self.network.runs().get(run as usize).map(|run| run.kind)
    }
}
