//! A grade fitted to its cup tests.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::fit::{Estimate, FittedLog, FreeRiseFit};
use risefit::report::{DisplayUnits, ModelCurve, describe_free_rise, describe_free_rise_text};

use super::estimates::{estimates_dict, estimates_frame};
use super::posterior::{self, PyPosterior, Request};
use super::profile::{self, PyProfile};
use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{self, call};
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

    /// Every parameter as a row of a `pandas.DataFrame`, in the unit of its name.
    fn estimates_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        estimates_frame(py, &self.0.estimates)
    }

    /// The fit as a dict of plain Python values.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("grade", &self.0.grade.name)?;
        dict.set_item("logs", self.0.logs.iter().map(|l| l.log.name.as_str()).collect::<Vec<_>>())?;
        dict.set_item("converged", self.0.converged)?;
        dict.set_item("agreeing_starts", self.0.agreeing_starts)?;
        dict.set_item("estimates", estimates_dict(py, &self.0.estimates)?)?;
        dict.set_item("warnings", self.warnings())?;
        Ok(dict)
    }

    /// Moves a shared parameter, all others fitted anew at each place, until the fit gets worse than the records allow: an
    /// interval that need not be symmetric. `parameter` is a name as in `parameter_names`. Ctrl-C stops it. Raises
    /// `ArgumentError` for a parameter that was not fitted, `FitError`.
    fn profile(&self, py: Python<'_>, parameter: &str) -> PyResult<PyProfile> {
        profile::walk(py, parameter, |parameter, options| self.0.profile(parameter, options))
    }

    /// Draws from the posterior: what the records leave possible, beyond the normal distribution around the best fit.
    ///
    /// `draws` are kept of each of `chains` chains after `warmup`; the same `seed` gives the same draws on however many
    /// `threads` (`None`: one per core). `progress(done, total)` is called meanwhile. `direct` walks along the simulations' own
    /// slopes (no-U-turn sampler) instead of letting polynomials propose: many times slower, a check. Ctrl-C stops it. Raises
    /// `FitError`, `ArgumentError`.
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
    #[pyo3(signature = (title=None, *, width=900, height=600, units="metric"))]
    fn chart(&self, py: Python<'_>, title: Option<&str>, width: u32, height: u32, units: &str) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        let title = title.map_or_else(|| format!("Free rise of {}", self.0.grade.name), str::to_owned);
        call::run(py, || {
            let curves: Vec<_> = self.0.logs.iter().map(|log| (&log.log, model_curve(log))).collect();
            let pairs: Vec<_> = curves.iter().map(|(log, curve)| (*log, Some(curve))).collect();
            risefit::report::rise_curve_chart(&pairs, &title, sheet).map(PyChart::new)
        })
    }

    /// One chart for each log, with residuals and stopwatch times, by the log's name.
    #[pyo3(signature = (*, width=900, height=600, units="metric"))]
    fn charts<'py>(&self, py: Python<'py>, width: u32, height: u32, units: &str) -> PyResult<Bound<'py, PyDict>> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        let dict = PyDict::new(py);
        for log in &self.0.logs {
            let draw = || risefit::report::rise_log_chart(&log.log, Some(&model_curve(log)), sheet);
            dict.set_item(&log.log.name, Bound::new(py, PyChart::new(call::run(py, draw)?))?)?;
        }
        Ok(dict)
    }

    /// The report, in `"metric"` or `"us"` units.
    #[pyo3(signature = (units="metric"))]
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
}

fn model_curve(log: &FittedLog) -> ModelCurve {
    let rise = &log.rise;
    let stopwatch = risefit::records::Stopwatch {
        cream: rise.cream_time,
        string_gel: rise.gel_time,
        end_of_rise: rise.end_of_rise,
        tack_free: rise.tack_free,
    };
    ModelCurve {
        time: log.log.time.clone(),
        height_or_volume: log.height_or_volume.clone(),
        sensed_temp: rise.sensed.clone(),
        stopwatch,
    }
}
