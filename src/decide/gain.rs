//! What readings would teach: the part of a quantity that follows them, and the part that is left, by a linear law over draws.

use crate::numerics::random::{stream, unit_normals};

/// Seed of the readings' own scatter: the same for all that is compared.
const SEED: u64 = 20_263;

/// A reading that could be taken, draw by draw, with its own standard deviation.
pub(super) struct Readable {
    pub values: Vec<f64>,
    pub sd: f64,
}

/// Readings with their scatter, as orthonormal series over the draws: each less what the earlier ones said of it.
pub(super) struct Taught {
    basis: Vec<Vec<f64>>,
}

impl Taught {
    pub fn by(readings: &[Readable]) -> Taught {
        let mut basis: Vec<Vec<f64>> = Vec::new();
        for (k, reading) in readings.iter().enumerate() {
            let noise = unit_normals(&mut stream(SEED, k as u64), reading.values.len());
            let mut series = centered(reading.values.iter().zip(noise).map(|(x, z)| x + reading.sd * z).collect());
            let before = dot(&series, &series);
            for known in &basis {
                take_out(&mut series, known);
            }
            let own = dot(&series, &series);
            // What only repeats the others is rounding by now.
            if own > 1e-18 * before {
                series.iter_mut().for_each(|x| *x /= own.sqrt());
                basis.push(series);
            }
        }
        Taught { basis }
    }

    /// What the readings of every draw say of a quantity, about its mean; and what is left of the quantity, with its mean.
    pub fn split(&self, quantity: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let mut left = quantity.to_vec();
        for known in &self.basis {
            take_out(&mut left, known);
        }
        (quantity.iter().zip(&left).map(|(x, rest)| x - rest).collect(), left)
    }

    /// Root mean square of what is left of a quantity about its mean.
    pub fn doubt_left(&self, quantity: &[f64]) -> f64 {
        size(&self.split(&centered(quantity.to_vec())).1)
    }
}

pub(super) fn centered(mut values: Vec<f64>) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    values.iter_mut().for_each(|x| *x -= mean);
    values
}

/// Subtracts the part that follows a series of unit length.
fn take_out(of: &mut [f64], known: &[f64]) {
    let slope = dot(of, known);
    of.iter_mut().zip(known).for_each(|(x, k)| *x -= slope * k);
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Root mean square.
fn size(values: &[f64]) -> f64 {
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
        let left = Taught::by(&[Readable { values: a.clone(), sd: 0.5 }]).doubt_left(&target);
        assert!((left * left - 1.2).abs() < 0.05, "{left}");
        let both = [Readable { values: a, sd: 0.0 }, Readable { values: target.clone(), sd: 0.0 }];
        assert!(Taught::by(&both).doubt_left(&target) < 1e-9);
    }

    #[test]
    fn what_is_said_and_what_is_left_add_up() {
        let reading = Readable { values: vec![1.0, 2.0, 4.0, 3.0], sd: 0.1 };
        let quantity = [7.0, 9.0, 12.0, 8.0];
        let (said, left) = Taught::by(&[reading]).split(&quantity);
        assert!(said.iter().sum::<f64>().abs() < 1e-9);
        assert!((left.iter().sum::<f64>() - 36.0).abs() < 1e-9);
        assert!((0..4).all(|i| (said[i] + left[i] - quantity[i]).abs() < 1e-12));
    }
}
