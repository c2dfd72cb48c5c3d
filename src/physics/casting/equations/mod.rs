//! What holds in a casting, whatever is done to integrate it: reactions and heat, gases, the cavity, openings and
//! parting line, gas loss. Nothing here knows of steps, tolerances or events.

mod cavity_state;
pub mod checks;
mod conduction;
mod foam_loss;
mod gas_loss;
mod heat_path;
pub mod layout;
mod openings;
pub mod parting_line;
pub mod placed_opening;
mod profile;
mod rates;
mod reactions;
pub mod regime;
pub mod setup;

pub use cavity_state::{CavityState, unblown_of};
pub use profile::skin;

use crate::model::FoamConstants;
use crate::physics::cavity::CavityLaw;
use crate::physics::gas::Gases;
use crate::physics::kinetics::Kinetics;
use crate::physics::opening::Air;
use crate::physics::viscosity::Viscosity;
use heat_path::HeatPath;
use parting_line::ClampedLine;
use placed_opening::PlacedOpening;
use regime::Regime;

/// The equations of one casting: its constants and the regime it is in.
#[derive(Clone, Debug)]
pub struct Equations<S> {
    pub foam: FoamConstants<S>,
    pub kinetics: Kinetics<S>,
    pub viscosity: Viscosity<S>,
    pub gases: Gases<S>,
    pub cavity: CavityLaw<S>,
    /// The headspace's air.
    pub air: Air<S>,
    /// Mass poured, kg.
    pub poured: S,
    pub mix_temp: S,
    /// Area that the pressure pushes open, m2.
    pub clamped_area: S,
    /// Area of the wall, m2.
    pub wall_area: S,
    /// Of a lump: heat transfer times area over heat capacity, kg/s.
    pub cooling: S,
    /// Between layers, and from the outer one to the wall.
    pub heat_path: HeatPath<S>,
    pub wall_temp: S,
    /// Vents, and a leak as the last.
    pub openings: Vec<PlacedOpening<S>>,
    pub parting_line: Option<ClampedLine<S>>,
    pub regime: Regime<S>,
}
