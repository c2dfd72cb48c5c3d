//! What a casting must be before it is worth simulating.

use crate::error::{Error, Result};
use crate::model::{Casting, Cavity, FoamConstants, Leak, LeakStart};
use crate::numerics::Scalar;
use crate::units::STANDARD_PRESSURE;

/// Temperatures between which a mix or mold can be, K.
pub(crate) const TEMPS: (f64, f64) = (250.0, 420.0);
/// Ambient pressures on the inhabited earth, Pa.
pub(crate) const AMBIENT: (f64, f64) = (0.4 * STANDARD_PRESSURE, 1.2 * STANDARD_PRESSURE);

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
pub(crate) fn positive(name: &str, value: f64, zero_ok: bool) -> Result<()> {
    if value > 0.0 && value.is_finite() || zero_ok && value == 0.0 {
        return Ok(());
    }
    let expected = if zero_ok { "zero or more" } else { "a number above zero" };
    Err(Error::argument(name, value, expected, "look at the value and its unit"))
}

/// Refuses constants of a foam that are not numbers above zero.
pub(crate) fn foam<S: Scalar>(foam: &FoamConstants<S>) -> Result<()> {
    let above = [
        ("liquid_density (kg/m3)", foam.liquid_density),
        ("heat_capacity (J/(kg K))", foam.heat_capacity),
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

fn fraction(name: &str, value: f64) -> Result<()> {
    if value > 0.0 && value <= 1.0 {
        return Ok(());
    }
    Err(Error::argument(name, value, "above 0, at most 1", "1 is the last place to fill"))
}

/// Refuses a cavity that cannot be.
pub(crate) fn cavity<S: Scalar>(cavity: &Cavity<S>) -> Result<()> {
    positive("volume (m3)", cavity.volume.value(), false)?;
    positive("projected_area (m2)", cavity.projected_area.value(), false)?;
    positive("wall_area (m2)", cavity.wall_area.value(), false)?;
    positive("heat_transfer (W/(m2 K))", cavity.heat_transfer.value(), true)?;
    positive("stretch (1/Pa)", cavity.stretch.value(), true)?;
    positive("rate_factor", cavity.rate_factor.value(), false)?;
    positive("gas_retention", cavity.gas_retention.value(), false)?;
    fraction("discharge", cavity.discharge.value())?;
    cavity.clamp_force.iter().try_for_each(|force| positive("clamp_force (N)", force.value(), true))?;
    for vent in &cavity.vents {
        positive("vent diameter (m)", vent.diameter.value(), false)?;
        positive("vent length (m)", vent.length.value(), false)?;
        fraction("vent at_fill", vent.at_fill.value())?;
    }
    if let Some(line) = &cavity.parting_line {
        positive("parting line length (m)", line.length.value(), false)?;
        positive("parting line land (m)", line.land.value(), false)?;
        positive("parting line gap (m)", line.gap.value(), true)?;
        positive("parting line opening (m/N)", line.opening.value(), true)?;
        fraction("parting line at_fill", line.at_fill.value())?;
    }
    Ok(())
}

fn leak<S: Scalar>(leak: &Leak<S>) -> Result<()> {
    positive("leak diameter (m)", leak.diameter.value(), false)?;
    positive("leak length (m)", leak.length.value(), false)?;
    match leak.start {
        LeakStart::Time(at) => positive("leak start (s)", at, true),
        LeakStart::GaugePressure(gauge) => positive("leak start (Pa gauge)", gauge, true),
    }
}

/// Refuses settings that no casting can have in this cavity.
pub(crate) fn casting<S: Scalar>(casting: &Casting<S>, cavity: &Cavity<S>, liquid_density: f64) -> Result<()> {
    let (charge, left) = (casting.charge.value(), casting.left_in_cup.value());
    positive("charge (kg)", charge, false)?;
    positive("left_in_cup (kg)", left, true)?;
    if left >= charge {
        let advice = "the charge is what was mixed, before anything stayed in the cup";
        return Err(Error::argument("left_in_cup", format!("{:.2} g", 1e3 * left), "less than the charge", advice));
    }
    temperature("mix_temp", casting.mix_temp.value())?;
    temperature("mold_temp", casting.mold_temp.value())?;
    ambient(casting.ambient_pressure.value())?;
    positive("closing_time (s)", casting.closing_time.value(), true)?;
    if casting.demold_time.value() <= casting.closing_time.value() || !casting.demold_time.value().is_finite() {
        let found = format!("{} s", casting.demold_time.value());
        return Err(Error::argument("demold_time", found, "later than the closing time", "look at both times"));
    }
    let liquid = (charge - left) / liquid_density;
    if liquid >= cavity.volume.value() {
        let what = format!(
            "{:.1} g of mix is {:.1} mL of liquid, the cavity holds {:.1} mL",
            1e3 * (charge - left),
            1e6 * liquid,
            1e6 * cavity.volume.value()
        );
        return Err(Error::Casting { trial: None, what, advice: "look at the charge and the cavity volume".into() });
    }
    casting.clamp_force.iter().try_for_each(|force| positive("clamp_force (N)", force.value(), true))?;
    casting.leak.iter().try_for_each(leak)?;
    for diameter in &casting.vent_diameters {
        positive("vent diameter (m)", diameter.value(), true)?;
    }
    let (given, vents) = (casting.vent_diameters.len(), cavity.vents.len());
    if given > 1 && given != vents || given == 1 && vents == 0 {
        let expected = format!("none, one, or {vents} (the mold's vents)");
        return Err(Error::argument("vent", format!("{given} diameters"), expected, "give one diameter per vent"));
    }
    Ok(())
}
