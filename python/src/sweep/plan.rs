//! The plan of a sweep: what is cast over which grid. It pickles, and a block of it is the same numbers wherever it is run.

use std::sync::Arc;

use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyTuple};
use risefit::Error;
use risefit::sweep::{Block, Sweep};
use serde::{Deserialize, Serialize};

use super::axes::{self, Given};
use super::result::PySweepResult;
use super::subject::Subject;
use super::watch::{self, Progress};
use crate::errors::to_python;
use crate::settings::PyCasting;
use crate::simulate::{PyRun, checked};
use crate::{call, convert, pickle};

/// Times from pour to demold in a run's courses.
const POINTS: usize = 601;

/// A sweep and its axes as they were given.
#[derive(PartialEq, Serialize, Deserialize)]
pub struct Plan {
    pub sweep: Sweep,
    /// Without the draws, which are the first axis if there are several.
    pub given: Vec<Given>,
}

impl Plan {
    fn new(args: &Bound<'_, PyTuple>, accuracy: Option<f64>, kwargs: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        let py = args.py();
        let subject = Subject::of(args)?;
        let (base, given, axes) = axes::split(py, subject.casting.as_ref(), kwargs)?;
        let accuracy = accuracy.map_or(Ok(subject.accuracy), checked).map_err(|e| to_python(py, e))?;
        let sweep = call::run(py, || Sweep::new(subject.cases, base, axes, accuracy))?;
        Ok(Plan { sweep, given })
    }

    /// The axes, the slowest first: name and values.
    pub fn axes(&self) -> Vec<(String, Vec<f64>)> {
        let draws = self.sweep.cases().len();
        let draw = (draws > 1).then(|| ("draw".to_owned(), (0..draws).map(|i| i as f64).collect()));
        draw.into_iter().chain(self.given.iter().map(|axis| (axis.name.clone(), axis.values.clone()))).collect()
    }

    pub fn axes_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for (name, values) in self.axes() {
            dict.set_item(name, convert::array(py, values)?)?;
        }
        Ok(dict)
    }

    /// `charge_g 48..70 x 200, vent_mm 2..8 x 100`.
    pub fn shown(&self) -> String {
        let of = |(name, values): &(String, Vec<f64>)| {
            let (low, high) = values.iter().fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(*x), h.max(*x)));
            format!("{name} {low}..{high} x {}", values.len())
        };
        self.axes().iter().map(of).collect::<Vec<_>>().join(", ")
    }

    /// The axes of a map, by name, or the last two that have more than one value.
    pub fn sides(&self, x: Option<&str>, y: Option<&str>) -> risefit::Result<(usize, usize)> {
        let place = |argument: &str, name: &str| {
            let known = self.given.iter().map(|axis| axis.name.as_str()).collect::<Vec<_>>().join(", ");
            self.given.iter().position(|axis| axis.name == name).ok_or_else(|| {
                Error::argument(argument, format!("{name:?}"), "an axis of the sweep", format!("it has {known}"))
            })
        };
        let (x, y) = (x.map(|name| place("x", name)).transpose()?, y.map(|name| place("y", name)).transpose()?);
        let mut long = (0..self.given.len()).rev().filter(|i| self.given[*i].values.len() > 1);
        let mut free = || long.find(|i| Some(*i) != x && Some(*i) != y);
        let y = y.or_else(&mut free);
        let x = x.or_else(free);
        x.zip(y).ok_or_else(|| {
            let advice = "a map needs two settings that vary";
            Error::argument("sweep", self.shown(), "two axes of two values or more", advice)
        })
    }

    /// The number of a point, given as such or by its place on each axis.
    fn point(&self, index: &Bound<'_, PyAny>) -> PyResult<usize> {
        let shape = self.sweep.shape();
        let refused = || {
            let found = index.repr().map_or_else(|_| "an index".to_owned(), |text| text.to_string());
            let expected = format!("0 to {}, or {} numbers within {shape:?}", self.sweep.points() - 1, shape.len());
            to_python(index.py(), Error::argument("index", found, expected, "points are counted from 0"))
        };
        if let Ok(point) = index.extract::<usize>() {
            return if point < self.sweep.points() { Ok(point) } else { Err(refused()) };
        }
        let places: Vec<usize> = index.extract().map_err(|_| refused())?;
        if places.len() != shape.len() || places.iter().zip(&shape).any(|(i, n)| i >= n) {
            return Err(refused());
        }
        Ok(places.iter().zip(&shape).fold(0, |point, (i, n)| point * n + i))
    }
}

/// Casts a grade in a mold, or a calibration, over a grid of settings.
///
/// A row of values is an axis, one value a setting that does not vary: a tuple `(first, last, how many)`, both ends included,
/// or a list or array of the values. Names and units as in `Casting`; `vent_mm` sets all vents alike (for one diameter each,
/// give a `Casting` before the settings). The last axis runs fastest. A list of (Grade, Mold) pairs adds a first axis `draw`.
/// `threads`: one for each core if not given; the numbers do not depend on it. `progress`: a function of (done, points),
/// `True` or `False`; if not given, a line on the terminal after a second. Ctrl-C raises `SweepInterrupted`, a
/// `KeyboardInterrupt` whose `partial` has what was cast. Raises `ArgumentError`.
#[pyfunction]
#[pyo3(signature = (*of, accuracy=None, threads=None, progress=None, **settings))]
pub fn sweep(
    of: &Bound<'_, PyTuple>,
    accuracy: Option<f64>,
    threads: Option<usize>,
    progress: Option<&Bound<'_, PyAny>>,
    settings: Option<&Bound<'_, PyDict>>,
) -> PyResult<PySweepResult> {
    PySweep(Arc::new(Plan::new(of, accuracy, settings)?)).run(of.py(), threads, progress)
}

/// The plan of a sweep; arguments as in `sweep`. Nothing is cast until it is asked for: all by `run`, some by `block` or
/// `blocks`, one by `simulate`. It pickles: any process can run any block, and gets the same bits.
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
    #[pyo3(signature = (*of, accuracy=None, **settings))]
    fn new(of: &Bound<'_, PyTuple>, accuracy: Option<f64>, settings: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        Ok(PySweep(Arc::new(Plan::new(of, accuracy, settings)?)))
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
    fn run(
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
    fn blocks(slf: Bound<'_, Self>, size: usize, threads: Option<usize>) -> PyResult<PySweepBlocks> {
        if size == 0 {
            let advice = "some thousands suit most uses";
            return Err(to_python(slf.py(), Error::argument("size", 0, "1 or more points", advice)));
        }
        Ok(PySweepBlocks { sweep: slf.unbind(), size, threads, next: 0 })
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
pub struct PySweepBlocks {
    sweep: Py<PySweep>,
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
        let sweep = self.sweep.get();
        let (start, points) = (self.next, sweep.0.sweep.points());
        if start >= points {
            return Ok(None);
        }
        self.next = points.min(start.saturating_add(self.size));
        sweep.block(py, start, self.next, self.threads).map(Some)
    }
}
