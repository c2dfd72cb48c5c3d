//! The posterior density: beliefs and the likelihood of every record, as simulated or as polynomials stand in for simulations.

use std::sync::atomic::{AtomicUsize, Ordering};

use chacha20::ChaCha8Rng;
use ndarray::{Array1, Array2, ArrayView1};

use super::chain_coordinates::{Coordinates, Place, Scatters};
use super::interweaving::{Level, levels};
use super::surrogate::Guide;
use crate::error::Result;
use crate::inference::coordinates::Space;
use crate::inference::likelihood::Law;
use crate::numerics::guided::Guided;
use crate::numerics::sampling::LogDensity;

/// Records whose misfits have laws.
pub(crate) trait Records: Sync {
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

pub(crate) struct Target<'a, R> {
    pub records: &'a R,
    pub coordinates: Coordinates<'a>,
    pub laws: Vec<Vec<Law>>,
    /// Axes that each record depends on.
    pub axes: Vec<Vec<usize>>,
    /// Those of them that are its own.
    pub own: Vec<Vec<usize>>,
    pub levels: Vec<Level>,
    /// What stands in for the simulation of each record; empty until it is learned.
    pub guides: Vec<Guide>,
    /// Simulations of a record so far.
    pub simulations: AtomicUsize,
}

/// An evaluation.
#[derive(Clone)]
pub(crate) struct Seen {
    /// The spreads of all axes.
    pub spreads: Array1<f64>,
    /// Each record's misfits there.
    pub misfits: Vec<Vec<f64>>,
    /// Logarithm of the density.
    pub value: f64,
}

impl<'a, R: Records> Target<'a, R> {
    pub fn new(records: &'a R, scatters: Scatters) -> Self {
        let space = records.space();
        let each = || 0..records.count();
        let coordinates = Coordinates::new(space, scatters);
        let own = |i: usize| (0..space.len()).filter(|&j| space.axes[j].record == Some(i)).collect();
        Target {
            records,
            levels: levels(&coordinates, records.count()),
            coordinates,
            own: each().map(own).collect(),
            simulations: AtomicUsize::new(0),
            laws: each().map(|i| records.laws(i)).collect(),
            axes: each().map(|i| space.of_record(i)).collect(),
            guides: Vec::new(),
        }
    }

    /// The density and what all records said.
    pub fn see(&self, x: ArrayView1<f64>) -> Result<Seen> {
        let misfits: Vec<Vec<f64>> = (0..self.records.count()).map(|i| self.misfits(i, x)).collect::<Result<_>>()?;
        let value = self.value(x, &misfits);
        Ok(Seen { spreads: self.coordinates.place(x).spreads, misfits, value })
    }

    /// What one record says.
    pub fn misfits(&self, i: usize, x: ArrayView1<f64>) -> Result<Vec<f64>> {
        self.simulations.fetch_add(1, Ordering::Relaxed);
        self.records.misfits(i, &self.coordinates.values(&self.coordinates.place(x)))
    }

    /// What misfits of a record cost where castings scatter so much.
    pub fn cost(&self, i: usize, misfits: &[f64], scatter: f64) -> f64 {
        self.laws[i].iter().zip(misfits).map(|(law, misfit)| law.widened_cost(*misfit, scatter).0).sum()
    }

    /// Logarithm of the density where all records say this.
    pub fn value(&self, x: ArrayView1<f64>, misfits: &[Vec<f64>]) -> f64 {
        let scatter = self.coordinates.place(x).casting;
        -0.5 * x.dot(&x) - misfits.iter().enumerate().map(|(i, of)| self.cost(i, of, scatter)).sum::<f64>()
    }

    /// The logarithm of the density and its gradient, from each record's cost with its derivatives by the spreads of the
    /// record's axes and by the logarithm of the castings' scatter.
    fn gathered(
        &self,
        x: ArrayView1<f64>,
        place: &Place,
        record: impl Fn(usize) -> Result<(f64, Vec<f64>, f64)>,
    ) -> Result<(f64, Array1<f64>)> {
        let mut value = -0.5 * x.dot(&x);
        let (mut by_spread, mut by_casting) = (Array1::zeros(self.coordinates.space.len()), 0.0);
        for i in 0..self.records.count() {
            let (cost, by_axis, by_scatter) = record(i)?;
            value -= cost;
            by_casting -= by_scatter;
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
        self.gathered(x, &place, |i| {
            let (misfits, slopes) = self.records.slopes(i, &values, &rates)?;
            let (mut total, mut by_scatter) = (0.0, 0.0);
            let mut by_axis = Array1::zeros(self.axes[i].len());
            for ((law, misfit), slope) in self.laws[i].iter().zip(misfits).zip(slopes.rows()) {
                let (cost, by, by_log) = law.widened_cost(misfit, place.casting);
                total += cost;
                by_scatter += by_log;
                by_axis.scaled_add(by, &slope);
            }
            Ok((total, by_axis.to_vec(), by_scatter))
        })
    }
}

impl<R: Records> Guided for Target<'_, R> {
    type Seen = Seen;

    fn density(&self, x: ArrayView1<f64>) -> Result<(f64, Seen)> {
        let seen = self.see(x)?;
        Ok((seen.value, seen))
    }

    fn guide(&self, x: ArrayView1<f64>) -> (f64, Array1<f64>) {
        let place = self.coordinates.place(x);
        let found = self.gathered(x, &place, |i| {
            let inputs: Vec<f64> = self.axes[i].iter().map(|&j| place.spreads[j]).collect();
            Ok(self.guides[i].cost(&inputs, place.casting))
        });
        // Polynomials do not fail.
        found.unwrap_or_else(|_| (f64::NAN, Array1::zeros(x.len())))
    }

    fn stir(&self, x: &mut Array1<f64>, seen: &mut Seen, generator: &mut ChaCha8Rng) -> Option<f64> {
        self.stir_free(x, seen, generator);
        Some(seen.value)
    }

    fn stir_parts(&self, x: &mut Array1<f64>, seen: &mut Seen, generator: &mut ChaCha8Rng) -> Result<Option<f64>> {
        self.stir_own(x, seen, generator)?;
        Ok(Some(seen.value))
    }
}
