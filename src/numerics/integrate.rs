//! Integration with adaptive steps and events, for any one-step method, with derivatives carried along.
//!
//! Derivatives are those of the discrete solution: every operation of a step runs in the scalar type, and the error control
//! watches the derivatives as it watches the values. A system does not depend on time itself, so the start of a phase may
//! carry derivatives of its own: an event's time is corrected by the implicit function theorem and passed on to the next
//! phase as a number with derivatives. Events are looked for with values alone.

use std::ops::ControlFlow;

use super::Scalar;
use super::events::{Events, SLACK};
use super::segment::Segment;
pub use super::system::System;

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
}

/// A step with the estimate of its error.
pub struct Attempt<S, const D: usize> {
    /// The step.
    pub segment: Segment<S, D>,
    /// Estimated error of its end.
    pub error: [S; D],
    /// A coarse second estimate, for which a wrong step does not pass by chance, if the method has one.
    pub missed: Option<[S; D]>,
    /// f at its end.
    pub end_rate: [S; D],
}

/// How accurately to integrate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance<const D: usize> {
    /// Relative error per step.
    pub relative: f64,
    /// Absolute error per step and component.
    pub absolute: [f64; D],
    /// Steps after which to give up.
    pub max_steps: usize,
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
    /// A step size to go on with.
    pub next_step: f64,
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
const ROUNDS: usize = 12;
/// Share of a step that may be left to an event when the step to it was taken: the state is moved along its rate, and the
/// error is the square of this. At least:
const LEFT: f64 = 1e-6;
/// Share of the tolerance that moving along the rate may cost.
const LEFT_COSTS: f64 = 0.01;
const SAFETY: f64 = 0.9;
const MOST_GROWTH: f64 = 6.0;
const MOST_SHRINK: f64 = 0.15;
/// Smaller errors count as this.
const LEAST_ERROR: f64 = 1e-10;
/// Share of a refused length up to which steps grow again, and how that limit grows with every step.
const REFUSED: f64 = 0.8;
const FORGETTING: f64 = 1.3;
/// How much larger than the tolerated error its second estimate may be.
const COARSE: f64 = 30.0;

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

/// As [`integrate`], as long as `seen` goes on. A step at which it breaks off is not taken: the end is then before `until`,
/// without an event.
///
/// # Errors
/// As [`integrate`].
pub fn integrate_while<M, S, Sys, const D: usize>(
    system: &Sys,
    begin: Begin<S, D>,
    until: f64,
    tolerance: &Tolerance<D>,
    mut seen: impl FnMut(&Segment<S, D>) -> ControlFlow<()>,
) -> Result<End<S, D>, Stall>
where
    M: Method<S, Sys, D>,
    S: Scalar,
    Sys: System<S, D>,
{
    let Begin { mut time, mut state, step: mut length } = begin;
    let mut events = Events::at(system, &state.map(Scalar::value));
    if let Some(which) = events.fired() {
        return Ok(End { time, state, event: Some(which), next_step: length });
    }
    let mut rate = system.rate(&state);
    let mut pace = Pace::new();
    for _ in 0..tolerance.max_steps {
        let remaining = until - time.value();
        if remaining <= 1e-12 * until.abs().max(1.0) {
            let state = shift(&state, &rate, -(time - until));
            return Ok(End { time: S::constant(until), state, event: None, next_step: length });
        }
        let tangent = M::tangent(system, &state);
        let stepper = Stepper::<M, S, Sys, D> { system, tangent, from: &state, rate: &rate, start: time };
        let (attempt, next) = stepper.step(length.min(remaining), remaining, &mut pace, tolerance)?;
        let segment = &attempt.segment;
        let ends = Events::at(system, &segment.to.map(S::value));
        let crossing = events.first_crossing(&ends, system, segment);
        if let Some((which, share)) = crossing {
            let Some((segment, end)) = stepper.land(which, segment, share, tolerance) else {
                // Only the interpolant went there: a shorter step knows better.
                length = stepper.shorter(segment.length)?;
                continue;
            };
            if seen(&segment).is_continue() {
                return Ok(End { next_step: next.min(segment.length), ..end });
            }
        } else if seen(segment).is_continue() {
            events.go_on(&ends, segment.length);
            length = next;
            time += S::constant(segment.length);
            state = segment.to;
            rate = attempt.end_rate;
            continue;
        }
        return Ok(End { time, state, event: None, next_step: length });
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

    /// How much shorter than its own error suggests the step after an accepted one should be, given the length up to which that
    /// error would have let it grow: where errors grow from step to step, the next one's will too. Source: K. Gustafsson,
    /// "Control-theoretic techniques for stepsize selection in implicit Runge-Kutta methods", ACM Trans. Math. Softw. 20, 496
    /// (1994), in the form of E. Hairer, G. Wanner, "Solving Ordinary Differential Equations II", 2nd ed., IV.8.
    fn accepted(&mut self, reach: f64) -> f64 {
        let ahead = self.last.map_or(1.0, |last| reach / last);
        self.last = Some(reach);
        ahead.clamp(MOST_SHRINK, 1.0)
    }

    /// A length no larger than what was refused allows, which is forgotten by and by.
    fn limited(&mut self, length: f64) -> f64 {
        let most = self.most;
        self.most *= FORGETTING;
        length.min(most)
    }
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
    tangent: M::Tangent,
    from: &'a [S; D],
    rate: &'a [S; D],
    start: S,
}

impl<M: Method<S, Sys, D>, S: Scalar, Sys: System<S, D>, const D: usize> Stepper<'_, M, S, Sys, D> {
    fn attempt(&self, length: f64) -> Option<Attempt<S, D>> {
        M::attempt(self.system, &self.tangent, self.start, self.from, self.rate, length)
    }

    /// Size of an attempt's error by its two estimates, and the worst component.
    fn norm(&self, attempt: &Attempt<S, D>, tol: &Tolerance<D>) -> (f64, usize) {
        let segment = &attempt.segment;
        let slack = self.system.slack(&segment.to.map(S::value), tol);
        let fine = norm_of(segment, &attempt.error, tol, &slack);
        let coarse = attempt.missed.as_ref().map(|missed| norm_of(segment, missed, tol, &slack));
        let coarse = coarse.map(|(size, component)| (size / COARSE, component));
        coarse.filter(|coarse| coarse.0.is_nan() || coarse.0 > fine.0).unwrap_or(fine)
    }

    /// Attempts steps until one is accurate enough; returns it with the size to try next.
    fn step(
        &self,
        mut length: f64,
        remaining: f64,
        pace: &mut Pace,
        tol: &Tolerance<D>,
    ) -> Result<(Attempt<S, D>, f64), Stall> {
        let shortest = self.shortest();
        loop {
            let attempt = self.attempt(length);
            let (error, component) = attempt.as_ref().map_or((f64::INFINITY, 0), |a| self.norm(a, tol));
            // The fifth root, for less than a power costs.
            let reach = (-0.2 * error.max(LEAST_ERROR).ln()).exp();
            let factor = (SAFETY * reach).clamp(MOST_SHRINK, MOST_GROWTH);
            match attempt {
                Some(attempt) if error <= 1.0 => {
                    // A step cut short by the end says nothing against the size that was planned.
                    let factor = factor * pace.accepted(length * reach);
                    let next = if length == remaining { length.max(length * factor) } else { length * factor };
                    return Ok((attempt, pace.limited(next)));
                }
                _ => {
                    pace.most = REFUSED * length;
                    length *= factor.min(0.9);
                }
            }
            if length < shortest {
                let reason = if error.is_finite() { "the step size vanished" } else { "the state is no longer finite" };
                return Err(Stall { time: self.start.value(), reason, component });
            }
        }
    }

    /// Ends a step on the event located at `share` of `segment`: the step is taken again to that point, then corrected. `None`
    /// if the event is not there.
    fn land(
        &self,
        which: usize,
        segment: &Segment<S, D>,
        share: f64,
        tol: &Tolerance<D>,
    ) -> Option<(Segment<S, D>, End<S, D>)> {
        let left = if M::STIFF { LEFT } else { (LEFT_COSTS * tol.relative).sqrt().max(LEFT) };
        let most = segment.length * 1.001;
        let mut length = (share * segment.length).max(1e-14).min(most);
        let mut before: Option<(f64, f64)> = None;
        for round in 0..ROUNDS {
            let attempt = self.attempt(length)?;
            // A longer step that was accurate may have been so by chance.
            let error = self.norm(&attempt, tol).0;
            if error.is_nan() || error > 1.0 {
                return None;
            }
            let landed = attempt.segment;
            let rate = attempt.end_rate;
            let value = self.system.event_exact(which, &landed.to);
            let speed = self.system.event_rate(which, &landed.to, &rate);
            if speed <= 0.0 || !speed.is_finite() || round + 1 == ROUNDS && value.value().abs() <= SLACK {
                // Grazing, or lost in rounding: the event's time has no derivative to speak of, the located point stands.
                let end = End { time: self.start + length, state: landed.to, event: Some(which), next_step: length };
                return Some((landed, end));
            }
            let correction = -value / S::constant(speed);
            if correction.value().abs() <= left * segment.length {
                let state = shift(&landed.to, &rate, correction);
                let time = self.start + correction + length;
                return Some((landed, End { time, state, event: Some(which), next_step: length }));
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
        if length > self.shortest() { Ok(MOST_SHRINK * length) } else { Err(stall) }
    }

    fn shortest(&self) -> f64 {
        1e-13 * self.start.value().abs().max(1e-3)
    }
}

/// Size of an error against what is tolerated (accept at 1), over values and each direction of derivatives, and the worst
/// component.
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
