//! All openings of a mold together: which ones foam has reached, and the air that leaves through the others.

use super::Equations;
use super::parting_line::ClampedLine;
use super::placed_opening::Outlet;
use crate::numerics::Scalar;
use crate::physics::gas::{AIR, SPECIES};
use crate::physics::opening::Opening;

/// Of air, mol/kg.
const MOLES_PER_KILOGRAM: f64 = 1.0 / SPECIES[AIR].molar_mass;

impl<S: Scalar> Equations<S> {
    /// Hands on the openings there are now that foam has reached, or those that it has not: the opening, d ln gap / dp,
    /// its outlet.
    #[inline]
    pub fn each_opening(&self, reached: bool, pressure: S, mut take: impl FnMut(&Opening<S>, S, Outlet)) {
        for (i, placed) in self.openings.iter().enumerate() {
            if self.regime.is_reached(placed.at_fill) == reached && self.regime.closed_leak != Some(i) {
                take(&placed.opening, S::zero(), placed.outlet);
            }
        }
        if let Some(parting) = self.parting_line.as_ref().filter(|p| self.regime.is_reached(p.line.at_fill) == reached)
        {
            let (opening, by_log_gap) = parting.at(self.regime.clamp_open, reached, pressure, &self.cavity);
            take(&opening, by_log_gap, Outlet::Flash);
        }
    }

    /// Fill fractions at which the openings are reached that are there now.
    pub fn thresholds(&self) -> impl Iterator<Item = S> + '_ {
        let fixed = self.openings.iter().enumerate().filter(|(i, _)| self.regime.closed_leak != Some(*i));
        let line = self.parting_line.iter().filter(|p| p.can_pass());
        fixed.map(|(_, placed)| placed.at_fill).chain(line.map(|p| p.line.at_fill))
    }

    /// The next fill fraction at which the front reaches an opening.
    pub fn next_front(&self) -> Option<S> {
        let ahead = self.thresholds().filter(|f| !self.regime.is_reached(*f));
        ahead.reduce(|a, b| if b.value() < a.value() { b } else { a })
    }

    /// Whether foam has reached a vent.
    pub fn vents_pass(&self) -> bool {
        self.openings.iter().any(|placed| placed.outlet == Outlet::Vent && self.regime.is_reached(placed.at_fill))
    }

    /// Whether anything can leave through the parting line or a leak.
    pub fn flash_can_leave(&self) -> bool {
        let leaks = self.openings.iter().any(|placed| placed.outlet == Outlet::Flash);
        leaks || self.parting_line.as_ref().is_some_and(|p| p.line.gap.value() > 0.0 || self.regime.clamp_open)
    }

    /// Whether the headspace is connected to the outside.
    #[inline]
    pub fn has_air_path(&self) -> bool {
        let lifts = |p: &ClampedLine<S>| self.regime.clamp_open && p.line.opening.value() > 0.0;
        let mut any = self.parting_line.iter().any(|p| lifts(p) && !self.regime.is_reached(p.line.at_fill));
        self.each_opening(false, self.cavity.ambient, |opening, _, _| any |= opening.passes_air());
        any
    }

    /// Air that leaves the headspace, mol/s, and its derivative by the pressure.
    pub fn air_leaving(&self, pressure: S) -> (S, S) {
        let (mut rate, mut by_pressure) = (S::zero(), S::zero());
        self.each_opening(false, pressure, |opening, by_log_gap, _| {
            let flow = opening.air_flow(&self.air, pressure, self.cavity.ambient);
            rate += flow.rate * MOLES_PER_KILOGRAM;
            by_pressure += (flow.by_pressure + flow.by_log_gap * by_log_gap) * MOLES_PER_KILOGRAM;
        });
        (rate, by_pressure)
    }

    /// The same without the derivative.
    pub fn air_rate(&self, pressure: S) -> S {
        let mut rate = S::zero();
        self.each_opening(false, pressure, |opening, _, _| {
            rate += opening.air_rate(&self.air, pressure, self.cavity.ambient) * MOLES_PER_KILOGRAM;
        });
        rate
    }
}
