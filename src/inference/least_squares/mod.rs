//! Nonlinear least squares within bounds, with an account of what the residuals do and do not determine.
//!
//! - [`Residuals`], [`Bounds`]: the problem.
//! - [`condense`]: many residuals as few.
//! - [`Settings`], [`Watcher`]: when to stop, who watches.
//! - [`fit`], [`fit_from_starts`], [`run`]: from one start with checks, from many, one bare run.
//! - [`LevenbergMarquardt`]: the method, a solver of the `argmin` framework.
//! - [`Solution`], [`Standing`], [`Ending`]: the answer, each parameter's standing, why it ended.

mod condense;
mod model;
mod problem;
mod settings;
mod single;
mod solution;
mod solver;
mod standing;
mod starts;
mod step;
mod verify;

pub use condense::{condense, condense_values, condensed_rows};
pub use problem::{Bounds, Residuals};
pub use settings::{Settings, Watcher};
pub use single::{fit, run};
pub use solution::{Ending, Noise, Solution, Verification};
pub use solver::{FitState, LevenbergMarquardt, Tally};
pub use standing::{Side, Standing};
pub use starts::{MultiStart, fit_from_starts};
