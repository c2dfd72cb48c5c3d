//! What stands in for the simulation of one record: polynomials of its misfits, and of the few ways in which its series
//! move.

use ndarray::{Array1, Array2, ArrayView1, ArrayView2, Axis, Zip, s};

use crate::inference::likelihood::{Law, Shape};
use crate::numerics::polynomial::Polynomials;

/// More readings than this, of one record, are taken together as a series.
const MOST_SINGLES: usize = 24;
/// Ways in which a series moves that are kept at most, and the size in standard deviations below which the rest is left
/// out.
const MOST_WAYS: usize = 24;
const MIN_WAY_SDS: f64 = 0.2;
/// Directions of the inputs along which all outputs together move by less than this, in standard deviations, are left
/// out.
const MIN_DIRECTION_SDS: f64 = 0.1;

/// The likelihood of a record, cheaply.
#[derive(Clone, Debug)]
pub struct Surrogate {
    /// Misfits that keep their own law.
    singles: Vec<Law>,
    series: Option<Series>,
    polynomials: Polynomials,
}

/// Many readings whose cost is taken as of second order around their mean misfits, in the ways in which they move.
#[derive(Clone, Debug)]
struct Series {
    level: f64,
    slope: Array1<f64>,
    curvature: Array2<f64>,
}

impl Surrogate {
    /// Learns from examples: inputs (m, k) and misfits (m, n), which have these laws.
    pub fn of_examples(inputs: ArrayView2<f64>, misfits: ArrayView2<f64>, laws: &[Law]) -> Self {
        let (singles, many) = apart(laws);
        let mut outputs = misfits.select(Axis(1), &singles);
        let mut series = None;
        if !many.is_empty() {
            let (found, moves) = Series::of(misfits.select(Axis(1), &many), laws[many[0]]);
            outputs = ndarray::concatenate![Axis(1), outputs, moves];
            series = Some(found);
        }
        let polynomials = Polynomials::of_examples(inputs, outputs.view()).narrowed(MIN_DIRECTION_SDS);
        Surrogate { singles: singles.into_iter().map(|k| laws[k]).collect(), series, polynomials }
    }

    /// The cost at these inputs, where readings scatter `scatter` times more than expected, and its derivatives by the
    /// inputs and by the logarithm of the scatter.
    pub fn cost(&self, inputs: &[f64], scatter: f64) -> (f64, Vec<f64>, f64) {
        let at = self.polynomials.at(inputs);
        let (mut total, mut by_scatter) = (0.0, 0.0);
        let mut by_output = Vec::with_capacity(at.outputs.len());
        for (law, misfit) in self.singles.iter().zip(&at.outputs) {
            let (cost, slope, by_log) = law.widened_cost(*misfit, scatter);
            total += cost;
            by_scatter += by_log;
            by_output.push(slope);
        }
        if let Some(series) = &self.series {
            let (cost, slope) = series.cost(at.outputs.slice(s![self.singles.len()..]));
            total += cost;
            by_output.extend(slope);
        }
        (total, self.polynomials.pull_back(&at, &by_output).to_vec(), by_scatter)
    }
}

/// Misfits that stand for themselves, and those of a series: the law that most of them have, if it is that of readings.
fn apart(laws: &[Law]) -> (Vec<usize>, Vec<usize>) {
    let common = [Shape::Normal, Shape::Heavy].map(Law::of);
    let many = |law: Law| laws.iter().filter(|l| **l == law).count() > MOST_SINGLES;
    let law = common.into_iter().find(|law| many(*law));
    (0..laws.len()).partition(|&k| Some(laws[k]) != law)
}

impl Series {
    /// From the misfits (m, n) of a law: the series, and how each example moves in its ways; shape (m, r).
    fn of(misfits: Array2<f64>, law: Law) -> (Self, Array2<f64>) {
        let mean = misfits.sum_axis(Axis(0)) / misfits.nrows() as f64;
        let centered = &misfits - &mean;
        let ways = ways(centered.view());
        let costs: Vec<(f64, f64, f64)> = mean.iter().map(|m| second_order(law, *m)).collect();
        let slopes: Array1<f64> = costs.iter().map(|c| c.1).collect();
        let bends: Array1<f64> = costs.iter().map(|c| c.2).collect();
        let series = Series {
            level: costs.iter().map(|c| c.0).sum(),
            slope: ways.dot(&slopes),
            curvature: (&ways * &bends).dot(&ways.t()),
        };
        let moves = centered.dot(&ways.t());
        (series, moves)
    }

    fn cost(&self, moved: ArrayView1<f64>) -> (f64, Array1<f64>) {
        let bent = self.curvature.dot(&moved);
        (self.level + self.slope.dot(&moved) + 0.5 * bent.dot(&moved), &self.slope + &bent)
    }
}

/// A law's cost at a misfit with its first two derivatives.
fn second_order(law: Law, misfit: f64) -> (f64, f64, f64) {
    const DIFFERENCE_STEP: f64 = 1e-3;
    let (cost, slope) = law.cost(misfit);
    (
        cost,
        slope,
        (law.cost(misfit + DIFFERENCE_STEP).1 - law.cost(misfit - DIFFERENCE_STEP).1) / (2.0 * DIFFERENCE_STEP),
    )
}

/// Orthonormal directions that span the rows, the longest first: Gram and Schmidt's, choosing the largest rest each
/// time.
fn ways(rows: ArrayView2<f64>) -> Array2<f64> {
    let n = rows.ncols();
    let mut rest = rows.to_owned();
    let mut found: Vec<Array1<f64>> = Vec::new();
    while found.len() < MOST_WAYS.min(n) {
        let lengths = rest.map_axis(Axis(1), |row| row.dot(&row));
        let Some((at, square)) = lengths.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1)) else { break };
        if square.sqrt() <= MIN_WAY_SDS {
            break;
        }
        let direction = rest.row(at).mapv(|x| x / square.sqrt());
        let along = rest.dot(&direction);
        Zip::from(rest.rows_mut()).and(&along).for_each(|mut row, a| row.scaled_add(-a, &direction));
        found.push(direction);
    }
    Array2::from_shape_fn((found.len(), n), |(i, j)| found[i][j])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::random::{stream, unit_normals};

    /// A record whose misfits are of second order, some single and a long series: the surrogate is exact but for the
    /// tails of the series.
    fn misfits(x: &[f64], n: usize) -> Vec<f64> {
        let single = [x[0] - 0.5 * x[1] * x[1], 1.0 + x[1]];
        let series = (0..n).map(|i| {
            let t = i as f64 / n as f64;
            0.1 * (x[0] * t + x[1] * t * t - 0.2 * x[0] * x[1] + (9.0 * t).sin())
        });
        single.into_iter().chain(series).collect()
    }

    #[test]
    fn a_surrogate_of_second_order_misfits_is_the_likelihood() {
        let law = |i: usize| if i < 2 { Law { shape: Shape::Heavy, scatters: true } } else { Law::of(Shape::Normal) };
        let laws: Vec<Law> = (0..202).map(law).collect();
        let normals = unit_normals(&mut stream(2, 0), 200);
        let inputs = Array2::from_shape_fn((100, 2), |(i, j)| normals[2 * i + j]);
        let outputs = Array2::from_shape_fn((100, 202), |(i, k)| misfits(&inputs.row(i).to_vec(), 200)[k]);
        let surrogate = Surrogate::of_examples(inputs.view(), outputs.view(), &laws);
        let exact = |x: &[f64], s: f64| -> f64 {
            laws.iter().zip(misfits(x, 200)).map(|(law, m)| law.widened_cost(m, s).0).sum()
        };
        let (x, s, h) = ([0.7, -1.3], 1.2, 1e-4);
        let (cost, slope, by_scatter) = surrogate.cost(&x, s);
        assert!((cost - exact(&x, s)).abs() < 1e-3, "{cost} {}", exact(&x, s));
        let by_first = (exact(&[0.7 + h, -1.3], s) - exact(&[0.7 - h, -1.3], s)) / (2.0 * h);
        let by_log = (exact(&x, s * h.exp()) - exact(&x, s * (-h).exp())) / (2.0 * h);
        assert!((slope[0] - by_first).abs() < 1e-2 * by_first.abs() && (by_scatter - by_log).abs() < 1e-3);
    }

    #[test]
    fn rows_of_two_ways_have_two() {
        let rows = Array2::from_shape_fn((50, 100), |(i, j)| (i as f64).sin() * j as f64 + (i as f64).cos());
        assert_eq!(ways(rows.view()).nrows(), 2);
    }
}
