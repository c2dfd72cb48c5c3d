//! What is watched while a casting runs: the peak of the pressure, and samples at fixed times.

use super::machine::{FLASHED, Machine, Reading, State, VENTED};
use super::motion::Part;
use crate::model::{CastingTrace, Phase};
use crate::numerics::Scalar;
use crate::numerics::events::{SHORTLY, highest};
use crate::numerics::segment::Segment;
use crate::physics::kinetics::{GEL, TEMP, gelled};

/// States and gauge pressures at the sample times.
pub(super) type Samples<S> = Vec<(State<S>, S)>;

/// The peak so far, and the samples taken at the times asked for.
pub(super) struct Watch<'a, S> {
    /// Highest absolute pressure, Pa, with derivatives, and when.
    pub peak: (S, f64),
    sample_times: &'a [f64],
    taken: usize,
    /// The pressure at the end of the last segment of this run, and its slope there, Pa/s.
    last: Option<(f64, f64)>,
    samples: Samples<S>,
    trace: Option<CastingTrace>,
    /// What lies within one segment.
    seen: Vec<(State<S>, Reading<S>)>,
    phase: Phase,
}

impl<'a, S: Scalar> Watch<'a, S> {
    /// Watches for the peak and samples the gauge pressure at `sample_times` (s, rising); `traced`: all courses instead.
    pub fn new(ambient: S, sample_times: &'a [f64], traced: bool) -> Self {
        Watch {
            peak: (ambient, 0.0),
            sample_times,
            taken: 0,
            last: None,
            samples: Vec::with_capacity(if traced { 0 } else { sample_times.len() }),
            trace: traced.then(|| CastingTrace::with_room_for(sample_times.len())),
            seen: Vec::new(),
            phase: Phase::Open,
        }
    }

    pub fn enter(&mut self, phase: Phase) {
        self.phase = phase;
    }

    /// The samples at the times that were reached, and the courses.
    pub fn finish(self) -> (Samples<S>, Option<CastingTrace>) {
        (self.samples, self.trace)
    }

    /// Samples what lies within a segment.
    pub fn see<const D: usize>(&mut self, part: &Part<S, D>, segment: &Segment<S, D>) {
        // Also what fell between two segments: an event's time is corrected by a rounding error.
        let due = self.due(segment.end());
        part.read_all(segment, due, &mut self.seen);
        self.take(part.machine(), due);
    }

    /// Takes a state at which a phase ended into account.
    pub fn see_end(&mut self, pressure: S, time: f64) {
        if pressure.value() > self.peak.0.value() {
            self.peak = (pressure, time);
        }
    }

    /// Samples at times up to the end that rounding left over.
    pub fn see_rest(&mut self, machine: &Machine<S>, end: f64, y: &State<S>) {
        let due = self.due(end * (1.0 + 1e-9));
        self.seen.clear();
        self.seen.resize(due.len(), (*y, machine.reading(y)));
        self.take(machine, due);
    }

    /// The sample times up to this one that are not taken yet.
    fn due(&self, end: f64) -> &'a [f64] {
        let ahead = &self.sample_times[self.taken..];
        let count = ahead.iter().take_while(|time| **time <= end).count();
        &ahead[..count]
    }

    /// Begins a run of segments that follow on each other.
    pub fn begin(&mut self) {
        self.last = None;
    }

    /// The highest pressure within a segment that holds a maximum. Its derivative is that at a fixed time: dp/dt is zero.
    pub fn look_for_peak<const D: usize>(&mut self, part: &Part<S, D>, segment: &Segment<S, D>) {
        if part.is_open() {
            return;
        }
        let at = |share: f64| part.plain_pressure(&segment.values_at(share));
        let shortly = SHORTLY * segment.length;
        let from = self.last.unwrap_or_else(|| {
            let start = at(0.0);
            (start, (at(SHORTLY) - start) / shortly)
        });
        let end = part.plain_pressure(&segment.to.map(S::value));
        let to = (end, (end - at(1.0 - SHORTLY)) / shortly);
        self.last = Some(to);
        self.look_between(part, segment, from, to);
    }

    /// The same where the pressure, Pa, and its slope, Pa/s, are known at both ends.
    pub fn look_between<const D: usize>(
        &mut self,
        part: &Part<S, D>,
        segment: &Segment<S, D>,
        from: (f64, f64),
        to: (f64, f64),
    ) {
        let Some(until) = falls_until(from, to, segment.length) else { return };
        let at = |share: f64| part.plain_pressure(&segment.values_at(share));
        let share = highest(at, 0.0, until);
        if at(share) < self.peak.0.value() {
            return;
        }
        let time = segment.start.value() + share * segment.length;
        self.see_end(part.read(&segment.at_time(time)).1.pressure, time);
    }

    /// Takes what was seen at these times.
    fn take(&mut self, machine: &Machine<S>, due: &[f64]) {
        self.taken += due.len();
        let Some(trace) = &mut self.trace else {
            self.samples.extend(self.seen.iter().map(|(y, now)| (*y, now.pressure - machine.room.ambient)));
            return;
        };
        trace.time.extend_from_slice(due);
        add_courses(trace, machine, &self.seen);
        trace.phase.resize(trace.time.len(), self.phase);
    }
}

/// Until which share of a segment a pressure falls that rises at its start, from values and slopes at both ends; `None` if there
/// is no fall. Between a rise and a fall lies a maximum. Where it rises at the end as well, a cubic says whether it fell between.
fn falls_until(from: (f64, f64), to: (f64, f64), length: f64) -> Option<f64> {
    if from.1 <= 0.0 || to.1 <= 0.0 {
        return (from.1 > 0.0).then_some(1.0);
    }
    let (rises, rises_on, gain) = (from.1 * length, to.1 * length, to.0 - from.0);
    // The cubic's slope at a share t is rises + 2 t half + t t bend.
    let (half, bend) = (3.0 * gain - 2.0 * rises - rises_on, 3.0 * (rises + rises_on - 2.0 * gain));
    let turns = half * half - bend * rises;
    (half < 0.0 && turns > 0.0 && bend > -half).then(|| (turns.sqrt() - half) / bend)
}

/// Adds what was seen to the courses, column by column.
fn add_courses<S: Scalar>(trace: &mut CastingTrace, machine: &Machine<S>, seen: &[(State<S>, Reading<S>)]) {
    add(&mut trace.pressure, seen, |_, now| now.pressure - machine.room.ambient);
    add(&mut trace.fill, seen, |_, now| now.fill());
    add(&mut trace.temp, seen, |y, _| y[TEMP]);
    add(&mut trace.core_temp, seen, |y, now| {
        machine.kinetics.adiabatic_temp(machine.mix_temp, S::one() - now.unblown, gelled(y[GEL]))
    });
    add(&mut trace.blown, seen, |_, now| S::one() - now.unblown);
    add(&mut trace.gelled, seen, |y, _| gelled(y[GEL]));
    add(&mut trace.mass, seen, |y, _| machine.mass(y));
    add(&mut trace.vent_loss, seen, |y, _| y[VENTED]);
    add(&mut trace.flash, seen, |y, _| y[FLASHED]);
    if machine.regime.gelled {
        trace.viscosity.resize(trace.pressure.len(), f64::INFINITY);
    } else {
        add(&mut trace.viscosity, seen, |y, _| machine.viscosity.value(gelled(y[GEL]), y[TEMP]));
    }
}

fn add<S: Scalar>(column: &mut Vec<f64>, seen: &[(State<S>, Reading<S>)], of: impl Fn(&State<S>, &Reading<S>) -> S) {
    column.extend(seen.iter().map(|(y, now)| of(y, now).value()));
}
