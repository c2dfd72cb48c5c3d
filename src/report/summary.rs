//! A result for other programs: `summary.json`, numbers with units, errors and a status, in a stable order.

use serde::Serialize;
use std::collections::BTreeMap;
use std::path::Path;

use super::display::DisplayUnits;
use super::page::write_file;
use crate::error::{Error, Result};
use crate::model::{Outcome, Run};
use crate::units::Quantity;

/// A number with all that is known about it. What is absent is left out of the file; what is not finite becomes `null`.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SummaryValue {
    /// The value, in `unit`.
    pub value: f64,
    /// Its unit as printed; empty for a plain number.
    pub unit: String,
    /// Standard error, in `unit`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard_error: Option<f64>,
    /// 95 % interval, lower and upper end, in `unit`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub interval_95: Option<[f64; 2]>,
    /// What is to be said about it: "at bound", "not identified by these records".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub status: Option<String>,
}

impl SummaryValue {
    /// A value in a unit, nothing else being known.
    pub fn new(value: f64, unit: impl Into<String>) -> SummaryValue {
        SummaryValue { value, unit: unit.into(), ..SummaryValue::default() }
    }

    /// A value given in SI, in the unit that `units` shows its quantity in.
    pub fn shown(si: f64, quantity: Quantity, units: DisplayUnits) -> SummaryValue {
        let unit = units.of(quantity);
        SummaryValue::new(unit.value(si), unit.label)
    }
}

/// One entry of a summary.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Entry {
    /// A number with its unit.
    Value(SummaryValue),
    /// Words.
    Text(String),
    /// Yes or no.
    Flag(bool),
    /// A count.
    Count(u64),
    /// Several entries in their order.
    List(Vec<Entry>),
    /// Named entries, sorted by name in the file.
    Group(BTreeMap<String, Entry>),
    /// Not known.
    Missing,
}

/// What goes into `summary.json`: a title, the crate's version, and named entries, sorted by name.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// What it is about.
    pub title: String,
    /// The crate's version.
    pub risefit_version: String,
    /// What it holds.
    pub entries: BTreeMap<String, Entry>,
}

impl Summary {
    /// A summary without entries.
    pub fn new(title: impl Into<String>) -> Summary {
        let risefit_version = env!("CARGO_PKG_VERSION").to_owned();
        Summary { title: title.into(), risefit_version, entries: BTreeMap::new() }
    }

    /// Sets an entry.
    pub fn put(&mut self, name: impl Into<String>, entry: Entry) {
        self.entries.insert(name.into(), entry);
    }

    /// The file's text: indented JSON with a line end at the end.
    ///
    /// # Errors
    /// [`Error::Argument`] if it cannot be written as JSON.
    pub fn to_json(&self) -> Result<String> {
        let json = serde_json::to_string_pretty(self)
            .map_err(|e| Error::argument("summary", e, "entries that JSON can hold", "leave out the one named"))?;
        Ok(json + "\n")
    }

    /// Writes the summary to a file.
    ///
    /// # Errors
    /// [`Error::Argument`] if the file cannot be written.
    pub fn write(&self, path: impl AsRef<Path>) -> Result<()> {
        write_file(path.as_ref(), &self.to_json()?)
    }
}

/// A casting's quantities as entries; pressures are gauge. What did not happen is `null`.
pub fn summarize_run(run: &Run, units: DisplayUnits) -> BTreeMap<String, Entry> {
    let shown = |outcome: Outcome| match outcome.of_run(run) {
        Some(si) if outcome.quantity() == Quantity::Number => Entry::Value(SummaryValue::new(si, "")),
        Some(si) => Entry::Value(SummaryValue::shown(si, outcome.quantity(), units)),
        None => Entry::Missing,
    };
    let outcomes = Outcome::all().map(|outcome| (outcome.name().to_owned(), shown(outcome)));
    let verdict = Entry::Text(run.result.verdict.name().to_owned());
    [("verdict".to_owned(), verdict)].into_iter().chain(outcomes).collect()
}
