//! How each casting fits the others and, for one that does not, what most likely happened.
//!
//! The others predict a casting: a calibration without it, with its posterior, how castings scatter, and how well
//! readings are taken. A cause's posterior probability is the marginal likelihood of the readings under it, its size
//! and all constants in doubt integrated out (sizes by quadrature, the rest by Laplace's approximation), times its
//! prior: how often it happens.

mod candidates;
mod conditional;
mod effect_size;
mod hypothesis;
mod lid_leak;
mod marginal_likelihood;
mod options;
mod reading;
mod residuals;
mod separation;

use ndarray::Array1;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::fit::{Calibration, CastingReading};
use crate::model::Cause;
use crate::numerics::laplace::climb;
use crate::records::{Trace, Trial};
use conditional::ConditionalModel;
use hypothesis::Hypothesis;

pub use effect_size::EffectSize;
pub use marginal_likelihood::LikelyCause;
pub use options::DiagnoseOptions;
pub use reading::{ReadingKind, ReadingRow};
pub use residuals::ReadingResidual;
pub use separation::{SeparatingReading, Separation};

/// Points of a trace that count as readings.
const TRACE_POINTS: usize = 8;
/// Scatter of a trace about the model where no other casting has one, Pa.
const TRACE_SD: f64 = 3e3;

/// How the castings of a calibration fit each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Diagnosis {
    /// Each casting, in the order of the calibration.
    pub castings: Vec<DiagnosedCasting>,
    /// The prior probability of each cause.
    pub prior: Vec<(Cause, f64)>,
    /// A casting that is less likely than this is called odd.
    pub odd_below: f64,
    /// What the user should know, in words.
    pub warnings: Vec<String>,
}

/// A casting in the light of the others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DiagnosedCasting {
    /// The trial.
    pub trial: Trial,
    /// Each reading against what the others predict.
    pub readings: Vec<ReadingResidual>,
    /// How likely a casting of these settings is as far off as this one or farther, all readings together; 1 without
    /// readings.
    pub probability: f64,
    /// The same as standard deviations of a unit normal, two-sided.
    pub deviations: f64,
    /// Whether it does not fit the others.
    pub is_odd: bool,
    /// What may have happened, likeliest first; empty for a casting that fits.
    pub causes: Vec<LikelyCause>,
    /// What would separate the first two causes.
    pub separation: Option<Separation>,
}

impl Diagnosis {
    /// The castings that do not fit the others.
    pub fn odd(&self) -> impl Iterator<Item = &DiagnosedCasting> {
        self.castings.iter().filter(|c| c.is_odd)
    }
}

impl Calibration {
    /// As [`diagnose`].
    ///
    /// # Errors
    /// As [`diagnose`].
    pub fn diagnose(&self, options: &DiagnoseOptions) -> Result<Diagnosis> {
        diagnose(self, options)
    }
}

/// Compares each casting with what the others predict for it, and ranks what may have happened to those that are off.
///
/// # Errors
/// [`Error::Argument`](crate::Error::Argument) for options that make no sense; [`Error::Fit`](crate::Error::Fit) on
/// request; those of the simulations.
pub fn diagnose(calibration: &Calibration, options: &DiagnoseOptions) -> Result<Diagnosis> {
    options.check()?;
    let prior = options.prior()?;
    let each = 0..calibration.castings.len();
    let castings: Vec<Result<DiagnosedCasting>> =
        each.into_par_iter().map(|i| diagnose_one(calibration, i, &prior, options)).collect();
    let castings = castings.into_iter().collect::<Result<Vec<_>>>()?;
    let warnings = warnings(calibration, &castings);
    Ok(Diagnosis { castings, prior, odd_below: options.odd_below, warnings })
}

fn diagnose_one(
    calibration: &Calibration,
    place: usize,
    prior: &[(Cause, f64)],
    options: &DiagnoseOptions,
) -> Result<DiagnosedCasting> {
    let trial = &calibration.castings[place].trial;
    let others = calibration.others(place, options.cancel.as_ref())?;
    let thinned = thinned(trial);
    let model = calibration.trial_model(&thinned);
    let trace_sd = others.trace_scatter.unwrap_or(TRACE_SD);
    let is_trace = |reading| matches!(reading, CastingReading::TracePressure(_));
    let sds = model.observed.iter().map(|o| if is_trace(o.reading) { trace_sd } else { o.sd() }).collect();
    let conditional = ConditionalModel { trial_model: &model, shared: calibration.shared(), others: &others, sds };
    let peak = climb(&conditional.under(Hypothesis::Ordinary), Array1::zeros(conditional.coordinates()))?;
    let readings = residuals::reading_residuals(&conditional)?;
    let probability = residuals::joint_probability(&conditional, peak.square)?;
    let is_odd = probability < options.odd_below;
    let is_explained = is_odd || options.odd_below >= 1.0;
    let (causes, separation) = match is_explained && !readings.is_empty() {
        true => {
            let ranked = marginal_likelihood::ranked(&conditional, &peak, prior, options)?;
            let separation = separation::between(&conditional, &ranked)?;
            (ranked.into_iter().map(|r| r.likely).collect(), separation)
        }
        false => Default::default(),
    };
    let deviations = residuals::as_deviations(probability);
    Ok(DiagnosedCasting { trial: trial.clone(), readings, probability, deviations, is_odd, causes, separation })
}

/// The trial with as many points of its trace as count.
fn thinned(trial: &Trial) -> Trial {
    let mut out = trial.clone();
    let Some((Trace { time, pressure: Some(pressure), .. }, casting)) =
        trial.trace.as_ref().map(|t| (t, &trial.casting))
    else {
        return out;
    };
    let usable: Vec<(f64, f64)> = time
        .iter()
        .zip(pressure)
        .filter(|(t, p)| p.is_finite() && **t >= casting.closing_time && **t <= casting.demold_time)
        .map(|(t, p)| (*t, *p))
        .collect();
    let count = usable.len().min(TRACE_POINTS);
    let (time, pressure) = (1..=count).map(|i| usable[i * usable.len() / count - 1]).unzip();
    out.trace = Some(Trace { file: None, time, pressure: Some(pressure), temp: None });
    out
}

fn warnings(calibration: &Calibration, castings: &[DiagnosedCasting]) -> Vec<String> {
    let mut out = Vec::new();
    if !calibration.converged {
        out.push("the calibration did not converge: do not use these causes".to_owned());
    }
    if castings.len() < 4 {
        out.push(format!(
            "with {} castings the others predict little: a fault must be large to be seen",
            castings.len()
        ));
    }
    let odd = castings.iter().filter(|c| c.is_odd).count();
    if castings.len() > 2 && 2 * odd > castings.len() {
        out.push("most castings do not fit each other: look at the mold's description and the grade first".to_owned());
    }
    out
}
