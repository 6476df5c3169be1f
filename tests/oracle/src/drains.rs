//! What drains carry: loads, fixtures, and what they come from and go to.

use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_quantity::Load;
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::{FixtureType, Receiver, RunKind};

use crate::judge::{Limit, Outcome};
use crate::{Got, Oracle, count, kept, known, some, truth};

impl Oracle<'_> {
    /// A fixture's load: as stated, or by the first case of the rule set that holds.
    pub(crate) fn fixture_load(&self, node: NodeId) -> Got {
        match self.stated_load(node) {
            Got::Missing => self.load_at_end(node),
            got => got,
        }
    }

    /// The same, whatever is supposed of loads that are not known.
    fn stated_load(&self, node: NodeId) -> Got {
        kept(&self.kept.loads, node, || self.reckon_load(node))
    }

    fn reckon_load(&self, node: NodeId) -> Got {
        let Some(fixture) = self.fixture(node) else {
            return Got::Absent;
        };
        if let Some(stated) = fixture.load {
            let fits = stated.unit == self.rules.loads.unit;
            return if fits {
                Got::Known(Value::Load(stated.load))
            } else {
                Got::Missing
            };
        }
        let element = node.index() as u32;
        for case in &self.rules.loads.fixture {
            match self.condition(Subject::Fixture, element, &case.when) {
                Outcome::Fails => {}
                Outcome::Open => return Got::Missing,
                // What counts in full as a flow counts no load.
                Outcome::Holds if case.in_full => return Got::Known(Value::Load(Load::default())),
                Outcome::Holds => {
                    return match self.operand(Subject::Fixture, element, &case.load) {
                        Limit::Known(load) => Got::Known(load),
                        Limit::Open => Got::Missing,
                        _ => Got::Absent,
                    };
                }
            }
        }
        Got::Absent
    }

    /// The sum of fixtures' own loads.
    pub(crate) fn sum_of_loads(&self, fixtures: &[NodeId]) -> Got {
        let mut sum = 0;
        for &node in fixtures {
            let Got::Known(Value::Load(load)) = self.fixture_load(node) else {
                return Got::Missing;
            };
            sum += load.thousandths();
        }
        Got::Known(Value::Load(Load::from_thousandths(sum)))
    }

    /// The fixtures that the file counts in one bathroom group with this one.
    fn group_of(&self, node: NodeId) -> Vec<NodeId> {
        let Some(own) = self.fixture(node).and_then(|fixture| fixture.group.clone()) else {
            return Vec::new();
        };
        let all = self.network.graph().node_indices();
        all.filter(|&other| {
            self.fixture(other)
                .is_some_and(|other| other.group.as_ref() == Some(&own))
        })
        .collect()
    }

    /// Whether they make up a group: on one storey, each necessary place filled once, and no place twice.
    pub(crate) fn group_complete(&self, node: NodeId) -> Option<bool> {
        let members = self.group_of(node);
        let storeys = members
            .iter()
            .map(|&member| self.node(member).storey)
            .collect::<Option<Vec<_>>>()?;
        let definition = &self.rules.definitions.bathroom_group;
        let mut open: Vec<_> = definition.needs.iter().map(|place| (true, place)).collect();
        open.extend(definition.may_have.iter().map(|place| (false, place)));
        for &member in &members {
            let own = self.fixture(member)?.fixture_type;
            let Some(at) = open.iter().position(|(_, place)| place.contains(&own)) else {
                return Some(false);
            };
            open.remove(at);
        }
        let same = storeys.windows(2).all(|two| two[0] == two[1]);
        Some(same && open.iter().all(|(needed, _)| !needed))
    }

    /// The load of all fixtures whose water reaches a node, whole bathroom groups at their group's value.
    pub(crate) fn load_at(&self, node: NodeId) -> Got {
        self.load_with_groups(&self.fixtures_above(node))
    }

    /// The load of fixtures, each bathroom group of which all are among them at its group's value.
    pub(crate) fn load_with_groups(&self, fixtures: &[NodeId]) -> Got {
        let Got::Known(Value::Load(sum)) = self.sum_of_loads(fixtures) else {
            return Got::Missing;
        };
        let mut sum = sum.thousandths();
        for &fixture in fixtures {
            let members = self.group_of(fixture);
            // Each group once, with its first member.
            if members.first() != Some(&fixture) || self.group_complete(fixture) != Some(true) {
                continue;
            }
            let (Some(group), true) = (
                &self.rules.loads.group,
                members.iter().all(|one| fixtures.contains(one)),
            ) else {
                continue;
            };
            let leads = &self.rules.definitions.bathroom_group.needs[0];
            let lead = members
                .iter()
                .find(|&&one| self.fixture(one).is_some_and(|one| leads.contains(&one.fixture_type)));
            let Some(lead) = lead else { continue };
            let whole = match (
                self.operand(Subject::Fixture, lead.index() as u32, group),
                self.supposed.get(),
            ) {
                (Limit::Known(whole), _) => Some(whole),
                // Fixtures whose loads are known count as such where their group's is not.
                _ if members
                    .iter()
                    .all(|&one| matches!(self.stated_load(one), Got::Known(_))) =>
                {
                    continue;
                }
                (Limit::Open, Some(end)) => {
                    let loads = self.loads_of(*lead, group, &[]);
                    loads.and_then(|loads| self.one_end(end, &loads))
                }
                _ => None,
            };
            let (Some(Value::Load(whole)), Got::Known(Value::Load(parts))) = (whole, self.sum_of_loads(&members))
            else {
                return Got::Missing;
            };
            sum += whole.thousandths() - parts.thousandths();
        }
        Got::Known(Value::Load(Load::from_thousandths(sum)))
    }

    pub(crate) fn closets_above(&self, node: NodeId) -> usize {
        self.fixtures_above(node)
            .iter()
            .filter(|&&one| self.is(one, FixtureType::WaterCloset))
            .count()
    }

    /// The first drain downstream of a fixture that carries more than it, or is not a branch.
    pub(crate) fn first_shared(&self, node: NodeId) -> Option<PipeId> {
        self.downstream(node).into_iter().find(|&pipe| self.is_shared(pipe))
    }

    /// The drains before that.
    pub(crate) fn own_drain(&self, node: NodeId) -> Vec<PipeId> {
        self.downstream(node)
            .into_iter()
            .take_while(|&pipe| !self.is_shared(pipe))
            .collect()
    }

    fn is_shared(&self, pipe: PipeId) -> bool {
        self.kind(pipe) != RunKind::Branch || self.fixtures_above(self.from(pipe)).len() > 1
    }

    pub(crate) fn drain_fact(&self, pipe: PipeId, fact: Fact) -> Option<Got> {
        let (from, to) = (self.from(pipe), self.to(pipe));
        let fixtures = self.fixtures_above(from);
        let of = |wanted: &dyn Fn(FixtureType) -> bool| {
            fixtures
                .iter()
                .filter_map(|&node| self.fixture(node))
                .filter(|one| wanted(one.fixture_type))
                .count()
        };
        let traps = || -> Option<Vec<_>> {
            let with_trap = fixtures.iter().filter(|&&node| self.has_trap(node));
            let with_trap = with_trap.filter_map(|&node| self.fixture(node));
            with_trap
                .map(|one| one.trap.size.and_then(|name| self.rules.ladder.find(name)))
                .collect()
        };
        Some(match fact {
            Fact::DrainLoad => self.load_at(from),
            Fact::DrainWetLoad => self.sum_of_loads(&fixtures),
            Fact::DrainLoadWithoutClosets => {
                let others: Vec<_> = fixtures
                    .iter()
                    .copied()
                    .filter(|&one| !self.is(one, FixtureType::WaterCloset))
                    .collect();
                self.sum_of_loads(&others)
            }
            Fact::DrainFixtures => count(fixtures.len()),
            Fact::DrainWaterClosets => count(of(&|one| one == FixtureType::WaterCloset)),
            Fact::DrainUrinals => count(of(&|one| one == FixtureType::Urinal)),
            Fact::DrainSinks => count(of(&|one| {
                use FixtureType as F;
                matches!(
                    one,
                    F::KitchenSink
                        | F::LaundryTray
                        | F::ServiceSink
                        | F::WashSink
                        | F::Sink
                        | F::CombinationSinkAndTray
                )
            })),
            Fact::DrainLargestTrap => match traps() {
                Some(sizes) => some(sizes.into_iter().max(), Value::Size),
                None => Got::Missing,
            },
            Fact::DrainLargestTraps => match traps() {
                Some(sizes) => count(
                    sizes
                        .iter()
                        .filter(|&&size| Some(size) == sizes.iter().copied().max())
                        .count(),
                ),
                None => Got::Missing,
            },
            Fact::DrainReceiver => {
                let ends = |pipe: &PipeId| match self.kind(*pipe) {
                    RunKind::Stack => Some(Receiver::Stack.name()),
                    RunKind::BuildingDrain | RunKind::BuildingSewer => Some(Receiver::BuildingDrain.name()),
                    _ => None,
                };
                let way = self.downstream(from);
                Got::Known(Value::Word(
                    way.iter().find_map(ends).unwrap_or(Receiver::Disposal.name()),
                ))
            }
            Fact::DrainLargestInlet => self.extreme(&self.inlets(from), true),
            Fact::DrainOnwardSize => self.next(to).map_or(Got::Absent, |next| self.size_of(next)),
            Fact::DrainInTrapArm => truth(self.in_trap_arm(pipe)),
            Fact::DrainAboveLowestFloor => {
                let upper = self.node(from);
                let lowest = self.network.storeys().first().and_then(|storey| storey.elevation);
                let by_storey = upper.storey.is_some_and(|storey| storey > 0).then_some(true);
                let above = upper.elevation.zip(lowest).map(|(upper, lowest)| upper > lowest);
                known(above.or(by_storey), Value::Truth)
            }
            Fact::DrainPumped => {
                let pumped = |node: &NodeId| self.fixture(*node).is_some_and(|one| one.pumped) && !self.has_trap(*node);
                truth(fixtures.len() == 1 && fixtures.iter().all(pumped))
            }
            Fact::DrainDeadEnd => {
                let is_alone = self.network.graph().neighbors_undirected(from).count() == 1;
                let stands = !matches!(self.node(from).kind, NodeKind::Fixture(_) | NodeKind::Cleanout(_));
                truth(is_alone && stands)
            }
            Fact::DrainRises => {
                let storey = |node| self.network.graph().node_weight(node).and_then(|node| node.storey);
                let storeys = (storey(from), storey(to));
                let pumped = self.fixture(from).is_some_and(|fixture| fixture.pumped);
                let heights = self.node(from).elevation.zip(self.node(to).elevation);
                let rises = heights.is_none_or(|(above, below)| below > above);
                match storeys {
                    (Some(above), Some(below)) => truth(below > above && rises && !pumped),
                    _ => Got::Absent,
                }
            }
            Fact::DrainInletFitting => self.fitting_at(from),
            Fact::DrainClothesWashers => count(of(&|one| one == FixtureType::ClothesWasher)),
            Fact::DrainIsWetVent
            | Fact::DrainIsCircuit
            | Fact::DrainIsCombination
            | Fact::DrainVentsTraps
            | Fact::DrainVentsCloset
            | Fact::DrainSeparateLoad
            | Fact::DrainSeparateInterval
            | Fact::DrainOnwardVents => return self.wet_fact(pipe, fact),
            Fact::DrainReliefSmallest | Fact::DrainRelievedSize => return self.relief_fact(pipe, fact),
            Fact::DrainOffsetIntervals
            | Fact::DrainOffsetAbove
            | Fact::DrainOffsetBelow
            | Fact::DrainOffsetReliefSize
            | Fact::DrainOffsetLength
            | Fact::DrainOffsetInlets => return self.offset_fact(pipe, fact),
            Fact::DrainCleanoutDistance => self.cleanout_distance(pipe),
            Fact::DrainBaseDistance
            | Fact::DrainBaseStackSize
            | Fact::DrainBaseStackLoad
            | Fact::DrainBaseStackIntervals => return self.base_fact(pipe, fact),
            Fact::DrainVented => self.drain_vented(pipe),
            Fact::DrainProbableFlow => self.probable_flow(pipe),
            Fact::DrainDepthRatio | Fact::DrainVelocity | Fact::DrainCapacityFlow | Fact::DrainVelocityAtFilling => {
                return self.hydraulic_fact(pipe, fact);
            }
            Fact::DrainVerticalLength
            | Fact::DrainHorizontalRun
            | Fact::DrainOpensAbove
            | Fact::DrainHorizontalTurn
            | Fact::DrainTurnDistance
            | Fact::DrainTurnSuds
            | Fact::DrainTurnStoreys => return self.run_fact(pipe, fact),
            Fact::DrainBendAhead
            | Fact::DrainBendAheadWashers
            | Fact::DrainBendBehind
            | Fact::DrainBendBehindWashers => return self.bend_fact(pipe, fact),
            Fact::DrainEmergencyJoints => {
                let inlets = self
                    .inlets(to)
                    .into_iter()
                    .map(|inlet| self.fixtures_above(self.from(inlet)));
                count(
                    inlets
                        .filter(|one| one.len() == 1 && self.is(one[0], FixtureType::EmergencyFloorDrain))
                        .count(),
                )
            }
            _ => return None,
        })
    }

    pub(crate) fn orientation(&self, pipe: PipeId) -> Got {
        known(self.vertical(pipe), |is| Value::Word(crate::stated::lies(is)))
    }
}
