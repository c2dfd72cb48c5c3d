//! What the other castings say: a calibration with one casting left out, started from the answer of all.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use ndarray::{Array1, Array2, s};

use super::problem::Problem;
use super::{Calibration, SURPRISING_SDS, SharedPosterior, TrialModel};
use crate::error::{Error, Result};
use crate::fit::options::DRAW_ACCURACY;
use crate::fit::options::FitOptions;
use crate::inference::estimate::{covariance_in_prior_sds, covariance_of_positions};
use crate::inference::least_squares::{Bounds, Ending, Settings, run};
use crate::inference::records::Records;
use crate::numerics::triangular::cholesky;
use crate::records::Trial;

/// Steps from the answer of all castings to that of the others.
const MOST_STEPS: u64 = 20;

/// What all castings but one say of what they share.
#[derive(Clone, Debug)]
pub(crate) struct Others {
    /// Spreads from the priors' centers; shape (k,).
    pub center: Array1<f64>,
    /// Lower triangular root of their covariance; shape (k, k).
    pub root: Array2<f64>,
    /// Scatter of their traces about the model, Pa; `None` without a trace.
    pub trace_scatter: Option<f64>,
}

impl Calibration {
    /// What all castings say, as the calibration itself has it.
    pub(crate) fn shared(&self) -> &SharedPosterior {
        &self.shared
    }

    /// Fits all castings but one.
    ///
    /// # Errors
    /// Those of the simulations; [`Error::Canceled`] on request.
    pub(crate) fn others(&self, left_out: usize, cancel: Option<&Arc<AtomicBool>>) -> Result<Others> {
        let all = self.problem();
        let left = all.coordinates.left_without(left_out);
        let problem = without(all, left_out);
        let (lower, upper) = problem.coordinates.bounds();
        let bounds = Bounds::new(lower, upper)?;
        let start = bounds.clamp(&self.solution.parameters.select(ndarray::Axis(0), &left));
        let solution = run(&problem, &bounds, &start, &settings(cancel))?;
        if solution.ending == Ending::Canceled {
            let before = "all castings were looked at".to_owned();
            return Err(Error::Canceled { before, advice: "ask again".into() });
        }
        let k = problem.shared;
        let ratio = misfit_ratio(&problem, &problem.coordinates.values(solution.parameters.view()))?;
        let covariance =
            covariance_in_prior_sds(&problem.coordinates, &covariance_of_positions(&solution, ratio.max(1.0)));
        let traces = problem.trace_noise(solution.parameters.view())?;
        Ok(Others {
            center: problem.coordinates.prior_sds(solution.parameters.view()).slice(s![..k]).to_owned(),
            root: cholesky(covariance.slice(s![..k, ..k])),
            trace_scatter: traces.iter().flatten().map(|n| n.scatter).reduce(f64::max),
        })
    }

    /// A trial of this mold with everything that is fitted of it, at a draw's accuracy.
    pub(crate) fn trial_model<'a>(&self, trial: &'a Trial) -> TrialModel<'a> {
        let shared = &self.shared;
        let of_all = shared.coordinates.axes[..shared.values.len()].iter().map(|axis| axis.parameter);
        let parameters = of_all.chain(shared.own.iter().map(|(parameter, _)| *parameter)).collect();
        TrialModel::new(trial, shared.held_setup(&trial.casting), parameters, DRAW_ACCURACY)
    }
}

fn without(mut problem: Problem<'_>, left_out: usize) -> Problem<'_> {
    problem.models.remove(left_out);
    problem.noise.remove(left_out);
    problem.noise.iter_mut().flatten().for_each(|noise| *noise = noise.at_its_word());
    problem.coordinates = problem.coordinates.without(left_out);
    problem
}

fn settings(cancel: Option<&Arc<AtomicBool>>) -> Settings {
    let options = FitOptions { accuracy: DRAW_ACCURACY, cancel: cancel.cloned(), ..FitOptions::default() };
    Settings { max_iterations: MOST_STEPS, ..options.settings() }
}

/// Mean square of the readings' misfits, a huge one cut.
fn misfit_ratio(problem: &Problem, values: &[f64]) -> Result<f64> {
    let (mut squares, mut count) = (0.0, 0.0);
    for (i, model) in problem.models.iter().enumerate() {
        let misfits = problem.misfits(i, values)?;
        let single =
            model.observed.iter().zip(misfits).filter(|(o, _)| o.sd().is_finite() && o.reading.law().is_reading());
        for (_, misfit) in single {
            squares += (misfit * misfit).min(SURPRISING_SDS * SURPRISING_SDS);
            count += 1.0;
        }
    }
    Ok(squares / f64::max(count, 1.0))
}
