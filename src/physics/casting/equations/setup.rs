//! From a grade, a mold and settings to the equations of the casting.

use super::Equations;
use super::heat_path::HeatPath;
use super::layout::{Shared, State};
use super::parting_line::ClampedLine;
use super::placed_opening::{Outlet, PlacedOpening};
use super::regime::Regime;
use crate::model::{Casting, Cavity, FoamConstants, PartingLine, Vent};
use crate::numerics::Scalar;
use crate::physics::cavity::CavityLaw;
use crate::physics::gas::Gases;
use crate::physics::kinetics::Kinetics;
use crate::physics::opening::{Air, Duct, Opening};
use crate::physics::properties::GAS_CONSTANT;
use crate::physics::viscosity::Viscosity;

/// Share of the charge down to which what is lost is wanted to the same relative accuracy.
const LOST_SHARE: f64 = 1e-3;

/// The constants of a grade as it foams in this mold.
pub fn foam_within<S: Scalar>(cavity: &Cavity<S>, foam: &FoamConstants<S>) -> FoamConstants<S> {
    FoamConstants {
        gas_yield: foam.gas_yield * cavity.gas_retention,
        blow_rate: foam.blow_rate * cavity.rate_factor,
        gel_rate: foam.gel_rate * cavity.rate_factor,
        ..*foam
    }
}

impl<S: Scalar> Equations<S> {
    /// The equations of a casting that was just poured.
    pub fn new(foam: &FoamConstants<S>, cavity: &Cavity<S>, casting: &Casting<S>) -> Self {
        let openings = openings(cavity, casting);
        let kept = foam_within(cavity, foam);
        Equations {
            foam: kept,
            kinetics: Kinetics::new(&kept),
            viscosity: Viscosity::new(foam),
            gases: Gases::new(&kept, casting.ambient_pressure, casting.mix_temp),
            cavity: CavityLaw {
                volume: cavity.volume,
                stretch: cavity.stretch,
                ambient: casting.ambient_pressure,
                headspace_temp: casting.mold_temp,
            },
            air: Air::at(casting.mold_temp),
            poured: casting.charge - casting.left_in_cup,
            mix_temp: casting.mix_temp,
            clamped_area: cavity.projected_area,
            wall_area: cavity.wall_area,
            cooling: cavity.heat_transfer * cavity.wall_area / foam.heat_capacity,
            heat_path: HeatPath::new(cavity, foam),
            wall_temp: casting.mold_temp,
            regime: Regime::start(casting.leak.map(|l| (openings.len() - 1, l.start))),
            openings,
            parting_line: clamped_line(cavity, casting),
        }
    }

    /// What is of order one in each value of the state, in its unit.
    pub fn scale<const N: usize>(&self) -> State<f64, N> {
        let cavity = &self.cavity;
        let air = (cavity.ambient * cavity.volume / (cavity.headspace_temp * GAS_CONSTANT)).value();
        let mut scale = State::uniform([1.0, 1.0, 100.0], air);
        // What is lost is a small part of what was poured, and wanted to the same relative accuracy.
        scale[Shared::VentLoss] = LOST_SHARE * self.poured.value();
        scale[Shared::Flash] = scale[Shared::VentLoss];
        scale
    }
}

/// The vents that are not plugged, then the leak.
fn openings<S: Scalar>(cavity: &Cavity<S>, casting: &Casting<S>) -> Vec<PlacedOpening<S>> {
    let opening =
        |vents: &Vent<S>| Opening::of_vents(vents, cavity.discharge, casting.ambient_pressure, casting.mold_temp);
    let mut drilled = casting.drilled_vents(cavity).into_iter();
    let vents = cavity.vents.iter().map(|described| {
        let mut vents = *described;
        vents.drilled_mut().into_iter().zip(&mut drilled).for_each(|(own, now)| *own = now);
        PlacedOpening { opening: opening(&vents), at_fill: vents.at_fill, outlet: Outlet::Vent }
    });
    let leak = casting.leak.iter().map(|l| PlacedOpening {
        opening: opening(&Vent::hole(1, l.diameter, l.length, S::one())),
        at_fill: S::one(),
        outlet: Outlet::Flash,
    });
    vents.filter(|placed| !placed.opening.is_plugged()).chain(leak).collect()
}

/// The parting line under its clamp; none where a bolted mold has none that passes anything.
fn clamped_line<S: Scalar>(cavity: &Cavity<S>, casting: &Casting<S>) -> Option<ClampedLine<S>> {
    let clamp = casting.clamp_force.or(cavity.clamp_force);
    (cavity.parting_line.is_some() || clamp.is_some()).then(|| {
        let line = cavity.parting_line.unwrap_or_else(tight_line);
        let slot = Duct::slot(line.length, line.land, line.gap, cavity.discharge);
        let shut = Opening::Slot(slot.blunted(casting.ambient_pressure, casting.mold_temp));
        ClampedLine { line, shut, clamp, area: cavity.projected_area, discharge: cavity.discharge }
    })
}

/// A parting line that passes nothing: only the clamp is watched.
fn tight_line<S: Scalar>() -> PartingLine<S> {
    let one = S::one();
    PartingLine { length: one, land: one, gap: S::zero(), opening: S::zero(), at_fill: one }
}
