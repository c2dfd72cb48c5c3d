//! Runs the library with the interpreter lock released; neither an error nor a panic gets past here untranslated.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};

use pyo3::prelude::*;

use crate::errors::{internal_error, to_python};

/// Runs `work` without the interpreter lock. An error becomes its named exception, a panic an `InternalError`.
pub fn run<T: Send>(py: Python<'_>, work: impl FnOnce() -> risefit::Result<T> + Send) -> PyResult<T> {
    // Nothing that `work` may leave half-changed outlives a panic: its captures are dropped with it.
    let outcome = py.detach(|| catch_unwind(AssertUnwindSafe(work)).map_err(|payload| panic_text(&*payload)));
    match outcome {
        Ok(result) => result.map_err(|error| to_python(py, error)),
        Err(text) => Err(internal_error(py, &text)),
    }
}

fn panic_text(payload: &(dyn Any + Send)) -> String {
    let text = payload.downcast_ref::<&str>().map(|s| (*s).to_owned());
    text.or_else(|| payload.downcast_ref::<String>().cloned()).unwrap_or_else(|| "no message".to_owned())
}
