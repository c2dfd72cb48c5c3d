//! The posterior density: beliefs and the likelihood of every record, as simulated or as polynomials stand in for simulations.

use ndarray::{Array1, Array2, ArrayView1};

use super::coordinates::{Coordinates, Place, Scatters};
use crate::error::Result;
use crate::fit::likelihood::Law;
use crate::fit::space::Space;
use crate::numerics::guided::Guided;
use crate::numerics::polynomial::Polynomials;
use crate::numerics::sampling::LogDensity;

/// Records whose misfits have laws.
pub(in crate::fit) trait Records: Sync {
    fn space(&self) -> &Space;
    /// How many records there are.
    fn count(&self) -> usize;
    /// The law of each misfit of a record.
    fn laws(&self, record: usize) -> Vec<Law>;
    /// The misfits of a record in standard deviations, at the values of all axes.
    fn misfits(&self, record: usize, values: &[f64]) -> Result<Vec<f64>>;
    /// With their derivatives by what `rates` are the values' derivatives by, for the axes of the record.
    fn slopes(&self, record: usize, values: &[f64], rates: &[f64]) -> Result<(Vec<f64>, Array2<f64>)>;
}

pub(super) struct Target<'a, R> {
    pub records: &'a R,
    pub coordinates: Coordinates<'a>,
    laws: Vec<Vec<Law>>,
    /// Axes that each record depends on.
    pub axes: Vec<Vec<usize>>,
    /// What stands in for the simulation of each record; empty until it is learned.
    pub guides: Vec<Polynomials>,
}

/// An evaluation: the spreads of all axes, and each record's misfits there.
pub(super) type Seen = (Array1<f64>, Vec<Vec<f64>>);

/// Brings derivatives by a record's misfits back to the spreads of its axes.
type Pull<'b> = Box<dyn Fn(ArrayView1<f64>) -> Array1<f64> + 'b>;

impl<'a, R: Records> Target<'a, R> {
    pub fn new(records: &'a R, scatters: Scatters) -> Self {
        let space = records.space();
        let each = || 0..records.count();
        Target {
            records,
            coordinates: Coordinates::new(space, scatters),
            laws: each().map(|i| records.laws(i)).collect(),
            axes: each().map(|i| space.of_record(i)).collect(),
            guides: Vec::new(),
        }
    }

    /// Sum of the costs of a record's misfits; their derivatives go to `by_misfit`, the one by the castings' scatter is returned.
    fn cost(&self, record: usize, misfits: ArrayView1<f64>, scatter: f64, by_misfit: &mut [f64]) -> (f64, f64) {
        let (mut total, mut by_scatter) = (0.0, 0.0);
        for ((law, misfit), by) in self.laws[record].iter().zip(misfits).zip(by_misfit) {
            let (cost, slope, by_log) = law.widened_cost(*misfit, scatter);
            total += cost;
            by_scatter += by_log;
            *by = slope;
        }
        (total, by_scatter)
    }

    /// What all records said at a place.
    pub fn see(&self, place: &Place) -> Result<Vec<Vec<f64>>> {
        let values = self.coordinates.values(place);
        (0..self.records.count()).map(|i| self.records.misfits(i, &values)).collect()
    }

    /// The logarithm of the density and its gradient, from each record's misfits and what pulls their derivatives back to the
    /// spreads of its axes.
    fn with_gradient<'b>(
        &self,
        x: ArrayView1<f64>,
        place: &Place,
        record: impl Fn(usize) -> Result<(Array1<f64>, Pull<'b>)>,
    ) -> Result<(f64, Array1<f64>)> {
        let mut value = -0.5 * x.dot(&x);
        let (mut by_spread, mut by_casting) = (Array1::zeros(self.coordinates.space.len()), 0.0);
        for i in 0..self.records.count() {
            let (misfits, pull) = record(i)?;
            let mut by_misfit = vec![0.0; misfits.len()];
            let (cost, by_scatter) = self.cost(i, misfits.view(), place.casting, &mut by_misfit);
            value -= cost;
            by_casting -= by_scatter;
            let by_axis = pull(ArrayView1::from(&by_misfit));
            self.axes[i].iter().zip(by_axis).for_each(|(&j, by)| by_spread[j] -= by);
        }
        let mut gradient = self.coordinates.pull_back(x, place, &by_spread, by_casting);
        gradient -= &x;
        Ok((value, gradient))
    }
}

impl<R: Records> LogDensity for Target<'_, R> {
    fn evaluate(&self, x: ArrayView1<f64>) -> Result<(f64, Array1<f64>)> {
        let place = self.coordinates.place(x);
        let (values, rates) = (self.coordinates.values(&place), self.coordinates.rates(&place));
        self.with_gradient(x, &place, |i| {
            let (misfits, slopes) = self.records.slopes(i, &values, &rates)?;
            Ok((Array1::from(misfits), Box::new(move |by: ArrayView1<f64>| slopes.t().dot(&by))))
        })
    }
}

impl<R: Records> Guided for Target<'_, R> {
    type Seen = Seen;

    fn density(&self, x: ArrayView1<f64>) -> Result<(f64, Seen)> {
        let place = self.coordinates.place(x);
        let seen = self.see(&place)?;
        let cost = |(i, misfits): (usize, &Vec<f64>)| {
            self.laws[i].iter().zip(misfits).map(|(law, m)| law.widened_cost(*m, place.casting).0).sum::<f64>()
        };
        let value = -0.5 * x.dot(&x) - seen.iter().enumerate().map(cost).sum::<f64>();
        Ok((value, (place.spreads, seen)))
    }

    fn guide(&self, x: ArrayView1<f64>) -> (f64, Array1<f64>) {
        let place = self.coordinates.place(x);
        let found = self.with_gradient(x, &place, |i| {
            let inputs = Array1::from_shape_fn(self.axes[i].len(), |a| place.spreads[self.axes[i][a]]);
            let misfits = self.guides[i].outputs(inputs.view());
            Ok((misfits, Box::new(move |by: ArrayView1<f64>| self.guides[i].pull_back(inputs.view(), by))))
        });
        // Polynomials do not fail.
        found.unwrap_or_else(|_| (f64::NAN, Array1::zeros(x.len())))
    }
}
