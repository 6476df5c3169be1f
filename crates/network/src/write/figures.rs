//! Which figures of a network's geometry are stated, so that all others follow as they did.
//!
//! What the author gave is stated, save where the reader makes it of other figures. Then all is derived as it will be when
//! the text is read: in the order in which it is written, which may be another than before. Where figures were stated twice,
//! with a difference that rounding explains, what follows may then be another by as much; that is stated too.

use std::sync::Arc;

use crownweir_quantity::{Bearing, Length, Slope};
use crownweir_vocabulary::{FittingPattern, Role};
use petgraph::visit::{EdgeIndexable, EdgeRef, IntoEdgeReferences, NodeIndexable};

use super::error::{Faults, WriteFault};
use super::paths::{Paths, get, set};
use crate::elevation;
use crate::geometry::{self, Denied};
use crate::model::{Graph, Network, Node, NodeId, Pipe, PipeId, Position, RunId, floor};
use crate::offset::{Line, Offset};
use crate::open::SlopeFile;
use crate::plan::Plan;
use crate::structure::{self, Orders};

/// How a node's height is stated.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) enum Height {
    #[default]
    NotStated,
    /// Above the floor of its storey.
    AboveFloor(Length),
    /// With its place in plan: east, north, up.
    Place([Length; 3]),
}

/// What a pipe states, and what is made of it before anything is derived.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OfPipe {
    pub(super) states_length: bool,
    pub(super) slope: Option<SlopeFile>,
    /// Whether what it states besides, or the places of its ends, give a slope: then that of its run does not hold for it.
    pub(super) has_own_slope: bool,
    pub(super) offset: Option<(Offset, Line)>,
    pub(super) inverts: Option<[Length; 2]>,
    /// Its direction in plan, or that of the line which its offset moves aside.
    pub(super) heading: Option<Bearing>,
    /// Its length, slope and direction as read.
    pub(super) length: Option<Length>,
    read_slope: Option<Slope>,
    bearing: Option<Bearing>,
}

impl OfPipe {
    /// Whether it is read as vertical.
    pub(super) fn is_plumb(&self) -> bool {
        self.read_slope.is_some_and(Slope::is_vertical)
    }

    /// Whether it is horizontal, as far as it is known when it is read.
    pub(super) fn is_horizontal(&self) -> Option<bool> {
        let bounds = match self.slope {
            Some(SlopeFile::Between(bounds)) => Some(bounds.at_most),
            _ => None,
        };
        self.read_slope.or(bounds).map(|slope| !slope.is_vertical())
    }
}

/// What nodes and pipes state, by number.
pub(super) struct Figures {
    heights: Vec<Height>,
    pipes: Vec<OfPipe>,
}

/// How often all is derived at the most with no more stated than came out otherwise, before all that is known is.
const ROUNDS: usize = 4;

impl Figures {
    pub(super) fn of(network: &Network, paths: &Paths, faults: &mut Faults) -> Self {
        let nodes = network.graph.node_indices();
        network.levels().check(nodes, &mut |denied, _, _| {
            if let Denied::Node(id, _) = denied {
                faults.push(Unlike::Height(id).fault(network));
            }
        });
        let mut more = More::of(network);
        // Of a sound network there is always one.
        let mut reading = Reading::of(network, paths);
        let mut round = 0;
        loop {
            let mut own_faults = Vec::new();
            let own = Self::stated(network, &more, &mut own_faults);
            let unlike = reading.as_mut().map(|reading| own.unlike(network, reading));
            let unlike = unlike.unwrap_or_default();
            round += 1;
            let has_more = if unlike.is_empty() {
                false
            } else if round < ROUNDS {
                more.add(network, &unlike)
            } else {
                round == ROUNDS && more.add_all(network)
            };
            if !has_more {
                if own_faults.is_empty() {
                    own_faults.extend(unlike.into_iter().map(|one| one.fault(network)));
                    own_faults.dedup();
                }
                own_faults.into_iter().for_each(|fault| faults.push(fault));
                return own;
            }
        }
    }

    pub(super) fn height(&self, node: NodeId) -> Height {
        self.heights.get(node.index()).copied().unwrap_or_default()
    }

    pub(super) fn pipe(&self, pipe: PipeId) -> OfPipe {
        self.pipes.get(pipe.index()).copied().unwrap_or_default()
    }

    fn stated(network: &Network, more: &More, faults: &mut Vec<WriteFault>) -> Self {
        let graph = &network.graph;
        let mut own = Self {
            heights: vec![Height::NotStated; graph.node_bound()],
            pipes: vec![OfPipe::default(); graph.edge_bound()],
        };
        for id in graph.node_indices() {
            match height(network, id, more) {
                Ok(height) => set(&mut own.heights, id.index(), height),
                Err(fault) => faults.push(fault),
            }
        }
        for edge in graph.edge_references() {
            let ends = [edge.source(), edge.target()].map(|end| own.height(end));
            let pipe = of_pipe(network, edge.id(), edge.weight(), ends, more);
            match pipe {
                Some(pipe) => set(&mut own.pipes, edge.id().index(), pipe),
                None => faults.push(fault_of_pipe(network, edge.id())),
            }
        }
        own
    }

    /// What would be read otherwise than it is.
    fn unlike(&self, network: &Network, reading: &mut Reading) -> Vec<Unlike> {
        let own = &network.graph;
        let Reading {
            graph: read,
            nodes,
            pipes,
            disposal,
        } = reading;
        let mut plan = Plan::default();
        for (node, &id) in read.node_weights_mut().zip(nodes.iter()) {
            let (height, place) = match self.height(id) {
                Height::NotStated => (None, [None; 2]),
                Height::AboveFloor(_) => (own.node_weight(id).and_then(|node| node.elevation), [None; 2]),
                Height::Place([east, north, up]) => (Some(up), [Some(east), Some(north)]),
            };
            node.elevation = height;
            plan.positions.push(place);
        }
        for (pipe, &id) in read.edge_weights_mut().zip(pipes.iter()) {
            let figures = self.pipe(id);
            (pipe.length, pipe.slope) = (figures.length, figures.read_slope);
            plan.bearings.push(figures.bearing);
        }
        if plan.states_nothing() {
            plan = Plan::default();
        }
        let mut unlike = Vec::new();
        let mut deny = |denied, _, _| {
            // What stands at nodes is left out here, and heights that deny one another are told of before.
            if let Denied::Pipe(pipe) = denied {
                unlike.extend(pipes.get(pipe.index()).copied().map(Unlike::Denied));
            }
        };
        let plan = geometry::derive(
            read,
            plan,
            *disposal,
            &network.storeys,
            network.notation,
            &mut deny,
        );
        let place = |plan: &Plan, id: NodeId| plan.positions.get(id.index()).copied().unwrap_or_default();
        for (number, &id) in read.node_indices().zip(nodes.iter()) {
            let (one, other) = (read.node_weight(number), own.node_weight(id));
            if one.map(|node| node.elevation) != other.map(|node| node.elevation) {
                unlike.push(Unlike::Height(id));
            }
            if place(&plan, number) != place(&network.plan, id) {
                unlike.push(Unlike::Place(id));
            }
        }
        let bearing = |plan: &Plan, id: PipeId| plan.bearings.get(id.index()).copied().flatten();
        for (number, &id) in read.edge_indices().zip(pipes.iter()) {
            let (Some(one), Some(other)) = (read.edge_weight(number), own.edge_weight(id)) else {
                continue;
            };
            if one.length != other.length {
                unlike.push(Unlike::Length(id));
            }
            if one.slope != other.slope {
                unlike.push(Unlike::Slope(id));
            }
            let plumb = other.slope.is_some_and(Slope::is_vertical);
            if !plumb && bearing(&plan, number) != bearing(&network.plan, id) {
                unlike.push(Unlike::Bearing(id));
            }
        }
        unlike
    }
}

/// The network as it will be numbered when it is read, which is the order in which all is derived.
struct Reading {
    graph: Graph,
    /// Of each of its nodes and pipes, the number before.
    nodes: Vec<NodeId>,
    pipes: Vec<PipeId>,
    disposal: NodeId,
}

impl Reading {
    fn of(network: &Network, paths: &Paths) -> Option<Self> {
        let own = &network.graph;
        let mut graph = Graph::with_capacity(own.node_count(), own.edge_count());
        let (mut nodes, mut pipes) = (Vec::new(), Vec::new());
        let mut defined = vec![false; own.node_bound()];
        for run in &paths.runs {
            for path in &run.paths {
                nodes.extend(paths.nodes_of(own, run.run, path, &mut defined));
            }
        }
        let mut numbers = vec![NodeId::end(); own.node_bound()];
        let at = |line: usize| Position {
            line: u32::try_from(line).unwrap_or(u32::MAX),
            column: 0,
        };
        for (line, &id) in nodes.iter().enumerate() {
            let node = own.node_weight(id)?;
            // What stands there does not matter.
            let plain = Node {
                storey: node.storey,
                position: at(line),
                ..Node::new(Arc::clone(&node.name), FittingPattern::Coupling)
            };
            set(&mut numbers, id.index(), graph.add_node(plain));
        }
        for (run, of_run) in (0..).map(RunId::new).zip(&paths.runs) {
            for &id in of_run.paths.iter().flatten() {
                let (pipe, (from, to)) = own.edge_weight(id).zip(own.edge_endpoints(id))?;
                let plain = Pipe {
                    position: at(pipes.len()),
                    ..Pipe::new(Arc::clone(&pipe.name), pipe.role, run)
                };
                graph.add_edge(*numbers.get(from.index())?, *numbers.get(to.index())?, plain);
                pipes.push(id);
            }
        }
        let mut orders = Orders {
            disposal: *numbers.get(network.disposal.index())?,
            drains: structure::sorted(&graph, Role::Drain)?,
            vents: structure::sorted(&graph, Role::Vent)?,
        };
        let (graph, numbering) = orders.renumber(graph)?;
        let nodes = numbering
            .nodes
            .iter()
            .map(|node| nodes.get(node.index()).copied());
        let pipes = numbering
            .pipes
            .iter()
            .map(|pipe| pipes.get(pipe.index()).copied());
        Some(Self {
            graph,
            nodes: nodes.collect::<Option<_>>()?,
            pipes: pipes.collect::<Option<_>>()?,
            disposal: orders.disposal,
        })
    }
}

/// How the height of a node is stated.
fn height(network: &Network, id: NodeId, more: &More) -> Result<Height, WriteFault> {
    let Some(node) = network.graph.node_weight(id) else {
        return Ok(Height::NotStated);
    };
    let name = || node.name.to_string();
    let given = &network.given;
    let placed = given.plan.positions.get(id.index()).copied().unwrap_or_default();
    let is_placed = placed.iter().all(Option::is_some) || get(&more.places, id.index());
    let is_stated = given.height(id) || get(&more.heights, id.index());
    let Some(up) = node.elevation else {
        return match is_placed {
            true => Err(WriteFault::Place { node: name() }),
            false => Ok(Height::NotStated),
        };
    };
    let place = match network.place_in_plan(id) {
        [Some(east), Some(north)] => Some(Height::Place([east, north, up])),
        _ => None,
    };
    let above = floor(&network.storeys, node.storey).and_then(|floor| up.checked_sub(floor));
    let above = above.map(Height::AboveFloor);
    match (is_placed, is_stated) {
        (true, _) => place.ok_or_else(|| WriteFault::Node { node: name() }),
        (false, true) => above.or(place).ok_or_else(|| WriteFault::Height { node: name() }),
        (false, false) => Ok(Height::NotStated),
    }
}

/// What a pipe states; none where what is stated would be refused or read otherwise.
fn of_pipe(network: &Network, id: PipeId, pipe: &Pipe, ends: [Height; 2], more: &More) -> Option<OfPipe> {
    let given = &network.given;
    let offset = network.stated_offset(id);
    let inverts = network.inverts(id);
    let measured = match (offset, ends) {
        (Some((offset, line)), _) => offset.solve(line).map(|solved| (solved.length, solved.slope)),
        (None, [Height::Place(from), Height::Place(to)]) => elevation::measure(from, to, pipe.role),
        _ => None,
    };
    let of_measure = measured.map(|(length, _)| length);
    let states_length = match of_measure {
        Some(length) => pipe.length? != length,
        None => pipe.length.is_some() && (given.length(id) || get(&more.lengths, id.index())),
    };
    let length = if states_length { pipe.length } else { of_measure };
    let apart = |one: Length, other: Length| elevation::differ(one, other);
    if length
        .zip(of_measure)
        .is_some_and(|(one, other)| apart(one, other))
    {
        return None;
    }
    let of_inverts = inverts.zip(length).filter(|_| offset.is_none());
    let of_inverts =
        of_inverts.and_then(|([start, end], length)| elevation::between(start, end, length, pipe.role));
    let of_others = of_inverts.or(measured.map(|(_, slope)| slope));
    let slope = match of_others {
        Some(slope) if pipe.slope? == slope => None,
        Some(_) => pipe.slope.map(SlopeFile::Stated),
        None => {
            let states = given.slope(id) || network.is_chosen(id) || get(&more.slopes, id.index());
            let stated = pipe.slope.filter(|_| states).map(SlopeFile::Stated);
            stated.or(pipe.slope_bounds.map(SlopeFile::Between))
        }
    };
    let stated = slope.and_then(SlopeFile::stated);
    if stated.is_some_and(|slope| slope.rise() < 0) {
        return None;
    }
    if let (Some(one), Some(other), Some(length)) = (stated, of_others, length) {
        let falls = one.fall_over(length).zip(other.fall_over(length));
        if falls.is_some_and(|(one, other)| apart(one, other)) {
            return None;
        }
    }
    let read_slope = stated.or(of_others);
    let plumb = read_slope.is_some_and(Slope::is_vertical);
    let of = |plan: &Plan| plan.bearings.get(id.index()).copied().flatten();
    let own = of(&given.plan).or_else(|| of(&network.plan).filter(|_| get(&more.bearings, id.index())));
    let (heading, bearing) = match offset {
        Some((offset, line)) => (
            Some(line.bearing),
            offset.solve(line).and_then(|solved| solved.bearing),
        ),
        None => (own.filter(|_| !plumb), own.filter(|_| !plumb)),
    };
    Some(OfPipe {
        states_length,
        slope,
        has_own_slope: of_others.is_some(),
        offset,
        inverts,
        heading,
        length,
        read_slope,
        bearing,
    })
}

/// Something that would be read otherwise than it is.
enum Unlike {
    Height(NodeId),
    Place(NodeId),
    Length(PipeId),
    Slope(PipeId),
    Bearing(PipeId),
    /// A pipe whose own figures would deny the heights or places of its ends.
    Denied(PipeId),
}

impl Unlike {
    fn fault(&self, network: &Network) -> WriteFault {
        let node = |id: NodeId| network.graph.node_weight(id);
        let name = |id: NodeId| node(id).map_or_else(String::new, |node| node.name.to_string());
        match *self {
            // It cannot be stated, and what it follows from leaves it to the order in which all is derived.
            Self::Place(id) if node(id).is_some_and(|node| node.elevation.is_none()) => {
                WriteFault::Place { node: name(id) }
            }
            Self::Height(id) | Self::Place(id) => WriteFault::Node { node: name(id) },
            Self::Length(id) | Self::Slope(id) | Self::Bearing(id) | Self::Denied(id) => {
                fault_of_pipe(network, id)
            }
        }
    }
}

/// That a pipe would be read otherwise; where one of its ends has a height above no floor, and stands at a place in its
/// stead, that is why.
fn fault_of_pipe(network: &Network, id: PipeId) -> WriteFault {
    let ends = network.graph.edge_endpoints(id).map(|(from, to)| [from, to]);
    let afloat = ends.into_iter().flatten().find_map(|end| {
        let node = network.graph.node_weight(end)?;
        let has_floor = floor(&network.storeys, node.storey).is_some();
        (network.given.height(end) && !has_floor).then(|| node.name.to_string())
    });
    match afloat {
        Some(node) => WriteFault::Height { node },
        None => WriteFault::Pipe {
            pipe: network
                .graph
                .edge_weight(id)
                .map_or_else(String::new, |pipe| pipe.name.to_string()),
        },
    }
}

/// What is stated beside that which the author gave, by number.
struct More {
    heights: Vec<bool>,
    places: Vec<bool>,
    lengths: Vec<bool>,
    slopes: Vec<bool>,
    bearings: Vec<bool>,
}

impl More {
    fn of(network: &Network) -> Self {
        let nodes = || vec![false; network.graph.node_bound()];
        let pipes = || vec![false; network.graph.edge_bound()];
        Self {
            heights: nodes(),
            places: nodes(),
            lengths: pipes(),
            slopes: pipes(),
            bearings: pipes(),
        }
    }

    /// Has what would be read otherwise stated; false where all of it is already, or is not known.
    fn add(&mut self, network: &Network, unlike: &[Unlike]) -> bool {
        let mut has_more = false;
        let graph = &network.graph;
        let mut state = |list: &mut Vec<bool>, at: usize, known: bool| {
            has_more |= known && !get(list, at);
            set(list, at, known);
        };
        let has_height = |id: NodeId| graph.node_weight(id).is_some_and(|node| node.elevation.is_some());
        for one in unlike {
            match *one {
                Unlike::Height(id) => state(&mut self.heights, id.index(), has_height(id)),
                Unlike::Place(id) => {
                    let known = has_height(id) && network.place_in_plan(id).iter().all(Option::is_some);
                    state(&mut self.places, id.index(), known);
                }
                Unlike::Length(id) => {
                    let known = graph.edge_weight(id).is_some_and(|pipe| pipe.length.is_some());
                    state(&mut self.lengths, id.index(), known);
                }
                Unlike::Slope(id) => {
                    let slope = graph.edge_weight(id).and_then(|pipe| pipe.slope);
                    let known = slope.is_some_and(|slope| slope.rise() >= 0);
                    state(&mut self.slopes, id.index(), known);
                }
                Unlike::Bearing(id) => {
                    state(&mut self.bearings, id.index(), network.bearing(id).is_some());
                }
                Unlike::Denied(id) => {
                    if let Some((from, to)) = graph.edge_endpoints(id) {
                        state(&mut self.heights, from.index(), has_height(from));
                        state(&mut self.heights, to.index(), has_height(to));
                    }
                }
            }
        }
        has_more
    }

    /// Has all stated that is known.
    fn add_all(&mut self, network: &Network) -> bool {
        let nodes = network.graph.node_indices();
        let pipes = network.graph.edge_indices();
        let nodes = nodes.flat_map(|id| [Unlike::Height(id), Unlike::Place(id)]);
        let pipes = pipes.flat_map(|id| [Unlike::Length(id), Unlike::Slope(id), Unlike::Bearing(id)]);
        let all: Vec<_> = nodes.chain(pipes).collect();
        self.add(network, &all)
    }
}
