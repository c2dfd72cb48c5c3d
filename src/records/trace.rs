//! Reading the trace of one casting: gauge pressure and temperature against time.

use std::path::Path;

use super::Trace;
use super::table::Table;
use super::text::{bad_value, place, read_text};
use super::vocabulary::Vocabulary;
use crate::error::{Error, Result};
use crate::model::{Field, Range};
use crate::units::Quantity;

/// The columns of a trace.
const COLUMNS: Vocabulary = Vocabulary {
    words: &[],
    fields: &[
        Field::new("time", Quantity::Time, Range::NotNegative),
        Field::new("pressure", Quantity::GaugePressure, Range::Any),
        Field::new("temp", Quantity::Temperature, Range::Any),
    ],
};

/// A gauge reads about 0 until the mold fills; a trace from the start that never goes below this, Pa, is absolute.
const LOWEST_OF_ABSOLUTE: f64 = 60e3;
/// Until this time, s, no mold is under pressure.
const START: f64 = 5.0;

impl Trace {
    /// Reads a trace in CSV: `time_s`, and `pressure_kPa` (gauge), `temp_C` or both; blank cells are absent readings.
    ///
    /// Errors name the file, line and column, as for a rise log.
    pub fn read(path: impl AsRef<Path>) -> Result<Trace> {
        let path = path.as_ref();
        Trace::from_text(&read_text(path, "a table with time_s and pressure_kPa or temp_C")?, path)
    }

    fn from_text(text: &str, path: &Path) -> Result<Trace> {
        let table = Table::parse(text, path)?;
        let meanings = table.meanings(COLUMNS)?;
        let missing = |expected: &str| Error::Missing {
            place: place(path, Some(table.head_line), None),
            expected: expected.to_owned(),
            found: table.heads.clone(),
        };
        let time = table.time(&meanings)?.ok_or_else(|| missing("a column `time_s` (or time_min)"))?;
        if time.is_empty() {
            let expected = "rows under the column heads".to_owned();
            return Err(Error::Empty { file: path.to_path_buf(), expected });
        }
        let pressure = table.column(&meanings, "pressure")?;
        let temp = table.column(&meanings, "temp")?;
        if pressure.is_none() && temp.is_none() {
            return Err(missing("a column `pressure_kPa` (gauge) or `temp_C`"));
        }
        if let Some(pressure) = &pressure {
            check_gauge(&table, &time, pressure)?;
        }
        Ok(Trace { file: Some(path.to_path_buf()), time, pressure, temp })
    }
}

/// Refuses a trace that is plainly absolute.
fn check_gauge(table: &Table, time: &[f64], pressure: &[f64]) -> Result<()> {
    let first = pressure.iter().position(|p| !p.is_nan());
    let Some(first) = first.filter(|&i| time[i] <= START) else { return Ok(()) };
    if pressure.iter().any(|&p| p < LOWEST_OF_ABSOLUTE) {
        return Ok(());
    }
    let column = table.heads.iter().position(|head| head.starts_with("pressure")).unwrap_or_default();
    Err(bad_value(
        table.place(table.rows[first].line, &table.heads[column]),
        &table.rows[first].cells[column],
        "a gauge pressure, about 0 before the mold fills",
        "this looks absolute: subtract the ambient pressure",
    ))
}
