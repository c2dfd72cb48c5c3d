//! Both methods on problems with known answers: their orders, stiffness, events and derivatives.

use std::cell::Cell;

use super::*;
use crate::numerics::Dual;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::rosenbrock::{Rodas5P, Stiff};

/// A pendulum with a parameter: y0' = y1, y1' = -w^2 sin y0; event when y0 sinks through 0.
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
    fn events(&self) -> usize {
        usize::from(self.watch)
    }
    fn event(&self, _: usize, y: &[f64; 2]) -> f64 {
        -y[0]
    }
    fn event_exact(&self, _: usize, y: &[S; 2]) -> S {
        -y[0]
    }
    fn event_rate(&self, _: usize, _: &[S; 2], rate: &[S; 2]) -> f64 {
        -rate[0].value()
    }
}

impl<S: Scalar> Stiff<S, 2> for Pendulum<S> {
    fn jacobian(&self, y: &[S; 2]) -> [[S; 2]; 2] {
        [[S::zero(), S::one()], [-(self.w2 * sin_cos(y[0]).1), S::zero()]]
    }
}

const TIGHT: Tolerance<2> = Tolerance { relative: 1e-11, absolute: [1e-12; 2], max_steps: 10_000 };

/// Integrates a pendulum with both methods and hands each end to `check`.
fn with_both<S: Scalar>(
    system: &Pendulum<S>,
    time: S,
    state: [S; 2],
    until: f64,
    tolerance: &Tolerance<2>,
    check: impl Fn(End<S, 2>),
) {
    let begin = Begin { time, state, step: 1e-3 };
    check(integrate::<Rodas5P, _, _, 2>(system, begin, until, tolerance, |_| ()).unwrap());
    check(integrate::<DormandPrince, _, _, 2>(system, begin, until, tolerance, |_| ()).unwrap());
}

fn swing(y: [f64; 2], until: f64) -> [f64; 2] {
    let system = Pendulum { w2: 1.0, watch: false };
    let begin = Begin { time: 0.0, state: y, step: 1e-3 };
    integrate::<Rodas5P, _, _, 2>(&system, begin, until, &TIGHT, |_| ()).unwrap().state
}

/// Error at t = 2 with steps of one length, and of the first step's continuous extension.
fn fixed_step_error<M: Method<f64, Pendulum<f64>, 2>>(steps: usize) -> (f64, f64) {
    let system = Pendulum { w2: 1.0, watch: false };
    let h = 2.0 / steps as f64;
    let (mut y, mut dense_error) = ([1.0, 0.0], 0.0_f64);
    for n in 0..steps {
        let attempt = M::attempt(&system, &M::tangent(&system, &y), 0.0, &y, &system.rate(&y), h).unwrap();
        if n == 0 {
            dense_error = (attempt.segment.at(0.4)[0] - swing(y, 0.4 * h)[0]).abs();
        }
        y = attempt.segment.to;
    }
    let exact = swing([1.0, 0.0], 2.0);
    ((y[0] - exact[0]).hypot(y[1] - exact[1]), dense_error)
}

/// Observed order of a method (5) and of its continuous extension (local error order 5).
fn assert_orders<M: Method<f64, Pendulum<f64>, 2>>() {
    let ((coarse, dense_coarse), (fine, dense_fine)) = (fixed_step_error::<M>(32), fixed_step_error::<M>(64));
    let order = (coarse / fine).log2();
    let dense = (dense_coarse / dense_fine).log2();
    assert!((4.5..5.6).contains(&order), "order {order}");
    assert!((4.5..6.5).contains(&dense), "local order of the dense output {dense}");
}

#[test]
fn convergence_orders_are_those_of_the_sources() {
    assert_orders::<Rodas5P>();
    assert_orders::<DormandPrince>();
}

/// The quartic and its slope agree, ends included.
#[test]
fn segments_are_consistent() {
    let system = Pendulum { w2: 1.0, watch: false };
    let begin = Begin { time: 0.0, state: [1.0, 0.0], step: 0.1 };
    let tol = Tolerance { relative: 1e-6, absolute: [1e-8; 2], max_steps: 1000 };
    let check = |segment: &Segment<f64, 2>| {
        for i in 0..2 {
            assert!((segment.at(1.0)[i] - segment.to[i]).abs() < 1e-13);
            let middle = (segment.at(0.501)[i] - segment.at(0.499)[i]) / (0.002 * segment.length);
            assert!((middle - segment.slopes_at(0.5)[i]).abs() < 1e-5);
        }
    };
    integrate::<Rodas5P, _, _, 2>(&system, begin, 3.0, &tol, check).unwrap();
    integrate::<DormandPrince, _, _, 2>(&system, begin, 3.0, &tol, check).unwrap();
}

/// y0' = 1, y1' = -w (y1 - cos y0) - sin y0: from far off, y1 settles within a few 1/w, and then is cos y0.
struct Settling {
    w: f64,
    asked: Cell<usize>,
}

impl System<f64, 2> for Settling {
    fn rate(&self, y: &[f64; 2]) -> [f64; 2] {
        self.asked.set(self.asked.get() + 1);
        [1.0, -self.w * (y[1] - y[0].cos()) - y[0].sin()]
    }
}

impl Stiff<f64, 2> for Settling {
    fn jacobian(&self, y: &[f64; 2]) -> [[f64; 2]; 2] {
        [[0.0, 0.0], [-self.w * y[0].sin() - y[0].cos(), -self.w]]
    }
}

/// A first step that is far too long costs few attempts, and none of the steps after it stay short.
#[test]
fn steps_find_the_length_of_what_settles_and_leave_it() {
    for w in [1e2, 1e4, 1e6] {
        let system = Settling { w, asked: Cell::new(0) };
        let tol = Tolerance { relative: 1e-4, absolute: [1e-5; 2], max_steps: 1000 };
        let begin = Begin { time: 0.0, state: [0.0, 3.0], step: 1.0 };
        let mut steps = 0;
        let end = integrate::<Rodas5P, _, _, 2>(&system, begin, 3.0, &tol, |_| steps += 1).unwrap();
        assert!((end.state[1] - 3.0_f64.cos()).abs() < 1e-3, "{:?}", end.state);
        let attempts = system.asked.get() / 8;
        assert!(steps <= 24 && attempts <= steps + 6, "w {w:e}: {steps} steps of {attempts} attempts");
    }
}

/// y' = -1e6 (y - 1): the exact answer at t = 1 is 1; an explicit method of this step size would explode.
#[test]
fn stiff_decay_is_damped() {
    struct Decay;
    impl System<f64, 1> for Decay {
        fn rate(&self, y: &[f64; 1]) -> [f64; 1] {
            [-1e6 * (y[0] - 1.0)]
        }
    }
    impl Stiff<f64, 1> for Decay {
        fn jacobian(&self, _: &[f64; 1]) -> [[f64; 1]; 1] {
            [[-1e6]]
        }
    }
    let mut steps = 0;
    let tol = Tolerance { relative: 1e-6, absolute: [1e-8], max_steps: 200 };
    let begin = Begin { time: 0.0, state: [5.0], step: 0.1 };
    let end = integrate::<Rodas5P, _, _, 1>(&Decay, begin, 1.0, &tol, |_| steps += 1).unwrap();
    assert!((end.state[0] - 1.0).abs() < 1e-6 && steps < 80, "{} after {steps}", end.state[0]);
}

/// A quarter period of the small-angle pendulum ends at pi/(2w); its derivative by w^2 is -pi/(4 w^3), and the state
/// there keeps y0 = 0 whatever w is.
#[test]
fn event_time_and_state_carry_exact_derivatives() {
    let w2 = Dual::<1>::seeded(4.0, 0, 1.0);
    let y = [Dual::constant(1e-4), Dual::constant(0.0)];
    let tol = Tolerance { relative: 1e-10, absolute: [1e-16; 2], max_steps: 10_000 };
    let pi = std::f64::consts::PI;
    with_both(&Pendulum { w2, watch: true }, Dual::constant(0.0), y, 10.0, &tol, |end| {
        assert_eq!(end.event, Some(0));
        assert!((end.time.value - pi / 4.0).abs() < 1e-8);
        assert!((end.time.slope[0] + pi / 32.0).abs() < 1e-7, "{:?}", end.time);
        assert!(end.state[0].slope[0].abs() < 1e-12, "{:?}", end.state);
    });
}

/// Going on after an event and reading at a fixed time gives the derivatives of the uninterrupted solution.
#[test]
fn a_stop_at_an_event_leaves_no_trace_in_the_derivatives() {
    let w2 = Dual::<1>::seeded(2.3, 0, 1.0);
    let y = [Dual::constant(0.8), Dual::constant(0.1)];
    let free = Pendulum { w2, watch: false };
    let begin = Begin { time: Dual::constant(0.0), state: y, step: 1e-3 };
    let whole = integrate::<Rodas5P, _, _, 2>(&free, begin, 3.0, &TIGHT, |_| ()).unwrap();
    with_both(&Pendulum { w2, watch: true }, Dual::constant(0.0), y, 3.0, &TIGHT, |stop| {
        assert_eq!(stop.event, Some(0));
        with_both(&free, stop.time, stop.state, 3.0, &TIGHT, |rest| {
            for i in 0..2 {
                assert!((whole.state[i].value - rest.state[i].value).abs() < 1e-9);
                assert!((whole.state[i].slope[0] - rest.state[i].slope[0]).abs() < 1e-8, "{whole:?} {rest:?}");
            }
        });
    });
}

/// An outflow by a root law, steep only near its end. For this one step length the embedded estimate of a step that
/// ends below zero passes through zero itself; lengths around it are tried so that one of them is it.
#[test]
fn no_step_is_right_by_chance() {
    struct Outflow;
    impl System<f64, 1> for Outflow {
        fn rate(&self, [y]: &[f64; 1]) -> [f64; 1] {
            [-77.0 * y / (1.0 + y.abs()).sqrt()]
        }
    }
    impl Stiff<f64, 1> for Outflow {
        fn jacobian(&self, [y]: &[f64; 1]) -> [[f64; 1]; 1] {
            let of = 1.0 + y.abs();
            [[-77.0 * (1.0 - 0.5 * y.abs() / of) / of.sqrt()]]
        }
    }
    let tol = Tolerance { relative: 1e-6, absolute: [0.1], max_steps: 1000 };
    for step in (0..2000).map(|i| 0.55 + 1e-4 * f64::from(i)) {
        let begin = Begin { time: 0.0, state: [116.0], step };
        let mut lowest = 0.0_f64;
        let seen = |segment: &Segment<f64, 1>| lowest = lowest.min(segment.to[0]);
        integrate::<Rodas5P, _, _, 1>(&Outflow, begin, 1.0, &tol, seen).expect("it ends");
        assert!(lowest > -10.0, "{lowest} with a first step of {step}");
    }
}

/// y' = y^2, ever steeper up to its end at t = 1: where errors grow from step to step, few steps should have to be
/// taken twice.
#[test]
fn steps_shorten_before_they_fail() {
    struct Blowup(Cell<usize>);
    impl System<f64, 1> for Blowup {
        fn rate(&self, [y]: &[f64; 1]) -> [f64; 1] {
            self.0.set(self.0.get() + 1);
            [y * y]
        }
    }
    let system = Blowup(Cell::new(0));
    let tol = Tolerance { relative: 1e-6, absolute: [1e-8], max_steps: 1000 };
    let mut steps = 0;
    let begin = Begin { time: 0.0, state: [1.0], step: 0.01 };
    let end = integrate::<DormandPrince, _, _, 1>(&system, begin, 0.999, &tol, |_| steps += 1).expect("it ends");
    assert!((end.state[0] / 1000.0 - 1.0).abs() < 1e-2, "{:?}", end.state);
    let refused = system.0.get() / 6 - steps;
    assert!(refused * 10 <= steps, "{refused} refused, {steps} taken");
}

/// An event function that is above zero for a while in the middle of a step, and equally far below at both of its ends.
#[test]
fn a_crossing_there_and_back_within_a_step_is_seen() {
    struct Hill;
    impl System<f64, 1> for Hill {
        fn rate(&self, _: &[f64; 1]) -> [f64; 1] {
            [1.0]
        }
        fn events(&self) -> usize {
            1
        }
        fn event(&self, _: usize, [y]: &[f64; 1]) -> f64 {
            0.05 - (y - 1.0).powi(2)
        }
        fn event_exact(&self, which: usize, y: &[f64; 1]) -> f64 {
            self.event(which, y)
        }
        fn event_rate(&self, _: usize, [y]: &[f64; 1], _: &[f64; 1]) -> f64 {
            -2.0 * (y - 1.0)
        }
    }
    let begin = Begin { time: 0.0, state: [0.0], step: 0.3 };
    let tol = Tolerance { relative: 1e-6, absolute: [1e-8], max_steps: 10 };
    let end = integrate::<DormandPrince, _, _, 1>(&Hill, begin, 1.7, &tol, |_| ()).expect("it ends");
    assert_eq!(end.event, Some(0));
    assert!((end.time - (1.0 - 0.05_f64.sqrt())).abs() < 1e-9, "{}", end.time);
}

/// An event function that hangs at zero, which rounding alone puts on this side or on that.
#[test]
fn an_event_that_only_rounding_decides_is_located() {
    struct Hanging;
    impl System<f64, 1> for Hanging {
        fn rate(&self, _: &[f64; 1]) -> [f64; 1] {
            [1.0]
        }
        fn events(&self) -> usize {
            1
        }
        fn event(&self, _: usize, [y]: &[f64; 1]) -> f64 {
            if *y > 0.5 { 1e-16 } else { -1e-16 }
        }
        fn event_exact(&self, _: usize, _: &[f64; 1]) -> f64 {
            -4e-16
        }
        fn event_rate(&self, _: usize, _: &[f64; 1], _: &[f64; 1]) -> f64 {
            1e-49
        }
    }
    let begin = Begin { time: 0.0, state: [0.0], step: 0.3 };
    let tol = Tolerance { relative: 1e-6, absolute: [1e-8], max_steps: 100 };
    let end = integrate::<DormandPrince, _, _, 1>(&Hanging, begin, 2.0, &tol, |_| ()).expect("it is located");
    assert_eq!(end.event, Some(0));
}
