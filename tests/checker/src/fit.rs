//! What a message says of a fitting that does not join its pipes.

use crownweir_network::petgraph::Direction::{Incoming, Outgoing};
use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_rulebook::Fact;
use crownweir_vocabulary::Role;

use crate::walk::Walk;

impl Walk<'_> {
    /// Between which of its pipes the claim's fitting is not made to turn, and what it is made for. Only such a one is told.
    pub(crate) fn fit(&self, fact: Fact) -> String {
        let graph = self.network.graph();
        let is_claimed = |id: &NodeId| {
            let node = &graph[*id];
            let place = (node.position.line, node.position.column);
            self.claim["name"] == *node.name
                && place == (line(&self.claim["line"]), line(&self.claim["column"]))
        };
        let Some(node) = graph.node_indices().find(is_claimed) else {
            return String::new();
        };
        let NodeKind::Fitting {
            pattern: Some(pattern),
        } = graph[node].kind
        else {
            return String::new();
        };
        let role = if fact == Fact::FittingVentsFit {
            Role::Vent
        } else {
            Role::Drain
        };
        let leaves = |role: Role| {
            self.network
                .pipes_at(node, Outgoing)
                .find(|pipe| graph[*pipe].role == role)
        };
        let Some(onward) = leaves(Role::Drain).or_else(|| leaves(Role::Vent)) else {
            return String::new();
        };
        let enter = self.network.pipes_at(node, Incoming).map(|pipe| (pipe, 1.0));
        let leave = self.network.pipes_at(node, Outgoing).map(|pipe| (pipe, -1.0));
        let turn = pattern.turn_in_tenths() as f64 / 10.0;
        for (pipe, sign) in enter.chain(leave) {
            if pipe == onward || graph[pipe].role != role {
                continue;
            }
            let Some(angle) = self.angle(pipe, sign, onward) else {
                continue;
            };
            let by_branch = pattern.has_branch();
            let turned_about =
                by_branch && graph[onward].role == Role::Vent && (180.0 - angle - turn).abs() <= 6.0;
            if (angle - turn).abs() <= 6.0 || by_branch && angle <= 6.0 || turned_about {
                continue;
            }
            let word = pattern.to_string();
            let article = if word.starts_with(['a', 'e', 'i', 'o']) {
                "an"
            } else {
                "a"
            };
            let made = match (pattern.has_branch(), turn > 0.0) {
                (true, _) => format!("go straight on or to join at {turn} deg"),
                (false, true) => format!("turn {turn} deg"),
                (false, false) => "go straight on".to_owned(),
            };
            let angle = (angle * 10.0).round() / 10.0;
            let [one, other] = [&graph[pipe].name, &graph[onward].name];
            return format!(
                "between `{one}` and `{other}` the way turns {angle} deg; {article} {word} is made to {made}"
            );
        }
        String::new()
    }

    /// The angle in degrees between the ways of two pipes, the first taken the other way round where `sign` is negative.
    fn angle(&self, pipe: PipeId, sign: f64, onward: PipeId) -> Option<f64> {
        let way = |pipe: PipeId| {
            let up = if self.network.goes_up(pipe) { 1.0 } else { -1.0 };
            let slope = self.network.graph()[pipe].slope?;
            let bearing = self
                .network
                .bearing(pipe)
                .map(|bearing| (bearing.microdegrees() as f64 / 1e6).to_radians());
            Some(match slope.as_f64().filter(|_| !slope.is_vertical()) {
                None => (std::f64::consts::FRAC_PI_2 * up, Some(0.0)),
                Some(slope) => (slope.atan() * up, bearing),
            })
        };
        let ((rise, bearing), (other_rise, other_bearing)) = (way(pipe)?, way(onward)?);
        let apart = match (bearing, other_bearing) {
            (Some(one), Some(other)) => (one - other).cos(),
            _ if [rise, other_rise].iter().any(|rise| rise.cos() < 1e-9) => 0.0,
            _ => return None,
        };
        let cosine = rise.sin() * other_rise.sin() + rise.cos() * other_rise.cos() * apart;
        Some((sign * cosine).clamp(-1.0, 1.0).acos().to_degrees())
    }
}

fn line(claimed: &serde_json::Value) -> u32 {
    claimed
        .as_u64()
        .and_then(|number| u32::try_from(number).ok())
        .unwrap_or_default()
}
