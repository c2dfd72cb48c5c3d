//! Coverage: in shops drawn from the priors, how often 90 % and 95 % intervals of parameters and predictions hold the truth.

use crate::drawn_shop::{DrawnShop, centers};
use rayon::prelude::*;
use risefit::Outcome;
use risefit::fit::{
    Calibration, FitOptions, FreeRiseFit, GradeKnowledge, Outcomes, PosteriorOptions, Predicted, Prediction, Prior,
    calibrate, fit_free_rise,
};
use risefit::model::Parameter;
use risefit::records::Grade;
use std::collections::BTreeMap;

/// Two-sided 90 % and 95 % of a normal distribution, in standard deviations.
const TWO_SIDED: [f64; 2] = [1.644_853_626_951_472_2, 1.959_963_984_540_054];
const LEVELS: [f64; 2] = [0.90, 0.95];
const DRAWS: usize = 400;

/// How one truth stands to what was said of it.
struct Count {
    what: String,
    /// Standard deviations by which it is off; of draws: the share below it.
    at: f64,
    /// Whether the 90 % and the 95 % interval hold it.
    held: [bool; 2],
}

struct Answer {
    /// Whether the fit of the cups and the calibration can be stood behind.
    stand: [bool; 2],
    counts: Vec<Count>,
}

struct Fits {
    cups: FreeRiseFit,
    castings: Calibration,
}

fn fits(shop: &DrawnShop) -> Result<Fits, String> {
    let grade = Grade { name: "drawn".into(), note: String::new(), constants: centers() };
    let options = FitOptions { starts: 2, ..FitOptions::default() };
    let cups = fit_free_rise(&shop.logs, &grade, &options).map_err(|e| format!("cups: {e}"))?;
    let known = GradeKnowledge::from_cup_tests(&cups);
    let castings = calibrate(&known, &shop.mold, &shop.trials, &options).map_err(|e| format!("castings: {e}"))?;
    Ok(Fits { cups, castings })
}

fn linear(number: u64) -> Result<Answer, String> {
    let shop = DrawnShop::draw(number).map_err(|why| format!("{why:?}"))?;
    let fits = fits(&shop)?;
    let mut counts = Vec::new();
    for (of, estimates) in [("cup", &fits.cups.estimates), ("mold", &fits.castings.estimates)] {
        counts.extend(estimates.iter().map(|e| {
            let (at, truth) = (e.prior.sds(e.value), shop.truth(e.parameter, e.record.as_deref()));
            let off = (e.prior.sds(truth) - at) / (e.standard_error / e.prior.derivative(at).abs());
            let held = TWO_SIDED.map(|reach| off.abs() <= reach);
            Count { what: title(of, e.parameter, e.record.is_some()), at: off, held }
        }));
    }
    counts.extend(predictions(&shop, &fits.castings, number).map_err(|e| format!("prediction: {e}"))?);
    Ok(Answer { stand: [fits.cups.converged, fits.castings.converged], counts })
}

fn title(of: &str, parameter: Parameter, is_own: bool) -> String {
    format!("{of} {}{}", parameter.label().name, if is_own { " of a record" } else { "" })
}

fn predictions(shop: &DrawnShop, castings: &Calibration, seed: u64) -> risefit::Result<Vec<Count>> {
    let predicted = castings.predict(&shop.next)?;
    let outcomes = castings.draws(DRAWS, seed)?.casting(&shop.next)?;
    let mut counts = ranks("draws", shop, &outcomes);
    for (of, linear) in linear_predictions(&predicted) {
        if let (Some(linear), Some(truth)) = (linear, of.of_result(&shop.came)) {
            let off = (truth - linear.value) / linear.doubt.hypot(linear.scatter);
            let held = LEVELS.map(|level| holds(linear.interval(level), truth));
            counts.push(Count { what: format!("linear {of:?}"), at: off, held });
        }
    }
    Ok(counts)
}

fn holds((low, high): (f64, f64), truth: f64) -> bool {
    low <= truth && truth <= high
}

/// The clamp force is the peak once more.
fn linear_predictions(p: &Prediction) -> impl Iterator<Item = (Outcome, Option<Predicted>)> {
    p.all().filter(|(of, _)| *of != Outcome::ClampNeeded).map(|(of, predicted)| (of, predicted.copied()))
}

/// Share of draws below each truth, ties halved; what never happened is later than any.
fn ranks(of: &str, shop: &DrawnShop, outcomes: &Outcomes) -> Vec<Count> {
    let one = |predictand: Outcome| {
        let truth = predictand.of_result(&shop.came).unwrap_or(f64::INFINITY);
        let values: Vec<f64> = outcomes.cast().map(|r| predictand.of_result(r).unwrap_or(f64::INFINITY)).collect();
        let share = |is: &dyn Fn(f64) -> bool| values.iter().filter(|v| is(**v)).count() as f64 / values.len() as f64;
        let below = share(&|v| v < truth) + 0.5 * share(&|v| v == truth);
        let held = LEVELS.map(|level| (below - 0.5).abs() <= 0.5 * level);
        Count { what: format!("{of} {predictand:?}"), at: below, held }
    };
    Outcome::drawn().filter(|p| *p != Outcome::Margin).map(one).collect()
}

/// The same counts from posteriors.
fn posterior(number: u64) -> Result<Answer, String> {
    let shop = DrawnShop::draw(number).map_err(|why| format!("{why:?}"))?;
    let Fits { cups, castings } = fits(&shop)?;
    let how = PosteriorOptions {
        chains: 2,
        draws: 300,
        warmup: 200,
        seed: number,
        threads: Some(1),
        ..PosteriorOptions::default()
    };
    let of_cups = cups.posterior(&how).map_err(|e| format!("posterior of the cups: {e}"))?;
    let of_castings = castings.posterior(&how).map_err(|e| format!("posterior of the castings: {e}"))?;
    let mut counts = Vec::new();
    for (of, found) in [("cup", &of_cups), ("mold", &of_castings)] {
        let known = found.estimates.iter().filter(|e| !is_scatter(e.parameter));
        counts.extend(known.map(|e| {
            let truth = shop.truth(e.parameter, e.record.as_deref());
            let held = [e.interval_90, e.interval_95].map(|interval| holds(interval, truth));
            let at = off(&e.prior, truth, e.median, e.standard_deviation);
            Count { what: title(of, e.parameter, e.record.is_some()), at, held }
        }));
    }
    let draws = castings.draws_of(&of_castings, DRAWS).map_err(|e| e.to_string())?;
    let outcomes = draws.casting(&shop.next).map_err(|e| format!("prediction: {e}"))?;
    counts.extend(ranks("posterior", &shop, &outcomes));
    Ok(Answer { stand: [of_cups.converged, of_castings.converged], counts })
}

fn is_scatter(parameter: Parameter) -> bool {
    matches!(parameter, Parameter::CastingScatter | Parameter::LotScatter)
}

fn off(prior: &Prior, truth: f64, median: f64, sd: f64) -> f64 {
    let at = prior.sds(median);
    (prior.sds(truth) - at) / (sd / prior.derivative(at).abs())
}

/// Asks in these shops, and says why those that gave no answer did not.
fn ask(shops: u64, answer: fn(u64) -> Result<Answer, String>) -> Vec<Answer> {
    let all: Vec<_> = (0..shops).into_par_iter().map(answer).collect();
    let mut reasons = BTreeMap::new();
    all.iter().flat_map(|a| a.as_ref().err()).for_each(|reason| *reasons.entry(reason.clone()).or_insert(0) += 1);
    let answers: Vec<Answer> = all.into_iter().flatten().collect();
    println!("{} of {shops} shops; not the others: {reasons:?}", answers.len());
    answers
}

fn print(answers: &[Answer]) {
    let stand = |k: usize| answers.iter().filter(|a| a.stand[k]).count();
    println!("can be stood behind: {} fits of cups, {} of castings", stand(0), stand(1));
    let mut table: BTreeMap<&str, Vec<&Count>> = BTreeMap::new();
    answers.iter().flat_map(|a| &a.counts).for_each(|count| table.entry(&count.what).or_default().push(count));
    println!("{:40} count  in 90 %  in 95 %  off: median", "");
    for (what, counts) in table {
        let mut at: Vec<f64> = counts.iter().map(|c| c.at).collect();
        at.sort_by(f64::total_cmp);
        let [in_90, in_95] = [0, 1].map(|level| 100.0 * share(counts.iter().copied(), level));
        println!("{what:40} {:5} {in_90:8.1} {in_95:8.1} {:12.2}", counts.len(), at[at.len() / 2]);
    }
}

fn share<'a>(counts: impl Iterator<Item = &'a Count>, level: usize) -> f64 {
    let (mut held, mut all) = (0.0, 0.0);
    counts.for_each(|c| {
        held += f64::from(c.held[level]);
        all += 1.0;
    });
    held / all
}

fn shops(otherwise: u64) -> u64 {
    std::env::var("SHOPS").ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

#[test]
#[ignore = "takes minutes: make coverage-priors"]
fn linear_intervals_of_many_shops() {
    print(&ask(shops(650), linear));
}

#[test]
#[ignore = "takes an hour: make coverage-priors"]
fn posteriors_of_many_shops() {
    print(&ask(shops(150), posterior));
}
