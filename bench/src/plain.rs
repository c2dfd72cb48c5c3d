//! The plain casting that everything is measured against (invented): a light grade, 620 mL, one vent of 3 mm, 300 s.

use risefit::model::CastingResult;

use risefit::model::{Casting, Cavity, FoamConstants, Vent};
use risefit::{Accuracy, sampled};

/// One casting: what it is made of, in what, and how.
#[derive(Clone, Debug)]
pub struct Shot {
    /// The grade.
    pub foam: FoamConstants,
    /// The mold.
    pub cavity: Cavity,
    /// The settings.
    pub casting: Casting,
}

impl Shot {
    /// The plain casting, with 60 g.
    pub fn plain() -> Shot {
        let foam = FoamConstants { gas_yield: 0.5, ..FoamConstants::default() };
        let cavity = Cavity {
            volume: 620e-6,
            projected_area: 0.015,
            wall_area: 0.048,
            heat_transfer: 12.0,
            layers: 1,
            contact_transfer: Cavity::CONTACT_TRANSFER,
            conduction_factor: 1.0,
            stretch: 0.0,
            clamp_force: None,
            gas_retention: 1.0,
            rate_factor: 1.0,
            discharge: 0.82,
            vents: vec![Vent::hole(1, 3e-3, 12e-3, 1.0)],
            parting_line: None,
        };
        let casting = Casting {
            charge: 60e-3,
            left_in_cup: 0.0,
            mix_temp: 296.15,
            mold_temp: 303.15,
            ambient_pressure: 101_325.0,
            closing_time: 10.0,
            clamp_force: None,
            vent_diameters: vec![],
            leak: None,
            demold_time: 300.0,
            opening_limit: 5e3,
            weighed_after: 0.0,
        };
        Shot { foam, cavity, casting }
    }

    /// Nine castings around the plain one, so that no tolerance is right by luck: three charges in three vents.
    pub fn nine() -> Vec<Shot> {
        let with = |charge: f64, diameter: f64| {
            let mut shot = Shot::plain();
            shot.casting.charge = charge;
            shot.cavity.vents[0] = Vent::hole(1, diameter, 12e-3, 1.0);
            shot
        };
        [58e-3, 60e-3, 64e-3].iter().flat_map(|&c| [2e-3, 3e-3, 4e-3].map(|d| with(c, d))).collect()
    }

    /// Runs it without a trace.
    ///
    /// # Errors
    /// As [`sampled`].
    pub fn run(&self, relative: f64) -> risefit::Result<CastingResult> {
        Ok(sampled(&self.foam, &self.cavity, &self.casting, &[], Accuracy { relative })?.result)
    }
}

/// The outcome quantities whose error is measured: peak gauge pressure (Pa), fill time (s), density (kg/m3), vent loss
/// (kg).
pub fn outcome(result: &CastingResult) -> [f64; 4] {
    [result.peak_pressure, result.fill_time.unwrap_or(f64::NAN), result.density, result.vent_loss]
}

/// The largest relative error of the outcome quantities against exact ones.
pub fn worst_error(found: &[f64; 4], exact: &[f64; 4]) -> f64 {
    found.iter().zip(exact).map(|(f, e)| (f / e - 1.0).abs()).fold(0.0, |a, b| if b > a || b.is_nan() { b } else { a })
}
