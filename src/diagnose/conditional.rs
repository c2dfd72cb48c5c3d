//! The conditional model of one casting, given the others: its readings against what they predict, under a hypothesis.

use ndarray::{Array1, Array2, ArrayView1, s};

use super::hypothesis::Hypothesis;
use super::reading::ReadingKind;
use crate::error::Result;
use crate::fit::{CastingReading, CastingSetup, Others, SharedPosterior, TrialModel};
use crate::inference::likelihood::Shape;
use crate::model::CastingResult;
use crate::numerics::Scalar;
use crate::numerics::jacobian::{Function, differentiate};
use crate::numerics::laplace::Evidence;
use crate::numerics::normal::distribution_of_unit_normal;
use crate::physics::casting::sampled;

/// A wrong reading may be off by so much: a share of the charge, Pa. Common practice, no source.
const WRONG_MASS: f64 = 0.1;
const WRONG_GAUGE: f64 = 30e3;
/// Probability of a wrong answer of the eye, and of a wrong limit: as of a coin.
const WRONG_ANSWER: f64 = 0.5;
/// Standard deviation of what the model misses of the pressure where a mold is open that should not be, Pa.
const OPEN_MOLD_SD: f64 = 3e3;
/// The points of a trace count as so many independent readings where all of them are off.
pub(super) const INDEPENDENT_OF_TRACE: usize = 2;
/// Limits and answers count as no farther off, standard deviations: beyond, their probability is no number any more.
const FARTHEST: f64 = -35.0;

/// A casting, its readings, and the posterior of the others for the constants behind it.
pub(super) struct ConditionalModel<'a> {
    pub trial_model: &'a TrialModel<'a>,
    pub shared: &'a SharedPosterior,
    pub others: &'a Others,
    /// Standard deviation of each reading.
    pub sds: Vec<f64>,
}

/// The same under a hypothesis: some of the readings, as functions of the constants in doubt.
pub(super) struct UnderHypothesis<'a> {
    pub conditional: &'a ConditionalModel<'a>,
    pub hypothesis: Hypothesis,
    /// The readings that count.
    pub rows: Vec<usize>,
}

impl ConditionalModel<'_> {
    /// How many coordinates are in doubt: what castings share, and what is this one's own.
    pub fn coordinates(&self) -> usize {
        self.others.center.len() + self.shared.own.len()
    }

    /// The kind of each reading; the points of a trace are all of one.
    pub fn kind(&self, reading: usize) -> ReadingKind {
        match self.trial_model.observed[reading].reading {
            CastingReading::PartMass => ReadingKind::PartMass,
            CastingReading::VentLoss => ReadingKind::VentLoss,
            CastingReading::Flash => ReadingKind::Flash,
            CastingReading::Peak => ReadingKind::PeakPressure,
            CastingReading::PeakAtLeast => ReadingKind::PeakAtLeast,
            CastingReading::CoreTemp | CastingReading::CoreTempInLayers => ReadingKind::CoreTemp,
            CastingReading::WasFull(_) => ReadingKind::WasFull,
            CastingReading::WasFlashed(_) => ReadingKind::WasFlashed,
            CastingReading::TracePressure(_) => ReadingKind::Trace,
        }
    }

    /// Whether a reading is a value with a scatter, not a limit or an answer of the eye.
    pub fn is_value(&self, reading: usize) -> bool {
        self.trial_model.observed[reading].reading.law().is_reading()
    }

    /// Residual of a reading that is so many standard deviations off, and its derivative. Values and answers are normal
    /// here, without heavy tails and slips: a wrong one is a hypothesis of its own.
    fn residual(&self, reading: usize, deviations: f64) -> (f64, f64) {
        let law = self.trial_model.observed[reading].reading.law();
        match law.shape {
            Shape::Normal | Shape::Heavy => (deviations, 1.0),
            Shape::AtLeast | Shape::Judged => passed(deviations.max(FARTHEST)),
        }
    }

    /// All readings under a hypothesis.
    pub fn under(&self, hypothesis: Hypothesis) -> UnderHypothesis<'_> {
        UnderHypothesis { conditional: self, hypothesis, rows: (0..self.sds.len()).collect() }
    }

    /// Standard deviation of a wrong reading.
    fn wrong_sd(&self, reading: usize) -> f64 {
        match self.kind(reading) {
            ReadingKind::PartMass | ReadingKind::VentLoss | ReadingKind::Flash => {
                WRONG_MASS * self.trial_model.trial.casting.charge
            }
            _ => WRONG_GAUGE,
        }
    }
}

impl UnderHypothesis<'_> {
    /// Values of everything in doubt at some coordinates, and their derivatives: by the prior standard deviations of
    /// what is shared, by the coordinates of what is the casting's own.
    pub fn values(&self, at: ArrayView1<f64>) -> (Vec<f64>, Vec<f64>) {
        let ConditionalModel { shared, others, .. } = self.conditional;
        let k = others.center.len();
        let sds = &others.center + &others.root.dot(&at.slice(s![..k]));
        let of_all = shared.coordinates.axes.iter().zip(&sds).map(|(axis, q)| {
            let b = &axis.prior;
            (b.value(*q).clamp(b.low, b.high), b.derivative(*q))
        });
        let own = shared.own.iter().zip(at.iter().skip(k)).map(|((parameter, b), z)| {
            let wide = self.hypothesis.widens(*parameter);
            (b.value(wide * z).clamp(b.low, b.high), wide * b.derivative(wide * z))
        });
        of_all.chain(own).unzip()
    }

    /// The casting at these constants, without what the hypothesis changes.
    pub fn ordinary_setup(&self, at: ArrayView1<f64>) -> CastingSetup<f64> {
        self.set(&self.values(at).0)
    }

    /// What it comes to.
    pub fn result(&self, at: ArrayView1<f64>) -> Result<CastingResult> {
        Ok(self.cast(&self.values(at).0)?.0)
    }

    fn set<S: Scalar>(&self, values: &[S]) -> CastingSetup<S> {
        let model = self.conditional.trial_model;
        let mut setup = model.setup.lift(S::constant);
        model.parameters.iter().zip(values).for_each(|(parameter, value)| setup.set(*parameter, *value));
        setup
    }

    fn cast<S: Scalar>(&self, values: &[S]) -> Result<(CastingResult<S>, Vec<S>)> {
        let model = self.conditional.trial_model;
        let mut setup = self.set(values);
        let spilled = self.hypothesis.apply(&mut setup)?;
        let foam = setup.foam.constants();
        let mut run = sampled(&foam, &setup.cavity, &setup.casting, &model.times, model.accuracy)?;
        run.result.flash += spilled;
        if let Some(leak) = self.hypothesis.lid_leak(&setup) {
            leak.let_out(&mut run.result, &model.times, &mut run.pressure);
        }
        Ok((run.result, run.pressure))
    }

    /// Standard deviation of a reading under the hypothesis.
    fn sd(&self, reading: usize) -> f64 {
        let is_pressure = matches!(
            self.conditional.kind(reading),
            ReadingKind::Trace | ReadingKind::PeakPressure | ReadingKind::PeakAtLeast
        );
        let missed = if is_pressure && self.hypothesis.is_opening() { OPEN_MOLD_SD } else { 0.0 };
        self.conditional.sds[reading].hypot(missed)
    }

    /// Residual of a reading and its derivative by the output.
    fn residual(&self, reading: usize, output: f64) -> (f64, f64) {
        let conditional = self.conditional;
        let sd = self.sd(reading);
        match self.hypothesis == Hypothesis::Misread(reading) {
            true if conditional.is_value(reading) => {
                let sd = conditional.wrong_sd(reading);
                (output / sd, 1.0 / sd)
            }
            true => ((-2.0 * WRONG_ANSWER.ln()).sqrt(), 0.0),
            false => {
                let (residual, steep) = conditional.residual(reading, output / sd);
                (residual, steep / sd)
            }
        }
    }

    /// Logarithm of what the hypothesis' wider standard deviations cost: a wrong reading could have been anything.
    pub fn log_width(&self) -> f64 {
        match self.hypothesis {
            Hypothesis::Misread(reading) if self.conditional.is_value(reading) => {
                (self.conditional.sds[reading] / self.conditional.wrong_sd(reading)).ln()
            }
            _ => self.log_width_of_open_mold(),
        }
    }

    /// What the model misses of a trace is much the same at all its points: they count as a few.
    fn log_width_of_open_mold(&self) -> f64 {
        let of = |i: usize| (self.conditional.sds[i] / self.sd(i)).ln();
        let (traced, single): (Vec<usize>, Vec<usize>) =
            self.rows.iter().partition(|&&i| self.conditional.kind(i) == ReadingKind::Trace);
        let values = single.into_iter().filter(|&i| self.conditional.is_value(i));
        values.chain(traced.into_iter().take(INDEPENDENT_OF_TRACE)).map(of).sum()
    }
}

/// Residual of a limit that the model passes by this many standard deviations, and its derivative.
fn passed(deviations: f64) -> (f64, f64) {
    let (share, density) = distribution_of_unit_normal(deviations);
    let residual = (-2.0 * share.ln()).sqrt();
    if residual > 0.0 { (residual, -density / (share * residual)) } else { (0.0, 0.0) }
}

impl Function for UnderHypothesis<'_> {
    fn outputs<S: Scalar>(&self, inputs: &[S]) -> Result<Vec<S>> {
        let (result, pressures) = self.cast(inputs)?;
        Ok(self.conditional.trial_model.compared(&result, &pressures))
    }
}

impl Evidence for UnderHypothesis<'_> {
    fn residuals(&self, at: ArrayView1<f64>) -> Result<Array1<f64>> {
        let outputs = self.outputs(&self.values(at).0)?;
        Ok(self.rows.iter().map(|&i| self.residual(i, outputs[i]).0).collect())
    }

    fn slopes(&self, at: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        let (values, rates) = self.values(at);
        let (outputs, mut slopes) = differentiate(self, &values, &rates)?;
        let k = self.conditional.others.center.len();
        let turned = slopes.slice(s![.., ..k]).dot(&self.conditional.others.root);
        slopes.slice_mut(s![.., ..k]).assign(&turned);
        let mut kept = slopes.select(ndarray::Axis(0), &self.rows);
        let mut residuals = Array1::zeros(self.rows.len());
        for (row, &i) in self.rows.iter().enumerate() {
            let (residual, steep) = self.residual(i, outputs[i]);
            residuals[row] = residual;
            kept.row_mut(row).mapv_inplace(|slope| slope * steep);
        }
        Ok((residuals, kept))
    }
}
