//! The density of a free rise without loss of heat: what a casting's density is compared with.

use super::accuracy::Accuracy;
use super::gas::Gases;
use super::kinetics::{BLOW, GEL, Kinetics, TEMP, at_rest, gelled, unblown, ungelled};
use super::limits;
use super::stall::{stalled, suspect_of_reactions};
use crate::error::Result;
use crate::model::FoamConstants;
use crate::numerics::Scalar;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::integrate::{Begin, System, Tolerance, integrate};

const SIZE: usize = 3;
/// Time after which a foam that has not set counts as done, s.
const HORIZON: f64 = 7200.0;

/// Free-rise density (kg/m3) of a foam that keeps its heat, mixed at `mix_temp` (K) under `ambient_pressure` (Pa,
/// absolute).
///
/// # Errors
/// [`crate::Error::Argument`] for a foam or settings no one can have; [`crate::Error::Integration`] where the
/// integrator fails.
pub fn free_rise_density<S: Scalar>(
    foam: &FoamConstants<S>,
    mix_temp: S,
    ambient_pressure: S,
    accuracy: Accuracy,
) -> Result<S> {
    limits::foam(foam)?;
    limits::temperature("mix_temp", mix_temp.value())?;
    limits::ambient(ambient_pressure.value())?;
    let rise = Rise { kinetics: Kinetics::new(foam), stop: foam.rise_end_conversion };
    let absolute = [1.0, 1.0, 100.0].map(|scale| 0.1 * accuracy.relative * scale);
    let tolerance = Tolerance { relative: accuracy.relative, absolute, max_steps: 20_000 };
    // However long nothing happens first.
    let begin = Begin { time: S::zero(), state: at_rest(mix_temp), step: 0.1 };
    let end = integrate::<DormandPrince, _, _, SIZE>(&rise, begin, HORIZON, &tolerance, |_| ())
        .map_err(|stall| stalled(&stall, suspect_of_reactions(stall.component).unwrap_or_default()))?;
    let gases = Gases::new(foam, ambient_pressure, mix_temp);
    Ok(S::one() / gases.specific_volume(S::one() - unblown(end.state[BLOW]), end.state[TEMP], ambient_pressure))
}

/// The reactions, until the foam carries itself.
struct Rise<S> {
    kinetics: Kinetics<S>,
    stop: S,
}

impl<S: Scalar> System<S, SIZE> for Rise<S> {
    fn rate(&self, y: &[S; SIZE]) -> [S; SIZE] {
        self.kinetics.rate(*y)
    }

    fn events(&self) -> usize {
        1
    }

    fn event(&self, _: usize, y: &[f64; SIZE]) -> f64 {
        gelled(y[GEL]) - self.stop.value()
    }

    fn event_exact(&self, _: usize, y: &[S; SIZE]) -> S {
        gelled(y[GEL]) - self.stop
    }

    fn is_monotone(&self, _: usize) -> bool {
        true
    }

    fn event_rate(&self, _: usize, y: &[S; SIZE], rate: &[S; SIZE]) -> f64 {
        rate[GEL].value() * ungelled(y[GEL].value()).powi(2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::Dual;
    use crate::physics::cup::{CupTest, free_rise};

    #[test]
    fn it_is_that_of_a_cup_that_keeps_its_heat() {
        let foam = FoamConstants { induction: 1.5, competition: 0.7, ..FoamConstants::default() };
        for (mix_temp, ambient_pressure) in [(283.0, 101_325.0), (296.0, 80_000.0), (308.0, 101_325.0)] {
            let cup = CupTest::insulated(mix_temp, ambient_pressure);
            let fine = Accuracy { relative: 1e-9 };
            let in_cup = free_rise(&foam, &cup, &[], fine).expect("a rise").density;
            let alone = free_rise_density(&foam, mix_temp, ambient_pressure, fine).expect("a rise");
            assert!((alone / in_cup - 1.0).abs() < 1e-8, "{alone} {in_cup}");
        }
    }

    #[test]
    fn its_slope_is_exact() {
        let foam = FoamConstants::default();
        let fine = Accuracy { relative: 1e-10 };
        let at = |temp: f64| free_rise_density(&foam, temp, 101_325.0, fine).expect("a rise");
        let by_difference = (8.0 * (at(297.0) - at(295.0)) - (at(298.0) - at(294.0))) / 12.0;
        let lifted = foam.map(<Dual<1> as Scalar>::constant);
        let temp = Dual::<1>::seeded(296.0, 0, 1.0);
        let exact =
            free_rise_density(&lifted, temp, <Dual<1> as Scalar>::constant(101_325.0), fine).expect("a rise").slope[0];
        assert!((exact / by_difference - 1.0).abs() < 1e-6, "{exact} {by_difference}");
    }
}
