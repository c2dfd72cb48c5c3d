//! One step of a chain in a single number, of any distribution: slice sampling (Neal, Ann. Stat. 31, 705, 2003).

use chacha20::ChaCha8Rng;
use rand_distr::{Distribution, StandardUniform};

/// Steps outwards to each side at most.
const STEPS_OUT: usize = 32;

/// The next number of a chain that stands at `from`, where the logarithm of the density is this; `width` is about that
/// of the distribution. A density that is nowhere finite leaves the chain where it is.
pub fn slice_step(log_density: impl Fn(f64) -> f64, from: f64, width: f64, generator: &mut ChaCha8Rng) -> f64 {
    let mut uniform = || -> f64 { StandardUniform.sample(generator) };
    let level = log_density(from) + uniform().ln();
    let inside = |x: f64| log_density(x) >= level;
    let mut low = from - width * uniform();
    let mut high = low + width;
    // What is left to each side is chosen at random, or the step would not be reversible.
    let left = (STEPS_OUT as f64 * uniform()) as usize;
    for _ in 0..left {
        if !inside(low) {
            break;
        }
        low -= width;
    }
    for _ in 0..STEPS_OUT - 1 - left {
        if !inside(high) {
            break;
        }
        high += width;
    }
    while high > low {
        let x = low + (high - low) * uniform();
        if inside(x) {
            return x;
        }
        if x < from { low = x } else { high = x }
    }
    from
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::random::stream;

    /// A gamma distribution of shape 3: mean 3, variance 3; of its logarithm, so that the Jacobian counts as well.
    #[test]
    fn steps_leave_a_distribution_as_it_is() {
        let mut generator = stream(1, 0);
        let (n, mut t) = (20_000, 0.0_f64);
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n {
            t = slice_step(|t: f64| 3.0 * t - t.exp(), t, 1.0, &mut generator);
            sum += t.exp();
            squares += t.exp() * t.exp();
        }
        let mean = sum / f64::from(n);
        let variance = squares / f64::from(n) - mean * mean;
        // Neighbors hardly depend on each other: errors of about 0.02 and 0.08.
        assert!((mean - 3.0).abs() < 0.08 && (variance - 3.0).abs() < 0.35, "{mean} {variance}");
    }

    #[test]
    fn a_width_far_off_is_found_out() {
        for width in [1e-2, 30.0] {
            let mut generator = stream(2, 0);
            let (mut x, mut squares) = (0.0, 0.0);
            for _ in 0..20_000 {
                x = slice_step(|x| -0.5 * x * x, x, width, &mut generator);
                squares += x * x / 20_000.0;
            }
            assert!((squares - 1.0).abs() < 0.1, "{width}: {squares}");
        }
    }
}
