//! Python bindings: convert, call with the interpreter lock released, convert. No physics lives here.

mod call;
mod convert;
mod errors;
mod pickle;

mod attributes;
mod predicted;
mod profile;
mod report;

mod logs;
mod records;
mod settings;

mod free_rise;
mod simulate;

mod calibrate;
mod datasheet;
mod decide;
mod diagnose;
mod fit;
mod knowledge;
mod outcomes;
mod posterior;
mod predict;
mod question;
mod quick;

mod job;

mod sweep;

mod probe;

use pyo3::prelude::*;

/// The compiled part of the Python package `risefit`.
#[pymodule]
mod _core {
    #[pymodule_export]
    #[allow(non_upper_case_globals)]
    const __version__: &str = env!("CARGO_PKG_VERSION");

    #[pymodule_export]
    use super::calibrate::{PyCalibration, calibrate};
    #[pymodule_export]
    use super::datasheet::{PyDatasheet, PyGradeKnowledge, PyRecipe, grade_from_datasheet};
    #[pymodule_export]
    use super::decide::{PyNextTrial, PyRecommendation, recommend_before_castings};
    #[pymodule_export]
    use super::diagnose::PyDiagnosis;
    #[pymodule_export]
    use super::fit::{PyFreeRiseFit, fit_free_rise};
    #[pymodule_export]
    use super::free_rise::{PyFreeRise, free_rise};
    #[pymodule_export]
    use super::job::{short_report, write_report};
    #[pymodule_export]
    use super::knowledge::priors;
    #[pymodule_export]
    use super::logs::{PyRiseLog, PyTrial, read_rise_logs, read_trials};
    #[pymodule_export]
    use super::outcomes::{PyOutcomes, outcomes_before_castings};
    #[pymodule_export]
    use super::posterior::PyPosterior;
    #[pymodule_export]
    use super::predict::PyPrediction;
    #[pymodule_export]
    use super::predicted::PyPredicted;
    #[pymodule_export]
    use super::probe::_probe;
    #[pymodule_export]
    use super::profile::PyProfile;
    #[pymodule_export]
    use super::quick::{PyQuickCurve, quick_curve};
    #[pymodule_export]
    use super::records::{PyGrade, PyMold};
    #[pymodule_export]
    use super::report::PyChart;
    #[pymodule_export]
    use super::settings::PyCasting;
    #[pymodule_export]
    use super::simulate::{PyRun, simulate};
    #[pymodule_export]
    use super::sweep::{PySweep, PySweepBlocks, PySweepResult, sweep};
}
