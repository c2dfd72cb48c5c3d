//! Private handles by which the Python tests reach errors, panics and conversions directly.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::Error;
use risefit::error::Place;

use crate::convert::{self, call};

/// Not part of the public interface.
#[pymodule]
pub mod _probe {
    use super::*;

    /// Raises the specimen of the error with this number; `None` when there is none.
    #[pyfunction]
    fn raise_specimen(py: Python<'_>, number: usize) -> PyResult<()> {
        match specimens().into_iter().nth(number) {
            Some(error) => call::run(py, || Err(error)),
            None => Ok(()),
        }
    }

    /// Panics inside a call to the library.
    #[pyfunction]
    fn panic(py: Python<'_>) -> PyResult<()> {
        call::run(py, || panic!("the bottom fell out"))
    }

    #[pyfunction]
    #[pyo3(signature = (**kwargs))]
    fn quantities(kwargs: Option<&Bound<'_, PyDict>>) -> PyResult<Vec<(String, f64)>> {
        convert::quantities(kwargs)
    }

    #[pyfunction]
    fn numbers<'py>(name: &str, value: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        Ok(convert::array(value.py(), convert::numbers(name, value)?)?.into_any())
    }

    #[pyfunction]
    fn frame<'py>(name: &str, value: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        convert::frame(value.py(), vec![(name.to_owned(), convert::numbers_with_gaps(name, value)?)])
    }
}

/// One error of each kind, in the order of the variants.
fn specimens() -> Vec<Error> {
    let s = |text: &str| text.to_owned();
    let file = PathBuf::from("trials.csv");
    let place = Place { file: file.clone(), line: Some(3), field: Some(s("charge_g")) };
    vec![
        Error::Unreadable { file: file.clone(), reason: s("no such file") },
        Error::Empty { file, expected: s("a head line") },
        Error::Missing { place: place.clone(), expected: s("charge_g or charge_oz"), found: vec![s("vent_mm")] },
        Error::Unknown { place: place.clone(), found: s("charg_g"), nearest: None, expected: vec![s("charge_g")] },
        Error::Unit { place: place.clone(), found: s("charge"), expected: vec![s("charge_g"), s("charge_oz")] },
        Error::BadValue { place, found: s("6o"), expected: s("a number"), advice: s("write 60") },
        Error::argument("charge_g", -1.0, "more than 0", "weigh it again"),
        Error::Casting { trial: Some(s("T1")), what: s("too much foam"), advice: s("pour less") },
        Error::Integration { trial: None, time_s: 12.5, reason: s("step too small"), suspect: s("gel_rate") },
        Error::TooFewRecords { wanted: s("a vent fit"), found: s("one casting"), advice: s("cast another") },
        Error::Fit { reason: s("no minimum"), advice: s("fix the viscosity") },
        Error::Canceled { before: s("all draws were cast"), advice: s("ask again") },
    ]
}
