//! Quick rise curves against curves whose constants are known, and against the shipped logs.

use crate::dice::Dice;
use risefit::Error;
use risefit::fit::{CurveKind, QuickFit, quick_curve};
use risefit::model::Cup;
use risefit::records::{RiseLog, Stopwatch, read_rise_logs};
use std::path::Path;

/// A log with the heights that a formula gives every second, and white noise.
fn log(height: impl Fn(f64) -> f64, noise: f64, seed: u64) -> RiseLog {
    let mut dice = Dice::new(seed);
    let time: Vec<f64> = (0..150).map(f64::from).collect();
    let height = time.iter().map(|t| height(*t) + noise * dice.normal()).collect();
    RiseLog {
        name: "invented".into(),
        file: None,
        mass: 0.06,
        mix_temp: 296.15,
        ambient_temp: 296.15,
        ambient_pressure: 101_325.0,
        cup: Some(Cup { bottom_diameter: 0.11, top_diameter: 0.13, height: 0.15 }),
        time,
        height: Some(height),
        volume: None,
        temp: None,
        stopwatch: Stopwatch::default(),
        free_rise_density: None,
        assumed: Vec::new(),
    }
}

/// First order after a delay: 6 mm, 90 mm more, from 12.3 s on with 17 s.
fn delayed(t: f64) -> f64 {
    6e-3 + 90e-3 * (1.0 - (-(t - 12.3f64).max(0.0) / 17.0).exp())
}

/// Richards' curve: 6 mm, 90 mm more, steepest at 34 s, with 7 s and shape 0.6.
fn richards(t: f64) -> f64 {
    6e-3 + 90e-3 * (1.0 + 0.6 * (-(t - 34.0) / 7.0f64).exp()).powf(-1.0 / 0.6)
}

const DELAYED: [f64; 4] = [6e-3, 90e-3, 12.3, 17.0];
const RICHARDS: [f64; 5] = [6e-3, 90e-3, 34.0, 7.0, 0.6];

fn fitted(log: &RiseLog, kind: CurveKind) -> QuickFit {
    quick_curve(log, kind).expect("a curve")
}

#[test]
fn exact_curves_give_their_constants_back() {
    let delayed = fitted(&log(delayed, 0.0, 0), CurveKind::DelayedFirstOrder);
    let richards = fitted(&log(richards, 0.0, 0), CurveKind::Richards);
    for (fit, truth) in [(&delayed, &DELAYED[..]), (&richards, &RICHARDS[..])] {
        assert!(fit.converged && fit.warnings.is_empty(), "{:?} {:?}", fit.solution.ending, fit.warnings);
        for (parameter, truth) in fit.parameters.iter().zip(truth) {
            assert!((parameter.value / truth - 1.0).abs() < 1e-6, "{parameter:?} for {truth}");
            assert_eq!(parameter.standing, "free");
        }
        assert!(fit.noise.scatter < 1e-9, "{:?}", fit.noise);
    }
}

/// Closed forms: the delayed curve passes 98 % at delay + tau ln 50 and 3 % of its base at delay - tau ln(1 - 0.03 base/rise).
#[test]
fn times_follow_from_the_curve() {
    let fit = fitted(&log(delayed, 0.0, 0), CurveKind::DelayedFirstOrder);
    assert!((fit.end_of_rise - (12.3 + 17.0 * 50f64.ln())).abs() < 1e-4);
    assert!((fit.cream.expect("cream") - (12.3 - 17.0 * (1.0 - 0.03 * 6.0 / 90.0f64).ln())).abs() < 1e-4);
    assert!((fit.steepest - 12.3).abs() < 1e-4);
    let fit = fitted(&log(richards, 0.0, 0), CurveKind::Richards);
    for (time, level) in [(fit.end_of_rise, 6e-3 + 0.98 * 90e-3), (fit.cream.expect("cream"), 1.03 * 6e-3)] {
        assert!((richards(time) - level).abs() < 1e-8 && (fit.value_at(time) - level).abs() < 1e-8, "{time}");
    }
    let slope = |t: f64| fit.value_at(t + 0.5) - fit.value_at(t - 0.5);
    assert!(slope(fit.steepest) > slope(fit.steepest - 2.0) && slope(fit.steepest) > slope(fit.steepest + 2.0));
}

/// Errors as stated: over many draws the misses count as a normal distribution's, and the scatter comes out as put in.
#[test]
fn noisy_curves_come_back_within_their_errors() {
    for (kind, truth) in [(CurveKind::DelayedFirstOrder, &DELAYED[..]), (CurveKind::Richards, &RICHARDS[..])] {
        let mut squares = vec![0.0; truth.len()];
        for seed in 1..=40 {
            let log = match kind {
                CurveKind::DelayedFirstOrder => log(delayed, 0.3e-3, seed),
                CurveKind::Richards => log(richards, 0.3e-3, seed),
            };
            let fit = fitted(&log, kind);
            assert!((fit.noise.scatter / 0.3e-3 - 1.0).abs() < 0.25, "{:?}", fit.noise);
            for (j, (parameter, truth)) in fit.parameters.iter().zip(truth).enumerate() {
                let off = (parameter.value - truth) / parameter.standard_error;
                assert!(off.abs() < 4.5, "seed {seed}: {parameter:?} for {truth}");
                squares[j] += off * off / 40.0;
            }
        }
        // Chi square of 40 over 40: 0.48 to 1.79 hold all but one in a thousand on either side.
        assert!(squares.iter().all(|s| (0.48..1.79).contains(s)), "{kind:?}: {squares:?}");
    }
}

#[test]
fn the_shipped_logs_are_richards_rather_than_first_order() {
    let pattern = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/logs/*.csv");
    for log in read_rise_logs(&[pattern]).expect("logs") {
        let (first, richards) = (fitted(&log, CurveKind::DelayedFirstOrder), fitted(&log, CurveKind::Richards));
        assert!(richards.noise.scatter < 0.5 * first.noise.scatter, "{:?} {:?}", richards.noise, first.noise);
        assert!(first.warnings.iter().any(|w| w.contains("its form does not fit")), "{:?}", first.warnings);
        let read = log.stopwatch.end_of_rise.expect("a time");
        assert!((richards.end_of_rise - read).abs() < 8.0, "{}: {} for {read}", log.name, richards.end_of_rise);
    }
}

#[test]
fn volumes_do_as_well_and_a_cut_log_says_so() {
    let whole = log(delayed, 0.0, 0);
    let volume = whole.height.as_ref().map(|h| h.iter().map(|h| 1e-2 * h).collect());
    let fit = fitted(&RiseLog { height: None, volume, ..whole.clone() }, CurveKind::DelayedFirstOrder);
    assert!((fit.parameters[1].value / 90e-5 - 1.0).abs() < 1e-6);
    let cut = |values: &[f64]| values[..40].to_vec();
    let cut = RiseLog { time: cut(&whole.time), height: whole.height.as_deref().map(cut), ..whole };
    let fit = fitted(&cut, CurveKind::DelayedFirstOrder);
    assert!(fit.warnings.iter().any(|w| w.contains("extrapolated")), "{:?}", fit.warnings);
}

#[test]
fn logs_without_a_rise_are_refused() {
    let whole = log(delayed, 0.0, 0);
    let flat = RiseLog { height: Some(vec![0.01; 150]), ..whole.clone() };
    let none = RiseLog { height: None, ..whole.clone() };
    let short = RiseLog { time: vec![0.0, 1.0, 2.0], height: Some(vec![0.01, 0.02, f64::NAN]), ..whole };
    for (log, word) in [(flat, "does not rise"), (none, "has 0 heights"), (short, "has 2 heights")] {
        let error = quick_curve(&log, CurveKind::Richards).expect_err("refused");
        assert!(matches!(&error, Error::TooFewRecords { .. }) && error.to_string().contains(word), "{error}");
    }
}
