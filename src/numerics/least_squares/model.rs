//! The linear model of the residuals at a point, and how far the point is from a minimum.

use ndarray::{Array1, Array2};

use super::orthogonal::{Svd, Triangle, norm, triangle};
use super::problem::{Bounds, Point};

/// Smallest pivot, over the rank tolerance, above which no direction can be lost.
pub(super) const FAR_FROM_LOSS: f64 = 1e4;

/// A point, its factored Jacobian, and which parameters may move from there.
#[derive(Clone, Debug)]
pub(super) struct Model {
    pub point: Point,
    pub triangle: Triangle,
    /// Length of each column of the Jacobian.
    pub norms: Array1<f64>,
    /// False for parameters that are held, without any effect, or pressed against a bound.
    pub free: Vec<bool>,
    /// Cosine between the residuals and the plane of all changes the free parameters can make; 0 at a minimum.
    pub cosine: f64,
}

impl Model {
    pub fn at(point: Point, bounds: &Bounds, rank_tolerance: f64) -> Self {
        let triangle = triangle(point.jacobian.view(), point.residuals.view());
        let norms = Array1::from_iter(point.jacobian.columns().into_iter().map(norm));
        let slope = point.jacobian.t().dot(&point.residuals);
        let free: Vec<bool> = (0..bounds.len())
            .map(|j| {
                let pressed_down = point.p[j] <= bounds.lower[j] && slope[j] >= 0.0;
                let pressed_up = point.p[j] >= bounds.upper[j] && slope[j] <= 0.0;
                norms[j] > 0.0 && !pressed_down && !pressed_up
            })
            .collect();
        let mut model = Model { point, triangle, norms, free, cosine: 0.0 };
        model.cosine = model.tangent_cosine(rank_tolerance);
        model
    }

    /// Columns of the free parameters in the turned Jacobian, each of length 1, with their places.
    pub fn unit_columns(&self) -> (Vec<usize>, Array2<f64>) {
        let places: Vec<usize> = (0..self.free.len()).filter(|&j| self.free[j]).collect();
        let mut columns = self.triangle.r.select(ndarray::Axis(1), &places);
        for (mut column, &j) in columns.columns_mut().into_iter().zip(&places) {
            column /= self.norms[j];
        }
        (places, columns)
    }

    fn tangent_cosine(&self, rank_tolerance: f64) -> f64 {
        let (_, columns) = self.unit_columns();
        let turned = triangle(columns.view(), self.triangle.q.view());
        // Far from a loss of rank all columns count; near one the singular values decide.
        let tangent = if turned.weakest > FAR_FROM_LOSS * rank_tolerance {
            norm(turned.q.view())
        } else {
            let svd = Svd::of(columns.view());
            let kept = svd.kept(rank_tolerance);
            let shares = svd.u.dot(&self.triangle.q);
            norm(Array1::from_shape_fn(shares.len(), |i| if kept[i] { shares[i] } else { 0.0 }).view())
        };
        if tangent <= self.rounding() { 0.0 } else { tangent / norm(self.point.residuals.view()) }
    }

    /// Size of the rounding errors in the residuals, as the terms that the parameters make in them suggest it.
    fn rounding(&self) -> f64 {
        4.0 * f64::EPSILON * norm((&self.norms * &self.point.p).view())
    }
}
