//! What is watched while a casting runs: the peak of the pressure, and samples at fixed times.

use super::machine::{FLASHED, Machine, Reading, State, VENTED};
use super::motion::Part;
use super::result::{CastingTrace, Phase};
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
    /// Whether the pressure rose at the end of the last segment of this run.
    rises: Option<bool>,
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
            rises: None,
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
        self.rises = None;
    }

    /// The highest pressure within a segment that holds a maximum. Its derivative is that at a fixed time: dp/dt is zero.
    pub fn look_for_peak<const D: usize>(&mut self, part: &Part<S, D>, segment: &Segment<S, D>) {
        if part.is_open() {
            return;
        }
        let at = |share: f64| part.plain_pressure(&segment.values_at(share));
        let rises_into = self.rises.unwrap_or_else(|| at(SHORTLY) > at(0.0));
        let rises_on = part.plain_pressure(&segment.to.map(S::value)) > at(1.0 - SHORTLY);
        self.rises = Some(rises_on);
        // Between a rise and a fall lies a maximum.
        if !rises_into || rises_on {
            return;
        }
        let share = highest(at, 0.0, 1.0);
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
