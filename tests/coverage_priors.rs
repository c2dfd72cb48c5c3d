//! Coverage: in shops drawn from the beliefs, how often 90 % and 95 % intervals of parameters and predictions hold the truth.

mod dice;
mod drawn_shop;

use drawn_shop::{DrawnShop, Unused, centers};
use rayon::prelude::*;
use risefit::fit::{
    Calibration, Estimate, FitOptions, FreeRiseFit, GradeKnowledge, Outcomes, Predictand, Predicted, Prediction,
    calibrate, fit_free_rise,
};
use risefit::records::Grade;
use std::collections::BTreeMap;

const TWO_SIDED: [f64; 2] = [1.644_853_626_951_472_2, 1.959_963_984_540_054];
const DRAWS: usize = 400;

/// Whether the 90 % and the 95 % interval hold the truth.
type Held = [bool; 2];

struct Answer {
    stands: (bool, bool),
    /// By what is asked: where the truth stands in standard deviations, and which intervals hold it.
    counted: Vec<(String, f64, Held)>,
}

fn answer(number: u64) -> Result<Answer, String> {
    let shop = DrawnShop::draw(number).map_err(|why| format!("{why:?}"))?;
    let grade = Grade { name: "drawn".into(), note: String::new(), constants: centers() };
    let options = FitOptions { starts: 2, ..FitOptions::default() };
    let cups = fit_free_rise(&shop.logs, &grade, &options).map_err(|e| format!("cups: {e}"))?;
    let known = GradeKnowledge::from_cup_tests(&cups);
    let cal = calibrate(&known, &shop.mold, &shop.trials, &options).map_err(|e| format!("castings: {e}"))?;
    let mut counted = parameters(&shop, &cups, &cal);
    counted.extend(predictions(&shop, &cal, number)?);
    Ok(Answer { stands: (cups.success, cal.success), counted })
}

fn parameters(shop: &DrawnShop, cups: &FreeRiseFit, cal: &Calibration) -> Vec<(String, f64, Held)> {
    let of = |prefix: &'static str, all: &[Estimate]| -> Vec<_> {
        all.iter().map(|e| one_parameter(prefix, e, shop.truth(e.parameter, e.record.as_deref()))).collect()
    };
    let mut all = of("cup", &cups.estimates);
    all.extend(of("mold", &cal.estimates));
    all
}

fn one_parameter(prefix: &str, e: &Estimate, truth: f64) -> (String, f64, Held) {
    let at = e.belief.position(e.value);
    let off = (e.belief.position(truth) - at) / (e.standard_error / e.belief.rate(at).abs());
    let own = if e.record.is_some() { " of a record" } else { "" };
    (format!("{prefix} {}{own}", e.parameter.label().name), off, TWO_SIDED.map(|reach| off.abs() <= reach))
}

fn predictions(shop: &DrawnShop, cal: &Calibration, seed: u64) -> Result<Vec<(String, f64, Held)>, String> {
    let predicted = cal.predict(&shop.next).map_err(|e| format!("prediction: {e}"))?;
    let draws = cal.draws(DRAWS, seed).map_err(|e| e.to_string())?;
    let outcomes = draws.casting(&shop.next).map_err(|e| format!("draws: {e}"))?;
    let mut all = Vec::new();
    for (name, of, linear) in asked(&predicted) {
        let truth = of.of(&shop.came);
        if let (Some(linear), Some(truth)) = (linear, truth) {
            let sd = linear.doubt.hypot(linear.scatter);
            let holds = |(low, high): (f64, f64)| low <= truth && truth <= high;
            let held = [0.90, 0.95].map(|level| holds(linear.interval(level)));
            all.push((format!("linear {name}"), (truth - linear.value) / sd, held));
        }
        let (share, held) = rank(&outcomes, of, truth);
        all.push((format!("draws {name}"), share, held));
    }
    Ok(all)
}

fn asked(p: &Prediction) -> Vec<(&'static str, Predictand, Option<Predicted>)> {
    vec![
        ("peak pressure", Predictand::PeakPressure, Some(p.peak_pressure)),
        ("density", Predictand::Density, Some(p.density)),
        ("part mass", Predictand::PartMass, Some(p.part_mass)),
        ("vent loss", Predictand::VentLoss, Some(p.vent_loss)),
        ("flash", Predictand::Flash, Some(p.flash)),
        ("fill time", Predictand::FillTime, p.fill_time),
        ("gel time", Predictand::GelTime, p.gel_time),
        ("fill fraction", Predictand::FillFraction, None),
    ]
}

/// Share of draws below the truth, in spreads, ties halved; what never happened is later than any.
fn rank(outcomes: &Outcomes, of: Predictand, truth: Option<f64>) -> (f64, Held) {
    let truth = truth.unwrap_or(f64::INFINITY);
    let values: Vec<f64> = outcomes.cast().map(|r| of.of(r).unwrap_or(f64::INFINITY)).collect();
    let count = |is: &dyn Fn(f64) -> bool| values.iter().filter(|v| is(**v)).count() as f64 / values.len() as f64;
    let share = count(&|v| v < truth) + 0.5 * count(&|v| v == truth);
    (share, [0.90, 0.95].map(|level| (share - 0.5).abs() <= 0.5 * level))
}

/// Fits shops from this number on until so many could be used.
fn run(shops: u64) -> Vec<(u64, Answer)> {
    let mut all: Vec<(u64, Result<Answer, String>)> =
        (0..shops).into_par_iter().map(|number| (number, answer(number))).collect();
    all.sort_by_key(|(number, _)| *number);
    let mut why = BTreeMap::new();
    let mut answered = Vec::new();
    for (number, each) in all {
        match each {
            Ok(answer) => answered.push((number, answer)),
            Err(reason) => {
                if !reason.starts_with("Records") {
                    println!("shop {number}: {reason}");
                }
                *why.entry(reason.split(':').next().unwrap_or_default().to_owned()).or_insert(0) += 1;
            }
        }
    }
    println!("{} of {shops} shops; not used: {why:?}", answered.len());
    answered
}

type Table = BTreeMap<String, Vec<(f64, Held)>>;

fn table(answers: &[(u64, Answer)]) -> Table {
    let mut all = Table::new();
    for (name, off, held) in answers.iter().flat_map(|(_, a)| &a.counted) {
        all.entry(name.clone()).or_default().push((*off, *held));
    }
    all
}

fn share(held: &[(f64, Held)], level: usize) -> f64 {
    held.iter().filter(|(_, h)| h[level]).count() as f64 / held.len() as f64
}

fn print(answers: &[(u64, Answer)]) {
    let stand = |of: fn(&Answer) -> bool| answers.iter().filter(|(_, a)| of(a)).count();
    let (cups, castings) = (stand(|a| a.stands.0), stand(|a| a.stands.1));
    println!("can be stood behind: {cups} fits of cups, {castings} calibrations");
    println!("{:44} {:>6} {:>8} {:>8}   median, rms of what it is off", "", "count", "in 90 %", "in 95 %");
    for (name, held) in table(answers) {
        let mut off: Vec<f64> = held.iter().map(|(off, _)| *off).filter(|x| x.is_finite()).collect();
        off.sort_by(f64::total_cmp);
        let rms = (off.iter().map(|x| x * x).sum::<f64>() / off.len() as f64).sqrt();
        println!(
            "{name:44} {:6} {:8.1} {:8.1}   {:6.2} {rms:6.2}",
            held.len(),
            100.0 * share(&held, 0),
            100.0 * share(&held, 1),
            off.get(off.len() / 2).copied().unwrap_or(f64::NAN)
        );
    }
}

fn number_of(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

#[test]
#[ignore = "takes minutes: make coverage-priors"]
fn five_hundred_shops() {
    let answers = run(number_of("SHOPS", 1000));
    print(&answers);
    let _ = Unused::Records;
}

/// Positions of truths among the draws of posteriors, where the linear intervals miss.
#[test]
#[ignore = "takes minutes: make coverage-priors"]
fn posteriors_of_some_shops() {
    use risefit::fit::PosteriorOptions;
    let one = |number: u64| -> Option<(u64, Answer)> {
        let shop = DrawnShop::draw(number).ok()?;
        let grade = Grade { name: "drawn".into(), note: String::new(), constants: centers() };
        let options = FitOptions { starts: 2, ..FitOptions::default() };
        let cups = fit_free_rise(&shop.logs, &grade, &options).ok()?;
        let cal = calibrate(&GradeKnowledge::from_cup_tests(&cups), &shop.mold, &shop.trials, &options).ok()?;
        let how = PosteriorOptions { chains: 2, draws: 300, warmup: 200, seed: number, threads: Some(1), ..PosteriorOptions::default() };
        let cup_draws = cups.posterior(&how).ok()?;
        let draws = cal.posterior(&how).ok()?;
        let mut counted = Vec::new();
        for (prefix, posterior) in [("cup", &cup_draws), ("mold", &draws)] {
            for e in &posterior.estimates {
                if matches!(e.parameter, risefit::fit::Parameter::CastingScatter | risefit::fit::Parameter::LotScatter) { continue; }
                let truth = shop.truth(e.parameter, e.record.as_deref());
                let off = (e.belief.position(truth) - e.belief.position(e.median)) / (e.standard_deviation / e.belief.rate(e.belief.position(e.median)).abs());
                let holds = |(low, high): (f64, f64)| low <= truth && truth <= high;
                let own = if e.record.is_some() { " of a record" } else { "" };
                counted.push((format!("{prefix} {}{own}", e.parameter.label().name), off, [holds(e.interval_90), holds(e.interval_95)]));
            }
        }
        let outcomes = cal.draws_of(&draws, 400).ok()?.casting(&shop.next).ok()?;
        for (name, of, _) in asked(&cal.predict(&shop.next).ok()?) {
            let (share, held) = rank(&outcomes, of, of.of(&shop.came));
            counted.push((format!("draws of the posterior {name}"), share, held));
        }
        Some((number, Answer { stands: (cup_draws.success, draws.success), counted }))
    };
    let from = number_of("FROM", 0);
    let answers: Vec<_> = (from..from + number_of("SHOPS", 150)).into_par_iter().filter_map(one).collect();
    print(&answers);
}
