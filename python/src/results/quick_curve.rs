//! Plain curves for a quick look at one log.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::RiseLog;
use risefit::fit::QuickFit;
use risefit::units::Quantity;
use serde::{Deserialize, Serialize};

use crate::convert::attributes::{self, Attribute, Value, maybe, one, row};
use crate::convert::pickle;

/// What a log's curve is of.
#[derive(Clone, Copy, Serialize, Deserialize)]
enum Series {
    Height,
    Volume,
}

impl Series {
    /// Heights if there are any, as the fit takes them.
    fn of(log: &RiseLog) -> Series {
        if log.height.is_some() { Series::Height } else { Series::Volume }
    }

    fn name(self) -> &'static str {
        match self {
            Series::Height => "height",
            Series::Volume => "volume",
        }
    }

    fn quantity(self) -> Quantity {
        match self {
            Series::Height => Quantity::Length,
            Series::Volume => Quantity::Volume,
        }
    }
}

/// A plain curve through one log. The curve is an array over `time_s`: `height_mm`, or `volume_mL` for a log of
/// volumes.
#[pyclass(frozen, name = "QuickCurve", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PyQuickCurve {
    fit: QuickFit,
    of: Series,
    times: Vec<f64>,
    curve: Vec<f64>,
}

impl PyQuickCurve {
    /// The curve through this log.
    pub fn new(fit: QuickFit, log: &RiseLog) -> Self {
        let curve = log.time.iter().map(|time| fit.value_at(*time)).collect();
        PyQuickCurve { fit, of: Series::of(log), times: log.time.clone(), curve }
    }

    fn attributes(&self) -> Vec<Attribute<'_>> {
        vec![
            maybe("cream_time", Quantity::Time, self.fit.cream),
            one("steepest", Quantity::Time, self.fit.steepest),
            one("end_of_rise", Quantity::Time, self.fit.end_of_rise),
            row("time", Quantity::Time, &self.times),
            (self.of.name(), self.of.quantity(), Value::Row(Some(&self.curve))),
        ]
    }
}

#[pymethods]
impl PyQuickCurve {
    /// The log's name.
    #[getter]
    fn log(&self) -> &str {
        &self.fit.log
    }

    /// `"richards"` or `"delayed_first_order"`.
    #[getter]
    fn kind(&self) -> &'static str {
        self.fit.kind.name()
    }

    /// Whether the optimizer converged; no judgment of whether the readings can be believed.
    #[getter]
    fn converged(&self) -> bool {
        self.fit.converged
    }

    /// What the user should know, in words.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.fit.warnings.clone()
    }

    /// Each parameter: `value`, `standard_error` (infinite where the log does not tell it, nan at a bound) and
    /// `status`. `base` and `rise` are in mm or mL.
    #[getter]
    fn parameters<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let unit = &self.of.quantity().units()[0];
        let dict = PyDict::new(py);
        for parameter in &self.fit.parameters {
            let is_size = matches!(&*parameter.name, "base" | "rise");
            let shown = |si: f64| if is_size { unit.from_si(si) } else { si };
            let name =
                if is_size { self.of.quantity().customary_name(&parameter.name) } else { parameter.name.to_string() };
            let entry = PyDict::new(py);
            entry.set_item("value", shown(parameter.value))?;
            entry.set_item("standard_error", shown(parameter.standard_error))?;
            entry.set_item("status", &parameter.standing)?;
            dict.set_item(name, entry)?;
        }
        Ok(dict)
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "QuickCurve", name, &self.attributes())
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &slf.get().attributes())
    }

    fn __repr__(&self) -> String {
        let kind = self.kind();
        format!("QuickCurve({:?}, {kind:?}, {})", self.fit.log, attributes::shown(&self.attributes()))
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
