//! Gas in the mix: made, dissolved, free, and the volume it takes.

use super::properties::{CO2_MOLAR_MASS, GAS_CONSTANT};
use crate::model::FoamConstants;
use crate::numerics::Scalar;

/// Gas of one kilogram of mix.
#[derive(Clone, Copy, Debug)]
pub struct Gas<S> {
    /// CO2 at full conversion, mol/kg.
    pub yielded: S,
    /// CO2 that dissolves per absolute pressure, mol/(kg Pa).
    pub henry: S,
    /// Air beaten in, mol/kg.
    pub air: S,
    /// Density of the liquid, kg/m3.
    pub liquid_density: S,
}

impl<S: Scalar> Gas<S> {
    /// The gas of a grade mixed at this ambient pressure (Pa) and temperature (K), at which air was beaten in.
    pub fn new(foam: &FoamConstants<S>, ambient_pressure: S, mix_temp: S) -> Self {
        Gas {
            yielded: foam.gas_yield,
            henry: foam.solubility / CO2_MOLAR_MASS,
            air: foam.air_fraction / foam.liquid_density * ambient_pressure / (mix_temp * GAS_CONSTANT),
            liquid_density: foam.liquid_density,
        }
    }

    /// CO2 beyond what is dissolved at this pressure (Pa), mol/kg; negative while the liquid is not saturated.
    #[inline]
    pub fn excess(&self, blown: S, pressure: S) -> S {
        self.yielded * blown - self.henry * pressure
    }

    /// Volume of a kilogram of foam at this pressure (Pa) and temperature (K), m3/kg.
    #[inline]
    pub fn specific_volume(&self, blown: S, temp: S, pressure: S) -> S {
        let free = self.excess(blown, pressure).max(S::zero()) + self.air;
        S::one() / self.liquid_density + free * temp * GAS_CONSTANT / pressure
    }
}
