//! Nonlinear least squares within bounds by Levenberg and Marquardt's method (Moré 1978), with an account of what the
//! residuals do and do not determine.
//!
//! - [`Residuals`], [`Bounds`]: the problem.
//! - [`condense`]: many residuals as few.
//! - [`Settings`], [`Watcher`]: when to stop, who watches.
//! - [`fit`], [`fit_from_starts`], [`run`]: from one start with checks, from many, one bare run.
//! - [`Solution`], [`Standing`], [`Ending`]: the answer, each parameter's standing, why it ended.

mod condense;
mod ending;
mod executor;
mod model;
mod problem;
mod run;
mod settings;
mod single;
mod solution;
mod solver;
mod standing;
mod starts;
mod step;
mod verify;

pub use condense::{condense, condense_values, condensed_rows};
pub use ending::Ending;
pub use problem::{Bounds, Residuals};
pub use run::run;
pub use settings::{Progress, Settings, Watcher};
pub use solution::{Noise, Solution};
pub use standing::{Side, Standing};
pub use starts::{MultiStart, fit_from_starts};

#[cfg(feature = "internals")]
pub use {ending::Tally, single::fit, solution::Verification};
