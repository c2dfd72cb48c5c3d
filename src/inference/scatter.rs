//! How much castings scatter, in what is weighed and read and in what makes them differ, found from how well they fit: the linear
//! model's evidence for each pair of factors, weighed with what is believed of them.

use ndarray::{Array1, Array2, ArrayView1};

use crate::error::Result;
use crate::fit::parameter::Belief;
use crate::inference::posterior::{Records, Scatters};
use crate::numerics::triangular::{cholesky, solve_lower};

/// Factors that are looked at: so many spreads of the belief either way, in steps of this many.
const REACH: i32 = 6;
const STEP: f64 = 0.5;
/// A reading more than this many deviations off, as believed, counts as that many: the rest is not the others' scatter.
const ODD: f64 = 3.0;

/// What records tell around a fit, readings whose scatter is looked for apart from the others.
struct Told {
    others: Rows,
    readings: Rows,
    /// Square of the readings, and how many there are.
    square: f64,
    count: f64,
    /// Which coordinates are what makes a casting differ.
    differs: Vec<bool>,
}

/// Products of the slopes with themselves, and with what would be counted if all coordinates were zero.
struct Rows {
    products: Array2<f64>,
    pulls: Array1<f64>,
}

/// What is left to believe of the scatters after castings that fit best at `z`, their misfits taken over `counted_under` times the
/// believed deviations. Lognormal, as the beliefs are, with the mean and deviation of the logarithm that the castings leave.
pub(crate) fn found_scatters(
    records: &impl Records,
    z: ArrayView1<f64>,
    counted_under: f64,
    believed: Scatters,
) -> Result<Scatters> {
    let told = told(records, z, counted_under)?;
    let (castings, lots) = (places(believed.casting), places(believed.lot));
    let mut logs = Array2::zeros((castings.len(), lots.len()));
    for (i, (at_casting, casting)) in castings.iter().enumerate() {
        for (j, (at_lot, lot)) in lots.iter().enumerate() {
            let prior = 0.5 * (at_casting.powi(2) + at_lot.powi(2));
            logs[[i, j]] = told.log_evidence(casting / counted_under, *lot) - prior;
        }
    }
    let top = logs.fold(f64::NEG_INFINITY, |top, log| f64::max(top, *log));
    let weights = logs.mapv(|log| (log - top).exp());
    let each = |axis: usize| weights.sum_axis(ndarray::Axis(1 - axis));
    Ok(Scatters {
        casting: believed.casting.map(|belief| left(belief, &castings, &each(0))),
        lot: believed.lot.map(|belief| left(belief, &lots, &each(1))),
    })
}

/// Spreads from the belief's center, and the factors there; one that is held is 1.
fn places(belief: Option<Belief>) -> Vec<(f64, f64)> {
    let Some(belief) = belief else { return vec![(0.0, 1.0)] };
    let at = |place: i32| STEP * f64::from(place);
    (-REACH..=REACH).map(|place| (at(place), belief.value(at(place)))).collect()
}

fn left(belief: Belief, places: &[(f64, f64)], weights: &Array1<f64>) -> Belief {
    let mean_of = |f: &dyn Fn(f64) -> f64| {
        let sum: f64 = places.iter().zip(weights).map(|((at, _), weight)| weight * f(*at)).sum();
        sum / weights.sum()
    };
    let mean = mean_of(&|at| at);
    let deviation = mean_of(&|at| (at - mean).powi(2)).sqrt();
    Belief { center: belief.value(mean), spread: belief.spread * deviation, ..belief }
}

fn told(records: &impl Records, z: ArrayView1<f64>, counted_under: f64) -> Result<Told> {
    let space = records.space();
    let n = z.len();
    let (values, rates) = (space.values(z), space.rates(z));
    let differs = space.axes.iter().map(|axis| axis.record.is_some()).collect();
    let mut told = Told { others: Rows::none(n), readings: Rows::none(n), square: 0.0, count: 0.0, differs };
    for i in 0..records.count() {
        let (misfits, slopes) = records.slopes(i, &values, &rates)?;
        let axes = space.of_record(i);
        for ((law, misfit), slope) in records.laws(i).iter().zip(misfits).zip(slopes.rows()) {
            let scatters = law.scatters && law.is_reading();
            let most = if scatters { ODD / counted_under } else { f64::INFINITY };
            let (counted, steep) = law.counted(misfit.clamp(-most, most));
            let mut by_spread = Array1::zeros(n);
            axes.iter().zip(slope).for_each(|(&j, slope)| by_spread[j] = steep * slope);
            let row = space.pull_back(&by_spread);
            let from_zero = counted - row.dot(&z);
            if scatters {
                told.readings.add(&row, from_zero);
                told.square += from_zero * from_zero;
                told.count += 1.0;
            } else {
                told.others.add(&row, from_zero);
            }
        }
    }
    Ok(told)
}

impl Rows {
    fn none(n: usize) -> Self {
        Rows { products: Array2::zeros((n, n)), pulls: Array1::zeros(n) }
    }

    fn add(&mut self, row: &Array1<f64>, from_zero: f64) {
        let moved: Vec<usize> = (0..row.len()).filter(|&j| row[j] != 0.0).collect();
        moved.iter().for_each(|&a| moved.iter().for_each(|&b| self.products[[a, b]] += row[a] * row[b]));
        self.pulls.scaled_add(from_zero, row);
    }
}

impl Told {
    /// Logarithm of the probability of all readings where their scatter is `casting` times that under which they were counted, and
    /// castings differ `lot` times as much as believed; all coordinates integrated out, but for a constant.
    fn log_evidence(&self, casting: f64, lot: f64) -> f64 {
        let weight = casting.powi(-2);
        let own = self.differs.iter().filter(|differs| **differs).count() as f64;
        let mut told = &self.others.products + &(&self.readings.products * weight);
        let beliefs = self.differs.iter().map(|differs| if *differs { lot.powi(-2) } else { 1.0 });
        told.diag_mut().iter_mut().zip(beliefs).for_each(|(x, belief)| *x += belief);
        let pulls = &self.others.pulls + &(&self.readings.pulls * weight);
        let root = cholesky(told.view());
        let explained = solve_lower(root.view(), pulls.view());
        let volume: f64 = root.diag().iter().map(|pivot| pivot.ln()).sum();
        let scale = self.count * casting.ln() + own * lot.ln();
        -0.5 * (self.square * weight - explained.dot(&explained)) - volume - scale
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::parameter::Parameter;
    use crate::inference::coordinates::{Axis, Space};
    use crate::inference::likelihood::{Law, Shape};
    use crate::numerics::random::{stream, unit_normals};
    use crate::numerics::triangular::solve_normal;
    use ndarray::{Array1, s};

    const EACH: usize = 3;

    /// Castings whose readings are sums of what they share, what is their own and scatter, all in spreads.
    struct Lines {
        space: Space,
        read: Array2<f64>,
    }

    impl Lines {
        fn new(castings: usize) -> Self {
            let belief = Belief { log: false, center: 0.0, spread: 1.0, low: -1e9, high: 1e9 };
            let axis = |parameter, record| Axis { parameter, record, belief };
            let own = (0..castings).map(|i| axis(Parameter::GasFactor, Some(i)));
            let shared = axis(Parameter::GasRetention, None);
            let space = Space::new([shared].into_iter().chain(own).collect());
            Lines { space, read: Array2::zeros((castings, EACH)) }
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
                    // The linear model takes readings for normal, with what Student's t tells.
                    let sd = casting * (7.0_f64 / 5.0).sqrt();
                    *read = Lines::slope(k)[0] * 0.4 + Lines::slope(k)[1] * lot * z[EACH] + sd * z[k];
                }
            }
            lines
        }
    }

    impl Records for Lines {
        fn space(&self) -> &Space {
            &self.space
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

        fn slopes(&self, record: usize, values: &[f64], _rates: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
            Ok((self.misfits(record, values)?, Array2::from_shape_fn((EACH, 2), |(k, j)| Lines::slope(k)[j])))
        }
    }

    /// Where they fit best if they scatter as believed.
    fn fit(lines: &Lines) -> Array1<f64> {
        let n = lines.space.len();
        let Rows { products, pulls } = told(lines, Array1::zeros(n).view(), 1e-9).expect("told").readings;
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
        let told = told(&lines, Array1::from(vec![0.2, -0.1]).view(), 1.0).expect("told");
        assert_eq!(told.count, 3.0);
        let from = told.log_evidence(1.0, 1.0) - density(&lines, 1.0, 1.0);
        for (casting, lot) in [(0.4, 1.0), (1.0, 2.0), (2.5, 0.3)] {
            let off = told.log_evidence(casting, lot) - density(&lines, casting, lot) - from;
            assert!(off.abs() < 1e-10, "{casting} {lot}: {off}");
        }
    }

    #[test]
    fn many_castings_tell_how_much_they_scatter_and_few_leave_the_belief() {
        let believed =
            Scatters { casting: Some(Parameter::CastingScatter.belief()), lot: Some(Parameter::LotScatter.belief()) };
        for (casting, lot) in [(0.5, 1.0), (1.0, 0.6), (1.5, 1.6)] {
            let lines = Lines::drawn(120, casting, lot, 5);
            let found = found_scatters(&lines, fit(&lines).view(), 1.0, believed).expect("found");
            let (c, l) = (found.casting.expect("drawn"), found.lot.expect("drawn"));
            assert!((c.center / casting - 1.0).abs() < 0.12 && c.spread < 0.1, "{casting}: {c:?}");
            assert!((l.center / lot - 1.0).abs() < 0.15 && l.spread < 0.12, "{lot}: {l:?}");
        }
        let lines = Lines::drawn(1, 1.0, 1.0, 5);
        let found = found_scatters(&lines, fit(&lines).view(), 1.0, believed).expect("found");
        let c = found.casting.expect("drawn");
        assert!(c.spread > 0.2 && (0.7..1.4).contains(&c.center), "{c:?}");
        let held = Scatters { casting: None, ..believed };
        let found = found_scatters(&lines, fit(&lines).view(), 1.0, held).expect("found");
        assert!(found.casting.is_none() && found.lot.is_some());
    }
}
