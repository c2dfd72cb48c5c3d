//! Small problems whose answers are known by hand.

use ndarray::{Array1, Array2, ArrayView1, array};
use risefit::Result;
use risefit::inference::least_squares::{Bounds, Residuals, Settings, Solution, fit};

pub type Evaluation = Result<(Array1<f64>, Array2<f64>)>;

pub struct Problem<F> {
    pub n: usize,
    pub evaluate: F,
}

impl<F: Fn(ArrayView1<f64>) -> Evaluation> Residuals for Problem<F> {
    fn n_residuals(&self) -> usize {
        self.n
    }

    fn evaluate(&self, p: ArrayView1<f64>) -> Evaluation {
        (self.evaluate)(p)
    }
}

/// Residuals `a p - b`.
pub fn linear(a: Array2<f64>, b: Array1<f64>) -> impl Residuals {
    Problem { n: b.len(), evaluate: move |p: ArrayView1<f64>| Ok((a.dot(&p) - &b, a.clone())) }
}

/// One residual list and one list of slopes for a single parameter.
pub fn single<const M: usize>(f: impl Fn(f64) -> ([f64; M], [f64; M])) -> impl Residuals {
    let evaluate = move |p: ArrayView1<f64>| {
        let (r, d) = f(p[0]);
        Ok((Array1::from_iter(r), Array2::from_shape_fn((M, 1), |(i, _)| d[i])))
    };
    Problem { n: M, evaluate }
}

pub fn solve(problem: &impl Residuals, bounds: &Bounds, start: Array1<f64>) -> Solution {
    fit(problem, bounds, &start, &Settings::default()).unwrap()
}

pub fn assert_close(got: f64, want: f64, relative: f64) {
    assert!((got - want).abs() <= relative * want.abs(), "{got} is not {want} within {relative}");
}

const X: [f64; 4] = [0.0, 1.0, 2.0, 3.0];

/// The line a + b x through (0, 1), (1, 3), (2, 4), (3, 8): Sxx 5, b 2.2, a 0.7, residual sum of squares 1.8.
pub fn line() -> impl Residuals {
    linear(Array2::from_shape_fn((4, 2), |(i, j)| X[i].powi(j as i32)), array![1.0, 3.0, 4.0, 8.0])
}

/// A saturating rise a (1 - exp(-b t)) with a 2, b 0.5, at t 1 to 6, without noise.
pub fn rise() -> impl Residuals {
    let evaluate = |p: ArrayView1<f64>| {
        let t = |i: usize| 1.0 + i as f64;
        let r = Array1::from_shape_fn(6, |i| p[0] * -(-p[1] * t(i)).exp_m1() + 2.0 * (-0.5 * t(i)).exp_m1());
        let slope = |i: usize, j: usize| match j {
            0 => -(-p[1] * t(i)).exp_m1(),
            _ => p[0] * t(i) * (-p[1] * t(i)).exp(),
        };
        Ok((r, Array2::from_shape_fn((6, 2), |(i, j)| slope(i, j))))
    };
    Problem { n: 6, evaluate }
}
