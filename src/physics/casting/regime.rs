//! What state of affairs a casting is in, and the marks at which it changes.

use crate::model::LeakStart;
use crate::numerics::Scalar;

/// An event that ends one regime and begins another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Mark<S> {
    /// CO2 has saturated the liquid: the rise begins.
    Saturated,
    /// Rising pressure dissolved the last free CO2.
    Unsaturated,
    /// The front has reached the openings at this fill fraction.
    Front(S),
    /// The pressure exceeds the clamp.
    ClampOpens,
    /// The clamp holds again.
    ClampHolds,
    /// The leak opens at this gauge pressure, Pa.
    LeakOpens(S),
    /// The foam stops flowing.
    Gel,
}

/// The state of affairs, constant between marks.
#[derive(Clone, Debug)]
pub(super) struct Regime<S> {
    /// The mold is not closed yet: ambient pressure.
    pub open: bool,
    pub saturated: bool,
    pub clamp_open: bool,
    pub gelled: bool,
    /// Whether there is air ahead of the front.
    pub headspace: bool,
    /// Volume of the headspace that a gelled short shot holds, m3.
    pub held: Option<S>,
    /// The port that is not open yet: a leak before its start.
    pub closed_port: Option<usize>,
    /// Gauge pressure at which it opens, Pa, if it waits for one.
    pub leak_at: Option<f64>,
    /// Fill fraction up to which openings are reached.
    pub front: Option<f64>,
    /// The marks looked out for.
    pub armed: Vec<Mark<S>>,
}

impl<S: Scalar> Regime<S> {
    /// Poured into the open mold; `leak`: the port that a leak has not opened yet, and when it does.
    pub fn start(leak: Option<(usize, LeakStart)>) -> Self {
        let leak_at = match leak {
            Some((_, LeakStart::GaugePressure(gauge))) => Some(gauge),
            _ => None,
        };
        Regime {
            open: true,
            saturated: false,
            clamp_open: false,
            gelled: false,
            headspace: true,
            held: None,
            closed_port: leak.map(|(port, _)| port),
            leak_at,
            front: None,
            armed: Vec::new(),
        }
    }

    /// Sets the same state of affairs in values alone; what marks are armed there stays.
    pub fn set_values(&self, to: &mut Regime<f64>) {
        *to = Regime {
            open: self.open,
            saturated: self.saturated,
            clamp_open: self.clamp_open,
            gelled: self.gelled,
            headspace: self.headspace,
            held: self.held.map(S::value),
            closed_port: self.closed_port,
            leak_at: self.leak_at,
            front: self.front,
            armed: std::mem::take(&mut to.armed),
        };
    }

    pub fn is_reached(&self, at_fill: S) -> bool {
        self.front.is_some_and(|front| at_fill.value() <= front)
    }

    pub fn any_reached(&self) -> bool {
        self.front.is_some()
    }
}
