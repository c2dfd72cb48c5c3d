//! The part of the state that is integrated while the rest stands still.
//!
//! Most phases leave most of the state alone: reactions only while the mold is open, while the air just follows the
//! rise, and after gel; the vents' loss between fill and gel. A part of the state is a system of its own, small and
//! quick.

use std::cell::RefCell;

use super::air_balance::Followed;
use super::events::Event;
use super::pressure_state::{at_pressure, decides_pressure};
use super::stepping_mode::{SteppingMode, Stiffness};
use super::twin::Twin;
use crate::numerics::Scalar;
use crate::numerics::integrate::{System, Tolerance};
use crate::numerics::segment::Segment;
use crate::physics::casting::equations::layout::{Moving, Shared, State, moving};
use crate::physics::casting::equations::{CavityState, Equations, unblown_of};
use crate::physics::kinetics::{BLOW, GEL, REACTING, gelled, unblown, ungelled};
use crate::physics::layers::Layers;

/// Nearer to an event than this, the pressure decides; farther away it is taken as ambient.
const NEAR: f64 = 0.1;
/// Share of the ambient pressure that relative errors of the pressure also count as tolerated.
pub const PRESSURE_FLOOR: f64 = 0.1;
/// Time over which the speed of events is taken where the headspace follows the rise, s.
const EVENT_SPEED_STEP: f64 = 1e-4;

/// All reactions and what is named of the shared values, the rest standing still.
///
/// What decides the pressure may be left to it: its place then holds the absolute pressure, Pa. Where foam or air
/// leaves through a wide opening, a pascal more or less reverses the flow, while a millionth of the foam's mass is a
/// tenth of one.
pub struct MovingPart<'a, S, const D: usize, const N: usize> {
    pub(super) twin: &'a Twin<S>,
    pub(super) rest: State<S, N>,
    value_rest: State<f64, N>,
    pub(super) moving: Moving<D, N>,
    /// Whether the headspace follows the rise, and the state's air is not looked at.
    pub(super) follows: bool,
    /// What the pressure stands for.
    pub(super) replaced: Option<Replaced>,
    /// What decides the pressure, where its errors are limited by what they do to the pressure.
    limited: Option<Replaced>,
    /// The last state in which the headspace followed, and what was found there.
    last_followed: RefCell<Option<(State<f64, N>, Followed<f64, N>)>>,
    /// The cavity where it was last asked for in values.
    last: RefCell<LastState<D, N>>,
}

/// A value of the state that decides the pressure, and its place in the moving part.
#[derive(Clone, Copy)]
pub(super) struct Replaced {
    pub(super) which: Shared,
    pub(super) slot: usize,
}

/// A part of the state in values, the whole, and the cavity there.
struct LastState<const D: usize, const N: usize> {
    at: [f64; D],
    all: State<f64, N>,
    now: CavityState<f64, N>,
}

impl<'a, S: Scalar, const D: usize, const N: usize> MovingPart<'a, S, D, N> {
    pub fn new(twin: &'a Twin<S>, rest: State<S, N>, moving: Moving<D, N>, follows: bool) -> Self {
        let value_rest = rest.map(S::value);
        let last = LastState { at: [f64::NAN; D], all: value_rest, now: CavityState::unknown() };
        MovingPart {
            twin,
            rest,
            value_rest,
            moving,
            follows,
            replaced: None,
            limited: None,
            last_followed: RefCell::new(None),
            last: RefCell::new(last),
        }
    }

    /// This part as it is integrated in this mode: where the pressure relaxes fast, it stands in place of the air or
    /// the foam that decides it, or that is limited by what its errors do to the pressure.
    pub fn in_mode(self, mode: Option<SteppingMode>) -> Self {
        let decides = decides_pressure(&self.twin.values).and_then(|which| {
            let slot = self.moving.slot(which)?;
            Some(Replaced { which, slot })
        });
        match mode {
            Some(SteppingMode::Implicit) => MovingPart { replaced: decides, ..self },
            Some(SteppingMode::Settling) => MovingPart { limited: decides, ..self },
            _ => self,
        }
    }

    /// Where the pressure stands in this part, if it does.
    pub fn pressure_slot(&self) -> Option<usize> {
        self.replaced.map(|replaced| replaced.slot)
    }

    /// The equations with derivatives.
    pub fn equations(&self) -> &Equations<S> {
        &self.twin.exact
    }

    /// Whether the mold is not closed yet.
    pub fn is_open(&self) -> bool {
        self.twin.values.regime.open
    }

    /// This part of a whole.
    pub fn of(&self, all: &State<S, N>) -> [S; D] {
        let mut y = self.moving.of(all);
        if let Some(replaced) = self.replaced {
            y[replaced.slot] = self.twin.exact.cavity_state(all).pressure;
        }
        y
    }

    /// The whole state.
    #[inline]
    pub fn whole(&self, y: &[S; D]) -> State<S, N> {
        let mut all = self.rest;
        complete(&self.twin.exact, &mut all, &self.moving, self.replaced, y);
        all
    }

    /// The whole state, in values.
    #[inline]
    pub fn value_whole(&self, y: &[f64; D]) -> State<f64, N> {
        let mut all = self.value_rest;
        complete(&self.twin.values, &mut all, &self.moving, self.replaced, y);
        all
    }

    /// The whole state, and the cavity there.
    pub fn cavity_at(&self, y: &[S; D]) -> (State<S, N>, CavityState<S, N>) {
        let mut all = self.rest;
        let known = complete(&self.twin.exact, &mut all, &self.moving, self.replaced, y);
        let now = self.cavity(&all, known);
        (all, now)
    }

    /// The whole state, and what reactions and heat ask of the cavity while its air follows the rise.
    pub(super) fn free_at(&self, y: &[S; D]) -> (State<S, N>, CavityState<S, N>) {
        let all = self.whole(y);
        let now = self.twin.exact.free_state(&all);
        (all, now)
    }

    /// The cavity at the whole state `all`, given what was needed to complete it.
    #[inline]
    fn cavity(&self, all: &State<S, N>, known: Option<KnownPressure<S, N>>) -> CavityState<S, N> {
        if let Some(known) = known {
            return self.twin.exact.cavity_state_at(all, known.pressure, known.unblown);
        }
        if !self.follows {
            return self.twin.exact.cavity_state(all);
        }
        // With the balance found in values, one step with derivatives makes them exact.
        let followed = self.following(&all.map(S::value));
        if S::zero().derivatives().is_empty() {
            return followed.cavity.map(S::constant);
        }
        let exact = self.twin.exact.following(all, &followed.balance, self.twin.balance_tolerance);
        exact.unwrap_or_else(Followed::nothing).cavity
    }

    /// The cavity at these times within a step. Stage by stage: at one time everything waits for its
    /// exponential and its divisions, those of many go on side by side.
    pub fn cavity_at_all(
        &self,
        segment: &Segment<S, D>,
        times: &[f64],
        to: &mut Vec<(State<S, N>, CavityState<S, N>)>,
    ) {
        to.clear();
        if self.follows || self.replaced.is_some() {
            to.extend(times.iter().map(|time| self.cavity_at(&segment.at_time(*time))));
            return;
        }
        to.resize(times.len(), (self.rest, CavityState::unknown()));
        for ((all, _), time) in to.iter_mut().zip(times) {
            self.moving.set(all, &segment.at_time(*time));
        }
        to.iter_mut().for_each(|(y, now)| now.unblown = unblown_of(y));
        to.iter_mut().for_each(|(y, now)| *now = self.twin.exact.cavity_state_with(y, now.unblown));
    }

    /// Hands on the whole and the cavity in values. The last one is kept, and overwritten in place: several events ask
    /// for it.
    #[inline]
    pub fn with_values<R>(&self, y: &[f64; D], take: impl FnOnce(&State<f64, N>, &CavityState<f64, N>) -> R) -> R {
        let last = &mut *self.last.borrow_mut();
        if last.at != *y {
            last.at = *y;
            let values = &self.twin.values;
            let known = complete(values, &mut last.all, &self.moving, self.replaced, y);
            last.now = match known {
                Some(known) => values.cavity_state_at(&last.all, known.pressure, known.unblown),
                None if self.follows => self.following(&last.all).cavity,
                None => values.cavity_state(&last.all),
            };
        }
        take(&last.all, &last.now)
    }

    /// The pressure in values, Pa.
    pub fn pressure_value(&self, y: &[f64; D]) -> f64 {
        self.replaced.map_or_else(|| self.with_values(y, |_, now| now.pressure), |replaced| y[replaced.slot])
    }

    /// Where the headspace follows, in values; not numbers where it cannot follow. The last one is kept: several
    /// events ask for it, and it is the next one's first guess.
    pub fn following(&self, all: &State<f64, N>) -> Followed<f64, N> {
        let last = &mut *self.last_followed.borrow_mut();
        if let Some((at, followed)) = last
            && *at == *all
        {
            return *followed;
        }
        let values = &self.twin.values;
        let near = last.as_ref().map(|(_, followed)| followed.balance).filter(|near| near.pressure.is_finite());
        let near = near.unwrap_or_else(|| values.outflow(values.cavity_state(&self.value_rest).pressure));
        let followed = values.following(all, &near, self.twin.balance_tolerance).unwrap_or_else(Followed::nothing);
        *last = Some((*all, followed));
        followed
    }

    /// What an event's function comes to at ambient pressure, if it is below zero there by so much that the little
    /// gauge pressure of a headspace that follows the rise makes no difference.
    fn far(&self, event: Event<f64>, y: &[f64; D]) -> Option<f64> {
        if !self.follows {
            return None;
        }
        let all = &self.value_whole(y);
        let at_ambient = event.function_at_ambient(&self.twin.values, all)?;
        (at_ambient < -NEAR).then_some(at_ambient)
    }

    /// Whether the headspace has come to the pressure with which it follows the rise where this step begins.
    pub fn is_followed(&self, segment: &Segment<S, D>, limit: f64) -> bool {
        let values = &self.twin.values;
        self.with_values(&segment.from.map(S::value), |all, now| {
            let there = values.following(all, &values.outflow(now.pressure), self.twin.balance_tolerance);
            there.is_some_and(|there| there.away(now.pressure) <= limit)
        })
    }

    /// How fast it relaxes at the end of a step, of the integration to `until`.
    pub fn stiffness_after<R>(&self, segment: &Segment<S, D>, until: f64, take: impl FnOnce(&Stiffness<N>) -> R) -> R {
        let state = self.value_whole(&segment.to.map(S::value));
        take(&Stiffness::of(&self.twin.values, &state, self.moving.beside(), until - segment.end()))
    }

    /// What is left of the tolerated error of what decides the pressure, if it is not to cost more than that of the
    /// pressure.
    #[cold]
    fn slack_of_pressure(&self, limited: Replaced, y: &[f64; D], tolerance: &Tolerance<D>) -> f64 {
        let values = &self.twin.values;
        let tolerated = tolerance.absolute[limited.slot] + tolerance.relative * y[limited.slot].abs();
        self.with_values(y, |all, now| {
            let pascals = tolerance.relative * (now.pressure + PRESSURE_FLOOR * values.cavity.ambient);
            (pascals / values.gradient(all, now)[limited.which] / tolerated).abs().min(1.0)
        })
    }

    /// The rate of the whole state and of the pressure, from that of this part.
    fn whole_rate(&self, y: &State<S, N>, now: &CavityState<S, N>, rate: &[S; D]) -> (State<S, N>, S) {
        let exact = &self.twin.exact;
        let mut all = State::zero();
        self.moving.set(&mut all, rate);
        let Some(Replaced { which, slot }) = self.replaced else { return (all, exact.climb(y, now, &all)) };
        all[which] = S::zero();
        all[which] = (rate[slot] - exact.climb(y, now, &all)) / exact.gradient(y, now)[which];
        (all, rate[slot])
    }
}

/// What is known where the pressure is a state: it, and the share of the gas that is not made yet.
#[derive(Clone, Copy)]
struct KnownPressure<T, const N: usize> {
    pressure: T,
    unblown: [T; N],
}

/// Sets what `y` is of the whole state.
#[inline(always)]
fn complete<T: Scalar, const D: usize, const N: usize>(
    equations: &Equations<T>,
    all: &mut State<T, N>,
    moving: &Moving<D, N>,
    replaced: Option<Replaced>,
    y: &[T; D],
) -> Option<KnownPressure<T, N>> {
    moving.set(all, y);
    let Replaced { which, slot } = replaced?;
    let known = KnownPressure { pressure: y[slot], unblown: unblown_of(all) };
    all[which] = at_pressure(equations, all, which, known.pressure, &known.unblown);
    Some(known)
}

impl<S: Scalar, const D: usize, const N: usize> System<S, D> for MovingPart<'_, S, D, N> {
    fn rate(&self, y: &[S; D]) -> [S; D] {
        let exact = &self.twin.exact;
        if D == moving(1, 0) {
            let (mass, mut rate) = (exact.mass(&self.rest), [S::zero(); D]);
            for (to, node) in rate.as_chunks_mut().0.iter_mut().zip(y.as_chunks().0) {
                *to = exact.reaction_rate::<N>(node, unblown(node[BLOW]), mass);
            }
            return rate;
        }
        // In place: on the way to the next stage, a copy of what was just written would be waited for.
        let mut all = self.rest;
        let known = complete(exact, &mut all, &self.moving, self.replaced, y);
        let now = if self.follows { exact.free_state(&all) } else { self.cavity(&all, known) };
        let mut rate = State::zero();
        exact.add_rates(&all, &now, &mut rate);
        let mut part: [S; D] = self.moving.of(&rate);
        if let Some(replaced) = self.replaced {
            part[replaced.slot] = exact.climb(&all, &now, &rate);
        }
        part
    }

    fn events(&self) -> usize {
        self.twin.value_events.len()
    }

    fn event(&self, which: usize, y: &[f64; D]) -> f64 {
        let (event, values) = (self.twin.value_events[which], &self.twin.values);
        match event {
            // While the headspace follows, its pressure jumps as CO2 begins to come out, and for a moment the liquid
            // seems to hold all of it again. Whoever follows looks at the ends of the steps.
            Event::Unsaturated(..) if self.follows => -1.0,
            Event::Gel => {
                let share = &Layers::<N>::NODES.share;
                let gelled = |i: usize| gelled(y[i * REACTING + GEL]) * share[i];
                (0..N).map(gelled).sum::<f64>() - values.foam.gel_conversion
            }
            _ => self.far(event, y).unwrap_or_else(|| self.with_values(y, |all, now| event.function(values, all, now))),
        }
    }

    fn event_exact(&self, which: usize, y: &[S; D]) -> S {
        let (all, now) = self.cavity_at(y);
        self.twin.events[which].function(&self.twin.exact, &all, &now)
    }

    fn event_rate(&self, which: usize, y: &[S; D], rate: &[S; D]) -> f64 {
        if self.follows {
            let (event, values) = (self.twin.value_events[which], &self.twin.values);
            let at = |by: f64| {
                let y = std::array::from_fn(|i| y[i].value() + by * rate[i].value());
                self.with_values(&y, |all, now| event.function(values, all, now))
            };
            return (at(EVENT_SPEED_STEP) - at(-EVENT_SPEED_STEP)) / (2.0 * EVENT_SPEED_STEP);
        }
        let (all, now) = self.cavity_at(y);
        let (moving, climb) = self.whole_rate(&all, &now, rate);
        self.twin.events[which].speed(&self.twin.exact, &all, &moving, &now, climb.value())
    }

    fn is_monotone(&self, which: usize) -> bool {
        self.follows || matches!(self.twin.value_events[which], Event::Gel)
    }

    /// Set foam no longer flows: a turnover then matters for its conversion alone, and less and less.
    #[inline(always)]
    fn slack(&self, y: &[f64; D], tolerance: &Tolerance<D>) -> [f64; D] {
        let mut slack = [1.0; D];
        if self.twin.values.regime.gelled {
            for first in (0..N).map(|node| node * REACTING) {
                let times = |place: usize, conversion: f64, slope: f64| {
                    let of = |size: f64| tolerance.absolute[place] + tolerance.relative * size;
                    of(conversion) / (slope * of(y[place])).max(f64::MIN_POSITIVE)
                };
                let (blow, gel) = (first + BLOW, first + GEL);
                let (unblown, ungelled) = (unblown(y[blow]), ungelled(y[gel]));
                slack[blow] = times(blow, 1.0 - unblown, unblown);
                slack[gel] = times(gel, 1.0 - ungelled, ungelled * ungelled);
            }
        }
        if let Some(limited) = self.limited {
            slack[limited.slot] = self.slack_of_pressure(limited, y, tolerance);
        }
        slack
    }
}
