//! The sum of squares of a calibration: every weighing and reading over its scatter, and every belief.

use ndarray::{Array1, Array2, ArrayView1};

use super::model::{Reading, TrialModel};
use super::scatters;
use crate::error::Result;
use crate::fit::knowledge::GradeKnowledge;
use crate::fit::options::{FitOptions, scattered};
use crate::fit::parameter::{Belief, CastingSetup, LotFoam, Parameter};
use crate::inference::coordinates::{Axis, Space};
use crate::inference::least_squares::{Residuals, condensed_rows};
use crate::inference::likelihood::Law;
use crate::inference::noise::SeriesNoise;
use crate::inference::posterior::{Records, Scatters};
use crate::inference::record_information::{stacked, stacked_values};
use crate::inference::reweighting::Rounds;
use crate::inference::scatter::found_scatters;
use crate::numerics::lanes::{Function, differentiate};
use crate::physics::casting::Accuracy;
use crate::records::{Grade, Mold, Trial};

/// A trace before anything is fitted: scatter per reading, Pa, and how many readings count.
const FIRST_TRACE_SD: f64 = 3e3;
const FIRST_EFFECTIVE: f64 = 10.0;
/// A gauge's own scatter: no trace is taken as better, Pa. Common practice, no source.
const TRACE_FLOOR: f64 = 0.5e3;

pub(super) struct Problem<'a> {
    pub models: Vec<TrialModel<'a>>,
    pub space: Space,
    /// Number of axes that all castings share.
    pub shared: usize,
    /// Scatter of each trial's trace, if it has one.
    pub noise: Vec<Option<SeriesNoise>>,
    /// How much more than believed castings scatter in what is weighed and read.
    pub scatter: f64,
    /// What is believed of that and of what makes castings differ, and what the fit leaves to believe.
    pub believed: Scatters,
    pub found: Scatters,
}

impl<'a> Problem<'a> {
    pub fn new(known: &GradeKnowledge, mold: &Mold, trials: &'a [Trial], options: &FitOptions) -> Self {
        let mut axes: Vec<Axis> = known.parameters.iter().map(|(p, belief)| axis(*p, None, *belief)).collect();
        let free = |p: &Parameter| options.held(*p).is_none();
        axes.extend(of_castings(mold, trials).into_iter().filter(free).map(|p| {
            let belief = options.belief(p);
            axis(p, None, around_description(&known.grade, mold, p, belief))
        }));
        let shared = axes.len();
        for i in 0..trials.len() {
            axes.extend(Parameter::PER_TRIAL.into_iter().filter(free).map(|p| axis(p, Some(i), options.belief(p))));
        }
        let mut space = Space::new(axes);
        space.correlate(&known.mean, &known.covariance);
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
                let parameters = space.of_record(i).iter().map(|&j| space.axes[j].parameter).collect();
                TrialModel::new(trial, setup, parameters, options.accuracy)
            })
            .collect();
        let noise = models.iter().map(first_noise).collect();
        let scatter = options.held(Parameter::CastingScatter).unwrap_or(1.0);
        Problem { models, space, shared, noise, scatter, believed: scatters(options), found: scatters(options) }
    }

    pub fn inputs(&self, record: usize, all: &[f64]) -> Vec<f64> {
        self.space.of_record(record).iter().map(|&j| all[j]).collect()
    }

    /// The scatter of each trial's trace, if it has one, from its residuals at these positions.
    pub fn trace_noise(&self, z: ArrayView1<f64>) -> Result<Vec<Option<SeriesNoise>>> {
        let values = self.space.values(z);
        let of = |(i, model): (usize, &TrialModel)| {
            let outputs = model.outputs(&self.inputs(i, &values))?;
            let traced = outputs.iter().zip(&model.observed);
            let traced = traced.filter(|(_, o)| matches!(o.reading, Reading::TracePressure(_)));
            let (residuals, read): (Vec<f64>, Vec<f64>) = traced.map(|(residual, o)| (*residual, o.value)).unzip();
            Ok((!read.is_empty()).then(|| SeriesNoise::of(&residuals, TRACE_FLOOR).missed_of_trace(&read)))
        };
        self.models.iter().enumerate().map(of).collect()
    }

    /// The misfit of each reading of a trial in standard deviations, from the model's outputs, and its derivative by the output.
    fn counted(&self, record: usize, outputs: &[f64]) -> Vec<(f64, f64)> {
        let trace = self.noise[record].map_or(f64::NAN, |n| n.weight_sd);
        let one = |(output, o): (&f64, &super::model::Observed)| match o.reading {
            Reading::TracePressure(_) => (output / trace, 1.0 / trace),
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

fn axis(parameter: Parameter, record: Option<usize>, belief: Belief) -> Axis {
    Axis { parameter, record, belief }
}

/// What castings can tell of the grade and of this mold. Cells may open, however they were pictured: taken for closed, peaks of
/// molds without records came out a fifth too high.
fn of_castings(mold: &Mold, trials: &[Trial]) -> Vec<Parameter> {
    let mut all = vec![
        Parameter::Viscosity,
        Parameter::CellOpeningTime,
        Parameter::GasRetention,
        Parameter::MoldRateFactor,
        Parameter::CavityVolume,
        Parameter::HeatTransfer,
    ];
    if !mold.cavity.vents.is_empty() {
        all.push(Parameter::VentSize);
    }
    if mold.cavity.parting_line.is_some() {
        all.extend([Parameter::PartingGap, Parameter::PartingOpening]);
        if mold.cavity.clamp_force.is_some() || trials.iter().any(|t| t.casting.clamp_force.is_some()) {
            all.push(Parameter::ClampEffect);
        }
    }
    all
}

/// What descriptions give is believed in; a gap of 0 means tight, not exactly zero, and cells that never open are no statement.
fn around_description(grade: &Grade, mold: &Mold, parameter: Parameter, belief: Belief) -> Belief {
    let given = match parameter {
        Parameter::CellOpeningTime if grade.constants.cell_opening_time.is_finite() => {
            grade.constants.cell_opening_time
        }
        Parameter::PartingGap => mold.cavity.parting_line.map_or(0.0, |line| line.gap),
        Parameter::GasRetention => mold.cavity.gas_retention,
        Parameter::MoldRateFactor => mold.cavity.rate_factor,
        _ => return belief,
    };
    if given > 0.0 { belief.around(given) } else { belief }
}

fn first_noise(model: &TrialModel) -> Option<SeriesNoise> {
    let is_trace = |o: &&super::model::Observed| matches!(o.reading, Reading::TracePressure(_));
    let count = model.observed.iter().filter(is_trace).count();
    (count > 0).then(|| SeriesNoise::assumed(count, FIRST_TRACE_SD, FIRST_EFFECTIVE))
}

impl Rounds for Problem<'_> {
    fn space(&self) -> &Space {
        &self.space
    }

    /// The first start is what is believed; the others lie around it.
    fn starts(&self, count: usize) -> Vec<Array1<f64>> {
        let (lower, upper) = self.space.bounds();
        let around = |index: usize| {
            let mut z = vec![0.0; self.space.len()];
            if index > 0 {
                z[..self.shared].copy_from_slice(&scattered(index, self.shared));
            }
            Array1::from_shape_fn(z.len(), |j| z[j].clamp(lower[j], upper[j]))
        };
        (0..count).map(around).collect()
    }

    fn learn_noise(&mut self, z: ArrayView1<f64>, _: &FitOptions) -> Result<()> {
        self.noise = self.trace_noise(z)?;
        self.found = found_scatters(self, z, self.scatter, self.believed)?;
        self.scatter = self.found.variance_of_castings(self.scatter).sqrt();
        Ok(())
    }

    fn refine(&mut self, accuracy: Accuracy) {
        self.models.iter_mut().for_each(|model| model.accuracy = accuracy);
    }
}

impl Records for Problem<'_> {
    fn space(&self) -> &Space {
        &self.space
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

    fn slopes(&self, record: usize, values: &[f64], rates: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
        let model = &self.models[record];
        let (outputs, mut slopes) = differentiate(model, &self.inputs(record, values), &self.inputs(record, rates))?;
        let (misfits, steep): (Vec<f64>, Vec<f64>) = self.counted(record, &outputs).into_iter().unzip();
        slopes.rows_mut().into_iter().zip(steep).for_each(|(mut row, by)| row.mapv_inplace(|slope| slope * by));
        Ok((misfits, slopes))
    }
}

impl Residuals for Problem<'_> {
    fn n_residuals(&self) -> usize {
        let rows = |m: &TrialModel| condensed_rows(m.observed.len(), m.parameters.len());
        self.models.iter().map(rows).sum::<usize>() + self.space.len()
    }

    fn n_readings(&self) -> usize {
        self.models.iter().map(|m| m.observed.len()).sum::<usize>() + self.space.len()
    }

    fn evaluate(&self, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        stacked(self, z)
    }

    fn residuals(&self, z: ArrayView1<f64>) -> Result<Array1<f64>> {
        stacked_values(self, z)
    }
}
