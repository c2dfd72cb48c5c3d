//! Posteriors as Python has them: sampling, the draws as an array, the account of them, predictions from them.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::fit::{Calibration, Posterior, PosteriorEstimate, PosteriorOptions};
use risefit::report::{describe_posterior, describe_posterior_text, posterior_chart};
use serde::{Deserialize, Serialize};

use super::outcomes::PyOutcomes;
use crate::convert::report::{self, ChartOptions, PyChart};
use crate::convert::{self, attributes, call, pickle};
use crate::settings::{PyCasting, casting};

/// The arguments of a `posterior` method.
pub struct Request {
    pub draws: usize,
    pub chains: usize,
    pub warmup: usize,
    pub seed: u64,
    pub threads: Option<usize>,
    pub progress: Option<Py<PyAny>>,
    pub direct: bool,
}

/// Samples with the interpreter lock released; Ctrl-C stops it, and `progress` is told of draws done and to be done.
pub fn sample(
    py: Python<'_>,
    request: Request,
    of: Option<Arc<Calibration>>,
    draw: impl FnOnce(&PosteriorOptions) -> risefit::Result<Posterior> + Send,
) -> PyResult<PyPosterior> {
    let done = Arc::new(AtomicUsize::new(0));
    let Request { draws, chains, warmup, seed, threads, progress, direct } = request;
    let total = chains.saturating_mul(draws.saturating_add(warmup));
    let counter = Some(done.clone());
    let mut options =
        PosteriorOptions { chains, draws, warmup, seed, threads, cancel: None, progress: counter, direct };
    let tell = |py: Python<'_>| match &progress {
        Some(callback) => callback.call1(py, (done.load(Ordering::Relaxed), total)).map(drop),
        None => Ok(()),
    };
    let posterior = call::run_told(py, tell, |cancel| {
        options.cancel = Some(cancel);
        draw(&options)
    })?;
    Ok(PyPosterior { posterior, of })
}

/// Draws of what the records leave possible.
#[pyclass(frozen, name = "Posterior", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PyPosterior {
    posterior: Posterior,
    of: Option<Arc<Calibration>>,
}

#[pymethods]
impl PyPosterior {
    /// Whether the draws can be used.
    #[getter]
    fn converged(&self) -> bool {
        self.posterior.converged
    }

    /// Whether the chains agree, in words.
    #[getter]
    fn verdict(&self) -> &str {
        self.posterior.verdict.first().map_or("", String::as_str)
    }

    /// What else the user should know, in words.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.posterior.verdict.iter().skip(1).cloned().collect()
    }

    /// Share of the proposals that were accepted; `None` if `direct`.
    #[getter]
    fn acceptance(&self) -> Option<f64> {
        self.posterior.acceptance
    }

    /// Trajectories that broke off, or proposals that cannot be simulated.
    #[getter]
    fn divergences(&self) -> usize {
        self.posterior.divergences
    }

    /// Names of the parameters with their units and, for a record's own, the record.
    #[getter]
    fn parameter_names(&self) -> Vec<String> {
        self.posterior.estimates.iter().map(PosteriorEstimate::name).collect()
    }

    /// The draws in the units of `parameter_names`, shape (chains, draws, k).
    #[getter]
    fn draws<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let values = &self.posterior.values;
        let scales: Vec<f64> = self.posterior.estimates.iter().map(|e| e.parameter.label().scale).collect();
        let flat = values.indexed_iter().map(|((_, _, j), x)| x * scales[j]).collect();
        convert::cube(py, flat, values.dim())
    }

    /// Every parameter as a row of a `pandas.DataFrame`, in the unit of its name.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let estimates = &self.posterior.estimates;
        let columns = numbers().map(|(head, what)| (head.to_owned(), estimates.iter().map(what).collect()));
        let frame = convert::frame_of_rows(py, "parameter", self.parameter_names(), columns.into())?;
        frame.set_item("unit", PyList::new(py, estimates.iter().map(|e| e.parameter.label().unit))?)?;
        Ok(frame)
    }

    /// The posterior as a dict of plain Python values.
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let (dict, estimates) = (PyDict::new(py), PyDict::new(py));
        for e in &self.posterior.estimates {
            let one = PyDict::new(py);
            numbers().iter().try_for_each(|(head, what)| one.set_item(head, what(e)))?;
            one.set_item("unit", e.parameter.label().unit)?;
            estimates.set_item(e.name(), one)?;
        }
        dict.set_item("converged", self.posterior.converged)?;
        dict.set_item("verdict", self.verdict())?;
        dict.set_item("warnings", self.warnings())?;
        dict.set_item("divergences", self.posterior.divergences)?;
        dict.set_item("acceptance", self.posterior.acceptance)?;
        dict.set_item("evaluations", self.posterior.evaluations)?;
        dict.set_item("seed", self.posterior.seed)?;
        dict.set_item("estimates", estimates)?;
        Ok(dict)
    }

    /// Predicts a casting from at most `draws` of these draws; settings as in `Casting`. Only from a calibration's
    /// posterior.
    #[pyo3(signature = (casting=None, /, *, draws=1000, threads=None, **settings))]
    fn predict(
        &self,
        py: Python<'_>,
        casting: Option<&Bound<'_, PyCasting>>,
        draws: usize,
        threads: Option<usize>,
        settings: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<PyOutcomes> {
        let Some(of) = &self.of else {
            let advice = "calibrate a mold, and take the posterior of that";
            return Err(PyTypeError::new_err(format!(
                "the posterior of cup tests alone predicts no casting: {advice}"
            )));
        };
        let casting = self::casting(py, casting, settings)?;
        PyOutcomes::cast(py, casting, threads, |_| of.draws_of(&self.posterior, draws))
    }

    /// The prior of each shared parameter beside what is known now, in standard deviations of the prior.
    #[pyo3(signature = (*, width=900, height=600))]
    fn chart(&self, py: Python<'_>, width: u32, height: u32) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units: "metric" }.sheet(py)?;
        call::run(py, || posterior_chart(&self.posterior, sheet).map(PyChart::new))
    }

    /// The report: prior, what is known now, and whether the chains agree.
    fn report(&self) -> String {
        describe_posterior_text(&self.posterior)
    }

    fn __str__(&self) -> String {
        self.report()
    }

    fn __repr__(&self) -> String {
        self.report()
    }

    fn _repr_html_(&self) -> String {
        report::html(&describe_posterior(&self.posterior))
    }

    fn __getattr__(&self, name: &str) -> PyResult<Py<PyAny>> {
        Err(attributes::none("Posterior", name))
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

type Number = (&'static str, fn(&PosteriorEstimate) -> f64);

/// What is told of a parameter, in the unit of its name.
fn numbers() -> [Number; 13] {
    [
        ("median", |e| e.median * e.parameter.label().scale),
        ("standard_deviation", |e| e.standard_deviation * e.parameter.label().scale),
        ("low_90", |e| e.interval_90.0 * e.parameter.label().scale),
        ("high_90", |e| e.interval_90.1 * e.parameter.label().scale),
        ("low_95", |e| e.interval_95.0 * e.parameter.label().scale),
        ("high_95", |e| e.interval_95.1 * e.parameter.label().scale),
        ("prior_median", |e| e.prior.median * e.parameter.label().scale),
        ("prior_low_90", |e| e.prior_90().0 * e.parameter.label().scale),
        ("prior_high_90", |e| e.prior_90().1 * e.parameter.label().scale),
        ("learned", |e| e.learned),
        ("r_hat", |e| e.r_hat),
        ("bulk_ess", |e| e.bulk_ess),
        ("tail_ess", |e| e.tail_ess),
    ]
}
