//! How a cup test is run, from keyword arguments with units in their names.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::units::parse;
use risefit::{CUP_SETTINGS, CupSettings, Error};

use crate::convert::{self, errors::to_python};

/// The settings of a call, SI.
pub fn read(py: Python<'_>, settings: Option<&Bound<'_, PyDict>>) -> PyResult<CupSettings> {
    let mut given = CupSettings::new();
    for (name, value) in convert::quantities(settings)? {
        let reading = parse(&name, value, &CUP_SETTINGS).map_err(|e| to_python(py, e))?;
        if given.insert(reading.base, reading.value).is_some() {
            let error = Error::argument(name, "the same setting twice", "one value", "keep one of the two");
            return Err(to_python(py, error));
        }
    }
    Ok(given)
}

/// Times that can be read: from 0 on, rising.
pub fn check_times(times: &[f64]) -> risefit::Result<()> {
    let rising = times.windows(2).all(|pair| pair[0] <= pair[1]) && times.first().is_none_or(|first| *first >= 0.0);
    if rising {
        return Ok(());
    }
    Err(Error::argument("times_s", "times out of order", "times from 0 on, rising", "sort them"))
}
