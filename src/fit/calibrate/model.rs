//! One casting as the calibration sees it: what was weighed and read, and what the model says to that.

use crate::error::Result;
use crate::fit::setup::CastingSetup;
use crate::inference::likelihood::{Law, Shape};
use crate::inference::noise::whole_change;
use crate::model::{CastingResult, FLASH_TO_THE_EYE, Outcome, Parameter, Verdict};
use crate::numerics::Scalar;
use crate::numerics::jacobian::Function;
use crate::physics::casting::{Accuracy, sampled};
use crate::physics::scale::share_left_by_log_time;
use crate::records::Trial;

/// Scatter of what is weighed, read and judged. Common practice, no source: a shop scale and trimming, wiping off what
/// came out of a vent, a workshop gauge. A core is not hotter than without heat loss, but for 5 K.
const PART: Scatter = Scatter { floor: 0.25e-3, share: 0.0 };
/// What a part loses on the scale between demold and a day later, as a share of it, and how well the time constant of
/// that is known, as the standard deviation of its logarithm: a factor of two.
const GAS_LEAVES_OF_PART: f64 = 0.01;
const LOG_TIME_SD: f64 = std::f64::consts::LN_2;
const LOSS: Scatter = Scatter { floor: 0.2e-3, share: 0.12 };
const GAUGE: Scatter = Scatter { floor: 1.5e3, share: 0.03 };
const CORE: Scatter = Scatter { floor: 5.0, share: 0.0 };
/// Scatter of the eye that tells a full part from a short one: time by which the foam gelled after it filled, s, or
/// share of the cavity that is missing.
const MARGIN_SD: f64 = 2.0;
const FILL_SD: f64 = 0.01;

/// What the model itself misses of a trace (one mean temperature, cells that open by themselves), as a share of its
/// whole change. Taken at its word, a trace fixed the wall's heat transfer to a seventh, three standard errors off.
/// Common practice, no source.
pub(super) const TRACE_MISSED: f64 = 0.1;

/// What the model is expected to miss of a logged gauge pressure, Pa: a standard deviation.
pub(crate) fn missed_of_trace(pressures: &[f64]) -> f64 {
    TRACE_MISSED * whole_change(pressures)
}

/// Standard deviation of a weighing or reading of about this value, SI; 0 for what a shop does not read.
pub(crate) fn reading_scatter(of: Outcome, value: f64) -> f64 {
    match of {
        Outcome::PartMass | Outcome::ScaleReading => PART.sd(value),
        Outcome::VentLoss | Outcome::Flash => LOSS.sd(value),
        Outcome::PeakPressure => GAUGE.sd(value),
        _ => 0.0,
    }
}

/// Scatter of a part's weight that was taken so long after demold (s): how far its gas has left by then is known to a
/// factor.
fn scatter_of_part(weighed_after: f64) -> Scatter {
    Scatter { share: GAS_LEAVES_OF_PART * share_left_by_log_time(weighed_after) * LOG_TIME_SD, ..PART }
}

/// How readings scatter around what is true: about a true value by `floor`, SI, and by a share of it, independent of
/// each other.
///
/// The deviation grows with the true value, not with the reading: dividing by that of the reading trusts low readings
/// more. Counted in deviations all the way from zero, the scatter is 1 everywhere, and a likelihood needs no term for
/// its size (variance-stabilizing transformation: Bartlett, Biometrics 3, 39, 1947).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scatter {
    pub floor: f64,
    pub share: f64,
}

impl Scatter {
    /// Of a trace, which the fit finds itself.
    const UNKNOWN: Scatter = Scatter { floor: f64::NAN, share: 0.0 };

    /// Standard deviation around a true value.
    pub fn sd(self, value: f64) -> f64 {
        self.floor.hypot(self.share * value)
    }

    /// Standard deviations from zero to a value: the integral of 1 / sd.
    fn counted(self, value: f64) -> f64 {
        let ratio = self.share / self.floor;
        if self.share > 0.0 { (ratio * value).asinh() / self.share } else { value / self.floor }
    }
}

/// What an output of a casting is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum CastingReading {
    PartMass,
    VentLoss,
    Flash,
    Peak,
    /// The gauge stood at its stop: the peak was at least this.
    PeakAtLeast,
    /// The core's temperature against that of a lump, its upper bound.
    CoreTemp,
    /// The core's temperature against that of foam in layers.
    CoreTempInLayers,
    /// Whether the part was full.
    WasFull(bool),
    /// Whether there was flash.
    WasFlashed(bool),
    /// Pressure of a trace, at this place in it.
    TracePressure(usize),
}

impl CastingReading {
    /// The law of its misfit. The scatter of a trace is its own.
    pub fn law(self) -> Law {
        match self {
            CastingReading::PartMass | CastingReading::VentLoss | CastingReading::Flash | CastingReading::Peak => {
                Law { shape: Shape::Heavy, scatters: true }
            }
            CastingReading::TracePressure(_) | CastingReading::CoreTempInLayers => Law::of(Shape::Heavy),
            CastingReading::PeakAtLeast => Law { shape: Shape::AtLeast, scatters: true },
            CastingReading::CoreTemp => Law::of(Shape::AtLeast),
            CastingReading::WasFull(_) | CastingReading::WasFlashed(_) => Law::of(Shape::Judged),
        }
    }
}

/// A reading with its value and, but for traces, its scatter.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Observed {
    pub reading: CastingReading,
    pub value: f64,
    pub scatter: Scatter,
}

impl Observed {
    /// Standard deviation of a reading of this value; not a number of a trace.
    pub fn sd(&self) -> f64 {
        self.scatter.sd(self.value)
    }

    /// Standard deviations from the reading to the model, which is above it by `excess` (SI), and their derivative by
    /// that.
    pub fn misfit(&self, excess: f64) -> (f64, f64) {
        let model = self.value + excess;
        (self.scatter.counted(model) - self.scatter.counted(self.value), 1.0 / self.scatter.sd(model))
    }
}

/// One casting with the model's setup.
pub(crate) struct TrialModel<'a> {
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
        let mut observed = weighed(trial, setup.cavity.layers);
        observed.extend(pressures.iter().enumerate().map(|(i, value)| Observed {
            reading: CastingReading::TracePressure(i),
            value: *value,
            scatter: Scatter::UNKNOWN,
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

    /// What comes out against what was weighed, read and seen: outputs minus readings; how clearly the model answers as
    /// the eye did.
    pub fn compared<S: Scalar>(&self, r: &CastingResult<S>, pressures: &[S]) -> Vec<S> {
        let out = |o: &Observed| match o.reading {
            CastingReading::PartMass => r.scale_reading - o.value,
            CastingReading::VentLoss => r.vent_loss - o.value,
            CastingReading::Flash => r.flash - o.value,
            CastingReading::Peak | CastingReading::PeakAtLeast => r.peak_pressure - o.value,
            CastingReading::CoreTemp | CastingReading::CoreTempInLayers => r.core_temp - o.value,
            CastingReading::WasFull(yes) => signed(yes, fullness(r, self.trial.casting.demold_time)),
            CastingReading::WasFlashed(yes) => signed(yes, (r.flash - FLASH_TO_THE_EYE.0) / FLASH_TO_THE_EYE.1),
            CastingReading::TracePressure(i) => pressures[i] - o.value,
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

/// How clearly a part is full, in standard deviations of the eye: by the time it had left to fill, or by what is
/// missing. Zero where it gels as it fills.
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

fn weighed(trial: &Trial, layers: usize) -> Vec<Observed> {
    let mut all = Vec::new();
    let mut add = |reading, value: Option<f64>, scatter| {
        all.extend(value.map(|value| Observed { reading, value, scatter }));
    };
    add(CastingReading::PartMass, trial.part_mass, scatter_of_part(trial.casting.weighed_after));
    add(CastingReading::VentLoss, trial.vent_loss, LOSS);
    add(CastingReading::Flash, trial.flash, LOSS);
    let peak = if trial.gauge_at_stop { CastingReading::PeakAtLeast } else { CastingReading::Peak };
    // A trace holds its own peak: counting the reading as well would count it twice.
    add(peak, trial.peak_pressure.filter(|_| trace_pressures(trial).0.is_empty()), GAUGE);
    let core = if layers > 1 { CastingReading::CoreTempInLayers } else { CastingReading::CoreTemp };
    add(core, trial.core_temp, CORE);
    let answer = Scatter { floor: 1.0, share: 0.0 };
    trial.outcome.into_iter().flat_map(judged).for_each(|reading| add(reading, Some(0.0), answer));
    all
}

/// What a verdict answers: whether the part was full and, if so, whether it flashed.
fn judged(seen: Verdict) -> Vec<CastingReading> {
    let full = CastingReading::WasFull(seen.is_full());
    if seen.is_full() { vec![full, CastingReading::WasFlashed(seen.has_flash())] } else { vec![full] }
}

/// Times and gauge pressures of the trial's trace, up to demold.
fn trace_pressures(trial: &Trial) -> (Vec<f64>, Vec<f64>) {
    let Some(trace) = &trial.trace else { return Default::default() };
    let Some(pressures) = &trace.pressure else { return Default::default() };
    let kept = trace.time.iter().zip(pressures).filter(|(t, p)| p.is_finite() && **t <= trial.casting.demold_time);
    kept.map(|(t, p)| (*t, *p)).unzip()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The density of a reading given the truth, added up over all readings: without a term for its size it is whole
    /// only where misfits count in deviations of the truth.
    #[test]
    fn readings_of_any_truth_are_as_likely_as_each_other() {
        for (scatter, truth) in [(LOSS, 0.0), (LOSS, 20e-3), (GAUGE, 200e3)] {
            let of = |e: f64| Observed { reading: CastingReading::Peak, value: truth + e, scatter };
            let step = 1e-3 * scatter.sd(truth);
            let law = CastingReading::Peak.law();
            let density = |e: f64| (-law.cost(of(e).misfit(-e).0).0).exp() / scatter.sd(truth + e);
            let whole: f64 = (-60_000..=60_000).map(|i| density(f64::from(i) * step) * step).sum();
            // Student's t with 4 degrees of freedom is 3/8 at its peak; what lies beyond 60 deviations is left out.
            assert!((whole * 0.375 - 1.0).abs() < 0.01, "{scatter:?} {truth}: {whole}");
        }
    }

    /// At demold and after a day a part's weight is as good as the scale; between, it is not known how far its gas
    /// left.
    #[test]
    fn a_part_weighed_between_counts_for_less() {
        let sd = |hours: f64| scatter_of_part(3600.0 * hours).sd(60e-3);
        assert_eq!(sd(0.0), PART.floor);
        assert!((sd(4.0) / PART.floor - 1.18).abs() < 0.02, "{}", sd(4.0));
        assert!(sd(0.1) < 1.001 * PART.floor && sd(24.0) < 1.001 * PART.floor);
    }

    #[test]
    fn slopes_of_misfits_are_derivatives() {
        let observed = Observed { reading: CastingReading::VentLoss, value: 3e-3, scatter: LOSS };
        let h = 1e-8;
        for excess in [-4e-3, -1e-3, 0.0, 2e-2] {
            let by_difference = (observed.misfit(excess + h).0 - observed.misfit(excess - h).0) / (2.0 * h);
            let slope = observed.misfit(excess).1;
            assert!((slope / by_difference - 1.0).abs() < 1e-6, "{slope} {by_difference}");
        }
        assert_eq!(observed.misfit(0.0).0, 0.0);
    }
}
