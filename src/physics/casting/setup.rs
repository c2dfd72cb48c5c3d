//! From a grade, a cavity and settings to the machine that runs them, and what its numbers are measured against.

use super::course::Accuracy;
use super::headspace::close;
use super::machine::{FLASHED, HEAD, LOST, Machine, Outlet, Port, SIZE, Seam, VENTED};
use super::regime::Regime;
use crate::model::{Casting, Cavity, FoamConstants, PartingLine};
use crate::numerics::Scalar;
use crate::numerics::integrate::Tolerance;
use crate::physics::cavity::Room;
use crate::physics::gas::Gas;
use crate::physics::kinetics::{BLOW, GEL, Kinetics, TEMP};
use crate::physics::properties::GAS_CONSTANT;
use crate::physics::venting::{Air, Opening};
use crate::physics::viscosity::Viscosity;

/// Share of the charge down to which what is lost is wanted to the same relative accuracy.
const LOST_SHARE: f64 = 1e-3;

/// The constants of a grade as it foams in this mold.
pub(crate) fn foam_within<S: Scalar>(cavity: &Cavity<S>, foam: &FoamConstants<S>) -> FoamConstants<S> {
    FoamConstants {
        gas_yield: foam.gas_yield * cavity.gas_retention,
        blow_rate: foam.blow_rate * cavity.rate_factor,
        gel_rate: foam.gel_rate * cavity.rate_factor,
        ..*foam
    }
}

pub(super) fn build<S: Scalar>(
    foam: &FoamConstants<S>,
    cavity: &Cavity<S>,
    casting: &Casting<S>,
    accuracy: Accuracy,
) -> Machine<S> {
    let diameter = |i: usize, own: S| match casting.vent_diameters[..] {
        [] => own,
        [one] => one,
        _ => casting.vent_diameters[i],
    };
    let blunt = |opening: Opening<S>| opening.blunted(casting.ambient_pressure, casting.mold_temp);
    let vents = cavity.vents.iter().enumerate().map(|(i, v)| Port {
        opening: blunt(Opening::round(v.count, diameter(i, v.diameter), v.length, cavity.discharge)),
        at_fill: v.at_fill,
        outlet: Outlet::Vent,
    });
    let leak = casting.leak.iter().map(|l| Port {
        opening: blunt(Opening::round(1, l.diameter, l.length, cavity.discharge)),
        at_fill: S::one(),
        outlet: Outlet::Seam,
    });
    let ports: Vec<_> = vents.filter(|port| port.opening.area.value() > 0.0).chain(leak).collect();
    let clamp = casting.clamp_force.or(cavity.clamp_force);
    let seam = (cavity.parting_line.is_some() || clamp.is_some()).then(|| {
        let line = cavity.parting_line.unwrap_or_else(tight_line);
        let shut = blunt(Opening::slot(line.length, line.land, line.gap, cavity.discharge));
        Seam { line, shut, clamp, area: cavity.projected_area, discharge: cavity.discharge }
    });
    let kept = foam_within(cavity, foam);
    Machine {
        foam: kept,
        kinetics: Kinetics::new(&kept),
        viscosity: Viscosity::new(foam),
        gas: Gas::new(&kept, casting.ambient_pressure, casting.mix_temp),
        room: Room {
            volume: cavity.volume,
            stretch: cavity.stretch,
            ambient: casting.ambient_pressure,
            headspace_temp: casting.mold_temp,
        },
        air: Air::at(casting.mold_temp),
        poured: casting.charge - casting.left_in_cup,
        mix_temp: casting.mix_temp,
        clamped_area: cavity.projected_area,
        cooling: cavity.heat_transfer * cavity.wall_area / foam.heat_capacity,
        wall_temp: casting.mold_temp,
        regime: Regime::start(casting.leak.map(|l| (ports.len() - 1, l.start))),
        ports,
        seam,
        close: close(accuracy.relative),
    }
}

/// A parting line that passes nothing: only the clamp is watched.
fn tight_line<S: Scalar>() -> PartingLine<S> {
    let one = S::one();
    PartingLine { length: one, land: one, gap: S::zero(), opening: S::zero(), at_fill: one }
}

pub(super) fn tolerance<S: Scalar>(machine: &Machine<S>, accuracy: Accuracy) -> Tolerance<SIZE> {
    let mut scale = [0.0; SIZE];
    let room = &machine.room;
    let air = (room.ambient * room.volume / (room.headspace_temp * GAS_CONSTANT)).value();
    (scale[BLOW], scale[GEL], scale[TEMP]) = (1.0, 1.0, 100.0);
    (scale[HEAD], scale[LOST]) = (air, air);
    // What is lost is a small part of what was poured, and wanted to the same relative accuracy.
    (scale[VENTED], scale[FLASHED]) = (LOST_SHARE * machine.poured.value(), LOST_SHARE * machine.poured.value());
    let absolute = scale.map(|s| 0.1 * accuracy.relative * s);
    Tolerance { relative: accuracy.relative, absolute, max_steps: 20_000 }
}
