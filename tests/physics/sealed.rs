//! Pressure in closed form: the packing bound, solubility, stretching cavities, and castings that come to the same.

use risefit::model::{Casting, Cavity, FoamConstants, Vent};
use risefit::numerics::{Dual, Scalar};
use risefit::physics::cavity::{CavityLaw, Contents, Foam};
use risefit::physics::gas::{Amount, Gases, SPECIES_COUNT};
use risefit::physics::packing::sealed_pressure;
use risefit::physics::properties::{CO2_MOLAR_MASS, GAS_CONSTANT};
use risefit::units::STANDARD_PRESSURE;
use risefit::{Accuracy, sampled};

const TEMP: f64 = 330.0;
const LIQUID: f64 = 1100.0;

fn close(what: &str, got: f64, expected: f64, relative: f64) {
    let off = got / expected - 1.0;
    assert!(off.abs() <= relative, "{what}: got {got}, expected {expected}, off by {off:e}");
}

/// The packing bound (computed): gauge pressure by free-rise density and packing factor, kPa.
const BOUND: [(f64, f64, f64); 6] = [
    (60.0, 1.5, 55.18),
    (150.0, 1.5, 63.69),
    (200.0, 1.5, 69.66),
    (60.0, 2.0, 113.73),
    (150.0, 2.0, 139.32),
    (200.0, 2.0, 159.23),
];

#[test]
fn packing_bound_has_the_computed_values() {
    for (free_rise, factor, kilopascal) in BOUND {
        let gauge = sealed_pressure(free_rise, factor * free_rise, LIQUID, STANDARD_PRESSURE) - STANDARD_PRESSURE;
        assert!((1e-3 * gauge - kilopascal).abs() < 0.0051, "{free_rise} x {factor}: {gauge}");
    }
}

/// A foam without heat, solubility and beaten-in air, that rises freely to this density at [`TEMP`].
fn cold_foam(free_rise: f64) -> FoamConstants {
    FoamConstants {
        liquid_density: LIQUID,
        gas_yield: (1.0 / free_rise - 1.0 / LIQUID) * STANDARD_PRESSURE / (GAS_CONSTANT * TEMP),
        blow_heat: 0.0,
        gel_heat: 0.0,
        solubility: 0.0,
        air_fraction: 0.0,
        gel_rate: 1e-9,
        viscosity: 1e9,
        ..FoamConstants::default()
    }
}

fn casting(charge: f64) -> Casting {
    Casting {
        charge,
        left_in_cup: 0.0,
        mix_temp: TEMP,
        mold_temp: TEMP,
        ambient_pressure: STANDARD_PRESSURE,
        closing_time: 0.0,
        clamp_force: None,
        vent_diameters: vec![],
        leak: None,
        demold_time: 3600.0,
        opening_limit: 5e3,
        weighed_after: 0.0,
    }
}

fn cavity(vents: Vec<Vent>) -> Cavity {
    Cavity {
        volume: 620e-6,
        projected_area: 0.015,
        wall_area: 0.048,
        heat_transfer: 12.0,
        layers: 1,
        contact_transfer: Cavity::CONTACT_TRANSFER,
        conduction_factor: 1.0,
        stretch: 0.0,
        clamp_force: None,
        gas_retention: 1.0,
        rate_factor: 1.0,
        discharge: 0.82,
        vents,
        parting_line: None,
    }
}

/// A vent lets the air out, and foam as thick as this stays in: what remains is the packing bound (computed).
#[test]
fn vented_casting_of_thick_foam_comes_to_the_packing_bound() {
    let vent = Vent::hole(1, 3e-3, 12e-3, 1.0);
    for (free_rise, factor, kilopascal) in BOUND {
        let charge = factor * free_rise * 620e-6;
        let accuracy = Accuracy { relative: 1e-8 };
        let run = sampled(&cold_foam(free_rise), &cavity(vec![vent]), &casting(charge), &[], accuracy).unwrap();
        assert!(run.result.vent_loss < 1e-6 * charge, "{}", run.result.vent_loss);
        assert!((1e-3 * run.result.peak_pressure - kilopascal).abs() < 0.0051, "{}", run.result.peak_pressure);
    }
}

/// Sealed with its air, at one temperature: the partial pressures add up, p = pa + n R T / (V - m/rho).
#[test]
fn sealed_casting_adds_the_gas_to_its_air() {
    for (free_rise, factor, _) in BOUND {
        let (charge, foam) = (factor * free_rise * 620e-6, cold_foam(free_rise));
        let accuracy = Accuracy { relative: 1e-10 };
        let run = sampled(&foam, &cavity(vec![]), &casting(charge), &[1800.0], accuracy).unwrap();
        let gas = foam.gas_yield * charge * GAS_CONSTANT * TEMP / (620e-6 - charge / LIQUID);
        let blown = 1.0 - (-foam_rate(&foam) * 1800.0).exp();
        close("pressure", run.pressure[0], gas * blown, 1e-9);
        assert_eq!(run.result.part_mass, charge);
    }
}

fn foam_rate(foam: &FoamConstants) -> f64 {
    foam.blow_rate * (foam.blow_activation / GAS_CONSTANT * (1.0 / 313.15 - 1.0 / TEMP)).exp()
}

/// Foam in one liter, with CO2 dissolved in the liquid (computed): absolute pressure, kPa.
#[test]
fn dissolved_gas_lowers_the_pressure_as_computed() {
    let room = CavityLaw { volume: 1e-3, stretch: 0.0, ambient: STANDARD_PRESSURE, headspace_temp: 300.0 };
    let cases = [(0.0, 199.6), (4.4e-4 / STANDARD_PRESSURE, 178.3), (1e-3 / 1e5, 156.5)];
    for (solubility, kilopascal) in cases {
        let gas = gases([0.16477, solubility / CO2_MOLAR_MASS, 0.0, 1100.0]);
        let p = room.pressure(&gas, &contents([1.0, 353.15, 0.0, 0.30, 0.0], true));
        assert!((1e-3 * p - kilopascal).abs() < 0.051, "{solubility}: {p}");
    }
}

fn contents<S: Scalar>([blown, temp, headspace, mass, lost]: [S; 5], saturated: bool) -> Contents<S> {
    Contents { foam: [Foam { mass, blown, temp, lost, saturated: [saturated; SPECIES_COUNT] }], headspace }
}

/// CO2 made (mol/kg) and dissolved (mol/(kg Pa)), air beaten in (mol/kg), density of the liquid (kg/m3).
fn gases<S: Scalar>([yielded, henry, beaten_in, liquid_density]: [S; 4]) -> Gases<S> {
    let air = Amount { total: beaten_in, henry: S::zero() };
    Gases { amounts: [Amount { total: yielded, henry }, air], liquid_density }
}

const SOME: [f64; 5] = [0.8, 350.0, 2e-3, 60e-3, 1e-4];

fn gas<S: Scalar>() -> Gases<S> {
    gases([0.5, 2e-7, 1.2e-3, 1050.0].map(S::constant))
}

fn room<S: Scalar>(stretch: f64) -> CavityLaw<S> {
    let c = S::constant;
    CavityLaw { volume: c(620e-6), stretch: c(stretch), ambient: c(STANDARD_PRESSURE), headspace_temp: c(303.15) }
}

/// The gas in cells and headspace fills what the liquid leaves, whatever the stretch.
#[test]
fn pressure_closes_the_gas_balance() {
    for stretch in [0.0, 1e-9, 1e-7, 3e-6] {
        for saturated in [false, true] {
            let c = contents(SOME, saturated);
            let p = room(stretch).pressure(&gas(), &c);
            let (foam, free) = (c.foam[0], c.foam[0].free_gas(&gas(), p));
            let volume = foam.mass / 1050.0 + (free * foam.temp + c.headspace * 303.15) * GAS_CONSTANT / p;
            close("volume", volume, room::<f64>(stretch).volume_at(p), 1e-12);
        }
    }
}

/// A little stretch lowers the pressure in proportion; a soft mold stays near the ambient pressure; at ambient pressure
/// stretch does not matter.
#[test]
fn stretch_has_its_limits() {
    let p = |stretch: f64| room(stretch).pressure(&gas(), &contents(SOME, true));
    let rigid = p(0.0);
    close("first order", (rigid - p(1e-12)) / (rigid - p(2e-12)), 0.5, 1e-3);
    assert!(rigid > p(1e-7) && p(1e-7) > p(1e-6) && p(1e-6) > STANDARD_PRESSURE);
    close("very soft", p(1.0), STANDARD_PRESSURE, 1e-4);
    let [blown, temp, headspace, mass, lost] = SOME;
    // Air that brings the rigid room to ambient pressure.
    let slopes = room(0.0).slopes(&gas(), &contents(SOME, true), rigid);
    let air = headspace - (rigid - STANDARD_PRESSURE) / slopes.by_headspace;
    let at_rest = |stretch| room(stretch).pressure(&gas(), &contents([blown, temp, air, mass, lost], true));
    for stretch in [0.0, 1e-7, 1e-6] {
        close("at rest", at_rest(stretch), STANDARD_PRESSURE, 1e-10);
    }
}

#[test]
fn slopes_of_the_pressure_are_those_of_its_value() {
    type D = Dual<5>;
    for stretch in [0.0, 1e-7] {
        for saturated in [false, true] {
            let seeded = std::array::from_fn(|i| D::seeded(SOME[i], i, 1.0));
            let c = contents(seeded, saturated);
            let exact: D = room(stretch).pressure(&gas(), &c);
            let p = room(stretch).slopes(&gas(), &c, exact);
            let foam = p.foam[0];
            let carried = [foam.by_blown, foam.by_temp, p.by_headspace, foam.by_mass, foam.by_lost];
            for (carried, exact) in carried.iter().zip(exact.slope) {
                assert!((carried.value - exact).abs() <= 1e-11 * exact.abs(), "{carried:?} {exact}");
            }
        }
    }
}
