//! Viscosity of the reacting mix, up to gel.
//!
//! mu(T, X) = mu40 exp(E/R (1/T - 1/T_ref)) (Xgel/(Xgel - X))^(a + b X). Source: Castro and Macosko, AIChE J. 28, 250 (1982).

use super::properties::{GAS_CONSTANT, warmth};
use crate::numerics::Scalar;
use crate::records::FoamConstants;

/// Closer to gel than this the viscosity no longer grows: nothing flows by then, and the integrator keeps a finite number.
const CLOSEST: f64 = 1e-6;

/// The viscosity law of a grade.
#[derive(Clone, Copy, Debug)]
pub struct Viscosity<S> {
    at_reference: S,
    activation: S,
    gel: S,
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
        Viscosity {
            at_reference: foam.viscosity,
            activation: foam.viscosity_activation,
            gel: foam.gel_conversion,
            a: foam.viscosity_a,
            b: foam.viscosity_b,
        }
    }

    /// Viscosity at a gelling conversion and temperature (K), Pa s.
    pub fn value(&self, gelled: S, temp: S) -> S {
        let left = (self.gel - gelled).max(self.gel * CLOSEST);
        let thicker = (self.a + self.b * gelled) * (self.gel / left).ln();
        self.at_reference * (thicker - warmth(self.activation, temp)).exp()
    }

    /// The same with its derivatives.
    pub fn at(&self, gelled: S, temp: S) -> Thickness<S> {
        let left = (self.gel - gelled).max(self.gel * CLOSEST);
        let exponent = self.a + self.b * gelled;
        let log = (self.gel / left).ln();
        let value = self.at_reference * (exponent * log - warmth(self.activation, temp)).exp();
        Thickness {
            value,
            by_temp: -(self.activation / (temp * temp * GAS_CONSTANT)),
            by_conversion: self.b * log + exponent / left,
        }
    }
}
