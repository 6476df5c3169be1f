//! Flow in partly full drains and in stacks, as formulas with their sources.
//!
//! All figures are in SI units and floating point; roughness, limits and thresholds are the caller's, since they
//! are a code's or a material's. No verdict rests on anything here.

/// One foot, in metres (international yard and pound agreement of 1959).
pub const FOOT: f64 = 0.3048;
/// One inch, in metres.
pub const INCH: f64 = 0.0254;
/// One US gallon, in cubic metres (NIST Handbook 44, appendix C).
pub const US_GALLON: f64 = 3.785_411_784e-3;
/// Standard gravity, in metres per second squared.
pub const GRAVITY: f64 = 9.806_65;
/// Weight of a cubic metre of water, in newtons.
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

/// The wetted part of a circular bore.
///
/// With depth `y`, bore `D` and `t = 2 acos(1 - 2y/D)`: area `D^2/8 (t - sin t)`, wetted perimeter `D t/2`,
/// hydraulic radius area over perimeter. Plane geometry.
#[derive(Debug, Clone, Copy, PartialEq)]
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
    /// A bore that is not above zero, a ratio that is not above 0 and at most 1.
    pub fn at_depth(bore: f64, depth_ratio: f64) -> Result<Self, HydraulicsError> {
        let bore = positive("bore", bore)?;
        let ratio = share("depth_ratio", depth_ratio)?;
        let angle = 2.0 * (1.0 - 2.0 * ratio).clamp(-1.0, 1.0).acos();
        let area = bore * bore / 8.0 * (angle - angle.sin());
        let perimeter = bore * angle / 2.0;
        Ok(Self {
            area,
            perimeter,
            hydraulic_radius: area / perimeter,
        })
    }
}

/// Mean velocity by the Manning formula, `V = R^(2/3) S^(1/2) / n` in SI units, in metres a second.
///
/// `hydraulic_radius` in metres, `slope` as fall over run, `roughness` the Manning `n`. Any text on open-channel
/// flow; the SI form has the constant 1, the US form 1.486 = 3.28084^(1/3).
///
/// # Errors
/// A figure that is not above zero.
pub fn manning_velocity(hydraulic_radius: f64, slope: f64, roughness: f64) -> Result<f64, HydraulicsError> {
    let radius = positive("hydraulic_radius", hydraulic_radius)?;
    let slope = positive("slope", slope)?;
    Ok(radius.powf(2.0 / 3.0) * slope.sqrt() / positive("roughness", roughness)?)
}

/// Flow in a partly full bore by the Manning formula, `Q = A V`, in cubic metres a second.
///
/// # Errors
/// As [`PartFullCircle::at_depth`] and [`manning_velocity`].
pub fn manning_flow(bore: f64, slope: f64, roughness: f64, depth_ratio: f64) -> Result<f64, HydraulicsError> {
    let circle = PartFullCircle::at_depth(bore, depth_ratio)?;
    Ok(circle.area * manning_velocity(circle.hydraulic_radius, slope, roughness)?)
}

/// The depth ratio at which a Manning flow is greatest, where roughness does not change with depth: the root of
/// `d(A^5/P^2)/dy = 0`, by bisection.
fn depth_of_greatest_flow() -> f64 {
    // With t the wetted angle, A^5/P^2 is stationary where 3t - 5t cos t + 2 sin t = 0.
    let slope = |angle: f64| 3.0 * angle - 5.0 * angle * angle.cos() + 2.0 * angle.sin();
    let angle = bisect(4.5, 6.2, slope);
    (1.0 - (angle / 2.0).cos()) / 2.0
}

/// The root of a function that changes its sign once between two points.
fn bisect(mut low: f64, mut high: f64, function: impl Fn(f64) -> f64) -> f64 {
    let rising = function(high) > function(low);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if (function(middle) > 0.0) == rising {
            high = middle;
        } else {
            low = middle;
        }
    }
    f64::midpoint(low, high)
}

/// The depth ratio at which a bore carries `flow` (cubic metres a second) by the Manning formula: the inverse of
/// [`manning_flow`] below the depth of greatest flow, about 0.938. Above it two depths carry the same flow, and
/// the upper one is not stable.
///
/// # Errors
/// Figures that are not above zero, and more flow than the bore carries.
pub fn depth_ratio_at_flow(bore: f64, slope: f64, roughness: f64, flow: f64) -> Result<f64, HydraulicsError> {
    let flow = positive("flow", flow)?;
    let deepest = depth_of_greatest_flow();
    let capacity = manning_flow(bore, slope, roughness, deepest)?;
    if flow > capacity {
        return Err(HydraulicsError::ExceedsCapacity { capacity });
    }
    let excess =
        |ratio: f64| manning_flow(bore, slope, roughness, ratio).map_or(-flow, |carried| carried - flow);
    Ok(bisect(0.0, deepest, excess))
}

/// Mean velocity by the Chezy formula, `V = C sqrt(R S)`, in metres a second.
///
/// # Errors
/// A figure that is not above zero.
pub fn chezy_velocity(coefficient: f64, hydraulic_radius: f64, slope: f64) -> Result<f64, HydraulicsError> {
    let product = positive("hydraulic_radius", hydraulic_radius)? * positive("slope", slope)?;
    Ok(positive("coefficient", coefficient)? * product.sqrt())
}

/// The slope for a velocity by the Chezy formula, `S = (V/C)^2 / R`.
///
/// # Errors
/// A figure that is not above zero.
pub fn chezy_slope(coefficient: f64, hydraulic_radius: f64, velocity: f64) -> Result<f64, HydraulicsError> {
    let ratio = positive("velocity", velocity)? / positive("coefficient", coefficient)?;
    Ok(ratio * ratio / positive("hydraulic_radius", hydraulic_radius)?)
}

/// Flow in a partly full bore by the Colebrook-White formula, in cubic metres a second.
///
/// `V = -2 s log10(k/(3.71 H) + 2.51 v/(H s))` with `s = sqrt(2 g H S)`, `H` four times the hydraulic radius,
/// `k` the wall roughness in metres and `v` the kinematic viscosity in square metres a second: the form that
/// EN 12056-2 refers to, carried to partly full bores by the hydraulic radius.
///
/// # Errors
/// A figure that is not above zero, a depth ratio that is not above 0 and at most 1.
pub fn colebrook_white_flow(
    bore: f64,
    slope: f64,
    depth_ratio: f64,
    wall_roughness: f64,
    kinematic_viscosity: f64,
) -> Result<f64, HydraulicsError> {
    let circle = PartFullCircle::at_depth(bore, depth_ratio)?;
    let diameter = 4.0 * circle.hydraulic_radius;
    let s = (2.0 * GRAVITY * diameter * positive("slope", slope)?).sqrt();
    let rough = positive("wall_roughness", wall_roughness)? / (3.71 * diameter);
    let smooth = 2.51 * positive("kinematic_viscosity", kinematic_viscosity)? / (diameter * s);
    Ok(circle.area * -2.0 * s * (rough + smooth).log10())
}

/// Boundary shear of uniform flow, `tau = w R S`, in pascals.
///
/// # Errors
/// A figure that is not above zero.
pub fn boundary_shear(hydraulic_radius: f64, slope: f64) -> Result<f64, HydraulicsError> {
    Ok(WATER_WEIGHT * positive("hydraulic_radius", hydraulic_radius)? * positive("slope", slope)?)
}

/// US gallons a minute in a cubic metre a second.
const GPM: f64 = US_GALLON / 60.0;
/// Constant of the stack capacity formula in gallons a minute and inches.
const STACK_CAPACITY: f64 = 27.8;
/// Constant of the terminal velocity formula in feet a second, gallons a minute and inches.
const TERMINAL_VELOCITY: f64 = 3.0;
/// Constant of the terminal length formula in feet and feet a second.
const TERMINAL_LENGTH: f64 = 0.052;

/// What a stack carries when the sheet of water on its wall fills a share of the bore, in cubic metres a second:
/// `q = 27.8 r^(5/3) d^(8/3)`, gallons a minute and inches.
///
/// The formula of the national standards bureau's work on stacks (NBS Monograph 31, 1961), as a lecture sheet on
/// waste piping repeats it.
///
/// # Errors
/// A bore that is not above zero, a share that is not above 0 and at most 1.
pub fn stack_capacity(bore: f64, sheet_share: f64) -> Result<f64, HydraulicsError> {
    let inches = positive("bore", bore)? / INCH;
    let sheet = share("sheet_share", sheet_share)?;
    Ok(STACK_CAPACITY * sheet.powf(5.0 / 3.0) * inches.powf(8.0 / 3.0) * GPM)
}

/// The velocity at which the sheet of water in a stack no longer gains speed, in metres a second:
/// `V = 3.0 (q/d)^(2/5)`, feet a second, gallons a minute and inches. Source as [`stack_capacity`].
///
/// # Errors
/// A figure that is not above zero.
pub fn stack_terminal_velocity(flow: f64, bore: f64) -> Result<f64, HydraulicsError> {
    let ratio = positive("flow", flow)? / GPM / (positive("bore", bore)? / INCH);
    Ok(TERMINAL_VELOCITY * ratio.powf(0.4) * FOOT)
}

/// The fall in which that velocity is reached, in metres: `L = 0.052 V^2`, feet and feet a second. Source as
/// [`stack_capacity`].
///
/// # Errors
/// A velocity that is not above zero.
pub fn stack_terminal_length(velocity: f64) -> Result<f64, HydraulicsError> {
    let velocity = positive("velocity", velocity)? / FOOT;
    Ok(TERMINAL_LENGTH * velocity * velocity * FOOT)
}

/// The chance that exactly `in_use` of `fixtures` discharge at once, each with the given chance by itself: the
/// binomial distribution, on which the fixture-unit method rests.
///
/// # Errors
/// A chance that is not above 0 and at most 1.
pub fn probability_of_simultaneous_use(
    fixtures: u32,
    in_use: u32,
    chance: f64,
) -> Result<f64, HydraulicsError> {
    let chance = share("chance", chance)?;
    if in_use > fixtures {
        return Ok(0.0);
    }
    // In logarithms, so that many fixtures do not overflow.
    let ways: f64 = (0..in_use)
        .map(|one| (f64::from(fixtures - one) / f64::from(one + 1)).ln())
        .sum();
    let idle = f64::from(fixtures - in_use);
    let rest = if idle == 0.0 {
        0.0
    } else {
        idle * (1.0 - chance).ln()
    };
    Ok((ways + f64::from(in_use) * chance.ln() + rest).exp())
}

/// The smallest number in use that is exceeded with at most the chance `risk`.
///
/// # Errors
/// Chances that are not above 0 and at most 1.
pub fn design_number(fixtures: u32, chance: f64, risk: f64) -> Result<u32, HydraulicsError> {
    let risk = share("risk", risk)?;
    let mut up_to = 0.0;
    for number in 0..fixtures {
        up_to += probability_of_simultaneous_use(fixtures, number, chance)?;
        if 1.0 - up_to <= risk {
            return Ok(number);
        }
    }
    Ok(fixtures)
}
