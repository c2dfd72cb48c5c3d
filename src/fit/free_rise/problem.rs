//! The sum of squares of a free-rise fit: every reading over its scatter, and every prior.

use ndarray::{Array1, Array2, ArrayView1};

use super::model::{CupReading, LogModel};
use crate::error::Result;
use crate::fit::options::{FitOptions, scattered};
use crate::fit::setup::grade_with;
use crate::inference::coordinates::{Axis, Coordinates};
use crate::inference::least_squares::{Residuals, condensed_rows};
use crate::inference::likelihood::{Law, Shape};
use crate::inference::noise::SeriesNoise;
use crate::inference::record_information::{stacked, stacked_values};
use crate::inference::records::Records;
use crate::inference::reweighting::Reweighted;
use crate::model::FoamConstants;
use crate::model::Parameter;
use crate::numerics::jacobian::{Function, differentiate};
use crate::physics::casting::Accuracy;
use crate::physics::properties::{CO2_MOLAR_MASS, GAS_CONSTANT, REFERENCE_TEMP};
use crate::records::{Grade, RiseLog};

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
/// What the model itself misses (layers, gas that is late, gel that still gives way), as a share of a series' whole
/// change. Without it a long log passes for proof of whatever constants bend one rise curve into another: gas yields
/// came out 1.3 times too high, three standard errors off. Common practice, no source.
const RISE_MISSED: f64 = 0.005;
const TEMP_MISSED: f64 = 0.01;
/// Readings of a series that count before its scatter is known.
const FIRST_EFFECTIVE: f64 = 20.0;

pub(super) struct Problem<'a> {
    pub models: Vec<LogModel<'a>>,
    pub coordinates: Coordinates<Parameter>,
    pub shared: usize,
    /// Scatter of rise and temperature of each log.
    pub noise: Vec<(SeriesNoise, SeriesNoise)>,
    /// What the model is taken to miss of logged rises, as a multiple of what is usual.
    pub model_error: f64,
    pub name: String,
}

impl<'a> Problem<'a> {
    pub fn new(logs: &'a [RiseLog], start: &Grade, options: &'a FitOptions) -> Self {
        let axis = |record: Option<usize>| {
            move |parameter: Parameter| Axis { parameter, record, prior: options.prior(parameter) }
        };
        let free = |p: &Parameter| options.held(*p).is_none();
        let mut axes: Vec<Axis<Parameter>> = Parameter::shared_by_cups().filter(free).map(axis(None)).collect();
        let shared = axes.len();
        for i in 0..logs.len() {
            axes.extend(Parameter::of_each_cup().filter(free).map(axis(Some(i))));
        }
        let foam = grade_with(start.constants, options.held.iter().copied());
        let coordinates = Coordinates::new(axes);
        let models: Vec<_> = logs
            .iter()
            .enumerate()
            .map(|(i, log)| {
                let parameters = coordinates.parameters_of_record(i);
                LogModel { log, foam, parameters, held: &options.held, accuracy: options.accuracy }
            })
            .collect();
        let noise = logs.iter().map(first_noise).collect();
        Problem { models, coordinates, shared, noise, model_error: options.model_error, name: start.name.clone() }
    }

    /// Gas yield from the largest volume, rates from the gel time, heat from the hottest reading.
    fn glance(&self) -> Array1<f64> {
        let mut z = Array1::zeros(self.coordinates.len());
        let mut place = |parameter: Parameter, value: Option<f64>| {
            let axis = self.coordinates.axes.iter().position(|a| a.parameter == parameter && a.record.is_none());
            if let (Some(j), Some(value)) = (axis, value) {
                let prior = &self.coordinates.axes[j].prior;
                z[j] = prior.sds(value.clamp(prior.low * 1.01, prior.high * 0.99));
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

    /// Standard deviation of each reading of a log.
    fn sds(&self, record: usize) -> Vec<f64> {
        let (rise, temp) = &self.noise[record];
        let sd = |(kind, value): &(CupReading, f64)| match kind {
            CupReading::Height(_) | CupReading::Volume(_) => rise.weight_sd,
            CupReading::Temp(_) => temp.weight_sd,
            CupReading::Cream => CREAM_SD,
            CupReading::StringGel => GEL_SD,
            CupReading::EndOfRise => END_SD,
            CupReading::Density => DENSITY_SD * value,
        };
        self.models[record].readings().iter().map(sd).collect()
    }

    pub fn inputs(&self, record: usize, all: &[f64]) -> Vec<f64> {
        self.coordinates.inputs_of_record(record, all)
    }
}

impl Reweighted for Problem<'_> {
    fn bounds(&self) -> (Array1<f64>, Array1<f64>) {
        self.coordinates.bounds()
    }

    /// The first start is what the logs suggest at a glance; the others lie around it.
    fn starts(&self, count: usize) -> Vec<Array1<f64>> {
        let first = self.glance();
        let (lower, upper) = self.coordinates.bounds();
        let around = |index: usize| {
            let mut z = first.clone();
            for (j, offset) in scattered(index, self.shared).into_iter().enumerate() {
                z[j] += offset;
            }
            Array1::from_shape_fn(z.len(), |j| z[j].clamp(lower[j], upper[j]))
        };
        (0..count).map(|i| if i == 0 { around(0) } else { around(i) }).collect()
    }

    fn reweight(&mut self, z: ArrayView1<f64>) -> Result<()> {
        let values = self.coordinates.values(z);
        for i in 0..self.models.len() {
            let model = &self.models[i];
            let outputs = model.outputs(&self.inputs(i, &values))?;
            let readings = model.readings();
            let (mut rise, mut temp) = (Vec::new(), Vec::new());
            for (output, (kind, value)) in outputs.iter().zip(&readings) {
                match kind {
                    CupReading::Height(_) | CupReading::Volume(_) => rise.push(output - value),
                    CupReading::Temp(_) => temp.push(output - value),
                    _ => {}
                }
            }
            let read = |wanted: fn(&CupReading) -> bool| -> Vec<f64> {
                readings.iter().filter(|(kind, _)| wanted(kind)).map(|(_, value)| *value).collect()
            };
            let heights = read(|kind| matches!(kind, CupReading::Height(_) | CupReading::Volume(_)));
            let temps = read(|kind| matches!(kind, CupReading::Temp(_)));
            self.noise[i] = (
                SeriesNoise::of(&rise, rise_floor(model.log)).missed(self.model_error * RISE_MISSED, &heights),
                SeriesNoise::of(&temp, TEMP_SD).missed(self.model_error * TEMP_MISSED, &temps),
            );
        }
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
        vec![Law::of(Shape::Normal); self.models[record].readings().len()]
    }

    fn misfits(&self, record: usize, values: &[f64]) -> Result<Vec<f64>> {
        let model = &self.models[record];
        let outputs = model.outputs(&self.inputs(record, values))?;
        let read = model.readings().into_iter().zip(self.sds(record));
        Ok(outputs.iter().zip(read).map(|(output, ((_, value), sd))| (output - value) / sd).collect())
    }

    fn products(&self) -> Vec<(Parameter, Parameter)> {
        Parameter::products().collect()
    }

    fn slopes(&self, record: usize, values: &[f64], derivatives: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
        let model = &self.models[record];
        let (mut misfits, mut slopes) =
            differentiate(model, &self.inputs(record, values), &self.inputs(record, derivatives))?;
        for (k, ((_, value), sd)) in model.readings().iter().zip(self.sds(record)).enumerate() {
            misfits[k] = (misfits[k] - value) / sd;
            slopes.row_mut(k).mapv_inplace(|slope| slope / sd);
        }
        Ok((misfits, slopes))
    }
}

impl Residuals for Problem<'_> {
    fn n_residuals(&self) -> usize {
        let rows = |m: &LogModel| condensed_rows(m.readings().len(), m.parameters.len());
        self.models.iter().map(rows).sum::<usize>() + self.coordinates.len()
    }

    fn n_readings(&self) -> usize {
        self.models.iter().map(|m| m.readings().len()).sum::<usize>() + self.coordinates.len()
    }

    fn evaluate(&self, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        stacked(self, z)
    }

    fn residuals(&self, z: ArrayView1<f64>) -> Result<Array1<f64>> {
        stacked_values(self, z)
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
    Some(free + foam.solubility * log.ambient_pressure / CO2_MOLAR_MASS)
}
