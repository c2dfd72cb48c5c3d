//! Calls: what the package offers as functions.

pub mod before_castings;
pub mod fits;
pub mod priors;
pub mod probe;
pub mod read;
pub mod report;
pub mod simulate;
pub mod sweep;
pub mod tables;

mod known;
