//! Cleanouts, and changes of a stack, of the whole building and of its tests.

use std::cmp::Reverse;

use crownweir_evaluate::Got;
use crownweir_network::{Network, NodeKind, PipeId, angles};
use crownweir_quantity::{Length, Notation};
use crownweir_rulebook::{Check, Condition, Fact, Operand, Subject, Value};
use crownweir_vocabulary::{Inlet, Role, RunKind, TestMedium};
use petgraph::Direction;

use super::{Candidates, rounded_up, whole};
use crate::mend::change::Change;

/// How many drains a cleanout is tried in behind the end of one.
const MOST_BEHIND: usize = 12;

/// Common practice: a cleanout stands on a pipe just long enough for two fittings.
fn stub(network: &Network) -> Length {
    let (unit, count) = match network.notation() {
        Notation::Inches => (Length::INCH, 6),
        Notation::Millimetres => (Length::MILLIMETRE, 150),
    };
    Length::from_nanometres(unit.nanometres() * count)
}

impl Candidates<'_> {
    /// A cleanout in a pipe, near its end, in its middle and near its start.
    pub(super) fn cleanouts(&mut self, pipe: PipeId) {
        for after in self.places_in(pipe) {
            self.cleanout_in(pipe, after);
        }
    }

    /// Distances from a pipe's start near its end, in its middle and near its start.
    fn places_in(&self, pipe: PipeId) -> Vec<Length> {
        let length = self
            .network
            .graph()
            .edge_weight(pipe)
            .and_then(|pipe| pipe.length);
        let parts = [(9, 10), (1, 2), (1, 10)].into_iter();
        parts
            .filter_map(|(numerator, denominator)| whole(length?, numerator, denominator, self.network))
            .collect()
    }

    fn cleanout_in(&mut self, pipe: PipeId, after: Length) {
        let Some(own) = self.network.graph().edge_weight(pipe) else {
            return;
        };
        let Some(size) = own.size else { return };
        // By the pipe's name, so that those of two pipes can be put in one after the other.
        let name = self.fresh(&format!("{} cleanout", own.name));
        for clearance in self.rooms() {
            let (pipe, name) = (self.name(pipe), name.clone());
            self.push([Change::Cleanout {
                pipe,
                after,
                name,
                size,
                clearance,
            }]);
        }
    }

    /// A cleanout in a drain or in what comes straight to it from above, no further back than may lie open: where one alone
    /// does, the nearest first; then the furthest back, so that the fewest are wanted.
    pub(super) fn cleanouts_behind(&mut self, drain: PipeId, element: u32, most: Option<Value>) {
        let fact = Fact::DrainCleanoutDistance;
        let open = self.measured.fact(Subject::Drain, element, fact);
        let (Some(Value::Length(most)), Got::Known(Value::Length(open))) = (most, open) else {
            return self.cleanouts(drain);
        };
        let (mut alone, mut among) = (Vec::new(), Vec::new());
        let mut back = Length::ZERO;
        let mut next = Some(drain);
        for _ in 0..MOST_BEHIND {
            let Some(pipe) = next.filter(|_| back < most) else {
                break;
            };
            let length = self
                .network
                .graph()
                .edge_weight(pipe)
                .and_then(|pipe| pipe.length);
            let Some(to_start) = length.and_then(|length| back.checked_add(length)) else {
                break;
            };
            let furthest = to_start.checked_sub(most).filter(|after| *after > Length::ZERO);
            let furthest = furthest.and_then(|after| rounded_up(after, self.network));
            for after in self.places_in(pipe).into_iter().chain(furthest) {
                let Some(from_end) = to_start.checked_sub(after).filter(|it| *it <= most) else {
                    continue;
                };
                let is_enough = open.checked_sub(from_end).is_some_and(|behind| behind <= most);
                let list = if is_enough { &mut alone } else { &mut among };
                list.push((from_end, pipe, after));
            }
            (back, next) = (to_start, self.straight_above(pipe));
        }
        alone.sort_by_key(|(from_end, ..)| *from_end);
        among.sort_by_key(|(from_end, ..)| Reverse(*from_end));
        for (_, pipe, after) in alone.into_iter().chain(among) {
            self.cleanout_in(pipe, after);
        }
    }

    /// The drain that comes straight to the upper end of another, none from beyond a cleanout.
    fn straight_above(&self, pipe: PipeId) -> Option<PipeId> {
        let (from, _) = self.network.graph().edge_endpoints(pipe)?;
        let start = self.network.graph().node_weight(from)?;
        if matches!(start.kind, NodeKind::Cleanout(_)) {
            return None;
        }
        let mut above = self.network.pipes_at(from, Direction::Incoming);
        above.find(|&above| {
            let is_drain = self.role(above) == Some(Role::Drain) && self.is_level(above);
            is_drain && angles::enters(self.network, above) == Inlet::Run
        })
    }

    /// A cleanout at the fitting at which a drain begins.
    pub(super) fn cleanout_above(&mut self, pipe: PipeId) {
        let graph = self.network.graph();
        let (Some(own), Some((from, _))) = (graph.edge_weight(pipe), graph.edge_endpoints(pipe)) else {
            return;
        };
        let (Some(size), Some(slope)) = (own.size, own.slope) else {
            return;
        };
        let (node, length) = (self.node_name(from), stub(self.network));
        let name = self.fresh(&format!("{node} cleanout"));
        for clearance in self.rooms() {
            let (node, name) = (node.clone(), name.clone());
            self.push([Change::CleanoutAt {
                node,
                name,
                size,
                slope,
                length,
                clearance,
            }]);
        }
    }

    /// How much room a new cleanout is given: as much as a rule asks for, the least first, or nothing said.
    fn rooms(&self) -> Vec<Option<Length>> {
        let mut rooms = self.named_lengths(Fact::CleanoutClearance);
        rooms.push(None);
        rooms
    }

    /// The lengths that rules compare a fact with, the least first.
    pub(super) fn named_lengths(&self, fact: Fact) -> Vec<Option<Length>> {
        let tests = self
            .rules
            .rules
            .iter()
            .filter_map(|rule| rule.require.as_ref())
            .flat_map(Condition::tests);
        let mut lengths: Vec<Length> = tests
            .filter(|test| test.fact == fact)
            .filter_map(|test| match &test.check {
                Check::Compare(_, Operand::Literal(Value::Length(length))) => Some(*length),
                _ => None,
            })
            .collect();
        lengths.sort_unstable();
        lengths.dedup();
        lengths.into_iter().map(Some).collect()
    }

    pub(super) fn of_system(&mut self, fact: Fact, _limit: Option<Value>) {
        let graph = self.network.graph();
        let order = self.network.flow_order();
        let of_kind = |kind: RunKind| -> Vec<PipeId> {
            let pipes = order.pipes.iter().copied();
            pipes.filter(|&pipe| self.kind(pipe) == Some(kind)).collect()
        };
        match fact {
            Fact::SystemJunctionCleanout | Fact::SystemJunctionAbove => {
                let mut drains = of_kind(RunKind::BuildingDrain);
                drains.reverse();
                for pipe in drains.into_iter().take(3) {
                    self.cleanouts(pipe);
                }
            }
            Fact::SystemLargestVent | Fact::SystemVentDiameter => {
                let terminals = order.nodes.iter().copied().filter(|&node| {
                    matches!(
                        graph.node_weight(node).map(|node| &node.kind),
                        Some(NodeKind::Terminal(_))
                    )
                });
                let into: Vec<PipeId> = terminals
                    .flat_map(|node| self.network.pipes_at(node, Direction::Incoming))
                    .collect();
                for last in into {
                    let mut way = vec![last];
                    // Back to the drains by the main vent.
                    while let Some((from, _)) = way.last().and_then(|&pipe| graph.edge_endpoints(pipe)) {
                        let mut entering = self.network.pipes_at(from, Direction::Incoming);
                        let run = graph.edge_weight(last).map(|pipe| pipe.run);
                        let is_of_run = |pipe: &PipeId| {
                            let pipe = graph.edge_weight(*pipe);
                            pipe.is_some_and(|pipe| Some(pipe.run) == run && pipe.role == Role::Vent)
                        };
                        match entering.find(is_of_run).filter(|_| way.len() < 12) {
                            Some(next) => way.push(next),
                            None => break,
                        }
                    }
                    for size in self.larger(last) {
                        let all = way.iter().map(|&pipe| Change::Size {
                            pipe: self.name(pipe),
                            size,
                        });
                        let all: Vec<Change> = all.collect();
                        self.push([Change::Size {
                            pipe: self.name(last),
                            size,
                        }]);
                        self.push(all);
                    }
                }
            }
            _ => {}
        }
    }

    pub(super) fn of_stack(&mut self, subject: Subject, element: u32, fact: Fact) {
        let graph = self.network.graph();
        let stack = match subject {
            Subject::Stack => self.measured.name_of(Subject::Stack, element),
            _ => return,
        };
        let order = self.network.flow_order();
        let pipes: Vec<PipeId> = order
            .pipes
            .into_iter()
            .filter(|&pipe| {
                let run = graph
                    .edge_weight(pipe)
                    .and_then(|pipe| self.network.run(pipe.run));
                run.is_some_and(|run| *run.name == *stack) && self.kind(pipe) == Some(RunKind::Stack)
            })
            .collect();
        if fact == Fact::StackCleanoutDistance {
            // What goes on level below its foot is no place for it.
            let foot = pipes.iter().rev().find(|&&pipe| !self.is_level(pipe));
            if let Some(&foot) = foot.or(pipes.last()) {
                self.cleanouts(foot);
            }
            return;
        }
        let Some(&first) = pipes.first() else { return };
        for size in self.larger(first) {
            let all: Vec<Change> = pipes
                .iter()
                .map(|&pipe| Change::Size {
                    pipe: self.name(pipe),
                    size,
                })
                .collect();
            self.push(all);
        }
    }

    pub(super) fn of_a_test(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let Some(test) = self.network.tests().get(element as usize) else {
            return;
        };
        let section = test.section.to_string();
        let value = limit.and_then(|limit| self.text(limit));
        let (property, values) = match fact {
            // Common practice: a rough-in is tested with water wherever air will not do; smoke and a vacuum are other tests.
            Fact::TestWith if test.medium != TestMedium::Water => {
                ("medium", vec![TestMedium::Water.name().to_owned()])
            }
            Fact::TestHead => ("head", value.into_iter().collect()),
            Fact::TestDuration => ("duration", value.into_iter().collect()),
            _ => ("", Vec::new()),
        };
        for value in values {
            self.push([Change::Test {
                section: section.clone(),
                property,
                value,
            }]);
        }
    }
}
