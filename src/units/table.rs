//! The one table of units: which suffixes each quantity takes, and what one of each is in SI.
//!
//! Factors are exact or rounded from exact ones: international yard and pound (1959: 1 yd = 0.9144 m, 1 lb =
//! 0.45359237 kg) and NIST Special Publication 811 (2008), appendix B.

use super::atmosphere::STANDARD_PRESSURE;

/// Standard acceleration of free fall, m/s2 (NIST SP 811, exact).
const STANDARD_GRAVITY: f64 = 9.80665;
/// Inch, m (exact).
const INCH: f64 = 0.0254;
/// Foot, m (exact).
const FOOT: f64 = 0.3048;
/// Pound, kg (exact).
const POUND: f64 = 0.453_592_37;
/// Pound-force, N.
const POUND_FORCE: f64 = POUND * STANDARD_GRAVITY;
/// Conventional millimeter of mercury, Pa (NIST SP 811: 133.3224).
const MM_MERCURY: f64 = 133.322_387_415;
/// 0 °C, K (exact).
pub(crate) const ZERO_CELSIUS: f64 = 273.15;

/// A unit of one quantity: SI value = (value + shift) * factor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// What the name ends in, without the underscore. Empty: the plain number.
    pub suffix: &'static str,
    factor: f64,
    shift: f64,
}

const fn unit(suffix: &'static str, factor: f64) -> Unit {
    Unit { suffix, factor, shift: 0.0 }
}

impl Unit {
    /// The SI value of `x` in this unit.
    pub fn to_si(&self, x: f64) -> f64 {
        (x + self.shift) * self.factor
    }

    /// The value in this unit of `si`.
    pub fn from_si(&self, si: f64) -> f64 {
        si / self.factor - self.shift
    }

    /// The shortest decimal that reads back as `si` in this unit; where no decimal does, one within the last bit or two.
    pub fn shortest(&self, si: f64) -> f64 {
        let exact = self.from_si(si);
        let rounded = (9..17).filter_map(|digits| format!("{exact:.digits$e}").parse::<f64>().ok());
        rounded.chain([exact, exact.next_up(), exact.next_down()]).find(|&x| self.to_si(x) == si).unwrap_or(exact)
    }
}

/// What a number measures; it fixes the units that its name may end in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Time, s.
    Time,
    /// Length, m.
    Length,
    /// Altitude above sea level, m.
    Altitude,
    /// Area, m2.
    Area,
    /// Volume, m3.
    Volume,
    /// Mass, kg.
    Mass,
    /// Temperature, K.
    Temperature,
    /// Difference of temperatures, K.
    TemperatureRise,
    /// Pressure above ambient, Pa.
    GaugePressure,
    /// Pressure above vacuum, Pa.
    AbsolutePressure,
    /// Density, kg/m3.
    Density,
    /// Force, N.
    Force,
    /// Heat capacity, J/(kg K).
    HeatCapacity,
    /// Thermal conductivity, W/(m K).
    Conductivity,
    /// Amount of gas per mass of mix, mol/kg.
    GasYield,
    /// Reaction rate, 1/s.
    Rate,
    /// Activation energy, J/mol.
    Activation,
    /// Gas dissolved per absolute pressure, kg/(kg Pa).
    Solubility,
    /// Viscosity, Pa s.
    Viscosity,
    /// Heat transfer coefficient, W/(m2 K).
    HeatTransfer,
    /// Relative growth per pressure, 1/Pa.
    Stretch,
    /// Gap opened per force, m/N.
    Opening,
    /// A time of hours, s.
    LongTime,
    /// A share of one.
    Fraction,
    /// A plain number.
    Number,
}

const TIME: &[Unit] = &[unit("s", 1.0), unit("min", 60.0)];
const LONG_TIME: &[Unit] = &[unit("h", 3600.0), unit("min", 60.0), unit("s", 1.0)];
const LENGTH: &[Unit] = &[unit("mm", 1e-3), unit("cm", 1e-2), unit("m", 1.0), unit("um", 1e-6), unit("in", INCH)];
const ALTITUDE: &[Unit] = &[unit("m", 1.0), unit("ft", FOOT)];
const AREA: &[Unit] = &[unit("cm2", 1e-4), unit("mm2", 1e-6), unit("m2", 1.0), unit("in2", INCH * INCH)];
const VOLUME: &[Unit] =
    &[unit("mL", 1e-6), unit("cm3", 1e-6), unit("L", 1e-3), unit("m3", 1.0), unit("in3", INCH * INCH * INCH)];
const MASS: &[Unit] = &[unit("g", 1e-3), unit("kg", 1.0), unit("oz", POUND / 16.0), unit("lb", POUND)];
const TEMPERATURE: &[Unit] = &[
    Unit { suffix: "C", factor: 1.0, shift: ZERO_CELSIUS },
    Unit { suffix: "F", factor: 5.0 / 9.0, shift: 459.67 },
    unit("K", 1.0),
];
const TEMPERATURE_RISE: &[Unit] = &[unit("K", 1.0), unit("F", 5.0 / 9.0)];
const PRESSURE: &[Unit] = &[
    unit("kPa", 1e3),
    unit("Pa", 1.0),
    unit("bar", 1e5),
    unit("mbar", 1e2),
    unit("psi", POUND_FORCE / (INCH * INCH)),
    unit("inHg", 25.4 * MM_MERCURY),
    unit("mmHg", MM_MERCURY),
    unit("atm", STANDARD_PRESSURE),
];
const DENSITY: &[Unit] =
    &[unit("kg_m3", 1.0), unit("g_cm3", 1e3), unit("g_L", 1.0), unit("lb_ft3", POUND / (FOOT * FOOT * FOOT))];
const FORCE: &[Unit] = &[unit("N", 1.0), unit("kN", 1e3), unit("lbf", POUND_FORCE), unit("kgf", STANDARD_GRAVITY)];
const HEAT_CAPACITY: &[Unit] = &[unit("J_kgK", 1.0), unit("kJ_kgK", 1e3)];
const CONDUCTIVITY: &[Unit] = &[unit("W_mK", 1.0), unit("mW_mK", 1e-3)];
const GAS_YIELD: &[Unit] = &[unit("mol_kg", 1.0)];
const RATE: &[Unit] = &[unit("per_s", 1.0), unit("per_min", 1.0 / 60.0)];
const ACTIVATION: &[Unit] = &[unit("kJ_mol", 1e3), unit("J_mol", 1.0)];
const SOLUBILITY: &[Unit] = &[unit("kg_kgbar", 1e-5), unit("g_kgbar", 1e-8)];
const VISCOSITY: &[Unit] = &[unit("Pa_s", 1.0), unit("mPa_s", 1e-3)];
const HEAT_TRANSFER: &[Unit] = &[unit("W_m2K", 1.0)];
const STRETCH: &[Unit] = &[unit("per_bar", 1e-5), unit("per_kPa", 1e-3), unit("percent_per_bar", 1e-7)];
const OPENING: &[Unit] = &[unit("um_per_kN", 1e-9), unit("mm_per_kN", 1e-6), unit("in_per_lbf", INCH / POUND_FORCE)];
const FRACTION: &[Unit] = &[unit("", 1.0), unit("percent", 1e-2)];
const NUMBER: &[Unit] = &[unit("", 1.0)];

/// Every list of units above, for looking up a suffix without knowing its quantity.
const ALL: &[&[Unit]] = &[
    TIME,
    LONG_TIME,
    LENGTH,
    ALTITUDE,
    AREA,
    VOLUME,
    MASS,
    TEMPERATURE,
    PRESSURE,
    DENSITY,
    FORCE,
    HEAT_CAPACITY,
    CONDUCTIVITY,
    GAS_YIELD,
    RATE,
    ACTIVATION,
    SOLUBILITY,
    VISCOSITY,
    HEAT_TRANSFER,
    STRETCH,
    OPENING,
    FRACTION,
];

/// Every suffix that is a unit of something; the plain number has none.
pub(super) fn suffixes() -> impl Iterator<Item = &'static str> {
    ALL.iter().flat_map(|units| units.iter()).map(|unit| unit.suffix).filter(|suffix| !suffix.is_empty())
}

impl Quantity {
    /// The units that a name of this quantity may end in, the customary one first.
    pub fn units(self) -> &'static [Unit] {
        match self {
            Quantity::Time => TIME,
            Quantity::LongTime => LONG_TIME,
            Quantity::Length => LENGTH,
            Quantity::Altitude => ALTITUDE,
            Quantity::Area => AREA,
            Quantity::Volume => VOLUME,
            Quantity::Mass => MASS,
            Quantity::Temperature => TEMPERATURE,
            Quantity::TemperatureRise => TEMPERATURE_RISE,
            Quantity::GaugePressure | Quantity::AbsolutePressure => PRESSURE,
            Quantity::Density => DENSITY,
            Quantity::Force => FORCE,
            Quantity::HeatCapacity => HEAT_CAPACITY,
            Quantity::Conductivity => CONDUCTIVITY,
            Quantity::GasYield => GAS_YIELD,
            Quantity::Rate => RATE,
            Quantity::Activation => ACTIVATION,
            Quantity::Solubility => SOLUBILITY,
            Quantity::Viscosity => VISCOSITY,
            Quantity::HeatTransfer => HEAT_TRANSFER,
            Quantity::Stretch => STRETCH,
            Quantity::Opening => OPENING,
            Quantity::Fraction => FRACTION,
            Quantity::Number => NUMBER,
        }
    }

    /// The unit of this quantity with this suffix, if there is one.
    pub fn unit(self, suffix: &str) -> Option<&'static Unit> {
        self.units().iter().find(|unit| unit.suffix == suffix)
    }

    /// The names that would do for a number called `base`: `charge_g`, `charge_kg`, ...
    pub fn accepted_names(self, base: &str) -> Vec<String> {
        self.units().iter().map(|unit| joined(base, unit.suffix)).collect()
    }

    /// The name of a number called `base` in the customary unit of this quantity.
    pub fn customary_name(self, base: &str) -> String {
        joined(base, self.units()[0].suffix)
    }

    /// What is implausible about `x` in `unit`: what was expected, and how to mend it.
    pub fn doubt(self, x: f64, unit: &Unit) -> Option<(String, String)> {
        match self {
            Quantity::Temperature => temperature_doubt(x, unit),
            _ => None,
        }
    }
}

fn joined(base: &str, suffix: &str) -> String {
    if suffix.is_empty() { base.to_owned() } else { format!("{base}_{suffix}") }
}

/// Coldest and hottest temperature that a casting's record can hold, K: -40 and 250 °C.
const COLDEST: f64 = ZERO_CELSIUS - 40.0;
const HOTTEST: f64 = ZERO_CELSIUS + 250.0;

fn temperature_doubt(x: f64, unit: &Unit) -> Option<(String, String)> {
    if (COLDEST..=HOTTEST).contains(&unit.to_si(x)) {
        return None;
    }
    let plausible = |k: f64| (ZERO_CELSIUS..=HOTTEST).contains(&k);
    let advice = match unit.suffix {
        "C" | "F" if plausible(x) => "this looks like kelvins: end the name in `_K`, or convert the value".to_owned(),
        "C" if plausible(TEMPERATURE[1].to_si(x)) => {
            "this looks like degrees Fahrenheit: end the name in `_F`, or convert the value".to_owned()
        }
        "K" if plausible(x + ZERO_CELSIUS) => {
            "this looks like degrees Celsius: end the name in `_C`, or convert the value".to_owned()
        }
        _ => "check the reading and its unit; leave it out if the probe was broken".to_owned(),
    };
    let limit = |k: f64| (unit.from_si(k) * 100.0).round() / 100.0;
    Some((format!("a temperature between {} and {} {}", limit(COLDEST), limit(HOTTEST), unit.suffix), advice))
}
