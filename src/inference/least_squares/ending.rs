//! Why a run ended, and what it took.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Why a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Ending {
    /// The residuals stand perpendicular on every change the parameters can make.
    Converged,
    /// The sum of squares changes no more than rounding or inner tolerances can fake.
    CostFlat,
    /// The step became too small to change the parameters.
    StepTiny,
    /// The largest number of iterations was reached.
    IterationLimit,
    /// Someone asked to stop.
    Canceled,
}

impl fmt::Display for Ending {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Ending::Converged => "a minimum is reached",
            Ending::CostFlat => "the sum of squares is flat to within its own noise",
            Ending::StepTiny => "no step large enough to matter makes it better",
            Ending::IterationLimit => "the limit of iterations is reached",
            Ending::Canceled => "stopped on request",
        })
    }
}

/// Counts of a run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tally {
    /// Trial steps.
    pub iterations: u64,
    /// Evaluations of the residuals, with or without their Jacobian.
    pub evaluations: u64,
    /// Evaluations with the Jacobian.
    pub jacobians: u64,
    /// Evaluations that failed and were stepped over.
    pub failures: u64,
}

impl std::ops::AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.iterations += other.iterations;
        self.evaluations += other.evaluations;
        self.jacobians += other.jacobians;
        self.failures += other.failures;
    }
}
