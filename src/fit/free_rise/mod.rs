//! The fit of a grade to its cup tests: several logs at once, each with its own small differences.

mod curve;
mod model;
mod posterior;
mod problem;

use ndarray::{Array1, Array2, s};
use serde::{Deserialize, Serialize};

use super::options::FitOptions;
use crate::error::{Error, Result};
use crate::fit::results::Estimate;
use crate::fit::setup::grade_with;
use crate::inference::estimate::{Status, covariance_in_prior_sds, covariance_of_positions, estimates};
use crate::inference::least_squares::Solution;
use crate::inference::noise::SeriesNoise;
use crate::inference::reweighting::{ReweightedFit, fit_reweighted};
use crate::model::Parameter;
use crate::numerics::threads::on_threads;
use crate::physics::cup::FreeRise;
use crate::records::{Grade, RiseLog, Stopwatch};
pub use curve::CupCurve;
use problem::Problem;

/// Rounds in which the scatter of the series is found from the residuals.
const ROUNDS: usize = 4;
/// Beyond it a log would determine nothing.
const MAX_MODEL_ERROR: f64 = 100.0;

/// A grade fitted to cup tests.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FreeRiseFit {
    /// The fitted grade.
    pub grade: Grade,
    /// Every parameter with its error and status: first the shared ones, then each log's own.
    pub estimates: Vec<Estimate>,
    /// Each log with its fitted curve and the scatter about it.
    pub logs: Vec<FittedLog>,
    /// Covariance of the shared parameters, in prior standard deviations; shape (k, k).
    pub covariance: Array2<f64>,
    /// Shared parameters in prior standard deviations from the prior medians; shape (k,).
    pub prior_sds: Array1<f64>,
    /// The solution in the fit's own coordinates.
    pub solution: Solution,
    /// Starts that ended in the answer, and how many there were.
    pub agreeing_starts: (usize, usize),
    /// Whether the optimizer converged and its starts agree; no judgment of whether the records can be believed.
    pub converged: bool,
    /// What the user should know, in words.
    pub warnings: Vec<String>,
    /// What kept a given value, SI.
    pub(super) held: Vec<(Parameter, f64)>,
}

/// A log with its fitted curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FittedLog {
    /// The log.
    pub log: RiseLog,
    /// The fitted rise at the log's times.
    pub rise: FreeRise,
    /// The same as the log has it: height of the foam (m) where it has heights, else volume (m3); shape (n,).
    pub height_or_volume: Vec<f64>,
    /// Scatter of the heights (m) or volumes (m3).
    pub rise_noise: Option<SeriesNoise>,
    /// Scatter of the temperatures, K.
    pub temp_noise: Option<SeriesNoise>,
}

impl FittedLog {
    /// The fitted stopwatch times.
    pub fn stopwatch(&self) -> Stopwatch {
        Stopwatch {
            cream: self.rise.cream_time,
            string_gel: self.rise.gel_time,
            end_of_rise: self.rise.end_of_rise,
            tack_free: self.rise.tack_free,
        }
    }
}

/// Fits a grade to one or several cup tests. `start`: what is known of the grade already; its constants that are not
/// fitted are kept.
///
/// # Errors
/// [`Error::Argument`] for a model error that is none, or threads that the system does not give;
/// [`Error::TooFewRecords`] where no log says anything of the rise; [`Error::Fit`] where no start leads to an answer.
pub fn fit_free_rise(logs: &[RiseLog], start: &Grade, options: &FitOptions) -> Result<FreeRiseFit> {
    check(logs)?;
    if !(0.0..=MAX_MODEL_ERROR).contains(&options.model_error) {
        let advice = "1 is usual; 0 only for logs that came out of this model";
        return Err(Error::argument("model_error", options.model_error, "0 to 100", advice));
    }
    on_threads(options.threads, || {
        let mut problem = Problem::new(logs, start, options);
        let fitted = fit_reweighted(&mut problem, &options.rounds(ROUNDS))?;
        problem.conclude(fitted)
    })?
}

fn check(logs: &[RiseLog]) -> Result<()> {
    for (i, log) in logs.iter().enumerate() {
        check_series(log)?;
        if logs[..i].iter().any(|earlier| earlier.name == log.name) {
            let advice = "leave one out if it is the same test, else give each log its own name";
            return Err(Error::argument("logs", format!("`{}` twice", log.name), "one name per log", advice));
        }
    }
    let read = |values: &Option<Vec<f64>>| values.iter().flatten().any(|v| v.is_finite());
    let says_something = |log: &RiseLog| {
        let w = &log.stopwatch;
        [&log.height, &log.volume, &log.temp].into_iter().any(read)
            || [w.cream, w.string_gel, w.end_of_rise, log.free_rise_density].iter().any(Option::is_some)
    };
    if logs.iter().any(says_something) {
        return Ok(());
    }
    Err(Error::TooFewRecords {
        wanted: "a free-rise fit".into(),
        found: format!("{} logs, none with a height, volume, temperature, stopwatch time or density", logs.len()),
        advice: "log the height over time of one cup, with its mass and temperature".into(),
    })
}

/// Refuses series of other lengths than their times, and heights that no cup turns into volumes.
fn check_series(log: &RiseLog) -> Result<()> {
    let n = log.time.len();
    for (name, values) in [("height", &log.height), ("volume", &log.volume), ("temp", &log.temp)] {
        if let Some(values) = values.as_ref().filter(|values| values.len() != n) {
            let found = format!("{} readings at {n} times", values.len());
            let advice = "give one reading per time, NaN where it is absent";
            return Err(Error::argument(format!("{name} of {}", log.name), found, "as many as times", advice));
        }
    }
    if log.height.is_some() && log.cup.is_none() {
        let name = format!("cup of {}", log.name);
        return Err(Error::argument(
            name,
            "none",
            "the cup that the heights were read in",
            "give its diameters and height",
        ));
    }
    Ok(())
}

impl Problem<'_> {
    fn conclude(self, ReweightedFit { last, agreeing, unique }: ReweightedFit) -> Result<FreeRiseFit> {
        let solution = last.best;
        let names: Vec<String> = self.models.iter().map(|m| m.log.name.clone()).collect();
        let covariance = covariance_in_prior_sds(&self.coordinates, &covariance_of_positions(&solution, 1.0));
        let estimates = estimates(&self.coordinates, &solution, &covariance, &names);
        let values = self.coordinates.values(solution.parameters.view());
        let shared = self.coordinates.axes[..self.shared].iter().map(|axis| axis.parameter).zip(values.iter().copied());
        let constants = grade_with(self.models[0].foam, self.models[0].held.iter().copied().chain(shared));
        let mut logs = Vec::new();
        for (i, model) in self.models.iter().enumerate() {
            let (rise, setup) = model.rise(&self.inputs(i, &values))?;
            let has_rise = model.log.height.is_some() || model.log.volume.is_some();
            let (rise_noise, temp_noise) = self.noise[i];
            logs.push(FittedLog {
                log: model.log.clone(),
                height_or_volume: model.shown(&rise, setup.dome_fraction),
                rise,
                rise_noise: has_rise.then_some(rise_noise),
                temp_noise: model.log.temp.as_ref().map(|_| temp_noise),
            });
        }
        let converged = solution.is_minimum() && unique;
        let note = format!("fitted to {} cup tests: {}", names.len(), names.join(", "));
        let prior_sds = self.coordinates.prior_sds(solution.parameters.view()).slice(s![..self.shared]).to_owned();
        let warnings = warnings(&estimates, &logs, converged, unique);
        Ok(FreeRiseFit {
            grade: Grade { name: self.name, note, constants },
            estimates,
            logs,
            covariance: covariance.slice(s![..self.shared, ..self.shared]).to_owned(),
            prior_sds,
            solution,
            agreeing_starts: agreeing,
            converged,
            warnings,
            held: self.models[0].held.to_vec(),
        })
    }
}

fn warnings(estimates: &[Estimate], logs: &[FittedLog], converged: bool, unique: bool) -> Vec<String> {
    let mut out = Vec::new();
    if !converged {
        out.push("the fit did not converge: do not use its numbers".to_owned());
    }
    if !unique {
        out.push("another set of constants fits these logs as well: log another temperature".to_owned());
    }
    let temps: Vec<f64> = logs.iter().map(|l| l.log.mix_temp).collect();
    let span = temps.iter().copied().fold(f64::MIN, f64::max) - temps.iter().copied().fold(f64::MAX, f64::min);
    if span < 3.0 {
        out.push(format!(
            "the logs span {span:.1} K of mix temperature: activation energies rest on the foam's own heating, if it was \
             logged, or on the prior; log a cup at least 5 K colder or warmer"
        ));
    }
    for estimate in estimates {
        match &estimate.status {
            Status::AtBound => out.push(format!("{} stands at the end of what is allowed", estimate.name())),
            Status::NotIdentified { with } if estimate.record.is_none() => {
                out.push(format!("these logs cannot separate {} from {}", estimate.name(), with.join(", ")));
            }
            _ => {}
        }
    }
    for log in logs {
        let assumed = log.log.assumed.iter().map(|a| format!("{}: assumed {a}", log.log.name));
        out.extend(assumed);
    }
    out
}
