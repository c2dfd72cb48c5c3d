//! Simulated free rise in a cup, with its courses and stopwatch times.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyList, PyTuple};
use risefit::Cup;
use risefit::FreeRise;
use risefit::units::Quantity;
use serde::{Deserialize, Serialize};

use crate::convert::{
    self,
    attributes::{self, Attribute, Value, maybe, one, row},
    pickle,
};

/// A simulated free rise. Courses are arrays over `time_s`; `height_mm` is `None` without a cup.
#[pyclass(frozen, name = "FreeRise", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PyFreeRise {
    rise: FreeRise,
    times: Vec<f64>,
    volume: Vec<f64>,
    height: Option<Vec<f64>>,
}

impl PyFreeRise {
    /// The rise of `mass` kg at these times, with heights if there is a cup.
    pub fn new(rise: FreeRise, times: Vec<f64>, mass: f64, cup: Option<Cup>) -> Self {
        let volume: Vec<f64> = rise.volume.iter().map(|v| v * mass).collect();
        let height = cup.map(|cup| volume.iter().map(|v| cup.height_of(*v)).collect());
        PyFreeRise { rise, times, volume, height }
    }

    fn attributes(&self) -> Vec<Attribute<'_>> {
        let r = &self.rise;
        vec![
            maybe("cream_time", Quantity::Time, r.cream_time),
            maybe("string_gel_time", Quantity::Time, r.gel_time),
            maybe("end_of_rise", Quantity::Time, r.end_of_rise),
            maybe("tack_free_time", Quantity::Time, r.tack_free),
            one("density", Quantity::Density, r.density),
            one("peak_temp", Quantity::Temperature, r.peak_temp),
            row("time", Quantity::Time, &self.times),
            row("volume", Quantity::Volume, &self.volume),
            ("height", Quantity::Length, Value::Row(self.height.as_deref())),
            row("temp", Quantity::Temperature, &r.temp),
            row("sensed_temp", Quantity::Temperature, &r.sensed),
        ]
    }
}

#[pymethods]
impl PyFreeRise {
    /// The courses as a `pandas.DataFrame`, one time a row.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        convert::frame(py, attributes::columns(&self.attributes()))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "FreeRise", name, &self.attributes())
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &slf.get().attributes())
    }

    fn __repr__(&self) -> String {
        format!("FreeRise({})", attributes::shown(&self.attributes()))
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
