//! How likely a setting gives a good part, which limits it misses, and how settings compare.

use serde::{Deserialize, Serialize};

use super::drills::Drill;
use super::goal::{Goal, Limit};
use crate::fit::Outcomes;
use crate::model::{Casting, Outcome};

/// In comparing settings that are as good, a limit that is just met counts half, one that is met by this share of the half
/// width in full: nobody knows a model to the last percent, and the middle of a window forgives it.
const SOFT: f64 = 0.3;
/// Weight of how far castings are from good where hardly one of them is.
const FAR: f64 = 1e-3;
/// A limit binds if it is missed in, and its loss would raise the chance by, this share at least.
const BINDS: f64 = 0.005;

/// A charge and a vent with its chances.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// The whole casting.
    pub casting: Casting,
    /// The drill of its vents; `None`: the vents as they are.
    pub drill: Option<Drill>,
    /// What comes out.
    pub chances: Chances,
}

/// What comes out of a setting, over the draws that could be cast; shares from 0 to 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Chances {
    /// Share that meets all limits.
    pub good: f64,
    /// Share that misses each limit, in the order of [`Limit::ALL`].
    pub misses: [f64; 6],
    /// Share that would be good without this limit, in the order of [`Limit::ALL`].
    pub without: [f64; 6],
    /// Median and 90 % interval of the density, kg/m3.
    pub density: (f64, f64, f64),
    /// Median and 90 % interval of the peak gauge pressure, Pa.
    pub peak_pressure: (f64, f64, f64),
    /// Median of what is lost through the vents, kg.
    pub vent_loss: f64,
    /// What tells settings apart that are as good: as `good`, with limits just met counted half.
    pub score: f64,
    /// How many draws these shares were counted from.
    pub draws: usize,
}

pub(super) fn judge(casting: Casting, drill: Option<Drill>, outcomes: &Outcomes, goal: &Goal) -> Candidate {
    let margins: Vec<[f64; 6]> = outcomes.cast().map(|r| goal.margins(r)).collect();
    let share =
        |met: &dyn Fn(&[f64; 6]) -> bool| margins.iter().filter(|m| met(m)).count() as f64 / margins.len() as f64;
    let with_median = |of: Outcome| {
        let (low, high) = outcomes.interval(of, 0.9);
        (outcomes.median(of), low, high)
    };
    let every = |m: &[f64; 6], except: Option<usize>| (0..6).all(|k| Some(k) == except || m[k] >= 0.0);
    let chances = Chances {
        good: share(&|m| every(m, None)),
        misses: std::array::from_fn(|k| share(&|m| m[k] < 0.0)),
        without: std::array::from_fn(|k| share(&|m| every(m, Some(k)))),
        density: with_median(Outcome::Density),
        peak_pressure: with_median(Outcome::PeakPressure),
        vent_loss: outcomes.median(Outcome::VentLoss),
        score: margins.iter().map(soft).sum::<f64>() / margins.len() as f64,
        draws: margins.len(),
    };
    Candidate { casting, drill, chances }
}

/// From 0 to 1: how good a casting is, smooth across the limits.
fn soft(margins: &[f64; 6]) -> f64 {
    let met: f64 = margins.iter().map(|m| (0.5 + 0.5 * m / SOFT).clamp(0.0, 1.0)).product();
    let missed: f64 = margins.iter().map(|m| (-m).max(0.0)).sum();
    (1.0 - FAR) * met + FAR / (1.0 + missed)
}

impl Candidate {
    /// Whether it has the same vents.
    pub(super) fn has_vents_of(&self, other: &Candidate) -> bool {
        self.casting.vent_diameters == other.casting.vent_diameters
    }
}

impl Chances {
    /// The limit whose loss would raise the chance most, and the chance then; `None` where no single limit matters.
    pub fn binding(&self) -> Option<(Limit, f64)> {
        let all = Limit::ALL.into_iter().zip(self.misses).zip(self.without);
        let binding = all.filter(|((_, missed), without)| *missed >= BINDS && without - self.good >= BINDS);
        binding.fold(None, |best: Option<(Limit, f64)>, ((limit, _), without)| {
            best.filter(|b| b.1 >= without).or(Some((limit, without)))
        })
    }

    /// Standard error of `good`, from the number of draws.
    pub fn standard_error(&self) -> f64 {
        let n = self.draws as f64;
        (self.good * (1.0 - self.good) / n).sqrt().max(1.0 / n)
    }

    /// Chance and distance from the limits together: what to look closer at.
    pub(super) fn promise(&self) -> f64 {
        self.good + 0.3 * self.score
    }
}
