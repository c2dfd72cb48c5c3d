//! Sweeps: casting all points or some, and what comes out, as arrays in the shape of the grid.

use std::sync::Arc;

use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::report::{MapSlice, sweep_chart};
use risefit::sweep::{Block, Judgment};
use risefit::units::{Quantity, resolve};
use risefit::{Error, Outcome};
use serde::{Deserialize, Serialize};

use super::plan::Plan;
use super::run::{POINTS, PyRun};
use super::watch::{self, Progress};
use crate::convert::attributes::{self, Attribute, Value};
use crate::convert::report::{ChartOptions, PyChart};
use crate::convert::{self, call, errors::to_python, pickle};
use crate::settings::PyCasting;

/// The plan of a sweep; arguments as in `sweep`. Nothing is cast until it is asked for: all by `run`, some by `block`
/// or `blocks`, one by `simulate`. It pickles: any process can run any block, and gets the same bits.
#[pyclass(frozen, eq, name = "Sweep", module = "risefit")]
#[derive(PartialEq)]
pub struct PySweep(pub Arc<Plan>);

impl PySweep {
    fn result(&self, block: Block) -> PySweepResult {
        PySweepResult { plan: self.0.clone(), block }
    }

    fn cast(
        &self,
        py: Python<'_>,
        range: std::ops::Range<usize>,
        threads: Option<usize>,
        progress: &Progress,
    ) -> PyResult<PySweepResult> {
        let (block, stop) = watch::cast(py, &self.0.sweep, range, threads, progress)?;
        let (done, points) = (block.done(), block.rows.len());
        let result = self.result(block);
        match stop {
            None => Ok(result),
            Some(stop) => Err(watch::interrupted(py, stop, done, points, Bound::new(py, result)?.into_any())),
        }
    }
}

#[pymethods]
impl PySweep {
    #[new]
    #[pyo3(signature = (*of, accuracy=None, layers=None, **settings))]
    fn new(
        of: &Bound<'_, PyTuple>,
        accuracy: Option<f64>,
        layers: Option<usize>,
        settings: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<Self> {
        Ok(PySweep(Arc::new(Plan::new(of, accuracy, layers, settings)?)))
    }

    /// Lengths of the axes, the slowest first.
    #[getter]
    fn shape<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, self.0.sweep.shape())
    }

    /// The axes by their names as given, the slowest first; values in the unit of the name.
    #[getter]
    fn axes<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        self.0.axes_dict(py)
    }

    fn __len__(&self) -> usize {
        self.0.sweep.points()
    }

    /// Casts all points; `threads` and `progress` as in `sweep`.
    #[pyo3(signature = (*, threads=None, progress=None))]
    pub fn run(
        &self,
        py: Python<'_>,
        threads: Option<usize>,
        progress: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<PySweepResult> {
        let progress = Progress::of(py, progress)?;
        self.cast(py, 0..self.0.sweep.points(), threads, &progress)
    }

    /// Casts the points from `start` up to, not with, `stop`.
    #[pyo3(signature = (start, stop, *, threads=None))]
    fn block(&self, py: Python<'_>, start: usize, stop: usize, threads: Option<usize>) -> PyResult<PySweepResult> {
        self.cast(py, start..stop, threads, &Progress::Nobody)
    }

    /// Casts all points in order, `size` at a time: an iterator that keeps nothing of the blocks it gave.
    #[pyo3(signature = (size=10_000, *, threads=None))]
    fn blocks(&self, py: Python<'_>, size: usize, threads: Option<usize>) -> PyResult<PySweepBlocks> {
        if size == 0 {
            let advice = "some thousands suit most uses";
            return Err(to_python(py, Error::argument("size", 0, "1 or more points", advice)));
        }
        Ok(PySweepBlocks { plan: self.0.clone(), size, threads, next: 0 })
    }

    /// One result from the blocks of all points, in any order.
    fn join(&self, py: Python<'_>, blocks: Vec<PyRef<'_, PySweepResult>>) -> PyResult<PySweepResult> {
        if blocks.iter().any(|block| *block.plan != *self.0) {
            return Err(PyValueError::new_err("join: a block belongs to another sweep"));
        }
        let mut blocks: Vec<&Block> = blocks.iter().map(|block| &block.block).collect();
        blocks.sort_by_key(|block| block.start);
        let mut rows = Vec::with_capacity(self.0.sweep.points());
        for block in &blocks {
            if block.start != rows.len() {
                return Err(gap(py, rows.len(), block.start));
            }
            rows.extend_from_slice(&block.rows);
        }
        if rows.len() != self.0.sweep.points() {
            return Err(gap(py, rows.len(), self.0.sweep.points()));
        }
        Ok(self.result(Block { start: 0, rows }))
    }

    /// The settings of one point: its number, or its place on each axis.
    fn casting(&self, py: Python<'_>, index: &Bound<'_, PyAny>) -> PyResult<PyCasting> {
        let point = self.0.point(index)?;
        call::run(py, || self.0.sweep.settings(point)).map(|(_, casting)| PyCasting(casting))
    }

    /// Simulates one point with its courses; for a refused point, raises what was wrong with it.
    fn simulate(&self, py: Python<'_>, index: &Bound<'_, PyAny>) -> PyResult<PyRun> {
        let point = self.0.point(index)?;
        call::run(py, || self.0.sweep.cast(point, POINTS)).map(PyRun)
    }

    /// Why one point was refused or failed; `None` where it was not.
    fn reason(&self, py: Python<'_>, index: &Bound<'_, PyAny>) -> PyResult<Option<String>> {
        let point = self.0.point(index)?;
        call::run(py, || Ok(self.0.sweep.cast(point, 2).err().map(|error| error.to_string())))
    }

    fn __repr__(&self) -> String {
        format!("Sweep({} castings: {})", self.0.sweep.points(), self.0.shown())
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &*slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        Ok(PySweep(Arc::new(pickle::restore(data)?)))
    }
}

fn gap(py: Python<'_>, expected: usize, found: usize) -> PyErr {
    let (found, expected) = (format!("a block that starts at {found}"), format!("one that starts at {expected}"));
    to_python(py, Error::argument("blocks", found, expected, "give every block once"))
}

/// The blocks of a sweep, cast one by one as they are asked for.
#[pyclass(name = "SweepBlocks", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PySweepBlocks {
    plan: Arc<Plan>,
    size: usize,
    threads: Option<usize>,
    next: usize,
}

#[pymethods]
impl PySweepBlocks {
    fn __iter__(slf: PyRef<'_, Self>) -> PyRef<'_, Self> {
        slf
    }

    fn __next__(&mut self, py: Python<'_>) -> PyResult<Option<PySweepResult>> {
        let (start, points) = (self.next, self.plan.sweep.points());
        if start >= points {
            return Ok(None);
        }
        self.next = points.min(start.saturating_add(self.size));
        PySweep(self.plan.clone()).block(py, start, self.next, self.threads).map(Some)
    }

    fn __repr__(&self) -> String {
        format!(
            "SweepBlocks({} of {} castings to go, {} at a time)",
            self.plan.sweep.points() - self.next,
            self.plan.sweep.points(),
            self.size
        )
    }

    fn __eq__(&self, other: PyRef<'_, Self>) -> bool {
        pickle::same(self, &*other)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &*slf.borrow())
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data)
    }
}

/// What a sweep, or a block of it, comes to. Quantities are arrays named and measured as in `Run`; where something
/// did not happen they hold NaN. A whole sweep has arrays in the shape of its grid, a block has them in shape (n,).
#[pyclass(frozen, name = "SweepResult", module = "risefit")]
#[derive(Serialize, Deserialize)]
pub struct PySweepResult {
    plan: Arc<Plan>,
    block: Block,
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

    /// A map of one quantity over two axes, with the regions of each verdict outlined. `quantity`, `x` and `y` by
    /// name; without `x` and `y`, the last two axes with more than one value, the last one upward. `at` says where
    /// the map stands on the other axes: a place on every axis, counted from 0 (those on `x` and `y` do not matter);
    /// the first if not given.
    #[pyo3(
        signature = (quantity="peak_pressure", *, x=None, y=None, at=None, title=None, width=900, height=600, units="metric")
    )]
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
