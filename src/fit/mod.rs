//! Fits of the model to records: a grade to its cup tests, a mold to its castings, with an account of what is known.

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

pub use crate::model::{Label, Parameter};

pub use crate::inference::Prior;
pub use crate::inference::estimate::Status;
pub use crate::inference::least_squares::{Progress, Solution, Watcher};
pub use crate::inference::noise::SeriesNoise;
pub use crate::inference::posterior::PosteriorOptions;
pub use crate::inference::profile::PROFILE_RISE_95;
pub use calibrate::{Calibration, FittedCasting, calibrate, missed_of_trace};
pub(crate) use calibrate::{Others, Reading, SharedPosterior, TrialModel, reading_scatter};
pub use datasheet::{fit_datasheet, gas_yield_prior, grade_from_datasheet};
pub use draws::Draws;
pub use free_rise::{CupCurve, FittedLog, FreeRiseFit, fit_free_rise};
pub use knowledge::GradeKnowledge;
pub use options::FitOptions;
pub use outcomes::{Limits, OutcomeParts, Outcomes, Probabilities};
pub use predict::{Predicted, Prediction};
pub use quick_curve::{CurveKind, QuickFit, QuickParameter, quick_curve};
pub use results::{Estimate, Posterior, PosteriorEstimate, Profile};
pub(crate) use setup::CastingSetup;
