//! Probable flows by the rule set's load model, and how pipes carry them.

use std::f64::consts::PI;

use crownweir_network::{NodeId, PipeId};
use crownweir_quantity::{Flow, Length, Ratio, Slope, Velocity};
use crownweir_rulebook::{Fact, FlowFormula, Hydraulics, LoadModel, Operand, Subject, Value};
use crownweir_vocabulary::FixtureType;

use crate::judge::{Limit, Outcome};
use crate::stacks::Stack;
use crate::{Got, Oracle};

/// Standard gravity.
const GRAVITY: f64 = 9.806_65;

/// What is known, or why it is not.
type Figure = Result<f64, Got>;

fn told(figure: Figure, value: impl FnOnce(f64) -> Option<Value>) -> Got {
    match figure {
        Ok(figure) => value(figure).map_or(Got::Missing, Got::Known),
        Err(got) => got,
    }
}

fn as_flow(cubic_metres: f64) -> Option<Value> {
    Flow::from_litres_per_second_f64(cubic_metres * 1000.0).map(Value::Flow)
}

/// A drain in which water stands to a share of its bore.
struct Channel<'r> {
    rules: &'r Hydraulics,
    bore: f64,
    slope: f64,
    roughness: f64,
}

impl Channel<'_> {
    /// Area and hydraulic radius at a depth, by plane geometry.
    fn wetted(&self, share: f64) -> (f64, f64) {
        let angle = 2.0 * (1.0 - 2.0 * share).acos();
        let area = self.bore * self.bore / 8.0 * (angle - angle.sin());
        (area, area / (self.bore * angle / 2.0))
    }

    /// Mean velocity at a depth.
    fn velocity(&self, share: f64) -> f64 {
        let radius = self.wetted(share).1;
        match self.rules.formula {
            // V = -2 s log(k / 3.71 H + 2.51 v / H s), with H four radii and s the root of 2 g H S.
            FlowFormula::ColebrookWhite { viscosity } => {
                let across = 4.0 * radius;
                let root = (2.0 * GRAVITY * across * self.slope).sqrt();
                let viscous = 2.51 * viscosity.as_square_metres_per_second_f64() / (across * root);
                -2.0 * root * (self.roughness / (3.71 * across) + viscous).log10()
            }
            // Manning: V = R^(2/3) S^(1/2) / n.
            _ => radius.powf(2.0 / 3.0) * self.slope.sqrt() / self.roughness,
        }
    }

    fn flow(&self, share: f64) -> f64 {
        self.wetted(share).0 * self.velocity(share)
    }

    /// The depth at which it carries a flow, if it does.
    fn depth(&self, flow: f64) -> Option<f64> {
        // The wetted angle of the greatest Manning flow is where 3t - 5t cos t + 2 sin t vanishes.
        let (mut low, mut high) = (4.5_f64, 6.2_f64);
        for _ in 0..200 {
            let middle = (low + high) / 2.0;
            let rising = 3.0 * middle - 5.0 * middle * middle.cos() + 2.0 * middle.sin() > 0.0;
            let rises = 3.0 * 6.2 - 5.0 * 6.2 * 6.2_f64.cos() + 2.0 * 6.2_f64.sin() > 0.0;
            if rising == rises { high = middle } else { low = middle }
        }
        let deepest = (1.0 - (high / 2.0).cos()) / 2.0;
        if flow > self.flow(deepest) {
            return None;
        }
        let (mut low, mut high) = (0.0, deepest);
        for _ in 0..200 {
            let middle = (low + high) / 2.0;
            if self.flow(middle) > flow {
                high = middle
            } else {
                low = middle
            }
        }
        Some(high)
    }
}

impl Oracle<'_> {
    /// A flow that counts in full beside the loads.
    fn in_full(&self, node: NodeId) -> Got {
        let element = node.index() as u32;
        if self.fixture(node).is_none_or(|fixture| fixture.load.is_some()) {
            return Got::Absent;
        }
        for case in &self.rules.loads.fixture {
            match self.condition(Subject::Fixture, element, &case.when) {
                Outcome::Fails => {}
                Outcome::Open => return Got::Missing,
                Outcome::Holds if !case.in_full => return Got::Absent,
                Outcome::Holds => {
                    return match self.operand(Subject::Fixture, element, &case.load) {
                        Limit::Known(flow) => Got::Known(flow),
                        Limit::Open => Got::Missing,
                        _ => Got::Absent,
                    };
                }
            }
        }
        Got::Absent
    }

    fn asked(&self, subject: Subject, element: u32, operand: &Operand) -> Got {
        match self.operand(subject, element, operand) {
            Limit::Known(value) => Got::Known(value),
            Limit::Open => Got::Missing,
            _ => Got::Absent,
        }
    }

    pub(crate) fn probable_flow(&self, pipe: PipeId) -> Got {
        self.flow_past(self.from(pipe), Some(pipe))
    }

    fn flow_past(&self, node: NodeId, pipe: Option<PipeId>) -> Got {
        let fixtures = self.fixtures_above(node);
        let mut in_full = 0;
        let mut largest = 0;
        for &one in fixtures.iter() {
            match self.in_full(one) {
                Got::Known(Value::Flow(flow)) => in_full += flow.picolitres_per_minute(),
                Got::Missing => return Got::Missing,
                _ => {}
            }
            // A connected load stands for many fixtures.
            if let (false, Got::Known(Value::Load(load))) =
                (self.is(one, FixtureType::ConnectedLoad), self.fixture_load(one))
            {
                largest = largest.max(load.thousandths());
            }
        }
        let Got::Known(Value::Load(load)) = self.load_at(node) else {
            return Got::Missing;
        };
        let of_loads = match &self.rules.loads.model {
            LoadModel::Sum { probable_flow } => {
                let Some(given) = probable_flow else {
                    return Got::Missing;
                };
                let Some(pipe) = pipe else { return Got::Absent };
                match self.asked(Subject::Drain, pipe.index() as u32, given) {
                    Got::Known(Value::Flow(flow)) => flow,
                    other => return other,
                }
            }
            LoadModel::RootSum { factor, unit_flow } => {
                let factor = match self.asked(Subject::System, 0, factor) {
                    Got::Known(Value::Ratio(factor)) => factor.as_f64(),
                    other => return other,
                };
                let loaded = fixtures
                    .iter()
                    .filter(|&&one| matches!(self.fixture_load(one), Got::Known(Value::Load(load)) if load.thousandths() != 0))
                    .count();
                // One fixture alone discharges what it does, and no root of it.
                let together = if loaded == 1 && largest > 0 {
                    0.0
                } else {
                    factor * (load.thousandths() as f64 / 1000.0).max(0.0).sqrt()
                };
                let units = together.max(largest as f64 / 1000.0);
                match Flow::from_litres_per_second_f64(units * unit_flow.as_litres_per_second_f64()) {
                    Some(flow) => flow,
                    None => return Got::Missing,
                }
            }
            _ => return Got::Absent,
        };
        crate::known(
            of_loads.checked_add(Flow::from_picolitres_per_minute(in_full)),
            Value::Flow,
        )
    }

    pub(crate) fn system_flow(&self) -> Option<Got> {
        let end = self.network.disposal();
        match (&self.rules.loads.model, &self.inlets(end)[..]) {
            (LoadModel::Sum { .. }, [only]) => Some(self.probable_flow(*only)),
            // Which drain's flow is meant is not said.
            (LoadModel::Sum { .. }, _) => None,
            _ => Some(self.flow_past(end, None)),
        }
    }

    fn hydraulics(&self) -> Result<&Hydraulics, Got> {
        self.rules.hydraulics.as_ref().ok_or(Got::Missing)
    }

    fn figure_of(&self, pipe: PipeId, given: Option<&Operand>) -> Figure {
        match self.asked(Subject::Pipe, pipe.index() as u32, given.ok_or(Got::Missing)?) {
            Got::Known(Value::Length(length)) => Ok(length.as_metres_f64()),
            Got::Known(Value::Ratio(ratio)) => Ok(ratio.as_f64()),
            other => Err(other),
        }
    }

    fn carried(&self, pipe: PipeId) -> Figure {
        match self.probable_flow(pipe) {
            Got::Known(Value::Flow(flow)) => Ok(flow.as_litres_per_second_f64() / 1000.0),
            other => Err(other),
        }
    }

    fn channel(&self, pipe: PipeId) -> Result<Channel<'_>, Got> {
        let rules = self.hydraulics()?;
        if self.vertical(pipe) == Some(true) {
            return Err(Got::Absent);
        }
        let slope = self.pipe(pipe).slope.and_then(Slope::as_f64).ok_or(Got::Missing)?;
        Ok(Channel {
            rules,
            roughness: self.figure_of(pipe, Some(&rules.roughness))?,
            bore: self.figure_of(pipe, Some(&rules.bore))?,
            slope,
        })
    }

    pub(crate) fn hydraulic_fact(&self, pipe: PipeId, fact: Fact) -> Option<Got> {
        let as_velocity = |metres: f64| Velocity::from_metres_per_second_f64(metres).map(Value::Velocity);
        let positive = |figure: f64| {
            if figure.is_finite() && figure > 0.0 {
                Ok(figure)
            } else {
                Err(Got::Absent)
            }
        };
        let filled = |of: &dyn Fn(&Channel<'_>, f64) -> f64| -> Figure {
            let channel = self.channel(pipe)?;
            let filling = self.figure_of(pipe, channel.rules.filling.as_ref())?;
            positive(of(&channel, filling))
        };
        let deep = || -> Result<(Channel<'_>, f64), Got> {
            let channel = self.channel(pipe)?;
            let carried = self.carried(pipe)?;
            if carried <= 0.0 {
                return Ok((channel, 0.0));
            }
            positive(channel.slope)?;
            let depth = channel.depth(carried).ok_or(Got::Absent)?;
            Ok((channel, depth))
        };
        Some(match fact {
            Fact::DrainCapacityFlow => {
                let step = self.rules.hydraulics.as_ref().and_then(|own| own.capacity_step);
                told(filled(&|channel, share| channel.flow(share)), |flow| {
                    let step = step.map_or(0, Flow::picolitres_per_minute);
                    match as_flow(flow)? {
                        Value::Flow(flow) if step > 0 => {
                            let over = flow.picolitres_per_minute() % step;
                            let up = if 2 * over >= step { step } else { 0 };
                            let nearest = flow.picolitres_per_minute() - over + up;
                            Some(Value::Flow(Flow::from_picolitres_per_minute(nearest)))
                        }
                        flow => Some(flow),
                    }
                })
            }
            Fact::DrainVelocityAtFilling => told(filled(&|channel, share| channel.velocity(share)), as_velocity),
            Fact::DrainDepthRatio => told(deep().map(|(_, depth)| depth), |depth| {
                Ratio::from_f64(depth).map(Value::Ratio)
            }),
            Fact::DrainVelocity => {
                let moved = deep().map(
                    |(channel, depth)| {
                        if depth > 0.0 { channel.velocity(depth) } else { 0.0 }
                    },
                );
                told(moved, as_velocity)
            }
            _ => return None,
        })
    }

    /// Flow in a stack at terminal velocity with a share of its bore filled: `27.8 r^(5/3) d^(8/3)` in US gallons a
    /// minute, of a bore in inches.
    fn terminal(&self, foot: PipeId) -> Figure {
        let rules = self.hydraulics()?;
        let share = self.figure_of(foot, rules.stack_filling.as_ref())?;
        let bore = self.figure_of(foot, Some(&rules.bore))?;
        Ok(stack_flow(bore, share))
    }

    pub(crate) fn terminal_flow(&self, foot: PipeId) -> Got {
        told(self.terminal(foot), as_flow)
    }

    pub(crate) fn terminal_fraction(&self, foot: PipeId) -> Got {
        let fraction = self
            .terminal(foot)
            .and_then(|terminal| Ok(self.carried(foot)? / terminal));
        told(fraction, |fraction| Ratio::from_f64(fraction).map(Value::Ratio))
    }

    /// The head that friction takes from the air which a stack's flow draws: Darcy's formula, with the air that moves
    /// as fast as the sheet of water in what that leaves of the bore.
    pub(crate) fn air_loss(&self, vent: PipeId, stack: &Stack) -> Got {
        let loss = || -> Figure {
            let rules = self.hydraulics()?;
            let friction = self.figure_of(vent, rules.air_friction.as_ref())?;
            let foot = self.foot(stack);
            let carried = self.carried(foot)?;
            let stack_bore = self.figure_of(foot, Some(&rules.bore))?;
            let bore = self.figure_of(vent, Some(&rules.bore))?;
            let long = match self.vent_fact(vent, Fact::VentLengthToAir) {
                Some(Got::Known(Value::Length(length))) => length.as_metres_f64(),
                other => return Err(other.unwrap_or(Got::Missing)),
            };
            if carried <= 0.0 || long <= 0.0 {
                return Ok(0.0);
            }
            let full = stack_flow(stack_bore, 1.0);
            let sheet = (carried / full).powf(0.6);
            if sheet >= 1.0 {
                return Err(Got::Absent);
            }
            let air = carried * (1.0 - sheet) / sheet;
            let velocity = air / (PI * bore * bore / 4.0);
            let head_of_air = friction * long / bore * velocity * velocity / (2.0 * GRAVITY);
            // Air weighs 0.075 lb a cubic foot, water 1000 kg a cubic metre.
            let air_over_water = 0.075 * 0.453_592_37 / 0.3048_f64.powi(3) / 1000.0;
            Ok(head_of_air * air_over_water)
        };
        told(loss(), |metres| Length::from_metres_f64(metres).map(Value::Length))
    }
}

fn stack_flow(bore: f64, share: f64) -> f64 {
    let inches = bore / 0.0254;
    let gallons_a_minute = 27.8 * share.powf(5.0 / 3.0) * inches.powf(8.0 / 3.0);
    gallons_a_minute * 3.785_411_784e-3 / 60.0
}
