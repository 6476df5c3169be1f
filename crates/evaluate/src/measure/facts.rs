//! The value of every fact in the catalogue. A fact that is missing here does not compile.

use crownweir_quantity::{Angle, FixtureUnits, Length};
use crownweir_rulebook::{Fact, Family, Subject, Value};
use crownweir_vocabulary::{Orientation, Pattern};

use super::runs::Turned;
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
pub(super) fn stated(value: Option<Value>, datum: &'static str, element: Element) -> Got {
    match value {
        Some(value) => Got::Known(value),
        None => Got::Missing(Gap::NotStated { datum, element }),
    }
}

pub(super) fn word(word: Option<&'static str>) -> Got {
    word.map_or(Got::Absent, |word| Got::Known(Value::Word(word)))
}

pub(super) fn count(number: u32) -> Got {
    Got::Known(Value::Count(i64::from(number)))
}

pub(super) fn truth(truth: bool) -> Got {
    Got::Known(Value::Truth(truth))
}

pub(super) fn length(distance: Distance, datum: &'static str) -> Got {
    match distance.gap() {
        None => Got::Known(Value::Length(Length::from_nanometres(distance.nanometres()))),
        Some(pipe) => Got::Missing(Gap::NotStated {
            datum,
            element: Element::Pipe(pipe),
        }),
    }
}

/// A load in thousandths, unless a fixture's load is not known.
pub(super) fn load(thousandths: i64, gap: u32) -> Got {
    if gap != NONE {
        let element = Element::Node(gap);
        return Got::Missing(Gap::NotStated {
            datum: "load",
            element,
        });
    }
    Got::Known(Value::Load(FixtureUnits::from_thousandths(thousandths)))
}

/// A sum of angles, unless a fitting's pattern is not stated.
pub(super) fn angle(turned: Turned) -> Got {
    if turned.gap != NONE {
        return stated(None, "pattern", Element::Node(turned.gap));
    }
    Got::Known(Value::Angle(Angle::from_microdegrees(
        turned.tenths.saturating_mul(100_000),
    )))
}

pub(super) fn orientation(vertical: bool) -> &'static str {
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

    pub(super) fn size_of(&self, pipe: u32) -> Got {
        let size = self.pipe(pipe).and_then(|pipe| pipe.size).map(Value::Size);
        stated(size, "size", Element::Pipe(pipe))
    }

    pub(super) fn ladder_size(&self, name: Option<crownweir_quantity::NominalSize>) -> Option<Value> {
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
            Fact::FixtureGroupComplete => match self.loads.complete(node) {
                Some(complete) => truth(complete),
                None if fixture.group.is_some() => stated(None, "storey of its bathroom group", here),
                None => Got::Absent,
            },
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
            Fact::TrapHeight => self.height_above_floor(node),
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
            Fact::TrapArmTurned => {
                let last = self.pipe(supply.arrival).map_or(node, |arrival| arrival.from);
                self.runs.turned_between(node, last).map_or(Got::Absent, angle)
            }
            Fact::TrapArmOnwardSize => self
                .next(supply.connection)
                .map_or(Got::Absent, |pipe| self.size_of(pipe)),
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
        let at_vent = self.air.vented(supply.dry_vent);
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
            Fact::ProtectionFixturesAtVent => at_vent.map_or(Got::Absent, |vented| count(vented.traps)),
            Fact::ProtectionFixturesOnDrain => self
                .flow(supply.arrival)
                .map_or(Got::Absent, |flow| count(flow.fixtures)),
            Fact::ProtectionSameStorey => {
                let (fixtures, storeys, gap) = match (brings, at_vent, shared) {
                    (None, Some(vented), _) => (vented.traps, vented.storeys, vented.storey_gap),
                    (_, _, Some(totals)) => (totals.fixtures, totals.storeys, totals.storey_gap),
                    _ => return Got::Absent,
                };
                if fixtures > 1 && gap != NONE {
                    return stated(None, "storey", Element::Node(gap));
                }
                truth(fixtures < 2 || storeys.0 == storeys.1)
            }
            Fact::ProtectionStraightDown => match brings {
                None => Got::Absent,
                Some(pipe) => {
                    let (vertical, unknown) = self.verticals(supply.dry_vent, supply.connection);
                    let pipes = depth(supply.dry_vent).saturating_sub(depth(supply.connection));
                    match unknown {
                        0 => truth(vertical == pipes),
                        _ => stated(None, "slope", Element::Pipe(pipe)),
                    }
                }
            },
            Fact::ProtectionUpperClosets => brings
                .and_then(|pipe| self.flow(pipe))
                .map_or(Got::Absent, |flow| count(flow.water_closets)),
            Fact::ProtectionUpperFixture => match brings.and_then(|pipe| self.flow(pipe)) {
                Some(flow) if flow.fixtures == 1 => word(self.type_of(flow.a_fixture)),
                _ => Got::Absent,
            },
            Fact::ProtectionUpperLoad => brings
                .and_then(|pipe| self.flow(pipe))
                .map_or(Got::Absent, |flow| load(flow.own_load, flow.gap)),
            Fact::ProtectionUpperHeaviest => brings
                .and_then(|pipe| self.flow(pipe))
                .map_or(Got::Absent, |flow| load(flow.heaviest, flow.gap)),
            Fact::ProtectionWetLength => brings.map_or(Got::Absent, |_| {
                length(self.distance(supply.dry_vent, supply.connection), "length")
            }),
            Fact::ProtectionFixturesServed => self
                .totals
                .get(supply.connection as usize)
                .map_or(Got::Absent, |totals| count(totals.fixtures)),
            Fact::ProtectionUpperSize => brings.map_or(Got::Absent, |pipe| self.size_of(pipe)),
            Fact::ProtectionGroups => shared.map_or(Got::Absent, |totals| {
                count(u32::from(totals.groups(&self.rules.definitions.bathroom_group)))
            }),
            Fact::ProtectionOutsiders => shared.map_or(Got::Absent, |totals| count(totals.outsiders)),
            Fact::ProtectionVentFixture => match at_vent {
                Some(vented) if vented.traps == 1 && brings.is_some() => word(self.type_of(vented.a_fixture)),
                _ => Got::Absent,
            },
            Fact::ProtectionVentFixtures => match at_vent {
                Some(vented) if brings.is_some() => count(vented.traps),
                _ => Got::Absent,
            },
            _ => Got::Absent,
        }
    }

    /// Height of a fixture's trap weir above the floor of its storey.
    fn height_above_floor(&self, node: u32) -> Got {
        let Some(fixture) = self.node(node) else {
            return Got::Absent;
        };
        let floor = fixture
            .storey
            .and_then(|storey| self.network.storeys().get(storey as usize))
            .and_then(|storey| storey.elevation);
        let height = floor
            .zip(fixture.elevation)
            .map(|(floor, weir)| weir.checked_sub(floor));
        match height {
            Some(None) => Got::Missing(Gap::Overflow),
            height => stated(
                height.flatten().map(Value::Length),
                "weir_height",
                Element::Node(node),
            ),
        }
    }

    fn type_of(&self, node: u32) -> Option<&'static str> {
        self.fixture(node).map(|fixture| fixture.fixture_type.name())
    }
}
