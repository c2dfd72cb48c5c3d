//! The charge and vent most likely to meet all limits: a coarse look at every vent with few draws, then a closer one.

use rayon::prelude::*;
use serde::Serialize;

use super::chances::Setting;
use super::drills::Drill;
use super::goal::Limit;
use super::question::Question;
use crate::error::{Error, Result};
use crate::fit::Draws;

/// Draws of the coarse look.
const FEW: usize = 60;
/// Charges of the coarse look are apart by this share, or by the tolerance if that is less.
const COARSE: f64 = 0.03;
/// Vents that get the closer look.
const CLOSER: usize = 4;
/// Charges of the closer look, apart by this share of the tolerance.
const FINE: f64 = 0.25;
const FINE_REACH: i32 = 5;
/// Below this chance, the limit to give up is named.
const POOR: f64 = 0.5;

/// The setting to run.
#[derive(Clone, Debug)]
pub struct Recommendation {
    /// What was asked.
    pub question: Question,
    /// The best setting.
    pub best: Setting,
    /// The best one with other vents.
    pub runner_up: Option<Setting>,
    /// What keeps the best setting from being better.
    pub binding: Option<Binding>,
    /// Where no setting is likely good: the limit to give up first, and the setting that is best then.
    pub give_up: Option<(Binding, Setting)>,
    /// How many draws of what is in doubt stand behind the chances.
    pub draws: usize,
}

/// A limit, and the chance of a good part without it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Binding {
    /// The limit.
    pub limit: Limit,
    /// Chance of a good part if it were given up.
    pub without: f64,
}

/// Finds the charge and vent with the best chance of a good part. The same draws and question give the same answer, on any
/// number of threads.
///
/// # Errors
/// [`Error::Argument`] for a goal no part can meet, or settings no casting can have; those of the draws' castings;
/// [`Error::Fit`] when stopped on request.
pub fn recommend(draws: &Draws, question: &Question) -> Result<Recommendation> {
    question.check()?;
    let coarse = ranked(judged_all(&draws.first(FEW), question, &coarse_grid(draws, question))?)?;
    let close = ranked(judged_all(draws, question, &close_grid(question, &coarse))?)?;
    let best = close[0].clone();
    let runner_up = close.iter().find(|s| !s.has_vents_of(&best)).cloned();
    let binding = best.chances.binding().map(|(limit, without)| Binding { limit, without });
    let give_up = if best.chances.good < POOR { give_up(draws, question, &coarse)? } else { None };
    let question = question.clone();
    Ok(Recommendation { question, best, runner_up, binding, give_up, draws: draws.count() })
}

type Candidate = (f64, Option<Drill>);

/// Every vent with charges over the whole range.
fn coarse_grid(draws: &Draws, question: &Question) -> Vec<Candidate> {
    let (low, high) = question.range(draws);
    let ratio = 1.0 + COARSE.min(question.goal.tolerance);
    let steps = ((high / low).ln() / ratio.ln()).ceil().max(0.0) as i32;
    let charges: Vec<f64> = (0..=steps).map(|i| (low * ratio.powi(i)).min(high)).collect();
    question.vents().into_iter().flat_map(|vent| charges.iter().map(move |c| (*c, vent.clone()))).collect()
}

/// The best vents, with charges around the best of each.
fn close_grid(question: &Question, coarse: &[Setting]) -> Vec<Candidate> {
    let mut centers: Vec<&Setting> = Vec::new();
    for setting in coarse {
        if centers.len() < CLOSER && !centers.iter().any(|c| c.has_vents_of(setting)) {
            centers.push(setting);
        }
    }
    let step = FINE * question.goal.tolerance;
    let mut all: Vec<Candidate> = Vec::new();
    for center in centers {
        for i in -FINE_REACH..=FINE_REACH {
            let charge = question.weighed(center.casting.charge * (1.0 + step * f64::from(i)));
            let (low, high) = question.charges.unwrap_or((0.0, f64::INFINITY));
            let candidate = (charge.clamp(low, high), center.drill.clone());
            if !all.contains(&candidate) {
                all.push(candidate);
            }
        }
    }
    all
}

/// The candidates that can be cast, in their order.
pub(super) fn judged_all(draws: &Draws, question: &Question, all: &[Candidate]) -> Result<Vec<Setting>> {
    let judged: Vec<Result<Option<Setting>>> =
        all.par_iter().map(|(charge, drill)| question.judged(draws, *charge, drill.as_ref())).collect();
    Ok(judged.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten().collect())
}

/// Best first; settings that are as good keep their order.
fn ranked(mut settings: Vec<Setting>) -> Result<Vec<Setting>> {
    settings.sort_by(|a, b| b.chances.score.total_cmp(&a.chances.score));
    if settings.is_empty() {
        return Err(Error::Casting {
            trial: None,
            what: "not one of the charges and vents can be cast".into(),
            advice: "look at the target density, the charges and the cavity volume".into(),
        });
    }
    Ok(settings)
}

/// The limit without which some setting is likeliest good, judged with all draws.
fn give_up(draws: &Draws, question: &Question, coarse: &[Setting]) -> Result<Option<(Binding, Setting)>> {
    let mut best: Option<(Binding, &Setting)> = None;
    for setting in coarse {
        for (limit, without) in Limit::ALL.into_iter().zip(setting.chances.without) {
            if best.as_ref().is_none_or(|(b, _)| without > b.without) {
                best = Some((Binding { limit, without }, setting));
            }
        }
    }
    let Some((Binding { limit, .. }, setting)) = best else { return Ok(None) };
    let charge = question.weighed(setting.casting.charge);
    let place = Limit::ALL.iter().position(|l| *l == limit).unwrap_or_default();
    let judged = question.judged(draws, charge, setting.drill.as_ref())?;
    Ok(judged.map(|s| (Binding { limit, without: s.chances.without[place] }, s)))
}
