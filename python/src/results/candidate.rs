//! A candidate setting of a decision as a dict of plain values.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::decide::Candidate;

/// A setting as a dict: what to cast, its chance, medians of what comes out.
pub fn candidate_dict<'py>(py: Python<'py>, setting: &Candidate) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    let mm: Vec<f64> = setting.casting.vent_diameters.iter().map(|d| 1e3 * d).collect();
    dict.set_item("charge_g", 1e3 * setting.casting.charge)?;
    dict.set_item("drill", setting.drill.as_ref().map(|d| d.name.as_str()))?;
    dict.set_item("vent_mm", mm)?;
    dict.set_item("chance", setting.chances.good)?;
    dict.set_item("density_kg_m3", setting.chances.density.0)?;
    dict.set_item("peak_pressure_kPa", setting.chances.peak_pressure.0 / 1e3)?;
    dict.set_item("vent_loss_g", 1e3 * setting.chances.vent_loss)?;
    Ok(dict)
}
