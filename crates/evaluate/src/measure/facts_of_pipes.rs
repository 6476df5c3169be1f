//! The facts of pipes, turns and fittings.

use std::cmp::Ordering;

use crownweir_network::angles::{self, Fit};
use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_quantity::{Angle, Length, Slope};
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::{Direction, FixtureType, Inlet, Role, RunKind, ValveKind, VentEnd};

use super::facts::{
    Element, Got, above, count, if_any, length, load, orientation, stated, storeys, truth, word,
};
use super::runs::MOST_FOLLOWED;
use super::{Class, Distance, Measured, NONE, PipeFacts, Seen};

impl Measured<'_> {
    pub(super) fn pipe_fact(&self, pipe: u32, fact: Fact) -> Got {
        let Some(facts) = self.pipe(pipe) else {
            return Got::Absent;
        };
        let here = Element::Pipe(pipe);
        match fact {
            Fact::PipeRole => word(Some(facts.kind.role().name())),
            Fact::PipeKind => word(Some(facts.kind.name())),
            Fact::PipeSize => self.size_of(pipe),
            Fact::PipeLength => length(facts.length, "length"),
            Fact::PipeSlope => stated(self.slope(pipe).map(Value::Slope), "slope", here),
            Fact::PipeOrientation => stated(
                facts.vertical.map(|vertical| Value::Word(orientation(vertical))),
                "slope",
                here,
            ),
            Fact::PipeMaterial => stated(
                facts.material.map(|material| Value::Word(material.name())),
                "material",
                here,
            ),
            Fact::PipeSupportSpacing => {
                let spacing = facts.support_spacing.get().map(Distance::nanometres);
                let spacing = spacing.map(|spacing| Value::Length(Length::from_nanometres(spacing)));
                stated(spacing, "support_spacing", here)
            }
            Fact::PipeMidStoreyGuide => {
                stated(facts.mid_storey_guide.map(Value::Truth), "mid_storey_guide", here)
            }
            Fact::PipeUnderground => truth(facts.underground),
            _ => Got::Absent,
        }
    }

    pub(super) fn drain_fact(&self, pipe: u32, fact: Fact) -> Got {
        let (Some(facts), Some(flow)) = (self.pipe(pipe), self.flow(pipe)) else {
            return Got::Absent;
        };
        match fact {
            Fact::DrainLoad => load(flow.load, flow.gap),
            Fact::DrainWetLoad => load(flow.own_load, flow.gap),
            Fact::DrainFixtures => count(flow.fixtures),
            Fact::DrainWaterClosets => count(flow.water_closets),
            Fact::DrainSinks => count(self.details(pipe).sinks),
            Fact::DrainUrinals => count(flow.urinals),
            Fact::DrainLargestTrap | Fact::DrainLargestTraps if self.details(pipe).trap_gap != NONE => {
                stated(None, "trap size", Element::Node(self.details(pipe).trap_gap))
            }
            Fact::DrainLargestTrap => if_any(self.details(pipe).largest_trap.0.map(Value::Size)),
            Fact::DrainLargestTraps => count(self.details(pipe).largest_trap.1),
            Fact::DrainInTrapArm => truth(self.is_in_trap_arm(pipe)),
            Fact::DrainVerticalLength
            | Fact::DrainHorizontalRun
            | Fact::DrainOpensAbove
            | Fact::DrainHorizontalTurn
            | Fact::DrainTurnDistance
            | Fact::DrainTurnSuds
            | Fact::DrainTurnStoreys => self.run_fact(pipe, fact),
            Fact::DrainReceiver => {
                self.see(Seen::Receiver, pipe);
                let receiver = self.state.downstream.receiver.get(pipe as usize);
                word(receiver.map(|receiver| receiver.name()))
            }
            Fact::DrainLargestInlet => self.largest_size(self.inlets(facts.from, Role::Drain)),
            Fact::DrainInletFitting => self.fitting_at(facts.from),
            Fact::DrainClothesWashers => count(self.details(pipe).washers),
            Fact::DrainRises => {
                let pumped = self.fixture(facts.from).is_some_and(|fixture| fixture.pumped);
                let ends = [facts.from, facts.to].map(|node| self.node(node));
                let storeys = ends.map(|node| node.and_then(|node| node.storey));
                let heights = ends.map(|node| node.and_then(|node| node.elevation));
                // What stands below a floor may be told of the storey below it.
                let falls = matches!(heights, [Some(from), Some(to)] if to <= from);
                match storeys {
                    [Some(from), Some(to)] => truth(from < to && !pumped && !falls),
                    _ => Got::Absent,
                }
            }
            Fact::DrainAboveLowestFloor => self.above_lowest_floor(facts.from),
            Fact::DrainPumped => {
                let only = (flow.fixtures == 1).then_some(flow.a_fixture);
                let only = only.and_then(|only| self.fixture(only));
                truth(only.is_some_and(|only| only.pumped && !only.has_trap()))
            }
            Fact::DrainDeadEnd => {
                let end = facts.from;
                let is_open = self.fixture(end).is_some()
                    || self.is(end, Class::Cleanout)
                    || self.inlets(end, Role::Drain).next().is_some()
                    || self.inlets(end, Role::Vent).next().is_some()
                    || self.vents_from(end).next().is_some();
                truth(!is_open)
            }
            Fact::DrainIsWetVent => truth(self.state.relied.is_wet_vent(self, pipe)),
            // A stack's drain may be an offset as long as it is not stated how it lies.
            Fact::DrainOffsetIntervals
            | Fact::DrainOffsetAbove
            | Fact::DrainOffsetBelow
            | Fact::DrainOffsetReliefSize
            | Fact::DrainOffsetLength
            | Fact::DrainOffsetInlets
                if facts.kind == RunKind::Stack && facts.vertical.is_none() =>
            {
                self.lies(pipe)
            }
            Fact::DrainOffsetIntervals | Fact::DrainOffsetAbove | Fact::DrainOffsetBelow => {
                let Some(offset) = self.offset(pipe) else {
                    return Got::Absent;
                };
                match fact {
                    Fact::DrainOffsetIntervals if offset.intervals_above > 0 => {
                        let stack = self.state.stacks.of_pipe(self, pipe);
                        let gap = stack.and_then(|stack| self.stack_itself(stack)?.gap);
                        gap.map_or(count(offset.intervals_above), Got::Missing)
                    }
                    Fact::DrainOffsetIntervals => count(0),
                    Fact::DrainOffsetAbove => truth(offset.vent_above != NONE),
                    _ => truth(offset.vent_below != NONE),
                }
            }
            Fact::DrainOffsetReliefSize => {
                let Some(offset) = self.offset(pipe) else {
                    return Got::Absent;
                };
                let vents = [offset.vent_above, offset.vent_below];
                self.smallest_size(vents.into_iter().filter(|&vent| vent != NONE))
            }
            Fact::DrainOnwardSize => self.size_if_any(self.next(facts.to)),
            Fact::DrainOnwardVents => count(self.wet_vents(facts.to).protected(facts.to)),
            Fact::DrainEmergencyJoints => {
                let single = self
                    .inlets(facts.to, Role::Drain)
                    .filter_map(|inlet| self.flow(inlet))
                    .filter(|flow| flow.fixtures == 1)
                    .filter_map(|flow| self.fixture_facts(flow.a_fixture));
                let drains = single.filter(|one| one.fixture_type == FixtureType::EmergencyFloorDrain);
                count(super::index(drains.count()))
            }
            Fact::DrainRelievedSize => self.relieved_vent_size(pipe),
            Fact::DrainReliefSmallest => self.smallest_of_relief(pipe),
            Fact::DrainBendAhead
            | Fact::DrainBendAheadWashers
            | Fact::DrainBendBehind
            | Fact::DrainBendBehindWashers => self.bend_fact(pipe, fact),
            Fact::DrainIsCircuit => {
                let open = self.state.relied.may_be_circuit(self, pipe);
                self.is_part(self.state.relied.is_circuit(self, pipe), open)
            }
            Fact::DrainIsCombination => {
                let open = self.state.relied.may_be_combination(self, pipe);
                self.is_part(self.state.relied.is_combination(self, pipe), open)
            }
            Fact::DrainCleanoutDistance => {
                let above = self.cleanout_run(facts.from);
                self.by_fall(above.plus(facts.length))
            }
            Fact::DrainBaseDistance
            | Fact::DrainBaseStackSize
            | Fact::DrainBaseStackLoad
            | Fact::DrainBaseStackIntervals => match self.base_distance(pipe) {
                None => Got::Absent,
                Some(Err(open)) => stated(None, "slope", Element::Pipe(open)),
                Some(Ok((distance, _))) if fact == Fact::DrainBaseDistance => self.base_length(distance),
                Some(Ok((_, foot))) => self.foot_fact(foot, fact),
            },
            Fact::DrainVented => self.drain_vented(pipe),
            Fact::DrainProbableFlow => self.probable_flow(pipe),
            Fact::DrainDepthRatio
            | Fact::DrainVelocity
            | Fact::DrainCapacityFlow
            | Fact::DrainVelocityAtFilling => self.drain_hydraulics(pipe, fact),
            Fact::DrainVentsTraps => count(self.wet_vents(facts.from).through(facts.from).0),
            Fact::DrainVentsCloset => truth(self.wet_vents(facts.from).through(facts.from).1 > 0),
            Fact::DrainLoadWithoutClosets => {
                let details = self.details(pipe);
                load(details.others_load, details.others_gap)
            }
            Fact::DrainSeparateInterval => self.separate_of_interval(pipe),
            Fact::DrainSeparateLoad if self.wet_vents(facts.from).through(facts.from).0 > 0 => {
                let own = self.wet_vents(facts.from).own_load(facts.from);
                let gap = if own.unknown < flow.unknown {
                    flow.gap
                } else {
                    NONE
                };
                load(flow.own_load.saturating_sub(own.load), gap)
            }
            Fact::DrainOffsetLength => self
                .level_offset(pipe)
                .map_or(Got::Absent, |(distance, _)| self.by_fall(distance)),
            Fact::DrainOffsetInlets => self
                .level_offset(pipe)
                .map_or(Got::Absent, |(_, inlets)| count(inlets)),
            _ => Got::Absent,
        }
    }

    pub(super) fn vent_fact(&self, pipe: u32, fact: Fact) -> Got {
        let (Some(own), Some(facts)) = (self.pipe(pipe), self.vent(pipe)) else {
            return Got::Absent;
        };
        match fact {
            // A water closet counts whatever else does.
            Fact::VentServesWaterCloset if facts.water_closets > 0 => truth(true),
            Fact::VentServedLoad | Fact::VentServesWaterCloset | Fact::VentServedSize
                if facts.storey_gap != NONE =>
            {
                stated(None, "storey", Element::Node(facts.storey_gap))
            }
            Fact::VentServedLoad => load(facts.load, facts.gap),
            Fact::VentServesWaterCloset => truth(facts.water_closets > 0),
            Fact::VentServedSize => match facts.served_size {
                Some(size) if facts.size_gap == NONE => Got::Known(Value::Size(size)),
                _ if facts.size_gap != NONE => self.size_of(facts.size_gap),
                _ => Got::Absent,
            },
            Fact::VentDevelopedLength => self
                .vent_length(pipe)
                .map_or(Got::Absent, |distance| length(distance, "length")),
            Fact::VentHorizontalLength => self
                .vent_horizontal_length(pipe)
                .map_or(Got::Absent, |distance| self.by_fall(distance)),
            Fact::VentLengthToAir => self
                .vent_length_to_air(pipe)
                .map_or(Got::Absent, |distance| length(distance, "length")),
            Fact::VentRiseAboveRim => self.rise_above_rim(pipe, false),
            Fact::VentJointAboveRim => self.rise_above_rim(pipe, true),
            Fact::VentMeetingRise => {
                let meets = self.inlets(own.to, Role::Vent).nth(1).is_some();
                let onward = self.vent_of(own.to).and_then(|next| self.pipe(next));
                match onward.filter(|next| meets && next.kind == RunKind::BranchVent) {
                    Some(_) => self.above_rim(facts, own.to),
                    None => Got::Absent,
                }
            }
            Fact::VentLowerFitting => self.fitting_at(own.from),
            Fact::VentDrainLies => self.next(own.from).map_or(Got::Absent, |drain| self.lies(drain)),
            Fact::VentRelievedSize => self.relieved_vent_size(pipe),
            Fact::VentRelievedCircuits => {
                let relieved = self.relieved(pipe).unwrap_or_default();
                let open = relieved.open.and_then(|fixture| self.open_choice(fixture));
                open.map_or(count(relieved.circuits), Got::Missing)
            }
            Fact::VentYokeRise => self.yoke_rise(pipe),
            Fact::VentYokeSize => self.yoke_smaller_size(pipe),
            Fact::VentYokeBranchSize => self.yoke_branch_size(pipe),
            Fact::VentFootLoad if own.kind == RunKind::VentStack => {
                let end = self.branch_end(own.from).and_then(|end| self.flow(end));
                end.map_or(Got::Absent, |flow| load(flow.load, flow.gap))
            }
            Fact::VentTakeOff => {
                let Some(drain) = self.next(own.from) else {
                    return Got::Absent;
                };
                match self.pipe(drain).and_then(|drain| drain.vertical) {
                    Some(true) => Got::Absent,
                    Some(false) => {
                        let slope = self.slope(pipe);
                        let angle = slope.map(|slope| Value::Angle(slope.angle_from_horizontal()));
                        stated(angle, "slope", Element::Pipe(pipe))
                    }
                    None => stated(None, "slope", Element::Pipe(drain)),
                }
            }
            Fact::VentGrade => self.grade(pipe, own),
            Fact::VentHoldsWater => self.holds_water(pipe, own),
            Fact::VentDry => truth(self.next(own.from).is_some()),
            Fact::VentStackBaseDistance => {
                let below = own.kind == RunKind::VentStack && self.next(own.from).is_some();
                self.base_above(own.from)
                    .filter(|_| below)
                    .map_or(Got::Absent, |(distance, _)| self.base_length(distance))
            }
            Fact::VentStackSize if facts.stack != NONE => {
                self.stack_fact(facts.stack, Fact::StackLargestSize)
            }
            Fact::VentDrainSize => self.size_if_any(self.next(own.from)),
            Fact::VentLargestInlet => self.largest_size(self.inlets(own.from, Role::Vent)),
            Fact::VentTraps => count(self.vent_traps(pipe).number),
            Fact::VentWetTraps => count(self.vent_traps(pipe).wet),
            Fact::VentTrapLoad => load(self.vent_traps(pipe).load, self.vent_traps(pipe).load_gap),
            Fact::VentLargestTrap if self.vent_traps(pipe).size_gap != NONE => {
                stated(None, "trap size", Element::Node(self.vent_traps(pipe).size_gap))
            }
            Fact::VentLargestTrap => if_any(self.vent_traps(pipe).largest.map(Value::Size)),
            Fact::VentConnections => count(facts.connections),
            Fact::VentStoreys => storeys(self.vent_traps(pipe).storeys, self.vent_traps(pipe).storey_gap),
            Fact::VentAirLoss if facts.stack != NONE => self.air_loss(pipe, facts.stack),
            Fact::VentStacks => count(facts.stacks),
            Fact::VentHeaderLoad if facts.stacks > 0 => load(facts.stack_load, facts.stack_load_gap),
            Fact::VentHeaderSize if facts.stack_size_gap != NONE => self.size_in_stack(facts.stack_size_gap),
            Fact::VentHeaderSize => if_any(facts.stack_size.map(Value::Size)),
            Fact::VentHeaderLength if facts.stacks > 0 => self
                .header_length(pipe)
                .map_or(Got::Absent, |distance| length(distance, "length")),
            Fact::VentEnds => self.vent_end(facts.end),
            Fact::VentInLoop => truth(self.all_loops().holds(self, pipe)),
            Fact::VentStackLoad if facts.stack != NONE => self.stack_fact(facts.stack, Fact::StackLoad),
            _ => Got::Absent,
        }
    }

    /// The pattern of the fitting at a node; absent where something else stands there.
    fn fitting_at(&self, node: u32) -> Got {
        match self.pattern_of(node) {
            Got::Missing(_) if !self.is(node, Class::Fitting) => Got::Absent,
            pattern => pattern,
        }
    }

    /// Whether a drain is part of what protects a trap, where it may be for a trap of which that cannot be told.
    fn is_part(&self, is_part: bool, open: Option<u32>) -> Got {
        let gap = open
            .filter(|_| !is_part)
            .and_then(|fixture| self.open_choice(fixture));
        gap.map_or(truth(is_part), Got::Missing)
    }

    /// What is told of a stack where it comes down. Where slopes are missing that would tell by which of its drains it
    /// does, what is told of all that may be alike.
    fn foot_fact(&self, foot: u32, fact: Fact) -> Got {
        let here = self.foot_itself(foot, fact);
        for drain in self.up_the_stack(foot).take(MOST_FOLLOWED) {
            if drain != foot && self.foot_itself(drain, fact) != here {
                break;
            }
            if self.pipe(drain).and_then(|drain| drain.vertical) == Some(true) {
                return here;
            }
        }
        stated(None, "slope", Element::Pipe(foot))
    }

    fn foot_itself(&self, foot: u32, fact: Fact) -> Got {
        match fact {
            Fact::DrainBaseStackSize => self.size_of(foot),
            Fact::DrainBaseStackLoad => self.drain_fact(foot, Fact::DrainLoad),
            _ => match self.state.stacks.begun_above(self, foot) {
                ([_, ..], Some(gap)) => Got::Missing(gap),
                (begun, _) => count(super::index(begun.len())),
            },
        }
    }

    /// A stack's drain and those of the same stack above it, upwards.
    fn up_the_stack(&self, drain: u32) -> impl Iterator<Item = u32> {
        let stacks = &self.state.stacks;
        let stack = stacks.of_pipe(self, drain);
        std::iter::successors(Some(drain), move |&pipe| {
            let node = self.pipe(pipe)?.from;
            self.inlets(node, Role::Drain)
                .find(|&inlet| stacks.of_pipe(self, inlet) == stack)
        })
    }

    /// Of what a stack's drain carries of fixtures on another dry vent than its own: what enters within one interval.
    fn separate_of_interval(&self, drain: u32) -> Got {
        let (Some(own), Some(flow)) = (self.pipe(drain), self.flow(drain)) else {
            return Got::Absent;
        };
        if own.kind != RunKind::Stack || self.wet_vents(own.from).through(own.from).0 == 0 {
            return Got::Absent;
        }
        let before = match self.state.stacks.begun_above(self, drain) {
            ([_, ..], Some(gap)) => return Got::Missing(gap),
            ([.., before, _], _) => Some(before.pipe),
            _ => None,
        };
        // What comes from above the interval is not of it.
        let (mut carried, mut unknown) = (flow.own_load, flow.unknown);
        let mut vented = self.wet_vents(own.from).own_load(own.from);
        if let Some(pipe) = before {
            let node = self.pipe(pipe).map_or(NONE, |pipe| pipe.from);
            let above = self.flow(pipe);
            carried = carried.saturating_sub(above.map_or(0, |above| above.own_load));
            unknown = unknown.saturating_sub(above.map_or(0, |above| above.unknown));
            if self.state.air.head_of(self, node) == self.state.air.head_of(self, own.from) {
                let above = self.wet_vents(node).own_load(node);
                vented.load = vented.load.saturating_sub(above.load);
                vented.unknown = vented.unknown.saturating_sub(above.unknown);
            }
        }
        let gap = if vented.unknown < unknown { flow.gap } else { NONE };
        load(carried.saturating_sub(vented.load), gap)
    }

    /// The stack that a stack vent or vent stack serves, or that another vent leaves.
    pub(super) fn stack_of_vent(&self, pipe: u32) -> Option<u32> {
        let left = || self.state.stacks.of_pipe(self, self.next(self.pipe(pipe)?.from)?);
        self.served_stack(pipe).or_else(left)
    }

    /// Slope at which what condenses in a vent runs back to a drain.
    fn grade(&self, vent: u32, own: &super::PipeFacts) -> Got {
        let Some(slope) = self.slope(vent) else {
            return stated(None, "slope", Element::Pipe(vent));
        };
        let graded = match self.finds_a_way_down(vent, own.to) {
            Ok(true) if slope < Slope::LEVEL => slope.rise().checked_neg(),
            Err(gap) if slope < Slope::LEVEL => return stated(None, "slope", Element::Pipe(gap)),
            _ => Some(slope.rise()),
        };
        let graded = graded.and_then(|rise| Slope::new(rise, slope.run()));
        Got::Known(Value::Slope(graded.unwrap_or(slope)))
    }

    /// Whether what a vent brings to its end runs on from there: down a vent that rises to it or one that falls on, or
    /// into a drain. A vent of unstated slope where that hangs on it.
    fn finds_a_way_down(&self, vent: u32, end: u32) -> Result<bool, u32> {
        if self.next(end).is_some() {
            return Ok(true);
        }
        let leads_down = |other: u32, way: Ordering| match self.way_of_vent(other) {
            Some(known) => Ok(known == way),
            None => Err(other),
        };
        let others = self.inlets(end, Role::Vent).filter(|&other| other != vent);
        let rising = others.map(|other| leads_down(other, Ordering::Greater));
        let falling = self
            .vents_from(end)
            .map(|other| leads_down(other, Ordering::Less));
        let mut open = Ok(false);
        for way in rising.chain(falling) {
            match way {
                Ok(true) => return way,
                Ok(false) => {}
                Err(_) => open = open.and(way),
            }
        }
        open
    }

    /// Whether a vent rises toward its end, or falls: by its slope, and where it is plumb by the heights of its ends.
    fn way_of_vent(&self, vent: u32) -> Option<Ordering> {
        let own = self.pipe(vent)?;
        let slope = self.slope(vent)?;
        let plumb = slope.is_vertical();
        if plumb {
            // By these it is told whether it comes down.
            self.see(Seen::Joints, own.to);
            self.see(Seen::Node, own.from);
            self.see(Seen::Node, own.to);
        }
        let comes_down = plumb && !self.network.goes_up(PipeId::new(vent as usize));
        Some(if comes_down {
            Ordering::Less
        } else {
            slope.cmp(&Slope::LEVEL)
        })
    }

    /// Whether a vent falls toward its end to where what condenses in it stays.
    fn holds_water(&self, vent: u32, own: &super::PipeFacts) -> Got {
        match self.way_of_vent(vent) {
            None => stated(None, "slope", Element::Pipe(vent)),
            Some(Ordering::Less) => match self.finds_a_way_down(vent, own.to) {
                Ok(drains) => truth(!drains),
                Err(gap) => stated(None, "slope", Element::Pipe(gap)),
            },
            Some(_) => truth(false),
        }
    }

    /// What stands at the end of a vent.
    fn vent_end(&self, end: u32) -> Got {
        match self.node(end).map(|node| &node.kind) {
            Some(NodeKind::Terminal(_)) => word(Some(VentEnd::OpenAir.name())),
            Some(NodeKind::Valve(valve)) => {
                let kind = valve.kind.map(|kind| match kind {
                    ValveKind::Stack => VentEnd::StackValve.name(),
                    _ => VentEnd::BranchValve.name(),
                });
                stated(kind.map(Value::Word), "kind", Element::Node(end))
            }
            _ => Got::Absent,
        }
    }

    /// Height of a vent's lower end, or of its joint with a main vent, above the highest rim that it serves.
    pub(super) fn rise_above_rim(&self, pipe: u32, joint: bool) -> Got {
        let (Some(node), Some(facts)) = (self.rises_at(pipe, joint), self.vent(pipe)) else {
            return Got::Absent;
        };
        self.above_rim(facts, node)
    }

    /// Where that is measured.
    fn rises_at(&self, pipe: u32, joint: bool) -> Option<u32> {
        let own = self.pipe(pipe)?;
        let is_main = |pipe: &super::PipeFacts| matches!(pipe.kind, RunKind::StackVent | RunKind::VentStack);
        let onward = self.vent_of(own.to).and_then(|next| self.pipe(next));
        if joint && (is_main(own) || !onward.is_some_and(is_main)) {
            return None;
        }
        let lower = |own: &super::PipeFacts| {
            let height = |node: u32| self.node(node).and_then(|node| node.elevation);
            match (height(own.from), height(own.to)) {
                (Some(from), Some(to)) if to < from => own.to,
                (Some(_), None) => own.to,
                _ => own.from,
            }
        };
        Some(if joint { own.to } else { lower(own) })
    }

    /// What such a height comes to at the most where rims are not known: none of them lies below its trap weir.
    pub(super) fn most_above_rim(&self, pipe: u32, fact: Fact) -> Option<Length> {
        let vent = self.vent(pipe)?;
        let node = match fact {
            Fact::VentRiseAboveRim => self.rises_at(pipe, false)?,
            Fact::VentJointAboveRim => self.rises_at(pipe, true)?,
            _ => self.pipe(pipe)?.to,
        };
        let height = self.node(node)?.elevation?;
        let rim = Some(vent.rim).filter(|&rim| rim != i64::MIN)?;
        height.checked_sub(Length::from_nanometres(rim))
    }

    /// Height of a node above the highest rim that a vent serves.
    pub(super) fn above_rim(&self, vent: &super::vents::VentFacts, node: u32) -> Got {
        if vent.rim_gap != NONE {
            return self.rim_not_stated(vent.rim_gap);
        }
        if vent.rim == i64::MIN {
            return Got::Absent;
        }
        above(self.height_of(node), Length::from_nanometres(vent.rim))
    }

    pub(super) fn turn_fact(&self, pipe: u32, fact: Fact) -> Got {
        let Some(facts) = self.pipe(pipe) else {
            return Got::Absent;
        };
        let Some(onward) = self.next(facts.to) else {
            return Got::Absent;
        };
        let node = Element::Node(facts.to);
        let pattern = self.pattern_at(facts.to);
        match fact {
            Fact::TurnPattern => self.pattern_of(facts.to),
            Fact::TurnDirection => {
                let before = facts.vertical;
                let after = self.pipe(onward).and_then(|onward| onward.vertical);
                let direction = match (before, after) {
                    (None, _) => return stated(None, "slope", Element::Pipe(pipe)),
                    (_, None) => return stated(None, "slope", Element::Pipe(onward)),
                    (Some(false), Some(true)) => Direction::HorizontalToVertical,
                    (Some(true), Some(false)) => Direction::VerticalToHorizontal,
                    (Some(false), Some(false)) => Direction::HorizontalToHorizontal,
                    (Some(true), Some(true)) => Direction::VerticalToVertical,
                };
                word(Some(direction.name()))
            }
            Fact::TurnAngle => {
                let angle = pattern.map(|pattern| {
                    let straight = pattern.has_branch() && facts.enters == Inlet::Run;
                    let tenths = if straight { 0 } else { pattern.turn_in_tenths() };
                    Value::Angle(Angle::from_microdegrees(tenths * 100_000))
                });
                stated(angle, "pattern", node)
            }
            Fact::TurnInlet => {
                let inlet = if self.enters_by_branch(facts) {
                    Inlet::Branch
                } else {
                    Inlet::Run
                };
                word(Some(inlet.name()))
            }
            Fact::TurnSize => self.size_of(onward),
            Fact::TurnFixtures => self.flow(pipe).map_or(Got::Absent, |flow| count(flow.fixtures)),
            Fact::TurnClosets => self
                .flow(pipe)
                .map_or(Got::Absent, |flow| count(flow.water_closets)),
            Fact::TurnInTrapArm => truth(self.is_in_trap_arm(pipe)),
            Fact::TurnCleanoutDistance => self.turn_cleanout(pipe),
            Fact::TurnCleanoutTrap => self.turn_cleanout_trap(pipe),
            _ => Got::Absent,
        }
    }

    /// Whether a drain lies between a trap and its vent, as the drain of one fixture.
    pub(super) fn is_in_trap_arm(&self, pipe: u32) -> bool {
        let (Some(facts), Some(flow)) = (self.pipe(pipe), self.flow(pipe)) else {
            return false;
        };
        flow.fixtures == 1
            && self.speaks_of(Subject::Trap, flow.a_fixture)
            && self
                .state
                .air
                .supply(self, flow.a_fixture)
                .is_some_and(|supply| self.depth(supply.connection) <= self.depth(facts.to))
    }

    /// Whether a drain comes in by a branch of the fitting at its end: what turns down there does, or from plumb to level,
    /// though it be written in one path with the drain that leads away.
    pub(super) fn enters_by_branch(&self, pipe: &PipeFacts) -> bool {
        let onward = || self.next(pipe.to).and_then(|onward| self.pipe(onward)?.vertical);
        let turns = || {
            pipe.vertical
                .zip(onward())
                .is_some_and(|(own, onward)| own != onward)
        };
        pipe.enters == Inlet::Branch || (self.has_branch(pipe.to) && turns())
    }

    /// Whether a fitting has a branch: by its pattern, or where that is not stated because something joins there.
    pub(super) fn has_branch(&self, node: u32) -> bool {
        let joined = || self.inlets(node, Role::Drain).nth(1).is_some() || self.vent_of(node).is_some();
        self.pattern_at(node)
            .map_or_else(joined, |pattern| pattern.has_branch())
    }

    pub(super) fn fitting_fact(&self, node: u32, fact: Fact) -> Got {
        let branches = || {
            let inlets = self.inlets(node, Role::Drain);
            inlets.filter(|&inlet| self.pipe(inlet).is_some_and(|pipe| self.enters_by_branch(pipe)))
        };
        // The fixtures whose own drains enter by a branch.
        let opposed = || {
            branches()
                .filter_map(|inlet| self.flow(inlet))
                .filter(|flow| flow.fixtures == 1)
                .map(|flow| flow.a_fixture)
        };
        let is_closet = |&fixture: &u32| {
            self.fixture(fixture)
                .is_some_and(|fixture| fixture.fixture_type == FixtureType::WaterCloset)
        };
        match fact {
            Fact::FittingShape => self.pattern_of(node),
            Fact::FittingPipes => count(super::index(self.touching(node).count())),
            Fact::FittingOpen => {
                let pattern = self.pattern_at(node);
                let left = pattern.and_then(|pattern| pattern.openings_left(self.touching(node).count()));
                left.map_or(Got::Absent, |left| count(super::index(left)))
            }
            Fact::FittingOpposedWaterClosets => count(super::index(opposed().filter(is_closet).count())),
            Fact::FittingOpposedPumped => {
                let pumped = opposed().filter(|&fixture| self.fixture(fixture).is_some_and(|one| one.pumped));
                count(super::index(pumped.count()))
            }
            Fact::FittingClosetRun => opposed()
                .filter(is_closet)
                .map(|fixture| self.horizontal_length(fixture, node))
                .reduce(super::Distance::shorter)
                .map_or(Got::Absent, |distance| self.by_fall(distance)),
            Fact::FittingBranchSize => self.largest_size(branches()),
            Fact::FittingRunKind => word(
                self.next(node)
                    .and_then(|pipe| self.pipe(pipe))
                    .map(|pipe| pipe.kind.name()),
            ),
            Fact::FittingRunSize => self.size_if_any(self.next(node)),
            Fact::FittingDrainsFit => self.fit(node, Role::Drain),
            Fact::FittingVentsFit => self.fit(node, Role::Vent),
            _ => Got::Absent,
        }
    }

    /// Whether a fitting joins its pipes of one role. Directions in plan are not followed by sessions: where any is known, a
    /// network is checked anew after each edit that could alter one. Slopes are.
    fn fit(&self, node: u32, role: Role) -> Got {
        self.see(Seen::Joints, node);
        self.see(Seen::Pattern, node);
        for drain in self.inlets(node, Role::Drain).chain(self.next(node)) {
            self.see(Seen::Pipe, drain);
        }
        match angles::fit(self.network, NodeId::new(node as usize), role) {
            None => Got::Absent,
            Some(Fit::Joins) => truth(true),
            Some(Fit::Denies(_)) => truth(false),
            Some(Fit::NotStated { pipe, datum }) => {
                stated(None, datum, Element::Pipe(super::index(pipe.index())))
            }
            Some(_) => stated(None, "pattern", Element::Node(node)),
        }
    }
}
