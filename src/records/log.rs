//! A rise log: what was seen of a free-rise cup test.

use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

use super::ambient::{ALTITUDE, AMBIENT_PRESSURE, ambient_pressure};
use super::entries::Entries;
use super::files::matching_files;
use super::table::Table;
use super::text::{bad_value, place, read_text};
use super::vocabulary::{Meaning, Vocabulary};
use crate::error::{Error, Result};
use crate::model::Cup;
use crate::model::{Field, Range};
use crate::units::Quantity;

/// One free-rise cup test, in SI units. Any of the series and times may be absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RiseLog {
    /// A name for reports; the file's stem if none was given.
    pub name: String,
    /// The file it came from.
    pub file: Option<PathBuf>,
    /// Mass in the cup, kg.
    pub mass: f64,
    /// Temperature of the mix at the end of mixing, K.
    pub mix_temp: f64,
    /// Ambient temperature, K.
    pub ambient_temp: f64,
    /// Absolute ambient pressure, Pa.
    pub ambient_pressure: f64,
    /// The cup. Needed where heights were logged.
    pub cup: Option<Cup>,
    /// Time since the end of mixing, s, rising; shape (n,).
    pub time: Vec<f64>,
    /// Height of the foam above the cup's floor, m; NaN where absent; shape (n,).
    pub height: Option<Vec<f64>>,
    /// Volume of the foam, m3; NaN where absent; shape (n,).
    pub volume: Option<Vec<f64>>,
    /// Temperature in the foam, K; NaN where absent; shape (n,).
    pub temp: Option<Vec<f64>>,
    /// Stopwatch times.
    pub stopwatch: Stopwatch,
    /// Free-rise density measured on the cured foam, kg/m3.
    pub free_rise_density: Option<f64>,
    /// What the file left out and was assumed, in words.
    pub assumed: Vec<String>,
}

/// Stopwatch times of a cup test, s since the end of mixing, in the words of ASTM D7487.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stopwatch {
    /// First visible rise.
    pub cream: Option<f64>,
    /// First strings when a stick is pulled from the foam.
    pub string_gel: Option<f64>,
    /// The foam stops rising.
    pub end_of_rise: Option<f64>,
    /// The surface no longer sticks.
    pub tack_free: Option<f64>,
}

impl Stopwatch {
    /// The times with their names at the edge, without the unit.
    pub fn named(&self) -> [(&'static str, Option<f64>); 4] {
        [
            ("cream_time", self.cream),
            ("string_gel_time", self.string_gel),
            ("end_of_rise", self.end_of_rise),
            ("tack_free_time", self.tack_free),
        ]
    }
}

/// The `# key = value` lines of a log.
const HEAD: Vocabulary = Vocabulary {
    words: &["name"],
    fields: &[
        Field::new("mass", Quantity::Mass, Range::Positive),
        Field::new("mix_temp", Quantity::Temperature, Range::Any),
        Field::new("ambient_temp", Quantity::Temperature, Range::Any),
        AMBIENT_PRESSURE,
        ALTITUDE,
        Field::new("cup_diameter", Quantity::Length, Range::Positive),
        Field::new("cup_bottom_diameter", Quantity::Length, Range::Positive),
        Field::new("cup_top_diameter", Quantity::Length, Range::Positive),
        Field::new("cup_height", Quantity::Length, Range::Positive),
        Field::new("cream_time", Quantity::Time, Range::NotNegative),
        Field::new("string_gel_time", Quantity::Time, Range::NotNegative),
        Field::new("end_of_rise", Quantity::Time, Range::NotNegative),
        Field::new("tack_free_time", Quantity::Time, Range::NotNegative),
        Field::new("free_rise_density", Quantity::Density, Range::Positive),
    ],
};

/// The columns of a log.
const COLUMNS: Vocabulary = Vocabulary {
    words: &[],
    fields: &[
        Field::new("time", Quantity::Time, Range::NotNegative),
        Field::new("height", Quantity::Length, Range::NotNegative),
        Field::new("volume", Quantity::Volume, Range::NotNegative),
        Field::new("temp", Quantity::Temperature, Range::Any),
    ],
};

/// No foam, and no liquid mix without filler, is denser than this, kg/m3.
const DENSEST: f64 = 2000.0;

/// Reads rise logs: each of `patterns` is a file, or a pattern such as `logs/*.csv` whose files come sorted by name.
///
/// Errors: as [`RiseLog::read`]; a pattern that no file matches.
pub fn read_rise_logs<P: AsRef<Path>>(patterns: &[P]) -> Result<Vec<RiseLog>> {
    let mut logs = Vec::new();
    for pattern in patterns {
        for file in matching_files(pattern.as_ref())? {
            logs.push(RiseLog::read(file)?);
        }
    }
    Ok(logs)
}

impl RiseLog {
    /// Reads one rise log: `# key = value` lines, then a table in CSV, if there is one.
    ///
    /// Keys: `name`, `mass_g`, `mix_temp_C` (needed), `ambient_temp_C`, `ambient_pressure_kPa` (absolute, of the place, not reduced to sea level) or `altitude_m`,
    /// `cup_diameter_mm` or `cup_bottom_diameter_mm` and `cup_top_diameter_mm`, `cup_height_mm`, `cream_time_s`,
    /// `string_gel_time_s`, `end_of_rise_s`, `tack_free_time_s`, `free_rise_density_kg_m3`. Columns: `time_s`, and any of
    /// `height_mm` or `volume_mL`, and `temp_C`; blank cells are absent readings. Any unit of the quantity will do.
    ///
    /// Errors name the file, line and field: unknown names, missing units, words for numbers, time running backwards,
    /// heights without a cup, a foam denser than any mix.
    pub fn read(path: impl AsRef<Path>) -> Result<RiseLog> {
        let path = path.as_ref();
        RiseLog::from_text(&read_text(path, "a rise log: `# key = value` lines, then a table")?, path)
    }

    fn from_text(text: &str, path: &Path) -> Result<RiseLog> {
        let table = Table::parse(text, path)?;
        let head = read_head(&table)?;
        let meanings = table.meanings(COLUMNS)?;
        check_columns(&table, &meanings)?;
        let mut assumed = Vec::new();
        let mass = head.needed("mass", "the mass in the cup")?;
        let mix_temp = head.needed("mix_temp", "the temperature of the mix at the end of mixing")?;
        let words = "ambient temperature: that of the mix";
        let log = RiseLog {
            name: read_name(&head, path),
            file: Some(path.to_path_buf()),
            mass,
            mix_temp,
            ambient_temp: head.or_assumed("ambient_temp", mix_temp, words, &mut assumed)?,
            ambient_pressure: ambient_pressure(&head, &mut assumed)?,
            cup: read_cup(&head)?,
            time: table.time(&meanings)?.unwrap_or_default(),
            height: table.column(&meanings, "height")?,
            volume: table.column(&meanings, "volume")?,
            temp: table.column(&meanings, "temp")?,
            stopwatch: read_stopwatch(&head)?,
            free_rise_density: head.number("free_rise_density")?,
            assumed,
        };
        log.check_cup(&table)?;
        log.check_density(&table)?;
        Ok(log)
    }

    fn check_cup(&self, table: &Table) -> Result<()> {
        if self.height.is_none() || self.cup.is_some() {
            return Ok(());
        }
        Err(Error::Missing {
            place: place(&table.file, None, None),
            expected: "the cup's size, which heights need: `# cup_diameter_mm = ...` (or cup_bottom_diameter_mm and \
                       cup_top_diameter_mm) and `# cup_height_mm = ...`"
                .to_owned(),
            found: table.heads.clone(),
        })
    }

    /// Refuses readings that make the foam denser than any mix: heights from the liquid's surface, or a wrong unit.
    fn check_density(&self, table: &Table) -> Result<()> {
        let volume_of = |height: &f64| self.cup.map_or(f64::NAN, |cup| cup.volume_to(*height));
        let volumes: Vec<f64> = match (&self.volume, &self.height) {
            (Some(volume), _) => volume.clone(),
            (None, Some(height)) => height.iter().map(volume_of).collect(),
            (None, None) => return Ok(()),
        };
        let Some(row) = volumes.iter().position(|volume| volume * DENSEST < self.mass) else { return Ok(()) };
        let is_size = |head: &&String| head.starts_with("height") || head.starts_with("volume");
        let head = table.heads.iter().find(is_size).map_or("", String::as_str);
        let column = table.heads.iter().position(|other| other == head).unwrap_or_default();
        Err(bad_value(
            table.place(table.rows[row].line, head),
            &table.rows[row].cells[column],
            &format!("at least the liquid's own volume, {:.1} mL and more", self.mass / DENSEST * 1e6),
            "measure from the cup's floor, not from the liquid's surface; check the unit, the mass and the cup's size",
        ))
    }
}

/// The `# key = value` lines; a `#` line without `=` is a remark.
fn read_head(table: &Table) -> Result<Entries> {
    let mut head = Entries::new(place(&table.file, None, None), HEAD);
    for (line, remark) in &table.remarks {
        if let Some((key, value)) = remark.split_once('=') {
            head.add(key.trim(), value.trim(), *line)?;
        }
    }
    Ok(head)
}

fn read_name(head: &Entries, path: &Path) -> String {
    let stem = || path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    head.word("name").filter(|name| !name.is_empty()).map_or_else(stem, str::to_owned)
}

/// Refuses series without time, height and volume at once, and a head without rows.
fn check_columns(table: &Table, meanings: &[Meaning]) -> Result<()> {
    let has = |base: &str| meanings.iter().any(|meaning| meaning.base() == base);
    if !meanings.is_empty() && !has("time") {
        let place = place(&table.file, Some(table.head_line), None);
        let expected = "a column `time_s` (or time_min)".to_owned();
        return Err(Error::Missing { place, expected, found: table.heads.clone() });
    }
    if has("height") && has("volume") {
        let advice = "keep the one that was measured; the other follows from the cup";
        let place = place(&table.file, Some(table.head_line), None);
        return Err(bad_value(place, &table.heads.join(", "), "either heights or volumes", advice));
    }
    if !meanings.is_empty() && table.rows.is_empty() {
        let expected = "rows under the column heads, or no heads either".to_owned();
        return Err(Error::Empty { file: table.file.clone(), expected });
    }
    Ok(())
}

/// The cup, from one diameter or two, and its height; `None` if none of them is given.
fn read_cup(head: &Entries) -> Result<Option<Cup>> {
    let parts = ["cup_diameter", "cup_bottom_diameter", "cup_top_diameter", "cup_height"];
    if !parts.iter().any(|part| head.has(part)) {
        return Ok(None);
    }
    let height = head.needed("cup_height", "the cup's inner height")?;
    if let Some(diameter) = head.number("cup_diameter")? {
        if head.has("cup_bottom_diameter") || head.has("cup_top_diameter") {
            let found = "one diameter for all, and one of bottom or top";
            let advice = "keep cup_diameter for a cylinder, the other two for a cone";
            return Err(head.contradiction("cup_diameter", found, "either", advice));
        }
        return Ok(Some(Cup { bottom_diameter: diameter, top_diameter: diameter, height }));
    }
    let hint = "a cone needs both diameters, a cylinder `cup_diameter_mm` alone";
    let bottom_diameter = head.needed("cup_bottom_diameter", hint)?;
    Ok(Some(Cup { bottom_diameter, top_diameter: head.needed("cup_top_diameter", hint)?, height }))
}

fn read_stopwatch(head: &Entries) -> Result<Stopwatch> {
    let stopwatch = Stopwatch {
        cream: head.number("cream_time")?,
        string_gel: head.number("string_gel_time")?,
        end_of_rise: head.number("end_of_rise")?,
        tack_free: head.number("tack_free_time")?,
    };
    check_order(&stopwatch, head)?;
    Ok(stopwatch)
}

/// Refuses times that stand in an impossible order.
pub(super) fn check_order(stopwatch: &Stopwatch, entries: &Entries) -> Result<()> {
    let order = [
        (("cream_time", stopwatch.cream), ("string_gel_time", stopwatch.string_gel)),
        (("cream_time", stopwatch.cream), ("end_of_rise", stopwatch.end_of_rise)),
        (("string_gel_time", stopwatch.string_gel), ("tack_free_time", stopwatch.tack_free)),
    ];
    for ((first, before), (second, after)) in order {
        if let (Some(before), Some(after)) = (before, after)
            && before > after
        {
            let found = format!("{first} {before} s after {second} {after} s");
            let expected = format!("{first} before {second}");
            return Err(entries.contradiction(first, &found, &expected, "check both stopwatch times"));
        }
    }
    Ok(())
}
