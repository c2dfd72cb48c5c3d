//! The posterior density: priors times the likelihood of every record, as simulated or by the surrogate.

use std::sync::atomic::{AtomicUsize, Ordering};

use ndarray::{Array1, ArrayView1};

use super::chain_coordinates::{ChainCoordinates, ChainPosition};
use super::direction::{Direction, directions};
use super::surrogate::Surrogate;
use crate::error::Result;
use crate::inference::likelihood::Law;
use crate::inference::records::Records;
use crate::inference::scatter::Scatters;
use crate::numerics::sampling::LogDensity;

pub struct Target<'a, R: Records> {
    pub records: &'a R,
    pub chain: ChainCoordinates<'a, R::Parameter>,
    pub laws: Vec<Vec<Law>>,
    /// Axes that each record depends on.
    pub axes: Vec<Vec<usize>>,
    /// Those of them that are its own.
    pub own: Vec<Vec<usize>>,
    pub directions: Vec<Direction>,
    /// What stands in for the simulation of each record; empty until it is learned.
    pub surrogates: Vec<Surrogate>,
    /// Simulations of a record so far.
    pub simulations: AtomicUsize,
}

/// An evaluation.
#[derive(Clone)]
pub struct Evaluation {
    /// Prior standard deviations of all axes.
    pub sds: Array1<f64>,
    /// Each record's misfits there.
    pub misfits: Vec<Vec<f64>>,
    /// Logarithm of the density.
    pub value: f64,
}

impl<'a, R: Records> Target<'a, R> {
    pub fn new(records: &'a R, scatters: Scatters) -> Self {
        let coordinates = records.coordinates();
        let each = || 0..records.count();
        let chain = ChainCoordinates::new(coordinates, scatters);
        let own = |i: usize| (0..coordinates.len()).filter(|&j| coordinates.axes[j].record == Some(i)).collect();
        Target {
            records,
            directions: directions(records),
            chain,
            own: each().map(own).collect(),
            simulations: AtomicUsize::new(0),
            laws: each().map(|i| records.laws(i)).collect(),
            axes: each().map(|i| coordinates.of_record(i)).collect(),
            surrogates: Vec::new(),
        }
    }

    /// The density and the misfits of all records.
    pub fn see(&self, x: ArrayView1<f64>) -> Result<Evaluation> {
        let misfits: Vec<Vec<f64>> = (0..self.records.count()).map(|i| self.misfits(i, x)).collect::<Result<_>>()?;
        let value = self.value(x, &misfits);
        Ok(Evaluation { sds: self.chain.place(x).sds, misfits, value })
    }

    /// The misfits of one record.
    pub fn misfits(&self, i: usize, x: ArrayView1<f64>) -> Result<Vec<f64>> {
        self.simulations.fetch_add(1, Ordering::Relaxed);
        self.records.misfits(i, &self.chain.values(&self.chain.place(x)))
    }

    /// What misfits of a record cost where readings scatter so much.
    pub fn cost(&self, i: usize, misfits: &[f64], scatter: f64) -> f64 {
        self.laws[i].iter().zip(misfits).map(|(law, misfit)| law.widened_cost(*misfit, scatter).0).sum()
    }

    /// Logarithm of the density where all records have these misfits.
    pub fn value(&self, x: ArrayView1<f64>, misfits: &[Vec<f64>]) -> f64 {
        let scatter = self.chain.place(x).reading_scatter;
        -0.5 * x.dot(&x) - misfits.iter().enumerate().map(|(i, of)| self.cost(i, of, scatter)).sum::<f64>()
    }

    /// The logarithm of the density and its gradient, from each record's cost with its derivatives by the prior
    /// standard deviations of the record's axes and by the logarithm of the readings' scatter.
    pub fn gathered(
        &self,
        x: ArrayView1<f64>,
        place: &ChainPosition,
        record: impl Fn(usize) -> Result<(f64, Vec<f64>, f64)>,
    ) -> Result<(f64, Array1<f64>)> {
        let mut value = -0.5 * x.dot(&x);
        let (mut by_sd, mut by_readings) = (Array1::zeros(self.chain.coordinates.len()), 0.0);
        for i in 0..self.records.count() {
            let (cost, by_axis, by_scatter) = record(i)?;
            value -= cost;
            by_readings -= by_scatter;
            self.axes[i].iter().zip(by_axis).for_each(|(&j, by)| by_sd[j] -= by);
        }
        let mut gradient = self.chain.pull_back(x, place, &by_sd, by_readings);
        gradient -= &x;
        Ok((value, gradient))
    }
}

impl<R: Records> LogDensity for Target<'_, R> {
    fn evaluate(&self, x: ArrayView1<f64>) -> Result<(f64, Array1<f64>)> {
        let place = self.chain.place(x);
        let (values, derivatives) = (self.chain.values(&place), self.chain.derivatives(&place));
        self.gathered(x, &place, |i| {
            let (misfits, slopes) = self.records.slopes(i, &values, &derivatives)?;
            let (mut total, mut by_scatter) = (0.0, 0.0);
            let mut by_axis = Array1::zeros(self.axes[i].len());
            for ((law, misfit), slope) in self.laws[i].iter().zip(misfits).zip(slopes.rows()) {
                let (cost, by, by_log) = law.widened_cost(misfit, place.reading_scatter);
                total += cost;
                by_scatter += by_log;
                by_axis.scaled_add(by, &slope);
            }
            Ok((total, by_axis.to_vec(), by_scatter))
        })
    }
}
