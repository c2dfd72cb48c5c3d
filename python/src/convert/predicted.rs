//! A predicted quantity with its doubt, in the unit that its name was asked in.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyTuple};
use risefit::fit::Predicted;
use risefit::report::{significant, with_error};
use risefit::units::Unit;
use serde::{Deserialize, Serialize};

use super::pickle;

/// A predicted quantity in one unit: value, doubt, scatter and 95 % interval.
#[pyclass(frozen, name = "Predicted", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PyPredicted {
    /// The unit, as names end in it.
    #[pyo3(get)]
    unit: String,
    /// Value at the best estimates.
    #[pyo3(get)]
    value: f64,
    /// Standard deviation from what the records leave in doubt.
    #[pyo3(get)]
    doubt: f64,
    /// Standard deviation from casting to casting.
    #[pyo3(get)]
    scatter: f64,
    /// Lower and upper end of the 95 % interval for the next casting.
    #[pyo3(get)]
    interval_95: (f64, f64),
}

impl PyPredicted {
    pub fn new(p: &Predicted, unit: &Unit) -> Self {
        let difference = |si: f64| unit.from_si(si) - unit.from_si(0.0);
        PyPredicted {
            unit: unit.suffix.to_owned(),
            value: unit.from_si(p.value),
            doubt: difference(p.doubt),
            scatter: difference(p.scatter),
            interval_95: (unit.from_si(p.interval_95.0), unit.from_si(p.interval_95.1)),
        }
    }
}

#[pymethods]
impl PyPredicted {
    /// Standard deviation from both.
    #[getter]
    fn standard_error(&self) -> f64 {
        self.doubt.hypot(self.scatter)
    }

    fn __float__(&self) -> f64 {
        self.value
    }

    fn __repr__(&self) -> String {
        let (low, high) = self.interval_95;
        let value = with_error(self.value, Some(self.standard_error()));
        format!("{value} {} (95 %: {} to {})", self.unit, significant(low, 4), significant(high, 4))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(self, other)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), slf.get())
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data)
    }
}
