//! A rise log: what was seen of a free-rise cup test.

use serde::{Deserialize, Serialize};
use std::path::PathBuf;

use super::Cup;

/// One free-rise cup test, in SI units. Any of the series and times may be absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RiseLog {
    /// A name for reports; the file's stem if none was given.
    pub name: String,
    /// The file it came from.
    pub file: Option<PathBuf>,
    /// Mass in the cup, kg.
    pub mass: f64,
    /// Temperature of the mix at the end of mixing, K.
    pub mix_temp: f64,
    /// Ambient temperature, K.
    pub ambient_temp: f64,
    /// Absolute ambient pressure, Pa.
    pub ambient_pressure: f64,
    /// The cup. Needed where heights were logged.
    pub cup: Option<Cup>,
    /// Time since the end of mixing, s, rising; shape (n,).
    pub time: Vec<f64>,
    /// Height of the foam above the cup's floor, m; NaN where absent; shape (n,).
    pub height: Option<Vec<f64>>,
    /// Volume of the foam, m3; NaN where absent; shape (n,).
    pub volume: Option<Vec<f64>>,
    /// Temperature in the foam, K; NaN where absent; shape (n,).
    pub temp: Option<Vec<f64>>,
    /// Stopwatch times.
    pub stopwatch: Stopwatch,
    /// Free-rise density measured on the cured foam, kg/m3.
    pub free_rise_density: Option<f64>,
}

/// Stopwatch times of a cup test, s since the end of mixing, in the words of ASTM D7487.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stopwatch {
    /// First visible rise.
    pub cream: Option<f64>,
    /// First strings when a stick is pulled from the foam.
    pub string_gel: Option<f64>,
    /// The foam stops rising.
    pub end_of_rise: Option<f64>,
    /// The surface no longer sticks.
    pub tack_free: Option<f64>,
}
