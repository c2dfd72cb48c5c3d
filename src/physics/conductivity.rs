//! How foam conducts heat: a solid with bubbles.
//!
//! Maxwell's law for spheres of gas in a solid, k = ks (2 ks + kg - 2 e (ks - kg))/(2 ks + kg + e (ks - kg)) with e the
//! volume share of gas, exact where bubbles are few, and the upper bound of Hashin and Shtrikman, J. Appl. Phys. 33,
//! 3125 (1962), for any. Radiation through cells is left out.

use crate::numerics::Scalar;

/// Thermal conductivity of the gas in cells, W/(m K): of CO2 at 60 °C. Source: CoolProp (Huber, Sykioti, Assael,
/// Perkins 2016) gives 0.0194.
const GAS_CONDUCTIVITY: f64 = 0.0194;

/// The law for a grade whose liquid and solid conduct alike.
#[derive(Clone, Copy, Debug)]
pub struct Conductivity<S> {
    solid: S,
    /// Volume of a kilogram of liquid, m3/kg.
    liquid_volume: S,
}

/// Conductivity times density, which is what conducts between masses, and its derivative by the specific volume.
#[derive(Clone, Copy, Debug)]
pub struct MassConductivity<S> {
    /// W kg/(m4 K).
    pub value: S,
    /// By m3/kg.
    pub by_volume: S,
}

impl<S: Scalar> Conductivity<S> {
    /// Of a solid of this conductivity, W/(m K), and density, kg/m3.
    pub fn new(solid: S, density: S) -> Self {
        Conductivity { solid, liquid_volume: S::one() / density }
    }

    /// What conducts between masses of foam that take this volume, m3/kg.
    #[inline(always)]
    pub fn at(&self, volume: S) -> MassConductivity<S> {
        let both = self.solid * 2.0 + GAS_CONDUCTIVITY;
        let less = self.solid + -GAS_CONDUCTIVITY;
        let dense = S::one() / volume;
        let gas = S::one() - self.liquid_volume * dense;
        let per = S::one() / (both + less * gas);
        let k = self.solid * (both - less * gas * 2.0) * per;
        let by_gas = -(self.solid * both * less * per * per * 3.0);
        let value = k * dense;
        MassConductivity { value, by_volume: (by_gas * self.liquid_volume * dense - k) * dense * dense }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::Dual;

    /// Limits, and one value by hand: half gas by volume.
    #[test]
    fn maxwells_law_holds() {
        let law = Conductivity::new(0.2, 1000.0);
        assert!((law.at(1e-3).value - 0.2 * 1000.0).abs() < 1e-9);
        let thin = law.at(1e6).value * 1e6;
        assert!((thin / GAS_CONDUCTIVITY - 1.0).abs() < 1e-6, "{thin}");
        let half = law.at(2e-3).value;
        let by_hand = 0.2 * (0.4194 - 0.1806) / (0.4194 + 0.0903) * 500.0;
        assert!((half / by_hand - 1.0).abs() < 1e-12);
    }

    #[test]
    fn slopes_agree() {
        let law = Conductivity::new(Dual::<1>::constant(0.2), Dual::constant(1050.0));
        for volume in [1e-3, 3e-3, 1e-2, 0.1] {
            let at = law.at(Dual::seeded(volume, 0, 1.0));
            assert!((at.value.slope[0] / at.by_volume.value - 1.0).abs() < 1e-12);
        }
    }
}
