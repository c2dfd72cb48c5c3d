//! How short of nothing a mix starts whose reactions begin some time after it was poured.
//!
//! Catalysts take seconds to wake. The equations do not know the time, so the delay is a start short of zero turnover:
//! the one from which the reactions, without heat loss, come to zero turnover at the mix temperature in just that time.
//! It is found by going back from there for as long.

use super::kinetics::{BLOW, GEL, Kinetics, gelled, unblown};
use crate::error::{Error, Result};
use crate::numerics::Scalar;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::integrate::{Begin, System, Tolerance, integrate, shift};

/// Turnovers of both reactions.
const SIZE: usize = 2;

/// Turnovers and temperature (K) of what is poured at `mix_temp`, K, to this relative accuracy.
///
/// # Errors
/// [`Error::Integration`] for an induction that is too long for reactions that heat little or do not mind it.
pub fn poured<S: Scalar>(kinetics: &Kinetics<S>, mix_temp: S, relative: f64) -> Result<[S; 3]> {
    let back = Back { kinetics, mix_temp };
    let delay = kinetics.induction;
    let mut state = [S::zero(); SIZE];
    if delay.value() > 0.0 {
        let tolerance = Tolerance { relative, absolute: [0.1 * relative; SIZE], max_steps: 20_000 };
        let begin = Begin { time: S::zero(), state, step: delay.value() };
        let end = integrate::<DormandPrince, _, _, SIZE>(&back, begin, delay.value(), &tolerance, |_| ());
        state = end.map_err(|_| too_long(delay.value()))?.state;
    }
    let rate = back.rate(&state);
    let [blow, gel] = shift(&state, &rate, delay.tangent());
    let temp = back.temp(blow, gel);
    // Both reactions still go forward, from less than nothing and more than no temperature.
    let forward = rate.iter().all(|rate| rate.is_finite() && rate.value() <= 0.0);
    if forward && gel.value() > -1.0 && temp.value() > 0.0 {
        Ok([blow, gel, temp])
    } else {
        Err(too_long(delay.value()))
    }
}

fn too_long(delay: f64) -> Error {
    let reason = format!("an induction of {delay} s is longer than this mix, without its heat, takes to set");
    let suspect = "induction, gel_rate, gel_heat and gel_activation".into();
    Error::Integration { trial: None, time_s: 0.0, reason, suspect }
}

/// The reactions without heat loss, back in time.
struct Back<'a, S> {
    kinetics: &'a Kinetics<S>,
    mix_temp: S,
}

impl<S: Scalar> Back<'_, S> {
    fn temp(&self, blow: S, gel: S) -> S {
        self.kinetics.adiabatic_temp(self.mix_temp, S::one() - unblown(blow), gelled(gel))
    }
}

impl<S: Scalar> System<S, SIZE> for Back<'_, S> {
    fn rate(&self, &[blow, gel]: &[S; SIZE]) -> [S; SIZE] {
        let rate = self.kinetics.rate([blow, gel, self.temp(blow, gel)]);
        [-rate[BLOW], -rate[GEL]]
    }
}
