//! Numbers of a record that can be set, and changes to them.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::Error;
use risefit::units::{Quantity, parse};

/// A number that can be set: its name without the unit, what it measures, where it is.
pub type Slot<'a> = (&'static str, Quantity, &'a mut f64);

/// Sets the number that `name` means.
pub fn set(slots: Vec<Slot<'_>>, name: &str, value: f64) -> risefit::Result<()> {
    let table: Vec<_> = slots.iter().map(|(base, quantity, _)| (*base, *quantity)).collect();
    let reading = parse(name, value, &table)?;
    slots.into_iter().filter(|(base, ..)| *base == reading.base).for_each(|(.., slot)| *slot = reading.value);
    Ok(())
}

/// Turns what the file reader says of a changed record into an error about the argument.
pub fn of_argument(error: Error) -> Error {
    match error {
        Error::BadValue { place, found, expected, advice } => {
            let field = place.field.unwrap_or_default();
            let name = field.rsplit('.').next().unwrap_or_default().to_owned();
            Error::Argument { name, found, expected, advice }
        }
        other => other,
    }
}

/// Takes `name` and `note` out of the changes; the rest are quantities.
pub fn part_texts(
    changes: &Bound<'_, PyDict>,
    name: &mut String,
    note: &mut String,
) -> PyResult<Vec<(String, Py<PyAny>)>> {
    let mut rest = Vec::new();
    for (key, value) in changes.iter() {
        match key.extract::<&str>()? {
            "name" => *name = value.extract()?,
            "note" => *note = value.extract()?,
            other => rest.push((other.to_owned(), value.unbind())),
        }
    }
    Ok(rest)
}
