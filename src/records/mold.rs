//! What is known of a mold: its cavity, vents, parting line and clamp.

use serde::{Deserialize, Serialize};

/// A mold: a name and its cavity.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mold {
    /// The mold's name.
    pub name: String,
    /// A remark, in words.
    pub note: String,
    /// The cavity and its openings.
    pub cavity: Cavity,
}

/// The cavity and its openings, in SI units. `S` is `f64` or a number that carries derivatives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cavity<S = f64> {
    /// Volume of the closed cavity, m3.
    pub volume: S,
    /// Area projected on the parting plane, m2.
    pub projected_area: S,
    /// Area of the wall that the foam touches, m2.
    pub wall_area: S,
    /// Heat transfer from the foam's mean temperature to the wall, W/(m2 K).
    pub heat_transfer: S,
    /// Relative growth of the cavity per gauge pressure, 1/Pa. 0: rigid.
    pub stretch: S,
    /// Force that holds the mold closed, N. `None`: bolted, never opens.
    pub clamp_force: Option<S>,
    /// Discharge coefficient of vents (a drilled vent is a short tube: 0.81-0.84).
    pub discharge: S,
    /// The vents. Empty: sealed but for the parting line.
    pub vents: Vec<Vent<S>>,
    /// The parting line, if it passes anything.
    pub parting_line: Option<PartingLine<S>>,
}

/// One kind of vent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Vent<S = f64> {
    /// How many of these.
    pub count: u32,
    /// Diameter, m.
    pub diameter: S,
    /// Length, m.
    pub length: S,
    /// Fill fraction of the cavity at which the foam reaches it. 1: the last place to fill.
    pub at_fill: S,
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
