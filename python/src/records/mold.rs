//! Molds: loading, saving, looking at them and changing them.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::model::{Cavity, Vent};
use risefit::records::{CAVITY_NUMBERS, VENT_NUMBERS};
use risefit::units::Quantity;
use risefit::{Error, Mold};

use super::numbers::{clear, numbers, of_argument, part_texts, set};
use crate::convert::attributes::{self, Attribute};
use crate::convert::{self, call, errors::to_python, pickle};

fn cavity(mold: &Mold) -> Vec<Attribute<'static>> {
    numbers(&CAVITY_NUMBERS, &mold.cavity)
}

/// A mold: a name, its cavity, vents, parting line and clamp.
#[pyclass(frozen, eq, name = "Mold", module = "risefit")]
#[derive(Clone, PartialEq)]
pub struct PyMold(pub Mold);

#[pymethods]
impl PyMold {
    /// Reads a mold from a TOML file.
    #[staticmethod]
    fn load(py: Python<'_>, path: PathBuf) -> PyResult<Self> {
        call::run(py, || Mold::load(path)).map(PyMold)
    }

    /// Writes the mold to a TOML file.
    fn save(&self, py: Python<'_>, path: PathBuf) -> PyResult<()> {
        call::run(py, || self.0.save(path))
    }

    /// Reads a mold from the text of a TOML file.
    #[staticmethod]
    fn from_toml(py: Python<'_>, text: &str) -> PyResult<Self> {
        call::run(py, || Mold::from_toml(text)).map(PyMold)
    }

    /// The text of its TOML file.
    fn to_toml(&self) -> String {
        self.0.to_toml()
    }

    #[getter]
    fn name(&self) -> &str {
        &self.0.name
    }

    #[getter]
    fn note(&self) -> &str {
        &self.0.note
    }

    /// Each kind of vent: `count`, `diameter_mm`, `length_mm`, `at_fill`.
    #[getter]
    fn vents<'py>(&self, py: Python<'py>) -> PyResult<Vec<Bound<'py, PyDict>>> {
        self.0.cavity.vents.iter().map(|vent| vent_dict(py, vent)).collect()
    }

    /// The same mold with other values, `name` or `note`. `vent_mm` and `vent_length_mm` set all vents, or one each from a
    /// list; `clamp_force_N=None` bolts the mold.
    #[pyo3(signature = (**changes))]
    fn replace(&self, py: Python<'_>, changes: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        let mut mold = self.0.clone();
        let Some(changes) = changes else { return Ok(PyMold(mold)) };
        for (name, value) in part_texts(changes, &mut mold.name, &mut mold.note)? {
            replace_in_mold(&mut mold.cavity, &name, value.bind(py))?;
        }
        call::run(py, || Mold::from_toml(&mold.to_toml()).map_err(of_argument))?;
        Ok(PyMold(mold))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Mold", name, &cavity(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &cavity(&slf.get().0))
    }

    fn __repr__(&self) -> String {
        let vents = self.0.cavity.vents.iter();
        let vents: Vec<_> =
            vents.map(|v| format!("{} x {} mm", v.count, attributes::short(v.diameter * 1e3))).collect();
        let numbers = attributes::shown(&cavity(&self.0));
        format!("Mold({:?}, {numbers}, vents: {})", self.0.name, vents.join(", "))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyMold)
    }
}

fn vent_dict<'py>(py: Python<'py>, vent: &Vent) -> PyResult<Bound<'py, PyDict>> {
    let mm = Quantity::Length.units()[0];
    let dict = PyDict::new(py);
    dict.set_item("count", vent.count)?;
    dict.set_item("diameter_mm", mm.shortest(vent.diameter))?;
    dict.set_item("length_mm", mm.shortest(vent.length))?;
    dict.set_item("at_fill", vent.at_fill)?;
    Ok(dict)
}

fn replace_in_mold(mold: &mut Cavity, name: &str, value: &Bound<'_, PyAny>) -> PyResult<()> {
    let py = value.py();
    if value.is_none() && clear(&CAVITY_NUMBERS, mold, name) {
        return Ok(());
    }
    let row = if value.len().is_ok() { convert::numbers(name, value)? } else { vec![convert::number(name, value)?] };
    let of_vents = name.starts_with("vent");
    let one_each = of_vents && row.len() == mold.vents.len();
    if row.len() != 1 && !one_each || of_vents && mold.vents.is_empty() {
        let expected = format!("one number, or one for each of the mold's {} kinds of vent", mold.vents.len());
        let error = Error::argument(name, format!("{} numbers", row.len()), expected, "look at `mold.vents`");
        return Err(to_python(py, error));
    }
    let result = if of_vents {
        let from_row = |i: usize| if one_each { row[i] } else { row[0] };
        mold.vents.iter_mut().enumerate().try_for_each(|(i, v)| set(&VENT_NUMBERS, v, name, from_row(i)))
    } else {
        set(&CAVITY_NUMBERS, mold, name, row[0])
    };
    result.map_err(|e| to_python(py, e))
}
