//! How much a logged series tells: its readings repeat each other where the model errs, so they count for fewer.

use serde::Serialize;

/// The scatter of one logged series about its fitted curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SeriesNoise {
    /// Readings.
    pub count: usize,
    /// Root mean square of the residuals, SI.
    pub scatter: f64,
    /// Correlation of each residual with the next.
    pub correlation: f64,
    /// Readings that are independent of each other, as far as the residuals show.
    pub effective: f64,
    /// Standard deviation with which each reading enters the fit, SI.
    pub weight_sd: f64,
}

/// Highest correlation that is believed.
const MOST_CORRELATED: f64 = 0.995;

impl SeriesNoise {
    /// The scatter that these residuals (model less reading, in order of time) show; at least `floor`, the sensor's own.
    /// Neighboring residuals that agree tell the same thing twice: with correlation r a series of n counts as n (1-r)/(1+r)
    /// readings (the variance of a mean of first-order autoregressive noise).
    pub fn of(residuals: &[f64], floor: f64) -> Self {
        let n = residuals.len();
        let squares: f64 = residuals.iter().map(|r| r * r).sum();
        let neighbors: f64 = residuals.windows(2).map(|w| w[0] * w[1]).sum();
        let correlation = if squares > 0.0 { (neighbors / squares).clamp(0.0, MOST_CORRELATED) } else { 0.0 };
        let scatter = (squares / n.max(1) as f64).sqrt().max(floor);
        let inflation = (1.0 + correlation) / (1.0 - correlation);
        let effective = (n as f64 / inflation).max(1.0);
        SeriesNoise { count: n, scatter, correlation, effective, weight_sd: scatter * (n as f64 / effective).sqrt() }
    }

    /// What is assumed before anything was fitted: `sd` per reading, and that `independent` of them count.
    pub fn assumed(count: usize, sd: f64, independent: f64) -> Self {
        let effective = (count as f64).min(independent);
        let weight_sd = sd * (count as f64 / effective.max(1.0)).sqrt();
        SeriesNoise { count, scatter: sd, correlation: 0.0, effective, weight_sd }
    }
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
}
