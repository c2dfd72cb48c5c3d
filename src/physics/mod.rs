//! The rise and pressure model: reactions and heat, gas, free rise in a cup, and a casting through all its phases.
//! SI units; pressures absolute unless named gauge.

pub mod cavity;
pub mod conductivity;
pub mod gas;
pub mod kinetics;
pub mod layers;
pub mod opening;
#[cfg(feature = "internals")]
pub mod packing;
pub mod properties;
pub mod recipe;
pub mod viscosity;

pub mod adiabatic_rise;
pub mod cup;
pub mod cup_settings;
pub mod stopwatch;
mod tack_free;

pub mod casting;

mod accuracy;
mod limits;
pub mod scale;
mod stall;
