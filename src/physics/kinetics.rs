//! The two reactions and their heat: first-order blowing, second-order gelling, both once the induction is over.
//!
//! dXb/dt = kb(T) (1 - Xb)/(1 + c Yg), dXg/dt = kg(T) (1 - Xg)^2, dT/dt = dTb dXb/dt + dTg dXg/dt - heat loss. After
//! Baser and Khakhar, Polym. Eng. Sci. 34, 632 and 642 (1994), with rates referred to 40 °C. Ours is c, the competition
//! for isocyanate: theirs is 0; with 1 and Yg = Xg/(1 - Xg), blowing finds as much of it left as second-order gelling
//! does.
//!
//! The state holds each reaction's turnover, the integral of its rate constant over time (a Damkoehler number): with it
//! Xb = 1 - exp(-turnover) and Xg = turnover/(1 + turnover) are in closed form, and nothing is stiff when a reaction
//! ends.

use super::properties::{GAS_CONSTANT, REFERENCE_TEMP};
use crate::model::FoamConstants;
use crate::numerics::Scalar;

/// Position of the turnover of blowing in a state.
pub const BLOW: usize = 0;
/// Position of the turnover of gelling in a state.
pub const GEL: usize = 1;
/// Position of the temperature (K) in a state.
pub const TEMP: usize = 2;
/// How many values a reacting foam has: both turnovers and the temperature.
pub const REACTING: usize = 3;

/// The reactions of a grade.
#[derive(Clone, Copy, Debug)]
pub struct Kinetics<S> {
    /// Logarithms of the rate constants (1/s) at infinite temperature, and activation energies over the gas constant,
    /// K.
    blow_log: S,
    blow_activation: S,
    gel_log: S,
    gel_activation: S,
    competition: S,
    /// Time after which they start, s: whoever integrates them watches the clock.
    pub induction: S,
    blow_heat: S,
    gel_heat: S,
}

impl<S: Scalar> Kinetics<S> {
    /// The reactions of a grade with these constants.
    pub fn new(foam: &FoamConstants<S>) -> Self {
        let (blow_activation, gel_activation) =
            (foam.blow_activation / GAS_CONSTANT, foam.gel_activation / GAS_CONSTANT);
        Kinetics {
            blow_log: foam.blow_rate.ln() + blow_activation / REFERENCE_TEMP,
            blow_activation,
            gel_log: foam.gel_rate.ln() + gel_activation / REFERENCE_TEMP,
            gel_activation,
            competition: foam.competition,
            induction: foam.induction,
            blow_heat: foam.blow_heat,
            gel_heat: foam.gel_heat,
        }
    }

    /// Rate constants of blowing and gelling at this temperature (K), 1/s.
    pub fn speeds(&self, temp: S) -> [S; 2] {
        let cold = S::one() / temp;
        [(self.blow_log - self.blow_activation * cold).exp(), (self.gel_log - self.gel_activation * cold).exp()]
    }

    /// Share of the isocyanate that is left to blowing at this turnover of gelling.
    fn isocyanate(&self, gel: S) -> S {
        S::one() / (self.competition * gel + 1.0)
    }

    /// Rates of both turnovers (1/s) and of temperature (K/s) without heat loss, at (turnovers, T).
    pub fn rate(&self, y: [S; REACTING]) -> [S; REACTING] {
        self.rate_with(&y, unblown(y[BLOW]))
    }

    /// The same where [`unblown`] is known.
    #[inline]
    pub fn rate_with(&self, &[_, gel, temp]: &[S; REACTING], unblown: S) -> [S; REACTING] {
        let [kb, kg] = self.speeds(temp);
        let kb = kb * self.isocyanate(gel);
        let left = ungelled(gel);
        // What waits for the exponentials comes last.
        [kb, kg, self.blow_heat * unblown * kb + self.gel_heat * left * left * kg]
    }

    /// Derivatives of [`Kinetics::rate`] by (turnovers, T).
    pub fn jacobian(&self, [blow, gel, temp]: [S; REACTING]) -> [[S; REACTING]; REACTING] {
        let per_kelvin = |activation: S| activation / (temp * temp);
        let [kb, kg] = self.speeds(temp);
        let left_i = self.isocyanate(gel);
        let kb = kb * left_i;
        let kb_g = -(kb * self.competition * left_i);
        let (kb_t, kg_t) = (kb * per_kelvin(self.blow_activation), kg * per_kelvin(self.gel_activation));
        let (left_b, left_g) = (unblown(blow), ungelled(gel));
        let (heat_b, heat_g) = (self.blow_heat * left_b, self.gel_heat * left_g * left_g);
        let zero = S::zero();
        [
            [zero, kb_g, kb_t],
            [zero, zero, kg_t],
            [-(heat_b * kb), heat_b * kb_g - heat_g * kg * left_g * 2.0, heat_b * kb_t + heat_g * kg_t],
        ]
    }

    /// Temperature that the mix reaches from `start` without heat loss, K.
    pub fn adiabatic_temp(&self, start: S, blown: S, gelled: S) -> S {
        start + self.blow_heat * blown + self.gel_heat * gelled
    }
}

/// Turnovers and temperature (K) of a mix in which nothing has reacted.
pub fn at_rest<S: Scalar>(mix_temp: S) -> [S; REACTING] {
    [S::zero(), S::zero(), mix_temp]
}

/// 1 - Xb at this turnover of blowing.
pub fn unblown<S: Scalar>(turnover: S) -> S {
    (-turnover).exp()
}

/// 1 - Xg at this turnover of gelling.
pub fn ungelled<S: Scalar>(turnover: S) -> S {
    S::one() / (turnover + 1.0)
}

/// Gelling conversion at this turnover.
pub fn gelled<S: Scalar>(turnover: S) -> S {
    turnover / (turnover + 1.0)
}
