//! The coordinates that chains walk in: a unit normal belief each, for every axis of a fit and for the scatter that its records
//! share.

use chacha20::ChaCha8Rng;
use ndarray::{Array1, ArrayView1, s};

use crate::fit::parameter::{Belief, Parameter};
use crate::fit::space::Space;
use crate::numerics::slice::slice_step;

/// How much more than believed the records scatter: what is weighed and read, and what makes one record differ from another.
/// `None`: held at what is believed.
#[derive(Clone, Copy, Debug, Default)]
pub(in crate::fit) struct Scatters {
    pub casting: Option<Belief>,
    pub lot: Option<Belief>,
}

impl Scatters {
    /// Variance of a difference between records over what it is where they scatter as believed: nobody knows how much they do.
    pub fn variance_of_lots(&self) -> f64 {
        self.lot.map_or(1.0, |belief| (2.0 * belief.spread.powi(2)).exp() * belief.center.powi(2))
    }

    /// Those that are drawn, in the order of their coordinates.
    pub fn drawn(&self) -> Vec<(Parameter, Belief)> {
        let all = [(Parameter::CastingScatter, self.casting), (Parameter::LotScatter, self.lot)];
        all.into_iter().filter_map(|(parameter, belief)| Some((parameter, belief?))).collect()
    }
}

pub(super) struct Coordinates<'a> {
    pub space: &'a Space,
    pub scatters: Scatters,
    lower: Array1<f64>,
    upper: Array1<f64>,
}

/// Where coordinates stand.
pub(super) struct Place {
    /// Spreads of the axes, within bounds.
    pub spreads: Array1<f64>,
    pub casting: f64,
    pub lot: f64,
    /// Whether a coordinate is beyond its bound: the likelihood stays at the bound's.
    beyond: Vec<bool>,
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

    /// Draws anew by how much lots scatter, given how much those of the records do: the records' own spreads stay, so no
    /// likelihood changes. Without it a chain moves all records' coordinates against that factor by small steps (interweaving:
    /// Yu and Meng, J. Comput. Graph. Stat. 20, 531, 2011). Returns the change of the logarithm of the density.
    pub fn stir_lots(&self, x: &mut Array1<f64>, generator: &mut ChaCha8Rng) -> Option<f64> {
        let belief = self.scatters.lot?;
        let at = self.space.len() + usize::from(self.scatters.casting.is_some());
        let own: Vec<usize> = (0..self.space.len()).filter(|&j| self.space.axes[j].record.is_some()).collect();
        let squares: f64 = own.iter().map(|&j| x[j] * x[j]).sum();
        let (before, count) = (belief.value(x[at]), own.len() as f64);
        // Of the factor's coordinate and the records' own spreads, not their coordinates: hence the logarithm.
        let log_density = |t: f64| {
            let ratio = before / belief.value(t);
            -0.5 * t * t + count * ratio.ln() - 0.5 * squares * ratio * ratio
        };
        let t = slice_step(log_density, x[at], 1.0, generator);
        let ratio = before / belief.value(t);
        let change = 0.5 * (x[at] * x[at] - t * t) + 0.5 * squares * (1.0 - ratio * ratio);
        own.into_iter().for_each(|j| x[j] *= ratio);
        x[at] = t;
        Some(change)
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
