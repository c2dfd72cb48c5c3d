//! Fitted castings: what was weighed and read, and what the calibration predicts beside it.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyIterator, PyList, PyTuple};
use risefit::fit::FittedCasting;
use risefit::records::{OBSERVATIONS, Observation};

use crate::convert::{self, attributes, pickle, rows};
use crate::records::PyTrial;

/// A casting of a calibration: its trial, and what the model says to it.
#[pyclass(frozen, name = "FittedCasting", module = "risefit")]
pub struct PyFittedCasting(FittedCasting);

/// What was taken of a casting and what the model predicts of it, SI.
fn pair(casting: &FittedCasting, taken: &Observation) -> Option<(Option<f64>, Option<f64>)> {
    let outcome = taken.outcome()?;
    Some((taken.of(&casting.trial), outcome.of_result(&casting.predicted)))
}

/// The name of the prediction beside something that was taken.
fn predicted_name(taken: &Observation) -> String {
    format!("predicted_{}", taken.name())
}

#[pymethods]
impl PyFittedCasting {
    /// The trial's name.
    #[getter]
    fn name(&self) -> &str {
        &self.0.trial.name
    }

    /// The trial.
    #[getter]
    fn trial(&self) -> PyTrial {
        PyTrial(self.0.trial.clone())
    }

    /// What would have been predicted of what can be weighed and read, under names with customary units.
    #[getter]
    fn predicted<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for taken in &OBSERVATIONS {
            if let Some((_, predicted)) = pair(&self.0, taken) {
                let unit = &taken.quantity().units()[0];
                dict.set_item(taken.quantity().customary_name(taken.name()), predicted.map(|si| unit.from_si(si)))?;
            }
        }
        Ok(dict)
    }

    /// Largest misfit of a weighing or reading, in standard deviations.
    #[getter]
    fn worst_misfit_sd(&self) -> f64 {
        self.0.worst_misfit
    }

    /// Whether it does not fit the others.
    #[getter]
    fn odd(&self) -> bool {
        self.0.is_odd()
    }

    fn __repr__(&self) -> String {
        let odd = if self.odd() { ", odd" } else { "" };
        format!("FittedCasting({:?}, worst_misfit_sd={}{odd})", self.name(), attributes::short(self.0.worst_misfit))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyFittedCasting)
    }
}

/// The castings of a calibration. Rows by number or by the trial's name.
#[pyclass(frozen, sequence, name = "FittedCastings", module = "risefit")]
pub struct PyFittedCastings(pub Vec<FittedCasting>);

impl PyFittedCastings {
    fn names(&self) -> Vec<String> {
        self.0.iter().map(|casting| casting.trial.name.clone()).collect()
    }
}

#[pymethods]
impl PyFittedCastings {
    fn __len__(&self) -> usize {
        self.0.len()
    }

    fn __getitem__(&self, index: &Bound<'_, PyAny>) -> PyResult<PyFittedCasting> {
        let i = rows::position("FittedCastings", &self.names(), index)?;
        Ok(PyFittedCasting(self.0[i].clone()))
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyIterator>> {
        PyList::new(py, self.0.iter().cloned().map(PyFittedCasting).collect::<Vec<_>>())?.try_iter()
    }

    /// A `pandas.DataFrame`, one casting a row: what was weighed and read, what would have been predicted.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let mut columns = Vec::new();
        for taken in OBSERVATIONS.iter().filter(|taken| taken.outcome().is_some()) {
            let unit = &taken.quantity().units()[0];
            let shown = |si: Option<f64>| si.map_or(f64::NAN, |si| unit.from_si(si));
            let pairs = self.0.iter().filter_map(|casting| pair(casting, taken));
            let (measured, predicted) = pairs.map(|(taken, model)| (shown(taken), shown(model))).unzip();
            columns.push((taken.quantity().customary_name(&predicted_name(taken)), predicted));
            columns.push((taken.quantity().customary_name(taken.name()), measured));
        }
        columns.push(("worst_misfit_sd".to_owned(), self.0.iter().map(|casting| casting.worst_misfit).collect()));
        convert::frame_of_rows(py, "trial", self.names(), columns)
    }

    fn __repr__(&self) -> String {
        format!("FittedCastings({}; .to_frame() shows them)", self.names().join(", "))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyFittedCastings)
    }
}
