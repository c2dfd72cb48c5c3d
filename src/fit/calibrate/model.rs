//! One casting as the calibration sees it: what was weighed and read, and what the model says to that.

use crate::error::Result;
use crate::fit::likelihood::{Law, Shape};
use crate::fit::outcomes::Predictand;
use crate::fit::parameter::{CastingSetup, Parameter};
use crate::numerics::Scalar;
use crate::numerics::lanes::Function;
use crate::physics::casting::{Accuracy, CastingResult, sampled};
use crate::records::{Outcome, Trial};

/// Scatter of what is weighed, read and judged. Common practice, no source: a shop scale and trimming, wiping off what came
/// out of a vent, a workshop gauge.
const PART_SD: f64 = 0.25e-3;
const LOSS_SD: f64 = 0.2e-3;
const LOSS_SHARE_SD: f64 = 0.12;
const GAUGE_SD: f64 = 1.5e3;
const GAUGE_SHARE_SD: f64 = 0.03;
/// Scatter of the eye that tells a full part from a short one: time by which the foam gelled after it filled, s, or share of
/// the cavity that is missing.
const MARGIN_SD: f64 = 2.0;
const FILL_SD: f64 = 0.01;
/// Flash that half of all eyes call flash, and the scatter of that.
const FLASH_SEEN: f64 = 0.3e-3;
const FLASH_SEEN_SD: f64 = 0.15e-3;
/// A core is not hotter than without heat loss, but for this, K.
const CORE_SD: f64 = 5.0;

/// Standard deviation of a weighing or reading of about this value, SI; 0 for what a shop does not read.
pub(crate) fn reading_scatter(of: Predictand, value: f64) -> f64 {
    match of {
        Predictand::PartMass => PART_SD,
        Predictand::VentLoss | Predictand::Flash => LOSS_SD.hypot(LOSS_SHARE_SD * value),
        Predictand::PeakPressure => GAUGE_SD.hypot(GAUGE_SHARE_SD * value),
        _ => 0.0,
    }
}

/// What an output of a casting is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) enum Reading {
    PartMass,
    VentLoss,
    Flash,
    Peak,
    /// The gauge stood at its stop: the peak was at least this.
    PeakAtLeast,
    /// The core's temperature against its upper bound.
    CoreTemp,
    /// Whether the part was full.
    WasFull(bool),
    /// Whether there was flash.
    WasFlashed(bool),
    /// Pressure of a trace, at this place in it.
    TracePressure(usize),
}

impl Reading {
    /// The law of its misfit. The scatter of a trace is its own.
    pub fn law(self) -> Law {
        match self {
            Reading::PartMass | Reading::VentLoss | Reading::Flash | Reading::Peak => {
                Law { shape: Shape::Heavy, scatters: true }
            }
            Reading::TracePressure(_) => Law::of(Shape::Heavy),
            Reading::PeakAtLeast => Law { shape: Shape::AtLeast, scatters: true },
            Reading::CoreTemp => Law::of(Shape::AtLeast),
            Reading::WasFull(_) | Reading::WasFlashed(_) => Law::of(Shape::Judged),
        }
    }
}

/// A reading with its value and, but for traces, its standard deviation.
#[derive(Clone, Copy, Debug)]
pub(in crate::fit) struct Observed {
    pub reading: Reading,
    pub value: f64,
    pub sd: f64,
}

/// One casting with the model's setup.
pub(in crate::fit) struct TrialModel<'a> {
    pub trial: &'a Trial,
    pub setup: CastingSetup<f64>,
    pub parameters: Vec<Parameter>,
    pub observed: Vec<Observed>,
    /// Times of the trace that are fitted, s.
    pub times: Vec<f64>,
    pub accuracy: Accuracy,
}

impl<'a> TrialModel<'a> {
    pub fn new(trial: &'a Trial, setup: CastingSetup<f64>, parameters: Vec<Parameter>, accuracy: Accuracy) -> Self {
        let (times, pressures) = trace_pressures(trial);
        let mut observed = weighed(trial);
        observed.extend(pressures.iter().enumerate().map(|(i, value)| Observed {
            reading: Reading::TracePressure(i),
            value: *value,
            sd: f64::NAN,
        }));
        TrialModel { trial, setup, parameters, observed, times, accuracy }
    }

    /// The casting at these inputs.
    pub fn cast<S: Scalar>(&self, inputs: &[S]) -> Result<(CastingResult<S>, Vec<S>)> {
        let mut setup = self.setup.lift(S::constant);
        self.parameters.iter().zip(inputs).for_each(|(parameter, value)| setup.set(*parameter, *value));
        let run = sampled(&setup.foam.constants(), &setup.cavity, &setup.casting, &self.times, self.accuracy)
            .map_err(|e| e.in_trial(&self.trial.name))?;
        Ok((run.result, run.pressure))
    }

    /// What comes out against what was weighed, read and seen: outputs minus readings; how clearly the model answers as the
    /// eye did.
    pub fn compared<S: Scalar>(&self, r: &CastingResult<S>, pressures: &[S]) -> Vec<S> {
        let out = |o: &Observed| match o.reading {
            Reading::PartMass => r.part_mass - o.value,
            Reading::VentLoss => r.vent_loss - o.value,
            Reading::Flash => r.flash - o.value,
            Reading::Peak | Reading::PeakAtLeast => r.peak_pressure - o.value,
            Reading::CoreTemp => r.core_temp - o.value,
            Reading::WasFull(yes) => signed(yes, fullness(r, self.trial.casting.demold_time)),
            Reading::WasFlashed(yes) => signed(yes, (r.flash - FLASH_SEEN) / FLASH_SEEN_SD),
            Reading::TracePressure(i) => pressures[i] - o.value,
        };
        self.observed.iter().map(out).collect()
    }
}

impl Function for TrialModel<'_> {
    fn outputs<S: Scalar>(&self, inputs: &[S]) -> Result<Vec<S>> {
        let (r, pressures) = self.cast(inputs)?;
        Ok(self.compared(&r, &pressures))
    }
}

/// How clearly a part is full, in standard deviations of the eye: by the time it had left to fill, or by what is missing. Zero
/// where it gels as it fills.
fn fullness<S: Scalar>(r: &CastingResult<S>, demold_time: f64) -> S {
    match (r.fill_time, r.gel_time) {
        (Some(filled), Some(gelled)) => (gelled - filled) / MARGIN_SD,
        (Some(filled), None) => (-filled + demold_time) / MARGIN_SD,
        (None, _) => (r.fill_fraction - 1.0) / FILL_SD,
    }
}

fn signed<S: Scalar>(yes: bool, clearly: S) -> S {
    if yes { clearly } else { -clearly }
}

fn weighed(trial: &Trial) -> Vec<Observed> {
    let mut all = Vec::new();
    let mut add = |reading, value: Option<f64>, sd: &dyn Fn(f64) -> f64| {
        if let Some(value) = value {
            all.push(Observed { reading, value, sd: sd(value) });
        }
    };
    let loss = |value: f64| LOSS_SD.hypot(LOSS_SHARE_SD * value);
    add(Reading::PartMass, trial.part_mass, &|_| PART_SD);
    add(Reading::VentLoss, trial.vent_loss, &loss);
    add(Reading::Flash, trial.flash, &loss);
    let peak = if trial.gauge_at_stop { Reading::PeakAtLeast } else { Reading::Peak };
    // A trace holds its own peak: counting the reading as well would count it twice.
    let gauge = trial.peak_pressure.filter(|_| trace_pressures(trial).0.is_empty());
    add(peak, gauge, &|value| GAUGE_SD.hypot(GAUGE_SHARE_SD * value));
    add(Reading::CoreTemp, trial.core_temp, &|_| CORE_SD);
    all.extend(trial.outcome.into_iter().flat_map(judged).map(|reading| Observed { reading, value: 0.0, sd: 1.0 }));
    all
}

/// What an outcome answers: whether the part was full and, if so, whether it flashed.
fn judged(outcome: Outcome) -> Vec<Reading> {
    match outcome {
        Outcome::Short => vec![Reading::WasFull(false)],
        Outcome::Full => vec![Reading::WasFull(true), Reading::WasFlashed(false)],
        Outcome::Flash => vec![Reading::WasFull(true), Reading::WasFlashed(true)],
    }
}

/// Times and gauge pressures of the trial's trace, up to demold.
fn trace_pressures(trial: &Trial) -> (Vec<f64>, Vec<f64>) {
    let Some(trace) = &trial.trace else { return Default::default() };
    let Some(pressures) = &trace.pressure else { return Default::default() };
    let kept = trace.time.iter().zip(pressures).filter(|(t, p)| p.is_finite() && **t <= trial.casting.demold_time);
    kept.map(|(t, p)| (*t, *p)).unzip()
}
