//! Python bindings: convert, call with the interpreter lock released, convert. No physics lives here.
//!
//! The floors only look down; each uses the ones above it in this list.

mod convert;
mod settings;

mod records;

mod results;

mod calls;

use pyo3::prelude::*;

/// The compiled part of the Python package `risefit`.
#[pymodule]
mod _core {
    #[pymodule_export]
    #[allow(non_upper_case_globals)]
    const __version__: &str = env!("CARGO_PKG_VERSION");

    #[pymodule_export]
    use super::calls::before_castings::{outcomes_before_castings, recommend_before_castings};
    #[pymodule_export]
    use super::calls::fits::{calibrate, fit_free_rise, grade_from_datasheet, quick_curve};
    #[pymodule_export]
    use super::calls::priors::priors;
    #[pymodule_export]
    use super::calls::probe::_probe;
    #[pymodule_export]
    use super::calls::read::{read_rise_logs, read_trials};
    #[pymodule_export]
    use super::calls::report::{short_report, write_report};
    #[pymodule_export]
    use super::calls::simulate::{free_rise, simulate};
    #[pymodule_export]
    use super::calls::sweep::sweep;
    #[pymodule_export]
    use super::calls::tables::_tables;
    #[pymodule_export]
    use super::convert::{PyPredicted, report::PyChart};
    #[pymodule_export]
    use super::records::{PyDatasheet, PyGrade, PyMold, PyRecipe, PyRiseLog, PyTrace, PyTrial};
    #[pymodule_export]
    use super::results::{PyCalibration, PyDiagnosis, PyFreeRise, PyFreeRiseFit, PyGradeKnowledge, PyNextTrial};
    #[pymodule_export]
    use super::results::{PyEstimate, PyEstimates, PyFittedCasting, PyFittedCastings, PyFittedLog, PyFittedLogs};
    #[pymodule_export]
    use super::results::{PyOutcomes, PyPosterior, PyPrediction, PyProfile, PyQuickCurve, PyRecommendation, PyRun};
    #[pymodule_export]
    use super::results::{PySweep, PySweepBlocks, PySweepResult};
    #[pymodule_export]
    use super::settings::PyCasting;
}
