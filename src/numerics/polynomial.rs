//! Many outputs of several inputs as polynomials of second order, by regression on examples: a cheap stand-in for a
//! simulation near where it was run.

use ndarray::{Array1, Array2, ArrayView1, ArrayView2, Axis, s};

use super::orthogonal::Svd;
use super::triangular::{cholesky, inverse_lower, solve_normal, transposed_dot};

/// Pull of all but the constant towards zero, as a share of the examples: keeps terms that no example determines
/// finite.
const RIDGE: f64 = 1e-6;

/// Polynomials of second order.
#[derive(Clone, Debug)]
pub struct Polynomials {
    center: Array1<f64>,
    /// Turns inputs into what the polynomials are of: about independent unit normals; shape (r, k).
    whiten: Array2<f64>,
    /// One column per output, one row per term: the constant, the slopes, each product of two (each pair once); shape
    /// (terms, n).
    coefficients: Array2<f64>,
    /// The same, row after row: chains spend much of their time on them.
    flat: Vec<f64>,
}

/// Outputs at some inputs, with what slopes are made of.
#[derive(Clone, Debug)]
pub struct Evaluated {
    /// The outputs; shape (n,).
    pub outputs: Array1<f64>,
    /// Their derivatives by whitened inputs, a row of outputs for each.
    slopes: Vec<f64>,
}

/// Terms of a polynomial of second order in `k` inputs.
pub const fn terms(k: usize) -> usize {
    1 + k + k * (k + 1) / 2
}

impl Polynomials {
    fn new(center: Array1<f64>, whiten: Array2<f64>, coefficients: Array2<f64>) -> Self {
        Polynomials { center, whiten, flat: coefficients.iter().copied().collect(), coefficients }
    }

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
        let coefficients = solve_normal(cholesky(normal.view()).view(), features.t().dot(&outputs).view());
        Polynomials::new(center, whiten, coefficients)
    }

    /// The same in fewer inputs: directions along which all outputs together move by less than `least`, root mean
    /// square over the examples, are left out (active subspaces: Constantine, Dow and Wang, SIAM J. Sci. Comput. 36,
    /// A1500, 2014).
    pub fn narrowed(self, least: f64) -> Self {
        let k = self.whiten.nrows();
        let sized = Svd::of(self.movement().view());
        let kept: Vec<usize> = (0..k).filter(|&i| sized.values[i] >= least * least).collect();
        let turn = sized.v.select(Axis(0), &kept);
        let r = kept.len();
        let n = self.coefficients.ncols();
        let mut coefficients = Array2::zeros((terms(r), n));
        for output in 0..n {
            let (slope, bend) = self.of_output(output);
            let (slope, bend) = (turn.dot(&slope), turn.dot(&bend).dot(&turn.t()));
            coefficients[[0, output]] = self.coefficients[[0, output]];
            coefficients.slice_mut(s![1..1 + r, output]).assign(&slope);
            let pairs = (0..r).flat_map(|i| (i..r).map(move |j| (i, j)));
            for (term, (i, j)) in pairs.enumerate() {
                coefficients[[1 + r + term, output]] = if i == j { 0.5 * bend[[i, i]] } else { bend[[i, j]] };
            }
        }
        Polynomials::new(self.center, turn.dot(&self.whiten), coefficients)
    }

    /// Mean over unit normal inputs of the products of slopes, summed over outputs; shape (k, k).
    fn movement(&self) -> Array2<f64> {
        let k = self.whiten.nrows();
        let mut all = Array2::zeros((k, k));
        for output in 0..self.coefficients.ncols() {
            let (slope, bend) = self.of_output(output);
            let column = slope.insert_axis(Axis(1));
            all += &(column.dot(&column.t()) + bend.dot(&bend));
        }
        all
    }

    /// Slope and second derivatives of an output where whitened inputs are zero.
    fn of_output(&self, output: usize) -> (Array1<f64>, Array2<f64>) {
        let k = self.whiten.nrows();
        let slope = self.coefficients.slice(s![1..1 + k, output]).to_owned();
        let mut bend = Array2::zeros((k, k));
        let pairs = (0..k).flat_map(|i| (i..k).map(move |j| (i, j)));
        for (term, (i, j)) in pairs.enumerate() {
            bend[[i, j]] += self.coefficients[[1 + k + term, output]];
            bend[[j, i]] += self.coefficients[[1 + k + term, output]];
        }
        (slope, bend)
    }

    /// The outputs at these inputs. Once through all coefficients: the products give the slopes, and those the outputs.
    pub fn at(&self, inputs: &[f64]) -> Evaluated {
        let u = self.whiten.dot(&(&ArrayView1::from(inputs) - &self.center));
        let (r, n) = (u.len(), self.coefficients.ncols());
        let (constant, rest) = self.flat.split_at(n);
        let (linear, products) = rest.split_at(r * n);
        let mut slopes = self.bends(&u, products);
        let mut outputs = constant.to_vec();
        for ((slopes, linear), u) in slopes.chunks_exact_mut(n.max(1)).zip(linear.chunks_exact(n.max(1))).zip(&u) {
            for ((output, slope), linear) in outputs.iter_mut().zip(slopes).zip(linear) {
                *output += u * (linear + 0.5 * *slope);
                *slope += linear;
            }
        }
        Evaluated { outputs: outputs.into(), slopes }
    }

    /// What the products of two add to the slopes, a row of outputs for each input.
    fn bends(&self, u: &Array1<f64>, products: &[f64]) -> Vec<f64> {
        let (r, n) = (u.len(), self.coefficients.ncols());
        let mut bends = vec![0.0; r * n];
        let mut rows = products.chunks_exact(n.max(1));
        for i in 0..r {
            let (upper, below) = bends.split_at_mut((i + 1) * n);
            let of_i = &mut upper[i * n..];
            if let Some(row) = rows.next() {
                of_i.iter_mut().zip(row).for_each(|(to, c)| *to += 2.0 * u[i] * c);
            }
            for ((of_j, row), by) in below.chunks_exact_mut(n.max(1)).zip(rows.by_ref()).zip(u.iter().skip(i + 1)) {
                for ((a, b), c) in of_i.iter_mut().zip(of_j).zip(row) {
                    *a += by * c;
                    *b += u[i] * c;
                }
            }
        }
        bends
    }

    /// The derivatives by the inputs of a number whose derivatives by the outputs are known.
    pub fn pull_back(&self, at: &Evaluated, by_output: &[f64]) -> Array1<f64> {
        let dot = |slopes: &[f64]| slopes.iter().zip(by_output).map(|(a, b)| a * b).sum::<f64>();
        let by_input: Array1<f64> = at.slopes.chunks_exact(by_output.len().max(1)).map(dot).collect();
        transposed_dot(self.whiten.view(), by_input.view())
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
        assert_second_order(&found, 4);
        // The outputs move along all three inputs: nothing is left out.
        assert_second_order(&found.narrowed(1e-3), 4);
    }

    fn assert_second_order(found: &Polynomials, n: usize) {
        let x = ndarray::array![4.3, -1.2, 2.5];
        let at = found.at(&x.to_vec());
        let expected = of_second_order(x.view(), n);
        // The ridge takes a millionth.
        assert!(at.outputs.iter().zip(&expected).all(|(a, b)| (a - b).abs() < 1e-4), "{} {expected}", at.outputs);
        let weights = Array1::from_shape_fn(n, |i| (i as f64).cos());
        let slope = found.pull_back(&at, &weights.to_vec());
        for j in 0..3 {
            let moved = |h: f64| {
                let mut at = x.clone();
                at[j] += h;
                of_second_order(at.view(), n).dot(&weights)
            };
            let expected = (moved(1e-3) - moved(-1e-3)) / 2e-3;
            assert!((slope[j] - expected).abs() < 1e-4 * expected.abs().max(1.0), "{j}: {} {expected}", slope[j]);
        }
    }

    /// Ten inputs, of which the outputs feel two sums and, faintly, the rest.
    #[test]
    fn narrowed_polynomials_keep_the_directions_that_matter() {
        let inputs = Array2::from_shape_vec((400, 10), unit_normals(&mut stream(4, 0), 4000)).expect("a shape");
        let of = |x: ArrayView1<f64>| {
            let (a, b) = (x.sum(), x[0] - x[9]);
            ndarray::array![a + 0.2 * b * b, a * b + 1e-4 * x[4]]
        };
        let mut outputs = Array2::zeros((400, 2));
        outputs.rows_mut().into_iter().zip(inputs.rows()).for_each(|(mut to, x)| to.assign(&of(x)));
        let found = Polynomials::of_examples(inputs.view(), outputs.view()).narrowed(0.01);
        assert_eq!(found.whiten.nrows(), 2);
        let off = &found.at(&inputs.row(3).to_vec()).outputs - &of(inputs.row(3));
        assert!(off.iter().all(|x| x.abs() < 1e-3), "{off}");
    }
}
