//! Reads rise logs and trial ledgers.

use std::path::PathBuf;

use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;

use crate::convert::call;
use crate::records::{PyRiseLog, PyTrial};

/// Paths from one str or Path, or several of them.
fn paths(given: &Bound<'_, PyAny>) -> PyResult<Vec<PathBuf>> {
    if let Ok(path) = given.extract::<PathBuf>() {
        return Ok(vec![path]);
    }
    let items = given.try_iter().map_err(|_| {
        PyTypeError::new_err(format!("expected a path, a pattern such as 'logs/*.csv' or a list of them, got {given}"))
    })?;
    items.map(|item| item?.extract::<PathBuf>()).collect()
}

/// Reads rise logs: a file, a pattern such as `data/logs/*.csv` (sorted by name), or a list of them.
#[pyfunction]
pub fn read_rise_logs(py: Python<'_>, files: &Bound<'_, PyAny>) -> PyResult<Vec<PyRiseLog>> {
    let files = paths(files)?;
    let logs = call::run(py, || risefit::records::read_rise_logs(&files))?;
    Ok(logs.into_iter().map(PyRiseLog).collect())
}

/// Reads a trial ledger, one casting a row, with the traces that it names.
#[pyfunction]
pub fn read_trials(py: Python<'_>, file: PathBuf) -> PyResult<Vec<PyTrial>> {
    let trials = call::run(py, || risefit::records::read_trials(file))?;
    Ok(trials.into_iter().map(PyTrial).collect())
}
