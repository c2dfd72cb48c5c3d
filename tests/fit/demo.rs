//! The shipped demo data, whose nature is richer than the model: fits and predictions against what truly happened.

use risefit::Error;
use risefit::Outcome;
use risefit::fit::{Calibration, FitOptions, FreeRiseFit, GradeKnowledge, Predicted, calibrate, fit_free_rise};
use risefit::model::Parameter;
use risefit::model::Verdict;
use risefit::model::{Casting, FoamConstants};
use risefit::records::{Grade, Mold, Trial, read_rise_logs, read_trials};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(name)
}

fn truth() -> Value {
    let text = std::fs::read_to_string(data("truth.json")).expect("truth.json");
    serde_json::from_str(&text).expect("JSON")
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("no {key} in {value}"))
}

pub fn quick() -> FitOptions {
    FitOptions { starts: 1, ..FitOptions::default() }
}

pub fn mold() -> Mold {
    Mold::load(data("molds/armrest.toml")).expect("a mold")
}

pub fn trials() -> Vec<Trial> {
    read_trials(data("trials/armrest.csv")).expect("trials")
}

fn fit_cups(options: &FitOptions) -> Result<FreeRiseFit, Error> {
    let logs = read_rise_logs(&[data("logs/*.csv")]).expect("logs");
    let start = Grade { name: "K".into(), note: String::new(), constants: FoamConstants::default() };
    fit_free_rise(&logs, &start, options)
}

static CUPS: LazyLock<FreeRiseFit> =
    LazyLock::new(|| fit_cups(&FitOptions { starts: 3, ..FitOptions::default() }).expect("a fit"));

pub static KNOWN: LazyLock<GradeKnowledge> = LazyLock::new(|| GradeKnowledge::from_cup_tests(&CUPS));

pub static CASTINGS: LazyLock<Calibration> =
    LazyLock::new(|| calibrate(&KNOWN, &mold(), &trials(), &quick()).expect("a calibration"));

#[test]
fn fits_are_the_same_to_the_bit_on_any_number_of_threads() {
    let on = |threads| {
        let options = FitOptions { starts: 2, threads: Some(threads), ..FitOptions::default() };
        let cups = fit_cups(&options).expect("a fit");
        let known = GradeKnowledge::from_cup_tests(&cups);
        let castings = calibrate(&known, &mold(), &trials(), &options).expect("a calibration");
        // Written out, numbers differ if a bit does.
        format!("{:?} {:?} {:?} {:?}", cups.estimates, cups.covariance, castings.estimates, castings.covariance())
    };
    let one = on(1);
    assert!(on(3) == one);
    let none = FitOptions { threads: Some(0), ..quick() };
    let refused = [fit_cups(&none).err(), calibrate(&KNOWN, &mold(), &trials(), &none).err()];
    let names_threads =
        |error: &Option<Error>| matches!(error, Some(Error::Argument { name, .. }) if name == "threads");
    assert!(refused.iter().all(names_threads), "{refused:?}");
}

#[test]
fn the_cups_come_out_as_they_were() {
    let fit = &*CUPS;
    assert!(fit.converged && fit.agreeing_starts == (3, 3), "{:?} {:?}", fit.agreeing_starts, fit.warnings);
    assert_eq!(fit.grade.name, "K");
    for (log, name) in fit.logs.iter().zip(["K_19C", "K_23C", "K_28C"]) {
        let truth = &truth()["cups"][name];
        // A sample is cut from the cured foam, which the log's density means.
        let density = log.rise.density / (1.0 - fit.grade.constants.settling);
        let true_density = number(truth, "free_rise_density_kg_m3");
        assert!((density / true_density - 1.0).abs() < 0.02, "{name}: {density} for {true_density}");
        let gel = log.rise.gel_time.expect("gel");
        let true_gel = number(truth, "string_gel_time_s");
        assert!((gel - true_gel).abs() < 3.0, "{name}: {gel} for {true_gel}");
        let cream = log.rise.cream_time.expect("cream");
        assert!((cream - number(truth, "cream_time_s")).abs() < 3.0, "{name}: cream {cream}");
    }
}

fn target(setting: &Value) -> Casting {
    Casting {
        charge: number(setting, "charge_g") * 1e-3,
        left_in_cup: number(setting, "left_in_cup_g") * 1e-3,
        mix_temp: number(setting, "mix_temp_C") + 273.15,
        mold_temp: number(setting, "mold_temp_C") + 273.15,
        ambient_pressure: number(setting, "ambient_pressure_kPa") * 1e3,
        closing_time: number(setting, "closing_time_s"),
        clamp_force: Some(number(setting, "clamp_force_N")),
        vent_diameters: vec![number(setting, "vent_mm") * 1e-3],
        leak: None,
        demold_time: number(setting, "demold_time_s"),
        opening_limit: 5e3,
        weighed_after: 0.0,
    }
}

fn is_inside(predicted: &Predicted, truth: f64) -> bool {
    (predicted.interval_95.0..=predicted.interval_95.1).contains(&truth)
}

#[test]
fn the_next_casting_comes_out_within_its_interval() {
    assert!(CASTINGS.converged, "{:?}", CASTINGS.warnings);
    for (name, target_of) in truth()["targets"].as_object().expect("targets") {
        let predicted = CASTINGS.predict(&target(&target_of["setting"])).expect("a prediction");
        let truth = &target_of["truth"];
        let density = number(truth, "density_kg_m3");
        let peak = number(truth, "peak_pressure_kPa") * 1e3;
        let [of_density, of_peak] = [Outcome::Density, Outcome::PeakPressure].map(|of| predicted.at(of));
        assert!(is_inside(&of_density, density), "{name}: {density} in {of_density:?}");
        assert!((of_density.value / density - 1.0).abs() < 0.02, "{name}: {of_density:?}");
        assert!(is_inside(&of_peak, peak), "{name}: {peak} in {of_peak:?}");
        assert!((of_peak.value / peak - 1.0).abs() < 0.08, "{name}: {of_peak:?}");
        // An interval that holds everything would prove nothing.
        let width = |p: &Predicted| (p.interval_95.1 - p.interval_95.0) / p.value;
        assert!(width(&of_density) < 0.06 && width(&of_peak) < 0.4, "{name}: {predicted:?}");
    }
}

#[test]
fn short_and_flashed_castings_are_so_in_the_model() {
    let of = |name: &str| CASTINGS.castings.iter().find(|c| c.trial.name == name).expect("a casting");
    let short = &of("A1").predicted;
    assert!(short.verdict == Verdict::Short || short.margin().is_some_and(|s| s < 2.0), "{short:?}");
    assert_eq!(of("A8").predicted.verdict, Verdict::Flash);
    for full in ["A2", "A3", "A4", "A5", "A6", "A7"] {
        assert_eq!(of(full).predicted.verdict, Verdict::Full, "{full}");
    }
}

#[test]
fn one_gross_weighing_moves_the_prediction_by_less_than_its_doubt() {
    let mut trials = trials();
    trials[2].part_mass = trials[2].part_mass.map(|mass| mass + 0.015);
    let spoiled = calibrate(&KNOWN, &mold(), &trials, &quick()).expect("a calibration");
    let named = spoiled.warnings.iter().find(|w| w.contains("A3") && w.contains("does not fit the others"));
    assert!(named.is_some_and(|w| w.contains("check its weights")), "{:?}", spoiled.warnings);
    let others = spoiled.warnings.iter().filter(|w| w.contains("does not fit the others")).count();
    assert_eq!(others, 1, "{:?}", spoiled.warnings);
    let casting = target(&truth()["targets"]["62 g, vent 3.0 mm"]["setting"]);
    let (with, without) = (spoiled.predict(&casting).expect("one"), CASTINGS.predict(&casting).expect("one"));
    for (with, without) in [Outcome::Density, Outcome::PeakPressure].map(|of| (with.at(of), without.at(of))) {
        assert!((with.value - without.value).abs() < with.doubt, "{with:?} against {without:?}");
    }
}

#[test]
fn the_same_castings_give_the_same_bits() {
    let two: Vec<Trial> = trials().into_iter().take(2).collect();
    let (a, b) = (calibrate(&KNOWN, &mold(), &two, &quick()), calibrate(&KNOWN, &mold(), &two, &quick()));
    let (a, b) = (a.expect("a calibration"), b.expect("a calibration"));
    assert_eq!(a.estimates, b.estimates);
    assert_eq!(a.solution.parameters, b.solution.parameters);
}

#[test]
fn held_mold_values_stay() {
    let two: Vec<Trial> = trials().into_iter().take(2).collect();
    let options = FitOptions { held: vec![(Parameter::Viscosity, 0.5), (Parameter::GasRetention, 1.1)], ..quick() };
    let held = calibrate(&KNOWN, &mold(), &two, &options).expect("a calibration");
    assert!(!held.estimates.iter().any(|e| matches!(e.parameter, Parameter::Viscosity | Parameter::GasRetention)));
    assert_eq!(held.grade.constants.viscosity, 0.5);
    let run = held.simulate(&two[1].casting).expect("a run");
    assert!(
        (run.result.density / held.castings[1].predicted.density - 1.0).abs() < 1e-9,
        "held values count there too"
    );
}

#[test]
fn a_trial_that_cannot_be_cast_is_named() {
    let mut trials = trials();
    trials[1].casting.charge = 0.9;
    let error = calibrate(&KNOWN, &mold(), &trials, &quick()).expect_err("more than the mold holds");
    assert!(matches!(&error, Error::Casting { trial: Some(name), .. } if name == "A2"), "{error}");
    trials[1].casting.charge = -1.0;
    let error = calibrate(&KNOWN, &mold(), &trials, &quick()).expect_err("no charge").to_string();
    assert!(error.contains("charge"), "{error}");
}

#[test]
fn castings_that_nobody_weighed_are_too_few() {
    let bare = |trial: Trial| Trial {
        part_mass: None,
        vent_loss: None,
        flash: None,
        outcome: None,
        peak_pressure: None,
        gauge_at_stop: false,
        core_temp: None,
        trace: None,
        ..trial
    };
    for trials in [vec![], trials().into_iter().map(bare).collect()] {
        let error = calibrate(&KNOWN, &mold(), &trials, &quick()).expect_err("nothing to fit");
        assert!(matches!(&error, Error::TooFewRecords { .. }), "{error}");
        assert!(error.to_string().contains("weigh the part"), "{error}");
    }
}
