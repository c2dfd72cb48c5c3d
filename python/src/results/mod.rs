//! Results as Python has them: attributes, frames, reports and charts of what was simulated, fitted and decided.

mod candidate;
mod castings;
mod estimates;
mod free_rise;
mod knowledge;
mod logs;
mod outcomes;
mod posterior;
mod profile;
mod quick_curve;
mod run;

mod diagnosis;
mod fit;
mod next_trial;
mod prediction;
mod recommendation;

mod calibration;

mod plan;
mod subject;
mod sweep;
mod watch;

pub use calibration::PyCalibration;
pub use castings::{PyFittedCasting, PyFittedCastings};
pub use diagnosis::PyDiagnosis;
pub use estimates::{PyEstimate, PyEstimates};
pub use fit::PyFreeRiseFit;
pub use free_rise::PyFreeRise;
pub use knowledge::PyGradeKnowledge;
pub use logs::{PyFittedLog, PyFittedLogs};
pub use next_trial::PyNextTrial;
pub use outcomes::PyOutcomes;
pub use plan::Plan;
pub use posterior::PyPosterior;
pub use prediction::PyPrediction;
pub use profile::PyProfile;
pub use quick_curve::PyQuickCurve;
pub use recommendation::{PyRecommendation, ask};
pub use run::{POINTS, PyRun};
pub use sweep::{PySweep, PySweepBlocks, PySweepResult};
