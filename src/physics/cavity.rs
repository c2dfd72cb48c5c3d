//! Pressure in the closed cavity, in closed form.
//!
//! p = (sum n_cell R T + n_head R T_h) / (V - m/rho_l + sum k R T) with k the gas that dissolves per pressure and the
//! sums over layers of foam; where the cavity stretches, V = V0 (1 + kappa (p - pa)), a quadratic in p.

use super::gas::{Gases, Saturated};
use super::layers::{each_node, sum_over};
use super::properties::GAS_CONSTANT;
use crate::numerics::Scalar;

/// The foam of one layer.
#[derive(Clone, Copy, Debug)]
pub struct Foam<S> {
    /// Its mass, kg.
    pub mass: S,
    /// Blowing conversion.
    pub blown: S,
    /// Its temperature, K.
    pub temp: S,
    /// Gas that it lost from opened cells, mol.
    pub lost: S,
    /// Which gases have saturated its liquid: only then is any of them free.
    pub saturated: Saturated,
}

/// What stands in the cavity: foam, layer by layer, and the air ahead of it.
#[derive(Clone, Copy, Debug)]
pub struct Contents<S, const NODES: usize = 1> {
    /// The foam.
    pub foam: [Foam<S>; NODES],
    /// Air in the headspace, mol.
    pub headspace: S,
}

/// The room that contents share, and the gas law's constants.
#[derive(Clone, Copy, Debug)]
pub struct CavityLaw<S> {
    /// Volume at ambient pressure, m3.
    pub volume: S,
    /// Relative growth per gauge pressure, 1/Pa.
    pub stretch: S,
    /// Absolute ambient pressure, Pa.
    pub ambient: S,
    /// Temperature of the headspace, K.
    pub headspace_temp: S,
}

/// Derivatives of the pressure by what one layer of foam is.
#[derive(Clone, Copy, Debug)]
pub struct FoamSlopes<S> {
    /// By blowing conversion, Pa.
    pub by_blown: S,
    /// By temperature, Pa/K.
    pub by_temp: S,
    /// By mass, Pa/kg.
    pub by_mass: S,
    /// By the gas lost, Pa/mol.
    pub by_lost: S,
}

/// Derivatives of the pressure by the contents.
#[derive(Clone, Copy, Debug)]
pub struct Slopes<S, const NODES: usize> {
    /// By what the foam is.
    pub foam: [FoamSlopes<S>; NODES],
    /// By the air in the headspace, Pa/mol.
    pub by_headspace: S,
}

/// The quadratic that the pressure solves: give p^2 + space p = drive.
struct Quadratic<S> {
    drive: S,
    /// Root of the discriminant, m3.
    root: S,
    space: S,
}

impl<S: Scalar> Foam<S> {
    /// Gas that is free in its cells, with what dissolves of it under pressure, mol.
    #[inline(always)]
    fn moles(&self, gases: &Gases<S>) -> S {
        gases.made_of_free(self.blown, &self.saturated) * self.mass - self.lost
    }

    /// The volume that a kilogram takes for what dissolves, less that of the liquid, m3/kg.
    #[inline(always)]
    fn slack_per_kg(&self, gases: &Gases<S>) -> S {
        gases.henry(&self.saturated) * self.temp * GAS_CONSTANT - S::one() / gases.liquid_density
    }

    /// Gas that is free in its cells at this pressure, mol.
    #[inline(always)]
    pub fn free_gas(&self, gases: &Gases<S>, pressure: S) -> S {
        let dissolved = gases.henry(&self.saturated) * pressure;
        (gases.made_of_free(self.blown, &self.saturated) - dissolved) * self.mass - self.lost
    }

    /// Its volume at this pressure, m3.
    #[inline(always)]
    pub fn volume(&self, gases: &Gases<S>, pressure: S) -> S {
        let free = self.free_gas(gases, pressure);
        self.mass / gases.liquid_density + free * self.temp * GAS_CONSTANT / pressure
    }
}

impl<S: Scalar, const NODES: usize> Contents<S, NODES> {
    /// Volume of the foam at this pressure, m3.
    #[inline(always)]
    pub fn foam_volume(&self, gases: &Gases<S>, pressure: S) -> S {
        sum_over::<NODES, S>(|i| self.foam[i].volume(gases, pressure))
    }
}

impl<S: Scalar> CavityLaw<S> {
    #[inline(always)]
    fn quadratic<const NODES: usize>(&self, gases: &Gases<S>, c: &Contents<S, NODES>) -> Quadratic<S> {
        let r = GAS_CONSTANT;
        let driven = sum_over::<NODES, S>(|i| c.foam[i].moles(gases) * c.foam[i].temp);
        let drive = (driven + c.headspace * self.headspace_temp) * r;
        let slack = sum_over::<NODES, S>(|i| c.foam[i].slack_per_kg(gases) * c.foam[i].mass);
        if self.is_rigid() {
            let space = self.volume + slack;
            return Quadratic { drive, root: space, space };
        }
        let give = self.volume * self.stretch;
        let space = self.volume - give * self.ambient + slack;
        let root = (space * space + give * drive * 4.0).sqrt();
        Quadratic { drive, root, space }
    }

    #[inline]
    fn is_rigid(&self) -> bool {
        self.stretch.value() == 0.0 && self.stretch.derivatives().iter().all(|d| *d == 0.0)
    }

    /// The absolute pressure at which the contents fit into the cavity, Pa.
    #[inline(always)]
    pub fn pressure<const NODES: usize>(&self, gases: &Gases<S>, c: &Contents<S, NODES>) -> S {
        let q = self.quadratic(gases, c);
        q.drive * 2.0 / (q.space + q.root)
    }

    /// Derivatives of that pressure.
    pub fn slopes<const NODES: usize>(
        &self,
        gases: &Gases<S>,
        c: &Contents<S, NODES>,
        pressure: S,
    ) -> Slopes<S, NODES> {
        let r = GAS_CONSTANT;
        let q = self.quadratic(gases, c);
        let per = S::one() / q.root;
        let foam = each_node(|i| {
            let foam = &c.foam[i];
            let (made, henry) = (gases.made_by_blown(&foam.saturated), gases.henry(&foam.saturated));
            let per_kg = gases.made_of_free(foam.blown, &foam.saturated);
            FoamSlopes {
                by_blown: made * foam.mass * foam.temp * r * per,
                by_temp: (foam.moles(gases) - pressure * henry * foam.mass) * r * per,
                by_mass: (per_kg * foam.temp * r - pressure * foam.slack_per_kg(gases)) * per,
                by_lost: -(foam.temp * r * per),
            }
        });
        Slopes { foam, by_headspace: self.headspace_temp * r * per }
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
