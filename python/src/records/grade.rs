//! Grades: loading, saving, looking at them and changing them.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::Grade;
use risefit::model::{CONSTANTS, FoamConstants};

use super::numbers::{numbers, of_argument, part_texts, set};
use crate::convert::attributes::{self, Attribute};
use crate::convert::{self, call, errors::to_python, pickle};

fn constants(grade: &Grade) -> Vec<Attribute<'static>> {
    numbers(&CONSTANTS, &grade.constants)
}

/// A foam grade: a name and its constants per kilogram of mix; rates and viscosity at 40 °C.
///
/// `Grade(name)` has the starting values of a light flexible grade; further arguments change constants, with units in
/// their names: `Grade("K", viscosity_Pa_s=1.5)`.
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
        for constant in &CONSTANTS {
            let (name, unit) = (constant.quantity().customary_name(constant.name()), &constant.quantity().units()[0]);
            dict.set_item(name, constant.of(&self.0.constants).map(|si| unit.shortest(si)))?;
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
            set(&CONSTANTS, &mut grade.constants, &name, value).map_err(|e| to_python(py, e))?;
        }
        call::run(py, || Grade::from_toml(&grade.to_toml()).map_err(of_argument))?;
        Ok(PyGrade(grade))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Grade", name, &constants(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &constants(&slf.get().0))
    }

    fn __repr__(&self) -> String {
        format!("Grade({:?}, {})", self.0.name, attributes::shown(&constants(&self.0)))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyGrade)
    }
}
