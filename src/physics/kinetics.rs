//! The two reactions and their heat: first-order blowing, second-order gelling.
//!
//! dXb/dt = kb(T) (1 - Xb), dXg/dt = kg(T) (1 - Xg)^2, dT/dt = dTb dXb/dt + dTg dXg/dt - heat loss. After Baser and Khakhar,
//! Polym. Eng. Sci. 34, 632 and 642 (1994), with rates referred to 40 °C.

use super::properties::{GAS_CONSTANT, arrhenius};
use crate::numerics::Scalar;
use crate::records::FoamConstants;

/// Position of the blowing conversion in a state.
pub const BLOW: usize = 0;
/// Position of the gelling conversion in a state.
pub const GEL: usize = 1;
/// Position of the temperature (K) in a state.
pub const TEMP: usize = 2;

/// The reactions of a grade.
#[derive(Clone, Copy, Debug)]
pub struct Kinetics<S> {
    blow_rate: S,
    blow_activation: S,
    gel_rate: S,
    gel_activation: S,
    blow_heat: S,
    gel_heat: S,
}

impl<S: Scalar> Kinetics<S> {
    /// The reactions of a grade with these constants.
    pub fn new(foam: &FoamConstants<S>) -> Self {
        Kinetics {
            blow_rate: foam.blow_rate,
            blow_activation: foam.blow_activation,
            gel_rate: foam.gel_rate,
            gel_activation: foam.gel_activation,
            blow_heat: foam.blow_heat,
            gel_heat: foam.gel_heat,
        }
    }

    /// Rate constants of blowing and gelling at this temperature (K), 1/s.
    pub fn speeds(&self, temp: S) -> [S; 2] {
        [self.blow_rate * arrhenius(self.blow_activation, temp), self.gel_rate * arrhenius(self.gel_activation, temp)]
    }

    /// Rates of blowing and gelling conversion (1/s) and of temperature (K/s) without heat loss, at (Xb, Xg, T).
    pub fn rate(&self, [blown, gelled, temp]: [S; 3]) -> [S; 3] {
        let unreacted = S::one() - gelled;
        let [kb, kg] = self.speeds(temp);
        let blow = kb * (S::one() - blown);
        let gel = kg * unreacted * unreacted;
        [blow, gel, self.blow_heat * blow + self.gel_heat * gel]
    }

    /// Derivatives of [`Kinetics::rate`] by (Xb, Xg, T).
    pub fn jacobian(&self, [blown, gelled, temp]: [S; 3]) -> [[S; 3]; 3] {
        let per_kelvin = |activation: S| activation / (temp * temp * GAS_CONSTANT);
        let unreacted = S::one() - gelled;
        let [kb, kg] = self.speeds(temp);
        let (blow_x, blow_t) = (-kb, kb * (S::one() - blown) * per_kelvin(self.blow_activation));
        let (gel_x, gel_t) = (-(kg * unreacted * 2.0), kg * unreacted * unreacted * per_kelvin(self.gel_activation));
        [
            [blow_x, S::zero(), blow_t],
            [S::zero(), gel_x, gel_t],
            [self.blow_heat * blow_x, self.gel_heat * gel_x, self.blow_heat * blow_t + self.gel_heat * gel_t],
        ]
    }

    /// Temperature that the mix reaches from `start` without heat loss, K.
    pub fn adiabatic_temp(&self, start: S, blown: S, gelled: S) -> S {
        start + self.blow_heat * blown + self.gel_heat * gelled
    }
}
