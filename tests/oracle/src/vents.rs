//! Facts of vents: where they begin and end, how long they are, what they serve.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_quantity::{Length, Slope};
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::{Pattern, RunKind, ValveKind, VentEnd};

use crate::stacks::Stack;
use crate::{Got, Oracle, count, known, least, minus, most, plus, some, truth};

impl Oracle<'_> {
    /// Whether a drain leads on from a node.
    fn touches_drains(&self, node: NodeId) -> bool {
        self.next(node).is_some()
    }

    /// The vents from a node to where the last of them ends.
    pub(crate) fn air_way(&self, node: NodeId) -> Vec<PipeId> {
        self.vents_from(node)
            .first()
            .map_or_else(Vec::new, |&vent| self.vents_on(vent))
    }

    /// A vent and those that it goes on as.
    pub(crate) fn vents_on(&self, vent: PipeId) -> Vec<PipeId> {
        let mut way = vec![vent];
        let mut at = self.to(vent);
        while let Some(&next) = self.vents_from(at).first() {
            way.push(next);
            at = self.to(next);
        }
        way
    }

    /// The node where a vent ends.
    pub(crate) fn vent_end(&self, vent: PipeId) -> NodeId {
        self.vents_on(vent).last().map_or(self.to(vent), |&last| self.to(last))
    }

    /// The vent pipes by which a vent, or what joins it, leaves the drains.
    fn first_pipes(&self, pipe: PipeId) -> Vec<PipeId> {
        let (mut found, mut open) = (Vec::new(), vec![pipe]);
        while let Some(vent) = open.pop() {
            if self.touches_drains(self.from(vent)) {
                found.push(vent);
            }
            open.extend(self.vents_to(self.from(vent)));
        }
        found
    }

    /// The places where a vent, or what joins it, leaves the drains.
    fn connections(&self, pipe: PipeId) -> Vec<NodeId> {
        self.first_pipes(pipe).into_iter().map(|vent| self.from(vent)).collect()
    }

    /// The same, where no two of them are one; what comes twice is not spoken of.
    fn distinct_connections(&self, pipe: PipeId) -> Option<Vec<NodeId>> {
        let all = self.connections(pipe);
        let distinct: BTreeSet<_> = all.iter().copied().collect();
        (distinct.len() == all.len()).then_some(all)
    }

    fn is_main(&self, pipe: PipeId) -> bool {
        matches!(self.kind(pipe), RunKind::StackVent | RunKind::VentStack)
    }

    /// From the farthest connection of a vent's own run to where the pipe begins.
    fn behind(&self, pipe: PipeId, measure: &dyn Fn(PipeId) -> Got) -> Got {
        let inlets = self.vents_to(self.from(pipe)).into_iter();
        // A branch vent that joins a stack vent does not lengthen it.
        let own = inlets.filter(|&inlet| self.kind(inlet) == self.kind(pipe));
        let ways = own.map(|inlet| plus(self.behind(inlet, measure), measure(inlet)));
        most(ways.chain([self.length(&[])]))
    }

    /// From where a pipe ends to where the vent does: in the air, or by the rule set's definition at a main vent.
    fn ahead(&self, pipe: PipeId, to_air: bool, measure: &dyn Fn(PipeId) -> Got) -> Got {
        let way = self.vents_on(pipe);
        let mut sum = self.length(&[]);
        for two in way.windows(2) {
            let at_main = self.rules.definitions.vent_length.at_main_vent;
            if !to_air && at_main && self.kind(two[0]) == RunKind::BranchVent && self.is_main(two[1]) {
                break;
            }
            sum = plus(sum, measure(two[1]));
        }
        sum
    }

    fn vent_length(&self, pipe: PipeId, to_air: bool, measure: &dyn Fn(PipeId) -> Got) -> Got {
        plus(
            plus(self.behind(pipe, measure), measure(pipe)),
            self.ahead(pipe, to_air, measure),
        )
    }

    fn flat_length(&self, pipe: PipeId) -> Got {
        match self.vertical(pipe) {
            None => Got::Missing,
            Some(true) => self.length(&[]),
            Some(false) => self.length(&[pipe]),
        }
    }

    /// Height above the datum of a fixture's flood level rim.
    fn rim(&self, node: NodeId) -> Got {
        let storey = self.node(node).storey;
        let floor = storey.and_then(|storey| self.network.storeys()[storey as usize].elevation);
        let above = self.fixture(node).and_then(|fixture| fixture.rim_height);
        known(
            floor.zip(above).and_then(|(floor, above)| floor.checked_add(above)),
            Value::Length,
        )
    }

    /// The highest rim among the fixtures whose air comes from dry vents at some nodes.
    pub(crate) fn highest_rim(&self, nodes: &[NodeId]) -> Got {
        let served = self
            .traps()
            .filter(|&node| self.supply(node).is_some_and(|supply| nodes.contains(&supply.vent)));
        most(served.map(|node| self.rim(node)))
    }

    /// What that comes to at the least: no rim lies below its trap weir.
    fn highest_rim_at_least(&self, nodes: &[NodeId]) -> Got {
        let served = self
            .traps()
            .filter(|&node| self.supply(node).is_some_and(|supply| nodes.contains(&supply.vent)));
        let one = |node| match self.rim(node) {
            Got::Missing => self.height(node),
            rim => rim,
        };
        most(served.map(one).filter(|one| matches!(one, Got::Known(_))))
    }

    /// Where the vents that end at a valve leave the drains.
    fn vented_by(&self, valve: NodeId) -> Vec<NodeId> {
        let vents = self.vents_to(valve).into_iter();
        vents.flat_map(|vent| self.connections(vent)).collect()
    }

    pub(crate) fn valve_above_rim(&self, valve: NodeId) -> Got {
        minus(self.height(valve), self.highest_rim(&self.vented_by(valve)))
    }

    /// What a height above the highest rim served comes to at the most, where rims are not stated.
    pub(crate) fn most_above_rim(&self, subject: Subject, element: u32, fact: Fact) -> Option<Length> {
        let (pipe, node) = (PipeId::new(element as usize), NodeId::new(element as usize));
        let (height, served) = match (subject, fact) {
            (Subject::Valve, Fact::ValveHeightAboveRim) => (self.node(node).elevation?, self.vented_by(node)),
            (Subject::Vent, Fact::VentRiseAboveRim) => {
                let [from, to] = [self.from(pipe), self.to(pipe)].map(|end| self.node(end).elevation);
                (from?.min(to?), self.connections(pipe))
            }
            (Subject::Vent, Fact::VentJointAboveRim | Fact::VentMeetingRise) => {
                (self.node(self.to(pipe)).elevation?, self.connections(pipe))
            }
            _ => return None,
        };
        match self.highest_rim_at_least(&served) {
            Got::Known(Value::Length(rim)) => height.checked_sub(rim),
            _ => None,
        }
    }

    /// What a length along a vent comes to at the least: what is stated of the longest way, however that is told.
    pub(crate) fn least_vent_length(&self, vent: PipeId, fact: Fact) -> Option<Length> {
        let stated = |pipe: PipeId| match (fact, self.vertical(pipe), self.pipe(pipe).length) {
            (Fact::VentHorizontalLength, None | Some(true), _) | (_, _, None) => self.length(&[]),
            (_, _, Some(length)) => Got::Known(Value::Length(length)),
        };
        match self.vent_length(vent, fact == Fact::VentLengthToAir, &stated) {
            Got::Known(Value::Length(least)) => Some(least),
            _ => None,
        }
    }

    pub(crate) fn height(&self, node: NodeId) -> Got {
        known(self.node(node).elevation, Value::Length)
    }

    fn above_rim(&self, vent: PipeId, node: NodeId) -> Got {
        minus(self.height(node), self.highest_rim(&self.connections(vent)))
    }

    /// Where a vent first turns from plumb; nothing where it does not, not known where a slope is not.
    pub(crate) fn turn_of(&self, vent: PipeId) -> Option<Option<NodeId>> {
        for pipe in self.vents_on(vent) {
            if self.vertical(pipe)? {
                continue;
            }
            return Some(Some(self.from(pipe)));
        }
        Some(None)
    }

    pub(crate) fn turn_above_rim(&self, vent: PipeId) -> Got {
        match self.turn_of(vent) {
            None => Got::Missing,
            Some(None) => Got::Absent,
            Some(Some(turn)) => self.above_rim(vent, turn),
        }
    }

    /// The stacks that a main vent serves which begins with a pipe: that which it leaves, or those that end there, or the
    /// nearest above or below.
    fn stacks_at(&self, vent: PipeId) -> Vec<Stack> {
        if !self.is_main(vent) {
            return Vec::new();
        }
        let node = self.from(vent);
        let is_stack = |drain: &PipeId| self.kind(*drain) == RunKind::Stack;
        if let Some(next) = self.next(node).filter(is_stack) {
            return vec![self.stack_of(next)];
        }
        let mut ending: Vec<Stack> = Vec::new();
        for inlet in self.inlets(node).into_iter().filter(is_stack) {
            let stack = self.stack_of(inlet);
            if !ending.contains(&stack) {
                ending.push(stack);
            }
        }
        if !ending.is_empty() {
            return ending;
        }
        let below = || {
            (self.kind(vent) == RunKind::VentStack)
                .then(|| self.stack_below(node))
                .flatten()
        };
        let above = self.base_above(node).map(|(_, stack)| stack);
        above.or_else(below).into_iter().collect()
    }

    /// The stacks that a vent, or what joins it, serves as a main vent.
    pub(crate) fn stacks_by(&self, pipe: PipeId) -> Vec<Stack> {
        let mut stacks: Vec<Stack> = Vec::new();
        for first in self.first_pipes(pipe) {
            for stack in self.stacks_at(first) {
                if !stacks.contains(&stack) {
                    stacks.push(stack);
                }
            }
        }
        stacks
    }

    /// Of the stacks by whose vents air comes, the largest; of several as large the one with most load. What is not known
    /// may be the most.
    pub(crate) fn governing(&self, pipe: PipeId) -> Option<Stack> {
        let amount = |stack: &Stack, fact: Fact| match self.stack_fact(Some(stack), fact) {
            Some(Got::Missing) => i64::MAX,
            Some(Got::Known(Value::Size(size))) => i64::from(size.0) + 1,
            Some(Got::Known(Value::Load(load))) => load.thousandths(),
            _ => 0,
        };
        let demand = |stack: &Stack| {
            let run = self.pipe(*stack.first()?).run;
            let name = self.network.run(run).map(|run| run.name.clone());
            let [size, load] = [Fact::StackLargestSize, Fact::StackLoad].map(|fact| amount(stack, fact));
            Some((size, load, std::cmp::Reverse(name)))
        };
        let stacks = self.stacks_by(pipe).into_iter();
        stacks.max_by(|one, other| demand(one).cmp(&demand(other)))
    }

    /// The stacks whose vents have come together, each with how far its base is from where the vent begins, along the
    /// stack and the vents; nothing where one comes by several ways.
    fn header(&self, pipe: PipeId) -> Option<Vec<(Stack, Got)>> {
        let mut found: Vec<(Stack, Got)> = Vec::new();
        for first in self.first_pipes(pipe) {
            let stack = match &self.stacks_at(first)[..] {
                [] => continue,
                [stack] => stack.clone(),
                _ => return None,
            };
            // By its stack vent, or by its vent stack where it has none.
            if self.kind(first) != RunKind::StackVent && self.stack_vent(&stack).is_some() {
                continue;
            }
            if found.iter().any(|(other, _)| *other == stack) {
                return None;
            }
            let base = self.to(self.foot(&stack));
            let node = self.from(first);
            let up = if self.nodes_of(&stack).contains(&node) {
                self.length(&self.way(node, base))
            } else {
                self.length(&[])
            };
            let way = self.vents_on(first);
            let before = way
                .iter()
                .position(|&vent| vent == pipe)
                .map_or(&way[..0], |at| &way[..at]);
            found.push((stack, plus(up, self.length(before))));
        }
        Some(found)
    }

    /// How far down the drains a dry vent is depended on.
    fn reach(&self, vent: NodeId) -> Option<NodeId> {
        let mut lowest = vent;
        for node in self.traps() {
            let mut deepen = |end: NodeId| {
                if self.below(end, lowest) {
                    lowest = end;
                }
            };
            let Some(supply) = self.supply(node) else { continue };
            if supply.vent == vent && supply.brings.is_some() {
                let levels = self.plain_shapes(&supply).first() == Some(&Pattern::CommonLevels);
                if levels || self.belongs(node, &supply) == Some(true) {
                    deepen(supply.connection);
                }
            }
            match self.chosen(node)? {
                Some(Pattern::Combination) if supply.vent == vent => {
                    if let Some(part) = self.part(node) {
                        deepen(part.end);
                    }
                }
                Some(Pattern::Circuit) if self.circuit_vent(&supply).unwrap_or(supply.vent) == vent => {
                    deepen(supply.connection);
                }
                _ => {}
            }
        }
        Some(lowest)
    }

    /// Whether a storey is missing by which a dry vent is depended on further down than that.
    fn in_doubt(&self, vent: NodeId, reach: NodeId) -> bool {
        self.traps().any(|node| {
            let supply = self
                .supply(node)
                .filter(|supply| supply.vent == vent && supply.brings.is_some());
            supply.is_some_and(|supply| {
                let levels = self.plain_shapes(&supply).first() == Some(&Pattern::CommonLevels);
                !levels && self.belongs(node, &supply).is_none() && self.below(supply.connection, reach)
            })
        })
    }

    /// The traps that get their air by a vent.
    fn traps_by(&self, pipe: PipeId) -> Option<Vec<NodeId>> {
        let connections = self.distinct_connections(pipe)?;
        let mut found = Vec::new();
        for node in self.traps() {
            let supply = self.supply(node).filter(|supply| connections.contains(&supply.vent));
            if supply.is_none() {
                continue;
            }
            // What needs no vent has none.
            if self.chosen(node)? != Some(Pattern::None) {
                found.push(node);
            }
        }
        Some(found)
    }

    /// Whether a vent comes from a foot and has met no other since.
    fn past_foot(&self, vent: PipeId) -> bool {
        let from = self.from(vent);
        if self.is_foot(from) {
            return true;
        }
        match self.vents_to(from)[..] {
            [only] => self.past_foot(only),
            _ => false,
        }
    }

    pub(crate) fn vent_fact(&self, pipe: PipeId, fact: Fact) -> Option<Got> {
        use Fact as F;
        let (from, to) = (self.from(pipe), self.to(pipe));
        let leaves = self.touches_drains(from);
        let onward = self.vents_from(to).first().copied();
        Some(match fact {
            F::VentDry => truth(leaves),
            F::VentDrainSize if leaves => self.next(from).map_or(Got::Absent, |next| self.size_of(next)),
            F::VentDrainLies if leaves => self.next(from).map_or(Got::Absent, |next| self.orientation(next)),
            F::VentDrainSize | F::VentDrainLies => Got::Absent,
            F::VentLargestInlet => self.extreme(&self.vents_to(from), true),
            F::VentLowerFitting => self.fitting_at(from),
            F::VentGrade => self.grade(pipe),
            F::VentHoldsWater => match self.rises(pipe) {
                None => Got::Missing,
                Some(Ordering::Less) => self.stays_at(pipe, to),
                Some(_) => truth(false),
            },
            F::VentTakeOff => match self.next(from).map(|drain| self.vertical(drain)) {
                None | Some(Some(true)) => Got::Absent,
                Some(Some(false)) => known(self.pipe(pipe).slope, |slope| {
                    Value::Angle(slope.angle_from_horizontal())
                }),
                Some(None) => Got::Missing,
            },
            F::VentConnections => count(self.connections(pipe).len()),
            F::VentEnds => match &self.node(self.vent_end(pipe)).kind {
                NodeKind::Valve(valve) => known(valve.kind, |kind| {
                    Value::Word(match kind {
                        ValveKind::Stack => VentEnd::StackValve.name(),
                        _ => VentEnd::BranchValve.name(),
                    })
                }),
                _ => Got::Known(Value::Word(VentEnd::OpenAir.name())),
            },
            F::VentDevelopedLength => self.vent_length(pipe, false, &|one| self.length(&[one])),
            F::VentHorizontalLength => self.vent_length(pipe, false, &|one| self.flat_length(one)),
            F::VentLengthToAir => self.vent_length(pipe, true, &|one| self.length(&[one])),
            F::VentRiseAboveRim => {
                let ends = self.node(from).elevation.zip(self.node(to).elevation);
                // The lower of its ends; without both heights it cannot be told which that is.
                match (ends, self.highest_rim(&self.connections(pipe))) {
                    (_, Got::Absent) => Got::Absent,
                    (Some((one, other)), rim) => minus(Got::Known(Value::Length(one.min(other))), rim),
                    (None, _) => Got::Missing,
                }
            }
            F::VentJointAboveRim => match onward {
                Some(next) if self.is_main(next) && !self.is_main(pipe) => self.above_rim(pipe, to),
                _ => Got::Absent,
            },
            F::VentMeetingRise => match onward {
                Some(next) if self.kind(next) == RunKind::BranchVent && self.vents_to(to).len() > 1 => {
                    self.above_rim(pipe, to)
                }
                _ => Got::Absent,
            },
            F::VentServedLoad | F::VentServesWaterCloset | F::VentServedSize => {
                let places: BTreeSet<_> = self.connections(pipe).into_iter().collect();
                let ends = places
                    .iter()
                    .map(|&node| self.reach(node))
                    .collect::<Option<Vec<_>>>()?;
                let doubt = places.iter().zip(&ends).any(|(&place, &end)| self.in_doubt(place, end));
                let closets = ends.iter().any(|&end| self.closets_above(end) > 0);
                match fact {
                    F::VentServesWaterCloset if closets => truth(true),
                    _ if doubt => Got::Missing,
                    F::VentServedLoad => {
                        // Each fixture once, by however many of the drains its water comes.
                        let fixtures = ends.iter().flat_map(|&end| self.fixtures_above(end).to_vec());
                        let fixtures: BTreeSet<_> = fixtures.collect();
                        self.load_with_groups(&fixtures.into_iter().collect::<Vec<_>>())
                    }
                    F::VentServesWaterCloset => truth(false),
                    _ => {
                        let own = places.iter().filter_map(|&node| self.next(node));
                        let drains: Vec<_> = own.chain(ends.iter().flat_map(|&end| self.inlets(end))).collect();
                        self.extreme(&drains, true)
                    }
                }
            }
            F::VentStackSize | F::VentStackLoad | F::VentAirLoss => match self.governing(pipe) {
                None => Got::Absent,
                Some(stack) => match fact {
                    F::VentStackSize => return self.stack_fact(Some(&stack), F::StackLargestSize),
                    F::VentStackLoad => return self.stack_fact(Some(&stack), F::StackLoad),
                    _ => self.air_loss(pipe, &stack),
                },
            },
            F::VentStackBaseDistance if leaves && self.kind(pipe) == RunKind::VentStack => {
                self.base_above(from).map_or(Got::Absent, |(far, _)| far)
            }
            F::VentStackBaseDistance => Got::Absent,
            F::VentStacks => count(self.header(pipe)?.len()),
            F::VentHeaderLoad | F::VentHeaderSize => {
                let stacks = self.header(pipe)?;
                let of = |fact| {
                    let each = stacks.iter().map(|(stack, _)| self.stack_fact(Some(stack), fact));
                    each.collect::<Option<Vec<_>>>()
                };
                if fact == F::VentHeaderLoad {
                    of(F::StackLoad)?.into_iter().reduce(plus).unwrap_or(Got::Absent)
                } else {
                    // A stack without upright pipe has none.
                    most(of(F::StackLargestSize)?.into_iter().filter(|size| *size != Got::Absent))
                }
            }
            F::VentHeaderLength => {
                let from_bases = most(self.header(pipe)?.into_iter().map(|(_, far)| far));
                plus(from_bases, self.length(&self.vents_on(pipe)))
            }
            F::VentTraps => count(self.traps_by(pipe)?.len()),
            F::VentWetTraps => {
                let traps = self.traps_by(pipe)?.into_iter();
                count(
                    traps
                        .filter(|&one| self.supply(one).is_some_and(|supply| supply.brings.is_some()))
                        .count(),
                )
            }
            F::VentTrapLoad => self.sum_of_loads(&self.traps_by(pipe)?),
            F::VentLargestTrap => most(self.traps_by(pipe)?.into_iter().map(|one| {
                let size = self.fixture(one).and_then(|fixture| fixture.trap.size);
                known(size.and_then(|name| self.rules.ladder.find(name)), Value::Size)
            })),
            F::VentStoreys => self.storeys_of(&self.traps_by(pipe)?),
            F::VentInLoop => truth(self.is_foot(to) || self.comes_to_foot(pipe).is_some() || self.past_foot(pipe)),
            F::VentFootLoad if self.kind(pipe) == RunKind::VentStack => match self.branch_end(from) {
                Some(end) => self.load_at(self.from(end)),
                None => Got::Absent,
            },
            F::VentFootLoad => Got::Absent,
            F::VentYokeRise | F::VentYokeSize | F::VentYokeBranchSize => return self.yoke_fact(pipe, fact),
            _ => return None,
        })
    }

    /// The slope at which water in a vent runs to a drain, less than level where it stands at the vent's end.
    fn grade(&self, vent: PipeId) -> Got {
        let Some(slope) = self.pipe(vent).slope else {
            return Got::Missing;
        };
        let end = self.to(vent);
        let back = Slope::new(-slope.rise(), slope.run()).unwrap_or(slope);
        let known = |slope| Got::Known(Value::Slope(slope));
        match self.stays_at(vent, end) {
            _ if slope >= Slope::LEVEL => known(slope),
            Got::Known(Value::Truth(false)) => known(back),
            Got::Missing => Got::Missing,
            _ => known(slope),
        }
    }

    /// Whether water that a vent brings to its end stays there.
    fn stays_at(&self, vent: PipeId, end: NodeId) -> Got {
        let meeting = self.vents_to(end).into_iter().filter(|&other| other != vent);
        let meeting: Vec<_> = meeting.map(|other| self.rises(other)).collect();
        let leaving: Vec<_> = self
            .vents_from(end)
            .into_iter()
            .map(|other| self.rises(other))
            .collect();
        let drains = self.next(end).is_some()
            || meeting.contains(&Some(Ordering::Greater))
            || leaving.contains(&Some(Ordering::Less));
        if !drains && (meeting.contains(&None) || leaving.contains(&None)) {
            return Got::Missing;
        }
        truth(!drains)
    }

    /// Whether a vent ends higher than it begins, or lower. A plumb one that leads to a drain comes down, and so does one
    /// whose ends are known to stand so, further apart than a quarter of an inch.
    fn rises(&self, vent: PipeId) -> Option<Ordering> {
        let (from, to) = (self.from(vent), self.to(vent));
        let slope = self.pipe(vent).slope?;
        let heights = self.node(from).elevation.zip(self.node(to).elevation);
        let fall = heights.map_or(0, |(from, to)| from.nanometres() - to.nanometres());
        let down = self.next(to).is_some() || fall > 6_350_000;
        Some(match slope.is_vertical() && down {
            true => Ordering::Less,
            false => slope.cmp(&Slope::LEVEL),
        })
    }

    /// What is told of a vent that leads from a stack to that stack's vent stack.
    fn yoke_fact(&self, vent: PipeId, fact: Fact) -> Option<Got> {
        let from = self.from(vent);
        let stack_pipe = self.next(from).filter(|&next| self.kind(next) == RunKind::Stack);
        let met = (self.kind(vent) == RunKind::BranchVent)
            .then(|| self.meets_vent_stack(vent))
            .flatten();
        let Some((stack_pipe, (at, vent_stack))) = stack_pipe.zip(met) else {
            return Some(Got::Absent);
        };
        let stack = self.stack_of(stack_pipe);
        let served = self.stacks_by(vent_stack);
        if served.len() > 1 {
            return None;
        }
        let nodes = self.nodes_of(&stack);
        let up_to = nodes.iter().position(|&node| node == from)?;
        let joints = self.joints(&stack);
        let joint = nodes[..=up_to].iter().rev().find(|node| joints.contains(node));
        let Some(&joint) = joint.filter(|_| served.first() == Some(&stack)) else {
            return Some(Got::Absent);
        };
        Some(match fact {
            Fact::VentYokeRise => {
                let storey = self.node(joint).storey;
                let floor = storey.and_then(|storey| self.network.storeys()[storey as usize].elevation);
                minus(self.height(at), known(floor, Value::Length))
            }
            Fact::VentYokeSize => self.extreme(&[stack_pipe, vent_stack], false),
            _ => {
                let inlets = self.inlets(joint).into_iter();
                let branches: Vec<_> = inlets.filter(|&inlet| self.kind(inlet) != RunKind::Stack).collect();
                self.extreme(&branches, true)
            }
        })
    }

    /// What a valve gives air to.
    pub(crate) fn valve_fact(&self, valve: NodeId, fact: Fact) -> Option<Got> {
        use Fact as F;
        let ends_here = |node: NodeId| {
            self.vents_from(node)
                .into_iter()
                .any(|vent| self.vent_end(vent) == valve)
        };
        let fixtures: Vec<_> = self
            .traps()
            .filter(|&node| self.supply(node).is_some_and(|supply| ends_here(supply.vent)))
            .collect();
        let drains: BTreeSet<_> = self
            .network
            .graph()
            .node_indices()
            .filter(|&node| self.next(node).is_some() && ends_here(node))
            .collect();
        // Where the branches that it vents join a stack.
        let joints = || {
            drains
                .iter()
                .filter_map(|&node| self.stack_joint(node).map(|joint| (node, joint)))
                .filter(|(node, joint)| node != joint)
        };
        Some(match fact {
            F::ValveHeightAboveDrain => {
                match minus(self.height(valve), most(drains.iter().map(|&node| self.height(node)))) {
                    Got::Absent => Got::Missing,
                    height => height,
                }
            }
            F::ValveFixtures => count(fixtures.len()),
            F::ValveSameStorey => match self.storeys_of(&fixtures) {
                _ if fixtures.len() < 2 => truth(true),
                Got::Known(Value::Count(storeys)) => truth(storeys == 1),
                other => other,
            },
            F::ValveIntervalsAbove => most(joints().filter_map(|(_, joint)| {
                let next = self.next(joint)?;
                Some(self.intervals_above(&self.stack_of(next), joint))
            })),
            F::ValveRelief if joints().next().is_none() => Got::Absent,
            F::ValveRelief => truth(joints().all(|(node, joint)| {
                let further = self.way(node, joint).into_iter().map(|pipe| self.to(pipe));
                let mut further = further.filter(|&at| at != joint);
                further.any(|at| {
                    let vents = self.vents_from(at).into_iter();
                    vents
                        .into_iter()
                        .any(|vent| matches!(self.node(self.vent_end(vent)).kind, NodeKind::Terminal(_)))
                })
            })),
            F::ValveStackIntervals => {
                let mut stacks: Vec<Stack> = Vec::new();
                for vent in self.vents_to(valve) {
                    let more = self.stacks_by(vent);
                    stacks.extend(
                        more.into_iter()
                            .filter(|stack| !stacks.contains(stack))
                            .collect::<Vec<_>>(),
                    );
                }
                match &stacks[..] {
                    [] => Got::Absent,
                    [stack] => return self.stack_fact(Some(stack), F::StackIntervals),
                    _ => return None,
                }
            }
            F::ValveServedFlow => {
                let ends: BTreeSet<_> = drains
                    .iter()
                    .filter_map(|&node| {
                        let next = self.next(node)?;
                        if self.kind(next) == RunKind::Stack {
                            Some(self.foot(&self.stack_of(next)))
                        } else {
                            self.branch_end(node)
                        }
                    })
                    .collect();
                ends.into_iter()
                    .map(|end| self.probable_flow(end))
                    .reduce(plus)
                    .unwrap_or(Got::Absent)
            }
            _ => return None,
        })
    }

    /// Where a branch's water reaches a stack.
    pub(crate) fn stack_joint(&self, node: NodeId) -> Option<NodeId> {
        for pipe in self.downstream(node) {
            match self.kind(pipe) {
                RunKind::Stack => return Some(self.from(pipe)),
                RunKind::Branch => {}
                _ => return None,
            }
        }
        None
    }

    /// Vent terminals to which more leads than the vent from one foot.
    pub(crate) fn open_vents_without_loops(&self) -> usize {
        let nodes = self.network.graph().node_indices();
        let terminals = nodes.filter(|&node| matches!(self.node(node).kind, NodeKind::Terminal(_)));
        let only_from_foot = |node: NodeId| match self.vents_to(node)[..] {
            [only] => self.past_foot(only),
            _ => false,
        };
        terminals.filter(|&node| !only_from_foot(node)).count()
    }

    /// The largest size that a vent keeps all the way from a drain to open air, where all sizes are known.
    pub(crate) fn largest_open_vent(&self) -> Option<Got> {
        let pipes = self.network.graph().edge_indices();
        let firsts = pipes.filter(|&pipe| {
            self.pipe(pipe).role == crownweir_vocabulary::Role::Vent
                && self.touches_drains(self.from(pipe))
                && matches!(self.node(self.vent_end(pipe)).kind, NodeKind::Terminal(_))
        });
        let ways: Vec<Got> = firsts.map(|first| self.extreme(&self.vents_on(first), false)).collect();
        // Sizes that are not known may not matter; that is not gone into here.
        if ways.contains(&Got::Missing) {
            return None;
        }
        Some(most(ways))
    }

    /// The square of the diameter that a vent has air through, at the most that those feeding it have together.
    fn open_square(&self, vent: PipeId) -> Option<u128> {
        let diameter = self.size(vent).and_then(|size| self.rules.ladder.rung(size))?.diameter;
        let own = u128::from(diameter.nanometres().unsigned_abs()).pow(2);
        let from = self.from(vent);
        let inlets = self.vents_to(from);
        if inlets.is_empty() || self.touches_drains(from) {
            return Some(own);
        }
        let fed = inlets.into_iter().map(|inlet| self.open_square(inlet));
        Some(own.min(fed.sum::<Option<u128>>()?))
    }

    /// The diameter of one circle as large as all vents where they reach open air.
    pub(crate) fn open_diameter(&self) -> Got {
        let graph = self.network.graph();
        let vents = graph
            .edge_indices()
            .filter(|&pipe| self.pipe(pipe).role == crownweir_vocabulary::Role::Vent);
        if vents.into_iter().any(|vent| self.size(vent).is_none()) {
            return Got::Missing;
        }
        let terminals = graph
            .node_indices()
            .filter(|&node| matches!(self.node(node).kind, NodeKind::Terminal(_)));
        let squares = terminals
            .flat_map(|node| self.vents_to(node))
            .map(|vent| self.open_square(vent));
        let sum = squares.sum::<Option<u128>>();
        some(sum, |sum| {
            Value::Length(Length::from_nanometres(i64::try_from(sum.isqrt()).unwrap_or(i64::MAX)))
        })
    }

    /// Smallest size of the vent that rises from a sump.
    pub(crate) fn sump_vent(&self) -> Got {
        match self.air_way(self.network.disposal())[..] {
            [] => Got::Absent,
            ref way => self.extreme(way, false),
        }
    }

    pub(crate) fn least_slope_of_building_drain(&self) -> Got {
        let pipes = self.network.graph().edge_indices();
        let drains = pipes.filter(|&pipe| self.kind(pipe) == RunKind::BuildingDrain);
        let level = drains.filter(|&pipe| self.vertical(pipe) != Some(true));
        least(level.map(|pipe| known(self.pipe(pipe).slope, Value::Slope)))
    }
}
