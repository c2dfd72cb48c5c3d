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
            Quantity::Length if us => ("in", "in", 3),
            Quantity::Length => ("mm", "mm", 1),
            Quantity::Altitude if us => ("ft", "ft", 0),
            Quantity::Area if us => ("in2", "in2", 2),
            Quantity::Area => ("cm2", "cm2", 1),
            Quantity::Volume if us => ("in3", "in3", 2),
            Quantity::Volume => ("mL", "mL", 1),
            Quantity::Mass if us => ("oz", "oz", 3),
            Quantity::Mass => ("g", "g", 1),
            Quantity::Temperature if us => ("F", "°F", 1),
            Quantity::Temperature => ("C", "°C", 1),
            Quantity::TemperatureRise if us => ("F", "°F", 1),
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

    /// As [`Shown::text`]; `-` where the value is missing.
    pub fn maybe(&self, si: Option<f64>) -> String {
        si.map_or_else(|| "-".to_owned(), |si| self.text(si))
    }

    /// A label for an axis or a column: `gauge pressure (kPa)`.
    pub fn named(&self, name: &str) -> String {
        format!("{name} ({})", self.label)
    }
}
