//! Fits the rise of a polyurethane foam grade and the leak of a mold to logged trials, and predicts peak back pressure
//! and density of the next casting.
//!
//! The main job: cup tests and castings in, the next casting with its doubt out. All values are SI, pressures of a casting
//! are gauge.
//!
//! ```
//! use risefit::{Casting, Datasheet, FitOptions, GradeKnowledge, Mold, Outcome};
//!
//! let options = FitOptions { starts: 1, ..FitOptions::default() };
//! let sheet = Datasheet::load("data/grades/K_datasheet.toml")?;
//! let known = risefit::grade_from_datasheet(&sheet, &options)?;
//! let logs = risefit::read_rise_logs(&["data/logs/*.csv"])?;
//! let fit = risefit::fit_free_rise(&logs, &known.grade, &options)?;
//!
//! let trials = risefit::read_trials("data/trials/armrest.csv")?;
//! let mold = Mold::load("data/molds/armrest.toml")?;
//! let calibration = risefit::calibrate(&GradeKnowledge::from_cup_tests(&fit), &mold, &trials, &options)?;
//!
//! let next = Casting { charge: 62e-3, vent_diameters: vec![4e-3], ..trials[2].casting.clone() };
//! let prediction = calibration.predict(&next)?;
//! let (low, high) = prediction.at(Outcome::PeakPressure).interval_95;
//! assert!(low < 50e3 && 50e3 < high);
//! # Ok::<(), risefit::Error>(())
//! ```
//!
//! The main job is here; each module holds one part of it with its tables and options, in reading order. A file uses only what
//! stands on its own floor or below: `tests/architecture.rs` has the list.

// What knows no user: open to this repository's tests and benchmarks by the feature `internals`.
#[cfg(feature = "internals")]
pub mod inference;
#[cfg(feature = "internals")]
pub mod numerics;
#[cfg(feature = "internals")]
pub mod physics;

#[cfg(not(feature = "internals"))]
mod inference;
#[cfg(not(feature = "internals"))]
mod numerics;
#[cfg(not(feature = "internals"))]
mod physics;

pub mod error;

pub mod units;

pub mod model;

pub mod records;

pub mod sweep;

pub mod fit;

pub mod diagnose;

pub mod decide;

pub mod report;

pub use error::{Error, Result};
pub use model::{Casting, Cause, Cup, FoamConstants, Outcome, Parameter, Run, Setting, Verdict};
pub use records::{Datasheet, Grade, Mold, Recipe, RiseLog, Trial, read_rise_logs, read_trials};

pub use numerics::threads::on_threads;
pub use physics::adiabatic_rise::free_rise_density;
pub use physics::casting::{Accuracy, Sampled, sampled, simulate};
pub use physics::cup::{CupTest, FreeRise, free_rise};
pub use physics::cup_settings::{CUP_SETTINGS, CupSettings, cup_test};

pub use fit::{
    Calibration, FitOptions, FreeRiseFit, GradeKnowledge, Predicted, Prediction, calibrate, fit_free_rise,
    grade_from_datasheet, quick_curve,
};

pub use diagnose::{DiagnoseOptions, Diagnosis, diagnose};

pub use report::{DisplayUnits, main_job_text, write_main_job};

#[cfg(doctest)]
#[doc = include_str!("../README.md")]
mod readme {}
