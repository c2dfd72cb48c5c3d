//! Runs the library with the interpreter lock released; neither an error nor a panic gets past here untranslated.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use pyo3::prelude::*;
use risefit::on_threads;

use super::errors::{internal_error, to_python};

/// How often a long call looks whether the user pressed Ctrl-C.
const LOOK: Duration = Duration::from_millis(50);

/// Runs `work` without the interpreter lock. An error becomes its named exception, a panic an `InternalError`.
pub fn run<T: Send>(py: Python<'_>, work: impl FnOnce() -> risefit::Result<T> + Send) -> PyResult<T> {
    translate(py, py.detach(|| caught(work)))
}

/// As [`run`], for work that takes long: it is given a flag that turns true when the user interrupts, and is expected
/// to end soon after. Then the interrupt is raised, whatever the work came to.
pub fn run_interruptibly<T: Send>(
    py: Python<'_>,
    work: impl FnOnce(Arc<AtomicBool>) -> risefit::Result<T> + Send,
) -> PyResult<T> {
    run_told(py, |_| Ok(()), work)
}

/// As [`run_interruptibly`], on this many threads; `None`: one for each core. The numbers do not depend on it.
pub fn run_on_threads<T: Send>(
    py: Python<'_>,
    threads: Option<usize>,
    work: impl FnOnce(Arc<AtomicBool>) -> risefit::Result<T> + Send,
) -> PyResult<T> {
    run_interruptibly(py, |cancel| on_threads(threads, || work(cancel))?)
}

/// As [`run_interruptibly`]; `look` is called about twenty times a second meanwhile, and an exception from it stops
/// the work.
pub fn run_told<T: Send>(
    py: Python<'_>,
    look: impl FnMut(Python<'_>) -> PyResult<()>,
    work: impl FnOnce(Arc<AtomicBool>) -> risefit::Result<T> + Send,
) -> PyResult<T> {
    let cancel = Arc::new(AtomicBool::new(false));
    let flag = cancel.clone();
    let (outcome, stop) = watched(py, || work(flag), || cancel.store(true, Ordering::Relaxed), look);
    stop?;
    translate(py, outcome)
}

/// As [`run_interruptibly`], for work that has something to show when it is stopped: an interrupt, or an error of
/// `look`, which is called now and then, calls `stop`. The work's outcome comes back with what stopped it.
pub fn run_watched<T: Send>(
    py: Python<'_>,
    work: impl FnOnce() -> risefit::Result<T> + Send,
    stop: impl Fn(),
    look: impl FnMut(Python<'_>) -> PyResult<()>,
) -> PyResult<(T, Option<PyErr>)> {
    let (outcome, stopped) = watched(py, work, stop, look);
    Ok((translate(py, outcome)?, stopped.err()))
}

fn watched<T: Send>(
    py: Python<'_>,
    work: impl FnOnce() -> risefit::Result<T> + Send,
    stop: impl Fn(),
    look: impl FnMut(Python<'_>) -> PyResult<()>,
) -> (Result<risefit::Result<T>, String>, PyResult<()>) {
    let done = AtomicBool::new(false);
    let waiting = thread::current();
    thread::scope(|scope| {
        let done = &done;
        let worker = scope.spawn(move || {
            let outcome = caught(work);
            done.store(true, Ordering::Release);
            waiting.unpark();
            outcome
        });
        let stopped = wait(py, done, look).inspect_err(|_| stop());
        (py.detach(|| worker.join().unwrap_or_else(|payload| Err(panic_text(&*payload)))), stopped)
    })
}

/// Waits until `done`; an interrupt or an error of `look` meanwhile is handed back.
fn wait(py: Python<'_>, done: &AtomicBool, mut look: impl FnMut(Python<'_>) -> PyResult<()>) -> PyResult<()> {
    while !done.load(Ordering::Acquire) {
        py.detach(|| thread::park_timeout(LOOK));
        py.check_signals()?;
        look(py)?;
    }
    Ok(())
}

fn caught<T>(work: impl FnOnce() -> risefit::Result<T>) -> Result<risefit::Result<T>, String> {
    // Nothing that `work` may leave half-changed outlives a panic: its captures are dropped with it.
    catch_unwind(AssertUnwindSafe(work)).map_err(|payload| panic_text(&*payload))
}

fn translate<T>(py: Python<'_>, outcome: Result<risefit::Result<T>, String>) -> PyResult<T> {
    match outcome {
        Ok(result) => result.map_err(|error| to_python(py, error)),
        Err(text) => Err(internal_error(py, &text)),
    }
}

fn panic_text(payload: &(dyn Any + Send)) -> String {
    let text = payload.downcast_ref::<&str>().map(|s| (*s).to_owned());
    text.or_else(|| payload.downcast_ref::<String>().cloned()).unwrap_or_else(|| "no message".to_owned())
}
