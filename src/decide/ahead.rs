//! Looking one casting ahead: how likely the casting after is good, aimed anew with what is known by then.
//!
//! For every draw taken as the truth in turn, its readings move what all draws say of the limits, by the linear law of `gain`;
//! then the setting that is likeliest good is looked for among some. The draws that choose it do not judge it.

use rayon::prelude::*;

use super::chances::Setting;
use super::drills::Drill;
use super::gain::{Readable, Taught};
use super::recommend::Recommendation;
use crate::error::Result;
use crate::fit::{Draws, Outcomes};
use crate::records::Casting;

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
    pub setting: Setting,
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
    pub fn settings(&self) -> impl Iterator<Item = &Setting> {
        self.aims.iter().map(|aim| &aim.setting)
    }

    /// What these readings of a trial bring; `good`: the draws by which the trial itself is good.
    pub fn gain(&self, readings: &[Readable], good: Option<&[bool]>) -> Gain {
        let taught = Taught::by(readings);
        let aims: Vec<Vec<(Vec<f64>, Vec<f64>)>> =
            self.aims.iter().map(|aim| aim.margins.iter().map(|m| taught.split(m)).collect()).collect();
        let n = self.aims.first().map_or(0, |aim| aim.margins[0].len());
        let chances = (0..n).step_by(TRUTHS).map(|truth| (truth, aimed(&aims, n, truth)));
        let (mut count, mut next, mut within) = (0.0, 0.0, 0.0);
        for (truth, chance) in chances {
            count += 1.0;
            next += chance;
            within += if good.is_some_and(|g| g[truth]) { 1.0 } else { chance };
        }
        Gain { next_good: next / f64::max(count, 1.0), within_two: within / f64::max(count, 1.0) }
    }
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
        // What cannot be cast is not good.
        let by_draw: Vec<[f64; LIMITS]> = outcomes
            .draws
            .iter()
            .map(|draw| draw.as_ref().map_or([-1.0; LIMITS], |result| question.goal.margins(result)))
            .collect();
        let margins = (0..LIMITS).map(|k| by_draw.iter().map(|m| m[k]).collect()).collect();
        Ok(Some(Aim { setting: question.judged_by(casting, drill, &outcomes), margins }))
    }
}

/// With the readings of one draw known, the chance of the best setting: chosen by every other draw, judged by the rest, and the
/// other way around.
fn aimed(aims: &[Vec<(Vec<f64>, Vec<f64>)>], n: usize, truth: usize) -> f64 {
    let counts: Vec<[usize; 2]> = aims.iter().map(|aim| good_by_half(aim, n, truth)).collect();
    let halves = [n.div_ceil(2), n / 2];
    let judged = |by: usize| {
        let best = counts.iter().fold(counts[0], |a, c| if c[by] > a[by] { *c } else { a });
        best[1 - by] as f64 / halves[1 - by].max(1) as f64
    };
    0.5 * (judged(0) + judged(1))
}

/// Draws of each half by which an aim is good, once the readings of draw `truth` are known.
fn good_by_half(aim: &[(Vec<f64>, Vec<f64>)], n: usize, truth: usize) -> [usize; 2] {
    let mut counts = [0; 2];
    for i in 0..n {
        let is_good = aim.iter().all(|(said, left)| left[i] + said[truth] >= 0.0);
        counts[i % 2] += usize::from(is_good);
    }
    counts
}

/// The vents around the recommended one, by size.
fn vents_around(draws: &Draws, recommended: &Recommendation) -> Vec<Option<Drill>> {
    let all = recommended.question.vents(draws);
    let at = all.iter().position(|vent| *vent == recommended.best.drill).unwrap_or_default() as i64;
    VENTS.iter().filter_map(|step| all.get(usize::try_from(at + step).ok()?).cloned()).collect()
}
