//! Castings and cups in odd corners that once failed (settings drawn by `bench/src/corner.rs`, rounded; invented).

use risefit::model::CastingResult;
use risefit::model::{Casting, Cavity, FoamConstants, PartingLine, Vent};
use risefit::numerics::{Dual, Scalar};
use risefit::{Accuracy, sampled};
use risefit::{CupTest, free_rise};

const SEA_LEVEL: f64 = 101_325.0;

fn cast(foam: &FoamConstants, cavity: &Cavity, casting: &Casting, relative: f64) -> CastingResult {
    sampled(foam, cavity, casting, &[], Accuracy { relative }).expect("a casting").result
}

/// The same with derivatives by charge, gas yield and gelling.
fn sloped(foam: &FoamConstants, cavity: &Cavity, casting: &Casting, relative: f64) -> CastingResult<Dual<3>> {
    let by = |value: f64, lane: usize, scale: f64| {
        let mut dual = Dual::constant(value);
        dual.slope[lane] = scale;
        dual
    };
    let mut foam = foam.map(Dual::constant);
    (foam.gas_yield, foam.gel_rate) = (by(foam.gas_yield.value(), 1, 0.3), by(foam.gel_rate.value(), 2, 0.01));
    let mut casting = casting.map(Dual::constant);
    casting.charge = by(casting.charge.value(), 0, 1e-3);
    sampled(&foam, &cavity.map(Dual::constant), &casting, &[], Accuracy { relative }).expect("a casting").result
}

fn agrees(what: &str, rough: f64, fine: f64, within: f64) {
    assert!((rough / fine - 1.0).abs() <= within, "{what}: {rough}, not {fine}");
}

fn mold(volume: f64, diameter: f64, length: f64, at_fill: f64, clamp_force: f64) -> Cavity {
    Cavity {
        volume,
        projected_area: 0.0083,
        wall_area: 0.02,
        heat_transfer: 3.0,
        layers: 1,
        contact_transfer: Cavity::CONTACT_TRANSFER,
        conduction_factor: 1.0,
        stretch: 0.0,
        clamp_force: Some(clamp_force),
        gas_retention: 1.0,
        rate_factor: 1.0,
        discharge: 0.68,
        vents: vec![Vent::hole(1, diameter, length, at_fill)],
        parting_line: None,
    }
}

fn poured(charge: f64, mix_temp: f64, ambient_pressure: f64, demold_time: f64) -> Casting {
    Casting {
        charge,
        left_in_cup: 0.0,
        mix_temp,
        mold_temp: 295.6,
        ambient_pressure,
        closing_time: 0.0,
        clamp_force: None,
        vent_diameters: vec![],
        leak: None,
        demold_time,
        opening_limit: 5e3,
        weighed_after: 0.0,
    }
}

/// As CO2 begins to come out, the pressure of a headspace that follows the rise jumps; the liquid must not seem to hold all gas
/// again and again.
#[test]
fn the_rise_begins_once() {
    let foam = FoamConstants {
        gas_yield: 0.517,
        blow_rate: 0.187,
        blow_activation: 39.7e3,
        gel_rate: 0.227,
        gel_activation: 38.3e3,
        solubility: 1.18e-8,
        air_fraction: 0.117,
        gel_conversion: 0.675,
        rise_end_conversion: 0.681,
        viscosity: 0.26,
        ..FoamConstants::default()
    };
    let (cavity, casting) = (mold(90e-6, 18.2e-3, 1.24e-3, 0.61, 68.0), poured(40e-3, 287.2, SEA_LEVEL, 51.0));
    let [rough, fine] = [1e-4, 1e-8].map(|relative| cast(&foam, &cavity, &casting, relative));
    agrees("density", rough.density, fine.density, 1e-2);
    agrees("rise start", rough.rise_start.expect("it rises"), fine.rise_start.expect("it rises"), 1e-3);
}

/// Thin foam in a wide vent: slow at first, stiff later.
#[test]
fn a_loss_that_turns_stiff_is_followed_to_the_end() {
    let foam = FoamConstants {
        liquid_density: 1088.0,
        gas_yield: 0.262,
        blow_rate: 0.0061,
        blow_activation: 29.7e3,
        gel_rate: 0.0096,
        gel_activation: 47.7e3,
        gel_heat: 118.0,
        blow_heat: 26.4,
        solubility: 4.43e-8,
        air_fraction: 0.0208,
        gel_conversion: 0.623,
        viscosity: 0.067,
        viscosity_activation: 25.5e3,
        viscosity_a: 1.08,
        viscosity_b: 1.74,
        ..FoamConstants::default()
    };
    let (cavity, casting) = (mold(69.84e-6, 11.6e-3, 1.43e-3, 0.847, 0.75), poured(74.36e-3, 285.6, 91e3, 699.0));
    let [rough, fine] = [1e-5, 1e-7].map(|relative| cast(&foam, &cavity, &casting, relative));
    agrees("density", rough.density, fine.density, 1e-3);
    agrees("peak", rough.peak_pressure, fine.peak_pressure, 1e-3);
}

/// A foam that gels within a second or two has a sharp end of rise: its rounding must not reach back below the liquid.
#[test]
fn a_very_fast_cup_holds_its_liquid_from_the_start() {
    let slow = FoamConstants { gas_yield: 0.5, ..FoamConstants::default() };
    let foam = FoamConstants { blow_rate: 60.0 * slow.blow_rate, gel_rate: 60.0 * slow.gel_rate, ..slow };
    let test = CupTest::insulated(296.15, SEA_LEVEL);
    let times: Vec<f64> = (0..20).map(|i| 0.02 * f64::from(i)).collect();
    let rise = free_rise(&foam, &test, &times, Accuracy::default()).expect("a rise");
    assert!(rise.gel_time.expect("it gels") < 2.0);
    assert!(rise.volume.iter().all(|v| *v >= 1.0 / foam.liquid_density), "{:?}", rise.volume);
}

/// A pressure that rises, falls and rises again within one long step: its peak is the first, not the end.
#[test]
fn a_peak_between_two_rises_is_seen() {
    let foam = FoamConstants {
        liquid_density: 999.7,
        gas_yield: 1.1032,
        blow_rate: 0.045469,
        blow_activation: 29156.0,
        gel_rate: 0.0079114,
        gel_activation: 37744.0,
        blow_heat: 3.5986,
        gel_heat: 9.6694,
        solubility: 9.039e-9,
        gel_conversion: 0.58349,
        rise_end_conversion: 0.72,
        viscosity: 42.209,
        viscosity_activation: 38156.0,
        viscosity_a: 0.71869,
        viscosity_b: 0.23299,
        air_fraction: 0.0,
        ..FoamConstants::default()
    };
    let line = PartingLine { length: 0.93459, land: 0.0064699, gap: 0.00019797, opening: 0.0, at_fill: 1.0 };
    let cavity = Cavity {
        volume: 0.0038732557,
        projected_area: 0.001,
        wall_area: 0.030537,
        heat_transfer: 42.015,
        clamp_force: None,
        discharge: 0.92681,
        vents: vec![],
        parting_line: Some(line),
        ..mold(1.0, 1.0, 1.0, 1.0, 1.0)
    };
    let casting = Casting { left_in_cup: 0.0685815, mold_temp: 301.3045, ..poured(1.4140527, 279.3039, 60e3, 518.445) };
    let fine = cast(&foam, &cavity, &casting, 1e-9).peak_pressure;
    for relative in [1e-4, 1e-5, 1e-6] {
        agrees("peak", cast(&foam, &cavity, &casting, relative).peak_pressure, fine, 1e-5);
    }
}

/// Foam that gels in the instant in which it fills: which came first is lost in rounding, and air does not become less than none.
#[test]
fn gelling_while_filling_is_one_or_the_other() {
    let foam = FoamConstants { gas_yield: 0.5, ..FoamConstants::default() };
    for (diameter, relative) in
        [0.5e-3, 1e-3, 2e-3, 5e-3, 10e-3].into_iter().flat_map(|d| [1e-4, 1e-5, 1e-6].map(|r| (d, r)))
    {
        let cavity = mold(620e-6, diameter, 12e-3, 1.0, 1e5);
        let (mut short, mut full) = ((20e-3, 0.0), (80e-3, 0.0));
        let mut peaks = Vec::new();
        for _ in 0..60 {
            let charge = 0.5 * (short.0 + full.0);
            let casting = poured(charge, 296.15, SEA_LEVEL, 300.0);
            let result = cast(&foam, &cavity, &casting, relative);
            peaks.push(result.peak_pressure);
            let with = sloped(&foam, &cavity, &casting, relative);
            peaks.push(with.peak_pressure.value());
            assert!(with.peak_pressure.derivatives().iter().all(|d| d.is_finite()), "{diameter} {relative} {charge}");
            *if result.fill_time.is_some() { &mut full } else { &mut short } = (charge, result.peak_pressure);
        }
        let is_either = |peak: &f64| [short.1, full.1].iter().any(|known| (peak / known - 1.0).abs() < 0.02);
        assert!(peaks[50..].iter().all(is_either), "{diameter} {relative}: {short:?} {full:?} {peaks:?}");
    }
}
