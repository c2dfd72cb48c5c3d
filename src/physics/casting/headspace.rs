//! The headspace while it follows the rise without delay: air leaves as fast as the foam displaces it.
//!
//! For all but pin-hole vents the headspace relaxes in milliseconds while the rise takes seconds. Its pressure is then that
//! at which the openings pass what is displaced, less the short lag with which it follows: p = p0 - tau dp0/dt, with
//! tau = (dn_head/dp) / (dn_out/dp). What is left out is of order tau^2.

use super::machine::{Machine, Reading, SIZE, State};
use crate::numerics::Scalar;
use crate::physics::cavity::Pressure;
use crate::physics::kinetics::{BLOW, GEL, TEMP};
use crate::physics::properties::GAS_CONSTANT;

/// Newton steps within which the balance is found.
const ROUNDS: usize = 30;
/// Time over which dp0/dt is taken, s.
const NUDGE: f64 = 1e-3;

/// A balance between displacement and outflow.
#[derive(Clone, Copy, Debug)]
pub(super) struct Balance<S> {
    /// Absolute pressure, Pa.
    pub pressure: S,
    /// Time with which the headspace follows, s.
    pub lag: S,
}

impl<S: Scalar> Machine<S> {
    /// The balance without lag at this state, whose rates of reaction are `rate`; `None` where nothing lets the air out.
    pub fn balance(&self, y: &State<S>, rate: &State<S>) -> Option<Balance<S>> {
        let room = &self.room;
        let per_head = self.mass(y) / room.headspace_temp;
        // Displaced air in mol/s: the growth of the foam at constant pressure, times p / (R T_h).
        let displaced = |pressure: S| {
            let (free, making) = if self.regime.saturated {
                (self.gas.excess(y[BLOW], pressure), self.gas.yielded * rate[BLOW] * y[TEMP])
            } else {
                (S::zero(), S::zero())
            };
            (making + (free + self.gas.air) * rate[TEMP]) * per_head
        };
        let henry = if self.regime.saturated { self.gas.henry } else { S::zero() };
        let by_pressure = -(henry * rate[TEMP] * per_head);
        let mut pressure = room.ambient + S::constant(10.0);
        for _ in 0..ROUNDS {
            let (leaving, slope) = self.air_leaving(pressure);
            let steep = slope - by_pressure;
            if steep.value() <= 0.0 {
                return None;
            }
            let step = (displaced(pressure) - leaving) / steep;
            // The orifice law is a root: from below, Newton overshoots; the step back is bounded.
            let gauge = (pressure - room.ambient).value();
            let lowest = -0.8 * gauge.abs() - 1.0;
            pressure += if step.value() < lowest { S::constant(lowest) } else { step };
            if step.value().abs() <= 1e-12 * room.ambient.value() {
                let growth = room.volume_at(pressure) + pressure * room.volume * room.stretch;
                let capacity = (growth - self.mass(y) / self.gas.liquid_density
                    + henry * self.mass(y) * y[TEMP] * GAS_CONSTANT)
                    / (room.headspace_temp * GAS_CONSTANT);
                return Some(Balance { pressure, lag: capacity / steep });
            }
        }
        None
    }

    /// What is read at a state in which the headspace follows the rise, and the share of the pressure that its lag makes.
    pub fn following(&self, y: &State<S>) -> Option<(Reading<S>, f64)> {
        let rate = self.reaction_rate(y);
        let here = self.balance(y, &rate)?;
        let ahead: State<S> = std::array::from_fn(|i| y[i] + rate[i] * NUDGE);
        let there = self.balance(&ahead, &self.reaction_rate(&ahead))?;
        let climb = (there.pressure - here.pressure) / NUDGE;
        let pressure = here.pressure - here.lag * climb;
        let foam = self.gas.specific_volume(y[BLOW], y[TEMP], pressure) * self.mass(y);
        let cavity = self.room.volume_at(pressure);
        let neglected = (here.lag * climb / here.pressure).value().abs() * here.lag.value();
        Some((Reading { pressure: Pressure::constant(pressure), headspace: cavity - foam, cavity }, neglected))
    }

    /// What is read at a state, whose headspace `follows` the rise or not; not a number where it cannot follow.
    pub fn read(&self, y: &State<S>, follows: bool) -> Reading<S> {
        if !follows {
            return self.reading(y);
        }
        let lost = S::constant(f64::NAN);
        let nothing = Reading { pressure: Pressure::constant(lost), headspace: lost, cavity: lost };
        self.following(y).map_or(nothing, |(reading, _)| reading)
    }

    /// Share of the cavity that the foam would fill at ambient pressure.
    pub fn fill_at_ambient(&self, y: &State<S>) -> S {
        self.gas.specific_volume(y[BLOW], y[TEMP], self.room.ambient) * self.mass(y) / self.room.volume
    }

    /// The fastest rate that the reactions can reach, 1/s: that of the hottest mix.
    pub fn fastest_rate(&self) -> S {
        let hottest = self.kinetics.adiabatic_temp(self.mix_temp, S::one(), S::one()).max(self.wall_temp);
        let [blow, gel] = self.kinetics.speeds(hottest);
        blow + gel * 2.0
    }

    /// Time that gelling takes at this temperature, s: longer than with the heat to come.
    pub fn time_to_gel(&self, y: &State<S>) -> S {
        let [_, gel] = self.kinetics.speeds(y[TEMP]);
        let left = (self.foam.gel_conversion - y[GEL]).max(S::zero());
        left / ((S::one() - self.foam.gel_conversion) * gel)
    }

    /// Rates of the reactions and of the temperature alone.
    pub fn reaction_rate(&self, y: &State<S>) -> State<S> {
        let mut out = [S::zero(); SIZE];
        let [blow, gel, heat] = self.kinetics.rate([y[BLOW], y[GEL], y[TEMP]]);
        out[BLOW] = blow;
        out[GEL] = gel;
        out[TEMP] = heat - self.cooling * (y[TEMP] - self.wall_temp) / self.mass(y);
        out
    }
}
