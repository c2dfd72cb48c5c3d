//! Sections of a TOML file, with the line of every key; and writing them.

use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::entries::Entries;
use super::text::{bad_value, place};
use super::vocabulary::Vocabulary;
use crate::error::{Error, Place, Result};
use crate::model::Field;
use crate::units::nearest;

/// A TOML text and the file it came from.
pub(super) struct Document<'t> {
    pub file: PathBuf,
    text: &'t str,
    root: Spanned<DeTable<'t>>,
}

/// A table in the text: its name (`""`: the root), what it holds, and where it stands.
#[derive(Clone)]
pub(super) struct Section<'d, 't> {
    document: &'d Document<'t>,
    name: String,
    table: &'d DeTable<'t>,
    line: u64,
}

impl<'t> Document<'t> {
    pub(super) fn parse(text: &'t str, file: &Path) -> Result<Self> {
        let root = DeTable::parse(text).map_err(|e| {
            let line = e.span().map(|span| line_of(text, &span));
            bad_value(place(file, line, None), e.message(), "TOML", "write `key = 1.5`, and text in double quotes")
        })?;
        Ok(Document { file: file.to_path_buf(), text, root })
    }

    pub(super) fn root(&self) -> Section<'_, 't> {
        Section { document: self, name: String::new(), table: self.root.get_ref(), line: 1 }
    }

    fn line(&self, span: Range<usize>) -> u64 {
        line_of(self.text, &span)
    }
}

fn line_of(text: &str, span: &Range<usize>) -> u64 {
    text.bytes().take(span.start).filter(|&b| b == b'\n').count() as u64 + 1
}

impl<'d, 't> Section<'d, 't> {
    fn place(&self, line: u64, key: &str) -> Place {
        let field = if self.name.is_empty() { key.to_owned() } else { format!("{}.{key}", self.name) };
        place(&self.document.file, Some(line), Some(&field))
    }

    fn child(&self, name: &str, table: &'d DeTable<'t>, span: Range<usize>) -> Section<'d, 't> {
        Section { document: self.document, name: name.to_owned(), table, line: self.document.line(span) }
    }

    /// The value under a key and its line.
    fn get(&self, key: &str) -> Option<(&'d Spanned<DeValue<'t>>, u64)> {
        let found = self.table.iter().find(|(name, _)| name.get_ref() == key);
        found.map(|(name, value)| (value, self.document.line(name.span())))
    }

    /// Refuses keys other than these.
    pub(super) fn only(&self, known: &[&str]) -> Result<()> {
        let unknown = self.table.keys().find(|key| !known.contains(&key.get_ref().as_ref()));
        let Some(key) = unknown else { return Ok(()) };
        Err(Error::Unknown {
            place: self.place(self.document.line(key.span()), key.get_ref()),
            found: key.get_ref().to_string(),
            nearest: nearest(key.get_ref(), known.iter().copied()).map(str::to_owned),
            expected: known.iter().map(|name| (*name).to_owned()).collect(),
        })
    }

    /// The text under a key, if there is one.
    pub(super) fn text(&self, key: &str) -> Result<Option<String>> {
        let Some((value, line)) = self.get(key) else { return Ok(None) };
        match value.get_ref().as_str() {
            Some(text) => Ok(Some(text.to_owned())),
            None => Err(bad_value(
                self.place(line, key),
                &self.document.text[value.span()],
                "text",
                "put it in double quotes",
            )),
        }
    }

    /// Which of these names stands under a key, if there is one.
    pub(super) fn choice(&self, key: &str, names: &[&str]) -> Result<Option<usize>> {
        let (Some(text), Some((_, line))) = (self.text(key)?, self.get(key)) else { return Ok(None) };
        let found = names.iter().position(|name| **name == text);
        let refused =
            || bad_value(self.place(line, key), &text, &names.join(", "), "write one of these in double quotes");
        found.map(Some).ok_or_else(refused)
    }

    /// The text under a key that must be there.
    pub(super) fn needed_text(&self, key: &str) -> Result<String> {
        self.text(key)?.ok_or_else(|| self.missing(&format!("`{key} = \"...\"`")))
    }

    /// The table under a key, `[key]`, if there is one.
    pub(super) fn table(&self, key: &str) -> Result<Option<Section<'d, 't>>> {
        let Some((value, line)) = self.get(key) else { return Ok(None) };
        match value.get_ref().as_table() {
            Some(table) => Ok(Some(self.child(key, table, value.span()))),
            None => Err(self.not_a_table(value, line, key, &format!("a section `[{key}]`"))),
        }
    }

    /// The table under a key that must be there.
    pub(super) fn needed_table(&self, key: &str) -> Result<Section<'d, 't>> {
        self.table(key)?.ok_or_else(|| self.missing(&format!("the section `[{key}]`")))
    }

    /// The tables under a key, each headed `[[key]]`; none if absent.
    pub(super) fn tables(&self, key: &str) -> Result<Vec<Section<'d, 't>>> {
        let Some((value, line)) = self.get(key) else { return Ok(Vec::new()) };
        let expected = format!("sections, each headed `[[{key}]]`");
        let refused = |value| self.not_a_table(value, line, key, &expected);
        let items = value.get_ref().as_array().ok_or_else(|| refused(value))?;
        let child = |item: &'d Spanned<DeValue<'t>>| match item.get_ref().as_table() {
            Some(table) => Ok(self.child(key, table, item.span())),
            None => Err(refused(item)),
        };
        items.iter().map(child).collect()
    }

    /// The tables under a key, of which there must be one.
    pub(super) fn needed_tables(&self, key: &str) -> Result<Vec<Section<'d, 't>>> {
        let tables = self.tables(key)?;
        if tables.is_empty() { Err(self.missing(&format!("a section `[[{key}]]`"))) } else { Ok(tables) }
    }

    fn not_a_table(&self, value: &Spanned<DeValue<'_>>, line: u64, key: &str, expected: &str) -> Error {
        let found = self.document.text.get(value.span()).unwrap_or_default();
        bad_value(self.place(line, key), found, expected, "look at its brackets")
    }

    /// All keys of this section as numbers with units.
    pub(super) fn numbers(&self, vocabulary: Vocabulary) -> Result<Entries> {
        let mut entries = Entries::new(self.home(), vocabulary).inside(&self.name);
        for (key, value) in self.table {
            let line = self.document.line(key.span());
            let number = match value.get_ref() {
                DeValue::Float(float) => float.as_str().to_owned(),
                DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str().to_owned(),
                other => self.document.text.get(value.span()).unwrap_or(other.type_str()).to_owned(),
            };
            entries.add(key.get_ref(), &number, line)?;
        }
        Ok(entries)
    }

    fn home(&self) -> Place {
        let field = (!self.name.is_empty()).then_some(self.name.as_str());
        place(&self.document.file, Some(self.line), field)
    }

    fn missing(&self, expected: &str) -> Error {
        let found = self.table.keys().map(|key| key.get_ref().to_string()).collect();
        Error::Missing { place: self.home(), expected: expected.to_owned(), found }
    }
}

/// Writes sections of numbers, each in its customary unit.
pub(super) struct Writer {
    text: String,
}

impl Writer {
    /// A file that begins with a name and a note.
    pub(super) fn new(name: &str, note: &str) -> Self {
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        Writer { text: format!("name = {}\nnote = {}\n", quoted(name), quoted(note)) }
    }

    /// A section head, with its brackets.
    pub(super) fn head(&mut self, head: &str) {
        self.text.push_str(&format!("\n{head}\n"));
    }

    /// A number in the customary unit of its field.
    pub(super) fn number(&mut self, field: &Field, si: f64) {
        let unit = &field.quantity.units()[0];
        let name = field.quantity.customary_name(field.base);
        self.text.push_str(&format!("{name} = {:?}\n", unit.shortest(si)));
    }

    /// A word in double quotes.
    pub(super) fn word(&mut self, key: &str, word: &str) {
        self.text.push_str(&format!("{key} = {word:?}\n"));
    }

    pub(super) fn finish(self) -> String {
        self.text
    }
}

/// Writes a text to a file.
pub(super) fn write_text(path: &Path, text: &str) -> Result<()> {
    fs::write(path, text).map_err(|e| {
        Error::argument("path", path.display(), "a file that can be written", format!("the system says: {e}"))
    })
}
