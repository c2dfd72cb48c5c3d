//! A casting's equations as a user of risefit's public laws would write them for any integrator: one vent, no clamp.
//!
//! State: blowing and gelling conversion, temperature (K), headspace air (mol), foam lost through the vent (kg). Shares
//! the laws with risefit, and neither its integrators nor its account of phases.

use crate::Failure;
use risefit::model::VentKind;
use risefit::physics::cavity::{CavityLaw, Contents, Foam};
use risefit::physics::gas::{Gases, SPECIES_COUNT};
use risefit::physics::kinetics::{Kinetics, gelled, unblown, ungelled};
use risefit::physics::opening::{Duct, air_flow, foam_flow};
use risefit::physics::properties::{AIR_MOLAR_MASS, GAS_CONSTANT};
use risefit::physics::viscosity::Viscosity;
use risefit_bench::plain::Shot;

pub const SIZE: usize = 5;
pub const GEL: usize = 1;
pub const TEMP: usize = 2;
pub const HEAD: usize = 3;
pub const VENTED: usize = 4;

/// What is going on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Phase {
    Open,
    Rising,
    Filled,
    Set,
}

/// Phase, and whether CO2 has saturated the liquid.
#[derive(Clone, Copy, Debug)]
pub struct Regime {
    pub phase: Phase,
    pub saturated: bool,
}

/// The constants of one casting, set up once.
pub struct Equations {
    kinetics: Kinetics<f64>,
    viscosity: Viscosity<f64>,
    pub gas: Gases<f64>,
    pub room: CavityLaw<f64>,
    vent: Duct<f64>,
    pub poured: f64,
    cooling: f64,
    pub gel_conversion: f64,
}

impl Equations {
    /// # Errors
    /// On a vent that is no hole: these equations know no other law.
    pub fn new(shot: &Shot) -> Result<Self, Failure> {
        let (foam, cavity, casting) = (&shot.foam, &shot.cavity, &shot.casting);
        let vent = &cavity.vents[0];
        #[allow(irrefutable_let_patterns, reason = "a hole is the only kind of vent so far")]
        let VentKind::Hole { diameter, length } = vent.kind else {
            let found = vent.kind.row().name;
            return Err(format!("vents[0]: a {found}, but diffsol's equations expect a hole; give it a hole").into());
        };
        Ok(Equations {
            kinetics: Kinetics::new(foam),
            viscosity: Viscosity::new(foam),
            gas: Gases::new(foam, casting.ambient_pressure, casting.mix_temp),
            room: CavityLaw {
                volume: cavity.volume,
                stretch: cavity.stretch,
                ambient: casting.ambient_pressure,
                headspace_temp: casting.mold_temp,
            },
            vent: Duct::round(vent.count, diameter, length, cavity.discharge)
                .blunted(casting.ambient_pressure, casting.mold_temp),
            poured: casting.charge,
            cooling: cavity.heat_transfer * cavity.wall_area / foam.heat_capacity,
            gel_conversion: foam.gel_conversion,
        })
    }

    fn contents(&self, y: &[f64; SIZE], saturated: bool) -> Contents<f64> {
        Contents {
            foam: [Foam {
                mass: self.poured - y[VENTED],
                blown: 1.0 - unblown(y[0]),
                temp: y[TEMP],
                lost: 0.0,
                saturated: [saturated; SPECIES_COUNT],
            }],
            headspace: y[HEAD],
        }
    }

    /// Absolute pressure, Pa.
    pub fn pressure(&self, y: &[f64; SIZE], regime: Regime) -> f64 {
        if regime.phase == Phase::Open {
            return self.room.ambient;
        }
        self.room.pressure(&self.gas, &self.contents(y, regime.saturated))
    }

    /// Volume of the air ahead of the front in a mold at ambient pressure, m3.
    pub fn room_left(&self, y: &[f64; SIZE]) -> f64 {
        self.room.volume - self.gas.specific_volume(1.0 - unblown(y[0]), y[TEMP], self.room.ambient) * self.poured
    }

    /// Share of the cavity that foam fills.
    pub fn fill(&self, y: &[f64; SIZE], pressure: f64) -> f64 {
        1.0 - y[HEAD] * GAS_CONSTANT * self.room.headspace_temp / pressure / self.room.volume_at(pressure)
    }

    /// dy/dt.
    pub fn rate(&self, y: &[f64; SIZE], regime: Regime) -> [f64; SIZE] {
        let mass = self.poured - y[VENTED];
        let [blow, gel, heat] = self.kinetics.rate([y[0], y[GEL], y[TEMP]]);
        let mut out = [blow, gel, heat - self.cooling * (y[TEMP] - self.room.headspace_temp) / mass, 0.0, 0.0];
        match regime.phase {
            Phase::Open | Phase::Set => {}
            Phase::Rising => {
                let pressure = self.pressure(y, regime);
                let air = air_flow(&self.vent, pressure, self.room.ambient, self.room.headspace_temp);
                out[HEAD] = -air.rate / AIR_MOLAR_MASS;
            }
            Phase::Filled => {
                let pressure = self.pressure(y, regime);
                let viscosity = self.viscosity.value(gelled(y[GEL]), y[TEMP]);
                let density = mass / self.room.volume_at(pressure);
                out[VENTED] = foam_flow(&self.vent, pressure - self.room.ambient, density, viscosity).rate;
            }
        }
        out
    }

    /// The derivative of [`Equations::rate`] along `v`, exact.
    pub fn rate_along(&self, y: &[f64; SIZE], v: &[f64; SIZE], regime: Regime) -> [f64; SIZE] {
        let jacobian = self.jacobian(y, regime);
        jacobian.map(|row| row.iter().zip(v).map(|(j, v)| j * v).sum())
    }

    fn jacobian(&self, y: &[f64; SIZE], regime: Regime) -> [[f64; SIZE]; SIZE] {
        let mass = self.poured - y[VENTED];
        let mut out = [[0.0; SIZE]; SIZE];
        for (row, from) in out.iter_mut().zip(self.kinetics.jacobian([y[0], y[GEL], y[TEMP]])) {
            row[..3].copy_from_slice(&from);
        }
        let cooling = self.cooling / mass;
        out[TEMP][TEMP] -= cooling;
        out[TEMP][VENTED] -= cooling * (y[TEMP] - self.room.headspace_temp) / mass;
        if matches!(regime.phase, Phase::Open | Phase::Set) {
            return out;
        }
        let contents = self.contents(y, regime.saturated);
        let pressure = self.room.pressure(&self.gas, &contents);
        let p = self.room.slopes(&self.gas, &contents, pressure);
        let foam = p.foam[0];
        let by_state = [foam.by_blown * unblown(y[0]), 0.0, foam.by_temp, p.by_headspace, -foam.by_mass];
        if regime.phase == Phase::Rising {
            let air = air_flow(&self.vent, pressure, self.room.ambient, self.room.headspace_temp);
            out[HEAD] = by_state.map(|g| -g * air.by_pressure / AIR_MOLAR_MASS);
        } else {
            out[VENTED] = self.foam_slopes(y, pressure, &by_state, mass);
        }
        out
    }

    fn foam_slopes(&self, y: &[f64; SIZE], p: f64, by_state: &[f64; SIZE], mass: f64) -> [f64; SIZE] {
        let mu = self.viscosity.at(gelled(y[GEL]), y[TEMP]);
        let volume = self.room.volume_at(p);
        let flow = foam_flow(&self.vent, p - self.room.ambient, mass / volume, mu.value);
        let by_density = flow.rate * flow.by_log_density;
        let by_pressure = flow.by_pressure - by_density * self.room.volume * self.room.stretch / volume;
        let by_viscosity = flow.rate * flow.by_log_viscosity;
        let mut out = by_state.map(|g| g * by_pressure);
        out[TEMP] += by_viscosity * mu.by_temp;
        out[GEL] += by_viscosity * mu.by_conversion * ungelled(y[GEL]).powi(2);
        out[VENTED] -= by_density / mass;
        out
    }
}
