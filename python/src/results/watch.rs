//! Runs a sweep from Python: Ctrl-C stops it and keeps what was cast; what takes longer than a second says how far it
//! is.

use std::ops::Range;
use std::time::{Duration, Instant};

use pyo3::exceptions::{PyKeyboardInterrupt, PyTypeError};
use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::sweep::{Block, Control, Runner, Sweep};

use crate::convert::call;

/// What takes less than this needs no progress.
const PATIENCE: Duration = Duration::from_secs(1);
/// How often progress is told.
const OFTEN: Duration = Duration::from_millis(250);

/// Who is told how far a sweep is.
pub enum Progress {
    Nobody,
    /// The error stream, a line that is written over.
    Terminal,
    /// A function of points done and all points.
    Function(Py<PyAny>),
}

impl Progress {
    /// From the argument `progress`: `None` tells a terminal if there is one, `True` the error stream, `False` nobody.
    pub fn of(py: Python<'_>, given: Option<&Bound<'_, PyAny>>) -> PyResult<Self> {
        let Some(given) = given else {
            let stderr = py.import("sys")?.getattr("stderr")?;
            let terminal = stderr.call_method0("isatty").and_then(|yes| yes.is_truthy()).unwrap_or(false);
            return Ok(if terminal { Progress::Terminal } else { Progress::Nobody });
        };
        match given.extract::<bool>() {
            Ok(true) => Ok(Progress::Terminal),
            Ok(false) => Ok(Progress::Nobody),
            Err(_) if given.is_callable() => Ok(Progress::Function(given.clone().unbind())),
            Err(_) => Err(PyTypeError::new_err("progress: expected a function of (done, points), True, False or None")),
        }
    }
}

/// Tells progress, not too often.
struct Teller<'a> {
    progress: &'a Progress,
    control: Control,
    points: usize,
    start: Instant,
    told: Option<Instant>,
}

impl Teller<'_> {
    fn look(&mut self, py: Python<'_>) -> PyResult<()> {
        let due = self.told.map_or(self.start + PATIENCE, |told| told + OFTEN);
        if Instant::now() < due {
            return Ok(());
        }
        self.told = Some(Instant::now());
        self.tell(py, self.control.done())
    }

    fn tell(&self, py: Python<'_>, done: usize) -> PyResult<()> {
        match self.progress {
            Progress::Nobody => Ok(()),
            Progress::Function(function) => function.call1(py, (done, self.points)).map(|_| ()),
            Progress::Terminal => {
                let rate = done as f64 / self.start.elapsed().as_secs_f64();
                let left = (self.points - done) as f64 / rate.max(1e-3);
                let percent = 100 * done / self.points.max(1);
                write(py, &format!("\r{percent} % of {} castings, {left:.0} s left \x1b[K", self.points))
            }
        }
    }

    /// The last word, once something was said.
    fn end(&self, py: Python<'_>) -> PyResult<()> {
        match (self.told, self.progress) {
            (Some(_), Progress::Terminal) => write(py, "\r\x1b[K"),
            (_, Progress::Function(_)) => self.tell(py, self.control.done()),
            _ => Ok(()),
        }
    }
}

fn write(py: Python<'_>, text: &str) -> PyResult<()> {
    let stderr = py.import("sys")?.getattr("stderr")?;
    stderr.call_method1("write", (text,))?;
    stderr.call_method0("flush").map(|_| ())
}

/// Casts the points of `range`, and says what stopped it early, if anything did.
pub fn cast(
    py: Python<'_>,
    sweep: &Sweep,
    range: Range<usize>,
    threads: Option<usize>,
    progress: &Progress,
) -> PyResult<(Block, Option<PyErr>)> {
    let control = Control::default();
    let teller_control = control.clone();
    let points = range.len();
    let mut teller = Teller { progress, control: teller_control, points, start: Instant::now(), told: None };
    let stopper = control.clone();
    let work = || Runner::new(threads, control)?.block(sweep, range);
    let (block, stop) = call::run_watched(py, work, || stopper.stop(), |py| teller.look(py))?;
    teller.end(py)?;
    Ok((block, stop))
}

/// The interrupt with what was cast; another exception as it is.
pub fn interrupted(py: Python<'_>, stop: PyErr, done: usize, points: usize, partial: Bound<'_, PyAny>) -> PyErr {
    if !stop.is_instance_of::<PyKeyboardInterrupt>(py) {
        return stop;
    }
    let build = || {
        let text = format!("stopped after {done} of {points} castings; the exception's `partial` has them");
        let fields = PyDict::new(py);
        fields.set_item("partial", partial)?;
        py.import("risefit.errors")?.getattr("SweepInterrupted")?.call((text,), Some(&fields))
    };
    build().map_or_else(|error| error, PyErr::from_value)
}
