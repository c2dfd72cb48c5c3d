//! A cause with a size: how it changes a casting, and which sizes are believed. Sizes: common practice, no source.

use super::cause::Cause;
use crate::error::Result;
use crate::fit::parameter::{CastingSetup, Parameter};
use crate::numerics::Scalar;
use crate::physics::casting::{Accuracy, foam_within};
use crate::physics::cup::{CupTest, free_rise};
use crate::records::{Casting, Cavity, Leak, LeakStart};

/// Charge poured against charge written: standard deviation, as a share.
const CHARGE_SD: f64 = 0.06;
/// Standard deviations of temperatures that nobody looked at, K.
const MOLD_SD: f64 = 8.0;
const MIX_SD: f64 = 4.0;
/// Gas yield of another lot or ratio, and how much more its rates scatter than those of one lot.
const LOT_SD: f64 = 0.07;
const LOT_RATES: f64 = 3.0;
/// Mean delay of a late closing, and the longest looked at, s.
const LATE_MEAN: f64 = 15.0;
const LATEST: f64 = 75.0;
/// Spread of the logarithm of a wrong vent's diameter; steps between drills and the largest one looked at, m.
const VENT_SPREAD: f64 = 0.5;
const DRILL_STEP: f64 = 0.5e-3;
const DRILLS: usize = 30;
/// A drill within this share of the written vent is that vent.
const SAME_DRILL: f64 = 0.04;
/// Share of the written clamp force that still holds: from, to.
const CLAMP: (f64, f64) = (0.02, 0.95);
/// Diameters of a hole like the leak, m; how often it is open from the start, and else from which gauge pressures, Pa.
const LEAK: (f64, f64) = (0.5e-3, 10e-3);
const LEAK_AT_ONCE: f64 = 0.4;
const LEAK_FROM: (f64, f64) = (2e3, 80e3);
/// Length of a leak where the mold has no parting line, m.
const LEAK_LENGTH: f64 = 5e-3;
/// Foam that fits at closing, as a share of the cavity.
const FULL: f64 = 0.999;

/// A cause with a size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Suspicion {
    Nothing,
    /// Charge beyond the written one, kg.
    Charge(f64),
    /// A hole of this diameter (m) that opens at this gauge pressure, Pa.
    Leak {
        diameter: f64,
        gauge: f64,
    },
    /// Share of the clamp force.
    Clamp(f64),
    /// Vent diameters over the written ones.
    Vent(f64),
    /// Above the written temperature, K.
    MoldTemp(f64),
    MixTemp(f64),
    /// Closed this much later, s.
    Late(f64),
    /// Gas yield over the usual one.
    Lot(f64),
    /// Number of the reading that is wrong.
    Misread(usize),
}

/// A suspicion, and the logarithm of its probability among those of its cause.
pub(super) type Weighed = (Suspicion, f64);

impl Suspicion {
    /// Changes a casting at given constants accordingly; returns what spills as the mold is closed, kg.
    pub fn apply<S: Scalar>(&self, setup: &mut CastingSetup<S>) -> Result<S> {
        let casting = &mut setup.casting;
        match *self {
            Suspicion::Nothing | Suspicion::Misread(_) => {}
            Suspicion::Charge(by) => casting.charge += S::constant(by),
            Suspicion::Leak { diameter, gauge } => {
                let length = setup.cavity.parting_line.map_or(S::constant(LEAK_LENGTH), |line| line.land);
                let start = LeakStart::GaugePressure(gauge);
                let start = if gauge > 0.0 { start } else { LeakStart::Time(0.0) };
                casting.leak = Some(Leak { diameter: S::constant(diameter), length, start });
            }
            Suspicion::Clamp(share) => setup.set(Parameter::ClampEffect, S::constant(share)),
            Suspicion::Vent(ratio) => setup.set(Parameter::VentSize, S::constant(ratio)),
            Suspicion::MoldTemp(by) => casting.mold_temp += S::constant(by),
            Suspicion::MixTemp(by) => casting.mix_temp += S::constant(by),
            Suspicion::Lot(factor) => setup.foam.scale_gas(S::constant(factor)),
            Suspicion::Late(by) => {
                casting.closing_time += S::constant(by);
                return spill(setup);
            }
        }
        Ok(S::zero())
    }

    /// How much more than usual a casting's own differences scatter.
    pub fn widens(&self, parameter: Parameter) -> f64 {
        match (self, parameter) {
            (Suspicion::Lot(_), Parameter::BlowFactor | Parameter::GelFactor) => LOT_RATES,
            _ => 1.0,
        }
    }
}

/// Takes away what stands above the cavity as it is closed.
fn spill<S: Scalar>(setup: &mut CastingSetup<S>) -> Result<S> {
    let (cavity, casting) = (&setup.cavity, &mut setup.casting);
    let foam = setup.foam.constants();
    let foam = foam_within(cavity, &foam);
    let poured = casting.charge - casting.left_in_cup;
    let open = CupTest {
        mass: poured,
        mix_temp: casting.mix_temp,
        ambient_temp: casting.mold_temp,
        ambient_pressure: casting.ambient_pressure,
        heat_area: cavity.wall_area,
        heat_transfer: cavity.heat_transfer,
        core_cooling: S::one(),
        sensor_lag: S::constant(1.0),
    };
    let rise = free_rise(&foam, &open, &[casting.closing_time.value()], Accuracy { relative: 1e-5 })?;
    let fits = cavity.volume * FULL / rise.volume[0];
    if poured.value() <= fits.value() {
        return Ok(S::zero());
    }
    casting.charge = casting.left_in_cup + fits;
    Ok(poured - fits)
}

/// The sizes of a cause to look at in a casting with `readings` readings; none where the cause cannot be.
pub(super) fn suspicions(cause: Cause, casting: &Casting, cavity: &Cavity, readings: usize) -> Vec<Weighed> {
    let poured = casting.charge - casting.left_in_cup;
    let all = match cause {
        Cause::Scatter => vec![(Suspicion::Nothing, 0.0)],
        Cause::Charge => normal(41, CHARGE_SD * poured, Suspicion::Charge),
        Cause::MoldTemp => normal(31, MOLD_SD, Suspicion::MoldTemp),
        Cause::MixTemp => normal(31, MIX_SD, Suspicion::MixTemp),
        Cause::Lot => normal(27, LOT_SD, |by| Suspicion::Lot(by.exp())),
        Cause::LateClosing => late(),
        Cause::Vent => vents(casting, cavity),
        Cause::Clamp => clamps(casting, cavity),
        Cause::Leak => leaks(),
        Cause::Misread => (0..readings).map(|i| (Suspicion::Misread(i), 0.0)).collect(),
        Cause::Unknown => Vec::new(),
    };
    normalized(all)
}

/// Evenly spaced over three standard deviations either way.
fn normal(count: usize, sd: f64, of: impl Fn(f64) -> Suspicion) -> Vec<Weighed> {
    let at = |i: usize| 6.0 * i as f64 / (count - 1) as f64 - 3.0;
    (0..count).map(|i| (of(sd * at(i)), -0.5 * at(i).powi(2))).collect()
}

/// `count` sizes in equal steps of the logarithm.
fn geometric(count: usize, (from, to): (f64, f64)) -> impl Iterator<Item = f64> {
    (0..count).map(move |i| from * (to / from).powf(i as f64 / (count - 1) as f64))
}

fn late() -> Vec<Weighed> {
    let delays = (1..=25).map(|i| LATEST * f64::from(i) / 25.0);
    delays.map(|by| (Suspicion::Late(by), -by / LATE_MEAN)).collect()
}

fn vents(casting: &Casting, cavity: &Cavity) -> Vec<Weighed> {
    let own = cavity.vents.iter().map(|vent| vent.diameter);
    let written = casting.vent_diameters.iter().copied().chain(own).find(|d| *d > 0.0);
    let Some(written) = written.filter(|_| !cavity.vents.is_empty()) else { return Vec::new() };
    let ratios = (1..=DRILLS).map(|i| DRILL_STEP * i as f64 / written);
    let others = ratios.filter(|ratio| (ratio - 1.0).abs() > SAME_DRILL);
    others.map(|ratio| (Suspicion::Vent(ratio), -0.5 * (ratio.ln() / VENT_SPREAD).powi(2))).collect()
}

fn clamps(casting: &Casting, cavity: &Cavity) -> Vec<Weighed> {
    let opens = cavity.parting_line.is_some_and(|line| line.opening > 0.0);
    let is_clamped = casting.clamp_force.or(cavity.clamp_force).is_some_and(|force| force > 0.0);
    if !(opens && is_clamped) {
        return Vec::new();
    }
    geometric(24, CLAMP).map(|share| (Suspicion::Clamp(share), 0.0)).collect()
}

fn leaks() -> Vec<Weighed> {
    const FROM: usize = 6;
    let at_once = LEAK_AT_ONCE.ln();
    let later = ((1.0 - LEAK_AT_ONCE) / FROM as f64).ln();
    let gauges = [(0.0, at_once)].into_iter().chain(geometric(FROM, LEAK_FROM).map(move |gauge| (gauge, later)));
    gauges
        .flat_map(|(gauge, weight)| {
            geometric(11, LEAK).map(move |diameter| (Suspicion::Leak { diameter, gauge }, weight))
        })
        .collect()
}

fn normalized(mut all: Vec<Weighed>) -> Vec<Weighed> {
    let total = log_sum(all.iter().map(|(_, weight)| *weight));
    all.iter_mut().for_each(|(_, weight)| *weight -= total);
    all
}

/// Logarithm of the sum of exponentials; minus infinity of none.
pub(super) fn log_sum(logs: impl Iterator<Item = f64> + Clone) -> f64 {
    let largest = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    if largest == f64::NEG_INFINITY {
        return largest;
    }
    largest + logs.map(|x| (x - largest).exp()).sum::<f64>().ln()
}
