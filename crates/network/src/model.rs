//! The network as a graph: what stands at its nodes, what its pipes are.
//!
//! It holds what the author stated and what geometry alone derives from it, never a rule's opinion.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

use crownweir_quantity::{
    Angle, Bearing, Flow, Length, NominalSize, Notation, Period, Slope, StatedLoad, Temperature, Volume,
};
use crownweir_vocabulary::{
    BuildingUse, Cut, FittingPattern, FixtureType, FlushKind, Inlet, Material, MemberEdge, MemberKind,
    MemberMake, MemberRuns, Occupancy, Role, RoofUse, RunKind, SystemType, TestMedium, Through, TrapKind,
    UrinalKind, ValveKind,
};
use petgraph::Direction;
use petgraph::graph::{EdgeIndex, NodeIndex};
use petgraph::stable_graph::StableDiGraph;
use petgraph::visit::{EdgeIndexable, EdgeRef, IntoEdgeReferences};

use crate::edit::{History, Names};
use crate::geometry::Given;
use crate::heights::Levels;
use crate::offset::{Line, Offset};
use crate::order::{FlowOrder, Order};
use crate::plan::Plan;
use crate::refill::Unsettled;
use crate::structure;

/// A node of the graph.
pub type NodeId = NodeIndex<u32>;
/// A pipe of the graph.
pub type PipeId = EdgeIndex<u32>;
/// The graph of a network. The numbers of nodes and pipes outlive edits by which others come and go, which leave gaps.
pub type Graph = StableDiGraph<Node, Pipe, u32>;

/// A drain-waste-vent network whose structure has been checked.
///
/// Along drain pipes every path leads to the one point of disposal; along vent pipes every path leads to a
/// terminal or a valve.
#[derive(Debug, Clone)]
pub struct Network {
    pub(crate) name: String,
    pub(crate) rules: Option<String>,
    pub(crate) framing_rules: Option<String>,
    pub(crate) dimensions: Vec<String>,
    pub(crate) notation: Notation,
    pub(crate) site: Site,
    pub(crate) storeys: Vec<Storey>,
    /// Those that were taken out too.
    pub(crate) runs: Vec<Run>,
    pub(crate) gone_runs: BTreeSet<RunId>,
    pub(crate) graph: Graph,
    pub(crate) plan: Plan,
    pub(crate) disposal: NodeId,
    pub(crate) ends_in_sump: bool,
    pub(crate) drain_order: Order,
    pub(crate) vent_order: Order,
    pub(crate) tests: Vec<Test>,
    pub(crate) framing: Vec<Members>,
    pub(crate) passages: Vec<Passage>,
    /// Offsets and inverts, by the names of the pipes that state them.
    pub(crate) stated_ways: BTreeMap<Arc<str>, StatedWay>,
    pub(crate) file: Arc<str>,
    /// What was stated before geometry derived the rest; kept only where a slope is still to be chosen.
    pub(crate) unsettled: Option<Arc<Unsettled>>,
    /// How many of the passages, from the first on, are stated; the others follow from places.
    pub(crate) stated_passages: usize,
    /// How many members pipes may pass at the most: so many nodes as the limits allowed that the network was read with.
    pub(crate) most: usize,
    /// What the author gave of the geometry.
    pub(crate) given: Given,
    /// Nodes and pipes by their names, from the first time that edits ask.
    pub(crate) names: OnceLock<Names>,
    /// The last edits, to be undone.
    pub(crate) history: History,
}

impl Network {
    /// The name of the building.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The rule set that the network asks for.
    #[must_use]
    pub fn rules(&self) -> Option<&str> {
        self.rules.as_deref()
    }

    /// The rule set that the network asks for where pipes pass framing.
    #[must_use]
    pub fn framing_rules(&self) -> Option<&str> {
        self.framing_rules.as_deref()
    }

    /// The number of every pipe as a piece to be cut, by its index: `D` for drains and `V` for vents, counted as the file has
    /// them. Cut lists and drawings show the same.
    #[must_use]
    pub fn piece_numbers(&self) -> Vec<String> {
        let mut order: Vec<_> = self.graph.edge_references().collect();
        order.sort_by_key(|pipe| {
            let storey = self.graph.node_weight(pipe.source()).and_then(|node| node.storey);
            let own = pipe.weight();
            (own.position.line, own.position.column, storey, &own.name)
        });
        let mut numbers = vec![String::new(); self.graph.edge_bound()];
        let (mut drains, mut vents) = (0, 0);
        for pipe in order {
            let (letter, count) = match pipe.weight().role {
                Role::Vent => ('V', &mut vents),
                _ => ('D', &mut drains),
            };
            *count += 1;
            if let Some(number) = numbers.get_mut(pipe.id().index()) {
                *number = format!("{letter}{count}");
            }
        }
        numbers
    }

    /// The files of dimensions that the network asks its shop sheets to be made by; the last goes before the others.
    pub fn dimensions(&self) -> impl Iterator<Item = &str> {
        self.dimensions.iter().map(String::as_str)
    }

    /// The offset that the file states of a pipe between two bends.
    #[must_use]
    pub fn offset(&self, pipe: PipeId) -> Option<Offset> {
        self.stated_offset(pipe).map(|(offset, _)| offset)
    }

    /// The same, and the line that it moves aside; none where an edit has put other bends at its ends.
    pub(crate) fn stated_offset(&self, pipe: PipeId) -> Option<(Offset, Line)> {
        let stated = self.stated_way(pipe)?.offset?;
        let (from, to) = self.graph.edge_endpoints(pipe)?;
        let turns = |id| self.graph.node_weight(id).and_then(|node| node.kind.turn()) == Some(stated.0.angle);
        (turns(from) && turns(to)).then_some(stated)
    }

    /// The heights of the inside bottom that the file states of a pipe, at its start and its end.
    #[must_use]
    pub fn inverts(&self, pipe: PipeId) -> Option<[Length; 2]> {
        self.stated_way(pipe)?.inverts
    }

    /// What a pipe states of its way, as long as no edit has changed its length or slope.
    fn stated_way(&self, pipe: PipeId) -> Option<&StatedWay> {
        let own = self.graph.edge_weight(pipe)?;
        let stated = self.stated_ways.get(&own.name)?;
        let length = own.length.filter(|_| self.given.length(pipe));
        let slope = own.slope.filter(|_| self.given.slope(pipe));
        ((stated.length, stated.slope) == (length, slope)).then_some(stated)
    }

    /// The notation in which reports print lengths and slopes.
    #[must_use]
    pub fn notation(&self) -> Notation {
        self.notation
    }

    /// What holds for the whole site.
    #[must_use]
    pub fn site(&self) -> &Site {
        &self.site
    }

    /// The storeys, from the lowest up.
    #[must_use]
    pub fn storeys(&self) -> &[Storey] {
        &self.storeys
    }

    /// The runs, in the order of the file.
    pub fn runs(&self) -> impl Iterator<Item = (RunId, &Run)> {
        let numbered = (0..).map(RunId::new).zip(&self.runs);
        numbered.filter(|(id, _)| !self.gone_runs.contains(id))
    }

    /// A run, unless it was taken out.
    #[must_use]
    pub fn run(&self, id: RunId) -> Option<&Run> {
        self.runs
            .get(id.index())
            .filter(|_| !self.gone_runs.contains(&id))
    }

    /// What a run is to the building, or was before it was taken out.
    #[must_use]
    pub fn kind_of_run(&self, id: RunId) -> Option<RunKind> {
        self.runs.get(id.index()).map(|run| run.kind)
    }

    /// The number that the next run will have that is added: above those of all runs that there were.
    #[must_use]
    pub fn next_run(&self) -> RunId {
        RunId::new(u32::try_from(self.runs.len()).unwrap_or(u32::MAX))
    }

    /// The directed graph. Drain pipes point the way water flows, vent pipes the way to open air.
    ///
    /// Numbers have gaps once edits have taken out nodes or pipes: a list by number is as long as
    /// [`node_bound`](petgraph::visit::NodeIndexable::node_bound) or
    /// [`edge_bound`](petgraph::visit::EdgeIndexable::edge_bound) tell.
    #[must_use]
    pub fn graph(&self) -> &Graph {
        &self.graph
    }

    /// How far east and how far north of the origin in plan a node stands, each where the file settles it. Without a
    /// stated position, the origin is the point of disposal.
    #[must_use]
    pub fn place_in_plan(&self, node: NodeId) -> [Option<Length>; 2] {
        self.plan.positions.get(node.index()).copied().unwrap_or_default()
    }

    /// The direction in plan of a pipe, the way it points; none where it is vertical or the file does not settle it.
    #[must_use]
    pub fn bearing(&self, pipe: PipeId) -> Option<Bearing> {
        let own = self.graph.edge_weight(pipe)?;
        let bearing = self.plan.bearings.get(pipe.index()).copied().flatten();
        bearing.filter(|_| !own.slope.is_some_and(Slope::is_vertical))
    }

    /// Whether a pipe goes up the way it points: a vent does, save the vertical one by which a loop comes down to its
    /// foot.
    #[must_use]
    pub fn goes_up(&self, pipe: PipeId) -> bool {
        crate::elevation::goes_up(&self.graph, pipe)
    }

    /// Where all drains end.
    #[must_use]
    pub fn disposal(&self) -> NodeId {
        self.disposal
    }

    /// Whether the point of disposal is a closed sump or tank that a pump empties.
    #[must_use]
    pub fn ends_in_sump(&self) -> bool {
        self.ends_in_sump
    }

    /// The nodes and pipes in an order that depends on no number, for what is to be the same however the network came to
    /// be: read, or edited. Found by looking at all of them.
    #[must_use]
    pub fn flow_order(&self) -> FlowOrder {
        FlowOrder::of(&self.graph)
    }

    /// The pipes that lead to a node or away from it, in an order that depends on no number: run by run, as they stand in
    /// the file.
    pub fn pipes_at(&self, node: NodeId, direction: Direction) -> impl Iterator<Item = PipeId> {
        structure::pipes_at(&self.graph, node, direction)
    }

    /// The nodes that drain pipes touch, each after all that drain into it; where there is none, the point of disposal.
    #[must_use]
    pub fn drain_order(&self) -> &[NodeId] {
        self.drain_order.list()
    }

    /// A number of each node that drain pipes touch, which ascends along [`drain_order`](Self::drain_order). Between edits by
    /// which nodes or pipes come or go it stays.
    #[must_use]
    pub fn drain_rank(&self, node: NodeId) -> Option<u64> {
        self.drain_order.rank(node)
    }

    /// The nodes that vent pipes touch, each after all whose vents lead to it.
    #[must_use]
    pub fn vent_order(&self) -> &[NodeId] {
        self.vent_order.list()
    }

    /// The same of each node that vent pipes touch, along [`vent_order`](Self::vent_order).
    #[must_use]
    pub fn vent_rank(&self, node: NodeId) -> Option<u64> {
        self.vent_order.rank(node)
    }

    /// The tests recorded or planned.
    #[must_use]
    pub fn tests(&self) -> &[Test] {
        &self.tests
    }

    /// The framing, row by row, in the order of the file.
    #[must_use]
    pub fn framing(&self) -> &[Members] {
        &self.framing
    }

    /// Where pipes pass framing, pipe by pipe in the order of the file, along each pipe in its own direction.
    #[must_use]
    pub fn passages(&self) -> &[Passage] {
        &self.passages
    }

    /// Whether the author states the height of what stands at a node, or a place that gives it.
    #[must_use]
    pub fn states_height(&self, node: NodeId) -> bool {
        self.given.height(node)
    }

    /// Whether the author states a pipe's length.
    #[must_use]
    pub fn states_length(&self, pipe: PipeId) -> bool {
        self.given.length(pipe)
    }

    /// Puts other passages in place of those that the network has. Those of pipes or framing that it does not have
    /// are left out. Edits made before cannot be undone any more.
    pub fn set_passages(&mut self, passages: Vec<Passage>) {
        self.history = History::default();
        self.stated_passages = passages.len();
        self.passages = passages;
        let (graph, framing) = (&self.graph, self.framing.len());
        self.passages.retain(|passage| {
            graph.edge_weight(passage.pipe).is_some() && (passage.members as usize) < framing
        });
    }

    /// Puts other tests in place of those that the network has. Edits made before cannot be undone any more.
    pub fn set_tests(&mut self, tests: Vec<Test>) {
        self.history = History::default();
        self.tests = tests;
    }

    /// The storey that a passage is measured from: that of the members, or else of the pipe's start.
    #[must_use]
    pub fn storey_of(&self, passage: &Passage) -> Option<u32> {
        let members = self.framing.get(passage.members as usize)?;
        let start = || self.graph.edge_endpoints(passage.pipe).map(|(from, _)| from);
        members
            .storey
            .or_else(|| self.graph.node_weight(start()?).and_then(|node| node.storey))
    }

    /// Height of a pipe's centre line above the datum at a distance `x` along it from its start: for ends at the
    /// heights `a` and `b` and the length `L`, `a + (b - a) x / L`, to the nearest nanometre.
    #[must_use]
    pub fn height_along(&self, pipe: PipeId, along: Length) -> Option<Length> {
        let (from, to) = self.graph.edge_endpoints(pipe)?;
        let height = |id: NodeId| self.graph.node_weight(id).and_then(|node| node.elevation);
        let (start, end) = (height(from)?, height(to)?);
        let length = self.graph.edge_weight(pipe)?.length?.nanometres();
        let twice = |length: i64| i128::from(length) * 2;
        let rise = i128::from(end.nanometres()) - i128::from(start.nanometres());
        let part = rise.checked_mul(twice(along.nanometres()))?;
        let reached = part
            .checked_add(i128::from(length))?
            .checked_div_euclid(twice(length))?;
        let height = i128::from(start.nanometres()).checked_add(reached)?;
        i64::try_from(height).ok().map(Length::from_nanometres)
    }

    /// Height of the upper edge of the members at a passage above the datum.
    #[must_use]
    pub fn top_of_members(&self, passage: &Passage) -> Option<Length> {
        let members = self.framing.get(passage.members as usize)?;
        floor(&self.storeys, self.storey_of(passage))?.checked_add(members.top?)
    }

    /// Distance of a pipe's centre from the lower edge of the joist or rafter that it passes, or from one face of the
    /// stud or plate: as stated, or, in a joist or rafter, by the heights of both.
    #[must_use]
    pub fn centre_of(&self, passage: &Passage) -> Option<Length> {
        let members = self.framing.get(passage.members as usize)?;
        match passage.centre {
            Some(Centre::At(centre)) => return Some(centre),
            Some(Centre::Middle) => {
                let depth = members.depth?;
                return Some(Length::from_nanometres(depth.nanometres() / 2));
            }
            None => {}
        }
        self.centre_by_heights(passage)
    }

    /// Distance of a pipe's centre from the lower edge of the joist or rafter that it passes, by the heights of both.
    pub(crate) fn centre_by_heights(&self, passage: &Passage) -> Option<Length> {
        let members = self.framing.get(passage.members as usize)?;
        if !matches!(members.kind, MemberKind::Joist | MemberKind::Rafter) {
            return None;
        }
        let lower = self.top_of_members(passage)?.checked_sub(members.depth?)?;
        self.height_along(passage.pipe, passage.along?)?
            .checked_sub(lower)
    }

    /// What its heights are held to one another by.
    pub(crate) fn levels(&self) -> Levels<'_> {
        Levels {
            graph: &self.graph,
            storeys: &self.storeys,
            notation: self.notation,
        }
    }

    /// The file that the network was read from, as its reader called it.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The node called `name`, found by looking at all of them.
    #[must_use]
    pub fn node_named(&self, name: &str) -> Option<NodeId> {
        self.graph
            .node_indices()
            .find(|&id| self.graph.node_weight(id).is_some_and(|node| &*node.name == name))
    }

    /// The pipe called `name`, found by looking at all of them.
    #[must_use]
    pub fn pipe_named(&self, name: &str) -> Option<PipeId> {
        self.graph
            .edge_indices()
            .find(|&id| self.graph.edge_weight(id).is_some_and(|pipe| &*pipe.name == name))
    }
}

/// What holds for the whole site.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Site {
    /// The winter design temperature that the rule set's frost rule refers to.
    pub winter_design_temperature: Option<Temperature>,
    /// Dwelling units in the building.
    pub dwelling_units: Option<u32>,
    /// What the building is used for.
    pub building_use: Option<BuildingUse>,
    /// The type of system that its branches and stacks are laid out by.
    pub system_type: Option<SystemType>,
}

/// A storey.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Storey {
    /// The name in the file.
    pub name: Arc<str>,
    /// The height of its floor above the datum, where the file states enough to know it.
    pub elevation: Option<Length>,
    /// From its floor to the next above, where the file states enough to know it.
    pub height: Option<Length>,
}

impl Storey {
    /// A storey whose floor lies on top of the one before, or at the datum if it is the lowest; that it lies elsewhere is set
    /// afterwards.
    #[must_use]
    pub fn new(name: impl Into<Arc<str>>, height: Option<Length>) -> Self {
        Self {
            name: name.into(),
            elevation: None,
            height,
        }
    }
}

/// The height of the floor of a storey by its number, where there is a storey and that is known.
pub(crate) fn floor(storeys: &[Storey], storey: Option<u32>) -> Option<Length> {
    storeys.get(storey? as usize)?.elevation
}

/// The number of a run, by which [`Network::run`] finds it. It is never given to another run of the network: one that is
/// taken out leaves a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct RunId(u32);

impl RunId {
    /// The run of a number.
    #[must_use]
    pub const fn new(number: u32) -> Self {
        Self(number)
    }

    /// The number.
    #[must_use]
    pub const fn index(self) -> usize {
        self.0 as usize
    }

    /// The run after it.
    #[must_use]
    pub const fn next(self) -> Self {
        Self(self.0.saturating_add(1))
    }
}

impl std::fmt::Display for RunId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// A line of pipes and fittings with a common purpose.
#[derive(Debug, Clone)]
pub struct Run {
    /// The name in the file; a run without one is called after its first node.
    pub name: Arc<str>,
    /// What it is to the building.
    pub kind: RunKind,
}

/// Line and column, both counted from 1, of an element's definition; both 0 for what an edit added.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Position {
    /// Line.
    pub line: u32,
    /// Column.
    pub column: u32,
}

impl Position {
    /// Whether the element is defined in a file, rather than added by an edit.
    #[must_use]
    pub const fn is_in_file(self) -> bool {
        self.line > 0
    }
}

impl std::fmt::Display for Position {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}", self.line, self.column)
    }
}

/// A node of the network.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// The name in the file.
    pub name: Arc<str>,
    /// The storey it belongs to, as an index into [`Network::storeys`].
    pub storey: Option<u32>,
    /// Height of the centre line above the datum (of a fixture: of its trap weir), stated or derived.
    pub elevation: Option<Length>,
    /// What stands there.
    pub kind: NodeKind,
    /// Where the file defines it.
    pub position: Position,
}

impl Node {
    /// A node of which nothing is stated but what stands there. What else is to be stated is set afterwards.
    ///
    /// ```
    /// use crownweir_network::{Fixture, Node, Terminal};
    /// use crownweir_vocabulary::{FittingPattern, FixtureType};
    ///
    /// let mut sink = Fixture::new(FixtureType::KitchenSink);
    /// sink.trap.size = "1-1/2 in".parse().ok();
    /// let nodes = [
    ///     Node::new("S1", sink),
    ///     Node::new("T1", FittingPattern::SanitaryTee),
    ///     Node::new("roof", Terminal::default()),
    /// ];
    /// assert_eq!(nodes.map(|node| node.kind.word()), ["fixture", "fitting", "vent terminal"]);
    /// ```
    #[must_use]
    pub fn new(name: impl Into<Arc<str>>, kind: impl Into<NodeKind>) -> Self {
        Self {
            name: name.into(),
            storey: None,
            elevation: None,
            kind: kind.into(),
            position: Position::default(),
        }
    }
}

/// What stands at a node.
#[derive(Debug, Clone, PartialEq)]
pub enum NodeKind {
    /// A fixture with its trap; fixtures alike in all that is stated share one description.
    Fixture(Arc<Fixture>),
    /// A fitting.
    Fitting {
        /// Its pattern; not stated where the file only names the joint.
        pattern: Option<FittingPattern>,
    },
    /// A cleanout.
    Cleanout(Box<Cleanout>),
    /// A vent's opening to the air outside.
    Terminal(Box<Terminal>),
    /// An air admittance valve.
    Valve(Box<Valve>),
    /// The point of disposal.
    Disposal,
}

impl NodeKind {
    /// The trade's word for what stands there.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Fixture(_) => "fixture",
            Self::Fitting { .. } => "fitting",
            Self::Cleanout(_) => "cleanout",
            Self::Terminal(_) => "vent terminal",
            Self::Valve(_) => "air admittance valve",
            Self::Disposal => "point of disposal",
        }
    }

    /// By how much a line turns there; none where it does not, or it is not known to.
    pub(crate) fn turn(&self) -> Option<Angle> {
        let Self::Fitting { pattern } = self else {
            return None;
        };
        let tenths = pattern.map(FittingPattern::turn_in_tenths)?;
        (tenths != 0).then(|| Angle::from_microdegrees(tenths * 100_000))
    }
}

impl From<Fixture> for NodeKind {
    fn from(fixture: Fixture) -> Self {
        Self::Fixture(Arc::new(fixture))
    }
}

impl From<FittingPattern> for NodeKind {
    fn from(pattern: FittingPattern) -> Self {
        Self::Fitting {
            pattern: Some(pattern),
        }
    }
}

impl From<Cleanout> for NodeKind {
    fn from(cleanout: Cleanout) -> Self {
        Self::Cleanout(Box::new(cleanout))
    }
}

impl From<Terminal> for NodeKind {
    fn from(terminal: Terminal) -> Self {
        Self::Terminal(Box::new(terminal))
    }
}

impl From<Valve> for NodeKind {
    fn from(valve: Valve) -> Self {
        Self::Valve(Box::new(valve))
    }
}

/// A fixture.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Fixture {
    /// What it is.
    pub fixture_type: FixtureType,
    /// Who uses it. Where a file states none, it is that of its site; an edit states it itself.
    pub occupancy: Option<Occupancy>,
    /// By what a flush is let go.
    pub flush: Option<FlushKind>,
    /// Volume of one flush.
    pub flush_volume: Option<Volume>,
    /// The shape of a urinal.
    pub urinal: Option<UrinalKind>,
    /// How many shower heads discharge to it.
    pub heads: Option<u32>,
    /// How many compartments of a sink or tray drain to its trap.
    pub compartments: u32,
    /// Whether its water is said to be acid or otherwise corrosive.
    pub acid_waste: bool,
    /// Rate of discharge, for showers, pumps and continuous flows.
    pub flow: Option<Flow>,
    /// Load stated by the author, which a rule set's table does not override.
    pub load: Option<StatedLoad>,
    /// Height of the flood level rim above the floor.
    pub rim_height: Option<Length>,
    /// Height of a standpipe above its trap weir.
    pub standpipe_height: Option<Length>,
    /// Whether a pump discharges into it, or it is one.
    pub pumped: bool,
    /// The bathroom group that the author counts it in.
    pub group: Option<Arc<str>>,
    /// The trap.
    pub trap: Trap,
}

impl Fixture {
    /// A fixture of which only the type is stated: it has one compartment, and a trap in its own body where the type is
    /// [made with](FixtureType::made_with) one. What else is to be stated is set afterwards.
    #[must_use]
    pub fn new(fixture_type: FixtureType) -> Self {
        Self {
            fixture_type,
            occupancy: None,
            flush: None,
            flush_volume: None,
            urinal: None,
            heads: None,
            compartments: 1,
            acid_waste: false,
            flow: None,
            load: None,
            rim_height: None,
            standpipe_height: None,
            pumped: false,
            group: None,
            trap: Trap {
                kind: fixture_type.made_with(),
                ..Trap::default()
            },
        }
    }

    /// Whether it has a trap of its own: all but a connected load, and a continuous flow of whose trap nothing is stated.
    #[must_use]
    pub const fn has_trap(&self) -> bool {
        let Trap { size, seal, kind, .. } = &self.trap;
        let states_one = size.is_some() || seal.is_some() || kind.is_some();
        self.fixture_type.has_trap(states_one)
    }
}

/// A fixture's trap.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct Trap {
    /// Nominal size.
    pub size: Option<NominalSize>,
    /// Depth of the water seal.
    pub seal: Option<Length>,
    /// Shape.
    pub kind: Option<TrapKind>,
    /// Vertical distance from the fixture outlet to the trap weir.
    pub outlet_drop: Option<Length>,
    /// Horizontal distance from the fixture outlet to the trap inlet, centre to centre.
    pub outlet_offset: Option<Length>,
    /// Whether it comes apart by hand, so that the drain can be rodded through it.
    pub removable: Option<bool>,
}

/// A cleanout.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cleanout {
    /// Nominal size of the opening.
    pub size: Option<NominalSize>,
    /// Free space in front of the opening.
    pub clearance: Option<Length>,
    /// Whether it can be reached without breaking the building.
    pub accessible: Option<bool>,
    /// Whether it is a manhole.
    pub manhole: bool,
}

/// A vent's opening to the air outside.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Terminal {
    /// What it passes through, as the file states it.
    pub through: Option<Through>,
    /// Height of the opening above the roof.
    pub height_above_roof: Option<Length>,
    /// What the roof is used for.
    pub roof_use: Option<RoofUse>,
    /// The nearest door, window or air intake; `Some(None)` says that there is none about.
    pub nearest_opening: Option<Option<NearestOpening>>,
    /// Horizontal distance to the lot line.
    pub lot_line_distance: Option<Length>,
    /// Height above average ground.
    pub height_above_ground: Option<Length>,
    /// Size where the vent passes the roof or wall, if larger than the vent.
    pub enlarged_to: Option<NominalSize>,
    /// How far inside the thermal envelope the larger size begins.
    pub enlarged_inside: Option<Length>,
}

impl Terminal {
    /// What it passes through: as stated, or the roof where the file tells how high above a roof it ends, or of what use that
    /// roof is.
    #[must_use]
    pub fn passes(&self) -> Option<Through> {
        let tells_of_roof = self.height_above_roof.is_some() || self.roof_use.is_some();
        self.through.or(tells_of_roof.then_some(Through::Roof))
    }
}

/// The door, window or air intake nearest to a vent terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NearestOpening {
    /// Horizontal distance.
    pub distance: Length,
    /// Height of the terminal above the top of the opening; negative when below it.
    pub above: Length,
}

/// An air admittance valve.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Valve {
    /// What it serves.
    pub kind: Option<ValveKind>,
    /// Height above the horizontal drain that it vents.
    pub height_above_drain: Option<Length>,
    /// Height above the flood level rim of the highest fixture that it serves.
    pub height_above_rim: Option<Length>,
    /// Whether it can be reached.
    pub accessible: Option<bool>,
    /// Rate at which it lets air in, as its maker states.
    pub air_flow: Option<Flow>,
}

/// A pipe of the network.
#[derive(Debug, Clone, PartialEq)]
pub struct Pipe {
    /// The name in the file, or `A to B` after its ends.
    pub name: Arc<str>,
    /// Drain or vent.
    pub role: Role,
    /// The run it belongs to.
    pub run: RunId,
    /// Nominal size; none where it is not stated, or still to be chosen.
    pub size: Option<NominalSize>,
    /// Developed length along the centre line.
    pub length: Option<Length>,
    /// Fall (drain) or rise (vent) in the pipe's own direction.
    pub slope: Option<Slope>,
    /// Between which slopes one is still to be chosen.
    pub slope_bounds: Option<SlopeBounds>,
    /// What it is made of.
    pub material: Option<Material>,
    /// Distance between supports.
    pub support_spacing: Option<Length>,
    /// Whether a vertical pipe is held against sideways movement half-way up the storey.
    pub mid_storey_guide: Option<bool>,
    /// Whether it lies in the ground.
    pub underground: bool,
    /// By which opening it enters the fitting at its lower end.
    pub enters: Inlet,
    /// Whether the file states that opening; else it follows from how the runs are joined.
    pub enters_stated: bool,
    /// Where the file defines it.
    pub position: Position,
}

impl Pipe {
    /// A pipe of which nothing is stated, of a run of that role ([`RunKind::role`]). It enters the fitting at its lower end
    /// by the branch, as a path does in a file that ends `at` another's fitting. What else is to be stated is set
    /// afterwards.
    #[must_use]
    pub fn new(name: impl Into<Arc<str>>, role: Role, run: RunId) -> Self {
        Self {
            name: name.into(),
            role,
            run,
            size: None,
            length: None,
            slope: None,
            slope_bounds: None,
            material: None,
            support_spacing: None,
            mid_storey_guide: None,
            underground: false,
            enters: Inlet::Branch,
            enters_stated: false,
            position: Position::default(),
        }
    }

    /// Whether it has the name that a file gives to a pipe without one, between nodes of these names.
    pub(crate) fn is_called_after(&self, [from, to]: [&str; 2]) -> bool {
        let rest = self.name.strip_prefix(from);
        rest.and_then(|rest| rest.strip_prefix(" to ")) == Some(to)
    }
}

/// An offset or inverts that a pipe states, and the length and slope that it had by them.
#[derive(Debug, Clone)]
pub(crate) struct StatedWay {
    pub(crate) length: Option<Length>,
    pub(crate) slope: Option<Slope>,
    pub(crate) offset: Option<(Offset, Line)>,
    pub(crate) inverts: Option<[Length; 2]>,
}

/// A row of framing members that are alike: the joists of a floor, the studs of a wall, a plate.
#[derive(Debug, Clone)]
pub struct Members {
    /// The name in the file.
    pub name: Arc<str>,
    /// What they are.
    pub kind: MemberKind,
    /// What they are made as.
    pub make: Option<MemberMake>,
    /// Actual depth: of a joist or rafter from edge to edge, of a stud or plate across the wall.
    pub depth: Option<Length>,
    /// Actual thickness; of plates nailed on one another, of all together.
    pub thickness: Option<Length>,
    /// From the middle of one to the middle of the next.
    pub spacing: Option<Length>,
    /// Clear length between bearings.
    pub span: Option<Length>,
    /// The storey from whose floor `top` is measured; without one, that of the pipe.
    pub storey: Option<u32>,
    /// Height of the upper edge above that floor.
    pub top: Option<Length>,
    /// Whether they belong to an outside or bearing wall.
    pub bearing: Option<bool>,
    /// Whether each is doubled.
    pub doubled: Option<bool>,
    /// Where they stand in plan.
    pub layout: Option<Layout>,
    /// Where the file defines them.
    pub position: Position,
}

/// Where the members of a row stand in plan.
#[derive(Debug, Clone, Copy)]
pub struct Layout {
    /// Which way they run.
    pub runs: MemberRuns,
    /// How far north the middle of the first stands where they run east and west; else how far east. Each further one
    /// stands a spacing further.
    pub first: Length,
    /// How many there are.
    pub count: u32,
    /// How far east their two bearings are where they run east and west; else how far north.
    pub bearings: Option<[Length; 2]>,
}

/// Where a hole's centre lies across a member.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Centre {
    /// At that distance from the lower edge, or from one face of the wall's framing.
    At(Length),
    /// In the middle of the member.
    Middle,
}

/// Where a pipe passes one framing member.
#[derive(Debug, Clone, PartialEq)]
pub struct Passage {
    /// The pipe.
    pub pipe: PipeId,
    /// The row of members, as an index into [`Network::framing`].
    pub members: u32,
    /// Which of those that the pipe passes it is, in the pipe's direction, counted from 1.
    pub number: u32,
    /// Distance along the pipe from its start to the middle of the member.
    pub along: Option<Length>,
    /// Distance along the pipe from one member to the next, where the author states another than that of the row.
    pub spacing: Option<Length>,
    /// Which member of the row it is, counted from 0 at the first, where the row's layout tells.
    pub member: Option<u32>,
    /// Where along that member, in the coordinates of its bearings.
    pub along_member: Option<Length>,
    /// How the member is cut.
    pub cut: Cut,
    /// Diameter of the hole, where the author states it.
    pub hole: Option<Length>,
    /// Depth of the notch.
    pub notch_depth: Option<Length>,
    /// Length of the notch along the member.
    pub notch_length: Option<Length>,
    /// Edge that is notched.
    pub notch_edge: Option<MemberEdge>,
    /// Where the centre lies across the member, where the author states it.
    pub centre: Option<Centre>,
    /// Distance along the member to its nearest bearing.
    pub bearing_distance: Option<Length>,
    /// Wood left to the nearest other cut; `Some(None)` says that there is none.
    pub next_cut: Option<Option<Length>>,
    /// Whether the member is doubled there.
    pub doubled: Option<bool>,
    /// How many members one after the other are doubled for the pipe.
    pub doubled_in_row: Option<u32>,
    /// Whether a steel plate shields the pipe.
    pub steel_plate: Option<bool>,
    /// Whether a metal tie bridges the cut plate.
    pub metal_tie: Option<bool>,
    /// Where the file states it.
    pub position: Position,
}

impl Passage {
    /// The number that the member is called by: where the row's layout tells which it is, its number in the row, counted
    /// from 1; else which of those that the pipe passes.
    #[must_use]
    pub fn called(&self) -> u32 {
        self.member.map_or(self.number, |member| member.saturating_add(1))
    }
}

/// Between which slopes that of a drain is to be chosen, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct SlopeBounds {
    /// The least.
    pub at_least: Slope,
    /// The most; not under the least.
    pub at_most: Slope,
}

/// A test, recorded or planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// What is tested.
    pub section: Arc<str>,
    /// With what.
    pub medium: TestMedium,
    /// Head of water above the lowest untested point.
    pub head: Option<Length>,
    /// Height of the part under test, from its lowest joint to the water.
    pub height: Option<Length>,
    /// How long it is held.
    pub duration: Option<Period>,
    /// Where the file states it.
    pub position: Position,
}
