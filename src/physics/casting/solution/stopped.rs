//! Where an integration came to a stop, by the name of what failed, and which constants to suspect.

use crate::error::Error;
use crate::numerics::integrate::Stall;
use crate::physics::casting::equations::layout::{Moving, Place, Shared};
use crate::physics::stall::{stalled, suspect_of_reactions};

/// A stop, and what of the state has the largest error.
pub struct Stopped {
    stall: Stall,
    place: Option<Place>,
}

impl Stopped {
    /// Where the values moved of which the stop tells the place.
    pub fn new<const D: usize, const N: usize>(stall: Stall, moving: &Moving<D, N>) -> Self {
        Stopped { stall, place: moving.name(stall.component) }
    }

    /// Where a value failed, not a step.
    pub fn at(time: f64, reason: &'static str, place: Place) -> Self {
        Stopped { stall: Stall { time, reason, component: 0 }, place: Some(place) }
    }

    /// The error that names the constants to suspect.
    pub fn explain(&self) -> Error {
        let suspect = match self.place {
            Some(Place::Node(place)) => suspect_of_reactions(place).unwrap_or_default(),
            Some(Place::Shared(Shared::HeadspaceAir)) => "the vent diameters and the headspace",
            Some(Place::Shared(Shared::VentLoss)) => "viscosity and the vent diameters",
            Some(Place::Shared(Shared::Flash)) => "the parting line and the clamp force",
            Some(Place::Lost) | None => "cell_opening_time",
        };
        stalled(&self.stall, suspect)
    }
}
