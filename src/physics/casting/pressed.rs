//! The pressure as a state of its own, in place of the air or the foam that decides it.

use super::machine::{FLASHED, HEAD, Machine, Reading, State, VENTED};
use crate::numerics::Scalar;
use crate::physics::cavity::{Contents, Room};
use crate::physics::kinetics::{BLOW, unblown};
use crate::physics::properties::GAS_CONSTANT;

/// Time over which the pressure's gradient is watched as it turns, s.
const NUDGE: f64 = 1e-5;

impl<S: Scalar> Machine<S> {
    /// The place in the state for which the pressure can stand: what leaves through the openings and so decides it.
    pub fn decides_pressure(&self) -> Option<usize> {
        if self.regime.open {
            return None;
        }
        if self.regime.headspace && self.has_air_path() {
            return Some(HEAD);
        }
        let flows = !self.regime.gelled && self.regime.any_reached();
        flows.then_some(if self.vents_pass() { VENTED } else { FLASHED })
    }

    /// What the state holds at `place`, the rest given, at this absolute pressure (Pa) and share of the gas that is not made yet.
    #[inline(always)]
    pub fn at_pressure(&self, y: &State<S>, place: usize, pressure: S, unblown: S) -> S {
        let rt = self.room.headspace_temp * GAS_CONSTANT;
        if let Some(headspace) = self.regime.held {
            return pressure * headspace / rt;
        }
        let cavity = self.room.volume_at(pressure);
        let contents = self.contents(y, unblown);
        if place == HEAD {
            return pressure * (cavity - self.foam_volume(&contents, pressure)) / rt;
        }
        let of_a_kilogram = self.foam_volume(&Contents { mass: S::one(), ..contents }, pressure);
        let mass = (cavity - y[HEAD] * rt / pressure) / of_a_kilogram;
        let other = if place == VENTED { FLASHED } else { VENTED };
        self.poured - mass - y[other]
    }

    #[inline(always)]
    fn foam_volume(&self, contents: &Contents<S>, pressure: S) -> S {
        let gas = Room::free_gas(&self.gas, contents, pressure);
        contents.mass / self.gas.liquid_density + gas * contents.temp * GAS_CONSTANT / pressure
    }

    /// What is read in the closed cavity at a state with this absolute pressure (Pa).
    #[inline(always)]
    pub fn reading_at(&self, y: &State<S>, pressure: S, unblown: S) -> Reading<S> {
        let rt = self.room.headspace_temp * GAS_CONSTANT;
        let headspace = self.regime.held.unwrap_or_else(|| y[HEAD] * rt / pressure);
        Reading { pressure, headspace, cavity: self.room.volume_at(pressure), unblown }
    }

    /// How fast the pressure's gradient turns as the state moves: its Hessian times dy/dt, by central differences.
    pub fn turning(&self, y: &State<S>, now: &Reading<S>) -> State<S> {
        let rate = self.rate_at(y, now);
        let climb = self.climb(y, now, &rate);
        let at = |by: f64| {
            let near: State<S> = std::array::from_fn(|i| y[i] + rate[i] * by);
            let pressure = now.pressure + climb * by;
            self.gradient(&near, &self.reading_at(&near, pressure, unblown(near[BLOW])))
        };
        let (before, after) = (at(-NUDGE), at(NUDGE));
        std::array::from_fn(|i| (after[i] - before[i]) / (2.0 * NUDGE))
    }
}
