//! The ambient pressure of a record: read, from the altitude, or assumed.

use crate::error::Result;
use crate::model::{Absent, Field, Setting};
use crate::units::{STANDARD_PRESSURE, standard_pressure};

use super::entries::Entries;

/// The two ways to name the ambient pressure.
pub(super) const AMBIENT_PRESSURE: Field = Setting::AmbientPressure.row().field;
pub(super) const ALTITUDE: Field = Setting::Altitude.row().field;

/// Absolute ambient pressure, Pa: as given, or of the standard atmosphere at the given altitude, or at sea level.
pub(super) fn ambient_pressure(entries: &Entries, assumed: &mut Vec<String>) -> Result<f64> {
    match (entries.number(AMBIENT_PRESSURE.base)?, entries.number(ALTITUDE.base)?) {
        (Some(_), Some(_)) => Err(both_given(entries)),
        (Some(pressure), None) => Ok(pressure),
        (None, Some(altitude)) => {
            let pressure = standard_pressure(altitude)?;
            assumed.push(at_altitude(altitude, pressure));
            Ok(pressure)
        }
        (None, None) => {
            if let Absent::Assumed(_, words) = Setting::AmbientPressure.row().absent {
                assumed.push(words.to_owned());
            }
            Ok(STANDARD_PRESSURE)
        }
    }
}

/// The error for a pressure beside an altitude.
pub(super) fn both_given(entries: &Entries) -> crate::Error {
    entries.contradiction(
        ALTITUDE.base,
        "an ambient pressure and an altitude",
        "one of the two",
        "keep the pressure if a barometer was read, else the altitude",
    )
}

/// What is said of a pressure (Pa) that comes from an altitude (m).
pub(super) fn at_altitude(altitude: f64, pressure: f64) -> String {
    let kilopascal = pressure / 1e3;
    format!("ambient pressure {kilopascal:.2} kPa absolute: U.S. Standard Atmosphere at {altitude:.0} m")
}
