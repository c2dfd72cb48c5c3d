//! Castings from the odd corners of what a shop could set up (invented): one per seed and number, and those known to be
//! stiff.

use crate::dice::Dice;
use crate::plain::Shot;
use risefit::Accuracy;
use risefit::model::{Casting, Cavity, FoamConstants, Leak, LeakStart, PartingLine, Vent};
use risefit::{CupTest, free_rise};

/// How many times as fast a very fast grade is.
const FASTER: f64 = 20.0;

/// Pin holes to holes as wide as a pour hole, headspaces from a thousandth of the cavity to nearly all of it, grades
/// that gel in seconds or in many minutes; clamps, parting lines, leaks, soft molds, high places. `None` where the
/// drawn grade sets before any mold could be closed over it.
pub fn draw(seed: u64, index: u64) -> Option<Shot> {
    let dice = &mut Dice::new(seed, index);
    let foam = awakened(foam(dice), &mut Dice::new(!seed, index));
    let cavity = cavity(dice);
    let casting = casting(dice, &foam, &cavity)?;
    Some(Shot { foam, cavity, casting })
}

/// The plain casting with what makes it stiff, one by one and together: a pin-hole or a huge vent, hardly any headspace
/// at closing, a grade that gels in seconds.
///
/// # Errors
/// As [`free_rise`].
pub fn named() -> risefit::Result<Vec<(String, Shot)>> {
    let mut all = Vec::new();
    for (vent, diameter) in [("", None), ("pin-hole vent", Some(0.1e-3)), ("huge vent", Some(30e-3))] {
        for (room, tiny) in [("", false), ("tiny headspace", true)] {
            for (grade, fast) in [("", false), ("very fast grade", true)] {
                let names: Vec<&str> = [vent, room, grade].into_iter().filter(|name| !name.is_empty()).collect();
                let mut shot = Shot::plain();
                if let Some(diameter) = diameter {
                    *shot.cavity.vents[0].drilled_mut().expect("a hole") = diameter;
                }
                if fast {
                    shot.foam.blow_rate *= FASTER;
                    shot.foam.gel_rate *= FASTER;
                    shot.casting.closing_time /= FASTER;
                }
                if tiny {
                    fill_at_closing(&mut shot)?;
                }
                all.push((names.join(", "), shot));
            }
        }
    }
    all.retain(|(name, _)| !name.is_empty());
    Ok(all)
}

/// Chooses the charge so that not more than a hundredth of the cavity is left at closing; the warm mold takes some of
/// that.
fn fill_at_closing(shot: &mut Shot) -> risefit::Result<()> {
    let test = CupTest::insulated(shot.casting.mix_temp, shot.casting.ambient_pressure);
    let rise = free_rise(&shot.foam, &test, &[shot.casting.closing_time], Accuracy::default())?;
    shot.casting.charge = 0.99 * shot.cavity.volume / rise.volume[0];
    Ok(())
}

fn foam(dice: &mut Dice) -> FoamConstants {
    let gel_rate = dice.spread(1.0 / 300.0, 1.0 / 2.0);
    let gel_conversion = dice.between(0.5, 0.75);
    FoamConstants {
        liquid_density: dice.between(980.0, 1150.0),
        heat_capacity: dice.between(1600.0, 2100.0),
        conductivity: FoamConstants::default().conductivity,
        gas_yield: dice.spread(0.05, 1.6),
        blow_rate: gel_rate * dice.spread(0.3, 5.0),
        blow_activation: dice.between(25e3, 50e3),
        gel_rate,
        gel_activation: dice.between(25e3, 60e3),
        competition: 0.0,
        induction: 0.0,
        blow_heat: dice.between(5.0, 40.0),
        gel_heat: dice.between(30.0, 120.0),
        solubility: if dice.chance(0.1) { 0.0 } else { dice.spread(1e-9, 5e-8) },
        air_fraction: dice.spread(0.001, 0.15),
        gel_conversion,
        rise_end_conversion: dice.between(gel_conversion, 0.85),
        viscosity: dice.spread(0.05, 50.0),
        viscosity_activation: dice.between(20e3, 60e3),
        viscosity_a: dice.between(0.5, 3.0),
        viscosity_b: dice.between(0.0, 2.0),
        settling: 0.01,
        cell_opening_time: if dice.chance(0.5) { f64::INFINITY } else { dice.spread(3.0, 500.0) },
    }
}

/// Half of the mixes wake up late, or leave blowing less isocyanate than there is.
fn awakened(foam: FoamConstants, dice: &mut Dice) -> FoamConstants {
    let induction = if dice.chance(0.5) { 0.0 } else { dice.spread(0.02, 10.0) };
    let competition = if dice.chance(0.5) { 0.0 } else { dice.spread(0.1, 4.0) };
    FoamConstants { induction, competition, ..foam }
}

fn at_fill(dice: &mut Dice) -> f64 {
    if dice.chance(0.7) { 1.0 } else { dice.between(0.3, 1.0) }
}

fn vent(dice: &mut Dice) -> Vent {
    let count = if dice.chance(0.8) { 1 } else { 3 };
    Vent::hole(count, dice.spread(0.1e-3, 30e-3), dice.spread(1e-3, 50e-3), at_fill(dice))
}

fn parting_line(dice: &mut Dice, length: f64) -> PartingLine {
    PartingLine {
        length,
        land: dice.spread(1e-3, 20e-3),
        gap: if dice.chance(0.5) { 0.0 } else { dice.spread(1e-6, 3e-4) },
        opening: if dice.chance(0.3) { 0.0 } else { dice.spread(1e-9, 1e-5) },
        at_fill: at_fill(dice),
    }
}

fn cavity(dice: &mut Dice) -> Cavity {
    let volume = dice.spread(50e-6, 10e-3);
    let projected_area = volume.cbrt().powi(2) * dice.spread(0.7, 6.0);
    let vents = if dice.chance(0.05) { 0 } else { 1 + usize::from(dice.chance(0.3)) };
    let line = dice.chance(0.4);
    Cavity {
        volume,
        projected_area,
        wall_area: 2.0 * projected_area + 4.0 * volume / projected_area.sqrt(),
        heat_transfer: if dice.chance(0.1) { 0.0 } else { dice.spread(1.0, 200.0) },
        layers: 1,
        contact_transfer: Cavity::CONTACT_TRANSFER,
        conduction_factor: 1.0,
        stretch: if dice.chance(0.6) { 0.0 } else { dice.spread(1e-9, 1e-6) },
        clamp_force: dice.chance(0.5).then(|| projected_area * dice.spread(1e2, 3e5)),
        gas_retention: dice.between(0.7, 1.1),
        rate_factor: 1.0,
        discharge: dice.between(0.55, 0.9),
        vents: (0..vents).map(|_| vent(dice)).collect(),
        parting_line: line.then(|| parting_line(dice, 4.0 * projected_area.sqrt())),
    }
}

fn leak(dice: &mut Dice, gel: f64) -> Leak {
    let start = if dice.chance(0.5) {
        LeakStart::Time(dice.between(0.0, 3.0) * gel)
    } else {
        LeakStart::GaugePressure(dice.spread(100.0, 300e3))
    };
    Leak { diameter: dice.spread(0.1e-3, 10e-3), length: dice.spread(1e-3, 20e-3), start }
}

/// Settings that the grade allows: closed before gel, with foam that leaves some headspace at closing.
fn casting(dice: &mut Dice, foam: &FoamConstants, cavity: &Cavity) -> Option<Casting> {
    let mix_temp = 273.15 + dice.between(8.0, 40.0);
    let mold_temp = 273.15 + dice.between(5.0, 80.0);
    let ambient_pressure = if dice.chance(0.7) { 101_325.0 } else { dice.between(60e3, 104e3) };
    let kept = FoamConstants { gas_yield: foam.gas_yield * cavity.gas_retention, ..*foam };
    let test = CupTest::insulated(mix_temp, ambient_pressure);
    let gel = free_rise(&kept, &test, &[], Accuracy::default()).ok()?.gel_time?;
    let closing_time = if dice.chance(0.3) { 0.0 } else { dice.between(0.0, 0.6) * gel };
    let rise = free_rise(&kept, &test, &[closing_time], Accuracy::default()).ok()?;
    // The rounded end of a rise of a second or two reaches back to its start.
    let volume = rise.volume[0].max(1.01 / foam.liquid_density);
    // Half are chosen by the headspace that is left at closing, half by the density that a full part would have.
    let charge = if dice.chance(0.5) {
        (1.0 - dice.spread(1e-3, 0.95)) * cavity.volume / volume
    } else {
        (dice.spread(0.8, 4.0) * rise.density).min(0.97 / volume) * cavity.volume
    };
    let left = if dice.chance(0.5) { 0.0 } else { dice.between(0.0, 0.05) };
    let weak = dice.chance(0.1).then(|| cavity.projected_area * dice.spread(1e2, 1e5));
    let plugged = dice.chance(0.05) && !cavity.vents.is_empty();
    Some(Casting {
        charge,
        left_in_cup: left * charge,
        mix_temp,
        mold_temp,
        ambient_pressure,
        closing_time,
        clamp_force: weak,
        vent_diameters: if plugged { vec![0.0] } else { vec![] },
        leak: dice.chance(0.15).then(|| leak(dice, gel)),
        demold_time: closing_time + gel * dice.spread(0.8, 20.0) + 10.0,
        opening_limit: 5e3,
        weighed_after: 0.0,
    })
}
