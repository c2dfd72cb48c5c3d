//! The charge and vent most likely to meet all limits: a coarse look at some vents with few draws, then closer ones.

use std::borrow::Borrow;

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::chances::Candidate;
use super::drills::Drill;
use super::goal::Limit;
use super::question::Question;
use crate::error::{Error, Result};
use crate::fit::Draws;

/// Draws of the coarse look and of the closer ones; the last look takes all.
const FEW: usize = 40;
const SOME: usize = 100;
/// Vents of the coarse look, spread over all sizes.
const SPREAD: usize = 8;
/// Charges of the coarse look are apart by this share, or by the tolerance if that is less.
const COARSE: f64 = 0.03;
/// Vents whose neighbors are looked at, with this many coarse charges to either side.
const PROMISING: usize = 2;
const AROUND: i32 = 2;
/// Vents that get the closer look, and charges of it: apart by this share of the tolerance, this many to either side.
const CLOSER: usize = 3;
const FINE: f64 = 0.25;
const FINE_REACH: i32 = 5;
/// Charges of each of these vents in the last look.
const LAST: usize = 3;
/// Below this chance, the limit to give up is named.
const POOR: f64 = 0.5;

/// The setting to run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Recommendation {
    /// What was asked.
    pub question: Question,
    /// The best setting.
    pub best: Candidate,
    /// The best one with other vents.
    pub runner_up: Option<Candidate>,
    /// Whether the best setting leaves the vents as they are.
    pub vents_stay: bool,
    /// What keeps the best setting from being better.
    pub binding: Option<Binding>,
    /// Where no setting is likely good: the limit to give up first, and the setting that is best then.
    pub give_up: Option<(Binding, Candidate)>,
    /// How many draws of what is in doubt stand behind the chances.
    pub draws: usize,
    /// What keeps the chances from being believed, in words: whoever made the draws knows, and puts it here.
    pub warnings: Vec<String>,
}

/// A limit, and the chance of a good part without it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Binding {
    /// The limit.
    pub limit: Limit,
    /// Chance of a good part if it were given up.
    pub without: f64,
}

/// Finds the charge and vent with the best chance of a good part. Vents stay as they are unless larger ones raise the chance by
/// more than 10 %, or smaller ones by more than 2 %: a hole is not undrilled. Of settings that are as good within the scatter of
/// the draws, the one that leaves the vents alone, then the one farther inside the limits. The same draws and question give the same
/// answer, on any number of threads.
///
/// # Errors
/// [`Error::Argument`] for a goal no part can meet, or settings no casting can have; those of the draws' castings;
/// [`Error::Canceled`] when stopped on request.
pub fn recommend(draws: &Draws, question: &Question) -> Result<Recommendation> {
    question.check()?;
    let search = Search { draws, question, vents: question.vents(draws) };
    let mut seen = judged_all(&draws.first(FEW), question, &search.coarse_grid())?;
    seen.extend(judged_all(&draws.first(SOME), question, &search.between_grid(&ranked(&seen)?))?);
    let close = judged_all(&draws.first(SOME), question, &search.close_grid(&ranked(&seen)?))?;
    let last = judged_all(draws, question, &search.last_grid(&ranked(&close)?))?;
    let best = search.chosen(&ranked(&last)?);
    let others: Vec<Candidate> = last.iter().filter(|s| !s.has_vents_of(&best)).cloned().collect();
    Ok(Recommendation {
        question: question.clone(),
        runner_up: (!others.is_empty()).then(|| search.chosen(&others)),
        vents_stay: question.stay(draws, best.drill.as_ref()),
        binding: best.chances.binding().map(|(limit, without)| Binding { limit, without }),
        give_up: if best.chances.good < POOR { search.give_up(&seen)? } else { None },
        draws: draws.count(),
        warnings: Vec::new(),
        best,
    })
}

/// A charge, kg, and the drill of the vents; `None`: the vents as they are.
type Point = (f64, Option<Drill>);

/// What is looked for, and among which vents.
struct Search<'a> {
    draws: &'a Draws,
    question: &'a Question,
    vents: Vec<Option<Drill>>,
}

impl Search<'_> {
    /// Some vents with charges over the whole range.
    fn coarse_grid(&self) -> Vec<Point> {
        let (low, high) = self.question.range(self.draws);
        let ratio = 1.0 + self.step();
        let steps = ((high / low).ln() / ratio.ln()).ceil().max(0.0) as i32;
        let charges: Vec<f64> = (0..=steps).map(|i| (low * ratio.powi(i)).min(high)).collect();
        let some = self.spread_vents().into_iter();
        some.flat_map(|vent| charges.iter().map(move |c| (*c, vent.clone()))).collect()
    }

    fn step(&self) -> f64 {
        COARSE.min(self.question.goal.tolerance)
    }

    fn spread_vents(&self) -> Vec<Option<Drill>> {
        let n = self.vents.len();
        if n <= SPREAD {
            return self.vents.clone();
        }
        (0..SPREAD).map(|i| self.vents[i * (n - 1) / (SPREAD - 1)].clone()).collect()
    }

    /// The vents next to the most promising ones that were not looked at, and the vents as they are.
    fn between_grid(&self, seen: &[&Candidate]) -> Vec<Point> {
        let is_seen = |vent: &Option<Drill>| seen.iter().any(|s| s.drill == *vent);
        let mut all = Vec::new();
        for center in best_of_vents(seen, 1).into_iter().take(PROMISING) {
            for vent in self.gap_around(&center.drill, is_seen) {
                self.push_around(&mut all, center, &vent, (self.step(), AROUND));
            }
        }
        let own = self.vents.iter().filter(|vent| self.question.stay(self.draws, vent.as_ref()) && !is_seen(vent));
        own.for_each(|vent| self.push_around(&mut all, seen[0], vent, (self.step(), 2 * AROUND)));
        all
    }

    /// The vents on either side of one, as far as they were not looked at.
    fn gap_around(&self, center: &Option<Drill>, is_seen: impl Fn(&Option<Drill>) -> bool) -> Vec<Option<Drill>> {
        let place = self.vents.iter().position(|vent| vent == center).unwrap_or_default();
        let below = self.vents[..place].iter().rev().take_while(|vent| !is_seen(vent));
        let above = self.vents[place + 1..].iter().take_while(|vent| !is_seen(vent));
        below.chain(above).cloned().collect()
    }

    /// The best vents and those as they are, with charges around the best of each.
    fn close_grid(&self, seen: &[&Candidate]) -> Vec<Point> {
        let mut all = Vec::new();
        for center in self.with_own(best_of_vents(seen, 1)) {
            self.push_around(&mut all, center, &center.drill, (FINE * self.question.goal.tolerance, FINE_REACH));
        }
        all
    }

    /// The best charges of these vents.
    fn last_grid(&self, close: &[&Candidate]) -> Vec<Point> {
        let vents = self.with_own(best_of_vents(close, 1));
        let best = best_of_vents(close, LAST).into_iter().filter(|s| vents.iter().any(|v| v.drill == s.drill));
        best.map(|s| (s.casting.charge, s.drill.clone())).collect()
    }

    /// The first few, and the vents as they are wherever they stand.
    fn with_own<'s>(&self, ranked: Vec<&'s Candidate>) -> Vec<&'s Candidate> {
        let stay = |s: &Candidate| self.question.stay(self.draws, s.drill.as_ref());
        ranked.into_iter().enumerate().filter(|(i, s)| *i < CLOSER || stay(s)).map(|(_, s)| s).collect()
    }

    fn push_around(&self, all: &mut Vec<Point>, center: &Candidate, vent: &Option<Drill>, (step, reach): (f64, i32)) {
        let (low, high) = self.question.charges.unwrap_or((0.0, f64::INFINITY));
        for i in -reach..=reach {
            let charge = self.question.weighed(center.casting.charge * (1.0 + step * f64::from(i)));
            let candidate = (charge.clamp(low, high), vent.clone());
            if !all.contains(&candidate) {
                all.push(candidate);
            }
        }
    }

    /// The one to run, of settings judged with all draws: likeliest good, less the work that its vents are.
    fn chosen<S: Borrow<Candidate>>(&self, judged: &[S]) -> Candidate {
        let worth = |s: &Candidate| s.chances.good - self.question.work(self.draws, s.drill.as_ref());
        let better = |a: &'_ Candidate, s: &Candidate| worth(s) > worth(a);
        let top = judged.iter().map(S::borrow).fold(judged[0].borrow(), |a, s| if better(a, s) { s } else { a });
        let least = worth(top) - top.chances.standard_error();
        let near: Vec<&Candidate> = judged.iter().map(S::borrow).filter(|s| worth(s) >= least).collect();
        let stays = |s: &&Candidate| self.question.stay(self.draws, s.drill.as_ref());
        let own: Vec<&Candidate> = near.iter().copied().filter(stays).collect();
        let among = if own.is_empty() { near } else { own };
        among.iter().fold(among[0], |a, s| if s.chances.score > a.chances.score { s } else { a }).clone()
    }

    /// The limit without which some setting is likeliest good, judged with all draws.
    fn give_up(&self, seen: &[Candidate]) -> Result<Option<(Binding, Candidate)>> {
        let mut best: Option<(usize, &Candidate)> = None;
        for setting in seen {
            for place in 0..Limit::ALL.len() {
                let without = setting.chances.without[place];
                if best.is_none_or(|(k, s)| without > s.chances.without[k]) {
                    best = Some((place, setting));
                }
            }
        }
        let Some((place, center)) = best else { return Ok(None) };
        let mut around = Vec::new();
        self.push_around(&mut around, center, &center.drill, (self.step() / 2.0, AROUND));
        let judged = judged_all(self.draws, self.question, &around)?;
        let likeliest =
            judged.into_iter().reduce(|a, s| if s.chances.without[place] > a.chances.without[place] { s } else { a });
        Ok(likeliest.map(|s| (Binding { limit: Limit::ALL[place], without: s.chances.without[place] }, s)))
    }
}

/// The first `count` settings of each vent, of settings that are ranked.
fn best_of_vents<'s>(ranked: &[&'s Candidate], count: usize) -> Vec<&'s Candidate> {
    let mut kept: Vec<&Candidate> = Vec::new();
    for setting in ranked {
        if kept.iter().filter(|k| k.has_vents_of(setting)).count() < count {
            kept.push(setting);
        }
    }
    kept
}

/// The candidates that can be cast, in their order.
pub(super) fn judged_all(draws: &Draws, question: &Question, all: &[Point]) -> Result<Vec<Candidate>> {
    let judged: Vec<Result<Option<Candidate>>> =
        all.par_iter().map(|(charge, drill)| question.judged(draws, *charge, drill.as_ref())).collect();
    Ok(judged.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten().collect())
}

/// The most promising first; settings that are as good keep their order.
fn ranked(settings: &[Candidate]) -> Result<Vec<&Candidate>> {
    let mut all: Vec<&Candidate> = settings.iter().collect();
    all.sort_by(|a, b| b.chances.promise().total_cmp(&a.chances.promise()));
    if all.is_empty() {
        return Err(Error::Casting {
            trial: None,
            what: "not one of the charges and vents can be cast".into(),
            advice: "look at the target density, the charges and the cavity volume".into(),
        });
    }
    Ok(all)
}
