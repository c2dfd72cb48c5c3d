//! Objects that hold rows: a row by its number or its name.

use pyo3::exceptions::{PyIndexError, PyKeyError, PyTypeError};
use pyo3::prelude::*;
use risefit::units::nearest;

/// The number of the row that `index` means: a number, from the end if negative, or a name.
pub fn position(class: &str, names: &[String], index: &Bound<'_, PyAny>) -> PyResult<usize> {
    if let Ok(name) = index.extract::<String>() {
        return names.iter().position(|known| *known == name).ok_or_else(|| unknown(class, names, &name));
    }
    let found: isize = index.extract().map_err(|_| {
        PyTypeError::new_err(format!("`{class}` takes the number or the name of a row, such as {:?}", names.first()))
    })?;
    let n = names.len();
    let from_start = if found < 0 { found + n as isize } else { found };
    let within = usize::try_from(from_start).ok().filter(|i| *i < n);
    within.ok_or_else(|| PyIndexError::new_err(format!("`{class}` has {n} rows; there is no number {found}")))
}

fn unknown(class: &str, names: &[String], name: &str) -> PyErr {
    PyKeyError::new_err(match nearest(name, names.iter().map(String::as_str)) {
        Some(near) => format!("`{class}` has no row `{name}`; did you mean `{near}`?"),
        None => format!("`{class}` has no row `{name}`; it has {}", names.join(", ")),
    })
}
