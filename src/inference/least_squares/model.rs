//! The linear model of the residuals at a point, and how far the point is from a minimum.

use ndarray::{Array1, Array2};

use super::problem::{Bounds, Point};
use crate::numerics::orthogonal::{Svd, Triangle, norm, triangle};
use crate::numerics::triangular::{cholesky, solve_lower};

/// Smallest pivot, over the rank tolerance, above which no direction can be lost.
pub(super) const SAFE_RANK_MARGIN: f64 = 1e4;

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
        let tangent = if turned.weakest > SAFE_RANK_MARGIN * rank_tolerance {
            norm(turned.q.view())
        } else {
            let svd = Svd::of(columns.view());
            let kept = svd.kept(rank_tolerance);
            let shares = svd.u.dot(&self.triangle.q);
            norm(Array1::from_shape_fn(shares.len(), |i| if kept[i] { shares[i] } else { 0.0 }).view())
        };
        if tangent <= self.rounding() { 0.0 } else { tangent / norm(self.point.residuals.view()) }
    }

    /// Distance to a minimum on the ridge between here and a point next door, in standard errors of residuals of unit
    /// variance: of all mixtures of both slopes the one nearest to zero. Where a model has a corner, each side's slope
    /// points across it, and neither vanishes (Burke, Lewis and Overton, SIAM J. Optim. 15, 751, 2005). `None` where
    /// they cannot be compared.
    pub fn ridge_distance(&self, next_door: &Model) -> Option<f64> {
        let places: Vec<usize> = (0..self.free.len()).filter(|&j| self.free[j]).collect();
        if self.free != next_door.free || places.is_empty() {
            return None;
        }
        let columns = self.point.jacobian.select(ndarray::Axis(1), &places);
        let root = cholesky(columns.t().dot(&columns).view());
        let slope = |model: &Model| {
            let slope = model.point.jacobian.t().dot(&model.point.residuals);
            solve_lower(root.view(), slope.select(ndarray::Axis(0), &places).view())
        };
        let (here, there) = (slope(self), slope(next_door));
        let across = &there - &here;
        let share = (-here.dot(&across) / across.dot(&across)).clamp(0.0, 1.0);
        let distance = norm((here + across * share).view());
        distance.is_finite().then_some(distance)
    }

    /// Size of the rounding errors in the residuals, as the terms that the parameters make in them suggest it.
    fn rounding(&self) -> f64 {
        4.0 * f64::EPSILON * norm((&self.norms * &self.point.p).view())
    }
}
