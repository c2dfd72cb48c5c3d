//! A cup test from settings by name, as the head of a rise log has them, with what is assumed for those not given.

use std::collections::BTreeMap;

use super::cup::CupTest;
use crate::error::{Error, Result};
use crate::model::{Cup, Parameter};
use crate::units::{Quantity, standard_pressure};

/// How a cup test is run: names and what they measure.
pub const CUP_SETTINGS: [(&str, Quantity); 13] = [
    ("mass", Quantity::Mass),
    ("mix_temp", Quantity::Temperature),
    ("ambient_temp", Quantity::Temperature),
    ("ambient_pressure", Quantity::AbsolutePressure),
    ("altitude", Quantity::Altitude),
    ("cup_diameter", Quantity::Length),
    ("cup_bottom_diameter", Quantity::Length),
    ("cup_top_diameter", Quantity::Length),
    ("cup_height", Quantity::Length),
    ("heat_area", Quantity::Area),
    ("cup_heat_transfer", Quantity::HeatTransfer),
    ("core_heat_loss_factor", Quantity::Number),
    ("sensor_lag", Quantity::Time),
];

/// Settings of a cup test that were given, SI, by name without the unit.
pub type CupSettings = BTreeMap<&'static str, f64>;

/// What a cup loses of heat where it is not given: the median of the prior.
fn usual(parameter: Parameter) -> f64 {
    parameter.prior().median
}

fn needed(given: &CupSettings, base: &str) -> Result<f64> {
    given.get(base).copied().ok_or_else(|| {
        let quantity = CUP_SETTINGS.iter().find(|(known, _)| *known == base).map_or(Quantity::Number, |(_, q)| *q);
        let names = quantity.accepted_names(base).join(", ");
        let advice = "a cup test needs mass_g and mix_temp_C; a cup needs its diameters and height";
        Error::argument(quantity.customary_name(base), "nothing", format!("one of: {names}"), advice)
    })
}

/// The cup test that the settings make, and the cup, if there is one.
///
/// # Errors
/// [`Error::Argument`] for a setting that is needed, given twice over, or makes no sense.
pub fn cup_test(given: &CupSettings) -> Result<(CupTest, Option<Cup>)> {
    let cup = cup(given)?;
    let (mass, mix_temp) = (needed(given, "mass")?, needed(given, "mix_temp")?);
    let ambient_pressure = match (given.get("ambient_pressure"), given.get("altitude")) {
        (Some(_), Some(_)) => {
            let found = "both a pressure and an altitude";
            return Err(Error::argument("ambient_pressure", found, "one of the two", "leave one of them out"));
        }
        (Some(pressure), None) => *pressure,
        (None, Some(altitude)) => standard_pressure(*altitude)?,
        (None, None) => standard_pressure(0.0)?,
    };
    let number = |base: &str, other: f64| given.get(base).copied().unwrap_or(other);
    let not_below = |base: &str, x: f64| match x {
        x if x >= 0.0 => Ok(x),
        _ => Err(Error::argument(base, x, "zero or more", "look at the value and its unit")),
    };
    let test = CupTest {
        mass,
        mix_temp,
        ambient_temp: number("ambient_temp", mix_temp),
        ambient_pressure,
        heat_area: not_below("heat_area_cm2", number("heat_area", cup.map_or(0.0, |cup| cup.inner_area())))?,
        heat_transfer: not_below(
            "cup_heat_transfer_W_m2K",
            number("cup_heat_transfer", usual(Parameter::CupHeatTransfer)),
        )?,
        core_heat_loss_factor: not_below(
            "core_heat_loss_factor",
            number("core_heat_loss_factor", usual(Parameter::CoreHeatLossFactor)),
        )?,
        sensor_lag: not_below("sensor_lag_s", number("sensor_lag", 0.0))?,
    };
    Ok((test, cup))
}

fn cup(given: &CupSettings) -> Result<Option<Cup>> {
    let parts = ["cup_diameter", "cup_bottom_diameter", "cup_top_diameter", "cup_height"];
    if let Some(part) = parts.iter().find(|part| given.get(*part).is_some_and(|x| *x <= 0.0)) {
        let name = Quantity::Length.customary_name(part);
        return Err(Error::argument(name, given[part] * 1e3, "a number above zero", "look at the value and its unit"));
    }
    if !parts.iter().any(|part| given.contains_key(part)) {
        return Ok(None);
    }
    let height = needed(given, "cup_height")?;
    let (bottom_diameter, top_diameter) = match given.get("cup_diameter") {
        Some(diameter) => (*diameter, *diameter),
        None => (needed(given, "cup_bottom_diameter")?, needed(given, "cup_top_diameter")?),
    };
    Ok(Some(Cup { bottom_diameter, top_diameter, height }))
}
