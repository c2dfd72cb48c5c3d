//! The diagnosis of castings as Python has it: rows, frames, report and chart.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::diagnose::{
    DiagnoseOptions, DiagnosedCasting, Diagnosis, LikelyCause, ReadingKind, ReadingResidual, Separation,
};
use risefit::fit::Calibration;
use risefit::model::Cause;
use risefit::report::{DisplayUnits, describe_diagnosis, describe_diagnosis_text, diagnosis_chart};
use risefit::units::Quantity;

use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{self, call, errors::to_python, pickle};

/// Diagnoses with the interpreter lock released; Ctrl-C stops it.
pub fn diagnosed(
    py: Python<'_>,
    calibration: &Calibration,
    odds: Option<&Bound<'_, PyDict>>,
    odd_below: f64,
    threads: Option<usize>,
) -> PyResult<PyDiagnosis> {
    let mut options = DiagnoseOptions { odds: self::odds(py, odds)?, odd_below, cancel: None };
    let found = call::run_on_threads(py, threads, |cancel| {
        options.cancel = Some(cancel);
        calibration.diagnose(&options)
    })?;
    Ok(PyDiagnosis(found))
}

fn odds(py: Python<'_>, given: Option<&Bound<'_, PyDict>>) -> PyResult<Vec<(Cause, f64)>> {
    let mut odds = Vec::new();
    for (name, value) in given.into_iter().flatten() {
        let name: String = name.extract()?;
        let cause = Cause::named(&name).map_err(|e| to_python(py, e))?;
        odds.push((cause, convert::number(&name, &value)?));
    }
    Ok(odds)
}

/// How the castings of a calibration fit each other, and what most likely happened to one that does not.
#[pyclass(frozen, name = "Diagnosis", module = "risefit")]
pub struct PyDiagnosis(Diagnosis);

#[pymethods]
impl PyDiagnosis {
    /// Names of the castings that do not fit the others.
    #[getter]
    fn odd(&self) -> Vec<&str> {
        self.0.odd().map(|c| c.trial.name.as_str()).collect()
    }

    /// What the user should know, in words.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.0.warnings.clone()
    }

    /// The prior probability of each cause.
    #[getter]
    fn prior<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        self.0.prior.iter().try_for_each(|(cause, p)| dict.set_item(cause.name(), p))?;
        Ok(dict)
    }

    /// Each casting as a dict of plain Python values: `trial`, `odd`, `probability` (that a casting is as far off),
    /// `readings` (measured, predicted, sd in customary units; deviations), `causes` (likeliest first: probability and
    /// effects with their 90 % intervals) and `separation` (what would separate the first two).
    #[getter]
    fn castings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyList>> {
        PyList::new(py, self.0.castings.iter().map(|c| casting(py, c)).collect::<PyResult<Vec<_>>>()?)
    }

    /// A `pandas.DataFrame`, one casting a row: standard deviations of each reading from what the others predict (NaN:
    /// not taken), the probability of being as far off, whether it is odd (1) and the probability of each cause (NaN:
    /// the casting fits).
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let castings = &self.0.castings;
        let names = castings.iter().map(|c| c.trial.name.clone()).collect();
        let column = |of: &dyn Fn(&DiagnosedCasting) -> f64| castings.iter().map(of).collect::<Vec<f64>>();
        let deviations = |c: &DiagnosedCasting, kind: ReadingKind| {
            c.readings.iter().find(|m| m.kind == kind).map_or(f64::NAN, |m| m.deviations)
        };
        let chance = |c: &DiagnosedCasting, cause: Cause| {
            c.causes.iter().find(|l| l.cause == cause).map_or(f64::NAN, |l| l.probability)
        };
        let mut columns: Vec<(String, Vec<f64>)> = Vec::new();
        for kind in ReadingKind::all() {
            columns.push((format!("{}_deviations", kind.name()), column(&|c| deviations(c, kind))));
        }
        columns.push(("probability".to_owned(), column(&|c| c.probability)));
        columns.push(("odd".to_owned(), column(&|c| f64::from(c.is_odd))));
        for cause in Cause::all() {
            columns.push((format!("is_{}", cause.name()), column(&|c| chance(c, cause))));
        }
        convert::frame_of_rows(py, "trial", names, columns)
    }

    /// The diagnosis as a dict of plain Python values.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("odd", self.odd())?;
        dict.set_item("odd_below", self.0.odd_below)?;
        dict.set_item("prior", self.prior(py)?)?;
        dict.set_item("castings", self.castings(py)?)?;
        dict.set_item("warnings", self.warnings())?;
        Ok(dict)
    }

    /// How far each reading is from what the others predict, in standard deviations.
    #[pyo3(signature = (*, width=900, height=600, units="metric"))]
    fn chart(&self, py: Python<'_>, width: u32, height: u32, units: &str) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        call::run(py, || diagnosis_chart(&self.0, sheet).map(PyChart::new))
    }

    /// The report, in `"metric"` or `"us"` units.
    #[pyo3(signature = (*, units="metric"))]
    fn report(&self, py: Python<'_>, units: &str) -> PyResult<String> {
        Ok(describe_diagnosis_text(&self.0, report::units(py, units)?))
    }

    fn __str__(&self) -> String {
        describe_diagnosis_text(&self.0, DisplayUnits::Metric)
    }

    fn __repr__(&self) -> String {
        self.__str__()
    }

    fn _repr_html_(&self) -> String {
        report::html(&describe_diagnosis(&self.0, DisplayUnits::Metric))
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyDiagnosis)
    }
}

fn casting<'py>(py: Python<'py>, c: &DiagnosedCasting) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    dict.set_item("trial", &c.trial.name)?;
    dict.set_item("odd", c.is_odd)?;
    dict.set_item("probability", c.probability)?;
    dict.set_item("deviations", c.deviations)?;
    dict.set_item("readings", c.readings.iter().map(|m| reading(py, m)).collect::<PyResult<Vec<_>>>()?)?;
    dict.set_item("causes", c.causes.iter().map(|l| cause(py, l)).collect::<PyResult<Vec<_>>>()?)?;
    dict.set_item("separation", c.separation.as_ref().map(|s| separation(py, s)).transpose()?)?;
    Ok(dict)
}

fn separation<'py>(py: Python<'py>, s: &Separation) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    dict.set_item("between", (s.first.name(), s.second.name()))?;
    if let Some(reading) = &s.reading {
        let (name, unit) = named(reading.kind.name(), reading.kind.quantity());
        dict.set_item("reading", name)?;
        dict.set_item("by_first", unit(reading.by_first))?;
        dict.set_item("by_second", unit(reading.by_second))?;
        dict.set_item("deviations", reading.deviations)?;
    }
    Ok(dict)
}

/// A name with its customary unit, and the conversion to that; an answer of the eye has none.
fn named(base: &str, quantity: Option<Quantity>) -> (String, impl Fn(f64) -> f64 + use<>) {
    let name = quantity.map_or_else(|| base.to_owned(), |q| q.customary_name(base));
    (name, move |si: f64| quantity.map_or(si, |q| q.units()[0].from_si(si)))
}

fn reading<'py>(py: Python<'py>, m: &ReadingResidual) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    let (name, unit) = named(m.kind.name(), m.kind.quantity());
    let zero = unit(0.0);
    dict.set_item("reading", name)?;
    dict.set_item("measured", m.measured.map(&unit))?;
    dict.set_item("predicted", m.predicted.map(&unit))?;
    dict.set_item("sd", m.sd.map(|sd| unit(sd) - zero))?;
    dict.set_item("deviations", m.deviations)?;
    Ok(dict)
}

fn cause<'py>(py: Python<'py>, likely: &LikelyCause) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    dict.set_item("cause", likely.cause.name())?;
    dict.set_item("probability", likely.probability)?;
    for size in &likely.effects {
        let row = size.effect.row();
        let (name, unit) = named(row.name, Some(row.quantity));
        let (low, high) = size.interval_90;
        dict.set_item(format!("{name}_90"), (unit(low), unit(high)))?;
        dict.set_item(name, unit(size.value))?;
    }
    if let Some(kind) = likely.reading {
        dict.set_item("reading", kind.name())?;
    }
    Ok(dict)
}
