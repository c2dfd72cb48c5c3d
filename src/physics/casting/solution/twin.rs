//! One casting in two kinds of number: with derivatives, and in values alone, in which events are looked for.

use super::air_balance::balance_tolerance;
use super::events::{Event, collect_events};
use crate::model::{Casting, Cavity, FoamConstants};
use crate::numerics::Scalar;
use crate::physics::accuracy::Accuracy;
use crate::physics::casting::equations::Equations;

/// A casting with derivatives and in values alone, and the events that can end its present regime.
pub struct Twin<S> {
    pub exact: Equations<S>,
    pub values: Equations<f64>,
    pub events: Vec<Event<S>>,
    pub value_events: Vec<Event<f64>>,
    /// How closely balances of air are found: see `air_balance`.
    pub balance_tolerance: f64,
}

impl<S: Scalar> Twin<S> {
    pub fn new(foam: &FoamConstants<S>, cavity: &Cavity<S>, casting: &Casting<S>, accuracy: Accuracy) -> Self {
        Twin {
            exact: Equations::new(foam, cavity, casting),
            values: Equations::new(&foam.map(S::value), &cavity.map(S::value), &casting.map(S::value)),
            events: Vec::new(),
            value_events: Vec::new(),
            balance_tolerance: balance_tolerance(accuracy.relative),
        }
    }

    /// Brings the values to the regime of the exact equations, and collects the events that can end it.
    pub fn enter_regime(&mut self, layers: usize) {
        self.values.regime = self.exact.regime.values();
        collect_events(&self.exact, layers, &mut self.events);
        collect_events(&self.values, layers, &mut self.value_events);
    }
}
