//! The cavity of a mold and its openings: vents and the parting line.

use serde::{Deserialize, Serialize};

use super::vent::Vent;

/// The numbers of layers that a casting may have.
pub const LAYER_COUNTS: [usize; 3] = [1, 3, 4];

/// The cavity and its openings, in SI units. `S` is `f64` or a number that carries derivatives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cavity<S = f64> {
    /// Volume of the closed cavity, m3.
    pub volume: S,
    /// Area projected on the parting plane, m2.
    pub projected_area: S,
    /// Area of the wall that the foam touches, m2.
    pub wall_area: S,
    /// Of foam taken as one lump: heat transfer from its mean temperature to the wall, W/(m2 K).
    pub heat_transfer: S,
    /// How many layers of foam lie between wall and mid-plane: one of [`LAYER_COUNTS`]. 1: one lump.
    pub layers: usize,
    /// Of foam in layers: heat transfer from its surface to the wall, W/(m2 K).
    pub contact_transfer: S,
    /// Of foam in layers: how well heat passes, as a multiple of what conductivity and contact say.
    pub conduction_factor: S,
    /// Relative growth of the cavity per gauge pressure, 1/Pa. 0: rigid.
    pub stretch: S,
    /// Force that holds the mold closed, N. `None`: bolted, never opens.
    pub clamp_force: Option<S>,
    /// CO2 that the foam keeps in this mold, as a multiple of what it keeps in an open cup, whose surface loses some.
    pub gas_retention: S,
    /// How fast the mix reacts in this mold, as a multiple of how fast it does in a cup: another mass, another pour.
    pub rate_factor: S,
    /// Discharge coefficient of vents (a drilled vent is a short tube: 0.81-0.84).
    pub discharge: S,
    /// The vents. Empty: sealed but for the parting line.
    pub vents: Vec<Vent<S>>,
    /// The parting line, if it passes anything.
    pub parting_line: Option<PartingLine<S>>,
}

impl Cavity {
    /// Contact of foam with the wall of a mold, W/(m2 K); common practice, no source.
    pub const CONTACT_TRANSFER: f64 = 500.0;
}

impl<S: Copy> Cavity<S> {
    /// Diameters of the vents that a shop can drill, m, in their order.
    pub fn drilled(&self) -> impl Iterator<Item = S> + '_ {
        self.vents.iter().filter_map(Vent::drilled)
    }

    /// The same cavity in another kind of number.
    pub fn map<T>(&self, to: impl Fn(S) -> T) -> Cavity<T> {
        Cavity {
            volume: to(self.volume),
            projected_area: to(self.projected_area),
            wall_area: to(self.wall_area),
            heat_transfer: to(self.heat_transfer),
            layers: self.layers,
            contact_transfer: to(self.contact_transfer),
            conduction_factor: to(self.conduction_factor),
            stretch: to(self.stretch),
            clamp_force: self.clamp_force.map(&to),
            gas_retention: to(self.gas_retention),
            rate_factor: to(self.rate_factor),
            discharge: to(self.discharge),
            vents: self.vents.iter().map(|v| v.map(&to)).collect(),
            parting_line: self.parting_line.map(|line| line.map(&to)),
        }
    }
}

impl<S: Copy> PartingLine<S> {
    fn map<T>(&self, to: impl Fn(S) -> T) -> PartingLine<T> {
        PartingLine {
            length: to(self.length),
            land: to(self.land),
            gap: to(self.gap),
            opening: to(self.opening),
            at_fill: to(self.at_fill),
        }
    }
}

/// The parting line: a slot around the cavity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartingLine<S = f64> {
    /// Length along the cavity, m.
    pub length: S,
    /// Width of the land that the flow has to cross, m.
    pub land: S,
    /// Gap while the clamp holds, m.
    pub gap: S,
    /// Gap opened per force beyond the clamp force, m/N.
    pub opening: S,
    /// Fill fraction of the cavity at which the foam reaches it.
    pub at_fill: S,
}
