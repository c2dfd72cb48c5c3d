//! One casting in the light of the others: how far each reading is from what they predict, under a suspicion or none.

use ndarray::{Array1, Array2, ArrayView1, s};

use super::What;
use super::suspicion::Suspicion;
use crate::error::Result;
use crate::fit::{CastingSetup, Others, Reading, SharedPosterior, TrialModel};
use crate::inference::likelihood::Shape;
use crate::model::CastingResult;
use crate::numerics::Scalar;
use crate::numerics::lanes::{Function, differentiate};
use crate::numerics::laplace::Evidence;
use crate::numerics::normal::distribution_of_unit_normal;
use crate::physics::casting::sampled;

/// A wrong reading may be off by so much: a share of the charge, Pa. Common practice, no source.
const WRONG_MASS: f64 = 0.1;
const WRONG_GAUGE: f64 = 30e3;
/// Probability of a wrong answer of the eye, and of a wrong limit.
const COIN: f64 = 0.5;
/// Error of the pressure where a mold is open that should not be, Pa.
const CRUDE: f64 = 3e3;
/// The points of a trace count as so many readings where all of them are off.
pub(super) const TRACE_COUNTS: usize = 2;
/// Misfits of limits and answers are cut here, where their probability is no number any more.
const FURTHEST: f64 = -35.0;

/// A casting, its readings, and what the others say of the constants behind it.
pub(super) struct Suspect<'a> {
    pub model: &'a TrialModel<'a>,
    pub shared: &'a SharedPosterior,
    pub others: &'a Others,
    /// Standard deviation of each reading.
    pub sds: Vec<f64>,
}

/// A casting under a suspicion: some of its readings, as probabilities of the constants in doubt.
pub(super) struct Look<'a> {
    pub suspect: &'a Suspect<'a>,
    pub suspicion: Suspicion,
    /// The readings that count.
    pub rows: Vec<usize>,
}

impl Suspect<'_> {
    /// How many coordinates are in doubt: what castings share, and what is this one's own.
    pub fn coordinates(&self) -> usize {
        self.others.center.len() + self.shared.own.len()
    }

    /// What each reading is of; the points of a trace are all of one.
    pub fn what(&self, reading: usize) -> What {
        match self.model.observed[reading].reading {
            Reading::PartMass => What::PartMass,
            Reading::VentLoss => What::VentLoss,
            Reading::Flash => What::Flash,
            Reading::Peak => What::PeakPressure,
            Reading::PeakAtLeast => What::PeakAtLeast,
            Reading::CoreTemp => What::CoreTemp,
            Reading::WasFull(_) => What::WasFull,
            Reading::WasFlashed(_) => What::WasFlashed,
            Reading::TracePressure(_) => What::Trace,
        }
    }

    /// Whether a reading is a value with a scatter, not a limit or an answer of the eye.
    pub fn is_value(&self, reading: usize) -> bool {
        self.model.observed[reading].reading.law().is_reading()
    }

    /// Residual of a misfit and its derivative. Values and answers are normal here, without heavy tails and slips: a wrong one
    /// is a suspicion of its own.
    fn residual(&self, reading: usize, misfit: f64) -> (f64, f64) {
        let law = self.model.observed[reading].reading.law();
        match law.shape {
            Shape::Normal | Shape::Heavy => (misfit, 1.0),
            Shape::AtLeast | Shape::Judged => passed(misfit.max(FURTHEST)),
        }
    }

    /// A look at all readings.
    pub fn under(&self, suspicion: Suspicion) -> Look<'_> {
        Look { suspect: self, suspicion, rows: (0..self.sds.len()).collect() }
    }

    /// Standard deviation of a wrong reading.
    fn wrong_sd(&self, reading: usize) -> f64 {
        match self.what(reading) {
            What::PartMass | What::VentLoss | What::Flash => WRONG_MASS * self.model.trial.casting.charge,
            _ => WRONG_GAUGE,
        }
    }
}

impl Look<'_> {
    /// Values of everything in doubt at some coordinates, and their derivatives: by the spreads of what is shared, by the
    /// coordinates of what is the casting's own.
    pub fn values(&self, at: ArrayView1<f64>) -> (Vec<f64>, Vec<f64>) {
        let Suspect { shared, others, .. } = self.suspect;
        let k = others.center.len();
        let spreads = &others.center + &others.root.dot(&at.slice(s![..k]));
        let of_all = shared.space.axes.iter().zip(&spreads).map(|(axis, q)| {
            let b = &axis.belief;
            (b.value(*q).clamp(b.low, b.high), b.rate(*q))
        });
        let own = shared.own.iter().zip(at.iter().skip(k)).map(|((parameter, b), z)| {
            let wide = self.suspicion.widens(*parameter);
            (b.value(wide * z).clamp(b.low, b.high), wide * b.rate(wide * z))
        });
        of_all.chain(own).unzip()
    }

    /// The casting with everything set.
    pub fn setup(&self, at: ArrayView1<f64>) -> Result<CastingSetup<f64>> {
        let mut setup = self.set(&self.values(at).0);
        self.suspicion.apply(&mut setup)?;
        Ok(setup)
    }

    /// What it comes to.
    pub fn result(&self, at: ArrayView1<f64>) -> Result<CastingResult> {
        Ok(self.cast(&self.values(at).0)?.0)
    }

    fn set<S: Scalar>(&self, values: &[S]) -> CastingSetup<S> {
        let model = self.suspect.model;
        let mut setup = model.setup.lift(S::constant);
        model.parameters.iter().zip(values).for_each(|(parameter, value)| setup.set(*parameter, *value));
        setup
    }

    fn cast<S: Scalar>(&self, values: &[S]) -> Result<(CastingResult<S>, Vec<S>)> {
        let model = self.suspect.model;
        let mut setup = self.set(values);
        let spilled = self.suspicion.apply(&mut setup)?;
        let foam = setup.foam.constants();
        let mut run = sampled(&foam, &setup.cavity, &setup.casting, &model.times, model.accuracy)?;
        run.result.flash += spilled;
        if let Some(relief) = self.suspicion.relief(&setup) {
            relief.act(&mut run.result, &model.times, &mut run.pressure);
        }
        Ok((run.result, run.pressure))
    }

    /// Standard deviation of a reading under the suspicion.
    fn sd(&self, reading: usize) -> f64 {
        let is_pressure = matches!(self.suspect.what(reading), What::Trace | What::PeakPressure | What::PeakAtLeast);
        let crude = if is_pressure && self.suspicion.is_opening() { CRUDE } else { 0.0 };
        self.suspect.sds[reading].hypot(crude)
    }

    /// Residual of a reading and its derivative by the output.
    fn residual(&self, reading: usize, output: f64) -> (f64, f64) {
        let suspect = self.suspect;
        let sd = self.sd(reading);
        match self.suspicion == Suspicion::Misread(reading) {
            true if suspect.is_value(reading) => {
                let sd = suspect.wrong_sd(reading);
                (output / sd, 1.0 / sd)
            }
            true => ((-2.0 * COIN.ln()).sqrt(), 0.0),
            false => {
                let (residual, steep) = suspect.residual(reading, output / sd);
                (residual, steep / sd)
            }
        }
    }

    /// What a suspicion costs besides its residuals: a wrong reading could have been anything.
    pub fn log_width(&self) -> f64 {
        match self.suspicion {
            Suspicion::Misread(reading) if self.suspect.is_value(reading) => {
                (self.suspect.sds[reading] / self.suspect.wrong_sd(reading)).ln()
            }
            _ => self.log_crudeness(),
        }
    }

    /// The errors of a trace's points under a crude model are much the same: they count as a few.
    fn log_crudeness(&self) -> f64 {
        let of = |i: usize| (self.suspect.sds[i] / self.sd(i)).ln();
        let (traced, single): (Vec<usize>, Vec<usize>) =
            self.rows.iter().partition(|&&i| self.suspect.what(i) == What::Trace);
        let values = single.into_iter().filter(|&i| self.suspect.is_value(i));
        values.chain(traced.into_iter().take(TRACE_COUNTS)).map(of).sum()
    }
}

/// Residual of a limit that the model passes by this many standard deviations, and its derivative.
fn passed(misfit: f64) -> (f64, f64) {
    let (share, density) = distribution_of_unit_normal(misfit);
    let residual = (-2.0 * share.ln()).sqrt();
    if residual > 0.0 { (residual, -density / (share * residual)) } else { (0.0, 0.0) }
}

impl Function for Look<'_> {
    fn outputs<S: Scalar>(&self, inputs: &[S]) -> Result<Vec<S>> {
        let (result, pressures) = self.cast(inputs)?;
        Ok(self.suspect.model.compared(&result, &pressures))
    }
}

impl Evidence for Look<'_> {
    fn residuals(&self, at: ArrayView1<f64>) -> Result<Array1<f64>> {
        let outputs = self.outputs(&self.values(at).0)?;
        Ok(self.rows.iter().map(|&i| self.residual(i, outputs[i]).0).collect())
    }

    fn slopes(&self, at: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        let (values, rates) = self.values(at);
        let (outputs, mut slopes) = differentiate(self, &values, &rates)?;
        let k = self.suspect.others.center.len();
        let turned = slopes.slice(s![.., ..k]).dot(&self.suspect.others.root);
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
