//! Which constants to suspect where an integration comes to a stop.

use super::kinetics::{BLOW, GEL, TEMP};
use crate::error::Error;
use crate::numerics::integrate::Stall;

/// Constants to suspect where this value of a reacting foam fails: a turnover or the temperature.
pub(super) fn suspect_of_reactions(place: usize) -> Option<&'static str> {
    match place {
        BLOW => Some("blow_rate and blow_activation"),
        GEL => Some("gel_rate and gel_activation"),
        TEMP => Some("blow_heat, gel_heat and heat_transfer"),
        _ => None,
    }
}

/// The error of a stop, with the constants to suspect.
pub(super) fn stalled(stall: &Stall, suspect: &str) -> Error {
    Error::Integration { trial: None, time_s: stall.time, reason: stall.reason.into(), suspect: suspect.into() }
}
