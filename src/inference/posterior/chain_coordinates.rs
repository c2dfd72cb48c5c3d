//! The coordinates that chains walk in, a unit normal prior each: every axis of a fit, and the scatter that its records
//! share.

use ndarray::{Array1, ArrayView1, s};

use crate::inference::coordinates::Coordinates;
use crate::inference::prior::Prior;
use crate::inference::scatter::Scatters;

pub struct ChainCoordinates<'a, P> {
    pub coordinates: &'a Coordinates<P>,
    pub scatters: Scatters,
    lower: Array1<f64>,
    upper: Array1<f64>,
}

/// What the coordinates of a chain come to.
pub struct ChainPosition {
    /// Prior standard deviations of the axes, within bounds.
    pub sds: Array1<f64>,
    /// Factors on the scatter of readings, and on what makes records differ.
    pub reading_scatter: f64,
    pub record_scatter: f64,
    /// Whether a coordinate is beyond its bound: the likelihood stays at the bound's.
    pub beyond: Vec<bool>,
}

impl<'a, P: Copy> ChainCoordinates<'a, P> {
    pub fn new(coordinates: &'a Coordinates<P>, scatters: Scatters) -> Self {
        let (lower, upper) = coordinates.bounds();
        ChainCoordinates { coordinates, scatters, lower, upper }
    }

    /// Axes and factors of scatter.
    pub fn len(&self) -> usize {
        self.coordinates.len() + self.scatters.count()
    }

    pub fn place(&self, x: ArrayView1<f64>) -> ChainPosition {
        let n = self.coordinates.len();
        let mut rest = x.iter().skip(n);
        let mut factor = |prior: Option<Prior>| match (prior, prior.and_then(|_| rest.next())) {
            (Some(prior), Some(at)) => prior.value(*at),
            _ => 1.0,
        };
        let (reading_scatter, record_scatter) = (factor(self.scatters.readings), factor(self.scatters.records));
        let wide = |j: usize| if self.coordinates.axes[j].record.is_some() { record_scatter * x[j] } else { x[j] };
        let inside = Array1::from_shape_fn(n, |j| wide(j).clamp(self.lower[j], self.upper[j]));
        let beyond = (0..n).map(|j| inside[j] != wide(j)).collect();
        ChainPosition { sds: self.coordinates.prior_sds(inside.view()), reading_scatter, record_scatter, beyond }
    }

    /// Values of the axes, SI.
    pub fn values(&self, place: &ChainPosition) -> Vec<f64> {
        self.coordinates.axes.iter().zip(&place.sds).map(|(axis, q)| axis.prior.value(*q)).collect()
    }

    /// Derivatives of the values by prior standard deviations.
    pub fn derivatives(&self, place: &ChainPosition) -> Vec<f64> {
        self.coordinates.axes.iter().zip(&place.sds).map(|(axis, q)| axis.prior.derivative(*q)).collect()
    }

    /// Derivatives by the coordinates, from those by prior standard deviations and by the logarithm of the readings'
    /// scatter.
    pub fn pull_back(
        &self,
        x: ArrayView1<f64>,
        place: &ChainPosition,
        by_sd: &Array1<f64>,
        by_readings: f64,
    ) -> Array1<f64> {
        let n = self.coordinates.len();
        let mut slope = Array1::zeros(self.len());
        slope.slice_mut(s![..n]).assign(&self.coordinates.pull_back(by_sd));
        let mut by_records = 0.0;
        for j in 0..n {
            if place.beyond[j] {
                slope[j] = 0.0;
            } else if self.coordinates.axes[j].record.is_some() {
                slope[j] *= place.record_scatter;
                by_records += slope[j] * x[j];
            }
        }
        let ends = [(self.scatters.readings, by_readings), (self.scatters.records, by_records)];
        let by_factor = ends.into_iter().filter_map(|(prior, by_log)| Some(prior?.sd * by_log));
        by_factor.enumerate().for_each(|(i, by)| slope[n + i] = by);
        slope
    }
}
