//! Records the peak of the pressure while a casting runs, and samples at fixed times.

use super::low_pressure::LowPressure;
use super::moving_part::MovingPart;
use crate::model::{CastingTrace, Phase, SKIN_SHARE};
use crate::numerics::Scalar;
use crate::numerics::events::{SHORTLY, highest};
use crate::numerics::integrate::System;
use crate::numerics::segment::Segment;
use crate::physics::casting::equations::layout::{Shared, State};
use crate::physics::casting::equations::{CavityState, Equations};
use crate::physics::kinetics::{GEL, REACTING, TEMP};
use crate::physics::layers::{Layers, sum_over};

/// Halvings of a step after which a time in it is found.
const HALVINGS: usize = 50;

/// States and gauge pressures at the sample times.
pub type Samples<S, const N: usize> = Vec<(State<S, N>, S)>;
/// A state and the cavity there.
type Found<S, const N: usize> = (State<S, N>, CavityState<S, N>);

/// The peak so far, and the samples taken at the times asked for.
pub struct Recorder<'a, S, const N: usize> {
    /// Highest absolute pressure, Pa, with derivatives, and when.
    pub peak: (S, f64),
    pub low_pressure: LowPressure<S>,
    /// When the foam at the wall gelled, s, the absolute pressure, Pa, and its temperature then, K.
    pub skin_set: Option<(S, S, S)>,
    /// Highest temperature of the middle so far, K, of foam in layers.
    pub hottest: Option<S>,
    sample_times: &'a [f64],
    taken: usize,
    /// The pressure at the end of the last segment of this run, and its slope there, Pa/s.
    last: Option<(f64, f64)>,
    samples: Samples<S, N>,
    trace: Option<CastingTrace>,
    /// What lies within one segment.
    found: Vec<Found<S, N>>,
    phase: Phase,
}

impl<'a, S: Scalar, const N: usize> Recorder<'a, S, N> {
    /// Records the peak, from when on the gauge pressure is below `low` (Pa), and samples the gauge pressure at
    /// `sample_times` (s, rising); `traced`: all courses instead.
    pub fn new(ambient: S, low: S, sample_times: &'a [f64], traced: bool) -> Self {
        Recorder {
            peak: (ambient, 0.0),
            low_pressure: LowPressure::below(ambient + low),
            skin_set: None,
            hottest: None,
            sample_times,
            taken: 0,
            last: None,
            samples: Vec::with_capacity(if traced { 0 } else { sample_times.len() }),
            trace: traced.then(|| CastingTrace::with_room_for(sample_times.len())),
            found: Vec::new(),
            phase: Phase::Open,
        }
    }

    pub fn enter(&mut self, phase: Phase) {
        self.phase = phase;
    }

    /// The samples at the times that were reached, and the courses.
    pub fn finish(self) -> (Samples<S, N>, Option<CastingTrace>) {
        (self.samples, self.trace)
    }

    /// Samples what lies within a segment.
    pub fn record<const D: usize>(&mut self, part: &MovingPart<S, D, N>, segment: &Segment<S, D>) {
        self.look_for_set_skin(part, segment);
        self.look_for_hottest(part, segment);
        // Also what fell between two segments: an event's time is corrected by a rounding error.
        let due = self.due(segment.end());
        part.cavity_at_all(segment, due, &mut self.found);
        self.take(part.equations(), due);
    }

    /// Looks whether the middle is hottest within a segment: when, the layers say without the wall's value, which
    /// hardly matters there.
    pub fn look_for_hottest<const D: usize>(&mut self, part: &MovingPart<S, D, N>, segment: &Segment<S, D>) {
        if N == 1 {
            return;
        }
        let weights = Layers::<N>::NODES.at_without_wall(0.0);
        let climb = |share: f64| {
            let slopes = segment.slopes_at(share);
            (0..N).map(|i| slopes[i * REACTING + TEMP] * weights[i]).sum::<f64>()
        };
        if climb(0.0) <= 0.0 || climb(1.0) > 0.0 {
            return;
        }
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            *if climb(middle) > 0.0 { &mut low } else { &mut high } = middle;
        }
        let bend = (climb(high + SHORTLY) - climb(high - SHORTLY)) / (2.0 * SHORTLY * segment.length);
        let y = segment.at_time(segment.start.value() + high * segment.length);
        let rate = part.rate(&y);
        let late = -(sum_over::<N, S>(|i| rate[i * REACTING + TEMP] * weights[i]) / bend);
        let moved = std::array::from_fn(|i| y[i] + rate[i] * late);
        let (all, now) = part.cavity_at(&moved);
        let temp = part.equations().core_temp(&all, &now);
        self.hottest = Some(self.hottest.map_or(temp, |hottest| hottest.max(temp)));
    }

    /// Looks whether the foam at the wall gels within a segment: its turnover only grows.
    pub fn look_for_set_skin<const D: usize>(&mut self, part: &MovingPart<S, D, N>, segment: &Segment<S, D>) {
        if N == 1 || self.skin_set.is_some() {
            return;
        }
        let (equations, layers) = (part.equations(), &Layers::<N>::NODES);
        let weights = layers.at_without_wall(1.0 - SKIN_SHARE);
        let set = |conversion: f64| conversion / (1.0 - conversion);
        let needed = set(equations.foam.gel_conversion.value());
        let turnover = |y: &[f64; D]| (0..N).map(|i| y[i * REACTING + GEL] * weights[i]).sum::<f64>();
        if turnover(&segment.to.map(S::value)) < needed {
            return;
        }
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            *if turnover(&segment.values_at(middle)) < needed { &mut low } else { &mut high } = middle;
        }
        let time = segment.start.value() + high * segment.length;
        let (y, rate) = (segment.at_time(time), segment.slopes_at(high));
        let reached = sum_over::<N, S>(|i| y[i * REACTING + GEL] * weights[i]);
        let conversion = equations.foam.gel_conversion;
        let late = (conversion / (S::one() - conversion) - reached) / turnover(&rate);
        let moved = std::array::from_fn(|i| y[i] + late * rate[i]);
        let (all, now) = part.cavity_at(&moved);
        let (at, by_wall) = layers.at(1.0 - SKIN_SHARE);
        let surface = equations.surface_temp(&all, &now);
        let temp = sum_over::<N, S>(|i| all.nodes[i][TEMP] * at[i]) + surface * by_wall;
        self.skin_set = Some((S::constant(time) + late, now.pressure, temp));
    }

    /// Takes a state at which a phase ended into account.
    pub fn record_end(&mut self, pressure: S, time: f64) {
        if pressure.value() > self.peak.0.value() {
            self.peak = (pressure, time);
        }
    }

    /// Samples at times up to the end that rounding left over.
    pub fn record_rest(&mut self, equations: &Equations<S>, end: f64, y: &State<S, N>) {
        let due = self.due(end * (1.0 + 1e-9));
        self.found.clear();
        self.found.resize(due.len(), (*y, equations.cavity_state(y)));
        self.take(equations, due);
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

    /// The highest pressure within a segment that holds a maximum. Its derivative is that at a fixed time: dp/dt is
    /// zero.
    pub fn look_for_peak<const D: usize>(&mut self, part: &MovingPart<S, D, N>, segment: &Segment<S, D>) {
        if part.is_open() {
            return;
        }
        let at = |share: f64| part.pressure_value(&segment.values_at(share));
        let shortly = SHORTLY * segment.length;
        let from = self.last.unwrap_or_else(|| {
            let start = at(0.0);
            (start, (at(SHORTLY) - start) / shortly)
        });
        let end = part.pressure_value(&segment.to.map(S::value));
        let to = (end, (end - at(1.0 - SHORTLY)) / shortly);
        self.last = Some(to);
        self.look_between(part, segment, from, to);
    }

    /// The same where the pressure, Pa, and its slope, Pa/s, are known at both ends.
    pub fn look_between<const D: usize>(
        &mut self,
        part: &MovingPart<S, D, N>,
        segment: &Segment<S, D>,
        from: (f64, f64),
        to: (f64, f64),
    ) {
        let until = falls_until(from, to, segment.length);
        self.low_pressure.watch(part, segment, (from.0, to.0), until);
        let Some(until) = until else { return };
        let at = |share: f64| part.pressure_value(&segment.values_at(share));
        let share = highest(at, 0.0, until);
        if at(share) < self.peak.0.value() {
            return;
        }
        let time = segment.start.value() + share * segment.length;
        self.record_end(part.cavity_at(&segment.at_time(time)).1.pressure, time);
    }

    /// Takes what was found at these times.
    fn take(&mut self, equations: &Equations<S>, due: &[f64]) {
        self.taken += due.len();
        let Some(trace) = &mut self.trace else {
            self.samples.extend(self.found.iter().map(|(y, now)| (*y, now.pressure - equations.cavity.ambient)));
            return;
        };
        trace.time.extend_from_slice(due);
        add_courses(trace, equations, &self.found);
        trace.phase.resize(trace.time.len(), self.phase);
    }
}

/// Until which share of a segment a pressure falls that rises at its start, from values and slopes at both ends; `None`
/// if there is no fall. Between a rise and a fall lies a maximum. Where it rises at the end as well, a cubic says
/// whether it fell between.
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

/// Adds what was found to the courses, column by column.
fn add_courses<S: Scalar, const N: usize>(trace: &mut CastingTrace, equations: &Equations<S>, found: &[Found<S, N>]) {
    add(&mut trace.pressure, found, |_, now| now.pressure - equations.cavity.ambient);
    add(&mut trace.fill, found, |_, now| now.fill());
    add(&mut trace.temp, found, |y, _| equations.mean_temp(y));
    add(&mut trace.core_temp, found, |y, now| equations.core_temp(y, now));
    add(&mut trace.blown, found, |_, now| equations.mean_blown(&now.unblown));
    add(&mut trace.gelled, found, |y, _| equations.mean_gelled(y));
    add(&mut trace.mass, found, |y, _| equations.mass(y));
    add(&mut trace.vent_loss, found, |y, _| y[Shared::VentLoss]);
    add(&mut trace.flash, found, |y, _| y[Shared::Flash]);
    if equations.regime.gelled {
        trace.viscosity.resize(trace.pressure.len(), f64::INFINITY);
    } else {
        add(&mut trace.viscosity, found, |y, _| {
            equations.viscosity.value(equations.mean_gelled(y), equations.mean_temp(y))
        });
    }
}

fn add<S: Scalar, const N: usize>(
    column: &mut Vec<f64>,
    found: &[Found<S, N>],
    of: impl Fn(&State<S, N>, &CavityState<S, N>) -> S,
) {
    column.extend(found.iter().map(|(y, now)| of(y, now).value()));
}
