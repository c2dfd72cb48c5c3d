//! The coordinates that chains walk in: a unit normal belief each, for every axis of a fit and for the scatter that its records
//! share.

use ndarray::{Array1, ArrayView1, s};

use crate::fit::parameter::{Belief, Parameter};
use crate::inference::coordinates::Space;

/// How much more than believed the records scatter: what is weighed and read, and what makes one record differ from another.
/// `None`: held at what is believed.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Scatters {
    pub casting: Option<Belief>,
    pub lot: Option<Belief>,
}

impl Scatters {
    /// Variance of a difference between records over what it is where they scatter as believed: nobody knows how much they do.
    pub fn variance_of_lots(&self) -> f64 {
        self.lot.map_or(1.0, mean_square)
    }

    /// Variance of what is weighed and read over what it is believed to be; `held` where it is held at that factor.
    pub fn variance_of_castings(&self, held: f64) -> f64 {
        self.casting.map_or(held * held, mean_square)
    }

    /// Those that are drawn, in the order of their coordinates.
    pub fn drawn(&self) -> Vec<(Parameter, Belief)> {
        let all = [(Parameter::CastingScatter, self.casting), (Parameter::LotScatter, self.lot)];
        all.into_iter().filter_map(|(parameter, belief)| Some((parameter, belief?))).collect()
    }
}

/// Mean of the square of what is lognormal.
fn mean_square(belief: Belief) -> f64 {
    (2.0 * belief.spread.powi(2)).exp() * belief.center.powi(2)
}

pub(crate) struct Coordinates<'a> {
    pub space: &'a Space,
    pub scatters: Scatters,
    lower: Array1<f64>,
    upper: Array1<f64>,
}

/// Where coordinates stand.
pub(crate) struct Place {
    /// Spreads of the axes, within bounds.
    pub spreads: Array1<f64>,
    pub casting: f64,
    pub lot: f64,
    /// Whether a coordinate is beyond its bound: the likelihood stays at the bound's.
    pub beyond: Vec<bool>,
}

impl<'a> Coordinates<'a> {
    pub fn new(space: &'a Space, scatters: Scatters) -> Self {
        let (lower, upper) = space.bounds();
        Coordinates { space, scatters, lower, upper }
    }

    /// Axes and factors of scatter.
    pub fn len(&self) -> usize {
        self.space.len() + self.scatters.drawn().len()
    }

    pub fn place(&self, x: ArrayView1<f64>) -> Place {
        let n = self.space.len();
        let mut rest = x.iter().skip(n);
        let mut factor = |belief: Option<Belief>| match (belief, belief.and_then(|_| rest.next())) {
            (Some(belief), Some(at)) => belief.value(*at),
            _ => 1.0,
        };
        let (casting, lot) = (factor(self.scatters.casting), factor(self.scatters.lot));
        let wide = |j: usize| if self.space.axes[j].record.is_some() { lot * x[j] } else { x[j] };
        let inside = Array1::from_shape_fn(n, |j| wide(j).clamp(self.lower[j], self.upper[j]));
        let beyond = (0..n).map(|j| inside[j] != wide(j)).collect();
        Place { spreads: self.space.spreads(inside.view()), casting, lot, beyond }
    }

    /// Values of the axes, SI.
    pub fn values(&self, place: &Place) -> Vec<f64> {
        self.space.axes.iter().zip(&place.spreads).map(|(axis, q)| axis.belief.value(*q)).collect()
    }

    /// Derivatives of the values by their spreads.
    pub fn rates(&self, place: &Place) -> Vec<f64> {
        self.space.axes.iter().zip(&place.spreads).map(|(axis, q)| axis.belief.rate(*q)).collect()
    }

    /// Derivatives by the coordinates, from those by the spreads and by the logarithm of the castings' scatter.
    pub fn pull_back(
        &self,
        x: ArrayView1<f64>,
        place: &Place,
        by_spread: &Array1<f64>,
        by_casting: f64,
    ) -> Array1<f64> {
        let n = self.space.len();
        let mut slope = Array1::zeros(self.len());
        slope.slice_mut(s![..n]).assign(&self.space.pull_back(by_spread));
        let mut by_lot = 0.0;
        for j in 0..n {
            if place.beyond[j] {
                slope[j] = 0.0;
            } else if self.space.axes[j].record.is_some() {
                slope[j] *= place.lot;
                by_lot += slope[j] * x[j];
            }
        }
        let ends = [(self.scatters.casting, by_casting), (self.scatters.lot, by_lot)];
        let by_factor = ends.into_iter().filter_map(|(belief, by_log)| Some(belief?.spread * by_log));
        by_factor.enumerate().for_each(|(i, by)| slope[n + i] = by);
        slope
    }
}
