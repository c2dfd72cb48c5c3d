//! A grade fitted to its cup tests.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyTuple};
use risefit::fit::{Estimate, FreeRiseFit};
use risefit::report::{DisplayUnits, ModelCurve, describe_free_rise, describe_free_rise_text};

use super::estimates::PyEstimates;
use super::logs::PyFittedLogs;
use super::posterior::{self, PyPosterior, Request};
use super::profile::{self, PyProfile};
use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{self, attributes, call, pickle};
use crate::records::PyGrade;

/// A grade fitted to cup tests.
#[pyclass(frozen, name = "FreeRiseFit", module = "risefit")]
pub struct PyFreeRiseFit(pub FreeRiseFit);

#[pymethods]
impl PyFreeRiseFit {
    /// The fitted grade.
    #[getter]
    fn grade(&self) -> PyGrade {
        PyGrade(self.0.grade.clone())
    }

    /// Whether the optimizer converged and its starts agree; no judgment of whether the records can be believed.
    #[getter]
    fn converged(&self) -> bool {
        self.0.converged
    }

    /// What the user should know, in words.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.0.warnings.clone()
    }

    /// Starts that ended in the answer, and how many there were.
    #[getter]
    fn agreeing_starts(&self) -> (usize, usize) {
        self.0.agreeing_starts
    }

    /// Correlation of the shared parameters, shape (k, k), in the order of `parameter_names`.
    #[getter]
    fn correlation<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let c = &self.0.covariance;
        let sd = |j: usize| c[[j, j]].max(0.0).sqrt();
        let of = |a: usize, b: usize| match sd(a) * sd(b) {
            product if product > 0.0 => c[[a, b]] / product,
            _ => f64::from(u8::from(a == b)),
        };
        let k = c.nrows();
        convert::matrix(py, (0..k).flat_map(|a| (0..k).map(move |b| (a, b))).map(|(a, b)| of(a, b)).collect(), k)
    }

    /// Names of the shared parameters with their units.
    #[getter]
    fn parameter_names(&self) -> Vec<String> {
        self.0.estimates.iter().filter(|e| e.record.is_none()).map(Estimate::name).collect()
    }

    /// Every parameter with its error and status: first the shared ones, then each log's own.
    #[getter]
    fn estimates(&self) -> PyEstimates {
        PyEstimates(self.0.estimates.clone())
    }

    /// Each log with its fitted curve.
    #[getter]
    fn logs(&self) -> PyFittedLogs {
        PyFittedLogs(self.0.logs.clone())
    }

    /// The fit as a dict of plain Python values.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("grade", &self.0.grade.name)?;
        dict.set_item("logs", self.0.logs.iter().map(|l| l.log.name.as_str()).collect::<Vec<_>>())?;
        dict.set_item("converged", self.0.converged)?;
        dict.set_item("agreeing_starts", self.0.agreeing_starts)?;
        dict.set_item("estimates", PyEstimates::summary(py, &self.0.estimates)?)?;
        dict.set_item("warnings", self.warnings())?;
        Ok(dict)
    }

    /// Moves a shared parameter, all others fitted anew at each place, until the fit gets worse than the records
    /// allow: an interval that need not be symmetric. `parameter` is a name as in `parameter_names`. Ctrl-C stops it.
    /// Raises `ArgumentError` for a parameter that was not fitted, `FitError`.
    /// `threads` (`None`: one for each core) changes no bit, as everywhere.
    #[pyo3(signature = (parameter, *, threads=None))]
    fn profile(&self, py: Python<'_>, parameter: &str, threads: Option<usize>) -> PyResult<PyProfile> {
        profile::walk(py, parameter, threads, |parameter, options| self.0.profile(parameter, options))
    }

    /// Draws from the posterior: what the records leave possible, beyond the normal distribution around the best fit.
    ///
    /// `draws` are kept of each of `chains` chains after `warmup`; the same `seed` gives the same draws on however
    /// many `threads` (`None`: one per core). `progress(done, total)` is called meanwhile. `direct` walks along the
    /// simulations' own slopes (no-U-turn sampler) instead of letting polynomials propose: many times slower, a
    /// check. Ctrl-C stops it. Raises `FitError`, `ArgumentError`.
    #[pyo3(signature = (*, draws=1000, chains=4, warmup=300, seed=1, threads=None, progress=None, direct=false))]
    #[allow(clippy::too_many_arguments)]
    fn posterior(
        &self,
        py: Python<'_>,
        draws: usize,
        chains: usize,
        warmup: usize,
        seed: u64,
        threads: Option<usize>,
        progress: Option<Py<PyAny>>,
        direct: bool,
    ) -> PyResult<PyPosterior> {
        let request = Request { draws, chains, warmup, seed, threads, progress, direct };
        posterior::sample(py, request, None, |options| self.0.posterior(options))
    }

    /// All logs with their fitted curves.
    #[pyo3(signature = (*, title=None, width=900, height=600, units="metric"))]
    fn chart(&self, py: Python<'_>, title: Option<&str>, width: u32, height: u32, units: &str) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        let title = title.map_or_else(|| format!("Free rise of {}", self.0.grade.name), str::to_owned);
        call::run(py, || {
            let curves: Vec<_> = self.0.logs.iter().map(|log| (&log.log, ModelCurve::at_readings(log))).collect();
            let pairs: Vec<_> = curves.iter().map(|(log, curve)| (*log, Some(curve))).collect();
            risefit::report::rise_curve_chart(&pairs, &title, sheet).map(PyChart::new)
        })
    }

    /// The report, in `"metric"` or `"us"` units.
    #[pyo3(signature = (*, units="metric"))]
    fn report(&self, py: Python<'_>, units: &str) -> PyResult<String> {
        Ok(describe_free_rise_text(&self.0, report::units(py, units)?))
    }

    fn __str__(&self) -> String {
        describe_free_rise_text(&self.0, DisplayUnits::Metric)
    }

    fn _repr_html_(&self) -> String {
        report::html(&describe_free_rise(&self.0, DisplayUnits::Metric))
    }

    fn __repr__(&self) -> String {
        self.__str__()
    }

    fn __getattr__(&self, name: &str) -> PyResult<Py<PyAny>> {
        Err(attributes::none("FreeRiseFit", name))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyFreeRiseFit)
    }
}
