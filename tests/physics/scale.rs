//! What a scale shows of a part, against the weights of gas and displaced air, counted otherwise.

use proptest::prelude::*;
use risefit::model::{Phase, Run};

use crate::casting::shots::{SEA_LEVEL, Shot, shot};

/// Air of 23 °C at 101.325 kPa, kg/m3: p M/(R T) with the molar mass of the U.S. Standard Atmosphere 1976, by hand.
const AIR: f64 = 1.191_89;
const CO2: f64 = 0.0440095;
const R: f64 = 8.314462618;
/// Layers of foam, where the castings are not of one.
const LAYERS: usize = 4;
/// So long after demold that no CO2 is left, s.
const LONG_AFTER: f64 = 30.0 * 86_400.0;

fn reading(shot: &Shot, weighed_after: f64) -> f64 {
    let mut shot = shot.clone();
    shot.casting.weighed_after = weighed_after;
    shot.result().scale_reading
}

#[test]
fn closed_cells_lose_nothing_but_buoyancy() {
    let mut shot = Shot::usual(62e-3, 3e-3);
    shot.cavity.layers = LAYERS;
    let r = shot.result();
    let buoyancy = AIR * (shot.cavity.volume - r.part_mass / shot.foam.liquid_density);
    assert!((r.part_mass - r.scale_reading - buoyancy).abs() < 1e-5 * buoyancy, "{r:?}");
    // Lighter in thinner air.
    let mut high = shot.clone();
    high.casting.ambient_pressure = 0.8 * SEA_LEVEL;
    let r = high.result();
    let less = 0.8 * AIR * (shot.cavity.volume - r.part_mass / shot.foam.liquid_density);
    assert!((r.part_mass - r.scale_reading - less).abs() < 1e-5 * less, "{r:?}");
}

/// Liquid weighs what it weighed: its buoyancy was there when it was charged.
#[test]
fn a_mix_without_gas_weighs_its_mass_at_any_time() {
    let mut shot = Shot::usual(62e-3, 3e-3);
    (shot.foam.gas_yield, shot.foam.air_fraction) = (1e-9, 0.0);
    for after in [0.0, 7200.0, LONG_AFTER] {
        assert!((reading(&shot, after) / 62e-3 - 1.0).abs() < 1e-9);
    }
}

#[test]
fn a_month_later_all_co2_that_was_made_is_gone_and_nothing_else() {
    let mut shot = Shot::usual(62e-3, 3e-3);
    for (layers, cell_opening_time) in [(1, f64::INFINITY), (1, 40.0), (LAYERS, 40.0)] {
        (shot.cavity.layers, shot.foam.cell_opening_time) = (layers, cell_opening_time);
        let r = shot.result();
        let made = shot.foam.gas_yield * r.blown_at_demold * r.part_mass * CO2;
        assert!((reading(&shot, LONG_AFTER) - (r.part_mass - made)).abs() < 1e-9 * r.part_mass);
    }
}

#[test]
fn the_gas_leaves_in_hours_little_in_minutes_all_in_a_day() {
    let shot = Shot::usual(62e-3, 3e-3);
    let all = reading(&shot, 0.0) - reading(&shot, LONG_AFTER);
    let left = |after: f64| (reading(&shot, 0.0) - reading(&shot, after)) / all;
    assert!(left(600.0) < 0.05 && (left(4.0 * 3600.0) - 0.632).abs() < 1e-3 && left(86_400.0) > 0.99);
    assert!(all > 0.005 * 62e-3 && all < 0.02 * 62e-3, "{all}");
}

/// Gas that left, from what was made less what is still there: free by the ideal gas law, dissolved by Henry's.
fn gas_balance(shot: &Shot, run: &Run) -> Result<(), TestCaseError> {
    let (f, c, r) = (&shot.foam, &shot.casting, &run.result);
    let fill = r.fill_fraction;
    // A short shot that has set keeps its cells' pressure to itself; layers have temperatures of their own.
    if shot.cavity.layers > 1 || run.phases.last().is_none_or(|(phase, _)| *phase != Phase::Set) || fill < 1.0 {
        return Ok(());
    }
    let pressure = c.ambient_pressure + r.pressure_at_demold;
    let volume = shot.cavity.volume * (1.0 + shot.cavity.stretch * r.pressure_at_demold);
    let cells = volume - r.part_mass / f.liquid_density;
    let air = f.air_fraction / f.liquid_density * c.ambient_pressure / (R * c.mix_temp) * r.part_mass;
    let made = f.gas_yield * r.blown_at_demold * r.part_mass;
    let dissolved = (f.solubility / CO2 * pressure * r.part_mass).min(made);
    let lost = made + air - dissolved - pressure * cells / (R * r.temp_at_demold);
    let displaced = AIR * c.ambient_pressure / SEA_LEVEL * cells;
    let expected = r.part_mass - lost * CO2 - displaced;
    prop_assert!((r.scale_reading - expected).abs() < 1e-5 * r.part_mass, "{} {expected} {r:?}", r.scale_reading);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_gas_of_random_castings_is_weighed(shot in shot()) {
        if let Ok(run) = shot.run(0) {
            gas_balance(&shot, &run)?;
            prop_assert!(run.result.scale_reading < run.result.part_mass * (1.0 + 1e-9));
        }
    }
}
