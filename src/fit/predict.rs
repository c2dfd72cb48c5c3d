//! The next casting: outcome quantities with intervals, from what is in doubt and from how castings scatter.

use ndarray::Array2;
use serde::{Deserialize, Serialize};

use super::calibrate::Calibration;
use crate::error::Result;
use crate::fit::setup::CastingSetup;
use crate::inference::estimate::TWO_SIDED_95;
use crate::model::{Casting, CastingResult, Outcome, Parameter, Run};
use crate::numerics::Scalar;
use crate::numerics::jacobian::{Function, differentiate};
use crate::numerics::normal::quantile_of_unit_normal;
use crate::physics::casting::{Accuracy, sampled, simulate};

/// Points in a predicted casting's courses.
const COURSE_POINTS: usize = 601;

/// A quantity of a predicted casting, in SI units (pressures gauge), with its doubt.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Predicted {
    /// Value at the best estimates.
    pub value: f64,
    /// Standard deviation from what the records leave in doubt.
    pub doubt: f64,
    /// Standard deviation from casting to casting.
    pub scatter: f64,
    /// Limits of the 95 % interval for the next casting, from both.
    pub interval_95: (f64, f64),
}

/// A predicted casting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Prediction {
    /// The casting at the best estimates.
    pub run: Run,
    /// Every outcome that is predicted with an interval, if the casting comes to it at the best estimates.
    pub predicted: Vec<(Outcome, Option<Predicted>)>,
}

impl Prediction {
    /// Every outcome that is predicted with an interval, in the order of [`Outcome::predicted`].
    pub fn all(&self) -> impl ExactSizeIterator<Item = (Outcome, Option<&Predicted>)> {
        self.predicted.iter().map(|(outcome, predicted)| (*outcome, predicted.as_ref()))
    }

    /// An outcome with its interval; not numbers where the casting does not come to it.
    pub fn at(&self, outcome: Outcome) -> Predicted {
        self.of(outcome).copied().unwrap_or(Predicted::UNKNOWN)
    }

    /// An outcome with its interval; `None` where the casting does not come to it, or where no interval is predicted.
    pub fn of(&self, outcome: Outcome) -> Option<&Predicted> {
        self.all().find(|(other, _)| *other == outcome).and_then(|(_, predicted)| predicted)
    }
}

impl Predicted {
    /// What is not known.
    const UNKNOWN: Predicted =
        Predicted { value: f64::NAN, doubt: f64::NAN, scatter: f64::NAN, interval_95: (f64::NAN, f64::NAN) };

    /// Limits of the interval that holds the next casting with this probability (0.95, say), from doubt and scatter.
    pub fn interval(&self, level: f64) -> (f64, f64) {
        let reach = quantile_of_unit_normal(0.5 + 0.5 * level);
        interval(self.value, self.doubt.hypot(self.scatter), reach)
    }
}

impl Calibration {
    /// Simulates a casting at the best estimates, without intervals.
    ///
    /// # Errors
    /// As [`simulate`].
    pub fn simulate(&self, casting: &Casting) -> Result<Run> {
        let setup = self.shared.best_setup(casting);
        simulate(&setup.foam.constants(), &setup.cavity, &setup.casting, COURSE_POINTS, self.shared.accuracy)
    }

    /// Predicts a casting with intervals. They are those of a linear model around the best estimates.
    ///
    /// # Errors
    /// As [`simulate`].
    pub fn predict(&self, casting: &Casting) -> Result<Prediction> {
        let run = self.simulate(casting)?;
        let shared = &self.shared;
        let k = shared.values.len();
        let mut parameters: Vec<Parameter> = shared.coordinates.axes[..k].iter().map(|a| a.parameter).collect();
        parameters.extend(shared.own.iter().map(|(p, _)| *p));
        let values: Vec<f64> = shared.values.iter().copied().chain(shared.own.iter().map(|(_, b)| b.median)).collect();
        let derivatives: Vec<f64> =
            shared.derivatives.iter().copied().chain(shared.own.iter().map(|(_, b)| b.derivative(0.0))).collect();
        let base = shared.held_setup(casting);
        let (_, slopes) =
            differentiate(&NextCasting { base, parameters, accuracy: shared.accuracy }, &values, &derivatives)?;
        let lots = shared.found.variance_of_records();
        let spread = |row: usize, value: f64| predicted(value, row, &slopes, &shared.covariance, lots);
        let predicted = Outcome::predicted().enumerate();
        let predicted =
            predicted.map(|(row, outcome)| (outcome, outcome.of_run(&run).map(|x| spread(row, x)))).collect();
        Ok(Prediction { run, predicted })
    }
}

struct NextCasting {
    base: CastingSetup<f64>,
    parameters: Vec<Parameter>,
    accuracy: Accuracy,
}

impl Function for NextCasting {
    fn outputs<S: Scalar>(&self, inputs: &[S]) -> Result<Vec<S>> {
        let mut setup = self.base.lift(S::constant);
        self.parameters.iter().zip(inputs).for_each(|(parameter, value)| setup.set(*parameter, *value));
        let r: CastingResult<S> =
            sampled(&setup.foam.constants(), &setup.cavity, &setup.casting, &[], self.accuracy)?.result;
        let number = |outcome: Outcome| outcome.of(&r, S::zero(), S::constant).unwrap_or_else(S::zero);
        Ok(Outcome::predicted().map(number).collect())
    }
}

/// The doubt and scatter of output `row`: shared parameters come first in `slopes`, with `covariance`; the rest are
/// independent, of variance `lots`.
fn predicted(value: f64, row: usize, slopes: &Array2<f64>, covariance: &Array2<f64>, lots: f64) -> Predicted {
    let k = covariance.nrows();
    let slope = |j: usize| slopes[[row, j]];
    let doubt: f64 = (0..k).map(|a| (0..k).map(|b| slope(a) * covariance[[a, b]] * slope(b)).sum::<f64>()).sum();
    let scatter: f64 = (k..slopes.ncols()).map(|j| lots * slope(j).powi(2)).sum();
    let sd = (doubt + scatter).max(0.0).sqrt();
    Predicted {
        value,
        doubt: doubt.max(0.0).sqrt(),
        scatter: scatter.sqrt(),
        interval_95: interval(value, sd, TWO_SIDED_95),
    }
}

/// None of these quantities can be negative. Where the deviation is small against the value the interval is symmetric
/// in the logarithm; where it is not, the logarithm of a linear model means nothing, and the interval is cut at zero.
fn interval(value: f64, sd: f64, deviations: f64) -> (f64, f64) {
    const MAX_SYMMETRIC_REL_SD: f64 = 0.35;
    let reach = deviations * sd;
    if sd < MAX_SYMMETRIC_REL_SD * value {
        let factor = (reach / value).exp();
        return (value / factor, value * factor);
    }
    ((value - reach).max(0.0), value + reach)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_stay_sensible_down_to_nothing() {
        let (low, high) = interval(50.0, 2.0, TWO_SIDED_95);
        assert!((low * high - 2500.0).abs() < 1e-9 && low < 46.5 && high > 53.9);
        assert_eq!(interval(0.0, 0.0, TWO_SIDED_95), (0.0, 0.0));
        let (low, high) = interval(1e-9, 1e-4, TWO_SIDED_95);
        assert!(low == 0.0 && high < 2e-4, "{high}");
    }
}
