//! The value of every fact in the catalogue. A fact that is missing here does not compile.

use std::cmp::Ordering;

use crownweir_network::{NodeId, PipeId};
use crownweir_quantity::{Angle, Length, Load};
use crownweir_rulebook::{Fact, Family, Subject, Value};
use crownweir_vocabulary::Orientation;

use super::drains::by_size;
use super::{Distance, Measured, NONE, Seen};

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
    /// Where a pipe passes a framing member, by its place among the network's passages.
    Passage(u32),
    /// A test, by its place in the file.
    Test(u32),
    /// The whole network.
    System,
}

impl Element {
    /// The node in the graph that it is; none of what is no node.
    #[must_use]
    pub fn node(self) -> Option<NodeId> {
        match self {
            Self::Node(number) => Some(NodeId::new(number as usize)),
            _ => None,
        }
    }

    /// The pipe in the graph that it is; none of what is no pipe.
    #[must_use]
    pub fn pipe(self) -> Option<PipeId> {
        match self {
            Self::Pipe(number) => Some(PipeId::new(number as usize)),
            _ => None,
        }
    }
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
    /// A cell is to be filled from its source.
    Unfilled {
        /// The table's index in the rule set.
        table: u16,
        /// The row's index in the table.
        row: u16,
        /// The column's index in the table.
        column: u16,
    },
    /// The rule set does not say it.
    NotInRuleSet {
        /// What is missing.
        datum: &'static str,
    },
    /// A figure is too large to be reckoned with.
    Overflow,
}

impl Gap {
    /// Whether another tells of the same element that this is missing, and more.
    pub(crate) fn is_part_of(self, other: Self) -> bool {
        match (self, other) {
            (
                Self::NotStated { datum, element },
                Self::NotStated {
                    datum: more,
                    element: of,
                },
            ) => element == of && datum != more && more.split(" and ").any(|part| part == datum),
            _ => false,
        }
    }
}

/// The rule set does not say what a sharp turn is. It loads so as long as none of its rules asks.
pub(super) const NO_SHARP_TURN: Gap = Gap::NotInRuleSet {
    datum: "the definition of `sharp_turn`",
};

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

/// A value, or that there is no such thing.
pub(super) fn if_any(value: Option<Value>) -> Got {
    value.map_or(Got::Absent, Got::Known)
}

/// What was reckoned, or that it is too large to be reckoned with.
pub(super) fn reckoned(value: Option<Value>) -> Got {
    value.map_or(Got::Missing(Gap::Overflow), Got::Known)
}

/// The lesser of two values, neither of which is known where one is not; what is absent does not count.
pub(super) fn lesser(one: Got, other: Got) -> Got {
    match (one, other) {
        (Got::Known(first), Got::Known(second)) => {
            let is_second = second.compare(first) == Some(Ordering::Less);
            if is_second { other } else { one }
        }
        (Got::Absent, got) | (got, Got::Absent) => got,
        (Got::Missing(gap), _) | (_, Got::Missing(gap)) => Got::Missing(gap),
    }
}

/// How far a height lies above another.
pub(super) fn above(height: Got, other: Length) -> Got {
    match height {
        Got::Known(Value::Length(height)) => reckoned(height.checked_sub(other).map(Value::Length)),
        missing => missing,
    }
}

pub(super) fn word(word: Option<&'static str>) -> Got {
    if_any(word.map(Value::Word))
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

/// How many storeys lie from one to another, both counted; absent where there is none.
pub(super) fn storeys(ends: (u32, u32), gap: u32) -> Got {
    if gap != NONE {
        return stated(None, "storey", Element::Node(gap));
    }
    ends.1
        .checked_sub(ends.0)
        .map_or(Got::Absent, |between| count(between.saturating_add(1)))
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
    Got::Known(Value::Load(Load::from_thousandths(thousandths)))
}

/// An angle in tenths of a degree, or the fitting whose pattern is not stated.
pub(super) fn angle(tenths: Result<i64, u32>) -> Got {
    match tenths {
        Err(fitting) => stated(None, "pattern", Element::Node(fitting)),
        Ok(tenths) => {
            let microdegrees = tenths.checked_mul(100_000);
            reckoned(microdegrees.map(|angle| Value::Angle(Angle::from_microdegrees(angle))))
        }
    }
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
    /// own: a node, a pipe, a stack, an interval, a passage or a test, by its index.
    #[must_use]
    pub fn fact(&self, subject: Subject, element: u32, fact: Fact) -> Got {
        match fact.family() {
            Family::Fixture => self.fixture_fact(element, fact),
            Family::Trap => self.trap_fact(element, fact),
            Family::TrapArm => self.trap_arm_fact(element, fact),
            Family::Protection => self.protection_fact(element, fact),
            Family::Circuit => self.circuit_fact(element, fact),
            Family::Combination => self.combination_fact(element, fact),
            Family::Island => self.island_fact(element, fact),
            Family::Pipe if subject == Subject::Passage => {
                let pipe = self.passage(element).map(|passage| passage.pipe.index());
                pipe.map_or(Got::Absent, |pipe| self.pipe_fact(super::index(pipe), fact))
            }
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
                let stack = self.stack_seen_from(subject, element);
                stack.map_or(Got::Absent, |stack| self.stack_fact(stack, fact))
            }
            Family::Interval => self.interval_fact(element, fact),
            Family::Passage => self.passage_fact(element, fact),
            Family::Test => self.test_fact(element, fact),
            _ => self.system_fact(fact),
        }
    }

    /// The stack that a rule with `subject` sees from an element.
    pub(super) fn stack_seen_from(&self, subject: Subject, element: u32) -> Option<u32> {
        match subject {
            Subject::Drain => self.state.stacks.of_pipe(self, element),
            Subject::Vent => self.stack_of_vent(element),
            Subject::Trap | Subject::TrapArm => self.stack_of_trap(element),
            Subject::BranchInterval => {
                let interval = self.state.stacks.intervals.get(element as usize);
                interval.map(|interval| interval.stack)
            }
            _ => Some(element),
        }
    }

    pub(super) fn size_of(&self, pipe: u32) -> Got {
        let size = self.pipe(pipe).and_then(|pipe| pipe.size).map(Value::Size);
        stated(size, "size", Element::Pipe(pipe))
    }

    /// The size of a pipe; absent where there is no such pipe.
    pub(super) fn size_if_any(&self, pipe: Option<u32>) -> Got {
        pipe.map_or(Got::Absent, |pipe| self.size_of(pipe))
    }

    /// The largest size among some pipes; not known where one of them states none, for that may be the largest.
    pub(super) fn largest_size(&self, pipes: impl Iterator<Item = u32>) -> Got {
        self.size_if_any(pipes.max_by_key(|&pipe| by_size(self, pipe)))
    }

    /// The smallest size among some pipes; not known where one of them states none, for that may be the smallest.
    pub(super) fn smallest_size(&self, pipes: impl Iterator<Item = u32>) -> Got {
        let size = |pipe: u32| self.pipe(pipe).and_then(|pipe| pipe.size);
        self.size_if_any(pipes.min_by_key(|&pipe| size(pipe)))
    }

    /// The pattern of the fitting at a node, which is not known unless it is stated.
    pub(super) fn pattern_of(&self, node: u32) -> Got {
        let pattern = self.pattern_at(node).map(|pattern| Value::Word(pattern.name()));
        stated(pattern, "pattern", Element::Node(node))
    }

    /// A length for which the fall of each pipe has to be known, or what is missing for that of the first whose is not.
    pub(super) fn by_fall(&self, distance: Distance) -> Got {
        let lacking = distance.gap().and_then(|pipe| self.pipe(pipe));
        let knows = lacking.map(|pipe| (pipe.length.gap().is_none(), pipe.slope != NONE));
        let datum = match knows {
            Some((true, false)) => "slope",
            Some((false, true)) => "length",
            _ => "length and slope",
        };
        length(distance, datum)
    }

    /// The height of a node above the datum; of a fixture, that of its trap weir.
    pub(super) fn height_of(&self, node: u32) -> Got {
        let height = self.node(node).and_then(|node| node.elevation);
        height.map_or_else(
            || self.height_not_stated(node),
            |height| Got::Known(Value::Length(height)),
        )
    }

    /// What is missing where it is not known how high a node is.
    pub(super) fn height_not_stated(&self, node: u32) -> Got {
        let datum = match (self.fixture(node), self.floor_of(node)) {
            (Some(_), Some(_)) => "weir_height",
            (Some(_), None) => "storey and weir_height",
            (None, Some(_)) => "height",
            (None, None) => "storey and height",
        };
        stated(None, datum, Element::Node(node))
    }

    /// What is missing where it is not known how high a fixture's rim is.
    pub(crate) fn rim_not_stated(&self, fixture: u32) -> Got {
        let rim = self.fixture(fixture).and_then(|fixture| fixture.rim_height);
        let datum = match (rim, self.floor_of(fixture)) {
            (Some(_), _) => "storey",
            (None, Some(_)) => "rim_height",
            (None, None) => "storey and rim_height",
        };
        stated(None, datum, Element::Node(fixture))
    }

    /// The height above the datum of the floor that a node's own height is measured from.
    pub(super) fn floor_of(&self, node: u32) -> Option<Length> {
        let storey = self.node(node)?.storey?;
        self.network.storeys().get(storey as usize)?.elevation
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
            Fact::FixtureLoad => match self.state.loads.of(self, node).known() {
                Some(thousandths) => load(thousandths, NONE),
                None => super::loads::of_fixture(self, node),
            },
            Fact::FixtureFlush => stated(
                fixture.flush.map(|flush| Value::Word(flush.name())),
                "flush",
                here,
            ),
            Fact::FixtureUrinal => stated(
                fixture.urinal.map(|urinal| Value::Word(urinal.name())),
                "urinal",
                here,
            ),
            Fact::FixtureHeads => stated(
                fixture.heads.map(|heads| Value::Count(i64::from(heads))),
                "heads",
                here,
            ),
            Fact::FixtureCompartments => count(fixture.compartments),
            Fact::FixtureAcidWaste => truth(fixture.acid_waste),
            Fact::FixtureDrainLength => length(self.distance(node, self.own_drain_end(node)), "length"),
            Fact::FixtureDrainFall => self.by_fall(self.fall(node, self.own_drain_end(node))),
            Fact::FixtureAlike => self.alike_on_branch(node),
            Fact::FixturePumped => truth(fixture.pumped),
            Fact::FixtureStandpipeHeight => stated(
                fixture.standpipe_height.map(Value::Length),
                "standpipe_height",
                here,
            ),
            Fact::FixtureGroupComplete => match self.state.loads.complete(self, node) {
                Some(complete) => truth(complete),
                None if fixture.group.is_some() => stated(None, "storey of its bathroom group", here),
                None => Got::Absent,
            },
            Fact::FixtureReceivingSize => match self.receiving_size(node) {
                Ok(size) => if_any(size.map(Value::Size)),
                Err(pipe) => self.size_of(pipe),
            },
            _ => Got::Absent,
        }
    }

    fn alike_on_branch(&self, node: u32) -> Got {
        let Some((fixture, ordinal)) = self.fixture_facts(node).zip(self.ordinal(node)) else {
            return Got::Absent;
        };
        self.see(Seen::Alike, node);
        let alike = self.all_alike().get(ordinal).copied().unwrap_or(0);
        // One by itself is one on whatever storey.
        if fixture.storey == NONE && alike > 1 {
            return stated(None, "storey", Element::Node(node));
        }
        count(alike)
    }

    pub(super) fn trap_fact(&self, node: u32, fact: Fact) -> Got {
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
            Fact::TrapOutletPipe => self.outlet_pipe(node),
            Fact::TrapFurtherTraps => count(self.traps_below(node)),
            Fact::TrapBranchLength | Fact::TrapBranchDrop | Fact::TrapBranchTurn | Fact::TrapBranchVented => {
                self.branch_fact(node, fact)
            }
            Fact::TrapHeight => self.height_above_floor(node),
            Fact::TrapDrainSize => self.size_if_any(self.next(node)),
            Fact::TrapReceiver => {
                let own = self.next(node);
                own.map_or(Got::Absent, |pipe| self.drain_fact(pipe, Fact::DrainReceiver))
            }
            _ => Got::Absent,
        }
    }

    /// A length with the pipe from a fixture's outlet to its trap added.
    pub(super) fn with_outlet_pipe(&self, node: u32, further: Got) -> Got {
        [Fact::TrapOutletDrop, Fact::TrapOutletOffset]
            .into_iter()
            .fold(further, |sum, part| match (sum, self.trap_fact(node, part)) {
                (Got::Known(sum), Got::Known(part)) => reckoned(sum.plus(part)),
                (Got::Known(_), part) => part,
                (sum, _) => sum,
            })
    }

    fn outlet_pipe(&self, node: u32) -> Got {
        self.with_outlet_pipe(node, Got::Known(Value::Length(Length::from_nanometres(0))))
    }

    /// Height of a node above the floor of its storey; of a fixture, that of its trap weir.
    pub(super) fn height_above_floor(&self, node: u32) -> Got {
        match (self.height_of(node), self.floor_of(node)) {
            (height, Some(floor)) => above(height, floor),
            (Got::Known(_), None) => stated(None, "storey", Element::Node(node)),
            (missing, None) => missing,
        }
    }

    /// Whether a node lies above the floor of the lowest storey, by its height, else by its storey.
    pub(super) fn above_lowest_floor(&self, node: u32) -> Got {
        let lowest = self.network.storeys().first().and_then(|storey| storey.elevation);
        match (self.height_of(node), lowest) {
            (Got::Known(Value::Length(height)), Some(lowest)) => truth(height > lowest),
            (height, _) => match (self.node(node).and_then(|node| node.storey), height) {
                (Some(1..), _) => truth(true),
                (_, Got::Known(_)) => stated(None, "storey", Element::Node(node)),
                (_, missing) => missing,
            },
        }
    }

    pub(super) fn type_of(&self, node: u32) -> Option<&'static str> {
        self.fixture_facts(node).map(|facts| facts.fixture_type.name())
    }
}
