//! The outcomes of many simulated castings of one setting: arrays, intervals and probabilities.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::fit::{Draws, OutcomeParts, Outcomes};
use risefit::{Casting, Outcome};
use serde::{Deserialize, Serialize};

use crate::convert::attributes::{self, Attribute, Value};
use crate::convert::{self, call, pickle};
use crate::settings::{self, PyCasting};

/// The outcomes of one setting, one per draw of what is in doubt and of how castings scatter. Every quantity is an
/// array of shape (draws,) in the unit of its name, NaN where a casting did not come to it; pressures are gauge.
#[pyclass(frozen, name = "Outcomes", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PyOutcomes {
    parts: OutcomeParts,
    casting: Casting,
    values: Vec<Vec<f64>>,
}

impl PyOutcomes {
    /// Casts the settings with draws made by `make`; Ctrl-C stops it.
    pub fn cast(
        py: Python<'_>,
        casting: Casting,
        threads: Option<usize>,
        make: impl FnOnce(Arc<AtomicBool>) -> risefit::Result<Draws> + Send,
    ) -> PyResult<Self> {
        let parts = call::run_on_threads(py, threads, |cancel| {
            let mut draws = make(cancel.clone())?;
            draws.cancel = Some(cancel);
            draws.casting_in_parts(&casting)
        })?;
        let values = Outcome::drawn().map(|outcome| parts.both.values(outcome)).collect();
        Ok(PyOutcomes { parts, casting, values })
    }

    fn attributes(&self) -> Vec<Attribute<'_>> {
        let each = Outcome::drawn().zip(&self.values);
        each.map(|(of, values)| (of.name(), of.quantity(), Value::Row(Some(values.as_slice())))).collect()
    }
}

#[pymethods]
impl PyOutcomes {
    /// The settings that were cast.
    #[getter]
    fn casting(&self) -> PyCasting {
        PyCasting(self.casting.clone())
    }

    /// How many draws were cast.
    #[getter]
    fn count(&self) -> usize {
        self.parts.both.cast().count()
    }

    /// What kept draws from being cast: pairs of the draw's number and the reason.
    #[getter]
    fn failures(&self) -> Vec<(usize, String)> {
        self.parts.both.failures().map(|(i, e)| (i, e.to_string())).collect()
    }

    /// How likely the casting is full, without flash, and within limits given as pairs: `density_kg_m3=(94, 100)`,
    /// `peak_pressure_kPa=(20, 80)` (gauge). A dict with `full`, `no_flash`, `density`, `peak_pressure` and `all`,
    /// each from 0 to 1, among the draws that could be cast. Raises `ArgumentError`.
    #[pyo3(signature = (**limits))]
    fn probabilities<'py>(&self, py: Python<'py>, limits: Option<&Bound<'py, PyDict>>) -> PyResult<Bound<'py, PyDict>> {
        let p = self.parts.both.probabilities(&settings::limits(limits)?);
        let dict = PyDict::new(py);
        dict.set_item("full", p.full)?;
        dict.set_item("no_flash", p.no_flash)?;
        dict.set_item("density", p.density)?;
        dict.set_item("peak_pressure", p.peak_pressure)?;
        dict.set_item("all", p.all)?;
        Ok(dict)
    }

    /// A `pandas.DataFrame`, one quantity a row, in customary units: `median`, `mean`, the 90 % and 95 % interval of
    /// the next casting, and the 90 % intervals from `doubt` alone and from `scatter` alone.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let heads = [
            "median",
            "mean",
            "low_90",
            "high_90",
            "low_95",
            "high_95",
            "doubt_low_90",
            "doubt_high_90",
            "scatter_low_90",
            "scatter_high_90",
        ];
        let mut columns = vec![Vec::new(); heads.len()];
        for of in Outcome::drawn() {
            let unit = &of.quantity().units()[0];
            let numbers = numbers(&self.parts, of).map(|si| unit.from_si(si));
            columns.iter_mut().zip(numbers).for_each(|(column, x)| column.push(x));
        }
        let names = Outcome::drawn().map(|of| of.quantity().customary_name(of.name())).collect();
        let columns = heads.iter().map(|head| (*head).to_owned()).zip(columns).collect();
        convert::frame_of_rows(py, "quantity", names, columns)
    }

    fn __repr__(&self) -> String {
        let text = |of: Outcome| {
            let (unit, (low, high)) = (&of.quantity().units()[0], self.parts.both.interval(of, 0.9));
            let (low, high) = (attributes::short(unit.from_si(low)), attributes::short(unit.from_si(high)));
            format!("{}={low}..{high}", of.quantity().customary_name(of.name()))
        };
        let shown: Vec<_> = Outcome::drawn().take(4).map(text).collect();
        let failed = self.parts.both.failures().count();
        let failed = if failed > 0 { format!(", {failed} could not be cast") } else { String::new() };
        format!("Outcomes({} draws{failed}, 90 %: {})", self.count(), shown.join(", "))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Outcomes", name, &self.attributes())
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &slf.get().attributes())
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

fn numbers(parts: &OutcomeParts, of: Outcome) -> [f64; 10] {
    let interval = |outcomes: &Outcomes, level: f64| outcomes.interval(of, level);
    let (b90, b95) = (interval(&parts.both, 0.9), interval(&parts.both, 0.95));
    let (d, s) = (interval(&parts.doubt, 0.9), interval(&parts.scatter, 0.9));
    [parts.both.median(of), parts.both.mean(of), b90.0, b90.1, b95.0, b95.1, d.0, d.1, s.0, s.1]
}
