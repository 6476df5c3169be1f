//! The facts of cleanouts, terminals and valves, of stacks, tests and the whole network.

use crownweir_network::{NearestOpening, NodeKind};
use crownweir_quantity::Length;
use crownweir_rulebook::{Fact, Value};
use crownweir_vocabulary::{FittingPattern, Role, RunKind};

use super::facts::{Element, Got, count, if_any, length, lesser, load, stated, storeys, truth, word};
use super::{Class, Distance, Measured, NONE, Seen};

impl Measured<'_> {
    pub(super) fn end_fact(&self, node: u32, fact: Fact) -> Got {
        let here = Element::Node(node);
        match self.node(node).map(|node| &node.kind) {
            Some(NodeKind::Cleanout(cleanout)) => match fact {
                Fact::CleanoutSize => stated(self.ladder_size(cleanout.size), "size", here),
                Fact::CleanoutPipeSize => self.size_if_any(self.served_by_cleanout(node)),
                Fact::CleanoutStubSize => self.smallest_size(self.stub(node).into_iter()),
                Fact::CleanoutClearance => stated(cleanout.clearance.map(Value::Length), "clearance", here),
                Fact::CleanoutManhole => truth(cleanout.manhole),
                Fact::CleanoutRunKind => word(
                    self.served_by_cleanout(node)
                        .and_then(|pipe| self.pipe(pipe))
                        .map(|pipe| pipe.kind.name()),
                ),
                Fact::CleanoutAccessible => stated(cleanout.accessible.map(Value::Truth), "accessible", here),
                _ => Got::Absent,
            },
            Some(NodeKind::Valve(valve)) => match fact {
                Fact::ValveShape => stated(valve.kind.map(|kind| Value::Word(kind.name())), "kind", here),
                Fact::ValveHeightAboveDrain => {
                    let height = valve.height_above_drain;
                    let height = height.or_else(|| self.height_above_vented(node));
                    stated(height.map(Value::Length), "height_above_drain", here)
                }
                Fact::ValveHeightAboveRim => {
                    let height = valve.height_above_rim;
                    let height = height.or_else(|| {
                        let (most, is_exact) = self.most_of_valve(node)?;
                        is_exact.then_some(most)
                    });
                    stated(height.map(Value::Length), "height_above_rim", here)
                }
                Fact::ValveSameStorey
                | Fact::ValveFixtures
                | Fact::ValveIntervalsAbove
                | Fact::ValveRelief
                | Fact::ValveServedFlow
                | Fact::ValveStackIntervals => self.valve_fact(node, fact),
                Fact::ValveAirFlow => stated(valve.air_flow.map(Value::Flow), "air_flow", here),
                Fact::ValveAccessible => stated(valve.accessible.map(Value::Truth), "accessible", here),
                _ => Got::Absent,
            },
            Some(NodeKind::Terminal(terminal)) => self.terminal_fact(node, terminal, fact),
            _ => Got::Absent,
        }
    }

    /// How far a valve stands above the highest of the places where its vents leave the drains, where all heights are known.
    fn height_above_vented(&self, node: u32) -> Option<Length> {
        self.see(Seen::Valves, 0);
        let vented = self.state.valves.get(&node)?.nodes.iter();
        let heights: Option<Vec<Length>> = vented.map(|&vented| self.node(vented)?.elevation).collect();
        let highest = heights?.into_iter().max()?;
        self.node(node)?.elevation?.checked_sub(highest)
    }

    /// How far a valve stands at the most above the highest rim that its vents serve, and whether it does so exactly, since
    /// all of these are known.
    pub(super) fn most_of_valve(&self, node: u32) -> Option<(Length, bool)> {
        let height = self.node(node)?.elevation?;
        let (mut rim, mut is_exact) = (i64::MIN, true);
        for vent in self.inlets(node, Role::Vent).filter_map(|vent| self.vent(vent)) {
            rim = rim.max(vent.rim);
            is_exact &= vent.rim_gap == NONE;
        }
        let rim = Some(rim).filter(|&rim| rim != i64::MIN)?;
        Some((height.checked_sub(Length::from_nanometres(rim))?, is_exact))
    }

    /// What a valve serves.
    fn valve_fact(&self, node: u32, fact: Fact) -> Got {
        self.see(Seen::Valves, 0);
        let Some(served) = self.state.valves.get(&node) else {
            return Got::Absent;
        };
        let fixtures = served.fixtures;
        match fact {
            Fact::ValveFixtures => count(fixtures.count),
            Fact::ValveServedFlow => self.flow_at_vents(&served.nodes),
            Fact::ValveSameStorey => match fixtures.storey_gap {
                Some((_, gap)) if fixtures.count > 1 => stated(None, "storey", Element::Node(gap)),
                _ => truth(fixtures.count < 2 || fixtures.storeys.0 == fixtures.storeys.1),
            },
            Fact::ValveIntervalsAbove => match served.interval_gap {
                Some(gap) => Got::Missing(gap),
                None => served.intervals_above.map_or(Got::Absent, count),
            },
            Fact::ValveRelief => served
                .intervals_above
                .map_or(Got::Absent, |_| truth(served.relieved)),
            _ => {
                let stacks = self.inlets(node, Role::Vent).filter_map(|vent| self.vent(vent));
                let stack = stacks.map(|vent| vent.stack).find(|&stack| stack != NONE);
                stack.map_or(Got::Absent, |stack| self.stack_fact(stack, Fact::StackIntervals))
            }
        }
    }

    pub(super) fn terminal_fact(&self, node: u32, terminal: &crownweir_network::Terminal, fact: Fact) -> Got {
        let here = Element::Node(node);
        let opening = |part: fn(&NearestOpening) -> Length| match &terminal.nearest_opening {
            None => stated(None, "nearest_opening", here),
            Some(None) => Got::Absent,
            Some(Some(opening)) => Got::Known(Value::Length(part(opening))),
        };
        match fact {
            Fact::TerminalThrough => stated(
                terminal.passes().map(|through| Value::Word(through.name())),
                "through",
                here,
            ),
            Fact::TerminalHeight => stated(
                terminal.height_above_roof.map(Value::Length),
                "height_above_roof",
                here,
            ),
            Fact::TerminalRoofUse => stated(
                terminal.roof_use.map(|usage| Value::Word(usage.name())),
                "roof_use",
                here,
            ),
            Fact::TerminalOpeningDistance => opening(|opening| opening.distance),
            Fact::TerminalOpeningRise => opening(|opening| opening.above),
            Fact::TerminalLotLine => stated(
                terminal.lot_line_distance.map(Value::Length),
                "lot_line_distance",
                here,
            ),
            Fact::TerminalGround => stated(
                terminal.height_above_ground.map(Value::Length),
                "height_above_ground",
                here,
            ),
            Fact::TerminalSize => match self.ladder_size(terminal.enlarged_to) {
                Some(size) => Got::Known(size),
                None => self.terminal_fact(node, terminal, Fact::TerminalVentSize),
            },
            Fact::TerminalEnlargedInside if terminal.enlarged_to.is_some() => stated(
                terminal.enlarged_inside.map(Value::Length),
                "enlarged_inside",
                here,
            ),
            Fact::TerminalVentSize => self.largest_size(self.inlets(node, Role::Vent)),
            _ => Got::Absent,
        }
    }

    /// What is missing of a pipe that leaves the sizes of its stack open: its size, or whether it is upright.
    pub(super) fn size_in_stack(&self, pipe: u32) -> Got {
        let sized = self.pipe(pipe).is_some_and(|pipe| pipe.size.is_some());
        let datum = if sized { "slope" } else { "size" };
        stated(None, datum, Element::Pipe(pipe))
    }

    pub(super) fn stack_fact(&self, number: u32, fact: Fact) -> Got {
        let Some(stack) = self.stack(number) else {
            return Got::Absent;
        };
        let foot = stack.pipes.last().and_then(|&pipe| self.flow(pipe));
        let here = Element::Stack(number);
        match fact {
            Fact::StackLoad => foot.map_or(Got::Absent, |flow| load(flow.load, flow.gap)),
            Fact::StackIntervals => stack.gap.map_or(count(stack.intervals), Got::Missing),
            Fact::StackLargestSize | Fact::StackSmallestSize if stack.size_gap != NONE => {
                self.size_in_stack(stack.size_gap)
            }
            Fact::StackLargestSize => if_any(stack.largest.map(Value::Size)),
            Fact::StackSmallestSize => if_any(stack.smallest.map(Value::Size)),
            Fact::StackHasStackVent => truth(stack.has_stack_vent),
            Fact::StackHasVentStack => truth(stack.has_vent_stack),
            Fact::StackStoreys => storeys(stack.storeys, stack.storey_gap),
            Fact::StackFixtureStoreys => {
                foot.map_or(Got::Absent, |flow| storeys(flow.storeys, flow.storey_gap))
            }
            Fact::StackLowestStorey | Fact::StackHighestStorey => {
                let Some(flow) = foot else { return Got::Absent };
                let (lowest, highest) = flow.storeys;
                let upper_end = match fact {
                    Fact::StackLowestStorey => lowest,
                    _ => highest,
                };
                // From the lowest storey of all, whose number is none; a stack without fixtures has neither.
                match lowest {
                    NONE => storeys((NONE, 0), flow.storey_gap),
                    _ => storeys((0, upper_end), flow.storey_gap),
                }
            }
            Fact::StackIsWetVent => {
                self.see(Seen::WetStack, number);
                truth(self.wet_vents(NONE).has_stack(number))
            }
            Fact::StackLevelOffsets if stack.slope_gap != NONE => {
                stated(None, "slope", Element::Pipe(stack.slope_gap))
            }
            Fact::StackLevelOffsets => count(stack.level_offsets),
            Fact::StackCleanoutDistance => stack
                .cleanout
                .map_or(Got::Absent, |distance| length(distance, "length")),
            Fact::StackPlainTeeEntries => {
                let nodes = stack
                    .pipes
                    .iter()
                    .filter_map(|&pipe| self.pipe(pipe))
                    .map(|pipe| pipe.from);
                let is_branch =
                    |&inlet: &u32| self.pipe(inlet).is_some_and(|inlet| inlet.kind != RunKind::Stack);
                let mut plain = 0;
                for node in nodes.filter(|&node| self.is(node, Class::Fitting)) {
                    let entries = self.inlets(node, Role::Drain).filter(is_branch).count();
                    match self.pattern_at(node) {
                        None if entries > 0 => return stated(None, "pattern", Element::Node(node)),
                        Some(FittingPattern::Tee) => plain += entries,
                        _ => {}
                    }
                }
                count(super::index(plain))
            }
            Fact::StackProbableFlow | Fact::StackTerminalFlow | Fact::StackTerminalFraction => {
                self.stack_hydraulics(number, fact)
            }
            Fact::StackUnrelieved => match (stack.gap, self.stack_relieved(number)) {
                (Some(gap), _) => Got::Missing(gap),
                (None, relieved) => relieved.map_or(Got::Absent, |relieved| count(relieved.unrelieved)),
            },
            Fact::StackStoreysUnrelieved => match self.stack_relieved(number) {
                Some(relieved) if relieved.storey_gap != NONE => {
                    stated(None, "storey", Element::Node(relieved.storey_gap))
                }
                Some(relieved) => count(relieved.storeys_unrelieved),
                None => Got::Absent,
            },
            Fact::StackReliefSize => match self.stack_relieved(number) {
                Some(relieved) if relieved.smallest != NONE => self.size_of(relieved.smallest),
                _ => Got::Absent,
            },
            Fact::StackReliefJoint => self.relief_joint(stack),
            Fact::StackVentStackRise => {
                let leaves = self.pipe(stack.vent_stack).map(|vent| vent.from);
                let base = stack.pipes.last().and_then(|&pipe| self.pipe(pipe));
                match (leaves, base) {
                    (Some(leaves), Some(base)) if self.state.stacks.holds(self, number, leaves) => {
                        length(self.distance(leaves, base.to), "length")
                    }
                    (Some(_), _) => length(Distance::ZERO, "length"),
                    _ => Got::Absent,
                }
            }
            Fact::StackSuds => stack
                .pipes
                .last()
                .map_or(Got::Absent, |&foot| count(self.details(foot).suds)),
            Fact::StackVentStackSize if stack.vent_stack != NONE => self.size_of(stack.vent_stack),
            Fact::StackFixtures => foot.map_or(Got::Absent, |flow| count(flow.fixtures)),
            Fact::StackUrinals => foot.map_or(Got::Absent, |flow| count(flow.urinals)),
            Fact::StackOffsets if stack.offset_gap != NONE => {
                stated(None, "slope", Element::Pipe(stack.offset_gap))
            }
            Fact::StackOffsets => count(stack.offsets),
            Fact::StackIntervalLoad => match stack.gap {
                Some(gap) => Got::Missing(gap),
                None => load(stack.interval_load, stack.interval_load_gap),
            },
            Fact::StackVentSize => match self.vent(stack.stack_vent) {
                None => Got::Absent,
                Some(vent) => stated(vent.least_size.map(Value::Size), "size of the stack vent", here),
            },
            Fact::StackVentTurn => match self.vent(stack.stack_vent) {
                Some(vent) if vent.turn != NONE => match self.turns_openly(vent.turn, Some(stack.stack_vent))
                {
                    Some(pipe) => stated(None, "slope", Element::Pipe(pipe)),
                    None => self.above_rim(vent, vent.turn),
                },
                _ => Got::Absent,
            },
            Fact::StackVentEnd if stack.stack_vent != NONE => {
                self.vent_fact(stack.stack_vent, Fact::VentEnds)
            }
            Fact::StackWaterClosets => foot.map_or(Got::Absent, |flow| count(flow.water_closets)),
            _ => Got::Absent,
        }
    }

    /// The least height above the floor at which a branch vent that leaves a stack joins a vent stack.
    fn relief_joint(&self, stack: &super::stacks::Stack) -> Got {
        let nodes = stack.pipes.iter().filter_map(|&pipe| self.pipe(pipe));
        let mut least = Got::Absent;
        for relief in nodes.flat_map(|pipe| self.vents_from(pipe.from)) {
            let joint = self.vent(relief).map_or(NONE, |relief| relief.joint);
            if joint != NONE {
                least = lesser(least, self.height_above_floor(joint));
            }
        }
        least
    }

    pub(super) fn interval_fact(&self, number: u32, fact: Fact) -> Got {
        let Some(interval) = self.interval(number) else {
            return Got::Absent;
        };
        match fact {
            // With a length or storey missing, what enters together and what apart cannot be told.
            Fact::IntervalLoad => match self.stack_itself(interval.stack).and_then(|stack| stack.gap) {
                Some(gap) => Got::Missing(gap),
                None => load(interval.load, interval.gap),
            },
            Fact::IntervalVentsTraps => {
                let below = self.pipe(interval.pipe).map(|pipe| pipe.from);
                below.map_or(Got::Absent, |node| count(self.wet_vents(node).through(node).0))
            }
            Fact::IntervalStackSize => self.size_of(interval.pipe),
            _ => Got::Absent,
        }
    }

    pub(super) fn test_fact(&self, number: u32, fact: Fact) -> Got {
        let Some(test) = self.network.tests().get(number as usize) else {
            return Got::Absent;
        };
        let here = Element::Test(number);
        match fact {
            Fact::TestWith => word(Some(test.medium.name())),
            Fact::TestHead => stated(test.head.map(Value::Length), "head", here),
            Fact::TestHeight => stated(test.height.map(Value::Length), "height", here),
            Fact::TestDuration => stated(test.duration.map(Value::Period), "duration", here),
            Fact::TestPlastic => {
                self.see(Seen::System, 0);
                truth(self.state.plastic)
            }
            _ => Got::Absent,
        }
    }

    pub(super) fn system_fact(&self, fact: Fact) -> Got {
        let end = crate::measure::index(self.network.disposal().index());
        let totals = self.totals_at(end);
        self.see(Seen::System, 0);
        match fact {
            Fact::SystemLoad => totals.map_or(Got::Absent, |totals| load(totals.load, totals.gap)),
            Fact::SystemWaterClosets => totals.map_or(Got::Absent, |totals| count(totals.water_closets)),
            Fact::SystemOpenVents => count(super::index(self.nodes(super::Class::Terminal).count())),
            Fact::SystemOpenVentsWithoutLoops => {
                let loops = self.all_loops();
                let open = self.nodes(super::Class::Terminal);
                count(super::index(
                    open.filter(|&node| !loops.is_past_foot(node)).count(),
                ))
            }
            Fact::SystemStacks => count(super::index(self.state.stacks.list.len())),
            Fact::SystemOpenStackVents => {
                let mains = (0..).zip(&self.state.pipes).filter(|(_, pipe)| {
                    matches!(pipe.kind, RunKind::StackVent | RunKind::VentStack)
                        && self.next(pipe.from).is_some()
                });
                let open = mains.filter(|&(number, _)| {
                    let vent = self.state.vents.of(number);
                    vent.is_some_and(|vent| self.is(vent.end, super::Class::Terminal))
                });
                count(super::index(open.count()))
            }
            Fact::SystemValves => count(super::index(self.nodes(super::Class::Valve).count())),
            Fact::SystemLargestVent => match self.state.unsized_vent {
                Some(_) => super::vents::largest_open(self),
                None => if_any(self.state.vents.largest_open.map(Value::Size)),
            },
            Fact::SystemVentDiameter => match self.state.unsized_vent {
                Some(pipe) => self.size_of(pipe),
                None => {
                    let diameter = i64::try_from(super::vents::open_area(self).isqrt()).unwrap_or(i64::MAX);
                    Got::Known(Value::Length(Length::from_nanometres(diameter)))
                }
            },
            Fact::SystemDrainSize => self.largest_size(self.state.building_drain.iter().copied()),
            Fact::SystemDrainSlope => {
                let level = |drain: &u32| self.pipe(*drain).is_some_and(|pipe| pipe.vertical != Some(true));
                let drains = self.state.building_drain.iter().copied().filter(level);
                let slopes = drains.map(|drain| {
                    let slope = self.slope(drain).map(Value::Slope);
                    stated(slope, "slope", Element::Pipe(drain))
                });
                slopes.fold(Got::Absent, lesser)
            }
            Fact::SystemJunctionCleanout | Fact::SystemJunctionAbove => {
                let junction = self.junction();
                let walked = match fact {
                    Fact::SystemJunctionAbove => junction.above,
                    _ => junction.nearest,
                };
                walked.map_or(Got::Absent, |walked| length(walked.distance(), "length"))
            }
            Fact::SystemTemperature => stated(
                self.network
                    .site()
                    .winter_design_temperature
                    .map(Value::Temperature),
                "winter_design_temperature",
                Element::System,
            ),
            Fact::SystemStoreys => match self.network.storeys().len() {
                0 => stated(None, "storeys", Element::System),
                storeys => count(super::index(storeys)),
            },
            Fact::SystemProbableFlow => self.system_flow(),
            Fact::SystemUse => stated(
                self.network
                    .site()
                    .building_use
                    .map(|building| Value::Word(building.name())),
                "use",
                Element::System,
            ),
            Fact::SystemKind => stated(
                self.network
                    .site()
                    .system_type
                    .map(|kind| Value::Word(kind.name())),
                "system_type",
                Element::System,
            ),
            Fact::SystemDwellings => stated(
                self.network
                    .site()
                    .dwelling_units
                    .map(|units| Value::Count(i64::from(units))),
                "dwelling_units",
                Element::System,
            ),
            Fact::SystemSump => truth(self.network.ends_in_sump()),
            Fact::SystemSumpVent => match self.vent_of(end) {
                None => Got::Absent,
                Some(vent) => {
                    let least = self.vent(vent).and_then(|vent| vent.least_size);
                    stated(
                        least.map(Value::Size),
                        "size of each pipe of its way",
                        Element::Pipe(vent),
                    )
                }
            },
            Fact::SystemSumpDrain => self.largest_size(self.inlets(end, Role::Drain)),
            Fact::SystemTests => count(super::index(self.network.tests().len())),
            _ => Got::Absent,
        }
    }
}
