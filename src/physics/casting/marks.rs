//! Where one regime of a casting ends: the functions that rise through zero there, and how fast.

use super::machine::{HEAD, Machine, Reading, Seam, State};
use super::regime::Mark;
use crate::numerics::Scalar;
use crate::physics::kinetics::{BLOW, GEL, gelled, ungelled};
use crate::physics::properties::GAS_CONSTANT;

impl<S: Scalar> Machine<S> {
    /// Fill fractions at which the openings are reached that are there now.
    pub fn thresholds(&self) -> impl Iterator<Item = S> + '_ {
        let ports = self.ports.iter().enumerate().filter(|(i, _)| self.regime.closed_port != Some(*i));
        let seam = self.seam.iter().filter(|s| s.line.gap.value() > 0.0 || s.line.opening.value() > 0.0);
        ports.map(|(_, p)| p.at_fill).chain(seam.map(|s| s.line.at_fill))
    }

    /// The next fill fraction at which the front reaches an opening.
    pub fn next_front(&self) -> Option<S> {
        let ahead = self.thresholds().filter(|f| !self.regime.is_reached(*f));
        ahead.reduce(|a, b| if b.value() < a.value() { b } else { a })
    }

    /// Arms the marks that can end the present regime.
    pub fn arm(&mut self) {
        let mut armed = std::mem::take(&mut self.regime.armed);
        armed.clear();
        let regime = &self.regime;
        if !regime.gelled {
            armed.push(Mark::Gel);
        }
        armed.push(if regime.saturated { Mark::Unsaturated } else { Mark::Saturated });
        if !regime.open {
            if let (true, false, Some(fill)) = (regime.headspace, regime.gelled, self.next_front()) {
                armed.push(Mark::Front(fill));
            }
            // Set foam that fills the cavity does not leave: whether the clamp holds again makes no difference.
            let matters = !(regime.clamp_open && regime.gelled && !regime.headspace);
            if matters && self.seam.as_ref().is_some_and(|s| s.clamp.is_some()) {
                armed.push(if regime.clamp_open { Mark::ClampHolds } else { Mark::ClampOpens });
            }
            if let (Some(_), Some(gauge)) = (regime.closed_port, regime.leak_at) {
                armed.push(Mark::LeakOpens(S::constant(gauge)));
            }
        }
        self.regime.armed = armed;
    }

    /// The function of a mark, of order one, at a state and what is read there.
    pub fn mark(&self, mark: Mark<S>, y: &State<S>, now: &Reading<S>) -> S {
        match mark {
            Mark::Gel => gelled(y[GEL]) - self.foam.gel_conversion,
            Mark::Saturated => self.saturation(now),
            Mark::Unsaturated => -self.saturation(now),
            Mark::Front(fill) => now.fill() - fill,
            Mark::ClampOpens => self.clamp_excess(now),
            Mark::ClampHolds => -self.clamp_excess(now),
            Mark::LeakOpens(gauge) => (now.pressure - self.room.ambient - gauge) / self.room.ambient,
        }
    }

    /// How fast a mark's function rises, given how fast the pressure does.
    pub fn mark_rate(&self, mark: Mark<S>, y: &State<S>, rate: &State<S>, now: &Reading<S>, climb: f64) -> f64 {
        let gas = &self.gas;
        let saturation = || (rate[BLOW] * now.unblown).value() - gas.henry.value() * climb / gas.yielded.value();
        let clamp = || self.seam.as_ref().map_or(0.0, |s| climb * s.area.value() / clamp_scale(s));
        match mark {
            Mark::Gel => rate[GEL].value() * ungelled(y[GEL].value()).powi(2),
            Mark::Saturated => saturation(),
            Mark::Unsaturated => -saturation(),
            Mark::Front(_) => self.fill_rate(rate, now, climb),
            Mark::ClampOpens => clamp(),
            Mark::ClampHolds => -clamp(),
            Mark::LeakOpens(_) => climb / self.room.ambient.value(),
        }
    }

    /// CO2 beyond saturation, as a share of the yield.
    fn saturation(&self, now: &Reading<S>) -> S {
        self.gas.excess(S::one() - now.unblown, now.pressure) / self.gas.yielded
    }

    /// Whether the liquid holds all CO2 again.
    pub fn dissolves(&self, now: &Reading<S>) -> bool {
        self.regime.saturated && self.saturation(now).value() < 0.0
    }

    fn clamp_excess(&self, now: &Reading<S>) -> S {
        let Some(Seam { clamp: Some(clamp), area, .. }) = self.seam else { return S::constant(-1.0) };
        let push = (now.pressure - self.room.ambient) * area;
        (push - clamp) / clamp.value().max(1.0)
    }

    /// d fill / dt.
    fn fill_rate(&self, rate: &State<S>, now: &Reading<S>, climb: f64) -> f64 {
        let (p, v, h) = (now.pressure.value(), now.cavity.value(), now.headspace.value());
        let by_air = self.room.headspace_temp.value() * GAS_CONSTANT / p * rate[HEAD].value();
        let growth = self.room.volume.value() * self.room.stretch.value() * climb;
        -(by_air - h * climb / p) / v + h / (v * v) * growth
    }
}

fn clamp_scale<S: Scalar>(seam: &Seam<S>) -> f64 {
    seam.clamp.map_or(1.0, |c| c.value().max(1.0))
}
