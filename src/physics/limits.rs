//! What numbers make sense in a cup as in a casting: temperatures, ambient pressures, constants of a foam.

use std::fmt::Display;

use crate::error::{Error, Result};
use crate::model::FoamConstants;
use crate::numerics::Scalar;
use crate::units::STANDARD_PRESSURE;

/// Temperatures between which a mix or mold can be, K.
const TEMPS: (f64, f64) = (250.0, 420.0);
/// Ambient pressures for which a casting or a cup is simulated, Pa: those of the inhabited earth. A record may name a
/// somewhat wider range (`model::field`): there it is asked whether a barometer can have read this, here whether
/// anybody casts there.
const AMBIENT: (f64, f64) = (0.4 * STANDARD_PRESSURE, 1.2 * STANDARD_PRESSURE);

/// Refuses a temperature in kelvin that no shop has.
pub(crate) fn temperature(name: &str, kelvin: f64) -> Result<()> {
    if kelvin >= TEMPS.0 && kelvin <= TEMPS.1 {
        return Ok(());
    }
    let advice = if (0.0..=150.0).contains(&kelvin) {
        "this looks like °C where K was meant: add 273.15"
    } else if (523.0..=693.0).contains(&kelvin) {
        "this looks like K given as °C: subtract 273.15"
    } else {
        "look at the value and its unit"
    };
    let expected = format!("{:.0} to {:.0} °C", TEMPS.0 - 273.15, TEMPS.1 - 273.15);
    Err(Error::argument(name, format!("{kelvin:.2} K ({:.2} °C)", kelvin - 273.15), expected, advice))
}

/// Refuses an ambient pressure that cannot be absolute.
pub(crate) fn ambient(pascal: f64) -> Result<()> {
    if pascal >= AMBIENT.0 && pascal <= AMBIENT.1 {
        return Ok(());
    }
    let expected = format!("{:.0} to {:.0} kPa absolute", AMBIENT.0 / 1e3, AMBIENT.1 / 1e3);
    let advice = "ambient pressure is absolute (about 101 kPa at sea level), not gauge";
    Err(Error::argument("ambient_pressure", format!("{:.3} kPa", pascal / 1e3), expected, advice))
}

/// Refuses a number that is not above zero (or, with `zero_ok`, below it).
pub(crate) fn positive(name: impl Display, value: f64, zero_ok: bool) -> Result<()> {
    if value > 0.0 && value.is_finite() || zero_ok && value == 0.0 {
        return Ok(());
    }
    let expected = if zero_ok { "zero or more" } else { "a number above zero" };
    Err(Error::argument(name.to_string(), value, expected, "look at the value and its unit"))
}

/// Refuses constants of a foam that are not numbers above zero.
pub(crate) fn foam<S: Scalar>(foam: &FoamConstants<S>) -> Result<()> {
    let above = [
        ("liquid_density (kg/m3)", foam.liquid_density),
        ("heat_capacity (J/(kg K))", foam.heat_capacity),
        ("conductivity (W/(m K))", foam.conductivity),
        ("gas_yield (mol/kg)", foam.gas_yield),
        ("blow_rate (1/s)", foam.blow_rate),
        ("gel_rate (1/s)", foam.gel_rate),
        ("gel_conversion", foam.gel_conversion),
        ("rise_end_conversion", foam.rise_end_conversion),
        ("viscosity (Pa s)", foam.viscosity),
    ];
    let not_below = [
        ("blow_activation (J/mol)", foam.blow_activation),
        ("gel_activation (J/mol)", foam.gel_activation),
        ("induction (s)", foam.induction),
        ("competition", foam.competition),
        ("blow_heat (K)", foam.blow_heat),
        ("gel_heat (K)", foam.gel_heat),
        ("solubility (kg/(kg Pa))", foam.solubility),
        ("air_fraction", foam.air_fraction),
        ("settling", foam.settling),
        ("viscosity_activation (J/mol)", foam.viscosity_activation),
    ];
    above.iter().try_for_each(|(name, x)| positive(name, x.value(), false))?;
    not_below.iter().try_for_each(|(name, x)| positive(name, x.value(), true))?;
    for (name, conversion) in
        [("gel_conversion", foam.gel_conversion), ("rise_end_conversion", foam.rise_end_conversion)]
    {
        if conversion.value() >= 1.0 {
            return Err(Error::argument(name, conversion.value(), "below 1", "polyurethane gels at 0.54 to 0.73"));
        }
    }
    for (name, exponent) in [("viscosity_a", foam.viscosity_a), ("viscosity_b", foam.viscosity_b)] {
        if !exponent.value().is_finite() {
            let advice = "Castro and Macosko's exponents are about 1.5 and 1";
            return Err(Error::argument(name, exponent.value(), "a finite number", advice));
        }
    }
    if foam.cell_opening_time.value() <= 0.0 || foam.cell_opening_time.value().is_nan() {
        return Err(Error::argument(
            "cell_opening_time (s)",
            foam.cell_opening_time.value(),
            "above zero",
            "infinite: closed cells",
        ));
    }
    Ok(())
}

/// Refuses a fill fraction or coefficient that is not above 0 and at most 1.
pub(crate) fn fraction(name: &str, value: f64) -> Result<()> {
    if value > 0.0 && value <= 1.0 {
        return Ok(());
    }
    Err(Error::argument(name, value, "above 0, at most 1", "1 is the last place to fill"))
}
