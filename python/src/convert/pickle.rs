//! Pickling and comparing: records and results as bytes, exact to the last bit, absent readings and infinities
//! included.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyTuple};
use risefit::Error;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::errors::to_python;

/// What `__reduce__` gives: the class's `_unpickle` and the bytes for it.
pub fn reduce<'py, T: Serialize>(
    object: &Bound<'py, PyAny>,
    inner: &T,
) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
    let py = object.py();
    let bytes = postcard::to_allocvec(inner).map_err(|e| refuse(py, &e.to_string()))?;
    let args = PyTuple::new(py, [PyBytes::new(py, &bytes)])?;
    Ok((object.get_type().getattr("_unpickle")?, args))
}

/// Whether two objects are the same to the last bit; what is not a number equals itself.
pub fn same<T: Serialize>(one: &T, other: &T) -> bool {
    match (postcard::to_allocvec(one), postcard::to_allocvec(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// The record in the bytes of a pickle.
pub fn restore<T: DeserializeOwned>(data: &Bound<'_, PyBytes>) -> PyResult<T> {
    postcard::from_bytes(data.as_bytes()).map_err(|e| refuse(data.py(), &e.to_string()))
}

fn refuse(py: Python<'_>, found: &str) -> PyErr {
    let advice = "make it again with this version";
    to_python(py, Error::argument("pickle", found, "an object pickled by this version of risefit", advice))
}
