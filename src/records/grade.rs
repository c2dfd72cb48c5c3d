//! What is known of a foam grade: its constants per kilogram of mix.

use serde::{Deserialize, Serialize};
use std::path::Path;

use super::section::{Document, Section, Writer, write_text};
use super::text::read_text;
use super::vocabulary::Vocabulary;
use crate::error::Result;
use crate::model::{Field, FoamConstants, Range};
use crate::units::Quantity;

/// A foam grade: a name and its constants.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Grade {
    /// The grade's name.
    pub name: String,
    /// Where the constants come from, in words.
    pub note: String,
    /// The constants of rise, gelling and flow.
    pub constants: FoamConstants,
}

/// The keys of `[constants]`, in the order of [`FoamConstants`].
const CONSTANTS: Vocabulary = Vocabulary {
    words: &[],
    fields: &[
        Field::new("liquid_density", Quantity::Density, Range::Positive),
        Field::new("heat_capacity", Quantity::HeatCapacity, Range::Positive),
        Field::new("induction", Quantity::Time, Range::NotNegative),
        Field::new("gas_yield", Quantity::GasYield, Range::Positive),
        Field::new("blow_rate", Quantity::Rate, Range::Positive),
        Field::new("blow_activation", Quantity::Activation, Range::NotNegative),
        Field::new("gel_rate", Quantity::Rate, Range::Positive),
        Field::new("gel_activation", Quantity::Activation, Range::NotNegative),
        Field::new("competition", Quantity::Number, Range::NotNegative),
        Field::new("blow_heat", Quantity::TemperatureRise, Range::NotNegative),
        Field::new("gel_heat", Quantity::TemperatureRise, Range::NotNegative),
        Field::new("solubility", Quantity::Solubility, Range::NotNegative),
        Field::new("air_fraction", Quantity::Fraction, Range::Fraction),
        Field::new("gel_conversion", Quantity::Fraction, Range::OpenFraction),
        Field::new("rise_end_conversion", Quantity::Fraction, Range::OpenFraction),
        Field::new("viscosity", Quantity::Viscosity, Range::Positive),
        Field::new("viscosity_activation", Quantity::Activation, Range::NotNegative),
        Field::new("viscosity_a", Quantity::Number, Range::NotNegative),
        Field::new("viscosity_b", Quantity::Number, Range::NotNegative),
        Field::new("settling", Quantity::Fraction, Range::Fraction),
        Field::new("cell_opening_time", Quantity::Time, Range::Positive),
    ],
};

impl FoamConstants {
    /// The values in the order of the struct's fields.
    fn values(&self) -> [f64; 21] {
        [
            self.liquid_density,
            self.heat_capacity,
            self.induction,
            self.gas_yield,
            self.blow_rate,
            self.blow_activation,
            self.gel_rate,
            self.gel_activation,
            self.competition,
            self.blow_heat,
            self.gel_heat,
            self.solubility,
            self.air_fraction,
            self.gel_conversion,
            self.rise_end_conversion,
            self.viscosity,
            self.viscosity_activation,
            self.viscosity_a,
            self.viscosity_b,
            self.settling,
            self.cell_opening_time,
        ]
    }

    fn from_section(section: &Section<'_, '_>) -> Result<Self> {
        let entries = section.numbers(CONSTANTS)?;
        let number = |base: &str| entries.needed(base, &default_hint(base));
        Ok(FoamConstants {
            liquid_density: number("liquid_density")?,
            heat_capacity: number("heat_capacity")?,
            induction: entries.number("induction")?.unwrap_or(0.0),
            gas_yield: number("gas_yield")?,
            blow_rate: number("blow_rate")?,
            blow_activation: number("blow_activation")?,
            gel_rate: number("gel_rate")?,
            gel_activation: number("gel_activation")?,
            competition: entries.number("competition")?.unwrap_or(0.0),
            blow_heat: number("blow_heat")?,
            gel_heat: number("gel_heat")?,
            solubility: number("solubility")?,
            air_fraction: number("air_fraction")?,
            gel_conversion: number("gel_conversion")?,
            rise_end_conversion: number("rise_end_conversion")?,
            viscosity: number("viscosity")?,
            viscosity_activation: number("viscosity_activation")?,
            viscosity_a: number("viscosity_a")?,
            viscosity_b: number("viscosity_b")?,
            settling: number("settling")?,
            cell_opening_time: entries.number("cell_opening_time")?.unwrap_or(f64::INFINITY),
        })
    }
}

/// What to write for a constant that is not known, in its customary unit.
fn default_hint(base: &str) -> String {
    let values = FoamConstants::default().values();
    let known = CONSTANTS.fields.iter().zip(values).find(|(field, _)| field.base == base);
    known.map_or_else(String::new, |(field, si)| {
        let x = field.quantity.units()[0].from_si(si);
        format!("if it is not known, start from `{} = {}`", field.quantity.customary_name(base), short(x))
    })
}

/// Four significant digits, without trailing zeros.
fn short(x: f64) -> f64 {
    format!("{x:.3e}").parse().unwrap_or(x)
}

impl Grade {
    /// Reads a grade from a TOML file; the form is that of [`Grade::to_toml`], in any units.
    ///
    /// Errors name the file, line and key: unknown or missing keys, units that do not fit, values that make no sense.
    pub fn load(path: impl AsRef<Path>) -> Result<Grade> {
        let path = path.as_ref();
        Grade::from_text(&read_text(path, "a grade: `name`, `note`, `[constants]`")?, path)
    }

    /// As [`Grade::load`], from the text itself.
    pub fn from_toml(text: &str) -> Result<Grade> {
        Grade::from_text(text, Path::new("grade (TOML text)"))
    }

    fn from_text(text: &str, file: &Path) -> Result<Grade> {
        let document = Document::parse(text, file)?;
        let root = document.root();
        root.only(&["name", "note", "constants"])?;
        Ok(Grade {
            name: root.needed_text("name")?,
            note: root.text("note")?.unwrap_or_default(),
            constants: FoamConstants::from_section(&root.needed_table("constants")?)?,
        })
    }

    /// The grade in TOML: `name`, `note` and `[constants]` with a unit at the end of every key. An infinite open time is
    /// left out.
    pub fn to_toml(&self) -> String {
        let mut writer = Writer::new(&self.name, &self.note);
        writer.head("[constants]");
        let finite = CONSTANTS.fields.iter().zip(self.constants.values()).filter(|(_, si)| si.is_finite());
        finite.for_each(|(field, si)| writer.number(field, si));
        writer.finish()
    }

    /// Writes the grade to a TOML file.
    pub fn save(&self, path: impl AsRef<Path>) -> Result<()> {
        write_text(path.as_ref(), &self.to_toml())
    }
}
