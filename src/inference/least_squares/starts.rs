//! Fits from many starts, and how far their ends agree.

use ndarray::Array1;
use rayon::prelude::*;

use super::problem::{Bounds, Residuals};
use super::run::is_better;
use super::settings::Settings;
use super::single::attempt;
use super::solution::{Noise, Solution};
use super::standing::Standing;
use super::verify::verify;
use crate::error::{Error, Result};

/// Residual variances by which the sum of squares of a rival may be larger: two standard deviations of likelihood.
const RIVAL_EXCESS_VARIANCES: f64 = 4.0;

/// What came of many starts.
#[derive(Clone, Debug)]
pub struct MultiStart {
    /// The end with the smallest sum of squares, checked by runs around it.
    pub best: Solution,
    /// Each start's end, in the order of the starts; an error where the problem could not be evaluated. Fewer than the
    /// starts if the fit was stopped on request.
    pub ends: Vec<Result<Solution>>,
    /// Number of ends that agree with the best.
    pub agreeing: usize,
    /// Starts whose end is another minimum that fits as well within the noise.
    pub rivals: Vec<usize>,
}

impl MultiStart {
    /// Whether no other minimum was found that fits as well.
    pub fn is_unique(&self) -> bool {
        self.rivals.is_empty()
    }

    /// The parameters of the best end and of those that fit as well.
    pub fn answers(&self) -> Vec<Array1<f64>> {
        let rivals = self.rivals.iter().filter_map(|&i| self.ends[i].as_ref().ok());
        std::iter::once(&self.best).chain(rivals).map(|end| end.parameters.clone()).collect()
    }

    /// Whether the best end is a success and the only one that fits as well.
    #[cfg(feature = "internals")]
    pub fn is_success(&self) -> bool {
        self.best.is_success() && self.is_unique()
    }
}

/// Fits from all starts, several at a time, and keeps the best; the same input gives the same bits on any number of
/// threads.
///
/// # Errors
/// As [`fit`](super::fit); a start where the problem cannot be evaluated counts only if all are like that.
pub fn fit_from_starts<P: Residuals + Sync + ?Sized>(
    problem: &P,
    bounds: &Bounds,
    starts: &[Array1<f64>],
    settings: &Settings,
) -> Result<MultiStart> {
    let ends = ends(problem, bounds, starts, settings)?;
    let best = verify(problem, bounds, best_end(&ends)?.clone(), settings)?;
    let agreeing = ends.iter().flatten().filter(|end| agrees(end, &best, settings.agreement)).count();
    let is_rival = |i: &usize| ends[*i].as_ref().is_ok_and(|end| is_rival(end, &best, settings.agreement));
    let rivals = (0..ends.len()).filter(is_rival).collect();
    Ok(MultiStart { best, ends, agreeing, rivals })
}

/// Where each start leads, in the order of the starts. Once the fit is to stop, no further one but the first is begun.
fn ends<P: Residuals + Sync + ?Sized>(
    problem: &P,
    bounds: &Bounds,
    starts: &[Array1<f64>],
    settings: &Settings,
) -> Result<Vec<Result<Solution>>> {
    let end = |(i, start): (usize, &Array1<f64>)| {
        (i == 0 || !settings.is_canceled()).then(|| attempt(problem, bounds, start, settings))
    };
    // One task a start: they take very different times.
    let all: Vec<_> = starts.par_iter().with_max_len(1).enumerate().map(end).collect();
    let is_fatal = |e: &Error| !e.is_recoverable() && !matches!(e, Error::Fit { .. });
    let checked = all.into_iter().flatten().map(|end| match end {
        Err(e) if is_fatal(&e) => Err(e),
        end => Ok(end),
    });
    checked.collect()
}

/// The first end with the smallest sum of squares.
fn best_end(ends: &[Result<Solution>]) -> Result<&Solution> {
    let better = |a: &Solution, b: &Solution| {
        is_better(a.cost, b.cost) || (a.is_success() && !b.is_success() && !is_better(b.cost, a.cost))
    };
    let best = ends.iter().flatten().reduce(|best, next| if better(next, best) { next } else { best });
    match (best, ends.first()) {
        (Some(best), _) => Ok(best),
        (None, Some(Err(e))) => Err(e.clone()),
        _ => Err(Error::argument("starts", "none", "at least one start", "give a start")),
    }
}

/// Whether all parameters that are determined in the best end have the same value in the other.
fn agrees(end: &Solution, best: &Solution, within: f64) -> bool {
    let errors = best.standard_errors(Noise::Estimated);
    (0..errors.len()).all(|j| match best.standings[j] {
        Standing::NoInfluence | Standing::NotIdentified { .. } => true,
        // A standard error that is NaN loses against the value.
        _ => {
            let size = errors[j].max(best.parameters[j].abs());
            (end.parameters[j] - best.parameters[j]).abs() <= within * size
        }
    })
}

fn is_rival(end: &Solution, best: &Solution, within: f64) -> bool {
    let variance = best.residual_variance();
    let noise = if variance.is_nan() { 0.0 } else { RIVAL_EXCESS_VARIANCES * variance };
    let excess = end.residual_sum_of_squares() - best.residual_sum_of_squares();
    end.is_minimum() && !agrees(end, best, within) && excess <= noise + 2.0 * best.rounding_of_cost()
}
