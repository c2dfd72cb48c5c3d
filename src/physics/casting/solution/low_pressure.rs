//! From when on the pressure of set foam stays below a limit, seen as one step after the other passes by.

use super::moving_part::MovingPart;
use crate::numerics::Scalar;
use crate::numerics::events::{SHORTLY, cross, highest};
use crate::numerics::segment::Segment;

/// Share of a step to which the crossing is bracketed; one step of Newton's method does the rest.
const CLOSE: f64 = 1e-6;

/// Since when the pressure is below a limit.
pub struct LowPressure<S> {
    /// Absolute, Pa.
    limit: S,
    /// Whether the foam has gelled.
    watches: bool,
    since: Option<S>,
}

impl<S: Scalar> LowPressure<S> {
    /// Watches for pressures below this one, absolute, Pa.
    pub fn below(limit: S) -> Self {
        LowPressure { limit, watches: false, since: None }
    }

    /// Since when the pressure has been low, s, if it is.
    pub fn since(&self) -> Option<S> {
        self.since
    }

    /// Begins at gel, where the pressure is this, Pa.
    pub fn begin(&mut self, time: S, pressure: S) {
        self.watches = true;
        self.since = (pressure.value() < self.limit.value()).then_some(time);
    }

    /// Goes on to the end of a step with these pressures at its ends, Pa; `falls_until`: up to which share a maximum
    /// within it is to be looked for, if it may hold one.
    pub fn watch<const D: usize, const N: usize>(
        &mut self,
        part: &MovingPart<S, D, N>,
        segment: &Segment<S, D>,
        (from, to): (f64, f64),
        falls_until: Option<f64>,
    ) {
        let limit = self.limit.value();
        if !self.watches {
            return;
        }
        if to >= limit {
            self.since = None;
            return;
        }
        let at = |share: f64| part.pressure_value(&segment.values_at(share));
        let above = match (from >= limit, falls_until) {
            (true, _) => Some(0.0),
            (false, Some(until)) => Some(highest(at, 0.0, until)).filter(|share| at(*share) > limit),
            (false, None) => None,
        };
        let Some(above) = above else {
            // Between two steps it may have jumped, by no more than their error.
            self.since.get_or_insert(segment.start);
            return;
        };
        let room = |share: f64| (limit - at(share)) / limit;
        let share = cross(room, (above, room(above)), (1.0, room(1.0)), CLOSE);
        let time = segment.start.value() + share * segment.length;
        let slope = (at(share + SHORTLY) - at(share - SHORTLY)) / (2.0 * SHORTLY * segment.length);
        let excess = part.cavity_at(&segment.at_time(time)).1.pressure - self.limit;
        // Where rounding leaves no fall to follow, the bracket is all that is known.
        self.since = Some(S::constant(time) - if slope < 0.0 { excess / slope } else { S::zero() });
    }
}
