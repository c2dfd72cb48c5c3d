//! Events of a system: whether one lies within a step, and about where.

use super::Scalar;
use super::segment::Segment;
use super::system::System;

/// Most event functions that a system may have.
const MOST_EVENTS: usize = 16;
/// Event functions at least this close to zero at the start of a phase count as not yet crossed, so that an event that
/// was just located does not fire again.
pub(super) const SLACK: f64 = 1e-9;
/// Share of a step for which an event function may go on to climb as in the step before.
const MAX_CLIMB_SHARE: f64 = 0.5;
/// Shares of a step at which event functions are looked at, so that a crossing there and back is not lost.
const CHECKED_SHARES: [f64; 3] = [0.35, 0.7, 1.0];
/// Share of an interval over which a function is seen to rise or fall.
pub(crate) const SHORTLY: f64 = 1e-3;
/// Golden section: share of an interval that is kept.
const GOLDEN_SHARE: f64 = 0.618_033_988_749_894_9;
/// Share of an interval to within which a maximum is found, and looks after which it will do.
const SUMMIT_SHARE: f64 = 5e-6;
const MOST_EVALUATIONS: usize = 40;

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

    /// Goes on to the end of a step of this length.
    pub fn go_on(&mut self, ends: &Events, length: f64) {
        for i in 0..self.count {
            self.climbs[i] = (ends.values[i] - self.values[i]) / length;
            self.values[i] = ends.values[i];
        }
    }

    /// The first event function that is further above zero than `located`.
    pub fn fired(&self, located: f64) -> Option<usize> {
        self.values.iter().position(|value| *value > located)
    }

    /// The first event function that rises through zero within the step, and where, to within this share of the step.
    pub fn first_crossing<S: Scalar, const D: usize>(
        &self,
        ends: &Events,
        system: &impl System<S, D>,
        segment: &Segment<S, D>,
        close: f64,
    ) -> Option<(usize, f64)> {
        // What moved less from end to end, and climbed less before, than it is below zero is not taken to have been
        // there and back.
        let is_near = |which: usize| {
            let (from, to) = (self.values[which], ends.values[which]);
            let moved = (to - from).abs().max(MAX_CLIMB_SHARE * self.climbs[which] * segment.length);
            to > 0.0 || !system.is_monotone(which) && from.max(to) + moved > 0.0
        };
        let near: [bool; MOST_EVENTS] = std::array::from_fn(|which| which < self.count && is_near(which));
        let near = || (0..self.count).filter(|&which| near[which]);
        near().next()?;
        let lookouts = if near().all(|i| system.is_monotone(i)) {
            &CHECKED_SHARES[CHECKED_SHARES.len() - 1..]
        } else {
            &CHECKED_SHARES
        };
        let (mut before, mut values) = (0.0, self.values);
        for &here in lookouts {
            let crossing = |which: usize| {
                let at = |share: f64| system.event(which, &segment.values_at(share));
                let low = (before, values[which]);
                let high = (here, if here == 1.0 { ends.values[which] } else { at(here) });
                values[which] = high.1;
                let above = match high.1 > 0.0 {
                    true => Some(high),
                    false if system.is_monotone(which) => None,
                    false => summit(&at, low, high),
                };
                above.map(|above| (which, cross(at, low, above, close)))
            };
            let first = near().filter_map(crossing).reduce(|a, b| if b.1 < a.1 { b } else { a });
            if first.is_some() {
                return first;
            }
            before = here;
        }
        None
    }
}

/// Where a function that rises away from `low` and falls toward `high` (each a point and the value there, not above
/// zero) is highest, and how high, if it is above zero there.
fn summit(at: &impl Fn(f64) -> f64, low: (f64, f64), high: (f64, f64)) -> Option<(f64, f64)> {
    let shortly = SHORTLY * (high.0 - low.0);
    let turns = at(low.0 + shortly) > low.1 && high.1 < at(high.0 - shortly);
    let top = turns.then(|| highest(at, low.0, high.0));
    top.map(|share| (share, at(share))).filter(|top| top.1 > 0.0)
}

/// Where a function is highest between two points that bracket its maximum, to about a hundred-thousandth of their
/// distance: it is flat there. By parabolas, and by golden section where they do not lead on. Source: R. P. Brent,
/// "Algorithms for Minimization Without Derivatives" (1973), ch. 5.
pub(crate) fn highest(at: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let close = SUMMIT_SHARE * (high - low);
    // The best point, the second, and the second before that.
    let mut best = low + (1.0 - GOLDEN_SHARE) * (high - low);
    let mut top = at(best);
    let (mut second, mut third) = ((best, top), (best, top));
    // The last move, and the one before.
    let (mut moved, mut before) = (0.0_f64, 0.0_f64);
    for _ in 0..MOST_EVALUATIONS {
        let middle = 0.5 * (low + high);
        if (best - middle).abs() <= 2.0 * close - 0.5 * (high - low) {
            break;
        }
        let r = (best - second.0) * (top - third.1);
        let q = (best - third.0) * (top - second.1);
        let by_parabola = ((best - third.0) * q - (best - second.0) * r) / (2.0 * (r - q));
        let next = best + by_parabola;
        if next > low && next < high && by_parabola.abs() < 0.5 * before.abs() {
            // Close to an end of the bracket: the next look is at its other side.
            let near = next - low < 2.0 * close || high - next < 2.0 * close;
            (before, moved) = (moved, if near { close.copysign(middle - best) } else { by_parabola });
        } else {
            before = if best < middle { high - best } else { low - best };
            moved = (1.0 - GOLDEN_SHARE) * before;
        }
        let next = best + if moved.abs() >= close { moved } else { close.copysign(moved) };
        let there = (next, at(next));
        if there.1 >= top {
            *if next < best { &mut high } else { &mut low } = best;
            (third, second) = (second, (best, top));
            (best, top) = there;
        } else {
            *if next < best { &mut low } else { &mut high } = next;
            if there.1 >= second.1 || second.0 == best {
                (third, second) = (second, there);
            } else if there.1 >= third.1 || third.0 == best || third.0 == second.0 {
                third = there;
            }
        }
    }
    best
}

/// The point between `low` (function not above zero) and `high` (above; each a point and the value there) where it
/// crosses: false position in the manner of Illinois, which keeps neither end for long; within `close`, or where the
/// function, of order one, is within a thousandth of it.
pub(crate) fn cross(
    value: impl Fn(f64) -> f64,
    (mut low, below): (f64, f64),
    (mut high, mut above): (f64, f64),
    close: f64,
) -> f64 {
    let mut below = below.min(0.0);
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    /// Where `f` is highest in 0 to 1, and how often it was asked.
    fn summit_of(f: impl Fn(f64) -> f64) -> (f64, usize) {
        let asked = Cell::new(0);
        let at = highest(
            |x| {
                asked.set(asked.get() + 1);
                f(x)
            },
            0.0,
            1.0,
        );
        (at, asked.get())
    }

    #[test]
    fn a_smooth_summit_is_found_in_few_looks_and_a_corner_all_the_same() {
        for top in [0.003, 0.1, 0.43, 0.99] {
            let (smooth, looks) = summit_of(|x| 5.0 - (x - top).powi(2) + 0.3 * (x - top).powi(3));
            assert!((smooth - top).abs() < 1e-5 && looks <= 14, "{smooth} for {top} in {looks} looks");
            let (corner, _) = summit_of(|x| if x < top { x / top } else { (1.0 - x) / (1.0 - top) });
            assert!((corner - top).abs() < 1e-5, "{corner} for {top}");
        }
    }
}
