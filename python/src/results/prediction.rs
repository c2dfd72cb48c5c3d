//! A predicted casting: each quantity with its doubt, and the run at the best estimates.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyList, PyTuple};
use risefit::fit::{Predicted, Prediction};
use risefit::report::{DisplayUnits, describe_prediction, describe_prediction_text, prediction_chart};
use risefit::{Casting, Outcome};
use serde::{Deserialize, Serialize};

use super::run::{PyRun, charted};
use crate::convert::attributes::{self, Attribute, Value};
use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{self, call, pickle};
use crate::records::PyTrial;
use crate::settings::PyCasting;

/// A predicted casting. Every quantity has `value`, `doubt`, `scatter` and `interval_95` in the unit of its name;
/// pressures are gauge.
#[pyclass(frozen, name = "Prediction", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PyPrediction(pub Prediction, pub Casting);

impl PyPrediction {
    fn attributes(&self) -> Vec<Attribute<'_>> {
        let all = self.0.all();
        all.map(|(outcome, p)| (outcome.name(), outcome.quantity(), Value::Predicted(p))).collect()
    }
}

#[pymethods]
impl PyPrediction {
    /// The casting at the best estimates.
    #[getter]
    fn run(&self) -> PyRun {
        PyRun(self.0.run.clone())
    }

    /// The settings that were predicted.
    #[getter]
    fn casting(&self) -> PyCasting {
        PyCasting(self.1.clone())
    }

    /// `"full"`, `"short"`, `"flash"` or `"soft"`, at the best estimates.
    #[getter]
    fn verdict(&self) -> &'static str {
        self.0.run.result.verdict.name()
    }

    /// A `pandas.DataFrame`, one quantity a row, in customary units: `value`, `doubt`, `scatter`, `low_95`, `high_95`.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let (mut names, mut columns) = (Vec::new(), vec![Vec::new(); 5]);
        for (outcome, predicted) in self.0.all() {
            names.push(outcome.quantity().customary_name(outcome.name()));
            let unit = &outcome.quantity().units()[0];
            let numbers = predicted.map_or([f64::NAN; 5], |p| {
                [p.value, p.doubt, p.scatter, p.interval_95.0, p.interval_95.1].map(|si| unit.from_si(si))
            });
            columns.iter_mut().zip(numbers).for_each(|(column, x)| column.push(x));
        }
        let heads = ["value", "doubt", "scatter", "low_95", "high_95"].map(str::to_owned);
        convert::frame_of_rows(py, "quantity", names, heads.into_iter().zip(columns).collect())
    }

    /// As `run.chart(...)`, with the 95 % interval of the peak as a bar and in numbers.
    #[pyo3(signature = (*, title=None, trial=None, width=900, height=600, units="metric"))]
    fn chart(
        &self,
        py: Python<'_>,
        title: Option<&str>,
        trial: Option<&Bound<'_, PyTrial>>,
        width: u32,
        height: u32,
        units: &str,
    ) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        let (title, trace) = charted(title, trial);
        call::run(py, || prediction_chart(&self.0, trace, title, sheet)).map(PyChart::new)
    }

    /// The prediction in words and a table, in `"metric"` or `"us"` units.
    #[pyo3(signature = (*, units="metric"))]
    fn report(&self, py: Python<'_>, units: &str) -> PyResult<String> {
        Ok(describe_prediction_text(&self.0, &self.1, report::units(py, units)?))
    }

    fn __str__(&self, py: Python<'_>) -> PyResult<String> {
        self.report(py, "metric")
    }

    fn _repr_html_(&self) -> String {
        report::html(&describe_prediction(&self.0, &self.1, DisplayUnits::Metric))
    }

    fn __repr__(&self) -> String {
        let text = |(outcome, predicted): (Outcome, Option<&Predicted>)| {
            let unit = &outcome.quantity().units()[0];
            let (low, high) = predicted?.interval_95;
            let (low, high) = (attributes::short(unit.from_si(low)), attributes::short(unit.from_si(high)));
            Some(format!("{}={low}..{high}", outcome.quantity().customary_name(outcome.name())))
        };
        let all: Vec<_> = self.0.all().filter_map(text).collect();
        format!("Prediction({:?}, {})", self.verdict(), all.join(", "))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Prediction", name, &self.attributes())
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &slf.get().attributes())
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
