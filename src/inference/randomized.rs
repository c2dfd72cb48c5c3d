//! Approximate posterior draws by randomize-then-optimize (Bardsley, Solonen, Haario and Laine, SIAM J. Sci. Comput.
//! 36, A1895, 2014), without its importance weights: each draw refits readings and priors perturbed by their standard
//! deviations. Where the model is linear this is the normal distribution around the fit; where it is not, draws bend
//! with it.

use ndarray::{Array1, Array2, ArrayView1};

use super::estimate::covariance_by_information;
use super::least_squares::Solution;
use super::likelihood::Law;
use super::record_information::information;
use super::records::Records;
use crate::error::Result;
use crate::numerics::broyden::nearest_to_root;
use crate::numerics::random::{stream, unit_normals};
use crate::numerics::triangular::{cholesky, transposed_dot};

/// How close a fit comes to what suits it, and how long a step may be, in standard deviations over all coordinates; how
/// often records are simulated for it at most.
const CLOSE_ENOUGH_SDS: f64 = 0.1;
const LONGEST_STEP_SDS: f64 = 3.0;
const MOST_SIMULATIONS: usize = 12;

/// The linear model at the best fit, from which fits of randomized readings start.
pub struct RandomizedFits<'a, R> {
    records: &'a R,
    best: Array1<f64>,
    parts: Vec<RecordAtBest>,
    /// Variance of what makes a record differ, over the expected; of everything, over the allowed.
    own: f64,
    misfit_ratio: f64,
    /// Lower triangular root of the covariance of the positions; shape (n, n).
    root: Array2<f64>,
}

/// One record at the best fit.
struct RecordAtBest {
    axes: Vec<usize>,
    laws: Vec<Law>,
    /// What each misfit counts; shape (m,).
    counted: Array1<f64>,
    /// Derivatives by the prior standard deviations of the axes; shape (m, k).
    slopes: Array2<f64>,
}

impl<'a, R: Records> RandomizedFits<'a, R> {
    /// The linear model of these records at the best fit. `own`: variance of what makes a record differ, over the
    /// expected; `misfit_ratio`: variance of everything, over the allowed.
    ///
    /// # Errors
    /// Those of the simulations.
    pub fn new(records: &'a R, best: &Solution, own: f64, misfit_ratio: f64) -> Result<Self> {
        let coordinates = records.coordinates();
        let z = best.parameters.view();
        let (values, derivatives) = (coordinates.values(z), coordinates.derivatives(z));
        let part = |i: usize| -> Result<RecordAtBest> {
            let laws = records.laws(i);
            let (misfits, mut slopes) = records.slopes(i, &values, &derivatives)?;
            let mut counted = Array1::zeros(misfits.len());
            for (k, (law, misfit)) in laws.iter().zip(misfits).enumerate() {
                let (count, steep) = law.counted(misfit);
                counted[k] = count;
                slopes.row_mut(k).mapv_inplace(|slope| slope * steep);
            }
            Ok(RecordAtBest { axes: coordinates.of_record(i), laws, counted, slopes })
        };
        let parts = (0..records.count()).map(part).collect::<Result<_>>()?;
        let total = information(records, z, own)? / misfit_ratio;
        let root = cholesky(covariance_by_information(best, &total).view());
        Ok(RandomizedFits { records, best: best.parameters.clone(), parts, own, misfit_ratio, root })
    }

    /// The positions of draw number `index`; shape (n,). Where nothing suits the randomized readings, the nearest that
    /// was found.
    ///
    /// # Errors
    /// Those of the simulations that cannot be stepped around.
    pub fn draw(&self, seed: u64, index: usize) -> Result<Array1<f64>> {
        let wanted = Array1::from(unit_normals(&mut stream(seed, 2 * index as u64), self.best.len()));
        // What stands at a bound stays there.
        let wanted = &wanted * &self.root.diag().mapv(|pivot| f64::from(pivot > 0.0));
        let found = nearest_to_root(
            |x| Ok(self.departure(x)? - &wanted),
            wanted.clone(),
            (CLOSE_ENOUGH_SDS, LONGEST_STEP_SDS),
            MOST_SIMULATIONS,
        )?;
        Ok(self.place(&found.at))
    }

    fn place(&self, x: &Array1<f64>) -> Array1<f64> {
        &self.best + &self.root.dot(x)
    }

    /// How readings and priors differ from those at the best fit, in the directions in which the linear model moves; in
    /// unit normals. In a linear model it is x.
    fn departure(&self, x: &Array1<f64>) -> Result<Array1<f64>> {
        let coordinates = self.records.coordinates();
        let z = self.place(x);
        let values = coordinates.values(z.view());
        let mut by_sd = Array1::<f64>::zeros(z.len());
        for (i, part) in self.parts.iter().enumerate() {
            let misfits = self.records.misfits(i, &values)?;
            let counted = part.laws.iter().zip(misfits).map(|(law, misfit)| law.counted(misfit).0);
            let moved = counted.collect::<Array1<f64>>() - &part.counted;
            let pulled = transposed_dot(part.slopes.view(), moved.view());
            part.axes.iter().zip(pulled).for_each(|(&j, pull)| by_sd[j] += pull);
        }
        let mut by_position = coordinates.pull_back(&by_sd);
        by_position += &self.prior_departure(z.view());
        Ok(transposed_dot(self.root.view(), by_position.view()) / self.misfit_ratio)
    }

    fn prior_departure(&self, z: ArrayView1<f64>) -> Array1<f64> {
        let axes = &self.records.coordinates().axes;
        let variance = |j: usize| if axes[j].record.is_some() { self.own } else { 1.0 };
        Array1::from_shape_fn(z.len(), |j| (z[j] - self.best[j]) / variance(j))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inference::coordinates::{Axis, Coordinates};
    use crate::inference::least_squares::{Bounds, Residuals, Settings, run};
    use crate::inference::likelihood::Shape;
    use crate::inference::prior::Prior;

    /// One reading of one unknown, bent or straight, that agrees with the prior's center.
    struct Reading {
        coordinates: Coordinates<&'static str>,
        bend: f64,
    }

    const SD: f64 = 0.5;

    impl Reading {
        fn new(bend: f64) -> Self {
            let prior = Prior::normal(0.0, 1.0, -50.0, 50.0);
            Reading { coordinates: Coordinates::new(vec![Axis { parameter: "unknown", record: None, prior }]), bend }
        }

        /// Falls from 1 by 1.2 a standard deviation at the median; the more bent, the less it falls farther on.
        fn misfit(&self, q: f64) -> (f64, f64) {
            if self.bend == 0.0 {
                return (-1.2 * q / SD, -1.2 / SD);
            }
            let fallen = (-1.2 * self.bend * q).exp();
            ((fallen - 1.0) / self.bend / SD, -1.2 * fallen / SD)
        }

        fn drawn(&self) -> Vec<f64> {
            let bounds = Bounds::new(Array1::from_elem(1, -50.0), Array1::from_elem(1, 50.0)).expect("bounds");
            let best = run(self, &bounds, &Array1::zeros(1), &Settings::default()).expect("a fit");
            let randomized = RandomizedFits::new(self, &best, 1.0, 1.0).expect("a linear model");
            (0..4000).map(|index| randomized.draw(1, index).expect("a draw")[0]).collect()
        }
    }

    impl Records for Reading {
        type Parameter = &'static str;

        fn coordinates(&self) -> &Coordinates<&'static str> {
            &self.coordinates
        }

        fn count(&self) -> usize {
            1
        }

        fn laws(&self, _record: usize) -> Vec<Law> {
            vec![Law::of(Shape::Normal)]
        }

        fn misfits(&self, _record: usize, values: &[f64]) -> Result<Vec<f64>> {
            Ok(vec![self.misfit(values[0]).0])
        }

        fn slopes(&self, _record: usize, values: &[f64], derivatives: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
            let (misfit, slope) = self.misfit(values[0]);
            Ok((vec![misfit], Array2::from_elem((1, 1), slope * derivatives[0])))
        }
    }

    impl Residuals for Reading {
        fn n_residuals(&self) -> usize {
            2
        }

        fn n_readings(&self) -> usize {
            2
        }

        fn evaluate(&self, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
            crate::inference::record_information::stacked(self, z)
        }

        fn residuals(&self, z: ArrayView1<f64>) -> Result<Array1<f64>> {
            crate::inference::record_information::stacked_values(self, z)
        }
    }

    fn quantile(mut x: Vec<f64>, share: f64) -> f64 {
        x.sort_by(f64::total_cmp);
        x[(share * x.len() as f64) as usize]
    }

    /// Of the posterior, by summing it over a fine grid.
    fn exact(reading: &Reading, share: f64) -> f64 {
        let grid: Vec<f64> = (-8000..8000).map(|i| f64::from(i) * 1e-3).collect();
        let densities: Vec<f64> =
            grid.iter().map(|q| (-0.5 * q * q - 0.5 * reading.misfit(*q).0.powi(2)).exp()).collect();
        let whole: f64 = densities.iter().sum();
        let mut below = 0.0;
        let found = grid.iter().zip(densities).find(|(_, density)| {
            below += density;
            below >= share * whole
        });
        *found.expect("within the grid").0
    }

    #[test]
    fn draws_of_a_straight_reading_are_normal() {
        let sd = (1.0 + (1.2_f64 / SD).powi(2)).powf(-0.5);
        let drawn = Reading::new(0.0).drawn();
        for (share, z) in [(0.05, -1.645), (0.5, 0.0), (0.95, 1.645)] {
            assert!((quantile(drawn.clone(), share) - sd * z).abs() < 0.03, "{share}");
        }
    }

    /// They leave the normal distribution for the posterior; without weights they do not come all the way.
    #[test]
    fn draws_of_a_bent_reading_bend_with_it() {
        let reading = Reading::new(1.0);
        let sd = (1.0 + (1.2_f64 / SD).powi(2)).powf(-0.5);
        let drawn = reading.drawn();
        for (share, z) in [(0.05, -1.645), (0.95, 1.645)] {
            let (at, exact) = (quantile(drawn.clone(), share), exact(&reading, share));
            assert!((at - exact).abs() < 0.6 * (sd * z - exact).abs(), "{share}: {at} {exact} {}", sd * z);
        }
    }
}
