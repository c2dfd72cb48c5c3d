//! One run of the solver, and which of two ends is the better.

use ndarray::Array1;

use super::executor::execute;
use super::problem::{Bounds, Residuals};
use super::settings::Settings;
use super::solution::Solution;
use super::solver::LevenbergMarquardt;
use crate::error::Result;

/// Relative difference of two sums of squares from which one counts as better.
const MIN_REL_GAIN: f64 = 1e-9;

/// One run of the solver from `start`, without second attempts and checks.
///
/// # Errors
/// As [`fit`](super::fit).
pub fn run<P: Residuals + ?Sized>(
    problem: &P,
    bounds: &Bounds,
    start: &Array1<f64>,
    settings: &Settings,
) -> Result<Solution> {
    let solver = LevenbergMarquardt::new(problem, bounds, settings);
    let (model, ending, solver) = execute(solver, start.clone())?;
    Ok(Solution::new(model, ending, solver.tally, (bounds, start, settings)).on_ridge(solver.ridge))
}

/// The one with the smaller sum of squares; where they are equal, the one that succeeded. Counts are added.
pub(super) fn better_of(a: Solution, b: Solution) -> Solution {
    let b_wins = is_better(b.cost, a.cost) || (b.is_success() && !a.is_success() && !is_better(a.cost, b.cost));
    let (mut winner, loser) = if b_wins { (b, a) } else { (a, b) };
    winner.tally += loser.tally;
    winner
}

/// Whether cost `a` is below cost `b` by more than rounding.
pub(super) fn is_better(a: f64, b: f64) -> bool {
    a < b * (1.0 - MIN_REL_GAIN)
}
