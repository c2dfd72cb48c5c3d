//! The headspace while it follows the rise without delay: air leaves as fast as the foam displaces it.
//!
//! For all but pin-hole vents the headspace relaxes in milliseconds while the rise takes seconds. Its pressure is then that
//! at which the openings pass what is displaced, less the short lag with which it follows: p = p0 - tau dp0/dt, with
//! tau = (dn_head/dp) / (dn_out/dp). What is left out is of order tau^2.

use super::machine::{Machine, Reading, State};
use super::motion::REACTIONS;
use crate::numerics::Scalar;
use crate::physics::kinetics::{BLOW, GEL, TEMP, gelled, unblown};
use crate::physics::properties::GAS_CONSTANT;

/// Newton steps within which the balance is found.
const ROUNDS: usize = 12;
/// A step of this share of the ambient pressure is the last.
const CLOSEST: f64 = 1e-9;
/// Errors of balances in tolerated ones, and the least share of the gauge pressure at which a step is the last.
const BALANCED: f64 = 1e-2;
const LEAST_CLOSE: f64 = 3e-5;
/// A step goes at most this many times the gauge pressure, and 1 Pa, back.
const BACK: f64 = 0.8;
/// Share of the gauge pressure up to which a step does not bend.
const STRAIGHT: f64 = 1e-2;
/// Bounds of how many times Newton's step a power law asks for.
const BENDS: [f64; 2] = [0.5, 2.0];
/// A guess of less gauge pressure than this, Pa, says nothing.
const LEAST_GUESS: f64 = 10.0;
/// Time over which dp0/dt is taken, s.
const NUDGE: f64 = 1e-3;
/// Share of the pressure times how long it is off by that, s, up to which a start is too short to be seen.
const UNSEEN: f64 = 1e-3;
/// Share of the ambient pressure up to which nothing has built up yet.
const STARTS: f64 = 1e-4;

/// How many times Newton's step (Pa) leads from this gauge pressure (Pa), at which so much leaves, to where as much leaves as is
/// displaced, with what leaves as a power of the gauge pressure, between 1 (laminar) and 1/2 (orifice): to second order.
fn bend(gauge: f64, leaving: f64, displaced: f64, newton: f64) -> f64 {
    if newton.abs() <= STRAIGHT * gauge.abs() {
        return 1.0;
    }
    let lowest = -BACK * gauge.abs() - 1.0;
    let more = displaced / leaving - 1.0;
    let bend = if more > -1.0 { 1.0 + 0.5 * (newton / gauge - more) } else { 1.0 };
    let bend = if bend.is_finite() { bend.clamp(BENDS[0], BENDS[1]) } else { 1.0 };
    if bend * newton < lowest { lowest / newton } else { bend }
}

/// Share of the gauge pressure at which a step to a balance is the last at this relative tolerance: what is left is its square.
pub(super) fn close(relative: f64) -> f64 {
    (BALANCED * relative).sqrt().max(LEAST_CLOSE)
}

/// A balance between displacement and outflow.
#[derive(Clone, Copy, Debug)]
pub(super) struct Balance<S> {
    /// Absolute pressure, Pa.
    pressure: S,
    /// Air that leaves at that pressure.
    outflow: Outflow,
    /// How fast outflow less displacement grows with pressure, mol/(s Pa).
    steep: S,
    /// Time with which the headspace follows, s.
    lag: S,
}

/// How air leaves at a pressure, in values: what the next balance near by begins with.
#[derive(Clone, Copy, Debug)]
pub(super) struct Outflow {
    /// Absolute pressure, Pa.
    pub pressure: f64,
    /// Air that leaves, mol/s.
    rate: f64,
    /// Its derivative by the pressure, mol/(s Pa).
    slope: f64,
}

/// What is read where the headspace follows the rise.
#[derive(Clone, Copy, Debug)]
pub(super) struct Followed<S> {
    pub reading: Reading<S>,
    /// The balance without lag.
    pub balance: Outflow,
    /// How fast the balance climbs, Pa/s.
    climb: S,
    /// How far its pressure stays behind the balance, Pa: below zero where that falls.
    behind: S,
    /// Time with which it follows, s.
    lag: S,
}

impl<S: Scalar> Followed<S> {
    /// Where nothing can be followed.
    pub fn nothing() -> Self {
        let lost = S::constant(f64::NAN);
        let balance = Outflow { pressure: f64::NAN, rate: f64::NAN, slope: f64::NAN };
        Followed { reading: Reading::unknown(), balance, climb: lost, behind: lost, lag: lost }
    }

    /// The share of the pressure that the lag neglects, s.
    pub fn neglected(&self) -> f64 {
        (self.behind / self.reading.pressure * self.lag).value().abs()
    }

    /// The pressure, Pa, and how fast it climbs, Pa/s, in values.
    pub fn climbs(&self) -> (f64, f64) {
        (self.reading.pressure.value(), self.climb.value())
    }

    /// How far from this pressure (Pa) another one is, as a share.
    pub fn away(&self, pressure: f64) -> f64 {
        (self.reading.pressure.value() / pressure - 1.0).abs()
    }

    /// Whether a headspace that starts at this pressure (Pa) comes to follow within `time` (s), up to a share of `limit`.
    pub fn settles(&self, pressure: f64, time: f64, limit: f64) -> bool {
        self.away(pressure) * (-time / self.lag.value()).exp() <= limit
    }

    /// Whether from this pressure it comes to follow so soon that nobody sees it: not as a peak, nor in samples. From ambient
    /// pressure, at which nobody looks, up to a fixed share of the pressure times seconds; else up to `most` of them.
    pub fn settles_unseen(&self, pressure: f64, ambient: f64, most: f64) -> bool {
        let starts = (pressure / ambient - 1.0).abs() <= STARTS;
        let most = if starts { UNSEEN } else { UNSEEN.min(most) };
        let falls = pressure > self.reading.pressure.value();
        (falls || self.behind.value() >= 0.0) && self.away(pressure) * self.lag.value() <= most
    }
}

/// How the foam is changing: what displaces the air.
struct Growth<S> {
    mass: S,
    unblown: S,
    blown: S,
    temp: S,
    /// d blown / dt, 1/s, and dT/dt, K/s.
    blowing: S,
    warming: S,
}

impl<S: Scalar> Machine<S> {
    /// How foam of this mass (kg) grows in this state of its reactions, and their rate.
    fn growth(&self, y: &[S; 3], mass: S) -> (Growth<S>, [S; 3]) {
        let left = unblown(y[BLOW]);
        let rate = self.reaction_rate(y, left, mass);
        let foam = Growth {
            mass,
            unblown: left,
            blown: S::one() - left,
            temp: y[TEMP],
            blowing: rate[BLOW] * left,
            warming: rate[TEMP],
        };
        (foam, rate)
    }

    /// Displaced air in mol/s: the growth of the foam at constant pressure, times p / (R T_h).
    fn displaced(&self, foam: &Growth<S>, pressure: S) -> S {
        if self.regime.held.is_some() {
            return S::zero();
        }
        let (free, making) = if self.regime.saturated {
            (self.gas.excess(foam.blown, pressure), self.gas.yielded * foam.blowing * foam.temp)
        } else {
            (S::zero(), S::zero())
        };
        (making + (free + self.gas.air) * foam.warming) * foam.mass / self.room.headspace_temp
    }

    /// The air that leaves at this pressure, Pa, or somewhat above ambient pressure.
    pub fn outflow(&self, pressure: S) -> Outflow {
        let pressure = pressure.max(self.room.ambient + LEAST_GUESS);
        let (rate, slope) = self.air_leaving(pressure);
        Outflow { pressure: pressure.value(), rate: rate.value(), slope: slope.value() }
    }

    /// The balance without lag for this foam, found from one near by; `None` where nothing lets the air out.
    fn balance(&self, foam: &Growth<S>, near: &Outflow) -> Option<Balance<S>> {
        let room = &self.room;
        let dissolves = self.regime.saturated && self.regime.held.is_none();
        let henry = if dissolves { self.gas.henry } else { S::zero() };
        let by_pressure = -(henry * foam.warming * foam.mass / room.headspace_temp);
        // The first step, in values, needs nothing that is not known.
        let first = self.displaced(foam, S::constant(near.pressure)).value();
        let gauge = near.pressure - room.ambient.value();
        let steep = near.slope - by_pressure.value();
        let newton = (first - near.rate) / steep;
        let ahead = newton * bend(gauge, near.rate, first, newton);
        // What leaves goes by the gauge pressure: that is what stands while the ambient pressure moves.
        let mut pressure = room.ambient + S::constant(gauge + if ahead.is_finite() { ahead } else { 0.0 });
        for _ in 0..ROUNDS {
            let (leaving, slope) = self.air_leaving(pressure);
            let steep = slope - by_pressure;
            if steep.value() <= 0.0 {
                return None;
            }
            let displaced = self.displaced(foam, pressure);
            let newton = (displaced - leaving) / steep;
            let gauge = (pressure - room.ambient).value();
            let step = newton * bend(gauge, leaving.value(), displaced.value(), newton.value());
            pressure += step;
            // The error is less than the square of this.
            if step.value().abs() <= self.close * gauge.abs() + CLOSEST * room.ambient.value() {
                let growth = room.volume_at(pressure) + pressure * room.volume * room.stretch;
                let room_left = self.regime.held.unwrap_or_else(|| {
                    growth - foam.mass / self.gas.liquid_density + henry * foam.mass * foam.temp * GAS_CONSTANT
                });
                let capacity = room_left / (room.headspace_temp * GAS_CONSTANT);
                let slope = slope.value();
                let outflow =
                    Outflow { pressure: pressure.value(), rate: leaving.value() + slope * step.value(), slope };
                return Some(Balance { pressure, outflow, steep, lag: capacity / steep });
            }
        }
        None
    }

    /// What is read at a state in which the headspace follows the rise; `near`: a balance near by.
    pub fn following(&self, y: &State<S>, near: &Outflow) -> Option<Followed<S>> {
        let now = REACTIONS.map(|place| y[place]);
        let (foam, rate) = self.growth(&now, self.mass(y));
        let here = self.balance(&foam, near)?;
        let (ahead, _) = self.growth(&std::array::from_fn(|i| now[i] + rate[i] * NUDGE), foam.mass);
        // How fast the balance climbs: by the displacement's growth at this pressure, over the slope of the balance.
        let more = self.displaced(&ahead, here.pressure) - self.displaced(&foam, here.pressure);
        let climb = more / (here.steep * NUDGE);
        let behind = here.lag * climb;
        let pressure = here.pressure - behind;
        let cavity = self.room.volume_at(pressure);
        let volume = match self.regime.held {
            Some(headspace) => cavity - headspace,
            None => self.gas.specific_volume(foam.blown, foam.temp, pressure) * foam.mass,
        };
        let reading = Reading { pressure, headspace: cavity - volume, cavity, unblown: foam.unblown };
        Some(Followed { reading, balance: here.outflow, climb, behind, lag: here.lag })
    }

    /// Share of the cavity that the foam would fill at ambient pressure.
    pub fn fill_at_ambient(&self, y: &State<S>) -> S {
        let blown = S::one() - unblown(y[BLOW]);
        self.gas.specific_volume(blown, y[TEMP], self.room.ambient) * self.mass(y) / self.room.volume
    }

    /// Time that gelling takes at this temperature, s: longer than with the heat to come.
    pub fn time_to_gel(&self, y: &State<S>) -> S {
        let [_, gel] = self.kinetics.speeds(y[TEMP]);
        let left = (self.foam.gel_conversion - gelled(y[GEL])).max(S::zero());
        left / ((S::one() - self.foam.gel_conversion) * gel)
    }

    /// Rates of both turnovers and of the temperature, with this share of the gas unmade, for this mass of foam.
    #[inline(always)]
    pub fn reaction_rate(&self, y: &[S; 3], unblown: S, mass: S) -> [S; 3] {
        let [blow, gel, heat] = self.kinetics.rate_with(y, unblown);
        [blow, gel, heat - self.cooling * (y[TEMP] - self.wall_temp) / mass]
    }

    /// Derivatives of those rates.
    pub fn reaction_jacobian(&self, y: &State<S>) -> [[S; 3]; 3] {
        let mut by = self.kinetics.jacobian([y[BLOW], y[GEL], y[TEMP]]);
        by[TEMP][TEMP] -= self.cooling / self.mass(y);
        by
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where one step leads from this gauge pressure, if what leaves is `gauge^power` and `displaced` is displaced.
    fn step(gauge: f64, power: f64, displaced: f64) -> f64 {
        let leaving = gauge.powf(power);
        let newton = (displaced - leaving) / (power * leaving / gauge);
        gauge + newton * bend(gauge, leaving, displaced, newton)
    }

    #[test]
    fn laminar_and_orifice_laws_are_met_in_one_step_and_laws_between_in_few() {
        for there in [20.0_f64, 90.0, 110.0, 190.0] {
            assert!((step(100.0, 1.0, there) - there).abs() < 1e-9);
            assert!((step(100.0, 0.5, there.sqrt()) - there).abs() < 1e-9);
            let between = (0..3).fold(100.0, |gauge, _| step(gauge, 0.7, there.powf(0.7)));
            assert!((between / there - 1.0).abs() < 1e-9, "{between} for {there}");
        }
    }

    #[test]
    fn no_step_goes_back_beyond_the_ambient_pressure_by_more_than_a_pascal() {
        for (gauge, displaced) in [(1000.0, 1e-9), (1000.0, 0.0), (5.0, -3.0), (-2.0, -300.0), (1e-6, -1.0)] {
            for newton in [-1e9, -1.0, -1e-9] {
                assert!(newton * bend(gauge, 3.0, displaced, newton) >= -BACK * gauge.abs() - 1.0 - 1e-9);
            }
        }
    }
}
