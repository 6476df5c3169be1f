//! The value of every fact in the catalogue. A fact that is missing here does not compile.

use crownweir_network::{NearestOpening, NodeKind};
use crownweir_quantity::{Angle, FixtureUnits, Length};
use crownweir_rulebook::{Fact, Family, Size, Subject, Value};
use crownweir_vocabulary::{
    Direction, FittingPattern, FixtureType, Inlet, Orientation, Pattern, Role, RunKind,
};

use super::{Distance, Measured, NONE};

/// Something that a finding can be about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Element {
    /// A node, by its index in the graph.
    Node(u32),
    /// A pipe, by its index in the graph.
    Pipe(u32),
    /// A stack, by its place among the measured stacks.
    Stack(u32),
    /// A branch interval, by its place among the measured intervals.
    Interval(u32),
    /// A test, by its place in the file.
    Test(u32),
    /// The whole network.
    System,
}

/// What keeps a fact or limit from being known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Gap {
    /// The network does not state it.
    NotStated {
        /// What is missing.
        datum: &'static str,
        /// Of what it is missing.
        element: Element,
    },
    /// A table has no row for what is looked up.
    NoRow {
        /// The table's index in the rule set.
        table: u16,
    },
    /// A cell is to be filled from the adopted book.
    Unfilled {
        /// The table's index in the rule set.
        table: u16,
        /// The row's index in the table.
        row: u16,
        /// The column's index in the table.
        column: u16,
    },
    /// A figure is too large to be reckoned with.
    Overflow,
}

/// A fact's value on an element.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Got {
    /// The value.
    Known(Value),
    /// There is no such thing here.
    Absent,
    /// It is not known, for the reason given.
    Missing(Gap),
}

/// A stated value, or that it is not stated.
fn stated(value: Option<Value>, datum: &'static str, element: Element) -> Got {
    match value {
        Some(value) => Got::Known(value),
        None => Got::Missing(Gap::NotStated { datum, element }),
    }
}

fn word(word: Option<&'static str>) -> Got {
    word.map_or(Got::Absent, |word| Got::Known(Value::Word(word)))
}

fn count(number: u32) -> Got {
    Got::Known(Value::Count(i64::from(number)))
}

fn truth(truth: bool) -> Got {
    Got::Known(Value::Truth(truth))
}

fn length(distance: Distance, datum: &'static str) -> Got {
    match distance.gap() {
        None => Got::Known(Value::Length(Length::from_nanometres(distance.nanometres()))),
        Some(pipe) => Got::Missing(Gap::NotStated {
            datum,
            element: Element::Pipe(pipe),
        }),
    }
}

/// A load in thousandths, unless a fixture's load is not known.
fn load(thousandths: i64, gap: u32) -> Got {
    if gap != NONE {
        let element = Element::Node(gap);
        return Got::Missing(Gap::NotStated {
            datum: "load",
            element,
        });
    }
    Got::Known(Value::Load(FixtureUnits::from_thousandths(thousandths)))
}

fn orientation(vertical: bool) -> &'static str {
    if vertical {
        Orientation::Vertical.name()
    } else {
        Orientation::Horizontal.name()
    }
}

impl Measured<'_> {
    /// The value of `fact` for a rule with `subject`, on the element numbered `element` among the subject's
    /// own: a node, a pipe, a stack, an interval or a test, by its index.
    #[must_use]
    pub fn fact(&self, subject: Subject, element: u32, fact: Fact) -> Got {
        match fact.family() {
            Family::Fixture => self.fixture_fact(element, fact),
            Family::Trap => self.trap_fact(element, fact),
            Family::TrapArm => self.trap_arm_fact(element, fact),
            Family::Protection => self.protection_fact(element, fact),
            Family::Pipe => self.pipe_fact(element, fact),
            Family::Drain => self.drain_fact(element, fact),
            Family::Vent => self.vent_fact(element, fact),
            Family::Turn => self.turn_fact(element, fact),
            Family::Fitting => {
                let node = match subject {
                    Subject::Turn => self.pipe(element).map(|pipe| pipe.to),
                    _ => Some(element),
                };
                node.map_or(Got::Absent, |node| self.fitting_fact(node, fact))
            }
            Family::Cleanout | Family::Terminal | Family::Valve => self.end_fact(element, fact),
            Family::Stack => {
                let stack = match subject {
                    Subject::Drain => self.stacks.of_pipe(self, element),
                    Subject::BranchInterval => self
                        .stacks
                        .intervals
                        .get(element as usize)
                        .map(|interval| interval.stack),
                    _ => Some(element),
                };
                stack.map_or(Got::Absent, |stack| self.stack_fact(stack, fact))
            }
            Family::Interval => self.interval_fact(element, fact),
            Family::Test => self.test_fact(element, fact),
            _ => self.system_fact(fact),
        }
    }

    fn size_of(&self, pipe: u32) -> Got {
        let size = self.pipe(pipe).and_then(|pipe| pipe.size).map(Value::Size);
        stated(size, "size", Element::Pipe(pipe))
    }

    fn ladder_size(&self, name: Option<crownweir_quantity::NominalSize>) -> Option<Value> {
        name.and_then(|name| self.rules.ladder.find(name))
            .map(Value::Size)
    }

    fn fixture_fact(&self, node: u32, fact: Fact) -> Got {
        // Most rules ask for the type first, and it is at hand.
        if fact == Fact::FixtureKind {
            return word(self.fixture_facts(node).map(|facts| facts.fixture_type.name()));
        }
        let Some(fixture) = self.fixture(node) else {
            return Got::Absent;
        };
        let here = Element::Node(node);
        match fact {
            Fact::FixtureOccupancy => stated(
                fixture.occupancy.map(|occupancy| Value::Word(occupancy.name())),
                "occupancy",
                here,
            ),
            Fact::FixtureFlushVolume => stated(fixture.flush_volume.map(Value::Volume), "flush_volume", here),
            Fact::FixtureFlow => stated(fixture.flow.map(Value::Flow), "flow", here),
            Fact::FixtureLoad => match self.loads.of(self, node) {
                Some(thousandths) => load(thousandths, NONE),
                None => super::loads::of_fixture(self, node),
            },
            Fact::FixturePumped => truth(fixture.pumped),
            Fact::FixtureStandpipeHeight => stated(
                fixture.standpipe_height.map(Value::Length),
                "standpipe_height",
                here,
            ),
            Fact::FixtureGroupComplete => self.loads.complete(node).map_or(Got::Absent, truth),
            Fact::FixtureReceivingSize => match self.receiving_size(node) {
                Ok(size) => size.map_or(Got::Absent, |size| Got::Known(Value::Size(size))),
                Err(pipe) => self.size_of(pipe),
            },
            _ => Got::Absent,
        }
    }

    fn trap_fact(&self, node: u32, fact: Fact) -> Got {
        let Some(fixture) = self.fixture(node) else {
            return Got::Absent;
        };
        let here = Element::Node(node);
        let trap = &fixture.trap;
        match fact {
            Fact::TrapSize => stated(self.ladder_size(trap.size), "trap size", here),
            Fact::TrapSeal => stated(trap.seal.map(Value::Length), "trap seal", here),
            Fact::TrapShape => stated(trap.kind.map(|kind| Value::Word(kind.name())), "trap kind", here),
            Fact::TrapOutletDrop => stated(trap.outlet_drop.map(Value::Length), "trap outlet_drop", here),
            Fact::TrapOutletOffset => {
                stated(trap.outlet_offset.map(Value::Length), "trap outlet_offset", here)
            }
            Fact::TrapFurtherTraps => count(self.downstream.traps.get(node as usize).copied().unwrap_or(0)),
            Fact::TrapDrainSize => self.next(node).map_or(Got::Absent, |pipe| self.size_of(pipe)),
            _ => Got::Absent,
        }
    }

    fn trap_arm_fact(&self, node: u32, fact: Fact) -> Got {
        let Some(supply) = self.air.supply(self, node) else {
            return Got::Absent;
        };
        match fact {
            Fact::TrapArmLength => {
                let arm = length(self.distance(node, supply.connection), "length");
                if !self.rules.definitions.trap_arm.from_outlet {
                    return arm;
                }
                [Fact::TrapOutletDrop, Fact::TrapOutletOffset]
                    .into_iter()
                    .fold(arm, |sum, part| match (sum, self.trap_fact(node, part)) {
                        (Got::Known(sum), Got::Known(part)) => {
                            sum.plus(part).map_or(Got::Missing(Gap::Overflow), Got::Known)
                        }
                        (Got::Known(_), part) => part,
                        (sum, _) => sum,
                    })
            }
            Fact::TrapArmFall => length(self.fall(node, supply.connection), "length or slope"),
            Fact::TrapArmSize => self.next(node).map_or(Got::Absent, |pipe| self.size_of(pipe)),
            Fact::TrapArmEndsAtDryVent => truth(supply.dry_vent == supply.connection),
            _ => Got::Absent,
        }
    }

    fn protection_fact(&self, node: u32, fact: Fact) -> Got {
        let Some(supply) = self.air.supply(self, node) else {
            return match fact {
                Fact::ProtectionPattern => word(Some(Pattern::None.name())),
                _ => Got::Absent,
            };
        };
        let brings = (supply.brings != NONE).then_some(supply.brings);
        let at_vent = self.totals.get(supply.dry_vent as usize);
        // The wet vent as a whole, unless this fixture joins it below its last lawful connection.
        let depth = |node: u32| self.downstream.depth.get(node as usize).copied().unwrap_or(0);
        let wet = self
            .air
            .end_of(supply.dry_vent)
            .filter(|&end| brings.is_some() && depth(end) < depth(supply.connection));
        let shared = self.totals.get(wet.unwrap_or(supply.connection) as usize);
        match fact {
            Fact::ProtectionPattern => match self.air.patterns(self, &supply) {
                [Some(pattern), _] => word(Some(pattern.name())),
                _ => Got::Missing(Gap::NotStated {
                    datum: "slope",
                    element: Element::Pipe(supply.brings),
                }),
            },
            Fact::ProtectionTurnsDown => match self.verticals(node, supply.connection) {
                (0, 0) => truth(false),
                (0, _) => Got::Missing(Gap::NotStated {
                    datum: "slope",
                    element: self.next(node).map_or(Element::Node(node), Element::Pipe),
                }),
                _ => truth(true),
            },
            Fact::ProtectionFixturesAtVent => at_vent.map_or(Got::Absent, |totals| count(totals.fixtures)),
            Fact::ProtectionFixturesOnDrain => self
                .flow(supply.arrival)
                .map_or(Got::Absent, |flow| count(flow.fixtures)),
            Fact::ProtectionSameStorey => match shared {
                Some(totals) if totals.storey_gap != NONE && totals.fixtures > 1 => {
                    Got::Missing(Gap::NotStated {
                        datum: "storey",
                        element: Element::Node(totals.storey_gap),
                    })
                }
                Some(totals) => truth(totals.fixtures < 2 || totals.storeys.0 == totals.storeys.1),
                None => Got::Absent,
            },
            Fact::ProtectionUpperFixture => match brings.and_then(|pipe| self.flow(pipe)) {
                Some(flow) if flow.fixtures == 1 => word(self.type_of(flow.a_fixture)),
                _ => Got::Absent,
            },
            Fact::ProtectionUpperLoad => brings
                .and_then(|pipe| self.flow(pipe))
                .map_or(Got::Absent, |flow| load(flow.own_load, flow.gap)),
            Fact::ProtectionUpperSize => brings.map_or(Got::Absent, |pipe| self.size_of(pipe)),
            Fact::ProtectionGroups => shared.map_or(Got::Absent, |totals| count(u32::from(totals.groups()))),
            Fact::ProtectionOutsiders => shared.map_or(Got::Absent, |totals| count(totals.outsiders)),
            Fact::ProtectionVentFixture => match at_vent {
                Some(totals) if totals.fixtures == 1 && brings.is_some() => {
                    word(self.type_of(totals.a_fixture))
                }
                _ => Got::Absent,
            },
            Fact::ProtectionVentFixtures => match at_vent {
                Some(totals) if brings.is_some() => count(totals.fixtures),
                _ => Got::Absent,
            },
            _ => Got::Absent,
        }
    }

    fn type_of(&self, node: u32) -> Option<&'static str> {
        self.fixture(node).map(|fixture| fixture.fixture_type.name())
    }

    fn pipe_fact(&self, pipe: u32, fact: Fact) -> Got {
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

    fn drain_fact(&self, pipe: u32, fact: Fact) -> Got {
        let (Some(facts), Some(flow)) = (self.pipe(pipe), self.flow(pipe)) else {
            return Got::Absent;
        };
        match fact {
            Fact::DrainLoad => load(flow.load, flow.gap),
            Fact::DrainWetLoad => load(flow.own_load, flow.gap),
            Fact::DrainFixtures => count(flow.fixtures),
            Fact::DrainWaterClosets => count(flow.water_closets),
            Fact::DrainReceiver => word(
                self.downstream
                    .receiver
                    .get(pipe as usize)
                    .map(|receiver| receiver.name()),
            ),
            Fact::DrainLargestInlet => self
                .largest_inlet(pipe)
                .map_or(Got::Absent, |inlet| self.size_of(inlet)),
            Fact::DrainInletFitting => word(self.pattern_at(facts.from).map(FittingPattern::name)),
            Fact::DrainIsWetVent => truth(self.air.is_wet_vent(self, pipe)),
            Fact::DrainCleanoutDistance => {
                let above = self
                    .cleanouts
                    .run
                    .get(facts.from as usize)
                    .copied()
                    .unwrap_or(Distance::ZERO);
                length(above.plus(facts.length), "length")
            }
            Fact::DrainBaseDistance => self
                .base_distance(pipe)
                .map_or(Got::Absent, |(distance, _)| length(distance, "length")),
            Fact::DrainBaseStackSize => match self.base_distance(pipe) {
                Some((_, stack)) => self.stack_fact(stack, Fact::StackLargestSize),
                None => Got::Absent,
            },
            _ => Got::Absent,
        }
    }

    fn vent_fact(&self, pipe: u32, fact: Fact) -> Got {
        let (Some(own), Some(facts)) = (self.pipe(pipe), self.vents.of(pipe)) else {
            return Got::Absent;
        };
        match fact {
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
            Fact::VentLengthToAir => self
                .vent_length_to_air(pipe)
                .map_or(Got::Absent, |distance| length(distance, "length")),
            Fact::VentRiseAboveRim => self.rise_above_rim(pipe, false),
            Fact::VentJointAboveRim => self.rise_above_rim(pipe, true),
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
            Fact::VentDry => truth(self.next(own.from).is_some()),
            Fact::VentStackBaseDistance => {
                let below = own.kind == RunKind::VentStack && self.next(own.from).is_some();
                self.base_above(own.from)
                    .filter(|_| below)
                    .map_or(Got::Absent, |(distance, _)| length(distance, "length"))
            }
            Fact::VentStackSize if facts.stack != NONE => {
                self.stack_fact(facts.stack, Fact::StackLargestSize)
            }
            Fact::VentStackLoad if facts.stack != NONE => self.stack_fact(facts.stack, Fact::StackLoad),
            _ => Got::Absent,
        }
    }

    /// Height of a vent's lower end, or of its joint with a main vent, above the highest rim that it serves.
    fn rise_above_rim(&self, pipe: u32, joint: bool) -> Got {
        let (Some(own), Some(facts)) = (self.pipe(pipe), self.vents.of(pipe)) else {
            return Got::Absent;
        };
        let is_main = |pipe: &super::PipeFacts| matches!(pipe.kind, RunKind::StackVent | RunKind::VentStack);
        let onward = self.vent_of(own.to).and_then(|next| self.pipe(next));
        if joint && (is_main(own) || !onward.is_some_and(is_main)) {
            return Got::Absent;
        }
        if facts.rim_gap != NONE {
            let element = Element::Node(facts.rim_gap);
            return stated(None, "rim_height and storey", element);
        }
        if facts.rim == i64::MIN {
            return Got::Absent;
        }
        let height = |node: u32| match self.node(node).and_then(|node| node.elevation) {
            Some(height) => Ok(height),
            None => Err(stated(None, "height", Element::Node(node))),
        };
        let lower = if joint {
            height(own.to)
        } else {
            height(own.from).and_then(|from| Ok(from.min(height(own.to)?)))
        };
        match lower {
            Ok(lower) => lower
                .checked_sub(Length::from_nanometres(facts.rim))
                .map_or(Got::Missing(Gap::Overflow), |rise| {
                    Got::Known(Value::Length(rise))
                }),
            Err(missing) => missing,
        }
    }

    fn turn_fact(&self, pipe: u32, fact: Fact) -> Got {
        let Some(facts) = self.pipe(pipe) else {
            return Got::Absent;
        };
        let Some(onward) = self.next(facts.to) else {
            return Got::Absent;
        };
        let node = Element::Node(facts.to);
        let pattern = self.pattern_at(facts.to);
        match fact {
            Fact::TurnPattern => stated(
                pattern.map(|pattern| Value::Word(pattern.name())),
                "pattern",
                node,
            ),
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
            Fact::TurnInlet => word(Some(facts.enters.name())),
            Fact::TurnSize => self.size_of(onward),
            Fact::TurnFixtures => self.flow(pipe).map_or(Got::Absent, |flow| count(flow.fixtures)),
            Fact::TurnInTrapArm => truth(self.is_in_trap_arm(pipe)),
            Fact::TurnCleanoutDistance => match self
                .cleanouts
                .rod
                .get(facts.to as usize)
                .and_then(|reach| reach.get())
            {
                Some(distance) => length(distance, "length"),
                _ => Got::Absent,
            },
            _ => Got::Absent,
        }
    }

    /// Whether a drain lies between a trap and its vent, as the drain of one fixture.
    fn is_in_trap_arm(&self, pipe: u32) -> bool {
        let (Some(facts), Some(flow)) = (self.pipe(pipe), self.flow(pipe)) else {
            return false;
        };
        let depth = |node: u32| self.downstream.depth.get(node as usize).copied().unwrap_or(0);
        flow.fixtures == 1
            && self
                .air
                .supply(self, flow.a_fixture)
                .is_some_and(|supply| depth(supply.connection) <= depth(facts.to))
    }

    fn fitting_fact(&self, node: u32, fact: Fact) -> Got {
        // The fixtures whose own drains enter by a branch.
        let opposed = || {
            self.inlets(node, Role::Drain)
                .filter(|&inlet| self.pipe(inlet).is_some_and(|pipe| pipe.enters == Inlet::Branch))
                .filter_map(|inlet| self.flow(inlet))
                .filter(|flow| flow.fixtures == 1)
                .map(|flow| flow.a_fixture)
        };
        let is_closet = |&fixture: &u32| {
            self.fixture(fixture)
                .is_some_and(|fixture| fixture.fixture_type == FixtureType::WaterCloset)
        };
        match fact {
            Fact::FittingShape => stated(
                self.pattern_at(node).map(|pattern| Value::Word(pattern.name())),
                "pattern",
                Element::Node(node),
            ),
            Fact::FittingOpposedWaterClosets => Got::Known(Value::Count(
                i64::try_from(opposed().filter(is_closet).count()).unwrap_or(i64::MAX),
            )),
            Fact::FittingOpposedPumped => {
                let pumped = opposed().filter(|&fixture| self.fixture(fixture).is_some_and(|one| one.pumped));
                Got::Known(Value::Count(i64::try_from(pumped.count()).unwrap_or(i64::MAX)))
            }
            Fact::FittingClosetRun => opposed()
                .filter(is_closet)
                .map(|fixture| self.distance(fixture, node))
                .reduce(|one, other| if one.is_known() { one.shorter(other) } else { one })
                .map_or(Got::Absent, |distance| length(distance, "length")),
            Fact::FittingRunKind => word(
                self.next(node)
                    .and_then(|pipe| self.pipe(pipe))
                    .map(|pipe| pipe.kind.name()),
            ),
            Fact::FittingRunSize => self.next(node).map_or(Got::Absent, |pipe| self.size_of(pipe)),
            _ => Got::Absent,
        }
    }

    fn end_fact(&self, node: u32, fact: Fact) -> Got {
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

    fn terminal_fact(&self, node: u32, terminal: &crownweir_network::Terminal, fact: Fact) -> Got {
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
                    .max_by_key(|&vent| self.pipe(vent).and_then(|vent| vent.size));
                largest.map_or(Got::Absent, |vent| self.size_of(vent))
            }
            _ => Got::Absent,
        }
    }

    fn stack_fact(&self, number: u32, fact: Fact) -> Got {
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
            Fact::StackWaterClosets => foot.map_or(Got::Absent, |flow| count(flow.water_closets)),
            _ => Got::Absent,
        }
    }

    fn interval_fact(&self, number: u32, fact: Fact) -> Got {
        let Some(interval) = self.stacks.intervals.get(number as usize) else {
            return Got::Absent;
        };
        match fact {
            Fact::IntervalLoad => load(interval.load, interval.gap),
            Fact::IntervalStackSize => self.size_of(interval.pipe),
            _ => Got::Absent,
        }
    }

    fn test_fact(&self, number: u32, fact: Fact) -> Got {
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

    fn system_fact(&self, fact: Fact) -> Got {
        let end = crate::measure::index(self.network.disposal().index());
        let totals = self.totals.get(end as usize);
        match fact {
            Fact::SystemLoad => totals.map_or(Got::Absent, |totals| load(totals.load, totals.gap)),
            Fact::SystemWaterClosets => totals.map_or(Got::Absent, |totals| count(totals.water_closets)),
            Fact::SystemOpenVents => count(super::index(self.nodes(super::Class::Terminal).count())),
            Fact::SystemValves => count(super::index(self.nodes(super::Class::Valve).count())),
            Fact::SystemLargestVent => {
                let size = self.vents.largest_open.map(Value::Size);
                size.map_or(Got::Absent, Got::Known)
            }
            Fact::SystemDrainSize => {
                let size: Option<Size> = self
                    .pipes
                    .iter()
                    .filter(|pipe| pipe.kind == RunKind::BuildingDrain)
                    .filter_map(|pipe| pipe.size)
                    .max();
                size.map_or(Got::Absent, |size| Got::Known(Value::Size(size)))
            }
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
            Fact::SystemTests => count(super::index(self.network.tests().len())),
            _ => Got::Absent,
        }
    }
}
