//! What a sweep casts: a foam in a cavity, and how far a shop's settings are off.

use serde::{Deserialize, Serialize};

use crate::model::{Casting, Cavity, FoamConstants};

/// A foam in a cavity: best estimates, or one draw of what is in doubt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Case {
    /// Constants of the foam.
    pub foam: FoamConstants,
    /// The cavity and its openings.
    pub cavity: Cavity,
    /// How far settings are off.
    pub slips: Slips,
}

/// How far what a shop sets is from what the casting gets.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Slips {
    /// Effective over given diameter of vents that are given with the casting.
    pub vent_size: f64,
    /// Effective over given clamp force that is given with the casting.
    pub clamp_effect: f64,
    /// Added to the charge, kg.
    pub charge: f64,
    /// Added to the temperature of the mix, K.
    pub mix_temp: f64,
    /// Added to the temperature of the mold, K.
    pub mold_temp: f64,
}

impl Slips {
    /// Settings are what they say.
    pub const NONE: Slips = Slips { vent_size: 1.0, clamp_effect: 1.0, charge: 0.0, mix_temp: 0.0, mold_temp: 0.0 };

    /// Turns what was set into what the casting gets.
    pub fn apply(&self, casting: &mut Casting) {
        casting.vent_diameters.iter_mut().for_each(|d| *d *= self.vent_size);
        casting.clamp_force.iter_mut().for_each(|force| *force *= self.clamp_effect);
        casting.charge += self.charge;
        casting.mix_temp += self.mix_temp;
        casting.mold_temp += self.mold_temp;
    }

    /// A casting that shows the slips of what it is put through: see [`Slips::seen`].
    pub fn probe() -> Casting {
        Casting { clamp_force: Some(1.0), vent_diameters: vec![1.0], ..Casting::assumed(0.0, 0.0, 0.0) }
    }

    /// The slips that made this of [`Slips::probe`].
    pub fn seen(probe: &Casting) -> Self {
        Slips {
            vent_size: probe.vent_diameters.first().copied().unwrap_or(1.0),
            clamp_effect: probe.clamp_force.unwrap_or(1.0),
            charge: probe.charge,
            mix_temp: probe.mix_temp,
            mold_temp: probe.mold_temp,
        }
    }
}

impl Case {
    /// A foam in a cavity whose settings are what they say.
    pub fn new(foam: FoamConstants, cavity: Cavity) -> Self {
        Case { foam, cavity, slips: Slips::NONE }
    }
}
