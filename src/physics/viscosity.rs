//! Viscosity of the reacting mix, up to gel.
//!
//! mu(T, X) = mu40 exp(E/R (1/T - 1/T_ref)) (Xgel/(Xgel - X))^(a + b X). Source: Castro and Macosko, AIChE J. 28, 250
//! (1982).

use super::properties::{GAS_CONSTANT, REFERENCE_TEMP};
use crate::model::FoamConstants;
use crate::numerics::Scalar;

/// Closer to gel than this the viscosity no longer grows: nothing flows by then, and the integrator keeps a finite
/// number.
const CLOSEST: f64 = 1e-6;

/// The viscosity law of a grade.
#[derive(Clone, Copy, Debug)]
pub struct Viscosity<S> {
    /// Logarithm of the viscosity (in Pa s) at infinite temperature, and the activation energy over the gas constant,
    /// K.
    log: S,
    activation: S,
    /// 1 over the conversion at gel.
    per_gel: S,
    a: S,
    b: S,
}

/// A viscosity with its relative derivatives.
#[derive(Clone, Copy, Debug)]
pub struct Thickness<S> {
    /// Viscosity, Pa s.
    pub value: S,
    /// d ln mu / dT, 1/K.
    pub by_temp: S,
    /// d ln mu / dX.
    pub by_conversion: S,
}

impl<S: Scalar> Viscosity<S> {
    /// The viscosity law of a grade with these constants.
    pub fn new(foam: &FoamConstants<S>) -> Self {
        let activation = foam.viscosity_activation / GAS_CONSTANT;
        Viscosity {
            log: foam.viscosity.ln() - activation / REFERENCE_TEMP,
            activation,
            per_gel: S::one() / foam.gel_conversion,
            a: foam.viscosity_a,
            b: foam.viscosity_b,
        }
    }

    /// Viscosity at a gelling conversion and temperature (K), Pa s.
    pub fn value(&self, gelled: S, temp: S) -> S {
        self.at(gelled, temp).value
    }

    /// The same with its derivatives.
    #[inline]
    pub fn at(&self, gelled: S, temp: S) -> Thickness<S> {
        // The share of the way to gel that is left.
        let left = (S::one() - gelled * self.per_gel).max(S::constant(CLOSEST));
        let (log, exponent) = (left.ln(), self.a + self.b * gelled);
        Thickness {
            value: (self.log + self.activation / temp - exponent * log).exp(),
            by_temp: -(self.activation / (temp * temp)),
            by_conversion: exponent * self.per_gel / left - self.b * log,
        }
    }
}
