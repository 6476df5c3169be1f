//! Whether fittings turn as their pipes do.
//!
//! Only what is known on both sides is compared. Angles are in floating point.

use crownweir_document::Diagnostic;
use crownweir_network::{Network, NodeId, NodeKind, PipeId, Position};
use crownweir_quantity::Angle;
use crownweir_vocabulary::{FittingPattern, Inlet, Role};
use petgraph::Direction::{Incoming, Outgoing};

/// How far a pipe may be out of a fitting's own angle, in degrees: joints have play, and a fitting of 90 degrees also
/// joins a drain that falls to a vertical one. No two bends are as near to each other.
pub(crate) const PLAY: f64 = 5.0;

/// A direction in space, of length one: east, north, up.
type Way = [f64; 3];

/// A fitting that its pipes deny.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Contradiction {
    /// The fitting.
    pub fitting: NodeId,
    /// What denies it, with both figures and the place in the file.
    pub problem: Diagnostic,
}

/// Every fitting that turns otherwise than its pipes do, or that a pipe is stated to enter by another opening than its
/// angle tells; the first that is wrong with each, in the order of the file.
pub(crate) fn contradictions(network: &Network) -> Vec<Contradiction> {
    let graph = network.graph();
    let mut found = Vec::new();
    for id in network.flow_order().nodes {
        let Some(node) = graph.node_weight(id) else {
            continue;
        };
        let NodeKind::Fitting {
            pattern: Some(pattern),
        } = node.kind
        else {
            continue;
        };
        let wrong = wrong_angle(network, id, pattern)
            .map(|message| {
                (
                    node.position,
                    message,
                    "correct the pattern, a direction or a slope",
                )
            })
            .or_else(|| {
                let (position, message) = wrong_opening(network, id, pattern)?;
                Some((position, message, "correct `enters`, or a direction or a slope"))
            });
        if let Some((position, message, help)) = wrong {
            let (line, column) = (position.line as usize, position.column as usize);
            let problem = Diagnostic::at(network.file(), line, column, message).helped(help);
            found.push(Contradiction { fitting: id, problem });
        }
    }
    found.sort_by_key(|one: &Contradiction| (one.problem.place.line, one.problem.place.column));
    found
}

/// A pipe that is stated to enter a fitting by one opening and does by another.
fn wrong_opening(network: &Network, node: NodeId, pattern: FittingPattern) -> Option<(Position, String)> {
    if !pattern.has_branch() {
        return None;
    }
    let graph = network.graph();
    let name = &graph.node_weight(node)?.name;
    let outlet = outlet(network, node)?;
    others(network, node, outlet).find_map(|pipe| {
        let own = graph.edge_weight(pipe).filter(|own| own.enters_stated)?;
        let comes_in = graph.edge_endpoints(pipe).is_some_and(|(_, to)| to == node);
        let angle = angle(network, node, pipe, outlet).filter(|_| comes_in)?;
        let enters = entered(pattern, angle);
        let opening = |inlet: Inlet| match inlet {
            Inlet::Branch => "branch",
            _ => "run",
        };
        (enters != own.enters).then(|| {
            let message = format!(
                "`{}` is stated to enter `{name}` ({pattern}) by its {}, but at {} to `{}` it comes in by its {}",
                own.name,
                opening(own.enters),
                degrees(angle),
                graph.edge_weight(outlet).map_or("", |outlet| &*outlet.name),
                opening(enters),
            );
            (own.position, message)
        })
    })
}

/// The opening of a fitting with a branch that a pipe comes in by, at an angle in degrees to the one that goes on.
pub(crate) fn entered(pattern: FittingPattern, angle: f64) -> Inlet {
    if (angle - turn(pattern)).abs() < angle {
        Inlet::Branch
    } else {
        Inlet::Run
    }
}

fn wrong_angle(network: &Network, node: NodeId, pattern: FittingPattern) -> Option<String> {
    let graph = network.graph();
    let name = &graph.node_weight(node)?.name;
    let called = |pipe: PipeId| graph.edge_weight(pipe).map_or("", |pipe| &*pipe.name);
    let outlet = outlet(network, node)?;
    // As the bend or branch turns, and straight through a run.
    let turn = turn(pattern);
    let allowed = if pattern.has_branch() {
        [0.0, turn]
    } else {
        [turn; 2]
    };
    for pipe in others(network, node, outlet) {
        // A vent that leaves a drain's bend has an opening of its own there, of which the pattern says nothing.
        let own = graph.edge_weight(pipe)?;
        let drains = graph.edge_weight(outlet)?.role == Role::Drain;
        if drains && own.role == Role::Vent && !pattern.has_branch() {
            continue;
        }
        let Some(angle) = angle(network, node, pipe, outlet) else {
            continue;
        };
        if allowed.iter().all(|allowed| (angle - allowed).abs() > PLAY) {
            let has = match (pattern.has_branch(), turn == 0.0) {
                (true, _) => format!("has a branch at {}", degrees(turn)),
                (false, true) => "goes straight on".to_owned(),
                (false, false) => format!("turns {}", degrees(turn)),
            };
            return Some(format!(
                "`{name}` ({pattern}) {has}, but `{}` is at {} to `{}`",
                called(pipe),
                degrees(angle),
                called(outlet),
            ));
        }
    }
    None
}

/// The angle that a fitting turns what follows its bend or comes in by its branch, in degrees.
pub(crate) fn turn(pattern: FittingPattern) -> f64 {
    pattern.turn_in_tenths() as f64 / 10.0
}

/// The pipe by which water, or else air, goes on from a node.
pub(crate) fn outlet(network: &Network, node: NodeId) -> Option<PipeId> {
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
pub(crate) fn others(network: &Network, node: NodeId, outlet: PipeId) -> impl Iterator<Item = PipeId> {
    let pipes = |direction| network.pipes_at(node, direction);
    pipes(Incoming)
        .chain(pipes(Outgoing))
        .filter(move |pipe| *pipe != outlet)
}

/// By how much the way turns from a pipe at a node to the one that goes on, in degrees. A vent that leaves is looked at
/// from its far end, as if it came in.
pub(crate) fn angle(network: &Network, node: NodeId, pipe: PipeId, outlet: PipeId) -> Option<f64> {
    let (from, _) = network.graph().edge_endpoints(pipe)?;
    let (one, other) = (way_of(network, pipe)?, way_of(network, outlet)?);
    let one = if from == node { one.map(|part| -part) } else { one };
    // Against a vertical pipe only the slope of the other counts, whichever way it goes in plan.
    if one[UP].abs() == 1.0 || other[UP].abs() == 1.0 {
        return Some((one[UP] * other[UP]).clamp(-1.0, 1.0).acos().to_degrees());
    }
    let known = |way: Way| way.iter().all(|part| !part.is_nan());
    (known(one) && known(other)).then(|| between(one, other))
}

/// By how much the way turns from one pipe to another, wherever the two are, in degrees; east and north have to be known of
/// pipes that are not vertical.
pub(crate) fn turned(network: &Network, one: PipeId, other: PipeId) -> Option<f64> {
    let (one, other) = (way_of(network, one)?, way_of(network, other)?);
    let known = |way: Way| way.iter().all(|part| !part.is_nan());
    (known(one) && known(other)).then(|| between(one, other))
}

/// The place of the upward part in a direction.
const UP: usize = 2;

/// The way a pipe points, in space; east and north are not numbers where its direction in plan is not known.
pub(crate) fn way_of(network: &Network, pipe: PipeId) -> Option<Way> {
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

/// The angle between two ways, in degrees.
fn between(one: Way, other: Way) -> f64 {
    let product: f64 = one.iter().zip(other).map(|(one, other)| one * other).sum();
    product.clamp(-1.0, 1.0).acos().to_degrees()
}

/// An angle to a tenth of a degree.
fn degrees(angle: f64) -> String {
    #[expect(clippy::cast_possible_truncation, reason = "an angle of at most 180 degrees")]
    Angle::from_microdegrees((angle * 10.0).round() as i64 * 100_000).to_string()
}
