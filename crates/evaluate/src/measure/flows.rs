//! Probable flows by the rule set's load model, and how the pipes carry them by its hydraulics.
//!
//! The sums that a flow needs beside the load are made in one pass, when a rule first asks. Flows, velocities and
//! ratios are reckoned in floating point and rounded to the smallest unit that their quantity holds.

use std::collections::BTreeSet;

use crownweir_quantity::{Flow, Length, Ratio, Slope, Velocity};
use crownweir_rulebook::{Fact, FlowFormula, Hydraulics, LoadModel, Operand, Subject, Value};
use crownweir_vocabulary::{FixtureType, Role};

use super::facts::{Element, Gap, Got, reckoned, stated};
use super::{Measured, NONE, Seen, loads};
use crate::evaluate::operand;
use crate::hydraulics::{self, HydraulicsError, Resistance};

/// What a probable flow needs beside the sum of loads, by node.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Share {
    /// The largest load of a single fixture upstream, in thousandths.
    largest: i64,
    /// Flows upstream that count in full, in picolitres a minute.
    in_full: i64,
    /// A node whose flow in full is not known, and one more than it.
    gap: u32,
}

/// Shares by node.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shares(pub(crate) Vec<Share>);

pub(crate) fn shares(measured: &Measured<'_>) -> Shares {
    let mut shares = vec![Share::default(); measured.node_bound()];
    for node in measured.drain_order() {
        let mut own = shares.get(node as usize).copied().unwrap_or_default();
        // A load that stands for many fixtures is no single one.
        let single = measured
            .fixture_facts(node)
            .is_some_and(|one| one.fixture_type != FixtureType::ConnectedLoad);
        let load = measured.state.loads.of(measured, node).known().filter(|_| single);
        own.largest = own.largest.max(load.unwrap_or(0));
        match loads::in_full(measured, node) {
            Got::Known(Value::Flow(flow)) => {
                own.in_full = own.in_full.saturating_add(flow.picolitres_per_minute());
            }
            // Nothing leads into a fixture: it has no gap yet.
            Got::Missing(_) => own.gap = node.saturating_add(1),
            _ => {}
        }
        let below = measured.next(node).and_then(|pipe| measured.pipe(pipe));
        for at in [Some(node), below.map(|pipe| pipe.to)].into_iter().flatten() {
            if let Some(slot) = shares.get_mut(at as usize) {
                if at == node {
                    *slot = own;
                    continue;
                }
                slot.largest = slot.largest.max(own.largest);
                slot.in_full = slot.in_full.saturating_add(own.in_full);
                if slot.gap == 0 {
                    slot.gap = own.gap;
                }
            }
        }
    }
    Shares(shares)
}

/// A datum that the rule set does not give.
fn not_given(datum: &'static str) -> Got {
    Got::Missing(Gap::NotInRuleSet { datum })
}

/// A figure that a formula gives; what it cannot give is absent.
fn figure(result: Result<f64, HydraulicsError>, value: impl FnOnce(f64) -> Option<Value>) -> Got {
    match result {
        Ok(figure) => reckoned(value(figure)),
        Err(_) => Got::Absent,
    }
}

fn velocity(metres: f64) -> Option<Value> {
    Velocity::from_metres_per_second_f64(metres).map(Value::Velocity)
}

fn ratio(ratio: f64) -> Option<Value> {
    Ratio::from_f64(ratio).map(Value::Ratio)
}

/// A flow in cubic metres a second.
fn flow(cubic_metres: f64) -> Option<Value> {
    Flow::from_litres_per_second_f64(cubic_metres * 1000.0).map(Value::Flow)
}

/// A drain as a formula of flow sees it, in SI units.
struct Channel {
    bore: f64,
    slope: f64,
    resistance: Resistance,
}

impl Measured<'_> {
    pub(crate) fn shares(&self) -> &Shares {
        self.state.shares.get_or_init(|| shares(self))
    }

    /// The probable flow past the upper end of a drain, in cubic metres a second.
    fn flow_in_drain(&self, pipe: u32) -> Result<f64, Got> {
        match self.probable_flow(pipe) {
            Got::Known(Value::Flow(flow)) => Ok(flow.as_litres_per_second_f64() / 1000.0),
            other => Err(other),
        }
    }

    /// The probable flow of a drain by the rule set's load model: of summed loads, what the rule set reads for the
    /// sum; by the root of the sum, `Q = K sqrt(sum DU)` or what the largest single load stands for, whichever is
    /// more, and where there is no other load, that. Flows that count in full are added.
    pub(super) fn probable_flow(&self, pipe: u32) -> Got {
        let Some(node) = self.pipe(pipe).map(|pipe| pipe.from) else {
            return Got::Absent;
        };
        self.probable_flow_past(node, Some(pipe))
    }

    /// The probable flow past a node; `pipe` leads away from it.
    fn probable_flow_past(&self, node: u32, pipe: Option<u32>) -> Got {
        self.see(Seen::Shares, node);
        let share = self.shares().0.get(node as usize).copied().unwrap_or_default();
        if share.gap != 0 {
            return stated(None, "flow", Element::Node(share.gap - 1));
        }
        let Some(totals) = self.totals_at(node) else {
            return Got::Absent;
        };
        if totals.gap != NONE {
            return super::facts::load(0, totals.gap);
        }
        let of_loads = match &self.rules.loads.model {
            LoadModel::Sum { probable_flow: None } => {
                return not_given("how a probable flow follows from loads (`loads: probable_flow`)");
            }
            LoadModel::Sum {
                probable_flow: Some(given),
            } => match pipe.map(|pipe| operand(self, Subject::Drain, pipe, given).got()) {
                Some(Got::Known(Value::Flow(flow))) => flow,
                Some(other) => return other,
                None => return Got::Absent,
            },
            LoadModel::RootSum { factor, unit_flow } => {
                let factor = match operand(self, Subject::System, 0, factor).got() {
                    Got::Known(Value::Ratio(factor)) => factor.as_f64(),
                    other => return other,
                };
                let unit = unit_flow.as_litres_per_second_f64();
                let units = |thousandths: i64| thousandths as f64 / 1000.0;
                let together = factor * units(totals.load).max(0.0).sqrt();
                // Of a single fixture the root can be more than it discharges.
                let largest = units(share.largest);
                let of_units = if totals.load == share.largest {
                    largest
                } else {
                    together.max(largest)
                };
                let litres = of_units * unit;
                match Flow::from_litres_per_second_f64(litres) {
                    Some(flow) => flow,
                    None => return Got::Missing(Gap::Overflow),
                }
            }
            _ => return Got::Absent,
        };
        let with_full = of_loads.checked_add(Flow::from_picolitres_per_minute(share.in_full));
        reckoned(with_full.map(Value::Flow))
    }

    /// The probable flows together of the stacks and branches that vents leave at some nodes, each where it ends.
    pub(super) fn flow_at_vents(&self, nodes: &[u32]) -> Got {
        let end = |&node: &u32| match self.state.stacks.of_pipe(self, self.next(node)?) {
            Some(stack) => self.foot(stack),
            None => self.branch_end(node),
        };
        let ends: BTreeSet<u32> = nodes.iter().filter_map(end).collect();
        let mut sum: Option<Flow> = None;
        for end in ends {
            let Got::Known(Value::Flow(flow)) = self.probable_flow(end) else {
                return self.probable_flow(end);
            };
            match sum.unwrap_or_default().checked_add(flow) {
                Some(more) => sum = Some(more),
                None => return Got::Missing(Gap::Overflow),
            }
        }
        sum.map_or(Got::Absent, |sum| Got::Known(Value::Flow(sum)))
    }

    pub(super) fn system_flow(&self) -> Got {
        let end = super::index(self.network.disposal().index());
        let last = self.inlets(end, Role::Drain).next();
        match &self.rules.loads.model {
            // What is read for a sum is read for the drain that carries it.
            LoadModel::Sum { .. } => last.map_or(Got::Absent, |last| self.probable_flow(last)),
            _ => self.probable_flow_past(end, None),
        }
    }

    fn hydraulics(&self) -> Result<&Hydraulics, Got> {
        let given = self.rules.hydraulics.as_ref();
        given.ok_or_else(|| not_given("how water flows in the pipes (`hydraulics`)"))
    }

    fn pipe_figure(&self, pipe: u32, given: &Operand) -> Result<f64, Got> {
        match operand(self, Subject::Pipe, pipe, given).got() {
            Got::Known(Value::Length(length)) => Ok(length.as_metres_f64()),
            Got::Known(Value::Ratio(ratio)) => Ok(ratio.as_f64()),
            other => Err(other),
        }
    }

    fn optional_figure(&self, pipe: u32, given: Option<&Operand>, datum: &'static str) -> Result<f64, Got> {
        given.map_or_else(|| Err(not_given(datum)), |given| self.pipe_figure(pipe, given))
    }

    /// A drain that is not vertical.
    fn channel(&self, pipe: u32) -> Result<Channel, Got> {
        let own = self.hydraulics()?;
        let here = Element::Pipe(pipe);
        let vertical = self.pipe(pipe).and_then(|pipe| pipe.vertical);
        let slope = match (vertical, self.slope(pipe).and_then(Slope::as_f64)) {
            (Some(true), _) => return Err(Got::Absent),
            (Some(false), Some(slope)) => slope,
            _ => return Err(stated(None, "slope", here)),
        };
        let roughness = self.pipe_figure(pipe, &own.roughness)?;
        let resistance = match own.formula {
            FlowFormula::ColebrookWhite { viscosity } => Resistance::ColebrookWhite {
                wall_roughness: roughness,
                kinematic_viscosity: viscosity.as_square_metres_per_second_f64(),
            },
            _ => Resistance::Manning { roughness },
        };
        Ok(Channel {
            bore: self.pipe_figure(pipe, &own.bore)?,
            slope,
            resistance,
        })
    }

    pub(super) fn drain_hydraulics(&self, pipe: u32, fact: Fact) -> Got {
        self.drain_figure(pipe, fact).unwrap_or_else(|got| got)
    }

    fn drain_figure(&self, pipe: u32, fact: Fact) -> Result<Got, Got> {
        let Channel {
            bore,
            slope,
            resistance,
        } = self.channel(pipe)?;
        if let Fact::DrainCapacityFlow | Fact::DrainVelocityAtFilling = fact {
            let own = self.hydraulics()?.filling.as_ref();
            let filling = self.optional_figure(pipe, own, "how far a drain may be filled (`filling`)")?;
            return Ok(match fact {
                Fact::DrainCapacityFlow => {
                    let carried = figure(resistance.flow(bore, slope, filling), flow);
                    match (carried, self.hydraulics()?.capacity_step) {
                        (Got::Known(Value::Flow(flow)), Some(step)) => {
                            Got::Known(Value::Flow(flow.to_step(step)))
                        }
                        _ => carried,
                    }
                }
                _ => figure(resistance.velocity(bore, slope, filling), velocity),
            });
        }
        let carried = self.flow_in_drain(pipe)?;
        let depth = if carried > 0.0 {
            resistance.depth_ratio_at_flow(bore, slope, carried)
        } else {
            Ok(0.0)
        };
        Ok(match fact {
            Fact::DrainDepthRatio => figure(depth, ratio),
            _ if carried > 0.0 => {
                let moved = depth.and_then(|depth| resistance.velocity(bore, slope, depth));
                figure(moved, velocity)
            }
            _ => figure(Ok(0.0), velocity),
        })
    }

    /// The stack's lowest pipe.
    fn foot(&self, stack: u32) -> Option<u32> {
        self.stack_itself(stack)?.pipes.last().copied()
    }

    pub(super) fn stack_hydraulics(&self, stack: u32, fact: Fact) -> Got {
        let Some(foot) = self.foot(stack) else {
            return Got::Absent;
        };
        if fact == Fact::StackProbableFlow {
            return self.probable_flow(foot);
        }
        self.terminal_figure(foot, fact).unwrap_or_else(|got| got)
    }

    fn terminal_figure(&self, foot: u32, fact: Fact) -> Result<Got, Got> {
        let own = self.hydraulics()?;
        let datum = "what share of a stack the water may fill (`stack_filling`)";
        let filling = self.optional_figure(foot, own.stack_filling.as_ref(), datum)?;
        let bore = self.pipe_figure(foot, &own.bore)?;
        let terminal = hydraulics::stack_capacity(bore, filling);
        if fact == Fact::StackTerminalFlow {
            return Ok(figure(terminal, flow));
        }
        let carried = self.flow_in_drain(foot)?;
        Ok(figure(terminal.map(|terminal| carried / terminal), ratio))
    }

    /// The head that friction takes from the air which a stack's probable flow draws through one of its vents.
    pub(super) fn air_loss(&self, vent: u32, stack: u32) -> Got {
        self.air_loss_figure(vent, stack).unwrap_or_else(|got| got)
    }

    fn air_loss_figure(&self, vent: u32, stack: u32) -> Result<Got, Got> {
        let own = self.hydraulics()?;
        let friction = own.air_friction.as_ref();
        let friction = self.optional_figure(vent, friction, "the friction of air (`air_friction`)")?;
        let foot = self.foot(stack).ok_or(Got::Absent)?;
        let carried = self.flow_in_drain(foot)?;
        let stack_bore = self.pipe_figure(foot, &own.bore)?;
        let bore = self.pipe_figure(vent, &own.bore)?;
        let long = match self.vent_fact(vent, Fact::VentLengthToAir) {
            Got::Known(Value::Length(length)) => length.as_metres_f64(),
            other => return Err(other),
        };
        let head = |metres: f64| Length::from_metres_f64(metres).map(Value::Length);
        if carried <= 0.0 || long <= 0.0 {
            return Ok(figure(Ok(0.0), head));
        }
        let loss = hydraulics::sheet_fraction_at_flow(stack_bore, carried)
            .and_then(|sheet| hydraulics::air_drawn(carried, sheet))
            .and_then(|air| hydraulics::vent_air_loss(long, bore, friction, air));
        Ok(figure(loss, head))
    }
}
