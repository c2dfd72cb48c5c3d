//! Where an integration came to a stop, by the name of what failed, and which constants to suspect.

use crate::error::Error;
use crate::numerics::integrate::Stall;
use crate::physics::casting::equations::layout::{Place, Shared, place_of};
use crate::physics::stall::{stalled, suspect_of_reactions};

/// A stop, and what of the state has the largest error.
pub struct Stopped {
    stall: Stall,
    place: Option<Place>,
}

impl Stopped {
    /// Where all reactions of so many nodes and these values moved.
    pub fn new(stall: Stall, nodes: usize, moving: &[Shared]) -> Self {
        Stopped { stall, place: place_of(nodes, moving, stall.component) }
    }

    /// The error that names the constants to suspect.
    pub fn explain(&self) -> Error {
        let suspect = match self.place {
            Some(Place::Node(place)) => suspect_of_reactions(place).unwrap_or_default(),
            Some(Place::Shared(Shared::HeadspaceAir)) => "the vent diameters and the headspace",
            Some(Place::Shared(Shared::VentLoss)) => "viscosity and the vent diameters",
            Some(Place::Shared(Shared::Flash)) => "the parting line and the clamp force",
            Some(Place::Shared(Shared::GasLost)) | None => "cell_opening_time",
        };
        stalled(&self.stall, suspect)
    }
}
