//! A fit in rounds: the scatter of logged series is found from the residuals of the round before.

use ndarray::{Array1, ArrayView1};

use super::coordinates::Space;
use crate::error::Result;
use crate::fit::options::FitOptions;
use crate::inference::least_squares::{Bounds, MultiStart, Residuals, fit_from_starts};
use crate::physics::casting::Accuracy;

/// A sum of squares whose weights are found on the way.
pub(crate) trait Rounds: Residuals + Sync {
    /// The space that is searched.
    fn space(&self) -> &Space;
    /// Where to start from: the first is the best guess.
    fn starts(&self, count: usize) -> Vec<Array1<f64>>;
    /// Finds each series' scatter from its residuals at these positions.
    fn learn_noise(&mut self, z: ArrayView1<f64>, options: &FitOptions) -> Result<()>;
    /// From now on simulates this closely.
    fn refine(&mut self, accuracy: Accuracy);
}

/// The last round's answer, and what the many starts of the first round said.
pub(crate) struct InRounds {
    pub last: MultiStart,
    /// Starts that ended in the answer, and how many there were.
    pub agreeing: (usize, usize),
    /// Whether no other answer fitted as well.
    pub unique: bool,
}

/// Fits in this many rounds: the first from many starts, the last integrated more closely, as near the answer the steps' own
/// noise would hide the minimum. Another answer that fits as well is followed through the rounds: two ends of loose runs, or
/// under loose weights, may turn out to be one.
pub(crate) fn fit_in_rounds(problem: &mut impl Rounds, rounds: usize, options: &FitOptions) -> Result<InRounds> {
    let (lower, upper) = problem.space().bounds();
    let bounds = Bounds::new(lower, upper)?;
    let settings = options.settings();
    let mut starts = problem.starts(options.starts.max(1));
    let mut first = None;
    for _ in 1..rounds {
        let many = fit_from_starts(problem, &bounds, &starts, &settings)?;
        first.get_or_insert((many.agreeing, many.ends.len(), many.rivals.len()));
        problem.learn_noise(many.best.parameters.view(), options)?;
        starts = many.answers();
    }
    let fine = options.finer();
    problem.refine(fine.accuracy);
    let last = fit_from_starts(problem, &bounds, &starts, &fine.settings())?;
    let (agreeing, count, rivals) = first.unwrap_or((last.agreeing, last.ends.len(), last.rivals.len()));
    let joined = rivals.saturating_sub(last.rivals.len());
    Ok(InRounds { agreeing: (agreeing + joined, count), unique: last.is_unique(), last })
}
