//! How many independent readings a logged series counts for: where the model errs, neighbors repeat each other.

use serde::{Deserialize, Serialize};

/// The scatter of one logged series about its fitted curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SeriesNoise {
    /// Readings.
    pub count: usize,
    /// Root mean square of the residuals, SI.
    pub scatter: f64,
    /// Correlation of each residual with the next.
    pub correlation: f64,
    /// Independent readings of this scatter that it counts for.
    pub effective: f64,
    /// Standard deviation with which each reading enters the fit, SI.
    pub weight_sd: f64,
}

/// Highest correlation that is taken as it is found.
const MAX_CORRELATION: f64 = 0.995;
/// A change of a series ends for this purpose where it has come to this share of the whole.
const RISEN_SHARE: f64 = 0.95;
/// Pieces of a change in which what the model misses differs from piece to piece.
const MODEL_ERROR_PIECES: f64 = 5.0;

impl SeriesNoise {
    /// The scatter that these residuals (model less reading, in order of time) show; at least `floor`, the sensor's
    /// own. Neighboring residuals that agree count for less: with correlation r a series of n counts as n (1-r)/(1+r)
    /// readings (the variance of a mean of first-order autoregressive noise).
    pub fn of(residuals: &[f64], floor: f64) -> Self {
        let n = residuals.len();
        let squares: f64 = residuals.iter().map(|r| r * r).sum();
        let neighbors: f64 = residuals.windows(2).map(|w| w[0] * w[1]).sum();
        let correlation = if squares > 0.0 { (neighbors / squares).clamp(0.0, MAX_CORRELATION) } else { 0.0 };
        let scatter = (squares / n.max(1) as f64).sqrt().max(floor);
        SeriesNoise { count: n, scatter, correlation, effective: 1.0, weight_sd: scatter }.at_its_word()
    }

    /// The same where the model misses `share` of the whole change of these readings, in one piece of it high, in
    /// another low: the readings of one piece share its error. Residuals do not show it, for constants that are off
    /// hide it.
    pub fn missed(mut self, share: f64, readings: &[f64]) -> Self {
        let Some(first) = readings.first() else { return self };
        let whole = whole_change(readings);
        let until = readings.iter().take_while(|x| *x - first < RISEN_SHARE * whole).count();
        let of_piece = (until as f64 / MODEL_ERROR_PIECES).max(1.0);
        let variance = self.weight_sd.powi(2) + (share * whole).powi(2) * of_piece;
        self.effective = (self.count as f64 * self.scatter.powi(2) / variance).max(1.0);
        self.weight_sd = variance.sqrt();
        self
    }

    /// The same as if the model missed nothing: what it misses in all castings alike does not blur what one differs by.
    pub fn at_its_word(self) -> Self {
        let inflation = (1.0 + self.correlation) / (1.0 - self.correlation);
        let effective = (self.count as f64 / inflation).max(1.0);
        let weight_sd = self.scatter * (self.count as f64 / effective).sqrt();
        SeriesNoise { effective, weight_sd, ..self }
    }

    /// What is assumed before anything was fitted: `sd` per reading, and that `independent` of them count.
    pub fn assumed(count: usize, sd: f64, independent: f64) -> Self {
        let effective = (count as f64).min(independent);
        let weight_sd = sd * (count as f64 / effective.max(1.0)).sqrt();
        SeriesNoise { count, scatter: sd, correlation: 0.0, effective, weight_sd }
    }
}

/// How far readings get above the first.
pub fn whole_change(readings: &[f64]) -> f64 {
    readings.first().map_or(0.0, |first| readings.iter().map(|x| x - first).fold(0.0, f64::max))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn independent_readings_count_in_full_and_drifting_ones_do_not() {
        let mut seed = 1_u64;
        let mut toss = || {
            seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            if seed >> 63 == 0 { 1.0 } else { -1.0 }
        };
        let white: Vec<f64> = (0..200).map(|_| toss()).collect();
        let drift: Vec<f64> = (0..200).map(|i| (i as f64 / 30.0).sin()).collect();
        assert!(SeriesNoise::of(&white, 0.0).effective > 100.0);
        let noise = SeriesNoise::of(&drift, 0.0);
        assert!(noise.effective < 3.0, "{noise:?}");
        assert!((noise.weight_sd - noise.scatter * (200.0 / noise.effective).sqrt()).abs() < 1e-12);
    }

    /// A constant that acts on a whole piece alike is known no better than what the model misses there, however often
    /// it is read.
    #[test]
    fn more_readings_do_not_tell_more_of_what_the_model_misses() {
        let rise = |n: usize| -> Vec<f64> { (0..n).map(|i| (i as f64 / n as f64 * 2.0).min(1.0)).collect() };
        let known_to = |n: usize, share: f64| {
            let noise = SeriesNoise::of(&vec![1e-3; n], 0.0);
            let white = SeriesNoise { effective: n as f64, weight_sd: noise.scatter, ..noise };
            let noise = white.missed(share, &rise(n));
            assert!(noise.effective <= n as f64);
            assert_eq!(noise.at_its_word(), SeriesNoise::of(&vec![1e-3; n], 0.0));
            noise.weight_sd / (n as f64).sqrt()
        };
        assert!((known_to(4000, 0.0) / known_to(1000, 0.0) - 0.5).abs() < 1e-12);
        assert!((known_to(4000, 0.01) / known_to(1000, 0.01) - 1.0).abs() < 0.01);
        // Five pieces until 95 % have come, 2 / 0.95 times as many in the whole log.
        assert!((known_to(4000, 0.01) / (0.01 * (0.95_f64 / 2.0 / 5.0).sqrt()) - 1.0).abs() < 0.01);
    }
}
