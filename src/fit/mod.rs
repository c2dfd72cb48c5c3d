//! Fits of the model to records: a grade to its cup tests, a mold to its castings, with an account of what is known.

mod calibrate;
mod datasheet;
mod draws;
mod free_rise;
mod knowledge;
pub(crate) mod options;
pub(crate) mod outcomes;
pub(crate) mod parameter;
mod predict;
mod quick_curve;
mod sweep_case;

pub use crate::inference::estimate::{Estimate, Status};
pub use crate::inference::noise::{SeriesNoise, missed_of_trace};
pub use crate::inference::posterior::{Posterior, PosteriorEstimate, PosteriorOptions};
pub use crate::inference::profile::Profile;
pub use calibrate::{Calibration, FittedCasting, calibrate};
pub(crate) use calibrate::{Others, Reading, SharedPosterior, TrialModel, reading_scatter};
pub use datasheet::{fit_datasheet, gas_yield_belief, grade_from_datasheet};
pub use draws::Draws;
pub use free_rise::{CupCurve, FittedLog, FreeRiseFit, fit_free_rise};
pub use knowledge::GradeKnowledge;
pub use options::FitOptions;
pub use outcomes::{Limits, OutcomeParts, Outcomes, Probabilities};
pub(crate) use parameter::CastingSetup;
pub use parameter::{Belief, Label, Parameter};
pub use predict::{Predicted, Prediction};
pub use quick_curve::{CurveKind, QuickFit, QuickParameter, quick_curve};
