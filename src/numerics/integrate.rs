//! Integration with adaptive steps and events, for any one-step method, with derivatives carried along.
//!
//! Derivatives are those of the discrete solution: every operation of a step runs in the scalar type, and the error
//! control watches the derivatives as it watches the values. A system does not depend on time itself, so the start of a
//! phase may carry derivatives of its own: an event's time is corrected by the implicit function theorem and passed on
//! to the next phase as a number with derivatives. Events are looked for with values alone.

use std::ops::ControlFlow;

use super::Scalar;
use super::events::{Events, SLACK};
use super::segment::Segment;
pub use super::system::{System, Tolerance};

/// Order of the methods.
const ORDER: f64 = 5.0;

/// A one-step method of order 5 with an embedded error estimate.
pub trait Method<S: Scalar, Sys: System<S, D>, const D: usize> {
    /// Whether it is meant for systems that relax fast: close to its solution their rate tells little of where they go.
    const STIFF: bool;
    /// What is computed once per step, whatever its length.
    type Tangent;
    /// Prepares steps from `y`.
    fn tangent(system: &Sys, y: &[S; D]) -> Self::Tangent;
    /// A step of this length; `None` where it is not finite.
    fn attempt(
        system: &Sys,
        tangent: &Self::Tangent,
        start: S,
        from: &[S; D],
        rate: &[S; D],
        length: f64,
    ) -> Option<Attempt<S, D>>;
    /// What comes of a rate that is missed over a step of this length, each component by itself.
    fn come_of(tangent: &Self::Tangent, missed: &[S; D], length: f64) -> [S; D];
}

/// A step with the estimate of its error.
pub struct Attempt<S, const D: usize> {
    /// The step.
    pub segment: Segment<S, D>,
    /// Estimated error of its end.
    pub error: [S; D],
    /// By how much the rate at its end is not what the step took it for, if the method looks: a coarse second estimate,
    /// for which a wrong step does not pass by chance.
    pub missed: Option<[S; D]>,
    /// f at its end.
    pub end_rate: [S; D],
}

/// Why an integration could not go on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stall {
    /// The time reached.
    pub time: f64,
    /// What failed.
    pub reason: &'static str,
    /// The component with the largest error.
    pub component: usize,
}

/// Where an integration ended.
#[derive(Clone, Copy, Debug)]
pub struct End<S, const D: usize> {
    /// The time: the event's, with its derivatives, or the end asked for.
    pub time: S,
    /// The state there.
    pub state: [S; D],
    /// The event that fired, if any.
    pub event: Option<usize>,
    /// A step size to go on with, if all goes on as before.
    pub next_step: f64,
    /// Length of the step that an event cut short: without one, as `next_step`.
    pub last_step: f64,
}

impl<S, const D: usize> End<S, D> {
    /// An end after which a step of this length may go on.
    fn at(time: S, state: [S; D], event: Option<usize>, step: f64) -> Self {
        End { time, state, event, next_step: step, last_step: step }
    }
}

/// Where an integration begins.
#[derive(Clone, Copy, Debug)]
pub struct Begin<S, const D: usize> {
    /// The time.
    pub time: S,
    /// The state.
    pub state: [S; D],
    /// The first step to try.
    pub step: f64,
}

/// Steps to an event are taken again at most this many times.
const MOST_RETRIES: usize = 12;
/// Share of a step that may be left to an event when the step to it was taken: the state is moved along its rate, and
/// the error is the square of this. At least:
const MIN_LEFT_SHARE: f64 = 1e-6;
/// Share of the tolerance that moving along the rate may cost.
const LEFT_ERROR_SHARE: f64 = 0.01;
/// How much less may be left where the system is stiff, and its rate soon another.
const LEFT_IF_STIFF_SHARE: f64 = 0.1;
/// Share of what may be left within which an event is looked for in the interpolant.
const LOOKED_FOR_SHARE: f64 = 0.1;
/// An event function of order one that is this close to zero may as well be there.
const EVENT_ROUNDING: f64 = 1e-13;
/// Share of a step up to which an event function is where the step began.
const AT_START_SHARE: f64 = 1e-5;
const SAFETY: f64 = 0.8;
const MAX_GROWTH: f64 = 8.0;
const MIN_SHRINK: f64 = 0.15;
/// The same for steps that were refused before.
const MIN_SHRINK_AGAIN: f64 = 0.02;
/// Smaller errors count as this.
const MIN_ERROR: f64 = 1e-10;
/// Share of a refused length up to which steps grow again, and how that limit grows with every step.
const REFUSED_SHARE: f64 = 0.6;
const REFUSED_GROWTH: f64 = 1.3;
/// A step whose error would let it grow as many times is past what made a longer one fail.
const EASY_GROWTH: f64 = 3.0;
/// Share of the tolerated error from which the coarse estimate also looks at the step's end.
const COARSE_CHECK_SHARE: f64 = 0.1;

/// Integrates with method `M` to `until` or to the first event; `seen` gets every accepted step in order.
///
/// # Errors
/// A [`Stall`] where the step size vanished, the state ceased to be finite, or the steps ran out.
pub fn integrate<M, S, Sys, const D: usize>(
    system: &Sys,
    begin: Begin<S, D>,
    until: f64,
    tolerance: &Tolerance<D>,
    mut seen: impl FnMut(&Segment<S, D>),
) -> Result<End<S, D>, Stall>
where
    M: Method<S, Sys, D>,
    S: Scalar,
    Sys: System<S, D>,
{
    integrate_while::<M, S, Sys, D>(system, begin, until, tolerance, |segment| {
        seen(segment);
        ControlFlow::Continue(())
    })
}

/// How close to zero an event function is where its event was located.
fn located<const D: usize>(tolerance: &Tolerance<D>) -> f64 {
    (LEFT_ERROR_SHARE * tolerance.relative).max(SLACK)
}

/// Share of a step that may be left to an event.
fn may_be_left<const D: usize>(stiff: bool, tolerance: &Tolerance<D>) -> f64 {
    let share = if stiff { LEFT_IF_STIFF_SHARE } else { 1.0 };
    (share * (LEFT_ERROR_SHARE * tolerance.relative).sqrt()).max(MIN_LEFT_SHARE)
}

/// Where to break off an integration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stop {
    /// Before the step that was seen, which is not taken.
    Before,
    /// After it.
    After,
}

/// As [`integrate`], as long as `seen` goes on. Where it breaks off, the end is before `until`, without an event.
///
/// # Errors
/// As [`integrate`].
pub fn integrate_while<M, S, Sys, const D: usize>(
    system: &Sys,
    begin: Begin<S, D>,
    until: f64,
    tolerance: &Tolerance<D>,
    mut seen: impl FnMut(&Segment<S, D>) -> ControlFlow<Stop>,
) -> Result<End<S, D>, Stall>
where
    M: Method<S, Sys, D>,
    S: Scalar,
    Sys: System<S, D>,
{
    let Begin { mut time, mut state, step: mut length } = begin;
    let mut events = Events::at(system, &state.map(Scalar::value));
    if let Some(which) = events.fired(located(tolerance)) {
        return Ok(End::at(time, state, Some(which), length));
    }
    let mut rate = system.rate(&state);
    let mut tangent = M::tangent(system, &state);
    let mut pace = Pace::new();
    for _ in 0..tolerance.max_steps {
        let remaining = until - time.value();
        if remaining <= 1e-12 * until.abs().max(1.0) {
            let state = shift(&state, &rate, -(time - until));
            return Ok(End::at(S::constant(until), state, None, length));
        }
        let stepper = Stepper::<M, S, Sys, D> { system, tangent: &tangent, from: &state, rate: &rate, start: time };
        let Step { attempt, ahead, next } = stepper.step(length.min(remaining), remaining, &mut pace, tolerance)?;
        let segment = &attempt.segment;
        let ends = Events::at(system, &segment.to.map(S::value));
        let close = LOOKED_FOR_SHARE * may_be_left(M::STIFF, tolerance);
        let crossing = events.first_crossing(&ends, system, segment, close);
        if let Some((which, share)) = crossing {
            let Some((segment, end)) = stepper.land(which, segment, share, tolerance) else {
                // Only the interpolant went there: a shorter step knows better.
                length = stepper.shorter(segment.length)?;
                continue;
            };
            if seen(&segment) != ControlFlow::Break(Stop::Before) {
                return Ok(End { next_step: next, ..end });
            }
            return Ok(End::at(time, state, None, length));
        }
        let goes_on = seen(segment);
        if goes_on == ControlFlow::Break(Stop::Before) {
            return Ok(End::at(time, state, None, length));
        }
        events.go_on(&ends, segment.length);
        length = next;
        time += S::constant(segment.length);
        state = segment.to;
        rate = attempt.end_rate;
        if goes_on.is_break() {
            return Ok(End::at(time, state, None, length));
        }
        tangent = ahead.unwrap_or_else(|| M::tangent(system, &state));
    }
    Err(Stall { time: time.value(), reason: "too many steps", component: 0 })
}

/// What the steps so far tell of the next one's length.
struct Pace {
    /// Up to where steps may grow after a longer one was refused.
    most: f64,
    /// The length up to which the last step's error alone would have let it grow.
    last: Option<f64>,
}

impl Pace {
    fn new() -> Self {
        Pace { most: f64::INFINITY, last: None }
    }

    /// How much shorter than its own error suggests the step after an accepted one should be, given the length up to
    /// which that error would have let it grow: where errors grow from step to step, the next one's will too. Source:
    /// K. Gustafsson, "Control-theoretic techniques for stepsize selection in implicit Runge-Kutta methods", ACM Trans.
    /// Math. Softw. 20, 496 (1994), in the form of E. Hairer, G. Wanner, "Solving Ordinary Differential Equations II",
    /// 2nd ed., IV.8.
    fn accepted(&mut self, reach: f64) -> f64 {
        let ahead = self.last.map_or(1.0, |last| reach / last);
        self.last = Some(reach);
        ahead.clamp(MIN_SHRINK, 1.0)
    }

    /// A length no larger than what was refused allows, which is forgotten by and by; at once where errors are small,
    /// as after a stiff system has settled. `reach`: how many times the last step's error would let it grow.
    fn limited(&mut self, length: f64, reach: f64) -> f64 {
        if reach > EASY_GROWTH {
            self.most = f64::INFINITY;
        }
        let most = self.most;
        self.most *= REFUSED_GROWTH;
        length.min(most)
    }
}

/// The larger of two sizes of errors, with its component; what is no number is larger than any.
fn larger(a: (f64, usize), b: (f64, usize)) -> (f64, usize) {
    if b.0.is_nan() || b.0 > a.0 { b } else { a }
}

/// How much shorter a step should be than one that was refused twice: errors that fall as a lower power of the length
/// than they should, as where a stiff system has to settle, ask for a far shorter one. Source: Gustafsson's paper,
/// above.
#[cold]
fn shrink((longer, before): (f64, f64), (length, error): (f64, f64)) -> f64 {
    let order = (before / error).ln() / (longer / length).ln();
    let order = if order.is_finite() { order.clamp(1.0, ORDER) } else { ORDER };
    (SAFETY * (-error.ln() / order).exp()).clamp(MIN_SHRINK_AGAIN, MAX_GROWTH)
}

/// `state` moved along `rate` for the short time `by`.
#[inline]
pub(crate) fn shift<S: Scalar, const D: usize>(state: &[S; D], rate: &[S; D], by: S) -> [S; D] {
    std::array::from_fn(|i| state[i] + rate[i] * by)
}

#[inline]
pub(super) fn add_scaled<S: Scalar, const D: usize>(y: &mut [S; D], k: &[S; D], weight: f64) {
    if weight != 0.0 {
        y.iter_mut().zip(k).for_each(|(y, k)| y.add_scaled(k, weight));
    }
}

struct Stepper<'a, M: Method<S, Sys, D>, S: Scalar, Sys: System<S, D>, const D: usize> {
    system: &'a Sys,
    tangent: &'a M::Tangent,
    from: &'a [S; D],
    rate: &'a [S; D],
    start: S,
}

/// A step that is accurate enough, the tangent at its end, if it was needed, and the size to try for the next one.
struct Step<S, T, const D: usize> {
    attempt: Attempt<S, D>,
    ahead: Option<T>,
    next: f64,
}

impl<M: Method<S, Sys, D>, S: Scalar, Sys: System<S, D>, const D: usize> Stepper<'_, M, S, Sys, D> {
    fn attempt(&self, length: f64) -> Option<Attempt<S, D>> {
        M::attempt(self.system, self.tangent, self.start, self.from, self.rate, length)
    }

    /// Size of an attempt's error by the embedded estimate, and the worst component.
    fn norm(&self, attempt: &Attempt<S, D>, tol: &Tolerance<D>) -> (f64, usize) {
        norm_of(&attempt.segment, &attempt.error, tol, &self.slack(attempt, tol))
    }

    /// The same by the coarse estimate, as what relaxes in the step does so with this tangent.
    fn coarse(&self, attempt: &Attempt<S, D>, tangent: &M::Tangent, tol: &Tolerance<D>) -> (f64, usize) {
        let Some(missed) = &attempt.missed else { return (0.0, 0) };
        let error = M::come_of(tangent, missed, attempt.segment.length);
        norm_of(&attempt.segment, &error, tol, &self.slack(attempt, tol))
    }

    fn slack(&self, attempt: &Attempt<S, D>, tol: &Tolerance<D>) -> [f64; D] {
        self.system.slack(&attempt.segment.to.map(S::value), tol)
    }

    /// Attempts steps until one is accurate enough; returns it with the size to try next.
    fn step(
        &self,
        mut length: f64,
        remaining: f64,
        pace: &mut Pace,
        tol: &Tolerance<D>,
    ) -> Result<Step<S, M::Tangent, D>, Stall> {
        let shortest = self.shortest();
        let mut refused: Option<(f64, f64)> = None;
        loop {
            let attempt = self.attempt(length);
            let mut worst = attempt.as_ref().map_or((f64::INFINITY, 0), |a| self.norm(a, tol));
            let mut ahead = None;
            if let Some(attempt) = attempt.as_ref().filter(|_| worst.0 <= 1.0) {
                let large = worst.0 > COARSE_CHECK_SHARE;
                worst = larger(worst, self.coarse(attempt, self.tangent, tol));
                if large && worst.0 <= 1.0 {
                    // What relaxes fast at its start and no longer at its end would hide what is missed.
                    let end = ahead.insert(M::tangent(self.system, &attempt.segment.to));
                    worst = larger(worst, self.coarse(attempt, end, tol));
                }
            }
            let (error, component) = worst;
            // The fifth root, for less than a power costs.
            let reach = (-0.2 * error.max(MIN_ERROR).ln()).exp();
            let factor = if error.is_finite() { (SAFETY * reach).clamp(MIN_SHRINK, MAX_GROWTH) } else { MIN_SHRINK };
            match attempt {
                Some(attempt) if error <= 1.0 => {
                    // A step cut short by the end says nothing against the size that was planned.
                    let factor = factor * pace.accepted(length * reach);
                    let next = if length == remaining { length.max(length * factor) } else { length * factor };
                    return Ok(Step { attempt, ahead, next: pace.limited(next, reach) });
                }
                _ => {
                    pace.most = REFUSED_SHARE * length;
                    let factor = refused.map_or(factor, |before| shrink(before, (length, error)));
                    refused = Some((length, error));
                    length *= factor.min(0.9);
                }
            }
            if length < shortest {
                let reason = if error.is_finite() { "the step size vanished" } else { "the state is no longer finite" };
                return Err(Stall { time: self.start.value(), reason, component });
            }
        }
    }

    /// Ends a step on the event located at `share` of `segment`: the step is taken again to that point, then corrected.
    /// `None` if the event is not there.
    fn land(
        &self,
        which: usize,
        segment: &Segment<S, D>,
        share: f64,
        tol: &Tolerance<D>,
    ) -> Option<(Segment<S, D>, End<S, D>)> {
        let left = may_be_left(M::STIFF, tol);
        let most = segment.length * 1.001;
        let mut length = (share * segment.length).max(1e-14).min(most);
        let mut before: Option<(f64, f64)> = None;
        for round in 0..MOST_RETRIES {
            let attempt = self.attempt(length)?;
            // A longer step that was accurate may have been so by chance.
            let errors = [self.norm(&attempt, tol).0, self.coarse(&attempt, self.tangent, tol).0];
            if errors.iter().any(|error| error.is_nan() || *error > 1.0) {
                return None;
            }
            let landed = attempt.segment;
            let rate = attempt.end_rate;
            let value = self.system.event_exact(which, &landed.to);
            let speed = self.system.event_rate(which, &landed.to, &rate);
            if speed < 0.0 && value.value() <= 0.0 && length <= AT_START_SHARE * segment.length {
                // It was at zero from the start, and falls: where the interpolant let it rise again, it may not.
                return None;
            }
            let lost = length == most && value.value().abs() <= EVENT_ROUNDING
                || round + 1 == MOST_RETRIES && value.value().abs() <= located(tol);
            if speed <= 0.0 || !speed.is_finite() || lost {
                // Grazing, or lost in rounding: the event's time has no derivative to speak of, the located point
                // stands.
                let end = End::at(self.start + length, landed.to, Some(which), length);
                return Some((landed, end));
            }
            let correction = -value / S::constant(speed);
            if correction.value().abs() <= left * segment.length {
                let state = shift(&landed.to, &rate, correction);
                let time = self.start + correction + length;
                return Some((landed, End::at(time, state, Some(which), length)));
            }
            if length == most && value.value() < 0.0 {
                // The step ends before it.
                return None;
            }
            // The end of a step moves with its length a little differently than the solution moves with time.
            let here = (length, value.value());
            let secant = before.map(|(at, was)| (here.1 - was) / (here.0 - at)).filter(|s| s.is_finite() && *s > 0.0);
            before = Some(here);
            length = (length - here.1 / secant.unwrap_or(speed)).clamp((0.2 * length).min(most), most);
        }
        None
    }

    /// The length to try after an event was not found in a step of this length.
    fn shorter(&self, length: f64) -> Result<f64, Stall> {
        let stall = Stall { time: self.start.value(), reason: "an event could not be located", component: 0 };
        if length > self.shortest() { Ok(MIN_SHRINK * length) } else { Err(stall) }
    }

    fn shortest(&self) -> f64 {
        1e-13 * self.start.value().abs().max(1e-3)
    }
}

/// Size of an error against what is tolerated (accept at 1), over values and each direction of derivatives, and the
/// worst component.
#[inline]
fn norm_of<S: Scalar, const D: usize>(
    segment: &Segment<S, D>,
    error: &[S; D],
    tol: &Tolerance<D>,
    slack: &[f64; D],
) -> (f64, usize) {
    let ratio = |i: usize, e: f64, a: f64, b: f64| e.abs() / (tol.absolute[i] + tol.relative * a.abs().max(b.abs()));
    let mut worst = (0.0, 0);
    let mut squares = 0.0;
    for (i, e) in error.iter().enumerate() {
        let r = ratio(i, e.value(), segment.from[i].value(), segment.to[i].value()) / slack[i];
        squares += r * r;
        if r > worst.0 {
            worst = (r, i);
        }
    }
    for lane in 0..error[0].derivatives().len() {
        let sum: f64 = (0..D)
            .map(|i| {
                let d = |y: &[S; D]| y[i].derivatives()[lane];
                ratio(i, d(error), d(&segment.from), d(&segment.to)).powi(2)
            })
            .sum();
        squares = squares.max(sum);
    }
    ((squares / D as f64).sqrt(), worst.1)
}

#[cfg(test)]
#[path = "integrate_tests.rs"]
mod tests;
