//! An opening of fixed size where it is in the mold: a vent or a leak.

use super::layout::Shared;
use crate::physics::opening::Opening;

/// Where foam that leaves through an opening is weighed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outlet {
    /// With what came out of the vents.
    Vent,
    /// With the flash at the parting line or a leak.
    Flash,
}

impl Outlet {
    /// What of the state counts it.
    pub fn counted_in(self) -> Shared {
        match self {
            Outlet::Vent => Shared::VentLoss,
            Outlet::Flash => Shared::Flash,
        }
    }
}

/// An opening of fixed size: a vent or a leak.
#[derive(Clone, Copy, Debug)]
pub struct PlacedOpening<S> {
    pub opening: Opening<S>,
    /// Fill fraction at which foam reaches it.
    pub at_fill: S,
    pub outlet: Outlet,
}
