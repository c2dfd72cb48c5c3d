//! Rise logs and trials as they were read: attributes with units, arrays of their series.

use std::path::PathBuf;

use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyList, PyTuple};
use risefit::records::{OBSERVATIONS, Trace};
use risefit::units::Quantity;
use risefit::{RiseLog, Trial, Verdict};

use crate::attributes::{self, Attribute, Value, maybe, one, row};
use crate::report::{ChartOptions, PyChart};
use crate::settings::PyCasting;
use crate::{call, convert, pickle};

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

fn series<'a>(base: &'static str, quantity: Quantity, si: &'a Option<Vec<f64>>) -> Attribute<'a> {
    (base, quantity, Value::Row(si.as_deref()))
}

fn log_attributes(log: &RiseLog) -> Vec<Attribute<'_>> {
    let (watch, cup) = (&log.stopwatch, log.cup);
    vec![
        one("mass", Quantity::Mass, log.mass),
        one("mix_temp", Quantity::Temperature, log.mix_temp),
        one("ambient_temp", Quantity::Temperature, log.ambient_temp),
        one("ambient_pressure", Quantity::AbsolutePressure, log.ambient_pressure),
        maybe("cup_bottom_diameter", Quantity::Length, cup.map(|cup| cup.bottom_diameter)),
        maybe("cup_top_diameter", Quantity::Length, cup.map(|cup| cup.top_diameter)),
        maybe("cup_height", Quantity::Length, cup.map(|cup| cup.height)),
        maybe("cream_time", Quantity::Time, watch.cream),
        maybe("string_gel_time", Quantity::Time, watch.string_gel),
        maybe("end_of_rise", Quantity::Time, watch.end_of_rise),
        maybe("tack_free_time", Quantity::Time, watch.tack_free),
        maybe("free_rise_density", Quantity::Density, log.free_rise_density),
        row("time", Quantity::Time, &log.time),
        series("height", Quantity::Length, &log.height),
        series("volume", Quantity::Volume, &log.volume),
        series("temp", Quantity::Temperature, &log.temp),
    ]
}

fn trial_attributes(trial: &Trial) -> Vec<Attribute<'_>> {
    let mut all: Vec<Attribute<'_>> =
        OBSERVATIONS.iter().map(|taken| maybe(taken.name(), taken.quantity(), taken.of(trial))).collect();
    all.extend(crate::settings::casting_attributes(&trial.casting));
    all.extend(trace_attributes(trial.trace.as_ref()));
    all
}

fn trace_attributes(trace: Option<&Trace>) -> [Attribute<'_>; 3] {
    [
        ("trace_time", Quantity::Time, Value::Row(trace.map(|t| t.time.as_slice()))),
        ("trace_pressure", Quantity::GaugePressure, Value::Row(trace.and_then(|t| t.pressure.as_deref()))),
        ("trace_temp", Quantity::Temperature, Value::Row(trace.and_then(|t| t.temp.as_deref()))),
    ]
}

/// One free-rise cup test as it was read. Series are arrays with nan where a reading is absent, or `None`.
#[pyclass(frozen, name = "RiseLog", module = "risefit")]
#[derive(Clone)]
pub struct PyRiseLog(pub RiseLog);

#[pymethods]
impl PyRiseLog {
    #[getter]
    fn name(&self) -> &str {
        &self.0.name
    }

    #[getter]
    fn file(&self) -> Option<String> {
        self.0.file.as_ref().map(|file| file.display().to_string())
    }

    /// What the file left out and was assumed, in words.
    #[getter]
    fn assumed(&self) -> Vec<String> {
        self.0.assumed.clone()
    }

    /// The series as a `pandas.DataFrame`.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        convert::frame(py, attributes::columns(&log_attributes(&self.0)))
    }

    /// The log as a chart.
    #[pyo3(signature = (*, width=900, height=600, units="metric"))]
    fn chart(&self, py: Python<'_>, width: u32, height: u32, units: &str) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        call::run(py, || risefit::report::rise_log_chart(&self.0, None, sheet)).map(PyChart::new)
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "RiseLog", name, &log_attributes(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &log_attributes(&slf.get().0))
    }

    fn __repr__(&self) -> String {
        let numbers = attributes::shown(&log_attributes(&self.0));
        format!("RiseLog({:?}, {numbers}, {} times)", self.0.name, self.0.time.len())
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyRiseLog)
    }
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

    /// The trace as a `pandas.DataFrame`; empty without one.
    fn trace_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        convert::frame(py, attributes::columns(&trace_attributes(self.0.trace.as_ref())))
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
}
