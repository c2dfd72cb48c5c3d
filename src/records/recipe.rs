//! A recipe: what a mix is weighed from, in parts by mass.

use serde::{Deserialize, Serialize};
use std::path::Path;

use super::entries::Entries;
use super::section::{Document, Section};
use super::text::read_text;
use super::vocabulary::Vocabulary;
use crate::error::Result;
use crate::model::{Field, Range};
use crate::units::Quantity;

/// Equivalent weight (g per OH group) times OH number (mg KOH/g): the molar mass of KOH in mg/mol.
const EQUIVALENT_BY_NUMBER: f64 = 56_105.6;

/// One component of the resin side that carries OH groups.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Polyol {
    /// Parts by mass.
    pub parts: f64,
    /// OH number, mg KOH/g. For a component given by its equivalent weight E: 56105.6 / E.
    pub hydroxyl_number: f64,
}

/// A recipe, in parts by mass.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Recipe {
    /// Polyols, extenders and cross-linkers.
    pub polyols: Vec<Polyol>,
    /// Water, parts.
    pub water: f64,
    /// Parts without OH groups (pigment, surfactant, catalyst).
    pub inert: f64,
    /// Equivalent weight of the isocyanate, g per NCO group.
    pub isocyanate_equivalent: f64,
    /// Isocyanate index: 100 is the exact amount.
    pub index: f64,
}

/// The keys of `[recipe]`.
const RECIPE: Vocabulary = Vocabulary {
    words: &[],
    fields: &[
        Field::new("water", Quantity::Number, Range::NotNegative),
        Field::new("inert", Quantity::Number, Range::NotNegative),
        Field::new("isocyanate_equivalent", Quantity::Number, Range::Positive),
        Field::new("index", Quantity::Number, Range::Positive),
    ],
};

/// The keys of each `[[polyols]]`.
const POLYOL: Vocabulary = Vocabulary {
    words: &[],
    fields: &[
        Field::new("parts", Quantity::Number, Range::Positive),
        Field::new("hydroxyl_number", Quantity::Number, Range::NotNegative),
        Field::new("hydroxyl_equivalent", Quantity::Number, Range::Positive),
    ],
};

impl Recipe {
    /// Reads a recipe from a TOML file: `name` and `note` as remarks; `[recipe]` with `water`, `inert` (0 if absent),
    /// `isocyanate_equivalent` (g per NCO group) and `index` (100: the exact amount); and one `[[polyols]]` for each
    /// component that carries OH groups, with its `parts` and its `hydroxyl_number` (mg KOH/g) or `hydroxyl_equivalent` (g
    /// per OH group). Amounts are parts by mass.
    ///
    /// Errors name the file, line and key: unknown or missing keys, values that make no sense.
    pub fn load(path: impl AsRef<Path>) -> Result<Recipe> {
        let path = path.as_ref();
        Recipe::from_text(&read_text(path, "a recipe: `[recipe]`, `[[polyols]]`")?, path)
    }

    /// As [`Recipe::load`], from the text itself.
    pub fn from_toml(text: &str) -> Result<Recipe> {
        Recipe::from_text(text, Path::new("recipe (TOML text)"))
    }

    fn from_text(text: &str, file: &Path) -> Result<Recipe> {
        let document = Document::parse(text, file)?;
        let root = document.root();
        root.only(&["name", "note", "recipe", "polyols"])?;
        root.text("name")?;
        root.text("note")?;
        Recipe::from_sections(&root, &root.needed_table("recipe")?)
    }

    /// From the section `[recipe]`, and the `[[polyols]]` of the file.
    pub(super) fn from_sections(root: &Section<'_, '_>, section: &Section<'_, '_>) -> Result<Recipe> {
        let entries = section.numbers(RECIPE)?;
        Ok(Recipe {
            water: entries.needed("water", "parts; 0 for a mix without")?,
            inert: entries.number("inert")?.unwrap_or(0.0),
            isocyanate_equivalent: entries.needed("isocyanate_equivalent", "g per NCO group: 4202 / (% NCO)")?,
            index: entries.needed("index", "100 for the exact amount of isocyanate")?,
            polyols: root.needed_tables("polyols")?.iter().map(Polyol::from_section).collect::<Result<_>>()?,
        })
    }
}

impl Polyol {
    fn from_section(section: &Section<'_, '_>) -> Result<Self> {
        let entries = section.numbers(POLYOL)?;
        Ok(Polyol { parts: entries.needed("parts", "by mass")?, hydroxyl_number: read_hydroxyl_number(&entries)? })
    }
}

/// The OH number, mg KOH/g: as given, or from the equivalent weight.
fn read_hydroxyl_number(entries: &Entries) -> Result<f64> {
    match (entries.number("hydroxyl_number")?, entries.number("hydroxyl_equivalent")?) {
        (Some(_), Some(_)) => Err(entries.contradiction(
            "hydroxyl_equivalent",
            "an OH number and an equivalent weight",
            "one of the two",
            "keep the one on the component's data sheet",
        )),
        (Some(number), None) => Ok(number),
        (None, Some(equivalent)) => Ok(EQUIVALENT_BY_NUMBER / equivalent),
        (None, None) => {
            Err(entries
                .missing("hydroxyl_number", "mg KOH/g, or `hydroxyl_equivalent`: g of the component per OH group"))
        }
    }
}
