//! The units that results are shown in: metric or US customary, chosen by the caller.

use super::number::fixed;
use crate::units::{Quantity, Unit};

/// The family of units that reports and charts use.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum DisplayUnits {
    /// g, mm, mL, °C, kPa, kg/m3, N.
    #[default]
    Metric,
    /// oz, in, in3, °F, psi, lb/ft3, lbf.
    UsCustomary,
}

/// The unit that one quantity is shown in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    /// As printed: `°C`, `kg/m3`.
    pub label: &'static str,
    /// Decimals for a reading as the shop takes it.
    pub decimals: usize,
    unit: Unit,
}

impl DisplayUnits {
    /// The unit that this family shows a quantity in. A quantity that the shop does not meet keeps its metric unit.
    pub fn of(self, quantity: Quantity) -> Shown {
        let us = self == DisplayUnits::UsCustomary;
        let (suffix, label, decimals) = match quantity {
            Quantity::Time => ("s", "s", 1),
            Quantity::LongTime => ("h", "h", 1),
            Quantity::Length if us => ("in", "in", 3),
            Quantity::Length => ("mm", "mm", 1),
            Quantity::Altitude if us => ("ft", "ft", 0),
            Quantity::Altitude => ("m", "m", 0),
            Quantity::Area if us => ("in2", "in2", 2),
            Quantity::Area => ("cm2", "cm2", 1),
            Quantity::Volume if us => ("in3", "in3", 2),
            Quantity::Volume => ("mL", "mL", 1),
            Quantity::Mass if us => ("oz", "oz", 3),
            Quantity::Mass => ("g", "g", 1),
            Quantity::Temperature if us => ("F", "°F", 1),
            Quantity::Temperature => ("C", "°C", 1),
            Quantity::TemperatureRise if us => ("F", "°F", 1),
            Quantity::TemperatureRise => ("K", "K", 1),
            Quantity::GaugePressure | Quantity::AbsolutePressure if us => ("psi", "psi", 2),
            Quantity::GaugePressure | Quantity::AbsolutePressure => ("kPa", "kPa", 1),
            Quantity::Density if us => ("lb_ft3", "lb/ft3", 2),
            Quantity::Density => ("kg_m3", "kg/m3", 1),
            Quantity::Force if us => ("lbf", "lbf", 0),
            Quantity::Force => ("N", "N", 0),
            Quantity::Fraction => ("percent", "%", 1),
            other => (other.units()[0].suffix, plain_label(other), 3),
        };
        let unit = quantity.unit(suffix).unwrap_or(&quantity.units()[0]);
        Shown { label, decimals, unit: *unit }
    }
}

/// The metric unit of a quantity as printed, where it reads differently from the suffix of its names.
fn plain_label(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::HeatCapacity => "J/(kg K)",
        Quantity::Conductivity => "W/(m K)",
        Quantity::GasYield => "mol/kg",
        Quantity::Rate => "1/s",
        Quantity::Activation => "kJ/mol",
        Quantity::Solubility => "kg/(kg bar)",
        Quantity::Viscosity => "Pa s",
        Quantity::HeatTransfer => "W/(m2 K)",
        Quantity::Stretch => "1/bar",
        Quantity::Opening => "um/kN",
        other => other.units()[0].suffix,
    }
}

impl Shown {
    /// The value to show of `si`.
    pub fn value(&self, si: f64) -> f64 {
        self.unit.from_si(si)
    }

    /// The difference to show of a difference in SI; a temperature's zero point drops out.
    pub fn difference(&self, si: f64) -> f64 {
        self.unit.from_si(si) - self.unit.from_si(0.0)
    }

    /// Value and unit, with the decimals of a reading: `49.3 kPa`; `-` where there is no finite value.
    pub fn text(&self, si: f64) -> String {
        let value = self.value(si);
        if value.is_finite() { format!("{} {}", fixed(value, self.decimals), self.label) } else { "-".to_owned() }
    }

    /// Both ends of an interval: `49.0 to 59.8 kPa`.
    pub fn interval(&self, (low, high): (f64, f64)) -> String {
        format!("{} to {}", fixed(self.value(low), self.decimals), self.text(high))
    }

    /// As [`Shown::text`]; `-` where the value is missing.
    pub fn maybe(&self, si: Option<f64>) -> String {
        si.map_or_else(|| "-".to_owned(), |si| self.text(si))
    }

    /// A label for an axis or a column: `gauge pressure (kPa)`.
    pub fn named(&self, name: &str) -> String {
        format!("{name} ({})", self.label)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand from 1 oz = 28.349523125 g, 1 in = 25.4 mm, 1 psi = 6894.757 Pa, 1 lb/ft3 = 16.01846 kg/m3 and 1 lbf =
    /// 4.448222 N (NIST Special Publication 811, appendix B).
    #[test]
    fn each_family_shows_its_units() {
        let shown = |units: DisplayUnits, quantity, si| units.of(quantity).text(si);
        let cases = [
            (Quantity::Mass, 0.060, "60.0 g", "2.116 oz"),
            (Quantity::Length, 0.003, "3.0 mm", "0.118 in"),
            (Quantity::Volume, 620e-6, "620.0 mL", "37.83 in3"),
            (Quantity::Temperature, 296.15, "23.0 °C", "73.4 °F"),
            (Quantity::TemperatureRise, 10.0, "10.0 K", "18.0 °F"),
            (Quantity::GaugePressure, 49e3, "49.0 kPa", "7.11 psi"),
            (Quantity::Density, 97.0, "97.0 kg/m3", "6.06 lb/ft3"),
            (Quantity::Force, 1500.0, "1500 N", "337 lbf"),
            (Quantity::Area, 0.015, "150.0 cm2", "23.25 in2"),
            (Quantity::Altitude, 304.8, "305 m", "1000 ft"),
            (Quantity::Fraction, 0.5, "50.0 %", "50.0 %"),
            (Quantity::Activation, 33e3, "33.000 kJ/mol", "33.000 kJ/mol"),
            (Quantity::Time, 31.25, "31.2 s", "31.2 s"),
        ];
        for (quantity, si, metric, us) in cases {
            assert_eq!(shown(DisplayUnits::Metric, quantity, si), metric);
            assert_eq!(shown(DisplayUnits::UsCustomary, quantity, si), us);
        }
    }

    #[test]
    fn a_difference_of_temperatures_has_no_zero_point() {
        let unit = DisplayUnits::UsCustomary.of(Quantity::Temperature);
        assert!((unit.difference(10.0) - 18.0).abs() < 1e-9);
        assert_eq!((unit.maybe(None), unit.text(f64::NAN)), ("-".to_owned(), "-".to_owned()));
        assert_eq!(unit.named("temperature"), "temperature (°F)");
    }
}
