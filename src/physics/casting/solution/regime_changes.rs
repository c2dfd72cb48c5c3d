//! What each event changes in the regime of a casting.

use super::course::Course;
use super::events::Event;
use crate::error::{Error, Result};
use crate::model::Phase;
use crate::numerics::Scalar;
use crate::physics::casting::equations::layout::Shared;
use crate::physics::casting::equations::skin;
use crate::physics::gas::{SPECIES, Source};

impl<S: Scalar, const N: usize> Course<'_, S, N> {
    /// Passes an event.
    pub fn pass(&mut self, event: Event<S>) -> Result<()> {
        let regime = &mut self.twin.exact.regime;
        match event {
            Event::Saturated(gas, layer) => {
                regime.saturated[layer][gas] = true;
                if SPECIES[gas].source == Source::Blowing {
                    self.result.rise_start.get_or_insert(self.time);
                }
            }
            Event::Unsaturated(gas, layer) => regime.saturated[layer][gas] = false,
            Event::Front(fill) => self.reach(fill),
            Event::ClampOpens => {
                regime.clamp_open = true;
                self.result.clamp_opened.get_or_insert(self.time);
                self.hold();
            }
            Event::ClampHolds => regime.clamp_open = false,
            Event::LeakOpens(_) => self.open_leak(),
            Event::Gel => return self.gel(),
        }
        Ok(())
    }

    /// The mold was closed.
    pub fn closed(&mut self) {
        self.enter(Phase::Rising);
        if self.twin.exact.next_front().is_none() && self.twin.exact.thresholds().next().is_some() {
            self.filled();
        }
    }

    fn reach(&mut self, fill: S) {
        self.twin.exact.regime.front = Some(fill.value());
        if fill.value() >= 1.0 {
            self.twin.exact.regime.headspace = false;
            self.state[Shared::HeadspaceAir] = S::zero();
        }
        if self.twin.exact.next_front().is_none() {
            self.filled();
        }
    }

    fn filled(&mut self) {
        self.result.fill_time.get_or_insert(self.time);
        self.enter(Phase::Filled);
    }

    /// A leak opens.
    pub fn open_leak(&mut self) {
        self.twin.exact.regime.closed_leak = None;
        self.result.leak_opened = Some(self.time);
        self.hold();
    }

    fn gel(&mut self) -> Result<()> {
        let exact = &mut self.twin.exact;
        if exact.regime.open {
            let what = format!("the mix gels at {:.1} s, before the mold is closed", self.time.value());
            return Err(Error::Casting { trial: None, what, advice: "close earlier, or mix colder".into() });
        }
        let now = exact.cavity_state(&self.state);
        self.result.gel_time = Some(self.time);
        self.result.pressure_at_gel = Some(now.pressure - exact.cavity.ambient);
        // From here on layers hold the shares of the room that they have: set foam does not give way to its neighbors.
        if N > 1 {
            let profile = exact.profile(&self.state, &now);
            let found = skin(&profile, exact.mass(&self.state) / (now.cavity - now.headspace));
            self.result.skin_thickness = found.as_ref().map(|skin| skin.thickness);
            self.result.core_density = found.map(|skin| skin.core_density);
            self.profile = Some(profile);
        }
        self.recorder.low_pressure.begin(self.time, now.pressure);
        exact.regime.gelled = true;
        self.hold();
        self.enter(Phase::Set);
        Ok(())
    }

    /// In a short shot whose air can leave, the set foam keeps its volume. The less room it leaves to the air, the
    /// fewer moles make a given pressure.
    fn hold(&mut self) {
        let (exact, regime) = (&self.twin.exact, &self.twin.exact.regime);
        if regime.gelled && regime.headspace && regime.held_headspace.is_none() && exact.has_air_path() {
            let headspace = exact.cavity_state(&self.state).headspace;
            if headspace.value() <= 0.0 {
                // It gelled as it filled; which came first is lost in how closely both were located.
                return self.reach(S::one());
            }
            self.absolute[Shared::HeadspaceAir] *= (headspace / exact.cavity.volume).value();
            self.twin.exact.regime.held_headspace = Some(headspace);
        }
    }

    fn enter(&mut self, phase: Phase) {
        self.recorder.enter(phase);
        self.phases.push((phase, self.time.value()));
    }
}
