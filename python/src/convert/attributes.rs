//! Results and records as Python attributes whose names end in a unit: every unit of the one table works.

use pyo3::exceptions::PyAttributeError;
use pyo3::prelude::*;
use pyo3::types::PyList;
use risefit::fit::Predicted;
use risefit::units::{NameFault, Quantity, Unit, renamed, resolve};

use super::arrays;
use super::predicted::PyPredicted;

/// A value in SI units.
#[derive(Clone, Copy)]
pub enum Value<'a> {
    /// One number; `None` in Python where it is absent.
    One(Option<f64>),
    /// One number of each time or opening; an array in Python, `None` where it is absent.
    Row(Option<&'a [f64]>),
    /// A number with its doubt.
    Predicted(Option<&'a Predicted>),
}

/// One attribute: its name without the unit, what it measures, its value.
pub type Attribute<'a> = (&'static str, Quantity, Value<'a>);

/// One number that is always there.
pub fn one(base: &'static str, quantity: Quantity, si: f64) -> Attribute<'static> {
    (base, quantity, Value::One(Some(si)))
}

/// One number that may be absent.
pub fn maybe(base: &'static str, quantity: Quantity, si: Option<f64>) -> Attribute<'static> {
    (base, quantity, Value::One(si))
}

/// A row of numbers.
pub fn row<'a>(base: &'static str, quantity: Quantity, si: &'a [f64]) -> Attribute<'a> {
    (base, quantity, Value::Row(Some(si)))
}

/// The value of the attribute called `name` in the unit that the name ends in; an `AttributeError` that says what
/// would do.
pub fn get<'py>(py: Python<'py>, class: &str, name: &str, all: &[Attribute<'_>]) -> PyResult<Bound<'py, PyAny>> {
    let known: Vec<_> = all.iter().map(|(base, quantity, _)| (*base, *quantity)).collect();
    match resolve(name, &known, &[]) {
        Ok((index, unit)) => in_unit(py, all[index].2, unit),
        Err(fault) => Err(PyAttributeError::new_err(no_attribute(class, name, fault))),
    }
}

/// For classes without numbers by name: an `AttributeError`, with the new name of what was renamed.
pub fn none(class: &str, name: &str) -> PyErr {
    let renamed = renamed(name).map(|new| format!("; it is called `{new}` now"));
    PyAttributeError::new_err(format!("`{class}` has no attribute `{name}`{}", renamed.unwrap_or_default()))
}

fn no_attribute(class: &str, name: &str, fault: NameFault) -> String {
    let none = format!("`{class}` has no attribute `{name}`");
    if let Some(new) = renamed(name) {
        return format!("{none}; it is called `{new}` now");
    }
    // Notebooks and NumPy ask for many names that begin with an underscore: no list for those.
    match fault {
        _ if name.starts_with('_') => none,
        NameFault::Unit { expected } => format!("{none}; a name ends in its unit: {}", expected.join(", ")),
        NameFault::Unknown { nearest: Some(near), .. } => format!("{none}; did you mean `{near}`?"),
        NameFault::Unknown { nearest: None, expected } => format!("{none}; it has {}", expected.join(", ")),
    }
}

fn in_unit<'py>(py: Python<'py>, value: Value<'_>, unit: &Unit) -> PyResult<Bound<'py, PyAny>> {
    match value {
        Value::One(si) => Ok(si.map(|si| unit.shortest(si)).into_pyobject(py)?),
        Value::Row(None) | Value::Predicted(None) => Ok(py.None().into_bound(py)),
        Value::Row(Some(si)) => Ok(arrays::array(py, si.iter().map(|si| unit.from_si(*si)).collect())?.into_any()),
        Value::Predicted(Some(predicted)) => Ok(Bound::new(py, PyPredicted::new(predicted, unit))?.into_any()),
    }
}

/// For `__dir__`: what the class has, and each attribute in its customary unit.
pub fn dir<'py>(object: &Bound<'py, PyAny>, all: &[Attribute<'_>]) -> PyResult<Bound<'py, PyList>> {
    let py = object.py();
    let own = py.import("builtins")?.getattr("object")?.call_method1("__dir__", (object,))?;
    let names = own.cast_into::<PyList>()?;
    all.iter().try_for_each(|(base, quantity, _)| names.append(quantity.customary_name(base)))?;
    Ok(names)
}

/// Columns for a frame: each row of numbers in its customary unit.
pub fn columns(all: &[Attribute<'_>]) -> Vec<(String, Vec<f64>)> {
    let column = |(base, quantity, value): &Attribute<'_>| match value {
        Value::Row(Some(si)) => {
            let unit = &quantity.units()[0];
            Some((quantity.customary_name(base), si.iter().map(|si| unit.from_si(*si)).collect()))
        }
        _ => None,
    };
    all.iter().filter_map(column).collect()
}

/// Single numbers for a `repr`: `charge_g=62, vent_mm=4`; what is absent is left out.
pub fn shown(all: &[Attribute<'_>]) -> String {
    let text = |(base, quantity, value): &Attribute<'_>| match value {
        Value::One(Some(si)) => {
            Some(format!("{}={}", quantity.customary_name(base), short(quantity.units()[0].shortest(*si))))
        }
        _ => None,
    };
    all.iter().filter_map(text).collect::<Vec<_>>().join(", ")
}

/// Six significant digits, without trailing zeros.
pub fn short(x: f64) -> f64 {
    format!("{x:.5e}").parse().unwrap_or(x)
}
