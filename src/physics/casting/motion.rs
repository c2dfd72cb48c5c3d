//! What moves in a phase: the part of the state that is integrated while the rest stands still.
//!
//! Most phases leave most of the state alone: reactions only while the mold is open, while the air just follows the rise,
//! and after gel; the vents' loss between fill and gel. A part of the state is a system of its own, small and quick.

use std::cell::RefCell;

use super::headspace::Followed;
use super::machine::{Machine, Reading, SIZE, State};
use super::manner::{Haste, Manner};
use super::regime::Mark;
use crate::numerics::Scalar;
use crate::numerics::integrate::{System, Tolerance};
use crate::numerics::rosenbrock::Stiff;
use crate::numerics::segment::Segment;
use crate::physics::kinetics::{BLOW, GEL, gelled, unblown, ungelled};

/// Positions of what moves while only the reactions go on.
pub(super) const REACTIONS: [usize; 3] = [0, 1, 2];

/// Nearer to a mark than this, the pressure decides; farther away it is taken as ambient.
const NEAR: f64 = 0.1;
/// Share of the ambient pressure that relative errors of the pressure also count as tolerated.
pub(super) const ABSOLUTE: f64 = 0.1;
/// Time over which the speed of what follows the rise is taken, s.
const NUDGE: f64 = 1e-4;

/// A part of the state at `places`, the rest standing still.
///
/// What decides the pressure may be left to it: the place then holds the absolute pressure, Pa. Where foam or air leaves
/// through a wide opening, a pascal more or less reverses the flow, while a millionth of the foam's mass is a tenth of one.
pub(super) struct Part<'a, S, const D: usize> {
    exact: &'a Machine<S>,
    /// The same casting in values alone, in which events are looked for.
    plain: &'a Machine<f64>,
    rest: State<S>,
    plain_rest: State<f64>,
    places: [usize; D],
    /// Whether the headspace follows the rise, and the state's air is not looked at.
    follows: bool,
    /// What the pressure stands for: the place in the whole, and in this part.
    pressed: Option<(usize, usize)>,
    /// What decides the pressure, where its errors are watched: the place in the whole, and in this part.
    watched: Option<(usize, usize)>,
    /// The last state in which the headspace followed, and what was read there.
    last: RefCell<Option<(State<f64>, Followed<f64>)>>,
    /// What was last read in values, and where.
    seen: RefCell<Seen<D>>,
}

/// A part of the state in values, the whole, and what is read there.
struct Seen<const D: usize> {
    at: [f64; D],
    all: State<f64>,
    now: Reading<f64>,
}

impl<'a, S: Scalar, const D: usize> Part<'a, S, D> {
    pub fn new(
        (exact, plain): (&'a Machine<S>, &'a Machine<f64>),
        rest: State<S>,
        places: [usize; D],
        follows: bool,
    ) -> Self {
        let plain_rest = rest.map(S::value);
        Part {
            exact,
            plain,
            rest,
            plain_rest,
            places,
            follows,
            pressed: None,
            watched: None,
            last: RefCell::new(None),
            seen: RefCell::new(Seen { at: [f64::NAN; D], all: plain_rest, now: Reading::unknown() }),
        }
    }

    /// This part as it is integrated in this manner: where the pressure relaxes fast, it stands in place of the air or the foam
    /// that decides it, or that is watched for what its errors do to the pressure.
    pub fn in_manner(self, manner: Option<Manner>) -> Self {
        let place = self.plain.decides_pressure();
        let slot = place.zip(self.places.iter().position(|at| Some(*at) == place));
        match manner {
            Some(Manner::Stiff) => Part { pressed: slot, ..self },
            Some(Manner::Settling) => Part { watched: slot, ..self },
            _ => self,
        }
    }

    /// Where the pressure stands in this part, if it does.
    pub fn pressure_slot(&self) -> Option<usize> {
        self.pressed.map(|(_, slot)| slot)
    }

    /// The casting that moves.
    pub fn machine(&self) -> &Machine<S> {
        self.exact
    }

    /// Whether the mold is not closed yet.
    pub fn is_open(&self) -> bool {
        self.plain.regime.open
    }

    /// This part of a whole.
    pub fn of(&self, all: &State<S>) -> [S; D] {
        let mut y = self.places.map(|place| all[place]);
        if let Some((_, slot)) = self.pressed {
            y[slot] = self.exact.reading(all).pressure;
        }
        y
    }

    /// The whole state.
    #[inline]
    pub fn whole(&self, y: &[S; D]) -> State<S> {
        let mut all = self.rest;
        complete(self.exact, &mut all, &self.places, self.pressed, y);
        all
    }

    /// The whole state, in values.
    #[inline]
    pub fn plain_whole(&self, y: &[f64; D]) -> State<f64> {
        let mut all = self.plain_rest;
        complete(self.plain, &mut all, &self.places, self.pressed, y);
        all
    }

    /// The whole state, and what is read there.
    pub fn read(&self, y: &[S; D]) -> (State<S>, Reading<S>) {
        let mut all = self.rest;
        let pressed = complete(self.exact, &mut all, &self.places, self.pressed, y);
        let now = self.reading(&all, pressed);
        (all, now)
    }

    /// What is read at the whole state `all`, given what was needed to complete it.
    #[inline]
    fn reading(&self, all: &State<S>, pressed: Option<Pressed<S>>) -> Reading<S> {
        if let Some(known) = pressed {
            return self.exact.reading_at(all, known.pressure, known.unblown);
        }
        if !self.follows {
            return self.exact.reading(all);
        }
        // With the balance found in values, one step with derivatives makes them exact.
        let followed = self.following(&all.map(S::value));
        if S::zero().derivatives().is_empty() {
            return followed.reading.map(S::constant);
        }
        self.exact.following(all, &followed.balance).unwrap_or_else(Followed::nothing).reading
    }

    /// Reads at these times within a step. Stage by stage: within one reading everything waits for its
    /// exponential and its divisions, those of many go on side by side.
    pub fn read_all(&self, segment: &Segment<S, D>, times: &[f64], to: &mut Vec<(State<S>, Reading<S>)>) {
        to.clear();
        if self.follows || self.pressed.is_some() {
            to.extend(times.iter().map(|time| self.read(&segment.at_time(*time))));
            return;
        }
        to.resize(times.len(), (self.rest, Reading::unknown()));
        for ((all, _), time) in to.iter_mut().zip(times) {
            complete(self.exact, all, &self.places, self.pressed, &segment.at_time(*time));
        }
        to.iter_mut().for_each(|(y, now)| now.unblown = unblown(y[BLOW]));
        to.iter_mut().for_each(|(y, now)| *now = self.exact.reading_with(y, now.unblown));
    }

    /// Hands on the same in values. The last one is kept, and overwritten in place: several events ask for it.
    #[inline]
    pub fn plain_read<R>(&self, y: &[f64; D], take: impl FnOnce(&State<f64>, &Reading<f64>) -> R) -> R {
        let seen = &mut *self.seen.borrow_mut();
        if seen.at != *y {
            seen.at = *y;
            let pressed = complete(self.plain, &mut seen.all, &self.places, self.pressed, y);
            seen.now = match pressed {
                Some(known) => self.plain.reading_at(&seen.all, known.pressure, known.unblown),
                None if self.follows => self.following(&seen.all).reading,
                None => self.plain.reading(&seen.all),
            };
        }
        take(&seen.all, &seen.now)
    }

    /// The pressure in values, Pa.
    pub fn plain_pressure(&self, y: &[f64; D]) -> f64 {
        self.pressed.map_or_else(|| self.plain_read(y, |_, now| now.pressure), |(_, slot)| y[slot])
    }

    /// What is read where the headspace follows, in values; not numbers where it cannot follow. The last one is kept: several
    /// events ask for it, and it is the next one's first guess.
    pub fn following(&self, all: &State<f64>) -> Followed<f64> {
        let last = &mut *self.last.borrow_mut();
        if let Some((at, seen)) = last
            && *at == *all
        {
            return *seen;
        }
        let near = last.as_ref().map(|(_, seen)| seen.balance).filter(|near| near.pressure.is_finite());
        let near = near.unwrap_or_else(|| self.plain.outflow(self.plain.reading(&self.plain_rest).pressure));
        let seen = self.plain.following(all, &near).unwrap_or_else(Followed::nothing);
        *last = Some((*all, seen));
        seen
    }

    /// What a mark's function comes to at ambient pressure, if it is below zero there by so much that the little gauge
    /// pressure of a headspace that follows the rise makes no difference.
    fn far(&self, mark: Mark<f64>, y: &[f64; D]) -> Option<f64> {
        if !self.follows {
            return None;
        }
        let all = &self.plain_whole(y);
        let gas = &self.plain.gas;
        let at_ambient = match mark {
            Mark::Front(fill) => self.plain.fill_at_ambient(all) - fill,
            Mark::Saturated => gas.excess(1.0 - unblown(all[BLOW]), self.plain.room.ambient) / gas.yielded,
            _ => return None,
        };
        (at_ambient < -NEAR).then_some(at_ambient)
    }

    /// Whether the headspace has come to the pressure with which it follows the rise where this step begins.
    pub fn is_followed(&self, segment: &Segment<S, D>, limit: f64) -> bool {
        self.plain_read(&segment.from.map(S::value), |all, now| {
            let there = self.plain.following(all, &self.plain.outflow(now.pressure));
            there.is_some_and(|there| there.away(now.pressure) <= limit)
        })
    }

    /// How fast it relaxes at the end of a step, of the integration to `until`.
    pub fn haste_after<R>(&self, segment: &Segment<S, D>, until: f64, take: impl FnOnce(&Haste) -> R) -> R {
        let state = self.plain_whole(&segment.to.map(S::value));
        take(&Haste::of(self.plain, &state, &self.places, until - segment.end()))
    }

    /// What is left of the tolerated error of what decides the pressure, if it is not to cost more than that of the pressure.
    #[cold]
    fn slack_of_pressure(&self, place: usize, slot: usize, y: &[f64; D], tolerance: &Tolerance<D>) -> f64 {
        let tolerated = tolerance.absolute[slot] + tolerance.relative * y[slot].abs();
        self.plain_read(y, |all, now| {
            let pascals = tolerance.relative * (now.pressure + ABSOLUTE * self.plain.room.ambient);
            (pascals / self.plain.gradient(all, now)[place] / tolerated).abs().min(1.0)
        })
    }

    /// The rate of the whole state and of the pressure, from that of this part.
    fn moving(&self, y: &State<S>, now: &Reading<S>, rate: &[S; D]) -> (State<S>, S) {
        let mut all = [S::zero(); SIZE];
        self.places.iter().zip(rate).for_each(|(&place, value)| all[place] = *value);
        let Some((place, slot)) = self.pressed else { return (all, self.exact.climb(y, now, &all)) };
        all[place] = S::zero();
        all[place] = (rate[slot] - self.exact.climb(y, now, &all)) / self.exact.gradient(y, now)[place];
        (all, rate[slot])
    }

    /// Derivatives of the rates with the pressure as a state, from those with what it stands for, `slopes`: what stands still
    /// is then the pressure, and the pressure's own rate is `gradient . rate`.
    fn pressed_jacobian(
        &self,
        (place, slot): (usize, usize),
        y: &State<S>,
        now: &Reading<S>,
        slopes: &[State<S>; SIZE],
    ) -> [[S; D]; D] {
        let gradient = self.exact.gradient(y, now);
        let mut climb = self.exact.turning(y, now);
        for (g, row) in gradient.iter().zip(slopes) {
            climb.iter_mut().zip(row).for_each(|(to, s)| *to += *g * *s);
        }
        let at_pressure = |row: &State<S>| {
            let per_pascal = row[place] / gradient[place];
            std::array::from_fn(|i| {
                if i == slot { per_pascal } else { row[self.places[i]] - per_pascal * gradient[self.places[i]] }
            })
        };
        std::array::from_fn(|row| at_pressure(if row == slot { &climb } else { &slopes[self.places[row]] }))
    }
}

/// What is known where the pressure is a state: it, and the share of the gas that is not made yet.
#[derive(Clone, Copy)]
struct Pressed<T> {
    pressure: T,
    unblown: T,
}

/// Sets what `y` is of the whole state.
#[inline(always)]
fn complete<T: Scalar, const D: usize>(
    machine: &Machine<T>,
    all: &mut State<T>,
    places: &[usize; D],
    pressed: Option<(usize, usize)>,
    y: &[T; D],
) -> Option<Pressed<T>> {
    places.iter().zip(y).for_each(|(&place, value)| all[place] = *value);
    let (place, slot) = pressed?;
    let known = Pressed { pressure: y[slot], unblown: unblown(all[BLOW]) };
    all[place] = machine.at_pressure(all, place, known.pressure, known.unblown);
    Some(known)
}

impl<S: Scalar, const D: usize> System<S, D> for Part<'_, S, D> {
    fn rate(&self, y: &[S; D]) -> [S; D] {
        if let Some(reactions) = y.first_chunk().filter(|_| D == REACTIONS.len()) {
            let rate = self.exact.reaction_rate(reactions, unblown(y[BLOW]), self.exact.mass(&self.rest));
            return std::array::from_fn(|i| rate[i]);
        }
        // In place: on the way to the next stage, a copy of what was just written would be waited for.
        let mut all = self.rest;
        let pressed = complete(self.exact, &mut all, &self.places, self.pressed, y);
        let now = self.reading(&all, pressed);
        let mut rate = [S::zero(); SIZE];
        self.exact.add_rates(&all, &now, &mut rate);
        let mut part = self.places.map(|place| rate[place]);
        if let Some((_, slot)) = self.pressed {
            part[slot] = self.exact.climb(&all, &now, &rate);
        }
        part
    }

    fn events(&self) -> usize {
        self.plain.regime.armed.len()
    }

    fn event(&self, which: usize, y: &[f64; D]) -> f64 {
        let mark = self.plain.regime.armed[which];
        match mark {
            // While the headspace follows, its pressure jumps as CO2 begins to come out, and for a moment the liquid seems
            // to hold all of it again. Whoever follows looks at the ends of the steps.
            Mark::Unsaturated if self.follows => -1.0,
            Mark::Gel => gelled(y[GEL]) - self.plain.foam.gel_conversion,
            _ => self.far(mark, y).unwrap_or_else(|| self.plain_read(y, |all, now| self.plain.mark(mark, all, now))),
        }
    }

    fn event_exact(&self, which: usize, y: &[S; D]) -> S {
        let (all, now) = self.read(y);
        self.exact.mark(self.exact.regime.armed[which], &all, &now)
    }

    fn event_rate(&self, which: usize, y: &[S; D], rate: &[S; D]) -> f64 {
        if self.follows {
            let mark = self.plain.regime.armed[which];
            let at = |by: f64| {
                let y = std::array::from_fn(|i| y[i].value() + by * rate[i].value());
                self.plain_read(&y, |all, now| self.plain.mark(mark, all, now))
            };
            return (at(NUDGE) - at(-NUDGE)) / (2.0 * NUDGE);
        }
        let (all, now) = self.read(y);
        let (moving, climb) = self.moving(&all, &now, rate);
        self.exact.mark_rate(self.exact.regime.armed[which], &all, &moving, &now, climb.value())
    }

    fn is_monotone(&self, which: usize) -> bool {
        self.follows || matches!(self.plain.regime.armed[which], Mark::Gel)
    }

    /// Set foam no longer flows: a turnover then matters for its conversion alone, and less and less.
    #[inline(always)]
    fn slack(&self, y: &[f64; D], tolerance: &Tolerance<D>) -> [f64; D] {
        let mut slack = [1.0; D];
        if self.plain.regime.gelled {
            let times = |place: usize, conversion: f64, slope: f64| {
                let of = |size: f64| tolerance.absolute[place] + tolerance.relative * size;
                of(conversion) / (slope * of(y[place])).max(f64::MIN_POSITIVE)
            };
            let (unblown, ungelled) = (unblown(y[BLOW]), ungelled(y[GEL]));
            slack[BLOW] = times(BLOW, 1.0 - unblown, unblown);
            slack[GEL] = times(GEL, 1.0 - ungelled, ungelled * ungelled);
        }
        if let Some((place, slot)) = self.watched {
            slack[slot] = self.slack_of_pressure(place, slot, y, tolerance);
        }
        slack
    }
}

impl<S: Scalar, const D: usize> Stiff<S, D> for Part<'_, S, D> {
    fn jacobian(&self, y: &[S; D]) -> [[S; D]; D] {
        if D == REACTIONS.len() {
            let slopes = self.exact.reaction_jacobian(&self.whole(y));
            return std::array::from_fn(|i| std::array::from_fn(|j| slopes[i][j]));
        }
        let (all, now) = self.read(y);
        let slopes = self.exact.jacobian_at(&all, &now);
        match self.pressed {
            Some(at) => self.pressed_jacobian(at, &all, &now, &slopes),
            None => self.places.map(|row| self.places.map(|place| slopes[row][place])),
        }
    }
}
