//! Fits of the model to records: a grade to its cup tests, a mold to its castings, with an account of what is known.
//!
//! - [`fit_free_rise`], [`grade_from_datasheet`], [`quick_curve`]: a grade from cups or its data sheet; a curve of one log.
//! - [`calibrate`]: a mold from its castings; [`Calibration`] predicts the next one.
//! - [`FitOptions`], [`Prior`]: what is held, what is expected before any record.
//! - [`Estimate`], [`Profile`], [`Posterior`]: what the records determine of each parameter.
//! - [`Draws`], [`Outcomes`]: castings simulated with many sets of constants that the records allow.

mod calibrate;
mod datasheet;
mod draws;
mod free_rise;
mod knowledge;
mod options;
mod outcomes;
mod predict;
mod quick_curve;
mod results;
mod setup;
mod sweep_case;

pub use calibrate::{Calibration, FittedCasting, calibrate};
pub use datasheet::{fit_datasheet, gas_yield_prior, grade_from_datasheet};
pub use draws::Draws;
pub use free_rise::{CupCurve, FittedLog, FreeRiseFit, fit_free_rise};
pub use knowledge::GradeKnowledge;
pub use options::FitOptions;
pub use outcomes::{Limits, OutcomeParts, Outcomes, Probabilities};
pub use predict::{Predicted, Prediction};
pub use quick_curve::{CurveKind, QuickFit, QuickParameter, quick_curve};
pub use results::{Estimate, Posterior, PosteriorEstimate, Profile};

pub use crate::inference::Prior;
pub use crate::inference::estimate::Status;
pub use crate::inference::least_squares::{Progress, Solution, Watcher};
pub use crate::inference::noise::SeriesNoise;
pub use crate::inference::posterior::PosteriorOptions;

pub(crate) use crate::inference::profile::PROFILE_RISE_95;
pub(crate) use calibrate::{CastingReading, Others, SharedPosterior, TrialModel, missed_of_trace, reading_scatter};
pub(crate) use setup::CastingSetup;
