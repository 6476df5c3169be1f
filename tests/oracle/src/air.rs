//! Where each trap's air comes from, and what is to be told of the way there.
//!
//! A trap has one connection: the first node downstream where a dry vent stands, or where its drain joins one that
//! brings air from a dry vent upstream, through any drain but the building drain.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use crownweir_network::{NodeId, PipeId};
use crownweir_quantity::{Angle, Length, Slope};
use crownweir_rulebook::{Fact, Value};
use crownweir_vocabulary::{FittingPattern, FixtureType, Inlet, Pattern, RunKind};

use crate::{Got, Oracle, count, kept, known, some, truth};

/// How a trap gets its air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Supply {
    /// Where its drain meets the vent, or the drain that brings air.
    pub(crate) connection: NodeId,
    /// By which drain it arrives there.
    pub(crate) arrival: PipeId,
    /// Where the dry vent stands.
    pub(crate) vent: NodeId,
    /// The drain that brings the air, where that is not the dry vent itself.
    pub(crate) brings: Option<PipeId>,
}

impl Oracle<'_> {
    /// Where the air comes from that a drain brings along.
    pub(crate) fn brought_by(&self, pipe: PipeId) -> Option<NodeId> {
        match self.kind(pipe) {
            RunKind::BuildingDrain | RunKind::BuildingSewer => None,
            _ => self.air_at(self.from(pipe)),
        }
    }

    /// Where the air comes from that the drain leading on from a node can bring.
    pub(crate) fn air_at(&self, node: NodeId) -> Option<NodeId> {
        kept(&self.kept.air, node, || self.find_air(node))
    }

    fn find_air(&self, node: NodeId) -> Option<NodeId> {
        let above = self.bringing(node).first().and_then(|&pipe| self.brought_by(pipe));
        let has_vent = !self.vents_from(node).is_empty();
        let is_stack = |pipe: PipeId| self.kind(pipe) == RunKind::Stack;
        let falls = self
            .next(node)
            .is_some_and(|next| self.vertical(next).unwrap_or(is_stack(next)));
        // A further vent relieves a horizontal drain and changes nothing below; atop a vertical one the air is its own.
        if has_vent && (falls || above.is_none()) {
            Some(node)
        } else {
            above
        }
    }

    /// The drains that bring air to a node: the run before a branch, then the nearer vent, then the lighter load; the
    /// name between twins.
    pub(crate) fn bringing(&self, node: NodeId) -> Vec<PipeId> {
        let inlets = self.inlets(node).into_iter();
        let mut bringing: Vec<_> = inlets.filter_map(|pipe| Some((pipe, self.brought_by(pipe)?))).collect();
        let far = |got: Got| match got {
            Got::Known(Value::Length(length)) => (false, length),
            _ => (true, Length::from_nanometres(0)),
        };
        let load = |pipe: PipeId| match self.sum_of_loads(&self.fixtures_above(self.from(pipe))) {
            Got::Known(Value::Load(load)) => load.thousandths(),
            _ => 0,
        };
        let key = |&(pipe, vent): &(PipeId, NodeId)| {
            (
                self.enters(pipe) == Inlet::Branch,
                far(self.length(&self.way(vent, node))),
                self.fixtures_above(self.from(pipe)).len(),
                load(pipe),
                far(self.length(&[pipe])),
                self.size(pipe),
                self.pipe(pipe).name.clone(),
            )
        };
        bringing.sort_by(|one, other| key(one).partial_cmp(&key(other)).unwrap_or(Ordering::Equal));
        bringing.into_iter().map(|(pipe, _)| pipe).collect()
    }

    pub(crate) fn supply(&self, fixture: NodeId) -> Option<Supply> {
        kept(&self.kept.supplies, fixture, || self.find_supply(fixture))
    }

    fn find_supply(&self, fixture: NodeId) -> Option<Supply> {
        if !self.has_trap(fixture) {
            return None;
        }
        for (index, arrival) in self.downstream(fixture).into_iter().enumerate() {
            // What the water has come to that is no branch takes no air from below.
            if index > 0 && self.kind(arrival) != RunKind::Branch {
                return None;
            }
            let connection = self.to(arrival);
            if !self.vents_from(connection).is_empty() {
                return Some(Supply {
                    connection,
                    arrival,
                    vent: connection,
                    brings: None,
                });
            }
            if let Some(brings) = self.bringing(connection).into_iter().find(|&pipe| pipe != arrival) {
                return Some(Supply {
                    connection,
                    arrival,
                    vent: self.brought_by(brings)?,
                    brings: Some(brings),
                });
            }
        }
        None
    }

    pub(crate) fn traps(&self) -> impl Iterator<Item = NodeId> + '_ {
        self.network.graph().node_indices().filter(|&node| self.has_trap(node))
    }

    /// The fixtures whose own connection is the dry vent at a node.
    pub(crate) fn at_vent(&self, vent: NodeId) -> Vec<NodeId> {
        let own = |node: &NodeId| {
            self.supply(*node)
                .is_some_and(|supply| supply.connection == vent && supply.brings.is_none())
        };
        self.traps().filter(own).collect()
    }

    /// Whether a drain lies between a trap and its vent and carries that fixture alone.
    pub(crate) fn in_trap_arm(&self, pipe: PipeId) -> bool {
        let above = self.fixtures_above(self.from(pipe));
        above.len() == 1
            && above.iter().any(|&node| {
                self.has_trap(node)
                    && self
                        .supply(node)
                        .is_some_and(|supply| self.way(node, supply.connection).contains(&pipe))
            })
    }

    /// The plain shapes of a supply; none where a slope is missing that would tell.
    pub(crate) fn plain_shapes(&self, supply: &Supply) -> Vec<Pattern> {
        let Some(brings) = supply.brings else {
            return vec![if self.at_vent(supply.connection).len() < 2 {
                Pattern::Individual
            } else {
                Pattern::Common
            }];
        };
        let alone = self.fixtures_above(self.from(brings)).len() == 1;
        match (self.vertical(brings), alone) {
            (None, _) => Vec::new(),
            (Some(false), _) => vec![Pattern::WetHorizontal],
            (Some(true), true) => vec![Pattern::CommonLevels, Pattern::WetVertical],
            (Some(true), false) => vec![Pattern::WetVertical],
        }
    }

    pub(crate) fn slopes(&self, pipes: &[PipeId], steepest: bool) -> Got {
        let level = pipes.iter().filter(|&&pipe| self.vertical(pipe) != Some(true));
        let Some(slopes) = level.map(|&pipe| self.pipe(pipe).slope).collect::<Option<Vec<Slope>>>() else {
            return Got::Missing;
        };
        let slopes = slopes.into_iter();
        some(if steepest { slopes.max() } else { slopes.min() }, Value::Slope)
    }

    /// The sum of the lengths of those that are vertical, or of the others.
    /// How far vertical pipes come down.
    pub(crate) fn drop(&self, pipes: &[PipeId]) -> Got {
        if pipes.iter().any(|&pipe| self.vertical(pipe).is_none()) {
            return Got::Missing;
        }
        let standing: Vec<_> = pipes
            .iter()
            .copied()
            .filter(|&pipe| self.vertical(pipe) == Some(true))
            .collect();
        self.fall(&standing)
    }

    /// Length of horizontal pipes, and of vertical ones the third side of the triangle of length and fall.
    pub(crate) fn horizontal_length(&self, pipes: &[PipeId]) -> Got {
        let mut sum = 0;
        for &pipe in pipes {
            let own = self.pipe(pipe);
            let Some(vertical) = self.vertical(pipe) else {
                return Got::Missing;
            };
            if own.slope.is_some_and(Slope::is_vertical) {
                continue;
            }
            let Some(length) = own.length else {
                return Got::Missing;
            };
            let aside = match (vertical, own.slope.and_then(|slope| slope.fall_over(length))) {
                (false, _) => length.nanometres(),
                (true, None) => return Got::Missing,
                (true, Some(fall)) => {
                    let (length, fall) = (i128::from(length.nanometres()), i128::from(fall.nanometres()));
                    (length * length - fall * fall).isqrt() as i64
                }
            };
            sum += aside;
        }
        Got::Known(Value::Length(Length::from_nanometres(sum)))
    }

    pub(crate) fn fall(&self, pipes: &[PipeId]) -> Got {
        let mut sum = Length::from_nanometres(0);
        for &pipe in pipes {
            let own = self.pipe(pipe);
            let fall = own
                .slope
                .zip(own.length)
                .and_then(|(slope, length)| slope.fall_over(length));
            let Some(fall) = fall.and_then(|fall| sum.checked_add(fall)) else {
                return Got::Missing;
            };
            sum = fall;
        }
        Got::Known(Value::Length(sum))
    }

    /// The least that a length along a trap's drain may come to: the pipes whose lengths are stated.
    pub(crate) fn least_way(&self, node: NodeId, fact: Fact) -> Option<Length> {
        let arm = || Some(self.way(node, self.supply(node)?.connection));
        let (mut pipes, mut outlet) = (Vec::new(), Vec::new());
        match fact {
            Fact::TrapArmLength => {
                pipes = arm()?;
                if self.rules.definitions.trap_arm.from_outlet {
                    outlet = vec![Fact::TrapOutletDrop, Fact::TrapOutletOffset];
                }
            }
            Fact::TrapArmFromFlange => pipes = self.way_from_flange(node, &arm()?),
            Fact::TrapArmHorizontalLength => {
                pipes.extend(arm()?.into_iter().filter(|&pipe| self.vertical(pipe) == Some(false)));
            }
            Fact::ProtectionWetLength => {
                let supply = self.supply(node).filter(|supply| supply.brings.is_some())?;
                pipes = self.way(supply.vent, supply.connection);
            }
            Fact::CombinationArm => pipes = self.part(node)?.arm,
            Fact::CombinationDrop => pipes = self.part(node)?.drop,
            _ => return None,
        }
        let outlet = outlet.into_iter().map(|part| match self.trap_fact(node, part) {
            Some(Got::Known(Value::Length(part))) => Some(part),
            _ => None,
        });
        let known = pipes.iter().map(|&pipe| self.pipe(pipe).length).chain(outlet).flatten();
        known
            .reduce(|one, other| one.checked_add(other).unwrap_or(one))
            .or(Some(Length::from_nanometres(0)))
    }

    /// The part of a trap arm below the closet flange on the fixture's own drain; all of it where there is none.
    fn way_from_flange(&self, fixture: NodeId, arm: &[PipeId]) -> Vec<PipeId> {
        let is_own = |pipe: PipeId| *self.fixtures_above(self.from(pipe)) == [fixture];
        let is_flange = |pipe: PipeId| self.pattern(self.to(pipe)) == Some(FittingPattern::ClosetFlange);
        let flange = arm.iter().position(|&pipe| is_own(pipe) && is_flange(pipe));
        arm[flange.map_or(0, |at| at + 1)..].to_vec()
    }

    pub(crate) fn trap_arm_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        let known_fact = matches!(
            fact,
            Fact::TrapArmLength
                | Fact::TrapArmFromFlange
                | Fact::TrapArmFall
                | Fact::TrapArmSize
                | Fact::TrapArmSmallest
                | Fact::TrapArmEndsAtDryVent
                | Fact::TrapArmSteepest
                | Fact::TrapArmGentlest
                | Fact::TrapArmDrop
                | Fact::TrapArmHorizontalLength
                | Fact::TrapArmOnwardSize
                | Fact::TrapArmTurn
                | Fact::TrapArmBends
                | Fact::TrapArmHorizontalTurn
        );
        if !known_fact {
            return None;
        }
        let Some(supply) = self.supply(node) else {
            return Some(Got::Absent);
        };
        let arm = self.way(node, supply.connection);
        Some(match fact {
            Fact::TrapArmLength => match (self.length(&arm), self.rules.definitions.trap_arm.from_outlet) {
                (Got::Known(Value::Length(length)), true) => match self.trap_fact(node, Fact::TrapOutletPipe) {
                    Some(Got::Known(Value::Length(outlet))) => known(length.checked_add(outlet), Value::Length),
                    _ => Got::Missing,
                },
                (length, _) => length,
            },
            Fact::TrapArmFromFlange => self.length(&self.way_from_flange(node, &arm)),
            Fact::TrapArmFall => self.fall(&arm),
            Fact::TrapArmSize | Fact::TrapArmSmallest => self.extreme(&arm, false),
            Fact::TrapArmEndsAtDryVent => truth(supply.brings.is_none()),
            Fact::TrapArmSteepest => self.slopes(&arm, true),
            Fact::TrapArmGentlest => self.slopes(&arm, false),
            Fact::TrapArmDrop => self.drop(&arm),
            Fact::TrapArmHorizontalLength => self.horizontal_length(&arm),
            Fact::TrapArmBends if self.rules.definitions.sharp_turn.is_none() => Got::Missing,
            Fact::TrapArmBends => {
                let bends = arm.iter().filter(|&&pipe| self.to(pipe) != supply.connection);
                match bends.map(|&pipe| self.bends(pipe)).collect::<Option<Vec<_>>>() {
                    Some(bends) => count(bends.into_iter().filter(|&bends| bends).count()),
                    None => Got::Missing,
                }
            }
            Fact::TrapArmHorizontalTurn => {
                let inner: Vec<_> = arm
                    .iter()
                    .copied()
                    .filter(|&pipe| self.to(pipe) != supply.connection)
                    .collect();
                if inner.iter().any(|&pipe| self.is_cleanout(self.to(pipe))) {
                    return Some(Got::Absent);
                }
                self.turns(&inner)
            }
            Fact::TrapArmOnwardSize => self
                .next(supply.connection)
                .map_or(Got::Absent, |next| self.size_of(next)),
            _ => {
                // The fitting at its end is not counted; the branch of a wye or tee neither.
                let inner = arm.iter().filter(|&&pipe| self.to(pipe) != supply.connection);
                let mut tenths = 0;
                for node in inner.map(|&pipe| self.to(pipe)).filter(|&node| self.is_fitting(node)) {
                    let Some(pattern) = self.pattern(node) else {
                        return Some(Got::Missing);
                    };
                    tenths += if pattern.has_branch() {
                        0
                    } else {
                        pattern.turn_in_tenths()
                    };
                }
                Got::Known(Value::Angle(Angle::from_microdegrees(tenths * 100_000)))
            }
        })
    }

    /// Whether all of these lie that way.
    pub(crate) fn all_lie(&self, pipes: &[PipeId], vertical: bool) -> Got {
        let lies: Vec<_> = pipes.iter().map(|&pipe| self.vertical(pipe)).collect();
        if lies.contains(&Some(!vertical)) {
            truth(false)
        } else if lies.contains(&None) {
            Got::Missing
        } else {
            truth(true)
        }
    }

    pub(crate) fn protection_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        let known_fact = matches!(
            fact,
            Fact::ProtectionTurnsDown
                | Fact::ProtectionFixturesAtVent
                | Fact::ProtectionFixturesOnDrain
                | Fact::ProtectionUpperFixture
                | Fact::ProtectionStraightDown
                | Fact::ProtectionUpperClosets
                | Fact::ProtectionUpperLoad
                | Fact::ProtectionUpperSize
                | Fact::ProtectionUpperHeaviest
                | Fact::ProtectionWetLength
                | Fact::ProtectionFixturesServed
                | Fact::ProtectionVentFixtures
                | Fact::ProtectionVentFixture
                | Fact::ProtectionClosetsOnVent
                | Fact::ProtectionJoins
                | Fact::ProtectionLevel
                | Fact::ProtectionDrainLoad
                | Fact::ProtectionDrainSize
                | Fact::ProtectionVentEnd
        );
        if !known_fact {
            return None;
        }
        let Some(supply) = self.supply(node) else {
            return Some(Got::Absent);
        };
        let arm = self.way(node, supply.connection);
        let on_drain = self.fixtures_above(self.from(supply.arrival));
        let above = supply
            .brings
            .map(|brings| (brings, self.fixtures_above(self.from(brings))));
        let wet = self.way(supply.vent, supply.connection);
        let closets = |nodes: &[NodeId]| {
            nodes
                .iter()
                .filter(|&&one| self.is(one, FixtureType::WaterCloset))
                .count()
        };
        Some(match (fact, above) {
            (Fact::ProtectionTurnsDown, _) => match self.all_lie(&arm, false) {
                Got::Known(Value::Truth(level)) => truth(!level),
                other => other,
            },
            (Fact::ProtectionVentEnd, _) => {
                let first = self.vents_from(supply.vent).first().copied();
                return first.map_or(Some(Got::Absent), |vent| self.vent_fact(vent, Fact::VentEnds));
            }
            (Fact::ProtectionFixturesAtVent, _) => count(self.at_vent(supply.vent).len()),
            (Fact::ProtectionFixturesOnDrain, _) => count(on_drain.len()),
            (Fact::ProtectionFixturesServed, _) => count(self.fixtures_above(supply.connection).len()),
            (Fact::ProtectionJoins, _) => self.orientation(supply.arrival),
            (Fact::ProtectionDrainLoad, _) => self.sum_of_loads(&on_drain),
            (Fact::ProtectionDrainSize, _) => self.size_of(supply.arrival),
            (Fact::ProtectionClosetsOnVent, _) => {
                let through = |node: &NodeId| {
                    self.supply(*node)
                        .is_some_and(|own| own.vent == supply.vent && own.brings.is_some())
                };
                count(closets(&self.traps().filter(through).collect::<Vec<_>>()))
            }
            (_, None) => Got::Absent,
            (Fact::ProtectionUpperFixture, Some((_, above))) => match above[..] {
                [one] => some(self.fixture(one), |one| Value::Word(one.fixture_type.name())),
                _ => Got::Absent,
            },
            (Fact::ProtectionStraightDown, _) => self.all_lie(&wet, true),
            (Fact::ProtectionLevel, _) => self.all_lie(&wet, false),
            (Fact::ProtectionUpperClosets, Some((_, above))) => count(closets(&above)),
            (Fact::ProtectionUpperLoad, Some((_, above))) => self.sum_of_loads(&above),
            (Fact::ProtectionUpperSize, Some((brings, _))) => self.size_of(brings),
            (Fact::ProtectionUpperHeaviest, Some((_, above))) => self.heaviest(&above),
            (Fact::ProtectionWetLength, _) => self.length(&wet),
            (Fact::ProtectionVentFixtures, _) => count(self.at_vent(supply.vent).len()),
            _ => {
                let types: BTreeSet<_> = self
                    .at_vent(supply.vent)
                    .into_iter()
                    .filter_map(|one| Some(self.fixture(one)?.fixture_type.name()))
                    .collect();
                some(types.first().filter(|_| types.len() == 1), |name| Value::Word(name))
            }
        })
    }
}
