//! One cup test as the fit sees it: what was read, and what the model says to that.

use crate::error::{Error, Result};
use crate::fit::setup::{CupSetup, LotFoam};
use crate::model::FoamConstants;
use crate::model::Parameter;
use crate::numerics::Scalar;
use crate::numerics::jacobian::Function;
use crate::physics::casting::Accuracy;
use crate::physics::cup::{CupTest, FreeRise, free_rise};
use crate::records::RiseLog;

/// One log as the fit sees it.
pub(super) struct LogModel<'a> {
    pub log: &'a RiseLog,
    pub foam: FoamConstants,
    pub parameters: Vec<Parameter>,
    /// What keeps a given value, SI.
    pub held: &'a [(Parameter, f64)],
    pub accuracy: Accuracy,
}

/// What a log's outputs are, in their order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum CupReading {
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
    pub fn readings(&self) -> Vec<(CupReading, f64)> {
        let log = self.log;
        let series = |values: &Option<Vec<f64>>, kind: fn(usize) -> CupReading| -> Vec<(CupReading, f64)> {
            let values = values.iter().flatten().enumerate();
            values.filter(|(_, v)| v.is_finite()).map(|(i, v)| (kind(i), *v)).collect()
        };
        let mut all = series(&log.height, CupReading::Height);
        all.extend(series(&log.volume, CupReading::Volume));
        all.extend(series(&log.temp, CupReading::Temp));
        let watch = &log.stopwatch;
        let single = [
            (CupReading::Cream, watch.cream),
            (CupReading::StringGel, watch.string_gel),
            (CupReading::EndOfRise, watch.end_of_rise),
            (CupReading::Density, log.free_rise_density),
        ];
        all.extend(single.iter().filter_map(|(kind, value)| value.map(|v| (*kind, v))));
        all
    }

    pub fn rise<S: Scalar>(&self, inputs: &[S]) -> Result<(FreeRise<S>, CupSetup<S>)> {
        let log = self.log;
        let mut setup = CupSetup {
            foam: LotFoam::new(self.foam.map(S::constant)),
            test: CupTest {
                mass: S::constant(log.mass),
                mix_temp: S::constant(log.mix_temp),
                ambient_temp: S::constant(log.ambient_temp),
                ambient_pressure: S::constant(log.ambient_pressure),
                heat_area: S::constant(log.cup.map_or(0.0, |cup| cup.inner_area())),
                heat_transfer: S::zero(),
                core_heat_loss_factor: S::zero(),
                sensor_lag: S::zero(),
            },
            dome_fraction: S::zero(),
        };
        self.held.iter().for_each(|(parameter, value)| setup.set(*parameter, S::constant(*value)));
        self.parameters.iter().zip(inputs).for_each(|(parameter, value)| setup.set(*parameter, *value));
        Ok((free_rise(&setup.foam.constants(), &setup.test, &log.time, self.accuracy)?, setup))
    }

    /// Height (m) where the log has heights, else volume (m3), at these specific volumes of a rise.
    pub fn shown<S: Scalar>(&self, rise: &FreeRise<S>, dome_fraction: S) -> Vec<S> {
        let mass = self.log.mass;
        let height = |volume: &S| match (&self.log.cup, rise.volume.first()) {
            (Some(cup), Some(poured)) if self.log.height.is_some() => {
                let from = cup.height_of(*poured * mass);
                from + (cup.height_of(*volume * mass) - from) * (dome_fraction + 1.0)
            }
            _ => *volume * mass,
        };
        rise.volume.iter().map(height).collect()
    }
}

impl Function for LogModel<'_> {
    fn outputs<S: Scalar>(&self, inputs: &[S]) -> Result<Vec<S>> {
        let (rise, setup) = self.rise(inputs)?;
        let missing = |what: &str| Error::Integration {
            trial: Some(self.log.name.clone()),
            time_s: 7200.0,
            reason: format!("the model never comes to {what}"),
            suspect: "gel_rate, blow_rate and gas_yield".into(),
        };
        let shown = self.shown(&rise, setup.dome_fraction);
        self.readings()
            .iter()
            .map(|(kind, _)| match *kind {
                CupReading::Height(i) | CupReading::Volume(i) => Ok(shown[i]),
                CupReading::Temp(i) => Ok(rise.sensed[i]),
                CupReading::Cream => rise.cream_time.ok_or_else(|| missing("cream")),
                CupReading::StringGel => rise.gel_time.ok_or_else(|| missing("string gel")),
                CupReading::EndOfRise => rise.end_of_rise.ok_or_else(|| missing("the end of its rise")),
                CupReading::Density => Ok(rise.density / (S::one() - setup.foam.constants().settling)),
            })
            .collect()
    }
}
