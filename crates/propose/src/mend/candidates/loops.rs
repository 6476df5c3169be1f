//! Changes of a vent that turns down again to a foot from which it drains back: its height, and an opening for a rod.

use crownweir_evaluate::Got;
use crownweir_network::{NodeId, PipeId};
use crownweir_quantity::Length;
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::Role;
use petgraph::Direction;

use super::Candidates;
use crate::mend::change::Change;

/// How many vents of a loop are followed.
const MOST_OF_A_LOOP: usize = 40;

impl Candidates<'_> {
    /// The vents from where a trap's arm meets the first to the foot of the loop, and those beyond up to the next joint.
    fn of_loop(&self, fixture: NodeId) -> [Vec<PipeId>; 2] {
        let graph = self.network.graph();
        let [mut up_to_foot, mut beyond] = [Vec::new(), Vec::new()];
        let arm = self.arm(fixture);
        let mut at = arm
            .last()
            .and_then(|&pipe| graph.edge_endpoints(pipe))
            .map(|(_, to)| to);
        let mut is_beyond = false;
        while let Some(node) = at {
            let out = |role| {
                let mut pipes = self.network.pipes_at(node, Direction::Outgoing);
                pipes.find(|&pipe| self.role(pipe) == Some(role))
            };
            let entering = self.network.pipes_at(node, Direction::Incoming);
            let vents = entering.filter(|&pipe| self.role(pipe) == Some(Role::Vent));
            let vents = vents.count();
            is_beyond |= vents == 1 && out(Role::Drain).is_some();
            let list = if is_beyond { &mut beyond } else { &mut up_to_foot };
            let Some(vent) = out(Role::Vent).filter(|_| vents < 2 && list.len() < MOST_OF_A_LOOP) else {
                break;
            };
            list.push(vent);
            at = graph.edge_endpoints(vent).map(|(_, to)| to);
        }
        if is_beyond {
            [up_to_foot, beyond]
        } else {
            [Vec::new(), Vec::new()]
        }
    }

    /// The heights that are stated on the way of a loop up and down again, higher by what is wanting.
    pub(super) fn raise_loop(&mut self, fixture: NodeId, element: u32, least: Length) {
        let Got::Known(Value::Length(now)) = self.measured.fact(Subject::Trap, element, Fact::IslandTurn)
        else {
            return;
        };
        let Some(by) = least.checked_sub(now).filter(|by| *by > Length::ZERO) else {
            return;
        };
        let [loop_itself, _] = self.of_loop(fixture);
        let inner = loop_itself
            .split_last()
            .map(|(_, inner)| inner)
            .unwrap_or_default();
        let ends = inner
            .iter()
            .filter_map(|&pipe| self.network.graph().edge_endpoints(pipe));
        let stated: Vec<NodeId> = ends
            .map(|(_, to)| to)
            .filter(|&node| self.network.states_height(node))
            .collect();
        let higher: Option<Vec<Change>> = stated.into_iter().map(|node| self.higher(node, by)).collect();
        self.push(higher.unwrap_or_default());
    }

    /// A cleanout in one of the vents of a loop, those beyond its foot first.
    pub(super) fn open_loop(&mut self, fixture: NodeId) {
        let [loop_itself, beyond] = self.of_loop(fixture);
        for vent in beyond.into_iter().chain(loop_itself) {
            self.cleanouts(vent);
        }
    }
}
