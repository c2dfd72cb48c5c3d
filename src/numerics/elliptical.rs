//! One step of a chain in several numbers of unit normal prior, of which something else is known: elliptical
//! slice sampling (Murray, Adams and MacKay, AISTATS, PMLR 9, 541, 2010). Nothing is tuned and nothing is refused.

use std::f64::consts::TAU;

use chacha20::ChaCha8Rng;
use ndarray::{Array1, ArrayView1};
use rand_distr::{Distribution, StandardUniform};

use super::random::unit_normals;
use crate::error::Result;

/// Angles that are tried: by then a step is shorter than what floats tell apart.
const ANGLES: usize = 60;

/// The next numbers of a chain that stands at `from`, where the logarithm of the likelihood is `level`, with that
/// logarithm; `None`: it stays. The likelihood was last asked at the numbers returned.
///
/// # Errors
/// Those of the likelihood.
pub fn elliptical_step(
    mut log_likelihood: impl FnMut(ArrayView1<f64>) -> Result<f64>,
    from: ArrayView1<f64>,
    level: f64,
    generator: &mut ChaCha8Rng,
) -> Result<Option<(Array1<f64>, f64)>> {
    let other = Array1::from(unit_normals(generator, from.len()));
    let mut uniform = || -> f64 { StandardUniform.sample(generator) };
    let least = level + uniform().ln();
    let mut angle = TAU * uniform();
    let (mut low, mut high) = (angle - TAU, angle);
    for _ in 0..ANGLES {
        let x = &from * angle.cos() + &other * angle.sin();
        let value = log_likelihood(x.view())?;
        if value > least {
            return Ok(Some((x, value)));
        }
        if angle < 0.0 {
            low = angle
        } else {
            high = angle
        }
        angle = low + (high - low) * uniform();
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::random::stream;

    /// Two unit normal numbers whose sum was read as 3 with deviation 0.5: by hand, the sum has mean
    /// 3 * 2 / 2.25 and variance 2 * 0.25 / 2.25, the difference keeps variance 2.
    #[test]
    fn steps_leave_a_posterior_as_it_is() {
        let likelihood = |x: ArrayView1<f64>| Ok(-2.0 * (x.sum() - 3.0).powi(2));
        let mut generator = stream(1, 0);
        let (mut x, mut level) = (Array1::zeros(2), -18.0);
        let (mut sum, mut squares, mut differences) = (0.0, 0.0, 0.0);
        let n = 40_000;
        for _ in 0..n {
            if let Some(next) = elliptical_step(likelihood, x.view(), level, &mut generator).expect("a step") {
                (x, level) = next;
            }
            sum += x.sum() / f64::from(n);
            squares += x.sum().powi(2) / f64::from(n);
            differences += (x[0] - x[1]).powi(2) / f64::from(n);
        }
        let variance = squares - sum * sum;
        assert!((sum - 6.0 / 2.25).abs() < 0.02, "{sum}");
        assert!((variance - 0.5 / 2.25).abs() < 0.015 && (differences - 2.0).abs() < 0.1, "{variance} {differences}");
    }

    #[test]
    fn a_likelihood_that_is_nowhere_better_leaves_a_chain_where_it_is() {
        let nowhere = |_: ArrayView1<f64>| Ok(f64::NEG_INFINITY);
        let from = ndarray::array![0.3];
        assert_eq!(elliptical_step(nowhere, from.view(), 0.0, &mut stream(2, 0)).expect("no error"), None);
    }
}
