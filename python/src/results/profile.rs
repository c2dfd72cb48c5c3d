//! Profiles as Python has them: the interval, the places tried, the chart.

use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyTuple};
use risefit::fit::{FitOptions, Profile};
use risefit::model::Parameter;
use risefit::report::{describe_profile, describe_profile_text, profile_chart};

use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{self, call, errors::to_python, pickle};
use crate::settings::fit_options::parameter;

/// Moves a parameter with the interpreter lock released; Ctrl-C stops it.
pub fn walk(
    py: Python<'_>,
    name: &str,
    threads: Option<usize>,
    walk: impl FnOnce(Parameter, &FitOptions) -> risefit::Result<Profile> + Send,
) -> PyResult<PyProfile> {
    let parameter = parameter("parameter", name).map_err(|e| to_python(py, e))?;
    let profile = call::run_on_threads(py, threads, |cancel| {
        walk(parameter, &FitOptions { cancel: Some(cancel), ..FitOptions::default() })
    })?;
    Ok(PyProfile(profile))
}

/// A parameter moved along, all others fitted anew at each place.
#[pyclass(frozen, name = "Profile", module = "risefit")]
pub struct PyProfile(Profile);

impl PyProfile {
    fn scale(&self) -> f64 {
        self.0.parameter.label().scale
    }

    fn column(&self, what: fn(&(f64, f64)) -> f64, scale: f64) -> Vec<f64> {
        self.0.points.iter().map(|point| what(point) * scale).collect()
    }
}

#[pymethods]
impl PyProfile {
    /// Name of the parameter with its unit.
    #[getter]
    fn parameter(&self) -> &'static str {
        self.0.parameter.label().name
    }

    /// Value at the best fit, in the unit of the name.
    #[getter]
    fn value(&self) -> f64 {
        self.0.value * self.scale()
    }

    /// Limits of the 95 % interval, in the unit of the name.
    #[getter]
    fn interval_95(&self) -> (f64, f64) {
        (self.0.interval_95.0 * self.scale(), self.0.interval_95.1 * self.scale())
    }

    /// Whether each end is the end of what is allowed instead of what the records say.
    #[getter]
    fn open(&self) -> (bool, bool) {
        self.0.open
    }

    /// Values tried, rising, in the unit of the name; shape (n,).
    #[getter]
    fn values<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        convert::array(py, self.column(|p| p.0, self.scale()))
    }

    /// By how much half the sum of squares is above the best fit's at each; shape (n,). The interval ends at 1.92.
    #[getter]
    fn rises<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        convert::array(py, self.column(|p| p.1, 1.0))
    }

    /// The profile as a dict of plain Python values.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("parameter", self.parameter())?;
        dict.set_item("unit", self.0.parameter.label().unit)?;
        dict.set_item("value", self.value())?;
        dict.set_item("interval_95", self.interval_95())?;
        dict.set_item("open", self.open())?;
        dict.set_item("values", self.column(|p| p.0, self.scale()))?;
        dict.set_item("rises", self.column(|p| p.1, 1.0))?;
        Ok(dict)
    }

    /// By how much the fit gets worse as the parameter is moved, and where its interval ends.
    #[pyo3(signature = (*, width=900, height=600))]
    fn chart(&self, py: Python<'_>, width: u32, height: u32) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units: "metric" }.sheet(py)?;
        call::run(py, || profile_chart(&self.0, sheet).map(PyChart::new))
    }

    /// The report: the interval in a sentence, and the places tried.
    fn report(&self) -> String {
        describe_profile_text(&self.0)
    }

    fn __str__(&self) -> String {
        self.report()
    }

    fn __repr__(&self) -> String {
        self.report()
    }

    fn _repr_html_(&self) -> String {
        report::html(&describe_profile(&self.0))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyProfile)
    }
}
