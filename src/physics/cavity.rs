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

/// Derivatives of the pressure by the contents.
#[derive(Clone, Copy, Debug)]
pub struct Slopes<S> {
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

/// The quadratic that the pressure solves: give p^2 + space p = drive.
struct Quadratic<S> {
    /// Gas in the cells per kilogram, and all of it, mol.
    per_kg: S,
    moles: S,
    /// What dissolves per pressure, mol/(kg Pa), and the volume that a kilogram takes for that and as liquid, m3/kg.
    henry: S,
    slack_per_kg: S,
    drive: S,
    /// Root of the discriminant, m3.
    root: S,
    space: S,
}

impl<S: Scalar> Room<S> {
    /// Moles of gas in the cells per kilogram, without what dissolves under pressure and what was lost.
    #[inline(always)]
    fn cell_gas(gas: &Gas<S>, c: &Contents<S>) -> S {
        if c.saturated { gas.yielded * c.blown + gas.air } else { gas.air }
    }

    /// Gas that is free in the cells at this pressure, mol.
    #[inline(always)]
    pub fn free_gas(gas: &Gas<S>, c: &Contents<S>, pressure: S) -> S {
        let dissolved = if c.saturated { gas.henry * pressure } else { S::zero() };
        (Self::cell_gas(gas, c) - dissolved) * c.mass - c.lost
    }

    #[inline(always)]
    fn quadratic(&self, gas: &Gas<S>, c: &Contents<S>) -> Quadratic<S> {
        let r = GAS_CONSTANT;
        let per_kg = Self::cell_gas(gas, c);
        let henry = if c.saturated { gas.henry } else { S::zero() };
        let moles = per_kg * c.mass - c.lost;
        let drive = (moles * c.temp + c.headspace * self.headspace_temp) * r;
        let slack_per_kg = henry * c.temp * r - S::one() / gas.liquid_density;
        if self.is_rigid() {
            let space = self.volume + slack_per_kg * c.mass;
            return Quadratic { per_kg, moles, henry, slack_per_kg, drive, root: space, space };
        }
        let give = self.volume * self.stretch;
        let space = self.volume - give * self.ambient + slack_per_kg * c.mass;
        let root = (space * space + give * drive * 4.0).sqrt();
        Quadratic { per_kg, moles, henry, slack_per_kg, drive, root, space }
    }

    #[inline]
    fn is_rigid(&self) -> bool {
        self.stretch.value() == 0.0 && self.stretch.derivatives().iter().all(|d| *d == 0.0)
    }

    /// The absolute pressure at which the contents fit into the room, Pa.
    #[inline]
    pub fn pressure(&self, gas: &Gas<S>, c: &Contents<S>) -> S {
        let q = self.quadratic(gas, c);
        q.drive * 2.0 / (q.space + q.root)
    }

    /// Derivatives of that pressure.
    pub fn slopes(&self, gas: &Gas<S>, c: &Contents<S>, pressure: S) -> Slopes<S> {
        let r = GAS_CONSTANT;
        let q = self.quadratic(gas, c);
        let per = S::one() / q.root;
        Slopes {
            by_blown: if c.saturated { gas.yielded * c.mass * c.temp * r * per } else { S::zero() },
            by_temp: (q.moles - pressure * q.henry * c.mass) * r * per,
            by_headspace: self.headspace_temp * r * per,
            by_mass: (q.per_kg * c.temp * r - pressure * q.slack_per_kg) * per,
            by_lost: -(c.temp * r * per),
        }
    }

    /// Volume of the cavity at this pressure, m3.
    #[inline]
    pub fn volume_at(&self, pressure: S) -> S {
        if self.is_rigid() {
            return self.volume;
        }
        self.volume * (S::one() + self.stretch * (pressure - self.ambient))
    }
}
