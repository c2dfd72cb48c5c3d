//! Molds: loading, saving, looking at them and changing them.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::model::{Cavity, Vent, VentKindRow, vent_settings};
use risefit::records::CAVITY_NUMBERS;
use risefit::units::parse;
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

    /// How many layers of foam lie between wall and mid-plane; 1: the foam is one lump.
    #[getter]
    fn layers(&self) -> usize {
        self.0.cavity.layers
    }

    /// Each kind of vent: `count`, `diameter_mm`, `length_mm`, `at_fill`.
    #[getter]
    fn vents<'py>(&self, py: Python<'py>) -> PyResult<Vec<Bound<'py, PyDict>>> {
        self.0.cavity.vents.iter().map(|vent| vent_dict(py, vent)).collect()
    }

    /// The same mold with other values, `name` or `note`. `vent_mm` and `vent_length_mm` set all vents, or one each
    /// from a list; `clamp_force_N=None` bolts the mold; `layers=4` takes the foam in layers.
    #[pyo3(signature = (**changes))]
    fn replace(&self, py: Python<'_>, changes: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        let mut mold = self.0.clone();
        let Some(changes) = changes else { return Ok(PyMold(mold)) };
        for (name, value) in part_texts(changes, &mut mold.name, &mut mold.note)? {
            match name == "layers" {
                true => mold.cavity.layers = value.bind(py).extract()?,
                false => replace_in_mold(&mut mold.cavity, &name, value.bind(py))?,
            }
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
        let vents: Vec<_> = self.0.cavity.vents.iter().map(vent_text).collect();
        let numbers = attributes::shown(&cavity(&self.0));
        let layers = if self.layers() > 1 { format!(", layers={}", self.layers()) } else { String::new() };
        format!("Mold({:?}, {numbers}{layers}, vents: {})", self.0.name, vents.join(", "))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyMold)
    }
}

impl PyMold {
    /// The mold with so many layers of foam, where they are given.
    pub fn in_layers(&self, layers: Option<usize>) -> Mold {
        let mut mold = self.0.clone();
        mold.cavity.layers = layers.unwrap_or(mold.cavity.layers);
        mold
    }
}

fn vent_dict<'py>(py: Python<'py>, vent: &Vent) -> PyResult<Bound<'py, PyDict>> {
    let row = vent.kind.row();
    let dict = PyDict::new(py);
    dict.set_item("kind", row.name)?;
    dict.set_item("count", vent.count)?;
    for (dimension, si) in row.dimensions.iter().zip(vent.kind.values()) {
        dict.set_item(dimension.key(), dimension.quantity().units()[0].shortest(si))?;
    }
    dict.set_item("at_fill", vent.at_fill)?;
    Ok(dict)
}

/// Vents in short: `1 x 3 mm`, or of a kind that is not drilled its name.
fn vent_text(vent: &Vent) -> String {
    match vent.drilled() {
        Some(diameter) => format!("{} x {} mm", vent.count, attributes::short(diameter * 1e3)),
        None => format!("{} x {}", vent.count, vent.kind.row().name),
    }
}

fn replace_in_mold(mold: &mut Cavity, name: &str, value: &Bound<'_, PyAny>) -> PyResult<()> {
    let py = value.py();
    if value.is_none() && clear(&CAVITY_NUMBERS, mold, name) {
        return Ok(());
    }
    let row = if value.len().is_ok() { convert::numbers(name, value)? } else { vec![convert::number(name, value)?] };
    let of_vents = name.starts_with("vent");
    // Vents of a kind that has no such dimension are left alone, unless there are no others.
    let has_it = |vent: &Vent| row.first().is_some_and(|x| set_vent(&mut vent.clone(), name, *x).is_ok());
    let any_has_it = mold.vents.iter().any(has_it);
    let meant = |vent: &Vent| !any_has_it || has_it(vent);
    let count = mold.vents.iter().filter(|vent| meant(vent)).count();
    let one_each = of_vents && row.len() == count;
    if row.len() != 1 && !one_each || of_vents && mold.vents.is_empty() {
        let expected = format!("one number, or one for each of the mold's {count} kinds of vent");
        let error = Error::argument(name, format!("{} numbers", row.len()), expected, "look at `mold.vents`");
        return Err(to_python(py, error));
    }
    let result = if of_vents {
        let from_row = |i: usize| if one_each { row[i] } else { row[0] };
        let vents = mold.vents.iter_mut().filter(|vent| meant(vent));
        vents.enumerate().try_for_each(|(i, v)| set_vent(v, name, from_row(i)))
    } else {
        set(&CAVITY_NUMBERS, mold, name, row[0])
    };
    result.map_err(|e| to_python(py, e))
}

/// Writes a dimension of vents that is called so, or where the foam reaches them.
fn set_vent(vent: &mut Vent, name: &str, value: f64) -> risefit::Result<()> {
    let dimensions = vent.kind.row().dimensions;
    let own = |base: &str| dimensions.iter().position(|of| of.setting == base);
    let is_of_another_kind = |base: &str| VentKindRow::all().iter().any(|row| row.has(base)) && own(base).is_none();
    let known: Vec<_> = vent_settings().into_iter().filter(|(base, _)| !is_of_another_kind(base)).collect();
    let reading = parse(name, value, &known)?;
    match own(reading.base).and_then(|place| vent.kind.values_mut().into_iter().nth(place)) {
        Some(dimension) => *dimension = reading.value,
        None => vent.at_fill = reading.value,
    }
    Ok(())
}
