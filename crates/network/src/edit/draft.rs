//! Edits by which nodes and pipes come and go: the network is built from its parts anew.

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Diagnostic, Diagnostics, Limits, nearest};
use crownweir_quantity::Length;
use petgraph::graph::DiGraph;
use petgraph::visit::EdgeRef;

use super::in_place::Undo;
use super::{Edit, Names};
use crate::build::load_denied;
use crate::geometry::{self, Given};
use crate::model::{Network, Node, NodeId, NodeKind, Pipe, PipeId};
use crate::refill::Unsettled;
use crate::structure::{self, Spot};

impl Network {
    /// The network with the edits made, built from its parts anew.
    pub(super) fn rebuilt(&self, edits: &[Edit]) -> Result<Self, Diagnostics> {
        let mut draft = Draft::of(self);
        let mut problems = Diagnostics::keeping(Limits::default().diagnostics);
        for edit in edits {
            problems.extend(draft.make(self, edit).err().map(|problem| *problem));
        }
        if !problems.is_empty() {
            return problems.or(None);
        }
        let mut network = draft.network;
        let ends_in_sump = network.ends_in_sump;
        let orders = structure::check(&network.graph, ends_in_sump, &mut |spot, message, expected| {
            let problem = match spot {
                Spot::Network => network.problem(1, 1, message),
                Spot::Node(node) => network.problem_at_node(node, message),
            };
            problems.push(problem.expecting(expected));
        });
        let Some(mut orders) = orders.filter(|_| problems.is_empty()) else {
            return problems.or(None);
        };
        strip_all(&mut network.graph, &network.given);
        let mut denied = Vec::new();
        let stated = network.given.plan.clone();
        network.plan = geometry::derive(
            &mut network.graph,
            stated,
            orders.disposal,
            network.notation,
            &mut |pipe, message, help| denied.push((pipe, message, help)),
        );
        for (pipe, message, help) in denied {
            problems.push(network.problem_at_pipe(pipe, message).helped(help));
        }
        if !problems.is_empty() {
            return problems.or(None);
        }
        let graph = std::mem::take(&mut network.graph);
        let Some((graph, numbering)) = orders.renumber(graph) else {
            return problems.or(None);
        };
        network.graph = graph;
        network.plan = std::mem::take(&mut network.plan).renumbered(&numbering);
        network.given = std::mem::take(&mut network.given).renumbered(&numbering);
        network.disposal = orders.disposal;
        (network.drain_order, network.vent_order) = (orders.drains, orders.vents);
        network.unsettled = Unsettled::of(&network.graph);
        let now: HashMap<PipeId, PipeId> = numbering
            .pipes
            .iter()
            .zip(network.graph.edge_indices())
            .map(|(old, new)| (*old, new))
            .collect();
        network.passages.truncate(network.stated_passages);
        network
            .passages
            .retain_mut(|passage| match now.get(&passage.pipe) {
                Some(&pipe) => {
                    passage.pipe = pipe;
                    true
                }
                None => false,
            });
        network.stated_passages = network.passages.len();
        if let Err(message) = network.find_passages() {
            problems.push(network.problem(1, 1, message));
        }
        problems.or(Some(network))
    }
}

/// Takes out of a graph what was not given.
pub(super) fn strip_all(graph: &mut DiGraph<Node, Pipe, u32>, given: &Given) {
    for (id, node) in graph.node_indices().zip(graph.node_weights_mut()) {
        node.elevation = node.elevation.filter(|_| given.height(id));
    }
    for (id, pipe) in graph.edge_indices().zip(graph.edge_weights_mut()) {
        given.strip(id, pipe);
    }
}

/// A network whose graph is being edited, without the orders of a sound one.
struct Draft {
    network: Network,
    names: Names,
}

impl Draft {
    fn of(network: &Network) -> Self {
        let names = network.names().clone();
        let mut network = network.clone();
        network.names = std::sync::OnceLock::new();
        network.passages.truncate(network.stated_passages);
        Self { network, names }
    }

    fn node(&self, base: &Network, name: &str) -> Result<NodeId, Box<Diagnostic>> {
        let known = self.names.nodes.get(name).copied();
        known.ok_or_else(|| {
            Box::new(
                base.problem(1, 1, format!("there is no node `{name}`"))
                    .suggesting(nearest(name, self.names.nodes.keys().map(|name| &**name))),
            )
        })
    }

    fn pipe(&self, base: &Network, name: &str) -> Result<PipeId, Box<Diagnostic>> {
        let known = self.names.pipes.get(name).copied();
        known.ok_or_else(|| {
            Box::new(
                base.problem(1, 1, format!("there is no pipe `{name}`"))
                    .suggesting(nearest(name, self.names.pipes.keys().map(|name| &**name))),
            )
        })
    }

    fn make(&mut self, base: &Network, edit: &Edit) -> Result<(), Box<Diagnostic>> {
        // Only the edits that are made in place are undone one by one; a draft is thrown away.
        let (mut undo, mut around) = (Undo::default(), Vec::new());
        match edit {
            Edit::Pipe { pipe, set } => {
                let id = self.pipe(base, pipe)?;
                self.network.set_pipe(id, *set, &mut undo, &mut around)
            }
            Edit::Node { node, set } => {
                let id = self.node(base, node)?;
                self.network.set_node(id, set, &mut undo, &mut around)
            }
            Edit::RunKind { run, kind } => {
                let count = self.network.runs.len();
                let Some(own) = self.network.runs.get_mut(*run as usize) else {
                    return Err(Box::new(base.problem(
                        1,
                        1,
                        format!("there is no run number {run} among {count}"),
                    )));
                };
                if own.kind.role() != kind.role() {
                    let message = format!("`{}` is not a kind of {}", kind.name(), own.kind.role());
                    return Err(Box::new(base.problem(1, 1, message)));
                }
                own.kind = *kind;
                Ok(())
            }
            Edit::AddRun(run) => {
                self.network.runs.push(run.clone());
                Ok(())
            }
            Edit::AddNode(node) => self.add_node(base, node),
            Edit::AddPipe { from, to, pipe } => {
                let ends = (self.node(base, from)?, self.node(base, to)?);
                self.add_pipe(base, ends, pipe)
            }
            Edit::RemovePipe(name) => {
                let id = self.pipe(base, name)?;
                self.remove_pipe(id);
                Ok(())
            }
            Edit::RemoveNode(name) => {
                let id = self.node(base, name)?;
                self.remove_node(id);
                Ok(())
            }
        }
    }

    fn add_node(&mut self, base: &Network, node: &Node) -> Result<(), Box<Diagnostic>> {
        let (line, column) = (node.position.line, node.position.column);
        if self.names.nodes.contains_key(&node.name) {
            return Err(Box::new(
                base.problem(line, column, format!("a second node is called `{}`", node.name))
                    .expecting("another name"),
            ));
        }
        let storeys = self.network.storeys.len();
        if let Some(storey) = node.storey.filter(|&storey| storey as usize >= storeys) {
            return Err(Box::new(base.problem(
                line,
                column,
                format!("there is no storey number {storey}"),
            )));
        }
        if let NodeKind::Fixture(fixture) = &node.kind
            && let Some((message, expected)) = load_denied(fixture)
        {
            return Err(Box::new(base.problem(line, column, message).expecting(expected)));
        }
        let own = &mut self.network;
        own.given.heights.push(node.elevation.is_some());
        if !own.given.plan.positions.is_empty() {
            own.given.plan.positions.push([None; 2]);
        }
        let id = own.graph.add_node(node.clone());
        self.names.nodes.insert(Arc::clone(&node.name), id);
        Ok(())
    }

    fn add_pipe(
        &mut self,
        base: &Network,
        (from, to): (NodeId, NodeId),
        pipe: &Pipe,
    ) -> Result<(), Box<Diagnostic>> {
        let problem = |message| base.problem(pipe.position.line, pipe.position.column, message);
        if self.names.pipes.contains_key(&pipe.name) {
            let message = format!("a second pipe is called `{}`", pipe.name);
            return Err(Box::new(problem(message).expecting("a name of its own")));
        }
        if pipe.length == Some(Length::ZERO) {
            return Err(Box::new(
                problem(format!("the pipe `{}` has no length", pipe.name))
                    .expecting("a length above zero; leave it out where it is not known"),
            ));
        }
        let Some(run) = self.network.runs.get(pipe.run as usize) else {
            return Err(Box::new(problem(format!("there is no run number {}", pipe.run))));
        };
        if run.kind.role() != pipe.role {
            let message = format!("`{}` is not a kind of {}", run.kind.name(), pipe.role);
            return Err(Box::new(problem(message)));
        }
        let own = &mut self.network;
        own.given.lengths.push(pipe.length.is_some());
        own.given.slopes.push(pipe.slope.is_some());
        if !own.given.plan.bearings.is_empty() {
            own.given.plan.bearings.push(None);
        }
        let id = own.graph.add_edge(from, to, pipe.clone());
        self.names.pipes.insert(Arc::clone(&pipe.name), id);
        Ok(())
    }

    /// The graph puts its last pipe in the place of one that is taken out; so does everything that goes by number.
    fn remove_pipe(&mut self, id: PipeId) {
        let own = &mut self.network;
        let last = PipeId::new(own.graph.edge_count().saturating_sub(1));
        let Some(removed) = own.graph.remove_edge(id) else {
            return;
        };
        self.names.pipes.remove(&removed.name);
        if let Some(moved) = own.graph.edge_weight(id) {
            self.names.pipes.insert(Arc::clone(&moved.name), id);
        }
        take(&mut own.given.lengths, id.index());
        take(&mut own.given.slopes, id.index());
        take(&mut own.given.plan.bearings, id.index());
        own.passages.retain_mut(|passage| {
            let stays = passage.pipe != id;
            if passage.pipe == last {
                passage.pipe = id;
            }
            stays
        });
        own.stated_passages = own.passages.len();
    }

    fn remove_node(&mut self, id: NodeId) {
        while let Some(pipe) = self
            .network
            .graph
            .edges_directed(id, petgraph::Direction::Outgoing)
            .chain(
                self.network
                    .graph
                    .edges_directed(id, petgraph::Direction::Incoming),
            )
            .map(|edge| edge.id())
            .next()
        {
            self.remove_pipe(pipe);
        }
        let own = &mut self.network;
        let Some(removed) = own.graph.remove_node(id) else {
            return;
        };
        self.names.nodes.remove(&removed.name);
        if let Some(moved) = own.graph.node_weight(id) {
            self.names.nodes.insert(Arc::clone(&moved.name), id);
        }
        take(&mut own.given.heights, id.index());
        take(&mut own.given.plan.positions, id.index());
    }
}

/// Takes an entry out of a list, the last one into its place.
fn take<T>(list: &mut Vec<T>, at: usize) {
    if at < list.len() {
        list.swap_remove(at);
    }
}
