//! The settings of a casting: one row each, from which ledgers, calls, sweeps, attributes and reports read.

use serde::{Deserialize, Serialize};

use super::casting::{Casting, Leak, LeakStart};
use super::field::{Field, Range};
use crate::units::{Quantity, STANDARD_PRESSURE, standard_pressure};

/// A setting of a casting, in SI units; [`Setting::row`] has what is known of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)] // each name's sentence stands in its row
pub enum Setting {
    Charge,
    Vent,
    MixTemp,
    MoldTemp,
    LeftInCup,
    AmbientPressure,
    Altitude,
    ClosingTime,
    DemoldTime,
    OpeningLimit,
    WeighedAfter,
    ClampForce,
    LeakDiameter,
    LeakLength,
    LeakTime,
    LeakPressure,
}

/// What stands where a setting is not given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Absent {
    /// A casting cannot do without it; what it is, as a hint.
    Needed(&'static str),
    /// This value, SI; what is said of it.
    Assumed(f64, &'static str),
    /// This value, SI, of which nothing is said: it changes what is read off a casting, not what happens in it.
    Usual(f64),
    /// What the mold has; what is said of it.
    OfMold(&'static str),
    /// Nothing: another setting has it, or there is no leak.
    Nothing,
}

/// How a setting is read from a casting and written to it.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Access {
    /// One number.
    One {
        /// Its value, SI, if the casting has one.
        get: fn(&Casting) -> Option<f64>,
        /// Writes it.
        set: fn(&mut Casting, f64),
    },
    /// Several numbers; one stands for all of them.
    Several {
        /// The values, SI; none: the mold's own.
        get: fn(&Casting) -> &[f64],
        /// Writes them.
        set: fn(&mut Casting, &[f64]),
    },
    /// One number that is turned into another setting, and not kept.
    Turned {
        /// Writes the other setting.
        set: fn(&mut Casting, f64),
    },
}

/// What is known of a setting.
#[derive(Clone, Copy, Debug)]
pub struct SettingRow {
    /// The setting.
    pub setting: Setting,
    /// Its name at the edge without the unit, what it measures, which values make sense.
    pub(crate) field: Field,
    /// Its name in reports.
    pub words: &'static str,
    /// What it is, in a sentence.
    pub sentence: &'static str,
    /// What stands where it is not given.
    pub absent: Absent,
    /// Whether a ledger has a column for it.
    pub in_ledger: bool,
    /// Another setting that says the same: only one of the two may be given.
    pub rival: Option<Setting>,
    /// Whether it says something of the extra leak.
    pub of_leak: bool,
    pub(crate) access: Access,
}

impl SettingRow {
    /// Its name at the edge, without the unit.
    pub fn name(&self) -> &'static str {
        self.field.base
    }

    /// What it measures.
    pub fn quantity(&self) -> Quantity {
        self.field.quantity
    }
}

const MASS: Quantity = Quantity::Mass;
const LENGTH: Quantity = Quantity::Length;
const TEMPERATURE: Quantity = Quantity::Temperature;
const TIME: Quantity = Quantity::Time;

const fn row(setting: Setting, base: &'static str, quantity: Quantity, range: Range, access: Access) -> SettingRow {
    SettingRow {
        setting,
        field: Field::new(base, quantity, range),
        words: base,
        sentence: "",
        absent: Absent::Nothing,
        in_ledger: true,
        rival: None,
        of_leak: false,
        access,
    }
}

const fn one(get: fn(&Casting) -> Option<f64>, set: fn(&mut Casting, f64)) -> Access {
    Access::One { get, set }
}

/// Gauge pressure that counts as low, Pa. Common practice, no source.
const OPENING_LIMIT: f64 = 5e3;

/// What is said where it is not known when a part was weighed.
pub(crate) const WEIGHED_AT_DEMOLD: &str = "the part was weighed at demold (a day later it shows about 1 % less)";

/// The settings, in the order of [`Setting`].
static ROWS: [SettingRow; 16] = [
    SettingRow {
        words: "charge",
        sentence: "Mass mixed, before what stays in the cup.",
        absent: Absent::Needed("the mass mixed"),
        ..row(Setting::Charge, "charge", MASS, Range::Positive, one(|c| Some(c.charge), |c, x| c.charge = x))
    },
    SettingRow {
        words: "vent",
        sentence: "Diameter of all vents, or one for each kind of vent that can be drilled; 0: plugged.",
        absent: Absent::OfMold("vent diameters: the mold's own"),
        ..row(
            Setting::Vent,
            "vent",
            LENGTH,
            Range::NotNegative,
            Access::Several { get: |c| &c.vent_diameters, set: |c, all| c.vent_diameters = all.to_vec() },
        )
    },
    SettingRow {
        words: "mix temperature",
        sentence: "Temperature of the mix when it is poured.",
        absent: Absent::Needed("the temperature of the mix"),
        ..row(Setting::MixTemp, "mix_temp", TEMPERATURE, Range::Any, one(|c| Some(c.mix_temp), |c, x| c.mix_temp = x))
    },
    SettingRow {
        words: "mold temperature",
        sentence: "Temperature of the mold wall.",
        absent: Absent::Needed("the temperature of the mold wall"),
        ..row(
            Setting::MoldTemp,
            "mold_temp",
            TEMPERATURE,
            Range::Any,
            one(|c| Some(c.mold_temp), |c, x| c.mold_temp = x),
        )
    },
    SettingRow {
        words: "left in the cup",
        sentence: "Mass left in the mixing cup.",
        absent: Absent::Assumed(0.0, "left in the cup: 0 g"),
        ..row(
            Setting::LeftInCup,
            "left_in_cup",
            MASS,
            Range::NotNegative,
            one(|c| Some(c.left_in_cup), |c, x| c.left_in_cup = x),
        )
    },
    SettingRow {
        words: "ambient pressure (absolute)",
        sentence: "Absolute ambient pressure of the place, not reduced to sea level.",
        absent: Absent::Assumed(
            STANDARD_PRESSURE,
            "ambient pressure 101.325 kPa absolute: neither pressure nor altitude given",
        ),
        rival: Some(Setting::Altitude),
        ..row(
            Setting::AmbientPressure,
            "ambient_pressure",
            Quantity::AbsolutePressure,
            Range::Ambient,
            one(|c| Some(c.ambient_pressure), |c, x| c.ambient_pressure = x),
        )
    },
    SettingRow {
        words: "altitude",
        sentence: "Altitude above sea level in place of the ambient pressure, by the U.S. Standard Atmosphere.",
        rival: Some(Setting::AmbientPressure),
        ..row(
            Setting::Altitude,
            "altitude",
            Quantity::Altitude,
            Range::Altitude,
            // What the range lets through has a pressure; the rest no casting accepts.
            Access::Turned { set: |c, x| c.ambient_pressure = standard_pressure(x).unwrap_or(f64::NAN) },
        )
    },
    SettingRow {
        words: "closing time",
        sentence: "Time from the end of mixing to the mold's closing.",
        absent: Absent::Assumed(0.0, "closing time: 0 s, closed at once"),
        ..row(
            Setting::ClosingTime,
            "closing_time",
            TIME,
            Range::NotNegative,
            one(|c| Some(c.closing_time), |c, x| c.closing_time = x),
        )
    },
    SettingRow {
        words: "demold time",
        sentence: "Time from the end of mixing to demold.",
        absent: Absent::Assumed(300.0, "demold time: 300 s"),
        ..row(
            Setting::DemoldTime,
            "demold_time",
            TIME,
            Range::Positive,
            one(|c| Some(c.demold_time), |c, x| c.demold_time = x),
        )
    },
    SettingRow {
        words: "gauge pressure that counts as low",
        sentence: "Gauge pressure that counts as low: the outcomes say from when on it stays below.",
        absent: Absent::Usual(OPENING_LIMIT),
        in_ledger: false,
        ..row(
            Setting::OpeningLimit,
            "opening_limit",
            Quantity::GaugePressure,
            Range::Positive,
            one(|c| Some(c.opening_limit), |c, x| c.opening_limit = x),
        )
    },
    SettingRow {
        words: "weighed after demold by",
        sentence: "Time from demold to when the part is weighed: gas leaves it meanwhile.",
        absent: Absent::Assumed(0.0, WEIGHED_AT_DEMOLD),
        ..row(
            Setting::WeighedAfter,
            "weighed_after",
            Quantity::LongTime,
            Range::NotNegative,
            one(|c| Some(c.weighed_after), |c, x| c.weighed_after = x),
        )
    },
    SettingRow {
        words: "clamp force",
        sentence: "Clamp force instead of the mold's own.",
        absent: Absent::OfMold("clamp force: the mold's own"),
        ..row(
            Setting::ClampForce,
            "clamp_force",
            Quantity::Force,
            Range::NotNegative,
            one(|c| c.clamp_force, |c, x| c.clamp_force = Some(x)),
        )
    },
    SettingRow {
        words: "leak",
        sentence: "Diameter of a hole like the extra leak.",
        ..leak_row(
            Setting::LeakDiameter,
            "leak",
            LENGTH,
            Range::Positive,
            one(|c| c.leak.map(|l| l.diameter), |c, x| leak(c).diameter = x),
        )
    },
    SettingRow {
        words: "length of the leak",
        sentence: "Length of the leak along the flow.",
        ..leak_row(
            Setting::LeakLength,
            "leak_length",
            LENGTH,
            Range::Positive,
            one(|c| c.leak.map(|l| l.length), |c, x| leak(c).length = x),
        )
    },
    SettingRow {
        words: "leak opens at",
        sentence: "Time from the end of mixing at which the leak opens.",
        rival: Some(Setting::LeakPressure),
        ..leak_row(
            Setting::LeakTime,
            "leak_time",
            TIME,
            Range::NotNegative,
            one(|c| c.leak.and_then(|l| l.start.time()), |c, x| leak(c).start = LeakStart::Time(x)),
        )
    },
    SettingRow {
        words: "leak opens at (gauge)",
        sentence: "Gauge pressure at which the leak opens.",
        rival: Some(Setting::LeakTime),
        ..leak_row(
            Setting::LeakPressure,
            "leak_pressure",
            Quantity::GaugePressure,
            Range::NotNegative,
            one(|c| c.leak.and_then(|l| l.start.pressure()), |c, x| leak(c).start = LeakStart::GaugePressure(x)),
        )
    },
];

const fn leak_row(setting: Setting, base: &'static str, of: Quantity, range: Range, access: Access) -> SettingRow {
    SettingRow { in_ledger: false, of_leak: true, ..row(setting, base, of, range, access) }
}

/// The leak of a casting; where it has none, one that no casting accepts until all of it is set.
fn leak(casting: &mut Casting) -> &mut Leak {
    let nowhere = Leak { diameter: f64::NAN, length: f64::NAN, start: LeakStart::Time(f64::NAN) };
    casting.leak.get_or_insert(nowhere)
}

impl Casting {
    /// A casting with what is assumed where nothing is given.
    pub fn assumed(charge: f64, mix_temp: f64, mold_temp: f64) -> Self {
        let nothing = Casting {
            charge,
            left_in_cup: f64::NAN,
            mix_temp,
            mold_temp,
            ambient_pressure: f64::NAN,
            closing_time: f64::NAN,
            clamp_force: None,
            vent_diameters: Vec::new(),
            leak: None,
            demold_time: f64::NAN,
            opening_limit: f64::NAN,
            weighed_after: f64::NAN,
        };
        Setting::all().fold(nothing, |mut casting, setting| {
            if let Absent::Assumed(value, _) | Absent::Usual(value) = setting.row().absent {
                setting.set(&mut casting, value);
            }
            casting
        })
    }
}

impl Setting {
    /// All of them, in the order in which they are shown.
    pub fn all() -> impl Iterator<Item = Setting> {
        ROWS.iter().map(|row| row.setting)
    }

    /// What is known of it.
    pub const fn row(self) -> &'static SettingRow {
        &ROWS[self as usize]
    }

    /// Its name at the edge, without the unit.
    pub fn name(self) -> &'static str {
        self.row().name()
    }

    /// What it measures.
    pub fn quantity(self) -> Quantity {
        self.row().quantity()
    }

    /// Its values in a casting, SI: none, one, or of vents several.
    pub fn values(self, casting: &Casting) -> Vec<f64> {
        self.several(casting).map_or_else(|| self.one(casting).into_iter().collect(), <[f64]>::to_vec)
    }

    /// Its one value in a casting, SI, if it has one.
    pub fn one(self, casting: &Casting) -> Option<f64> {
        match self.row().access {
            Access::One { get, .. } => get(casting),
            Access::Several { .. } | Access::Turned { .. } => None,
        }
    }

    /// Its values in a casting, SI, where there may be several; none: the mold's own.
    pub fn several(self, casting: &Casting) -> Option<&[f64]> {
        match self.row().access {
            Access::Several { get, .. } => Some(get(casting)),
            Access::One { .. } | Access::Turned { .. } => None,
        }
    }

    /// Whether both settings write the same member of a casting.
    pub(crate) fn is_rival(self, other: Self) -> bool {
        self == other || self.row().rival == Some(other)
    }

    /// Writes a value into a casting, SI; one of vents stands for all of them.
    pub fn set(self, casting: &mut Casting, value: f64) {
        self.set_all(casting, &[value]);
    }

    /// Writes values into a casting, SI.
    pub(crate) fn set_all(self, casting: &mut Casting, values: &[f64]) {
        match self.row().access {
            Access::One { set, .. } | Access::Turned { set } => values.iter().for_each(|x| set(casting, *x)),
            Access::Several { set, .. } => set(casting, values),
        }
    }

    /// Whether several values may be given.
    pub fn is_several(self) -> bool {
        matches!(self.row().access, Access::Several { .. })
    }

    /// Whether a casting keeps it: an altitude is turned into a pressure.
    pub fn is_kept(self) -> bool {
        !matches!(self.row().access, Access::Turned { .. })
    }

    /// What is expected of a value and how to mend it, if this one (SI) makes no sense.
    pub fn doubt(self, si: f64) -> Option<(&'static str, &'static str)> {
        self.row().field.range.doubt(si)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_stand_in_the_order_of_the_settings_and_rivals_know_each_other() {
        for (i, row) in ROWS.iter().enumerate() {
            assert_eq!(row.setting as usize, i, "{}", row.name());
            assert!(row.rival.is_none_or(|rival| rival.row().rival == Some(row.setting)), "{}", row.name());
            assert!(row.sentence.ends_with('.'), "{}", row.name());
        }
    }

    #[test]
    fn what_is_set_is_read_back() {
        for setting in Setting::all().filter(|s| s.is_kept()) {
            let mut casting = Casting::assumed(0.062, 296.15, 303.15);
            setting.set(&mut casting, 0.5);
            assert_eq!(setting.values(&casting), [0.5], "{}", setting.name());
        }
    }
}
