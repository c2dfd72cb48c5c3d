//! Checks an answer by running back to it from the edge of its confidence region.

use ndarray::Array1;

use super::model::Model;
use super::problem::{Bounds, Point, Residuals};
use super::run::{better_of, is_better, run};
use super::settings::Settings;
use super::solution::{Solution, Verification};
use super::standing::Standing;
use crate::error::{Error, Result};
use crate::numerics::orthogonal::Svd;

/// Distance of the starts from the answer, in standard errors along each principal direction.
const EDGE_ERRORS: f64 = 3.0;

/// Largest number of times that a better answer found while checking is checked again.
const MOST_CHECKS: usize = 5;

/// Relative difference of two sums of squares up to which a run has come back.
const SAME_REL_COST: f64 = 1e-6;

/// Runs back to `best` from starts around it, and takes a better answer where one is found.
pub(super) fn verify<P: Residuals + ?Sized>(
    problem: &P,
    bounds: &Bounds,
    mut best: Solution,
    settings: &Settings,
) -> Result<Solution> {
    let mut improvements = 0;
    while best.is_minimum() && !settings.is_canceled() {
        let (mut found, is_better) = check(problem, bounds, best, settings)?;
        improvements += usize::from(is_better);
        found.verification.improvements = improvements;
        best = found;
        if !is_better || improvements == MOST_CHECKS {
            break;
        }
    }
    Ok(best)
}

/// One round of runs; ends early with a better answer.
fn check<P: Residuals + ?Sized>(
    problem: &P,
    bounds: &Bounds,
    mut best: Solution,
    settings: &Settings,
) -> Result<(Solution, bool)> {
    best.verification = Verification::default();
    for k in 0..settings.verifications {
        let end = match run(problem, bounds, &edge(&best, bounds, k, settings), settings) {
            Ok(end) => end,
            // There is no start here, which says nothing about the answer.
            Err(e) if e.is_recoverable() || matches!(e, Error::Fit { .. }) => continue,
            Err(e) => return Err(e),
        };
        if is_better(end.cost, best.cost) && !is_same(&end, &best) {
            return Ok((better_of(best, end), true));
        }
        best.verification.runs += 1;
        best.verification.returned += usize::from(is_same(&end, &best));
        best.tally += end.tally;
    }
    Ok((best, false))
}

fn is_same(a: &Solution, b: &Solution) -> bool {
    (a.cost - b.cost).abs() <= SAME_REL_COST * b.cost + b.rounding_of_cost()
}

/// The `k`-th start: as far along each principal direction as the sum of squares rises by the same amount.
fn edge(best: &Solution, bounds: &Bounds, k: usize, settings: &Settings) -> Array1<f64> {
    let point = Point {
        readings: best.residuals.len(),
        p: best.parameters.clone(),
        residuals: best.residuals.clone(),
        jacobian: best.jacobian.clone(),
    };
    let mut model = Model::at(point, bounds, settings.rank_tolerance);
    model.free = best.standings.iter().map(|s| *s == Standing::Free).collect();
    let (places, columns) = model.unit_columns();
    let svd = Svd::of(columns.view());
    let kept = svd.kept(settings.rank_tolerance);
    let sd = (best.residual_sum_of_squares() / best.degrees_of_freedom.max(1) as f64).sqrt();
    let mut start = best.parameters.clone();
    for i in (0..kept.len()).filter(|&i| kept[i]) {
        let length = side(i, k) * EDGE_ERRORS * sd / svd.values[i];
        places.iter().enumerate().for_each(|(a, &j)| start[j] += length * svd.v[[i, a]] / model.norms[j]);
    }
    bounds.clamp(&start)
}

/// Signs that differ from start to start: rows of a Hadamard matrix, each followed by its opposite.
fn side(direction: usize, start: usize) -> f64 {
    let is_odd = ((direction & (start / 2)).count_ones() + start as u32) % 2 == 1;
    if is_odd { -1.0 } else { 1.0 }
}
