//! Decisions: the setting to run, the safe window, and what to do next.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};
use risefit::decide::{
    Candidate, ChanceMap, Limit, NextTrial, Proposal, Question, Recommendation, Step, chance_map, next_trial, recommend,
};
use risefit::fit::Draws;
use risefit::report::{
    DisplayUnits, chance_chart, chance_table, describe_next_trial, describe_next_trial_text, describe_recommendation,
    describe_recommendation_text, proposal_words,
};

use crate::calibrate::{PyCalibration, known};
use crate::knowledge::options;
use crate::question::question;
use crate::records::PyMold;
use crate::report::{self, ChartOptions, PyChart};
use crate::settings::PyCasting;
use crate::{call, convert};

fn ask(
    py: Python<'_>,
    question: &Question,
    warnings: Vec<String>,
    make: impl FnOnce(Arc<AtomicBool>) -> risefit::Result<Draws> + Send,
) -> PyResult<PyRecommendation> {
    let (mut recommendation, draws) = call::run_interruptibly(py, |cancel| {
        let mut draws = make(cancel.clone())?;
        draws.cancel = Some(cancel);
        let found = recommend(&draws, question)?;
        draws.cancel = None;
        Ok((found, draws))
    })?;
    recommendation.warnings = warnings;
    Ok(PyRecommendation { recommendation, draws })
}

/// The recommendation of a calibration.
pub fn recommend_calibrated(
    py: Python<'_>,
    calibration: &PyCalibration,
    casting: Option<&Bound<'_, PyCasting>>,
    (draws, seed): (usize, u64),
    asked: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyRecommendation> {
    let question = question(py, casting, asked, calibration.0.mold.cavity.volume)?;
    let unsure = if calibration.0.success { Vec::new() } else { calibration.0.warnings.clone() };
    ask(py, &question, unsure, |cancel| calibration.0.draws_until(draws, seed, cancel))
}

/// The charge and vent to begin with in a mold that was never cast in: as `Calibration.recommend`, from `grade` as in
/// `calibrate` and the mold as described; `held` and `priors` as in `fit_free_rise`. Raises `CastingError`, `ArgumentError`.
#[pyfunction]
#[pyo3(name = "recommend", signature = (grade, mold, casting=None, /, *, draws=400, seed=1, held=None, priors=None, **asked))]
#[allow(clippy::too_many_arguments)]
pub fn recommend_before_castings(
    py: Python<'_>,
    grade: &Bound<'_, PyAny>,
    mold: &Bound<'_, PyMold>,
    casting: Option<&Bound<'_, PyCasting>>,
    draws: usize,
    seed: u64,
    held: Option<&Bound<'_, PyDict>>,
    priors: Option<&Bound<'_, PyDict>>,
    asked: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyRecommendation> {
    let options = options(py, 1, held, priors)?;
    let known = known(grade, &options)?;
    let mold = &mold.get().0;
    let question = question(py, casting, asked, mold.cavity.volume)?;
    ask(py, &question, Vec::new(), |_| Draws::before_castings(&known, mold, &options, draws, seed))
}

/// The charge and vent most likely to give a good part. `print` it for the reasons; `chart()` shows the safe window. What
/// follows is an estimate, no pressure-safety calculation: see the cautions in the report.
#[pyclass(frozen, name = "Recommendation", module = "risefit")]
pub struct PyRecommendation {
    recommendation: Recommendation,
    draws: Draws,
}

impl PyRecommendation {
    fn map(&self, py: Python<'_>) -> PyResult<ChanceMap> {
        call::run_interruptibly(py, |cancel| {
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

    /// What keeps its chances from being stood behind: a calibration without success.
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
        let dict = setting_dict(py, &r.best)?;
        dict.set_item("vents_stay", r.vents_stay)?;
        dict.set_item("misses", self.misses(py)?)?;
        dict.set_item("binding", self.binding())?;
        dict.set_item("runner_up", r.runner_up.as_ref().map(|s| setting_dict(py, s)).transpose()?)?;
        let give_up = r.give_up.as_ref().map(|(binding, setting)| {
            let given_up = setting_dict(py, setting)?;
            given_up.set_item("limit", binding.limit.words())?;
            given_up.set_item("chance_without", binding.without)?;
            PyResult::Ok(given_up)
        });
        dict.set_item("give_up", give_up.transpose()?)?;
        dict.set_item("draws", r.draws)?;
        dict.set_item("warnings", &r.warnings)?;
        Ok(dict)
    }

    /// Where no setting is good with at least 50 %: the limit to give up first, the casting to run then, and its chance.
    #[getter]
    fn give_up(&self) -> Option<(&'static str, PyCasting, f64)> {
        let (binding, setting) = self.recommendation.give_up.as_ref()?;
        Some((binding.limit.words(), PyCasting(setting.casting.clone()), binding.without))
    }

    /// Chances of charges (columns, g) and vents (rows) around it as a `pandas.DataFrame`.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let map = self.map(py)?;
        let names = map.drills.iter().map(|d| d.as_ref().map_or_else(|| "as it is".to_owned(), |d| d.name.clone()));
        let chance = |s: &Option<Candidate>| s.as_ref().map_or(f64::NAN, |s| s.chances.good);
        let column = |j: usize| map.settings.iter().map(|row| chance(&row[j])).collect::<Vec<f64>>();
        let columns = map.charges.iter().enumerate();
        let columns = columns.map(|(j, c)| (format!("{}", (c * 1e6).round() / 1e3), column(j))).collect();
        convert::frame_of_rows(py, "vent", names.collect(), columns)
    }

    /// The safe window: chances over charge and vent.
    #[pyo3(signature = (*, width=900, height=600, units="metric"))]
    fn chart(&self, py: Python<'_>, width: u32, height: u32, units: &str) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        let map = self.map(py)?;
        let best = &self.recommendation.best;
        call::run(py, || chance_chart(&map, best, "Safe window", sheet).map(PyChart::new))
    }

    /// The report with the table of the safe window, in `"metric"` or `"us"` units.
    #[pyo3(signature = (units="metric"))]
    fn report(&self, py: Python<'_>, units: &str) -> PyResult<String> {
        let units = report::units(py, units)?;
        let table = chance_table(&self.map(py)?, units).to_text();
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

    /// What to do next: the casting (with or without a gauge, unless `has_gauge`) after which the fewest more are expected until
    /// a part is good, and what a cup test or a water fill of the cavity would bring.
    #[pyo3(signature = (*, has_gauge=false))]
    pub fn next_trial(&self, py: Python<'_>, has_gauge: bool) -> PyResult<PyNextTrial> {
        let next = call::run_interruptibly(py, |cancel| {
            let mut draws = self.draws.clone();
            draws.cancel = Some(cancel);
            next_trial(&draws, &self.recommendation, has_gauge)
        })?;
        Ok(PyNextTrial(next))
    }
}

/// A setting as a dict: what to cast, its chance, medians of what comes out.
fn setting_dict<'py>(py: Python<'py>, setting: &Candidate) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    let mm: Vec<f64> = setting.casting.vent_diameters.iter().map(|d| 1e3 * d).collect();
    dict.set_item("charge_g", 1e3 * setting.casting.charge)?;
    dict.set_item("drill", setting.drill.as_ref().map(|d| d.name.as_str()))?;
    dict.set_item("vent_mm", mm)?;
    dict.set_item("chance", setting.chances.good)?;
    dict.set_item("density_kg_m3", setting.chances.density.0)?;
    dict.set_item("peak_pressure_kPa", setting.chances.peak_pressure.0 / 1e3)?;
    dict.set_item("vent_loss_g", 1e3 * setting.chances.vent_loss)?;
    Ok(dict)
}

fn answer(setting: &Candidate) -> (PyCasting, f64) {
    (PyCasting(setting.casting.clone()), setting.chances.good)
}

/// What to do next, best first.
#[pyclass(frozen, name = "NextTrial", module = "risefit")]
pub struct PyNextTrial(NextTrial);

#[pymethods]
impl PyNextTrial {
    /// The casting to make.
    #[getter]
    fn casting(&self) -> Option<PyCasting> {
        self.0.proposals.iter().find_map(|p| p.setting.as_ref()).map(|s| PyCasting(s.casting.clone()))
    }

    /// Whether a gauge on it is proposed.
    #[getter]
    fn with_gauge(&self) -> bool {
        self.0.proposals.first().is_some_and(|p| p.step == Step::Casting { gauge: true })
    }

    /// Chance that it is good.
    #[getter]
    fn chance(&self) -> f64 {
        self.0.proposals.first().map_or(0.0, |p| p.good)
    }

    /// Chance that it or the one after it is good.
    #[getter]
    fn chance_within_two(&self) -> f64 {
        self.0.proposals.first().map_or(0.0, |p| p.within_two)
    }

    /// Castings expected until a part is good, this one included.
    #[getter]
    fn castings_expected(&self) -> f64 {
        self.0.proposals.first().map_or(f64::INFINITY, Proposal::castings_expected)
    }

    /// The first proposal as a dict of plain Python values, with the doubt left by it as shares of what there is now.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        let Some(first) = self.0.proposals.first() else { return Ok(dict) };
        dict.set_item("proposal", proposal_words(first, DisplayUnits::Metric))?;
        dict.set_item("with_gauge", self.with_gauge())?;
        dict.set_item("setting", first.setting.as_ref().map(|s| setting_dict(py, s)).transpose()?)?;
        dict.set_item("chance", first.good)?;
        dict.set_item("chance_of_the_next", first.next_good)?;
        dict.set_item("chance_within_two", first.within_two)?;
        dict.set_item("castings_expected", first.castings_expected())?;
        dict.set_item("density_doubt_left", first.doubt_left.0)?;
        dict.set_item("pressure_doubt_left", first.doubt_left.1)?;
        Ok(dict)
    }

    /// All proposals in words, best first: castings, then what costs none.
    #[getter]
    fn proposals<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyList>> {
        PyList::new(py, self.0.proposals.iter().map(|p| proposal_words(p, DisplayUnits::Metric)))
    }

    /// The proposals as rows of a `pandas.DataFrame`: chances, and the doubt left as shares of what there is now.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let column = |of: &dyn Fn(&Proposal) -> f64| self.0.proposals.iter().map(of).collect::<Vec<f64>>();
        let names = self.0.proposals.iter().map(|p| proposal_words(p, DisplayUnits::Metric)).collect();
        let columns = vec![
            ("good".to_owned(), column(&|p| p.good)),
            ("next_good".to_owned(), column(&|p| p.next_good)),
            ("within_two".to_owned(), column(&|p| p.within_two)),
            ("castings_expected".to_owned(), column(&Proposal::castings_expected)),
            ("density_doubt_left".to_owned(), column(&|p| p.doubt_left.0)),
            ("pressure_doubt_left".to_owned(), column(&|p| p.doubt_left.1)),
        ];
        convert::frame_of_rows(py, "proposal", names, columns)
    }

    /// The report, in `"metric"` or `"us"` units.
    #[pyo3(signature = (units="metric"))]
    fn report(&self, py: Python<'_>, units: &str) -> PyResult<String> {
        Ok(describe_next_trial_text(&self.0, report::units(py, units)?))
    }

    fn __str__(&self) -> String {
        describe_next_trial_text(&self.0, DisplayUnits::Metric)
    }

    fn _repr_html_(&self) -> String {
        report::html(&describe_next_trial(&self.0, DisplayUnits::Metric))
    }

    fn __repr__(&self) -> String {
        self.__str__()
    }
}
