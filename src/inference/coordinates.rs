//! The space that a fit searches: positions in spreads from what is believed, so that every prior is a unit normal.
//!
//! A position z becomes q = origin + mixing z (the grade's part of a calibration is correlated: what the cup logs said), and
//! a value in SI through each parameter's belief.

use ndarray::{Array1, Array2, ArrayView1, s};

use crate::fit::parameter::{Belief, Parameter};
use crate::numerics::triangular::{cholesky, transposed_dot};

/// One coordinate: a parameter, the record it belongs to if it is a record's own, and what is believed of it.
#[derive(Clone, Debug)]
pub(crate) struct Axis {
    pub parameter: Parameter,
    /// Index of the log or trial whose own it is.
    pub record: Option<usize>,
    pub belief: Belief,
}

/// All coordinates of a fit.
#[derive(Clone, Debug)]
pub(crate) struct Space {
    pub axes: Vec<Axis>,
    pub origin: Array1<f64>,
    /// Lower triangular; the identity but for a correlated block.
    pub mixing: Array2<f64>,
    /// How many axes, the first ones, are mixed.
    mixed: usize,
}

impl Space {
    /// Independent beliefs.
    pub fn new(axes: Vec<Axis>) -> Self {
        let n = axes.len();
        Space { axes, origin: Array1::zeros(n), mixing: Array2::eye(n), mixed: 0 }
    }

    /// Replaces the beliefs about the first axes by a mean and a covariance (both in spreads).
    pub fn correlate(&mut self, mean: &Array1<f64>, covariance: &Array2<f64>) {
        let n = mean.len();
        self.origin.slice_mut(s![..n]).assign(mean);
        self.mixing.slice_mut(s![..n, ..n]).assign(&cholesky(covariance.view()));
        self.mixed = n;
    }

    pub fn len(&self) -> usize {
        self.axes.len()
    }

    /// Positions in spreads of each belief.
    pub fn spreads(&self, z: ArrayView1<f64>) -> Array1<f64> {
        let mut q = &self.origin + &z;
        let m = self.mixed;
        let mixed = self.mixing.slice(s![..m, ..m]).dot(&z.slice(s![..m])) + self.origin.slice(s![..m]);
        q.slice_mut(s![..m]).assign(&mixed);
        q
    }

    /// Derivatives by the positions, from those by the spreads.
    pub fn pull_back(&self, by_spread: &Array1<f64>) -> Array1<f64> {
        let mut by_position = by_spread.clone();
        let m = self.mixed;
        let mixed = transposed_dot(self.mixing.slice(s![..m, ..m]), by_spread.slice(s![..m]));
        by_position.slice_mut(s![..m]).assign(&mixed);
        by_position
    }

    /// Values in SI.
    pub fn values(&self, z: ArrayView1<f64>) -> Vec<f64> {
        self.spreads(z).iter().zip(&self.axes).map(|(q, axis)| axis.belief.value(*q)).collect()
    }

    /// Derivatives of the values by the spreads.
    pub fn rates(&self, z: ArrayView1<f64>) -> Vec<f64> {
        self.spreads(z).iter().zip(&self.axes).map(|(q, axis)| axis.belief.rate(*q)).collect()
    }

    /// The coordinates that a record's model depends on: all shared ones and its own.
    pub fn of_record(&self, record: usize) -> Vec<usize> {
        (0..self.len()).filter(|&j| self.axes[j].record.is_none_or(|r| r == record)).collect()
    }

    /// The coordinates that are left without a record, counted as they are here.
    pub fn left_without(&self, record: usize) -> Vec<usize> {
        (0..self.len()).filter(|&j| self.axes[j].record != Some(record)).collect()
    }

    /// The space of the other records; later ones move up.
    pub fn without(&self, record: usize) -> Self {
        let left = self.left_without(record);
        let moved_up = |axis: &Axis| Axis { record: axis.record.map(|r| r - usize::from(r > record)), ..axis.clone() };
        Space {
            axes: left.iter().map(|&j| moved_up(&self.axes[j])).collect(),
            origin: self.origin.select(ndarray::Axis(0), &left),
            mixing: self.mixing.select(ndarray::Axis(0), &left).select(ndarray::Axis(1), &left),
            mixed: self.mixed,
        }
    }

    /// Bounds on the positions; a correlated axis is only kept from running away.
    pub fn bounds(&self) -> (Array1<f64>, Array1<f64>) {
        const FAR: f64 = 8.0;
        let end = |j: usize, value: f64, far: f64| {
            let mixed = (0..self.len()).any(|k| k != j && self.mixing[[j, k]] != 0.0);
            if mixed || self.origin[j] != 0.0 || self.mixing[[j, j]] != 1.0 {
                far
            } else {
                let at = self.axes[j].belief.position(value);
                if at.is_finite() { at } else { far }
            }
        };
        let lower = Array1::from_shape_fn(self.len(), |j| end(j, self.axes[j].belief.low, -FAR));
        let upper = Array1::from_shape_fn(self.len(), |j| end(j, self.axes[j].belief.high, FAR));
        (lower, upper)
    }
}
