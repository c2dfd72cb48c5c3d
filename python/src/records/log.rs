//! Rise logs of cups as they were read: attributes with units, arrays of their series.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyList, PyTuple};
use risefit::RiseLog;
use risefit::units::Quantity;

use crate::convert::attributes::{self, Attribute, Value, maybe, one, row};
use crate::convert::report::{ChartOptions, PyChart};
use crate::convert::{self, call, pickle};

fn series<'a>(base: &'static str, quantity: Quantity, si: &'a Option<Vec<f64>>) -> Attribute<'a> {
    (base, quantity, Value::Row(si.as_deref()))
}

fn log_attributes(log: &RiseLog) -> Vec<Attribute<'_>> {
    let cup = log.cup;
    let mut all = vec![
        one("mass", Quantity::Mass, log.mass),
        one("mix_temp", Quantity::Temperature, log.mix_temp),
        one("ambient_temp", Quantity::Temperature, log.ambient_temp),
        one("ambient_pressure", Quantity::AbsolutePressure, log.ambient_pressure),
        maybe("cup_bottom_diameter", Quantity::Length, cup.map(|cup| cup.bottom_diameter)),
        maybe("cup_top_diameter", Quantity::Length, cup.map(|cup| cup.top_diameter)),
        maybe("cup_height", Quantity::Length, cup.map(|cup| cup.height)),
        maybe("free_rise_density", Quantity::Density, log.free_rise_density),
        row("time", Quantity::Time, &log.time),
        series("height", Quantity::Length, &log.height),
        series("volume", Quantity::Volume, &log.volume),
        series("temp", Quantity::Temperature, &log.temp),
    ];
    all.extend(log.stopwatch.named().map(|(base, si)| maybe(base, Quantity::Time, si)));
    all
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

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }
}
