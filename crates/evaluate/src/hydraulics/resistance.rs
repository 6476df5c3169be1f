//! What resists the flow in a partly full drain: one type for the formulas, so that a rule set can choose.
//!
//! It holds no roughness of its own.

use super::{
    HydraulicsError, PartFullCircle, colebrook_white_flow, depth_below, depth_of_greatest_flow, manning_flow,
    positive, result,
};

/// A formula of flow with its roughness.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Resistance {
    /// The Manning formula: see [`super::manning_velocity`].
    Manning {
        /// Manning's `n`, in the unit of the SI form.
        roughness: f64,
    },
    /// The formula of Colebrook and White: see [`super::colebrook_white_flow`].
    ColebrookWhite {
        /// Roughness of the wall, in metres.
        wall_roughness: f64,
        /// Kinematic viscosity, in square metres a second.
        kinematic_viscosity: f64,
    },
}

impl Resistance {
    /// Flow in a bore (metres) at a slope (fall over run), filled to a depth ratio, in cubic metres a second.
    ///
    /// # Errors
    /// As the formula's own function.
    pub fn flow(self, bore: f64, slope: f64, depth_ratio: f64) -> Result<f64, HydraulicsError> {
        match self {
            Self::Manning { roughness } => manning_flow(bore, slope, roughness, depth_ratio),
            Self::ColebrookWhite {
                wall_roughness,
                kinematic_viscosity,
            } => colebrook_white_flow(bore, slope, depth_ratio, wall_roughness, kinematic_viscosity),
        }
    }

    /// Mean velocity of that flow, `V = Q/A`, in metres a second.
    ///
    /// # Errors
    /// As [`Self::flow`].
    pub fn velocity(self, bore: f64, slope: f64, depth_ratio: f64) -> Result<f64, HydraulicsError> {
        let area = PartFullCircle::at_depth(bore, depth_ratio)?.area;
        result("velocity", self.flow(bore, slope, depth_ratio)? / area)
    }

    /// The depth ratio at which the bore carries `flow` (cubic metres a second): the inverse of [`Self::flow`], by
    /// bisection between empty and the depth of the greatest Manning flow, about 0.938.
    ///
    /// By the formula of Colebrook and White the greatest flow lies a little deeper or, in a very rough bore, a little
    /// less deep. What is more than the flow at this depth counts as too much, so that there is one root.
    ///
    /// # Errors
    /// Figures that are not above zero, and more flow than the bore carries.
    pub fn depth_ratio_at_flow(self, bore: f64, slope: f64, flow: f64) -> Result<f64, HydraulicsError> {
        let flow = positive("flow", flow)?;
        let deepest = depth_of_greatest_flow();
        let capacity = self.flow(bore, slope, deepest)?;
        depth_below(deepest, capacity, flow, |ratio| self.flow(bore, slope, ratio))
    }
}
