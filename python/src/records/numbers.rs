//! Numbers of a record by name: as attributes, and changes to them.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::Error;
use risefit::model::Number;
use risefit::units::{Quantity, parse};

use crate::convert::attributes::{Attribute, maybe};

/// The numbers of a record as attributes; `None` where it is without one.
pub fn numbers<T>(table: &'static [Number<T>], record: &T) -> Vec<Attribute<'static>> {
    table.iter().map(|number| maybe(number.name(), number.quantity(), number.of(record))).collect()
}

/// The number that `name` means, and `value` in SI.
pub fn read<T>(table: &'static [Number<T>], name: &str, value: f64) -> risefit::Result<(&'static Number<T>, f64)> {
    let names: Vec<(&'static str, Quantity)> = table.iter().map(|n| (n.name(), n.quantity())).collect();
    let reading = parse(name, value, &names)?;
    let number = table.iter().find(|number| number.name() == reading.base);
    let unknown = || Error::argument(name, value, "a number of this record", "look at its attributes");
    Ok((number.ok_or_else(unknown)?, reading.value))
}

/// Sets the number that `name` means.
pub fn set<T>(table: &'static [Number<T>], record: &mut T, name: &str, value: f64) -> risefit::Result<()> {
    let (number, si) = read(table, name, value)?;
    if number.set(record, si) {
        return Ok(());
    }
    let advice = "describe it in the mold's file first: `[parting_line]`";
    Err(Error::argument(name, value, "nothing: this mold has no parting line", advice))
}

/// Takes out the number that `name` means; whether a record can be without it.
pub fn clear<T>(table: &'static [Number<T>], record: &mut T, name: &str) -> bool {
    let named = |number: &&Number<T>| number.quantity().accepted_names(number.name()).iter().any(|known| known == name);
    table.iter().find(named).is_some_and(|number| number.clear(record))
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
