//! Fits of the model to records: a grade to its cup tests, a mold to its castings, with an account of what is known.

mod blocks;
mod calibrate;
mod case;
mod datasheet;
mod diagnose;
mod disturbed;
mod draws;
mod estimate;
mod free_rise;
mod knowledge;
mod likelihood;
mod noise;
mod options;
mod outcomes;
mod parameter;
mod posterior;
mod predict;
mod profile;
mod quick_curve;
mod rounds;
mod space;

pub(crate) use calibrate::reading_scatter;
pub use calibrate::{Calibration, FittedCasting, calibrate};
pub use datasheet::{fit_datasheet, gas_yield_belief, grade_from_datasheet};
pub use diagnose::{
    Cause, DiagnoseOptions, DiagnosedCasting, Diagnosis, Differs, Likely, Misfit, Size, Telling, What, diagnose,
};
pub use draws::Draws;
pub use estimate::{Estimate, Status};
pub use free_rise::{CupCurve, FittedLog, FreeRiseFit, fit_free_rise};
pub use knowledge::GradeKnowledge;
pub use noise::{SeriesNoise, missed_of_trace};
pub use options::FitOptions;
pub use outcomes::{Limits, OutcomeParts, Outcomes, Predictand, Probabilities};
pub use parameter::{Belief, Label, Parameter};
pub use posterior::{Posterior, PosteriorEstimate, PosteriorOptions};
pub use predict::{Predicted, Prediction};
pub use profile::Profile;
pub use quick_curve::{CurveKind, QuickFit, QuickParameter, quick_curve};
