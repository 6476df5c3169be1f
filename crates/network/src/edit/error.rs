//! Why edits are refused: which of them, or what of the network that they would make.

use std::fmt;

use crownweir_document::{Diagnostic, Limits};

use super::{Edit, NodeProperty};
use crate::geometry::Denied;
use crate::model::{Network, Node, NodeId, PipeId, Position};
use crate::stated::one_to_a_line;

/// Why edits are refused; the network is as it was.
#[derive(Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub struct EditError {
    /// What is wrong: one thing at the least, and as many as [`Limits::default`] has told of a file at the most.
    pub faults: Vec<EditFault>,
    /// How many more there were.
    pub omitted: usize,
}

/// One thing that is wrong with edits.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum EditFault {
    /// An edit cannot be made, or what it makes of its node or pipe cannot stay.
    #[error("edit {number}, {what}: {problem}")]
    Edit {
        /// Which edit of the list it is, counted from one.
        number: usize,
        /// What it edits, adds or takes out, such as "pipe `a`".
        what: String,
        /// What is wrong. Its place is line 0, none: it is not the file that says so.
        problem: Diagnostic,
    },
    /// Each edit can be made, but what no edit of the list names cannot stay as it is. The place is that in the file;
    /// line 0 where it is of the whole network, or of what an earlier edit has added.
    #[error("{0}")]
    Network(Diagnostic),
}

/// As for people: a program whose `main` gives errors back prints them so.
impl fmt::Debug for EditError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Display for EditError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        one_to_a_line(f, &self.faults, self.omitted)
    }
}

/// What is wrong with some edits, as it is found.
pub(super) struct Faults<'e> {
    edits: &'e [Edit],
    list: Vec<EditFault>,
    omitted: usize,
}

impl<'e> Faults<'e> {
    pub(super) fn of(edits: &'e [Edit]) -> Self {
        Self {
            edits,
            list: Vec::new(),
            omitted: 0,
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// The faults, or `value` if there are none.
    pub(super) fn or<T>(self, value: Option<T>) -> Result<T, EditError> {
        match value {
            Some(value) if self.list.is_empty() => Ok(value),
            _ => Err(EditError {
                faults: self.list,
                omitted: self.omitted,
            }),
        }
    }

    /// An edit, by its index, that cannot be made in the network as it is by then.
    pub(super) fn at_edit(&mut self, index: usize, network: &Network, problem: Diagnostic) {
        if !self.has_room() {
            return;
        }
        let edit = self.edits.get(index);
        let adds = |later: &Edit| edit.is_some_and(|edit| network.lacks(edit, later));
        let problem = match self.edits.iter().skip(index).position(adds) {
            Some(after) => problem.helped(format!(
                "edit {} adds it, and has to stand before",
                index + after + 1
            )),
            None => problem,
        };
        self.push(Some(index), Position::default(), problem);
    }

    /// Something wrong at a node: in the last edit of it, or of those that add a pipe there, or else where the file has it.
    pub(super) fn at_node(&mut self, network: &Network, id: NodeId, problem: Diagnostic) {
        if let Some(node) = network.graph.node_weight(id)
            && self.has_room()
        {
            let of_node = |edit: &Edit| edit.node() == Some(&*node.name);
            let joins = |edit: &Edit| {
                let Edit::AddPipe { from, to, .. } = edit else {
                    return false;
                };
                [from, to].into_iter().any(|end| **end == *node.name)
            };
            let edit = self.edits.iter().rposition(of_node);
            let edit = edit.or_else(|| self.edits.iter().rposition(joins));
            self.push(edit, node.position, problem);
        }
    }

    /// The same of a pipe.
    pub(super) fn at_pipe(&mut self, network: &Network, id: PipeId, problem: Diagnostic) {
        if let Some(pipe) = network.graph.edge_weight(id)
            && self.has_room()
        {
            let of_pipe = |edit: &Edit| edit.pipe() == Some(&*pipe.name);
            let edit = self.edits.iter().rposition(of_pipe);
            self.push(edit, pipe.position, problem);
        }
    }

    /// What denies itself.
    pub(super) fn at_denied(&mut self, network: &Network, denied: Denied, problem: Diagnostic) {
        match denied {
            Denied::Pipe(pipe) => self.at_pipe(network, pipe, problem),
            Denied::Node(node, _) => self.at_node(network, node, problem),
        }
    }

    /// Pipes that are stated to pass framing elsewhere than they lie.
    pub(super) fn at_passages(&mut self, network: &Network) {
        for (number, (message, help)) in network.denied_passages() {
            if let Some(passage) = network.passages.get(number) {
                let problem = network.problem(message).helped(help);
                self.at_pipe(network, passage.pipe, problem);
            }
        }
    }

    /// Something wrong with the network as a whole.
    pub(super) fn at_network(&mut self, problem: Diagnostic) {
        if self.has_room() {
            self.push(None, Position::default(), problem);
        }
    }

    /// Whether one more is kept; else it is counted.
    fn has_room(&mut self) -> bool {
        let room = self.list.len() < Limits::default().diagnostics;
        self.omitted += usize::from(!room);
        room
    }

    fn push(&mut self, edit: Option<usize>, position: Position, mut problem: Diagnostic) {
        let edit = edit.and_then(|index| Some((index + 1, self.edits.get(index)?)));
        self.list.push(match edit {
            Some((number, edit)) => EditFault::Edit {
                number,
                what: edit.what(),
                problem,
            },
            None => {
                (problem.place.line, problem.place.column) =
                    (position.line as usize, position.column as usize);
                EditFault::Network(problem)
            }
        });
    }
}

impl Edit {
    /// What it edits, adds or takes out.
    fn what(&self) -> String {
        match (self, self.node(), self.pipe()) {
            (_, Some(node), _) => format!("node `{node}`"),
            (_, _, Some(pipe)) => format!("pipe `{pipe}`"),
            (Self::AddRun(run), ..) => format!("run `{}`", run.name),
            (Self::RunKind { run, .. } | Self::RemoveRun(run), ..) => format!("run number {run}"),
            (Self::Site(_), ..) => "the site".to_owned(),
            (Self::StoreyHeight { storey, .. }, ..) => format!("storey number {storey}"),
            (Self::AddStorey(storey), ..) => format!("storey `{}`", storey.name),
            _ => String::new(),
        }
    }

    /// The name of the node that it edits, adds or takes out.
    fn node(&self) -> Option<&str> {
        match self {
            Self::Node { node: name, .. } | Self::RemoveNode(name) => Some(name),
            Self::AddNode(node) => Some(&node.name),
            _ => None,
        }
    }

    /// The name of the pipe that it edits, adds or takes out.
    fn pipe(&self) -> Option<&str> {
        match self {
            Self::Pipe { pipe: name, .. } | Self::RemovePipe(name) => Some(name),
            Self::AddPipe { pipe, .. } => Some(&pipe.name),
            _ => None,
        }
    }
}

impl Network {
    /// Whether an edit refers to what is not there and another edit adds.
    fn lacks(&self, edit: &Edit, adding: &Edit) -> bool {
        let names = self.names();
        let is_above = |storey: u32| storey as usize >= self.storeys.len();
        match (edit, adding) {
            (Edit::AddPipe { from, to, .. }, Edit::AddNode(node)) => {
                !names.nodes.contains_key(&node.name) && [from, to].into_iter().any(|end| **end == *node.name)
            }
            (Edit::AddPipe { pipe, .. }, Edit::AddRun(_)) => pipe.run >= self.next_run(),
            (Edit::RunKind { run, .. } | Edit::RemoveRun(run), Edit::AddRun(_)) => *run >= self.next_run(),
            (Edit::Node { node: name, .. } | Edit::RemoveNode(name), Edit::AddNode(node)) => {
                !names.nodes.contains_key(&node.name) && **name == *node.name
            }
            (Edit::Pipe { pipe: name, .. } | Edit::RemovePipe(name), Edit::AddPipe { pipe, .. }) => {
                !names.pipes.contains_key(&pipe.name) && **name == *pipe.name
            }
            (Edit::AddNode(Node { storey, .. }), Edit::AddStorey(_)) => storey.is_some_and(is_above),
            (Edit::Node { set, .. }, Edit::AddStorey(_)) => {
                matches!(set, NodeProperty::Storey(Some(storey)) if is_above(*storey))
            }
            (Edit::StoreyHeight { storey, .. }, Edit::AddStorey(_)) => is_above(*storey),
            _ => false,
        }
    }
}
