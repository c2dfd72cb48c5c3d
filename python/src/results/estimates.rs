//! Fitted parameters: value, error, interval and what the records say of each.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};
use risefit::fit::Estimate;

use crate::convert;

/// Estimates as a frame: name, value, standard error, 95 % interval, the prior's, status.
pub fn estimates_frame<'py>(py: Python<'py>, estimates: &[Estimate]) -> PyResult<Bound<'py, PyAny>> {
    let names = estimates.iter().map(Estimate::name).collect();
    let column =
        |what: fn(&Estimate) -> f64| estimates.iter().map(|e| what(e) * e.parameter.label().scale).collect::<Vec<_>>();
    let columns = [
        ("value", column(|e| e.value)),
        ("standard_error", column(|e| e.standard_error)),
        ("low_95", column(|e| e.interval_95.0)),
        ("high_95", column(|e| e.interval_95.1)),
        ("prior_low_95", column(|e| e.prior_95().0)),
        ("prior_high_95", column(|e| e.prior_95().1)),
    ];
    let columns = columns.into_iter().map(|(head, column)| (head.to_owned(), column)).collect();
    let frame = convert::frame_of_rows(py, "parameter", names, columns)?;
    let texts = |what: fn(&Estimate) -> String| PyList::new(py, estimates.iter().map(what));
    frame.set_item("unit", texts(|e| e.parameter.label().unit.to_owned())?)?;
    frame.set_item("status", texts(|e| e.status_words())?)?;
    Ok(frame)
}

/// Estimates as a dict of dicts.
pub fn estimates_dict<'py>(py: Python<'py>, estimates: &[Estimate]) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    for e in estimates {
        let (label, one) = (e.parameter.label(), PyDict::new(py));
        one.set_item("value", e.value * label.scale)?;
        one.set_item("standard_error", e.standard_error * label.scale)?;
        one.set_item("interval_95", (e.interval_95.0 * label.scale, e.interval_95.1 * label.scale))?;
        one.set_item("unit", label.unit)?;
        one.set_item("status", e.status_words())?;
        dict.set_item(e.name(), one)?;
    }
    Ok(dict)
}
