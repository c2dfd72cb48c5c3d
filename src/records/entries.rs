//! The named values of one place in a record: the head of a log, a row of a ledger, a section of a TOML file.

use std::collections::BTreeMap;

use crate::error::{Error, Place, Result};

use super::text::bad_value;
use super::vocabulary::{Meaning, Vocabulary};

/// Named values as written, each with its place; read into SI numbers or words on demand.
pub(super) struct Entries {
    /// Where they stand together.
    home: Place,
    /// The section's name before a dot, for a TOML file.
    section: String,
    vocabulary: Vocabulary,
    written: BTreeMap<&'static str, Entry>,
}

struct Entry {
    name: String,
    place: Place,
    meaning: Meaning,
    text: String,
}

impl Entries {
    pub(super) fn new(home: Place, vocabulary: Vocabulary) -> Self {
        Entries { home, section: String::new(), vocabulary, written: BTreeMap::new() }
    }

    /// The same inside a named section.
    pub(super) fn inside(mut self, section: &str) -> Self {
        self.section = format!("{section}.");
        self
    }

    fn place_of(&self, name: &str, line: u64) -> Place {
        Place { line: Some(line), field: Some(format!("{}{name}", self.section)), ..self.home.clone() }
    }

    /// Takes in a name and its value, which is absent if blank; refuses unknown names and a second value under the same
    /// base.
    pub(super) fn add(&mut self, name: &str, text: &str, line: u64) -> Result<()> {
        let meaning = self.vocabulary.meaning(name, &self.place_of(name, line))?;
        if text.is_empty() { Ok(()) } else { self.add_known(name, text, line, meaning) }
    }

    /// As [`Entries::add`], for a name whose meaning is known already.
    pub(super) fn add_known(&mut self, name: &str, text: &str, line: u64, meaning: Meaning) -> Result<()> {
        let place = self.place_of(name, line);
        let base = meaning.base();
        if let Some(earlier) = self.written.get(base) {
            let found = format!("{} and {}", earlier.name, name);
            return Err(bad_value(place, &found, "one value", "keep one of the two"));
        }
        self.written.insert(base, Entry { name: name.to_owned(), place, meaning, text: text.to_owned() });
        Ok(())
    }

    /// Whether there is a value under this base.
    pub(super) fn has(&self, base: &str) -> bool {
        self.written.contains_key(base)
    }

    /// The place of a value, or of all of them if it is absent.
    pub(super) fn place(&self, base: &str) -> Place {
        self.written.get(base).map_or_else(|| self.home.clone(), |entry| entry.place.clone())
    }

    /// The words under this base, as written.
    pub(super) fn word(&self, base: &str) -> Option<&str> {
        self.written.get(base).map(|entry| entry.text.as_str())
    }

    /// The SI number under this base, if there is one.
    pub(super) fn number(&self, base: &str) -> Result<Option<f64>> {
        let Some(entry) = self.written.get(base) else { return Ok(None) };
        match entry.meaning {
            Meaning::Number(field, unit) => field.value(&entry.text, unit, &entry.place).map(Some),
            Meaning::Word(_) => Ok(None),
        }
    }

    /// Several SI numbers parted by `;`; none if the value is absent.
    pub(super) fn numbers(&self, base: &str) -> Result<Vec<f64>> {
        match self.written.get(base) {
            Some(Entry { meaning: Meaning::Number(field, unit), text, place, .. }) => {
                text.split(';').map(|part| field.value(part.trim(), unit, place)).collect()
            }
            _ => Ok(Vec::new()),
        }
    }

    /// The SI number under this base; an error with `hint` if it is absent.
    pub(super) fn needed(&self, base: &str, hint: &str) -> Result<f64> {
        self.number(base)?.ok_or_else(|| self.missing(base, hint))
    }

    /// The SI number under this base, or `default`, which is then noted in words.
    pub(super) fn or_assumed(&self, base: &str, default: f64, words: &str, assumed: &mut Vec<String>) -> Result<f64> {
        Ok(self.number(base)?.unwrap_or_else(|| {
            assumed.push(words.to_owned());
            default
        }))
    }

    /// The error for an absent value.
    pub(super) fn missing(&self, base: &str, hint: &str) -> Error {
        let field = self.vocabulary.fields.iter().find(|field| field.base == base);
        let names = field.map_or_else(|| format!("`{base}`"), |field| field.names());
        Error::Missing {
            place: self.home.clone(),
            expected: if hint.is_empty() { names } else { format!("{names}: {hint}") },
            found: self.written.values().map(|entry| entry.name.clone()).collect(),
        }
    }

    /// An error about the value under this base: what was found, what is expected, how to mend it.
    pub(super) fn contradiction(&self, base: &str, found: &str, expected: &str, advice: &str) -> Error {
        bad_value(self.place(base), found, expected, advice)
    }
}
