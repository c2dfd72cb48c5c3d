//! Fits: of a grade to cup tests or to its data sheet, of a mold to castings, of a plain curve to one log.

use std::sync::Arc;

use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::fit::{CurveKind, FitOptions};
use risefit::model::FoamConstants;
use risefit::{Grade, RiseLog, Trial};

use super::known::known;
use crate::convert::{self, call, errors::to_python};
use crate::records::{PyDatasheet, PyGrade, PyMold, PyRiseLog, PyTrial};
use crate::results::{PyCalibration, PyFreeRiseFit, PyGradeKnowledge, PyQuickCurve};
use crate::settings::fit_options::{options, refuse};

/// Fits a grade to one or several cup tests: a `RiseLog`, or a list of them.
///
/// `start` is what is known of the grade already, a `Grade` or a `GradeKnowledge` (by default a light flexible grade):
/// constants that no cup tells, such as the density of the liquid, are kept. `name` names the result. `starts` is how
/// many points to fit from; `held` keeps parameters at a value: `{"gel_conversion": 0.64}`, or `{"cell_opening_time_s":
/// float("inf")}` for cells that stay closed; `priors` replaces entries of `risefit.priors()`. `model_error` is what
/// the model is taken to miss of logged rises, as a multiple of what is usual (half a percent of a height, one percent
/// of a temperature, in pieces of a fifth of the rise); 0 if the logs came out of this model. `threads` (`None`: one
/// per core) changes no bit. Ctrl-C stops it. Raises `TooFewRecordsError`, `FitError`, `ArgumentError`.
#[pyfunction]
#[pyo3(
    signature = (
        logs, *, start=None, name=None, starts=4, held=None, priors=None, model_error=1.0, threads=None, **unknown
    ),
    text_signature = "(logs, *, start=None, name=None, starts=4, held=None, priors=None, model_error=1.0, threads=None)"
)]
#[allow(clippy::too_many_arguments)]
pub fn fit_free_rise(
    py: Python<'_>,
    logs: &Bound<'_, PyAny>,
    start: Option<&Bound<'_, PyAny>>,
    name: Option<String>,
    starts: usize,
    held: Option<&Bound<'_, PyDict>>,
    priors: Option<&Bound<'_, PyDict>>,
    model_error: f64,
    threads: Option<usize>,
    unknown: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyFreeRiseFit> {
    refuse(py, "fit_free_rise", unknown)?;
    let mut options = FitOptions { model_error, threads, ..options(py, starts, held, priors)? };
    let mut start = start.map_or_else(|| Ok(unnamed()), grade)?;
    if let Some(name) = name {
        start.name = name;
    }
    let logs =
        convert::one_or_several::<PyRiseLog>(logs, "a RiseLog or a list of them, as `read_rise_logs` gives them")?;
    let logs: Vec<RiseLog> = logs.iter().map(|log| log.get().0.clone()).collect();
    let fitted = call::run_interruptibly(py, |cancel| {
        options.cancel = Some(cancel);
        risefit::fit_free_rise(&logs, &start, &options)
    })?;
    Ok(PyFreeRiseFit(fitted))
}

fn unnamed() -> Grade {
    Grade { name: "unnamed".to_owned(), note: String::new(), constants: FoamConstants::default() }
}

fn grade(start: &Bound<'_, PyAny>) -> PyResult<Grade> {
    if let Ok(grade) = start.cast::<PyGrade>() {
        return Ok(grade.get().0.clone());
    }
    if let Ok(known) = start.cast::<PyGradeKnowledge>() {
        return Ok(known.get().0.grade.clone());
    }
    let found = start.get_type().name()?;
    Err(PyTypeError::new_err(format!("expected a Grade or a GradeKnowledge as start, got {found}")))
}

/// What is known of a grade from its data sheet alone: density and times are fitted as one cup test, all else stays at
/// what is believed, with its doubt.
///
/// The first argument of `calibrate` and the `start` of `fit_free_rise`. `starts`, `held`, `priors` and `threads` as
/// there; Ctrl-C stops it. Raises `FitError`, `ArgumentError`.
#[pyfunction]
#[pyo3(
    signature = (datasheet, *, starts=4, held=None, priors=None, threads=None, **unknown),
    text_signature = "(datasheet, *, starts=4, held=None, priors=None, threads=None)"
)]
pub fn grade_from_datasheet(
    py: Python<'_>,
    datasheet: &Bound<'_, PyDatasheet>,
    starts: usize,
    held: Option<&Bound<'_, PyDict>>,
    priors: Option<&Bound<'_, PyDict>>,
    threads: Option<usize>,
    unknown: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyGradeKnowledge> {
    refuse(py, "grade_from_datasheet", unknown)?;
    let mut options = FitOptions { threads, ..options(py, starts, held, priors)? };
    let sheet = &datasheet.get().0;
    let known = call::run_interruptibly(py, |cancel| {
        options.cancel = Some(cancel);
        risefit::grade_from_datasheet(sheet, &options)
    })?;
    Ok(PyGradeKnowledge(known))
}

/// Calibrates a mold against castings: a list of `Trial`, or one.
///
/// `grade` is a `FreeRiseFit` or a `GradeKnowledge`, whose errors are taken along, or a `Grade`, which may then be off
/// by what is believed. `layers` of foam instead of the mold's; `starts`, `held`, `priors` and `threads` as in
/// `fit_free_rise`. Ctrl-C stops it. Raises `TooFewRecordsError`, `FitError`, `CastingError`, `ArgumentError`.
#[pyfunction]
#[pyo3(
    signature = (grade, mold, trials, *, layers=None, starts=4, held=None, priors=None, threads=None, **unknown),
    text_signature = "(grade, mold, trials, *, layers=None, starts=4, held=None, priors=None, threads=None)"
)]
#[allow(clippy::too_many_arguments)]
pub fn calibrate(
    py: Python<'_>,
    grade: &Bound<'_, PyAny>,
    mold: &Bound<'_, PyMold>,
    trials: &Bound<'_, PyAny>,
    layers: Option<usize>,
    starts: usize,
    held: Option<&Bound<'_, PyDict>>,
    priors: Option<&Bound<'_, PyDict>>,
    threads: Option<usize>,
    unknown: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyCalibration> {
    refuse(py, "calibrate", unknown)?;
    let mut options = FitOptions { threads, ..options(py, starts, held, priors)? };
    let known = known(grade, &options)?;
    let trials = convert::one_or_several::<PyTrial>(trials, "a Trial or a list of them, as `read_trials` gives them")?;
    let trials: Vec<Trial> = trials.iter().map(|trial| trial.get().0.clone()).collect();
    let mold = &mold.get().in_layers(layers);
    let fitted = call::run_interruptibly(py, |cancel| {
        options.cancel = Some(cancel);
        risefit::calibrate(&known, mold, &trials, &options)
    })?;
    Ok(PyCalibration(Arc::new(fitted)))
}

/// Fits a plain curve to a log's heights, or its volumes: for a quick look, it predicts nothing but this cup.
///
/// `kind` is `"richards"` (an S) or `"delayed_first_order"` (a delay, then an exponential approach). Raises
/// `TooFewRecordsError`, `FitError`, `ArgumentError`.
#[pyfunction]
#[pyo3(signature = (log, *, kind="richards"))]
pub fn quick_curve(py: Python<'_>, log: &Bound<'_, PyRiseLog>, kind: &str) -> PyResult<PyQuickCurve> {
    let kind = CurveKind::named(kind).map_err(|e| to_python(py, e))?;
    let log = &log.get().0;
    let fitted = call::run(py, || risefit::quick_curve(log, kind))?;
    Ok(PyQuickCurve::new(fitted, log))
}
