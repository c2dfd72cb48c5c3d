//! What a good part is: full, without flash, at its density, within a window of peak pressure.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::model::CastingResult;

/// What is asked of a casting besides being full and without flash, SI; pressures are gauge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Goal {
    /// Overall density, kg/m3.
    pub density: f64,
    /// How far the density may be off, as a share of it.
    pub tolerance: f64,
    /// Least and highest peak gauge pressure, Pa: the skin needs the one, mold and clamp stand the other.
    pub peak_pressure: Option<(f64, f64)>,
}

/// How far a density may be off if a shop does not say, as a share of it. Common practice, no source.
pub const USUAL_TOLERANCE: f64 = 0.03;

/// One thing that keeps a casting from being good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Limit {
    /// It has to fill the cavity.
    Full,
    /// Nothing may leave at the parting line.
    NoFlash,
    /// The density must not be below its tolerance.
    LeastDensity,
    /// The density must not be above its tolerance.
    HighestDensity,
    /// The peak pressure must not be below the window.
    LeastPressure,
    /// The peak pressure must not be above the window.
    HighestPressure,
}

impl Limit {
    /// All limits.
    pub const ALL: [Limit; 6] = [
        Limit::Full,
        Limit::NoFlash,
        Limit::LeastDensity,
        Limit::HighestDensity,
        Limit::LeastPressure,
        Limit::HighestPressure,
    ];

    /// The limit in words.
    pub fn words(self) -> &'static str {
        match self {
            Limit::Full => "a full part",
            Limit::NoFlash => "no flash",
            Limit::LeastDensity => "the least density",
            Limit::HighestDensity => "the highest density",
            Limit::LeastPressure => "the least peak pressure",
            Limit::HighestPressure => "the highest peak pressure",
        }
    }
}

impl Goal {
    /// Refuses what no part can be.
    pub(super) fn check(&self) -> Result<()> {
        if !(self.density > 0.0 && self.density.is_finite()) {
            return Err(Error::argument(
                "target_density",
                self.density,
                "a number above zero",
                "look at the value and its unit",
            ));
        }
        if !(self.tolerance > 0.0 && self.tolerance < 1.0) {
            let found = format!("{} %", 100.0 * self.tolerance);
            return Err(Error::argument("tolerance", found, "above 0, below 100 %", "3 % is common"));
        }
        match self.peak_pressure {
            Some((low, high)) if !(low >= 0.0 && low < high) => {
                let found = format!("{:.1} to {:.1} kPa", low / 1e3, high / 1e3);
                let expected = "a window: the floor first, zero or more, then a higher ceiling";
                Err(Error::argument("pressure", found, expected, "pressures are gauge: 0 is ambient"))
            }
            _ => Ok(()),
        }
    }

    /// How far inside each limit a casting is, in half widths of the tolerance or window; below zero: outside. Full and flash
    /// have no width: 1 or -1.
    pub(super) fn margins(&self, r: &CastingResult) -> [f64; 6] {
        let yes = |met: bool| if met { 1.0 } else { -1.0 };
        let reach = self.tolerance * self.density;
        let off = (r.density - self.density) / reach;
        let (floor, ceiling) = self.peak_pressure.map_or((1.0, 1.0), |(low, high)| {
            let half = 0.5 * (high - low);
            // Without a ceiling the floor counts in its own size.
            let half = if half.is_finite() { half } else { 0.5 * low.max(1e3) };
            ((r.peak_pressure - low) / half, (high - r.peak_pressure) / half)
        });
        [yes(r.verdict.is_full()), yes(!r.verdict.has_flash()), 1.0 + off, 1.0 - off, floor, ceiling]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_goal_no_part_can_meet_is_refused() {
        let good = Goal { density: 96.0, tolerance: 0.03, peak_pressure: Some((20e3, 60e3)) };
        assert!(good.check().is_ok());
        assert!(Goal { density: 0.0, ..good }.check().is_err());
        assert!(Goal { tolerance: 1.5, ..good }.check().is_err());
        assert!(Goal { peak_pressure: Some((60e3, 20e3)), ..good }.check().is_err());
    }
}
