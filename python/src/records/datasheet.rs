//! What is known of a grade before any cup was poured: data sheets and recipes.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyList, PyTuple};
use risefit::fit::gas_yield_prior;
use risefit::records::Polyol;
use risefit::units::Quantity;
use risefit::{Datasheet, Recipe};

use crate::convert::attributes::{self, Attribute, maybe, one};
use crate::convert::{call, errors::to_python, pickle};

/// A supplier's data sheet of a grade. What it does not say is `None`.
#[pyclass(frozen, eq, name = "Datasheet", module = "risefit")]
#[derive(PartialEq)]
pub struct PyDatasheet(pub Datasheet);

fn sheet_attributes(sheet: &Datasheet) -> Vec<Attribute<'static>> {
    let mut all = vec![
        maybe("free_rise_density", Quantity::Density, sheet.free_rise_density),
        maybe("gas_yield", Quantity::GasYield, sheet.gas_yield),
        maybe("demold_time", Quantity::Time, sheet.demold_time),
        one("at_temp", Quantity::Temperature, sheet.at_temp),
        maybe("liquid_density", Quantity::Density, sheet.liquid_density),
    ];
    all.extend(sheet.stopwatch.named().map(|(base, si)| maybe(base, Quantity::Time, si)));
    all
}

#[pymethods]
impl PyDatasheet {
    /// Reads a data sheet from a TOML file.
    #[staticmethod]
    fn load(py: Python<'_>, path: PathBuf) -> PyResult<Self> {
        call::run(py, || Datasheet::load(path)).map(PyDatasheet)
    }

    /// Reads a data sheet from the text of a TOML file.
    #[staticmethod]
    fn from_toml(py: Python<'_>, text: &str) -> PyResult<Self> {
        call::run(py, || Datasheet::from_toml(text)).map(PyDatasheet)
    }

    #[getter]
    fn name(&self) -> &str {
        &self.0.name
    }

    #[getter]
    fn note(&self) -> &str {
        &self.0.note
    }

    #[getter]
    fn file(&self) -> Option<String> {
        self.0.file.as_ref().map(|file| file.display().to_string())
    }

    /// Resin to isocyanate, as written.
    #[getter]
    fn mix_ratio(&self) -> Option<&str> {
        self.0.mix_ratio.as_deref()
    }

    #[getter]
    fn recipe(&self) -> Option<PyRecipe> {
        self.0.recipe.clone().map(PyRecipe)
    }

    /// What the sheet left out and was assumed, in words.
    #[getter]
    fn assumed(&self) -> Vec<String> {
        self.0.assumed.clone()
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Datasheet", name, &sheet_attributes(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &sheet_attributes(&slf.get().0))
    }

    fn __repr__(&self) -> String {
        format!("Datasheet({:?}, {})", self.0.name, attributes::shown(&sheet_attributes(&self.0)))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyDatasheet)
    }
}

/// A recipe in parts by mass.
///
/// `polyols` are pairs of parts and OH number (mg KOH/g; of a component with an equivalent weight E: 56105.6 / E);
/// `isocyanate_equivalent` is in g per NCO group. Raises `ArgumentError` for amounts that make no sense.
#[pyclass(frozen, eq, name = "Recipe", module = "risefit")]
#[derive(PartialEq)]
pub struct PyRecipe(pub Recipe);

#[pymethods]
impl PyRecipe {
    #[new]
    #[pyo3(signature = (*, polyols, water, isocyanate_equivalent, index, inert=0.0))]
    fn new(
        py: Python<'_>,
        polyols: Vec<(f64, f64)>,
        water: f64,
        isocyanate_equivalent: f64,
        index: f64,
        inert: f64,
    ) -> PyResult<Self> {
        let polyols = polyols.into_iter().map(|(parts, hydroxyl_number)| Polyol { parts, hydroxyl_number }).collect();
        let recipe = Recipe { polyols, water, inert, isocyanate_equivalent, index };
        recipe.gas_yield().map_err(|e| to_python(py, e))?;
        Ok(PyRecipe(recipe))
    }

    /// Reads a recipe from a TOML file.
    #[staticmethod]
    fn load(py: Python<'_>, path: PathBuf) -> PyResult<Self> {
        call::run(py, || Recipe::load(path)).map(PyRecipe)
    }

    /// Reads a recipe from the text of a TOML file.
    #[staticmethod]
    fn from_toml(py: Python<'_>, text: &str) -> PyResult<Self> {
        call::run(py, || Recipe::from_toml(text)).map(PyRecipe)
    }

    /// Parts and OH number (mg KOH/g) of each polyol.
    #[getter]
    fn polyols(&self) -> Vec<(f64, f64)> {
        self.0.polyols.iter().map(|polyol| (polyol.parts, polyol.hydroxyl_number)).collect()
    }

    /// Isocyanate needed, parts.
    #[getter]
    fn isocyanate(&self, py: Python<'_>) -> PyResult<f64> {
        self.0.isocyanate().map_err(|e| to_python(py, e))
    }

    /// What the recipe lets one believe of the gas yield: its stoichiometry and a factor around it. Goes into a fit as
    /// `priors={"gas_yield_mol_kg": recipe.gas_yield_prior()}`.
    fn gas_yield_prior(&self, py: Python<'_>) -> PyResult<(f64, f64)> {
        let prior = gas_yield_prior(&self.0).map_err(|e| to_python(py, e))?;
        Ok((prior.median, prior.sd.exp()))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Recipe", name, &self.attributes(py)?)
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &slf.get().attributes(slf.py())?)
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        Ok(format!("Recipe(polyols={:?}, {})", self.polyols(), attributes::shown(&self.attributes(py)?)))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyRecipe)
    }
}

impl PyRecipe {
    fn attributes(&self, py: Python<'_>) -> PyResult<Vec<Attribute<'static>>> {
        let recipe = &self.0;
        Ok(vec![
            one("water", Quantity::Number, recipe.water),
            one("inert", Quantity::Number, recipe.inert),
            one("isocyanate_equivalent", Quantity::Number, recipe.isocyanate_equivalent),
            one("index", Quantity::Number, recipe.index),
            one("gas_yield", Quantity::GasYield, recipe.gas_yield().map_err(|e| to_python(py, e))?),
        ])
    }
}
