//! Iteratively reweighted least squares (Green, J. R. Stat. Soc. B 46, 149, 1984): the weights of each round are found
//! from the residuals of the round before.

use ndarray::{Array1, ArrayView1};

use super::least_squares::{Bounds, MultiStart, Residuals, Settings, fit_from_starts};
use crate::error::Result;

/// A sum of squares whose weights are found on the way.
pub trait Reweighted: Residuals + Sync {
    /// The box that is searched.
    fn bounds(&self) -> (Array1<f64>, Array1<f64>);
    /// Where to start from: the first is the best guess.
    fn starts(&self, count: usize) -> Vec<Array1<f64>>;
    /// Finds each series' scatter from its residuals at these positions.
    fn reweight(&mut self, z: ArrayView1<f64>) -> Result<()>;
    /// From now on evaluates this closely: a relative tolerance.
    fn refine(&mut self, tolerance: f64);
}

/// How a reweighted fit is run.
pub struct Rounds {
    /// How many rounds.
    pub count: usize,
    /// Starts of the first round.
    pub starts: usize,
    /// Settings of all rounds but the last.
    pub settings: Settings,
    /// Settings of the last round, and how closely it is evaluated.
    pub last: Settings,
    /// Relative tolerance of the last round's evaluations.
    pub last_tolerance: f64,
}

/// The last round's answer, and what the many starts of the first round said.
pub struct ReweightedFit {
    /// The last round's answer.
    pub last: MultiStart,
    /// Starts that ended in the answer, and how many there were.
    pub agreeing: (usize, usize),
    /// Whether no other answer fitted as well.
    pub unique: bool,
}

/// Fits in rounds: the first from many starts, the last evaluated more closely, as near the answer the noise of
/// evaluations would hide the minimum. Another answer that fits as well is followed through the rounds: two ends of
/// loose runs, or under loose weights, may turn out to be one.
pub fn fit_reweighted(problem: &mut impl Reweighted, rounds: &Rounds) -> Result<ReweightedFit> {
    let (lower, upper) = problem.bounds();
    let bounds = Bounds::new(lower, upper)?;
    let mut starts = problem.starts(rounds.starts.max(1));
    let mut first = None;
    for _ in 1..rounds.count {
        let many = fit_from_starts(problem, &bounds, &starts, &rounds.settings)?;
        first.get_or_insert((many.agreeing, many.ends.len(), many.rivals.len()));
        problem.reweight(many.best.parameters.view())?;
        starts = many.answers();
    }
    problem.refine(rounds.last_tolerance);
    let last = fit_from_starts(problem, &bounds, &starts, &rounds.last)?;
    let (agreeing, count, rivals) = first.unwrap_or((last.agreeing, last.ends.len(), last.rivals.len()));
    let joined = rivals.saturating_sub(last.rivals.len());
    Ok(ReweightedFit { agreeing: (agreeing + joined, count), unique: last.is_unique(), last })
}
