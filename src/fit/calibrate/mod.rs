//! The calibration of a mold against its castings, holding the grade to what the cup tests said.

mod kept_draws;
mod leave_out;
mod model;
mod posterior;
mod problem;

use ndarray::{Array1, Array2};
use serde::{Deserialize, Serialize};

use super::knowledge::GradeKnowledge;
use super::options::FitOptions;
use crate::error::{Error, Result};
use crate::fit::results::Estimate;
use crate::fit::setup::{CastingSetup, LotFoam};
use crate::inference::Prior;
use crate::inference::coordinates::Coordinates;
use crate::inference::estimate::{Status, covariance_by_information, covariance_in_prior_sds, estimates};
use crate::inference::least_squares::Solution;
use crate::inference::noise::SeriesNoise;
use crate::inference::record_information::information;
use crate::inference::records::Records;
use crate::inference::reweighting::{ReweightedFit, fit_reweighted};
use crate::inference::scatter::Scatters;
use crate::model::CastingResult;
use crate::model::Parameter;
use crate::model::{Casting, Cavity, FoamConstants};
use crate::numerics::threads::on_threads;
use crate::physics::casting::Accuracy;
use crate::records::{Grade, Mold, Trial};
use kept_draws::KeptDraws;
pub(crate) use leave_out::Others;
pub(crate) use model::missed_of_trace;
pub(crate) use model::reading_scatter;
pub(crate) use model::{CastingReading, TrialModel};
use problem::{Problem, scatters};

/// Rounds in which the scatter of the traces is found from the residuals.
const ROUNDS: usize = 3;
/// A reading this many standard deviations off does not fit the others.
const SURPRISING_SDS: f64 = 3.0;

/// A mold and a grade calibrated to castings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// The grade, as the castings leave it.
    pub grade: Grade,
    /// The mold, as the castings leave it.
    pub mold: Mold,
    /// Every parameter with its error and status: first the shared ones, then each casting's own.
    pub estimates: Vec<Estimate>,
    /// Each casting with what the model says to it.
    pub castings: Vec<FittedCasting>,
    /// Ratio of the castings' misfit to what their expected scatter allows.
    pub misfit_ratio: f64,
    /// How much more than expected castings scatter in what is weighed and read, as the fit found it (root mean square
    /// over what the castings leave possible); all errors are for that, and where that is not enough to allow the
    /// misfit, widened.
    pub casting_scatter: f64,
    /// The same of what makes castings differ: the grade's lots, mix and wall temperatures, charges.
    pub lot_scatter: f64,
    /// The solution in the fit's own coordinates.
    pub solution: Solution,
    /// Starts that ended in the answer, and how many there were.
    pub agreeing_starts: (usize, usize),
    /// Whether the optimizer converged and its starts agree; no judgment of whether the records can be believed.
    pub converged: bool,
    /// What the user should know, in words.
    pub warnings: Vec<String>,
    pub(super) shared: SharedPosterior,
    #[serde(skip)]
    kept: KeptDraws,
}

impl Calibration {
    /// Covariance of the shared parameters, in prior standard deviations; shape (k, k), in the order of `estimates`.
    pub fn covariance(&self) -> &Array2<f64> {
        &self.shared.covariance
    }
}

/// What castings and cup tests left in doubt of what all castings share.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct SharedPosterior {
    pub coordinates: Coordinates<Parameter>,
    /// Values, SI; shape (k,).
    pub values: Vec<f64>,
    /// Derivatives of the values by prior standard deviations; shape (k,).
    pub derivatives: Vec<f64>,
    /// Covariance in prior standard deviations; shape (k, k).
    pub covariance: Array2<f64>,
    /// Grade and mold before any parameter is set.
    base: (FoamConstants, Cavity),
    held: Vec<(Parameter, f64)>,
    /// Priors of what makes one casting differ from the next; those that are held are left out.
    pub own: Vec<(Parameter, Prior)>,
    /// Priors of the scatter that all castings share, and what the castings make of them.
    pub scatters: Scatters,
    pub found: Scatters,
    pub accuracy: Accuracy,
}

impl SharedPosterior {
    /// What is in doubt before any casting: the grade as it is known, the mold by its priors.
    pub fn before(known: &GradeKnowledge, mold: &Mold, options: &FitOptions) -> Self {
        let coordinates = Problem::new(known, mold, &[], options).coordinates;
        let nowhere = Array1::zeros(coordinates.len());
        SharedPosterior {
            values: coordinates.values(nowhere.view()),
            derivatives: coordinates.derivatives(nowhere.view()),
            covariance: coordinates.whitening.dot(&coordinates.whitening.t()),
            coordinates,
            base: (known.grade.constants, mold.cavity.clone()),
            held: options.held.clone(),
            own: own(options),
            scatters: scatters(options),
            found: scatters(options),
            accuracy: options.accuracy,
        }
    }

    /// A casting with what was held set, and what was fitted not yet.
    pub fn held_setup(&self, casting: &Casting) -> CastingSetup<f64> {
        let (foam, cavity) = self.base.clone();
        let mut setup = CastingSetup { foam: LotFoam::new(foam), cavity, casting: casting.clone() };
        self.held.iter().for_each(|(parameter, value)| setup.set(*parameter, *value));
        setup
    }

    /// A casting at the best estimates.
    pub fn best_setup(&self, casting: &Casting) -> CastingSetup<f64> {
        let mut setup = self.held_setup(casting);
        let axes = self.coordinates.axes.iter().zip(&self.values);
        axes.for_each(|(axis, value)| setup.set(axis.parameter, *value));
        setup
    }
}

fn own(options: &FitOptions) -> Vec<(Parameter, Prior)> {
    let free = Parameter::of_each_casting().filter(|p| options.held(*p).is_none());
    free.map(|p| (p, options.prior(p))).collect()
}

/// A casting with what the model says to it, its own differences taken into account.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FittedCasting {
    /// The trial.
    pub trial: Trial,
    /// The model's outcome.
    pub result: CastingResult,
    /// The model's outcome without the casting's own differences: what would have been predicted.
    pub predicted: CastingResult,
    /// Gauge pressure at the trace's times, Pa; shape (n,).
    pub trace_pressure: Vec<f64>,
    /// Scatter of the trace about it.
    pub trace_noise: Option<SeriesNoise>,
    /// Largest misfit of a weighing or reading, in standard deviations.
    pub worst_misfit: f64,
}

impl FittedCasting {
    /// Whether it does not fit the others.
    pub fn is_odd(&self) -> bool {
        self.worst_misfit > SURPRISING_SDS
    }
}

/// Calibrates a mold against castings of a grade of which `known` is known.
///
/// # Errors
/// [`Error::TooFewRecords`] without a casting that was weighed or read; [`Error::Fit`] where no start leads to an
/// answer; those of the casting that is at fault, with its name; [`Error::Argument`] for threads that the system does
/// not give.
pub fn calibrate(known: &GradeKnowledge, mold: &Mold, trials: &[Trial], options: &FitOptions) -> Result<Calibration> {
    on_threads(options.threads, || {
        let mut problem = Problem::new(known, mold, trials, options);
        check(&problem)?;
        let fitted = fit_reweighted(&mut problem, &options.rounds(ROUNDS))?;
        conclude(problem, fitted, known, mold, &options.finer())
    })?
}

fn check(problem: &Problem) -> Result<()> {
    if problem.models.iter().any(|m| !m.observed.is_empty()) {
        // A look at the prior medians names a trial that cannot be cast at all.
        let values = problem.coordinates.values(Array1::zeros(problem.coordinates.len()).view());
        return (0..problem.models.len()).try_for_each(|i| problem.misfits(i, &values).map(|_| ()));
    }
    Err(Error::TooFewRecords {
        wanted: "a calibration".into(),
        found: format!("{} castings, none weighed, read or judged", problem.models.len()),
        advice: "weigh the part and what came out of the vent".into(),
    })
}

fn conclude(
    problem: Problem,
    ReweightedFit { last, agreeing, unique }: ReweightedFit,
    known: &GradeKnowledge,
    mold: &Mold,
    options: &FitOptions,
) -> Result<Calibration> {
    let solution = last.best;
    let names: Vec<String> = problem.models.iter().map(|m| m.trial.name.clone()).collect();
    let z = &solution.parameters;
    let values = problem.coordinates.values(z.view());
    let (castings, misfit_ratio) = fitted(&problem, &values)?;
    let widened = widened(misfit_ratio, problem.scatter);
    let information = information(&problem, z.view(), problem.found.variance_of_records())? / widened;
    let covariance = covariance_in_prior_sds(&problem.coordinates, &covariance_by_information(&solution, &information));
    let estimates = estimates(&problem.coordinates, &solution, &covariance, &names);
    let k = problem.shared;
    let shared = SharedPosterior {
        values: values[..k].to_vec(),
        derivatives: problem.coordinates.derivatives(z.view())[..k].to_vec(),
        covariance: Array2::from_shape_fn((k, k), |(a, b)| covariance[[a, b]]),
        coordinates: problem.coordinates.clone(),
        base: (known.grade.constants, mold.cavity.clone()),
        held: options.held.clone(),
        own: own(options),
        scatters: problem.expected,
        found: problem.found,
        accuracy: options.accuracy,
    };
    let best = shared.best_setup(&problem.models[0].trial.casting);
    let converged = solution.is_minimum() && unique;
    let note = format!("calibrated to {} castings: {}", names.len(), names.join(", "));
    Ok(Calibration {
        grade: Grade { name: known.grade.name.clone(), note: note.clone(), constants: best.foam.constants() },
        mold: Mold { name: mold.name.clone(), note, cavity: best.cavity },
        warnings: warnings(&estimates, &castings, misfit_ratio, converged, unique),
        estimates,
        castings,
        misfit_ratio,
        casting_scatter: problem.scatter,
        lot_scatter: problem.found.variance_of_records().sqrt(),
        solution,
        agreeing_starts: agreeing,
        converged,
        shared,
        kept: KeptDraws::default(),
    })
}

/// By how much all variances are widened: what the scatter that was found leaves unexplained.
fn widened(misfit_ratio: f64, casting_scatter: f64) -> f64 {
    (misfit_ratio / casting_scatter.powi(2)).max(1.0)
}

/// Each casting at the answer, and how its misfits compare with the scatter expected.
fn fitted(problem: &Problem, values: &[f64]) -> Result<(Vec<FittedCasting>, f64)> {
    let (mut castings, mut squares, mut count) = (Vec::new(), 0.0, 0.0);
    for (i, model) in problem.models.iter().enumerate() {
        let inputs = problem.inputs(i, values);
        let (result, trace_pressure) = model.cast(&inputs)?;
        let typical: Vec<f64> = inputs
            .iter()
            .enumerate()
            .map(|(local, x)| if local < problem.shared { *x } else { model.parameters[local].prior().median })
            .collect();
        let misfits: Vec<f64> = problem.misfits(i, values)?.into_iter().map(|m| m * problem.scatter).collect();
        let single = model.observed.iter().zip(&misfits).filter(|(o, _)| o.sd().is_finite());
        let worst = single.clone().map(|(o, m)| o.reading.law().contradiction(*m).abs()).fold(0.0, f64::max);
        let read = single.filter(|(o, _)| o.reading.law().is_reading());
        // A huge misfit is the robust noise's business, not the others'.
        squares += read.clone().map(|(_, m)| (m * m).min(SURPRISING_SDS * SURPRISING_SDS)).sum::<f64>();
        count += read.count() as f64;
        castings.push(FittedCasting {
            trial: model.trial.clone(),
            result,
            predicted: model.cast(&typical)?.0,
            trace_pressure,
            trace_noise: problem.noise[i],
            worst_misfit: worst,
        });
    }
    Ok((castings, squares / f64::max(count, 1.0)))
}

fn warnings(
    estimates: &[Estimate],
    castings: &[FittedCasting],
    misfit_ratio: f64,
    converged: bool,
    unique: bool,
) -> Vec<String> {
    let mut out = Vec::new();
    if !converged {
        out.push("the calibration did not converge: do not use its numbers".to_owned());
    }
    if !unique {
        out.push("another set of values fits these castings as well: cast once with another vent".to_owned());
    }
    if misfit_ratio > 1.0 {
        out.push(format!(
            "the castings scatter {:.1} times as much as weighing explains: all errors were widened by that",
            misfit_ratio.sqrt()
        ));
    }
    for casting in castings.iter().filter(|c| c.is_odd()) {
        out.push(format!(
            "{} does not fit the others ({:.1} standard deviations): check its weights, vent and clamp, or ask for a \
             diagnosis",
            casting.trial.name, casting.worst_misfit
        ));
    }
    let mut shared = estimates.iter().filter(|e| e.record.is_none());
    for estimate in shared.clone() {
        match &estimate.status {
            Status::AtBound => out.push(format!("{} stands at the end of what is allowed", estimate.name())),
            Status::NotIdentified { with } => {
                out.push(format!("these castings cannot separate {} from {}", estimate.name(), with.join(", ")));
            }
            Status::NoInfluence if estimate.parameter == Parameter::Viscosity => {
                out.push("these castings do not determine the viscosity: weigh what comes out of the vent".to_owned());
            }
            _ => {}
        }
    }
    if shared.any(|e| matches!(e.status, Status::NotIdentified { .. })) {
        let hardly = "predictions within the cast range hardly depend on what these castings cannot separate";
        out.push(hardly.to_owned());
    }
    out.extend(assumed_of(castings));
    out
}

/// What was assumed, each once, with the castings of which it was.
fn assumed_of(castings: &[FittedCasting]) -> Vec<String> {
    let mut all: Vec<(&str, Vec<&str>)> = Vec::new();
    for trial in castings.iter().map(|casting| &casting.trial) {
        for assumed in &trial.assumed {
            match all.iter_mut().find(|(said, _)| said == assumed) {
                Some((_, names)) => names.push(&trial.name),
                None => all.push((assumed, vec![&trial.name])),
            }
        }
    }
    let who = |names: &[&str]| {
        if names.len() > 1 && names.len() == castings.len() { "all castings".to_owned() } else { names.join(", ") }
    };
    all.iter().map(|(assumed, names)| format!("{}: assumed {assumed}", who(names))).collect()
}
