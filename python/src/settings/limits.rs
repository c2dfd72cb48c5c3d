//! Limits that a part must keep, as given in Python: pairs of numbers by name.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::Error;
use risefit::fit::Limits;
use risefit::units::parse;

use crate::convert::{self, errors::to_python};

/// The limits of a call.
pub fn limits(given: Option<&Bound<'_, PyDict>>) -> PyResult<Limits> {
    let mut limits = Limits::default();
    for (name, value) in given.into_iter().flatten() {
        let name: String = name.extract()?;
        let (base, range) = range(&name, &value)?;
        Limits::OF.into_iter().filter(|of| of.name() == base).for_each(|of| limits.set(of, range));
    }
    Ok(limits)
}

fn range(name: &str, value: &Bound<'_, PyAny>) -> PyResult<(&'static str, (f64, f64))> {
    let refuse = |e: Error| to_python(value.py(), e);
    let pair = convert::numbers(name, value)?;
    let &[low, high] = pair.as_slice() else {
        let found = format!("{pair:?}");
        return Err(refuse(Error::argument(name, found, "two numbers, the smaller first", "give (low, high)")));
    };
    if low > high {
        let found = format!("{low} to {high}");
        return Err(refuse(Error::argument(name, found, "the smaller number first", "swap the two")));
    }
    let names = Limits::OF.map(|of| (of.name(), of.quantity()));
    let low = parse(name, low, &names).map_err(refuse)?;
    let high = parse(name, high, &names).map_err(refuse)?;
    Ok((low.base, (low.value, high.value)))
}
