//! What is integrated and how closely: rates, the events that end a phase, tolerances.

use super::Scalar;

/// How accurately to integrate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance<const D: usize> {
    /// Relative error per step.
    pub relative: f64,
    /// Absolute error per step and component.
    pub absolute: [f64; D],
    /// Steps after which to give up.
    pub max_steps: usize,
}

/// A system of ordinary differential equations y' = f(y), with its events.
pub trait System<S: Scalar, const D: usize> {
    /// f(y).
    fn rate(&self, y: &[S; D]) -> [S; D];
    /// How many event functions there are; none, unless it says so.
    fn events(&self) -> usize {
        0
    }
    /// Value of event function number `which`, of order one. The event fires when it rises through zero.
    fn event(&self, _which: usize, _y: &[f64; D]) -> f64 {
        -1.0
    }
    /// The same with derivatives.
    fn event_exact(&self, _which: usize, _y: &[S; D]) -> S {
        S::constant(-1.0)
    }
    /// Time derivative of that event function, given y and y'.
    fn event_rate(&self, _which: usize, _y: &[S; D], _rate: &[S; D]) -> f64 {
        0.0
    }
    /// Whether an event function never falls, so that a crossing shows at the end of a step.
    fn is_monotone(&self, _which: usize) -> bool {
        false
    }
    /// How many times the tolerated error each value (not its derivatives) may have at `y`, where its own size says
    /// little of what it means.
    fn slack(&self, _y: &[f64; D], _tolerance: &Tolerance<D>) -> [f64; D] {
        [1.0; D]
    }
}
