//! Draws and posteriors: against their own laws, against the linear model, and bit by bit over threads.

use risefit::Outcome;
use risefit::fit::{
    Calibration, Draws, FitOptions, GradeKnowledge, Limits, Outcomes, Posterior, PosteriorOptions, Prior, calibrate,
    fit_free_rise,
};
use risefit::model::Parameter;
use risefit::model::{Casting, FoamConstants};
use risefit::records::{Grade, Mold, Trial, read_rise_logs, read_trials};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, LazyLock};

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(name)
}

fn mold() -> Mold {
    Mold::load(data("molds/armrest.toml")).expect("a mold")
}

fn trials() -> Vec<Trial> {
    read_trials(data("trials/armrest.csv")).expect("trials")
}

fn grade() -> Grade {
    Grade {
        name: "K".into(),
        note: String::new(),
        constants: FoamConstants { gas_yield: 0.55, ..FoamConstants::default() },
    }
}

static CASTINGS: LazyLock<Calibration> = LazyLock::new(|| calibrated(1.0));

fn calibrated(model_error: f64) -> Calibration {
    let options = FitOptions { starts: 1, model_error, ..FitOptions::default() };
    let logs = read_rise_logs(&[data("logs/*.csv")]).expect("logs");
    let cups = fit_free_rise(&logs, &grade(), &options).expect("a fit");
    calibrate(&GradeKnowledge::from_cup_tests(&cups), &mold(), &trials(), &options).expect("a calibration")
}

fn next() -> Casting {
    Casting { charge: 62e-3, vent_diameters: vec![4e-3], ..trials()[2].casting.clone() }
}

fn seeded(count: usize, seed: u64) -> Draws {
    let options = FitOptions::default();
    let known = GradeKnowledge::from_priors(&grade(), &options);
    Draws::before_castings(&known, &mold(), &options, count, seed).expect("draws")
}

fn believed(count: usize) -> Draws {
    seeded(count, 3)
}

fn moments(x: &[f64]) -> (f64, f64) {
    let mean = x.iter().sum::<f64>() / x.len() as f64;
    (mean, (x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (x.len() as f64 - 1.0)).sqrt())
}

#[test]
fn draws_before_castings_are_the_beliefs() {
    let draws = believed(4000);
    let (parameters, n) = (draws.parameters(), 4000.0_f64);
    assert!(parameters.contains(&Parameter::GasYield) && parameters.contains(&Parameter::Viscosity));
    for (j, parameter) in parameters.iter().enumerate() {
        let center = if *parameter == Parameter::GasYield { 0.55 } else { parameter.prior().median };
        let prior = Prior { median: center, ..parameter.prior() };
        if foam_is_elsewhere(*parameter) {
            continue;
        }
        let z: Vec<f64> = draws.values().column(j).iter().map(|v| prior.sds(*v)).collect();
        let (mean, sd) = moments(&z);
        assert!(mean.abs() < 4.0 / n.sqrt() && (sd - 1.0).abs() < 0.06, "{parameter:?}: {mean} {sd}");
    }
    for (j, parameter) in draws.own_parameters().iter().enumerate() {
        let z: Vec<f64> = draws.scatter().column(j).iter().map(|v| parameter.prior().sds(*v)).collect();
        let (mean, sd) = moments(&z);
        // Nobody knows how much castings scatter: a normal whose deviation is lognormal around 1.
        let believed = Parameter::LotScatter.prior().sd.powi(2).exp();
        assert!(mean.abs() < 4.0 / n.sqrt() && (sd - believed).abs() < 0.06, "{parameter:?}: {mean} {sd} {believed}");
    }
}

/// Parameters whose prior is around a value of the default grade or of the mold instead of its own center.
fn foam_is_elsewhere(parameter: Parameter) -> bool {
    parameter.is_of_grade() && parameter != Parameter::GasYield && parameter != Parameter::Viscosity
        || parameter == Parameter::PartingGap
}

/// Where doubt and scatter are small, draws spread as the linear model says. They are if cups are taken at their word.
#[test]
fn draws_spread_as_the_linear_model_says() {
    let fit = calibrated(0.2);
    let draws = fit.draws(2000, 1).expect("draws");
    let parts = draws.casting_in_parts(&next()).expect("outcomes");
    let linear = fit.predict(&next()).expect("a prediction");
    for (of, p) in [Outcome::PeakPressure, Outcome::Density].map(|of| (of, linear.at(of))) {
        let ratio = |outcomes: &Outcomes, sd: f64| outcomes.standard_deviation(of) / sd;
        assert!((ratio(&parts.doubt, p.doubt) - 1.0).abs() < 0.25, "{of:?} doubt {}", ratio(&parts.doubt, p.doubt));
        assert!((ratio(&parts.scatter, p.scatter) - 1.0).abs() < 0.15, "{of:?} {}", ratio(&parts.scatter, p.scatter));
        assert!((parts.both.median(of) / p.value - 1.0).abs() < 0.05, "{of:?} {}", parts.both.median(of));
        let (low, high) = parts.both.interval(of, 0.95);
        let (from, to) = p.interval_95;
        assert!(((high - low) / (to - from) - 1.0).abs() < 0.25, "{of:?}: {low} {high} for {from} {to}");
    }
    assert_eq!(parts.both.failures().count(), 0);
}

#[test]
fn the_same_seed_casts_the_same_bits_on_any_threads() {
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| believed(40).casting(&next()).expect("outcomes"))
    };
    let one = run(1);
    assert!(one == run(2) && one == run(3));
    assert_ne!(believed(40).values(), seeded(40, 4).values());
}

/// Two settings are compared draw by draw: their difference hardly scatters.
#[test]
fn settings_share_their_scatter() {
    let draws = CASTINGS.draws(200, 1).expect("draws");
    let more = Casting { charge: 63e-3, ..next() };
    let of = Outcome::PartMass;
    let (a, b) = (draws.casting(&next()).expect("outcomes"), draws.casting(&more).expect("outcomes"));
    let steps: Vec<f64> = a.values(of).iter().zip(b.values(of)).map(|(a, b)| b - a).collect();
    let (step, sd) = moments(&steps);
    assert!(step > 0.0 && sd < 0.3 * a.standard_deviation(of), "{step} {sd}");
}

#[test]
fn what_is_held_does_not_scatter() {
    let options = FitOptions {
        held: vec![
            (Parameter::ChargeError, 0.0),
            (Parameter::Viscosity, 1.5),
            (Parameter::FlowFactor, 1.0),
            (Parameter::LotScatter, 1.0),
        ],
        priors: vec![(Parameter::MoldTempError, Prior { sd: 3.0, ..Parameter::MoldTempError.prior() })],
        ..FitOptions::default()
    };
    let known = GradeKnowledge::from_priors(&grade(), &options);
    let draws = Draws::before_castings(&known, &mold(), &options, 1000, 1).expect("draws");
    assert!(!draws.own_parameters().contains(&Parameter::ChargeError));
    let (foam, _, casting) = draws.setup(5, &next(), true).expect("draw 5");
    assert!(foam.viscosity == 1.5 && casting.charge == next().charge);
    let place = draws.own_parameters().iter().position(|p| *p == Parameter::MoldTempError).expect("in the list");
    let (_, sd) = moments(&draws.scatter().column(place).to_vec());
    assert!((sd / 3.0 - 1.0).abs() < 0.1, "{sd}");
    assert!(draws.setup(1000, &next(), true).is_none());
}

#[test]
fn probabilities_are_shares_of_the_draws() {
    let outcomes = believed(300).casting(&next()).expect("outcomes");
    let (low, high) = outcomes.interval(Outcome::Density, 0.6);
    let limits = Limits { density: Some((low, high)), peak_pressure: Some((10e3, 200e3)) };
    let p = outcomes.probabilities(&limits);
    assert!((p.density - 0.6).abs() < 0.02, "{p:?}");
    let met = outcomes.cast().filter(|r| limits.are_met(r)).count() as f64 / outcomes.cast().count() as f64;
    assert_eq!(p.all, met);
    assert!(p.all <= p.full.min(p.no_flash).min(p.peak_pressure));
    let none = outcomes.probabilities(&Limits::default());
    assert!(none.density == 1.0 && none.peak_pressure == 1.0 && none.all <= none.full);
    assert!(outcomes.quantile(Outcome::Density, 0.1) < outcomes.median(Outcome::Density));
}

/// A mold closed late: with some of the believed grades the foam fills the cavity before.
#[test]
fn draws_that_cannot_be_cast_are_counted() {
    let late = Casting { closing_time: 45.0, charge: 0.12, ..next() };
    let outcomes = believed(200).casting(&late).expect("some draws");
    let failed = outcomes.failures().count();
    assert!(failed > 0 && failed + outcomes.cast().count() == 200, "{failed}");
    assert!(outcomes.failures().all(|(_, e)| e.is_recoverable()));
    assert!(outcomes.values(Outcome::Density).iter().filter(|v| v.is_nan()).count() == failed);
    let never = Casting { charge: 5.0, ..next() };
    assert!(believed(20).casting(&never).is_err());
}

#[test]
fn wrong_requests_are_refused() {
    assert!(CASTINGS.draws(0, 1).is_err());
    let mut draws = believed(20);
    draws.cancel = Some(Arc::new(AtomicBool::new(true)));
    let error = draws.casting(&next()).expect_err("a stop");
    assert!(error.to_string().contains("stopped on request"), "{error}");
}

/// Also while they are made.
#[test]
fn draws_of_castings_stop_on_request() {
    let error = CASTINGS.draws_until(20, 77, Arc::new(AtomicBool::new(true))).expect_err("a stop");
    assert!(error.to_string().contains("stopped on request"), "{error}");
    let draws = CASTINGS.draws_until(20, 77, Arc::new(AtomicBool::new(false))).expect("draws");
    assert_eq!(draws.values(), CASTINGS.draws(20, 77).expect("draws").values());
}

fn short() -> PosteriorOptions {
    PosteriorOptions { draws: 60, warmup: 40, chains: 2, ..PosteriorOptions::default() }
}

static POSTERIOR: LazyLock<Posterior> = LazyLock::new(|| CASTINGS.posterior(&short()).expect("a posterior"));

/// The demo's castings hold most parameters tightly: there the posterior is about normal, and agrees with the linear errors.
#[test]
fn the_posterior_agrees_with_the_fit_where_that_is_nearly_linear() {
    let (fit, posterior) = (&*CASTINGS, &*POSTERIOR);
    println!("{:?}; {} evaluations", posterior.verdict, posterior.evaluations);
    for (e, p) in fit.estimates.iter().zip(&posterior.estimates).filter(|(e, _)| e.record.is_none()) {
        println!(
            "{:32} {:10.4e} {:9.2e} | {:10.4e} {:9.2e} | {:.3} {:.0} {:.0}",
            e.name(),
            e.value,
            e.standard_error,
            p.median,
            p.standard_deviation,
            p.r_hat,
            p.bulk_ess,
            p.tail_ess
        );
        assert_eq!(e.parameter, p.parameter);
        // 60 draws of each chain leave the median a fifth of a standard deviation or more off.
        let off = (p.median - e.value).abs() / e.standard_error.max(1e-300);
        assert!(off < 1.0, "{}: {off}", e.name());
    }
}

/// Where opening cells bend what the records allow, draws bend with it: they stand where the posterior's do, not to the low side
/// of it as normal ones would.
#[test]
fn draws_bend_with_the_records() {
    let posterior = CASTINGS.posterior(&PosteriorOptions { draws: 400, warmup: 150, ..short() }).expect("a posterior");
    let of_posterior =
        CASTINGS.draws_of(&posterior, 800).expect("draws").casting_without_scatter(&next()).expect("cast");
    let drawn = CASTINGS.draws(800, 1).expect("draws").casting_without_scatter(&next()).expect("cast");
    let (of, share) = (Outcome::PeakPressure, 0.9);
    let ((low, high), (low_there, high_there)) = (drawn.interval(of, share), of_posterior.interval(of, share));
    let width = high_there - low_there;
    println!("{low} {} {high}; {low_there} {} {high_there}", drawn.median(of), of_posterior.median(of));
    assert!((low - low_there).abs() < 0.15 * width && (high - high_there).abs() < 0.15 * width);
    assert!((drawn.median(of) - of_posterior.median(of)).abs() < 0.15 * width);
}

/// Profile, posterior and linear errors are three ways to the same interval where the fit is nearly linear.
#[test]
fn profiles_agree_with_the_fit_where_that_is_nearly_linear() {
    let options = FitOptions::default();
    let profile = CASTINGS.profile(Parameter::GelRate, &options).expect("a profile");
    let estimate = CASTINGS.estimates.iter().find(|e| e.parameter == Parameter::GelRate).expect("fitted");
    println!("{profile:?}");
    let width = |(low, high): (f64, f64)| high - low;
    let ratio = width(profile.interval_95) / width(estimate.interval_95) * CASTINGS.misfit_ratio.max(1.0).sqrt();
    assert!((ratio - 1.0).abs() < 0.2, "{ratio}");
    assert!(profile.open == (false, false) && profile.points.iter().all(|p| p.1 >= 0.0));
    let error = CASTINGS.profile(Parameter::Settling, &options).expect_err("not fitted to castings");
    assert!(error.to_string().contains("a parameter that was fitted"), "{error}");
}

#[test]
fn posteriors_are_the_same_bits_on_any_threads() {
    // More chains than threads, and legs of the warmup that learn.
    let few = |threads| PosteriorOptions { threads: Some(threads), chains: 4, draws: 4, warmup: 8, ..short() };
    let run = |threads| CASTINGS.posterior(&few(threads)).expect("a posterior").values;
    let one = run(1);
    assert!(one == run(3));
}

#[test]
fn predictions_use_either_kind_of_draws() {
    let draws = CASTINGS.draws_of(&POSTERIOR, 300).expect("draws");
    // No more than the posterior has: two chains of 60.
    assert_eq!(draws.count(), 120);
    let outcomes = draws.casting(&next()).expect("outcomes");
    let linear = CASTINGS.predict(&next()).expect("a prediction");
    let ratio = outcomes.median(Outcome::Density) / linear.at(Outcome::Density).value;
    assert!((ratio - 1.0).abs() < 0.03, "{ratio}");
}

/// What limits the posterior: `cargo test --release --test fit draws:: -- --ignored --nocapture`.
#[test]
#[ignore = "a measurement, not a check"]
fn cost_of_a_posterior() {
    let start = std::time::Instant::now();
    let options = PosteriorOptions { draws: 40, warmup: 40, chains: 2, threads: Some(1), ..short() };
    let posterior = CASTINGS.posterior(&options).expect("a posterior");
    let per = start.elapsed().as_secs_f64() / posterior.evaluations as f64;
    println!(
        "{:.2} ms each of {} evaluations, {} parameters, {} castings",
        1e3 * per,
        posterior.evaluations,
        posterior.estimates.len(),
        CASTINGS.castings.len()
    );
}
