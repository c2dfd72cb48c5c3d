//! Logged castings as they were read: settings, observations and traces.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyList, PyTuple};
use risefit::records::OBSERVATIONS;
use risefit::{Trial, Verdict};

use super::trace::PyTrace;
use crate::convert::attributes::{self, Attribute, maybe};
use crate::convert::pickle;
use crate::settings::{PyCasting, casting_attributes};

fn trial_attributes(trial: &Trial) -> Vec<Attribute<'_>> {
    let mut all: Vec<Attribute<'_>> =
        OBSERVATIONS.iter().map(|taken| maybe(taken.name(), taken.quantity(), taken.of(trial))).collect();
    all.extend(casting_attributes(&trial.casting));
    all
}

/// One logged casting. Its settings are attributes too, and together in `casting`; pressures are gauge.
#[pyclass(frozen, name = "Trial", module = "risefit")]
#[derive(Clone)]
pub struct PyTrial(pub Trial);

#[pymethods]
impl PyTrial {
    #[getter]
    fn name(&self) -> &str {
        &self.0.name
    }

    #[getter]
    fn file(&self) -> Option<String> {
        self.0.file.as_ref().map(|file| file.display().to_string())
    }

    /// Line in the ledger, counted from 1.
    #[getter]
    fn line(&self) -> Option<u64> {
        self.0.line
    }

    /// How it was run.
    #[getter]
    fn casting(&self) -> PyCasting {
        PyCasting(self.0.casting.clone())
    }

    /// `"short"`, `"full"`, `"flash"` or `None`.
    #[getter]
    fn outcome(&self) -> Option<&'static str> {
        self.0.outcome.map(Verdict::name)
    }

    /// Whether the gauge stood at its stop: the true peak is at least `peak_pressure_kPa`.
    #[getter]
    fn gauge_at_stop(&self) -> bool {
        self.0.gauge_at_stop
    }

    #[getter]
    fn remarks(&self) -> &str {
        &self.0.remarks
    }

    /// What the ledger left out and was assumed, in words.
    #[getter]
    fn assumed(&self) -> Vec<String> {
        self.0.assumed.clone()
    }

    /// What was logged over time; empty if nothing was.
    #[getter]
    fn trace(&self) -> PyTrace {
        PyTrace(self.0.trace.clone())
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Trial", name, &trial_attributes(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &trial_attributes(&slf.get().0))
    }

    fn __repr__(&self) -> String {
        format!("Trial({:?}, {})", self.0.name, attributes::shown(&trial_attributes(&self.0)))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyTrial)
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }
}
