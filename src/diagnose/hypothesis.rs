//! A hypothesis: a cause with a size. How it changes a casting, and how large it is in the shop's terms.

use super::lid_leak::LidLeak;
use crate::error::Result;
use crate::fit::CastingSetup;
use crate::model::Parameter;
use crate::model::{Casting, Cavity, Effect, Leak, LeakStart};
use crate::numerics::Scalar;
use crate::physics::casting::{Accuracy, foam_within};
use crate::physics::cup::{CupTest, free_rise};

/// How much more the rates of another lot or ratio scatter than those of one lot. Common practice, no source.
const LOT_RATES: f64 = 3.0;
/// Length of a leak where the mold has no parting line, m. Common practice, no source.
const LEAK_LENGTH: f64 = 5e-3;
/// Foam that fits at closing, as a share of the cavity.
const FULL: f64 = 0.999;

/// A cause with a size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Hypothesis {
    /// Nothing happened.
    Ordinary,
    /// Charge beyond the written one, kg.
    Charge(f64),
    /// A hole of this diameter (m) that opens at this gauge pressure (Pa); foam loses gas through it in this time (s)
    /// after gel.
    Leak {
        diameter: f64,
        gauge: f64,
        gas_loss_time: f64,
    },
    /// The share of its force that the clamp held; gas beyond that leaves in this time (s) after gel.
    Clamp {
        share: f64,
        gas_loss_time: f64,
    },
    /// Vent diameters over the written ones.
    Vent(f64),
    /// Above the written temperature, K.
    MoldTemp(f64),
    MixTemp(f64),
    /// Closed this much later, s.
    LateClosing(f64),
    /// Gas yield over the usual one.
    Lot(f64),
    /// Number of the reading that is wrong.
    Misread(usize),
}

impl Hypothesis {
    /// Changes a casting at given constants accordingly; returns what spills as the mold is closed, kg.
    pub fn apply<S: Scalar>(&self, setup: &mut CastingSetup<S>) -> Result<S> {
        let casting = &mut setup.casting;
        match *self {
            Hypothesis::Ordinary | Hypothesis::Misread(_) => {}
            Hypothesis::Charge(by) => casting.charge += S::constant(by),
            Hypothesis::Leak { diameter, gauge, gas_loss_time } => {
                let length = setup.cavity.parting_line.map_or(S::constant(LEAK_LENGTH), |line| line.land);
                let start = LeakStart::GaugePressure(gauge);
                let start = if gauge > 0.0 { start } else { LeakStart::Time(0.0) };
                casting.leak = Some(Leak { diameter: S::constant(diameter), length, start });
                lose_gas(setup, gas_loss_time);
            }
            Hypothesis::Clamp { share, .. } => setup.set(Parameter::ClampEffect, S::constant(share)),
            Hypothesis::Vent(ratio) => setup.set(Parameter::VentSize, S::constant(ratio)),
            Hypothesis::MoldTemp(by) => casting.mold_temp += S::constant(by),
            Hypothesis::MixTemp(by) => casting.mix_temp += S::constant(by),
            Hypothesis::Lot(factor) => setup.foam.scale_gas(S::constant(factor)),
            Hypothesis::LateClosing(by) => {
                casting.closing_time += S::constant(by);
                return spill(setup);
            }
        }
        Ok(S::zero())
    }

    /// How large it is, SI, in a casting that is set up as without it and reaches this peak gauge pressure (Pa) with
    /// it.
    pub fn effects(&self, setup: &CastingSetup<f64>, gauge: f64) -> Vec<(Effect, f64)> {
        match *self {
            Hypothesis::Ordinary | Hypothesis::Misread(_) => Vec::new(),
            Hypothesis::Charge(by) => vec![(Effect::ChargeError, by)],
            Hypothesis::MoldTemp(by) => vec![(Effect::MoldTempError, by)],
            Hypothesis::MixTemp(by) => vec![(Effect::MixTempError, by)],
            Hypothesis::LateClosing(by) => vec![(Effect::ClosingDelay, by)],
            Hypothesis::Lot(factor) => vec![(Effect::GasChange, factor - 1.0)],
            Hypothesis::Vent(ratio) => {
                let written = widest_vent(&setup.casting, &setup.cavity).unwrap_or(0.0);
                vec![(Effect::Vent, ratio * written)]
            }
            Hypothesis::Clamp { share, .. } => clamp_effects(setup, share, gauge),
            Hypothesis::Leak { diameter, gauge, .. } => leak_effects(setup, diameter, gauge),
        }
    }

    /// Whether the mold is open where it should not be: how it then loses gas is known crudely.
    pub fn is_opening(&self) -> bool {
        matches!(self, Hypothesis::Leak { .. } | Hypothesis::Clamp { .. })
    }

    /// How the lid of a changed casting leaks after gel, if it does.
    pub fn lid_leak<S: Scalar>(&self, setup: &CastingSetup<S>) -> Option<LidLeak<S>> {
        match *self {
            Hypothesis::Clamp { gas_loss_time, .. } if gas_loss_time.is_finite() => {
                let force = setup.casting.clamp_force.or(setup.cavity.clamp_force)?;
                Some(LidLeak { holds: force / setup.cavity.projected_area, gas_loss_time })
            }
            _ => None,
        }
    }

    /// How much more than usual a casting's own differences scatter.
    pub fn widens(&self, parameter: Parameter) -> f64 {
        match (self, parameter) {
            (Hypothesis::Lot(_), Parameter::BlowFactor | Parameter::GelFactor) => LOT_RATES,
            _ => 1.0,
        }
    }
}

fn clamp_effects(setup: &CastingSetup<f64>, share: f64, gauge: f64) -> Vec<(Effect, f64)> {
    let held = share * setup.casting.clamp_force.or(setup.cavity.clamp_force).unwrap_or(0.0);
    let area = setup.cavity.projected_area;
    let opening = setup.cavity.parting_line.map_or(0.0, |line| line.opening);
    vec![
        (Effect::ClampHeld, held),
        (Effect::LidOpened, held / area),
        (Effect::Lift, opening * (gauge * area - held).max(0.0)),
    ]
}

fn leak_effects(setup: &CastingSetup<f64>, diameter: f64, gauge: f64) -> Vec<(Effect, f64)> {
    let mut out = vec![(Effect::LeakDiameter, diameter), (Effect::LeakOpened, gauge)];
    // A slot along the whole line that passes as much foam: w h^3 / 12 = pi d^4 / 128.
    let gap = |length: f64| (12.0 * std::f64::consts::PI * diameter.powi(4) / (128.0 * length)).cbrt();
    out.extend(setup.cavity.parting_line.map(|line| (Effect::Gap, gap(line.length))));
    out
}

/// Gas leaves through an opening after gel, if not already faster through the cells.
fn lose_gas<S: Scalar>(setup: &mut CastingSetup<S>, time: f64) {
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

/// Diameter of the widest vent of a casting that a shop can drill, m; `None` where there is none or all were plugged.
pub(super) fn widest_vent(casting: &Casting, cavity: &Cavity) -> Option<f64> {
    casting.drilled_vents(cavity).into_iter().reduce(f64::max).filter(|d| *d > 0.0)
}
