//! Sweeps in one call.

use std::sync::Arc;

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::results::{Plan, PySweep, PySweepResult};

/// Casts a grade in a mold, or a calibration, over a grid of settings.
///
/// A row of values is an axis, one value a setting that does not vary: a tuple `(first, last, how many)`, both ends
/// included, or a list or array of the values. Names and units as in `Casting`; `vent_mm` sets all vents alike (for
/// one diameter each, give a `Casting` before the settings). The last axis runs fastest. A list of (Grade, Mold)
/// pairs adds a first axis `draw`. `layers` of foam instead of the molds'; a calibration keeps its own. `threads`: one
/// for each core if not given; the numbers do not depend on it. `progress`: a function of (done, points), `True` or
/// `False`; if not given, a line on the terminal after a second. Ctrl-C raises `SweepInterrupted`, a
/// `KeyboardInterrupt` whose `partial` has what was cast. Raises `ArgumentError`.
#[pyfunction]
#[pyo3(signature = (*of, accuracy=None, layers=None, threads=None, progress=None, **settings))]
pub fn sweep(
    of: &Bound<'_, PyTuple>,
    accuracy: Option<f64>,
    layers: Option<usize>,
    threads: Option<usize>,
    progress: Option<&Bound<'_, PyAny>>,
    settings: Option<&Bound<'_, PyDict>>,
) -> PyResult<PySweepResult> {
    PySweep(Arc::new(Plan::new(of, accuracy, layers, settings)?)).run(of.py(), threads, progress)
}
