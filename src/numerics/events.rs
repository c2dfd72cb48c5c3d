//! Events of a system: whether one lies within a step, and about where.

use super::Scalar;
use super::segment::Segment;
use super::system::System;

/// Most event functions that a system may have.
const MOST_EVENTS: usize = 8;
/// Event functions this close to zero at the start of a phase count as not yet crossed, so that an event that was just
/// located does not fire again.
pub(super) const SLACK: f64 = 1e-9;
/// Share of a step for which an event function may go on to climb as in the step before.
const COASTS: f64 = 0.5;
/// Shares of a step at which event functions are looked at, so that a crossing there and back is not lost.
const LOOKOUTS: [f64; 3] = [0.35, 0.7, 1.0];
/// Share of an interval over which a function is seen to rise or fall.
pub(crate) const SHORTLY: f64 = 1e-3;
/// Golden section: share of an interval that is kept, and how often it is cut.
const KEPT: f64 = 0.618_033_988_749_894_9;
const SECTIONS: usize = 24;
/// Share of a step to within which an event is looked for; the step that is taken to it again finds it better.
const NEARLY: f64 = 1e-6;

/// The event functions' values where the last step ended, and how fast they rose in it.
pub(super) struct Events {
    count: usize,
    values: [f64; MOST_EVENTS],
    climbs: [f64; MOST_EVENTS],
}

impl Events {
    pub fn at<S: Scalar, const D: usize>(system: &impl System<S, D>, y: &[f64; D]) -> Self {
        let count = system.events();
        let mut values = [f64::NEG_INFINITY; MOST_EVENTS];
        values.iter_mut().take(count).enumerate().for_each(|(which, value)| *value = system.event(which, y));
        Events { count, values, climbs: [0.0; MOST_EVENTS] }
    }

    /// These at the end of a step of this length that began with others.
    pub fn after(self, before: &Events, length: f64) -> Self {
        let climbs = std::array::from_fn(|i| (self.values[i] - before.values[i]) / length);
        Events { climbs, ..self }
    }

    pub fn fired(&self) -> Option<usize> {
        self.values.iter().position(|value| *value > SLACK)
    }

    /// The first event function that rises through zero within the step, and where.
    pub fn first_crossing<S: Scalar, const D: usize>(
        &self,
        ends: &Events,
        system: &impl System<S, D>,
        segment: &Segment<S, D>,
    ) -> Option<(usize, f64)> {
        // What moved less from end to end, and climbed less before, than it is below zero is not taken to have been there and
        // back.
        let is_near = |which: usize| {
            let (from, to) = (self.values[which], ends.values[which]);
            let moved = (to - from).abs().max(COASTS * self.climbs[which] * segment.length);
            to > 0.0 || !system.is_monotone(which) && from.max(to) + moved > 0.0
        };
        if !(0..self.count).any(is_near) {
            return None;
        }
        let monotone = (0..self.count).all(|i| system.is_monotone(i));
        let lookouts = if monotone { &LOOKOUTS[LOOKOUTS.len() - 1..] } else { &LOOKOUTS };
        first_crossing_at(system, segment, lookouts)
    }
}

fn first_crossing_at<S: Scalar, const D: usize>(
    system: &impl System<S, D>,
    segment: &Segment<S, D>,
    lookouts: &[f64],
) -> Option<(usize, f64)> {
    let mut before = 0.0;
    for &here in lookouts {
        let crossing = |which: usize| {
            let at = |share: f64| system.event(which, &values(segment, share));
            let above = match at(here) > 0.0 {
                true => Some(here),
                false if system.is_monotone(which) => None,
                false => summit(&at, before, here),
            };
            above.map(|above| (which, cross(at, before, above, NEARLY)))
        };
        let first = (0..system.events()).filter_map(crossing).reduce(|a, b| if b.1 < a.1 { b } else { a });
        if first.is_some() {
            return first;
        }
        before = here;
    }
    None
}

/// The values at a share of the step, at its end those that go on.
fn values<S: Scalar, const D: usize>(segment: &Segment<S, D>, share: f64) -> [f64; D] {
    if share == 1.0 { segment.to.map(S::value) } else { segment.values_at(share) }
}

/// Where a function that rises away from `low` and falls toward `high`, not above zero at either, is highest, if it is above
/// zero there.
fn summit(at: &impl Fn(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    let shortly = SHORTLY * (high - low);
    (at(low + shortly) > at(low) && at(high) < at(high - shortly))
        .then(|| highest(at, low, high))
        .filter(|&share| at(share) > 0.0)
}

/// Where a function is highest between two points that bracket its maximum, by golden section, to a
/// hundred-thousandth of their distance: it is flat there.
pub(crate) fn highest(at: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let (mut a, mut b) = (high - KEPT * (high - low), low + KEPT * (high - low));
    let (mut at_a, mut at_b) = (at(a), at(b));
    for _ in 0..SECTIONS {
        if at_a > at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - KEPT * (high - low);
            at_a = at(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + KEPT * (high - low);
            at_b = at(b);
        }
    }
    0.5 * (low + high)
}

/// The point between `low` (function not above zero) and `high` (above) where it crosses: false position in the manner of
/// Illinois, which keeps neither end for long; within `close`, or where the function, of order one, is within a thousandth of it.
pub(crate) fn cross(value: impl Fn(f64) -> f64, mut low: f64, mut high: f64, close: f64) -> f64 {
    let (mut below, mut above) = (value(low).min(0.0), value(high));
    let mut side = 0;
    for _ in 0..60 {
        if high - low <= close {
            break;
        }
        let guess = (below / (below - above)).clamp(1e-3, 1.0 - 1e-3);
        let middle = low + guess * (high - low);
        let v = value(middle);
        if v.abs() <= 1e-3 * close {
            return middle;
        }
        if v > 0.0 {
            (high, above) = (middle, v);
            if side == 1 {
                below *= 0.5;
            }
            side = 1;
        } else {
            (low, below) = (middle, v);
            if side == -1 {
                above *= 0.5;
            }
            side = -1;
        }
    }
    high
}
