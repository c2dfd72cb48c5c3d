//! Grades: loading, saving, looking at them and changing them.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::Grade;
use risefit::model::FoamConstants;
use risefit::units::Quantity;

use super::slots::{Slot, of_argument, part_texts, set};
use crate::convert::attributes::{self, Attribute, one};
use crate::convert::{self, call, errors::to_python, pickle};

/// The constants of a grade, in the order of the struct's fields.
fn constants(c: &mut FoamConstants) -> Vec<Slot<'_>> {
    vec![
        ("liquid_density", Quantity::Density, &mut c.liquid_density),
        ("heat_capacity", Quantity::HeatCapacity, &mut c.heat_capacity),
        ("induction", Quantity::Time, &mut c.induction),
        ("gas_yield", Quantity::GasYield, &mut c.gas_yield),
        ("blow_rate", Quantity::Rate, &mut c.blow_rate),
        ("blow_activation", Quantity::Activation, &mut c.blow_activation),
        ("gel_rate", Quantity::Rate, &mut c.gel_rate),
        ("gel_activation", Quantity::Activation, &mut c.gel_activation),
        ("competition", Quantity::Number, &mut c.competition),
        ("blow_heat", Quantity::TemperatureRise, &mut c.blow_heat),
        ("gel_heat", Quantity::TemperatureRise, &mut c.gel_heat),
        ("solubility", Quantity::Solubility, &mut c.solubility),
        ("air_fraction", Quantity::Fraction, &mut c.air_fraction),
        ("gel_conversion", Quantity::Fraction, &mut c.gel_conversion),
        ("rise_end_conversion", Quantity::Fraction, &mut c.rise_end_conversion),
        ("viscosity", Quantity::Viscosity, &mut c.viscosity),
        ("viscosity_activation", Quantity::Activation, &mut c.viscosity_activation),
        ("viscosity_a", Quantity::Number, &mut c.viscosity_a),
        ("viscosity_b", Quantity::Number, &mut c.viscosity_b),
        ("settling", Quantity::Fraction, &mut c.settling),
        ("cell_opening_time", Quantity::Time, &mut c.cell_opening_time),
    ]
}

fn constant_attributes(grade: &Grade) -> Vec<Attribute<'static>> {
    let mut copy = grade.constants;
    constants(&mut copy).into_iter().map(|(base, quantity, si)| one(base, quantity, *si)).collect()
}

/// A foam grade: a name and its constants per kilogram of mix; rates and viscosity at 40 °C.
///
/// `Grade(name)` has the starting values of a light flexible grade; further arguments change constants, with units in their
/// names: `Grade("K", viscosity_Pa_s=1.5)`.
#[pyclass(frozen, eq, name = "Grade", module = "risefit")]
#[derive(Clone, PartialEq)]
pub struct PyGrade(pub Grade);

#[pymethods]
impl PyGrade {
    #[new]
    #[pyo3(signature = (name, **constants))]
    fn new(py: Python<'_>, name: String, constants: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        let note = "starting values, not fitted".to_owned();
        PyGrade(Grade { name, note, constants: FoamConstants::default() }).replace(py, constants)
    }

    /// Reads a grade from a TOML file.
    #[staticmethod]
    fn load(py: Python<'_>, path: PathBuf) -> PyResult<Self> {
        call::run(py, || Grade::load(path)).map(PyGrade)
    }

    /// Writes the grade to a TOML file.
    fn save(&self, py: Python<'_>, path: PathBuf) -> PyResult<()> {
        call::run(py, || self.0.save(path))
    }

    /// Reads a grade from the text of a TOML file.
    #[staticmethod]
    fn from_toml(py: Python<'_>, text: &str) -> PyResult<Self> {
        call::run(py, || Grade::from_toml(text)).map(PyGrade)
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

    /// Every constant under its name with the customary unit.
    #[getter]
    fn constants<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for (base, quantity, si) in constants(&mut self.0.constants.clone()) {
            dict.set_item(quantity.customary_name(base), quantity.units()[0].shortest(*si))?;
        }
        Ok(dict)
    }

    /// The same grade with other constants, `name` or `note`.
    #[pyo3(signature = (**changes))]
    fn replace(&self, py: Python<'_>, changes: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        let mut grade = self.0.clone();
        let Some(changes) = changes else { return Ok(PyGrade(grade)) };
        for (name, value) in part_texts(changes, &mut grade.name, &mut grade.note)? {
            let value = value.bind(py);
            // Cells that stay closed: the one constant that may be infinite.
            if name == "cell_opening_time_s" && value.extract::<f64>().is_ok_and(|x| x == f64::INFINITY) {
                grade.constants.cell_opening_time = f64::INFINITY;
                continue;
            }
            let value = convert::number(&name, value)?;
            set(constants(&mut grade.constants), &name, value).map_err(|e| to_python(py, e))?;
        }
        call::run(py, || Grade::from_toml(&grade.to_toml()).map_err(of_argument))?;
        Ok(PyGrade(grade))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Grade", name, &constant_attributes(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &constant_attributes(&slf.get().0))
    }

    fn __repr__(&self) -> String {
        format!("Grade({:?}, {})", self.0.name, attributes::shown(&constant_attributes(&self.0)))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyGrade)
    }
}
