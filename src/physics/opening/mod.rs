//! Openings of a mold: what air and foam pass through each kind, with derivatives.
//!
//! A kind is a row in `model::vent` (its dimensions, whether it can be drilled) and a variant here (its law).

mod air;
mod duct;
mod flow;

pub use air::Air;
#[cfg(feature = "internals")]
pub use air::{air_flow, isentropic};
pub use duct::{Duct, foam_flow, foam_rate};
pub use flow::Flow;

use crate::model::{Vent, VentKind};
use crate::numerics::Scalar;

/// An opening of a mold, by kind.
#[derive(Clone, Copy, Debug)]
pub enum Opening<S> {
    /// Round holes: drilled vents, or a leak.
    Hole(Duct<S>),
    /// A slot: the parting line.
    Slot(Duct<S>),
}

impl<S: Scalar> Opening<S> {
    /// Vents as they stand in a mold with this discharge coefficient, to air of this ambient pressure (Pa) and
    /// temperature (K).
    pub fn of_vents(vents: &Vent<S>, discharge: S, ambient: S, temp: S) -> Self {
        match vents.kind {
            VentKind::Hole { diameter, length } => {
                Opening::Hole(Duct::round(vents.count, diameter, length, discharge).blunted(ambient, temp))
            }
        }
    }

    /// Whether air can pass.
    #[inline]
    pub fn passes_air(&self) -> bool {
        match self {
            Opening::Hole(duct) | Opening::Slot(duct) => duct.duct.value() > 0.0,
        }
    }

    /// Whether nothing can pass at all: a plugged hole.
    pub fn is_plugged(&self) -> bool {
        match self {
            Opening::Hole(duct) | Opening::Slot(duct) => duct.area.value() <= 0.0,
        }
    }

    /// Air from `inside` to `ambient` (absolute, Pa), with derivatives.
    #[inline]
    pub fn air_flow(&self, air: &Air<S>, inside: S, ambient: S) -> Flow<S> {
        match self {
            Opening::Hole(duct) | Opening::Slot(duct) => air.flow(duct, inside, ambient),
        }
    }

    /// The same without derivatives, kg/s.
    #[inline]
    pub fn air_rate(&self, air: &Air<S>, inside: S, ambient: S) -> S {
        match self {
            Opening::Hole(duct) | Opening::Slot(duct) => air.rate(duct, inside, ambient),
        }
    }

    /// Foam of `density` and `viscosity` under `gauge` (Pa), with derivatives.
    #[inline]
    pub fn foam_flow(&self, gauge: S, density: S, viscosity: S) -> Flow<S> {
        match self {
            Opening::Hole(duct) | Opening::Slot(duct) => foam_flow(duct, gauge, density, viscosity),
        }
    }

    /// The same without derivatives, kg/s.
    #[inline]
    pub fn foam_rate(&self, gauge: S, density: S, viscosity: S) -> S {
        match self {
            Opening::Hole(duct) | Opening::Slot(duct) => foam_rate(duct, gauge, density, viscosity),
        }
    }
}
