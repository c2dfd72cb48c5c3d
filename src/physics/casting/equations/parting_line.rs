//! The parting line under its clamp: shut, or lifted by the pressure.

use crate::model::PartingLine;
use crate::numerics::Scalar;
use crate::physics::cavity::CavityLaw;
use crate::physics::opening::{Duct, Opening};

/// The parting line with the clamp that holds it.
#[derive(Clone, Copy, Debug)]
pub struct ClampedLine<S> {
    pub line: PartingLine<S>,
    /// The opening while the clamp holds.
    pub shut: Opening<S>,
    pub clamp: Option<S>,
    /// Area that the pressure pushes open, m2.
    pub area: S,
    pub discharge: S,
}

impl<S: Scalar> ClampedLine<S> {
    /// Whether it passes anything, or will where the clamp gives way.
    pub fn can_pass(&self) -> bool {
        self.line.gap.value() > 0.0 || self.line.opening.value() > 0.0
    }
    /// It as it stands at this pressure (Pa), to foam or to air, and d ln gap / dp.
    pub fn at(&self, lifts: bool, to_foam: bool, pressure: S, cavity: &CavityLaw<S>) -> (Opening<S>, S) {
        let (true, Some(clamp)) = (lifts, self.clamp) else { return (self.shut, S::zero()) };
        let excess = (pressure - cavity.ambient) * self.area - clamp;
        let line = &self.line;
        let gap = line.gap + line.opening * excess.max(S::zero());
        let by_log = if gap.value() > 0.0 { line.opening * self.area / gap } else { S::zero() };
        let slot = Duct::slot(line.length, line.land, gap, self.discharge);
        let blunt = |slot: Duct<S>| match to_foam {
            true => slot.blunted_to_foam(),
            false => slot.blunted_to_air(cavity.ambient, cavity.headspace_temp),
        };
        (Opening::Slot(blunt(slot)), by_log)
    }
}
