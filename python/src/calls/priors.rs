//! The prior of every parameter: what is expected of it before any record.

use pyo3::prelude::*;
use pyo3::types::PyDict;

use risefit::model::Parameter;

/// The prior of every parameter, what is expected of it before any record: `{name: (median, spread)}`, in the unit of
/// the name. The spread is a factor (one standard deviation of the logarithm) for what cannot be negative, and a
/// standard deviation for the errors of single records and the dome. Changed entries can be given back as `priors=`
/// of a fit.
#[pyfunction]
pub fn priors(py: Python<'_>) -> PyResult<Bound<'_, PyDict>> {
    let dict = PyDict::new(py);
    for parameter in Parameter::all() {
        let (label, prior) = (parameter.label(), parameter.prior());
        let spread = if prior.log { prior.sd.exp() } else { prior.sd * label.scale };
        dict.set_item(label.name, (prior.median * label.scale, spread))?;
    }
    Ok(dict)
}
