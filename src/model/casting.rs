//! How one casting is run: charge, temperatures, closing, clamp and vents.

use serde::{Deserialize, Serialize};

use super::cavity::Cavity;

/// The settings of one casting, in SI units. `S` is `f64` or a number that carries derivatives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Casting<S = f64> {
    /// Mass mixed, kg, before what stays in the cup.
    pub charge: S,
    /// Mass left in the mixing cup, kg.
    pub left_in_cup: S,
    /// Temperature of the mix when it is poured, K.
    pub mix_temp: S,
    /// Temperature of the mold wall, K.
    pub mold_temp: S,
    /// Absolute ambient pressure, Pa.
    pub ambient_pressure: S,
    /// Time from the end of mixing to the mold's closing, s. Until then the foam is at ambient pressure.
    pub closing_time: S,
    /// Clamp force instead of the mold's own, N.
    pub clamp_force: Option<S>,
    /// Diameters of the vents that a shop can drill instead of the mold's own, m. Empty: the mold's own; one: for all
    /// of them; else one each. 0: plugged.
    pub vent_diameters: Vec<S>,
    /// An extra leak.
    pub leak: Option<Leak<S>>,
    /// Time from the end of mixing to demold, s.
    pub demold_time: S,
    /// Gauge pressure that counts as low, Pa: from when on it stays below is one of the outcomes.
    pub opening_limit: S,
    /// Time from demold to when the part is weighed, s: gas leaves it meanwhile.
    pub weighed_after: S,
}

impl<S: Copy> Casting<S> {
    /// Diameters in this casting of the vents that a shop can drill, m, in the mold's order; 0: plugged.
    pub fn drilled_vents(&self, cavity: &Cavity<S>) -> Vec<S> {
        match self.vent_diameters[..] {
            [] => cavity.drilled().collect(),
            [one] => cavity.drilled().map(|_| one).collect(),
            _ => self.vent_diameters.clone(),
        }
    }

    /// The same settings in another kind of number.
    pub fn map<T>(&self, to: impl Fn(S) -> T) -> Casting<T> {
        Casting {
            charge: to(self.charge),
            left_in_cup: to(self.left_in_cup),
            mix_temp: to(self.mix_temp),
            mold_temp: to(self.mold_temp),
            ambient_pressure: to(self.ambient_pressure),
            closing_time: to(self.closing_time),
            clamp_force: self.clamp_force.map(&to),
            vent_diameters: self.vent_diameters.iter().map(|d| to(*d)).collect(),
            leak: self.leak.map(|l| Leak { diameter: to(l.diameter), length: to(l.length), start: l.start }),
            demold_time: to(self.demold_time),
            opening_limit: to(self.opening_limit),
            weighed_after: to(self.weighed_after),
        }
    }
}

/// An extra opening through which the mold leaks: a round hole of this diameter at the top of the cavity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Leak<S = f64> {
    /// Equivalent diameter of the opening, m.
    pub diameter: S,
    /// Length of the opening, m.
    pub length: S,
    /// When it opens.
    pub start: LeakStart,
}

/// When a leak opens.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum LeakStart {
    /// At this time after mixing, s.
    Time(f64),
    /// When the gauge pressure first reaches this, Pa.
    GaugePressure(f64),
}

impl LeakStart {
    /// The time at which it opens, s, if it opens at one.
    pub fn time(self) -> Option<f64> {
        match self {
            LeakStart::Time(at) => Some(at),
            LeakStart::GaugePressure(_) => None,
        }
    }

    /// The gauge pressure at which it opens, Pa, if it opens at one.
    pub fn pressure(self) -> Option<f64> {
        match self {
            LeakStart::Time(_) => None,
            LeakStart::GaugePressure(gauge) => Some(gauge),
        }
    }
}
