//! An axis of a sweep: one setting of a casting, and the values it takes.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::model::{Casting, LeakStart};
use crate::units::Quantity;

/// A setting of a casting that a sweep can vary, in SI units.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Setting {
    /// Mass mixed, kg.
    Charge,
    /// Mass left in the cup, kg.
    LeftInCup,
    /// Diameter of all vents, m. 0: plugged.
    Vent,
    /// Temperature of the mix, K.
    MixTemp,
    /// Temperature of the mold wall, K.
    MoldTemp,
    /// Absolute ambient pressure, Pa.
    AmbientPressure,
    /// Time from the end of mixing to closing, s.
    ClosingTime,
    /// Time from the end of mixing to demold, s.
    DemoldTime,
    /// Clamp force instead of the mold's own, N.
    ClampForce,
    /// Diameter of the leak, m.
    LeakDiameter,
    /// Length of the leak, m.
    LeakLength,
    /// When the leak opens, s.
    LeakTime,
    /// Gauge pressure at which the leak opens, Pa.
    LeakPressure,
}

impl Setting {
    /// All of them.
    pub const ALL: [Setting; 13] = [
        Setting::Charge,
        Setting::LeftInCup,
        Setting::Vent,
        Setting::MixTemp,
        Setting::MoldTemp,
        Setting::AmbientPressure,
        Setting::ClosingTime,
        Setting::DemoldTime,
        Setting::ClampForce,
        Setting::LeakDiameter,
        Setting::LeakLength,
        Setting::LeakTime,
        Setting::LeakPressure,
    ];

    /// Its name at the edge, without the unit.
    pub fn name(self) -> &'static str {
        match self {
            Setting::Charge => "charge",
            Setting::LeftInCup => "left_in_cup",
            Setting::Vent => "vent",
            Setting::MixTemp => "mix_temp",
            Setting::MoldTemp => "mold_temp",
            Setting::AmbientPressure => "ambient_pressure",
            Setting::ClosingTime => "closing_time",
            Setting::DemoldTime => "demold_time",
            Setting::ClampForce => "clamp_force",
            Setting::LeakDiameter => "leak",
            Setting::LeakLength => "leak_length",
            Setting::LeakTime => "leak_time",
            Setting::LeakPressure => "leak_pressure",
        }
    }

    /// What it measures.
    pub fn quantity(self) -> Quantity {
        match self {
            Setting::Charge | Setting::LeftInCup => Quantity::Mass,
            Setting::Vent | Setting::LeakDiameter | Setting::LeakLength => Quantity::Length,
            Setting::MixTemp | Setting::MoldTemp => Quantity::Temperature,
            Setting::AmbientPressure => Quantity::AbsolutePressure,
            Setting::ClosingTime | Setting::DemoldTime | Setting::LeakTime => Quantity::Time,
            Setting::ClampForce => Quantity::Force,
            Setting::LeakPressure => Quantity::GaugePressure,
        }
    }

    /// Whether it says something of the extra leak.
    pub fn is_of_leak(self) -> bool {
        use Setting::{LeakDiameter, LeakLength, LeakPressure, LeakTime};
        matches!(self, LeakDiameter | LeakLength | LeakTime | LeakPressure)
    }

    /// Whether both settings write the same member of a casting.
    fn is_rival(self, other: Self) -> bool {
        let starts = |s| matches!(s, Setting::LeakTime | Setting::LeakPressure);
        self == other || starts(self) && starts(other)
    }

    /// Writes a value into a casting. A casting without a leak stays without.
    pub(super) fn set(self, casting: &mut Casting, value: f64) {
        match self {
            Setting::Charge => casting.charge = value,
            Setting::LeftInCup => casting.left_in_cup = value,
            Setting::Vent => {
                casting.vent_diameters.clear();
                casting.vent_diameters.push(value);
            }
            Setting::MixTemp => casting.mix_temp = value,
            Setting::MoldTemp => casting.mold_temp = value,
            Setting::AmbientPressure => casting.ambient_pressure = value,
            Setting::ClosingTime => casting.closing_time = value,
            Setting::DemoldTime => casting.demold_time = value,
            Setting::ClampForce => casting.clamp_force = Some(value),
            _ => casting.leak.iter_mut().for_each(|leak| match self {
                Setting::LeakDiameter => leak.diameter = value,
                Setting::LeakLength => leak.length = value,
                Setting::LeakTime => leak.start = LeakStart::Time(value),
                _ => leak.start = LeakStart::GaugePressure(value),
            }),
        }
    }
}

/// A setting with the values it takes, SI.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Axis {
    /// What varies.
    pub setting: Setting,
    /// Its values, SI, in any order.
    pub values: Vec<f64>,
}

impl Axis {
    /// An axis with these values, SI.
    pub fn list(setting: Setting, values: impl Into<Vec<f64>>) -> Self {
        Axis { setting, values: values.into() }
    }

    /// An axis of `count` values at equal distances, both ends (SI) included.
    pub fn even(setting: Setting, first: f64, last: f64, count: usize) -> Self {
        let step = (last - first) / (count.max(2) - 1) as f64;
        let value = |i: usize| if i > 0 && i + 1 == count { last } else { first + i as f64 * step };
        Axis { setting, values: (0..count).map(value).collect() }
    }
}

/// Refuses axes that no grid can be made of.
pub(super) fn check(axes: &[Axis]) -> Result<()> {
    for (i, axis) in axes.iter().enumerate() {
        let name = axis.setting.name();
        if axis.values.is_empty() {
            return Err(Error::argument(name, "no values", "at least one value", "leave the axis out, or give values"));
        }
        if let Some(bad) = axis.values.iter().position(|x| !x.is_finite()) {
            let found = format!("{} at index {bad}", axis.values[bad]);
            return Err(Error::argument(name, found, "finite numbers", "correct that value or leave it out"));
        }
        if let Some(rival) = axes[..i].iter().find(|other| other.setting.is_rival(axis.setting)) {
            let found = format!("an axis of {name} beside one of {}", rival.setting.name());
            return Err(Error::argument(name, found, "one axis for each setting", "leave one of the two out"));
        }
    }
    Ok(())
}
