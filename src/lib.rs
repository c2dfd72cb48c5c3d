//! Fits the rise of a polyurethane foam grade and the leak of a mold to logged trials, and predicts peak back pressure
//! and density of the next casting.
//!
//! The modules stand in reading order; each floor uses only the ones above it in this list.

pub mod error;
pub mod numerics;
pub mod units;

pub mod records;

pub mod physics;

pub mod fit;

pub mod report;

pub use error::{Error, Result};
pub use records::{Casting, Cup, Grade, Mold, RiseLog, Trial};

#[cfg(doctest)]
#[doc = include_str!("../README.md")]
mod readme {}
