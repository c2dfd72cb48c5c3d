//! What is shown in notebooks: charts and sections of reports; units and words by their Python names.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyTuple};
use risefit::Error;
use risefit::model::Run;
use risefit::report::{DisplayUnits, Section, Sheet, run_sentence, run_table};
use serde::{Deserialize, Serialize};

use super::pickle;

use super::call;
use super::errors::to_python;

/// The units of results, from their Python name.
pub fn units(py: Python<'_>, name: &str) -> PyResult<DisplayUnits> {
    match name {
        "metric" => Ok(DisplayUnits::Metric),
        "us" => Ok(DisplayUnits::UsCustomary),
        _ => {
            let advice = "metric: g, mm, °C, kPa, kg/m3; us: oz, in, °F, psi, lb/ft3";
            Err(to_python(py, Error::argument("units", format!("{name:?}"), "\"metric\" or \"us\"", advice)))
        }
    }
}

/// How a chart is drawn, as given in Python.
pub struct ChartOptions<'a> {
    pub width: u32,
    pub height: u32,
    pub units: &'a str,
}

impl ChartOptions<'_> {
    pub fn sheet(&self, py: Python<'_>) -> PyResult<Sheet> {
        Ok(Sheet { width: self.width, height: self.height, units: units(py, self.units)? })
    }
}

/// A chart: shown by notebooks, saved as an SVG file.
#[pyclass(frozen, name = "Chart", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PyChart {
    /// The SVG document.
    #[pyo3(get)]
    svg: String,
}

impl PyChart {
    pub fn new(svg: String) -> Self {
        PyChart { svg }
    }
}

#[pymethods]
impl PyChart {
    /// Writes the SVG document to a file.
    fn save(&self, py: Python<'_>, path: PathBuf) -> PyResult<()> {
        let unwritten = |e: std::io::Error| {
            let advice = "check that the folder exists and can be written to";
            Error::argument("path", format!("{}: {e}", path.display()), "a file that can be written", advice)
        };
        call::run(py, || std::fs::write(&path, &self.svg).map_err(unwritten))
    }

    fn _repr_svg_(&self) -> &str {
        &self.svg
    }

    fn __repr__(&self) -> String {
        format!("Chart({} characters of SVG; .save(\"chart.svg\") writes it)", self.svg.len())
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(self, other)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), slf.get())
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data)
    }
}

/// Sections of a report as notebooks show them.
pub fn html(sections: &[Section]) -> String {
    sections.iter().map(Section::to_html).collect()
}

/// A run for notebooks; terminals get the library's own text.
pub fn run_html(run: &Run) -> String {
    let units = DisplayUnits::Metric;
    html(&[Section::Paragraph(run_sentence(run, units)), Section::Table(run_table(run, units)), Section::Cautions])
}
