//! A mass flow with its derivatives by pressure, gap, density and viscosity.

use crate::numerics::Scalar;

/// A mass flow (kg/s) and its derivatives.
#[derive(Clone, Copy, Debug)]
pub struct Flow<S> {
    /// Mass flow outward, kg/s.
    pub rate: S,
    /// By the pressure inside, kg/(s Pa), the opening held.
    pub by_pressure: S,
    /// By the logarithm of a slot's gap: 3 shares of the laminar part, 1 of the orifice.
    pub by_log_gap: S,
    /// d ln rate / d ln density (foam only).
    pub by_log_density: S,
    /// d ln rate / d ln viscosity (foam only).
    pub by_log_viscosity: S,
}

impl<S: Scalar> Flow<S> {
    /// No flow.
    pub fn none() -> Self {
        let z = S::zero();
        Flow { rate: z, by_pressure: z, by_log_gap: z, by_log_density: z, by_log_viscosity: z }
    }
}
