//! A cause with a size: how it changes a casting, and which sizes are believed. Sizes: common practice, no source.

use super::cause::Cause;
use super::relief::Relief;
use crate::error::Result;
use crate::fit::{CastingSetup, Parameter};
use crate::model::{Casting, Cavity, Leak, LeakStart};
use crate::numerics::Scalar;
use crate::physics::casting::{Accuracy, foam_within};
use crate::physics::cup::{CupTest, free_rise};

/// Charge poured against charge written: standard deviation, as a share.
const CHARGE_SD: f64 = 0.06;
/// Standard deviations of temperatures that nobody looked at, K.
const MOLD_SD: f64 = 8.0;
const MIX_SD: f64 = 4.0;
/// Gas yield of another lot or ratio, and how much more its rates scatter than those of one lot.
const LOT_SD: f64 = 0.07;
const LOT_RATES: f64 = 3.0;
/// Mean delay of a late closing, and the longest looked at, s.
const LATE_MEAN: f64 = 40.0;
const LATEST: f64 = 75.0;
/// Spread of the logarithm of a wrong vent's diameter; steps between drills and the largest one looked at, m.
const VENT_SPREAD: f64 = 0.5;
const DRILL_STEP: f64 = 0.5e-3;
const DRILLS: usize = 30;
/// A drill within this share of the written vent is that vent.
const SAME_DRILL: f64 = 0.04;
/// Smallest share of the written clamp force that still holds.
const LEAST_CLAMP: f64 = 0.02;
/// Diameters of a hole like the leak, m; how often it is open from the start, and else the smallest gauge pressure, Pa.
const LEAK: (f64, f64) = (0.5e-3, 10e-3);
const LEAK_AT_ONCE: f64 = 0.4;
const LEAK_FROM: f64 = 2e3;
/// After gel no foam passes an opening, but gas does: time constants in which the foam loses it, s. Infinite: it keeps it.
const SEEPS: [f64; 3] = [f64::INFINITY, 40.0, 12.0];
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
    /// A hole of this diameter (m) that opens at this gauge pressure (Pa), and seeps gas after gel.
    Leak {
        diameter: f64,
        gauge: f64,
        seep: f64,
    },
    /// Share of the clamp force, and how the gap seeps.
    Clamp {
        share: f64,
        seep: f64,
    },
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
            Suspicion::Leak { diameter, gauge, seep } => {
                let length = setup.cavity.parting_line.map_or(S::constant(LEAK_LENGTH), |line| line.land);
                let start = LeakStart::GaugePressure(gauge);
                let start = if gauge > 0.0 { start } else { LeakStart::Time(0.0) };
                casting.leak = Some(Leak { diameter: S::constant(diameter), length, start });
                self::seep(setup, seep);
            }
            Suspicion::Clamp { share, .. } => {
                setup.set(Parameter::ClampEffect, S::constant(share));
            }
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

    /// Whether the mold is open where it should not be: how it then loses gas is known crudely.
    pub fn is_opening(&self) -> bool {
        matches!(self, Suspicion::Leak { .. } | Suspicion::Clamp { .. })
    }

    /// How the lid of a changed casting relieves the pressure after gel, if it does.
    pub fn relief<S: Scalar>(&self, setup: &CastingSetup<S>) -> Option<Relief<S>> {
        match *self {
            Suspicion::Clamp { seep, .. } if seep.is_finite() => {
                let force = setup.casting.clamp_force.or(setup.cavity.clamp_force)?;
                Some(Relief { holds: force / setup.cavity.projected_area, seep })
            }
            _ => None,
        }
    }

    /// How much more than usual a casting's own differences scatter.
    pub fn widens(&self, parameter: Parameter) -> f64 {
        match (self, parameter) {
            (Suspicion::Lot(_), Parameter::BlowFactor | Parameter::GelFactor) => LOT_RATES,
            _ => 1.0,
        }
    }
}

/// Gas leaves through an opening after gel, if not already faster through the cells.
fn seep<S: Scalar>(setup: &mut CastingSetup<S>, time: f64) {
    if setup.foam.constants().cell_opening_time.value() > time {
        setup.set(Parameter::CellOpeningTime, S::constant(time));
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
        core_heat_loss_factor: S::one(),
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

/// The sizes of a cause to look at in a casting with `readings` readings that would reach the gauge pressure `reached` (Pa)
/// without it; none where the cause cannot be.
pub(super) fn suspicions(
    cause: Cause,
    casting: &Casting,
    cavity: &Cavity,
    readings: usize,
    reached: f64,
) -> Vec<Weighed> {
    let poured = casting.charge - casting.left_in_cup;
    let all = match cause {
        Cause::Scatter => vec![(Suspicion::Nothing, 0.0)],
        Cause::Charge => normal(41, CHARGE_SD * poured, Suspicion::Charge),
        Cause::MoldTemp => normal(31, MOLD_SD, Suspicion::MoldTemp),
        Cause::MixTemp => normal(31, MIX_SD, Suspicion::MixTemp),
        Cause::Lot => normal(27, LOT_SD, |by| Suspicion::Lot(by.exp())),
        Cause::LateClosing => late(casting),
        Cause::Vent => vents(casting, cavity),
        Cause::Clamp => clamps(casting, cavity, reached),
        Cause::Leak => leaks(reached),
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

/// A mold is closed before it is opened again.
fn late(casting: &Casting) -> Vec<Weighed> {
    let open = casting.demold_time - casting.closing_time;
    let delays = (1..=25).map(|i| LATEST * f64::from(i) / 25.0).filter(|by| *by < open);
    delays.map(|by| (Suspicion::Late(by), -by / LATE_MEAN)).collect()
}

/// Drills of the widest vent; the others are wrong by as much. None where all were plugged.
fn vents(casting: &Casting, cavity: &Cavity) -> Vec<Weighed> {
    let own = cavity.vents.iter().map(|vent| vent.diameter);
    let given = casting.vent_diameters.iter().copied();
    let widest = given.reduce(f64::max).or(own.reduce(f64::max));
    let Some(written) = widest.filter(|d| *d > 0.0) else { return Vec::new() };
    let ratios = (1..=DRILLS).map(|i| DRILL_STEP * i as f64 / written);
    let others = ratios.filter(|ratio| (ratio - 1.0).abs() > SAME_DRILL);
    others.map(|ratio| (Suspicion::Vent(ratio), -0.5 * (ratio.ln() / VENT_SPREAD).powi(2))).collect()
}

/// A clamp that holds more than the casting pushes is no cause.
fn clamps(casting: &Casting, cavity: &Cavity, reached: f64) -> Vec<Weighed> {
    let opens = cavity.parting_line.is_some_and(|line| line.opening > 0.0);
    let Some(force) = casting.clamp_force.or(cavity.clamp_force).filter(|force| opens && *force > 0.0) else {
        return Vec::new();
    };
    let most = (reached * cavity.projected_area / force).min(0.95);
    if most.is_nan() || most <= 0.0 {
        return Vec::new();
    }
    let least = LEAST_CLAMP.min(0.5 * most);
    let shares = geometric(16, (least, most));
    shares.flat_map(|share| SEEPS.map(|seep| (Suspicion::Clamp { share, seep }, 0.0))).collect()
}

fn leaks(reached: f64) -> Vec<Weighed> {
    const FROM: usize = 4;
    let later = ((1.0 - LEAK_AT_ONCE) / FROM as f64).ln();
    let from = geometric(FROM, (LEAK_FROM.min(0.5 * reached), 0.95 * reached)).map(|gauge| (gauge, later));
    let gauges: Vec<(f64, f64)> = [(0.0, LEAK_AT_ONCE.ln())].into_iter().chain(from).collect();
    let mut all = Vec::new();
    for diameter in geometric(10, LEAK) {
        for (gauge, weight) in &gauges {
            all.extend(SEEPS.map(|seep| (Suspicion::Leak { diameter, gauge: *gauge, seep }, *weight)));
        }
    }
    all
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::{Mold, read_trials};

    fn demo() -> (Casting, Cavity) {
        let trials = read_trials("data/trials/armrest.csv").expect("trials");
        (trials[2].casting.clone(), Mold::load("data/molds/armrest.toml").expect("a mold").cavity)
    }

    /// A casting that the simulation refuses would end the whole diagnosis.
    #[test]
    fn a_mold_is_not_closed_after_it_was_opened() {
        let (casting, cavity) = demo();
        let short = Casting { demold_time: casting.closing_time + 60.0, ..casting };
        let delays = suspicions(Cause::LateClosing, &short, &cavity, 3, 50e3);
        assert_eq!(delays.len(), 19);
        assert!(delays.iter().all(|(s, _)| matches!(s, Suspicion::Late(by) if *by < 60.0)), "{delays:?}");
        assert!(log_sum(delays.iter().map(|(_, weight)| *weight)).abs() < 1e-12);
    }

    #[test]
    fn a_clamp_that_nothing_pushes_did_not_give_way() {
        let (casting, cavity) = demo();
        assert_eq!(suspicions(Cause::Clamp, &casting, &cavity, 3, 50e3).len(), 48);
        for reached in [0.0, -5.0] {
            assert_eq!(suspicions(Cause::Clamp, &casting, &cavity, 3, reached), Vec::new());
        }
    }

    #[test]
    fn vents_are_drills_of_the_widest() {
        let (casting, mut cavity) = demo();
        cavity.vents.push(cavity.vents[0]);
        let two = Casting { vent_diameters: vec![2e-3, 4e-3], ..casting };
        let drills = suspicions(Cause::Vent, &two, &cavity, 3, 50e3);
        let steps = drills.iter().map(|(s, _)| match s {
            Suspicion::Vent(ratio) => ratio * 4e-3 / DRILL_STEP,
            _ => f64::NAN,
        });
        assert!(steps.clone().all(|n| (n - n.round()).abs() < 1e-9 && n < 30.5), "{:?}", steps.collect::<Vec<_>>());
        let plugged = Casting { vent_diameters: vec![0.0, 0.0], ..two };
        assert_eq!(suspicions(Cause::Vent, &plugged, &cavity, 3, 50e3), Vec::new());
    }
}
