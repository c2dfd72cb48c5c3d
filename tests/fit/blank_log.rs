//! A cup test at sea level that nothing was read of yet.

use risefit::records::{RiseLog, Stopwatch};

/// `mass` (kg) of mix at `mix_temp` (K), in a room as warm.
pub fn blank_log(name: &str, mass: f64, mix_temp: f64) -> RiseLog {
    RiseLog {
        name: name.into(),
        file: None,
        mass,
        mix_temp,
        ambient_temp: mix_temp,
        ambient_pressure: 101_325.0,
        cup: None,
        time: Vec::new(),
        height: None,
        volume: None,
        temp: None,
        stopwatch: Stopwatch::default(),
        free_rise_density: None,
        assumed: Vec::new(),
    }
}
