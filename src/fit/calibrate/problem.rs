//! The sum of squares of a calibration: every weighing and reading over its scatter, and every prior.

use ndarray::{Array1, Array2, ArrayView1};

use super::model::{CastingReading, TRACE_MISSED, TrialModel};
use crate::error::Result;
use crate::fit::knowledge::GradeKnowledge;
use crate::fit::options::{FitOptions, scattered};
use crate::fit::setup::{CastingSetup, LotFoam};
use crate::inference::Prior;
use crate::inference::coordinates::{Axis, Coordinates};
use crate::inference::least_squares::{Residuals, condensed_rows};
use crate::inference::likelihood::Law;
use crate::inference::noise::SeriesNoise;
use crate::inference::record_information::{stacked, stacked_values};
use crate::inference::records::Records;
use crate::inference::reweighting::Reweighted;
use crate::inference::scatter::Scatters;
use crate::inference::scatter::found_scatters;
use crate::model::{Needs, Parameter};
use crate::numerics::jacobian::{Function, differentiate};
use crate::physics::casting::Accuracy;
use crate::records::{Mold, Trial};
use crate::sweep::Slips;

/// A trace before anything is fitted: scatter per reading, Pa, and how many readings count.
const FIRST_TRACE_SD: f64 = 3e3;
const FIRST_EFFECTIVE: f64 = 10.0;
/// A gauge's own scatter: no trace is taken as better, Pa. Common practice, no source.
const TRACE_FLOOR: f64 = 0.5e3;

pub(super) struct Problem<'a> {
    pub models: Vec<TrialModel<'a>>,
    pub coordinates: Coordinates<Parameter>,
    /// Number of axes that all castings share.
    pub shared: usize,
    /// Scatter of each trial's trace, if it has one.
    pub noise: Vec<Option<SeriesNoise>>,
    /// How much more than expected castings scatter in what is weighed and read.
    pub scatter: f64,
    /// Priors of that and of how much castings differ, and what the fit makes of them.
    pub expected: Scatters,
    pub found: Scatters,
}

impl<'a> Problem<'a> {
    pub fn new(known: &GradeKnowledge, mold: &Mold, trials: &'a [Trial], options: &FitOptions) -> Self {
        let mut axes: Vec<Axis<Parameter>> = known.parameters.iter().map(|(p, prior)| axis(*p, None, *prior)).collect();
        let free = |p: &Parameter| options.held(*p).is_none();
        let mut described = CastingSetup {
            foam: LotFoam::new(known.grade.constants),
            cavity: mold.cavity.clone(),
            casting: Slips::probe(),
        };
        axes.extend(
            of_castings(mold, trials)
                .filter(free)
                .map(|p| axis(p, None, around_description(&mut described, p, options.prior(p)))),
        );
        let shared = axes.len();
        for i in 0..trials.len() {
            axes.extend(Parameter::of_each_casting().filter(free).map(|p| axis(p, Some(i), options.prior(p))));
        }
        let mut coordinates = Coordinates::new(axes);
        coordinates.correlate(&known.mean, &known.covariance);
        let models: Vec<TrialModel> = trials
            .iter()
            .enumerate()
            .map(|(i, trial)| {
                let mut setup = CastingSetup {
                    foam: LotFoam::new(known.grade.constants),
                    cavity: mold.cavity.clone(),
                    casting: trial.casting.clone(),
                };
                options.held.iter().for_each(|(parameter, value)| setup.set(*parameter, *value));
                TrialModel::new(trial, setup, coordinates.parameters_of_record(i), options.accuracy)
            })
            .collect();
        let noise = models.iter().map(first_noise).collect();
        let scatter = options.held(Parameter::CastingScatter).unwrap_or(1.0);
        Problem { models, coordinates, shared, noise, scatter, expected: scatters(options), found: scatters(options) }
    }

    pub fn inputs(&self, record: usize, all: &[f64]) -> Vec<f64> {
        self.coordinates.inputs_of_record(record, all)
    }

    /// The scatter of each trial's trace, if it has one, from its residuals at these positions.
    pub fn trace_noise(&self, z: ArrayView1<f64>) -> Result<Vec<Option<SeriesNoise>>> {
        let values = self.coordinates.values(z);
        let of = |(i, model): (usize, &TrialModel)| {
            let outputs = model.outputs(&self.inputs(i, &values))?;
            let traced = outputs.iter().zip(&model.observed);
            let traced = traced.filter(|(_, o)| matches!(o.reading, CastingReading::TracePressure(_)));
            let (residuals, read): (Vec<f64>, Vec<f64>) = traced.map(|(residual, o)| (*residual, o.value)).unzip();
            Ok((!read.is_empty()).then(|| SeriesNoise::of(&residuals, TRACE_FLOOR).missed(TRACE_MISSED, &read)))
        };
        self.models.iter().enumerate().map(of).collect()
    }

    /// The misfit of each reading of a trial in standard deviations, from the model's outputs, and its derivative by
    /// the output.
    fn counted(&self, record: usize, outputs: &[f64]) -> Vec<(f64, f64)> {
        let trace = self.noise[record].map_or(f64::NAN, |n| n.weight_sd);
        let one = |(output, o): (&f64, &super::model::Observed)| match o.reading {
            CastingReading::TracePressure(_) => (output / trace, 1.0 / trace),
            _ => o.misfit(*output),
        };
        let widened = |(counted, o): ((f64, f64), &super::model::Observed)| match o.reading.law().scatters {
            true => (counted.0 / self.scatter, counted.1 / self.scatter),
            false => counted,
        };
        let observed = &self.models[record].observed;
        outputs.iter().zip(observed).map(one).zip(observed).map(widened).collect()
    }
}

/// Priors of the scatter that castings share, where it is not held.
pub(super) fn scatters(options: &FitOptions) -> Scatters {
    let free = |p: Parameter| options.held(p).is_none().then(|| options.prior(p));
    Scatters { readings: free(Parameter::CastingScatter), records: free(Parameter::LotScatter) }
}

fn axis(parameter: Parameter, record: Option<usize>, prior: Prior) -> Axis<Parameter> {
    Axis { parameter, record, prior }
}

/// What castings can determine of the grade and of this mold. Cells may open, however they were pictured: taken for
/// closed, peaks of molds without records came out a fifth too high.
fn of_castings(mold: &Mold, trials: &[Trial]) -> impl Iterator<Item = Parameter> {
    let vents = mold.cavity.drilled().next().is_some();
    let line = mold.cavity.parting_line.is_some();
    let clamp = mold.cavity.clamp_force.is_some() || trials.iter().any(|t| t.casting.clamp_force.is_some());
    Parameter::of_castings_only().filter(move |p| match p.row().needs {
        Needs::Nothing => true,
        Needs::Vents => vents,
        Needs::PartingLine => line,
        Needs::Clamp => line && clamp,
    })
}

/// A prior around what grade or mold were described with; a gap of 0 means tight, not exactly zero, and cells that
/// never open are no statement.
fn around_description(setup: &mut CastingSetup<f64>, parameter: Parameter, prior: Prior) -> Prior {
    let given = setup.at_place(parameter).filter(|_| parameter.row().described);
    given.filter(|value| *value > 0.0 && value.is_finite()).map_or(prior, |value| prior.around(value))
}

fn first_noise(model: &TrialModel) -> Option<SeriesNoise> {
    let is_trace = |o: &&super::model::Observed| matches!(o.reading, CastingReading::TracePressure(_));
    let count = model.observed.iter().filter(is_trace).count();
    (count > 0).then(|| SeriesNoise::assumed(count, FIRST_TRACE_SD, FIRST_EFFECTIVE))
}

impl Reweighted for Problem<'_> {
    fn bounds(&self) -> (Array1<f64>, Array1<f64>) {
        self.coordinates.bounds()
    }

    /// The first start is at the prior medians; the others lie around them.
    fn starts(&self, count: usize) -> Vec<Array1<f64>> {
        let (lower, upper) = self.coordinates.bounds();
        let around = |index: usize| {
            let mut z = vec![0.0; self.coordinates.len()];
            if index > 0 {
                z[..self.shared].copy_from_slice(&scattered(index, self.shared));
            }
            Array1::from_shape_fn(z.len(), |j| z[j].clamp(lower[j], upper[j]))
        };
        (0..count).map(around).collect()
    }

    fn reweight(&mut self, z: ArrayView1<f64>) -> Result<()> {
        self.noise = self.trace_noise(z)?;
        self.found = found_scatters(self, z, self.scatter, self.expected)?;
        self.scatter = self.found.variance_of_readings(self.scatter).sqrt();
        Ok(())
    }

    fn refine(&mut self, tolerance: f64) {
        self.models.iter_mut().for_each(|model| model.accuracy = Accuracy { relative: tolerance });
    }
}

impl Records for Problem<'_> {
    type Parameter = Parameter;

    fn coordinates(&self) -> &Coordinates<Parameter> {
        &self.coordinates
    }

    fn count(&self) -> usize {
        self.models.len()
    }

    fn laws(&self, record: usize) -> Vec<Law> {
        self.models[record].observed.iter().map(|o| o.reading.law()).collect()
    }

    fn misfits(&self, record: usize, values: &[f64]) -> Result<Vec<f64>> {
        let outputs = self.models[record].outputs(&self.inputs(record, values))?;
        Ok(self.counted(record, &outputs).into_iter().map(|(misfit, _)| misfit).collect())
    }

    fn products(&self) -> Vec<(Parameter, Parameter)> {
        Parameter::products().collect()
    }

    fn slopes(&self, record: usize, values: &[f64], derivatives: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
        let model = &self.models[record];
        let (outputs, mut slopes) =
            differentiate(model, &self.inputs(record, values), &self.inputs(record, derivatives))?;
        let (misfits, steep): (Vec<f64>, Vec<f64>) = self.counted(record, &outputs).into_iter().unzip();
        slopes.rows_mut().into_iter().zip(steep).for_each(|(mut row, by)| row.mapv_inplace(|slope| slope * by));
        Ok((misfits, slopes))
    }
}

impl Residuals for Problem<'_> {
    fn n_residuals(&self) -> usize {
        let rows = |m: &TrialModel| condensed_rows(m.observed.len(), m.parameters.len());
        self.models.iter().map(rows).sum::<usize>() + self.coordinates.len()
    }

    fn n_readings(&self) -> usize {
        self.models.iter().map(|m| m.observed.len()).sum::<usize>() + self.coordinates.len()
    }

    fn evaluate(&self, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        stacked(self, z)
    }

    fn residuals(&self, z: ArrayView1<f64>) -> Result<Array1<f64>> {
        stacked_values(self, z)
    }
}
