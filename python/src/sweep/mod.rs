//! Sweeps: the plan, running it with progress and Ctrl-C, and what comes out.

mod axes;
mod plan;
mod result;
mod subject;
mod watch;

pub use plan::{PySweep, PySweepBlocks, sweep};
pub use result::PySweepResult;
