//! The pressure as a state of its own, in place of the air or the foam that decides it.

use crate::numerics::Scalar;
use crate::physics::casting::equations::layout::{Shared, State};
use crate::physics::casting::equations::{CavityState, Equations, unblown_of};
use crate::physics::properties::GAS_CONSTANT;

/// Time over which the pressure's gradient is followed as it turns, s.
const GRADIENT_STEP: f64 = 1e-5;

/// The value of the state that the pressure can replace: what leaves through the openings and so decides it.
pub fn decides_pressure<S: Scalar>(of: &Equations<S>) -> Option<Shared> {
    if of.regime.open {
        return None;
    }
    if of.regime.headspace && of.has_air_path() {
        return Some(Shared::HeadspaceAir);
    }
    let flows = !of.regime.gelled && of.regime.any_reached();
    flows.then_some(if of.vents_pass() { Shared::VentLoss } else { Shared::Flash })
}

/// What the state holds as `replaced`, the rest given, at this absolute pressure (Pa) and share of the gas that is not
/// made yet.
#[inline(always)]
pub fn at_pressure<S: Scalar, const N: usize>(
    of: &Equations<S>,
    y: &State<S, N>,
    replaced: Shared,
    pressure: S,
    unblown: &[S; N],
) -> S {
    let rt = of.cavity.headspace_temp * GAS_CONSTANT;
    if let Some(headspace) = of.regime.held_headspace {
        return pressure * headspace / rt;
    }
    let cavity = of.cavity.volume_at(pressure);
    if replaced == Shared::HeadspaceAir {
        return pressure * (cavity - of.contents(y, unblown).foam_volume(&of.gases, pressure)) / rt;
    }
    let of_a_kilogram = of.contents_of(y, unblown, S::one()).foam_volume(&of.gases, pressure);
    let mass = (cavity - y[Shared::HeadspaceAir] * rt / pressure) / of_a_kilogram;
    let other = if replaced == Shared::VentLoss { Shared::Flash } else { Shared::VentLoss };
    of.poured - mass - y[other]
}

/// How fast the pressure's gradient turns as the state moves: its Hessian times dy/dt, by central differences.
pub fn gradient_turning<S: Scalar, const N: usize>(
    of: &Equations<S>,
    y: &State<S, N>,
    now: &CavityState<S, N>,
) -> State<S, N> {
    let rate = of.rate_at(y, now);
    let climb = of.climb(y, now, &rate);
    let at = |by: f64| {
        let near = y.moved(&rate, S::constant(by));
        let pressure = now.pressure + climb * by;
        of.gradient(&near, &of.cavity_state_at(&near, pressure, unblown_of(&near)))
    };
    let (mut turning, before) = (at(GRADIENT_STEP), at(-GRADIENT_STEP));
    turning.add_scaled(S::constant(-1.0), &before);
    turning.map(|change| change / (2.0 * GRADIENT_STEP))
}
