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
mod stepping_mode;
mod stiffness_check;
mod stopped;
#[cfg(test)]
mod tests;
mod twin;

use crate::error::Result;
use crate::model::{Casting, CastingResult, Cavity, FoamConstants, Run};
use crate::numerics::Scalar;
use crate::physics::accuracy::Accuracy;
use crate::physics::adiabatic_rise::free_rise_density;
use course::Course;
use lengths::with_layers;

/// A casting read at given times, with derivatives.
#[derive(Clone, Debug)]
pub struct Sampled<S> {
    /// Outcome quantities.
    pub result: CastingResult<S>,
    /// Gauge pressure at the sample times, Pa; shape (n,).
    pub pressure: Vec<S>,
    /// Mean temperature of the foam at the sample times, K; shape (n,).
    pub temp: Vec<S>,
}

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
    let (phases, result, trace) = with_layers!(cavity.layers, NODES => {
        let mut course = Course::<f64, NODES>::pour(foam, cavity, casting, &times, true, accuracy)?;
        course.run(casting)?;
        let phases = course.phases.clone();
        let (result, _, trace) = course.finish();
        (phases, result, trace)
    });
    let free_rise_density = free_rise_density(foam, casting.mix_temp, casting.ambient_pressure, accuracy)?;
    let packing_factor = result.density / free_rise_density;
    Ok(Run { result, free_rise_density, packing_factor, phases, trace: trace.unwrap_or_default() })
}

/// Runs one casting and reads it at `times` (s, rising), in numbers that may carry derivatives.
///
/// # Errors
/// As [`simulate`].
pub fn sampled<S: Scalar>(
    foam: &FoamConstants<S>,
    cavity: &Cavity<S>,
    casting: &Casting<S>,
    times: &[f64],
    accuracy: Accuracy,
) -> Result<Sampled<S>> {
    with_layers!(cavity.layers, NODES => {
        let mut course = Course::<S, NODES>::pour(foam, cavity, casting, times, false, accuracy)?;
        course.run(casting)?;
        Ok(course.sampled())
    })
}
