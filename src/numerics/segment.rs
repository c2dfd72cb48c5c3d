//! One accepted step of an integrator, readable at any time within: a quartic in the share of the step.

use super::Scalar;

/// One accepted step.
#[derive(Clone, Copy, Debug)]
pub struct Segment<S, const D: usize> {
    /// Start of the step; its derivatives are those of the phase's start.
    pub start: S,
    /// Length of the step.
    pub length: f64,
    /// State at the start.
    pub from: [S; D],
    /// State at the end.
    pub to: [S; D],
    /// Coefficients of the first to fourth power of the share.
    pub(super) powers: [[S; D]; 4],
}

impl<S: Scalar, const D: usize> Segment<S, D> {
    /// The time at which the step ends.
    #[inline]
    pub fn end(&self) -> f64 {
        self.start.value() + self.length
    }

    /// The share of the step at which a time within it lies.
    #[inline]
    pub fn share_at(&self, time: f64) -> f64 {
        (time - self.start.value()) / self.length
    }

    /// The state at this share (0 to 1) of the step.
    #[inline]
    pub fn at(&self, share: f64) -> [S; D] {
        let [a, b, c, d] = &self.powers;
        std::array::from_fn(|i| self.from[i] + (a[i] + (b[i] + (c[i] + d[i] * share) * share) * share) * share)
    }

    /// The values alone at this share of the step.
    #[inline]
    pub fn values_at(&self, share: f64) -> [f64; D] {
        let [a, b, c, d] = &self.powers;
        std::array::from_fn(|i| {
            let [a, b, c, d] = [a[i].value(), b[i].value(), c[i].value(), d[i].value()];
            self.from[i].value() + (a + (b + (c + d * share) * share) * share) * share
        })
    }

    /// The state at a fixed time within the step, with the derivatives of the step's start taken into account.
    #[inline]
    pub fn at_time(&self, time: f64) -> [S; D] {
        let share = self.share_at(time);
        let mut y = self.at(share);
        if !self.start.derivatives().is_empty() {
            let moved = self.start.tangent();
            let slope = self.slopes_at(share);
            for i in 0..D {
                y[i] -= moved * slope[i];
            }
        }
        y
    }

    /// Time derivatives of the values at this share of the step.
    #[inline]
    pub fn slopes_at(&self, s: f64) -> [f64; D] {
        let [a, b, c, d] = &self.powers;
        std::array::from_fn(|i| {
            let [a, b, c, d] = [a[i].value(), b[i].value(), c[i].value(), d[i].value()];
            (a + (2.0 * b + (3.0 * c + 4.0 * d * s) * s) * s) / self.length
        })
    }
}
