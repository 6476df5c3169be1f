//! Where nodes stand in plan and which way pipes run, from positions and directions that are stated and the lengths
//! and slopes between them.
//!
//! It fills in nothing that the figures do not settle. Each of the three axes is followed on its own, so that a pipe
//! of unknown length that runs east still tells how far north its ends lie. Along the four points of the compass and
//! vertically all is exact to the nanometre; other directions take a sine in floating point, rounded to the nanometre.

use std::collections::VecDeque;
use std::sync::Arc;

use crownweir_quantity::{Bearing, Length, Notation, Slope};
use petgraph::Direction;
use petgraph::visit::{EdgeIndexable, EdgeRef, IntoEdgeReferences};

use crate::elevation::{by_heights, differ, rise};
use crate::model::{Graph, Node, NodeId, Pipe, PipeId};
use crate::structure::Numbering;

/// What is known of a network in plan. Empty where the file states neither a position nor a direction.
#[derive(Debug, Clone, Default)]
pub(crate) struct Plan {
    /// How far east and how far north each node stands.
    pub(crate) positions: Vec<[Option<Length>; 2]>,
    /// The direction of each pipe that is not vertical.
    pub(crate) bearings: Vec<Option<Bearing>>,
}

impl Plan {
    /// Whether nothing is known in plan.
    pub(crate) fn is_empty(&self) -> bool {
        self.positions.is_empty() && self.bearings.is_empty()
    }

    /// Whether it holds no position and no direction.
    pub(crate) fn states_nothing(&self) -> bool {
        self.positions.iter().all(|place| *place == [None; 2]) && self.bearings.iter().all(Option::is_none)
    }

    /// The same plan of a network whose nodes and pipes are numbered anew.
    pub(crate) fn renumbered(self, numbering: &Numbering) -> Self {
        let positions = numbering.nodes.iter();
        let bearings = numbering.pipes.iter();
        Self {
            positions: positions
                .filter_map(|old| self.positions.get(old.index()).copied())
                .collect(),
            bearings: bearings
                .filter_map(|old| self.bearings.get(old.index()).copied())
                .collect(),
        }
    }
}

/// The third side of a right triangle, to the nanometre below.
fn other_side(length: Length, side: Length) -> Option<Length> {
    let square = |side: Length| u128::from(side.nanometres().unsigned_abs()).pow(2);
    let rest = square(length).checked_sub(square(side))?;
    i64::try_from(rest.isqrt()).ok().map(Length::from_nanometres)
}

/// The length of a pipe of so much slope whose length in plan is `plan`. Floating point, rounded to the nanometre.
pub(crate) fn length_over(plan: Length, slope: Slope) -> Option<Length> {
    let run = plan.as_metres_f64();
    let slope = slope.as_f64()?;
    // The trade measures the fall along the pipe up to 1 in 4, and by the triangle above; see `Slope::fall_over`.
    let over = if slope.abs() > 0.25 {
        slope.hypot(1.0)
    } else {
        (1.0 - slope * slope).sqrt().recip()
    };
    Length::from_metres_f64(run * over)
}

/// A length taken so many times, for parts of a step by the compass. Floating point unless the part is 0 or 1.
fn part(length: Length, of_step: f64) -> Option<Length> {
    if of_step == 1.0 {
        Some(length)
    } else if of_step == -1.0 {
        Length::ZERO.checked_sub(length)
    } else if of_step == 0.0 {
        Some(Length::ZERO)
    } else {
        Length::from_metres_f64(length.as_metres_f64() * of_step)
    }
}

pub(crate) struct Solver<'g> {
    pub(crate) graph: &'g mut Graph,
    pub(crate) notation: Notation,
    pub(crate) plan: Plan,
}

/// What a figure was settled of.
enum Settled {
    Node(NodeId),
    Pipe,
}

/// The axes of a position.
const PLAN: [usize; 2] = [0, 1];
const UP: usize = 2;

impl Solver<'_> {
    /// Whether any pipe has a direction that is stated: one that an edit has made vertical has none for as long.
    fn states_direction(&self) -> bool {
        self.graph.edge_references().any(|pipe| {
            let bearing = self.plan.bearings.get(pipe.id().index()).copied().flatten();
            bearing.is_some() && !pipe.weight().slope.is_some_and(Slope::is_vertical)
        })
    }

    /// Follows the pipes until nothing more comes to light. A network that states no position has its origin in plan
    /// at the point of disposal, if it states a direction.
    pub(crate) fn solve(&mut self, disposal: NodeId) {
        if self.plan.positions.iter().all(|place| *place == [None; 2])
            && self.states_direction()
            && let Some(place) = self.plan.positions.get_mut(disposal.index())
        {
            *place = [Some(Length::ZERO); 2];
        }
        let mut waiting: VecDeque<PipeId> = self.graph.edge_indices().collect();
        let mut queued = vec![true; self.graph.edge_bound()];
        while let Some(pipe) = waiting.pop_front() {
            if let Some(queued) = queued.get_mut(pipe.index()) {
                *queued = false;
            }
            let Some((from, to)) = self.graph.edge_endpoints(pipe) else {
                continue;
            };
            while let Some(settled) = self.follow(pipe, from, to) {
                // Each figure of a node is settled once, so that no pipe is looked at more than a few times.
                let Settled::Node(node) = settled else {
                    continue;
                };
                for direction in [Direction::Outgoing, Direction::Incoming] {
                    for next in self.graph.edges_directed(node, direction) {
                        if let Some(queued) = queued.get_mut(next.id().index())
                            && !std::mem::replace(queued, true)
                        {
                            waiting.push_back(next.id());
                        }
                    }
                }
            }
        }
    }

    fn at(&self, node: NodeId, axis: usize) -> Option<Length> {
        match axis {
            UP => self.graph.node_weight(node)?.elevation,
            _ => *self.plan.positions.get(node.index())?.get(axis)?,
        }
    }

    fn set(&mut self, node: NodeId, axis: usize, to: Length) {
        if axis == UP {
            if let Some(node) = self.graph.node_weight_mut(node) {
                node.elevation = Some(to);
            }
        } else if let Some(place) = self.plan.positions.get_mut(node.index())
            && let Some(place) = place.get_mut(axis)
        {
            *place = Some(to);
        }
    }

    fn apart(&self, from: NodeId, to: NodeId, axis: usize) -> Option<Length> {
        self.at(to, axis)?.checked_sub(self.at(from, axis)?)
    }

    /// How far the end of a pipe lies from its start along an axis, by what is known of the pipe itself.
    fn step(&self, pipe: PipeId, from: NodeId, to: NodeId, axis: usize) -> Option<Length> {
        if axis == UP {
            return rise(self.graph, pipe);
        }
        let own = self.graph.edge_weight(pipe)?;
        if own.slope.is_some_and(Slope::is_vertical) {
            return Some(Length::ZERO);
        }
        let bearing = (*self.plan.bearings.get(pipe.index())?)?;
        let of_step = *bearing.east_and_north().get(axis)?;
        if of_step == 0.0 {
            return Some(Length::ZERO);
        }
        let length = own.length?;
        let run = match own.slope {
            Some(slope) => slope.run_over(length)?,
            None => other_side(length, self.apart(from, to, UP)?)?,
        };
        part(run, of_step)
    }

    /// Settles one more figure by a pipe; none where there is none.
    fn follow(&mut self, pipe: PipeId, from: NodeId, to: NodeId) -> Option<Settled> {
        for axis in [0, 1, UP] {
            let step = match (self.at(from, axis), self.at(to, axis)) {
                (Some(_), Some(_)) | (None, None) => continue,
                _ => self.step(pipe, from, to, axis),
            };
            let Some(step) = step else {
                continue;
            };
            let (node, reached) = match (self.at(from, axis), self.at(to, axis)) {
                (Some(start), None) => (to, start.checked_add(step)),
                (None, Some(end)) => (from, end.checked_sub(step)),
                _ => continue,
            };
            if let Some(reached) = reached {
                self.set(node, axis, reached);
                return Some(Settled::Node(node));
            }
        }
        (self.settle_length(pipe, from, to) || self.settle_bearing(pipe, from, to)).then_some(Settled::Pipe)
    }

    /// The length in plan between the ends of a pipe that is not vertical, from both axes or from the bearing and one.
    fn run(&self, pipe: PipeId, from: NodeId, to: NodeId) -> Option<Length> {
        let apart = PLAN.map(|axis| self.apart(from, to, axis));
        if let [Some(east), Some(north)] = apart {
            // Floating point, rounded to the nanometre, unless the way is along one axis.
            return match (east == Length::ZERO, north == Length::ZERO) {
                (_, true) => Some(Length::from_nanometres(east.nanometres().checked_abs()?)),
                (true, _) => Some(Length::from_nanometres(north.nanometres().checked_abs()?)),
                _ => Length::from_metres_f64(east.as_metres_f64().hypot(north.as_metres_f64())),
            };
        }
        let bearing = (*self.plan.bearings.get(pipe.index())?)?;
        let ways = bearing.east_and_north();
        PLAN.into_iter().find_map(|axis| {
            let (apart, of_step) = ((*apart.get(axis)?)?, *ways.get(axis)?);
            // Far from at right angles to the axis, or the length would magnify every rounding.
            (of_step.abs() > 0.1).then_some(())?;
            let run = Length::from_metres_f64(apart.as_metres_f64() / of_step)?;
            (run > Length::ZERO).then_some(run)
        })
    }

    fn settle_length(&mut self, pipe: PipeId, from: NodeId, to: NodeId) -> bool {
        let Some(own) = self.graph.edge_weight(pipe) else {
            return false;
        };
        let slope = own.slope;
        if own.length.is_some() {
            return match (slope, own.length, self.fall(pipe, from, to)) {
                (None, Some(length), Some(fall)) => self.settle_slope(pipe, fall, length),
                _ => false,
            };
        }
        let fall = self.fall(pipe, from, to);
        let length = match (slope, fall) {
            (Some(slope), fall) if slope.is_vertical() => fall.filter(|fall| *fall > Length::ZERO),
            (Some(slope), _) => self.run(pipe, from, to).and_then(|run| length_over(run, slope)),
            (None, Some(fall)) => self
                .run(pipe, from, to)
                .and_then(|run| Length::from_metres_f64(run.as_metres_f64().hypot(fall.as_metres_f64()))),
            (None, None) => None,
        };
        let Some(length) = length.filter(|length| *length > Length::ZERO) else {
            return false;
        };
        if let Some(own) = self.graph.edge_weight_mut(pipe) {
            own.length = Some(length);
        }
        if let (None, Some(fall)) = (slope, fall) {
            self.settle_slope(pipe, fall, length);
        }
        true
    }

    fn settle_slope(&mut self, pipe: PipeId, fall: Length, length: Length) -> bool {
        let slope = by_heights(fall, length);
        if let Some(own) = self.graph.edge_weight_mut(pipe) {
            own.slope = slope;
        }
        slope.is_some()
    }

    /// The fall of a drain, the rise of a vent, by the heights of its ends.
    fn fall(&self, pipe: PipeId, from: NodeId, to: NodeId) -> Option<Length> {
        let apart = self.apart(from, to, UP)?;
        if crate::elevation::goes_up(self.graph, pipe) {
            return Some(apart);
        }
        Length::ZERO.checked_sub(apart)
    }

    fn settle_bearing(&mut self, pipe: PipeId, from: NodeId, to: NodeId) -> bool {
        let plumb = |own: &Pipe| own.slope.is_some_and(Slope::is_vertical);
        if self.graph.edge_weight(pipe).is_none_or(plumb) {
            return false;
        }
        let way = PLAN.map(|axis| self.apart(from, to, axis));
        let found = match way {
            [Some(east), Some(north)] => Bearing::of_way(east.as_metres_f64(), north.as_metres_f64()),
            _ => None,
        };
        match self.plan.bearings.get_mut(pipe.index()) {
            Some(bearing @ None) => {
                *bearing = found;
                found.is_some()
            }
            _ => false,
        }
    }

    /// Tells of each pipe whose own figures deny where its ends stand in plan.
    pub(crate) fn check(&self, deny: &mut dyn FnMut(PipeId, String)) {
        for pipe in self.graph.edge_indices() {
            let Some((from, to)) = self.graph.edge_endpoints(pipe) else {
                continue;
            };
            let (Some([east, north]), Some(own)) = (
                self.both(|axis| self.apart(from, to, axis)),
                self.graph.edge_weight(pipe),
            ) else {
                continue;
            };
            let name = |id| {
                self.graph
                    .node_weight(id)
                    .map_or_else(Arc::default, |node: &Node| Arc::clone(&node.name))
            };
            let stands = format!(
                "`{}` stands {} `{}`",
                name(to),
                self.way([east, north]),
                name(from)
            );
            let bearing = self.plan.bearings.get(pipe.index()).copied().flatten();
            let message = if own.slope.is_some_and(Slope::is_vertical) {
                let aside = [east, north].map(|apart| differ(apart, Length::ZERO));
                (aside != [false, false]).then(|| format!("`{}` is vertical, but {stands}", own.name))
            } else if let Some(step) = self.both(|axis| self.step(pipe, from, to, axis)) {
                let [to_east, to_north] = step;
                (differ(to_east, east) || differ(to_north, north)).then(|| {
                    let goes = bearing.map_or_else(String::new, |bearing| format!(" {bearing}"));
                    let length = own.length.unwrap_or_default().in_notation(self.notation);
                    format!("`{}` goes {length}{goes}, but {stands}", own.name)
                })
            } else {
                None
            };
            if let Some(message) = message {
                deny(pipe, message);
            }
        }
    }

    fn both(&self, of: impl Fn(usize) -> Option<Length>) -> Option<[Length; 2]> {
        Some([of(0)?, of(1)?])
    }

    /// `2 ft 6 in east and 4 in north of`.
    fn way(&self, [east, north]: [Length; 2]) -> String {
        let part = |apart: Length, [ahead, back]: [&str; 2]| {
            let far = Length::from_nanometres(apart.nanometres().saturating_abs());
            let word = if apart < Length::ZERO { back } else { ahead };
            format!("{} {word}", far.in_notation(self.notation))
        };
        match (east == Length::ZERO, north == Length::ZERO) {
            (true, true) => "right at".to_owned(),
            (false, true) => format!("{} of", part(east, ["east", "west"])),
            (true, false) => format!("{} of", part(north, ["north", "south"])),
            (false, false) => format!(
                "{} and {} of",
                part(east, ["east", "west"]),
                part(north, ["north", "south"])
            ),
        }
    }
}
