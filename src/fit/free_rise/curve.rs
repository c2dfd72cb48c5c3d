//! The fitted rise of one log at any times, such as those of a smooth curve.

use super::FreeRiseFit;
use crate::error::{Error, Result};
use crate::fit::results::Estimate;
use crate::fit::setup::{CupSetup, LotFoam};
use crate::physics::casting::Accuracy;
use crate::physics::cup::{CupTest, FreeRise, free_rise};
use crate::records::RiseLog;

/// A fitted cup test at given times.
#[derive(Clone, Debug, PartialEq)]
pub struct CupCurve {
    /// The rise.
    pub rise: FreeRise,
    /// What would be read: height (m) where the log has heights, else volume (m3); shape (n,).
    pub height_or_volume: Vec<f64>,
}

impl FreeRiseFit {
    /// The rise of log number `index` at these times (s, rising), its own differences taken into account. Heights count
    /// from the surface at the first of the times, as in the fit.
    ///
    /// # Errors
    /// [`Error::Argument`] where there is no such log; else as [`free_rise`].
    pub fn curve(&self, index: usize, times: &[f64]) -> Result<CupCurve> {
        let Some(fitted) = self.logs.get(index) else {
            return Err(Error::argument("index", index, format!("below {}", self.logs.len()), "count logs from 0"));
        };
        let log = &fitted.log;
        let mut setup = CupSetup { foam: LotFoam::new(self.grade.constants), test: unlagged(log), dome_fraction: 0.0 };
        self.estimates_of(index).for_each(|e| setup.set(e.parameter, e.value));
        let rise = free_rise(&setup.foam.constants(), &setup.test, times, Accuracy::default())?;
        let volumes: Vec<f64> = rise.volume.iter().map(|v| v * log.mass).collect();
        let height_or_volume = match (&log.cup, &log.height, volumes.first()) {
            (Some(cup), Some(_), Some(poured)) => {
                let from = cup.height_of(*poured);
                volumes.iter().map(|v| from + (cup.height_of(*v) - from) * (1.0 + setup.dome_fraction)).collect()
            }
            _ => volumes,
        };
        Ok(CupCurve { rise, height_or_volume })
    }

    /// What log number `index` was fitted with: the shared parameters, then its own.
    pub fn estimates_of(&self, index: usize) -> impl Iterator<Item = &Estimate> {
        let shared = self.estimates.iter().take_while(|e| e.record.is_none()).count();
        let each = (self.estimates.len() - shared) / self.logs.len().max(1);
        let own = self.estimates.iter().skip(shared + index * each).take(each);
        self.estimates.iter().take(shared).chain(own)
    }
}

fn unlagged(log: &RiseLog) -> CupTest {
    CupTest {
        mass: log.mass,
        mix_temp: log.mix_temp,
        ambient_temp: log.ambient_temp,
        ambient_pressure: log.ambient_pressure,
        heat_area: log.cup.map_or(0.0, |cup| cup.inner_area()),
        heat_transfer: 0.0,
        core_heat_loss_factor: 0.0,
        sensor_lag: 0.0,
    }
}
