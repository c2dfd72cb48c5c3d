//! The next casting or measurement: the one after which the fewest castings are expected until a part is good.
//!
//! A casting may be good at once, or teach what makes the next one good (`ahead`).

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::ahead::{Ahead, Gain, margins};
use super::chances::Candidate;
use super::gain::{Readable, Taught, centered};
use super::recommend::Recommendation;
use crate::error::Result;
use crate::fit::{Draws, Outcomes, reading_scatter};
use crate::model::Parameter;
use crate::model::{Casting, CastingResult, Outcome, Verdict};
use crate::physics::casting::Accuracy;
use crate::physics::cup::{CupTest, free_rise};

/// Most draws that are used.
const DRAWS: usize = 200;
/// A casting with less than this chance to be full, or this share of the best chance to be good, is not worth making.
const LIKELY_FULL: f64 = 0.5;
const WORTH: f64 = 0.3;
/// Most castings that are looked at, those likeliest good.
const CASTINGS: usize = 12;
/// Another casting than the recommended one has to save this many castings.
const SAVING: f64 = 0.02;
/// Fitting a gauge is work: as much as this many castings. Common practice, no source.
const GAUGE_WORK: f64 = 0.03;
/// Scatter of what the eye sees of a part, full (1) or short (-1).
const EYE_SD: f64 = 0.2;
/// Mix temperatures of cup tests, K from that of the castings.
const CUP_TEMPS: [f64; 3] = [-5.0, 0.0, 7.0];
/// Scatter of a cup test's density and stopwatch times, lot and reading together. Common practice, no source.
const CUP_DENSITY_SD: f64 = 0.02;
const CUP_TIME_SD: f64 = 2.5;
/// A cup of 60 g: area and heat transfer. Common practice, no source.
const CUP_MASS: f64 = 60e-3;
const CUP_AREA: f64 = 0.045;
const CUP_HEAT_TRANSFER: f64 = 8.0;
/// Share of the mean loss of heat that a cup's core feels.
const CUP_CORE_COOLING: f64 = 0.1;
/// Scatter of a cavity's volume from the mass of water that fills it, as a share. Common practice, no source.
const WATER_SD: f64 = 0.005;
/// A chance below this counts as this, in castings expected.
const LEAST: f64 = 0.05;

/// A thing to do next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Step {
    /// A casting that is weighed; with a gauge on the mold, or without.
    Casting {
        /// Whether the peak pressure is read as well.
        gauge: bool,
    },
    /// A cup test with this mix temperature, K, before the casting.
    CupTest {
        /// Temperature of the mix, K.
        mix_temp: f64,
    },
    /// The water that fills the cavity is weighed before the casting.
    WaterFill,
}

/// A thing to do next, and what it brings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// What to do.
    pub step: Step,
    /// The setting of a casting.
    pub setting: Option<Candidate>,
    /// Chance that it gives a good part; 0 for what is no casting.
    pub good: f64,
    /// Chance that the casting after it is good, aimed anew with what it teaches.
    pub next_good: f64,
    /// Chance of a good part by the casting after it at the latest.
    pub within_two: f64,
    /// Doubt that it leaves about density and peak pressure at the target, as shares of what there is now.
    pub doubt_left: (f64, f64),
}

/// What to do next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NextTrial {
    /// Castings, by how many more are expected until a part is good; then measurements that cost no casting, by the chance that
    /// the next casting is good.
    pub proposals: Vec<Proposal>,
    /// Doubt now about density, kg/m3, and peak pressure, as a share, at the recommended setting (standard deviations).
    pub doubt: (f64, f64),
}

impl Proposal {
    /// Castings expected until a part is good, this one included, if every later one is as likely good as the next.
    pub fn castings_expected(&self) -> f64 {
        let later = (1.0 - self.within_two) / self.next_good.max(LEAST);
        if self.setting.is_none() { 1.0 / self.next_good.max(LEAST) } else { 1.0 + (1.0 - self.good) + later }
    }
}

/// Ranks castings around the recommended one, with and (unless there is one already) without a gauge; and cup tests and a water
/// fill, which cost no casting. The same draws and recommendation give the same answer on any number of threads.
///
/// # Errors
/// Those of the draws' castings.
pub fn next_trial(draws: &Draws, recommended: &Recommendation, has_gauge: bool) -> Result<NextTrial> {
    let draws = &draws.first(DRAWS);
    let ahead = Ahead::new(draws, recommended)?;
    let target = Target::new(draws, &recommended.best.casting)?;
    let view = View { draws, recommended, ahead, target };
    let gauges: &[bool] = if has_gauge { &[true] } else { &[false, true] };
    let trials: Vec<(&Candidate, bool)> =
        view.worth_making().into_iter().flat_map(|s| gauges.iter().map(move |gauge| (s, *gauge))).collect();
    let of_trial = |(setting, gauge): &(&Candidate, bool)| view.casting(setting, *gauge);
    let castings: Vec<Result<Proposal>> = trials.par_iter().map(of_trial).collect();
    let mut castings = castings.into_iter().collect::<Result<Vec<_>>>()?;
    castings.sort_by(|a, b| view.cost(a, has_gauge).total_cmp(&view.cost(b, has_gauge)));
    let mut measured = view.measurements()?;
    measured.sort_by(|a, b| b.next_good.total_cmp(&a.next_good));
    Ok(NextTrial { proposals: castings.into_iter().chain(measured).collect(), doubt: view.target.doubt() })
}

/// What proposals are made from.
struct View<'a> {
    draws: &'a Draws,
    recommended: &'a Recommendation,
    ahead: Ahead,
    target: Target,
}

impl View<'_> {
    /// The recommended setting, and those around it with a fair chance.
    fn worth_making(&self) -> Vec<&Candidate> {
        let best = &self.recommended.best;
        let fair = |s: &&Candidate| {
            s.casting == best.casting
                || (1.0 - s.chances.misses[0] >= LIKELY_FULL && s.chances.good >= WORTH * best.chances.good)
        };
        let mut all: Vec<&Candidate> = self.ahead.settings().filter(fair).collect();
        let promise = |s: &Candidate| if s.casting == best.casting { f64::INFINITY } else { s.chances.promise() };
        all.sort_by(|a, b| promise(b).total_cmp(&promise(a)));
        all.truncate(CASTINGS);
        all
    }

    fn casting(&self, setting: &Candidate, gauge: bool) -> Result<Proposal> {
        // Another casting than the one after it: the doubts are shared, the scatter is not.
        let outcomes = self.draws.with_other_scatter(1).casting(&setting.casting)?;
        let margins = margins(&self.recommended.question.goal, &outcomes);
        let readings = of_casting(&outcomes, gauge);
        let gain = self.ahead.gain(&readings, Some(&margins));
        Ok(self.proposal(Step::Casting { gauge }, Some(setting.clone()), &readings, gain))
    }

    fn proposal(&self, step: Step, setting: Option<Candidate>, readings: &[Readable], gain: Gain) -> Proposal {
        let is_best = setting.as_ref().is_some_and(|s| s.casting == self.recommended.best.casting);
        // Of the recommended setting all draws are known, not only those used here.
        let setting = if is_best { Some(self.recommended.best.clone()) } else { setting };
        let good = setting.as_ref().map_or(0.0, |s| s.chances.good);
        let Gain { next_good, within_two } = gain;
        Proposal { step, setting, good, next_good, within_two, doubt_left: self.target.left(readings) }
    }

    /// Castings expected, and work, as much as so many castings: what proposals are sorted by.
    fn cost(&self, proposal: &Proposal, has_gauge: bool) -> f64 {
        let gauge = proposal.step == Step::Casting { gauge: true } && !has_gauge;
        let other = proposal.setting.as_ref().is_some_and(|s| s.casting != self.recommended.best.casting);
        let drill = proposal.setting.as_ref().and_then(|s| s.drill.as_ref());
        let vents = self.recommended.question.work(self.draws, drill);
        proposal.castings_expected() + vents + if gauge { GAUGE_WORK } else { 0.0 } + if other { SAVING } else { 0.0 }
    }

    /// What can be measured without a casting.
    fn measurements(&self) -> Result<Vec<Proposal>> {
        let mut all: Vec<(Step, Vec<Readable>)> = Vec::new();
        for shift in CUP_TEMPS {
            let mix_temp = self.recommended.best.casting.mix_temp + shift;
            all.push((Step::CupTest { mix_temp }, of_cup(self.draws, &self.recommended.best.casting, mix_temp)?));
        }
        all.extend(of_water(self.draws).map(|readings| (Step::WaterFill, readings)));
        let propose = |(step, readings): &(Step, Vec<Readable>)| {
            self.proposal(*step, None, readings, self.ahead.gain(readings, None))
        };
        Ok(all.par_iter().map(propose).collect())
    }
}

/// Density, kg/m3, and peak pressure, Pa, at the recommended setting, without scatter, draw by draw.
struct Target {
    density: Vec<f64>,
    pressure: Vec<f64>,
}

impl Target {
    fn new(draws: &Draws, casting: &Casting) -> Result<Target> {
        let outcomes = draws.casting_without_scatter(casting)?;
        let of = |of: Outcome| without_gaps(outcomes.values(of));
        Ok(Target { density: of(Outcome::Density), pressure: of(Outcome::PeakPressure) })
    }

    fn doubt(&self) -> (f64, f64) {
        let now = Taught::by(&[]);
        let mean = self.pressure.iter().sum::<f64>() / self.pressure.len() as f64;
        (now.doubt_left(&self.density), now.doubt_left(&self.pressure) / mean.max(1.0))
    }

    fn left(&self, readings: &[Readable]) -> (f64, f64) {
        let (taught, now) = (Taught::by(readings), Taught::by(&[]));
        let share = |of: &[f64]| {
            let before = now.doubt_left(of);
            if before > 0.0 { taught.doubt_left(of) / before } else { 1.0 }
        };
        (share(&self.density), share(&self.pressure))
    }
}

/// What a shop weighs, reads and sees of a casting.
fn of_casting(outcomes: &Outcomes, gauge: bool) -> Vec<Readable> {
    let mut all = vec![Outcome::ScaleReading, Outcome::VentLoss, Outcome::Flash];
    all.extend(gauge.then_some(Outcome::PeakPressure));
    let readable = |of: Outcome| {
        let values = without_gaps(outcomes.values(of));
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        Readable { sd: reading_scatter(of, mean), values }
    };
    let is_short = |d: &Result<CastingResult>| d.as_ref().map_or(true, |r| r.verdict == Verdict::Short);
    let full = outcomes.draws.iter().map(|d| if is_short(d) { -1.0 } else { 1.0 }).collect();
    all.into_iter().map(readable).chain([Readable { values: full, sd: EYE_SD }]).collect()
}

/// What a draw did not come to says nothing: it stands at the mean of the others.
fn without_gaps(values: Vec<f64>) -> Vec<f64> {
    let known: Vec<f64> = values.iter().copied().filter(|x| x.is_finite()).collect();
    let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
    values.into_iter().map(|x| if x.is_finite() { x } else { mean }).collect()
}

/// Density and stopwatch times of a cup test.
fn of_cup(draws: &Draws, casting: &Casting, mix_temp: f64) -> Result<Vec<Readable>> {
    let test = CupTest {
        mass: CUP_MASS,
        mix_temp,
        ambient_temp: mix_temp,
        ambient_pressure: casting.ambient_pressure,
        heat_area: CUP_AREA,
        heat_transfer: CUP_HEAT_TRANSFER,
        core_heat_loss_factor: CUP_CORE_COOLING,
        sensor_lag: 0.0,
    };
    let read = |i: usize| {
        let foam = draws.setup(i, casting, false).map(|(foam, ..)| foam).unwrap_or_default();
        let rise = match free_rise(&foam, &test, &[], Accuracy { relative: 1e-5 }) {
            Ok(rise) => rise,
            Err(error) if error.is_recoverable() => return Ok([f64::NAN; 4]),
            Err(error) => return Err(error),
        };
        let time = |t: Option<f64>| t.unwrap_or(f64::NAN);
        Ok([rise.density.ln(), time(rise.cream_time), time(rise.gel_time), time(rise.end_of_rise)])
    };
    let rises = (0..draws.count()).into_par_iter().map(read).collect::<Vec<Result<[f64; 4]>>>();
    let rises = rises.into_iter().collect::<Result<Vec<[f64; 4]>>>()?;
    let sds = [CUP_DENSITY_SD, CUP_TIME_SD, CUP_TIME_SD, CUP_TIME_SD];
    let readable = |k: usize| Readable { values: without_gaps(rises.iter().map(|r| r[k]).collect()), sd: sds[k] };
    Ok((0..4).map(readable).collect())
}

/// The cavity's volume by water, if it is in doubt.
fn of_water(draws: &Draws) -> Option<Vec<Readable>> {
    let place = draws.parameters().iter().position(|p| *p == Parameter::CavityVolume)?;
    let values = draws.values().column(place).to_vec();
    let spread = centered(values.clone()).iter().map(|x| x * x).sum::<f64>();
    (spread > 0.0).then(|| vec![Readable { values, sd: WATER_SD }])
}
