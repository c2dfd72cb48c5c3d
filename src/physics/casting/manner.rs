//! In which manner what moves is integrated: explicitly, or, where the pressure relaxes fast and is at rest, implicitly.

use super::machine::{Machine, State};
use super::motion::REACTIONS;
use crate::physics::kinetics::TEMP;

/// Rate at which something relaxes, times its duration, from which the implicit method is the quicker one.
const STIFF: f64 = 100.0;
/// The same where only the reactions go on, or set foam loses its gas, and where explicit steps stand at the edge of stability.
const STIFF_ALONE: f64 = 30.0;
/// The same times the length of an explicit step, from which its stability sets its length.
const UNSTABLE: f64 = 1.0;
/// The same times the length of an implicit step, up to which accuracy, not stability, sets its length.
const CALM: f64 = 0.7;
/// How far from where it relaxes to, in tolerated errors, the pressure is at rest.
const SETTLED: f64 = 1.0;
/// How many times the speed of the pressure a parting line relaxes that lifts, at least.
const LIFTS: f64 = 100.0;
/// At closer relative tolerances accuracy keeps all steps short: what is stiff stays implicit, with the pressure as a state.
const CLOSE: f64 = 1e-7;

/// How what moves is integrated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Manner {
    /// Explicitly: nothing relaxes fast.
    Plain,
    /// Explicitly as well: the pressure relaxes fast, but accuracy asks for steps as short.
    Settling,
    /// Implicitly.
    Stiff,
}

/// How fast what moves at some places relaxes at a state.
pub(super) struct Haste<'a> {
    machine: &'a Machine<f64>,
    state: &'a State<f64>,
    /// Whether more moves than the reactions.
    leaves: bool,
    /// 1/s.
    relaxation: f64,
    /// Time for which this goes on, s, or longer.
    left: f64,
}

impl<'a> Haste<'a> {
    pub fn of(machine: &'a Machine<f64>, state: &'a State<f64>, places: &[usize], left: f64) -> Self {
        let leaves = places.len() > REACTIONS.len();
        let relaxation = if leaves {
            // What leaves answers to one pressure: what each takes from it adds up.
            let slopes = machine.jacobian(state);
            let leaving: f64 = places[REACTIONS.len()..].iter().map(|&place| -slopes[place][place]).sum();
            leaving.max(-slopes[TEMP][TEMP])
        } else {
            let cooling = machine.cooling / machine.mass(state);
            // The reactions' heat makes it slower.
            if cooling * left > STIFF_ALONE { -machine.reaction_jacobian(state)[TEMP][TEMP] } else { cooling }
        };
        Haste { machine, state, leaves, relaxation, left }
    }

    /// Whether it is so fast that stability, not accuracy, would set an explicit method's steps in the time that is left, or until
    /// gel.
    pub fn is_stiff(&self) -> bool {
        self.goes_on(if self.leaves && !self.machine.regime.gelled { STIFF } else { STIFF_ALONE })
    }

    /// Whether this many of its relaxation times fit into the time that is left, or until gel.
    fn goes_on(&self, times: f64) -> bool {
        let for_this_time = |time: f64| self.relaxation * time > times;
        for_this_time(self.left) && (self.machine.regime.gelled || for_this_time(self.machine.time_to_gel(self.state)))
    }

    /// How to begin at this relative tolerance.
    pub fn manner(&self, relative: f64) -> Manner {
        if !self.is_stiff() {
            Manner::Plain
        } else if relative < CLOSE || !self.leaves || self.is_settled(relative) {
            Manner::Stiff
        } else {
            Manner::Settling
        }
    }

    /// Whether the pressure is where it relaxes to.
    fn is_settled(&self, relative: f64) -> bool {
        self.climb() <= SETTLED * relative * self.relaxation
    }

    /// How fast the pressure moves, as a share of itself, 1/s.
    fn climb(&self) -> f64 {
        let now = self.machine.reading(self.state);
        let climb = self.machine.climb(self.state, &now, &self.machine.rate_at(self.state, &now));
        (climb / now.pressure).abs()
    }

    /// The longest step with which an explicit method should begin, s.
    pub fn first_step(&self) -> f64 {
        if !self.leaves {
            return f64::INFINITY;
        }
        // A parting line that is about to lift relaxes fast only after it.
        let lifts = self.machine.regime.clamp_open && !self.machine.regime.gelled;
        let fastest = if lifts { self.relaxation.max(LIFTS * self.climb()) } else { self.relaxation };
        if fastest > 0.0 { UNSTABLE / fastest } else { f64::INFINITY }
    }

    /// Whether explicit steps of this mean length (s) call for the implicit method.
    pub fn turns_stiff(&self, length: f64) -> bool {
        self.relaxation * length > UNSTABLE && self.goes_on(STIFF_ALONE)
    }

    /// Whether accuracy at this relative tolerance keeps implicit steps, the last of this length (s), so short that explicit ones
    /// would do.
    pub fn turns_calm(&self, length: f64, relative: f64) -> bool {
        relative >= CLOSE && self.relaxation * length < CALM
    }
}

/// After how many steps it is looked again which manner suits.
pub(super) struct Looks {
    every: usize,
    steps: usize,
    /// When it was looked last, s.
    last: f64,
}

impl Looks {
    pub fn every(every: usize, start: f64) -> Self {
        Looks { every, steps: 0, last: start }
    }

    /// The mean length of the steps since the last look, s, if the next one is due after a step to this time (s). Steps at the edge
    /// of stability may be long and short in turns: one of them alone would not show it.
    pub fn due(&mut self, end: f64) -> Option<f64> {
        self.steps += 1;
        if self.steps < self.every {
            return None;
        }
        let length = (end - self.last) / self.steps as f64;
        (self.steps, self.last) = (0, end);
        Some(length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_long_and_short_in_turns_count_by_their_mean() {
        let mut looks = Looks::every(4, 10.0);
        let mut end = 10.0;
        let seen: Vec<_> = [3.0, 1.0, 3.0, 1.0, 3.0, 1.0, 3.0, 1.0]
            .into_iter()
            .map(|length| {
                end += length;
                looks.due(end)
            })
            .collect();
        assert_eq!(seen, [None, None, None, Some(2.0), None, None, None, Some(2.0)]);
    }
}
