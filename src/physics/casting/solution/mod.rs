//! When and how a casting is integrated: from event to event, each time only what moves, explicitly or implicitly as
//! suits it.

mod air_balance;
mod course;
mod events;
mod integration;
mod lengths;
mod low_pressure;
mod moving_jacobian;
mod moving_part;
mod outcome;
mod pressure_state;
mod quasi_steady_air;
mod recorder;
mod regime_changes;
mod run;
mod sampled;
mod stepping_mode;
mod stiffness_check;
mod stopped;
#[cfg(test)]
mod tests;
mod twin;

use crate::error::Result;
use crate::model::{Casting, Cavity, FoamConstants, Run};
use crate::physics::accuracy::Accuracy;
use crate::physics::adiabatic_rise::free_rise_density;
use course::Course;
use lengths::with_layers;
pub use sampled::{Sampled, sampled};

/// Simulates one casting with its courses at `points` times from pour to demold.
///
/// # Errors
/// [`Error::Argument`] for settings no casting can have; [`Error::Casting`] where the foam does not fit, or gels or
/// fills the cavity before closing; [`Error::Integration`] where the integrator fails.
///
/// [`Error::Argument`]: crate::Error::Argument
/// [`Error::Casting`]: crate::Error::Casting
/// [`Error::Integration`]: crate::Error::Integration
pub fn simulate(
    foam: &FoamConstants,
    cavity: &Cavity,
    casting: &Casting,
    points: usize,
    accuracy: Accuracy,
) -> Result<Run> {
    let last = casting.demold_time;
    let times: Vec<f64> = (0..points).map(|i| last * i as f64 / (points.max(2) - 1) as f64).collect();
    let (phases, result, profile, trace) = with_layers!(cavity.layers, NODES => {
        let mut course = Course::<f64, NODES>::pour(foam, cavity, casting, &times, true, accuracy)?;
        course.run(casting)?;
        let phases = course.phases.clone();
        let (result, profile, _, trace) = course.finish();
        (phases, result, profile, trace)
    });
    let free_rise_density = free_rise_density(foam, casting.mix_temp, casting.ambient_pressure, accuracy)?;
    let packing_factor = result.density / free_rise_density;
    Ok(Run { result, free_rise_density, packing_factor, phases, trace: trace.unwrap_or_default(), profile })
}
