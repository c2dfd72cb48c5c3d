//! Python bindings: convert, call with the interpreter lock released, convert. No physics lives here.

mod call;
mod convert;
mod errors;
mod probe;

use pyo3::prelude::*;

/// The compiled part of the Python package `risefit`.
#[pymodule]
mod _core {
    #[pymodule_export]
    #[allow(non_upper_case_globals)]
    const __version__: &str = env!("CARGO_PKG_VERSION");

    #[pymodule_export]
    use super::probe::_probe;
}
