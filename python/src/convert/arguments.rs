//! What comes in from Python: objects of a class, named quantities, rows of numbers.

use numpy::{PyArray1, PyArrayMethods};
use pyo3::PyTypeCheck;
use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDict};
use risefit::Error;

use super::errors::to_python;

const FINITE: &str = "a finite number";
const ROW: &str = "a row of numbers, shape (n,)";

/// One object of a class, or several of them; `expected` says so in words.
pub fn one_or_several<'py, T: PyTypeCheck>(given: &Bound<'py, PyAny>, expected: &str) -> PyResult<Vec<Bound<'py, T>>> {
    if let Ok(one) = given.cast::<T>() {
        return Ok(vec![one.clone()]);
    }
    let refused = |found: &Bound<'_, PyAny>| match found.get_type().name() {
        Ok(found) => PyTypeError::new_err(format!("expected {expected}; got {found}")),
        Err(error) => error,
    };
    let items = given.try_iter().map_err(|_| refused(given))?;
    let one = |item: PyResult<Bound<'py, PyAny>>| item?.cast_into::<T>().map_err(|error| refused(&error.into_inner()));
    items.map(one).collect()
}

/// Named numbers from keyword arguments, such as `charge_g=58`, in the order given. `None` stands for "not given".
/// Names and units are not looked at here: that is the unit table's work.
pub fn quantities(kwargs: Option<&Bound<'_, PyDict>>) -> PyResult<Vec<(String, f64)>> {
    let Some(kwargs) = kwargs else { return Ok(Vec::new()) };
    let given = kwargs.iter().filter(|(_, value)| !value.is_none());
    given.map(|(name, value)| one_quantity(name.extract()?, &value)).collect()
}

fn one_quantity(name: String, value: &Bound<'_, PyAny>) -> PyResult<(String, f64)> {
    let number = number(&name, value)?;
    Ok((name, number))
}

/// One finite number: an int, a float, or anything that turns into a float without loss, such as a NumPy scalar.
pub fn number(name: &str, value: &Bound<'_, PyAny>) -> PyResult<f64> {
    let found = if is_truth_value(value) { None } else { value.extract::<f64>().ok() };
    match found {
        Some(number) if number.is_finite() => Ok(number),
        _ => Err(refuse(value, name, shown(value), FINITE, "give one number in the unit that the name ends in")),
    }
}

/// `True` counts as 1 in Python; as a mass or a length it is a slip. NumPy has a type of its own for it.
fn is_truth_value(value: &Bound<'_, PyAny>) -> bool {
    let numpy_bool = || value.get_type().name().is_ok_and(|name| name == "bool" || name == "bool_");
    value.is_instance_of::<PyBool>() || numpy_bool()
}

/// A row of finite numbers: a list, a tuple, a one-dimensional NumPy array or a column of a frame.
pub fn numbers(name: &str, value: &Bound<'_, PyAny>) -> PyResult<Vec<f64>> {
    let row = numbers_with_gaps(name, value)?;
    match row.iter().position(|x| x.is_nan()) {
        None => Ok(row),
        Some(at) => {
            let found = format!("nan at index {at}");
            Err(refuse(value, name, found, "numbers without gaps", "leave that row out or fill the gap"))
        }
    }
}

/// As [`numbers`], but NaN may stand where a value is absent. Infinities are refused.
pub fn numbers_with_gaps(name: &str, value: &Bound<'_, PyAny>) -> PyResult<Vec<f64>> {
    let array = value.py().import("numpy")?.call_method1("asarray", (value,)).map_err(|_| {
        refuse(value, name, shown(value), ROW, "give a flat list or a one-dimensional array, all entries numbers")
    })?;
    check_shape(name, &array)?;
    check_kind(name, value, &array)?;
    let row = array.call_method1("astype", ("float64",))?.cast_into::<PyArray1<f64>>()?.to_vec()?;
    match row.iter().position(|x| x.is_infinite()) {
        None => Ok(row),
        Some(at) => {
            let found = format!("{} at index {at}", row[at]);
            Err(refuse(value, name, found, FINITE, "correct that entry, or put nan where a value is absent"))
        }
    }
}

fn check_shape(name: &str, array: &Bound<'_, PyAny>) -> PyResult<()> {
    if array.getattr("ndim")?.extract::<usize>()? == 1 {
        return Ok(());
    }
    let shape = array.getattr("shape")?.repr()?;
    Err(refuse(array, name, format!("shape {shape}"), ROW, "pass one column at a time, or flatten it"))
}

/// Signed and unsigned integers and floats are numbers; texts, truth values, dates and mixtures are not.
fn check_kind(name: &str, value: &Bound<'_, PyAny>, array: &Bound<'_, PyAny>) -> PyResult<()> {
    let dtype = array.getattr("dtype")?;
    if matches!(dtype.getattr("kind")?.extract::<&str>()?, "i" | "u" | "f") {
        return Ok(());
    }
    let found = format!("{} of type {dtype}", shown(value));
    Err(refuse(value, name, found, ROW, "turn texts into numbers first; put nan where a value is absent"))
}

/// What was given, short enough for a message.
fn shown(value: &Bound<'_, PyAny>) -> String {
    let kind = value.get_type().name().map(|n| n.to_string()).unwrap_or_else(|_| "object".to_owned());
    match value.repr() {
        Ok(text) if text.to_string().chars().count() <= 60 => text.to_string(),
        _ => format!("a {kind}"),
    }
}

fn refuse(at: &Bound<'_, PyAny>, name: &str, found: String, expected: &str, advice: &str) -> PyErr {
    to_python(at.py(), Error::argument(name, found, expected, advice))
}
