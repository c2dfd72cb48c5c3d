//! A CSV table with `#` lines before its column heads; every cell keeps its line.

use std::path::{Path, PathBuf};

use crate::error::{Place, Result};

use super::text::{bad_value, place};
use super::vocabulary::{Meaning, Vocabulary};

/// A file taken apart: `#` lines, column heads and rows, with their lines in the file.
pub(super) struct Table {
    pub file: PathBuf,
    /// The `#` lines without the `#`, and their lines in the file.
    pub remarks: Vec<(u64, String)>,
    /// Column heads as written.
    pub heads: Vec<String>,
    /// Line of the heads.
    pub head_line: u64,
    pub rows: Vec<Row>,
}

/// One row and its line in the file.
pub(super) struct Row {
    pub line: u64,
    pub cells: Vec<String>,
}

impl Table {
    /// Takes the text of a file apart.
    pub(super) fn parse(text: &str, file: &Path) -> Result<Table> {
        let (remarks, skipped, body) = part_remarks(text);
        let mut rows = read_rows(body, skipped, file)?.into_iter();
        let Some(head) = rows.next() else {
            let (heads, rows) = (Vec::new(), Vec::new());
            return Ok(Table { file: file.to_path_buf(), remarks, heads, head_line: skipped + 1, rows });
        };
        let rows = rows.filter(|row| row.cells.iter().any(|cell| !cell.is_empty())).collect();
        let table = Table { file: file.to_path_buf(), remarks, head_line: head.line, heads: head.cells, rows };
        table.check_separator()?;
        table.check_widths()?;
        Ok(table)
    }

    /// The place of a cell or, without a line, of a column.
    pub(super) fn place(&self, line: u64, head: &str) -> Place {
        place(&self.file, Some(line), Some(head))
    }

    /// What each column stands for; refuses unknown heads and two of the same base.
    pub(super) fn meanings(&self, vocabulary: Vocabulary) -> Result<Vec<Meaning>> {
        let mut meanings: Vec<Meaning> = Vec::new();
        for (column, head) in self.heads.iter().enumerate() {
            let place = self.place(self.head_line, head);
            if head.is_empty() {
                let found = format!("no head over column {}", column + 1);
                return Err(bad_value(place, &found, "a name over every column", "name the column or delete it"));
            }
            let meaning = vocabulary.meaning(head, &place)?;
            if let Some(earlier) = meanings.iter().position(|m| m.base() == meaning.base()) {
                let found = format!("{} and {head}", self.heads[earlier]);
                return Err(bad_value(place, &found, "one column", "keep one of the two"));
            }
            meanings.push(meaning);
        }
        Ok(meanings)
    }

    /// The SI numbers of a column, NaN where blank; `None` if there is no such column.
    pub(super) fn column(&self, meanings: &[Meaning], base: &str) -> Result<Option<Vec<f64>>> {
        let Some(index) = meanings.iter().position(|meaning| meaning.base() == base) else { return Ok(None) };
        let Meaning::Number(field, unit) = meanings[index] else { return Ok(None) };
        let cell = |row: &Row| match row.cells[index].as_str() {
            "" => Ok(f64::NAN),
            text => field.value(text, unit, &self.place(row.line, &self.heads[index])),
        };
        self.rows.iter().map(cell).collect::<Result<_>>().map(Some)
    }

    /// The time column, s: no blanks, never falling.
    pub(super) fn time(&self, meanings: &[Meaning]) -> Result<Option<Vec<f64>>> {
        let Some(time) = self.column(meanings, "time")? else { return Ok(None) };
        let index = meanings.iter().position(|meaning| meaning.base() == "time").unwrap_or_default();
        for (i, row) in self.rows.iter().enumerate() {
            let place = self.place(row.line, &self.heads[index]);
            if time[i].is_nan() {
                return Err(bad_value(place, "", "a time in every row", "write the time or delete the row"));
            }
            if i > 0 && time[i] < time[i - 1] {
                let before = &self.rows[i - 1];
                let found = format!("{} after {} in line {}", row.cells[index], before.cells[index], before.line);
                let advice = "sort the rows, or keep one test in a file; time counts from the end of mixing";
                return Err(bad_value(place, &found, "a time that never runs backwards", advice));
            }
        }
        Ok(Some(time))
    }

    fn check_separator(&self) -> Result<()> {
        match self.heads.as_slice() {
            [only] if only.contains([';', '\t']) => Err(bad_value(
                self.place(self.head_line, only),
                only,
                "column heads parted by commas",
                "save the table with commas between columns and points in decimals",
            )),
            _ => Ok(()),
        }
    }

    fn check_widths(&self) -> Result<()> {
        let wrong = self.rows.iter().find(|row| row.cells.len() != self.heads.len());
        let Some(row) = wrong else { return Ok(()) };
        let extra = row.cells.get(self.heads.len()).map_or(String::new(), |cell| format!(", the first extra `{cell}`"));
        let found = format!("{} cells{extra}", row.cells.len());
        let place = place(&self.file, Some(row.line), self.heads.get(row.cells.len()).map(String::as_str));
        let expected = format!("{} cells, one under each head", self.heads.len());
        let advice = "leave a blank between commas where a reading is absent; write decimals with a point, and words \
                      with a comma in double quotes";
        Err(bad_value(place, &found, &expected, advice))
    }
}

/// Parts the leading blank and `#` lines from the rest: the remarks, how many lines were skipped, and the rest.
fn part_remarks(text: &str) -> (Vec<(u64, String)>, u64, &str) {
    let (mut remarks, mut skipped, mut rest) = (Vec::new(), 0, text);
    while !rest.is_empty() {
        let (line, after) = rest.split_once('\n').unwrap_or((rest, ""));
        match line.trim().strip_prefix('#') {
            Some(remark) => remarks.push((skipped + 1, remark.trim().to_owned())),
            None if line.trim().is_empty() => {}
            None => break,
        }
        (skipped, rest) = (skipped + 1, after);
    }
    (remarks, skipped, rest)
}

fn read_rows(body: &str, skipped: u64, file: &Path) -> Result<Vec<Row>> {
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).trim(csv::Trim::All).from_reader(body.as_bytes());
    let mut rows = Vec::new();
    let (mut line, mut counted) = (skipped + 1, 0);
    for record in reader.records() {
        let record = record.map_err(|e| {
            bad_value(place(file, Some(line), None), &e.to_string(), "a row of a CSV table", "look at its quotes")
        })?;
        // The reader's own line is that of the blank lines before a record; the byte where it starts is exact.
        let from = record.position().map_or(counted, |position| position.byte() as usize);
        let blank = body[from..].bytes().take_while(|b| matches!(b, b'\n' | b'\r')).count();
        line += newlines(&body.as_bytes()[counted..from + blank]);
        counted = from + blank;
        rows.push(Row { line, cells: record.iter().map(str::to_owned).collect() });
    }
    Ok(rows)
}

fn newlines(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|&&b| b == b'\n').count() as u64
}
