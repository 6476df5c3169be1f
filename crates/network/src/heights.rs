//! Heights of fixtures and valves, and of pipes in joists, that no building can have together.
//!
//! It never asks what a code allows: a fixture holds no water above its rim, a valve stands where its vent leads, and a
//! pipe passes a joist where it lies.

use std::collections::{HashMap, HashSet};

use crownweir_quantity::{Length, Notation, Slope};
use crownweir_vocabulary::{Cut, MemberEdge, MemberKind, Role};
use petgraph::Direction::{self, Incoming, Outgoing};
use petgraph::visit::EdgeRef;

use crate::elevation::{self, ROUNDING_ALLOWANCE};
use crate::framing::{TOUCH, half_of};
use crate::geometry::{Denied, Deny};
use crate::model::{
    Fixture, Graph, Network, Node, NodeId, NodeKind, Passage, PipeId, Position, Storey, Valve, floor,
};

/// Heights of valves are measured from the axis, the top or the bottom of a drain, to the end of a vent or to where the
/// valve takes in air: only a difference larger than what lies between contradicts (100 mm).
const VALVE_ALLOWANCE: Length = Length::from_nanometres(100_000_000);

/// How far a pipe may be stated to lie in a joist from where heights have it (6.35 mm): the height of the pipe, that of the
/// joist's edge and the stated centre are each read to an eighth of an inch, or three millimetres, and rounded; more than
/// two of these together explain contradicts. Over that a hole that its edges allow is not bored where the pipe runs.
const CENTRE_ALLOWANCE: Length = ROUNDING_ALLOWANCE;

/// Under which keys what stands at a node may state a height.
pub(crate) type Keys = &'static [&'static str];

const OF_FIXTURE: Keys = &["weir_height", "rim_height"];
const OF_STANDPIPE: Keys = &["standpipe_height", "rim_height", "weir_height"];
const ABOVE_DRAIN: Keys = &["height_above_drain"];
const ABOVE_RIM: Keys = &["height_above_rim"];

const MEND_RIM: &str = "correct the height of the weir or of the rim";
const MEND_OUTLET: &str = "correct the drop, or the height of the weir or of the rim";
const MEND_STANDPIPE: &str = "correct the height of the standpipe, of its rim or of the weir";
const MEND_BY_VENT: &str =
    "correct one of the two: the height as stated, or the vent's lengths, slopes and heights";
const MEND_ONE: &str = "correct one of the two";
const MEND_CENTRE: &str =
    "correct a height or a slope, or the centre, or leave the centre out where heights give it";

const MEND_OUTSIDE: &str =
    "correct a height or a slope, or the depth of the framing, or leave out what the pipe does not pass";
const MEND_STATED: &str = "correct the centre, or the depth of the framing";
const MEND_NOTCH: &str = "correct a height, a slope or the notch, or have a hole bored";

/// What has been found out of nodes that vents lead from: nothing where there is no drain.
type Bases = HashMap<NodeId, Option<Base>>;

/// The drains at a node that a vent leads from.
#[derive(Clone, Copy)]
struct Base {
    /// How far above the node the highest of the drains begins that come to it, where all are known and lie level.
    top: Option<Length>,
    /// Whether the drain that the vent serves may lie lower: one goes down from there plumb, or may do so, and none comes to
    /// there that is known to lie level.
    may_lie_lower: bool,
}

impl Base {
    /// How far a valve stands above the drain that its vent leads from, where that is not what is stated. By its end the
    /// vent leads to a `rise` above that drain; what comes down to there lies higher, and where none lies level there, what
    /// goes down from there may be meant, which lies lower.
    fn other_than(self, stated: Length, rise: Length) -> Option<Length> {
        let least = self.top.and_then(|top| rise.checked_sub(top));
        if let Some(least) = least.filter(|&least| exceeds(least, stated, VALVE_ALLOWANCE)) {
            return Some(least);
        }
        (!self.may_lie_lower && exceeds(stated, rise, VALVE_ALLOWANCE)).then_some(rise)
    }
}

/// What heights are told by.
#[derive(Clone, Copy)]
pub(crate) struct Levels<'n> {
    pub(crate) graph: &'n Graph,
    pub(crate) storeys: &'n [Storey],
    pub(crate) notation: Notation,
}

impl<'n> Levels<'n> {
    /// Tells of those of some nodes whose heights deny one another.
    pub(crate) fn check(self, nodes: impl Iterator<Item = NodeId>, deny: &mut Deny<'_>) {
        let mut bases = Bases::new();
        for id in nodes {
            let Some(node) = self.graph.node_weight(id) else {
                continue;
            };
            match &node.kind {
                NodeKind::Fixture(fixture) => self.check_fixture(id, node, fixture, deny),
                NodeKind::Valve(valve) => self.check_valve(id, node, valve, &mut bases, deny),
                _ => {}
            }
        }
    }

    /// A fixture's outlet, and the weir at or below it, lie under the rim over which its water would run. A standpipe ends
    /// at its rim.
    fn check_fixture(self, id: NodeId, node: &Node, fixture: &Fixture, deny: &mut Deny<'_>) {
        let weir = node.elevation.zip(floor(self.storeys, node.storey));
        let weir = weir.and_then(|(weir, floor)| weir.checked_sub(floor));
        let Some((weir, rim)) = weir.zip(fixture.rim_height) else {
            return;
        };
        if exceeds(weir, rim, ROUNDING_ALLOWANCE) {
            let message = format!(
                "the trap weir of `{}` stands {} above the floor, but its rim only {}",
                node.name,
                self.shown(weir),
                self.shown(rim)
            );
            deny(Denied::Node(id, OF_FIXTURE), message, MEND_RIM);
            return;
        }
        let drop = fixture.trap.outlet_drop;
        if let Some((drop, outlet)) = drop.and_then(|drop| Some((drop, weir.checked_add(drop)?)))
            && exceeds(outlet, rim, ROUNDING_ALLOWANCE)
        {
            let message = format!(
                "the outlet of `{}` stands {} above the floor, {} above its trap weir, but its rim only {}",
                node.name,
                self.shown(outlet),
                self.shown(drop),
                self.shown(rim)
            );
            deny(Denied::Node(id, OF_FIXTURE), message, MEND_OUTLET);
            return;
        }
        if let Some((stated, height)) = fixture.standpipe_height.zip(rim.checked_sub(weir))
            && elevation::differ(stated, height)
        {
            let message = format!(
                "the standpipe of `{}` is stated {} high, but its rim stands {} above its trap weir",
                node.name,
                self.shown(stated),
                self.shown(height)
            );
            deny(Denied::Node(id, OF_STANDPIPE), message, MEND_STANDPIPE);
        }
    }

    fn check_valve(self, id: NodeId, node: &Node, valve: &Valve, bases: &mut Bases, deny: &mut Deny<'_>) {
        let (above_drain, above_rim) = (valve.height_above_drain, valve.height_above_rim);
        // What a fixture holds runs down to the drain.
        if let Some((drain, rim)) = above_drain.zip(above_rim)
            && exceeds(rim, drain, ROUNDING_ALLOWANCE)
        {
            let message = format!(
                "`{}` is stated {} above the rim of the highest fixture that it serves, but only {} above the drain \
                 that it vents, which lies lower",
                node.name,
                self.shown(rim),
                self.shown(drain)
            );
            deny(Denied::Node(id, ABOVE_DRAIN), message, MEND_ONE);
            return;
        }
        if above_drain.is_none() && above_rim.is_none() {
            return;
        }
        let Some((foot, base, rise)) = self.vent_of(id, bases) else {
            return;
        };
        if let Some((stated, rise)) = above_drain.zip(rise)
            && let Some(other) = base.other_than(stated, rise)
        {
            let message = format!(
                "`{}` is stated {} above the drain that it vents, but stands {} above it by its vent",
                node.name,
                self.shown(stated),
                self.shown(other)
            );
            deny(Denied::Node(id, ABOVE_DRAIN), message, MEND_BY_VENT);
        }
        if let Some((stated, height)) = above_rim.zip(node.elevation)
            && let Some((served, above)) = self.higher_rim(stated, foot, height)
        {
            let side = if above < Length::ZERO { "below" } else { "above" };
            let message = format!(
                "`{}` is stated {} above the rim of the highest fixture that it serves, but stands {} {side} that of \
                 `{}` by its vent",
                node.name,
                self.shown(stated),
                elevation::magnitude(above, self.notation),
                served.name
            );
            deny(Denied::Node(id, ABOVE_RIM), message, MEND_BY_VENT);
        }
    }

    /// The node of the drains from which a vent leads to a valve that no other joins or leaves, and how far the valve
    /// stands above it, where that is known.
    fn vent_of(self, valve: NodeId, bases: &mut Bases) -> Option<(NodeId, Base, Option<Length>)> {
        let (mut at, mut sum) = (valve, Some(Length::ZERO));
        // An edit may have closed a way round, which is told of later.
        for _ in 0..=self.graph.edge_count() {
            if let Some(base) = *bases.entry(at).or_insert_with(|| self.base(at)) {
                let height = |id: NodeId| self.graph.node_weight(id)?.elevation;
                let known = height(valve).zip(height(at));
                let apart = known.and_then(|(valve, base)| valve.checked_sub(base));
                return Some((at, base, apart.or(sum)));
            }
            // A vent that divides is told of later.
            if at != valve {
                self.only(at, Outgoing, Role::Vent)?;
            }
            let (from, vent) = self.only(at, Incoming, Role::Vent)?;
            sum = sum
                .zip(elevation::rise(self.graph, vent))
                .and_then(|(sum, rise)| sum.checked_add(rise));
            at = from;
        }
        None
    }

    /// What the drains at a node are to the vents that leave it; nothing where there are none.
    fn base(self, id: NodeId) -> Option<Base> {
        if !self.touches(id, Role::Drain) {
            return None;
        }
        let drains = |direction| {
            let edges = self.graph.edges_directed(id, direction);
            edges.filter(|edge| edge.weight().role == Role::Drain)
        };
        let mut top = Some(Length::ZERO);
        let mut comes_level = false;
        for edge in drains(Incoming) {
            let level = edge.weight().slope.is_some_and(|slope| !slope.is_vertical());
            comes_level |= level;
            let apart = elevation::apart(self.graph, edge.id()).or(elevation::rise(self.graph, edge.id()));
            let start = apart
                .filter(|_| level)
                .and_then(|apart| Length::ZERO.checked_sub(apart));
            top = top.zip(start).map(|(top, start)| top.max(start));
        }
        let goes_down = drains(Outgoing).any(|edge| edge.weight().slope.is_none_or(Slope::is_vertical));
        let may_lie_lower = goes_down && !comes_level;
        Some(Base { top, may_lie_lower })
    }

    /// A fixture whose drain leads past no other to where a valve's vent begins, and how far the valve stands above its
    /// rim, where that is less than it is stated to stand above the highest.
    fn higher_rim(self, stated: Length, base: NodeId, valve: Length) -> Option<(&'n Node, Length)> {
        // Of several vents another may be the one that serves it.
        self.only(base, Outgoing, Role::Vent)?;
        let mut drains: Vec<NodeId> = self.leading_to(base).collect();
        let mut left = self.graph.edge_count();
        while let Some(id) = drains.pop() {
            let node = self.graph.node_weight(id)?;
            if let NodeKind::Fixture(fixture) = &node.kind {
                let rim = floor(self.storeys, node.storey).zip(fixture.rim_height);
                let rim = rim.and_then(|(floor, rim)| floor.checked_add(rim));
                if let Some(above) = rim.and_then(|rim| valve.checked_sub(rim))
                    && exceeds(stated, above, VALVE_ALLOWANCE)
                {
                    return Some((node, above));
                }
            } else if left > 0 && self.passes_on(id) {
                left -= 1;
                drains.extend(self.leading_to(id));
            }
        }
        None
    }

    /// The nodes whose drains lead to a node.
    fn leading_to(self, id: NodeId) -> impl Iterator<Item = NodeId> + 'n {
        let edges = self.graph.edges_directed(id, Incoming);
        edges
            .filter(|edge| edge.weight().role == Role::Drain)
            .map(|edge| edge.source())
    }

    /// Whether a drain goes on there, and no other joins it and no vent leaves it.
    fn passes_on(self, id: NodeId) -> bool {
        !self.touches(id, Role::Vent) && self.only(id, Incoming, Role::Drain).is_some()
    }

    fn touches(self, id: NodeId, role: Role) -> bool {
        [Incoming, Outgoing].into_iter().any(|direction| {
            let mut edges = self.graph.edges_directed(id, direction);
            edges.any(|edge| edge.weight().role == role)
        })
    }

    /// The one pipe of its role in that direction from a node, and the node at its other end.
    fn only(self, id: NodeId, direction: Direction, role: Role) -> Option<(NodeId, PipeId)> {
        let edges = self.graph.edges_directed(id, direction);
        let mut edges = edges.filter(|edge| edge.weight().role == role);
        match (edges.next(), edges.next()) {
            (Some(edge), None) => {
                let other = if direction == Incoming {
                    edge.source()
                } else {
                    edge.target()
                };
                Some((other, edge.id()))
            }
            _ => None,
        }
    }

    /// Some nodes, and those whose heights hang together with theirs: valves up the vents from them, or from where their
    /// drains first come to a vent.
    pub(crate) fn held_with(self, nodes: impl Iterator<Item = NodeId>) -> Vec<NodeId> {
        let mut list: Vec<NodeId> = nodes.collect();
        list.sort_unstable();
        list.dedup();
        let mut met: HashSet<NodeId> = list.iter().copied().collect();
        let own = list.len();
        let mut next = 0;
        while let Some(&id) = list.get(next) {
            let follows_drains = next < own || self.passes_on(id);
            next += 1;
            for edge in self.graph.edges_directed(id, Outgoing) {
                let other = edge.target();
                let follows = match edge.weight().role {
                    Role::Drain => follows_drains,
                    _ => self.only(other, Incoming, Role::Vent).is_some(),
                };
                if follows && met.insert(other) {
                    list.push(other);
                }
            }
        }
        list
    }

    fn shown(self, length: Length) -> impl std::fmt::Display {
        length.in_notation(self.notation)
    }
}

impl Network {
    /// The first of the members passed alike that a pipe cannot pass as stated, by its number among the passages, what is to
    /// be said of it and what mends it. A rafter rises along its length, so that the height of its row is not that at a pipe.
    pub(crate) fn denied_passages(&self) -> Vec<(usize, (String, &'static str))> {
        let mut denied: Vec<(usize, (String, &'static str))> = Vec::new();
        let mut told: Option<(PipeId, Position)> = None;
        let mut across = HashMap::new();
        for (number, passage) in self.passages.iter().take(self.stated_passages).enumerate() {
            if told == Some((passage.pipe, passage.position)) {
                continue;
            }
            let misplaced = self.denied_by_layout(passage, &mut across);
            if let Some(message) = misplaced.or_else(|| self.denied_passage(passage)) {
                denied.push((number, message));
                told = Some((passage.pipe, passage.position));
            }
        }
        denied
    }

    fn denied_passage(&self, passage: &Passage) -> Option<(String, &'static str)> {
        let members = self.framing().get(passage.members as usize)?;
        let by_heights = self
            .centre_by_heights(passage)
            .filter(|_| members.kind == MemberKind::Joist);
        let stated = passage.centre.and_then(|_| self.centre_of(passage));
        let pipe = self.graph.edge_weight(passage.pipe)?;
        let shown = |length: Length| elevation::magnitude(length, self.notation).to_string();
        let passes = format!(
            "`{}` is stated to pass number {} of `{}`",
            pipe.name, passage.number, members.name
        );
        if let Some((stated, lies)) = stated.zip(by_heights)
            && apart(stated, lies)
        {
            let side = if lies < Length::ZERO { "below" } else { "above" };
            let (stated, lies) = (shown(stated), shown(lies));
            let message =
                format!("{passes} {stated} above the lower edge, but lies {lies} {side} it by its heights");
            return Some((message, MEND_CENTRE));
        }
        let (depth, half) = (members.depth?, half_of(pipe.size?));
        let lies = by_heights.or(stated)?;
        // How far the axis lies from the lower edge and from the upper one, into the member.
        let (lower, upper) = (lies, depth.checked_sub(lies)?);
        let touch = half.checked_add(TOUCH)?;
        if exceeds(
            Length::ZERO,
            lower.min(upper).checked_add(touch)?,
            CENTRE_ALLOWANCE,
        ) {
            return Some(match by_heights {
                Some(_) => {
                    let side = if lower < upper {
                        "below the lower"
                    } else {
                        "above the upper"
                    };
                    let out = shown(lower.min(upper));
                    (
                        format!("{passes}, but lies {out} {side} edge by its heights"),
                        MEND_OUTSIDE,
                    )
                }
                None => {
                    let (stated, depth) = (shown(lies), shown(depth));
                    (
                        format!("{passes} {stated} from one edge, but that is {depth} deep"),
                        MEND_STATED,
                    )
                }
            });
        }
        if !matches!(passage.cut, Cut::Notched | Cut::EndNotched) {
            return None;
        }
        // Where in a stud or a plate a notch is, its face does not tell.
        let (notch, _) = passage.notch_depth.zip(by_heights)?;
        let (into, edge) = match passage.notch_edge {
            Some(MemberEdge::Top) => (upper, " at the top"),
            Some(MemberEdge::Bottom) => (lower, " at the bottom"),
            _ => (lower.min(upper), ""),
        };
        exceeds(into, notch, CENTRE_ALLOWANCE).then(|| {
            let (notch, into) = (shown(notch), shown(into));
            (
                format!(
                    "{passes} in a notch {notch} deep{edge}, but its axis lies {into} deep by its heights"
                ),
                MEND_NOTCH,
            )
        })
    }
}

/// Whether two places of a hole are further apart than is allowed for.
pub(crate) fn apart(one: Length, other: Length) -> bool {
    exceeds(one, other, CENTRE_ALLOWANCE) || exceeds(other, one, CENTRE_ALLOWANCE)
}

/// Whether one height is above another by more than is allowed for.
fn exceeds(one: Length, other: Length, allowance: Length) -> bool {
    let above = i128::from(one.nanometres()) - i128::from(other.nanometres());
    above > i128::from(allowance.nanometres())
}
