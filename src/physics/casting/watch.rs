//! What is watched while a casting runs: the peak of the pressure, and samples at fixed times.

use super::machine::{FLASHED, Machine, SIZE, State, VENTED};
use super::result::{CastingTrace, Phase};
use crate::numerics::Scalar;
use crate::numerics::rosenbrock::{Segment, System};
use crate::physics::kinetics::{BLOW, GEL, TEMP};

/// Golden section: share of an interval that is kept.
const KEPT: f64 = 0.618_033_988_749_894_9;

/// States and gauge pressures at the sample times.
pub(super) type Samples<S> = Vec<(State<S>, S)>;

/// The peak so far, and the samples taken at the times asked for.
pub(super) struct Watch<'a, S> {
    /// Highest absolute pressure, Pa, with derivatives, and when.
    pub peak: (S, f64),
    sample_times: &'a [f64],
    taken: usize,
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
            samples: Vec::with_capacity(sample_times.len()),
            trace: traced.then(CastingTrace::default),
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

    pub fn see(&mut self, machine: &Machine<S>, segment: &Segment<S, SIZE>) {
        let climb = |y: &State<S>| machine.pressure_rate(y, &machine.rate(y));
        if !machine.regime.open && climb(&segment.from) > 0.0 && climb(&segment.to) < 0.0 {
            self.refine(machine, segment);
        }
        while let Some(&time) = self.sample_times.get(self.taken) {
            if time > segment.end() {
                break;
            }
            // Also one that fell between two segments: an event's time is corrected by a rounding error.
            self.sample(machine, time, segment.at_time(time));
            self.taken += 1;
        }
    }

    /// Takes a state at which a phase ended into account.
    pub fn see_end(&mut self, machine: &Machine<S>, time: f64, y: &State<S>) {
        self.consider(machine.reading(y).pressure.value, time);
    }

    /// Samples at times up to the end that rounding left over.
    pub fn see_rest(&mut self, machine: &Machine<S>, end: f64, y: &State<S>) {
        while let Some(&time) = self.sample_times.get(self.taken).filter(|t| **t <= end * (1.0 + 1e-9)) {
            self.sample(machine, time, *y);
            self.taken += 1;
        }
    }

    fn consider(&mut self, pressure: S, time: f64) {
        if pressure.value() > self.peak.0.value() {
            self.peak = (pressure, time);
        }
    }

    /// The highest pressure within a segment that holds a maximum. Its derivative is that at a fixed time: dp/dt is zero.
    fn refine(&mut self, machine: &Machine<S>, segment: &Segment<S, SIZE>) {
        let at = |share: f64| machine.reading(&segment.at(share)).pressure.value.value();
        let (mut low, mut high) = (0.0, 1.0);
        let (mut a, mut b) = (1.0 - KEPT, KEPT);
        let (mut pa, mut pb) = (at(a), at(b));
        for _ in 0..40 {
            if pa > pb {
                (high, b, pb) = (b, a, pa);
                a = high - KEPT * (high - low);
                pa = at(a);
            } else {
                (low, a, pa) = (a, b, pb);
                b = low + KEPT * (high - low);
                pb = at(b);
            }
        }
        let time = segment.start.value() + 0.5 * (low + high) * segment.length;
        self.consider(machine.reading(&segment.at_time(time)).pressure.value, time);
    }

    fn sample(&mut self, machine: &Machine<S>, time: f64, y: State<S>) {
        let now = machine.reading(&y);
        let gauge = now.pressure.value - machine.room.ambient;
        if let Some(trace) = &mut self.trace {
            let v = |s: S| s.value();
            trace.time.push(time);
            trace.pressure.push(v(gauge));
            trace.fill.push(v(now.fill()));
            trace.temp.push(v(y[TEMP]));
            trace.core_temp.push(v(machine.core_temp(&y)));
            trace.blown.push(v(y[BLOW]));
            trace.gelled.push(v(y[GEL]));
            trace.mass.push(v(machine.contents(&y).mass));
            trace.vent_loss.push(v(y[VENTED]));
            trace.flash.push(v(y[FLASHED]));
            let flows = !machine.regime.gelled;
            trace.viscosity.push(if flows { v(machine.viscosity.at(y[GEL], y[TEMP]).value) } else { f64::INFINITY });
            trace.phase.push(self.phase);
        }
        self.samples.push((y, gauge));
    }
}
