//! Vents that are added or led elsewhere, and what gives a trap its air.

use crownweir_evaluate::Arranged;
use crownweir_network::{NodeId, NodeKind};
use crownweir_quantity::{Length, NominalSize};
use crownweir_rulebook::{Condition, Fact, Subject};
use crownweir_vocabulary::{FittingPattern, Role, RunKind};
use petgraph::Direction;

use super::{Candidates, FITTINGS, JOINTS, whole};
use crate::mend::change::Change;

impl Candidates<'_> {
    pub(super) fn of_protection(&mut self, fixture: u32) {
        let arranged = self.measured.arranged(fixture);
        let mut open: Vec<Condition> = Vec::new();
        if let Arranged::Nearest(Some((arrangement, failed))) = arranged {
            let conditions = failed
                .iter()
                .filter_map(|&index| arrangement.conditions.get(index));
            open.extend(conditions.map(|one| one.require.clone()));
        }
        for condition in open {
            self.of_condition(Subject::Trap, fixture, &condition);
        }
        self.vents(NodeId::new(fixture as usize));
    }

    pub(super) fn of_air(&mut self, element: u32, fact: Fact) {
        let fixture = NodeId::new(element as usize);
        let arm = self.arm(fixture);
        if fact == Fact::ProtectionTurnsDown {
            // Laid at the slope of what follows it, the drain does not turn down.
            let slope = arm
                .iter()
                .filter_map(|&pipe| self.network.graph().edge_weight(pipe)?.slope)
                .find(|slope| !slope.is_vertical());
            let plumb: Vec<Change> = arm
                .iter()
                .filter(|&&pipe| !self.is_level(pipe))
                .filter_map(|&pipe| {
                    Some(Change::Slope {
                        pipe: self.name(pipe),
                        slope: slope?,
                    })
                })
                .collect();
            self.push(plumb);
        }
        if fact.dimension() == Fact::PipeSize.dimension() {
            for pipe in self.down(fixture).into_iter().take(4) {
                self.enlarge(pipe);
            }
        }
    }

    /// A vent of its own for a trap: at a fitting on its drain, or at a new one.
    pub(super) fn vents(&mut self, fixture: NodeId) {
        let graph = self.network.graph();
        let storey = graph.node_weight(fixture).and_then(|node| node.storey);
        let order = self.network.flow_order();
        let joints: Vec<NodeId> = order
            .nodes
            .into_iter()
            .filter(|&node| {
                let is_fitting = matches!(
                    graph.node_weight(node).map(|node| &node.kind),
                    Some(NodeKind::Fitting { .. })
                );
                let around = graph
                    .edges_directed(node, Direction::Incoming)
                    .chain(graph.edges(node));
                is_fitting
                    && around
                        .map(|edge| edge.weight().role)
                        .all(|role| role == Role::Vent)
            })
            .filter(|&node| {
                graph
                    .node_weight(node)
                    .is_some_and(|node| node.storey == storey && node.elevation.is_some())
            })
            .collect();
        let sizes: Vec<NominalSize> = self
            .rules
            .ladder
            .sizes()
            .take(4)
            .filter_map(|size| self.rules.ladder.rung(size))
            .map(|rung| rung.name)
            .collect();
        let height = |node: NodeId| graph.node_weight(node).and_then(|node| node.elevation);
        let way = self.down(fixture);
        let mut wanted: Vec<(Vec<Change>, String, Option<Length>)> = Vec::new();
        for &pipe in way.iter().take(FITTINGS) {
            let Some((_, to)) = graph.edge_endpoints(pipe) else {
                continue;
            };
            let vented = graph.edges(to).any(|next| next.weight().role == Role::Vent);
            if !vented && matches!(self.kind(pipe), Some(RunKind::Branch)) {
                wanted.push((Vec::new(), self.node_name(to), height(to)));
            }
        }
        if let Some(&pipe) = way.first()
            && let Some(length) = graph.edge_weight(pipe).and_then(|pipe| pipe.length)
        {
            for (numerator, denominator) in [(1, 2), (1, 3), (2, 3)] {
                let Some(after) = whole(length, numerator, denominator, self.network) else {
                    continue;
                };
                let name = self.fresh(&format!("{} vent tee", self.node_name(fixture)));
                for pattern in [FittingPattern::SanitaryTee, FittingPattern::Wye] {
                    let put = Change::Fitting {
                        pipe: self.name(pipe),
                        after,
                        name: name.clone(),
                        pattern,
                    };
                    wanted.push((vec![put], name.clone(), height(fixture)));
                }
            }
        }
        for (before, at, from) in wanted {
            let above = joints.iter().filter(|&&joint| height(joint) > from);
            for &joint in above.take(JOINTS) {
                for &size in &sizes {
                    let vent = Change::Vent {
                        at: at.clone(),
                        joins: self.node_name(joint),
                        size,
                        length: None,
                    };
                    self.push(before.iter().cloned().chain([vent]));
                }
            }
        }
    }

    /// A name that nothing has.
    pub(super) fn fresh(&self, wanted: &str) -> String {
        let taken = |name: &str| self.network.node_named(name).is_some();
        let numbered = (2..100).map(|number| format!("{wanted} {number}"));
        let mut names = std::iter::once(wanted.to_owned()).chain(numbered);
        names
            .find(|name| !taken(name))
            .unwrap_or_else(|| wanted.to_owned())
    }
}
