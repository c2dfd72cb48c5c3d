//! One casting by diffsol's BDF: five states, exact Jacobian, events as roots, the peak found on the interpolant.

use std::cell::Cell;

use diffsol::{NalgebraLU, NalgebraMat, OdeBuilder, OdeSolverMethod, OdeSolverStopReason, Vector, VectorCommon};

use risefit::physics::gas::CO2;
use risefit::physics::kinetics::{gelled, unblown};

use crate::Failure;
use crate::equations::{Equations, GEL, HEAD, Phase, Regime, SIZE, VENTED};
use risefit::physics::properties::GAS_CONSTANT;
use risefit_bench::plain::Shot;

type Matrix = NalgebraMat<f64>;
type Solver = NalgebraLU<f64>;
/// Share of an interval that a round of golden section keeps.
const KEPT: f64 = 0.618_033_988_749_894_9;
const SATURATED: usize = 0;
const FRONT: usize = 1;

/// How to integrate.
#[derive(Clone, Copy, Debug)]
pub struct Tuning {
    /// Relative tolerance.
    pub relative: f64,
    /// Absolute tolerance of each component as a share of the relative one and of its size.
    pub absolute: f64,
    /// First step of a phase, s.
    pub first_step: f64,
}

fn whole(y: &[f64]) -> [f64; SIZE] {
    std::array::from_fn(|i| y[i])
}

/// Runs a casting; returns peak gauge pressure (Pa), fill time (s), density (kg/m3) and vent loss (kg), and the gauge
/// pressure at `times` (s, rising).
pub fn cast(shot: &Shot, tuning: Tuning, times: &[f64]) -> Result<([f64; 4], Vec<f64>), Failure> {
    let eq = &Equations::new(shot)?;
    let regime = &Cell::new(Regime { phase: Phase::Open, saturated: shot.foam.solubility == 0.0 });
    let air = eq.room.ambient * eq.room.volume / (GAS_CONSTANT * eq.room.headspace_temp);
    let share = tuning.relative * tuning.absolute;
    let atol = [1.0, 1.0, 100.0, air, eq.poured].map(|size| share * size);
    let problem = OdeBuilder::<Matrix>::new()
        .rtol(tuning.relative)
        .atol(atol)
        .h0(tuning.first_step)
        .rhs_implicit(
            |y, _p, _t, out| out.copy_from_slice(&eq.rate(&whole(y), regime.get())),
            |y, _p, _t, v, out| out.copy_from_slice(&eq.rate_along(&whole(y), &whole(v), regime.get())),
        )
        .init(|_p, _t, y| y.copy_from_slice(&[0.0, 0.0, shot.casting.mix_temp, 0.0, 0.0]), SIZE)
        .root(|y, _p, _t, out| out.copy_from_slice(&marks(eq, &whole(y), regime.get())), 3)
        .build()?;
    let mut solver = problem.bdf::<Solver>()?;
    solver.set_stop_time(shot.casting.closing_time)?;
    let mut run = Watch::new(eq, times);
    let mut fill_time = f64::NAN;
    loop {
        let before = solver.state().t;
        let stop = solver.step()?;
        let end = match stop {
            OdeSolverStopReason::RootFound(time, _) => time,
            _ => solver.state().t,
        };
        run.see(&solver, before, end, regime.get())?;
        match stop {
            OdeSolverStopReason::InternalTimestep => continue,
            OdeSolverStopReason::TstopReached if regime.get().phase != Phase::Open => break,
            OdeSolverStopReason::TstopReached => {
                let y = whole(solver.state().y.inner().as_slice());
                let left = eq.room_left(&y);
                let state = solver.state_mut();
                state.y.inner_mut()[HEAD] = eq.room.ambient * left / (GAS_CONSTANT * eq.room.headspace_temp);
                regime.set(Regime { phase: Phase::Rising, ..regime.get() });
            }
            OdeSolverStopReason::RootFound(time, which) => {
                solver.state_mut_back(time)?;
                pass(which, regime, &mut fill_time, time);
                if which == FRONT {
                    solver.state_mut().y.inner_mut()[HEAD] = 0.0;
                }
            }
        }
        restart(&mut solver, eq, regime.get(), tuning);
        let closed = regime.get().phase != Phase::Open;
        solver.set_stop_time(if closed { shot.casting.demold_time } else { shot.casting.closing_time })?;
    }
    let y = whole(solver.state().y.inner().as_slice());
    let density = (eq.poured - y[VENTED]) / eq.room.volume;
    Ok(([run.peak - eq.room.ambient, fill_time, density, y[VENTED]], run.samples))
}

/// Functions that cross zero where a regime ends; one where they cannot.
fn marks(eq: &Equations, y: &[f64; SIZE], regime: Regime) -> [f64; 3] {
    let pressure = eq.pressure(y, regime);
    let saturation = if regime.saturated { 1.0 } else { eq.gas.excess(CO2, 1.0 - unblown(y[0]), pressure) };
    let front = if regime.phase == Phase::Rising { eq.fill(y, pressure) - 1.0 } else { 1.0 };
    let gel = if regime.phase == Phase::Set { 1.0 } else { gelled(y[GEL]) - eq.gel_conversion };
    [saturation, front, gel]
}

fn pass(which: usize, regime: &Cell<Regime>, fill_time: &mut f64, time: f64) {
    let now = regime.get();
    regime.set(match which {
        SATURATED => Regime { saturated: true, ..now },
        FRONT => Regime { phase: Phase::Filled, ..now },
        _ => Regime { phase: Phase::Set, ..now },
    });
    if which == FRONT {
        *fill_time = time;
    }
}

/// After an event the rate is another one, and the multistep method begins at order 1 with a small step.
fn restart<'a, E, S>(solver: &mut S, eq: &Equations, regime: Regime, tuning: Tuning)
where
    E: diffsol::OdeEquations<T = f64, V = diffsol::NalgebraVec<f64>> + 'a,
    S: OdeSolverMethod<'a, E>,
{
    let rate = eq.rate(&whole(solver.state().y.inner().as_slice()), regime);
    let state = solver.state_mut();
    state.dy.inner_mut().as_mut_slice().copy_from_slice(&rate);
    *state.h = tuning.first_step;
}

/// The peak so far and the samples.
struct Watch<'a> {
    eq: &'a Equations,
    times: &'a [f64],
    peak: f64,
    samples: Vec<f64>,
    y: diffsol::NalgebraVec<f64>,
}

impl<'a> Watch<'a> {
    fn new(eq: &'a Equations, times: &'a [f64]) -> Self {
        let y = diffsol::Vector::zeros(SIZE, diffsol::NalgebraContext::default());
        Watch { eq, times, peak: eq.room.ambient, samples: Vec::with_capacity(times.len()), y }
    }

    /// Looks at the step from one time to another, which may be an event's within it.
    fn see<'b, E, S>(&mut self, solver: &S, from: f64, to: f64, regime: Regime) -> Result<(), Failure>
    where
        E: diffsol::OdeEquations<T = f64, V = diffsol::NalgebraVec<f64>> + 'b,
        S: OdeSolverMethod<'b, E>,
    {
        let (eq, y) = (self.eq, &mut self.y);
        let mut at = |time: f64| -> Result<f64, Failure> {
            solver.interpolate_inplace(time, y)?;
            Ok(eq.pressure(&whole(y.inner().as_slice()), regime))
        };
        while self.samples.len() < self.times.len() && self.times[self.samples.len()] <= to {
            self.samples.push(at(self.times[self.samples.len()])? - eq.room.ambient);
        }
        if regime.phase == Phase::Open {
            return Ok(());
        }
        let (start, middle, end) = (at(from)?, at(0.5 * (from + to))?, at(to)?);
        if middle > start && middle > end && middle >= self.peak - 1.0 {
            self.peak = self.peak.max(highest(&mut at, from, to)?);
        }
        self.peak = self.peak.max(end);
        Ok(())
    }
}

fn highest(at: &mut impl FnMut(f64) -> Result<f64, Failure>, mut low: f64, mut high: f64) -> Result<f64, Failure> {
    let (mut a, mut b) = (high - KEPT * (high - low), low + KEPT * (high - low));
    let (mut at_a, mut at_b) = (at(a)?, at(b)?);
    for _ in 0..20 {
        if at_a > at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - KEPT * (high - low);
            at_a = at(a)?;
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + KEPT * (high - low);
            at_b = at(b)?;
        }
    }
    Ok(at_a.max(at_b))
}
