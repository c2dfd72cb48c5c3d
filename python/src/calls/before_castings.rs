//! What is asked of a mold that was never cast in.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::fit::Draws;

use super::known::known;
use crate::records::PyMold;
use crate::results::{PyOutcomes, PyRecommendation, ask};
use crate::settings::fit_options::options;
use crate::settings::{self, PyCasting, question};

/// The charge and vent to begin with in a mold that was never cast in: as `Calibration.recommend`, from `grade` as in
/// `calibrate` and the mold as described; `held` and `priors` as in `fit_free_rise`, `layers` as in `calibrate`. Raises
/// `CastingError`, `ArgumentError`.
#[pyfunction]
#[pyo3(
    name = "recommend",
    signature = (grade, mold, casting=None, /, *, draws=400, seed=1, held=None, priors=None, threads=None, layers=None, **asked)
)]
#[allow(clippy::too_many_arguments)]
pub fn recommend_before_castings(
    py: Python<'_>,
    grade: &Bound<'_, PyAny>,
    mold: &Bound<'_, PyMold>,
    casting: Option<&Bound<'_, PyCasting>>,
    draws: usize,
    seed: u64,
    held: Option<&Bound<'_, PyDict>>,
    priors: Option<&Bound<'_, PyDict>>,
    threads: Option<usize>,
    layers: Option<usize>,
    asked: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyRecommendation> {
    let options = options(py, 1, held, priors)?;
    let known = known(grade, &options)?;
    let mold = &mold.get().in_layers(layers);
    let question = question(py, casting, asked, mold.cavity.volume)?;
    ask(py, &question, Vec::new(), threads, |_| Draws::before_castings(&known, mold, &options, draws, seed))
}

/// The outcomes of a casting in a mold that was never cast in: `grade` as in `calibrate`, the mold as described;
/// `held` and `priors` as in `fit_free_rise`, `layers` as in `calibrate`; settings as in `Casting`. Raises
/// `CastingError`, `ArgumentError`.
#[pyfunction]
#[pyo3(
    signature = (grade, mold, casting=None, /, *, draws=1000, seed=1, held=None, priors=None, threads=None, layers=None, **settings)
)]
#[allow(clippy::too_many_arguments)]
pub fn outcomes_before_castings(
    py: Python<'_>,
    grade: &Bound<'_, PyAny>,
    mold: &Bound<'_, PyMold>,
    casting: Option<&Bound<'_, PyCasting>>,
    draws: usize,
    seed: u64,
    held: Option<&Bound<'_, PyDict>>,
    priors: Option<&Bound<'_, PyDict>>,
    threads: Option<usize>,
    layers: Option<usize>,
    settings: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyOutcomes> {
    let options = options(py, 1, held, priors)?;
    let known = known(grade, &options)?;
    let casting = settings::casting(py, casting, settings)?;
    let mold = &mold.get().in_layers(layers);
    PyOutcomes::cast(py, casting, threads, |_| Draws::before_castings(&known, mold, &options, draws, seed))
}
