//! What is shown in terminals and notebooks: charts, tables and the accounts of fits.

use std::path::PathBuf;

use pyo3::prelude::*;
use risefit::Error;
use risefit::fit::{Calibration, Estimate, FreeRiseFit, Prediction, Status};
use risefit::physics::Run;
use risefit::report::{
    Align, DisplayUnits, Section, Sheet, Table, cautions, run_sentence, run_table, significant, with_error,
};
use risefit::units::Quantity;

use crate::call;
use crate::errors::to_python;

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
}

/// A short account: a headline, tables, warnings and, where a result could hurt someone, the cautions.
pub struct Account {
    headline: String,
    tables: Vec<Table>,
    warnings: Vec<String>,
    has_cautions: bool,
}

impl Account {
    /// As terminals show it.
    pub fn to_text(&self) -> String {
        let mut text = format!("{}\n", self.headline);
        self.tables.iter().for_each(|table| text += &format!("\n{}", table.to_text()));
        text += &listed("Warnings", self.warnings.iter().map(String::as_str));
        text += &listed("Cautions", cautions().lines().filter(|_| self.has_cautions));
        text
    }

    /// As notebooks show it.
    pub fn to_html(&self) -> String {
        let mut sections = vec![Section::Paragraph(self.headline.clone())];
        sections.extend(self.tables.iter().cloned().map(Section::Table));
        if !self.warnings.is_empty() {
            sections.push(Section::Heading("Warnings".to_owned()));
            sections.extend(self.warnings.iter().cloned().map(Section::Paragraph));
        }
        sections.extend(self.has_cautions.then_some(Section::Cautions));
        sections.iter().map(Section::to_html).collect()
    }
}

/// Lines under their head; nothing where there are none.
fn listed<'a>(head: &str, lines: impl Iterator<Item = &'a str>) -> String {
    let lines: String = lines.map(|line| format!("- {line}\n")).collect();
    if lines.is_empty() { lines } else { format!("\n{head}\n{lines}") }
}

/// What a status says, in words.
pub fn status_words(status: &Status) -> String {
    match status {
        Status::Free => "told by the records".to_owned(),
        Status::AtBound => "at the end of what is allowed".to_owned(),
        Status::NoInfluence => "not told by these records".to_owned(),
        Status::NotIdentified { with } => format!("not told apart from {}", with.join(", ")),
    }
}

/// All parameters that the records share, with errors and status.
fn estimate_table(estimates: &[Estimate]) -> Table {
    let heads = [
        ("parameter", Align::Left),
        ("value", Align::Right),
        ("unit", Align::Left),
        ("believed before", Align::Right),
        ("status", Align::Left),
    ];
    let mut table = Table::new(&heads).titled("Parameters (value ± standard error)");
    for e in estimates.iter().filter(|e| e.record.is_none()) {
        let label = e.parameter.label();
        let (low, high) = e.believed_95();
        table.push([
            e.name(),
            with_error(e.value * label.scale, Some(e.standard_error * label.scale)),
            label.unit.to_owned(),
            format!("{} to {}", significant(low * label.scale, 3), significant(high * label.scale, 3)),
            status_words(&e.status),
        ]);
    }
    table
}

fn stands(success: bool) -> &'static str {
    if success { "an answer to stand behind" } else { "NO answer to stand behind" }
}

/// The account of a fit to cup tests.
pub fn of_free_rise(fit: &FreeRiseFit) -> Account {
    let (agreeing, starts) = fit.agreeing_starts;
    let count = fit.logs.len();
    Account {
        headline: format!(
            "Grade {} fitted to {count} cup tests: {}; {agreeing} of {starts} starts agree.",
            fit.grade.name,
            stands(fit.success)
        ),
        tables: vec![estimate_table(&fit.estimates)],
        warnings: fit.warnings.clone(),
        has_cautions: false,
    }
}

/// The account of a calibration.
pub fn of_calibration(c: &Calibration) -> Account {
    let (agreeing, starts) = c.agreeing_starts;
    Account {
        headline: format!(
            "Mold {} calibrated to {} castings of grade {}: {}; {agreeing} of {starts} starts agree.",
            c.mold.name,
            c.castings.len(),
            c.grade.name,
            stands(c.success)
        ),
        tables: vec![estimate_table(&c.estimates), casting_table(c)],
        warnings: c.warnings.clone(),
        has_cautions: true,
    }
}

fn casting_table(c: &Calibration) -> Table {
    let (mass, pressure) = (DisplayUnits::Metric.of(Quantity::Mass), DisplayUnits::Metric.of(Quantity::GaugePressure));
    let heads = [
        ("casting", Align::Left),
        ("part", Align::Right),
        ("predicted", Align::Right),
        ("vent loss", Align::Right),
        ("predicted", Align::Right),
        ("peak (gauge)", Align::Right),
        ("predicted", Align::Right),
        ("worst misfit (sd)", Align::Right),
    ];
    let mut table = Table::new(&heads).titled("Castings");
    for casting in &c.castings {
        let (t, p) = (&casting.trial, &casting.predicted);
        table.push([
            t.name.clone(),
            mass.maybe(t.part_mass),
            mass.text(p.part_mass),
            mass.maybe(t.vent_loss),
            mass.text(p.vent_loss),
            pressure.maybe(t.peak_pressure),
            pressure.text(p.peak_pressure),
            format!("{:.1}", casting.worst_misfit),
        ]);
    }
    table
}

/// The account of a prediction.
pub fn of_prediction(p: &Prediction, units: DisplayUnits) -> Account {
    let heads = [
        ("quantity", Align::Left),
        ("predicted", Align::Right),
        ("low (95 %)", Align::Right),
        ("high (95 %)", Align::Right),
    ];
    let mut table = Table::new(&heads);
    for (name, quantity, predicted) in crate::predict::quantities(p) {
        let unit = units.of(quantity);
        let name = name.replace('_', " ");
        let (low, high) = predicted.map_or((None, None), |p| (Some(p.interval_95.0), Some(p.interval_95.1)));
        table.push([name, unit.maybe(predicted.map(|p| p.value)), unit.maybe(low), unit.maybe(high)]);
    }
    Account { headline: run_sentence(&p.run, units), tables: vec![table], warnings: Vec::new(), has_cautions: true }
}

/// The account of a run, for notebooks; terminals get the library's own text.
pub fn of_run(run: &Run, units: DisplayUnits) -> Account {
    let table = run_table(run, units);
    Account { headline: run_sentence(run, units), tables: vec![table], warnings: Vec::new(), has_cautions: true }
}
