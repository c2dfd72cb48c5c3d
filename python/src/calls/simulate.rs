//! Simulates a casting, or a free rise in a cup.

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::convert::{self, call, errors::to_python};
use crate::records::{PyGrade, PyMold};
use crate::results::{POINTS, PyFreeRise, PyRun};
use crate::settings::fit_options::checked;
use crate::settings::{PyCasting, casting as casting_of, cup_test};

/// Simulates one casting of a grade in a mold: settings by name, as in `Casting`, or one `Casting` and changes to it.
/// `accuracy` is the relative error per step; `layers` of foam instead of the mold's.
#[pyfunction]
#[pyo3(signature = (grade, mold, casting=None, /, *, accuracy=1e-6, layers=None, **settings))]
pub fn simulate(
    py: Python<'_>,
    grade: &Bound<'_, PyGrade>,
    mold: &Bound<'_, PyMold>,
    casting: Option<&Bound<'_, PyCasting>>,
    accuracy: f64,
    layers: Option<usize>,
    settings: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyRun> {
    let accuracy = checked(accuracy).map_err(|e| to_python(py, e))?;
    let casting = casting_of(py, casting, settings)?;
    let (foam, mold) = (&grade.get().0.constants, mold.get().in_layers(layers));
    call::run(py, || risefit::simulate(foam, &mold.cavity, &casting, POINTS, accuracy)).map(PyRun)
}

/// Simulates a free rise.
///
/// Needed: `mass_g`, `mix_temp_C`. Others, with what is assumed: `ambient_temp_C` (that of the mix),
/// `ambient_pressure_kPa` (absolute) or `altitude_m` (sea level), `cup_diameter_mm` or `cup_bottom_diameter_mm` and
/// `cup_top_diameter_mm`, with `cup_height_mm` (no cup: no heights), `heat_area_cm2` (the cup's inside; no cup: 0),
/// `cup_heat_transfer_W_m2K` (8), `core_heat_loss_factor` (0.1: the share of the mean loss of heat that the core
/// feels), `sensor_lag_s` (0). `times_s` are the times to read it at; by default 0 to 300 s, every second. `accuracy`
/// is the relative error per step. Raises `ArgumentError`, `IntegrationError`.
#[pyfunction]
#[pyo3(signature = (grade, *, times_s=None, accuracy=1e-6, **settings))]
pub fn free_rise(
    py: Python<'_>,
    grade: &Bound<'_, PyGrade>,
    times_s: Option<&Bound<'_, PyAny>>,
    accuracy: f64,
    settings: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyFreeRise> {
    let given = cup_test::read(py, settings)?;
    let accuracy = checked(accuracy).map_err(|e| to_python(py, e))?;
    let times = match times_s {
        Some(times) => convert::numbers("times_s", times)?,
        None => (0..=300).map(f64::from).collect(),
    };
    cup_test::check_times(&times).map_err(|e| to_python(py, e))?;
    let foam = &grade.get().0.constants;
    call::run(py, || {
        let (test, cup) = risefit::cup_test(&given)?;
        let rise = risefit::free_rise(foam, &test, &times, accuracy)?;
        Ok(PyFreeRise::new(rise, times, test.mass, cup))
    })
}
