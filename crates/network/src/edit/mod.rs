//! Edits of a network in place: properties of pipes and nodes, and pipes and nodes that come and go.
//!
//! What would not be a network is refused, with the problems that reading it would tell, and leaves all as it was.
//! Heights, lengths and slopes that follow from those given follow anew.

mod anew;
mod begin;
mod error;
mod history;
mod in_place;
mod make;
mod whole;

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Diagnostic, nearest};
use crownweir_quantity::{Length, NominalSize, Slope, Temperature};
use crownweir_vocabulary::{BuildingUse, Inlet, Material, RunKind, SystemType};
use petgraph::visit::{EdgeRef, IntoEdgeReferences};

use crate::model::{Network, Node, NodeId, NodeKind, Pipe, PipeId, Run, RunId, Storey};
pub use begin::{BeginError, BeginFault, Beginning};
pub use error::{EditError, EditFault};
pub(crate) use history::History;
use history::Past;

/// A change of a network. Elements are called by their names, which outlive their numbers.
///
/// Several are made one after the other: an edit comes after those that add what it refers to, the nodes that a pipe joins
/// and the run that it belongs to.
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
        /// The run.
        run: RunId,
        /// What it is to the building.
        kind: RunKind,
    },
    /// Adds a run for pipes that are added after it; its number is the [next](Network::next_run), and so on where several
    /// are added.
    AddRun(Run),
    /// Takes a run out, whose pipes are taken out too. No other gets its number.
    RemoveRun(RunId),
    /// Adds a node; what is stated of its height is the author's. What a file may not state of it is refused.
    AddNode(Node),
    /// Adds a pipe; what is stated of its length and slope is the author's. What a file may not state of it is refused,
    /// and so is a slope beside bounds within which one is to be chosen.
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
    /// States otherwise what holds for the whole site.
    Site(SiteProperty),
    /// States how high a storey is from its floor to the next. The floors above move along, and with them what stands on
    /// them, save what has a stated place in plan.
    StoreyHeight {
        /// The storey, as an index into [`Network::storeys`].
        storey: u32,
        /// Its height.
        height: Length,
    },
    /// Adds a storey on top. What a file may not state of it is refused.
    AddStorey(Storey),
}

/// What holds for the whole site; `None` leaves it not stated.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub enum SiteProperty {
    /// The winter design temperature.
    WinterDesignTemperature(Option<Temperature>),
    /// Dwelling units in the building.
    DwellingUnits(Option<u32>),
    /// What the building is used for.
    BuildingUse(Option<BuildingUse>),
    /// The type of system that its branches and stacks are laid out by.
    SystemType(Option<SystemType>),
}

/// A property of a pipe; `None` leaves it not stated.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub enum PipeProperty {
    /// Nominal size.
    Size(Option<NominalSize>),
    /// Developed length along the centre line. One that does not reach the framing that the file states the pipe to pass is
    /// refused.
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
    /// What stands there, with all its properties. Of a trap of which no kind is stated it is that with which the fixture is
    /// [made](crownweir_vocabulary::FixtureType::made_with), as in a file.
    Stands(NodeKind),
    /// The storey, as an index into [`Network::storeys`].
    Storey(Option<u32>),
    /// Height of the centre line above the datum (of a fixture: of its trap weir).
    Elevation(Option<Length>),
}

/// What edits have touched.
#[derive(Debug, Clone, Default)]
pub struct Edited {
    /// Nodes whose stated or derived values have changed, in order.
    pub nodes: Vec<NodeId>,
    /// Pipes whose stated or derived values have changed, in order.
    pub pipes: Vec<PipeId>,
    /// Those of the nodes whose storey or height has changed.
    pub moved: Vec<NodeId>,
    /// Whether more may differ than these: numbers have changed, or runs, places in plan, passages through framing, storeys or
    /// what holds for the site differ.
    pub anew: bool,
    /// Nodes that have come, in order; none of them is among those edited.
    pub added_nodes: Vec<NodeId>,
    /// Pipes that have come, in order; none of them is among those edited.
    pub added_pipes: Vec<PipeId>,
    /// Nodes that have gone, in order, by the numbers that they had; these may have been given again.
    pub removed_nodes: Vec<NodeId>,
    /// Pipes that have gone, in order, by the numbers that they had; these may have been given again.
    pub removed_pipes: Vec<PipeId>,
    /// Nodes that come elsewhere in the orders of flow than they did, in order.
    pub reordered: Vec<NodeId>,
}

/// The numbers of nodes and pipes by their names.
#[derive(Debug, Clone, Default)]
pub(crate) struct Names {
    nodes: HashMap<Arc<str>, NodeId>,
    pipes: HashMap<Arc<str>, PipeId>,
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

    /// Notes the number of a node that has come, or that none is called so any more.
    fn name_node(&mut self, name: &Arc<str>, id: Option<NodeId>) {
        if let Some(names) = self.names.get_mut() {
            match id {
                Some(id) => names.nodes.insert(Arc::clone(name), id),
                None => names.nodes.remove(name),
            };
        }
    }

    /// The same of a pipe.
    fn name_pipe(&mut self, name: &Arc<str>, id: Option<PipeId>) {
        if let Some(names) = self.names.get_mut() {
            match id {
                Some(id) => names.pipes.insert(Arc::clone(name), id),
                None => names.pipes.remove(name),
            };
        }
    }

    /// A problem of no place in the file.
    fn problem(&self, message: String) -> Diagnostic {
        Diagnostic::at(&self.file, 0, 0, message)
    }

    fn edited_pipe(&self, name: &str) -> Result<PipeId, Box<Diagnostic>> {
        let names = &self.names().pipes;
        names.get(name).copied().ok_or_else(|| {
            Box::new(
                self.problem(format!("there is no pipe `{name}`"))
                    .suggesting(nearest(name, names.keys().map(|name| &**name))),
            )
        })
    }

    fn edited_node(&self, name: &str) -> Result<NodeId, Box<Diagnostic>> {
        let names = &self.names().nodes;
        names.get(name).copied().ok_or_else(|| {
            Box::new(
                self.problem(format!("there is no node `{name}`"))
                    .suggesting(nearest(name, names.keys().map(|name| &**name))),
            )
        })
    }

    /// Makes what edits look up: the names of all nodes and pipes, and their ranks. The first edit else does so, which takes
    /// longer than the edit where the network is large.
    pub fn prepare_for_edits(&self) {
        self.names();
        self.drain_order.ranks();
        self.vent_order.ranks();
    }

    /// Makes some edits, one after the other, all of them or none. Between them the network need not be sound; in the end it
    /// is.
    ///
    /// Most is edited where it stands, and numbers stay. The network is built anew, which takes as long as to read it and
    /// numbers all anew, where
    /// - a run, or what stands at a node, becomes one of another kind;
    /// - a storey becomes of another height;
    /// - pipes, nodes or runs come or go while places in plan or passages through framing are known, or framing is laid out;
    /// - more than 256 edits have them come or go, or pipes come that put more than 256 nodes elsewhere in the orders of
    ///   flow;
    /// - another point of disposal comes.
    ///
    /// [`Edited::anew`] tells it. It tells too of edits made where places in plan are known, pipes pass framing or framing is laid out: these
    /// follow anew as a whole, but numbers stay. So they do where what holds for the site changes, or a storey comes.
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
    /// Which edits cannot be made, or what would be wrong with the network; it is then as it was.
    pub fn edit(&mut self, edits: &[Edit]) -> Result<Edited, EditError> {
        if self.is_edited_in_place(edits)
            && let Some((edited, made)) = self.edit_in_place(edits)?
        {
            self.history.push(Past::InPlace(Box::new(made)));
            return Ok(edited);
        }
        let anew = self.rebuilt(edits)?;
        let before = std::mem::replace(self, anew);
        self.keep(before);
        Ok(Edited {
            anew: true,
            ..Edited::default()
        })
    }

    /// Takes back the edits last [made](Self::edit), all that were made together; none where there are no more to be taken
    /// back. The network is as it was before them, to the numbers of its nodes and pipes. A run that they had added leaves
    /// a gap: edits that add it again have to call it by the [next](Self::next_run) number.
    ///
    /// The last hundred can be taken back, fewer of a network that is large and was built anew or has places in plan. A
    /// clone can be taken back as far.
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
    /// let before = network.to_yaml()?;
    /// network.edit(&[Edit::Pipe { pipe: "p".to_owned(), set: PipeProperty::Length("9 ft".parse().ok()) }])?;
    /// assert!(network.undo().is_some());
    /// assert_eq!(network.to_yaml()?, before);
    /// assert!(network.undo().is_none());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn undo(&mut self) -> Option<Edited> {
        let last = self.history.pop()?;
        let runs = self.runs.clone();
        let edited = match &*last {
            Past::InPlace(made) => self.take_back(made),
            Past::Anew(before) => {
                let history = std::mem::take(&mut self.history);
                self.clone_from(before);
                self.history = history;
                Edited {
                    anew: true,
                    ..Edited::default()
                }
            }
        };
        let first = self.runs.len();
        self.runs.extend(runs.into_iter().skip(first));
        self.gone_runs.extend(
            (first..self.runs.len())
                .filter_map(|number| u32::try_from(number).ok())
                .map(RunId::new),
        );
        Some(edited)
    }

    /// Keeps what the network was before it was built anew.
    fn keep(&mut self, mut before: Self) {
        self.history = std::mem::take(&mut before.history);
        self.history.push(Past::Anew(Box::new(before)));
    }
}
