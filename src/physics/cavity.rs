//! Pressure in the closed cavity, in closed form.
//!
//! p = (n_cell R T + n_head R T_h) / (V - m/rho_l + k R T) with k = S m the gas that dissolves per pressure; where the cavity
//! stretches, V = V0 (1 + kappa (p - pa)), a quadratic in p.

use super::gas::Gas;
use super::properties::GAS_CONSTANT;
use crate::numerics::Scalar;

/// What stands in the cavity.
#[derive(Clone, Copy, Debug)]
pub struct Contents<S> {
    /// Mass of foam, kg.
    pub mass: S,
    /// Blowing conversion.
    pub blown: S,
    /// Temperature of the foam, K.
    pub temp: S,
    /// Air in the headspace, mol.
    pub headspace: S,
    /// Gas lost from opened cells, mol.
    pub lost: S,
    /// Whether CO2 has saturated the liquid: only then is any of it free.
    pub saturated: bool,
}

/// The room that contents share, and the gas law's constants.
#[derive(Clone, Copy, Debug)]
pub struct Room<S> {
    /// Volume at ambient pressure, m3.
    pub volume: S,
    /// Relative growth per gauge pressure, 1/Pa.
    pub stretch: S,
    /// Absolute ambient pressure, Pa.
    pub ambient: S,
    /// Temperature of the headspace, K.
    pub headspace_temp: S,
}

/// A pressure and its derivatives by the contents.
#[derive(Clone, Copy, Debug)]
pub struct Pressure<S> {
    /// Absolute pressure, Pa.
    pub value: S,
    /// By blowing conversion, Pa.
    pub by_blown: S,
    /// By temperature, Pa/K.
    pub by_temp: S,
    /// By the air in the headspace, Pa/mol.
    pub by_headspace: S,
    /// By the mass of foam, Pa/kg.
    pub by_mass: S,
    /// By the gas lost, Pa/mol.
    pub by_lost: S,
}

impl<S: Scalar> Pressure<S> {
    /// A pressure that does not depend on the contents.
    pub fn constant(value: S) -> Self {
        let z = S::zero();
        Pressure { value, by_blown: z, by_temp: z, by_headspace: z, by_mass: z, by_lost: z }
    }
}

impl<S: Scalar> Room<S> {
    /// Moles of gas in the cells per kilogram, without what dissolves under pressure and what was lost.
    fn cell_gas(gas: &Gas<S>, c: &Contents<S>) -> S {
        if c.saturated { gas.yielded * c.blown + gas.air } else { gas.air }
    }

    /// Gas that is free in the cells at this pressure, mol.
    pub fn free_gas(gas: &Gas<S>, c: &Contents<S>, pressure: S) -> S {
        let dissolved = if c.saturated { gas.henry * pressure } else { S::zero() };
        (Self::cell_gas(gas, c) - dissolved) * c.mass - c.lost
    }

    /// The absolute pressure at which the contents fit into the room.
    pub fn pressure(&self, gas: &Gas<S>, c: &Contents<S>) -> Pressure<S> {
        let r = GAS_CONSTANT;
        let per_kg = Self::cell_gas(gas, c);
        let henry = if c.saturated { gas.henry } else { S::zero() };
        let moles = per_kg * c.mass - c.lost;
        let drive = (moles * c.temp + c.headspace * self.headspace_temp) * r;
        let give = self.volume * self.stretch;
        let slack_per_kg = henry * c.temp * r - S::one() / gas.liquid_density;
        let space = self.volume - give * self.ambient + slack_per_kg * c.mass;
        let root = (space * space + give * drive * 4.0).sqrt();
        let value = drive * 2.0 / (space + root);
        let per = S::one() / root;
        Pressure {
            value,
            by_blown: if c.saturated { gas.yielded * c.mass * c.temp * r * per } else { S::zero() },
            by_temp: (moles - value * henry * c.mass) * r * per,
            by_headspace: self.headspace_temp * r * per,
            by_mass: (per_kg * c.temp * r - value * slack_per_kg) * per,
            by_lost: -(c.temp * r * per),
        }
    }

    /// Volume of the cavity at this pressure, m3.
    pub fn volume_at(&self, pressure: S) -> S {
        self.volume * (S::one() + self.stretch * (pressure - self.ambient))
    }
}
