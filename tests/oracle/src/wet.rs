//! What each drain brings air to, and what it is part of by the arrangements that protect traps.

use crownweir_network::{NodeId, PipeId};
use crownweir_rulebook::{Fact, Value};
use crownweir_vocabulary::{FixtureType, Pattern, RunKind};

use crate::shapes::Arranged;
use crate::{Got, Oracle, count, truth};

impl Oracle<'_> {
    /// The shape of the arrangement that protects a trap; nothing where the oracle cannot tell.
    pub(crate) fn chosen(&self, node: NodeId) -> Option<Option<Pattern>> {
        match self.arranged(node) {
            Arranged::Unknown => None,
            Arranged::By(at) => Some(Some(self.rules.arrangements[at].pattern)),
            Arranged::Open | Arranged::Nearest(_) => Some(None),
        }
    }

    /// The traps that get their air through a drain: what another arrangement protects is on no wet vent.
    pub(crate) fn airs(&self, pipe: PipeId) -> Option<Vec<NodeId>> {
        let mut found = Vec::new();
        for node in self.traps() {
            let Some(supply) = self.supply(node).filter(|supply| supply.brings.is_some()) else {
                continue;
            };
            if !self.way(supply.vent, supply.connection).contains(&pipe) {
                continue;
            }
            use Pattern as P;
            let is_wet = matches!(
                self.chosen(node)?,
                None | Some(P::Individual | P::Common | P::CommonLevels | P::WetHorizontal | P::WetVertical)
            );
            found.extend(is_wet.then_some(node));
        }
        Some(found)
    }

    pub(crate) fn wet_fact(&self, pipe: PipeId, fact: Fact) -> Option<Got> {
        use Fact as F;
        let (from, to) = (self.from(pipe), self.to(pipe));
        Some(match fact {
            F::DrainVentsTraps => count(self.airs(pipe)?.len()),
            F::DrainVentsCloset => {
                let mut traps = self.airs(pipe)?.into_iter();
                truth(traps.any(|one| self.is(one, FixtureType::WaterCloset)))
            }
            F::DrainOnwardVents => match self.next(self.to(pipe)) {
                None => count(0),
                Some(next) => {
                    let protected = self
                        .airs(next)?
                        .into_iter()
                        .map(|one| self.chosen(one))
                        .collect::<Option<Vec<_>>>()?;
                    count(protected.iter().flatten().count())
                }
            },
            F::DrainSeparateLoad => {
                let traps = self.airs(pipe)?;
                if traps.is_empty() {
                    return Some(Got::Absent);
                }
                let vents: Vec<_> = traps.iter().filter_map(|&one| Some(self.supply(one)?.vent)).collect();
                let other = |node: NodeId| !self.supply(node).is_some_and(|own| vents.contains(&own.vent));
                let above = self.fixtures_above(from);
                let others: Vec<_> = above.iter().copied().filter(|&node| other(node)).collect();
                self.sum_of_loads(&others)
            }
            F::DrainSeparateInterval => {
                let traps = self.airs(pipe)?;
                if traps.is_empty() || self.kind(pipe) != RunKind::Stack {
                    return Some(Got::Absent);
                }
                let stack = self.stack_of(pipe);
                let (intervals, is_known) = self.intervals(&stack);
                let nodes = self.nodes_of(&stack);
                let down_to = nodes.iter().take_while(|&&node| node != to);
                let nearest = down_to.filter(|&&node| self.is_joint(&stack, node)).last();
                if nearest.is_some() && !is_known {
                    return Some(Got::Missing);
                }
                let own = nearest.and_then(|nearest| intervals.iter().find(|own| own.contains(nearest)));
                // What the stack brings to the first joint of the interval is from above it.
                let from_above: Vec<_> = own
                    .into_iter()
                    .flat_map(|own| self.inlets(own[0]))
                    .filter(|inlet| stack.contains(inlet))
                    .flat_map(|inlet| self.fixtures_above(self.from(inlet)).to_vec())
                    .collect();
                let vents: Vec<_> = traps.iter().filter_map(|&one| Some(self.supply(one)?.vent)).collect();
                let other = |node: NodeId| !self.supply(node).is_some_and(|own| vents.contains(&own.vent));
                let above = self.fixtures_above(from);
                let others: Vec<_> = above
                    .iter()
                    .copied()
                    .filter(|&node| other(node) && !from_above.contains(&node))
                    .collect();
                self.sum_of_loads(&others)
            }
            F::DrainIsWetVent => {
                let mut is_wet = false;
                for node in self.traps() {
                    let lengthens = self
                        .supply(node)
                        .filter(|supply| self.lengthens(node, supply))
                        .is_some_and(|supply| self.way(supply.vent, supply.connection).contains(&pipe));
                    is_wet |= lengthens && matches!(self.chosen(node)?, None | Some(Pattern::WetHorizontal));
                }
                truth(is_wet)
            }
            F::DrainIsCircuit | F::DrainIsCombination if self.may_run(pipe, fact)? => Got::Missing,
            F::DrainIsCircuit => {
                let mut is_circuit = false;
                for node in self.traps() {
                    let way = self.supply(node).map(|supply| {
                        let vent = self.circuit_vent(&supply).unwrap_or(supply.vent);
                        self.way(vent, supply.connection)
                    });
                    is_circuit |=
                        way.is_some_and(|way| way.contains(&pipe)) && self.chosen(node)? == Some(Pattern::Circuit);
                }
                truth(is_circuit)
            }
            F::DrainIsCombination => {
                let mut is_part = false;
                for node in self.traps() {
                    let part = self.part(node).filter(|part| part.line.contains(&pipe));
                    is_part |= part.is_some() && self.chosen(node)? == Some(Pattern::Combination);
                }
                truth(is_part)
            }
            _ => return None,
        })
    }

    /// Whether a drain is part of no circuit, or combination drain, for certain, but may be of one for a trap of which it
    /// cannot be told what protects it.
    fn may_run(&self, pipe: PipeId, fact: Fact) -> Option<bool> {
        let pattern = if fact == Fact::DrainIsCircuit {
            Pattern::Circuit
        } else {
            Pattern::Combination
        };
        let mut may_run = false;
        for node in self.traps() {
            let way = match pattern {
                Pattern::Circuit => self
                    .supply(node)
                    .and_then(|supply| Some(self.way(self.circuit_vent(&supply)?, supply.connection))),
                _ => self.parts(node).into_iter().flatten().next().map(|part| part.line),
            };
            if !way.is_some_and(|way| way.contains(&pipe)) {
                continue;
            }
            if self.chosen(node)? == Some(pattern) {
                return Some(false);
            }
            may_run |= self.arranged(node) == Arranged::Open && self.may_be(node, pattern)?;
        }
        Some(may_run)
    }

    /// What is told of the loop that a trap's dry vent is part of.
    pub(crate) fn island_fact(&self, fixture: NodeId, fact: Fact) -> Option<Got> {
        use Fact as F;
        let Some(vent) = self.supply(fixture).map(|supply| supply.vent) else {
            return Some(Got::Absent);
        };
        let loop_vent = self.vents_from(vent).first().copied();
        let Some((loop_vent, foot)) = loop_vent.and_then(|first| Some((first, self.comes_to_foot(first)?))) else {
            return Some(Got::Absent);
        };
        // From the foot to where the vent joins another, or ends.
        let mut beyond = Vec::new();
        for pipe in self.air_way(foot) {
            beyond.push(pipe);
            if self.vents_to(self.to(pipe)).len() > 1 {
                break;
            }
        }
        let back = self.way_back(foot);
        Some(match fact {
            F::IslandTurn => {
                let down: Vec<_> = self
                    .vents_on(loop_vent)
                    .into_iter()
                    .take_while(|&pipe| self.from(pipe) != foot)
                    .collect();
                let mut turn = None;
                for &pipe in &down {
                    match self.vertical(pipe) {
                        None => return Some(Got::Missing),
                        // The last comes down, however plumb it is.
                        Some(true) if self.to(pipe) != foot => {}
                        _ => {
                            turn = Some(self.from(pipe));
                            break;
                        }
                    }
                }
                let outlet = self.trap_fact(fixture, F::TrapOutletDrop).unwrap_or(Got::Missing);
                let outlet = crate::plus(self.height(fixture), outlet);
                turn.map_or(Got::Absent, |turn| crate::minus(self.height(turn), outlet))
            }
            F::IslandTop => {
                let heights = beyond.iter().map(|&pipe| self.height(self.to(pipe)));
                let top = crate::most(heights.chain([self.height(foot)]));
                crate::minus(top, self.highest_rim(&[vent]))
            }
            F::IslandVentSize => self.extreme(&self.vents_to(foot), true),
            F::IslandReturnSize => self.next(foot).map_or(Got::Absent, |drain| self.size_of(drain)),
            F::IslandReturnJoins => back.map_or(Got::Absent, |(_, joined)| self.orientation(joined)),
            F::IslandReturnArrives => back.map_or(Got::Absent, |(arrival, _)| self.orientation(arrival)),
            F::IslandReturnFitting => back.map_or(Got::Absent, |(arrival, _)| {
                crate::known(self.pattern(self.to(arrival)), |one| Value::Word(one.name()))
            }),
            F::IslandReturnFixtures => back.map_or(Got::Absent, |(arrival, _)| {
                count(self.fixtures_above(self.to(arrival)).len())
            }),
            F::IslandReturnBelow => truth(back.is_some_and(|(arrival, _)| self.below(self.to(arrival), vent))),
            F::IslandFootSlope => {
                let mut level = Vec::new();
                for pipe in beyond {
                    match self.vertical(pipe) {
                        None => return Some(Got::Missing),
                        Some(true) => break,
                        Some(false) => level.push(pipe),
                    }
                }
                self.slopes(&level, false)
            }
            F::IslandCleanouts => {
                let down = self.vents_on(loop_vent).into_iter().map(|pipe| self.from(pipe));
                let down = down.take_while(|&node| node != foot);
                let on = down.chain(beyond.into_iter().map(|pipe| self.from(pipe)));
                count(on.filter(|&node| self.is_cleanout(node)).count())
            }
            _ => return None,
        })
    }

    /// How the drain of a foot leads back: the drain by which it arrives where it joins another, and that other.
    fn way_back(&self, foot: NodeId) -> Option<(PipeId, PipeId)> {
        self.downstream(foot).windows(2).find_map(|two| {
            let joins =
                self.inlets(self.to(two[0])).len() > 1 || self.kind(two[1]) != crownweir_vocabulary::RunKind::Branch;
            joins.then_some((two[0], two[1]))
        })
    }
}
