//! Simulation-based calibration of the cup model (Talts et al., arXiv:1804.06788, 2018): truths drawn from the priors stand
//! at even ranks among the draws of their posteriors; where the data scatter more than the fit believes, they do not.

use crate::blank_log::blank_log;
use crate::dice::Dice;
use rayon::prelude::*;
use risefit::Accuracy;
use risefit::fit::{FitOptions, PosteriorOptions, fit_free_rise};
use risefit::model::FoamConstants;
use risefit::model::Parameter;
use risefit::records::{Grade, RiseLog, Stopwatch};
use risefit::{CupTest, free_rise};

const SHOPS: u64 = 120;
const BINS: usize = 6;
/// Scatter of what is read, as the fit believes it: stopwatch times, s, and density, as a share.
const SDS: [f64; 4] = [2.0, 2.5, 4.0, 0.015];
const TESTED: [Parameter; 3] = [Parameter::GasYield, Parameter::BlowRate, Parameter::GelRate];

fn drawn(parameter: Parameter, dice: &mut Dice) -> f64 {
    let prior = parameter.prior();
    prior.value(dice.normal()).clamp(prior.low, prior.high)
}

/// Constants drawn from the priors, and a cup test of them without a series: what was read is `noisy` times as uncertain as
/// the fit believes.
fn shop(seed: u64, noisy: f64) -> Option<(FoamConstants, RiseLog)> {
    let mut dice = Dice::new(seed);
    let mut d = |p| drawn(p, &mut dice);
    let gas_yield = d(Parameter::GasYield);
    let foam = FoamConstants {
        induction: d(Parameter::Induction),
        gas_yield,
        blow_rate: d(Parameter::BlowRate),
        blow_activation: d(Parameter::BlowActivation),
        gel_rate: d(Parameter::GelRate),
        gel_activation: d(Parameter::GelActivation),
        competition: d(Parameter::Competition),
        blow_heat: d(Parameter::BlowHeat) * gas_yield / FoamConstants::default().heat_capacity,
        gel_heat: d(Parameter::GelHeat),
        solubility: d(Parameter::Solubility),
        air_fraction: d(Parameter::AirFraction),
        gel_conversion: d(Parameter::GelConversion),
        rise_end_conversion: d(Parameter::RiseEndConversion),
        settling: d(Parameter::Settling),
        ..FoamConstants::default()
    };
    let lot = FoamConstants {
        gas_yield: foam.gas_yield * d(Parameter::GasFactor),
        blow_rate: foam.blow_rate * d(Parameter::BlowFactor),
        gel_rate: foam.gel_rate * d(Parameter::GelFactor),
        ..foam
    };
    let test = CupTest::insulated(296.15 + d(Parameter::MixTempError), 101_325.0);
    let rise = free_rise(&lot, &test, &[], Accuracy::default()).ok()?;
    let [cream, gel, end, density] = SDS.map(|sd| noisy * sd * dice.normal());
    let stopwatch = Stopwatch {
        cream: Some(rise.cream_time? + cream),
        string_gel: Some(rise.gel_time? + gel),
        end_of_rise: Some(rise.end_of_rise? + end),
        tack_free: None,
    };
    let free_rise_density = Some(rise.density * (1.0 + density));
    let log = RiseLog { stopwatch, free_rise_density, ..blank_log("cup", 0.1, 296.15) };
    Some((foam, log))
}

/// Share of the posterior's draws below the truth, for each parameter tested.
fn ranks(seed: u64, noisy: f64) -> Option<[f64; 3]> {
    let (truth, log) = shop(seed, noisy)?;
    let start = Grade { name: "K".into(), note: String::new(), constants: FoamConstants::default() };
    let fit = fit_free_rise(&[log], &start, &FitOptions { starts: 1, ..FitOptions::default() }).ok()?;
    let options =
        PosteriorOptions { chains: 2, draws: 80, warmup: 80, seed, threads: None, ..PosteriorOptions::default() };
    let posterior = fit.posterior(&options).ok()?;
    Some(TESTED.map(|parameter| {
        let j = posterior.estimates.iter().position(|e| e.parameter == parameter).expect("fitted");
        let true_value = match parameter {
            Parameter::GasYield => truth.gas_yield,
            Parameter::BlowRate => truth.blow_rate,
            _ => truth.gel_rate,
        };
        let draws = posterior.values.index_axis(ndarray::Axis(2), j);
        draws.iter().filter(|x| **x < true_value).count() as f64 / draws.len() as f64
    }))
}

/// Largest chi squared of the counts of ranks in bins, over the parameters tested.
fn unevenness(noisy: f64) -> f64 {
    let all: Vec<[f64; 3]> = (0..SHOPS).into_par_iter().filter_map(|seed| ranks(seed, noisy)).collect();
    assert!(all.len() as u64 > SHOPS * 3 / 4, "{} of {SHOPS} shops could be fitted", all.len());
    let expected = all.len() as f64 / BINS as f64;
    let chi = |j: usize| {
        let mut counts = [0.0; BINS];
        all.iter().for_each(|r| counts[((r[j] * BINS as f64) as usize).min(BINS - 1)] += 1.0);
        println!("{:?} {counts:?}", TESTED[j]);
        counts.iter().map(|c: &f64| (c - expected).powi(2) / expected).sum::<f64>()
    };
    (0..TESTED.len()).map(chi).fold(0.0, f64::max)
}

/// Chi squared with 5 degrees of freedom exceeds 18.39 once in 400 times [computed with SciPy], so 3 of them once in 130.
const LIMIT: f64 = 18.39;

#[test]
#[ignore = "takes minutes: cargo test --release --test fit simulated_cups:: -- --ignored"]
fn truths_stand_at_even_ranks() {
    let chi = unevenness(1.0);
    assert!(chi < LIMIT, "{chi}");
}

#[test]
#[ignore = "takes minutes: cargo test --release --test fit simulated_cups:: -- --ignored"]
fn scatter_that_the_fit_does_not_believe_is_noticed() {
    let chi = unevenness(4.0);
    assert!(chi > LIMIT, "{chi}");
}
