//! The setting to run and the process window around it.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyTuple};
use risefit::decide::{Candidate, ChanceMap, Limit, Question, Recommendation, chance_map, next_trial, recommend};
use risefit::fit::Draws;
use risefit::report::{
    DisplayUnits, chance_chart, chance_table, describe_recommendation, describe_recommendation_text,
};
use serde::{Deserialize, Serialize};

use super::candidate::candidate_dict;
use super::next_trial::PyNextTrial;
use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{self, attributes, call, pickle};
use crate::settings::PyCasting;

/// The recommendation from draws made by `make`; Ctrl-C stops it.
pub fn ask(
    py: Python<'_>,
    question: &Question,
    warnings: Vec<String>,
    threads: Option<usize>,
    make: impl FnOnce(Arc<AtomicBool>) -> risefit::Result<Draws> + Send,
) -> PyResult<PyRecommendation> {
    let (mut recommendation, draws) = call::run_on_threads(py, threads, |cancel| {
        let mut draws = make(cancel.clone())?;
        draws.cancel = Some(cancel);
        let found = recommend(&draws, question)?;
        draws.cancel = None;
        Ok((found, draws))
    })?;
    recommendation.warnings = warnings;
    Ok(PyRecommendation { recommendation, draws })
}

/// The charge and vent most likely to give a good part. `print` it for the reasons; `chart()` shows the process
/// window. What follows is an estimate, no pressure-safety calculation: see the cautions in the report.
#[pyclass(frozen, name = "Recommendation", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PyRecommendation {
    recommendation: Recommendation,
    draws: Draws,
}

impl PyRecommendation {
    fn map(&self, py: Python<'_>, threads: Option<usize>) -> PyResult<ChanceMap> {
        call::run_on_threads(py, threads, |cancel| {
            let mut draws = self.draws.clone();
            draws.cancel = Some(cancel);
            chance_map(&draws, &self.recommendation)
        })
    }
}

#[pymethods]
impl PyRecommendation {
    /// The casting to run.
    #[getter]
    fn casting(&self) -> PyCasting {
        PyCasting(self.recommendation.best.casting.clone())
    }

    /// The drill of its vents, as the shop calls it; `None` where the vents stay.
    #[getter]
    fn drill(&self) -> Option<String> {
        self.recommendation.best.drill.as_ref().map(|d| d.name.clone())
    }

    /// Chance that it is full, without flash and within all limits, 0 to 1.
    #[getter]
    fn chance(&self) -> f64 {
        self.recommendation.best.chances.good
    }

    /// Chance to miss each limit, 0 to 1.
    #[getter]
    fn misses<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for (limit, share) in Limit::ALL.into_iter().zip(self.recommendation.best.chances.misses) {
            dict.set_item(limit.words(), share)?;
        }
        Ok(dict)
    }

    /// The best setting with other vents: its casting and its chance; `None` if there is none.
    #[getter]
    fn runner_up(&self) -> Option<(PyCasting, f64)> {
        self.recommendation.runner_up.as_ref().map(answer)
    }

    /// The limit that keeps it from being better, and the chance without it; `None` if no single one does.
    #[getter]
    fn binding(&self) -> Option<(&'static str, f64)> {
        self.recommendation.binding.map(|b| (b.limit.words(), b.without))
    }

    /// What keeps its chances from being believed: a calibration that did not converge.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.recommendation.warnings.clone()
    }

    /// Whether the vents stay as they are.
    #[getter]
    fn vents_stay(&self) -> bool {
        self.recommendation.vents_stay
    }

    /// The recommendation as a dict of plain Python values.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let r = &self.recommendation;
        let dict = candidate_dict(py, &r.best)?;
        dict.set_item("vents_stay", r.vents_stay)?;
        dict.set_item("misses", self.misses(py)?)?;
        dict.set_item("binding", self.binding())?;
        dict.set_item("runner_up", r.runner_up.as_ref().map(|s| candidate_dict(py, s)).transpose()?)?;
        let give_up = r.give_up.as_ref().map(|(binding, setting)| {
            let given_up = candidate_dict(py, setting)?;
            given_up.set_item("limit", binding.limit.words())?;
            given_up.set_item("chance_without", binding.without)?;
            PyResult::Ok(given_up)
        });
        dict.set_item("give_up", give_up.transpose()?)?;
        dict.set_item("draws", r.draws)?;
        dict.set_item("warnings", &r.warnings)?;
        Ok(dict)
    }

    /// Where no setting is good with at least 50 %: the limit to give up first, the casting to run then, and its
    /// chance.
    #[getter]
    fn give_up(&self) -> Option<(&'static str, PyCasting, f64)> {
        let (binding, setting) = self.recommendation.give_up.as_ref()?;
        Some((binding.limit.words(), PyCasting(setting.casting.clone()), binding.without))
    }

    /// Chances of charges (columns, g) and vents (rows) around it as a `pandas.DataFrame`.
    #[pyo3(signature = (*, threads=None))]
    fn to_frame<'py>(&self, py: Python<'py>, threads: Option<usize>) -> PyResult<Bound<'py, PyAny>> {
        let map = self.map(py, threads)?;
        let names = map.drills.iter().map(|d| d.as_ref().map_or_else(|| "as it is".to_owned(), |d| d.name.clone()));
        let chance = |s: &Option<Candidate>| s.as_ref().map_or(f64::NAN, |s| s.chances.good);
        let column = |j: usize| map.settings.iter().map(|row| chance(&row[j])).collect::<Vec<f64>>();
        let columns = map.charges.iter().enumerate();
        let columns = columns.map(|(j, c)| (format!("{}", (c * 1e6).round() / 1e3), column(j))).collect();
        convert::frame_of_rows(py, "vent", names.collect(), columns)
    }

    /// The process window: chances over charge and vent.
    #[pyo3(signature = (*, width=900, height=600, units="metric", threads=None))]
    fn chart(&self, py: Python<'_>, width: u32, height: u32, units: &str, threads: Option<usize>) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        let map = self.map(py, threads)?;
        let best = &self.recommendation.best;
        call::run(py, || chance_chart(&map, best, "Process window", sheet).map(PyChart::new))
    }

    /// The report with the table of the process window, in `"metric"` or `"us"` units.
    #[pyo3(signature = (*, units="metric", threads=None))]
    fn report(&self, py: Python<'_>, units: &str, threads: Option<usize>) -> PyResult<String> {
        let units = report::units(py, units)?;
        let table = chance_table(&self.map(py, threads)?, units).to_text();
        Ok(format!("{table}\n{}", describe_recommendation_text(&self.recommendation, units)))
    }

    fn __str__(&self) -> String {
        describe_recommendation_text(&self.recommendation, DisplayUnits::Metric)
    }

    fn _repr_html_(&self) -> String {
        report::html(&describe_recommendation(&self.recommendation, DisplayUnits::Metric))
    }

    fn __repr__(&self) -> String {
        self.__str__()
    }

    /// What to do next: the casting (with or without a gauge, unless `has_gauge`) after which the fewest more are
    /// expected until a part is good, and what a cup test or a water fill of the cavity would bring.
    #[pyo3(signature = (*, has_gauge=false, threads=None))]
    pub fn next_trial(&self, py: Python<'_>, has_gauge: bool, threads: Option<usize>) -> PyResult<PyNextTrial> {
        let next = call::run_on_threads(py, threads, |cancel| {
            let mut draws = self.draws.clone();
            draws.cancel = Some(cancel);
            next_trial(&draws, &self.recommendation, has_gauge)
        })?;
        Ok(PyNextTrial(next))
    }

    fn __getattr__(&self, name: &str) -> PyResult<Py<PyAny>> {
        Err(attributes::none("Recommendation", name))
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

fn answer(setting: &Candidate) -> (PyCasting, f64) {
    (PyCasting(setting.casting.clone()), setting.chances.good)
}
