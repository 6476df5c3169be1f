//! Which way pipes go in space, by how much the way turns at a fitting, and whether the fitting's pattern turns so.
//!
//! Only what is known on both sides is compared. Angles are in floating point.

use crownweir_quantity::Angle;
use crownweir_vocabulary::{FittingPattern, Inlet, Role};
use petgraph::Direction::{Incoming, Outgoing};

use crate::model::{Network, NodeId, NodeKind, PipeId};

/// How far a pipe may be out of a fitting's own angle, in degrees: half of the least by which two bends differ, so that a
/// fitting is denied only where another pattern comes nearer. Falls, the pitch that is built into the branches of drainage
/// fittings and the play of joints stay within it; it is a practice of the trade and no figure of a code.
pub const PLAY: f64 = 6.0;

/// A direction in space, of length one: east, north, up.
pub type Way = [f64; 3];

/// A pipe that a fitting's pattern does not join to the one that goes on.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Mismatch {
    /// The pipe.
    pub pipe: PipeId,
    /// The pipe that goes on.
    pub outlet: PipeId,
    /// By how much the way turns from the one to the other, in degrees.
    pub angle: f64,
}

impl Mismatch {
    /// The angle to a tenth of a degree.
    #[must_use]
    pub fn in_tenths(self) -> Angle {
        in_tenths(self.angle)
    }
}

/// An angle in degrees, to a tenth of a degree.
#[must_use]
pub fn in_tenths(degrees: f64) -> Angle {
    #[expect(clippy::cast_possible_truncation, reason = "an angle of at most 180 degrees")]
    Angle::from_microdegrees((degrees * 10.0).round() as i64 * 100_000)
}

/// How the pattern of a fitting goes with the ways of its drains, or of its vents.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Fit {
    /// It joins them all.
    Joins,
    /// It does not join this one.
    Denies(Mismatch),
    /// Its pattern is not stated.
    PatternNotStated,
    /// It joins those whose ways are known, and of this pipe something is not stated.
    NotStated {
        /// The pipe.
        pipe: PipeId,
        /// What is not stated of it.
        datum: &'static str,
    },
}

/// How the pattern of a fitting goes with its pipes of one role. None where there is no fitting or nothing to join, and
/// where of none of these pipes the direction in plan is known: a network that states no directions is not asked for them.
/// Then drains at a pattern without a branch are held to what their slopes tell alone.
#[must_use]
pub fn fit(network: &Network, node: NodeId, role: Role) -> Option<Fit> {
    let NodeKind::Fitting { pattern } = network.graph().node_weight(node)?.kind else {
        return None;
    };
    let without_branch = pattern.filter(|pattern| role == Role::Drain && !pattern.has_branch());
    if network.plan.bearings.is_empty() && without_branch.is_none() {
        return None;
    }
    let outlet = outlet(network, node)?;
    let is_of_role = |pipe: &PipeId| is_drain(network, *pipe) == (role == Role::Drain);
    let pipes: Vec<PipeId> = joined(network, node, outlet, pattern)
        .filter(is_of_role)
        .collect();
    let in_plan = |pipe: &PipeId| network.bearing(*pipe).is_some();
    if pipes.is_empty() {
        return None;
    }
    if !(in_plan(&outlet) || pipes.iter().any(in_plan)) {
        return fit_by_slopes(network, node, without_branch?, &pipes, outlet);
    }
    let Some(pattern) = pattern else {
        return Some(Fit::PatternNotStated);
    };
    let only_vents = !is_drain(network, outlet);
    let fits = |angle| joins(pattern, angle) || only_vents && is_turned_about(pattern, angle);
    let mut fit = Fit::Joins;
    for pipe in pipes {
        match angle(network, node, pipe, outlet) {
            Some(angle) if !fits(angle) => {
                return Some(Fit::Denies(Mismatch { pipe, outlet, angle }));
            }
            None if fit == Fit::Joins => fit = not_stated(network, [pipe, outlet]),
            _ => {}
        }
    }
    Some(fit)
}

/// How a pattern without a branch goes with drains of which no direction in plan is known. The angle between a plumb one and
/// any other is known all the same; none where there is no plumb one.
fn fit_by_slopes(
    network: &Network,
    node: NodeId,
    pattern: FittingPattern,
    pipes: &[PipeId],
    outlet: PipeId,
) -> Option<Fit> {
    let mut fit = None;
    for &pipe in pipes {
        let not_stated = || {
            let mut both = [pipe, outlet].into_iter();
            let pipe = both.find(|pipe| way_of(network, *pipe).is_none())?;
            Some(Fit::NotStated { pipe, datum: "slope" })
        };
        match angle(network, node, pipe, outlet) {
            Some(angle) if !joins(pattern, angle) => {
                return Some(Fit::Denies(Mismatch { pipe, outlet, angle }));
            }
            Some(_) => fit = fit.or(Some(Fit::Joins)),
            None => fit = not_stated().or(fit),
        }
    }
    fit
}

/// By which opening a drain enters the fitting at its end: as stated, or by the run where the path goes on. Where two drains
/// alone meet at a fitting with a branch, the angle between them tells, if it is known in plan: what turns there comes in
/// by the branch.
#[must_use]
pub fn enters(network: &Network, pipe: PipeId) -> Inlet {
    let Some(own) = network.graph().edge_weight(pipe) else {
        return Inlet::Run;
    };
    let turns = || {
        let (_, node) = network.graph().edge_endpoints(pipe)?;
        let NodeKind::Fitting { pattern } = network.graph().node_weight(node)?.kind else {
            return None;
        };
        let pattern = pattern.filter(|pattern| pattern.has_branch())?;
        let outlet = outlet(network, node).filter(|outlet| is_drain(network, *outlet))?;
        let mut drains = network
            .pipes_at(node, Incoming)
            .filter(|pipe| is_drain(network, *pipe));
        let alone = drains.nth(1).is_none();
        let in_plan = [pipe, outlet].iter().all(|pipe| network.bearing(*pipe).is_some());
        let angle = angle(network, node, pipe, outlet).filter(|_| alone && in_plan)?;
        Some(entered(pattern, angle))
    };
    let asked = !network.plan.bearings.is_empty() && own.role == Role::Drain && !own.enters_stated;
    asked.then(turns).flatten().unwrap_or(own.enters)
}

/// Whether a fitting joins a pipe by its branch if its run is laid the other way round: in a vent nothing flows that its
/// branch has to follow.
fn is_turned_about(pattern: FittingPattern, angle: f64) -> bool {
    pattern.has_branch() && (180.0 - angle - turn(pattern)).abs() <= PLAY
}

fn is_drain(network: &Network, pipe: PipeId) -> bool {
    network
        .graph()
        .edge_weight(pipe)
        .is_some_and(|pipe| pipe.role == Role::Drain)
}

/// What is not stated of two pipes, so that the angle between them is not known.
fn not_stated(network: &Network, pipes: [PipeId; 2]) -> Fit {
    let without_slope = pipes.into_iter().find(|pipe| way_of(network, *pipe).is_none());
    let without_direction = || pipes.into_iter().find(|pipe| network.bearing(*pipe).is_none());
    match without_slope {
        Some(pipe) => Fit::NotStated { pipe, datum: "slope" },
        None => {
            let pipe = without_direction().unwrap_or(pipes[0]);
            let datum = "direction";
            Fit::NotStated { pipe, datum }
        }
    }
}

/// The first pipe at a fitting of this pattern that it does not join at the angle at which it comes.
#[must_use]
pub fn mismatch(network: &Network, node: NodeId, pattern: FittingPattern) -> Option<Mismatch> {
    let outlet = outlet(network, node)?;
    joined(network, node, outlet, Some(pattern)).find_map(|pipe| {
        let angle = angle(network, node, pipe, outlet)?;
        (!joins(pattern, angle)).then_some(Mismatch { pipe, outlet, angle })
    })
}

/// The pipes at a fitting of this pattern that it joins, but that are out of its angle by more than half of [`PLAY`], each with
/// by how many degrees: more than falls and pitched branches come to.
pub fn strained(
    network: &Network,
    node: NodeId,
    pattern: FittingPattern,
) -> impl Iterator<Item = (Mismatch, f64)> {
    let outlet = outlet(network, node);
    let pipes = outlet.into_iter().flat_map(move |outlet| {
        let pipes = joined(network, node, outlet, Some(pattern));
        pipes.map(move |pipe| (pipe, outlet))
    });
    pipes.filter_map(move |(pipe, outlet)| {
        let angle = angle(network, node, pipe, outlet)?;
        let straight = pattern.has_branch().then_some(angle);
        let only_vents = pattern.has_branch() && !is_drain(network, pipe) && !is_drain(network, outlet);
        let turned_about = only_vents.then(|| (180.0 - angle - turn(pattern)).abs());
        let others = [straight, turned_about].into_iter().flatten();
        let off = others.fold((angle - turn(pattern)).abs(), f64::min);
        (off > PLAY / 2.0 && off <= PLAY).then_some((Mismatch { pipe, outlet, angle }, off))
    })
}

/// The pipes that a fitting joins to the one that goes on. A vent that leaves a drain's bend has an opening of its own there,
/// of which the pattern says nothing.
fn joined(
    network: &Network,
    node: NodeId,
    outlet: PipeId,
    pattern: Option<FittingPattern>,
) -> impl Iterator<Item = PipeId> {
    let only_drains = is_drain(network, outlet) && pattern.is_some_and(|pattern| !pattern.has_branch());
    others(network, node, outlet).filter(move |pipe| !only_drains || is_drain(network, *pipe))
}

/// Whether a fitting joins a pipe at so many degrees to the one that goes on: as its bend or branch turns, or straight
/// through its run.
#[must_use]
pub fn joins(pattern: FittingPattern, angle: f64) -> bool {
    let runs_through = pattern.has_branch() && angle <= PLAY;
    runs_through || (angle - turn(pattern)).abs() <= PLAY
}

/// The opening of a fitting with a branch that a pipe comes in by, at an angle in degrees to the one that goes on.
#[must_use]
pub fn entered(pattern: FittingPattern, angle: f64) -> Inlet {
    if (angle - turn(pattern)).abs() < angle {
        Inlet::Branch
    } else {
        Inlet::Run
    }
}

/// The angle that a fitting turns what follows its bend or comes in by its branch, in degrees.
#[must_use]
pub fn turn(pattern: FittingPattern) -> f64 {
    pattern.turn_in_tenths() as f64 / 10.0
}

/// The pipe by which water, or else air, goes on from a node.
#[must_use]
pub fn outlet(network: &Network, node: NodeId) -> Option<PipeId> {
    let is_of = |pipe: &PipeId, role| {
        network
            .graph()
            .edge_weight(*pipe)
            .is_some_and(|pipe| pipe.role == role)
    };
    let out = |role| network.pipes_at(node, Outgoing).find(|pipe| is_of(pipe, role));
    out(Role::Drain).or_else(|| out(Role::Vent))
}

/// The other pipes at a node: those that come in, and vents that leave where water goes on.
pub fn others(network: &Network, node: NodeId, outlet: PipeId) -> impl Iterator<Item = PipeId> {
    let pipes = |direction| network.pipes_at(node, direction);
    pipes(Incoming)
        .chain(pipes(Outgoing))
        .filter(move |pipe| *pipe != outlet)
}

/// By how much the way turns from a pipe at a node to the one that goes on, in degrees. A vent that leaves is looked at
/// from its far end, as if it came in.
#[must_use]
pub fn angle(network: &Network, node: NodeId, pipe: PipeId, outlet: PipeId) -> Option<f64> {
    let (from, _) = network.graph().edge_endpoints(pipe)?;
    let (one, other) = (way_of(network, pipe)?, way_of(network, outlet)?);
    let one = if from == node { one.map(|part| -part) } else { one };
    // Against a vertical pipe only the slope of the other counts, whichever way it goes in plan.
    if one[UP].abs() == 1.0 || other[UP].abs() == 1.0 {
        return Some((one[UP] * other[UP]).clamp(-1.0, 1.0).acos().to_degrees());
    }
    between(one, other)
}

/// By how much the way turns from one pipe to another, wherever the two are, in degrees; east and north have to be known of
/// pipes that are not vertical.
#[must_use]
pub fn turned(network: &Network, one: PipeId, other: PipeId) -> Option<f64> {
    between(way_of(network, one)?, way_of(network, other)?)
}

/// The place of the upward part in a direction.
const UP: usize = 2;

/// The way a pipe points, in space; east and north are not numbers where its direction in plan is not known.
#[must_use]
pub fn way_of(network: &Network, pipe: PipeId) -> Option<Way> {
    let own = network.graph().edge_weight(pipe)?;
    let up = if network.goes_up(pipe) { 1.0 } else { -1.0 };
    let slope = own.slope?;
    if slope.is_vertical() {
        return Some([0.0, 0.0, up]);
    }
    let (sine, cosine) = slope.as_f64().map(f64::atan)?.sin_cos();
    let [east, north] = network
        .bearing(pipe)
        .map_or([f64::NAN; 2], |bearing| bearing.east_and_north());
    Some([east * cosine, north * cosine, up * sine])
}

/// The angle between two ways, in degrees, where both are known in plan.
fn between(one: Way, other: Way) -> Option<f64> {
    let known = |way: Way| way.iter().all(|part| !part.is_nan());
    let product: f64 = one.iter().zip(other).map(|(one, other)| one * other).sum();
    (known(one) && known(other)).then(|| product.clamp(-1.0, 1.0).acos().to_degrees())
}
