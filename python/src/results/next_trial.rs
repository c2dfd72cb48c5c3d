//! What to do next: castings, and what costs none.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::decide::{NextTrial, Proposal, Step};
use risefit::report::{DisplayUnits, describe_next_trial, describe_next_trial_text, proposal_words};

use super::candidate::candidate_dict;
use crate::convert::{self, pickle, report};
use crate::settings::PyCasting;

/// What to do next, best first.
#[pyclass(frozen, name = "NextTrial", module = "risefit")]
pub struct PyNextTrial(pub NextTrial);

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
        dict.set_item("setting", first.setting.as_ref().map(|s| candidate_dict(py, s)).transpose()?)?;
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
    #[pyo3(signature = (*, units="metric"))]
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

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyNextTrial)
    }
}
