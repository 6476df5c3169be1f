//! Flow in partly full drains and in stacks, as formulas with their sources.
//!
//! All figures are in SI units and floating point; roughness, limits and thresholds are the caller's, since they
//! are a code's or a material's. A verdict rests on it only through the facts that name a flow, a depth, a velocity
//! or a loss.
//!
//! Every function answers with a finite number or with a [`HydraulicsError`]: what is not a number, infinite,
//! negative or zero is refused, and so are figures whose result leaves the range of floating point.

mod air;
mod resistance;

pub use air::{AIR_WEIGHT, air_drawn, sheet_fraction_at_flow, vent_air_loss};
pub use resistance::Resistance;

/// One foot, in metres (international yard and pound agreement of 1959).
pub const FOOT: f64 = 0.3048;
/// One inch, in metres, a twelfth of [`FOOT`].
pub const INCH: f64 = 0.0254;
/// One US gallon, in cubic metres: 231 cubic inches (NIST Handbook 44, appendix C).
pub const US_GALLON: f64 = 3.785_411_784e-3;
/// Standard gravity, in metres per second squared.
pub const GRAVITY: f64 = 9.806_65;
/// Weight of a cubic metre of water, in newtons: 1000 kg at standard gravity.
pub const WATER_WEIGHT: f64 = 9806.65;

/// Why a formula has no answer.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum HydraulicsError {
    /// A figure is not a number, not finite, or not above zero where it has to be.
    #[error("`{0}` has to be a finite number above zero")]
    NotPositive(&'static str),
    /// A share is not between nothing and all.
    #[error("`{0}` has to be above 0 and at most 1")]
    NotAShare(&'static str),
    /// Each figure is possible, but the result is too large or too small for floating point.
    #[error("these figures give no finite `{0}` above zero")]
    OutOfRange(&'static str),
    /// Each figure is possible, but together they lie where the formula does not hold.
    #[error("these figures lie outside the range of the {0} formula")]
    OutsideFormula(&'static str),
    /// More water than the pipe carries.
    #[error("the pipe carries at most {capacity} cubic metres a second")]
    ExceedsCapacity {
        /// The most that it carries, in cubic metres a second.
        capacity: f64,
    },
}

fn positive(name: &'static str, value: f64) -> Result<f64, HydraulicsError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(HydraulicsError::NotPositive(name))
    }
}

fn share(name: &'static str, value: f64) -> Result<f64, HydraulicsError> {
    if value > 0.0 && value <= 1.0 {
        Ok(value)
    } else {
        Err(HydraulicsError::NotAShare(name))
    }
}

/// A result, unless it overflowed or vanished.
fn result(name: &'static str, value: f64) -> Result<f64, HydraulicsError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(HydraulicsError::OutOfRange(name))
    }
}

/// The wetted part of a circular bore.
///
/// With depth `y` and bore `D` in metres and `t = 2 acos(1 - 2y/D)` in radians: area `A = D^2/8 (t - sin t)`,
/// wetted perimeter `P = D t/2`, hydraulic radius `R = A/P`. Plane geometry.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct PartFullCircle {
    /// Area, in square metres.
    pub area: f64,
    /// Wetted perimeter, in metres.
    pub perimeter: f64,
    /// Area over wetted perimeter, in metres.
    pub hydraulic_radius: f64,
}

impl PartFullCircle {
    /// The wetted part at a depth of `depth_ratio` times `bore` (metres).
    ///
    /// # Errors
    /// A bore that is not above zero, a ratio that is not above 0 and at most 1, an area out of range.
    pub fn at_depth(bore: f64, depth_ratio: f64) -> Result<Self, HydraulicsError> {
        let bore = positive("bore", bore)?;
        let ratio = share("depth_ratio", depth_ratio)?;
        // 2 acos(1 - 2r) = 4 asin(sqrt r), which keeps its digits at small depths.
        let angle = 4.0 * ratio.sqrt().asin();
        let area = result("area", bore * bore / 8.0 * angle_less_sine(angle))?;
        let perimeter = result("perimeter", bore * angle / 2.0)?;
        Ok(Self {
            area,
            perimeter,
            hydraulic_radius: result("hydraulic_radius", area / perimeter)?,
        })
    }
}

/// `t - sin t`, by its series where the difference would cancel.
fn angle_less_sine(angle: f64) -> f64 {
    if angle < 0.05 {
        let square = angle * angle;
        angle * square / 6.0 * (1.0 - square / 20.0 * (1.0 - square / 42.0))
    } else {
        angle - angle.sin()
    }
}

/// Mean velocity of uniform flow by the Manning formula, `V = R^(2/3) S^(1/2) / n`, in metres a second.
///
/// `R` is `hydraulic_radius` in metres, `S` is `slope` as fall over run, `n` is `roughness` in the unit of the SI
/// form, whose constant is 1; the US form, in feet, has 1.486 = 3.28084^(1/3) and the same `n`.
///
/// Source: a lecture sheet on waste water piping and venting.
///
/// # Errors
/// A figure that is not above zero, a velocity out of range.
pub fn manning_velocity(hydraulic_radius: f64, slope: f64, roughness: f64) -> Result<f64, HydraulicsError> {
    let radius = positive("hydraulic_radius", hydraulic_radius)?;
    let slope = positive("slope", slope)?;
    let roughness = positive("roughness", roughness)?;
    result("velocity", radius.powf(2.0 / 3.0) * slope.sqrt() / roughness)
}

/// Flow in a partly full bore by the Manning formula, `Q = A V`, in cubic metres a second.
///
/// `A` is the area of [`PartFullCircle::at_depth`] (`bore` in metres) and `V` is [`manning_velocity`] with its
/// hydraulic radius. `roughness` does not change with depth. Source as [`manning_velocity`].
///
/// # Errors
/// As [`PartFullCircle::at_depth`] and [`manning_velocity`]; a flow out of range.
pub fn manning_flow(bore: f64, slope: f64, roughness: f64, depth_ratio: f64) -> Result<f64, HydraulicsError> {
    let circle = PartFullCircle::at_depth(bore, depth_ratio)?;
    let velocity = manning_velocity(circle.hydraulic_radius, slope, roughness)?;
    result("flow", circle.area * velocity)
}

/// The depth ratio at which a Manning flow is greatest, about 0.938, where roughness does not change with depth:
/// the root of `d(A^5/P^2)/dy = 0`, by bisection.
fn depth_of_greatest_flow() -> f64 {
    // With t the wetted angle, A^5/P^2 is stationary where 3t - 5t cos t + 2 sin t = 0.
    let slope = |angle: f64| 3.0 * angle - 5.0 * angle * angle.cos() + 2.0 * angle.sin();
    let angle = bisect(4.5, 6.2, slope);
    (1.0 - (angle / 2.0).cos()) / 2.0
}

/// The root of a function that changes its sign once between two points, to the last digit.
fn bisect(mut low: f64, mut high: f64, function: impl Fn(f64) -> f64) -> f64 {
    let rising = function(high) > function(low);
    // Halving from 1 reaches the smallest positive number in fewer than 1100 steps.
    for _ in 0..1200 {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break;
        }
        if (function(middle) > 0.0) == rising {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

/// The depth ratio below `deepest`, where the bore carries `capacity`, at which it carries `flow`.
fn depth_below(
    deepest: f64,
    capacity: f64,
    flow: f64,
    carried: impl Fn(f64) -> Result<f64, HydraulicsError>,
) -> Result<f64, HydraulicsError> {
    if flow > capacity {
        return Err(HydraulicsError::ExceedsCapacity { capacity });
    }
    // The figures are good at the greatest depth; at a lesser one the flow can vanish.
    let excess = |ratio: f64| carried(ratio).map_or(-flow, |carried| carried - flow);
    Ok(bisect(0.0, deepest, excess))
}

/// Flow in a partly full bore by the Colebrook-White formula, in cubic metres a second: `Q = A V` with
/// `V = -2 s log10(k/(3.71 H) + 2.51 v/(H s))` and `s = sqrt(2 g H S)`.
///
/// `A` is the area of [`PartFullCircle::at_depth`] (`bore` in metres), `H` four times its hydraulic radius, `S` is
/// `slope` as fall over run, `k` is `wall_roughness` in metres, `v` is `kinematic_viscosity` in square metres a
/// second, `g` is [`GRAVITY`]; 3.71 and 2.51 are the formula's own constants. EN 12056-2 asks for this formula;
/// carrying the full-bore form to partly full bores by `H` is our own step.
///
/// # Errors
/// A figure that is not above zero, a depth ratio that is not above 0 and at most 1, a wall so rough or a flow so
/// slow that the logarithm is not negative, a flow out of range.
pub fn colebrook_white_flow(
    bore: f64,
    slope: f64,
    depth_ratio: f64,
    wall_roughness: f64,
    kinematic_viscosity: f64,
) -> Result<f64, HydraulicsError> {
    let circle = PartFullCircle::at_depth(bore, depth_ratio)?;
    let slope = positive("slope", slope)?;
    let wall_roughness = positive("wall_roughness", wall_roughness)?;
    let kinematic_viscosity = positive("kinematic_viscosity", kinematic_viscosity)?;
    let diameter = 4.0 * circle.hydraulic_radius;
    let s = result("velocity", (2.0 * GRAVITY * diameter * slope).sqrt())?;
    let drag = wall_roughness / (3.71 * diameter) + 2.51 * kinematic_viscosity / (diameter * s);
    if drag >= 1.0 || drag.is_nan() {
        return Err(HydraulicsError::OutsideFormula("Colebrook-White"));
    }
    result("flow", circle.area * -2.0 * s * drag.log10())
}

/// One US gallon a minute, in cubic metres a second.
const GPM: f64 = US_GALLON / 60.0;
/// Constant of the stack capacity formula in gallons a minute and inches.
const STACK_CAPACITY: f64 = 27.8;

/// What a stack carries when the sheet of water on its wall fills a share of the bore, in cubic metres a second:
/// `q = 27.8 r^(5/3) d^(8/3)`.
///
/// `q` in US gallons a minute and `d` in inches, converted here from and to SI (`bore` in metres); `r` is
/// `sheet_fraction`, area of the sheet over area of the bore.
///
/// Source: a lecture sheet on waste water piping and venting. Its background is NBS Monograph 31 (1961), which
/// we have not read.
///
/// # Errors
/// A bore that is not above zero, a share that is not above 0 and at most 1, a flow out of range.
pub fn stack_capacity(bore: f64, sheet_fraction: f64) -> Result<f64, HydraulicsError> {
    let inches = positive("bore", bore)? / INCH;
    let sheet = share("sheet_fraction", sheet_fraction)?;
    let gallons = STACK_CAPACITY * sheet.powf(5.0 / 3.0) * inches.powf(8.0 / 3.0);
    result("flow", gallons * GPM)
}
