//! How far each reading is from what the others predict: one by one, and all together.

use ndarray::{Array1, Array2};
use serde::{Deserialize, Serialize};

use super::conditional::{ConditionalModel, UnderHypothesis};
use super::hypothesis::Hypothesis;
use super::reading::ReadingKind;
use crate::error::Result;
use crate::numerics::chi_square::chi_square_tail;
use crate::numerics::jacobian::Function;
use crate::numerics::laplace::{Evidence, climb};
use crate::numerics::normal::quantile_of_unit_normal;

/// A loss that is predicted to be less than this share of its standard deviation is predicted as none.
const NO_LOSS_SDS: f64 = 0.5;
/// An answer that is this many of the eye's standard deviations clear is not in doubt.
const SURE_ANSWER_SDS: f64 = 3.0;

/// A reading against what the other castings predict, SI.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadingResidual {
    /// What was read.
    pub kind: ReadingKind,
    /// Its value; `None` of an answer of the eye.
    pub measured: Option<f64>,
    /// What the others predict; `None` of an answer.
    pub predicted: Option<f64>,
    /// Standard deviation of the prediction: doubt, scatter and the reading's own.
    pub sd: Option<f64>,
    /// Measured less predicted, in standard deviations. A limit or an answer has 0 as long as it agrees, else below.
    pub deviations: f64,
}

/// Every reading of a casting; a trace is one.
pub(super) fn reading_residuals(conditional: &ConditionalModel) -> Result<Vec<ReadingResidual>> {
    let start = Array1::zeros(conditional.coordinates());
    let ordinary = conditional.under(Hypothesis::Ordinary);
    let (_, slopes) = ordinary.slopes(start.view())?;
    let outputs = ordinary.outputs(&ordinary.values(start.view()).0)?;
    groups(conditional).into_iter().map(|rows| reading_residual(conditional, rows, &outputs, &slopes)).collect()
}

/// The rows that belong together.
fn groups(conditional: &ConditionalModel) -> Vec<Vec<usize>> {
    let is_trace = |i: usize| conditional.kind(i) == ReadingKind::Trace;
    let mut out: Vec<Vec<usize>> = Vec::new();
    for i in 0..conditional.sds.len() {
        match out.last_mut().filter(|rows| is_trace(i) && is_trace(rows[0])) {
            Some(rows) => rows.push(i),
            None => out.push(vec![i]),
        }
    }
    out
}

fn reading_residual(
    conditional: &ConditionalModel,
    rows: Vec<usize>,
    outputs: &[f64],
    slopes: &Array2<f64>,
) -> Result<ReadingResidual> {
    let first = rows[0];
    let n = rows.len() as f64;
    let mean = |of: &dyn Fn(usize) -> f64| rows.iter().map(|&i| of(i)).sum::<f64>() / n;
    let measured = mean(&|i| conditional.trial_model.observed[i].value);
    let excess = mean(&|i| -outputs[i]);
    let slope = rows.iter().fold(Array1::zeros(slopes.ncols()), |sum: Array1<f64>, &i| sum + slopes.row(i)) / n;
    let is_value = conditional.is_value(first);
    let shown = |x: f64| (is_value || conditional.trial_model.observed[first].value != 0.0).then_some(x);
    let sd = conditional.sds[first] * (1.0 + slope.dot(&slope)).sqrt();
    let ordinary = UnderHypothesis { conditional, hypothesis: Hypothesis::Ordinary, rows };
    let peak = climb(&ordinary, Array1::zeros(conditional.coordinates()))?;
    let deviations = match (is_value, ordinary.rows.len()) {
        (true, 1) => peak.square.sqrt().copysign(excess),
        (true, count) => as_deviations(chi_square_tail(peak.square, count)).copysign(excess),
        (false, _) => quantile_of_unit_normal(peak.log_evidence.exp()).min(0.0),
    };
    Ok(ReadingResidual {
        kind: conditional.kind(first),
        measured: shown(measured),
        predicted: shown(measured - excess),
        sd: is_value.then_some(sd),
        deviations,
    })
}

/// How likely a casting is as far off as this one or farther, from the sum of the residuals' squares. A limit, an
/// answer, and a loss that is predicted as none can only be off in one direction: one degree of freedom in half of all
/// cases. An answer that the others leave no doubt about has none.
pub(super) fn joint_probability(conditional: &ConditionalModel, square: f64) -> Result<f64> {
    let start = Array1::zeros(conditional.coordinates());
    let ordinary = conditional.under(Hypothesis::Ordinary);
    let outputs = ordinary.outputs(&ordinary.values(start.view()).0)?;
    let (_, slopes) = ordinary.slopes(start.view())?;
    let mut counts = vec![1.0];
    for (i, output) in outputs.iter().enumerate() {
        let sd = conditional.sds[i] * (1.0 + slopes.row(i).dot(&slopes.row(i))).sqrt();
        let predicted = output + conditional.trial_model.observed[i].value;
        let share = match conditional.kind(i) {
            ReadingKind::VentLoss | ReadingKind::Flash if predicted < NO_LOSS_SDS * sd => 0.5,
            _ if conditional.is_value(i) => 1.0,
            _ if *output > SURE_ANSWER_SDS * conditional.sds[i] => 0.0,
            _ => 0.5,
        };
        counts = one_more(&counts, share);
    }
    // Without any degree of freedom nothing is off, but for what answers cost that agree.
    let tail = |k: usize| if k > 0 { chi_square_tail(square, k) } else { f64::from(square < 1.0) };
    Ok(counts.iter().enumerate().map(|(k, p)| p * tail(k)).sum())
}

/// Probabilities of 0, 1, ... degrees of freedom with one more that there is in this share of cases.
fn one_more(counts: &[f64], share: f64) -> Vec<f64> {
    let with = |k: usize| if k > 0 { counts[k - 1] * share } else { 0.0 };
    (0..=counts.len()).map(|k| counts.get(k).unwrap_or(&0.0) * (1.0 - share) + with(k)).collect()
}

/// A probability as the two-sided deviation of a unit normal.
pub(super) fn as_deviations(probability: f64) -> f64 {
    -quantile_of_unit_normal(0.5 * probability.max(f64::MIN_POSITIVE))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_of_freedom_that_may_be_there_are_counted_by_their_share() {
        let counts = one_more(&one_more(&one_more(&[1.0], 1.0), 0.5), 0.0);
        assert_eq!(counts, vec![0.0, 0.5, 0.5, 0.0]);
    }

    #[test]
    fn deviations_are_those_of_a_unit_normal() {
        assert!((as_deviations(0.05) - 1.959_963_984_540_054).abs() < 1e-9 && as_deviations(1.0).abs() < 1e-12);
        assert!(as_deviations(0.0).is_finite());
    }
}
