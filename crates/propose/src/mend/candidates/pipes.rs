//! Changes of a pipe: a larger size, a steeper slope, another length.

use crownweir_network::{NodeId, Pipe, PipeId};
use crownweir_quantity::{Length, NominalSize, Rounding, Slope};
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::Role;
use petgraph::Direction;

use super::{Candidates, SIZES_UP, SLOPES, rounded_up};
use crate::mend::change::{Change, written};
use crate::variable::at_mark;

/// How many times as steep as it is a drain is tried at the most, but at a slope that the rule set names.
const STEEPER: i64 = 3;

impl Candidates<'_> {
    /// The sizes above that of a pipe.
    pub(super) fn larger(&self, pipe: PipeId) -> Vec<NominalSize> {
        let own = self.network.graph().edge_weight(pipe).and_then(|pipe| pipe.size);
        let Some(own) = own.and_then(|size| self.rules.ladder.find(size)) else {
            return Vec::new();
        };
        let larger = self.rules.pipe_sizes().into_iter().filter(|size| *size > own);
        let up = larger.take(SIZES_UP);
        up.filter_map(|size| self.rules.ladder.rung(size))
            .map(|rung| rung.name)
            .collect()
    }

    /// A pipe in larger sizes: alone, and with what leads on from it so that nothing is narrower.
    pub(super) fn enlarge(&mut self, pipe: PipeId) {
        for size in self.larger(pipe) {
            let alone = Change::Size {
                pipe: self.name(pipe),
                size,
            };
            let wanted = self.rules.ladder.find(size);
            let mut all = vec![alone.clone()];
            let mut next = self.onward(pipe);
            while let Some(on) = next.filter(|_| all.len() < 12) {
                let own = self.network.graph().edge_weight(on).and_then(|pipe| pipe.size);
                if own.and_then(|own| self.rules.ladder.find(own)) >= wanted {
                    break;
                }
                all.push(Change::Size {
                    pipe: self.name(on),
                    size,
                });
                next = self.onward(on);
            }
            self.push([alone]);
            if self.is_run_laid_alike(pipe) {
                self.push([Change::SizeOfRun {
                    pipe: self.name(pipe),
                    size,
                }]);
            }
            self.push(all);
        }
    }

    /// Whether others of a pipe's run are laid in its size and at its slope, so that the run may state these for all.
    fn is_run_laid_alike(&self, id: PipeId) -> bool {
        let graph = self.network.graph();
        let Some(pipe) = graph.edge_weight(id) else {
            return false;
        };
        let laid = |pipe: &Pipe| (pipe.run, pipe.size, pipe.slope);
        graph
            .edge_weights()
            .filter(|other| laid(other) == laid(pipe))
            .nth(1)
            .is_some()
    }

    pub(super) fn of_pipe(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let id = PipeId::new(element as usize);
        let Some(pipe) = self.network.graph().edge_weight(id) else {
            return;
        };
        let name = pipe.name.to_string();
        match (fact, limit) {
            (Fact::PipeSupportSpacing, Some(Value::Length(spacing))) => {
                let property = match pipe.slope {
                    Some(slope) if slope.is_vertical() => "vertical_support_spacing",
                    _ => "horizontal_support_spacing",
                };
                let value = written(spacing, self.network).into();
                self.push([Change::Supports {
                    pipe: name.clone(),
                    spacing,
                }]);
                self.push([Change::Default {
                    pipe: name,
                    property,
                    value,
                }]);
            }
            (Fact::PipeMidStoreyGuide, Some(Value::Truth(true))) => {
                self.push([Change::Guide { pipe: name.clone() }]);
                self.push([Change::Default {
                    pipe: name,
                    property: "mid_storey_guide",
                    value: true.into(),
                }]);
            }
            (Fact::VentTakeOff, _) => self.push([Change::Slope {
                pipe: name,
                slope: Slope::VERTICAL,
            }]),
            (Fact::VentGrade, _) => self.graded(id),
            (Fact::PipeSlope, Some(Value::Slope(slope))) => {
                let slope = pipe.slope.map_or(slope, |own| self.settable(slope, own));
                self.sloped(id, slope);
                self.steeper(id);
            }
            (Fact::PipeSize, Some(Value::Size(size))) => {
                if let Some(rung) = self.rules.ladder.rung(size) {
                    self.push([Change::Size {
                        pipe: name,
                        size: rung.name,
                    }]);
                }
                self.enlarge(id);
            }
            (Fact::DrainBaseDistance | Fact::DrainTurnDistance, Some(Value::Length(least))) => {
                self.further_from_base(id, element, fact, least);
            }
            (Fact::DrainCleanoutDistance, _) => self.cleanouts_behind(id, element, limit),
            (Fact::DrainHorizontalRun | Fact::DrainHorizontalTurn, _) => self.cleanouts(id),
            (Fact::DrainOpensAbove | Fact::DrainDeadEnd, _) => self.cleanout_above(id),
            (
                Fact::VentRiseAboveRim | Fact::VentJointAboveRim | Fact::StackVentTurn,
                Some(Value::Length(least)),
            ) => self.raise(id, element, fact, least),
            (
                Fact::DrainVelocity
                | Fact::DrainVelocityAtFilling
                | Fact::DrainCapacityFlow
                | Fact::DrainProbableFlow
                | Fact::DrainDepthRatio,
                _,
            ) => {
                self.steeper(id);
                self.enlarge(id);
            }
            (Fact::PipeRole | Fact::PipeKind | Fact::PipeMaterial | Fact::PipeUnderground, _) => {}
            (Fact::PipeSlope, None) => self.steeper(id),
            _ => self.enlarge(id),
        }
    }

    /// A drain at a slope that is no more than some times its own, as a steeper one is tried.
    pub(super) fn steeper_to(&mut self, pipe: PipeId, slope: Slope) {
        let Some(own) = self.network.graph().edge_weight(pipe).and_then(|pipe| pipe.slope) else {
            return;
        };
        let most = own
            .rise()
            .checked_mul(STEEPER)
            .and_then(|rise| Slope::new(rise, own.run()));
        if slope > own && most.is_some_and(|most| slope <= most) {
            self.sloped(pipe, self.settable(slope, own));
        }
    }

    /// A drain at the steeper slopes that the rule set names, and at multiples of its own.
    pub(super) fn steeper(&mut self, pipe: PipeId) {
        let Some(own) = self.network.graph().edge_weight(pipe).and_then(|pipe| pipe.slope) else {
            return;
        };
        let mut slopes: Vec<Slope> = self.rules.named_slopes();
        for (numerator, denominator) in [(5, 4), (3, 2), (2, 1), (STEEPER, 1)] {
            let times = own
                .rise()
                .checked_mul(numerator)
                .zip(own.run().checked_mul(denominator));
            slopes.extend(times.and_then(|(rise, run)| Slope::new(rise, run)));
        }
        slopes.retain(|slope| *slope > own && !slope.is_vertical());
        for slope in &mut slopes {
            *slope = self.settable(*slope, own);
        }
        slopes.sort_unstable();
        slopes.dedup();
        for slope in slopes.into_iter().take(SLOPES) {
            self.sloped(pipe, slope);
        }
    }

    /// The slope that a plumber sets where one is wanted: the next that a level shows, away from what is laid; as it is where
    /// that is none, or it can be typed as it is told.
    pub(super) fn settable(&self, wanted: Slope, laid: Slope) -> Slope {
        let notation = self.network.notation();
        let told = wanted.in_notation(notation).to_string();
        let rounding = if wanted > laid {
            Rounding::Up
        } else {
            Rounding::Down
        };
        let set = at_mark(wanted, notation, rounding);
        if wanted.is_vertical() || told.parse() == Ok(wanted) || set <= Slope::LEVEL {
            wanted
        } else {
            set
        }
    }

    /// A pipe at another slope, and its whole run.
    fn sloped(&mut self, id: PipeId, slope: Slope) {
        let pipe = self.name(id);
        self.push([Change::Slope {
            pipe: pipe.clone(),
            slope,
        }]);
        if self.is_run_laid_alike(id) {
            self.push([Change::SlopeOfRun { pipe, slope }]);
        }
    }

    /// A vent at the gentlest slopes at which the network lays pipes, those of other vents first.
    fn graded(&mut self, vent: PipeId) {
        let pipes = self.network.graph().edge_weights();
        let mut slopes: Vec<(Role, Slope)> = pipes
            .filter_map(|pipe| Some((pipe.role, pipe.slope?)))
            .filter(|(_, slope)| {
                *slope > Slope::LEVEL && slope.angle_from_horizontal() < slope.angle_from_vertical()
            })
            .collect();
        slopes.sort_unstable_by_key(|&(role, slope)| (role != Role::Vent, slope));
        slopes.dedup();
        for (_, slope) in slopes.into_iter().take(2) {
            self.push([Change::Slope {
                pipe: self.name(vent),
                slope,
            }]);
        }
    }

    /// The joint of a branch further down the drain that it joins: the drain above it longer, that below shorter.
    pub(super) fn further_from_base(&mut self, branch: PipeId, element: u32, fact: Fact, least: Length) {
        let Some((_, joint)) = self.network.graph().edge_endpoints(branch) else {
            return;
        };
        let now = match self.measured.fact(Subject::Drain, element, fact) {
            crownweir_evaluate::Got::Known(Value::Length(now)) => now,
            _ => return,
        };
        let Some(by) = least.checked_sub(now) else { return };
        let entering = self.network.pipes_at(joint, Direction::Incoming);
        let above: Vec<PipeId> = entering.filter(|&id| id != branch).collect();
        let below = self.onward(branch);
        for above in above {
            self.shift(Some(above), below, by);
        }
    }

    /// One pipe longer and another shorter by as much; where there is no other, the one alone.
    pub(super) fn shift(&mut self, longer: Option<PipeId>, shorter: Option<PipeId>, by: Length) {
        let length = |id: PipeId| self.network.graph().edge_weight(id).and_then(|pipe| pipe.length);
        let Some((grows, was)) = longer.and_then(|id| Some((id, length(id)?))) else {
            return;
        };
        let Some(longer) = was.checked_add(by) else { return };
        let first = Change::Length {
            pipe: self.name(grows),
            length: longer,
        };
        let rest = shorter.and_then(|id| Some((id, length(id)?.checked_sub(by)?)));
        if let Some((shrinks, rest)) = rest.filter(|(_, rest)| *rest > Length::ZERO) {
            let second = Change::Length {
                pipe: self.name(shrinks),
                length: rest,
            };
            self.push([first.clone(), second]);
        }
        self.push([first]);
    }

    /// What stands at the beginning of a vent higher by as much as is wanting.
    pub(super) fn raise(&mut self, pipe: PipeId, element: u32, fact: Fact, least: Length) {
        let now = match self.measured.fact(Subject::Vent, element, fact) {
            crownweir_evaluate::Got::Known(Value::Length(now)) => now,
            _ => return,
        };
        let Some(by) = least.checked_sub(now) else { return };
        let Some((from, to)) = self.network.graph().edge_endpoints(pipe) else {
            return;
        };
        let mut risen = None;
        for node in [from, to] {
            let Some(by) = self.to_a_step(node, by) else {
                continue;
            };
            if self.network.states_height(node) {
                risen = risen.or(Some(by));
            }
            if let Some(higher) = self.higher(node, by) {
                self.push([higher]);
            }
        }
        self.raise_run(pipe, risen.unwrap_or(by));
    }

    /// No less of a rise, after which a node stands a whole step above its floor.
    fn to_a_step(&self, node: NodeId, up: Length) -> Option<Length> {
        let now = self.above_floor(node)?;
        rounded_up(now.checked_add(up)?, self.network)?.checked_sub(now)
    }
}
