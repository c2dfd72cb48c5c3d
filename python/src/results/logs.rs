//! Fitted logs: readings and stopwatch times, and the fitted curve beside them.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyIterator, PyList, PyTuple};
use risefit::fit::FittedLog;
use risefit::records::Stopwatch;
use risefit::report::{ModelCurve, rise_log_chart};
use risefit::units::Quantity;

use crate::convert::report::{ChartOptions, PyChart};
use crate::convert::{self, call, pickle, rows};
use crate::records::PyRiseLog;

/// A log of a fit: its readings and the fitted curve.
#[pyclass(frozen, name = "FittedLog", module = "risefit")]
pub struct PyFittedLog(FittedLog);

#[pymethods]
impl PyFittedLog {
    /// The log's name.
    #[getter]
    fn name(&self) -> &str {
        &self.0.log.name
    }

    /// The log.
    #[getter]
    fn log(&self) -> PyRiseLog {
        PyRiseLog(self.0.log.clone())
    }

    /// A `pandas.DataFrame`, one time a row: what was read, and the fitted curve beside it.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let (log, fitted) = (&self.0.log, &self.0);
        let rise = match &log.height {
            Some(height) => ("height", Quantity::Length, Some(height)),
            None => ("volume", Quantity::Volume, log.volume.as_ref()),
        };
        let temp = ("temp", Quantity::Temperature, log.temp.as_ref());
        let shown = |quantity: Quantity, si: &[f64]| si.iter().map(|x| quantity.units()[0].from_si(*x)).collect();
        let mut columns = vec![(Quantity::Time.customary_name("time"), shown(Quantity::Time, &log.time))];
        for ((base, quantity, read), curve) in [(rise, &fitted.height_or_volume), (temp, &fitted.rise.sensed)] {
            if let Some(read) = read {
                columns.push((quantity.customary_name(base), shown(quantity, read)));
            }
            columns.push((quantity.customary_name(&format!("fitted_{base}")), shown(quantity, curve)));
        }
        convert::frame(py, columns)
    }

    /// The log with its fitted curve, residuals and stopwatch times.
    #[pyo3(signature = (*, width=900, height=600, units="metric"))]
    fn chart(&self, py: Python<'_>, width: u32, height: u32, units: &str) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        call::run(py, || rise_log_chart(&self.0.log, Some(&ModelCurve::at_readings(&self.0)), sheet)).map(PyChart::new)
    }

    fn __repr__(&self) -> String {
        format!("FittedLog({:?}, {} times)", self.name(), self.0.log.time.len())
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyFittedLog)
    }
}

/// The logs of a fit. Rows by number or by the log's name.
#[pyclass(frozen, sequence, name = "FittedLogs", module = "risefit")]
pub struct PyFittedLogs(pub Vec<FittedLog>);

impl PyFittedLogs {
    fn names(&self) -> Vec<String> {
        self.0.iter().map(|log| log.log.name.clone()).collect()
    }
}

#[pymethods]
impl PyFittedLogs {
    fn __len__(&self) -> usize {
        self.0.len()
    }

    fn __getitem__(&self, index: &Bound<'_, PyAny>) -> PyResult<PyFittedLog> {
        let i = rows::position("FittedLogs", &self.names(), index)?;
        Ok(PyFittedLog(self.0[i].clone()))
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyIterator>> {
        PyList::new(py, self.0.iter().cloned().map(PyFittedLog).collect::<Vec<_>>())?.try_iter()
    }

    /// A `pandas.DataFrame`, one log a row: stopwatch times as read and as fitted (nan where there is none).
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let columns = Stopwatch::default().named().into_iter().enumerate().flat_map(|(i, (base, _))| {
            let time = |watch: Stopwatch| watch.named()[i].1.unwrap_or(f64::NAN);
            let fitted = |log: &FittedLog| time(log.stopwatch());
            [
                (Quantity::Time.customary_name(&format!("fitted_{base}")), self.0.iter().map(fitted).collect()),
                (Quantity::Time.customary_name(base), self.0.iter().map(|log| time(log.log.stopwatch)).collect()),
            ]
        });
        convert::frame_of_rows(py, "log", self.names(), columns.collect())
    }

    fn __repr__(&self) -> String {
        format!("FittedLogs({}; .to_frame() shows them)", self.names().join(", "))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyFittedLogs)
    }
}
