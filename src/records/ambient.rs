//! The ambient pressure of a record: read, from the altitude, or assumed.

use crate::error::Result;
use crate::units::{Quantity, standard_pressure};

use super::entries::Entries;
use crate::model::{Field, Range};

/// The two ways to name the ambient pressure.
pub(super) const AMBIENT_PRESSURE: Field = Field::new("ambient_pressure", Quantity::AbsolutePressure, Range::Ambient);
pub(super) const ALTITUDE: Field = Field::new("altitude", Quantity::Altitude, Range::Any);

/// Absolute ambient pressure, Pa: as given, or of the standard atmosphere at the given altitude, or at sea level.
pub(super) fn ambient_pressure(entries: &Entries, assumed: &mut Vec<String>) -> Result<f64> {
    match (entries.number("ambient_pressure")?, entries.number("altitude")?) {
        (Some(_), Some(_)) => Err(entries.contradiction(
            "altitude",
            "an ambient pressure and an altitude",
            "one of the two",
            "keep the pressure if a barometer was read, else the altitude",
        )),
        (Some(pressure), None) => Ok(pressure),
        (None, Some(altitude)) => at_altitude(entries, altitude, assumed),
        (None, None) => {
            assumed.push("ambient pressure 101.325 kPa absolute: neither pressure nor altitude given".to_owned());
            Ok(101_325.0)
        }
    }
}

fn at_altitude(entries: &Entries, altitude: f64, assumed: &mut Vec<String>) -> Result<f64> {
    let pressure = standard_pressure(altitude).map_err(|_| {
        let found = entries.word("altitude").unwrap_or_default();
        let advice = "check its unit, or give ambient_pressure_kPa from a barometer";
        entries.contradiction("altitude", found, "an altitude between -500 and 11000 m", advice)
    })?;
    assumed.push(format!(
        "ambient pressure {:.2} kPa absolute: U.S. Standard Atmosphere at {altitude:.0} m",
        pressure / 1e3
    ));
    Ok(pressure)
}
