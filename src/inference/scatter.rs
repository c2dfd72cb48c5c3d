//! How much records scatter, in their readings and in what makes them differ, found from how well they fit: the linear
//! model's marginal likelihood (evidence) of each pair of factors, times their priors (empirical Bayes).

use ndarray::{Array1, Array2, ArrayView1};
use serde::{Deserialize, Serialize};

use super::prior::Prior;
use super::records::{Estimand, Records};
use crate::error::Result;
use crate::numerics::triangular::{cholesky, solve_lower};

/// Factors that are looked at: so many steps either way, each of so many prior standard deviations.
const GRID_STEPS: i32 = 6;
const GRID_STEP_SDS: f64 = 0.5;
/// A reading more than this many expected deviations off counts as that many: the rest is not the others' scatter.
const MAX_COUNTED_SDS: f64 = 3.0;

/// How much more than expected records scatter: their readings, and what makes one differ from another. `None`: held.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Scatters {
    /// Of readings.
    pub readings: Option<Prior>,
    /// Of what makes one record differ from another.
    pub records: Option<Prior>,
}

impl Scatters {
    /// Variance of a difference between records over what it is where they scatter as expected: nobody knows how much
    /// they do.
    pub fn variance_of_records(&self) -> f64 {
        self.records.map_or(1.0, mean_square)
    }

    /// Variance of readings over what it is expected to be; `held` where it is held at that factor.
    pub fn variance_of_readings(&self, held: f64) -> f64 {
        self.readings.map_or(held * held, mean_square)
    }

    /// Those that are drawn, in the order of their coordinates.
    pub fn drawn<P: Estimand>(&self) -> Vec<(P, Prior)> {
        let all = [(P::READING_SCATTER, self.readings), (P::RECORD_SCATTER, self.records)];
        all.into_iter().filter_map(|(parameter, prior)| Some((parameter, prior?))).collect()
    }

    /// How many are drawn.
    pub fn count(&self) -> usize {
        usize::from(self.readings.is_some()) + usize::from(self.records.is_some())
    }
}

/// Mean of the square of what is lognormal.
fn mean_square(prior: Prior) -> f64 {
    (2.0 * prior.sd.powi(2)).exp() * prior.median.powi(2)
}

/// The linear model of all records around a fit, readings whose scatter is looked for apart from the others.
struct LinearModel {
    others: NormalEquations,
    readings: NormalEquations,
    /// Square of the readings, and how many there are.
    square: f64,
    count: f64,
    /// Which coordinates are what makes a record differ.
    differs: Vec<bool>,
}

/// Products of the slopes with themselves, and with what would be counted if all coordinates were zero.
struct NormalEquations {
    products: Array2<f64>,
    pulls: Array1<f64>,
}

/// The scatters after records that fit best at `z`, their misfits taken over `counted_under` times the expected
/// deviations: lognormal, as the priors are, with the mean and deviation of the logarithm that the records leave.
pub fn found_scatters(
    records: &impl Records,
    z: ArrayView1<f64>,
    counted_under: f64,
    expected: Scatters,
) -> Result<Scatters> {
    let model = linear_model(records, z, counted_under)?;
    let (of_readings, of_records) = (grid(expected.readings), grid(expected.records));
    let mut logs = Array2::zeros((of_readings.len(), of_records.len()));
    for (i, (at_reading, reading)) in of_readings.iter().enumerate() {
        for (j, (at_record, record)) in of_records.iter().enumerate() {
            let prior = 0.5 * (at_reading.powi(2) + at_record.powi(2));
            logs[[i, j]] = model.log_evidence(reading / counted_under, *record) - prior;
        }
    }
    let top = logs.fold(f64::NEG_INFINITY, |top, log| f64::max(top, *log));
    let weights = logs.mapv(|log| (log - top).exp());
    let each = |axis: usize| weights.sum_axis(ndarray::Axis(1 - axis));
    Ok(Scatters {
        readings: expected.readings.map(|prior| left(prior, &of_readings, &each(0))),
        records: expected.records.map(|prior| left(prior, &of_records, &each(1))),
    })
}

/// Prior standard deviations from the median, and the factors there; one that is held is 1.
fn grid(prior: Option<Prior>) -> Vec<(f64, f64)> {
    let Some(prior) = prior else { return vec![(0.0, 1.0)] };
    let at = |place: i32| GRID_STEP_SDS * f64::from(place);
    (-GRID_STEPS..=GRID_STEPS).map(|place| (at(place), prior.value(at(place)))).collect()
}

fn left(prior: Prior, places: &[(f64, f64)], weights: &Array1<f64>) -> Prior {
    let mean_of = |f: &dyn Fn(f64) -> f64| {
        let sum: f64 = places.iter().zip(weights).map(|((at, _), weight)| weight * f(*at)).sum();
        sum / weights.sum()
    };
    let mean = mean_of(&|at| at);
    let deviation = mean_of(&|at| (at - mean).powi(2)).sqrt();
    Prior { median: prior.value(mean), sd: prior.sd * deviation, ..prior }
}

fn linear_model(records: &impl Records, z: ArrayView1<f64>, counted_under: f64) -> Result<LinearModel> {
    let coordinates = records.coordinates();
    let n = z.len();
    let (values, derivatives) = (coordinates.values(z), coordinates.derivatives(z));
    let differs = coordinates.axes.iter().map(|axis| axis.record.is_some()).collect();
    let mut model = LinearModel {
        others: NormalEquations::none(n),
        readings: NormalEquations::none(n),
        square: 0.0,
        count: 0.0,
        differs,
    };
    for i in 0..records.count() {
        let (misfits, slopes) = records.slopes(i, &values, &derivatives)?;
        let axes = coordinates.of_record(i);
        for ((law, misfit), slope) in records.laws(i).iter().zip(misfits).zip(slopes.rows()) {
            let scatters = law.scatters && law.is_reading();
            let most = if scatters { MAX_COUNTED_SDS / counted_under } else { f64::INFINITY };
            let (counted, steep) = law.counted(misfit.clamp(-most, most));
            let mut by_sd = Array1::zeros(n);
            axes.iter().zip(slope).for_each(|(&j, slope)| by_sd[j] = steep * slope);
            let row = coordinates.pull_back(&by_sd);
            let from_zero = counted - row.dot(&z);
            if scatters {
                model.readings.add(&row, from_zero);
                model.square += from_zero * from_zero;
                model.count += 1.0;
            } else {
                model.others.add(&row, from_zero);
            }
        }
    }
    Ok(model)
}

impl NormalEquations {
    fn none(n: usize) -> Self {
        NormalEquations { products: Array2::zeros((n, n)), pulls: Array1::zeros(n) }
    }

    fn add(&mut self, row: &Array1<f64>, from_zero: f64) {
        let moved: Vec<usize> = (0..row.len()).filter(|&j| row[j] != 0.0).collect();
        moved.iter().for_each(|&a| moved.iter().for_each(|&b| self.products[[a, b]] += row[a] * row[b]));
        self.pulls.scaled_add(from_zero, row);
    }
}

impl LinearModel {
    /// Logarithm of the probability of all readings where their scatter is `reading` times that under which they were
    /// counted, and records differ `record` times as much as expected; all coordinates integrated out, but for a
    /// constant.
    fn log_evidence(&self, reading: f64, record: f64) -> f64 {
        let weight = reading.powi(-2);
        let own = self.differs.iter().filter(|differs| **differs).count() as f64;
        let mut total = &self.others.products + &(&self.readings.products * weight);
        let priors = self.differs.iter().map(|differs| if *differs { record.powi(-2) } else { 1.0 });
        total.diag_mut().iter_mut().zip(priors).for_each(|(x, prior)| *x += prior);
        let pulls = &self.others.pulls + &(&self.readings.pulls * weight);
        let root = cholesky(total.view());
        let explained = solve_lower(root.view(), pulls.view());
        let volume: f64 = root.diag().iter().map(|pivot| pivot.ln()).sum();
        let scale = self.count * reading.ln() + own * record.ln();
        -0.5 * (self.square * weight - explained.dot(&explained)) - volume - scale
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inference::coordinates::{Axis, Coordinates};
    use crate::inference::likelihood::{Law, Shape};
    use crate::numerics::random::{stream, unit_normals};
    use crate::numerics::triangular::solve_normal;
    use ndarray::{Array1, s};

    const EACH: usize = 3;

    /// Castings whose readings are sums of what they share, what is their own and scatter, all in standard deviations.
    struct Lines {
        coordinates: Coordinates<&'static str>,
        read: Array2<f64>,
    }

    impl Lines {
        fn new(castings: usize) -> Self {
            let prior = Prior::normal(0.0, 1.0, -1e9, 1e9);
            let axis = |parameter, record| Axis { parameter, record, prior };
            let own = (0..castings).map(|i| axis("own", Some(i)));
            let shared = axis("shared", None);
            let coordinates = Coordinates::new([shared].into_iter().chain(own).collect());
            Lines { coordinates, read: Array2::zeros((castings, EACH)) }
        }

        /// By what the castings share, and by what is their own.
        fn slope(k: usize) -> [f64; 2] {
            [1.0 + k as f64, 2.0 - 1.5 * k as f64]
        }

        fn drawn(castings: usize, casting: f64, lot: f64, seed: u64) -> Self {
            let mut lines = Lines::new(castings);
            for (i, mut row) in lines.read.rows_mut().into_iter().enumerate() {
                let z = unit_normals(&mut stream(seed, i as u64), EACH + 1);
                for (k, read) in row.iter_mut().enumerate() {
                    // The linear model takes readings for normal, with the information of Student's t.
                    let sd = casting * (7.0_f64 / 5.0).sqrt();
                    *read = Lines::slope(k)[0] * 0.4 + Lines::slope(k)[1] * lot * z[EACH] + sd * z[k];
                }
            }
            lines
        }
    }

    impl Records for Lines {
        type Parameter = &'static str;

        fn coordinates(&self) -> &Coordinates<&'static str> {
            &self.coordinates
        }

        fn count(&self) -> usize {
            self.read.nrows()
        }

        fn laws(&self, _record: usize) -> Vec<Law> {
            vec![Law { shape: Shape::Heavy, scatters: true }; EACH]
        }

        fn misfits(&self, record: usize, values: &[f64]) -> Result<Vec<f64>> {
            let said = |k: usize| Lines::slope(k)[0] * values[0] + Lines::slope(k)[1] * values[1 + record];
            Ok((0..EACH).map(|k| said(k) - self.read[[record, k]]).collect())
        }

        fn slopes(&self, record: usize, values: &[f64], _derivatives: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
            Ok((self.misfits(record, values)?, Array2::from_shape_fn((EACH, 2), |(k, j)| Lines::slope(k)[j])))
        }
    }

    /// Where they fit best if they scatter as expected.
    fn fit(lines: &Lines) -> Array1<f64> {
        let n = lines.coordinates.len();
        let NormalEquations { products, pulls } =
            linear_model(lines, Array1::zeros(n).view(), 1e-9).expect("a model").readings;
        let root = cholesky((products + Array2::<f64>::eye(n)).view());
        -solve_normal(root.view(), pulls.insert_axis(ndarray::Axis(1)).view()).column(0).to_owned()
    }

    /// The readings of one casting are normal with a known covariance: its density, but for a constant.
    fn density(lines: &Lines, casting: f64, lot: f64) -> f64 {
        let by = |k: usize, j: usize| Lines::slope(k)[j];
        let covariance = Array2::from_shape_fn((EACH, EACH), |(a, b)| {
            let own = if a == b { 1.4 * casting * casting } else { 0.0 };
            own + by(a, 0) * by(b, 0) + lot * lot * by(a, 1) * by(b, 1)
        });
        let root = cholesky(covariance.view());
        let x = solve_lower(root.view(), lines.read.slice(s![0, ..]));
        -0.5 * x.dot(&x) - root.diag().iter().map(|pivot| pivot.ln()).sum::<f64>()
    }

    #[test]
    fn the_evidence_is_the_density_of_the_readings() {
        let lines = Lines::drawn(1, 1.0, 1.0, 3);
        let model = linear_model(&lines, Array1::from(vec![0.2, -0.1]).view(), 1.0).expect("a model");
        assert_eq!(model.count, 3.0);
        let from = model.log_evidence(1.0, 1.0) - density(&lines, 1.0, 1.0);
        for (casting, lot) in [(0.4, 1.0), (1.0, 2.0), (2.5, 0.3)] {
            let off = model.log_evidence(casting, lot) - density(&lines, casting, lot) - from;
            assert!(off.abs() < 1e-10, "{casting} {lot}: {off}");
        }
    }

    #[test]
    fn many_castings_tell_how_much_they_scatter_and_few_leave_the_belief() {
        let factor = Prior::lognormal(1.0, 0.3, 0.1, 10.0);
        let expected = Scatters { readings: Some(factor), records: Some(factor) };
        for (casting, lot) in [(0.5, 1.0), (1.0, 0.6), (1.5, 1.6)] {
            let lines = Lines::drawn(120, casting, lot, 5);
            let found = found_scatters(&lines, fit(&lines).view(), 1.0, expected).expect("found");
            let (c, l) = (found.readings.expect("drawn"), found.records.expect("drawn"));
            assert!((c.median / casting - 1.0).abs() < 0.12 && c.sd < 0.1, "{casting}: {c:?}");
            assert!((l.median / lot - 1.0).abs() < 0.15 && l.sd < 0.12, "{lot}: {l:?}");
        }
        let lines = Lines::drawn(1, 1.0, 1.0, 5);
        let found = found_scatters(&lines, fit(&lines).view(), 1.0, expected).expect("found");
        let c = found.readings.expect("drawn");
        assert!(c.sd > 0.2 && (0.7..1.4).contains(&c.median), "{c:?}");
        let held = Scatters { readings: None, ..expected };
        let found = found_scatters(&lines, fit(&lines).view(), 1.0, held).expect("found");
        assert!(found.readings.is_none() && found.records.is_some());
    }
}
