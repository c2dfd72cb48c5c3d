//! A mold and a grade calibrated to castings, and what can be asked of them.

use std::sync::Arc;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyTuple};
use risefit::fit::{Calibration, FittedCasting};
use risefit::report::{DisplayUnits, calibration_chart, describe_calibration, describe_calibration_text};

use super::castings::PyFittedCastings;
use super::diagnosis::{PyDiagnosis, diagnosed};
use super::estimates::PyEstimates;
use super::next_trial::PyNextTrial;
use super::outcomes::PyOutcomes;
use super::posterior::{self, PyPosterior, Request};
use super::prediction::PyPrediction;
use super::profile::{self, PyProfile};
use super::recommendation::{PyRecommendation, ask};
use super::run::PyRun;
use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{attributes, call, pickle};
use crate::records::{PyGrade, PyMold};
use crate::settings::{PyCasting, casting, question};

/// A mold and a grade calibrated to castings.
#[pyclass(frozen, name = "Calibration", module = "risefit")]
pub struct PyCalibration(pub Arc<Calibration>);

impl PyCalibration {
    fn recommended(
        &self,
        py: Python<'_>,
        casting: Option<&Bound<'_, PyCasting>>,
        (draws, seed, threads): (usize, u64, Option<usize>),
        asked: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<PyRecommendation> {
        let question = question(py, casting, asked, self.0.mold.cavity.volume)?;
        let unsure = if self.0.converged { Vec::new() } else { self.0.warnings.clone() };
        ask(py, &question, unsure, threads, |cancel| self.0.draws_until(draws, seed, cancel))
    }
}

#[pymethods]
impl PyCalibration {
    /// The grade, as the castings leave it.
    #[getter]
    fn grade(&self) -> PyGrade {
        PyGrade(self.0.grade.clone())
    }

    /// The mold, as the castings leave it. Vents given as settings of a casting are corrected in `simulate` and
    /// `predict`.
    #[getter]
    fn mold(&self) -> PyMold {
        PyMold(self.0.mold.clone())
    }

    /// Ratio of the castings' misfit to what their scatter is believed to allow.
    #[getter]
    fn misfit_ratio(&self) -> f64 {
        self.0.misfit_ratio
    }

    /// How much more than believed castings scatter in what is weighed and read, as these castings leave it;
    /// intervals count with that.
    #[getter]
    fn casting_scatter_factor(&self) -> f64 {
        self.0.casting_scatter
    }

    /// The same of what makes castings differ: lots, mix and wall temperatures, charges.
    #[getter]
    fn lot_scatter_factor(&self) -> f64 {
        self.0.lot_scatter
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

    /// Every parameter with its error and status: first the shared ones, then each casting's own.
    #[getter]
    fn estimates(&self) -> PyEstimates {
        PyEstimates(self.0.estimates.clone())
    }

    /// Each casting with what would have been predicted.
    #[getter]
    fn castings(&self) -> PyFittedCastings {
        PyFittedCastings(self.0.castings.clone())
    }

    /// The calibration as a dict of plain Python values.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("grade", &self.0.grade.name)?;
        dict.set_item("mold", &self.0.mold.name)?;
        dict.set_item("castings", self.0.castings.iter().map(|c| c.trial.name.as_str()).collect::<Vec<_>>())?;
        dict.set_item("converged", self.0.converged)?;
        dict.set_item("misfit_ratio", self.0.misfit_ratio)?;
        dict.set_item("casting_scatter_factor", self.0.casting_scatter)?;
        dict.set_item("lot_scatter_factor", self.0.lot_scatter)?;
        dict.set_item("agreeing_starts", self.0.agreeing_starts)?;
        dict.set_item("estimates", PyEstimates::summary(py, &self.0.estimates)?)?;
        dict.set_item("warnings", self.warnings())?;
        Ok(dict)
    }

    /// Simulates a casting at the best estimates, without intervals; settings as in `Casting`.
    #[pyo3(signature = (casting=None, /, **settings))]
    fn simulate(
        &self,
        py: Python<'_>,
        casting: Option<&Bound<'_, PyCasting>>,
        settings: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<PyRun> {
        let casting = self::casting(py, casting, settings)?;
        call::run(py, || self.0.simulate(&casting)).map(PyRun)
    }

    /// Predicts a casting with intervals; settings as in `Casting`.
    #[pyo3(signature = (casting=None, /, **settings))]
    fn predict(
        &self,
        py: Python<'_>,
        casting: Option<&Bound<'_, PyCasting>>,
        settings: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<PyPrediction> {
        let casting = self::casting(py, casting, settings)?;
        let prediction = call::run(py, || self.0.predict(&casting))?;
        Ok(PyPrediction(prediction, casting))
    }

    /// Moves a shared parameter, all others fitted anew at each place, until the fit gets worse than the records
    /// allow: an interval that need not be symmetric. `parameter` is a name as in `estimates`. Ctrl-C stops it.
    /// Raises `ArgumentError` for a parameter that was not fitted, `FitError`.
    /// `threads` (`None`: one for each core) changes no bit, as everywhere.
    #[pyo3(signature = (parameter, *, threads=None))]
    fn profile(&self, py: Python<'_>, parameter: &str, threads: Option<usize>) -> PyResult<PyProfile> {
        profile::walk(py, parameter, threads, |parameter, options| self.0.profile(parameter, options))
    }

    /// Draws from the posterior: what the records leave possible, sampled instead of fitted draw by draw.
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
        posterior::sample(py, request, Some(self.0.clone()), |options| self.0.posterior(options))
    }

    /// Casts these settings with `draws` draws of what is in doubt (fits of disturbed readings) and of how castings
    /// scatter; settings as in `Casting`. The same `seed` gives the same draws, for all settings: outcomes compare
    /// draw by draw.
    #[pyo3(signature = (casting=None, /, *, draws=1000, seed=1, threads=None, **settings))]
    fn outcomes(
        &self,
        py: Python<'_>,
        casting: Option<&Bound<'_, PyCasting>>,
        draws: usize,
        seed: u64,
        threads: Option<usize>,
        settings: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<PyOutcomes> {
        let casting = self::casting(py, casting, settings)?;
        PyOutcomes::cast(py, casting, threads, |cancel| self.0.draws_until(draws, seed, cancel))
    }

    /// The charge and vent most likely to give a good part: full, without flash, `target_density_kg_m3` within
    /// `tolerance_percent` (3), and, if given, a peak gauge pressure within `pressure_kPa=(floor, ceiling)`.
    ///
    /// `drills_mm=[3, 3.5]` or `drills=["1/8", "#30"]` are the drills the shop owns (if not given: 1 to 12 mm in
    /// steps of 0.5; `[]`: none), `vent_mm` the vents as they are (if not given: the mold's), which stay unless
    /// others gain something. `charges_g=(low, high)` and `charge_step_g` limit what is poured. Other settings as in
    /// `Casting`; its charge and vents are what is asked for. Raises `CastingError`, `ArgumentError`.
    #[pyo3(signature = (casting=None, /, *, draws=400, seed=1, threads=None, **asked))]
    fn recommend(
        &self,
        py: Python<'_>,
        casting: Option<&Bound<'_, PyCasting>>,
        draws: usize,
        seed: u64,
        threads: Option<usize>,
        asked: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<PyRecommendation> {
        self.recommended(py, casting, (draws, seed, threads), asked)
    }

    /// What to do next: as `recommend(...).next_trial(has_gauge=...)`. If not given, the mold has a gauge if a
    /// casting was read.
    #[pyo3(signature = (casting=None, /, *, has_gauge=None, draws=400, seed=1, threads=None, **asked))]
    #[allow(clippy::too_many_arguments)]
    fn next_trial(
        &self,
        py: Python<'_>,
        casting: Option<&Bound<'_, PyCasting>>,
        has_gauge: Option<bool>,
        draws: usize,
        seed: u64,
        threads: Option<usize>,
        asked: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<PyNextTrial> {
        let read = |c: &FittedCasting| c.trial.peak_pressure.is_some() || c.trial.trace.is_some();
        let has_gauge = has_gauge.unwrap_or_else(|| self.0.castings.iter().any(read));
        self.recommended(py, casting, (draws, seed, threads), asked)?.next_trial(py, has_gauge, threads)
    }

    /// Compares each casting with what the others predict for it, and weighs what may have happened to one that does
    /// not fit.
    ///
    /// `odds` says how often causes happen in this shop, of 100 castings: `{"leak": 10, "late_closing": 0}`; the
    /// other causes keep their usual odds (`Diagnosis.prior` shows them). A casting is odd if fewer than the share
    /// `odd_below` of castings would be as far off; at 1, causes are weighed for all. Ctrl-C stops it;
    /// `threads` as in `profile`. Raises `ArgumentError`, `FitError`.
    #[pyo3(signature = (*, odds=None, odd_below=0.01, threads=None))]
    fn diagnose(
        &self,
        py: Python<'_>,
        odds: Option<&Bound<'_, PyDict>>,
        odd_below: f64,
        threads: Option<usize>,
    ) -> PyResult<PyDiagnosis> {
        diagnosed(py, &self.0, odds, odd_below, threads)
    }

    /// Predicted against weighed part mass and measured peak pressure, with intervals.
    #[pyo3(signature = (*, width=900, height=600, units="metric"))]
    fn chart(&self, py: Python<'_>, width: u32, height: u32, units: &str) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        call::run(py, || calibration_chart(&self.0, sheet).map(PyChart::new))
    }

    /// The report, in `"metric"` or `"us"` units.
    #[pyo3(signature = (*, units="metric"))]
    fn report(&self, py: Python<'_>, units: &str) -> PyResult<String> {
        Ok(describe_calibration_text(&self.0, report::units(py, units)?))
    }

    fn __str__(&self) -> String {
        describe_calibration_text(&self.0, DisplayUnits::Metric)
    }

    fn _repr_html_(&self) -> String {
        report::html(&describe_calibration(&self.0, DisplayUnits::Metric))
    }

    fn __repr__(&self) -> String {
        self.__str__()
    }

    fn __getattr__(&self, name: &str) -> PyResult<Py<PyAny>> {
        Err(attributes::none("Calibration", name))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&*self.0, &*other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &*slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(|fit| PyCalibration(Arc::new(fit)))
    }
}
