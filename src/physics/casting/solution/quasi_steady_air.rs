//! The air of a casting while the foam has not reached an opening, or after it set: without a state of its own where it
//! follows the rise closely, in full where not.

use std::ops::ControlFlow::{Break, Continue};

use super::course::Course;
use super::events::dissolves_again;
use super::integration::CHECK_AFTER;
use super::moving_part::MovingPart;
use super::stepping_mode::Stiffness;
use super::stiffness_check::StiffnessCheck;
use crate::numerics::Scalar;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::integrate::{Begin, Method, Stop, integrate_while};
use crate::numerics::rosenbrock::Rodas5P;
use crate::physics::casting::equations::layout::{Beside, Moving, Shared};
use crate::physics::properties::GAS_CONSTANT;

/// Share of the tolerance that the headspace's lag may take, per second and second.
const LAG_SHARE: f64 = 0.1;
/// Share of the time so far, per relative tolerance, that the way to where it follows may take, times how far that is.
const PROMPT: f64 = 10.0;

/// How an attempt to let the headspace follow came out.
pub enum Following {
    /// It followed to this event, to the end, or as far as it did closely enough.
    Ended(Option<usize>),
    /// It still has to come from the pressure that it has to that with which it follows.
    NotYet,
    /// It stays behind.
    Trails,
}

impl<S: Scalar, const N: usize> Course<'_, S, N> {
    /// Integrates the rise below all openings, or the air after it, while the headspace follows closely, without its
    /// state;
    /// `None` where its air has to be integrated. `D`: how many values the reactions are.
    pub fn follow_while_close<const D: usize>(&mut self, until: f64) -> Option<Option<usize>> {
        if self.trails {
            return None;
        }
        let state = self.state.map(S::value);
        let stiff = Stiffness::of(&self.twin.values, &state, Beside::NOTHING, until - self.time.value()).is_stiff();
        match if stiff { self.follow::<Rodas5P, D>(until) } else { self.follow::<DormandPrince, D>(until) } {
            Following::Ended(event) => Some(event),
            Following::NotYet => None,
            Following::Trails => {
                self.trails = true;
                None
            }
        }
    }

    /// As [`Course::drive`], for the rise while the headspace follows it, as far as it does so closely enough.
    fn follow<M, const D: usize>(&mut self, until: f64) -> Following
    where
        for<'b> M: Method<S, MovingPart<'b, S, D, N>, D>,
    {
        let moving = Moving::<D, N>::new(Beside::NOTHING);
        let part = MovingPart::<S, D, N>::new(&self.twin, self.state, moving, true);
        let tolerance = self.tolerance_of(&moving, None);
        let limit = LAG_SHARE * tolerance.relative;
        let first = part.following(&self.state.map(S::value));
        let now = self.twin.values.cavity_state(&self.state.map(S::value)).pressure;
        if !first.settles(now, until - self.time.value(), limit) {
            return Following::Trails;
        }
        let prompt = PROMPT * tolerance.relative * self.time.value();
        let ambient = self.twin.values.cavity.ambient;
        if first.away(now) > tolerance.relative && !first.settles_unseen(now, ambient, prompt) {
            return Following::NotYet;
        }
        let begin = Begin { time: self.time, state: part.of(&self.state), step: self.step };
        let mut steps = Vec::with_capacity(16);
        let mut check = StiffnessCheck::every(CHECK_AFTER, begin.time.value());
        let followed = integrate_while::<M, S, _, D>(&part, begin, until, &tolerance, |segment| {
            let end = part.value_whole(&segment.to.map(S::value));
            let here = part.following(&end);
            let neglected = here.neglected();
            let lags = neglected.is_nan() || neglected > limit * segment.end();
            let turns = check.due(segment.end()).is_some_and(|length| {
                !M::STIFF && part.stiffness_after(segment, until, |stiffness| stiffness.calls_for_implicit(length))
            });
            if turns || lags || dissolves_again(&self.twin.values, &here.cavity) {
                return Break(Stop::Before);
            }
            steps.push((*segment, here.climbs()));
            Continue(())
        });
        let Ok(end) = followed else { return Following::Trails };
        if steps.is_empty() || !first.settles(now, end.time.value() - self.time.value(), limit) {
            return Following::Trails;
        }
        // Where it ends, the pressure is seen by whoever goes on: only where it is lower may the start have been the
        // peak.
        if steps.last().is_none_or(|(_, end)| end.0 < first.climbs().0) {
            self.recorder.record_end(part.cavity_at(&begin.state).1.pressure, begin.time.value());
        }
        let mut from = first.climbs();
        for (segment, to) in &steps {
            self.recorder.look_between(&part, segment, from, *to);
            from = *to;
        }
        let (state, cavity) = part.cavity_at(&end.state);
        // Last: what is sampled is the next one's first guess, and must not change what comes out.
        steps.iter().for_each(|(segment, _)| self.recorder.record(&part, segment));
        let air = cavity.pressure * cavity.headspace / (self.twin.exact.cavity.headspace_temp * GAS_CONSTANT);
        (self.time, self.state, self.step) = (end.time, state, self.step_after(&end));
        self.state[Shared::HeadspaceAir] = air;
        Following::Ended(end.event)
    }
}
