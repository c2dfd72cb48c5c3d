//! One named Python exception for each variant of [`risefit::Error`], with the variant's fields as attributes.
//!
//! The classes themselves are written in Python, in `risefit/errors.py`: there they can have two bases, are documented
//! where Python users look, and survive pickling.

use std::path::Path;

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};
use risefit::Error;
use risefit::error::Place;

/// The exception for `error`.
pub fn to_python(py: Python<'_>, error: Error) -> PyErr {
    let fields = PyDict::new(py);
    fill(&fields, &error)
        .and_then(|()| build(py, class_name(&error), &error.to_string(), &fields))
        .unwrap_or_else(|e| e)
}

/// The exception for a panic: a fault of the library, not of the user's input.
pub fn internal_error(py: Python<'_>, panic_text: &str) -> PyErr {
    let message = format!(
        "a fault in risefit itself, not in your input: {panic_text}; please report it with the input that led here"
    );
    build(py, "InternalError", &message, &PyDict::new(py)).unwrap_or_else(|e| e)
}

/// The name of the class in `risefit.errors`. A new variant does not compile until it has one.
fn class_name(error: &Error) -> &'static str {
    match error {
        Error::Unreadable { .. } => "UnreadableFileError",
        Error::Empty { .. } => "EmptyFileError",
        Error::Missing { .. } => "MissingFieldError",
        Error::Unknown { .. } => "UnknownFieldError",
        Error::Unit { .. } => "UnitError",
        Error::BadValue { .. } => "BadValueError",
        Error::Argument { .. } => "ArgumentError",
        Error::Casting { .. } => "CastingError",
        Error::Integration { .. } => "IntegrationError",
        Error::TooFewRecords { .. } => "TooFewRecordsError",
        Error::Fit { .. } => "FitError",
        Error::Canceled { .. } => "CanceledError",
    }
}

/// Puts the fields of `error` into `to`, under the names that `risefit/errors.py` documents.
fn fill(to: &Bound<'_, PyDict>, error: &Error) -> PyResult<()> {
    to.set_item("recoverable", error.is_recoverable())?;
    match error {
        Error::Unreadable { file, reason } => {
            to.set_item("file", text(file))?;
            to.set_item("reason", reason)
        }
        Error::Empty { file, expected } => {
            to.set_item("file", text(file))?;
            to.set_item("expected", expected)
        }
        Error::Missing { place, expected, found } => {
            fill_place(to, place)?;
            to.set_item("expected", expected)?;
            to.set_item("found", names(to.py(), found)?)
        }
        Error::Unknown { place, found, nearest, expected } => {
            fill_place(to, place)?;
            to.set_item("found", found)?;
            to.set_item("nearest", nearest)?;
            to.set_item("expected", names(to.py(), expected)?)
        }
        Error::Unit { place, found, expected } => {
            fill_place(to, place)?;
            to.set_item("found", found)?;
            to.set_item("expected", names(to.py(), expected)?)
        }
        Error::BadValue { place, found, expected, advice } => {
            fill_place(to, place)?;
            fill_finding(to, found, expected, advice)
        }
        Error::Argument { name, found, expected, advice } => {
            to.set_item("field", name)?;
            fill_finding(to, found, expected, advice)
        }
        Error::Casting { trial, what, advice } => {
            to.set_item("trial", trial)?;
            to.set_item("reason", what)?;
            to.set_item("advice", advice)
        }
        Error::Integration { trial, time_s, reason, suspect } => {
            to.set_item("trial", trial)?;
            to.set_item("time_s", time_s)?;
            to.set_item("reason", reason)?;
            to.set_item("suspect", suspect)
        }
        Error::TooFewRecords { wanted, found, advice } => fill_finding(to, found, wanted, advice),
        Error::Canceled { before, advice } => {
            to.set_item("reason", format!("stopped on request before {before}"))?;
            to.set_item("advice", advice)
        }
        Error::Fit { reason, advice } => {
            to.set_item("reason", reason)?;
            to.set_item("advice", advice)
        }
    }
}

fn fill_place(to: &Bound<'_, PyDict>, place: &Place) -> PyResult<()> {
    to.set_item("file", text(&place.file))?;
    to.set_item("line", place.line)?;
    to.set_item("field", &place.field)
}

fn fill_finding(to: &Bound<'_, PyDict>, found: &str, expected: &str, advice: &str) -> PyResult<()> {
    to.set_item("found", found)?;
    to.set_item("expected", expected)?;
    to.set_item("advice", advice)
}

fn text(path: &Path) -> String {
    path.display().to_string()
}

fn names<'py>(py: Python<'py>, list: &[String]) -> PyResult<Bound<'py, PyTuple>> {
    PyTuple::new(py, list)
}

fn build(py: Python<'_>, class: &str, message: &str, fields: &Bound<'_, PyDict>) -> PyResult<PyErr> {
    let class = py.import("risefit.errors")?.getattr(class)?;
    let exception = class.call((message,), Some(fields))?;
    Ok(PyErr::from_value(exception))
}
