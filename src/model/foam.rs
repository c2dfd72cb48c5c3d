//! The constants of a foam: rise, gelling and flow, per kilogram of mix.

use serde::{Deserialize, Serialize};

/// The constants of rise, gelling and flow, per kilogram of mix, in SI units. `S` is `f64` or a number that carries
/// derivatives. Rates and viscosity are referred to 40 °C (313.15 K), so that a rate and its activation energy are not
/// correlated.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FoamConstants<S = f64> {
    /// Density of the liquid mix without gas, kg/m3.
    pub liquid_density: S,
    /// Heat capacity, J/(kg K).
    pub heat_capacity: S,
    /// Thermal conductivity of the liquid and the solid, without gas, W/(m K).
    pub conductivity: S,
    /// Time after mixing until the reactions start, s.
    pub induction: S,
    /// CO2 that the mix can make, mol/kg.
    pub gas_yield: S,
    /// First-order blowing rate at 40 °C, 1/s.
    pub blow_rate: S,
    /// Activation energy of blowing, J/mol.
    pub blow_activation: S,
    /// Second-order gelling rate at 40 °C, 1/s.
    pub gel_rate: S,
    /// Activation energy of gelling, J/mol.
    pub gel_activation: S,
    /// How much gelling takes the isocyanate away from blowing: 0 not at all, 1 as much as from itself.
    pub competition: S,
    /// Adiabatic temperature rise of the whole blowing reaction, K.
    pub blow_heat: S,
    /// Adiabatic temperature rise of the whole gelling reaction, K.
    pub gel_heat: S,
    /// CO2 that the liquid holds per absolute pressure, kg/(kg Pa).
    pub solubility: S,
    /// Air beaten in while mixing, as a volume fraction of the liquid's volume at ambient pressure.
    pub air_fraction: S,
    /// Gelling conversion at which the mix stops flowing.
    pub gel_conversion: S,
    /// Gelling conversion at which an unconfined foam stops rising: it gives way for some seconds after gel.
    pub rise_end_conversion: S,
    /// Viscosity of the unreacted mix at 40 °C, Pa s.
    pub viscosity: S,
    /// Activation energy of the viscosity, J/mol.
    pub viscosity_activation: S,
    /// Castro-Macosko exponent a.
    pub viscosity_a: S,
    /// Castro-Macosko exponent b.
    pub viscosity_b: S,
    /// Share of the maximum height that is lost after the maximum.
    pub settling: S,
    /// Time constant of gas loss through opened cells after gel, s. Infinite: cells stay closed.
    pub cell_opening_time: S,
}

impl<S: Copy> FoamConstants<S> {
    /// The same constants in another kind of number.
    pub fn map<T>(&self, to: impl Fn(S) -> T) -> FoamConstants<T> {
        FoamConstants {
            liquid_density: to(self.liquid_density),
            heat_capacity: to(self.heat_capacity),
            conductivity: to(self.conductivity),
            induction: to(self.induction),
            gas_yield: to(self.gas_yield),
            blow_rate: to(self.blow_rate),
            blow_activation: to(self.blow_activation),
            gel_rate: to(self.gel_rate),
            gel_activation: to(self.gel_activation),
            competition: to(self.competition),
            blow_heat: to(self.blow_heat),
            gel_heat: to(self.gel_heat),
            solubility: to(self.solubility),
            air_fraction: to(self.air_fraction),
            gel_conversion: to(self.gel_conversion),
            rise_end_conversion: to(self.rise_end_conversion),
            viscosity: to(self.viscosity),
            viscosity_activation: to(self.viscosity_activation),
            viscosity_a: to(self.viscosity_a),
            viscosity_b: to(self.viscosity_b),
            settling: to(self.settling),
            cell_opening_time: to(self.cell_opening_time),
        }
    }
}

impl Default for FoamConstants {
    /// Starting values for a light flexible grade; they are priors, not truth. Conductivity: 0.19 to 0.20 W/(m K), Fire
    /// Mater. 2014, doi 10.1002/fam.2188. Activation energies near those of Baser
    /// & Khakhar, Polym. Eng. Sci. 34, 632 (1994) (from memory, not verified), the rest common practice without a
    /// source. A gas yield of 0.6 mol/kg stands for about 1 % water.
    fn default() -> Self {
        FoamConstants {
            liquid_density: 1050.0,
            heat_capacity: 1800.0,
            conductivity: 0.2,
            induction: 0.0,
            gas_yield: 0.6,
            blow_rate: 1.0 / 30.0,
            blow_activation: 33e3,
            gel_rate: 1.0 / 45.0,
            gel_activation: 40e3,
            competition: 0.0,
            blow_heat: 20.0,
            gel_heat: 90.0,
            solubility: 1e-8,
            air_fraction: 0.03,
            gel_conversion: 0.65,
            rise_end_conversion: 0.72,
            viscosity: 1.2,
            viscosity_activation: 35e3,
            viscosity_a: 1.5,
            viscosity_b: 1.0,
            settling: 0.01,
            cell_opening_time: f64::INFINITY,
        }
    }
}
