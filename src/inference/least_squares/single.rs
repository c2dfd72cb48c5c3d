//! A fit from one start: a run, second attempts if it fails, and runs around the answer to check it.

use argmin::core::observers::ObserverMode;
use argmin::core::{Executor, State, TerminationReason, TerminationStatus};
use ndarray::Array1;

use super::problem::{Bounds, Residuals};
use super::settings::Settings;
use super::solution::{Ending, Solution};
use super::solver::{FitState, LevenbergMarquardt};
use super::standing::Standing;
use super::verify::verify;
use crate::error::{Error, Result};

/// Relative difference of two sums of squares from which one counts as better.
const BETTER_BY: f64 = 1e-9;

/// Fits from one start: a run, second attempts if it fails, and runs around the answer to check it.
///
/// # Errors
/// [`Error::Argument`] and [`Error::TooFewRecords`] for a start that does not fit, any error of the problem at the start,
/// and from then on those it cannot step over.
pub fn fit<P: Residuals + ?Sized>(
    problem: &P,
    bounds: &Bounds,
    start: &Array1<f64>,
    settings: &Settings,
) -> Result<Solution> {
    verify(problem, bounds, attempt(problem, bounds, start, settings)?, settings)
}

/// A run and, as long as it fails, more with ever shorter first steps.
pub(super) fn attempt<P: Residuals + ?Sized>(
    problem: &P,
    bounds: &Bounds,
    start: &Array1<f64>,
    settings: &Settings,
) -> Result<Solution> {
    let mut best = run(problem, bounds, start, settings)?;
    let mut shorter = settings.clone();
    for _ in 0..settings.second_attempts {
        if !is_worth_another(&best) {
            break;
        }
        shorter.first_radius *= 0.1;
        best = better_of(best, run(problem, bounds, start, &shorter)?);
    }
    Ok(best)
}

/// Whether a shorter first step may end elsewhere; a combination that is lost stays lost from any start.
fn is_worth_another(end: &Solution) -> bool {
    let has_lost_influence = end.standings.contains(&Standing::NoInfluence);
    end.ending != Ending::Cancelled && (!end.is_minimum() || has_lost_influence)
}

/// One run of the solver from `start`, without second attempts and checks.
///
/// # Errors
/// As [`fit`].
pub fn run<P: Residuals + ?Sized>(
    problem: &P,
    bounds: &Bounds,
    start: &Array1<f64>,
    settings: &Settings,
) -> Result<Solution> {
    let solver = LevenbergMarquardt::new(bounds.clone(), settings.clone());
    let mut executor = Executor::new(problem, solver)
        .configure(|state: FitState| state.param(start.clone()).max_iters(settings.max_iterations));
    if let Some(watcher) = &settings.watcher {
        executor = executor.add_observer(watcher.clone(), ObserverMode::Always);
    }
    let end = executor.run().map_err(own_error)?;
    let ending = end.solver.ending.unwrap_or(match end.state.get_termination_status() {
        TerminationStatus::Terminated(TerminationReason::Interrupt) => Ending::Cancelled,
        _ => Ending::IterationLimit,
    });
    let model = end.solver.model.ok_or_else(|| own_error(argmin::core::Error::msg("the solver lost its point")))?;
    let solution = Solution::new(model, ending, end.solver.tally, (bounds, start, settings));
    Ok(solution.on_ridge(end.solver.ridge))
}

fn own_error(error: argmin::core::Error) -> Error {
    let foreign = |e: argmin::core::Error| Error::Fit { reason: e.to_string(), advice: "check the observer".into() };
    error.downcast::<Error>().unwrap_or_else(foreign)
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
    a < b * (1.0 - BETTER_BY)
}
