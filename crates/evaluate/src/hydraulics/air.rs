//! Air that falling water draws along, and what friction in a vent takes from it.
//!
//! It knows no allowable loss: that is a code's own.

use super::{GRAVITY, HydraulicsError, WATER_WEIGHT, positive, result, share, stack_capacity};

/// Weight of a cubic metre of air, in newtons: 0.075 lb/ft3, as an article on venting gives it for 68.4 degrees
/// Fahrenheit, at standard gravity (1 lb = 0.453 592 37 kg, 1 ft = 0.3048 m).
pub const AIR_WEIGHT: f64 = 0.075 * 0.453_592_37 / (0.3048 * 0.3048 * 0.3048) * GRAVITY;

/// The share of a stack's bore that the sheet of water fills when it carries `flow` at terminal velocity: the
/// inverse of [`stack_capacity`], `r = (q / (27.8 d^(8/3)))^(3/5)`, with its units and source.
///
/// # Errors
/// A figure that is not above zero; more flow than a stack filled with water would carry by that formula.
pub fn sheet_fraction_at_flow(bore: f64, flow: f64) -> Result<f64, HydraulicsError> {
    let flow = positive("flow", flow)?;
    let capacity = stack_capacity(bore, 1.0)?;
    if flow > capacity {
        return Err(HydraulicsError::ExceedsCapacity { capacity });
    }
    result("sheet_fraction", (flow / capacity).powf(0.6))
}

/// Flow of the air that a sheet of water draws down a stack when both move alike, `q (1-r)/r`, in the unit of
/// `flow`.
///
/// `q` is `flow`, `r` is `sheet_fraction`, area of the sheet over area of the bore. Source: continuity, air and water
/// at one velocity; published ratios are far larger for short falls and many inlets.
///
/// # Errors
/// A flow that is not above zero, a share that is not above 0 and under 1.
pub fn air_drawn(flow: f64, sheet_fraction: f64) -> Result<f64, HydraulicsError> {
    let flow = positive("flow", flow)?;
    let sheet = share("sheet_fraction", sheet_fraction)?;
    result("air flow", flow * (1.0 - sheet) / sheet)
}

/// What friction takes from air flowing through a vent, as a head of water in metres:
/// `h = f L/D V^2/2g` of air, times the weight of air over that of water.
///
/// `L` is `length` and `D` is `bore` in metres, `f` is `friction`, `V` is `air_flow` (cubic metres a second) over the
/// area of the bore, `g` is [`GRAVITY`], the weights [`AIR_WEIGHT`] and [`WATER_WEIGHT`]. Source: the formula of
/// Darcy; in feet, inches and gallons a minute it is `L = 2229 d^5/(f q^2)` for a head of one inch of water.
///
/// # Errors
/// A figure that is not above zero, a head out of range.
pub fn vent_air_loss(length: f64, bore: f64, friction: f64, air_flow: f64) -> Result<f64, HydraulicsError> {
    let length = positive("length", length)?;
    let bore = positive("bore", bore)?;
    let friction = positive("friction", friction)?;
    let area = std::f64::consts::PI * bore * bore / 4.0;
    let velocity = result("velocity", positive("air_flow", air_flow)? / area)?;
    let head_of_air = friction * length / bore * velocity * velocity / (2.0 * GRAVITY);
    result("head", head_of_air * AIR_WEIGHT / WATER_WEIGHT)
}
