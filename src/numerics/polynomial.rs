//! Many outputs of several inputs as polynomials of second order, by regression on examples: a cheap stand-in for a simulation
//! near where it was run.

use ndarray::{Array1, Array2, ArrayView1, ArrayView2, Axis};

use super::triangular::{cholesky, inverse_lower, solve_normal};

/// Pull of all but the constant towards zero, as a share of the examples: keeps terms that no example tells of finite.
const RIDGE: f64 = 1e-6;

/// Polynomials of second order.
#[derive(Clone, Debug)]
pub struct Polynomials {
    center: Array1<f64>,
    /// Turns inputs into about independent unit normals; lower triangular.
    whiten: Array2<f64>,
    /// One row per output: the constant, the slopes, and for each pair of inputs (each once) half the curvature; shape
    /// (n, terms).
    coefficients: Array2<f64>,
}

/// Terms of a polynomial of second order in `k` inputs.
pub const fn terms(k: usize) -> usize {
    1 + k + k * (k + 1) / 2
}

impl Polynomials {
    /// The regression of examples: inputs (m, k) and outputs (m, n). Wants some times as many examples as [`terms`].
    pub fn of_examples(inputs: ArrayView2<f64>, outputs: ArrayView2<f64>) -> Self {
        let m = inputs.nrows() as f64;
        let center = inputs.sum_axis(Axis(0)) / m;
        let centered = &inputs - &center;
        let mut covariance = centered.t().dot(&centered) / m;
        covariance.diag_mut().mapv_inplace(|c| c * (1.0 + 1e-9) + 1e-300);
        let whiten = inverse_lower(cholesky(covariance.view()).view());
        let features = features_of(centered.dot(&whiten.t()).view());
        let mut normal = features.t().dot(&features);
        normal.diag_mut().iter_mut().skip(1).for_each(|d| *d += RIDGE * m);
        let solved = solve_normal(cholesky(normal.view()).view(), features.t().dot(&outputs).view());
        Polynomials { center, whiten, coefficients: solved.t().as_standard_layout().to_owned() }
    }

    /// Where inputs stand among the examples: about unit normals.
    pub fn whitened(&self, inputs: &[f64]) -> Vec<f64> {
        self.whiten.dot(&(&ArrayView1::from(inputs) - &self.center)).to_vec()
    }

    /// The outputs where inputs stand.
    pub fn outputs(&self, whitened: &[f64]) -> Vec<f64> {
        self.coefficients.dot(&Array1::from(row_features(whitened))).to_vec()
    }

    /// The derivatives by the inputs of a number whose derivatives by the outputs, where inputs stand, are known.
    pub fn pull_back(&self, whitened: &[f64], by_output: &[f64]) -> Vec<f64> {
        let mut by_term = Array1::zeros(self.coefficients.ncols());
        self.coefficients.rows().into_iter().zip(by_output).for_each(|(row, by)| by_term.scaled_add(*by, &row));
        let k = whitened.len();
        let mut slope: Vec<f64> = by_term.iter().skip(1).take(k).copied().collect();
        let mut pairs = by_term.iter().skip(1 + k);
        for i in 0..k {
            for (j, curved) in (i..k).zip(pairs.by_ref()) {
                slope[i] += curved * whitened[j];
                slope[j] += curved * whitened[i];
            }
        }
        let mut by_input = Array1::zeros(k);
        self.whiten.rows().into_iter().zip(slope).for_each(|(row, by)| by_input.scaled_add(by, &row));
        by_input.to_vec()
    }
}

/// 1, every input, and every product of two.
fn row_features(u: &[f64]) -> Vec<f64> {
    let mut row = Vec::with_capacity(terms(u.len()));
    row.push(1.0);
    row.extend(u);
    for i in 0..u.len() {
        row.extend(u[i..].iter().map(|v| u[i] * v));
    }
    row
}

fn features_of(u: ArrayView2<f64>) -> Array2<f64> {
    let mut features = Array2::zeros((u.nrows(), terms(u.ncols())));
    for (mut to, row) in features.rows_mut().into_iter().zip(u.rows()) {
        to.assign(&Array1::from(row_features(&row.to_vec())));
    }
    features
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::random::{stream, unit_normals};

    fn examples(m: usize, k: usize) -> Array2<f64> {
        let normals = unit_normals(&mut stream(3, 0), m * k);
        Array2::from_shape_fn((m, k), |(i, j)| {
            normals[i * k + j] * (1.0 + j as f64) + if j > 0 { normals[i * k] } else { 5.0 }
        })
    }

    fn of_second_order(x: ArrayView1<f64>, n: usize) -> Array1<f64> {
        Array1::from_shape_fn(n, |i| {
            let t = i as f64 / n as f64;
            1.0 + t * x[0] - 2.0 * x[1] + (0.3 + t) * x[0] * x[2] - 0.1 * t * t * x[2] * x[2]
        })
    }

    #[test]
    fn polynomials_of_second_order_come_back_with_their_slopes() {
        let inputs = examples(200, 3);
        let mut outputs = Array2::zeros((200, 4));
        for (mut to, x) in outputs.rows_mut().into_iter().zip(inputs.rows()) {
            to.assign(&of_second_order(x, 4));
        }
        let found = Polynomials::of_examples(inputs.view(), outputs.view());
        let x = ndarray::array![4.3, -1.2, 2.5];
        let stand = found.whitened(&x.to_vec());
        let (y, expected) = (found.outputs(&stand), of_second_order(x.view(), 4));
        // The ridge takes a millionth.
        assert!(y.iter().zip(&expected).all(|(a, b)| (a - b).abs() < 1e-4), "{y:?} {expected}");
        let weights = Array1::from_shape_fn(4, |i| (i as f64).cos());
        let slope = found.pull_back(&stand, &weights.to_vec());
        for j in 0..3 {
            let moved = |h: f64| {
                let mut at = x.clone();
                at[j] += h;
                of_second_order(at.view(), 4).dot(&weights)
            };
            let expected = (moved(1e-3) - moved(-1e-3)) / 2e-3;
            assert!((slope[j] - expected).abs() < 1e-4 * expected.abs().max(1.0), "{j}: {} {expected}", slope[j]);
        }
    }
}
