//! The outcomes of many simulated castings: quantiles, intervals, and the probabilities that a shop asks for.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::model::{CastingResult, Outcome};
use crate::numerics::quantile::quantile;

/// What a good casting has to meet besides being full and without flash, SI; `None`: not asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Smallest and largest overall density, kg/m3.
    pub density: Option<(f64, f64)>,
    /// Smallest and largest peak gauge pressure, Pa.
    pub peak_pressure: Option<(f64, f64)>,
}

/// How likely a casting meets what is asked of it, each from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Probabilities {
    /// That it fills the cavity.
    pub full: f64,
    /// That no flash is seen.
    pub no_flash: f64,
    /// That the density is within its limits; 1 without limits.
    pub density: f64,
    /// That the peak pressure is within its limits; 1 without limits.
    pub peak_pressure: f64,
    /// That all of this holds at once.
    pub all: f64,
}

/// The outcomes of one setting, one per draw.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Outcomes {
    /// The outcome of each draw, or what kept it from being cast.
    pub draws: Vec<Result<CastingResult>>,
}

/// The outcomes of one setting by where they scatter from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OutcomeParts {
    /// The outcome at the best estimates, without scatter.
    pub best: CastingResult,
    /// From doubt and scatter: the next casting.
    pub both: Outcomes,
    /// From what the records leave in doubt alone: the mean of many castings.
    pub doubt: Outcomes,
    /// From casting to casting alone.
    pub scatter: Outcomes,
}

impl Limits {
    /// The outcomes that may be given a range.
    pub const OF: [Outcome; 2] = [Outcome::Density, Outcome::PeakPressure];

    /// Gives a range to one of [`Limits::OF`]; to no other.
    pub fn set(&mut self, of: Outcome, range: (f64, f64)) {
        match of {
            Outcome::Density => self.density = Some(range),
            Outcome::PeakPressure => self.peak_pressure = Some(range),
            _ => {}
        }
    }

    /// Whether this casting is full, without flash and within the limits.
    pub fn are_met(&self, result: &CastingResult) -> bool {
        self.each(result).iter().all(|met| *met)
    }

    /// Full, no flash, density, pressure.
    fn each(&self, r: &CastingResult) -> [bool; 4] {
        let within = |range: Option<(f64, f64)>, x: f64| range.is_none_or(|(low, high)| low <= x && x <= high);
        let (full, no_flash) = (r.verdict.is_full(), !r.verdict.has_flash());
        [full, no_flash, within(self.density, r.density), within(self.peak_pressure, r.peak_pressure)]
    }
}

impl Outcomes {
    /// Takes the outcomes if at least one draw could be cast and none failed for another reason than its own values.
    pub(crate) fn new(draws: Vec<Result<CastingResult>>) -> Result<Self> {
        let fatal = draws.iter().find_map(|d| d.as_ref().err().filter(|e| !e.is_recoverable()));
        let first = draws.iter().find_map(|d| d.as_ref().err());
        match fatal.or(first.filter(|_| draws.iter().all(Result::is_err))) {
            Some(error) => Err(error.clone()),
            None => Ok(Outcomes { draws }),
        }
    }

    /// The outcomes of the draws that could be cast.
    pub fn cast(&self) -> impl Iterator<Item = &CastingResult> {
        self.draws.iter().flatten()
    }

    /// What kept draws from being cast, with the draw's number.
    pub fn failures(&self) -> impl Iterator<Item = (usize, &Error)> {
        self.draws.iter().enumerate().filter_map(|(i, d)| Some((i, d.as_ref().err()?)))
    }

    /// A quantity draw by draw, SI; NaN where the draw failed or did not come to it; shape (n,).
    pub fn values(&self, of: Outcome) -> Vec<f64> {
        self.draws.iter().map(|d| d.as_ref().ok().and_then(|r| of.of_result(r)).unwrap_or(f64::NAN)).collect()
    }

    /// The value below which this share of the draws lies, SI; NaN if no draw came to the quantity.
    pub fn quantile(&self, of: Outcome, share: f64) -> f64 {
        quantile(&self.sorted(of), share)
    }

    /// The median.
    pub fn median(&self, of: Outcome) -> f64 {
        self.quantile(of, 0.5)
    }

    /// The mean.
    pub fn mean(&self, of: Outcome) -> f64 {
        let all = self.sorted(of);
        all.iter().sum::<f64>() / all.len() as f64
    }

    /// The standard deviation.
    pub fn standard_deviation(&self, of: Outcome) -> f64 {
        let (all, mean) = (self.sorted(of), self.mean(of));
        (all.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (all.len() as f64 - 1.0).max(1.0)).sqrt()
    }

    /// The interval that holds this share of the draws (0.95, say) and leaves as many below as above.
    pub fn interval(&self, of: Outcome, level: f64) -> (f64, f64) {
        let all = self.sorted(of);
        (quantile(&all, 0.5 - 0.5 * level), quantile(&all, 0.5 + 0.5 * level))
    }

    /// How likely the limits are met, among the draws that could be cast.
    pub fn probabilities(&self, limits: &Limits) -> Probabilities {
        let each: Vec<[bool; 4]> = self.cast().map(|r| limits.each(r)).collect();
        let share =
            |met: &dyn Fn(&[bool; 4]) -> bool| each.iter().filter(|e| met(e)).count() as f64 / each.len() as f64;
        Probabilities {
            full: share(&|e| e[0]),
            no_flash: share(&|e| e[1]),
            density: share(&|e| e[2]),
            peak_pressure: share(&|e| e[3]),
            all: share(&|e| e.iter().all(|met| *met)),
        }
    }

    fn sorted(&self, of: Outcome) -> Vec<f64> {
        let mut all: Vec<f64> = self.cast().filter_map(|r| of.of_result(r)).collect();
        all.sort_by(f64::total_cmp);
        all
    }
}
