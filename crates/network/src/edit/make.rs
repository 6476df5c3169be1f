//! Each edit by itself, made to a network where it stands, and undone.

use std::sync::Arc;

use crownweir_document::Diagnostic;
use crownweir_quantity::{Flow, Length, Slope, Volume};
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::EdgeRef;

use super::{Edit, NodeProperty, PipeProperty};
use crate::model::{Network, Node, NodeId, NodeKind, Pipe, PipeId, RunId, Site, StatedWay};
use crate::stated::{Denied, bounds_denied, choice_denied, length_denied, name_denied, property_denied};

/// What edits did, one step after the other, to be undone.
#[derive(Debug, Default)]
pub(super) struct Log {
    pub(super) steps: Vec<Step>,
    /// Nodes whose heights, or those of their pipes' other ends, may follow otherwise.
    pub(super) around: Vec<NodeId>,
    /// Nodes at which something else stands, or on another floor.
    pub(super) standing: Vec<NodeId>,
}

/// A step, with what was there before it.
#[derive(Debug)]
pub(super) enum Step {
    SetNode(NodeId, Node),
    SetPipe(PipeId, Pipe),
    GaveHeight(NodeId, bool),
    GaveLength(PipeId, bool),
    GaveSlope(PipeId, bool),
    AddedRun,
    TookRun(RunId),
    AddedNode(NodeId),
    AddedPipe(PipeId),
    TookNode(NodeId, Node),
    TookPipe(PipeId, [NodeId; 2], Pipe),
    TookWay(Arc<str>, StatedWay),
    SetSite(Site),
    /// With the height that the storey below it had.
    AddedStorey(Option<Length>),
}

impl Network {
    /// Makes an edit. Whether the network is still one, and what follows of heights, is for the caller to see.
    pub(super) fn make(&mut self, edit: &Edit, log: &mut Log) -> Result<(), Box<Diagnostic>> {
        match edit {
            Edit::Pipe { pipe, set } => {
                let id = self.edited_pipe(pipe)?;
                self.set_pipe(id, *set, log)
            }
            Edit::Node { node, set } => {
                let id = self.edited_node(node)?;
                self.set_node(id, set, log)
            }
            Edit::RunKind { run, kind } => {
                let is_gone = self.gone_runs.contains(run);
                let Some(own) = self.runs.get_mut(run.index()).filter(|_| !is_gone) else {
                    return Err(self.no_run(*run));
                };
                if own.kind.role() != kind.role() {
                    let message = format!("`{}` is not a kind of {}", kind.name(), own.kind.role());
                    return Err(Box::new(self.problem(message)));
                }
                own.kind = *kind;
                Ok(())
            }
            Edit::AddRun(run) => {
                self.allow(name_denied(&run.name))?;
                self.runs.push(run.clone());
                log.steps.push(Step::AddedRun);
                Ok(())
            }
            Edit::RemoveRun(run) => self.remove_run(*run, log),
            Edit::AddNode(node) => self.add_node(node, log),
            Edit::AddPipe { from, to, pipe } => {
                let ends = [self.edited_node(from)?, self.edited_node(to)?];
                self.add_pipe(ends, pipe, log)
            }
            Edit::RemovePipe(name) => {
                let id = self.edited_pipe(name)?;
                self.remove_pipe(id, log);
                Ok(())
            }
            Edit::RemoveNode(name) => {
                let id = self.edited_node(name)?;
                self.remove_node(id, log);
                Ok(())
            }
            Edit::Site(set) => {
                self.set_site(*set, log);
                Ok(())
            }
            Edit::StoreyHeight { storey, height } => self.set_storey_height(*storey, *height),
            Edit::AddStorey(storey) => self.add_storey(storey, log),
        }
    }

    pub(super) fn allow(&self, denied: Option<Denied>) -> Result<(), Box<Diagnostic>> {
        match denied {
            Some((message, expected)) => Err(Box::new(self.problem(message).expecting(expected))),
            None => Ok(()),
        }
    }

    fn set_pipe(&mut self, id: PipeId, set: PipeProperty, log: &mut Log) -> Result<(), Box<Diagnostic>> {
        let name = self.graph.edge_weight(id).map_or("", |pipe| &*pipe.name);
        let (length, spacing) = match set {
            PipeProperty::Length(length) => (length, None),
            PipeProperty::SupportSpacing(spacing) => (None, spacing),
            _ => (None, None),
        };
        let slope = match set {
            PipeProperty::Slope(slope) => slope_denied(name, slope),
            _ => None,
        };
        let passes_beyond = || {
            let stated = self.passages.iter().take(self.stated_passages);
            let beyond =
                |along: Option<Length>| along.zip(length).is_some_and(|(along, length)| along > length);
            let is_any = stated
                .into_iter()
                .any(|passage| passage.pipe == id && beyond(passage.along));
            is_any.then(|| {
                let message = format!("a member that `{name}` is stated to pass stands beyond that length");
                (message, "a length that reaches as far")
            })
        };
        let denied = lengths_denied(name, length, spacing).or(slope);
        self.allow(denied.or_else(passes_beyond))?;
        let ends = self.graph.edge_endpoints(id);
        let Some(pipe) = self.graph.edge_weight_mut(id) else {
            return Ok(());
        };
        log.steps.push(Step::SetPipe(id, pipe.clone()));
        let mut moves = false;
        match set {
            PipeProperty::Size(size) => pipe.size = size,
            PipeProperty::Length(length) => {
                pipe.length = length;
                let gave = note(&mut self.given.lengths, id.index(), length.is_some());
                log.steps.push(Step::GaveLength(id, gave));
                moves = true;
            }
            PipeProperty::Slope(slope) => {
                (pipe.slope, pipe.slope_bounds) = (slope, None);
                let gave = note(&mut self.given.slopes, id.index(), slope.is_some());
                log.steps.push(Step::GaveSlope(id, gave));
                moves = true;
            }
            PipeProperty::Material(material) => pipe.material = material,
            PipeProperty::SupportSpacing(spacing) => pipe.support_spacing = spacing,
            PipeProperty::MidStoreyGuide(guide) => pipe.mid_storey_guide = guide,
            PipeProperty::Underground(underground) => pipe.underground = underground,
            PipeProperty::Enters(enters) => (pipe.enters, pipe.enters_stated) = (enters, true),
        }
        if moves && let Some((from, to)) = ends {
            log.around.extend([from, to]);
        }
        Ok(())
    }

    fn set_node(&mut self, id: NodeId, set: &NodeProperty, log: &mut Log) -> Result<(), Box<Diagnostic>> {
        match set {
            NodeProperty::Stands(kind) => {
                let name = self.graph.node_weight(id).map_or("", |node| &*node.name);
                self.allow(kind_denied(name, kind))?;
            }
            NodeProperty::Storey(Some(storey)) if *storey as usize >= self.storeys.len() => {
                return Err(self.no_storey(*storey));
            }
            _ => {}
        }
        let Some(node) = self.graph.node_weight_mut(id) else {
            return Ok(());
        };
        log.steps.push(Step::SetNode(id, node.clone()));
        match set {
            NodeProperty::Stands(kind) => {
                node.kind = as_made(kind);
                log.standing.push(id);
            }
            NodeProperty::Storey(storey) => {
                node.storey = *storey;
                log.standing.push(id);
            }
            NodeProperty::Elevation(height) => {
                node.elevation = *height;
                let gave = note(&mut self.given.heights, id.index(), height.is_some());
                log.steps.push(Step::GaveHeight(id, gave));
                log.around.push(id);
                log.around.extend(self.graph.neighbors_undirected(id));
            }
        }
        Ok(())
    }

    pub(super) fn add_node(&mut self, node: &Node, log: &mut Log) -> Result<(), Box<Diagnostic>> {
        if self.names().nodes.contains_key(&node.name) {
            let message = format!("a second node is called `{}`", node.name);
            return Err(Box::new(self.problem(message).expecting("another name")));
        }
        let storeys = self.storeys.len();
        if let Some(storey) = node.storey.filter(|&storey| storey as usize >= storeys) {
            return Err(self.no_storey(storey));
        }
        self.allow(name_denied(&node.name).or_else(|| kind_denied(&node.name, &node.kind)))?;
        let id = self.graph.add_node(Node {
            kind: as_made(&node.kind),
            ..node.clone()
        });
        note(&mut self.given.heights, id.index(), node.elevation.is_some());
        if !self.given.plan.positions.is_empty() {
            put(&mut self.given.plan.positions, id.index(), [None; 2]);
        }
        self.name_node(&node.name, Some(id));
        log.steps.push(Step::AddedNode(id));
        log.around.push(id);
        Ok(())
    }

    fn add_pipe(
        &mut self,
        [from, to]: [NodeId; 2],
        pipe: &Pipe,
        log: &mut Log,
    ) -> Result<(), Box<Diagnostic>> {
        if self.names().pipes.contains_key(&pipe.name) {
            let message = format!("a second pipe is called `{}`", pipe.name);
            return Err(Box::new(self.problem(message).expecting("a name of its own")));
        }
        let name = |id: NodeId| self.graph.node_weight(id).map_or("", |node| &*node.name);
        self.allow(pipe_denied(pipe, [name(from), name(to)]))?;
        let Some(run) = self.run(pipe.run) else {
            return Err(self.no_run(pipe.run));
        };
        if run.kind.role() != pipe.role {
            let message = format!("`{}` is not a kind of {}", run.kind.name(), pipe.role);
            return Err(Box::new(self.problem(message)));
        }
        let id = self.graph.add_edge(from, to, pipe.clone());
        note(&mut self.given.lengths, id.index(), pipe.length.is_some());
        note(&mut self.given.slopes, id.index(), pipe.slope.is_some());
        if !self.given.plan.bearings.is_empty() {
            put(&mut self.given.plan.bearings, id.index(), None);
        }
        self.name_pipe(&pipe.name, Some(id));
        log.steps.push(Step::AddedPipe(id));
        log.around.extend([from, to]);
        Ok(())
    }

    fn remove_pipe(&mut self, id: PipeId, log: &mut Log) {
        let Some((from, to)) = self.graph.edge_endpoints(id) else {
            return;
        };
        let Some(pipe) = self.graph.remove_edge(id) else {
            return;
        };
        self.name_pipe(&pipe.name, None);
        // What is stated of its way is not of another pipe that comes to be called so.
        if let Some((name, way)) = self.stated_ways.remove_entry(&pipe.name) {
            log.steps.push(Step::TookWay(name, way));
        }
        self.passages.retain(|passage| passage.pipe != id);
        self.stated_passages = self.passages.len();
        for (list, step) in [
            (
                &mut self.given.lengths,
                Step::GaveLength as fn(PipeId, bool) -> Step,
            ),
            (&mut self.given.slopes, Step::GaveSlope),
        ] {
            log.steps.push(step(id, note(list, id.index(), false)));
        }
        log.steps.push(Step::TookPipe(id, [from, to], pipe));
        log.around.extend([from, to]);
    }

    fn no_run(&self, run: RunId) -> Box<Diagnostic> {
        Box::new(self.problem(format!("there is no run number {run}")))
    }

    fn remove_run(&mut self, id: RunId, log: &mut Log) -> Result<(), Box<Diagnostic>> {
        if self.run(id).is_none() {
            return Err(self.no_run(id));
        }
        self.gone_runs.insert(id);
        log.steps.push(Step::TookRun(id));
        let own = |pipe: &PipeId| self.graph.edge_weight(*pipe).is_some_and(|pipe| pipe.run == id);
        let pipes: Vec<PipeId> = self.graph.edge_indices().filter(own).collect();
        for pipe in pipes {
            self.remove_pipe(pipe, log);
        }
        Ok(())
    }

    fn remove_node(&mut self, id: NodeId, log: &mut Log) {
        let pipes = |direction| self.graph.edges_directed(id, direction).map(|edge| edge.id());
        let pipes: Vec<PipeId> = pipes(Outgoing).chain(pipes(Incoming)).collect();
        for pipe in pipes {
            self.remove_pipe(pipe, log);
        }
        let Some(node) = self.graph.remove_node(id) else {
            return;
        };
        self.name_node(&node.name, None);
        let gave = note(&mut self.given.heights, id.index(), false);
        log.steps.push(Step::GaveHeight(id, gave));
        log.steps.push(Step::TookNode(id, node));
    }

    /// The last step first, so that what was there before all of them comes back. What is put back gets the number that
    /// it had: the graph gives again first what was given up last.
    pub(super) fn unmake(&mut self, log: &Log) {
        for step in log.steps.iter().rev() {
            match step {
                Step::SetNode(id, node) => {
                    if let Some(own) = self.graph.node_weight_mut(*id) {
                        own.clone_from(node);
                    }
                }
                Step::SetPipe(id, pipe) => {
                    if let Some(own) = self.graph.edge_weight_mut(*id) {
                        own.clone_from(pipe);
                    }
                }
                Step::GaveHeight(id, gave) => drop(note(&mut self.given.heights, id.index(), *gave)),
                Step::GaveLength(id, gave) => drop(note(&mut self.given.lengths, id.index(), *gave)),
                Step::GaveSlope(id, gave) => drop(note(&mut self.given.slopes, id.index(), *gave)),
                Step::AddedRun => drop(self.runs.pop()),
                Step::TookRun(id) => drop(self.gone_runs.remove(id)),
                Step::AddedNode(id) => {
                    if let Some(node) = self.graph.remove_node(*id) {
                        self.name_node(&node.name, None);
                    }
                }
                Step::AddedPipe(id) => {
                    if let Some(pipe) = self.graph.remove_edge(*id) {
                        self.name_pipe(&pipe.name, None);
                    }
                }
                Step::TookNode(_, node) => {
                    let id = self.graph.add_node(node.clone());
                    self.name_node(&node.name, Some(id));
                }
                Step::TookWay(name, way) => drop(self.stated_ways.insert(Arc::clone(name), way.clone())),
                Step::SetSite(site) => self.site.clone_from(site),
                Step::AddedStorey(height) => {
                    self.storeys.pop();
                    if let Some(below) = self.storeys.last_mut() {
                        below.height = *height;
                    }
                }
                Step::TookPipe(_, [from, to], pipe) => {
                    let id = self.graph.add_edge(*from, *to, pipe.clone());
                    self.name_pipe(&pipe.name, Some(id));
                }
            }
        }
    }
}

/// What stands at a node, as a file would be read that states as much: a trap of which no kind is stated is of that with
/// which the fixture is made.
fn as_made(kind: &NodeKind) -> NodeKind {
    match kind {
        NodeKind::Fixture(fixture) if fixture.trap.kind.is_none() => {
            let mut fixture = Arc::clone(fixture);
            if let Some(kind) = fixture.fixture_type.made_with() {
                Arc::make_mut(&mut fixture).trap.kind = Some(kind);
            }
            NodeKind::Fixture(fixture)
        }
        other => other.clone(),
    }
}

/// What is wrong with what is stated of a pipe that is to be added between two nodes, and what would be right.
fn pipe_denied(pipe: &Pipe, ends: [&str; 2]) -> Option<Denied> {
    let both = || {
        (pipe.slope.is_some() && pipe.slope_bounds.is_some()).then(|| {
            let message = format!(
                "the pipe `{}` has a slope, and bounds within which one is to be chosen",
                pipe.name
            );
            (message, "one of the two")
        })
    };
    // One that is called after its ends has a name that no file states.
    let name = if pipe.is_called_after(ends) {
        None
    } else {
        name_denied(&pipe.name)
    };
    name.or_else(|| slope_denied(&pipe.name, pipe.slope))
        .or_else(|| lengths_denied(&pipe.name, pipe.length, pipe.support_spacing))
        .or_else(|| choice_denied(pipe.role, pipe.slope_bounds))
        .or_else(|| Some((bounds_denied(pipe.slope_bounds?)?, "the least first")))
        .or_else(both)
}

/// The same of a pipe's slope.
fn slope_denied(pipe: &str, slope: Option<Slope>) -> Option<Denied> {
    let is_negative = slope.is_some_and(|slope| slope.rise() < 0);
    is_negative.then(|| {
        let message = format!("the slope of the pipe `{pipe}` is negative");
        (message, "one that is not; it may follow from heights")
    })
}

/// The same of a pipe's lengths.
fn lengths_denied(pipe: &str, length: Option<Length>, spacing: Option<Length>) -> Option<Denied> {
    let lengths = [("length", length), ("support spacing", spacing)];
    length_denied(pipe, length).or_else(|| negative_length(("pipe", pipe), lengths))
}

/// The same of what stands at a node.
fn kind_denied(name: &str, kind: &NodeKind) -> Option<Denied> {
    let of = (kind.word(), name);
    let lengths = match kind {
        NodeKind::Fixture(fixture) => {
            let trap = &fixture.trap;
            let group = || name_denied(fixture.group.as_deref()?);
            let flows = [
                ("flow", fixture.flow.map(Flow::picolitres_per_minute)),
                ("flush volume", fixture.flush_volume.map(Volume::picolitres)),
                ("load", fixture.load.map(|stated| stated.load.thousandths())),
            ];
            let denied = property_denied(fixture)
                .map(|(_, denied)| denied)
                .or_else(group)
                .or_else(|| negative(of, flows, "one that is not negative"));
            if denied.is_some() {
                return denied;
            }
            vec![
                ("rim height", fixture.rim_height),
                ("standpipe height", fixture.standpipe_height),
                ("trap seal", trap.seal),
                ("outlet drop", trap.outlet_drop),
                ("outlet offset", trap.outlet_offset),
            ]
        }
        NodeKind::Cleanout(cleanout) => vec![("clearance", cleanout.clearance)],
        NodeKind::Terminal(terminal) => vec![
            ("height above the roof", terminal.height_above_roof),
            ("distance to the lot line", terminal.lot_line_distance),
            ("height above the ground", terminal.height_above_ground),
            ("way inside at the larger size", terminal.enlarged_inside),
            (
                "distance to the nearest opening",
                terminal.nearest_opening.flatten().map(|opening| opening.distance),
            ),
        ],
        NodeKind::Valve(valve) => {
            let flow = [("air flow", valve.air_flow.map(Flow::picolitres_per_minute))];
            let denied = negative(of, flow, "one that is not negative");
            if denied.is_some() {
                return denied;
            }
            vec![("height above the drain", valve.height_above_drain)]
        }
        NodeKind::Fitting { .. } | NodeKind::Disposal => Vec::new(),
    };
    negative_length(of, lengths)
}

/// Of the first of some lengths that is less than none.
pub(super) fn negative_length<'w>(
    of: (&str, &str),
    lengths: impl IntoIterator<Item = (&'w str, Option<Length>)>,
) -> Option<Denied> {
    let lengths = lengths.into_iter();
    let lengths = lengths.map(|(what, stated)| (what, stated.map(Length::nanometres)));
    negative(of, lengths, "a length that is not negative")
}

/// Of the first of some figures that is less than none.
fn negative<'w>(
    (word, name): (&str, &str),
    figures: impl IntoIterator<Item = (&'w str, Option<i64>)>,
    expected: &'static str,
) -> Option<Denied> {
    let mut figures = figures.into_iter();
    let is_negative = |stated: &Option<i64>| stated.is_some_and(|stated| stated < 0);
    let (what, _) = figures.find(|(_, stated)| is_negative(stated))?;
    Some((format!("the {what} of the {word} `{name}` is negative"), expected))
}

/// Notes whether something is given, and gives what was noted before.
fn note(list: &mut Vec<bool>, at: usize, given: bool) -> bool {
    let before = list.get(at).copied().unwrap_or(false);
    put(list, at, given);
    before
}

/// Puts an entry in its place in a list, which may not reach so far yet.
fn put<T: Clone + Default>(list: &mut Vec<T>, at: usize, entry: T) {
    if list.len() <= at {
        list.resize(at + 1, T::default());
    }
    if let Some(slot) = list.get_mut(at) {
        *slot = entry;
    }
}
