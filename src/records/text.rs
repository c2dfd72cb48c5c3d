//! Reading a file as text, and numbers out of text.

use std::fs;
use std::path::Path;

use crate::error::{Error, Place, Result};

/// The text of a file without a byte order mark; an error if it is not UTF-8 or holds nothing.
pub(super) fn read_text(path: &Path, expected: &str) -> Result<String> {
    let bytes = fs::read(path).map_err(|e| Error::Unreadable { file: path.to_path_buf(), reason: e.to_string() })?;
    let text = decode(bytes, path)?;
    if text.trim().is_empty() {
        return Err(Error::Empty { file: path.to_path_buf(), expected: expected.to_owned() });
    }
    Ok(text)
}

fn decode(bytes: Vec<u8>, path: &Path) -> Result<String> {
    let text = String::from_utf8(bytes).map_err(|e| {
        let start = &e.as_bytes()[..e.utf8_error().valid_up_to()];
        let line = start.iter().filter(|&&b| b == b'\n').count() as u64 + 1;
        let found = e.as_bytes().get(start.len()).map(|b| format!("byte {b:#04x}")).unwrap_or_default();
        bad_value(
            place(path, Some(line), None),
            &found,
            "text in UTF-8",
            "save the file anew as UTF-8 text (in a spreadsheet: `CSV UTF-8`)",
        )
    })?;
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
}

/// A place in a file.
pub(super) fn place(file: &Path, line: Option<u64>, field: Option<&str>) -> Place {
    Place { file: file.to_path_buf(), line, field: field.map(str::to_owned) }
}

/// An [`Error::BadValue`] from plain strings.
pub(super) fn bad_value(place: Place, found: &str, expected: &str, advice: &str) -> Error {
    Error::BadValue { place, found: found.to_owned(), expected: expected.to_owned(), advice: advice.to_owned() }
}

/// How to write that a value is absent.
const NO_READING: &str = "leave the cell blank, or the key out, if there is no value";

/// A finite number; the error says what to do with a decimal comma, a word or a missing reading.
pub(super) fn finite_number(text: &str, place: &Place) -> Result<f64> {
    match text.parse::<f64>() {
        Ok(x) if x.is_finite() => Ok(x),
        Ok(_) => Err(bad_value(place.clone(), text, "a finite number", NO_READING)),
        Err(_) => Err(bad_value(place.clone(), text, "a number", number_advice(text))),
    }
}

fn number_advice(text: &str) -> &'static str {
    let comma_as_point = text.replacen(',', ".", 1);
    if text.starts_with('"') {
        "write it without quotes"
    } else if comma_as_point.parse::<f64>().is_ok() {
        "write a decimal point and no thousands separator"
    } else if text.starts_with(|c: char| c.is_ascii_digit()) {
        "write the number alone; its unit belongs into the name"
    } else {
        NO_READING
    }
}
