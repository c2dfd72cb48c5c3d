//! Many outputs of several inputs as polynomials of second order, by regression on examples: a cheap stand-in for a simulation
//! near where it was run.

use ndarray::{Array1, Array2, ArrayView1, ArrayView2, Axis, Zip};

use super::triangular::{cholesky, inverse_lower, solve_normal};

/// Directions in the space of outputs that are kept at most, and the size, in the outputs' own unit, below which the rest of
/// every example is left out.
const MOST_DIRECTIONS: usize = 24;
const NEGLIGIBLE: f64 = 0.02;
/// Pull of all but the constant towards zero, as a share of the examples: keeps terms that no example tells of finite.
const RIDGE: f64 = 1e-6;

/// Polynomials of second order.
#[derive(Clone, Debug)]
pub struct Polynomials {
    center: Array1<f64>,
    /// Turns inputs into about independent unit normals; lower triangular.
    whiten: Array2<f64>,
    mean: Array1<f64>,
    /// Orthonormal directions of outputs, one per row; shape (r, outputs).
    directions: Array2<f64>,
    /// Shape (terms, r).
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
        let (center, mean) = (mean_row(inputs), mean_row(outputs));
        let centered = &inputs - &center;
        let mut covariance = centered.t().dot(&centered) / m;
        covariance.diag_mut().mapv_inplace(|c| c * (1.0 + 1e-9) + 1e-300);
        let whiten = inverse_lower(cholesky(covariance.view()).view());
        let features = features_of(centered.dot(&whiten.t()).view());
        let residuals = &outputs - &mean;
        let directions = directions(residuals.view());
        let mut normal = features.t().dot(&features);
        normal.diag_mut().iter_mut().skip(1).for_each(|d| *d += RIDGE * m);
        let right = features.t().dot(&residuals.dot(&directions.t()));
        let coefficients = solve_normal(cholesky(normal.view()).view(), right.view());
        Polynomials { center, whiten, mean, directions, coefficients }
    }

    /// The outputs at these inputs.
    pub fn outputs(&self, inputs: ArrayView1<f64>) -> Array1<f64> {
        let features = row_features(self.whitened(inputs).view());
        &self.mean + &features.dot(&self.coefficients).dot(&self.directions)
    }

    /// The derivatives by the inputs of a number whose derivatives by the outputs, at these inputs, are known.
    pub fn pull_back(&self, inputs: ArrayView1<f64>, by_output: ArrayView1<f64>) -> Array1<f64> {
        let u = self.whitened(inputs);
        let by_term = self.coefficients.dot(&self.directions.dot(&by_output));
        let k = u.len();
        let mut slope = Array1::from_shape_fn(k, |i| by_term[1 + i]);
        let mut term = 1 + k;
        for i in 0..k {
            for j in i..k {
                slope[i] += by_term[term] * u[j];
                slope[j] += by_term[term] * u[i];
                term += 1;
            }
        }
        self.whiten.t().dot(&slope)
    }

    fn whitened(&self, inputs: ArrayView1<f64>) -> Array1<f64> {
        self.whiten.dot(&(&inputs - &self.center))
    }
}

fn mean_row(rows: ArrayView2<f64>) -> Array1<f64> {
    rows.sum_axis(Axis(0)) / rows.nrows() as f64
}

/// 1, every input, and every product of two.
fn row_features(u: ArrayView1<f64>) -> Array1<f64> {
    let k = u.len();
    let mut row = Vec::with_capacity(terms(k));
    row.push(1.0);
    row.extend(u);
    for i in 0..k {
        row.extend((i..k).map(|j| u[i] * u[j]));
    }
    Array1::from(row)
}

fn features_of(u: ArrayView2<f64>) -> Array2<f64> {
    let mut features = Array2::zeros((u.nrows(), terms(u.ncols())));
    Zip::from(features.rows_mut()).and(u.rows()).for_each(|mut to, row| to.assign(&row_features(row)));
    features
}

/// Orthonormal directions that span the rows, the longest first: Gram and Schmidt's, choosing the largest rest each time. Series
/// of hundreds of readings move in few ways.
fn directions(rows: ArrayView2<f64>) -> Array2<f64> {
    let n = rows.ncols();
    if n <= MOST_DIRECTIONS / 2 {
        return Array2::eye(n);
    }
    let mut rest = rows.to_owned();
    let mut found = Vec::new();
    while found.len() < MOST_DIRECTIONS.min(n) {
        let lengths = rest.map_axis(Axis(1), |row| row.dot(&row));
        let Some((at, square)) = lengths.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1)) else { break };
        if square.sqrt() <= NEGLIGIBLE {
            break;
        }
        let direction = rest.row(at).mapv(|x| x / square.sqrt());
        let along = rest.dot(&direction);
        Zip::from(rest.rows_mut()).and(&along).for_each(|mut row, a| row.scaled_add(-a, &direction));
        found.push(direction);
    }
    Array2::from_shape_fn((found.len(), n), |(i, j)| found[i][j])
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

    fn check(n: usize) {
        let inputs = examples(200, 3);
        let mut outputs = Array2::zeros((200, n));
        Zip::from(outputs.rows_mut()).and(inputs.rows()).for_each(|mut y, x| y.assign(&of_second_order(x, n)));
        let found = Polynomials::of_examples(inputs.view(), outputs.view());
        let x = ndarray::array![4.3, -1.2, 2.5];
        let (y, expected) = (found.outputs(x.view()), of_second_order(x.view(), n));
        assert!((&y - &expected).iter().all(|d| d.abs() < 2e-3 * 40.0), "{}", &y - &expected);
        let weights = Array1::from_shape_fn(n, |i| (i as f64).cos());
        let slope = found.pull_back(x.view(), weights.view());
        for j in 0..3 {
            let moved = |h: f64| {
                let mut at = x.clone();
                at[j] += h;
                of_second_order(at.view(), n).dot(&weights)
            };
            let expected = (moved(1e-3) - moved(-1e-3)) / 2e-3;
            assert!((slope[j] - expected).abs() < 3e-3 * expected.abs().max(1.0), "{j}: {} {expected}", slope[j]);
        }
    }

    #[test]
    fn polynomials_of_second_order_come_back_with_their_slopes() {
        check(4);
    }

    #[test]
    fn hundreds_of_outputs_move_in_few_directions() {
        check(300);
        let rows = Array2::from_shape_fn((50, 100), |(i, j)| (i as f64).sin() * j as f64 + (i as f64).cos());
        assert_eq!(directions(rows.view()).nrows(), 2);
    }
}
