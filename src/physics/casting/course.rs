//! The course of one casting: runs the machine from pour to demold and passes from regime to regime at the marks.

use super::check;
use super::machine::{FLASHED, HEAD, LOST, Machine, SIZE, State, VENTED};
use super::manner::{Haste, Looks, Manner};
use super::motion::{ABSOLUTE, Part, REACTIONS};
use super::regime::Mark;
use super::setup::{build, tolerance};
use super::watch::{Samples, Watch};
use crate::model::{CastingResult, CastingTrace, FLASH_SHARE, Phase, Run, SEALED_FULL, Verdict};
use serde::{Deserialize, Serialize};
use std::ops::ControlFlow::{Break, Continue};

use crate::error::{Error, Result};
use crate::model::{Casting, Cavity, FoamConstants, LeakStart};
use crate::numerics::Scalar;
use crate::numerics::dormand_prince::DormandPrince;
use crate::numerics::integrate::{Begin, End, Method, Stall, Stop, Tolerance, integrate_while};
use crate::numerics::rosenbrock::Rodas5P;
use crate::physics::adiabatic_rise::free_rise_density;
use crate::physics::induction::poured;
use crate::physics::kinetics::{BLOW, GEL, TEMP};
use crate::physics::properties::GAS_CONSTANT;

mod breath;

/// More changes of regime than this mean that the clamp chatters.
const MOST_MARKS: usize = 200;
/// More pieces than this, for each of which it was looked how to integrate it, mean that nothing goes on.
const MOST_PIECES: usize = 5000;

/// First step that is tried, s.
const FIRST_STEP: f64 = 0.5;
/// Steps after which it is looked again whether the other method would be the quicker one; where the pressure is on its way, half
/// as many.
const LOOK_AFTER: usize = 8;

/// How accurately to integrate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Accuracy {
    /// Relative error per step.
    pub relative: f64,
}

impl Default for Accuracy {
    fn default() -> Self {
        Accuracy { relative: 1e-6 }
    }
}

/// A casting read at given times, with derivatives.
#[derive(Clone, Debug)]
pub struct Sampled<S> {
    /// Outcome quantities.
    pub result: CastingResult<S>,
    /// Gauge pressure at the sample times, Pa; shape (n,).
    pub pressure: Vec<S>,
    /// Mean temperature of the foam at the sample times, K; shape (n,).
    pub temp: Vec<S>,
}

/// Simulates one casting with its courses at `points` times from pour to demold.
///
/// # Errors
/// [`Error::Argument`] for settings no casting can have; [`Error::Casting`] where the foam does not fit, or gels or fills the
/// cavity before closing; [`Error::Integration`] where the integrator fails.
pub fn simulate(
    foam: &FoamConstants,
    cavity: &Cavity,
    casting: &Casting,
    points: usize,
    accuracy: Accuracy,
) -> Result<Run> {
    let last = casting.demold_time;
    let times: Vec<f64> = (0..points).map(|i| last * i as f64 / (points.max(2) - 1) as f64).collect();
    let mut course = Course::pour(foam, cavity, casting, &times, true, accuracy)?;
    course.run(casting)?;
    let phases = course.phases.clone();
    let (result, _, trace) = course.finish();
    let free_rise_density = free_rise_density(foam, casting.mix_temp, casting.ambient_pressure, accuracy)?;
    let packing_factor = result.density / free_rise_density;
    Ok(Run { result, free_rise_density, packing_factor, phases, trace: trace.unwrap_or_default() })
}

/// Runs one casting and reads it at `times` (s, rising), in numbers that may carry derivatives.
///
/// # Errors
/// As [`simulate`].
pub fn sampled<S: Scalar>(
    foam: &FoamConstants<S>,
    cavity: &Cavity<S>,
    casting: &Casting<S>,
    times: &[f64],
    accuracy: Accuracy,
) -> Result<Sampled<S>> {
    let mut course = Course::pour(foam, cavity, casting, times, false, accuracy)?;
    course.run(casting)?;
    let (result, samples, _) = course.finish();
    let pressure = samples.iter().map(|(_, gauge)| *gauge).collect();
    let temp = samples.iter().map(|(y, _)| y[TEMP]).collect();
    Ok(Sampled { result, pressure, temp })
}

struct Course<'a, S> {
    machine: Machine<S>,
    /// The same casting in values alone.
    plain: Machine<f64>,
    time: S,
    state: State<S>,
    step: f64,
    /// How what moves is integrated, if that has been looked at in the present regime.
    manner: Option<Manner>,
    /// Whether the headspace turned out to stay behind the rise in the present regime.
    trails: bool,
    tolerance: Tolerance<SIZE>,
    watch: Watch<'a, S>,
    phases: Vec<(Phase, f64)>,
    result: CastingResult<S>,
}

impl<'a, S: Scalar> Course<'a, S> {
    fn pour(
        foam: &FoamConstants<S>,
        cavity: &Cavity<S>,
        casting: &Casting<S>,
        times: &'a [f64],
        traced: bool,
        accuracy: Accuracy,
    ) -> Result<Self> {
        check::foam(foam)?;
        check::cavity(cavity)?;
        check::casting(casting, cavity, foam.liquid_density.value())?;
        let machine = build(foam, cavity, casting, accuracy);
        let plain = build(&foam.map(S::value), &cavity.map(S::value), &casting.map(S::value), accuracy);
        let mut state = [S::zero(); SIZE];
        [state[BLOW], state[GEL], state[TEMP]] = poured(&machine.kinetics, casting.mix_temp, accuracy.relative)?;
        let watch = Watch::new(casting.ambient_pressure, times, traced);
        let tolerance = tolerance(&machine, accuracy);
        let result = CastingResult::before(machine.poured, S::zero());
        let phases = vec![(Phase::Open, 0.0)];
        let mut course = Course {
            machine,
            plain,
            time: S::zero(),
            state,
            step: FIRST_STEP,
            manner: None,
            trails: false,
            tolerance,
            watch,
            phases,
            result,
        };
        course.machine.regime.saturated = course.machine.gas.henry.value() <= 0.0 && state[BLOW].value() >= 0.0;
        Ok(course)
    }

    fn run(&mut self, casting: &Casting<S>) -> Result<()> {
        self.advance(casting.closing_time.value())?;
        self.close(casting)?;
        let demold = casting.demold_time.value();
        match casting.leak.map(|leak| leak.start) {
            Some(LeakStart::Time(at)) if at <= self.time.value() => self.open_leak(),
            Some(LeakStart::Time(at)) if at < demold => {
                self.advance(at)?;
                self.open_leak();
            }
            _ => {}
        }
        self.advance(demold)?;
        // The end is at a fixed time unless the demold time itself carries derivatives.
        let rate = self.machine.rate(&self.state);
        let moved = casting.demold_time.tangent();
        self.state = std::array::from_fn(|i| self.state[i] + rate[i] * moved);
        self.watch.see_rest(&self.machine, demold, &self.state);
        Ok(())
    }

    /// Integrates to `until`, passing the marks on the way.
    fn advance(&mut self, until: f64) -> Result<()> {
        (self.manner, self.trails) = (None, false);
        let mut marks = 0;
        for _ in 0..MOST_PIECES {
            if self.time.value() >= until {
                return Ok(());
            }
            self.machine.arm();
            self.machine.regime.set_values(&mut self.plain.regime);
            self.plain.arm();
            let mark = self.go(until).map_err(|stall| explain(&stall))?;
            let pressure = self.machine.reading(&self.state).pressure;
            self.watch.see_end(pressure, self.time.value());
            if let Some(which) = mark {
                (self.manner, self.trails) = (None, false);
                self.pass(self.machine.regime.armed[which])?;
                marks += 1;
                if marks == MOST_MARKS {
                    break;
                }
            }
        }
        let stall = Stall { time: self.time.value(), reason: "the regime changes without end", component: FLASHED };
        Err(explain(&stall))
    }

    /// Integrates what moves in the present regime, to its end or to where another method goes on; the number of the mark
    /// that ended it.
    fn go(&mut self, until: f64) -> Result<Option<usize>, Stall> {
        let regime = &self.machine.regime;
        let foam_moves = regime.any_reached() && !regime.gelled && !regime.open;
        let air_moves = regime.headspace && !regime.open && self.machine.has_air_path();
        match (air_moves, foam_moves, self.machine.loses_gas()) {
            (false, false, false) => self.move_on(until, REACTIONS),
            (false, false, true) => self.move_on(until, [0, 1, 2, LOST]),
            (false, true, _) if self.machine.seam_passes() => self.move_on(until, [0, 1, 2, VENTED, FLASHED]),
            (false, true, _) => self.move_on(until, [0, 1, 2, VENTED]),
            (true, false, _) => self.breathe(until),
            (true, true, _) if self.machine.seam_passes() => self.move_on(until, [0, 1, 2, HEAD, VENTED, FLASHED]),
            (true, true, _) => self.move_on(until, [0, 1, 2, HEAD, VENTED]),
        }
    }

    /// Integrates what moves at these places, in the manner that suits it.
    fn move_on<const D: usize>(&mut self, until: f64, places: [usize; D]) -> Result<Option<usize>, Stall> {
        let manner = self.manner.unwrap_or_else(|| self.manner_of(until, &places));
        self.manner = Some(manner);
        match manner {
            Manner::Stiff => self.drive::<Rodas5P, D>(until, places),
            Manner::Plain | Manner::Settling => self.drive::<DormandPrince, D>(until, places),
        }
    }

    /// How to begin with what moves at these places. Cuts the first step to what an explicit method can take.
    fn manner_of(&mut self, until: f64, places: &[usize]) -> Manner {
        let state = self.state.map(S::value);
        let haste = Haste::of(&self.plain, &state, places, until - self.time.value());
        let manner = haste.manner(self.tolerance.relative);
        if manner != Manner::Stiff {
            self.step = self.step.min(haste.first_step());
        }
        manner
    }

    fn drive<M, const D: usize>(&mut self, until: f64, places: [usize; D]) -> Result<Option<usize>, Stall>
    where
        for<'b> M: Method<S, Part<'b, S, D>, D>,
    {
        let part = Part::new((&self.machine, &self.plain), self.state, places, false).in_manner(self.manner);
        let begin = Begin { time: self.time, state: part.of(&self.state), step: self.step };
        let tolerance = self.tolerance_of(places, part.pressure_slot());
        let waits = places[REACTIONS.len()..] == [HEAD] && !self.trails;
        let (watch, mut turns) = (&mut self.watch, false);
        let look_after = if self.manner == Some(Manner::Plain) { LOOK_AFTER } else { LOOK_AFTER / 2 };
        let mut looks = Looks::every(look_after, begin.time.value());
        watch.begin();
        let end = integrate_while::<M, S, _, D>(&part, begin, until, &tolerance, |segment| {
            turns = looks.due(segment.end()).is_some_and(|mean| {
                part.haste_after(segment, until, |haste| match M::STIFF {
                    true => haste.turns_calm(segment.length, tolerance.relative),
                    false => haste.turns_stiff(mean),
                })
            });
            if turns && !M::STIFF || waits && part.is_followed(segment, tolerance.relative) {
                return Break(Stop::Before);
            }
            watch.look_for_peak(&part, segment);
            watch.see(&part, segment);
            if turns { Break(Stop::After) } else { Continue(()) }
        })
        .map_err(|stall| Stall { component: places[stall.component], ..stall });
        let end = end?;
        (self.time, self.state, self.step) = (end.time, part.whole(&end.state), self.step_after(&end));
        if turns {
            self.manner = Some(if M::STIFF { Manner::Settling } else { Manner::Stiff });
        }
        Ok(end.event)
    }

    /// A step size to go on with. Where an event lets something flow or grow, a step as long as before it may see nothing of it.
    fn step_after<const D: usize>(&self, end: &End<S, D>) -> f64 {
        match end.event.map(|which| self.machine.regime.armed[which]) {
            None | Some(Mark::Gel) => end.next_step,
            Some(_) => end.next_step.min(end.last_step),
        }
    }

    fn tolerance_of<const D: usize>(&self, places: [usize; D], pressure: Option<usize>) -> Tolerance<D> {
        let whole = &self.tolerance;
        let mut absolute = places.map(|place| whole.absolute[place]);
        if let Some(slot) = pressure {
            absolute[slot] = ABSOLUTE * whole.relative * self.plain.room.ambient;
        }
        Tolerance { relative: whole.relative, absolute, max_steps: whole.max_steps }
    }

    /// Closes the mold: what the foam has not filled is air at ambient pressure.
    fn close(&mut self, casting: &Casting<S>) -> Result<()> {
        let moved = casting.closing_time.tangent();
        let rate = self.machine.rate(&self.state);
        self.state = std::array::from_fn(|i| self.state[i] + rate[i] * moved);
        self.time = casting.closing_time;
        let now = self.machine.reading(&self.state);
        if now.headspace.value() <= 0.0 {
            let what = format!(
                "at closing ({:.1} s) the foam already takes {:.0} mL, the cavity holds {:.0} mL",
                self.time.value(),
                1e6 * (now.cavity - now.headspace).value(),
                1e6 * now.cavity.value()
            );
            return Err(Error::Casting { trial: None, what, advice: "close earlier or pour less".into() });
        }
        let room = &self.machine.room;
        self.state[HEAD] = room.ambient * now.headspace / (room.headspace_temp * GAS_CONSTANT);
        self.machine.regime.open = false;
        let fill = now.fill().value();
        self.machine.regime.front =
            self.machine.thresholds().map(|f| f.value()).filter(|f| *f <= fill).reduce(f64::max);
        self.enter(Phase::Rising);
        if self.machine.next_front().is_none() && self.machine.thresholds().next().is_some() {
            self.filled();
        }
        Ok(())
    }

    fn pass(&mut self, mark: Mark<S>) -> Result<()> {
        match mark {
            Mark::Saturated => {
                self.machine.regime.saturated = true;
                self.result.rise_start.get_or_insert(self.time);
            }
            Mark::Unsaturated => self.machine.regime.saturated = false,
            Mark::Front(fill) => self.reach(fill),
            Mark::ClampOpens => {
                self.machine.regime.clamp_open = true;
                self.result.clamp_opened.get_or_insert(self.time);
                self.hold();
            }
            Mark::ClampHolds => self.machine.regime.clamp_open = false,
            Mark::LeakOpens(_) => self.open_leak(),
            Mark::Gel => return self.gel(),
        }
        Ok(())
    }

    fn reach(&mut self, fill: S) {
        self.machine.regime.front = Some(fill.value());
        if fill.value() >= 1.0 {
            self.machine.regime.headspace = false;
            self.state[HEAD] = S::zero();
        }
        if self.machine.next_front().is_none() {
            self.filled();
        }
    }

    fn filled(&mut self) {
        self.result.fill_time.get_or_insert(self.time);
        self.enter(Phase::Filled);
    }

    fn open_leak(&mut self) {
        self.machine.regime.closed_port = None;
        self.result.leak_opened = Some(self.time);
        self.hold();
    }

    fn gel(&mut self) -> Result<()> {
        if self.machine.regime.open {
            let what = format!("the mix gels at {:.1} s, before the mold is closed", self.time.value());
            return Err(Error::Casting { trial: None, what, advice: "close earlier, or mix colder".into() });
        }
        let now = self.machine.reading(&self.state);
        self.result.gel_time = Some(self.time);
        self.result.pressure_at_gel = Some(now.pressure - self.machine.room.ambient);
        self.machine.regime.gelled = true;
        self.hold();
        self.enter(Phase::Set);
        Ok(())
    }

    /// In a short shot whose air can leave, the set foam keeps its volume. The less room it leaves to the air, the fewer moles
    /// make a given pressure.
    fn hold(&mut self) {
        let regime = &self.machine.regime;
        if regime.gelled && regime.headspace && regime.held.is_none() && self.machine.has_air_path() {
            let headspace = self.machine.reading(&self.state).headspace;
            if headspace.value() <= 0.0 {
                // It gelled as it filled; which came first is lost in how closely both were located.
                return self.reach(S::one());
            }
            self.machine.regime.held = Some(headspace);
            self.tolerance.absolute[HEAD] *= (headspace / self.machine.room.volume).value();
        }
    }

    fn enter(&mut self, phase: Phase) {
        self.watch.enter(phase);
        self.phases.push((phase, self.time.value()));
    }

    fn finish(mut self) -> (CastingResult<S>, Samples<S>, Option<CastingTrace>) {
        let (machine, y) = (&self.machine, &self.state);
        let now = machine.reading(y);
        let r = &mut self.result;
        r.peak_pressure = self.watch.peak.0 - machine.room.ambient;
        r.peak_time = self.watch.peak.1;
        r.clamp_needed = r.peak_pressure * machine.clamped_area;
        r.part_mass = machine.mass(y);
        (r.vent_loss, r.flash) = (y[VENTED], y[FLASHED]);
        r.fill_fraction = now.fill();
        r.density = r.part_mass / machine.room.volume;
        r.core_temp = machine.core_temp(y);
        r.verdict = verdict(machine, r);
        let (samples, trace) = self.watch.finish();
        (self.result, samples, trace)
    }
}

fn verdict<S: Scalar>(machine: &Machine<S>, r: &CastingResult<S>) -> Verdict {
    let sealed = machine.thresholds().next().is_none();
    let full = if sealed { r.fill_fraction.value() >= SEALED_FULL } else { r.fill_time.is_some() };
    match r.gel_time {
        None => Verdict::Soft,
        Some(_) if !full => Verdict::Short,
        Some(_) if r.flash.value() > FLASH_SHARE * machine.poured.value() => Verdict::Flash,
        Some(_) => Verdict::Full,
    }
}

fn explain(stall: &Stall) -> Error {
    let suspect = match stall.component {
        BLOW => "blow_rate and blow_activation",
        GEL => "gel_rate and gel_activation",
        TEMP => "blow_heat, gel_heat and heat_transfer",
        HEAD => "the vent diameters and the headspace",
        VENTED => "viscosity and the vent diameters",
        FLASHED => "the parting line and the clamp force",
        _ => "cell_opening_time",
    };
    Error::Integration { trial: None, time_s: stall.time, reason: stall.reason.into(), suspect: suspect.into() }
}
