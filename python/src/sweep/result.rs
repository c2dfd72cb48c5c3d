//! What a sweep comes to: arrays in the shape of its grid.

use std::sync::Arc;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::report::{MapSlice, sweep_chart};
use risefit::sweep::{Block, Judgment};
use risefit::units::{Quantity, resolve};
use risefit::{Error, Outcome};
use serde::Serialize;

use super::plan::{Plan, PySweep};
use crate::attributes::{self, Attribute, Value};
use crate::errors::to_python;
use crate::report::{ChartOptions, PyChart};
use crate::{call, convert, pickle};

/// What a sweep, or a block of it, comes to. Quantities are arrays named and measured as in `Run`; where something did not
/// happen they hold NaN. A whole sweep has arrays in the shape of its grid, a block has them in shape (n,).
#[pyclass(frozen, name = "SweepResult", module = "risefit")]
pub struct PySweepResult {
    pub plan: Arc<Plan>,
    pub block: Block,
}

fn quantities() -> Vec<Attribute<'static>> {
    Outcome::all().map(|of| (of.name(), of.quantity(), Value::Row(None))).collect()
}

impl PySweepResult {
    fn dims(&self) -> Vec<usize> {
        let sweep = &self.plan.sweep;
        if self.block.rows.len() == sweep.points() { sweep.shape() } else { vec![self.block.rows.len()] }
    }

    /// A flat array in the shape of the result, read-only.
    fn shaped<'py>(&self, flat: Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let array = flat.call_method1("reshape", (PyTuple::new(flat.py(), self.dims())?,))?;
        array.call_method1("setflags", (false,))?;
        Ok(array)
    }

    /// The value of each axis at every point.
    fn coordinates(&self) -> Vec<(String, Vec<f64>)> {
        let mut stride = self.plan.sweep.points();
        let at = |(name, values): (String, Vec<f64>)| {
            stride /= values.len();
            let column = self.block.range().map(|point| values[point / stride % values.len()]).collect();
            (name, column)
        };
        self.plan.axes().into_iter().map(at).collect()
    }

    fn count(&self, judgment: Judgment) -> usize {
        self.block.rows.iter().filter(|row| row.judgment == judgment).count()
    }
}

/// Names and quantities of the outcomes.
fn named() -> Vec<(&'static str, Quantity)> {
    Outcome::all().map(|of| (of.name(), of.quantity())).collect()
}

/// The outcome of this name, with or without a unit.
fn outcome(name: &str) -> risefit::Result<Outcome> {
    let in_unit = || resolve(name, &named(), &[]).ok().and_then(|(index, _)| Outcome::all().nth(index));
    Outcome::all().find(|of| of.name() == name).or_else(in_unit).ok_or_else(|| {
        let known: Vec<&str> = Outcome::all().map(Outcome::name).collect();
        let advice = format!("known: {}", known.join(", "));
        Error::argument("quantity", format!("{name:?}"), "a quantity of castings", advice)
    })
}

#[pymethods]
impl PySweepResult {
    /// The plan that it is a result of: `result.sweep.reason(index)`, `result.sweep.simulate(index)`.
    #[getter]
    fn sweep(&self) -> PySweep {
        PySweep(self.plan.clone())
    }

    /// The axes by their names as given, the slowest first; values in the unit of the name.
    #[getter]
    fn axes<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        self.plan.axes_dict(py)
    }

    /// The shape of its arrays.
    #[getter]
    fn shape<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, self.dims())
    }

    /// Number of its first point.
    #[getter]
    fn start(&self) -> usize {
        self.block.start
    }

    /// Number after its last point.
    #[getter]
    fn stop(&self) -> usize {
        self.block.range().end
    }

    /// Whether every point was cast. Points that an interrupt left out have the verdict `"not run"` and NaN.
    #[getter]
    fn complete(&self) -> bool {
        self.block.is_complete()
    }

    /// An array of `"full"`, `"short"`, `"flash"`, `"soft"`, `"refused"` (cannot be cast so: `sweep.reason` says why),
    /// `"failed"` (the integration stopped) or `"not run"`.
    #[getter]
    fn verdict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let names: Vec<&str> = Judgment::all().map(Judgment::name).collect();
        let names = py.import("numpy")?.call_method1("array", (names,))?;
        let code = |judgment| Judgment::all().position(|other| other == judgment).unwrap_or_default() as u8;
        let codes: Vec<u8> = self.block.rows.iter().map(|row| code(row.judgment)).collect();
        self.shaped(names.call_method1("take", (numpy::PyArray1::from_vec(py, codes),))?)
    }

    fn __len__(&self) -> usize {
        self.block.rows.len()
    }

    /// A `pandas.DataFrame`, one casting a row: axes, quantities in customary units, verdict.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let mut columns = self.coordinates();
        for of in Outcome::all() {
            let unit = &of.quantity().units()[0];
            let column = self.block.column(of).map(|si| unit.from_si(si)).collect();
            columns.push((of.quantity().customary_name(of.name()), column));
        }
        let frame = convert::frame(py, columns)?;
        frame.set_item("verdict", self.verdict(py)?.call_method0("ravel")?)?;
        Ok(frame)
    }

    /// A map of one quantity over two axes, with the regions of each verdict outlined. `quantity`, `x` and `y` by name;
    /// without `x` and `y`, the last two axes with more than one value, the last one upward. `at` says where the map stands on
    /// the other axes: a place on every axis, counted from 0 (those on `x` and `y` do not matter); the first if not given.
    #[pyo3(signature = (quantity="peak_pressure", *, x=None, y=None, at=None, title=None, width=900, height=600, units="metric"))]
    #[allow(clippy::too_many_arguments)]
    fn chart(
        &self,
        py: Python<'_>,
        quantity: &str,
        x: Option<&str>,
        y: Option<&str>,
        at: Option<Vec<usize>>,
        title: Option<&str>,
        width: u32,
        height: u32,
        units: &str,
    ) -> PyResult<PyChart> {
        let sheet = ChartOptions { width, height, units }.sheet(py)?;
        let outcome = outcome(quantity).map_err(|e| to_python(py, e))?;
        let (across, up) = self.plan.sides(x, y).map_err(|e| to_python(py, e))?;
        let places = at.unwrap_or_else(|| vec![0; self.plan.sweep.shape().len()]);
        let slice = MapSlice { outcome, across, up, places };
        let title = title.unwrap_or(outcome.row().words);
        call::run(py, || sweep_chart(&self.plan.sweep, &self.block, &slice, title, sheet)).map(PyChart::new)
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        let found = resolve(name, &named(), &[]).ok();
        match found.and_then(|(index, unit)| Some((Outcome::all().nth(index)?, unit))) {
            Some((of, unit)) => {
                let column = self.block.column(of).map(|si| unit.from_si(si)).collect();
                self.shaped(numpy::PyArray1::from_vec(py, column).into_any())
            }
            None => attributes::get(py, "SweepResult", name, &quantities()),
        }
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &quantities())
    }

    fn __repr__(&self) -> String {
        let kinds = Judgment::all().map(|kind| (self.count(kind), kind.name())).filter(|(count, _)| *count > 0);
        let kinds: Vec<_> = kinds.map(|(count, name)| format!("{count} {name}")).collect();
        format!("SweepResult({}; {})", self.plan.shown(), kinds.join(", "))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        #[derive(Serialize)]
        struct Parts<'a>(&'a Plan, &'a Block);
        let inner = slf.get();
        pickle::reduce(slf.as_any(), &Parts(&inner.plan, &inner.block))
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        let (plan, block): (Plan, Block) = pickle::restore(data)?;
        Ok(PySweepResult { plan: Arc::new(plan), block })
    }
}
