//! A trial: one casting as it was run and what came out of it.

use serde::{Deserialize, Serialize};
use std::path::PathBuf;

use crate::model::Casting;

/// One logged casting, in SI units. Any observation may be absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trial {
    /// The trial's name in its ledger.
    pub name: String,
    /// The ledger it came from, and its line there.
    pub file: Option<PathBuf>,
    /// Line in the ledger, counted from 1.
    pub line: Option<u64>,
    /// How it was run.
    pub casting: Casting,
    /// Ambient temperature, K; kept for the record, the model does not use it.
    pub ambient_temp: Option<f64>,
    /// Mass of the demolded, trimmed part, kg.
    pub part_mass: Option<f64>,
    /// Mass that came out of the vents, kg.
    pub vent_loss: Option<f64>,
    /// Mass that came out of the parting line, kg.
    pub flash: Option<f64>,
    /// What the part looked like.
    pub outcome: Option<Outcome>,
    /// Peak gauge pressure, Pa.
    pub peak_pressure: Option<f64>,
    /// Whether the gauge stood at its stop: the true peak is at least `peak_pressure`.
    pub gauge_at_stop: bool,
    /// Hottest temperature measured in the part's core, K.
    pub core_temp: Option<f64>,
    /// A pressure or temperature trace.
    pub trace: Option<Trace>,
    /// Remarks, as written.
    pub remarks: String,
    /// What the ledger left out and was assumed, in words.
    pub assumed: Vec<String>,
}

/// What a part looked like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Outcome {
    /// The cavity was not filled.
    Short,
    /// Full, without flash.
    Full,
    /// Full, with flash at the parting line.
    Flash,
}

/// A logged trace of one casting; NaN where a value is absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trace {
    /// The file it came from.
    pub file: Option<PathBuf>,
    /// Time since the end of mixing, s, rising; shape (n,).
    pub time: Vec<f64>,
    /// Gauge pressure in the cavity, Pa; shape (n,).
    pub pressure: Option<Vec<f64>>,
    /// Temperature in the part, K; shape (n,).
    pub temp: Option<Vec<f64>>,
}
