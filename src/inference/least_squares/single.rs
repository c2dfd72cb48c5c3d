//! A fit from one start: a run, second attempts if it fails, and runs around the answer to check it.

use ndarray::Array1;

use super::ending::Ending;
use super::problem::{Bounds, Residuals};
use super::run::{better_of, run};
use super::settings::Settings;
use super::solution::Solution;
use super::standing::Standing;
#[cfg(feature = "internals")]
use super::verify::verify;
use crate::error::Result;

/// Fits from one start: a run, second attempts if it fails, and runs around the answer to check it.
///
/// # Errors
/// [`Error::Argument`](crate::Error::Argument) and [`Error::TooFewRecords`](crate::Error::TooFewRecords) for a start
/// that does not fit, any error of the problem at the start, and from then on those it cannot step over.
#[cfg(feature = "internals")]
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
    end.ending != Ending::Canceled && (!end.is_minimum() || has_lost_influence)
}
