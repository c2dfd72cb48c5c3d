//! Ambient pressure against altitude: the lowest layer of the U.S. Standard Atmosphere 1976 (NOAA-S/T 76-1562).

use crate::error::{Error, Result};

/// Lowest altitude that [`standard_pressure`] takes, m.
pub const LOWEST_ALTITUDE: f64 = -500.0;
/// Highest altitude that [`standard_pressure`] takes, m.
pub const HIGHEST_ALTITUDE: f64 = 11_000.0;

/// Standard atmosphere: pressure at sea level, Pa (exact by definition).
pub const STANDARD_PRESSURE: f64 = 101_325.0;
/// Temperature at sea level, K.
const SEA_LEVEL_TEMPERATURE: f64 = 288.15;
/// Fall of temperature with geopotential height, K/m.
const LAPSE: f64 = 0.0065;
/// Radius of the earth in the standard, m.
const EARTH_RADIUS: f64 = 6_356_766.0;
/// g0 M / (R* lapse) in the standard's constants: 9.80665 m/s2, 28.9644 kg/kmol, 8314.32 J/(kmol K).
const EXPONENT: f64 = 9.80665 * 28.9644 / (8314.32 * LAPSE);

/// Absolute pressure, Pa, at a geometric altitude, m, from -500 to 11 000.
///
/// p = p0 (1 - L H/T0)^(g0 M/(R* L)), H = r z/(r + z). Weather moves the true pressure by a few percent.
pub fn standard_pressure(altitude: f64) -> Result<f64> {
    if !(LOWEST_ALTITUDE..=HIGHEST_ALTITUDE).contains(&altitude) {
        return Err(Error::argument(
            "altitude_m",
            altitude,
            format!("an altitude between {LOWEST_ALTITUDE} and {HIGHEST_ALTITUDE} m"),
            "check its unit, or give ambient_pressure_kPa as read from a barometer",
        ));
    }
    let geopotential = EARTH_RADIUS * altitude / (EARTH_RADIUS + altitude);
    Ok(STANDARD_PRESSURE * (1.0 - LAPSE * geopotential / SEA_LEVEL_TEMPERATURE).powf(EXPONENT))
}
