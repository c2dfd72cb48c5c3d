//! Physical constants and properties of air and CO2.

use crate::numerics::Scalar;

/// Molar gas constant, J/(mol K). Source: SI (2019), exact product of the Boltzmann and Avogadro constants.
pub const GAS_CONSTANT: f64 = 8.314462618;
/// Molar mass of CO2, kg/mol. Source: IUPAC standard atomic weights.
pub const CO2_MOLAR_MASS: f64 = 0.0440095;
/// Molar mass of dry air, kg/mol. Source: U.S. Standard Atmosphere 1976.
pub const AIR_MOLAR_MASS: f64 = 0.0289644;
/// Specific gas constant of air, J/(kg K).
pub const AIR_GAS_CONSTANT: f64 = GAS_CONSTANT / AIR_MOLAR_MASS;
/// Ratio of the heat capacities of air. Source: U.S. Standard Atmosphere 1976.
pub const AIR_GAMMA: f64 = 1.4;
/// Temperature to which rates and viscosity are referred, K (40 °C).
pub const REFERENCE_TEMP: f64 = 313.15;

/// Dynamic viscosity of air at this temperature (K), Pa s. Source: Sutherland's formula with the constants of the U.S.
/// Standard Atmosphere 1976; within 0.6 % of the reference equation (Lemmon and Jacobsen 2004) from 0 to 100 °C.
pub fn air_viscosity<S: Scalar>(temp: S) -> S {
    temp * temp.sqrt() * 1.458e-6 / (temp + 110.4)
}
