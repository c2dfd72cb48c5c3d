//! A calibration as something to sweep: foam, cavity and settings at the best estimates.

use super::calibrate::Calibration;
use crate::fit::setup::CastingSetup;
use crate::model::Casting;
use crate::physics::casting::Accuracy;
use crate::sweep::{Case, Slips};

/// The case that one set of parameters makes; `setup` makes its setup of a casting.
pub(super) fn case_of(setup: impl FnOnce(&Casting) -> CastingSetup<f64>) -> Case {
    let made = setup(&Slips::probe());
    Case { foam: made.foam.constants(), cavity: made.cavity, slips: Slips::seen(&made.casting) }
}

impl Calibration {
    /// Foam, cavity and slips at the best estimates: swept, they come to what [`Calibration::simulate`] says.
    pub fn case(&self) -> Case {
        case_of(|casting| self.shared.best_setup(casting))
    }

    /// The accuracy of its simulations.
    pub fn accuracy(&self) -> Accuracy {
        self.shared.accuracy
    }
}
