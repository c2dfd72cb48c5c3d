//! The trial ledger: one casting a row.

use std::collections::HashMap;
use std::path::Path;
use std::sync::LazyLock;

use super::ambient::{at_altitude, both_given};
use super::entries::Entries;
use super::table::{Row, Table};
use super::text::{bad_value, place, read_text};
use super::vocabulary::{Meaning, Vocabulary};
use super::{OBSERVATIONS, Trace, Trial};
use crate::error::{Error, Result};
use crate::model::{Absent, Casting, Field, Given, GivenFault, Setting, Verdict, WEIGHED_AT_DEMOLD};

/// The numbers of a ledger: the settings of castings, and what was weighed and read of them.
static NUMBERS: LazyLock<Vec<Field>> = LazyLock::new(|| {
    let settings = Setting::all().map(Setting::row).filter(|row| row.in_ledger).map(|row| row.field);
    settings.chain(OBSERVATIONS.iter().map(|observation| observation.field)).collect()
});

/// The columns of a ledger.
fn columns() -> Vocabulary {
    Vocabulary { words: &["trial", "outcome", "gauge_at_stop", "trace_file", "remarks"], fields: &NUMBERS }
}

/// What the weighed pieces may exceed the charge by: a share of it, and kg more.
const WEIGHING_SLACK: (f64, f64) = (0.02, 1e-3);

/// Reads a trial ledger in CSV, one casting a row; `#` lines may stand above the column heads.
///
/// Needed columns: `trial` (a name of its own), `charge_g`, `mix_temp_C`, `mold_temp_C`. Others: `left_in_cup_g` (0),
/// `ambient_temp_C`, `ambient_pressure_kPa` (absolute) or `altitude_m` (sea level), `vent_mm` (the mold's own; several
/// parted by `;`, one per vent entry; 0: plugged), `clamp_force_N` (the mold's own), `closing_time_s` (0), `demold_time_s` (300),
/// `weighed_after_h` (0: the part was weighed at demold), `part_mass_g` (what the scale showed), `vent_loss_g`,
/// `flash_g`, `outcome` (short, full, flash), `peak_pressure_kPa` (gauge), `gauge_at_stop` (yes, no), `core_temp_C`,
/// `trace_file` (relative to the ledger), `remarks`. Any unit of the quantity will do. In parentheses: what is assumed
/// for a blank; [`Trial::assumed`] lists it.
///
/// Errors name the file, line and column: unknown names, missing units, words for numbers, two trials of one name, more
/// weighed than charged.
pub fn read_trials(path: impl AsRef<Path>) -> Result<Vec<Trial>> {
    let path = path.as_ref();
    trials_from_text(&read_text(path, "a trial ledger: column heads, then one casting a row")?, path)
}

fn trials_from_text(text: &str, path: &Path) -> Result<Vec<Trial>> {
    let table = Table::parse(text, path)?;
    let meanings = table.meanings(columns())?;
    check_columns(&table, &meanings)?;
    let trials = table.rows.iter().map(|row| read_trial(&table, &meanings, row)).collect::<Result<Vec<_>>>()?;
    check_names(&trials, path)?;
    Ok(trials)
}

fn check_columns(table: &Table, meanings: &[Meaning]) -> Result<()> {
    let has = |base: &str| meanings.iter().any(|meaning| meaning.base() == base);
    let of_settings = Setting::all().filter(|setting| matches!(setting.row().absent, Absent::Needed(_)));
    let mut needed = ["trial"].into_iter().chain(of_settings.map(Setting::name));
    if let Some(base) = needed.find(|base| !has(base)) {
        let names = NUMBERS.iter().find(|field| field.base == base).map(Field::names);
        return Err(Error::Missing {
            place: place(&table.file, Some(table.head_line), None),
            expected: format!("the column {}", names.unwrap_or_else(|| format!("`{base}`"))),
            found: table.heads.clone(),
        });
    }
    if table.rows.is_empty() {
        return Err(Error::Empty {
            file: table.file.clone(),
            expected: "one casting a row under the heads".to_owned(),
        });
    }
    Ok(())
}

fn check_names(trials: &[Trial], path: &Path) -> Result<()> {
    let mut seen = HashMap::new();
    for trial in trials {
        if let Some(earlier) = seen.insert(&trial.name, trial.line) {
            let expected = format!("a name of its own (it stands in line {} too)", earlier.unwrap_or_default());
            let advice = "number the castings, for example `3a` and `3b`";
            return Err(bad_value(place(path, trial.line, Some("trial")), &trial.name, &expected, advice));
        }
    }
    Ok(())
}

fn read_trial(table: &Table, meanings: &[Meaning], row: &Row) -> Result<Trial> {
    let entries = row_entries(table, meanings, row)?;
    let name = entries.word("trial").ok_or_else(|| entries.missing("trial", "a name for the casting"))?.to_owned();
    let (casting, assumed) = read_casting(&entries)?;
    let mut trial = Trial {
        file: Some(table.file.clone()),
        line: Some(row.line),
        outcome: read_outcome(&entries)?,
        gauge_at_stop: read_yes_no(&entries, "gauge_at_stop")?,
        trace: read_trace(&entries, &table.file)?,
        remarks: entries.word("remarks").unwrap_or_default().to_owned(),
        assumed,
        ..Trial::blank(name, casting)
    };
    for observation in &OBSERVATIONS {
        observation.set(&mut trial, entries.number(observation.name())?);
    }
    if trial.part_mass.is_none() {
        trial.assumed.retain(|said| said != WEIGHED_AT_DEMOLD);
    }
    check_times(&trial, &entries)?;
    check_weights(&trial, &entries)?;
    check_gauge(&trial, &entries)?;
    Ok(trial)
}

/// The cells of a row that are not blank.
fn row_entries(table: &Table, meanings: &[Meaning], row: &Row) -> Result<Entries> {
    let mut entries = Entries::new(place(&table.file, Some(row.line), None), columns());
    for ((head, meaning), cell) in table.heads.iter().zip(meanings).zip(&row.cells) {
        if !cell.is_empty() {
            entries.add_known(head, cell, row.line, *meaning)?;
        }
    }
    Ok(entries)
}

/// The settings of a row, and what was assumed, in words.
fn read_casting(entries: &Entries) -> Result<(Casting, Vec<String>)> {
    let mut given = Given::default();
    for row in Setting::all().map(Setting::row).filter(|row| row.in_ledger) {
        let values = if row.setting.is_several() {
            entries.numbers(row.name())?
        } else {
            entries.number(row.name())?.into_iter().collect()
        };
        given.give(row.setting, values);
    }
    let (casting, assumed) = given.casting().map_err(|fault| match fault {
        GivenFault::Both(..) => both_given(entries),
        GivenFault::Missing(setting) => match setting.row().absent {
            Absent::Needed(hint) => entries.missing(setting.name(), hint),
            _ => entries.missing(setting.name(), setting.row().sentence),
        },
    })?;
    let altitude = entries.number(Setting::Altitude.name())?.map(|h| at_altitude(h, casting.ambient_pressure));
    Ok((casting, assumed.into_iter().map(str::to_owned).chain(altitude).collect()))
}

fn read_outcome(entries: &Entries) -> Result<Option<Verdict>> {
    let Some(found) = entries.word("outcome").map(str::to_lowercase) else { return Ok(None) };
    let known = || Verdict::all().filter(|verdict| verdict.row().in_ledger);
    match known().find(|verdict| verdict.name() == found) {
        Some(verdict) => Ok(Some(verdict)),
        None => {
            let names: Vec<String> = known().map(|verdict| format!("`{}`", verdict.name())).collect();
            let advice = "write `flash` if foam came out of the parting line, or leave it blank";
            Err(entries.contradiction("outcome", &found, &one_of(&names), advice))
        }
    }
}

/// `a`, `b` or `c`.
fn one_of(names: &[String]) -> String {
    match names.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => names.concat(),
    }
}

fn read_yes_no(entries: &Entries, base: &str) -> Result<bool> {
    match entries.word(base).map(str::to_lowercase).as_deref() {
        None | Some("no") => Ok(false),
        Some("yes") => Ok(true),
        Some(found) => Err(entries.contradiction(base, found, "`yes` or `no`", "leave it blank for no")),
    }
}

/// The trace named in the row; its path counts from the ledger's folder.
fn read_trace(entries: &Entries, ledger: &Path) -> Result<Option<Trace>> {
    let Some(name) = entries.word("trace_file") else { return Ok(None) };
    let file = ledger.parent().unwrap_or(Path::new("")).join(name);
    match Trace::read(&file) {
        Err(Error::Unreadable { reason, .. }) => {
            let expected = format!("a file that can be read ({}: {reason})", file.display());
            let advice = "write the name as seen from the ledger's folder, or leave it blank";
            Err(entries.contradiction("trace_file", name, &expected, advice))
        }
        other => other.map(Some),
    }
}

fn check_times(trial: &Trial, entries: &Entries) -> Result<()> {
    let Casting { closing_time, demold_time, .. } = trial.casting;
    if closing_time < demold_time {
        return Ok(());
    }
    let found = format!("closed at {closing_time} s, demolded at {demold_time} s");
    let base = if entries.has("demold_time") { "demold_time" } else { "closing_time" };
    Err(entries.contradiction(base, &found, "demold after closing", "both times count from the end of mixing"))
}

fn check_weights(trial: &Trial, entries: &Entries) -> Result<()> {
    let Casting { charge, left_in_cup, .. } = trial.casting;
    let weighed = [trial.part_mass, trial.vent_loss, trial.flash].map(|mass| mass.unwrap_or(0.0));
    let sum = left_in_cup + weighed.iter().sum::<f64>();
    let advice = "weigh again, and check that all weights are in the units of their columns";
    if left_in_cup >= charge {
        let found = format!("{:.1} g left in the cup of a charge of {:.1} g", left_in_cup * 1e3, charge * 1e3);
        return Err(entries.contradiction("left_in_cup", &found, "less than the charge", advice));
    }
    if sum <= charge * (1.0 + WEIGHING_SLACK.0) + WEIGHING_SLACK.1 {
        return Ok(());
    }
    let [part, loss, flash] = weighed.map(|mass| mass * 1e3);
    let found = format!(
        "part {part:.1} + vent loss {loss:.1} + flash {flash:.1} + left in cup {:.1} = {:.1} g",
        left_in_cup * 1e3,
        sum * 1e3
    );
    let expected = format!("no more than the charge, {:.1} g", charge * 1e3);
    Err(entries.contradiction("charge", &found, &expected, advice))
}

fn check_gauge(trial: &Trial, entries: &Entries) -> Result<()> {
    if trial.gauge_at_stop && trial.peak_pressure.is_none() {
        let advice = "write the gauge's full scale into the pressure column";
        return Err(entries.contradiction("gauge_at_stop", "yes", "a peak pressure beside it", advice));
    }
    Ok(())
}
