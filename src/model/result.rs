//! What a casting comes to: outcome quantities, events and traces.

use serde::{Deserialize, Serialize};

use super::verdicts::Verdict;

/// Phases of a casting, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Phase {
    /// Poured, the mold not closed yet.
    Open,
    /// The foam rises and pushes the air out.
    Rising,
    /// The front has reached the last opening: foam leaves.
    Filled,
    /// Gelled: nothing flows.
    Set,
}

impl Phase {
    /// In a word.
    pub fn name(self) -> &'static str {
        match self {
            Phase::Open => "open",
            Phase::Rising => "rising",
            Phase::Filled => "filled",
            Phase::Set => "set",
        }
    }
}

/// What a casting comes to, in SI units; pressures here are gauge. `S` is `f64` or a number with derivatives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CastingResult<S = f64> {
    /// When CO2 saturated the liquid and the rise began, s.
    pub rise_start: Option<S>,
    /// When the front reached the last opening, s; `None` if it never did or there is none.
    pub fill_time: Option<S>,
    /// When the foam stopped flowing, s.
    pub gel_time: Option<S>,
    /// When the pressure first exceeded the clamp, s.
    pub clamp_opened: Option<S>,
    /// When the leak opened, s.
    pub leak_opened: Option<S>,
    /// Highest gauge pressure, Pa.
    pub peak_pressure: S,
    /// When it was reached, s.
    pub peak_time: f64,
    /// Gauge pressure at gel, Pa.
    pub pressure_at_gel: Option<S>,
    /// Gauge pressure at demold, Pa; below zero where the foam has cooled under ambient pressure.
    pub pressure_at_demold: S,
    /// From gel on, when the gauge pressure falls below the casting's limit and stays there to demold, s; `None` if it
    /// is not below at demold, or nothing gelled. An estimate, no permission to open.
    pub low_pressure_time: Option<S>,
    /// Clamp force that would hold the peak pressure, N.
    pub clamp_needed: S,
    /// Mass of mix that stayed in the cavity, kg.
    pub part_mass: S,
    /// What a scale in air shows of the part, kg, when it is weighed: less than its mix by gas that left and by the air
    /// that it displaces.
    pub scale_reading: S,
    /// Mass lost through vents, kg.
    pub vent_loss: S,
    /// Mass lost through the parting line or a leak, kg.
    pub flash: S,
    /// Share of the cavity that foam fills at demold.
    pub fill_fraction: S,
    /// Overall density in the sense of ISO 845: part mass over cavity volume, kg/m3.
    pub density: S,
    /// Hottest the core gets, K: of a lump an upper bound, without heat loss at the mean conversions; of foam in layers
    /// that of the middle.
    pub core_temp: S,
    /// Mean temperature of the foam at demold, K.
    pub temp_at_demold: S,
    /// Mean blowing conversion at demold.
    pub blown_at_demold: S,
    /// Mean gelling conversion at demold.
    pub gelled_at_demold: S,
    /// Of foam in layers, as it gelled: how deep the skin is, m: from the wall to where the foam is no more than
    /// [`SKIN_RATIO`] times as dense as in the middle.
    pub skin_thickness: Option<S>,
    /// Of foam in layers, as it gelled: density of what lies within the skin, in the sense of ISO 845, kg/m3.
    pub core_density: Option<S>,
    /// Of foam in layers: when the foam at the wall ([`SKIN_SHARE`] of the mass) gels, s.
    pub skin_set_time: Option<S>,
    /// Gauge pressure at that time, Pa.
    pub skin_set_pressure: Option<S>,
    /// Temperature there at that time, K.
    pub skin_set_temp: Option<S>,
    /// What the part looks like.
    pub verdict: Verdict,
}

/// From where on foam counts as skin: so many times as dense as in the middle of the part; common practice, no source.
pub const SKIN_RATIO: f64 = 1.2;
/// How deep the foam lies that stands for the skin as it sets, as a share of the mass from wall to middle.
pub const SKIN_SHARE: f64 = 0.05;

/// A part in layers as it gelled, from the wall to the middle; every field has shape (n,), SI units.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DensityProfile<S = f64> {
    /// Depth from the wall, m.
    pub depth: Vec<S>,
    /// Density, kg/m3.
    pub density: Vec<S>,
    /// Temperature, K.
    pub temp: Vec<S>,
    /// Blowing conversion.
    pub blown: Vec<S>,
    /// Gelling conversion.
    pub gelled: Vec<S>,
}

/// Courses over time of one casting; every field has shape (n,), SI units, pressure gauge.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CastingTrace {
    /// Time since the end of mixing, s.
    pub time: Vec<f64>,
    /// Gauge pressure, Pa.
    pub pressure: Vec<f64>,
    /// Share of the cavity that foam fills.
    pub fill: Vec<f64>,
    /// Mean temperature of the foam, K.
    pub temp: Vec<f64>,
    /// Temperature without heat loss at the mean conversions, K: near the core's, which may run some seconds ahead.
    pub core_temp: Vec<f64>,
    /// Blowing conversion.
    pub blown: Vec<f64>,
    /// Gelling conversion.
    pub gelled: Vec<f64>,
    /// Mass of foam in the cavity, kg.
    pub mass: Vec<f64>,
    /// Mass lost through vents so far, kg.
    pub vent_loss: Vec<f64>,
    /// Mass lost through the parting line or a leak so far, kg.
    pub flash: Vec<f64>,
    /// Viscosity of the mix, Pa s; infinite after gel.
    pub viscosity: Vec<f64>,
    /// Phase at each time.
    pub phase: Vec<Phase>,
}

impl CastingTrace {
    /// No course yet, with room for `points` points.
    pub(crate) fn with_room_for(points: usize) -> Self {
        let room = || Vec::with_capacity(points);
        CastingTrace {
            time: room(),
            pressure: room(),
            fill: room(),
            temp: room(),
            core_temp: room(),
            blown: room(),
            gelled: room(),
            mass: room(),
            vent_loss: room(),
            flash: room(),
            viscosity: room(),
            phase: Vec::with_capacity(points),
        }
    }
}

/// One simulated casting: outcome, phases and courses.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// Outcome quantities.
    pub result: CastingResult,
    /// Density that the same mix would have in a free rise at the same ambient pressure, kg/m3.
    pub free_rise_density: f64,
    /// Overall density over free-rise density.
    pub packing_factor: f64,
    /// When each phase began, s.
    pub phases: Vec<(Phase, f64)>,
    /// Courses over time.
    pub trace: CastingTrace,
    /// Of foam in layers: the part as it gelled, from the wall to the middle.
    pub profile: Option<DensityProfile>,
}

impl<S: Copy> CastingResult<S> {
    /// The same outcome in another kind of number; `to` sees every number, always in the same order.
    pub(crate) fn map<T>(&self, mut to: impl FnMut(S) -> T) -> CastingResult<T> {
        CastingResult {
            rise_start: self.rise_start.map(&mut to),
            fill_time: self.fill_time.map(&mut to),
            gel_time: self.gel_time.map(&mut to),
            clamp_opened: self.clamp_opened.map(&mut to),
            leak_opened: self.leak_opened.map(&mut to),
            peak_pressure: to(self.peak_pressure),
            peak_time: self.peak_time,
            pressure_at_gel: self.pressure_at_gel.map(&mut to),
            pressure_at_demold: to(self.pressure_at_demold),
            low_pressure_time: self.low_pressure_time.map(&mut to),
            clamp_needed: to(self.clamp_needed),
            part_mass: to(self.part_mass),
            scale_reading: to(self.scale_reading),
            vent_loss: to(self.vent_loss),
            flash: to(self.flash),
            fill_fraction: to(self.fill_fraction),
            density: to(self.density),
            core_temp: to(self.core_temp),
            temp_at_demold: to(self.temp_at_demold),
            blown_at_demold: to(self.blown_at_demold),
            gelled_at_demold: to(self.gelled_at_demold),
            skin_thickness: self.skin_thickness.map(&mut to),
            core_density: self.core_density.map(&mut to),
            skin_set_time: self.skin_set_time.map(&mut to),
            skin_set_pressure: self.skin_set_pressure.map(&mut to),
            skin_set_temp: self.skin_set_temp.map(&mut to),
            verdict: self.verdict,
        }
    }

    /// Before anything has happened to this mass of mix, kg.
    pub(crate) fn before(poured: S, zero: S) -> Self {
        CastingResult {
            rise_start: None,
            fill_time: None,
            gel_time: None,
            clamp_opened: None,
            leak_opened: None,
            peak_pressure: zero,
            peak_time: 0.0,
            pressure_at_gel: None,
            pressure_at_demold: zero,
            low_pressure_time: None,
            clamp_needed: zero,
            part_mass: poured,
            scale_reading: poured,
            vent_loss: zero,
            flash: zero,
            fill_fraction: zero,
            density: zero,
            core_temp: zero,
            temp_at_demold: zero,
            blown_at_demold: zero,
            gelled_at_demold: zero,
            skin_thickness: None,
            core_density: None,
            skin_set_time: None,
            skin_set_pressure: None,
            skin_set_temp: None,
            verdict: Verdict::Soft,
        }
    }
}

impl CastingResult {
    /// Time between fill and gel, s: how much later the foam could have filled. `None` where one of them is missing.
    pub fn margin(&self) -> Option<f64> {
        Some(self.gel_time? - self.fill_time?)
    }
}
