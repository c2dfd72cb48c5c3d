//! Looking one casting ahead: how likely the casting after is good, aimed anew with what is known by then.
//!
//! For every draw taken as the truth in turn, its readings move what all draws say of the limits, by the linear law of `gain`;
//! then the setting that is likeliest good is looked for among some. The draws that choose it do not judge it.

use rayon::prelude::*;

use super::chances::Candidate;
use super::drills::Drill;
use super::gain::{Readable, Taught};
use super::goal::Goal;
use super::recommend::Recommendation;
use crate::error::Result;
use crate::fit::{Draws, Outcomes};
use crate::model::Casting;

/// Charges to either side of the best that the casting after may be aimed at, apart by this share of the tolerance; and vents.
const CHARGES: i32 = 4;
const APART: f64 = 0.6;
const VENTS: [i64; 5] = [-3, -1, 0, 1, 3];
/// Margins of `Goal::margins`.
const LIMITS: usize = 6;
/// Every how many draws one is taken as the truth; odd, so that both halves have some.
const TRUTHS: usize = 5;

/// The settings that the casting after may be aimed at, with what every draw says of them.
pub(super) struct Ahead {
    aims: Vec<Aim>,
}

/// A setting, and how far inside each limit it is by every draw; shape (6, n).
pub(super) struct Aim {
    pub setting: Candidate,
    margins: Vec<Vec<f64>>,
}

/// What a trial brings.
pub(super) struct Gain {
    /// Chance that the casting after is good.
    pub next_good: f64,
    /// Chance that the trial is good, or else the casting after.
    pub within_two: f64,
}

impl Ahead {
    pub fn new(draws: &Draws, recommended: &Recommendation) -> Result<Ahead> {
        let question = &recommended.question;
        let mut all: Vec<(f64, Option<Drill>)> =
            vec![(recommended.best.casting.charge, recommended.best.drill.clone())];
        for drill in vents_around(draws, recommended) {
            for i in -CHARGES..=CHARGES {
                let share = 1.0 + APART * question.goal.tolerance * f64::from(i);
                let (low, high) = question.charges.unwrap_or((0.0, f64::INFINITY));
                let charge = question.weighed(share * recommended.best.casting.charge).clamp(low, high);
                if !all.contains(&(charge, drill.clone())) {
                    all.push((charge, drill.clone()));
                }
            }
        }
        let aim = |(charge, drill): &(f64, Option<Drill>)| Aim::new(draws, recommended, *charge, drill.as_ref());
        let aims: Vec<Result<Option<Aim>>> = all.par_iter().map(aim).collect();
        let aims = aims.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten().collect();
        Ok(Ahead { aims })
    }

    /// The settings, the recommended one first.
    pub fn settings(&self) -> impl Iterator<Item = &Candidate> {
        self.aims.iter().map(|aim| &aim.setting)
    }

    /// What these readings of a trial bring; `trial`: how far inside each limit the trial itself is, for every draw; shape (6, n).
    pub fn gain(&self, readings: &[Readable], trial: Option<&[Vec<f64>]>) -> Gain {
        let taught = Taught::by(readings);
        let split = |margins: &[Vec<f64>]| -> Split { margins.iter().map(|m| taught.split(m)).collect() };
        let aims: Vec<Split> = self.aims.iter().map(|aim| split(&aim.margins)).collect();
        let trial = trial.map(split);
        let n = self.aims.first().map_or(0, |aim| aim.margins[0].len());
        let (mut count, mut next, mut within) = (0.0, 0.0, 0.0);
        for truth in (0..n).step_by(TRUTHS) {
            let chance = aimed(&aims, truth, &vec![true; n]);
            count += 1.0;
            next += chance;
            within += match &trial {
                None => chance,
                Some(trial) if is_good(trial, truth, truth) => 1.0,
                // A doubt that spoils the trial spoils the next as well: only draws that spoil it, too, tell of the next.
                Some(trial) => aimed(&aims, truth, &(0..n).map(|i| !is_good(trial, truth, i)).collect::<Vec<_>>()),
            };
        }
        Gain { next_good: next / f64::max(count, 1.0), within_two: within / f64::max(count, 1.0) }
    }
}

/// How far inside each limit a casting is by every draw; shape (6, n).
pub(super) fn margins(goal: &Goal, outcomes: &Outcomes) -> Vec<Vec<f64>> {
    // What cannot be cast is not good.
    let by_draw: Vec<[f64; LIMITS]> =
        outcomes.draws.iter().map(|draw| draw.as_ref().map_or([-1.0; LIMITS], |result| goal.margins(result))).collect();
    (0..LIMITS).map(|k| by_draw.iter().map(|m| m[k]).collect()).collect()
}

impl Aim {
    fn new(draws: &Draws, recommended: &Recommendation, charge: f64, drill: Option<&Drill>) -> Result<Option<Aim>> {
        let question = &recommended.question;
        let casting: Casting = question.casting(charge, drill);
        let outcomes: Outcomes = match draws.casting(&casting) {
            Ok(outcomes) => outcomes,
            Err(error) if error.is_recoverable() => return Ok(None),
            Err(error) => return Err(error),
        };
        Ok(Some(Aim {
            margins: margins(&question.goal, &outcomes),
            setting: question.judged_by(casting, drill, &outcomes),
        }))
    }
}

/// Margins, each as what the readings of a draw say of it and what they leave to draws.
type Split = Vec<(Vec<f64>, Vec<f64>)>;

/// Whether draw `i` is within all limits once the readings of draw `truth` are known.
fn is_good(margins: &Split, truth: usize, i: usize) -> bool {
    margins.iter().all(|(said, left)| left[i] + said[truth] >= 0.0)
}

/// With the readings of one draw known, the chance of the best setting by these draws: chosen by every other of them, judged by
/// the rest, and the other way around.
fn aimed(aims: &[Split], truth: usize, among: &[bool]) -> f64 {
    let by_half = |holds: &dyn Fn(usize) -> bool| -> [usize; 2] {
        let mut counts = [0; 2];
        (0..among.len()).filter(|i| among[*i]).for_each(|i| counts[i % 2] += usize::from(holds(i)));
        counts
    };
    let halves = by_half(&|_| true);
    let counts: Vec<[usize; 2]> = aims.iter().map(|aim| by_half(&|i| is_good(aim, truth, i))).collect();
    let judged = |by: usize| {
        let best = counts.iter().fold(counts[0], |a, c| if c[by] > a[by] { *c } else { a });
        best[1 - by] as f64 / halves[1 - by].max(1) as f64
    };
    0.5 * (judged(0) + judged(1))
}

/// The vents around the recommended one, by size.
fn vents_around(draws: &Draws, recommended: &Recommendation) -> Vec<Option<Drill>> {
    let all = recommended.question.vents(draws);
    let at = all.iter().position(|vent| *vent == recommended.best.drill).unwrap_or_default() as i64;
    VENTS.iter().filter_map(|step| all.get(usize::try_from(at + step).ok()?).cloned()).collect()
}
