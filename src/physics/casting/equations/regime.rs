//! What state of affairs a casting is in, constant from one event to the next.

use crate::model::LeakStart;
use crate::numerics::Scalar;
use crate::physics::gas::{SPECIES_COUNT, Saturated};
use crate::physics::layers::MOST_LAYERS;

/// The state of affairs.
#[derive(Clone, Debug)]
pub struct Regime<S> {
    /// The catalysts sleep: nothing reacts yet.
    pub dormant: bool,
    /// The mold is not closed yet: ambient pressure.
    pub open: bool,
    /// Of each layer, which gases have saturated its liquid.
    pub saturated: [Saturated; MOST_LAYERS],
    /// The pressure exceeds the clamp.
    pub clamp_open: bool,
    /// The foam no longer flows.
    pub gelled: bool,
    /// Whether there is air ahead of the front.
    pub headspace: bool,
    /// Volume of the headspace that a gelled short shot holds, m3.
    pub held_headspace: Option<S>,
    /// Which opening is not open yet: a leak before its start.
    pub closed_leak: Option<usize>,
    /// Gauge pressure at which it opens, Pa, if it waits for one.
    pub leak_opens_at: Option<f64>,
    /// Fill fraction up to which openings are reached.
    pub front: Option<f64>,
}

impl<S: Scalar> Regime<S> {
    /// Poured into the open mold; `leak`: the opening that a leak has not made yet, and when it does.
    pub fn start(leak: Option<(usize, LeakStart)>) -> Self {
        let leak_opens_at = match leak {
            Some((_, LeakStart::GaugePressure(gauge))) => Some(gauge),
            _ => None,
        };
        Regime {
            dormant: true,
            open: true,
            saturated: [[false; SPECIES_COUNT]; MOST_LAYERS],
            clamp_open: false,
            gelled: false,
            headspace: true,
            held_headspace: None,
            closed_leak: leak.map(|(opening, _)| opening),
            leak_opens_at,
            front: None,
        }
    }

    /// The same state of affairs in values alone.
    pub fn values(&self) -> Regime<f64> {
        Regime {
            dormant: self.dormant,
            open: self.open,
            saturated: self.saturated,
            clamp_open: self.clamp_open,
            gelled: self.gelled,
            headspace: self.headspace,
            held_headspace: self.held_headspace.map(S::value),
            closed_leak: self.closed_leak,
            leak_opens_at: self.leak_opens_at,
            front: self.front,
        }
    }

    /// Whether foam has reached an opening that it reaches at this fill fraction.
    pub fn is_reached(&self, at_fill: S) -> bool {
        self.front.is_some_and(|front| at_fill.value() <= front)
    }

    /// Whether foam has reached any opening.
    pub fn any_reached(&self) -> bool {
        self.front.is_some()
    }
}
