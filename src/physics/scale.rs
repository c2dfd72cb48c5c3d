//! What a scale in air shows of a part: the mix that was poured, less the gas that left and the air that is displaced.
//!
//! Masses of mix are as a scale in air shows them of the liquid. So the buoyancy of the liquid's own volume is in them
//! already, and only that of the cells is missing.

use super::gas::Gases;
use super::properties::{AIR_MOLAR_MASS, CO2_MOLAR_MASS, GAS_CONSTANT};
use crate::numerics::Scalar;

/// Temperature of the shop's air, K: the 23 °C of standard atmospheres for testing (ISO 291). 10 K more or less are 3 %
/// of the buoyancy.
const SHOP_TEMP: f64 = 296.15;
/// Time constant with which air takes the place of CO2 in a demolded part, s: little in half an hour, all of it in a
/// day. Common practice, no source.
const GAS_LEAVES_IN: f64 = 14_400.0;

/// A part at demold.
#[derive(Clone, Copy, Debug)]
pub struct Part<S> {
    /// Mix that stayed in the cavity, kg.
    pub mix: S,
    /// Volume that the foam fills, m3.
    pub volume: S,
    /// CO2 made, mol/kg of mix.
    pub made: S,
    /// Gas lost through opened cells in the mold, mol; taken as CO2.
    pub lost: S,
}

impl<S: Scalar> Part<S> {
    /// What a scale shows, kg, `after` so long (s) in air at this ambient pressure (Pa).
    pub fn scale_reading(&self, gases: &Gases<S>, ambient: S, after: S) -> S {
        let fresh = self.fresh(gases, ambient);
        fresh + (self.aired() - fresh) * (S::one() - staying(after))
    }

    /// At demold: the gas of closed cells is weighed, the air that they displace is not there.
    fn fresh(&self, gases: &Gases<S>, ambient: S) -> S {
        let air = ambient * (AIR_MOLAR_MASS / (GAS_CONSTANT * SHOP_TEMP));
        let cells = self.volume - self.mix / gases.liquid_density;
        self.mix - self.lost * CO2_MOLAR_MASS - air * cells
    }

    /// When all CO2 has made way for air: that in the cells weighs what it displaces.
    fn aired(&self) -> S {
        self.mix * (S::one() - self.made * CO2_MOLAR_MASS)
    }
}

/// Share of the gas that is still in a part after a time, s.
fn staying<S: Scalar>(after: S) -> S {
    (-after / GAS_LEAVES_IN).exp()
}

/// By how much the share of the gas that has left changes with the logarithm of its time constant.
pub fn share_left_by_log_time(after: f64) -> f64 {
    after / GAS_LEAVES_IN * staying(after)
}
