//! Priors: what is expected of a quantity before any record, a normal or lognormal distribution within bounds.

use serde::{Deserialize, Serialize};

/// What is expected of a quantity before any record (its prior): a normal distribution of its value, or of its
/// logarithm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Prior {
    /// Whether the logarithm is normally distributed (positive quantities).
    pub log: bool,
    /// Median, SI.
    pub median: f64,
    /// Standard deviation: of the logarithm, or in SI.
    pub sd: f64,
    /// Smallest value allowed, SI.
    pub low: f64,
    /// Largest value allowed, SI.
    pub high: f64,
}

impl Prior {
    /// A prior of a positive quantity: median, standard deviation of the logarithm, bounds.
    pub const fn lognormal(median: f64, sd: f64, low: f64, high: f64) -> Self {
        Prior { log: true, median, sd, low, high }
    }

    /// A prior of a quantity of either sign: median, standard deviation, bounds.
    pub const fn normal(median: f64, sd: f64, low: f64, high: f64) -> Self {
        Prior { log: false, median, sd, low, high }
    }

    /// The value at this many prior standard deviations from the median, at most at a bound: correlated coordinates
    /// know no bounds of their own, and a conversion above 1 is none.
    pub fn value(&self, sds: f64) -> f64 {
        self.unbounded(sds).clamp(self.low, self.high)
    }

    /// Derivative of the value by the number of standard deviations; zero beyond a bound.
    pub fn derivative(&self, sds: f64) -> f64 {
        let value = self.unbounded(sds);
        let beyond = value < self.low || value > self.high;
        match self.log {
            _ if beyond => 0.0,
            true => value * self.sd,
            false => self.sd,
        }
    }

    fn unbounded(&self, sds: f64) -> f64 {
        if self.log { self.median * (self.sd * sds).exp() } else { self.median + self.sd * sds }
    }

    /// How many prior standard deviations from the median a value is.
    pub fn sds(&self, value: f64) -> f64 {
        if self.log { (value / self.median).ln() / self.sd } else { (value - self.median) / self.sd }
    }

    /// This prior around another median.
    pub fn around(self, median: f64) -> Self {
        let shift = if self.log { median / self.median } else { 1.0 };
        Prior { median, low: self.low.min(self.low * shift), high: self.high.max(self.high * shift), ..self }
    }

    /// The value, brought within the bounds.
    pub fn clamp(&self, value: f64) -> f64 {
        value.clamp(self.low, self.high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Correlated coordinates go anywhere; a gel conversion above 1 came out of a fit of a campaign.
    #[test]
    fn values_stay_within_their_bounds() {
        for prior in [Prior::lognormal(0.63, 0.075, 0.4, 0.9), Prior::normal(0.0, 0.5, -6.0, 6.0)] {
            for sds in [-1e3, -9.0, 9.0, 1e3] {
                let value = prior.value(sds);
                assert!((prior.low..=prior.high).contains(&value), "{prior:?} {value}");
                assert!(value > prior.low && value < prior.high || prior.derivative(sds) == 0.0, "{prior:?}");
            }
            assert!((prior.sds(prior.value(1.3)) - 1.3).abs() < 1e-12);
        }
    }
}
