//! The air of a casting while the foam has not reached an opening, or after it set: without a state of its own where it follows the
//! rise closely, in full where not.

use std::ops::ControlFlow::{Break, Continue};

use super::super::machine::HEAD;
use super::super::manner::{Haste, Looks};
use super::super::motion::{Part, REACTIONS};
use super::{Course, LOOK_AFTER};
use crate::numerics::Scalar;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::integrate::{Begin, Method, Stall, Stop, integrate_while};
use crate::numerics::rosenbrock::Rodas5P;
use crate::physics::properties::GAS_CONSTANT;

/// Share of the tolerance that the headspace's lag may take, per second and second.
const LAG_SHARE: f64 = 0.1;
/// Share of the time so far, per relative tolerance, that the way to where it follows may take, times how far that is.
const PROMPT: f64 = 10.0;

/// How an attempt to let the headspace follow came out.
enum Following {
    /// It followed to this mark, to the end, or as far as it did closely enough.
    Ended(Option<usize>),
    /// It still has to come from the pressure that it has to that with which it follows.
    NotYet,
    /// It stays behind.
    Trails,
}

impl<S: Scalar> Course<'_, S> {
    /// Integrates the rise below all openings, or the air after it: where the headspace follows closely, without its state.
    pub(super) fn breathe(&mut self, until: f64) -> Result<Option<usize>, Stall> {
        if !self.trails {
            let state = self.state.map(S::value);
            let stiff = Haste::of(&self.plain, &state, &REACTIONS, until - self.time.value()).is_stiff();
            let followed = if stiff { self.follow::<Rodas5P>(until) } else { self.follow::<DormandPrince>(until) };
            match followed {
                Following::Ended(mark) => return Ok(mark),
                Following::NotYet => {}
                Following::Trails => self.trails = true,
            }
        }
        self.move_on(until, [0, 1, 2, HEAD])
    }

    /// As [`Course::drive`], for the rise while the headspace follows it, as far as it does so closely enough.
    fn follow<M>(&mut self, until: f64) -> Following
    where
        for<'b> M: Method<S, Part<'b, S, 3>, 3>,
    {
        let part = Part::new((&self.machine, &self.plain), self.state, REACTIONS, true);
        let tolerance = self.tolerance_of(REACTIONS, None);
        let limit = LAG_SHARE * tolerance.relative;
        let first = part.following(&self.state.map(S::value));
        let now = self.plain.reading(&self.state.map(S::value)).pressure;
        if !first.settles(now, until - self.time.value(), limit) {
            return Following::Trails;
        }
        let prompt = PROMPT * tolerance.relative * self.time.value();
        if first.away(now) > tolerance.relative && !first.settles_unseen(now, self.plain.room.ambient, prompt) {
            return Following::NotYet;
        }
        let begin = Begin { time: self.time, state: part.of(&self.state), step: self.step };
        let mut steps = Vec::with_capacity(16);
        let mut looks = Looks::every(LOOK_AFTER, begin.time.value());
        let followed = integrate_while::<M, S, _, 3>(&part, begin, until, &tolerance, |segment| {
            let end = part.plain_whole(&segment.to.map(S::value));
            let here = part.following(&end);
            let neglected = here.neglected();
            let lags = neglected.is_nan() || neglected > limit * segment.end();
            let turns = looks
                .due(segment.end())
                .is_some_and(|length| !M::STIFF && part.haste_after(segment, until, |haste| haste.turns_stiff(length)));
            if turns || lags || self.plain.dissolves(&here.reading) {
                return Break(Stop::Before);
            }
            steps.push((*segment, here.climbs()));
            Continue(())
        });
        let Ok(end) = followed else { return Following::Trails };
        if steps.is_empty() || !first.settles(now, end.time.value() - self.time.value(), limit) {
            return Following::Trails;
        }
        // Where it ends, the pressure is seen by whoever goes on: only where it is lower may the start have been the peak.
        if steps.last().is_none_or(|(_, end)| end.0 < first.climbs().0) {
            self.watch.see_end(part.read(&begin.state).1.pressure, begin.time.value());
        }
        let mut from = first.climbs();
        for (segment, to) in &steps {
            self.watch.look_between(&part, segment, from, *to);
            from = *to;
        }
        let (state, reading) = part.read(&end.state);
        // Last: what is sampled is the next one's first guess, and must not change what comes out.
        steps.iter().for_each(|(segment, _)| self.watch.see(&part, segment));
        let air = reading.pressure * reading.headspace / (self.machine.room.headspace_temp * GAS_CONSTANT);
        (self.time, self.state, self.step) = (end.time, state, self.step_after(&end));
        self.state[HEAD] = air;
        Following::Ended(end.event)
    }
}
