//! Whether fittings join their pipes in the ways that these take: from where their ends stand, and where that is not known
//! from slopes and directions.

use crownweir_network::{NodeId, PipeId};
use crownweir_rulebook::{Fact, Value};
use crownweir_vocabulary::{FittingPattern, Role};

use crate::{Got, Oracle, truth};

/// How far a pipe may be out of a fitting's own angle, in degrees, by the definition of the facts.
const PLAY: f64 = 6.0;

/// The way of a pipe: how much of a step of length one goes up; and east and north, where that is known.
type Way = (f64, Option<[f64; 2]>);

impl Oracle<'_> {
    pub(crate) fn fits(&self, node: NodeId, fact: Fact) -> Got {
        let graph = self.network.graph();
        let of = |role: Role, into: bool| -> Vec<PipeId> {
            let pipes = graph.edge_indices();
            pipes
                .filter(|&pipe| self.pipe(pipe).role == role)
                .filter(|&pipe| node == if into { self.to(pipe) } else { self.from(pipe) })
                .collect()
        };
        let pattern = self.pattern(node);
        let (drain, vents) = (of(Role::Drain, false).first().copied(), of(Role::Vent, false));
        // Which pipe goes on, and which are joined to it, each with whether it comes in.
        let (onward, joined): (Option<PipeId>, Vec<(PipeId, bool)>) = match (fact, drain) {
            (Fact::FittingDrainsFit, _) => (
                drain,
                of(Role::Drain, true).into_iter().map(|pipe| (pipe, true)).collect(),
            ),
            (_, Some(_)) if pattern.is_some_and(|pattern| !pattern.has_branch()) => (drain, Vec::new()),
            (_, Some(_)) => {
                let into = of(Role::Vent, true).into_iter().map(|pipe| (pipe, true));
                (drain, into.chain(vents.into_iter().map(|pipe| (pipe, false))).collect())
            }
            (_, None) => {
                let mut vents = self.in_order_of_file(vents).into_iter();
                let onward = vents.next();
                let into = of(Role::Vent, true).into_iter().map(|pipe| (pipe, true));
                (onward, into.chain(vents.map(|pipe| (pipe, false))).collect())
            }
        };
        let Some(onward) = onward.filter(|_| !joined.is_empty()) else {
            return Got::Absent;
        };
        let told_in_plan = |pipe: PipeId| self.network.bearing(pipe).is_some();
        if !told_in_plan(onward) && !joined.iter().any(|(pipe, _)| told_in_plan(*pipe)) {
            return match pattern.filter(|pattern| fact == Fact::FittingDrainsFit && !pattern.has_branch()) {
                Some(pattern) => self.fits_by_slopes(pattern, onward, &joined),
                None => Got::Absent,
            };
        }
        let Some(pattern) = pattern else {
            return Got::Missing;
        };
        let angles: Vec<Option<f64>> = joined
            .iter()
            .map(|&(pipe, comes_in)| {
                let ((up, plan), onward) = (self.way_in_space(pipe)?, self.way_in_space(onward)?);
                let angle = between((up, plan), onward)?;
                // What leaves is looked at from its far end.
                Some(if comes_in { angle } else { 180.0 - angle })
            })
            .collect();
        if angles
            .iter()
            .flatten()
            .any(|angle| !is_made_for(pattern, *angle, drain.is_none()))
        {
            truth(false)
        } else if angles.contains(&None) {
            Got::Missing
        } else {
            Got::Known(Value::Truth(true))
        }
    }

    /// By slopes alone: only the angle between a plumb drain and another is known.
    fn fits_by_slopes(&self, pattern: FittingPattern, onward: PipeId, joined: &[(PipeId, bool)]) -> Got {
        let up = |pipe: PipeId| self.way_in_space(pipe).map(|(up, _)| up);
        let (mut told, mut open) = (false, false);
        for &(pipe, _) in joined {
            match up(pipe).zip(up(onward)) {
                None => open = true,
                Some((one, other)) if one == -1.0 || other == -1.0 => {
                    told = true;
                    if !is_made_for(pattern, (one * other).acos().to_degrees(), false) {
                        return truth(false);
                    }
                }
                Some(_) => {}
            }
        }
        match (open, told) {
            (true, _) => Got::Missing,
            (_, true) => truth(true),
            _ => Got::Absent,
        }
    }

    /// By how much the way turns from one pipe to another, in degrees.
    pub(crate) fn turned(&self, pipe: PipeId, onward: PipeId) -> Option<f64> {
        between(self.way_in_space(pipe)?, self.way_in_space(onward)?)
    }

    /// Where several vents leave a node, the one that the file has first goes on.
    fn in_order_of_file(&self, mut pipes: Vec<PipeId>) -> Vec<PipeId> {
        let outgoing = self.network.pipes_at(
            pipes.first().map_or(NodeId::end(), |pipe| self.from(*pipe)),
            petgraph::Direction::Outgoing,
        );
        let order: Vec<PipeId> = outgoing.collect();
        pipes.sort_by_key(|pipe| order.iter().position(|one| one == pipe));
        pipes
    }

    fn way_in_space(&self, pipe: PipeId) -> Option<Way> {
        let own = self.pipe(pipe);
        let slope = own.slope?;
        let ends = [self.from(pipe), self.to(pipe)];
        let in_plan = ends.map(|end| {
            let [east, north] = self.network.place_in_plan(end);
            Some([east?.as_metres_f64(), north?.as_metres_f64()])
        });
        let heights = ends.map(|end| Some(self.node(end).elevation?.as_metres_f64()));
        if slope.is_vertical() {
            return Some((if self.network.goes_up(pipe) { 1.0 } else { -1.0 }, Some([0.0; 2])));
        }
        if let ([Some(from), Some(to)], [Some(low), Some(high)]) = (in_plan, heights) {
            let [east, north, up] = [to[0] - from[0], to[1] - from[1], high - low];
            let length = (east * east + north * north + up * up).sqrt();
            if length > 0.01 {
                return Some((up / length, Some([east / length, north / length])));
            }
        }
        let rise = slope.as_f64()?.atan();
        let up = if self.network.goes_up(pipe) {
            rise.sin()
        } else {
            -rise.sin()
        };
        let bearing = self.network.bearing(pipe).map(|bearing| {
            let degrees = bearing.microdegrees() as f64 / 1e6;
            [
                degrees.to_radians().sin() * rise.cos(),
                degrees.to_radians().cos() * rise.cos(),
            ]
        });
        Some((up, bearing))
    }
}

/// The angle by which the way turns; where one of the two is vertical, the plan of the other need not be known.
fn between((up, plan): Way, (onward_up, onward_plan): Way) -> Option<f64> {
    let across = match (plan, onward_plan) {
        _ if up.abs() == 1.0 || onward_up.abs() == 1.0 => 0.0,
        (Some([east, north]), Some([onward_east, onward_north])) => east * onward_east + north * onward_north,
        _ => return None,
    };
    Some((up * onward_up + across).clamp(-1.0, 1.0).acos().to_degrees())
}

/// A branch of a vent may lie either way.
fn is_made_for(pattern: FittingPattern, angle: f64, in_vent: bool) -> bool {
    let own = pattern.turn_in_tenths() as f64 / 10.0;
    let either_way = |angle: f64| (angle - own).abs() <= PLAY;
    let straight = pattern.has_branch() && angle <= PLAY;
    straight || either_way(angle) || in_vent && pattern.has_branch() && either_way(180.0 - angle)
}
