//! Changes of a trap arm: its size, its slope, what it is long.

use std::cmp::Ordering;

use crownweir_network::{NodeId, PipeId};
use crownweir_quantity::{Length, Slope};
use crownweir_rulebook::{Comparison, Fact, Subject, Value};
use crownweir_vocabulary::Role;
use petgraph::Direction;

use super::{Candidates, SLOPES};
use crate::mend::change::Change;

/// In how many pipes of an arm a vent is taken off by a new fitting.
const PIECES: usize = 4;

impl Candidates<'_> {
    /// The drains from a trap to the first fitting that a vent leaves.
    pub(super) fn arm(&self, fixture: NodeId) -> Vec<PipeId> {
        let mut arm = Vec::new();
        for pipe in self.down(fixture) {
            arm.push(pipe);
            let Some((_, to)) = self.network.graph().edge_endpoints(pipe) else {
                break;
            };
            if self
                .network
                .graph()
                .edges(to)
                .any(|next| next.weight().role == Role::Vent)
            {
                break;
            }
        }
        arm
    }

    /// The drain from a trap, and its whole arm, in a size.
    pub(super) fn resize_arm(&mut self, fixture: NodeId, size: Value) {
        let rung = match size {
            Value::Size(size) => self.rules.ladder.rung(size),
            _ => None,
        };
        let Some(size) = rung.map(|rung| rung.name) else {
            return;
        };
        let arm = self.arm(fixture).into_iter();
        let all: Vec<Change> = arm
            .map(|pipe| Change::Size {
                pipe: self.name(pipe),
                size,
            })
            .collect();
        self.push(all.first().cloned());
        self.push(all);
    }

    pub(super) fn is_level(&self, pipe: PipeId) -> bool {
        let slope = self.network.graph().edge_weight(pipe).and_then(|pipe| pipe.slope);
        slope.is_some_and(|slope| !slope.is_vertical())
    }

    pub(super) fn of_trap_arm(
        &mut self,
        element: u32,
        fact: Fact,
        limit: Option<Value>,
        comparison: Option<Comparison>,
    ) {
        let fixture = NodeId::new(element as usize);
        let arm = self.arm(fixture);
        let own = self.measured.fact(Subject::TrapArm, element, fact);
        if let (
            Fact::TrapArmLength | Fact::TrapArmFromFlange | Fact::TrapArmHorizontalLength,
            Some(Value::Length(limit)),
        ) = (fact, limit)
            && let crownweir_evaluate::Got::Known(Value::Length(now)) = own
        {
            // What the arm loses the drain beyond the vent gains, for fixture and joint stay where they are.
            let further = self
                .down(fixture)
                .into_iter()
                .take_while(|&pipe| !self.is_joined_above(pipe))
                .skip(arm.len())
                .find(|&pipe| self.is_level(pipe));
            let level: Vec<PipeId> = arm.iter().copied().filter(|&pipe| self.is_level(pipe)).collect();
            for pipe in level {
                let by = match comparison {
                    Some(Comparison::AtLeast | Comparison::MoreThan) => limit.checked_sub(now),
                    _ => now.checked_sub(limit),
                };
                let Some(by) = by.filter(|by| *by > Length::ZERO) else {
                    continue;
                };
                if matches!(comparison, Some(Comparison::AtLeast | Comparison::MoreThan)) {
                    self.shift(Some(pipe), further, by);
                } else {
                    self.shorten(pipe, further, by);
                }
            }
        }
        match fact {
            Fact::TrapArmFall | Fact::TrapArmSteepest => self.relay(&arm, Ordering::Less),
            Fact::TrapArmGentlest => self.relay(&arm, Ordering::Greater),
            _ => {}
        }
        if fact == Fact::TrapArmOnwardSize {
            let beyond = self.down(fixture).get(arm.len()).copied();
            beyond.into_iter().for_each(|pipe| self.enlarge(pipe));
            return;
        }
        // A vent may be taken off further up.
        let last = arm
            .last()
            .and_then(|&pipe| self.network.graph().edge_endpoints(pipe))
            .map(|(_, to)| to);
        let vent = last.and_then(|node| {
            let mut pipes = self.network.pipes_at(node, Direction::Outgoing);
            pipes.find(|&pipe| self.role(pipe) == Some(Role::Vent) && !self.is_main_vent(pipe))
        });
        if let Some(vent) = vent {
            let fittings: Vec<NodeId> = arm
                .iter()
                .filter_map(|&pipe| self.network.graph().edge_endpoints(pipe))
                .map(|(_, to)| to)
                .filter(|&node| Some(node) != last && self.takes_vent(node))
                .collect();
            for node in fittings {
                self.push([Change::VentFrom {
                    vent: self.name(vent),
                    to: self.node_name(node),
                }]);
            }
            // Or at a new one in a straight piece before that.
            let pieces = arm.iter().copied().rev().filter(|&pipe| self.is_level(pipe));
            for pipe in pieces.take(PIECES).collect::<Vec<_>>() {
                for (to, put) in self.vent_fittings(fixture, pipe) {
                    let vent = self.name(vent);
                    self.push([put, Change::VentFrom { vent, to }]);
                }
            }
        }
        for &pipe in &arm {
            self.enlarge(pipe);
        }
        self.vents(fixture);
    }

    /// The pipes of an arm that lie level at a slope that the rule set names, those that are less steep already, or steeper,
    /// left as they are: the slopes next to theirs first.
    fn relay(&mut self, arm: &[PipeId], towards: Ordering) {
        let level = arm.iter().copied().filter(|&pipe| self.is_level(pipe));
        let level: Vec<(PipeId, Slope)> = level
            .filter_map(|pipe| Some((pipe, self.network.graph().edge_weight(pipe)?.slope?)))
            .collect();
        let mut slopes = self.rules.named_slopes();
        slopes.retain(|slope| *slope > Slope::LEVEL && !slope.is_vertical());
        slopes.sort_unstable();
        slopes.dedup();
        if towards == Ordering::Less {
            slopes.reverse();
        }
        let laid = slopes.into_iter().map(|slope| -> Vec<Change> {
            let others = level.iter().filter(|(_, own)| slope.cmp(own) == towards);
            let changes = others.map(|&(pipe, own)| Change::Slope {
                pipe: self.name(pipe),
                slope: self.settable(slope, own),
            });
            changes.collect()
        });
        let laid: Vec<_> = laid.filter(|changes| !changes.is_empty()).take(SLOPES).collect();
        for changes in laid {
            self.push(changes);
        }
    }

    /// Whether several drains meet at a pipe's upper end.
    fn is_joined_above(&self, pipe: PipeId) -> bool {
        let above = self.network.graph().edge_endpoints(pipe).map(|(from, _)| from);
        above.is_some_and(|node| {
            let pipes = self.network.pipes_at(node, Direction::Incoming);
            pipes.filter(|&pipe| self.role(pipe) == Some(Role::Drain)).count() > 1
        })
    }

    pub(super) fn shorten(&mut self, pipe: PipeId, further: Option<PipeId>, by: Length) {
        let length = |id: PipeId| self.network.graph().edge_weight(id).and_then(|pipe| pipe.length);
        let rest = length(pipe)
            .and_then(|was| was.checked_sub(by))
            .filter(|rest| *rest > Length::ZERO);
        let Some(rest) = rest else { return };
        let first = Change::Length {
            pipe: self.name(pipe),
            length: rest,
        };
        if let Some((further, longer)) = further.and_then(|id| Some((id, length(id)?.checked_add(by)?))) {
            let second = Change::Length {
                pipe: self.name(further),
                length: longer,
            };
            self.push([first, second]);
        } else {
            self.push([first]);
        }
    }
}
