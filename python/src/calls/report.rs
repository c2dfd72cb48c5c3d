//! The whole job: its report on a screen, its page, charts and summary in a folder.

use std::path::PathBuf;

use pyo3::prelude::*;
use risefit::Casting;
use risefit::fit::Prediction;
use risefit::report::{main_job_text, write_main_job};

use crate::convert::report::units;
use crate::convert::{self, call};
use crate::results::{PyCalibration, PyFreeRiseFit, PyPrediction};

/// The report of a whole job on a screen or two, as text: predictions side by side, parameters, warnings, cautions.
///
/// `predictions` is one `Prediction` or several; `units` is `"metric"` or `"us"`.
#[pyfunction]
#[pyo3(signature = (fit, calibration, predictions, *, units="metric"))]
pub fn short_report(
    py: Python<'_>,
    fit: &Bound<'_, PyFreeRiseFit>,
    calibration: &Bound<'_, PyCalibration>,
    predictions: &Bound<'_, PyAny>,
    units: &str,
) -> PyResult<String> {
    let (units, predictions) = (self::units(py, units)?, several(predictions)?);
    let (fit, calibration) = (&fit.get().0, &calibration.get().0);
    call::run(py, || Ok(main_job_text(fit, calibration, &predictions, units)))
}

/// Writes `report.html`, `summary.json` and every chart as an SVG file into a folder, which is made if needed. Gives
/// the paths.
///
/// `predictions` and `units` as in `short_report`. Raises `ArgumentError` for a folder that cannot be written to.
#[pyfunction]
#[pyo3(signature = (fit, calibration, predictions, folder, *, units="metric"))]
pub fn write_report<'py>(
    py: Python<'py>,
    fit: &Bound<'py, PyFreeRiseFit>,
    calibration: &Bound<'py, PyCalibration>,
    predictions: &Bound<'py, PyAny>,
    folder: PathBuf,
    units: &str,
) -> PyResult<Vec<Bound<'py, PyAny>>> {
    let (units, predictions) = (self::units(py, units)?, several(predictions)?);
    let (fit, calibration) = (&fit.get().0, &calibration.get().0);
    let paths = call::run(py, || write_main_job(fit, calibration, &predictions, &folder, units))?;
    let path = py.import("pathlib")?.getattr("Path")?;
    paths.into_iter().map(|one| path.call1((one,))).collect()
}

/// One prediction or several, each with its settings.
fn several(given: &Bound<'_, PyAny>) -> PyResult<Vec<(Casting, Prediction)>> {
    let expected = "a Prediction or a list of them, as `Calibration.predict` gives them";
    let predictions = convert::one_or_several::<PyPrediction>(given, expected)?;
    Ok(predictions.iter().map(|one| (one.get().1.clone(), one.get().0.clone())).collect())
}
