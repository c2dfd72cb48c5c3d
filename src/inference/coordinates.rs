//! The coordinates that a fit searches: positions in which every prior is a unit normal.
//!
//! A position z becomes q = origin + whitening z (the grade's part of a calibration is correlated: what the cup logs
//! said), in prior standard deviations from the prior median, and a value in SI through each parameter's prior.

use ndarray::{Array1, Array2, ArrayView1, s};
use serde::{Deserialize, Serialize};

use super::prior::Prior;
use crate::numerics::triangular::{cholesky, transposed_dot};

/// Positions of a correlated axis that a fit may reach, in standard deviations: it is only kept from running away.
const MAX_CORRELATED_SDS: f64 = 8.0;

/// One coordinate: a parameter, the record it belongs to if it is a record's own, and its prior.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Axis<P> {
    /// What it is.
    pub parameter: P,
    /// Index of the record whose own it is.
    pub record: Option<usize>,
    /// What is expected of it.
    pub prior: Prior,
}

/// All coordinates of a fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Coordinates<P> {
    /// What each coordinate is.
    pub axes: Vec<Axis<P>>,
    /// Prior standard deviations where all positions are zero.
    pub origin: Array1<f64>,
    /// Lower triangular; the identity but for a correlated block.
    pub whitening: Array2<f64>,
    /// How many axes, the first ones, are correlated.
    correlated: usize,
}

impl<P: Copy> Coordinates<P> {
    /// Independent priors.
    pub fn new(axes: Vec<Axis<P>>) -> Self {
        let n = axes.len();
        Coordinates { axes, origin: Array1::zeros(n), whitening: Array2::eye(n), correlated: 0 }
    }

    /// Replaces the priors of the first axes by a mean and a covariance (both in prior standard deviations).
    pub fn correlate(&mut self, mean: &Array1<f64>, covariance: &Array2<f64>) {
        let n = mean.len();
        self.origin.slice_mut(s![..n]).assign(mean);
        self.whitening.slice_mut(s![..n, ..n]).assign(&cholesky(covariance.view()));
        self.correlated = n;
    }

    /// How many they are.
    pub(crate) fn len(&self) -> usize {
        self.axes.len()
    }

    /// Positions in prior standard deviations of each parameter.
    pub fn prior_sds(&self, z: ArrayView1<f64>) -> Array1<f64> {
        let mut q = &self.origin + &z;
        let m = self.correlated;
        let correlated = self.whitening.slice(s![..m, ..m]).dot(&z.slice(s![..m])) + self.origin.slice(s![..m]);
        q.slice_mut(s![..m]).assign(&correlated);
        q
    }

    /// Derivatives by the positions, from those by the prior standard deviations.
    pub fn pull_back(&self, by_sd: &Array1<f64>) -> Array1<f64> {
        let mut by_position = by_sd.clone();
        let m = self.correlated;
        let correlated = transposed_dot(self.whitening.slice(s![..m, ..m]), by_sd.slice(s![..m]));
        by_position.slice_mut(s![..m]).assign(&correlated);
        by_position
    }

    /// Values in SI.
    pub fn values(&self, z: ArrayView1<f64>) -> Vec<f64> {
        self.prior_sds(z).iter().zip(&self.axes).map(|(q, axis)| axis.prior.value(*q)).collect()
    }

    /// Derivatives of the values by the prior standard deviations.
    pub fn derivatives(&self, z: ArrayView1<f64>) -> Vec<f64> {
        self.prior_sds(z).iter().zip(&self.axes).map(|(q, axis)| axis.prior.derivative(*q)).collect()
    }

    /// The axes that a record's model depends on: all shared ones and its own.
    pub fn of_record(&self, record: usize) -> Vec<usize> {
        (0..self.len()).filter(|&j| self.axes[j].record.is_none_or(|r| r == record)).collect()
    }

    /// The parameters of these axes.
    pub fn parameters_of_record(&self, record: usize) -> Vec<P> {
        self.of_record(record).into_iter().map(|j| self.axes[j].parameter).collect()
    }

    /// What a record's model depends on, out of a number for each axis.
    pub fn inputs_of_record(&self, record: usize, all: &[f64]) -> Vec<f64> {
        self.of_record(record).into_iter().map(|j| all[j]).collect()
    }

    /// The axes that are left without a record, counted as they are here.
    pub fn left_without(&self, record: usize) -> Vec<usize> {
        (0..self.len()).filter(|&j| self.axes[j].record != Some(record)).collect()
    }

    /// The coordinates of the other records; later ones move up.
    pub fn without(&self, record: usize) -> Self {
        let left = self.left_without(record);
        let moved_up =
            |axis: &Axis<P>| Axis { record: axis.record.map(|r| r - usize::from(r > record)), ..axis.clone() };
        Coordinates {
            axes: left.iter().map(|&j| moved_up(&self.axes[j])).collect(),
            origin: self.origin.select(ndarray::Axis(0), &left),
            whitening: self.whitening.select(ndarray::Axis(0), &left).select(ndarray::Axis(1), &left),
            correlated: self.correlated,
        }
    }

    /// Bounds on the positions; a correlated axis is only kept from running away.
    pub fn bounds(&self) -> (Array1<f64>, Array1<f64>) {
        let end = |j: usize, value: f64, far: f64| {
            let correlated = (0..self.len()).any(|k| k != j && self.whitening[[j, k]] != 0.0);
            if correlated || self.origin[j] != 0.0 || self.whitening[[j, j]] != 1.0 {
                far
            } else {
                let at = self.axes[j].prior.sds(value);
                if at.is_finite() { at } else { far }
            }
        };
        let lower = Array1::from_shape_fn(self.len(), |j| end(j, self.axes[j].prior.low, -MAX_CORRELATED_SDS));
        let upper = Array1::from_shape_fn(self.len(), |j| end(j, self.axes[j].prior.high, MAX_CORRELATED_SDS));
        (lower, upper)
    }
}
