//! The facts of trap arms, and of the ways in which a trap can be protected.

use crownweir_quantity::Length;
use crownweir_rulebook::{Fact, Size, Value};
use crownweir_vocabulary::{FittingPattern, Pattern, Role};

use super::facts::{
    Element, Gap, Got, NO_SHARP_TURN, angle, count, if_any, length, load, orientation, reckoned, stated,
    truth, word,
};
use super::ways::Extremes;
use super::{Measured, NONE, Seen};

impl Measured<'_> {
    pub(super) fn trap_arm_fact(&self, node: u32, fact: Fact) -> Got {
        let Some(supply) = self.state.air.supply(self, node) else {
            return Got::Absent;
        };
        match fact {
            Fact::TrapArmLength => {
                let arm = length(self.distance(node, supply.connection), "length");
                if !self.rules.definitions.trap_arm.from_outlet {
                    return arm;
                }
                self.with_outlet_pipe(node, arm)
            }
            Fact::TrapArmFromFlange => {
                let from = self.closet_flange(node, supply.connection).unwrap_or(node);
                length(self.distance(from, supply.connection), "length")
            }
            Fact::TrapArmFall => self.by_fall(self.fall(node, supply.connection)),
            Fact::TrapArmSteepest | Fact::TrapArmGentlest | Fact::TrapArmSize | Fact::TrapArmSmallest => {
                let Some(line) = self.state.ways.to_air(self, node) else {
                    return Got::Absent;
                };
                match fact {
                    Fact::TrapArmSteepest => self.slope_in(line, line.steepest),
                    Fact::TrapArmGentlest => self.slope_in(line, line.gentlest),
                    _ => self.size_in(line, line.smallest),
                }
            }
            Fact::TrapArmBends if self.rules.definitions.sharp_turn.is_none() => Got::Missing(NO_SHARP_TURN),
            Fact::TrapArmBends => match self.state.ways.bends(self, node, supply.arrival) {
                (bends, 0) => count(bends),
                _ => stated(None, "pattern of each fitting on its drain", Element::Node(node)),
            },
            Fact::TrapArmDrop => self.by_fall(self.state.ways.drop(self, node, supply.connection)),
            Fact::TrapArmTurn => angle(self.bends(node, supply.connection)),
            Fact::TrapArmHorizontalTurn => {
                let last = self.pipe(supply.arrival).map_or(node, |arrival| arrival.from);
                let turned = self.runs_ahead([node, last]).turned_between(node, last);
                turned.map_or(Got::Absent, |turned| turned.angle())
            }
            Fact::TrapArmOnwardSize => self.size_if_any(self.next(supply.connection)),
            Fact::TrapArmHorizontalLength => self.by_fall(self.horizontal_length(node, supply.connection)),
            Fact::TrapArmEndsAtDryVent => truth(supply.dry_vent == supply.connection),
            _ => Got::Absent,
        }
    }

    /// The closet flange on the part of a fixture's drain that carries it alone, above where it meets its air.
    pub(super) fn closet_flange(&self, fixture: u32, end: u32) -> Option<u32> {
        let mut node = fixture;
        while node != end {
            self.see(Seen::Downstream, node);
            let drain = self.next(node)?;
            if self.flow(drain)?.fixtures > 1 {
                return None;
            }
            node = self.pipe(drain)?.to;
            if self.pattern_at(node) == Some(FittingPattern::ClosetFlange) {
                return Some(node);
            }
        }
        None
    }

    pub(super) fn protection_fact(&self, node: u32, fact: Fact) -> Got {
        let Some(supply) = self.state.air.supply(self, node) else {
            return self.protection_without_vent(node, fact);
        };
        let brings = (supply.brings != NONE).then_some(supply.brings);
        let at_vent = self.state.air.vented(self, supply.dry_vent);
        // The wet vent as a whole, unless this fixture joins it below its last lawful connection.
        let depth = |node: u32| self.depth(node);
        let wet = self
            .state
            .air
            .end_of(self, supply.dry_vent)
            .filter(|&end| brings.is_some() && depth(end) < depth(supply.connection));
        let shared = self.totals_at(wet.unwrap_or(supply.connection));
        match fact {
            Fact::ProtectionPattern => match self.patterns(node).first() {
                Some(pattern) => word(Some(pattern.name())),
                None => Got::Missing(Gap::NotStated {
                    datum: "slope",
                    element: Element::Pipe(supply.brings),
                }),
            },
            Fact::ProtectionTurnsDown => match self.verticals(node, supply.connection) {
                (0, 0) => truth(false),
                (0, _) => self.open_between(node, supply.connection),
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
                Some(_) => {
                    let (vertical, unknown) = self.verticals(supply.dry_vent, supply.connection);
                    let pipes = depth(supply.dry_vent).saturating_sub(depth(supply.connection));
                    match unknown {
                        0 => truth(vertical == pipes),
                        // One lies level, whatever the others do.
                        _ if vertical.saturating_add(unknown) < pipes => truth(false),
                        _ => self.open_between(supply.dry_vent, supply.connection),
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
                .and_then(|pipe| Some((self.details(pipe).heaviest, self.flow(pipe)?.gap)))
                .map_or(Got::Absent, |(heaviest, gap)| load(heaviest, gap)),
            Fact::ProtectionWetLength => brings.map_or(Got::Absent, |_| {
                length(self.distance(supply.dry_vent, supply.connection), "length")
            }),
            Fact::ProtectionFixturesServed => self
                .totals_at(supply.connection)
                .map_or(Got::Absent, |totals| count(totals.fixtures)),
            Fact::ProtectionUpperSize => self.size_if_any(brings),
            Fact::ProtectionGroups => shared.map_or(Got::Absent, |totals| {
                count(u32::from(totals.groups(&self.rules.definitions.bathroom_group)))
            }),
            Fact::ProtectionOutsiders => shared.map_or(Got::Absent, |totals| count(totals.outsiders)),
            Fact::ProtectionVentFixture => match at_vent {
                Some(vented) if brings.is_some() => word(self.type_of(vented.a_fixture)),
                _ => Got::Absent,
            },
            Fact::ProtectionBy => self.protected_by(node),
            Fact::ProtectionJoins => self.lies(supply.arrival),
            Fact::ProtectionLevel => match brings {
                None => Got::Absent,
                Some(_) => self.stays_horizontal(supply.dry_vent, supply.connection),
            },
            Fact::ProtectionDrainLoad => self
                .flow(supply.arrival)
                .map_or(Got::Absent, |flow| load(flow.own_load, flow.gap)),
            Fact::ProtectionDrainSize => self.size_of(supply.arrival),
            Fact::ProtectionVentEnd => self
                .vent_of(supply.dry_vent)
                .map_or(Got::Absent, |vent| self.vent_fact(vent, Fact::VentEnds)),
            Fact::ProtectionClosetsOnVent => {
                self.see(Seen::Closets, supply.dry_vent);
                let closets = self.state.closets_on.get(supply.dry_vent as usize);
                count(closets.copied().unwrap_or(0))
            }
            Fact::ProtectionVentFixtures => match at_vent {
                Some(vented) if brings.is_some() => count(vented.traps),
                _ => Got::Absent,
            },
            _ => Got::Absent,
        }
    }

    /// What is to be told of a trap whose drain meets neither a dry vent nor a drain that brings air.
    fn protection_without_vent(&self, node: u32, fact: Fact) -> Got {
        match fact {
            Fact::ProtectionPattern => match self.open_combination(node) {
                Some(gap) => Got::Missing(gap),
                None => {
                    let first = self.patterns(node).first().copied();
                    word(Some(first.unwrap_or(Pattern::None).name()))
                }
            },
            Fact::ProtectionBy => self.protected_by(node),
            Fact::ProtectionSameStorey => {
                if let Some(gap) = self.open_combination(node) {
                    return Got::Missing(gap);
                }
                let part = self.state.combinations.part(self, node);
                let Some(part) = part.filter(|part| self.has_air(part, None) == Ok(true)) else {
                    return Got::Absent;
                };
                let (lowest, highest) = self.state.combinations.storeys_beside(self, &part);
                match self.fixture_facts(node).map(|fixture| fixture.storey) {
                    Some(NONE) => stated(None, "storey", Element::Node(node)),
                    Some(_) if highest == NONE => {
                        let datum = "storey of each vented fixture beside it";
                        stated(None, datum, Element::Node(node))
                    }
                    own => truth(own == Some(lowest) && lowest == highest),
                }
            }
            _ => Got::Absent,
        }
    }

    fn protected_by(&self, node: u32) -> Got {
        match self.chosen(node) {
            Some(super::Chosen::Open(gap)) => Got::Missing(gap),
            _ => word(Some(self.chosen_pattern(node).unwrap_or(Pattern::None).name())),
        }
    }

    /// The stack that a trap's water reaches where it meets its air, not before.
    pub(super) fn stack_of_trap(&self, node: u32) -> Option<u32> {
        let supply = self.state.air.supply(self, node)?;
        self.state.stacks.of_pipe(self, self.next(supply.connection)?)
    }

    /// The first drain between a node and one downstream of it of which it is not stated how it lies.
    fn open_between(&self, from: u32, to: u32) -> Got {
        let mut node = from;
        while let Some(drain) = self.next(node).filter(|_| node != to) {
            self.see(Seen::Downstream, node);
            let Some(pipe) = self.pipe(drain).filter(|pipe| pipe.vertical.is_some()) else {
                return stated(None, "slope", Element::Pipe(drain));
            };
            node = pipe.to;
        }
        stated(None, "slope", Element::Node(from))
    }

    /// How a pipe lies.
    pub(super) fn lies(&self, pipe: u32) -> Got {
        let vertical = self.pipe(pipe).and_then(|pipe| pipe.vertical);
        let lies = vertical.map(|vertical| Value::Word(orientation(vertical)));
        stated(lies, "slope", Element::Pipe(pipe))
    }

    /// A slope of a line of drains; absent where none of them is horizontal.
    fn slope_in(&self, line: &Extremes, drain: u32) -> Got {
        if line.slope_gap != NONE {
            return stated(None, "slope", Element::Pipe(line.slope_gap));
        }
        if_any(self.slope(drain).map(Value::Slope))
    }

    fn size_in(&self, line: &Extremes, size: Option<Size>) -> Got {
        if line.size_gap != NONE {
            return self.size_of(line.size_gap);
        }
        if_any(size.map(Value::Size))
    }

    /// Whether all drains between a node and one downstream of it are horizontal.
    fn stays_horizontal(&self, from: u32, to: u32) -> Got {
        match self.verticals(from, to) {
            (0, 0) => truth(true),
            (0, _) => self.open_between(from, to),
            _ => truth(false),
        }
    }

    pub(super) fn circuit_fact(&self, node: u32, fact: Fact) -> Got {
        let supply = self.state.air.supply(self, node);
        let circuit = supply.and_then(|supply| self.state.circuits.of(self, &supply));
        let Some(circuit) = circuit else {
            return Got::Absent;
        };
        let line = &circuit.line;
        let totals = self.totals_at(circuit.last);
        match fact {
            Fact::CircuitFixtures if circuit.open > 0 => self.lies(circuit.gap),
            Fact::CircuitFixtures => count(circuit.fixtures),
            Fact::CircuitTypes => count(circuit.types()),
            Fact::CircuitAbove => count(circuit.above),
            Fact::CircuitJoints => {
                let drains = self.inlets(circuit.foot, Role::Drain);
                count(super::index(
                    drains.filter(|&drain| drain != circuit.riser).count(),
                ))
            }
            Fact::CircuitLevel => self.stays_horizontal(circuit.vent, circuit.last),
            Fact::CircuitLevelBelow => self.stays_horizontal(circuit.foot, circuit.last),
            Fact::CircuitRiserFixtures => count(self.flow(circuit.riser).map_or(0, |riser| riser.fixtures)),
            Fact::CircuitRiserHeaviest => match self.flow(circuit.riser) {
                Some(riser) => load(self.details(circuit.riser).heaviest, riser.gap),
                None => load(0, NONE),
            },
            Fact::CircuitRiserPattern if circuit.riser != NONE => self.pattern_of(circuit.vent),
            Fact::CircuitRiserSize if circuit.riser != NONE => self.size_of(circuit.riser),
            Fact::CircuitSteepest => self.slope_in(line, line.steepest),
            Fact::CircuitGentlest => self.slope_in(line, line.gentlest),
            Fact::CircuitSmallest => self.size_in(line, line.smallest),
            Fact::CircuitLargest => self.size_in(line, line.largest),
            Fact::CircuitLoad => totals.map_or(Got::Absent, |totals| load(totals.load, totals.gap)),
            Fact::CircuitClosets => totals.map_or(Got::Absent, |totals| count(totals.water_closets)),
            Fact::CircuitStackFromAbove => truth(
                self.state
                    .ways
                    .stack_joint(self, circuit.last)
                    .is_some_and(|joint| self.takes_from_above(joint)),
            ),
            Fact::CircuitRelief => self
                .relief(circuit.last)
                .map_or(Got::Absent, |relief| load(relief.load, relief.gap)),
            Fact::CircuitReliefSize => {
                let relief = self.relief(circuit.last).map(|relief| relief.vent);
                self.size_if_any(relief.filter(|&vent| vent != NONE))
            }
            Fact::CircuitVentSize => self.largest_size(self.vents_from(circuit.vent)),
            Fact::CircuitSameStorey => self.same_storey_by_drop(circuit.last),
            Fact::CircuitStacks => count(self.details_at(circuit.last).stacks),
            Fact::CircuitTurn => {
                let end = self.relief(circuit.last).map_or(circuit.last, |relief| relief.at);
                self.runs_ahead([circuit.foot, end])
                    .turned(circuit.foot, end)
                    .angle()
            }
            Fact::CircuitSmallestArm | Fact::CircuitLargestArm => {
                let place = supply.and_then(|supply| self.state.circuits.place_of(self, &supply));
                let Some(arms) = place.and_then(|place| self.circuit_arms(place)) else {
                    return Got::Absent;
                };
                if arms.gap != NONE {
                    return self.size_of(arms.gap);
                }
                let size = match fact {
                    Fact::CircuitSmallestArm => arms.smallest,
                    _ => arms.largest,
                };
                if_any(size.map(Value::Size))
            }
            _ => Got::Absent,
        }
    }

    pub(super) fn combination_fact(&self, node: u32, fact: Fact) -> Got {
        let part = match self.state.combinations.seen(self, node) {
            Some(Ok(part)) => part,
            Some(Err(drain)) => return self.size_of(drain),
            None => return Got::Absent,
        };
        let line = self
            .state
            .combinations
            .line(self, &part)
            .copied()
            .unwrap_or(Extremes::NONE);
        match fact {
            Fact::CombinationArm => length(part.arm(self, node), "length"),
            Fact::CombinationDrop => length(part.drop, "length"),
            Fact::CombinationDropSlope => if_any(self.slope(part.steepest_drop).map(Value::Slope)),
            Fact::CombinationDropSize if part.drop_gap != NONE => self.size_of(part.drop_gap),
            Fact::CombinationDropSize => if_any(part.narrowest_drop.map(Value::Size)),
            Fact::CombinationVentSize | Fact::CombinationVentedSize | Fact::CombinationVentCleanouts => {
                let supply = self.state.air.supply(self, node);
                supply.map_or(Got::Absent, |supply| self.vent_standing(supply.dry_vent, fact))
            }
            Fact::CombinationSteepest => self.slope_in(&line, line.steepest),
            Fact::CombinationSmallest => self.size_in(&line, line.smallest),
            Fact::CombinationLoad => self
                .state
                .combinations
                .last(self, &part)
                .and_then(|last| self.flow(last))
                .map_or(Got::Absent, |flow| load(flow.own_load, flow.gap)),
            Fact::CombinationProtects => {
                let last = self.state.combinations.last(self, &part);
                last.map_or(Got::Absent, |last| {
                    self.drain_fact(last, Fact::DrainIsCombination)
                })
            }
            Fact::CombinationVented => {
                let supply = self.state.air.supply(self, node);
                match self.has_air(&part, supply.as_ref()) {
                    Ok(has_air) => truth(has_air),
                    Err(drain) => stated(None, "slope", Element::Pipe(drain)),
                }
            }
            _ => Got::Absent,
        }
    }

    /// What the dry vent of a combination drain is, which stands at a node.
    fn vent_standing(&self, node: u32, fact: Fact) -> Got {
        match fact {
            Fact::CombinationVentSize => self.largest_size(self.vents_from(node)),
            Fact::CombinationVentedSize => {
                self.largest_size(self.inlets(node, Role::Drain).chain(self.next(node)))
            }
            _ => {
                self.see(Seen::VentCleanouts, node);
                count(self.all_vent_cleanouts().get(node as usize).copied().unwrap_or(0))
            }
        }
    }

    pub(super) fn island_fact(&self, node: u32, fact: Fact) -> Got {
        let supply = self.state.air.supply(self, node);
        let Some(vent) = supply.map(|supply| supply.dry_vent) else {
            return Got::Absent;
        };
        let Some(foot) = self.all_loops().foot(vent) else {
            return Got::Absent;
        };
        let back = self.all_loops().way_back(foot);
        match fact {
            Fact::IslandTurn => self.turn_above_outlet(node, vent),
            Fact::IslandTop => self.top_above_rim(vent, foot),
            Fact::IslandVentSize => self.largest_size(self.inlets(foot, Role::Vent)),
            Fact::IslandReturnSize => self.size_if_any(self.next(foot)),
            Fact::IslandReturnJoins => back.map_or(Got::Absent, |back| self.lies(back.joined)),
            Fact::IslandReturnFitting => back.map_or(Got::Absent, |back| self.pattern_of(back.joint)),
            Fact::IslandReturnFixtures => back
                .and_then(|back| self.totals_at(back.joint))
                .map_or(Got::Absent, |totals| count(totals.fixtures)),
            Fact::IslandFootSlope => match self.all_loops().foot_vent(self, foot) {
                Ok(gentlest) => if_any(self.slope(gentlest).map(Value::Slope)),
                Err(pipe) => stated(None, "slope", Element::Pipe(pipe)),
            },
            Fact::IslandReturnArrives => back.map_or(Got::Absent, |back| self.lies(back.arrival)),
            Fact::IslandReturnBelow => truth(back.is_some_and(|back| {
                let next = |node| {
                    self.next(node)
                        .and_then(|pipe| self.pipe(pipe))
                        .map(|pipe| pipe.to)
                };
                back.joint != vent && self.state.downstream.meeting(next, vent, back.joint) == back.joint
            })),
            Fact::IslandCleanouts => count(self.all_loops().cleanouts(vent)),
            _ => Got::Absent,
        }
    }

    /// Height above a fixture's outlet at which its vent first turns from plumb.
    fn turn_above_outlet(&self, fixture: u32, vent: u32) -> Got {
        let turn = self.all_loops().turn(vent).unwrap_or(vent);
        if let Some(pipe) = self.turns_openly(turn, None) {
            return stated(None, "slope", Element::Pipe(pipe));
        }
        match (
            self.height_of(turn),
            self.height_of(fixture),
            self.trap_fact(fixture, Fact::TrapOutletDrop),
        ) {
            (
                Got::Known(Value::Length(turn)),
                Got::Known(Value::Length(weir)),
                Got::Known(Value::Length(drop)),
            ) => {
                let above = weir.checked_add(drop).and_then(|outlet| turn.checked_sub(outlet));
                reckoned(above.map(Value::Length))
            }
            (Got::Known(_), Got::Known(_), missing) | (Got::Known(_), missing, _) | (missing, _, _) => {
                missing
            }
        }
    }

    /// Height above the highest rim served that the vent from a foot reaches.
    fn top_above_rim(&self, vent: u32, foot: u32) -> Got {
        let Some(facts) = self.vent_of(vent).and_then(|vent| self.vent(vent)) else {
            return Got::Absent;
        };
        if facts.rim_gap != NONE {
            return self.rim_not_stated(facts.rim_gap);
        }
        match self.all_loops().top(foot) {
            Err(gap) => self.height_not_stated(gap),
            Ok(_) if facts.rim == i64::MIN => Got::Absent,
            Ok(top) => Got::Known(Value::Length(Length::from_nanometres(
                top.saturating_sub(facts.rim),
            ))),
        }
    }
}
