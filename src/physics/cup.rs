//! Free rise in a cup: volume, height and temperature over time, and the stopwatch times.
//!
//! v = 1/rho_l + (n_free + n_air) R T / p until the rise stops, then held, less what settles. An unconfined foam gives
//! way for some seconds after string gel; the rise stops at a conversion of its own. Foam insulates: the core, where
//! the sensor sits and string gel is tried, runs through the reactions nearly without loss, ahead of the mean that
//! makes the volume.

use super::accuracy::Accuracy;
use super::gas::{CO2, Gases};
use super::kinetics::{BLOW, GEL, Kinetics, REACTING, TEMP, at_rest, gelled, unblown, ungelled};
use super::limits;
use super::properties::GAS_CONSTANT;
use super::stall::{stalled, suspect_of_reactions};
use super::stopwatch::{CREAM_GROWTH, END_OF_RISE, SETTLE_TIME, START_TIME, STOP_TIME, TACK_FREE_CONVERSION};
use super::tack_free::Setting;
use crate::error::{Error, Result};
use crate::model::{Cup, FoamConstants};
use crate::numerics::Scalar;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::events::cross;
use crate::numerics::integrate::{Begin, Stall, System, Tolerance, integrate, shift};
use crate::numerics::segment::Segment;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Position of the temperature that the sensor shows in the state.
const SENSED: usize = 3;
/// Position of the core's two turnovers and temperature in the state.
const CORE: usize = 4;
const SIZE: usize = 7;
/// Shares of the time to the beginning and to the end of the rise over which they are rounded at most: a very fast foam
/// starts and stops sharply as well.
const START_ROUNDED: f64 = 0.1;
const STOP_ROUNDED: f64 = 0.02;
/// Below this lag, s, the sensor is taken to follow the straight line that the temperature runs along: T - lag dT/dt.
const LEAST_LAG: f64 = 0.3;

/// How a cup test is run, in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CupTest<S = f64> {
    /// Mass in the cup, kg.
    pub mass: S,
    /// Temperature of the mix at the end of mixing, K.
    pub mix_temp: S,
    /// Ambient temperature, K.
    pub ambient_temp: S,
    /// Absolute ambient pressure, Pa.
    pub ambient_pressure: S,
    /// Area through which the foam loses heat, m2.
    pub heat_area: S,
    /// Heat transfer from the foam to the surroundings, W/(m2 K).
    pub heat_transfer: S,
    /// Share of the mean loss of heat that the core feels, where string gel is tried and the sensor sits.
    pub core_heat_loss_factor: S,
    /// Time constant of the thermocouple, s.
    pub sensor_lag: S,
}

impl<S: Scalar> CupTest<S> {
    /// A kilogram that keeps its heat, mixed at `mix_temp` (K) under `ambient_pressure` (Pa, absolute), with a sensor
    /// that does not lag.
    pub fn insulated(mix_temp: S, ambient_pressure: S) -> Self {
        CupTest {
            mass: S::one(),
            mix_temp,
            ambient_temp: mix_temp,
            ambient_pressure,
            heat_area: S::zero(),
            heat_transfer: S::zero(),
            core_heat_loss_factor: S::one(),
            sensor_lag: S::zero(),
        }
    }
}

/// A free rise, read at given times. Volumes are per kilogram of mix.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FreeRise<S = f64> {
    /// Specific volume at the sample times, m3/kg; shape (n,).
    pub volume: Vec<S>,
    /// Temperature of the foam at the sample times, K; shape (n,).
    pub temp: Vec<S>,
    /// Temperature that the sensor shows at the sample times, K; shape (n,).
    pub sensed: Vec<S>,
    /// Cream time, s.
    pub cream_time: Option<S>,
    /// String gel time, s: from then on a confined foam no longer flows.
    pub gel_time: Option<S>,
    /// End of rise, s.
    pub end_of_rise: Option<S>,
    /// Tack-free time, s.
    pub tack_free: Option<S>,
    /// Density at the top of the rise, kg/m3.
    pub density: S,
    /// Highest temperature of the foam, K.
    pub peak_temp: S,
}

impl Cup {
    /// Height at which the cup holds this volume (m3), m.
    pub fn height_of<S: Scalar>(&self, volume: S) -> S {
        let (bottom, top) = (0.5 * self.bottom_diameter, 0.5 * self.top_diameter);
        let above = volume - self.volume_to(self.height);
        if above.value() > 0.0 {
            return above / (PI * top * top) + self.height;
        }
        let taper = (top - bottom) / self.height;
        if taper.abs() < 1e-9 {
            return volume / (PI * bottom * bottom);
        }
        let cube = volume * (3.0 * taper / PI) + bottom.powi(3);
        ((cube.ln() / 3.0).exp() - bottom) / taper
    }
}

/// Simulates a free rise and reads it at `times` (s, rising).
///
/// # Errors
/// [`Error::Argument`] for a test no one can run; [`Error::Integration`] where the integrator fails.
pub fn free_rise<S: Scalar>(
    foam: &FoamConstants<S>,
    test: &CupTest<S>,
    times: &[f64],
    accuracy: Accuracy,
) -> Result<FreeRise<S>> {
    limits::foam(foam)?;
    limits::positive("mass (kg)", test.mass.value(), false)?;
    limits::temperature("mix_temp", test.mix_temp.value())?;
    limits::temperature("ambient_temp", test.ambient_temp.value())?;
    limits::ambient(test.ambient_pressure.value())?;
    limits::positive("heat_area (m2)", test.heat_area.value(), true)?;
    limits::positive("heat_transfer (W/(m2 K))", test.heat_transfer.value(), true)?;
    limits::positive("core_heat_loss_factor", test.core_heat_loss_factor.value(), true)?;
    limits::positive("sensor_lag (s)", test.sensor_lag.value(), true)?;
    Beaker::new(foam, test).rise(times, accuracy)
}

/// Where the volume's course over time has a corner: the beginning or the end of an unconfined rise.
#[derive(Clone, Copy)]
struct Corner<S> {
    time: S,
    /// By how much the volume's speed changes there, m3/(kg s): from growing to settling, at the end.
    speed: S,
    /// Time within which it does, s.
    width: S,
}

impl<S: Scalar> Corner<S> {
    /// What the rounded corner lies off the sharp one, m3/kg: max(x, 0) becomes ln(1 + e^x), x in widths.
    fn rounding(&self, time: f64) -> S {
        let x = (self.time - time) / self.width;
        let away = if x.value() < 0.0 { x } else { -x };
        self.speed * (away.exp() + 1.0).ln() * self.width
    }
}

/// The shorter of a share of the time at which a corner lies and what a foam takes.
fn width<S: Scalar>(time: S, share: f64, most: f64) -> S {
    (time * share).min(S::constant(most))
}

struct Beaker<S> {
    kinetics: Kinetics<S>,
    gases: Gases<S>,
    gel_conversion: S,
    rise_end_conversion: S,
    settling: S,
    pressure: S,
    cooling: S,
    core_heat_loss_factor: S,
    ambient_temp: S,
    mix_temp: S,
    lag: S,
    dormant: bool,
    stopped: bool,
}

impl<S: Scalar> Beaker<S> {
    fn new(foam: &FoamConstants<S>, test: &CupTest<S>) -> Self {
        Beaker {
            kinetics: Kinetics::new(foam),
            gases: Gases::new(foam, test.ambient_pressure, test.mix_temp),
            gel_conversion: foam.gel_conversion,
            rise_end_conversion: foam.rise_end_conversion,
            settling: foam.settling,
            pressure: test.ambient_pressure,
            cooling: test.heat_transfer * test.heat_area / (test.mass * foam.heat_capacity),
            core_heat_loss_factor: test.core_heat_loss_factor,
            ambient_temp: test.ambient_temp,
            mix_temp: test.mix_temp,
            lag: test.sensor_lag,
            dormant: true,
            stopped: false,
        }
    }

    fn has_lag(&self) -> bool {
        self.lag.value() > LEAST_LAG
    }

    fn volume(&self, y: &[S; SIZE]) -> S {
        self.gases.specific_volume(S::one() - unblown(y[BLOW]), y[TEMP], self.pressure)
    }

    /// How fast the volume grows, m3/(kg s).
    fn rise_speed(&self, y: &[S; SIZE]) -> S {
        let (rate, short) = (self.rate(y), 1e-3);
        let after: [S; SIZE] = std::array::from_fn(|i| y[i] + rate[i] * short);
        (self.volume(&after) - self.volume(y)) / short
    }

    /// Integrates far enough to the end of the rise and past the last sample; long, for a cold and slow mix.
    fn rise(mut self, times: &[f64], accuracy: Accuracy) -> Result<FreeRise<S>> {
        let absolute = [1.0, 1.0, 100.0, 100.0, 1.0, 1.0, 100.0].map(|scale| 0.1 * accuracy.relative * scale);
        let tol = Tolerance { relative: accuracy.relative, absolute, max_steps: 20_000 };
        let last = times.last().copied().unwrap_or(0.0);
        let mut steps: Vec<Segment<S, SIZE>> = Vec::with_capacity(64);
        let horizon = last.max(7200.0);
        let begin = self.sleep(horizon, &tol, &mut steps)?;
        let rise =
            integrate::<DormandPrince, _, _, SIZE>(&self, begin, horizon, &tol, |s| steps.push(*s)).map_err(explain)?;
        let top = self.volume(&rise.state);
        let settling = top * self.settling / SETTLE_TIME;
        let stop = rise.event.map(|_| Corner {
            time: rise.time,
            speed: self.rise_speed(&rise.state) + settling,
            width: width(rise.time, STOP_ROUNDED, STOP_TIME),
        });
        self.stopped = true;
        let until = last.max(rise.time.value() * 3.0);
        let mut peak_temp = rise.state[CORE + TEMP];
        if stop.is_some() {
            let begin = Begin { time: rise.time, state: rise.state, step: rise.next_step };
            integrate::<DormandPrince, _, _, SIZE>(&self, begin, until, &tol, |s| steps.push(*s)).map_err(explain)?;
        }
        let tack_free = self.tack_free(&steps, horizon, accuracy)?;
        for step in &steps {
            peak_temp = peak_temp.max(step.to[CORE + TEMP]);
        }
        let bottom = self.gases.specific_volume(S::zero(), self.mix_temp, self.pressure);
        let level = |share: f64| bottom + (top - bottom) * share;
        let first = |what: &dyn Fn(&[S; SIZE]) -> S| first_time(&steps, what);
        let mut out = FreeRise {
            volume: Vec::with_capacity(times.len()),
            temp: Vec::with_capacity(times.len()),
            sensed: Vec::with_capacity(times.len()),
            cream_time: first(&|y| self.volume(y) - bottom * (1.0 + CREAM_GROWTH)),
            gel_time: first(&|y| gelled(y[CORE + GEL]) - self.gel_conversion),
            end_of_rise: first(&|y| self.volume(y) - level(END_OF_RISE)),
            tack_free,
            density: S::one() / top,
            peak_temp,
        };
        self.read(&steps, times, stop, top, &mut out);
        Ok(out)
    }

    /// When the mean is tack-free, however far the steps go.
    fn tack_free(&self, steps: &[Segment<S, SIZE>], horizon: f64, accuracy: Accuracy) -> Result<Option<S>> {
        let found = first_time(steps, &|y| gelled(y[GEL]) - TACK_FREE_CONVERSION);
        let (None, Some(last)) = (found, steps.last()) else { return Ok(found) };
        let state = std::array::from_fn(|i| last.to[i]);
        let begin = Begin { time: last.start + last.length, state, step: last.length };
        let (kinetics, cooling, ambient_temp) = (&self.kinetics, self.cooling, self.ambient_temp);
        Setting { kinetics, cooling, ambient_temp }.tack_free(begin, horizon, accuracy.relative).map_err(explain)
    }

    /// Integrates the mix until its catalysts wake up: where the rise begins.
    fn sleep(
        &mut self,
        horizon: f64,
        tolerance: &Tolerance<SIZE>,
        steps: &mut Vec<Segment<S, SIZE>>,
    ) -> Result<Begin<S, SIZE>> {
        let [blow, gel, temp] = at_rest(self.mix_temp);
        let begin = Begin { time: S::zero(), state: [blow, gel, temp, temp, blow, gel, temp], step: 0.1 };
        let woken = self.kinetics.induction.min(S::constant(horizon));
        let end = integrate::<DormandPrince, _, _, SIZE>(self, begin, woken.value(), tolerance, |s| steps.push(*s))
            .map_err(explain)?;
        let state = shift(&end.state, &self.rate(&end.state), woken.tangent());
        self.dormant = false;
        Ok(Begin { time: woken, state, step: 0.1 })
    }

    /// dy/dt of a mix that reacts or still sleeps.
    fn rate_of(&self, y: &[S; SIZE], reacts: bool) -> [S; SIZE] {
        let reactions = |first: usize| match reacts {
            true => self.kinetics.rate([y[first + BLOW], y[first + GEL], y[first + TEMP]]),
            false => [S::zero(); REACTING],
        };
        let [blow, gel, heat] = reactions(0);
        let sensed = if self.has_lag() { (y[CORE + TEMP] - y[SENSED]) / self.lag } else { S::zero() };
        let loss = |temp: S| self.cooling * (temp - self.ambient_temp);
        let [core_blow, core_gel, core_heat] = reactions(CORE);
        let core_loss = loss(y[CORE + TEMP]) * self.core_heat_loss_factor;
        [blow, gel, heat - loss(y[TEMP]), sensed, core_blow, core_gel, core_heat - core_loss]
    }

    /// Where CO2 begins to come out of the liquid.
    fn start(&self, steps: &[Segment<S, SIZE>]) -> Option<Corner<S>> {
        let excess = |y: &[S; SIZE]| self.gases.excess(CO2, S::one() - unblown(y[BLOW]), self.pressure);
        let time = first_time(steps, &excess)?;
        let step = steps.iter().find(|step| step.end() >= time.value())?;
        let y = step.at_time(time.value());
        let rate = self.rate(&y);
        let y = shift(&y, &rate, time.tangent());
        let short = 1e-3;
        let freed = (excess(&shift(&y, &self.rate(&y), S::constant(short))) - excess(&y)) / short;
        let speed = freed * y[TEMP] * GAS_CONSTANT / self.pressure;
        Some(Corner { time, speed, width: width(time, START_ROUNDED, START_TIME) })
    }

    fn read(&self, steps: &[Segment<S, SIZE>], times: &[f64], stop: Option<Corner<S>>, top: S, out: &mut FreeRise<S>) {
        let start = self.start(steps);
        let mut at = 0;
        for &time in times {
            while at + 1 < steps.len() && steps[at].end() < time {
                at += 1;
            }
            let y = steps[at].at_time(time);
            let volume = match stop {
                Some(stop) if time > stop.time.value() => {
                    let share = S::one() - ((stop.time - time) / SETTLE_TIME).exp();
                    top * (S::one() - self.settling * share)
                }
                _ => self.volume(&y),
            };
            let begun = start.map_or(volume, |start| volume + start.rounding(time));
            out.volume.push(stop.map_or(begun, |stop| begun - stop.rounding(time)));
            out.temp.push(y[TEMP]);
            out.sensed.push(if self.has_lag() {
                y[SENSED]
            } else {
                let reacts = time >= self.kinetics.induction.value();
                y[CORE + TEMP] - self.lag * self.rate_of(&y, reacts)[CORE + TEMP]
            });
        }
    }
}

/// The first time at which `what` rises through zero, with its derivatives.
fn first_time<S: Scalar>(steps: &[Segment<S, SIZE>], what: &dyn Fn(&[S; SIZE]) -> S) -> Option<S> {
    let step = steps.iter().find(|step| what(&step.to).value() >= 0.0)?;
    let value = |share: f64| what(&step.at(share)).value();
    if value(0.0) > 0.0 {
        return None;
    }
    let high = cross(value, (0.0, value(0.0)), (1.0, value(1.0)), 1e-12);
    let time = step.start.value() + high * step.length;
    let (a, b) = ((high - 1e-4).max(0.0), (high + 1e-4).min(1.0));
    let speed = (value(b) - value(a)) / ((b - a) * step.length);
    if speed <= 0.0 {
        return Some(S::constant(time));
    }
    Some(-(what(&step.at_time(time)).tangent() / speed) + time)
}

fn explain(stall: Stall) -> Error {
    stalled(&stall, suspect_of_reactions(stall.component).unwrap_or("sensor_lag"))
}

impl<S: Scalar> System<S, SIZE> for Beaker<S> {
    fn rate(&self, y: &[S; SIZE]) -> [S; SIZE] {
        self.rate_of(y, !self.dormant)
    }

    fn events(&self) -> usize {
        usize::from(!self.dormant && !self.stopped)
    }

    fn event(&self, _: usize, y: &[f64; SIZE]) -> f64 {
        gelled(y[GEL]) - self.rise_end_conversion.value()
    }

    fn event_exact(&self, _: usize, y: &[S; SIZE]) -> S {
        gelled(y[GEL]) - self.rise_end_conversion
    }

    fn is_monotone(&self, _: usize) -> bool {
        true
    }

    fn event_rate(&self, _: usize, y: &[S; SIZE], rate: &[S; SIZE]) -> f64 {
        rate[GEL].value() * ungelled(y[GEL].value()).powi(2)
    }
}
