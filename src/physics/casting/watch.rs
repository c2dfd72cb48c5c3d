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
    phase: Phase,
}

impl<'a, S: Scalar> Watch<'a, S> {
    /// Watches for the peak and samples the gauge pressure at `sample_times` (s, rising); `traced`: all courses too.
    pub fn new(ambient: S, sample_times: &'a [f64], traced: bool) -> Self {
        Watch {
            peak: (ambient, 0.0),
            sample_times,
            taken: 0,
            rises: None,
            samples: Vec::with_capacity(sample_times.len()),
            trace: traced.then(|| CastingTrace::with_room_for(sample_times.len())),
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
        while let Some(&time) = self.sample_times.get(self.taken) {
            if time > segment.end() {
                break;
            }
            // Also one that fell between two segments: an event's time is corrected by a rounding error.
            let (y, now) = part.read(&segment.at_time(time));
            self.sample(part.machine(), time, y, &now);
            self.taken += 1;
        }
    }

    /// Takes a state at which a phase ended into account.
    pub fn see_end(&mut self, pressure: S, time: f64) {
        if pressure.value() > self.peak.0.value() {
            self.peak = (pressure, time);
        }
    }

    /// Samples at times up to the end that rounding left over.
    pub fn see_rest(&mut self, machine: &Machine<S>, end: f64, y: &State<S>) {
        while let Some(&time) = self.sample_times.get(self.taken).filter(|t| **t <= end * (1.0 + 1e-9)) {
            self.sample(machine, time, *y, &machine.reading(y));
            self.taken += 1;
        }
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

    fn sample(&mut self, machine: &Machine<S>, time: f64, y: State<S>, now: &Reading<S>) {
        let gauge = now.pressure - machine.room.ambient;
        if let Some(trace) = &mut self.trace {
            let v = |s: S| s.value();
            let (blown, set) = (1.0 - v(now.unblown), gelled(v(y[GEL])));
            trace.time.push(time);
            trace.pressure.push(v(gauge));
            trace.fill.push(v(now.fill()));
            trace.temp.push(v(y[TEMP]));
            trace.core_temp.push(v(machine.kinetics.adiabatic_temp(
                machine.mix_temp,
                S::constant(blown),
                S::constant(set),
            )));
            trace.blown.push(blown);
            trace.gelled.push(set);
            trace.mass.push(v(machine.mass(&y)));
            trace.vent_loss.push(v(y[VENTED]));
            trace.flash.push(v(y[FLASHED]));
            let flows = !machine.regime.gelled;
            trace.viscosity.push(if flows {
                v(machine.viscosity.value(gelled(y[GEL]), y[TEMP]))
            } else {
                f64::INFINITY
            });
            trace.phase.push(self.phase);
        }
        self.samples.push((y, gauge));
    }
}
