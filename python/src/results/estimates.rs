//! Fitted parameters: value, error, interval and what the records say of each.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyIterator, PyList, PyTuple};
use risefit::fit::Estimate;
use risefit::report::{significant, with_error};

use crate::convert::{self, pickle, rows};

/// A fitted parameter, in the unit of its name.
#[pyclass(frozen, name = "Estimate", module = "risefit")]
pub struct PyEstimate(Estimate);

impl PyEstimate {
    fn scaled(&self, (low, high): (f64, f64)) -> (f64, f64) {
        let scale = self.0.parameter.label().scale;
        (low * scale, high * scale)
    }
}

#[pymethods]
impl PyEstimate {
    /// Name with its unit and, for a record's own, the record.
    #[getter]
    fn name(&self) -> String {
        self.0.name()
    }

    /// The log or trial that it belongs to; `None` for what all records share.
    #[getter]
    fn record(&self) -> Option<&str> {
        self.0.record.as_deref()
    }

    /// The unit in words; empty for a plain number.
    #[getter]
    fn unit(&self) -> &'static str {
        self.0.parameter.label().unit
    }

    /// Fitted value.
    #[getter]
    fn value(&self) -> f64 {
        self.0.value * self.0.parameter.label().scale
    }

    /// Standard error of the value.
    #[getter]
    fn standard_error(&self) -> f64 {
        self.0.standard_error * self.0.parameter.label().scale
    }

    /// Limits of the 95 % interval.
    #[getter]
    fn interval_95(&self) -> (f64, f64) {
        self.scaled(self.0.interval_95)
    }

    /// Limits of what was expected with 95 % before any record.
    #[getter]
    fn prior_95(&self) -> (f64, f64) {
        self.scaled(self.0.prior_95())
    }

    /// What the records say of it, in words.
    #[getter]
    fn status(&self) -> String {
        self.0.status_words()
    }

    fn __repr__(&self) -> String {
        let (low, high) = self.interval_95();
        let (value, low, high) =
            (with_error(self.value(), Some(self.standard_error())), significant(low, 4), significant(high, 4));
        format!("Estimate({}: {value} (95 %: {low} to {high}), {})", self.name(), self.status())
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyEstimate)
    }
}

/// The fitted parameters: first those that all records share, then each record's own. Rows by number or by name.
#[pyclass(frozen, sequence, name = "Estimates", module = "risefit")]
pub struct PyEstimates(pub Vec<Estimate>);

impl PyEstimates {
    fn names(&self) -> Vec<String> {
        self.0.iter().map(Estimate::name).collect()
    }

    /// The parameters as a dict of dicts of plain values.
    pub fn summary<'py>(py: Python<'py>, estimates: &[Estimate]) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for estimate in estimates.iter().cloned().map(PyEstimate) {
            let one = PyDict::new(py);
            one.set_item("value", estimate.value())?;
            one.set_item("standard_error", estimate.standard_error())?;
            one.set_item("interval_95", estimate.interval_95())?;
            one.set_item("unit", estimate.unit())?;
            one.set_item("status", estimate.status())?;
            dict.set_item(estimate.name(), one)?;
        }
        Ok(dict)
    }
}

#[pymethods]
impl PyEstimates {
    fn __len__(&self) -> usize {
        self.0.len()
    }

    fn __getitem__(&self, index: &Bound<'_, PyAny>) -> PyResult<PyEstimate> {
        let i = rows::position("Estimates", &self.names(), index)?;
        Ok(PyEstimate(self.0[i].clone()))
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyIterator>> {
        PyList::new(py, self.0.iter().cloned().map(PyEstimate).collect::<Vec<_>>())?.try_iter()
    }

    /// A `pandas.DataFrame`, one parameter a row, in the unit of its name: value, standard error, 95 % interval, what
    /// was expected before, unit, status.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let all: Vec<PyEstimate> = self.0.iter().cloned().map(PyEstimate).collect();
        let column = |head: &str, what: fn(&PyEstimate) -> f64| (head.to_owned(), all.iter().map(what).collect());
        let columns = vec![
            column("value", PyEstimate::value),
            column("standard_error", PyEstimate::standard_error),
            column("low_95", |e| e.interval_95().0),
            column("high_95", |e| e.interval_95().1),
            column("prior_low_95", |e| e.prior_95().0),
            column("prior_high_95", |e| e.prior_95().1),
        ];
        let frame = convert::frame_of_rows(py, "parameter", self.names(), columns)?;
        frame.set_item("unit", PyList::new(py, all.iter().map(PyEstimate::unit))?)?;
        frame.set_item("status", PyList::new(py, all.iter().map(PyEstimate::status))?)?;
        Ok(frame)
    }

    fn __repr__(&self) -> String {
        let shared = self.0.iter().filter(|e| e.record.is_none()).count();
        format!("Estimates({shared} shared, {} of single records; .to_frame() shows them)", self.0.len() - shared)
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyEstimates)
    }
}
