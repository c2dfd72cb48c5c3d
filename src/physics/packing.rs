//! The packing bound: what a sealed, full cavity comes to at one temperature, without solubility.

/// Absolute pressure (Pa) of foam of free-rise density `free_rise` packed into density `packed` (kg/m3) at the same
/// temperature, when it rose freely at `ambient` (Pa): p/p0 = (1/rho_FR - 1/rho_l)/(1/rho_M - 1/rho_l). Gas that stays
/// dissolved or leaves makes it less: an upper bound.
pub fn sealed_pressure(free_rise: f64, packed: f64, liquid: f64, ambient: f64) -> f64 {
    ambient * (1.0 / free_rise - 1.0 / liquid) / (1.0 / packed - 1.0 / liquid)
}
