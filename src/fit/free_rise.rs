//! The fit of a grade to its cup tests: several logs at once, each with its own small differences.

use ndarray::{Array1, Array2, ArrayView1, s};

use super::estimate::{Estimate, Status, covariance_of_positions, covariance_of_spreads, estimates};
use super::noise::SeriesNoise;
use super::options::{FitOptions, scattered};
use super::parameter::{CupSetup, Parameter};
use super::space::{Axis, Space};
use crate::error::{Error, Result};
use crate::numerics::Scalar;
use crate::numerics::lanes::{Function, differentiate};
use crate::numerics::least_squares::{Bounds, MultiStart, Residuals, Solution, fit_from_starts};
use crate::physics::casting::Accuracy;
use crate::physics::cup::{CupTest, FreeRise, free_rise};
use crate::physics::properties::{GAS_CONSTANT, REFERENCE_TEMP};
use crate::records::{FoamConstants, Grade, RiseLog};

/// Sensors' own scatter: no series is taken as better than this. Common practice, no source.
const HEIGHT_SD: f64 = 0.3e-3;
const VOLUME_SHARE_SD: f64 = 0.005;
const TEMP_SD: f64 = 0.2;
/// Scatter of a hand on a stopwatch, and of the eye that decides, s. Common practice, no source.
const CREAM_SD: f64 = 2.0;
const GEL_SD: f64 = 2.5;
const END_SD: f64 = 4.0;
/// Scatter of a measured free-rise density, as a share of it. Common practice, no source.
const DENSITY_SD: f64 = 0.015;
/// Rounds in which the scatter of the series is found from the residuals.
const ROUNDS: usize = 4;
/// Readings of a series that count before its scatter is known.
const FIRST_EFFECTIVE: f64 = 20.0;

/// A grade fitted to cup tests.
#[derive(Clone, Debug)]
pub struct FreeRiseFit {
    /// The fitted grade.
    pub grade: Grade,
    /// Every parameter with its error and status: first the shared ones, then each log's own.
    pub estimates: Vec<Estimate>,
    /// Each log with its fitted curve and the scatter about it.
    pub logs: Vec<FittedLog>,
    /// Covariance of the shared parameters, in spreads of their beliefs; shape (k, k).
    pub covariance: Array2<f64>,
    /// Spreads of the shared parameters from their beliefs' centers; shape (k,).
    pub spreads: Array1<f64>,
    /// The solution in the fit's own coordinates.
    pub solution: Solution,
    /// Starts that ended in the answer, and how many there were.
    pub agreeing_starts: (usize, usize),
    /// Whether the answer can be stood behind.
    pub success: bool,
    /// What the user should know, in words.
    pub warnings: Vec<String>,
}

/// A log with its fitted curve.
#[derive(Clone, Debug)]
pub struct FittedLog {
    /// The log.
    pub log: RiseLog,
    /// The fitted rise at the log's times.
    pub rise: FreeRise,
    /// Scatter of the heights (m) or volumes (m3).
    pub rise_noise: Option<SeriesNoise>,
    /// Scatter of the temperatures, K.
    pub temp_noise: Option<SeriesNoise>,
}

/// Fits a grade to one or several cup tests. `start`: what is known of the grade already; its constants that are not fitted
/// are kept.
///
/// # Errors
/// [`Error::TooFewRecords`] where no log says anything of the rise; [`Error::Fit`] where no start leads to an answer.
pub fn fit_free_rise(logs: &[RiseLog], start: &Grade, options: &FitOptions) -> Result<FreeRiseFit> {
    check(logs)?;
    let mut problem = Problem::new(logs, start, options);
    let bounds = problem.bounds()?;
    let settings = options.settings();
    let mut starts = problem.starts(options.starts.max(1));
    let mut agreement = None;
    for round in 0..ROUNDS {
        let many = fit_from_starts(&problem, &bounds, &starts, &settings)?;
        starts = vec![many.best.parameters.clone()];
        if round == 0 {
            agreement = Some((many.agreeing, many.ends.len(), many.is_unique()));
        }
        if round + 1 == ROUNDS {
            return problem.conclude(many, agreement.unwrap_or((0, 0, true)));
        }
        problem.learn_noise(many.best.parameters.view())?;
    }
    Err(Error::Fit { reason: "no round was run".into(), advice: "report this".into() })
}

fn check(logs: &[RiseLog]) -> Result<()> {
    let tells = |log: &RiseLog| {
        let w = &log.stopwatch;
        log.height.is_some()
            || log.volume.is_some()
            || log.free_rise_density.is_some()
            || [w.cream, w.string_gel, w.end_of_rise].iter().any(Option::is_some)
            || log.temp.is_some()
    };
    if logs.iter().any(tells) {
        return Ok(());
    }
    Err(Error::TooFewRecords {
        wanted: "a free-rise fit".into(),
        found: format!("{} logs, none with a height, volume, temperature, stopwatch time or density", logs.len()),
        advice: "log the height over time of one cup, with its mass and temperature".into(),
    })
}

/// One log as the fit sees it.
struct LogModel<'a> {
    log: &'a RiseLog,
    foam: FoamConstants,
    parameters: Vec<Parameter>,
    accuracy: Accuracy,
}

/// What a log's outputs are, in their order.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Reading {
    Height(usize),
    Volume(usize),
    Temp(usize),
    Cream,
    StringGel,
    EndOfRise,
    Density,
}

impl LogModel<'_> {
    /// Everything that was read, in a fixed order.
    fn readings(&self) -> Vec<(Reading, f64)> {
        let log = self.log;
        let series = |values: &Option<Vec<f64>>, kind: fn(usize) -> Reading| -> Vec<(Reading, f64)> {
            let values = values.iter().flatten().enumerate();
            values.filter(|(_, v)| v.is_finite()).map(|(i, v)| (kind(i), *v)).collect()
        };
        let mut all = series(&log.height, Reading::Height);
        all.extend(series(&log.volume, Reading::Volume));
        all.extend(series(&log.temp, Reading::Temp));
        let watch = &log.stopwatch;
        let single = [
            (Reading::Cream, watch.cream),
            (Reading::StringGel, watch.string_gel),
            (Reading::EndOfRise, watch.end_of_rise),
            (Reading::Density, log.free_rise_density),
        ];
        all.extend(single.iter().filter_map(|(kind, value)| value.map(|v| (*kind, v))));
        all
    }

    fn rise<S: Scalar>(&self, inputs: &[S]) -> Result<(FreeRise<S>, FoamConstants<S>)> {
        let log = self.log;
        let mut setup = CupSetup {
            foam: self.foam.map(S::constant),
            test: CupTest {
                mass: S::constant(log.mass),
                mix_temp: S::constant(log.mix_temp),
                ambient_temp: S::constant(log.ambient_temp),
                ambient_pressure: S::constant(log.ambient_pressure),
                heat_area: S::constant(log.cup.map_or(0.0, |cup| cup.inner_area())),
                heat_transfer: S::zero(),
                sensor_lag: S::zero(),
            },
        };
        self.parameters.iter().zip(inputs).for_each(|(parameter, value)| setup.set(*parameter, *value));
        Ok((free_rise(&setup.foam, &setup.test, &log.time, self.accuracy)?, setup.foam))
    }
}

impl Function for LogModel<'_> {
    fn outputs<S: Scalar>(&self, inputs: &[S]) -> Result<Vec<S>> {
        let (rise, foam) = self.rise(inputs)?;
        let missing = |what: &str| Error::Integration {
            trial: Some(self.log.name.clone()),
            time_s: 7200.0,
            reason: format!("the model never comes to {what}"),
            suspect: "gel_rate, blow_rate and gas_yield".into(),
        };
        let mass = self.log.mass;
        let height = |volume: S| match &self.log.cup {
            Some(cup) => cup.height_of(volume * mass),
            None => volume * mass,
        };
        self.readings()
            .iter()
            .map(|(kind, _)| match *kind {
                Reading::Height(i) => Ok(height(rise.volume[i])),
                Reading::Volume(i) => Ok(rise.volume[i] * mass),
                Reading::Temp(i) => Ok(rise.sensed[i]),
                Reading::Cream => rise.cream_time.ok_or_else(|| missing("cream")),
                Reading::StringGel => rise.gel_time.ok_or_else(|| missing("string gel")),
                Reading::EndOfRise => rise.end_of_rise.ok_or_else(|| missing("the end of its rise")),
                Reading::Density => Ok(rise.density / (S::one() - foam.settle)),
            })
            .collect()
    }
}

struct Problem<'a> {
    models: Vec<LogModel<'a>>,
    space: Space,
    shared: usize,
    /// Scatter of rise and temperature of each log.
    noise: Vec<(SeriesNoise, SeriesNoise)>,
    name: String,
}

impl<'a> Problem<'a> {
    fn new(logs: &'a [RiseLog], start: &Grade, options: &FitOptions) -> Self {
        let axis = |record: Option<usize>| {
            move |parameter: Parameter| Axis { parameter, record, belief: options.belief(parameter) }
        };
        let free = |p: &Parameter| options.held(*p).is_none();
        let mut axes: Vec<Axis> = Parameter::CUP.into_iter().filter(free).map(axis(None)).collect();
        let shared = axes.len();
        for i in 0..logs.len() {
            axes.extend(Parameter::PER_LOG.into_iter().filter(free).map(axis(Some(i))));
        }
        let mut foam = start.constants;
        for (parameter, value) in &options.held {
            if let Some(field) = super::parameter::foam_field(*parameter, &mut foam) {
                *field = *value;
            }
        }
        let space = Space::new(axes);
        let models: Vec<_> = logs
            .iter()
            .enumerate()
            .map(|(i, log)| {
                let parameters = space.of_record(i).iter().map(|&j| space.axes[j].parameter).collect();
                LogModel { log, foam, parameters, accuracy: options.accuracy }
            })
            .collect();
        let noise = logs.iter().map(first_noise).collect();
        Problem { models, space, shared, noise, name: start.name.clone() }
    }

    fn bounds(&self) -> Result<Bounds> {
        let (lower, upper) = self.space.bounds();
        Bounds::new(lower, upper)
    }

    /// The first start is what the logs suggest at a glance; the others lie around it.
    fn starts(&self, count: usize) -> Vec<Array1<f64>> {
        let first = self.glance();
        let (lower, upper) = self.space.bounds();
        let around = |index: usize| {
            let mut z = first.clone();
            for (j, offset) in scattered(index, self.shared).into_iter().enumerate() {
                z[j] += offset;
            }
            Array1::from_shape_fn(z.len(), |j| z[j].clamp(lower[j], upper[j]))
        };
        (0..count).map(|i| if i == 0 { around(0) } else { around(i) }).collect()
    }

    /// Gas yield from the largest volume, rates from the gel time, heat from the hottest reading.
    fn glance(&self) -> Array1<f64> {
        let mut z = Array1::zeros(self.space.len());
        let mut place = |parameter: Parameter, value: Option<f64>| {
            let axis = self.space.axes.iter().position(|a| a.parameter == parameter && a.record.is_none());
            if let (Some(j), Some(value)) = (axis, value) {
                let belief = &self.space.axes[j].belief;
                z[j] = belief.position(value.clamp(belief.low * 1.01, belief.high * 0.99));
            }
        };
        let logs = || self.models.iter().map(|m| m.log);
        place(
            Parameter::GasYield,
            logs().filter_map(|log| gas_at_a_glance(log, &self.models[0].foam)).reduce(f64::max),
        );
        let gel = logs().find_map(|log| log.stopwatch.string_gel.or(log.stopwatch.end_of_rise));
        place(Parameter::GelRate, gel.map(|t| 1.0 / t));
        place(Parameter::BlowRate, gel.map(|t| 1.5 / t));
        let rise = logs().filter_map(|log| {
            let top = log.temp.iter().flatten().copied().filter(|t| t.is_finite()).reduce(f64::max)?;
            Some((top - log.mix_temp).max(5.0))
        });
        place(Parameter::GelHeat, rise.reduce(f64::max).map(|dt| 1.05 * dt));
        z
    }

    fn weights(&self, record: usize) -> impl Fn(&Reading, f64) -> f64 + '_ {
        let (rise, temp) = &self.noise[record];
        move |kind, value| match kind {
            Reading::Height(_) | Reading::Volume(_) => rise.weight_sd,
            Reading::Temp(_) => temp.weight_sd,
            Reading::Cream => CREAM_SD,
            Reading::StringGel => GEL_SD,
            Reading::EndOfRise => END_SD,
            Reading::Density => DENSITY_SD * value,
        }
    }

    fn inputs(&self, record: usize, all: &[f64]) -> Vec<f64> {
        self.space.of_record(record).iter().map(|&j| all[j]).collect()
    }

    /// Finds each series' scatter from its residuals at these positions.
    fn learn_noise(&mut self, z: ArrayView1<f64>) -> Result<()> {
        let values = self.space.values(z);
        for i in 0..self.models.len() {
            let model = &self.models[i];
            let outputs = model.outputs(&self.inputs(i, &values))?;
            let readings = model.readings();
            let (mut rise, mut temp) = (Vec::new(), Vec::new());
            for (output, (kind, value)) in outputs.iter().zip(&readings) {
                match kind {
                    Reading::Height(_) | Reading::Volume(_) => rise.push(output - value),
                    Reading::Temp(_) => temp.push(output - value),
                    _ => {}
                }
            }
            let floor = rise_floor(model.log);
            self.noise[i] = (SeriesNoise::of(&rise, floor), SeriesNoise::of(&temp, TEMP_SD));
        }
        Ok(())
    }

    fn conclude(self, many: MultiStart, agreement: (usize, usize, bool)) -> Result<FreeRiseFit> {
        let solution = many.best;
        let names: Vec<String> = self.models.iter().map(|m| m.log.name.clone()).collect();
        let covariance = covariance_of_spreads(&self.space, &covariance_of_positions(&solution, 1.0));
        let estimates = estimates(&self.space, &solution, &covariance, &names);
        let values = self.space.values(solution.parameters.view());
        let mut constants = self.models[0].foam;
        for (axis, value) in self.space.axes[..self.shared].iter().zip(&values) {
            if let Some(field) = super::parameter::foam_field(axis.parameter, &mut constants) {
                *field = *value;
            }
        }
        let mut logs = Vec::new();
        for (i, model) in self.models.iter().enumerate() {
            let (rise, _) = model.rise(&self.inputs(i, &values))?;
            let has_rise = model.log.height.is_some() || model.log.volume.is_some();
            let (rise_noise, temp_noise) = self.noise[i];
            logs.push(FittedLog {
                log: model.log.clone(),
                rise,
                rise_noise: has_rise.then_some(rise_noise),
                temp_noise: model.log.temp.as_ref().map(|_| temp_noise),
            });
        }
        let (agreeing, starts, unique) = agreement;
        let success = solution.is_minimum() && unique;
        let note = format!("fitted to {} cup tests: {}", names.len(), names.join(", "));
        let spreads = self.space.spreads(solution.parameters.view()).slice(s![..self.shared]).to_owned();
        let warnings = warnings(&estimates, &logs, success, unique);
        Ok(FreeRiseFit {
            grade: Grade { name: self.name, note, constants },
            estimates,
            logs,
            covariance: covariance.slice(s![..self.shared, ..self.shared]).to_owned(),
            spreads,
            solution,
            agreeing_starts: (agreeing, starts),
            success,
            warnings,
        })
    }
}

impl Residuals for Problem<'_> {
    fn n_residuals(&self) -> usize {
        self.models.iter().map(|m| m.readings().len()).sum::<usize>() + self.space.len()
    }

    fn evaluate(&self, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        let (values, rates) = (self.space.values(z), self.space.rates(z));
        let n = self.space.len();
        let mut residuals = Array1::zeros(self.n_residuals());
        let mut jacobian = Array2::zeros((self.n_residuals(), n));
        let mut row = 0;
        for (i, model) in self.models.iter().enumerate() {
            let axes = self.space.of_record(i);
            let (outputs, slopes) = differentiate(model, &self.inputs(i, &values), &self.inputs(i, &rates))?;
            let weight = self.weights(i);
            for (k, (kind, value)) in model.readings().iter().enumerate() {
                let sd = weight(kind, *value);
                residuals[row] = (outputs[k] - value) / sd;
                for (local, &j) in axes.iter().enumerate() {
                    jacobian[[row, j]] = slopes[[k, local]] / sd;
                }
                row += 1;
            }
        }
        // Beliefs: a unit normal each.
        for j in 0..n {
            residuals[row + j] = z[j];
            jacobian[[row + j, j]] = 1.0;
        }
        Ok((residuals, jacobian))
    }

    fn residuals(&self, z: ArrayView1<f64>) -> Result<Array1<f64>> {
        let values = self.space.values(z);
        let mut residuals = Vec::with_capacity(self.n_residuals());
        for (i, model) in self.models.iter().enumerate() {
            let outputs = model.outputs(&self.inputs(i, &values))?;
            let weight = self.weights(i);
            let pairs = outputs.iter().zip(model.readings());
            residuals.extend(pairs.map(|(output, (kind, value))| (output - value) / weight(&kind, value)));
        }
        residuals.extend(z);
        Ok(Array1::from(residuals))
    }
}

fn rise_floor(log: &RiseLog) -> f64 {
    match (&log.height, &log.volume) {
        (None, Some(volumes)) => {
            VOLUME_SHARE_SD * volumes.iter().copied().filter(|v| v.is_finite()).fold(0.0, f64::max)
        }
        _ => HEIGHT_SD,
    }
}

/// Before anything is fitted, a series is taken to be as uncertain as a first look: 3 % of its largest reading.
fn first_noise(log: &RiseLog) -> (SeriesNoise, SeriesNoise) {
    let series = |values: &Option<Vec<f64>>| -> Vec<f64> {
        values.iter().flatten().copied().filter(|v| v.is_finite()).collect()
    };
    let rise = if log.height.is_some() { series(&log.height) } else { series(&log.volume) };
    let top = rise.iter().copied().fold(0.0, f64::max);
    let temps = series(&log.temp);
    (
        SeriesNoise::assumed(rise.len(), (0.03 * top).max(rise_floor(log)), FIRST_EFFECTIVE),
        SeriesNoise::assumed(temps.len(), 2.0, FIRST_EFFECTIVE),
    )
}

/// The gas yield that the largest volume of a log comes to at the hottest temperature, with some of it dissolved.
fn gas_at_a_glance(log: &RiseLog, foam: &FoamConstants) -> Option<f64> {
    let top = |values: &Option<Vec<f64>>| values.iter().flatten().copied().filter(|v| v.is_finite()).reduce(f64::max);
    let volume = match (top(&log.height), log.cup) {
        (Some(height), Some(cup)) => Some(cup.volume_to(height) / log.mass),
        _ => top(&log.volume).map(|v| v / log.mass),
    };
    let volume = volume.or(log.free_rise_density.map(|d| 1.0 / d))?;
    let temp = top(&log.temp).unwrap_or(REFERENCE_TEMP + 50.0);
    let free = (volume - 1.0 / foam.liquid_density) * log.ambient_pressure / (GAS_CONSTANT * temp);
    Some(free + foam.solubility * log.ambient_pressure / crate::physics::properties::CO2_MOLAR_MASS)
}

fn warnings(estimates: &[Estimate], logs: &[FittedLog], success: bool, unique: bool) -> Vec<String> {
    let mut out = Vec::new();
    if !success {
        out.push("the fit did not reach an answer to stand behind: do not use its numbers".to_owned());
    }
    if !unique {
        out.push("another set of constants fits these logs as well: log another temperature".to_owned());
    }
    let temps: Vec<f64> = logs.iter().map(|l| l.log.mix_temp).collect();
    let span = temps.iter().copied().fold(f64::MIN, f64::max) - temps.iter().copied().fold(f64::MAX, f64::min);
    if span < 3.0 {
        out.push(format!(
            "the logs span {span:.1} K of mix temperature: activation energies are mostly belief; log a cup at least 5 K colder or warmer"
        ));
    }
    for estimate in estimates.iter().filter(|e| e.status == Status::AtBound) {
        out.push(format!("{} stands at the end of what is allowed", estimate.name()));
    }
    for log in logs {
        let assumed = log.log.assumed.iter().map(|a| format!("{}: assumed {a}", log.log.name));
        out.extend(assumed);
    }
    out
}
