//! Traces of single castings: pressure and temperature over time.

use pyo3::exceptions::PyIndexError;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyIterator, PyList, PyTuple};
use risefit::records::Trace;
use risefit::units::Quantity;

use crate::convert::attributes::{self, Attribute, Value};
use crate::convert::{self, pickle};

/// A trace: arrays over `time_s` (`pressure_kPa`, gauge, and `temp_C`; `None` where it was not logged). Rows by
/// number are dicts of one time each; by name, as attributes are.
#[pyclass(frozen, sequence, name = "Trace", module = "risefit")]
pub struct PyTrace(pub Option<Trace>);

impl PyTrace {
    fn attributes(&self) -> [Attribute<'_>; 3] {
        let trace = self.0.as_ref();
        [
            ("time", Quantity::Time, Value::Row(trace.map(|t| t.time.as_slice()))),
            ("pressure", Quantity::GaugePressure, Value::Row(trace.and_then(|t| t.pressure.as_deref()))),
            ("temp", Quantity::Temperature, Value::Row(trace.and_then(|t| t.temp.as_deref()))),
        ]
    }

    fn row<'py>(&self, py: Python<'py>, i: usize) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        attributes::columns(&self.attributes())
            .into_iter()
            .try_for_each(|(name, values)| dict.set_item(name, values[i]))?;
        Ok(dict)
    }
}

#[pymethods]
impl PyTrace {
    fn __len__(&self) -> usize {
        self.0.as_ref().map_or(0, |trace| trace.time.len())
    }

    fn __getitem__<'py>(&self, py: Python<'py>, index: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        if let Ok(name) = index.extract::<String>() {
            return attributes::get(py, "Trace", &name, &self.attributes());
        }
        let (found, n) = (index.extract::<isize>()?, self.__len__());
        let from_start = if found < 0 { found + n as isize } else { found };
        match usize::try_from(from_start).ok().filter(|i| *i < n) {
            Some(i) => Ok(self.row(py, i)?.into_any()),
            None => Err(PyIndexError::new_err(format!("the trace has {n} times; there is no number {found}"))),
        }
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyIterator>> {
        let rows = (0..self.__len__()).map(|i| self.row(py, i)).collect::<PyResult<Vec<_>>>()?;
        PyList::new(py, rows)?.try_iter()
    }

    /// The trace as a `pandas.DataFrame`, one time a row.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        convert::frame(py, attributes::columns(&self.attributes()))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Trace", name, &self.attributes())
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &slf.get().attributes())
    }

    fn __repr__(&self) -> String {
        let columns: Vec<_> = attributes::columns(&self.attributes()).into_iter().map(|(name, _)| name).collect();
        format!("Trace({} times: {})", self.__len__(), columns.join(", "))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyTrace)
    }
}
