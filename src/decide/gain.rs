//! What a reading would teach: the doubt about a target that is left once it is known, by a linear law over draws.

use crate::numerics::random::{stream, unit_normals};

/// Seed of the readings' own scatter: the same for all that is compared.
const SEED: u64 = 20_263;

/// A reading that could be taken, draw by draw, with its own standard deviation.
pub(super) struct Readable {
    pub values: Vec<f64>,
    pub sd: f64,
}

/// What is left of each target, draw by draw, once all `readings` are known: residuals about zero. The readings are taken one
/// after another, each less what the earlier ones said of it.
pub(super) fn left_over(targets: &[Vec<f64>], readings: &[Readable]) -> Vec<Vec<f64>> {
    let noisy = readings.iter().enumerate().map(|(k, reading)| {
        let noise = unit_normals(&mut stream(SEED, k as u64), reading.values.len());
        centered(reading.values.iter().zip(noise).map(|(x, z)| x + reading.sd * z).collect())
    });
    let mut noisy: Vec<Vec<f64>> = noisy.collect();
    let mut left: Vec<Vec<f64>> = targets.iter().map(|t| centered(t.clone())).collect();
    for k in 0..noisy.len() {
        let (known, later) = noisy.split_at_mut(k + 1);
        for other in later.iter_mut().chain(left.iter_mut()) {
            take_out(other, &known[k]);
        }
    }
    left
}

fn centered(mut values: Vec<f64>) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    values.iter_mut().for_each(|x| *x -= mean);
    values
}

/// Subtracts the part of `of` that follows `known`.
fn take_out(of: &mut [f64], known: &[f64]) {
    let own = dot(known, known);
    if own > 0.0 {
        let slope = dot(of, known) / own;
        of.iter_mut().zip(known).for_each(|(x, k)| *x -= slope * k);
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Root mean square.
pub(super) fn size(values: &[f64]) -> f64 {
    (dot(values, values) / values.len() as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of a sum of two unit normals, one read with a scatter of 0.5: the normal law leaves 1 + 0.2.
    #[test]
    fn readings_leave_what_the_normal_law_says() {
        let n = 20_000;
        let [a, b] = [1, 2].map(|number| unit_normals(&mut stream(5, number), n));
        let target: Vec<f64> = a.iter().zip(&b).map(|(x, y)| x + y).collect();
        let read = Readable { values: a.clone(), sd: 0.5 };
        let left = left_over(&[target.clone()], &[read]);
        assert!((size(&left[0]).powi(2) - 1.2).abs() < 0.05, "{}", size(&left[0]));
        let both = [Readable { values: a, sd: 0.0 }, Readable { values: target.clone(), sd: 0.0 }];
        assert!(size(&left_over(&[target], &both)[0]) < 1e-9);
    }
}
