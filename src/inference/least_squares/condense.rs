//! Many residuals that depend on few parameters, written as few with the same sum of squares and the same derivatives
//! of it.

use ndarray::{Array1, Array2, ArrayView1, ArrayView2, s};

use crate::numerics::orthogonal::{norm, triangle};

/// Rows that stand for a block of residuals of this many parameters.
pub fn condensed_rows(residuals: usize, parameters: usize) -> usize {
    residuals.min(parameters + 1)
}

/// The block turned by an orthogonal matrix so that [`condensed_rows`] rows hold all that its parameters can change
/// and, in the last, what they cannot. Shapes (m,) and (m, k) become (r,) and (r, k).
pub fn condense(residuals: ArrayView1<f64>, jacobian: ArrayView2<f64>) -> (Array1<f64>, Array2<f64>) {
    let (m, k) = jacobian.dim();
    if m <= k + 1 {
        return (residuals.to_owned(), jacobian.to_owned());
    }
    let turned = triangle(jacobian, residuals);
    let mut rows = (Array1::zeros(k + 1), Array2::zeros((k + 1, k)));
    rows.0.slice_mut(s![..k]).assign(&turned.q);
    rows.0[k] = turned.rest;
    rows.1.slice_mut(s![..k, ..]).assign(&turned.r);
    rows
}

/// As [`condense`], without derivatives: one row holds the norm.
pub fn condense_values(residuals: ArrayView1<f64>, parameters: usize) -> Array1<f64> {
    if residuals.len() <= parameters + 1 {
        return residuals.to_owned();
    }
    let mut rows = Array1::zeros(parameters + 1);
    rows[parameters] = norm(residuals);
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_condensed_block_has_the_same_sum_of_squares_and_slopes() {
        let jacobian = Array2::from_shape_fn((40, 3), |(i, j)| ((i * (j + 2)) as f64).sin() + j as f64);
        let residuals = Array1::from_shape_fn(40, |i| (i as f64 * 0.7).cos() + 0.3);
        let (r, j) = condense(residuals.view(), jacobian.view());
        assert_eq!((r.len(), j.dim()), (condensed_rows(40, 3), (4, 3)));
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-12 * b.abs().max(1.0), "{a} {b}");
        close(r.dot(&r), residuals.dot(&residuals));
        close(condense_values(residuals.view(), 3).dot(&condense_values(residuals.view(), 3)), r.dot(&r));
        for (a, b) in j.t().dot(&r).iter().zip(jacobian.t().dot(&residuals)) {
            close(*a, b);
        }
        for (a, b) in j.t().dot(&j).iter().zip(&jacobian.t().dot(&jacobian)) {
            close(*a, *b);
        }
    }
}
