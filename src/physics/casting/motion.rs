//! What moves in a phase: the part of the state that is integrated while the rest stands still.
//!
//! Most phases leave most of the state alone: reactions only while the mold is open, while the air just follows the rise,
//! and after gel; the vents' loss between fill and gel. A part of the state is a system of its own, small and quick.

use std::cell::Cell;

use super::machine::{Machine, Reading, SIZE, State};
use super::regime::Mark;
use crate::numerics::Scalar;
use crate::numerics::integrate::System;
use crate::numerics::rosenbrock::Stiff;
use crate::physics::kinetics::{BLOW, GEL, gelled, unblown};

/// Positions of what moves while only the reactions go on.
pub(super) const REACTIONS: [usize; 3] = [0, 1, 2];

/// Nearer to a mark than this, the pressure decides; farther away it is taken as ambient.
const NEAR: f64 = 0.1;
/// Time over which the speed of what follows the rise is taken, s.
const NUDGE: f64 = 1e-4;

/// A state in which the headspace followed, what was read there, and what its lag neglects.
type Followed = (State<f64>, (Reading<f64>, f64));

/// A part of the state at `places`, the rest standing still.
pub(super) struct Part<'a, S, const D: usize> {
    exact: &'a Machine<S>,
    /// The same casting in values alone, in which events are looked for.
    plain: &'a Machine<f64>,
    rest: State<S>,
    plain_rest: State<f64>,
    places: [usize; D],
    /// Whether the headspace follows the rise, and the state's air is not looked at.
    follows: bool,
    /// The last state in which the headspace followed, and what was read there.
    last: Cell<Option<Followed>>,
}

impl<'a, S: Scalar, const D: usize> Part<'a, S, D> {
    pub fn new(
        (exact, plain): (&'a Machine<S>, &'a Machine<f64>),
        rest: State<S>,
        places: [usize; D],
        follows: bool,
    ) -> Self {
        Part { exact, plain, rest, plain_rest: rest.map(S::value), places, follows, last: Cell::new(None) }
    }

    /// The casting that moves.
    pub fn machine(&self) -> &Machine<S> {
        self.exact
    }

    /// Whether the mold is not closed yet.
    pub fn is_open(&self) -> bool {
        self.plain.regime.open
    }

    /// The whole state.
    pub fn whole(&self, y: &[S; D]) -> State<S> {
        let mut all = self.rest;
        self.places.iter().zip(y).for_each(|(&place, value)| all[place] = *value);
        all
    }

    /// The whole state, in values.
    pub fn plain_whole(&self, y: &[f64; D]) -> State<f64> {
        let mut all = self.plain_rest;
        self.places.iter().zip(y).for_each(|(&place, value)| all[place] = *value);
        all
    }

    /// This part of a whole.
    pub fn of<T: Copy>(&self, all: &[T; SIZE]) -> [T; D] {
        self.places.map(|place| all[place])
    }

    /// What is read at a state of this phase.
    pub fn reading(&self, all: &State<S>) -> Reading<S> {
        if !self.follows {
            return self.exact.reading(all);
        }
        // With the balance found in values, one step with derivatives makes them exact.
        let guess = self.plain.balance_at(&all.map(S::value)).map(|balance| balance.pressure);
        self.exact.following(all, guess).map_or(Reading::unknown(), |(reading, _)| reading)
    }

    /// The same, in values.
    pub fn plain_reading(&self, all: &State<f64>) -> Reading<f64> {
        if self.follows { self.following(all).0 } else { self.plain.reading(all) }
    }

    /// What is read where the headspace follows, in values, and what its lag neglects; not numbers where it cannot follow. The
    /// last one is kept: several events ask for it, and it is the next one's first guess.
    pub fn following(&self, all: &State<f64>) -> (Reading<f64>, f64) {
        match self.last.get() {
            Some((at, seen)) if at == *all => seen,
            last => {
                let guess = last.map(|(_, (reading, _))| reading.pressure).filter(|p| p.is_finite());
                let seen = self.plain.following(all, guess).unwrap_or((Reading::unknown(), f64::NAN));
                self.last.set(Some((*all, seen)));
                seen
            }
        }
    }

    /// What a mark's function comes to at ambient pressure, if it is below zero there by so much that the little gauge
    /// pressure of a headspace that follows the rise makes no difference.
    fn far(&self, mark: Mark<f64>, all: &State<f64>) -> Option<f64> {
        if !self.follows {
            return None;
        }
        let gas = &self.plain.gas;
        let saturation = gas.excess(1.0 - unblown(all[BLOW]), self.plain.room.ambient) / gas.yielded;
        let at_ambient = match mark {
            Mark::Front(fill) => self.plain.fill_at_ambient(all) - fill,
            Mark::Saturated => saturation,
            _ => return None,
        };
        (at_ambient < -NEAR).then_some(at_ambient)
    }

    fn moving(&self, rate: &[S; D]) -> State<S> {
        let mut all = [S::zero(); SIZE];
        self.places.iter().zip(rate).for_each(|(&place, value)| all[place] = *value);
        all
    }
}

impl<S: Scalar, const D: usize> System<S, D> for Part<'_, S, D> {
    fn rate(&self, y: &[S; D]) -> [S; D] {
        if D == REACTIONS.len() {
            let rate = self.exact.reaction_rate(std::array::from_fn(|i| y[i]), self.exact.mass(&self.rest));
            return std::array::from_fn(|i| rate[i]);
        }
        self.of(&self.exact.rate(&self.whole(y)))
    }

    fn events(&self) -> usize {
        self.plain.regime.armed.len()
    }

    fn event(&self, which: usize, y: &[f64; D]) -> f64 {
        let mark = self.plain.regime.armed[which];
        let all = self.plain_whole(y);
        match mark {
            // While the headspace follows, its pressure jumps as CO2 begins to come out, and for a moment the liquid seems
            // to hold all of it again. Whoever follows looks at the ends of the steps.
            Mark::Unsaturated if self.follows => -1.0,
            Mark::Gel => gelled(all[GEL]) - self.plain.foam.gel_conversion,
            _ => match self.far(mark, &all) {
                Some(far) => far,
                None => self.plain.mark(mark, &all, &self.plain_reading(&all)),
            },
        }
    }

    fn event_exact(&self, which: usize, y: &[S; D]) -> S {
        let all = self.whole(y);
        self.exact.mark(self.exact.regime.armed[which], &all, &self.reading(&all))
    }

    fn event_rate(&self, which: usize, y: &[S; D], rate: &[S; D]) -> f64 {
        let (all, moving) = (self.whole(y), self.moving(rate));
        if self.follows {
            let mark = self.plain.regime.armed[which];
            let at = |by: f64| {
                let y: State<f64> = std::array::from_fn(|i| all[i].value() + by * moving[i].value());
                self.plain.mark(mark, &y, &self.plain_reading(&y))
            };
            return (at(NUDGE) - at(-NUDGE)) / (2.0 * NUDGE);
        }
        let now = self.exact.reading(&all);
        let climb = self.exact.gradient(&all, &now).iter().zip(&moving).map(|(g, r)| g.value() * r.value()).sum();
        self.exact.mark_rate(self.exact.regime.armed[which], &all, &moving, &now, climb)
    }

    fn is_monotone(&self, which: usize) -> bool {
        self.follows || matches!(self.plain.regime.armed[which], Mark::Gel)
    }
}

impl<S: Scalar, const D: usize> Stiff<S, D> for Part<'_, S, D> {
    fn jacobian(&self, y: &[S; D]) -> [[S; D]; D] {
        let all = self.exact.jacobian(&self.whole(y));
        self.places.map(|row| self.of(&all[row]))
    }
}
