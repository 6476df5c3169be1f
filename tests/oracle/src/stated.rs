//! Facts that the file states outright, and those of the whole network.

use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_quantity::Angle;
use crownweir_rulebook::{Fact, Value};
use crownweir_vocabulary::{Direction, FittingPattern, FixtureType, Inlet, Orientation, RunKind, Through};

use crate::{Got, Oracle, count, known, least, some, truth};

impl Oracle<'_> {
    pub(crate) fn pipe_fact(&self, id: PipeId, fact: Fact) -> Option<Got> {
        let pipe = self.pipe(id);
        Some(match fact {
            Fact::PipeRole => Got::Known(Value::Word(pipe.role.name())),
            Fact::PipeKind => Got::Known(Value::Word(self.kind(id).name())),
            Fact::PipeSize => self.size_of(id),
            Fact::PipeLength => known(pipe.length, Value::Length),
            Fact::PipeSlope => known(pipe.slope, Value::Slope),
            Fact::PipeOrientation => known(self.vertical(id), |is| Value::Word(lies(is))),
            Fact::PipeMaterial => known(pipe.material, |one| Value::Word(one.name())),
            Fact::PipeSupportSpacing => known(pipe.support_spacing, Value::Length),
            Fact::PipeMidStoreyGuide => known(pipe.mid_storey_guide, Value::Truth),
            Fact::PipeUnderground => truth(pipe.underground),
            _ => return None,
        })
    }

    pub(crate) fn fixture_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        let fixture = self.fixture(node)?;
        Some(match fact {
            Fact::FixtureKind => Got::Known(Value::Word(fixture.fixture_type.name())),
            Fact::FixtureOccupancy => known(fixture.occupancy, |one| Value::Word(one.name())),
            Fact::FixtureFlushVolume => known(fixture.flush_volume, Value::Volume),
            Fact::FixtureFlow => known(fixture.flow, Value::Flow),
            Fact::FixtureLoad => self.fixture_load(node),
            Fact::FixturePumped => truth(fixture.pumped),
            Fact::FixtureStandpipeHeight => known(fixture.standpipe_height, Value::Length),
            Fact::FixtureFlush => known(fixture.flush, |one| Value::Word(one.name())),
            Fact::FixtureUrinal => known(fixture.urinal, |one| Value::Word(one.name())),
            Fact::FixtureHeads => known(fixture.heads, |heads| Value::Count(i64::from(heads))),
            Fact::FixtureCompartments => Got::Known(Value::Count(i64::from(fixture.compartments))),
            Fact::FixtureAcidWaste => truth(fixture.acid_waste),
            Fact::FixtureGroupComplete => match (&fixture.group, self.group_complete(node)) {
                (None, _) => Got::Absent,
                (_, complete) => known(complete, Value::Truth),
            },
            Fact::FixtureReceivingSize => match self.first_shared(node) {
                Some(pipe) => self.size_of(pipe),
                None => Got::Absent,
            },
            Fact::FixtureAlike => {
                let branch = |node: NodeId| {
                    self.downstream(node)
                        .into_iter()
                        .take_while(|&pipe| self.kind(pipe) == RunKind::Branch)
                        .last()
                };
                let others = self.network.graph().node_indices().filter(|&other| {
                    self.is(other, fixture.fixture_type)
                        && self.node(other).storey == self.node(node).storey
                        && branch(other) == branch(node)
                });
                let alike = others.count();
                // One by itself is one on whatever storey.
                if alike > 1 && self.node(node).storey.is_none() {
                    Got::Missing
                } else {
                    count(alike)
                }
            }
            Fact::FixtureDrainLength => self.length(&self.own_drain(node)),
            Fact::FixtureDrainFall => self.fall(&self.own_drain(node)),
            _ => return None,
        })
    }

    pub(crate) fn trap_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        let trap = &self.fixture(node)?.trap;
        Some(match fact {
            Fact::TrapSize => known(trap.size.and_then(|name| self.rules.ladder.find(name)), Value::Size),
            Fact::TrapSeal => known(trap.seal, Value::Length),
            Fact::TrapShape => known(trap.kind, |kind| Value::Word(kind.name())),
            Fact::TrapOutletDrop => known(trap.outlet_drop, Value::Length),
            Fact::TrapOutletOffset => known(trap.outlet_offset, Value::Length),
            Fact::TrapOutletPipe => {
                let both = trap.outlet_drop.zip(trap.outlet_offset);
                known(both.and_then(|(drop, offset)| drop.checked_add(offset)), Value::Length)
            }
            Fact::TrapDrainSize => match self.next(node) {
                Some(pipe) => self.size_of(pipe),
                None => Got::Absent,
            },
            Fact::TrapHeight => self.height_above_floor(node),
            Fact::TrapFurtherTraps => {
                let below = self.downstream(node).into_iter().map(|pipe| self.to(pipe));
                count(
                    below
                        .filter(|&node| self.pattern(node) == Some(FittingPattern::RunningTrap))
                        .count(),
                )
            }
            Fact::TrapBranchLength | Fact::TrapBranchDrop | Fact::TrapBranchTurn | Fact::TrapBranchVented => {
                return self.branch_fact(node, fact);
            }
            Fact::TrapReceiver => match self.next(node) {
                Some(pipe) => return self.drain_fact(pipe, Fact::DrainReceiver),
                None => Got::Absent,
            },
            _ => return None,
        })
    }

    /// What leads from a cleanout to the first node at which something else comes in; nothing where water comes to
    /// the cleanout, and where nothing else ever comes in.
    fn stub(&self, cleanout: NodeId) -> Vec<PipeId> {
        if !self.inlets(cleanout).is_empty() {
            return Vec::new();
        }
        let down = self.downstream(cleanout);
        let comes_in = |pipe: &PipeId| {
            let node = self.to(*pipe);
            self.inlets(node).len() > 1 || matches!(self.node(node).kind, NodeKind::Fixture(_))
        };
        let joint = down.iter().position(comes_in);
        joint.map_or_else(Vec::new, |joint| down[..=joint].to_vec())
    }

    pub(crate) fn end_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        let found = |name| self.rules.ladder.find(name);
        Some(match (&self.node(node).kind, fact) {
            (NodeKind::Cleanout(own), Fact::CleanoutSize) => known(own.size.and_then(found), Value::Size),
            (NodeKind::Cleanout(_), Fact::CleanoutStubSize) => self.extreme(&self.stub(node), false),
            (NodeKind::Cleanout(_), Fact::CleanoutPipeSize | Fact::CleanoutRunKind) => {
                let joined = self.stub(node).last().and_then(|&last| self.next(self.to(last)));
                let own = || self.next(node).or_else(|| self.vents_from(node).first().copied());
                let pipe = joined.or_else(own);
                match (pipe, fact) {
                    (None, _) => Got::Absent,
                    (Some(pipe), Fact::CleanoutPipeSize) => self.size_of(pipe),
                    (Some(pipe), _) => Got::Known(Value::Word(self.kind(pipe).name())),
                }
            }
            (NodeKind::Terminal(own), Fact::TerminalSize) if own.enlarged_to.is_some() => {
                known(own.enlarged_to.and_then(found), Value::Size)
            }
            (NodeKind::Terminal(_), Fact::TerminalSize | Fact::TerminalVentSize) => {
                self.extreme(&self.vents_to(node), true)
            }
            (NodeKind::Terminal(own), Fact::TerminalEnlargedInside) => match own.enlarged_to {
                None => Got::Absent,
                Some(_) => known(own.enlarged_inside, Value::Length),
            },
            (NodeKind::Valve(own), Fact::ValveHeightAboveDrain) if own.height_above_drain.is_some() => {
                known(own.height_above_drain, Value::Length)
            }
            (NodeKind::Valve(own), Fact::ValveHeightAboveRim) if own.height_above_rim.is_some() => {
                known(own.height_above_rim, Value::Length)
            }
            (NodeKind::Valve(_), Fact::ValveHeightAboveRim) => match self.valve_above_rim(node) {
                Got::Absent => Got::Missing,
                height => height,
            },
            (NodeKind::Cleanout(own), Fact::CleanoutClearance) => known(own.clearance, Value::Length),
            (NodeKind::Cleanout(own), Fact::CleanoutAccessible) => known(own.accessible, Value::Truth),
            (NodeKind::Cleanout(own), Fact::CleanoutManhole) => truth(own.manhole),
            (NodeKind::Terminal(own), Fact::TerminalThrough) => {
                match (own.through, own.height_above_roof, own.roof_use) {
                    (Some(through), ..) => Got::Known(Value::Word(through.name())),
                    (None, None, None) => Got::Missing,
                    // What is told of a roof is told of a terminal above one.
                    _ => Got::Known(Value::Word(Through::Roof.name())),
                }
            }
            (NodeKind::Terminal(own), Fact::TerminalHeight) => known(own.height_above_roof, Value::Length),
            (NodeKind::Terminal(own), Fact::TerminalRoofUse) => known(own.roof_use, |one| Value::Word(one.name())),
            (NodeKind::Terminal(own), Fact::TerminalLotLine) => known(own.lot_line_distance, Value::Length),
            (NodeKind::Terminal(own), Fact::TerminalGround) => known(own.height_above_ground, Value::Length),
            (NodeKind::Terminal(own), Fact::TerminalOpeningDistance) => match own.nearest_opening {
                Some(None) => Got::Absent,
                near => known(near.flatten(), |near| Value::Length(near.distance)),
            },
            (NodeKind::Terminal(own), Fact::TerminalOpeningRise) => match own.nearest_opening {
                Some(None) => Got::Absent,
                near => known(near.flatten(), |near| Value::Length(near.above)),
            },
            (NodeKind::Valve(own), Fact::ValveShape) => known(own.kind, |one| Value::Word(one.name())),
            (NodeKind::Valve(own), Fact::ValveAirFlow) => known(own.air_flow, Value::Flow),
            (NodeKind::Valve(own), Fact::ValveAccessible) => known(own.accessible, Value::Truth),
            (NodeKind::Valve(_), _) => return self.valve_fact(node, fact),
            _ => return None,
        })
    }

    pub(crate) fn test_fact(&self, number: u32, fact: Fact) -> Option<Got> {
        let test = &self.network.tests()[number as usize];
        Some(match fact {
            Fact::TestWith => Got::Known(Value::Word(test.medium.name())),
            Fact::TestHead => known(test.head, Value::Length),
            Fact::TestHeight => known(test.height, Value::Length),
            Fact::TestPlastic => {
                let pipes = self.network.graph().edge_weights();
                truth(pipes.filter_map(|pipe| pipe.material).any(|one| one.is_plastic()))
            }
            Fact::TestDuration => known(test.duration, Value::Period),
            _ => return None,
        })
    }

    pub(crate) fn system_fact(&self, fact: Fact) -> Option<Got> {
        let site = self.network.site();
        let graph = self.network.graph();
        let nodes = |wanted: &dyn Fn(NodeId) -> bool| graph.node_indices().filter(|&node| wanted(node)).count();
        let building_drain: Vec<_> = graph
            .edge_indices()
            .filter(|&pipe| self.kind(pipe) == RunKind::BuildingDrain)
            .collect();
        Some(match fact {
            Fact::SystemLoad => self.load_at(self.network.disposal()),
            Fact::SystemUse => known(site.building_use, |one| Value::Word(one.name())),
            Fact::SystemKind => known(site.system_type, |one| Value::Word(one.name())),
            Fact::SystemWaterClosets => count(nodes(&|node| self.is(node, FixtureType::WaterCloset))),
            Fact::SystemOpenVents => count(nodes(&|node| matches!(self.node(node).kind, NodeKind::Terminal(_)))),
            Fact::SystemValves => count(nodes(&|node| matches!(self.node(node).kind, NodeKind::Valve(_)))),
            Fact::SystemTemperature => known(site.winter_design_temperature, Value::Temperature),
            Fact::SystemStoreys if self.network.storeys().is_empty() => Got::Missing,
            Fact::SystemStoreys => count(self.network.storeys().len()),
            Fact::SystemDwellings => known(site.dwelling_units, |units| Value::Count(i64::from(units))),
            Fact::SystemTests => count(self.network.tests().len()),
            Fact::SystemSump => truth(self.network.ends_in_sump()),
            Fact::SystemProbableFlow => return self.system_flow(),
            Fact::SystemOpenVentsWithoutLoops => count(self.open_vents_without_loops()),
            Fact::SystemStacks => count(self.stacks().len()),
            Fact::SystemOpenStackVents => {
                let mains = graph.edge_indices().filter(|&pipe| {
                    matches!(self.kind(pipe), RunKind::StackVent | RunKind::VentStack)
                        && self.next(self.from(pipe)).is_some()
                });
                let open = mains.filter(|&pipe| matches!(self.node(self.vent_end(pipe)).kind, NodeKind::Terminal(_)));
                count(open.count())
            }
            Fact::SystemLargestVent => return self.largest_open_vent(),
            Fact::SystemVentDiameter => self.open_diameter(),
            Fact::SystemDrainSlope => self.least_slope_of_building_drain(),
            Fact::SystemJunctionCleanout => self.junction(true),
            Fact::SystemJunctionAbove => self.junction(false),
            Fact::SystemSumpVent => self.sump_vent(),
            Fact::SystemSumpDrain => self.extreme(&self.inlets(self.network.disposal()), true),
            Fact::SystemDrainSize => self.extreme(&building_drain, true),
            _ => return None,
        })
    }

    pub(crate) fn is(&self, node: NodeId, kind: FixtureType) -> bool {
        self.fixture(node).is_some_and(|fixture| fixture.fixture_type == kind)
    }

    /// The largest or smallest size among pipes; absent where there are none, not known where one is not.
    pub(crate) fn extreme(&self, pipes: &[PipeId], largest: bool) -> Got {
        let sizes: Vec<_> = pipes.iter().map(|&pipe| self.size(pipe)).collect();
        if sizes.contains(&None) {
            return Got::Missing;
        }
        let sizes = sizes.into_iter().flatten();
        some(if largest { sizes.max() } else { sizes.min() }, Value::Size)
    }

    pub(crate) fn fitting_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        let next = self.next(node);
        let by_branch = || -> Vec<PipeId> {
            let inlets = self.inlets(node).into_iter();
            inlets.filter(|&pipe| self.by_branch(pipe)).collect()
        };
        Some(match fact {
            Fact::FittingOpposedWaterClosets | Fact::FittingOpposedPumped | Fact::FittingClosetRun => {
                let own = by_branch()
                    .into_iter()
                    .filter_map(|pipe| match self.fixtures_above(self.from(pipe))[..] {
                        [only] => Some(only),
                        _ => None,
                    });
                let closet = |&one: &NodeId| self.is(one, FixtureType::WaterCloset);
                match fact {
                    Fact::FittingOpposedWaterClosets => count(own.filter(closet).count()),
                    Fact::FittingOpposedPumped => count(
                        own.filter(|&one| self.fixture(one).is_some_and(|one| one.pumped))
                            .count(),
                    ),
                    _ => least(
                        own.filter(closet)
                            .map(|one| self.horizontal_length(&self.way(one, node))),
                    ),
                }
            }
            Fact::FittingShape => known(self.pattern(node), |pattern| Value::Word(pattern.name())),
            Fact::FittingPipes => count(self.network.graph().neighbors_undirected(node).count()),
            Fact::FittingOpen => match self.pattern(node) {
                Some(
                    FittingPattern::SanitaryTee
                    | FittingPattern::Wye
                    | FittingPattern::CombinationWye
                    | FittingPattern::Tee,
                ) => count(3_usize.saturating_sub(self.network.graph().neighbors_undirected(node).count())),
                Some(
                    FittingPattern::DoubleSanitaryTee
                    | FittingPattern::DoubleFixtureFitting
                    | FittingPattern::DoubleWye
                    | FittingPattern::DoubleCombinationWye,
                ) => count(4_usize.saturating_sub(self.network.graph().neighbors_undirected(node).count())),
                _ => Got::Absent,
            },
            Fact::FittingBranchSize => self.extreme(&by_branch(), true),
            Fact::FittingRunKind => some(next, |pipe| Value::Word(self.kind(pipe).name())),
            Fact::FittingRunSize => next.map_or(Got::Absent, |pipe| self.size_of(pipe)),
            Fact::FittingDrainsFit | Fact::FittingVentsFit => self.fits(node, fact),
            _ => return None,
        })
    }

    pub(crate) fn turn_fact(&self, pipe: PipeId, fact: Fact) -> Option<Got> {
        let node = self.to(pipe);
        let next = self.next(node);
        Some(match fact {
            Fact::TurnPattern => known(self.pattern(node), |pattern| Value::Word(pattern.name())),
            Fact::TurnAngle => known(self.pattern(node), |pattern| {
                let straight = pattern.has_branch() && self.enters(pipe) == Inlet::Run;
                let tenths = if straight { 0 } else { pattern.turn_in_tenths() };
                Value::Angle(Angle::from_microdegrees(tenths * 100_000))
            }),
            Fact::TurnCleanoutDistance => self.turn_cleanout(pipe),
            Fact::TurnCleanoutTrap => self.turn_cleanout_trap(pipe),
            Fact::TurnInlet => {
                let inlet = if self.by_branch(pipe) {
                    Inlet::Branch
                } else {
                    Inlet::Run
                };
                Got::Known(Value::Word(inlet.name()))
            }
            Fact::TurnSize => next.map_or(Got::Absent, |next| self.size_of(next)),
            Fact::TurnFixtures => count(self.fixtures_above(self.from(pipe)).len()),
            Fact::TurnClosets => count(self.closets_above(self.from(pipe))),
            Fact::TurnDirection => {
                let Some(next) = next else { return Some(Got::Absent) };
                let both = self.vertical(pipe).zip(self.vertical(next));
                known(both, |both| {
                    Value::Word(match both {
                        (true, true) => Direction::VerticalToVertical.name(),
                        (true, false) => Direction::VerticalToHorizontal.name(),
                        (false, true) => Direction::HorizontalToVertical.name(),
                        (false, false) => Direction::HorizontalToHorizontal.name(),
                    })
                })
            }
            Fact::TurnInTrapArm => truth(self.in_trap_arm(pipe)),
            _ => return None,
        })
    }
}

pub(crate) fn lies(vertical: bool) -> &'static str {
    if vertical {
        Orientation::Vertical.name()
    } else {
        Orientation::Horizontal.name()
    }
}
