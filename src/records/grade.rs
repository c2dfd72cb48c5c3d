//! What is known of a foam grade: its constants per kilogram of mix.

use serde::{Deserialize, Serialize};

/// A foam grade: a name and its constants.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Grade {
    /// The grade's name.
    pub name: String,
    /// Where the constants come from, in words.
    pub note: String,
    /// The constants of rise, gelling and flow.
    pub constants: FoamConstants,
}

/// The constants of rise, gelling and flow, per kilogram of mix, in SI units. `S` is `f64` or a number that carries
/// derivatives. Rates and viscosity are referred to 40 °C (313.15 K), so that a rate and its activation energy are not
/// correlated.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FoamConstants<S = f64> {
    /// Density of the liquid mix without gas, kg/m3.
    pub liquid_density: S,
    /// Heat capacity, J/(kg K).
    pub heat_capacity: S,
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
    /// Viscosity of the unreacted mix at 40 °C, Pa s.
    pub viscosity: S,
    /// Activation energy of the viscosity, J/mol.
    pub viscosity_activation: S,
    /// Castro-Macosko exponent a.
    pub viscosity_a: S,
    /// Castro-Macosko exponent b.
    pub viscosity_b: S,
    /// Share of the maximum height that is lost after the maximum.
    pub settle: S,
    /// Time constant of gas loss through opened cells after gel, s. Infinite: cells stay closed.
    pub open_time: S,
}
