//! Edits of a network in place: properties of pipes and nodes, and pipes and nodes that come and go.
//!
//! What would not be a network is refused, with the problems that reading it would tell, and leaves all as it was.
//! Heights, lengths and slopes that follow from those given follow anew.

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Diagnostic, Diagnostics, Limits, nearest};
use crownweir_quantity::{Length, NominalSize, Slope};
use crownweir_vocabulary::{Inlet, Material, RunKind};
use petgraph::graph::DiGraph;
use petgraph::visit::EdgeRef;

use crate::build::load_denied;
use crate::geometry::{self, Before, Given};
use crate::model::{Network, Node, NodeId, NodeKind, Pipe, PipeId, Run};
use crate::plan::Plan;
use crate::refill::{Unsettled, is_open};
use crate::structure::{self, Spot};

/// A change of a network. Elements are called by their names, which outlive their numbers.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum Edit {
    /// States a property of a pipe otherwise.
    Pipe {
        /// The pipe's name.
        pipe: String,
        /// The property.
        set: PipeProperty,
    },
    /// States a property of a node otherwise.
    Node {
        /// The node's name.
        node: String,
        /// The property.
        set: NodeProperty,
    },
    /// Makes a run another kind of the same role.
    RunKind {
        /// The run, as an index into [`Network::runs`].
        run: u32,
        /// What it is to the building.
        kind: RunKind,
    },
    /// Adds a run for pipes that are added after it; its index is the number of runs before it.
    AddRun(Run),
    /// Adds a node; what is stated of its height is the author's.
    AddNode(Node),
    /// Adds a pipe; what is stated of its length and slope is the author's.
    AddPipe {
        /// The node that it leads away from.
        from: String,
        /// The node that it leads to.
        to: String,
        /// The pipe.
        pipe: Box<Pipe>,
    },
    /// Takes a pipe out, and where it passes framing.
    RemovePipe(String),
    /// Takes a node out, whose pipes are taken out too.
    RemoveNode(String),
}

/// A property of a pipe; `None` leaves it not stated.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub enum PipeProperty {
    /// Nominal size.
    Size(Option<NominalSize>),
    /// Developed length along the centre line.
    Length(Option<Length>),
    /// Fall of a drain or rise of a vent; bounds within which one was to be chosen are given up.
    Slope(Option<Slope>),
    /// What it is made of.
    Material(Option<Material>),
    /// Distance between supports.
    SupportSpacing(Option<Length>),
    /// Whether it is held against sideways movement half-way up the storey.
    MidStoreyGuide(Option<bool>),
    /// Whether it lies in the ground.
    Underground(bool),
    /// By which opening it enters the fitting at its lower end.
    Enters(Inlet),
}

/// A property of a node.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum NodeProperty {
    /// What stands there, with all its properties.
    Stands(NodeKind),
    /// The storey, as an index into [`Network::storeys`].
    Storey(Option<u32>),
    /// Height of the centre line above the datum (of a fixture: of its trap weir).
    Height(Option<Length>),
}

/// What edits have touched.
#[derive(Debug, Clone, Default)]
pub struct Edited {
    /// Nodes of which something is stated, or follows, otherwise; in order.
    pub nodes: Vec<NodeId>,
    /// Pipes of which something is stated, or follows, otherwise; in order.
    pub pipes: Vec<PipeId>,
    /// Those of the nodes of which the storey or the height is another.
    pub moved: Vec<NodeId>,
    /// Whether more may differ than these: pipes and nodes have come or gone and numbers have changed, or runs, places
    /// in plan or passages through framing differ.
    pub anew: bool,
}

/// The numbers of nodes and pipes by their names.
#[derive(Debug, Clone, Default)]
pub(crate) struct Names {
    nodes: HashMap<Arc<str>, NodeId>,
    pipes: HashMap<Arc<str>, PipeId>,
}

/// What edits did to the nodes and pipes themselves, to be undone.
#[derive(Default)]
struct Undo {
    nodes: Vec<(NodeId, Node)>,
    pipes: Vec<(PipeId, Pipe)>,
    heights: Vec<(NodeId, bool)>,
    lengths: Vec<(PipeId, bool)>,
    slopes: Vec<(PipeId, bool)>,
}

impl Network {
    /// The numbers of nodes and pipes by name, made when first asked for and kept from then on.
    fn names(&self) -> &Names {
        self.names.get_or_init(|| Names {
            nodes: self
                .graph
                .node_indices()
                .zip(self.graph.node_weights())
                .map(|(id, node)| (Arc::clone(&node.name), id))
                .collect(),
            pipes: self
                .graph
                .edge_references()
                .map(|edge| (Arc::clone(&edge.weight().name), edge.id()))
                .collect(),
        })
    }

    fn problem(&self, line: u32, column: u32, message: String) -> Diagnostic {
        Diagnostic::at(&self.file, line as usize, column as usize, message)
    }

    fn problem_at_pipe(&self, pipe: PipeId, message: String) -> Diagnostic {
        let at = self.graph.edge_weight(pipe).map(|pipe| pipe.position);
        let at = at.unwrap_or_default();
        self.problem(at.line, at.column, message)
    }

    fn problem_at_node(&self, node: NodeId, message: String) -> Diagnostic {
        let at = self.graph.node_weight(node).map(|node| node.position);
        let at = at.unwrap_or_default();
        self.problem(at.line, at.column, message)
    }

    fn edited_pipe(&self, name: &str) -> Result<PipeId, Box<Diagnostic>> {
        let names = &self.names().pipes;
        names.get(name).copied().ok_or_else(|| {
            Box::new(
                self.problem(1, 1, format!("there is no pipe `{name}`"))
                    .suggesting(nearest(name, names.keys().map(|name| &**name))),
            )
        })
    }

    fn edited_node(&self, name: &str) -> Result<NodeId, Box<Diagnostic>> {
        let names = &self.names().nodes;
        names.get(name).copied().ok_or_else(|| {
            Box::new(
                self.problem(1, 1, format!("there is no node `{name}`"))
                    .suggesting(nearest(name, names.keys().map(|name| &**name))),
            )
        })
    }

    /// Makes some edits, all of them or none. Between them the network need not be sound; in the end it is.
    ///
    /// Properties are edited where they stand; what adds or takes out pipes or nodes takes as long as reading the
    /// network.
    ///
    /// ```
    /// # let file = "
    /// # crownweir: network/1
    /// # name: drain
    /// # drains:
    /// #   - {slope: 1/4 in/ft, path: [{fitting: {name: a}}, {pipe: {name: p, length: 3 ft}}, {disposal: {name: z}}]}
    /// # ";
    /// use crownweir_network::{Edit, Network, PipeProperty};
    ///
    /// let mut network = Network::read("n.yaml", file.as_bytes(), &Default::default())?;
    /// let size = |size: &str| Edit::Pipe {
    ///     pipe: "p".to_owned(),
    ///     set: PipeProperty::Size(size.parse().ok()),
    /// };
    /// let edited = network.edit(&[size("3 in")])?;
    /// assert_eq!(network.graph()[edited.pipes[0]].size, "3 in".parse().ok());
    /// // Without the pipe, the drain ends in nothing.
    /// assert!(network.edit(&[Edit::RemovePipe("p".to_owned())]).is_err());
    /// assert!(network.pipe_named("p").is_some());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// What would be wrong with the network; it is then as it was.
    pub fn edit(&mut self, edits: &[Edit]) -> Result<Edited, Diagnostics> {
        let in_place = edits.iter().all(|edit| match edit {
            Edit::Pipe { .. } => true,
            Edit::Node {
                node,
                set: NodeProperty::Stands(kind),
            } => {
                let known = self.edited_node(node).ok();
                let own = known.and_then(|id| self.graph.node_weight(id));
                own.is_none_or(|own| std::mem::discriminant(&own.kind) == std::mem::discriminant(kind))
            }
            Edit::Node { .. } => true,
            _ => false,
        });
        if in_place {
            self.edit_in_place(edits)
        } else {
            let edited = self.rebuilt(edits)?;
            *self = edited;
            Ok(Edited {
                anew: true,
                ..Edited::default()
            })
        }
    }

    fn edit_in_place(&mut self, edits: &[Edit]) -> Result<Edited, Diagnostics> {
        let mut problems = Diagnostics::keeping(Limits::default().diagnostics);
        let mut undo = Undo::default();
        let mut around = Vec::new();
        for edit in edits {
            let problem = match edit {
                Edit::Pipe { pipe, set } => self
                    .edited_pipe(pipe)
                    .and_then(|id| self.set_pipe(id, *set, &mut undo, &mut around)),
                Edit::Node { node, set } => self
                    .edited_node(node)
                    .and_then(|id| self.set_node(id, set, &mut undo, &mut around)),
                _ => Ok(()),
            };
            problems.extend(problem.err().map(|problem| *problem));
        }
        let planned = !self.plan.is_empty();
        let mut whole: Option<(DiGraph<Node, Pipe, u32>, Plan)> = None;
        let mut before = Before::default();
        if problems.is_empty() && !around.is_empty() {
            let (notation, mut denied) = (self.notation, Vec::new());
            let mut deny = |pipe, message, help| denied.push((pipe, message, help));
            if planned {
                let old = self.graph.clone();
                strip_all(&mut self.graph, &self.given);
                let stated = self.given.plan.clone();
                let plan = geometry::derive(&mut self.graph, stated, self.disposal, notation, &mut deny);
                whole = Some((old, std::mem::replace(&mut self.plan, plan)));
            } else {
                around.sort_unstable();
                around.dedup();
                before = geometry::derive_around(&mut self.graph, &self.given, &around, notation, &mut deny);
            }
            for (pipe, message, help) in denied {
                problems.push(self.problem_at_pipe(pipe, message).helped(help));
            }
        }
        if !problems.is_empty() {
            if let Some((graph, plan)) = whole {
                (self.graph, self.plan) = (graph, plan);
            }
            self.put_back(before);
            self.undo(undo);
            return problems.or(None);
        }
        let mut edited = self.differing(&undo, &before);
        if whole.is_some() || self.framing.iter().any(|members| members.layout.is_some()) {
            edited.anew = true;
            self.passages.truncate(self.stated_passages);
            let most = Limits::default().nodes;
            if let Err(message) = self.find_passages(most) {
                if let Some((graph, plan)) = whole {
                    (self.graph, self.plan) = (graph, plan);
                }
                self.put_back(before);
                self.undo(undo);
                self.passages.truncate(self.stated_passages);
                // They were found before, so that they are found again.
                let _found = self.find_passages(most);
                problems.push(self.problem(1, 1, message));
                return problems.or(None);
            }
        }
        let opens = |&id: &PipeId| self.graph.edge_weight(id).is_some_and(is_open);
        if self.unsettled.is_some() || edited.pipes.iter().any(opens) {
            self.unsettled = Unsettled::of(&self.graph);
        }
        Ok(edited)
    }

    fn set_pipe(
        &mut self,
        id: PipeId,
        set: PipeProperty,
        undo: &mut Undo,
        around: &mut Vec<NodeId>,
    ) -> Result<(), Box<Diagnostic>> {
        if let PipeProperty::Length(Some(Length::ZERO)) = set {
            let name = self.graph.edge_weight(id).map_or("", |pipe| &*pipe.name);
            return Err(Box::new(
                self.problem_at_pipe(id, format!("the pipe `{name}` has no length"))
                    .expecting("a length above zero; leave it out where it is not known"),
            ));
        }
        let ends = self.graph.edge_endpoints(id);
        let Some(pipe) = self.graph.edge_weight_mut(id) else {
            return Ok(());
        };
        undo.pipes.push((id, pipe.clone()));
        let mut moves = false;
        match set {
            PipeProperty::Size(size) => pipe.size = size,
            PipeProperty::Length(length) => {
                pipe.length = length;
                note(&mut self.given.lengths, id.index(), length.is_some())
                    .into_iter()
                    .for_each(|old| undo.lengths.push((id, old)));
                moves = true;
            }
            PipeProperty::Slope(slope) => {
                (pipe.slope, pipe.slope_bounds) = (slope, None);
                note(&mut self.given.slopes, id.index(), slope.is_some())
                    .into_iter()
                    .for_each(|old| undo.slopes.push((id, old)));
                moves = true;
            }
            PipeProperty::Material(material) => pipe.material = material,
            PipeProperty::SupportSpacing(spacing) => pipe.support_spacing = spacing,
            PipeProperty::MidStoreyGuide(guide) => pipe.mid_storey_guide = guide,
            PipeProperty::Underground(underground) => pipe.underground = underground,
            PipeProperty::Enters(enters) => (pipe.enters, pipe.enters_stated) = (enters, true),
        }
        if moves && let Some((from, to)) = ends {
            around.extend([from, to]);
        }
        Ok(())
    }

    fn set_node(
        &mut self,
        id: NodeId,
        set: &NodeProperty,
        undo: &mut Undo,
        around: &mut Vec<NodeId>,
    ) -> Result<(), Box<Diagnostic>> {
        match set {
            NodeProperty::Stands(NodeKind::Fixture(fixture)) => {
                if let Some((message, expected)) = load_denied(fixture) {
                    return Err(Box::new(self.problem_at_node(id, message).expecting(expected)));
                }
            }
            NodeProperty::Storey(Some(storey)) if *storey as usize >= self.storeys.len() => {
                return Err(Box::new(
                    self.problem_at_node(id, format!("there is no storey number {storey}")),
                ));
            }
            _ => {}
        }
        let Some(node) = self.graph.node_weight_mut(id) else {
            return Ok(());
        };
        undo.nodes.push((id, node.clone()));
        match set {
            NodeProperty::Stands(kind) => node.kind = kind.clone(),
            NodeProperty::Storey(storey) => node.storey = *storey,
            NodeProperty::Height(height) => {
                node.elevation = *height;
                note(&mut self.given.heights, id.index(), height.is_some())
                    .into_iter()
                    .for_each(|old| undo.heights.push((id, old)));
                around.push(id);
                around.extend(self.graph.neighbors_undirected(id));
            }
        }
        Ok(())
    }

    fn put_back(&mut self, before: Before) {
        for (id, elevation) in before.nodes {
            if let Some(node) = self.graph.node_weight_mut(id) {
                node.elevation = elevation;
            }
        }
        for (id, length, slope) in before.pipes {
            if let Some(pipe) = self.graph.edge_weight_mut(id) {
                (pipe.length, pipe.slope) = (length, slope);
            }
        }
    }

    /// The last edit first, so that what was there before all of them comes back.
    fn undo(&mut self, undo: Undo) {
        for (id, node) in undo.nodes.into_iter().rev() {
            if let Some(own) = self.graph.node_weight_mut(id) {
                *own = node;
            }
        }
        for (id, pipe) in undo.pipes.into_iter().rev() {
            if let Some(own) = self.graph.edge_weight_mut(id) {
                *own = pipe;
            }
        }
        for (id, old) in undo.heights.into_iter().rev() {
            note(&mut self.given.heights, id.index(), old);
        }
        for (id, old) in undo.lengths.into_iter().rev() {
            note(&mut self.given.lengths, id.index(), old);
        }
        for (id, old) in undo.slopes.into_iter().rev() {
            note(&mut self.given.slopes, id.index(), old);
        }
    }

    /// The nodes and pipes that were edited, and those of which something else follows now.
    fn differing(&self, undo: &Undo, before: &Before) -> Edited {
        let moved = before.nodes.iter().filter(|(id, elevation)| {
            self.graph
                .node_weight(*id)
                .is_some_and(|node| node.elevation != *elevation)
        });
        let other = before.pipes.iter().filter(|(id, length, slope)| {
            self.graph
                .edge_weight(*id)
                .is_some_and(|pipe| (pipe.length, pipe.slope) != (*length, *slope))
        });
        let placed = undo.nodes.iter().filter(|(id, before)| {
            self.graph
                .node_weight(*id)
                .is_some_and(|node| (node.storey, node.elevation) != (before.storey, before.elevation))
        });
        let mut moved: Vec<NodeId> = moved
            .map(|(id, _)| *id)
            .chain(placed.map(|(id, _)| *id))
            .collect();
        moved.sort_unstable();
        moved.dedup();
        let mut nodes: Vec<NodeId> = undo.nodes.iter().map(|(id, _)| *id).collect();
        nodes.extend(&moved);
        let mut pipes: Vec<PipeId> = undo.pipes.iter().map(|(id, _)| *id).collect();
        pipes.extend(other.map(|(id, ..)| *id));
        nodes.sort_unstable();
        nodes.dedup();
        pipes.sort_unstable();
        pipes.dedup();
        Edited {
            nodes,
            pipes,
            moved,
            anew: false,
        }
    }

    /// The network with the edits made, built from its parts anew.
    fn rebuilt(&self, edits: &[Edit]) -> Result<Self, Diagnostics> {
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
        if let Err(message) = network.find_passages(Limits::default().nodes) {
            problems.push(network.problem(1, 1, message));
        }
        problems.or(Some(network))
    }
}

/// Notes whether something is given, and gives what was noted before.
fn note(list: &mut [bool], at: usize, given: bool) -> Option<bool> {
    list.get_mut(at).map(|slot| std::mem::replace(slot, given))
}

/// Takes out of a graph what was not given.
fn strip_all(graph: &mut DiGraph<Node, Pipe, u32>, given: &Given) {
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
