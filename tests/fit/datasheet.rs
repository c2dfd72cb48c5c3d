//! Data sheets and recipes: read, and what a grade known from nothing else comes to.

use risefit::Error;
use risefit::fit::{FitOptions, GradeKnowledge, Prior, Status, fit_datasheet, gas_yield_prior, grade_from_datasheet};
use risefit::model::Parameter;
use risefit::records::{Datasheet, Recipe};
use std::path::Path;

fn sheet() -> Datasheet {
    Datasheet::load(Path::new(env!("CARGO_MANIFEST_DIR")).join("data/grades/K_datasheet.toml")).expect("a data sheet")
}

fn quick() -> FitOptions {
    FitOptions { starts: 2, ..FitOptions::default() }
}

#[test]
fn a_data_sheet_is_read_into_si() {
    let sheet = sheet();
    assert_eq!((sheet.name.as_str(), sheet.mix_ratio.as_deref()), ("K", Some("100 : 76")));
    assert_eq!((sheet.free_rise_density, sheet.liquid_density, sheet.gas_yield), (Some(76.0), Some(1060.0), None));
    let watch = sheet.stopwatch;
    assert_eq!((watch.cream, watch.string_gel, watch.end_of_rise), (Some(11.0), Some(59.0), Some(70.0)));
    assert_eq!((watch.tack_free, sheet.demold_time), (None, Some(240.0)));
    assert!((sheet.at_temp - 296.15).abs() < 1e-9 && sheet.assumed.is_empty());
    assert!(sheet.file.is_some_and(|file| file.ends_with("K_datasheet.toml")));
}

#[test]
fn a_data_sheet_in_other_units_without_a_temperature_is_for_23_c() {
    let text = "name = \"A\"\n[datasheet]\nfree_rise_density_lb_ft3 = 4.5\ndemold_time_min = 5\n";
    let sheet = Datasheet::from_toml(text).expect("a data sheet");
    // 1 lb/ft3 = 16.018463 kg/m3 (NIST SP 811).
    assert!((sheet.free_rise_density.expect("a density") - 4.5 * 16.018463).abs() < 1e-4);
    assert_eq!((sheet.demold_time, sheet.at_temp), (Some(300.0), 296.15));
    assert_eq!(sheet.assumed, ["data sheet for 23 °C"]);
    let known = grade_from_datasheet(&sheet, &quick()).expect("a grade");
    assert!(known.grade.note.contains("assumed: data sheet for 23 °C"), "{}", known.grade.note);
}

#[test]
fn the_fit_gives_back_what_the_sheet_says() {
    let fit = fit_datasheet(&sheet(), &quick()).expect("a fit");
    assert!(fit.converged, "{:?}", fit.warnings);
    let rise = &fit.logs[0].rise;
    let density = rise.density / (1.0 - fit.grade.constants.settling);
    assert!((density / 76.0 - 1.0).abs() < 0.01, "{density}");
    let near = |time: Option<f64>, said: f64, within: f64| {
        let time = time.expect("a time");
        assert!((time - said).abs() < within, "{time} for {said}");
    };
    // Within the scatter that a stopwatch is believed to have: 2, 2.5 and 4 s.
    near(rise.cream_time, 11.0, 2.0);
    near(rise.gel_time, 59.0, 2.5);
    near(rise.end_of_rise, 70.0, 4.0);
    assert_eq!(fit.grade.constants.liquid_density, 1060.0);
}

/// Standard error of a constant as a share of it, and its prior's spread.
fn spread(known: &GradeKnowledge, parameter: Parameter) -> (f64, f64) {
    let j = known.parameters.iter().position(|(p, _)| *p == parameter).expect("a parameter");
    let prior = known.parameters[j].1;
    (known.covariance[[j, j]].sqrt() * prior.sd, prior.sd)
}

#[test]
fn what_a_sheet_does_not_say_stays_in_doubt() {
    let known = grade_from_datasheet(&sheet(), &quick()).expect("a grade");
    assert_eq!(known.grade.name, "K");
    assert!(known.grade.note.contains("data sheet"));
    for parameter in [
        Parameter::BlowActivation,
        Parameter::GelActivation,
        Parameter::BlowHeat,
        Parameter::AirFraction,
        Parameter::GelConversion,
    ] {
        let (error, prior) = spread(&known, parameter);
        assert!(error > 0.9 * prior, "{parameter:?}: {error} of {prior}");
    }
    // Density and gel time say something, but no more than a density with unknown heat and a hand-held watch can.
    let (gas, _) = spread(&known, Parameter::GasYield);
    assert!((0.03..0.3).contains(&gas), "{gas}");
    let (gel, prior) = spread(&known, Parameter::GelRate);
    assert!((0.1..0.6 * prior).contains(&gel), "{gel} of {prior}");
}

#[test]
fn a_gas_yield_alone_leaves_all_else_to_belief() {
    let text = "name = \"A\"\n[datasheet]\ngas_yield_mol_kg = 0.4\nliquid_density_kg_m3 = 1100\n";
    let known = grade_from_datasheet(&Datasheet::from_toml(text).expect("a data sheet"), &quick()).expect("a grade");
    assert_eq!((known.grade.constants.gas_yield, known.grade.constants.liquid_density), (0.4, 1100.0));
    assert_eq!(spread(&known, Parameter::GasYield), (0.05, 0.05));
    assert_eq!(spread(&known, Parameter::GelRate).0, Parameter::GelRate.prior().sd);
}

/// Polyol of OH number 28 and 5 parts of an extender of equivalent weight 45.06, water 0.40.
const RECIPE: &str = "
[recipe]
water = 0.40
isocyanate_equivalent = 143
index = 100

[[polyols]]
parts = 100
hydroxyl_number = 28

[[polyols]]
parts = 5
hydroxyl_equivalent = 45.06
";

/// Stoichiometry by hand, exact formula: 29.354 parts of isocyanate, 0.16477 mol/kg; with water 0.80 0.31382 mol/kg; and 4.2
/// parts of water to OH number 56, equivalent weight 87.08, index 105: 51.759 parts, 1.49485 mol/kg.
#[test]
fn a_recipe_gives_its_isocyanate_and_gas() {
    let near = |x: f64, expected: f64| assert!((x / expected - 1.0).abs() < 2e-5, "{x} for {expected}");
    let recipe = Recipe::from_toml(RECIPE).expect("a recipe");
    near(recipe.isocyanate().expect("parts"), 29.354);
    near(recipe.gas_yield().expect("gas"), 0.16477);
    let wetter = Recipe::from_toml(&RECIPE.replace("0.40", "0.80")).expect("a recipe");
    near(wetter.gas_yield().expect("gas"), 0.31382);
    let light = "name = \"light\"\n[recipe]\nwater = 4.2\nisocyanate_equivalent = 87.08\nindex = 105\n[[polyols]]\nparts = 100\nhydroxyl_number = 56\n";
    let light = Recipe::from_toml(light).expect("a recipe");
    near(light.isocyanate().expect("parts"), 51.759);
    near(light.gas_yield().expect("gas"), 1.49485);
}

#[test]
fn a_recipe_is_believed_within_five_percent() {
    let recipe = Recipe::from_toml(RECIPE).expect("a recipe");
    let prior = gas_yield_prior(&recipe).expect("a prior");
    assert!(prior.log && prior.sd == 0.05 && (prior.median / 0.16477 - 1.0).abs() < 2e-5);
    let dry = gas_yield_prior(&Recipe { water: 0.0, ..recipe }).expect_err("no gas");
    assert!(matches!(&dry, Error::Argument { name, .. } if name == "water (parts)"), "{dry}");
}

#[test]
fn a_sheet_with_a_recipe_knows_its_gas() {
    let text = format!("name = \"A\"\n[datasheet]\nstring_gel_time_s = 59\n{RECIPE}");
    let sheet = Datasheet::from_toml(&text).expect("a data sheet");
    assert!(sheet.recipe.is_some() && sheet.free_rise_density.is_none());
    let known = grade_from_datasheet(&sheet, &quick()).expect("a grade");
    assert!((known.grade.constants.gas_yield / 0.16477 - 1.0).abs() < 0.02);
    let (gas, _) = spread(&known, Parameter::GasYield);
    assert!((0.045..0.0501).contains(&gas), "{gas}");
    // The caller's own prior goes before the recipe's.
    let own = Prior { median: 0.2, sd: 0.01, ..Parameter::GasYield.prior() };
    let options = FitOptions { priors: vec![(Parameter::GasYield, own)], ..quick() };
    let fit = fit_datasheet(&sheet, &options).expect("a fit");
    let gas = fit.estimates.iter().find(|e| e.parameter == Parameter::GasYield).expect("gas");
    assert!((gas.value / 0.2 - 1.0).abs() < 0.01 && gas.status == Status::NoInfluence, "{gas:?}");
}
