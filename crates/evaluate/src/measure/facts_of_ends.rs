//! The facts of cleanouts, terminals and valves, of stacks, tests and the whole network.

use crownweir_network::{NearestOpening, NodeKind};
use crownweir_quantity::Length;
use crownweir_rulebook::{Fact, Size, Value};
use crownweir_vocabulary::{Role, RunKind};

use super::facts::{Element, Got, count, length, load, stated, truth, word};
use super::{Measured, NONE};

impl Measured<'_> {
    pub(super) fn end_fact(&self, node: u32, fact: Fact) -> Got {
        let here = Element::Node(node);
        match self.node(node).map(|node| &node.kind) {
            Some(NodeKind::Cleanout(cleanout)) => match fact {
                Fact::CleanoutSize => stated(self.ladder_size(cleanout.size), "size", here),
                Fact::CleanoutPipeSize => self.next(node).map_or(Got::Absent, |pipe| self.size_of(pipe)),
                Fact::CleanoutClearance => stated(cleanout.clearance.map(Value::Length), "clearance", here),
                Fact::CleanoutAccessible => stated(cleanout.accessible.map(Value::Truth), "accessible", here),
                _ => Got::Absent,
            },
            Some(NodeKind::Valve(valve)) => match fact {
                Fact::ValveShape => stated(valve.kind.map(|kind| Value::Word(kind.name())), "kind", here),
                Fact::ValveHeightAboveDrain => stated(
                    valve.height_above_drain.map(Value::Length),
                    "height_above_drain",
                    here,
                ),
                Fact::ValveHeightAboveRim => stated(
                    valve.height_above_rim.map(Value::Length),
                    "height_above_rim",
                    here,
                ),
                Fact::ValveAccessible => stated(valve.accessible.map(Value::Truth), "accessible", here),
                _ => Got::Absent,
            },
            Some(NodeKind::Terminal(terminal)) => self.terminal_fact(node, terminal, fact),
            _ => Got::Absent,
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
                terminal.through.map(|through| Value::Word(through.name())),
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
            Fact::TerminalVentSize => {
                let largest = self
                    .inlets(node, Role::Vent)
                    .max_by_key(|&vent| super::drains::by_size(self, vent));
                largest.map_or(Got::Absent, |vent| self.size_of(vent))
            }
            _ => Got::Absent,
        }
    }

    pub(super) fn stack_fact(&self, number: u32, fact: Fact) -> Got {
        let Some(stack) = self.stacks.list.get(number as usize) else {
            return Got::Absent;
        };
        let foot = stack.pipes.last().and_then(|&pipe| self.flow(pipe));
        let here = Element::Stack(number);
        match fact {
            Fact::StackLoad => foot.map_or(Got::Absent, |flow| load(flow.load, flow.gap)),
            Fact::StackIntervals if stack.gap != NONE => stated(None, "length", Element::Pipe(stack.gap)),
            Fact::StackIntervals => count(stack.intervals),
            Fact::StackLargestSize => stated(stack.largest.map(Value::Size), "size", here),
            Fact::StackSmallestSize => stated(stack.smallest.map(Value::Size), "size", here),
            Fact::StackHasStackVent => truth(stack.has_stack_vent),
            Fact::StackHasVentStack => truth(stack.has_vent_stack),
            Fact::StackStoreys => match foot.map(super::drains::Totals::storeys_spanned) {
                Some(Ok(storeys)) => count(storeys),
                Some(Err(fixture)) => stated(None, "storey", Element::Node(fixture)),
                None => Got::Absent,
            },
            Fact::StackWaterClosets => foot.map_or(Got::Absent, |flow| count(flow.water_closets)),
            _ => Got::Absent,
        }
    }

    pub(super) fn interval_fact(&self, number: u32, fact: Fact) -> Got {
        let Some(interval) = self.stacks.intervals.get(number as usize) else {
            return Got::Absent;
        };
        // With a length missing, what enters together and what apart cannot be told.
        let gap = self
            .stacks
            .list
            .get(interval.stack as usize)
            .map_or(NONE, |stack| stack.gap);
        match fact {
            Fact::IntervalLoad if gap != NONE => stated(None, "length", Element::Pipe(gap)),
            Fact::IntervalLoad => load(interval.load, interval.gap),
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
            Fact::TestDuration => stated(test.duration.map(Value::Period), "duration", here),
            Fact::TestPlastic => truth(self.plastic),
            _ => Got::Absent,
        }
    }

    /// The first of some pipes whose size is not stated: with it missing, neither is the largest known.
    fn unsized_pipe(&self, wanted: fn(&super::PipeFacts) -> bool) -> Option<u32> {
        let pipes = (0..).zip(&self.pipes);
        pipes
            .filter(|(_, pipe)| wanted(pipe) && pipe.size.is_none())
            .map(|(number, _)| number)
            .next()
    }

    pub(super) fn system_fact(&self, fact: Fact) -> Got {
        let end = crate::measure::index(self.network.disposal().index());
        let totals = self.totals.get(end as usize);
        match fact {
            Fact::SystemLoad => totals.map_or(Got::Absent, |totals| load(totals.load, totals.gap)),
            Fact::SystemWaterClosets => totals.map_or(Got::Absent, |totals| count(totals.water_closets)),
            Fact::SystemOpenVents => count(super::index(self.nodes(super::Class::Terminal).count())),
            Fact::SystemValves => count(super::index(self.nodes(super::Class::Valve).count())),
            Fact::SystemLargestVent => match self.unsized_pipe(|pipe| pipe.kind.role() == Role::Vent) {
                Some(pipe) => self.size_of(pipe),
                None => self
                    .vents
                    .largest_open
                    .map_or(Got::Absent, |size| Got::Known(Value::Size(size))),
            },
            Fact::SystemVentDiameter => match self.unsized_pipe(|pipe| pipe.kind.role() == Role::Vent) {
                Some(pipe) => self.size_of(pipe),
                None => {
                    let diameter = i64::try_from(self.vents.open_area.isqrt()).unwrap_or(i64::MAX);
                    Got::Known(Value::Length(Length::from_nanometres(diameter)))
                }
            },
            Fact::SystemDrainSize => match self.unsized_pipe(|pipe| pipe.kind == RunKind::BuildingDrain) {
                Some(pipe) => self.size_of(pipe),
                None => {
                    let drains = self
                        .pipes
                        .iter()
                        .filter(|pipe| pipe.kind == RunKind::BuildingDrain);
                    let size: Option<Size> = drains.filter_map(|pipe| pipe.size).max();
                    size.map_or(Got::Absent, |size| Got::Known(Value::Size(size)))
                }
            },
            Fact::SystemDrainSlope => {
                let drains = (0..)
                    .zip(&self.pipes)
                    .filter(|(_, pipe)| pipe.kind == RunKind::BuildingDrain && pipe.vertical != Some(true));
                let mut least: Got = Got::Absent;
                for (number, _) in drains {
                    let slope = self.slope(number).map(Value::Slope);
                    let slope = stated(slope, "slope", Element::Pipe(number));
                    least = match (least, slope) {
                        (Got::Known(one), Got::Known(other)) => {
                            let less = other.compare(one) == Some(std::cmp::Ordering::Less);
                            Got::Known(if less { other } else { one })
                        }
                        (Got::Absent, other) => other,
                        (Got::Known(_), missing) => missing,
                        (missing, _) => missing,
                    };
                }
                least
            }
            Fact::SystemJunctionCleanout => self
                .cleanouts
                .junction
                .map_or(Got::Absent, |distance| length(distance, "length")),
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
            Fact::SystemDwellings => stated(
                self.network
                    .site()
                    .dwelling_units
                    .map(|units| Value::Count(i64::from(units))),
                "dwelling_units",
                Element::System,
            ),
            Fact::SystemTests => count(super::index(self.network.tests().len())),
            _ => Got::Absent,
        }
    }
}
