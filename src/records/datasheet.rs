//! A supplier's data sheet of a grade: what is known of a foam before any cup was poured.

use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

use super::entries::Entries;
use super::log::check_order;
use super::section::{Document, Section};
use super::text::read_text;
use super::vocabulary::Vocabulary;
use super::{Recipe, Stopwatch};
use crate::error::Result;
use crate::model::{Field, Range};
use crate::units::Quantity;

/// What a data sheet says of a grade, in SI units. A density, a gas yield or a recipe is there; anything else may be absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Datasheet {
    /// The grade's name.
    pub name: String,
    /// A remark, in words.
    pub note: String,
    /// The file it came from.
    pub file: Option<PathBuf>,
    /// Free-rise density, kg/m3.
    pub free_rise_density: Option<f64>,
    /// CO2 that the mix can make, mol/kg.
    pub gas_yield: Option<f64>,
    /// Cup times, s since the end of mixing.
    pub stopwatch: Stopwatch,
    /// Time from the end of mixing to demold, s; kept for the record, the model does not use it.
    pub demold_time: Option<f64>,
    /// Temperature of the components that the times are for, K.
    pub at_temp: f64,
    /// Resin to isocyanate, as written; kept for the record, the model counts per kilogram of mix.
    pub mix_ratio: Option<String>,
    /// Density of the liquid mix, kg/m3.
    pub liquid_density: Option<f64>,
    /// The recipe, if it is known: it gives a gas yield.
    pub recipe: Option<Recipe>,
    /// What the sheet left out and was assumed, in words.
    pub assumed: Vec<String>,
}

/// Temperature that data sheets are written for unless they say so, K. Common practice, no source.
const USUAL_TEMP: f64 = 296.15;

/// The keys of `[datasheet]`.
const DATASHEET: Vocabulary = Vocabulary {
    words: &["mix_ratio"],
    fields: &[
        Field::new("free_rise_density", Quantity::Density, Range::Positive),
        Field::new("gas_yield", Quantity::GasYield, Range::Positive),
        Field::new("cream_time", Quantity::Time, Range::Positive),
        Field::new("string_gel_time", Quantity::Time, Range::Positive),
        Field::new("end_of_rise", Quantity::Time, Range::Positive),
        Field::new("tack_free_time", Quantity::Time, Range::Positive),
        Field::new("demold_time", Quantity::Time, Range::Positive),
        Field::new("at_temp", Quantity::Temperature, Range::Any),
        Field::new("liquid_density", Quantity::Density, Range::Positive),
    ],
};

impl Datasheet {
    /// Reads a data sheet from a TOML file: `name`, `note` and `[datasheet]` with any of `free_rise_density_kg_m3`,
    /// `gas_yield_mol_kg`, `cream_time_s`, `string_gel_time_s`, `end_of_rise_s`, `tack_free_time_s`, `demold_time_s`,
    /// `at_temp_C` (23 °C), `mix_ratio` (text) and `liquid_density_kg_m3`, in any units; and, if the recipe is known, the
    /// sections of [`Recipe::load`]. In parentheses: what is assumed aloud.
    ///
    /// Errors name the file, line and key: unknown keys, units that do not fit, values that make no sense, times out of
    /// order, a foam denser than its liquid, neither a density nor a gas yield nor a recipe.
    pub fn load(path: impl AsRef<Path>) -> Result<Datasheet> {
        let path = path.as_ref();
        let sheet = Datasheet::from_text(&read_text(path, "a data sheet: `name`, `[datasheet]`")?, path)?;
        Ok(Datasheet { file: Some(path.to_path_buf()), ..sheet })
    }

    /// As [`Datasheet::load`], from the text itself.
    pub fn from_toml(text: &str) -> Result<Datasheet> {
        Datasheet::from_text(text, Path::new("data sheet (TOML text)"))
    }

    fn from_text(text: &str, file: &Path) -> Result<Datasheet> {
        let document = Document::parse(text, file)?;
        let root = document.root();
        root.only(&["name", "note", "datasheet", "recipe", "polyols"])?;
        let recipe = read_recipe(&root)?;
        let section = root.needed_table("datasheet")?;
        let entries = section.numbers(DATASHEET)?;
        let stopwatch = read_stopwatch(&entries)?;
        let mut assumed = Vec::new();
        let sheet = Datasheet {
            name: root.needed_text("name")?,
            note: root.text("note")?.unwrap_or_default(),
            file: None,
            free_rise_density: entries.number("free_rise_density")?,
            gas_yield: entries.number("gas_yield")?,
            stopwatch,
            demold_time: entries.number("demold_time")?,
            at_temp: entries.or_assumed("at_temp", USUAL_TEMP, "data sheet for 23 °C", &mut assumed)?,
            mix_ratio: section.text("mix_ratio")?,
            liquid_density: entries.number("liquid_density")?,
            recipe,
            assumed,
        };
        sheet.check_density(&entries)?;
        Ok(sheet)
    }

    fn check_density(&self, entries: &Entries) -> Result<()> {
        match (self.free_rise_density, self.liquid_density) {
            (None, _) if self.gas_yield.is_none() && self.recipe.is_none() => {
                Err(entries.missing("free_rise_density", "or `gas_yield_mol_kg`, or the section `[recipe]`"))
            }
            (Some(foam), Some(liquid)) if foam >= liquid => {
                let found = format!("{foam:.1} kg/m3 foamed, {liquid:.1} kg/m3 liquid");
                let advice = "check both units; `liquid_density` is that of the mix before it foams";
                Err(entries.contradiction("free_rise_density", &found, "less than the liquid's density", advice))
            }
            _ => Ok(()),
        }
    }
}

fn read_recipe(root: &Section<'_, '_>) -> Result<Option<Recipe>> {
    match root.table("recipe")? {
        Some(section) => Recipe::from_sections(root, &section).map(Some),
        None if root.tables("polyols")?.is_empty() => Ok(None),
        None => root.needed_table("recipe").map(|_| None),
    }
}

fn read_stopwatch(entries: &Entries) -> Result<Stopwatch> {
    let stopwatch = Stopwatch {
        cream: entries.number("cream_time")?,
        string_gel: entries.number("string_gel_time")?,
        end_of_rise: entries.number("end_of_rise")?,
        tack_free: entries.number("tack_free_time")?,
    };
    check_order(&stopwatch, entries)?;
    Ok(stopwatch)
}
