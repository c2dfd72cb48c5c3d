//! A simulated casting with its outcome, phases and courses.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::model::{Outcome, Run};
use risefit::records::Trace;
use risefit::units::Quantity;

use crate::convert::attributes::{self, Attribute, maybe, row};
use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{self, call, pickle};
use crate::records::PyTrial;

/// Times from pour to demold in a run's courses.
pub const POINTS: usize = 601;

/// One simulated casting. Pressures are gauge; what did not happen is `None`; courses are arrays over `time_s`.
#[pyclass(frozen, name = "Run", module = "risefit")]
pub struct PyRun(pub Run);

/// Outcome quantities and courses.
pub fn run_attributes(run: &Run) -> Vec<Attribute<'_>> {
    let mut all = outcome(run);
    all.extend(courses(run));
    all
}

fn outcome(run: &Run) -> Vec<Attribute<'static>> {
    Outcome::all().map(|outcome| maybe(outcome.name(), outcome.quantity(), outcome.of_run(run))).collect()
}

fn courses(run: &Run) -> Vec<Attribute<'_>> {
    let t = &run.trace;
    vec![
        row("time", Quantity::Time, &t.time),
        row("pressure", Quantity::GaugePressure, &t.pressure),
        row("fill", Quantity::Fraction, &t.fill),
        row("temp", Quantity::Temperature, &t.temp),
        row("core_temp", Quantity::Temperature, &t.core_temp),
        row("blown", Quantity::Fraction, &t.blown),
        row("gelled", Quantity::Fraction, &t.gelled),
        row("mass_in_cavity", Quantity::Mass, &t.mass),
        row("vent_loss_so_far", Quantity::Mass, &t.vent_loss),
        row("flash_so_far", Quantity::Mass, &t.flash),
        row("viscosity", Quantity::Viscosity, &t.viscosity),
    ]
}

/// The title of a chart and the trace shown in it.
pub fn charted<'a>(title: Option<&'a str>, trial: Option<&'a Bound<'_, PyTrial>>) -> (&'a str, Option<&'a Trace>) {
    let trial = trial.map(|trial| &trial.get().0);
    let title = title.or(trial.map(|trial| trial.name.as_str())).unwrap_or("Casting");
    (title, trial.and_then(|trial| trial.trace.as_ref()))
}

#[pymethods]
impl PyRun {
    /// `"full"`, `"short"`, `"flash"` or `"soft"`.
    #[getter]
    fn verdict(&self) -> &'static str {
        self.0.result.verdict.name()
    }

    /// Each phase with the time (s) at which it began: `"open"`, `"rising"`, `"filled"`, `"set"`.
    #[getter]
    fn phases(&self) -> Vec<(&'static str, f64)> {
        self.0.phases.iter().map(|(phase, time)| (phase.name(), *time)).collect()
    }

    /// Of foam in layers: the part as it gelled, from the wall to the middle, as arrays: `depth_mm`, `density_kg_m3`,
    /// `temp_C`, `blown`, `gelled`; `pandas.DataFrame(run.profile)` makes a frame of it. `None` of a lump.
    #[getter]
    fn profile<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyDict>>> {
        let Some(profile) = &self.0.profile else { return Ok(None) };
        let rows = [
            row("depth", Quantity::Length, &profile.depth),
            row("density", Quantity::Density, &profile.density),
            row("temp", Quantity::Temperature, &profile.temp),
            row("blown", Quantity::Fraction, &profile.blown),
            row("gelled", Quantity::Fraction, &profile.gelled),
        ];
        let dict = PyDict::new(py);
        for (name, values) in attributes::columns(&rows) {
            dict.set_item(name, convert::array(py, values)?)?;
        }
        Ok(Some(dict))
    }

    /// The courses as a `pandas.DataFrame`, one time a row, with the phase.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let frame = convert::frame(py, attributes::columns(&courses(&self.0)))?;
        let phases: Vec<_> = self.0.trace.phase.iter().map(|phase| phase.name()).collect();
        frame.set_item("phase", phases)?;
        Ok(frame)
    }

    /// The outcome under names with customary units.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("verdict", self.verdict())?;
        let all = outcome(&self.0);
        for (base, quantity, _) in &all {
            let name = quantity.customary_name(base);
            dict.set_item(&name, attributes::get(py, "Run", &name, &all)?)?;
        }
        Ok(dict)
    }

    /// Pressure, fill and temperature over time; with a trial, its trace as points, and about the pressure a band of
    /// what the model is believed to miss of it (one standard deviation).
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
        call::run(py, || risefit::report::casting_chart(&self.0, trace, title, sheet)).map(PyChart::new)
    }

    /// The run in words and a table, in `"metric"` or `"us"` units.
    #[pyo3(signature = (*, units="metric"))]
    fn report(&self, py: Python<'_>, units: &str) -> PyResult<String> {
        Ok(risefit::report::describe_run(&self.0, report::units(py, units)?))
    }

    fn __str__(&self, py: Python<'_>) -> PyResult<String> {
        self.report(py, "metric")
    }

    fn _repr_html_(&self) -> String {
        report::run_html(&self.0)
    }

    fn __repr__(&self) -> String {
        let shown = attributes::shown(&outcome(&self.0));
        format!("Run({:?}, {shown})", self.verdict())
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Run", name, &run_attributes(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &run_attributes(&slf.get().0))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyRun)
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }
}
