//! Facts of vents: where they begin, what joins them, where they end.

use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_rulebook::{Fact, Value};
use crownweir_vocabulary::{ValveKind, VentEnd};

use crate::{Got, Oracle, count, known, truth};

impl Oracle<'_> {
    /// Whether a drain leads on from a node.
    fn touches_drains(&self, node: NodeId) -> bool {
        self.next(node).is_some()
    }

    /// The vents from a node to where the last of them ends.
    pub(crate) fn air_way(&self, node: NodeId) -> Vec<PipeId> {
        let mut way = Vec::new();
        let mut at = node;
        while let Some(&vent) = self.vents_from(at).first() {
            way.push(vent);
            at = self.to(vent);
        }
        way
    }

    /// The places where a vent, or what joins it, leaves the drains.
    fn connections(&self, pipe: PipeId) -> Vec<NodeId> {
        let (mut found, mut open) = (Vec::new(), vec![self.from(pipe)]);
        while let Some(node) = open.pop() {
            if self.touches_drains(node) {
                found.push(node);
            }
            open.extend(self.vents_to(node).into_iter().map(|vent| self.from(vent)));
        }
        found
    }

    pub(crate) fn vent_fact(&self, pipe: PipeId, fact: Fact) -> Option<Got> {
        let from = self.from(pipe);
        let leaves = self.touches_drains(from);
        Some(match fact {
            Fact::VentDry => truth(leaves),
            Fact::VentDrainSize if leaves => self.next(from).map_or(Got::Absent, |next| self.size_of(next)),
            Fact::VentDrainLies if leaves => self.next(from).map_or(Got::Absent, |next| self.orientation(next)),
            Fact::VentDrainSize | Fact::VentDrainLies => Got::Absent,
            Fact::VentLargestInlet => self.extreme(&self.vents_to(from), true),
            Fact::VentLowerFitting if !self.is_fitting(from) => Got::Absent,
            Fact::VentLowerFitting => known(self.pattern(from), |pattern| Value::Word(pattern.name())),
            Fact::VentTakeOff => match self.next(from).map(|drain| self.vertical(drain)) {
                None | Some(Some(true)) => Got::Absent,
                Some(Some(false)) => known(self.pipe(pipe).slope, |slope| {
                    Value::Angle(slope.angle_from_horizontal())
                }),
                Some(None) => Got::Missing,
            },
            Fact::VentConnections => count(self.connections(pipe).len()),
            Fact::VentEnds => {
                let end = self
                    .air_way(self.to(pipe))
                    .last()
                    .map_or(self.to(pipe), |&last| self.to(last));
                match &self.node(end).kind {
                    NodeKind::Valve(valve) => known(valve.kind, |kind| {
                        Value::Word(match kind {
                            ValveKind::Stack => VentEnd::StackValve.name(),
                            _ => VentEnd::BranchValve.name(),
                        })
                    }),
                    _ => Got::Known(Value::Word(VentEnd::OpenAir.name())),
                }
            }
            _ => return None,
        })
    }
}
