//! What a mold and the settings of a casting must be before it is worth simulating.

use crate::error::{Error, Result};
use crate::model::{Casting, Cavity, LAYER_COUNTS, Leak, LeakStart};
use crate::numerics::Scalar;
use crate::physics::limits::{ambient, fraction, positive, temperature};

/// Refuses a cavity that cannot be.
pub fn cavity<S: Scalar>(cavity: &Cavity<S>) -> Result<()> {
    positive("volume (m3)", cavity.volume.value(), false)?;
    positive("projected_area (m2)", cavity.projected_area.value(), false)?;
    positive("wall_area (m2)", cavity.wall_area.value(), false)?;
    positive("heat_transfer (W/(m2 K))", cavity.heat_transfer.value(), true)?;
    if !LAYER_COUNTS.contains(&cavity.layers) {
        let expected = format!("one of {LAYER_COUNTS:?}");
        return Err(Error::argument("layers", cavity.layers, expected, "1 is one lump; 4 tell of a skin"));
    }
    positive("contact_transfer (W/(m2 K))", cavity.contact_transfer.value(), false)?;
    positive("conduction_factor", cavity.conduction_factor.value(), false)?;
    positive("stretch (1/Pa)", cavity.stretch.value(), true)?;
    positive("rate_factor", cavity.rate_factor.value(), false)?;
    positive("gas_retention", cavity.gas_retention.value(), false)?;
    fraction("discharge", cavity.discharge.value())?;
    cavity.clamp_force.iter().try_for_each(|force| positive("clamp_force (N)", force.value(), true))?;
    for vent in &cavity.vents {
        for (dimension, value) in vent.kind.row().dimensions.iter().zip(vent.kind.values()) {
            positive(format_args!("vent {} (SI)", dimension.field.base), value.value(), false)?;
        }
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
pub fn casting<S: Scalar>(casting: &Casting<S>, cavity: &Cavity<S>, liquid_density: f64) -> Result<()> {
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
    positive("opening_limit (Pa gauge)", casting.opening_limit.value(), false)?;
    positive("weighed_after (s)", casting.weighed_after.value(), true)?;
    casting.clamp_force.iter().try_for_each(|force| positive("clamp_force (N)", force.value(), true))?;
    casting.leak.iter().try_for_each(leak)?;
    for diameter in &casting.vent_diameters {
        positive("vent diameter (m)", diameter.value(), true)?;
    }
    let (given, drilled) = (casting.vent_diameters.len(), cavity.drilled().count());
    if given > 1 && given != drilled || given == 1 && drilled == 0 {
        let expected = format!("none, one, or {drilled} (the mold's vents that can be drilled)");
        let advice = "give one diameter for each `[[vents]]` that is a hole";
        return Err(Error::argument("vent", format!("{given} diameters"), expected, advice));
    }
    Ok(())
}
