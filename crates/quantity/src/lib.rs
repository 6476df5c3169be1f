//! Exact quantities of drain, waste and vent piping, parsed from and printed in trade notation.
//!
//! Everything a verdict can rest on is a whole number of small units or a ratio of two; floating point appears
//! only where a function's name or documentation says so.
//!
//! ```
//! use crownweir_quantity::{Length, Slope};
//! let arm: Length = "7 ft 6-1/2 in".parse()?;
//! let slope: Slope = "1/4 in/ft".parse()?;
//! assert_eq!(slope.fall_over("8 ft".parse()?), Some("2 in".parse()?));
//! assert_ne!(slope, "2 %".parse()?);
//! assert_eq!(arm.to_string(), "7 ft 6-1/2 in");
//! # Ok::<(), crownweir_quantity::QuantityError>(())
//! ```
#![forbid(unsafe_code)]

mod angle;
mod bearing;
mod error;
mod length;
mod load;
mod measure;
mod motion;
mod notation;
mod number;
#[cfg(feature = "schema")]
pub mod schema;
mod size;
mod slope;
mod text;

pub use angle::Angle;
pub use bearing::{Bearing, Heading, Turn};
pub use error::QuantityError;
pub use length::{InNotation, Length};
pub use load::{LoadUnit, StatedLoad};
pub use measure::{Flow, Load, Period, Temperature, Volume};
pub use motion::{Ratio, Velocity, Viscosity};
pub use notation::{Notation, Rounding};
pub use size::{NominalSize, SizeSystem};
pub use slope::{Slope, SlopeInNotation};
pub use text::acts_on_text;
