//! What is known of a foam grade: its constants per kilogram of mix.

use serde::{Deserialize, Serialize};
use std::path::Path;
use std::sync::LazyLock;

use super::section::{Document, Section, Writer, write_text};
use super::text::read_text;
use super::vocabulary::Vocabulary;
use crate::error::Result;
use crate::model::{CONSTANTS, Field, FoamConstants, Number};

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

/// The keys of `[constants]`.
static FIELDS: LazyLock<Vec<Field>> = LazyLock::new(|| CONSTANTS.iter().map(|constant| constant.field).collect());

impl FoamConstants {
    fn from_section(section: &Section<'_, '_>) -> Result<Self> {
        let entries = section.numbers(Vocabulary { words: &[], fields: &FIELDS })?;
        let mut constants = FoamConstants::default();
        for constant in &CONSTANTS {
            match entries.number(constant.name())? {
                Some(si) => drop(constant.set(&mut constants, si)),
                None if constant.clear(&mut constants) => {}
                None => return Err(entries.missing(constant.name(), &default_hint(constant))),
            }
        }
        Ok(constants)
    }
}

/// What to write for a constant that is not known, in its customary unit.
fn default_hint(constant: &Number<FoamConstants>) -> String {
    let known = constant.of(&FoamConstants::default());
    known.map_or_else(String::new, |si| {
        let (name, x) =
            (constant.quantity().customary_name(constant.name()), constant.quantity().units()[0].from_si(si));
        format!("if it is not known, start from `{name} = {}`", short(x))
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
        for constant in &CONSTANTS {
            let finite = constant.of(&self.constants).filter(|si| si.is_finite());
            finite.iter().for_each(|si| writer.number(&constant.field, *si));
        }
        writer.finish()
    }

    /// Writes the grade to a TOML file.
    pub fn save(&self, path: impl AsRef<Path>) -> Result<()> {
        write_text(path.as_ref(), &self.to_toml())
    }
}
