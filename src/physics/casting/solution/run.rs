//! Runs a casting from pour to demold, from regime to regime at the events.

use super::course::Course;
use super::lengths::Lengths;
use super::recorder::{Recorder, Samples};
use super::sampled::Sampled;
use super::stopped::Stopped;
use super::twin::Twin;
use crate::error::{Error, Result};
use crate::model::{Casting, CastingResult, CastingTrace, Cavity, DensityProfile, FoamConstants, LeakStart, Phase};
use crate::numerics::Scalar;
use crate::physics::accuracy::Accuracy;
use crate::physics::casting::equations::checks;
use crate::physics::casting::equations::layout::Shared::{Flash, HeadspaceAir, VentLoss};
use crate::physics::casting::equations::layout::{Beside, Place, State};
use crate::physics::gas::{SPECIES, Source};
use crate::physics::kinetics::at_rest;
use crate::physics::limits;
use crate::physics::properties::GAS_CONSTANT;

/// More changes of regime than this mean that the clamp chatters.
const MOST_EVENTS: usize = 200;
/// More pieces than this, for each of which it was looked how to integrate it, mean that nothing goes on.
const MOST_PIECES: usize = 5000;
/// First step that is tried, s.
const FIRST_STEP: f64 = 0.5;
/// Absolute error per step in relative ones, of what is of order one.
const ABSOLUTE_SHARE: f64 = 0.1;

impl<'a, S: Scalar, const N: usize> Course<'a, S, N>
where
    Self: Lengths,
{
    /// Pours the mix; `times` are sampled, `traced`: as all courses instead of pressure and temperature.
    pub fn pour(
        foam: &FoamConstants<S>,
        cavity: &Cavity<S>,
        casting: &Casting<S>,
        times: &'a [f64],
        traced: bool,
        accuracy: Accuracy,
    ) -> Result<Self> {
        limits::foam(foam)?;
        checks::cavity(cavity)?;
        checks::casting(casting, cavity, foam.liquid_density.value())?;
        let mut twin = Twin::new(foam, cavity, casting, accuracy);
        // What does not dissolve at all is free as soon as there is any.
        let saturated = std::array::from_fn(|gas| twin.exact.gases.amounts[gas].henry.value() <= 0.0);
        twin.exact.regime.saturated.fill(saturated);
        let absolute = twin.exact.scale().map(|scale| ABSOLUTE_SHARE * accuracy.relative * scale);
        Ok(Course {
            time: S::zero(),
            state: State::uniform(at_rest(casting.mix_temp), S::zero()),
            step: FIRST_STEP,
            mode: None,
            trails: false,
            relative: accuracy.relative,
            absolute,
            recorder: Recorder::new(casting.ambient_pressure, casting.opening_limit, times, traced),
            weighed_after: casting.weighed_after,
            phases: vec![(Phase::Open, 0.0)],
            result: CastingResult::before(twin.exact.poured, S::zero()),
            profile: None,
            twin,
        })
    }

    /// Runs the casting to demold.
    pub fn run(&mut self, casting: &Casting<S>) -> Result<()> {
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
        self.move_along_rate(casting.demold_time.tangent());
        self.recorder.record_rest(&self.twin.exact, demold, &self.state);
        Ok(())
    }

    /// Moves the state by as much as its rate brings in a time that has derivatives, but no length.
    fn move_along_rate(&mut self, tangent: S) {
        let rate = self.twin.exact.rate(&self.state);
        self.state = self.state.moved(&rate, tangent);
    }

    /// Integrates to `until`, passing the end of the induction if it comes before.
    fn advance(&mut self, until: f64) -> Result<()> {
        let induction = self.twin.exact.kinetics.induction.value();
        if self.twin.exact.regime.dormant && induction < until {
            self.advance_to(induction)?;
            self.wake();
        }
        self.advance_to(until)
    }

    /// The catalysts wake up.
    fn wake(&mut self) {
        let exact = &mut self.twin.exact;
        let woken = exact.kinetics.induction;
        let freely = SPECIES.iter().position(|gas| gas.source == Source::Blowing);
        if freely.is_some_and(|gas| exact.regime.saturated[0][gas]) {
            self.result.rise_start.get_or_insert(woken);
        }
        self.move_along_rate(woken - self.time);
        (self.time, self.step) = (woken, FIRST_STEP);
        self.twin.exact.regime.dormant = false;
    }

    /// Integrates to `until`, passing the events on the way.
    fn advance_to(&mut self, until: f64) -> Result<()> {
        (self.mode, self.trails) = (None, false);
        let mut events = 0;
        for _ in 0..MOST_PIECES {
            if self.time.value() >= until {
                return Ok(());
            }
            self.twin.enter_regime(N);
            let event = self.integrate_piece(until).map_err(|stopped| stopped.explain())?;
            let pressure = self.twin.exact.cavity_state(&self.state).pressure;
            self.recorder.record_end(pressure, self.time.value());
            if let Some(which) = event {
                (self.mode, self.trails) = (None, false);
                self.pass(self.twin.events[which])?;
                events += 1;
                if events == MOST_EVENTS {
                    break;
                }
            }
        }
        let reason = "the regime changes without end";
        Err(Stopped::at(self.time.value(), reason, Place::Shared(Flash)).explain())
    }

    /// Integrates what moves in the present regime, to its end or to where another method goes on; the number of the
    /// event that ended it.
    fn integrate_piece(&mut self, until: f64) -> Result<Option<usize>, Stopped> {
        let (equations, regime) = (&self.twin.exact, &self.twin.exact.regime);
        let foam_moves = regime.any_reached() && !regime.gelled && !regime.open;
        let air_moves = regime.headspace && !regime.open && equations.has_air_path();
        let beside = match (air_moves, foam_moves, equations.flash_can_leave()) {
            (false, false, _) if equations.loses_gas() => Beside::GAS,
            (false, false, _) => Beside::NOTHING,
            (false, true, true) => Beside::shared(&[VentLoss, Flash]),
            (false, true, false) => Beside::shared(&[VentLoss]),
            (true, false, _) => Beside::shared(&[HeadspaceAir]),
            (true, true, true) => Beside::shared(&[HeadspaceAir, VentLoss, Flash]),
            (true, true, false) => Beside::shared(&[HeadspaceAir, VentLoss]),
        };
        if *beside.shared == [HeadspaceAir]
            && let Some(event) = self.let_air_follow(until)
        {
            return Ok(event);
        }
        self.integrate(until, beside)
    }

    /// Closes the mold: what the foam has not filled is air at ambient pressure.
    fn close(&mut self, casting: &Casting<S>) -> Result<()> {
        self.move_along_rate(casting.closing_time.tangent());
        self.time = casting.closing_time;
        let now = self.twin.exact.cavity_state(&self.state);
        if now.headspace.value() <= 0.0 {
            let what = format!(
                "at closing ({:.1} s) the foam already takes {:.0} mL, the cavity holds {:.0} mL",
                self.time.value(),
                1e6 * (now.cavity - now.headspace).value(),
                1e6 * now.cavity.value()
            );
            return Err(Error::Casting { trial: None, what, advice: "close earlier or pour less".into() });
        }
        let exact = &mut self.twin.exact;
        let rt = exact.cavity.headspace_temp * GAS_CONSTANT;
        self.state[HeadspaceAir] = exact.cavity.ambient * now.headspace / rt;
        exact.regime.open = false;
        let fill = now.fill().value();
        exact.regime.front = exact.thresholds().map(|f| f.value()).filter(|f| *f <= fill).reduce(f64::max);
        self.closed();
        Ok(())
    }

    /// The outcome, the part's profile, the samples and the courses.
    pub fn finish(mut self) -> (CastingResult<S>, Option<DensityProfile<S>>, Samples<S, N>, Option<CastingTrace>) {
        self.set_outcome();
        let (samples, trace) = self.recorder.finish();
        (self.result, self.profile, samples, trace)
    }

    /// The outcome and the samples alone.
    pub fn sampled(self) -> Sampled<S> {
        let exact = self.twin.exact.clone();
        let (result, _, samples, _) = self.finish();
        let pressure = samples.iter().map(|(_, gauge)| *gauge).collect();
        let temp = samples.iter().map(|(y, _)| exact.mean_temp(y)).collect();
        Sampled { result, pressure, temp }
    }
}
