//! Integrates what moves in a regime to the regime's end, or to where another stepping mode goes on.

use std::ops::ControlFlow::{Break, Continue};

use super::course::Course;
use super::events::Event;
use super::moving_part::{MovingPart, PRESSURE_FLOOR};
use super::stepping_mode::{SteppingMode, Stiffness};
use super::stiffness_check::StiffnessCheck;
use super::stopped::Stopped;
use crate::numerics::Scalar;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::integrate::{Begin, End, Method, Stop, Tolerance, integrate_while};
use crate::numerics::rosenbrock::Rodas5P;
use crate::physics::casting::equations::layout::{Beside, Moving, Shared};

/// Steps after which it is checked again whether the other method would be the quicker one; where the pressure is on
/// its way, half as many.
pub const CHECK_AFTER: usize = 8;
/// Steps after which to give up.
const MOST_STEPS: usize = 20_000;

impl<S: Scalar, const N: usize> Course<'_, S, N> {
    /// Integrates all reactions and what is named, in the mode that suits it.
    pub fn integrate_moving<const D: usize>(&mut self, until: f64, beside: Beside) -> Result<Option<usize>, Stopped> {
        let moving = Moving::<D, N>::new(beside);
        let mode = self.mode.unwrap_or_else(|| self.first_mode(until, beside));
        self.mode = Some(mode);
        match mode {
            SteppingMode::Implicit => self.drive::<Rodas5P, D>(until, moving),
            SteppingMode::Explicit | SteppingMode::Settling => self.drive::<DormandPrince, D>(until, moving),
        }
    }

    /// How to begin with what moves. Cuts the first step to what an explicit method can take.
    fn first_mode(&mut self, until: f64, beside: Beside) -> SteppingMode {
        let state = self.state.map(S::value);
        let stiffness = Stiffness::of(&self.twin.values, &state, beside, until - self.time.value());
        let mode = stiffness.mode(self.relative);
        if mode != SteppingMode::Implicit {
            self.step = self.step.min(stiffness.first_step());
        }
        mode
    }

    fn drive<M, const D: usize>(&mut self, until: f64, moving: Moving<D, N>) -> Result<Option<usize>, Stopped>
    where
        for<'b> M: Method<S, MovingPart<'b, S, D, N>, D>,
    {
        let part = MovingPart::<S, D, N>::new(&self.twin, self.state, moving, false).in_mode(self.mode);
        let begin = Begin { time: self.time, state: part.of(&self.state), step: self.step };
        let tolerance = self.tolerance_of(&moving, part.pressure_slot());
        let waits = *moving.beside().shared == [Shared::HeadspaceAir] && !self.trails;
        let (recorder, mut turns) = (&mut self.recorder, false);
        let check_after = if self.mode == Some(SteppingMode::Explicit) { CHECK_AFTER } else { CHECK_AFTER / 2 };
        let mut check = StiffnessCheck::every(check_after, begin.time.value());
        recorder.begin();
        let end = integrate_while::<M, S, _, D>(&part, begin, until, &tolerance, |segment| {
            turns = check.due(segment.end()).is_some_and(|mean| {
                part.stiffness_after(segment, until, |stiffness| match M::STIFF {
                    true => stiffness.calls_for_explicit(segment.length, tolerance.relative),
                    false => stiffness.calls_for_implicit(mean),
                })
            });
            if turns && !M::STIFF || waits && part.is_followed(segment, tolerance.relative) {
                return Break(Stop::Before);
            }
            recorder.look_for_peak(&part, segment);
            recorder.record(&part, segment);
            if turns { Break(Stop::After) } else { Continue(()) }
        });
        let end = end.map_err(|stall| Stopped::new(stall, &moving))?;
        (self.time, self.state, self.step) = (end.time, part.whole(&end.state), self.step_after(&end));
        if turns {
            self.mode = Some(if M::STIFF { SteppingMode::Settling } else { SteppingMode::Implicit });
        }
        Ok(end.event)
    }

    /// A step size to go on with. Where an event lets something flow or grow, a step as long as before it may see
    /// nothing of it.
    pub fn step_after<const D: usize>(&self, end: &End<S, D>) -> f64 {
        match end.event.map(|which| self.twin.events[which]) {
            None | Some(Event::Gel) => end.next_step,
            Some(_) => end.next_step.min(end.last_step),
        }
    }

    /// The tolerance of what moves; `pressure_slot`: where the pressure stands for what decides it.
    pub fn tolerance_of<const D: usize>(&self, moving: &Moving<D, N>, pressure_slot: Option<usize>) -> Tolerance<D> {
        let mut absolute = moving.of(&self.absolute);
        if let Some(slot) = pressure_slot {
            absolute[slot] = PRESSURE_FLOOR * self.relative * self.twin.values.cavity.ambient;
        }
        Tolerance { relative: self.relative, absolute, max_steps: MOST_STEPS }
    }
}
