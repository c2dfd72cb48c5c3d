//! Fits of the model to records: a grade to its cup tests, a mold to its castings, with an account of what is known.

mod calibrate;
mod estimate;
mod free_rise;
mod knowledge;
mod noise;
mod options;
mod parameter;
mod predict;
mod space;

pub use calibrate::{Calibration, FittedCasting, calibrate};
pub use estimate::{Estimate, Status};
pub use free_rise::{CupCurve, FittedLog, FreeRiseFit, fit_free_rise};
pub use knowledge::GradeKnowledge;
pub use noise::SeriesNoise;
pub use options::FitOptions;
pub use parameter::{Belief, Label, Parameter};
pub use predict::{Predicted, Prediction};
