//! Chooses explicit or implicit steps: implicit where stability, not accuracy, limits the explicit step.

use crate::physics::casting::equations::Equations;
use crate::physics::casting::equations::layout::{Beside, State};
use crate::physics::kinetics::TEMP;

/// Rate at which something relaxes, times its duration, from which the implicit method is the quicker one.
const STIFF: f64 = 100.0;
/// The same where only the reactions go on, or set foam loses its gas, and where explicit steps stand at the edge of
/// stability.
const STIFF_ALONE: f64 = 30.0;
/// The same times the length of an explicit step, from which its stability sets its length.
const UNSTABLE: f64 = 1.0;
/// The same times the length of an implicit step, up to which accuracy, not stability, sets its length.
const CALM: f64 = 0.7;
/// How far from where it relaxes to, in tolerated errors, the pressure is at rest.
const SETTLED: f64 = 1.0;
/// How many times the speed of the pressure a parting line relaxes that lifts, at least.
const LIFTING_FACTOR: f64 = 100.0;
/// At closer relative tolerances accuracy keeps all steps short: what is stiff stays implicit, with the pressure as a
/// state.
const CLOSE_TOLERANCE: f64 = 1e-7;

/// How what moves is integrated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SteppingMode {
    /// Explicitly: nothing relaxes fast.
    Explicit,
    /// Explicitly as well: the pressure relaxes fast, but accuracy asks for steps as short.
    Settling,
    /// Implicitly.
    Implicit,
}

/// How fast what moves relaxes at a state.
pub struct Stiffness<'a, const N: usize> {
    equations: &'a Equations<f64>,
    state: &'a State<f64, N>,
    /// Whether more moves than the reactions.
    leaves: bool,
    /// 1/s.
    relaxation: f64,
    /// Time for which this goes on, s, or longer.
    left: f64,
}

impl<'a, const N: usize> Stiffness<'a, N> {
    /// Of all reactions, and of what moves besides them.
    pub fn of(equations: &'a Equations<f64>, state: &'a State<f64, N>, moving: Beside, left: f64) -> Self {
        let leaves = !moving.is_empty();
        let relaxation = if leaves {
            // What leaves answers to one pressure: what each takes from it adds up.
            let slopes = equations.jacobian(state);
            let leaving: f64 = moving.shared.iter().map(|&which| -slopes[which][which]).sum();
            let losing = if moving.gas_lost { (0..N).map(|i| -slopes.lost[i].lost[i]).sum() } else { 0.0 };
            let heat = if N == 1 {
                -slopes.nodes[0][TEMP].nodes[0][TEMP]
            } else {
                equations.fastest_conduction(state, &equations.cavity_state(state))
            };
            leaving.max(losing).max(heat)
        } else if N > 1 {
            equations.fastest_conduction(state, &equations.cavity_state(state))
        } else {
            let mass = equations.mass(state);
            let cooling = equations.cooling / mass;
            // The reactions' heat makes it slower.
            if cooling * left > STIFF_ALONE {
                -equations.reaction_jacobian::<N>(&state.nodes[0], mass)[TEMP][TEMP]
            } else {
                cooling
            }
        };
        Stiffness { equations, state, leaves, relaxation, left }
    }

    /// Whether it is so fast that stability, not accuracy, would set an explicit method's steps in the time that is
    /// left, or until gel.
    pub fn is_stiff(&self) -> bool {
        self.goes_on(if self.leaves && !self.equations.regime.gelled { STIFF } else { STIFF_ALONE })
    }

    /// Whether this many of its relaxation times fit into the time that is left, or until gel.
    fn goes_on(&self, times: f64) -> bool {
        let for_this_time = |time: f64| self.relaxation * time > times;
        let gelled = self.equations.regime.gelled;
        for_this_time(self.left) && (gelled || for_this_time(self.equations.time_to_gel(self.state)))
    }

    /// How to begin at this relative tolerance.
    pub fn mode(&self, relative: f64) -> SteppingMode {
        if !self.is_stiff() {
            SteppingMode::Explicit
        } else if relative < CLOSE_TOLERANCE || !self.leaves || self.is_settled(relative) {
            SteppingMode::Implicit
        } else {
            SteppingMode::Settling
        }
    }

    /// Whether the pressure is where it relaxes to.
    fn is_settled(&self, relative: f64) -> bool {
        self.pressure_speed() <= SETTLED * relative * self.relaxation
    }

    /// How fast the pressure moves, as a share of itself, 1/s.
    fn pressure_speed(&self) -> f64 {
        let now = self.equations.cavity_state(self.state);
        let climb = self.equations.climb(self.state, &now, &self.equations.rate_at(self.state, &now));
        (climb / now.pressure).abs()
    }

    /// The longest step with which an explicit method should begin, s.
    pub fn first_step(&self) -> f64 {
        if !self.leaves {
            return f64::INFINITY;
        }
        // A parting line that is about to lift relaxes fast only after it.
        let lifts = self.equations.regime.clamp_open && !self.equations.regime.gelled;
        let fastest = if lifts { self.relaxation.max(LIFTING_FACTOR * self.pressure_speed()) } else { self.relaxation };
        if fastest > 0.0 { UNSTABLE / fastest } else { f64::INFINITY }
    }

    /// Whether explicit steps of this mean length (s) call for the implicit method.
    pub fn calls_for_implicit(&self, length: f64) -> bool {
        self.relaxation * length > UNSTABLE && self.goes_on(STIFF_ALONE)
    }

    /// Whether accuracy at this relative tolerance keeps implicit steps, the last of this length (s), so short that
    /// explicit ones would do.
    pub fn calls_for_explicit(&self, length: f64, relative: f64) -> bool {
        relative >= CLOSE_TOLERANCE && self.relaxation * length < CALM
    }
}
