//! When a foam that has risen is tack-free: long after all else that a stopwatch is read for.

use super::kinetics::{GEL, Kinetics, REACTING, TEMP, gelled, ungelled};
use super::stopwatch::TACK_FREE_CONVERSION;
use crate::numerics::Scalar;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::integrate::{Begin, Stall, System, Tolerance, integrate};

/// The mean of a foam that sets in a cup.
pub struct Setting<'a, S> {
    pub kinetics: &'a Kinetics<S>,
    /// Share of the excess over the surroundings that it loses, 1/s.
    pub cooling: S,
    pub ambient_temp: S,
}

impl<S: Scalar> Setting<'_, S> {
    /// The time at which it is tack-free, s, if it is before `horizon`.
    ///
    /// # Errors
    /// A [`Stall`] where the integrator fails.
    pub fn tack_free(&self, from: Begin<S, REACTING>, horizon: f64, relative: f64) -> Result<Option<S>, Stall> {
        let absolute = [1.0, 1.0, 100.0].map(|scale| 0.1 * relative * scale);
        let tolerance = Tolerance { relative, absolute, max_steps: 20_000 };
        let end = integrate::<DormandPrince, _, _, REACTING>(self, from, horizon, &tolerance, |_| ())?;
        Ok(end.event.map(|_| end.time))
    }
}

impl<S: Scalar> System<S, REACTING> for Setting<'_, S> {
    fn rate(&self, y: &[S; REACTING]) -> [S; REACTING] {
        let [blow, gel, heat] = self.kinetics.rate(*y);
        [blow, gel, heat - self.cooling * (y[TEMP] - self.ambient_temp)]
    }

    fn events(&self) -> usize {
        1
    }

    fn event(&self, _: usize, y: &[f64; REACTING]) -> f64 {
        gelled(y[GEL]) - TACK_FREE_CONVERSION
    }

    fn event_exact(&self, _: usize, y: &[S; REACTING]) -> S {
        gelled(y[GEL]) - TACK_FREE_CONVERSION
    }

    fn is_monotone(&self, _: usize) -> bool {
        true
    }

    fn event_rate(&self, _: usize, y: &[S; REACTING], rate: &[S; REACTING]) -> f64 {
        rate[GEL].value() * ungelled(y[GEL].value()).powi(2)
    }
}
