//! A stiff one-step integrator (Rodas5P) with events that restarts without loss and carries derivatives along.
//!
//! Derivatives are those of the discrete solution: every operation of a step, the Jacobian and the linear solves included,
//! runs in the scalar type, and the error control watches the derivatives as it watches the values. A system does not
//! depend on time itself, so the start of a phase may carry derivatives of its own: an event's time is corrected by the
//! implicit function theorem and passed on to the next phase as a number with derivatives.

use super::Scalar;
use super::tableau::{A, C, DENSE, GAMMA};

/// A system of ordinary differential equations y' = f(y), with its events.
pub trait System<S: Scalar, const D: usize> {
    /// f(y).
    fn rate(&self, y: &[S; D]) -> [S; D];
    /// df/dy, row by row.
    fn jacobian(&self, y: &[S; D]) -> [[S; D]; D];
    /// How many event functions there are.
    fn events(&self) -> usize;
    /// Event function number `which`, of order one. The event fires when it rises through zero.
    fn event(&self, which: usize, y: &[S; D]) -> S;
    /// Time derivative of that event function, given y and y'.
    fn event_rate(&self, which: usize, y: &[S; D], rate: &[S; D]) -> f64;
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

/// One accepted step, readable at any time within.
#[derive(Clone, Copy, Debug)]
pub struct Segment<S, const D: usize> {
    /// Start of the step; its derivatives are those of the phase's start.
    pub start: S,
    /// Length of the step.
    pub length: f64,
    /// State at the start.
    pub from: [S; D],
    /// State at the end.
    pub to: [S; D],
    dense: [[S; D]; 3],
}

impl<S: Scalar, const D: usize> Segment<S, D> {
    /// The time at which the step ends.
    pub fn end(&self) -> f64 {
        self.start.value() + self.length
    }

    /// The state at this share (0 to 1) of the step.
    pub fn at(&self, share: f64) -> [S; D] {
        let rest = 1.0 - share;
        std::array::from_fn(|i| {
            let bend = self.dense[0][i] + (self.dense[1][i] + self.dense[2][i] * share) * share;
            self.from[i] * rest + (self.to[i] + bend * rest) * share
        })
    }

    /// The state at a fixed time within the step, with the derivatives of the step's start taken into account.
    pub fn at_time(&self, time: f64) -> [S; D] {
        let share = (time - self.start.value()) / self.length;
        let mut y = self.at(share);
        if !self.start.derivatives().is_empty() {
            let moved = self.start.tangent();
            let slope = self.slope(share);
            for i in 0..D {
                y[i] -= moved * slope[i];
            }
        }
        y
    }

    fn slope(&self, s: f64) -> [f64; D] {
        std::array::from_fn(|i| {
            let [d0, d1, d2] = [self.dense[0][i].value(), self.dense[1][i].value(), self.dense[2][i].value()];
            let bend = d0 + (d1 + d2 * s) * s;
            let change = self.to[i].value() - self.from[i].value();
            (change + (1.0 - 2.0 * s) * bend + s * (1.0 - s) * (d1 + 2.0 * s * d2)) / self.length
        })
    }
}

/// Event functions this close to zero at the start of a phase count as not yet crossed, so that an event that was just
/// located does not fire again.
const SLACK: f64 = 1e-9;
/// Shares of a step at which event functions are looked at, so that a crossing there and back is not lost.
const LOOKOUTS: [f64; 4] = [0.25, 0.5, 0.75, 1.0];
/// Steps to an event are taken again at most this many times.
const ROUNDS: usize = 12;
const SAFETY: f64 = 0.9;
const MOST_GROWTH: f64 = 6.0;
const MOST_SHRINK: f64 = 0.15;

/// Integrates from `time` to `until` or to the first event; `seen` gets every accepted step in order.
///
/// # Errors
/// A [`Stall`] where the step size vanished, the state ceased to be finite, or the steps ran out.
pub fn integrate<S: Scalar, const D: usize>(
    system: &impl System<S, D>,
    mut time: S,
    mut state: [S; D],
    until: f64,
    first_step: f64,
    tolerance: &Tolerance<D>,
    mut seen: impl FnMut(&Segment<S, D>),
) -> Result<End<S, D>, Stall> {
    let mut length = first_step;
    if let Some(which) = (0..system.events()).find(|&i| system.event(i, &state).value() > SLACK) {
        return Ok(End { time, state, event: Some(which), next_step: length });
    }
    for _ in 0..tolerance.max_steps {
        let rate = system.rate(&state);
        let remaining = until - time.value();
        if remaining <= 1e-12 * until.abs().max(1.0) {
            let state = shift(&state, &rate, -(time - until));
            return Ok(End { time: S::constant(until), state, event: None, next_step: length });
        }
        let stepper = Stepper { system, from: state, rate, jacobian: system.jacobian(&state), start: time };
        let (segment, next) = stepper.step(length.min(remaining), remaining, tolerance)?;
        length = next;
        if let Some((which, share)) = first_crossing(system, &segment) {
            let (segment, end) = stepper.land(which, &segment, share)?;
            seen(&segment);
            return Ok(End { next_step: length.min(segment.length), ..end });
        }
        seen(&segment);
        time += S::constant(segment.length);
        state = segment.to;
    }
    Err(Stall { time: time.value(), reason: "too many steps", component: 0 })
}

/// `state` moved along `rate` for the short time `by`.
fn shift<S: Scalar, const D: usize>(state: &[S; D], rate: &[S; D], by: S) -> [S; D] {
    std::array::from_fn(|i| state[i] + rate[i] * by)
}

struct Stepper<'a, S, Sys, const D: usize> {
    system: &'a Sys,
    from: [S; D],
    rate: [S; D],
    jacobian: [[S; D]; D],
    start: S,
}

impl<S: Scalar, Sys: System<S, D>, const D: usize> Stepper<'_, S, Sys, D> {
    /// Attempts steps until one is accurate enough; returns it with the size to try next.
    fn step(&self, mut length: f64, remaining: f64, tol: &Tolerance<D>) -> Result<(Segment<S, D>, f64), Stall> {
        let shortest = 1e-13 * self.start.value().abs().max(1e-3);
        loop {
            let (error, component, segment) = match self.attempt(length) {
                Some((segment, k8)) => {
                    let (error, component) = norm(&segment, &k8, tol);
                    (error, component, Some(segment))
                }
                None => (f64::INFINITY, 0, None),
            };
            let factor = (SAFETY * error.max(1e-10).powf(-0.2)).clamp(MOST_SHRINK, MOST_GROWTH);
            match segment {
                Some(segment) if error <= 1.0 => {
                    // A step cut short by the end says nothing against the size that was planned.
                    let next = if length == remaining { length.max(length * factor) } else { length * factor };
                    return Ok((segment, next));
                }
                _ => length *= factor.min(0.9),
            }
            if length < shortest {
                let reason = if error.is_finite() { "the step size vanished" } else { "the state is no longer finite" };
                return Err(Stall { time: self.start.value(), reason, component });
            }
        }
    }

    /// One step of this length with its error estimate; `None` where it is not finite.
    fn attempt(&self, length: f64) -> Option<(Segment<S, D>, [S; D])> {
        let lu = Lu::factor(&self.jacobian, 1.0 / (length * GAMMA))?;
        let mut k = [[S::zero(); D]; 8];
        k[0] = lu.solve(self.rate);
        let mut point = self.from;
        for stage in 1..8 {
            if stage < 6 {
                point = self.from;
                for (weight, kj) in A[stage - 1].iter().zip(&k[..stage]) {
                    add_scaled(&mut point, kj, *weight);
                }
            } else {
                add_scaled(&mut point, &k[stage - 1], 1.0);
            }
            let mut right = self.system.rate(&point);
            for (weight, kj) in C[stage - 1].iter().zip(&k[..stage]) {
                add_scaled(&mut right, kj, weight / length);
            }
            k[stage] = lu.solve(right);
        }
        add_scaled(&mut point, &k[7], 1.0);
        if !point.iter().all(S::is_finite) {
            return None;
        }
        let dense = DENSE.map(|row| {
            let mut d = [S::zero(); D];
            row.iter().zip(&k).for_each(|(weight, kj)| add_scaled(&mut d, kj, *weight));
            d
        });
        Some((Segment { start: self.start, length, from: self.from, to: point, dense }, k[7]))
    }

    /// Ends a step on the event located at `share` of `segment`: the step is taken again to that point, then corrected.
    fn land(&self, which: usize, segment: &Segment<S, D>, share: f64) -> Result<(Segment<S, D>, End<S, D>), Stall> {
        let mut length = (share * segment.length).max(1e-14);
        let lost = Stall { time: self.start.value(), reason: "an event could not be located", component: 0 };
        let mut before: Option<(f64, f64)> = None;
        for round in 0..ROUNDS {
            let (landed, _) = self.attempt(length).ok_or(lost)?;
            let rate = self.system.rate(&landed.to);
            let value = self.system.event(which, &landed.to);
            let speed = self.system.event_rate(which, &landed.to, &rate);
            if speed <= 0.0 || !speed.is_finite() || round + 1 == ROUNDS && value.value().abs() <= SLACK {
                // Grazing, or lost in rounding: the event's time has no derivative to speak of, the located point stands.
                let end = End { time: self.start + length, state: landed.to, event: Some(which), next_step: length };
                return Ok((landed, end));
            }
            let correction = -value / S::constant(speed);
            if correction.value().abs() <= 1e-7 * segment.length {
                let state = shift(&landed.to, &rate, correction);
                let time = self.start + correction + length;
                return Ok((landed, End { time, state, event: Some(which), next_step: length }));
            }
            // The end of a step moves with its length a little differently than the solution moves with time.
            let here = (length, value.value());
            let secant = before.map(|(at, was)| (here.1 - was) / (here.0 - at)).filter(|s| s.is_finite() && *s > 0.0);
            before = Some(here);
            length = (length - here.1 / secant.unwrap_or(speed)).clamp(0.2 * length, segment.length * 1.001);
        }
        Err(lost)
    }
}

fn add_scaled<S: Scalar, const D: usize>(y: &mut [S; D], k: &[S; D], weight: f64) {
    if weight != 0.0 {
        for i in 0..D {
            y[i] += k[i] * weight;
        }
    }
}

/// Size of the error against what is tolerated (accept at 1), over values and each direction of derivatives, and the
/// worst component.
fn norm<S: Scalar, const D: usize>(segment: &Segment<S, D>, error: &[S; D], tol: &Tolerance<D>) -> (f64, usize) {
    let ratio = |i: usize, e: f64, a: f64, b: f64| e.abs() / (tol.absolute[i] + tol.relative * a.abs().max(b.abs()));
    let mut worst = (0.0, 0);
    let mut squares = 0.0;
    for (i, e) in error.iter().enumerate() {
        let r = ratio(i, e.value(), segment.from[i].value(), segment.to[i].value());
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

/// The first event function that rises through zero within the step, and where.
fn first_crossing<S: Scalar, const D: usize>(
    system: &impl System<S, D>,
    segment: &Segment<S, D>,
) -> Option<(usize, f64)> {
    let mut first: Option<(usize, f64)> = None;
    for which in 0..system.events() {
        let value = |share: f64| system.event(which, &segment.at(share)).value();
        let mut before = 0.0;
        for here in LOOKOUTS {
            if first.is_some_and(|(_, share)| share <= before) {
                break;
            }
            if value(here) > 0.0 {
                let share = bisect(value, before, here);
                if first.is_none_or(|(_, other)| share < other) {
                    first = Some((which, share));
                }
                break;
            }
            before = here;
        }
    }
    first
}

/// The point between `low` (function not above zero) and `high` (above) where it crosses: false position, with bisection
/// where that is slow.
fn bisect(value: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let (mut below, mut above) = (value(low).min(0.0), value(high));
    for round in 0..60 {
        if high - low <= 1e-12 {
            break;
        }
        let guess = if round % 3 == 2 { 0.5 } else { (below / (below - above)).clamp(0.01, 0.99) };
        let middle = low + guess * (high - low);
        let v = value(middle);
        if v > 0.0 {
            (high, above) = (middle, v);
        } else {
            (low, below) = (middle, v);
        }
    }
    high
}

/// LU factors of (shift I - J), rows pivoted by value.
struct Lu<S, const D: usize> {
    rows: [[S; D]; D],
    order: [usize; D],
}

impl<S: Scalar, const D: usize> Lu<S, D> {
    fn factor(jacobian: &[[S; D]; D], shift: f64) -> Option<Self> {
        let mut rows = jacobian.map(|row| row.map(|x| -x));
        for (i, row) in rows.iter_mut().enumerate() {
            row[i] = row[i] + shift; // S has no `+= f64`
        }
        let mut order: [usize; D] = std::array::from_fn(|i| i);
        for col in 0..D {
            let pivot = (col..D).max_by(|&a, &b| {
                rows[a][col].value().abs().partial_cmp(&rows[b][col].value().abs()).unwrap_or(std::cmp::Ordering::Equal)
            })?;
            rows.swap(col, pivot);
            order.swap(col, pivot);
            let head = rows[col];
            if head[col].value() == 0.0 || !head[col].value().is_finite() {
                return None;
            }
            for row in rows.iter_mut().skip(col + 1) {
                // Much of a Jacobian is zero, by structure; skipping a zero that carries derivatives would lose them.
                if is_nothing(&row[col]) {
                    continue;
                }
                let factor = row[col] / head[col];
                row[col] = factor;
                for j in col + 1..D {
                    row[j] -= factor * head[j];
                }
            }
        }
        Some(Lu { rows, order })
    }

    fn solve(&self, right: [S; D]) -> [S; D] {
        let mut x: [S; D] = self.order.map(|i| right[i]);
        for i in 1..D {
            for j in 0..i {
                let correction = self.rows[i][j] * x[j];
                x[i] -= correction;
            }
        }
        for i in (0..D).rev() {
            for j in i + 1..D {
                let correction = self.rows[i][j] * x[j];
                x[i] -= correction;
            }
            x[i] = x[i] / self.rows[i][i];
        }
        x
    }
}

fn is_nothing<S: Scalar>(x: &S) -> bool {
    x.value() == 0.0 && x.derivatives().iter().all(|d| *d == 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::Dual;

    /// Pendulum-like nonlinear oscillator with a parameter: y0' = y1, y1' = -w^2 sin y0; event when y0 sinks through 0.
    struct Pendulum<S> {
        w2: S,
        watch: bool,
    }

    fn sin_cos<S: Scalar>(x: S) -> (S, S) {
        let (s, c) = x.value().sin_cos();
        (x.tangent() * c + s, x.tangent() * (-s) + c)
    }

    impl<S: Scalar> System<S, 2> for Pendulum<S> {
        fn rate(&self, y: &[S; 2]) -> [S; 2] {
            [y[1], -(self.w2 * sin_cos(y[0]).0)]
        }
        fn jacobian(&self, y: &[S; 2]) -> [[S; 2]; 2] {
            [[S::zero(), S::one()], [-(self.w2 * sin_cos(y[0]).1), S::zero()]]
        }
        fn events(&self) -> usize {
            usize::from(self.watch)
        }
        fn event(&self, _: usize, y: &[S; 2]) -> S {
            -y[0]
        }
        fn event_rate(&self, _: usize, _: &[S; 2], rate: &[S; 2]) -> f64 {
            -rate[0].value()
        }
    }

    const TIGHT: Tolerance<2> = Tolerance { relative: 1e-11, absolute: [1e-12; 2], max_steps: 10_000 };

    fn fixed_step_error(steps: usize) -> (f64, f64) {
        let system = Pendulum { w2: 1.0, watch: false };
        let exact = integrate(&system, 0.0, [1.0, 0.0], 2.0, 1e-3, &TIGHT, |_| ()).unwrap().state;
        let h = 2.0 / steps as f64;
        let (mut y, mut dense_error) = ([1.0, 0.0], 0.0_f64);
        for n in 0..steps {
            let stepper =
                Stepper { system: &system, from: y, rate: system.rate(&y), jacobian: system.jacobian(&y), start: 0.0 };
            let (segment, _) = stepper.attempt(h).unwrap();
            let middle = integrate(&system, 0.0, y, 0.4 * h, 1e-3, &TIGHT, |_| ()).unwrap().state;
            if n == 0 {
                dense_error = (segment.at(0.4)[0] - middle[0]).abs();
            }
            y = segment.to;
        }
        ((y[0] - exact[0]).hypot(y[1] - exact[1]), dense_error)
    }

    /// Observed order of the method (5) and of its continuous extension (local error order 5).
    #[test]
    fn convergence_order_is_that_of_the_source() {
        let ((coarse, dense_coarse), (fine, dense_fine)) = (fixed_step_error(32), fixed_step_error(64));
        let order = (coarse / fine).log2();
        let dense = (dense_coarse / dense_fine).log2();
        assert!((4.8..5.6).contains(&order), "order {order}");
        assert!((4.6..6.5).contains(&dense), "local order of the dense output {dense}");
    }

    /// y' = -1e6 (y - 1): the exact answer at t = 1 is 1; an explicit method of this step size would explode.
    #[test]
    fn stiff_decay_is_damped() {
        struct Decay;
        impl System<f64, 1> for Decay {
            fn rate(&self, y: &[f64; 1]) -> [f64; 1] {
                [-1e6 * (y[0] - 1.0)]
            }
            fn jacobian(&self, _: &[f64; 1]) -> [[f64; 1]; 1] {
                [[-1e6]]
            }
            fn events(&self) -> usize {
                0
            }
            fn event(&self, _: usize, _: &[f64; 1]) -> f64 {
                -1.0
            }
            fn event_rate(&self, _: usize, _: &[f64; 1], _: &[f64; 1]) -> f64 {
                0.0
            }
        }
        let mut steps = 0;
        let tol = Tolerance { relative: 1e-6, absolute: [1e-8], max_steps: 200 };
        let end = integrate(&Decay, 0.0, [5.0], 1.0, 0.1, &tol, |_| steps += 1).unwrap();
        assert!((end.state[0] - 1.0).abs() < 1e-6 && steps < 80, "{} after {steps}", end.state[0]);
    }

    /// A quarter period of the small-angle pendulum ends at pi/(2w); its derivative by w^2 is -pi/(4 w^3), and the state
    /// there keeps y0 = 0 whatever w is.
    #[test]
    fn event_time_and_state_carry_exact_derivatives() {
        let w2 = Dual::<1>::seeded(4.0, 0, 1.0);
        let y = [Dual::constant(1e-4), Dual::constant(0.0)];
        let tol = Tolerance { relative: 1e-10, absolute: [1e-16; 2], max_steps: 10_000 };
        let system = Pendulum { w2, watch: true };
        let end = integrate(&system, Dual::constant(0.0), y, 10.0, 1e-3, &tol, |_| ()).unwrap();
        let pi = std::f64::consts::PI;
        assert_eq!(end.event, Some(0));
        assert!((end.time.value - pi / 4.0).abs() < 1e-8);
        assert!((end.time.slope[0] + pi / 32.0).abs() < 1e-7, "{:?}", end.time);
        assert!(end.state[0].slope[0].abs() < 1e-12, "{:?}", end.state);
    }

    /// Going on after an event and reading at a fixed time gives the derivatives of the uninterrupted solution.
    #[test]
    fn a_stop_at_an_event_leaves_no_trace_in_the_derivatives() {
        let w2 = Dual::<1>::seeded(2.3, 0, 1.0);
        let y = [Dual::constant(0.8), Dual::constant(0.1)];
        let go =
            |watch: bool, t, y, until| integrate(&Pendulum { w2, watch }, t, y, until, 1e-3, &TIGHT, |_| ()).unwrap();
        let whole = go(false, Dual::constant(0.0), y, 3.0);
        let stop = go(true, Dual::constant(0.0), y, 3.0);
        assert_eq!(stop.event, Some(0));
        let rest = go(false, stop.time, stop.state, 3.0);
        for i in 0..2 {
            assert!((whole.state[i].value - rest.state[i].value).abs() < 1e-9);
            assert!((whole.state[i].slope[0] - rest.state[i].slope[0]).abs() < 1e-8, "{whole:?} {rest:?}");
        }
    }
}
