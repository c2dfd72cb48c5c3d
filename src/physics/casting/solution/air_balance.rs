//! The headspace while it follows the rise without delay: air leaves as fast as the foam displaces it.
//!
//! For all but pin-hole vents the headspace relaxes in milliseconds while the rise takes seconds. Its pressure is then
//! that at which the openings pass what is displaced, less the short lag with which it follows: p = p0 - tau dp0/dt,
//! with tau = (dn_head/dp) / (dn_out/dp). What is left out is of order tau^2.

use crate::numerics::Scalar;
use crate::physics::casting::equations::layout::State;
use crate::physics::casting::equations::{CavityState, Equations};
use crate::physics::kinetics::{BLOW, TEMP};
use crate::physics::layers::{Layers, each_node, sum_over};
use crate::physics::properties::GAS_CONSTANT;

/// Newton steps within which the balance is found.
const MOST_NEWTON_STEPS: usize = 12;
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
const CLIMB_STEP: f64 = 1e-3;
/// Share of the pressure times how long it is off by that, s, up to which a start is too short to be seen.
const UNSEEN: f64 = 1e-3;
/// Share of the ambient pressure up to which nothing has built up yet.
const STARTS: f64 = 1e-4;

/// How many times Newton's step (Pa) leads from this gauge pressure (Pa), at which so much leaves, to where as much
/// leaves as is displaced, with what leaves as a power of the gauge pressure, between 1 (laminar) and 1/2 (orifice): to
/// second order.
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

/// Share of the gauge pressure at which a step to a balance is the last at this relative tolerance: what is left is its
/// square.
pub fn balance_tolerance(relative: f64) -> f64 {
    (BALANCED * relative).sqrt().max(LEAST_CLOSE)
}

/// A balance between displacement and outflow.
#[derive(Clone, Copy, Debug)]
pub struct Balance<S> {
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
pub struct Outflow {
    /// Absolute pressure, Pa.
    pub pressure: f64,
    /// Air that leaves, mol/s.
    rate: f64,
    /// Its derivative by the pressure, mol/(s Pa).
    slope: f64,
}

/// The cavity where the headspace follows the rise.
#[derive(Clone, Copy, Debug)]
pub struct Followed<S, const N: usize> {
    pub cavity: CavityState<S, N>,
    /// The balance without lag.
    pub balance: Outflow,
    /// How fast the balance climbs, Pa/s.
    climb: S,
    /// How far its pressure stays behind the balance, Pa: below zero where that falls.
    behind: S,
    /// Time with which it follows, s.
    lag: S,
}

impl<S: Scalar, const N: usize> Followed<S, N> {
    /// Where nothing can be followed.
    pub fn nothing() -> Self {
        let lost = S::constant(f64::NAN);
        let balance = Outflow { pressure: f64::NAN, rate: f64::NAN, slope: f64::NAN };
        Followed { cavity: CavityState::unknown(), balance, climb: lost, behind: lost, lag: lost }
    }

    /// The share of the pressure that the lag neglects, s.
    pub fn neglected(&self) -> f64 {
        (self.behind / self.cavity.pressure * self.lag).value().abs()
    }

    /// The pressure, Pa, and how fast it climbs, Pa/s, in values.
    pub fn climbs(&self) -> (f64, f64) {
        (self.cavity.pressure.value(), self.climb.value())
    }

    /// How far from this pressure (Pa) another one is, as a share.
    pub fn away(&self, pressure: f64) -> f64 {
        (self.cavity.pressure.value() / pressure - 1.0).abs()
    }

    /// Whether a headspace that starts at this pressure (Pa) comes to follow within `time` (s), up to a share of
    /// `limit`.
    pub fn settles(&self, pressure: f64, time: f64, limit: f64) -> bool {
        self.away(pressure) * (-time / self.lag.value()).exp() <= limit
    }

    /// Whether from this pressure it comes to follow so soon that nobody sees it: not as a peak, nor in samples. From
    /// ambient pressure, at which nobody looks, up to a fixed share of the pressure times seconds; else up to `most` of
    /// them.
    pub fn settles_unseen(&self, pressure: f64, ambient: f64, most: f64) -> bool {
        let starts = (pressure / ambient - 1.0).abs() <= STARTS;
        let most = if starts { UNSEEN } else { UNSEEN.min(most) };
        let falls = pressure > self.cavity.pressure.value();
        (falls || self.behind.value() >= 0.0) && self.away(pressure) * self.lag.value() <= most
    }
}

/// How a layer of foam is changing: what displaces the air.
#[derive(Clone, Copy)]
struct Growth<S> {
    mass: S,
    unblown: S,
    blown: S,
    temp: S,
    /// d blown / dt, 1/s, and dT/dt, K/s.
    blowing: S,
    warming: S,
    /// What dissolves of its free gases per absolute pressure, mol/(kg Pa), where the foam's volume is not held.
    henry: S,
}

impl<S: Scalar> Equations<S> {
    /// How foam grows in this state of its reactions and its heat, and their rates.
    #[inline(always)]
    fn growth<const N: usize>(&self, y: &State<S, N>) -> ([Growth<S>; N], State<S, N>) {
        let (mass, free) = (self.mass(y), self.free_state(y));
        let mut rates = State::zero();
        rates.nodes = each_node(|i| self.reaction_rate::<N>(&y.nodes[i], free.unblown[i], mass));
        self.add_conduction(y, &free, &mut rates);
        let foam = each_node(|i| Growth {
            mass: mass * Layers::<N>::NODES.share[i],
            unblown: free.unblown[i],
            blown: S::one() - free.unblown[i],
            temp: y.nodes[i][TEMP],
            blowing: rates.nodes[i][BLOW] * free.unblown[i],
            warming: rates.nodes[i][TEMP],
            henry: self.dissolving(i),
        });
        (foam, rates)
    }

    /// Displaced air in mol/s: the growth of the foam at constant pressure, times p / (R T_h).
    fn displaced<const N: usize>(&self, foam: &[Growth<S>; N], pressure: S) -> S {
        if self.regime.held_headspace.is_some() {
            return S::zero();
        }
        sum_over::<N, S>(|i| {
            let (foam, saturated) = (&foam[i], &self.regime.saturated[i]);
            let made = self.gases.made_by_blown(saturated);
            let free = self.gases.free(foam.blown, pressure, saturated);
            (made * foam.blowing * foam.temp + free * foam.warming) * foam.mass / self.cavity.headspace_temp
        })
    }

    /// The air that leaves at this pressure, Pa, or somewhat above ambient pressure.
    pub fn outflow(&self, pressure: S) -> Outflow {
        let pressure = pressure.max(self.cavity.ambient + LEAST_GUESS);
        let (rate, slope) = self.air_leaving(pressure);
        Outflow { pressure: pressure.value(), rate: rate.value(), slope: slope.value() }
    }

    /// What dissolves of a layer's free gases per absolute pressure, mol/(kg Pa), where the foam's volume is not held.
    #[inline(always)]
    fn dissolving(&self, layer: usize) -> S {
        let held = self.regime.held_headspace.is_some();
        if held { S::zero() } else { self.gases.henry(&self.regime.saturated[layer]) }
    }

    /// The balance without lag for this foam, found from one near by as closely as `close`; `None` where nothing lets
    /// the air out.
    fn balance<const N: usize>(&self, foam: &[Growth<S>; N], near: &Outflow, close: f64) -> Option<Balance<S>> {
        let cavity = &self.cavity;
        let by_pressure =
            sum_over::<N, S>(|i| -(foam[i].henry * foam[i].warming * foam[i].mass / cavity.headspace_temp));
        // The first step, in values, needs nothing that is not known.
        let first = self.displaced(foam, S::constant(near.pressure)).value();
        let gauge = near.pressure - cavity.ambient.value();
        let steep = near.slope - by_pressure.value();
        let newton = (first - near.rate) / steep;
        let ahead = newton * bend(gauge, near.rate, first, newton);
        // What leaves goes by the gauge pressure: that is what stands while the ambient pressure moves.
        let mut pressure = cavity.ambient + S::constant(gauge + if ahead.is_finite() { ahead } else { 0.0 });
        for _ in 0..MOST_NEWTON_STEPS {
            let (leaving, slope) = self.air_leaving(pressure);
            let steep = slope - by_pressure;
            if steep.value() <= 0.0 {
                return None;
            }
            let displaced = self.displaced(foam, pressure);
            let newton = (displaced - leaving) / steep;
            let gauge = (pressure - cavity.ambient).value();
            let step = newton * bend(gauge, leaving.value(), displaced.value(), newton.value());
            pressure += step;
            // The error is less than the square of this.
            if step.value().abs() <= close * gauge.abs() + CLOSEST * cavity.ambient.value() {
                let slope = slope.value();
                let rate = leaving.value() + slope * step.value();
                let outflow = Outflow { pressure: pressure.value(), rate, slope };
                return Some(Balance { pressure, outflow, steep, lag: self.air_capacity(foam, pressure) / steep });
            }
        }
        None
    }

    /// How much more air the headspace takes per pressure, mol/Pa.
    #[inline(always)]
    fn air_capacity<const N: usize>(&self, foam: &[Growth<S>; N], pressure: S) -> S {
        let cavity = &self.cavity;
        let growth = cavity.volume_at(pressure) + pressure * cavity.volume * cavity.stretch;
        let room_left = self.regime.held_headspace.unwrap_or_else(|| {
            let liquid = sum_over::<N, S>(|i| foam[i].mass / self.gases.liquid_density);
            growth - liquid + sum_over::<N, S>(|i| foam[i].henry * foam[i].mass * foam[i].temp) * GAS_CONSTANT
        });
        room_left / (cavity.headspace_temp * GAS_CONSTANT)
    }

    /// The cavity at a state in which the headspace follows the rise; `near`: a balance near by, found as closely as
    /// `close`.
    pub fn following<const N: usize>(&self, y: &State<S, N>, near: &Outflow, close: f64) -> Option<Followed<S, N>> {
        let (foam, rates) = self.growth(y);
        let here = self.balance(&foam, near, close)?;
        let mut soon = *y;
        let changes = rates.nodes.as_flattened();
        soon.nodes.as_flattened_mut().iter_mut().zip(changes).for_each(|(to, rate)| *to += *rate * CLIMB_STEP);
        let (ahead, _) = self.growth(&soon);
        // How fast the balance climbs: by the displacement's growth at this pressure, over the slope of the balance.
        let more = self.displaced(&ahead, here.pressure) - self.displaced(&foam, here.pressure);
        let climb = more / (here.steep * CLIMB_STEP);
        let behind = here.lag * climb;
        let pressure = here.pressure - behind;
        let cavity = self.cavity.volume_at(pressure);
        let unblown = each_node(|i| foam[i].unblown);
        let volume = match self.regime.held_headspace {
            Some(headspace) => cavity - headspace,
            None => self.free_volume(y, &unblown, self.mass(y), pressure),
        };
        let cavity = CavityState { pressure, headspace: cavity - volume, cavity, unblown };
        Some(Followed { cavity, balance: here.outflow, climb, behind, lag: here.lag })
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
