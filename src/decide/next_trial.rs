//! The next casting or measurement: the one that makes a good part within two castings likeliest.
//!
//! A casting may be good at once, or teach what makes the next one good. What it teaches is the doubt about density and
//! peak pressure at the target that its readings would leave, by a linear law over the draws.

use rayon::prelude::*;
use serde::Serialize;

use super::chances::Setting;
use super::drills::Drill;
use super::gain::{Readable, left_over, size};
use super::goal::Goal;
use super::recommend::Recommendation;
use crate::error::Result;
use crate::fit::{Draws, Outcomes, Predictand, reading_scatter};
use crate::physics::Verdict;
use crate::physics::casting::Accuracy;
use crate::physics::cup::{CupTest, free_rise};
use crate::records::Casting;

/// Most draws that are used.
const DRAWS: usize = 250;
/// Fewer draws than this that fill the mold say nothing.
const LEAST_DRAWS: usize = 20;
/// A casting with less than this chance to be full, or this share of the best chance to be good, is not worth making.
const LIKELY_FULL: f64 = 0.5;
const WORTH: f64 = 0.3;
/// Charges around the recommended one, and drills up and down, that are looked at.
const CHARGES: [f64; 5] = [0.94, 0.97, 1.0, 1.03, 1.06];
const DRILLS: i64 = 2;
/// Mix temperatures of cup tests, K from that of the castings.
const CUP_TEMPS: [f64; 3] = [-5.0, 0.0, 7.0];
/// Scatter of a cup test's density and stopwatch times, lot and reading together. Common practice, no source.
const CUP_DENSITY_SD: f64 = 0.02;
const CUP_TIME_SD: f64 = 2.5;
/// A cup of 60 g: area and heat transfer. Common practice, no source.
const CUP_MASS: f64 = 60e-3;
const CUP_AREA: f64 = 0.045;
const CUP_HEAT_TRANSFER: f64 = 8.0;

/// A thing to do next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub enum Step {
    /// A casting that is weighed; with a gauge on the mold, or without.
    Casting {
        /// Whether the peak pressure is read as well.
        gauge: bool,
    },
    /// A cup test with this mix temperature, K, in place of a casting.
    CupTest {
        /// Temperature of the mix, K.
        mix_temp: f64,
    },
}

/// A thing to do next, and what it brings.
#[derive(Clone, Debug)]
pub struct Proposal {
    /// What to do.
    pub step: Step,
    /// The setting of a casting.
    pub setting: Option<Setting>,
    /// Chance that it gives a good part.
    pub good: f64,
    /// Chance that the casting after it is good, with what it teaches.
    pub next_good: f64,
    /// Doubt that it leaves about density and peak pressure at the target, as shares of what there is now.
    pub doubt_left: (f64, f64),
}

/// What to do next, best first.
#[derive(Clone, Debug)]
pub struct NextTrial {
    /// Castings, by the chance of a good part within two, then cup tests, by the chance that the next casting is good.
    pub proposals: Vec<Proposal>,
    /// Doubt now about density, kg/m3, and peak pressure, as a share, at the recommended setting (standard deviations).
    pub doubt: (f64, f64),
}

impl Proposal {
    /// Chance of a good part by the casting after it at the latest.
    pub fn within_two(&self) -> f64 {
        self.good + (1.0 - self.good) * self.next_good
    }
}

/// Ranks castings around the recommended one, with and (unless there is one already) without a gauge, and cup tests.
///
/// # Errors
/// Those of the draws' castings.
pub fn next_trial(draws: &Draws, recommended: &Recommendation, has_gauge: bool) -> Result<NextTrial> {
    let draws = &draws.first(DRAWS);
    let target = Target::new(draws, recommended)?;
    let mut castings = Vec::new();
    for setting in worth_making(draws, recommended)? {
        let outcomes = draws.casting(&setting.casting)?;
        for gauge in [true, false] {
            if gauge || !has_gauge {
                let step = Step::Casting { gauge };
                castings.push(target.proposal(step, Some(setting.clone()), &of_casting(&outcomes, gauge, &target)));
            }
        }
    }
    castings.sort_by(|a, b| b.within_two().total_cmp(&a.within_two()));
    let mut cups = Vec::new();
    for shift in CUP_TEMPS {
        let mix_temp = recommended.best.casting.mix_temp + shift;
        let readings = of_cup(draws, &recommended.best.casting, mix_temp, &target)?;
        cups.push(target.proposal(Step::CupTest { mix_temp }, None, &readings));
    }
    cups.sort_by(|a, b| b.next_good.total_cmp(&a.next_good));
    Ok(NextTrial { proposals: castings.into_iter().chain(cups).collect(), doubt: target.doubt() })
}

/// The recommended setting and those around it with a fair chance; the recommended one first.
fn worth_making(draws: &Draws, recommended: &Recommendation) -> Result<Vec<Setting>> {
    let best = &recommended.best;
    let mut all = vec![best.clone()];
    for drill in neighbors(recommended) {
        for share in CHARGES {
            let charge = recommended.question.weighed(share * best.casting.charge);
            let setting = recommended.question.judged(draws, charge, drill.as_ref())?;
            all.extend(setting.filter(|s| s.casting != best.casting && is_worth(s, best)));
        }
    }
    Ok(all)
}

fn is_worth(setting: &Setting, best: &Setting) -> bool {
    1.0 - setting.chances.misses[0] >= LIKELY_FULL && setting.chances.score >= WORTH * best.chances.score
}

/// The drill of the recommended setting and its neighbors by size.
fn neighbors(recommended: &Recommendation) -> Vec<Option<Drill>> {
    let mut all = recommended.question.vents();
    let size = |vent: &Option<Drill>| vent.as_ref().map_or(0.0, |d| d.diameter);
    all.sort_by(|a, b| size(a).total_cmp(&size(b)));
    let at = all.iter().position(|v| *v == recommended.best.drill).unwrap_or_default() as i64;
    let near = |(i, _): &(usize, Option<Drill>)| (*i as i64 - at).abs() <= DRILLS;
    all.into_iter().enumerate().filter(near).map(|(_, vent)| vent).collect()
}

/// Density and peak pressure at the recommended setting, over the draws that fill the mold.
struct Target {
    goal: Goal,
    /// Which draws.
    kept: Vec<usize>,
    /// Doubt alone: density, kg/m3, and logarithm of the peak pressure.
    doubt: [Vec<f64>; 2],
    /// What scatter adds.
    scatter: [Vec<f64>; 2],
}

impl Target {
    fn new(draws: &Draws, recommended: &Recommendation) -> Result<Target> {
        let casting = &recommended.best.casting;
        let (both, alone) = (draws.casting(casting)?, draws.casting_without_scatter(casting)?);
        let filled = |outcomes: &Outcomes, i: usize| {
            let full = |v: Verdict| matches!(v, Verdict::Full | Verdict::Flash);
            outcomes.draws[i].as_ref().is_ok_and(|r| full(r.verdict) && r.peak_pressure > 0.0)
        };
        let kept: Vec<usize> = (0..draws.count()).filter(|i| filled(&both, *i) && filled(&alone, *i)).collect();
        let of = |outcomes: &Outcomes| {
            let (density, peak) = (outcomes.values(Predictand::Density), outcomes.values(Predictand::PeakPressure));
            [kept.iter().map(|i| density[*i]).collect(), kept.iter().map(|i| peak[*i].ln()).collect::<Vec<f64>>()]
        };
        let (with, doubt) = (of(&both), of(&alone));
        let less = |k: usize| with[k].iter().zip(&doubt[k]).map(|(a, b): (&f64, &f64)| a - b).collect::<Vec<f64>>();
        let scatter = [less(0), less(1)];
        Ok(Target { goal: recommended.question.goal, kept, doubt, scatter })
    }

    fn doubt(&self) -> (f64, f64) {
        let now = left_over(&self.doubt, &[]);
        (size(&now[0]), size(&now[1]))
    }

    fn proposal(&self, step: Step, setting: Option<Setting>, readings: &[Readable]) -> Proposal {
        let good = setting.as_ref().map_or(0.0, |s| s.chances.good);
        if self.kept.len() < LEAST_DRAWS {
            return Proposal { step, setting, good, next_good: 0.0, doubt_left: (1.0, 1.0) };
        }
        let (left, now) = (left_over(&self.doubt, readings), self.doubt());
        let doubt_left = (share(size(&left[0]), now.0), share(size(&left[1]), now.1));
        Proposal { step, setting, good, next_good: self.next_good(&left), doubt_left }
    }

    /// Chance of the casting after: aimed at the middle of tolerance and window, off by the doubt left and by scatter.
    fn next_good(&self, left: &[Vec<f64>]) -> f64 {
        let reach = self.goal.tolerance * self.goal.density;
        let half = self.goal.peak_pressure.map_or(f64::INFINITY, |(low, high)| 0.5 * (high / low).ln());
        let is_good = |i: &usize| {
            let off = [0, 1].map(|k| (left[k][*i] + self.scatter[k][*i]).abs());
            off[0] <= reach && off[1] <= half
        };
        (0..self.kept.len()).filter(is_good).count() as f64 / self.kept.len() as f64
    }
}

fn share(left: f64, now: f64) -> f64 {
    if now > 0.0 { left / now } else { 1.0 }
}

/// What a shop weighs and reads of a casting.
fn of_casting(outcomes: &Outcomes, gauge: bool, target: &Target) -> Vec<Readable> {
    let mut all = vec![Predictand::PartMass, Predictand::VentLoss];
    all.extend(gauge.then_some(Predictand::PeakPressure));
    let readable = |of: Predictand| {
        let values = outcomes.values(of);
        let kept: Vec<f64> = target.kept.iter().map(|i| values[*i]).collect();
        let finite: Vec<f64> = kept.iter().copied().filter(|x| x.is_finite()).collect();
        let mean = finite.iter().sum::<f64>() / finite.len().max(1) as f64;
        let values = kept.into_iter().map(|x| if x.is_finite() { x } else { mean }).collect();
        Readable { values, sd: reading_scatter(of, mean) }
    };
    all.into_iter().map(readable).collect()
}

/// Density and stopwatch times of a cup test.
fn of_cup(draws: &Draws, casting: &Casting, mix_temp: f64, target: &Target) -> Result<Vec<Readable>> {
    let test = CupTest {
        mass: CUP_MASS,
        mix_temp,
        ambient_temp: mix_temp,
        ambient_pressure: casting.ambient_pressure,
        heat_area: CUP_AREA,
        heat_transfer: CUP_HEAT_TRANSFER,
        sensor_lag: 0.0,
    };
    let read = |i: &usize| {
        let foam = draws.setup(*i, casting, false).map(|(foam, ..)| foam).unwrap_or_default();
        let rise = free_rise(&foam, &test, &[], Accuracy { relative: 1e-5 })?;
        let time = |t: Option<f64>| t.unwrap_or(0.0);
        Ok([rise.density.ln(), time(rise.cream_time), time(rise.gel_time), time(rise.end_of_rise)])
    };
    let rises = target.kept.par_iter().map(read).collect::<Vec<Result<[f64; 4]>>>();
    let rises = rises.into_iter().collect::<Result<Vec<[f64; 4]>>>()?;
    let sds = [CUP_DENSITY_SD, CUP_TIME_SD, CUP_TIME_SD, CUP_TIME_SD];
    Ok((0..4).map(|k| Readable { values: rises.iter().map(|r| r[k]).collect(), sd: sds[k] }).collect())
}
