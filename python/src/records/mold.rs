//! Molds: loading, saving, looking at them and changing them.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::model::{Cavity, Vent};
use risefit::units::Quantity;
use risefit::{Error, Mold};

use super::slots::{Slot, of_argument, part_texts, set};
use crate::convert::attributes::{self, Attribute, maybe, one};
use crate::convert::{self, call, errors::to_python, pickle};

/// What can be set of a cavity as a whole, but for its clamp, which may be absent.
fn cavity(c: &mut Cavity) -> Vec<Slot<'_>> {
    let mut slots = vec![
        ("volume", Quantity::Volume, &mut c.volume),
        ("projected_area", Quantity::Area, &mut c.projected_area),
        ("wall_area", Quantity::Area, &mut c.wall_area),
        ("heat_transfer", Quantity::HeatTransfer, &mut c.heat_transfer),
        ("stretch", Quantity::Stretch, &mut c.stretch),
        ("gas_retention", Quantity::Number, &mut c.gas_retention),
        ("rate_factor", Quantity::Number, &mut c.rate_factor),
        ("discharge", Quantity::Fraction, &mut c.discharge),
    ];
    if let Some(line) = &mut c.parting_line {
        slots.push(("parting_length", Quantity::Length, &mut line.length));
        slots.push(("parting_land", Quantity::Length, &mut line.land));
        slots.push(("parting_gap", Quantity::Length, &mut line.gap));
        slots.push(("parting_opening", Quantity::Opening, &mut line.opening));
        slots.push(("parting_at_fill", Quantity::Fraction, &mut line.at_fill));
    }
    slots
}

fn cavity_attributes(mold: &Mold) -> Vec<Attribute<'static>> {
    let mut copy = mold.cavity.clone();
    let mut all: Vec<_> = cavity(&mut copy).into_iter().map(|(base, quantity, si)| one(base, quantity, *si)).collect();
    all.push(maybe("clamp_force", Quantity::Force, mold.cavity.clamp_force));
    all
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
        attributes::get(py, "Mold", name, &cavity_attributes(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &cavity_attributes(&slf.get().0))
    }

    fn __repr__(&self) -> String {
        let vents: Vec<_> = self.0.cavity.vents.iter().map(vent_text).collect();
        let numbers = attributes::shown(&cavity_attributes(&self.0));
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
    if name.starts_with("clamp_force") && value.is_none() {
        mold.clamp_force = None;
        return Ok(());
    }
    let row = if value.len().is_ok() { convert::numbers(name, value)? } else { vec![convert::number(name, value)?] };
    let of_vents = name.starts_with("vent");
    // Vents of a kind that has no such dimension are left alone, unless there are no others.
    let has_it = |vent: &Vent| row.first().is_some_and(|x| set(vent_slots(&mut vent.clone()), name, *x).is_ok());
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
        vents.enumerate().try_for_each(|(i, v)| set(vent_slots(v), name, from_row(i)))
    } else {
        let mut clamp = mold.clamp_force.unwrap_or_default();
        let mut slots = cavity(mold);
        slots.push(("clamp_force", Quantity::Force, &mut clamp));
        let result = set(slots, name, row[0]);
        if name.starts_with("clamp_force") {
            mold.clamp_force = Some(clamp);
        }
        result
    };
    result.map_err(|e| to_python(py, e))
}

fn vent_slots(vent: &mut Vent) -> Vec<Slot<'_>> {
    let dimensions = vent.kind.row().dimensions.iter().zip(vent.kind.values_mut());
    let mut slots: Vec<_> = dimensions.map(|(of, value)| (of.setting, of.quantity(), value)).collect();
    slots.push(("vent_at_fill", Quantity::Fraction, &mut vent.at_fill));
    slots
}
