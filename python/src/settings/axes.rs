//! Axes from keyword arguments: a row of values is an axis, one value a setting that does not vary.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString, PyTuple};
use risefit::sweep::Axis;
use risefit::{Casting, Error, Setting};
use serde::{Deserialize, Serialize};

use super::casting::{self, PyCasting};
use crate::convert::{self, call, errors::to_python};

/// An axis as it was given.
#[derive(Clone, PartialEq, Serialize, Deserialize)]
pub struct Given {
    /// The name, with its unit.
    pub name: String,
    /// The values, in that unit.
    pub values: Vec<f64>,
}

/// Splits keyword arguments into the settings that do not vary and the axes, in the order given.
pub fn split(
    py: Python<'_>,
    casting: Option<&Bound<'_, PyCasting>>,
    kwargs: Option<&Bound<'_, PyDict>>,
) -> PyResult<(Casting, Vec<Given>, Vec<Axis>)> {
    let one_each = PyDict::new(py);
    let (mut given, mut axes) = (Vec::new(), Vec::new());
    for (name, value) in kwargs.into_iter().flatten() {
        let name: String = name.extract()?;
        if !is_row(&value) {
            one_each.set_item(name, value)?;
            continue;
        }
        let values = row(&name, &value)?;
        axes.push(call::run(py, || axis(&name, &values))?);
        one_each.set_item(&name, values[0])?;
        given.push(Given { name, values });
    }
    let base = casting::casting(py, casting, Some(&one_each))?;
    Ok((base, given, axes))
}

/// A NumPy scalar has no length; a text has one.
fn is_row(value: &Bound<'_, PyAny>) -> bool {
    value.len().is_ok() && !value.is_instance_of::<PyString>()
}

/// The values of an axis: a tuple is `(first, last, how many)`, anything else the values themselves.
fn row(name: &str, value: &Bound<'_, PyAny>) -> PyResult<Vec<f64>> {
    let values = match value.cast::<PyTuple>() {
        Ok(tuple) => spread(name, tuple)?,
        Err(_) => convert::numbers(name, value)?,
    };
    if values.is_empty() {
        let advice = "leave the axis out, or give values";
        return Err(to_python(value.py(), Error::argument(name, "no values", "at least one value", advice)));
    }
    Ok(values)
}

/// `count` values at equal distances, both ends included, as `numpy.linspace` has them.
fn spread(name: &str, tuple: &Bound<'_, PyTuple>) -> PyResult<Vec<f64>> {
    let refused = |found: String| {
        let advice = "a tuple is a range; for the values themselves give a list: [58, 60, 62]";
        to_python(tuple.py(), Error::argument(name, found, "(first, last, how many)", advice))
    };
    let found = || tuple.repr().map_or_else(|_| "a tuple".to_owned(), |text| text.to_string());
    let (3, Ok(count)) = (tuple.len(), tuple.get_item(2).and_then(|n| n.extract::<usize>())) else {
        return Err(refused(found()));
    };
    if count < 2 {
        return Err(refused(found()));
    }
    let (first, last) = (convert::number(name, &tuple.get_item(0)?)?, convert::number(name, &tuple.get_item(1)?)?);
    Ok(Axis::even(Setting::Charge, first, last, count).values)
}

/// An axis in SI units.
fn axis(name: &str, values: &[f64]) -> Result<Axis, Error> {
    let read: Vec<(Setting, f64)> = values.iter().map(|x| casting::in_si(name, *x)).collect::<Result<_, _>>()?;
    let Some((setting, _)) = read.first() else {
        return Err(Error::argument(name, "no values", "at least one value", "leave the axis out, or give values"));
    };
    Ok(Axis::list(*setting, read.iter().map(|(_, si)| *si).collect::<Vec<_>>()))
}
