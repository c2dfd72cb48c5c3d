//! The report of a diagnosis: how each casting fits the others, what most likely happened to one that does not, what to look at.

use super::cause_words::{cause_words, check_words, first_size, reading_words, size_words, telling_words};
use super::words::chart_section;
use crate::Result;
use crate::diagnose::{Cause, DiagnosedCasting, Diagnosis, Misfit, What};
use crate::report::chart::{Deviating, Sheet, deviation_chart};
use crate::report::display::DisplayUnits;
use crate::report::number::{fixed, percent};
use crate::report::page::{Section, sections_text};
use crate::report::table::{Align, Table};

/// Causes below this probability are not looked into.
const LIKELY: f64 = 0.05;
/// Causes of which the check is told.
const CHECKED: usize = 3;
/// Columns of the table of misfits.
const COLUMNS: [(&str, &[What]); 8] = [
    ("part", &[What::PartMass]),
    ("vent loss", &[What::VentLoss]),
    ("flash", &[What::Flash]),
    ("peak", &[What::PeakPressure, What::PeakAtLeast]),
    ("trace", &[What::Trace]),
    ("core", &[What::CoreTemp]),
    ("full?", &[What::WasFull]),
    ("flashed?", &[What::WasFlashed]),
];

/// The diagnosis in sections: how the castings fit, a chart, then each one that does not.
pub fn describe_diagnosis(diagnosis: &Diagnosis, units: DisplayUnits) -> Vec<Section> {
    let mut out = vec![
        Section::Heading("How each casting fits the others".to_owned()),
        Section::Paragraph(verdict(diagnosis)),
        Section::Table(misfit_table(diagnosis)),
        chart_section(
            diagnosis_chart(diagnosis, Sheet { units, ..Sheet::default() }),
            "Each reading against what the other castings predict for it.",
        ),
    ];
    let weighed: Vec<_> = diagnosis.castings.iter().filter(|c| !c.causes.is_empty()).collect();
    weighed.iter().for_each(|casting| out.extend(casting_sections(casting, units)));
    if !weighed.is_empty() {
        out.push(Section::Paragraph(prior_words(diagnosis)));
    }
    if !diagnosis.warnings.is_empty() {
        out.push(Section::List(diagnosis.warnings.clone()));
    }
    if weighed.iter().any(|casting| opened(casting)) {
        out.push(Section::Paragraph(
            "Foam may have found a way out under pressure: inspect mold, seam and clamps before it is closed again, and ask \
             someone licensed where local codes say so. What is said here of gaps and pressures is no measure of what a clamp \
             or a mold can bear."
                .to_owned(),
        ));
        out.push(Section::Cautions);
    }
    out
}

/// The same as plain text.
pub fn describe_diagnosis_text(diagnosis: &Diagnosis, units: DisplayUnits) -> String {
    sections_text(&describe_diagnosis(diagnosis, units))
}

/// Draws how far each reading of each casting is from what the others predict, in standard deviations.
///
/// # Errors
/// As [`deviation_chart`].
pub fn diagnosis_chart(diagnosis: &Diagnosis, sheet: Sheet) -> Result<String> {
    let rows: Vec<Deviating> = diagnosis
        .castings
        .iter()
        .map(|c| Deviating {
            name: c.trial.name.clone(),
            readings: c.readings.iter().map(|m| (series(m.what), m.deviations)).collect(),
            is_odd: c.is_odd,
        })
        .collect();
    deviation_chart(&rows, sheet)
}

/// What a reading belongs to in a chart.
fn series(what: What) -> &'static str {
    match what {
        What::PartMass => "part mass",
        What::VentLoss => "vent loss",
        What::Flash => "flash",
        What::PeakPressure | What::PeakAtLeast | What::Trace => "pressure",
        What::CoreTemp => "core temperature",
        What::WasFull | What::WasFlashed => "seen",
    }
}

fn verdict(diagnosis: &Diagnosis) -> String {
    let names: Vec<&str> = diagnosis.odd().map(|c| c.trial.name.as_str()).collect();
    let count = diagnosis.castings.len();
    let limit = percent(diagnosis.odd_below, 0);
    match names.as_slice() {
        [] => format!("All {count} castings fit each other: none is so far off that fewer than {limit} would be."),
        [one] => format!("{one} does not fit the others: fewer than {limit} of castings would be as far off."),
        many => {
            format!("{} do not fit the others: fewer than {limit} of castings would be as far off.", many.join(", "))
        }
    }
}

fn misfit_table(diagnosis: &Diagnosis) -> Table {
    let has = |(_, whats): &&(&str, &[What])| {
        diagnosis.castings.iter().flat_map(|c| &c.readings).any(|m| whats.contains(&m.what))
    };
    let columns: Vec<&(&str, &[What])> = COLUMNS.iter().filter(has).collect();
    let mut heads = vec![("trial", Align::Left)];
    heads.extend(columns.iter().map(|(head, _)| (*head, Align::Right)));
    heads.extend([("as far off by chance", Align::Right), ("", Align::Left)]);
    let mut table = Table::new(&heads)
        .titled("Measured less predicted by the others, in standard deviations (doubt, scatter and reading)");
    for casting in &diagnosis.castings {
        let cell = |whats: &[What]| {
            let found = casting.readings.iter().find(|m| whats.contains(&m.what));
            found.map_or(String::new(), |m| fixed(m.deviations, 1))
        };
        let mut row = vec![casting.trial.name.clone()];
        row.extend(columns.iter().map(|(_, whats)| cell(whats)));
        row.push(chance(casting.probability));
        row.push(if casting.is_odd { "does not fit (!)" } else { "fits" }.to_owned());
        table.push(row);
    }
    table
}

fn chance(probability: f64) -> String {
    match probability {
        p if p >= 0.1 => percent(p, 0),
        p if p >= 1e-3 => percent(p, 1),
        _ => "below 0.1 %".to_owned(),
    }
}

fn casting_sections(casting: &DiagnosedCasting, units: DisplayUnits) -> Vec<Section> {
    let name = &casting.trial.name;
    let fits = if casting.is_odd { "does not fit the others" } else { "fits the others" };
    let mut out = vec![
        Section::Heading(format!("{name} {fits}")),
        Section::Paragraph(headline(casting, units)),
        Section::Table(reading_table(casting, units)),
        Section::Table(cause_table(casting, units)),
    ];
    let likely = casting.causes.iter().filter(|c| c.probability >= LIKELY).take(CHECKED);
    let mut checks: Vec<String> =
        likely.map(|c| format!("{}: {}.", cause_words(c), check_words(c, &casting.trial.casting, units))).collect();
    if let [_, second, ..] = casting.causes.as_slice() {
        let open = casting.telling.as_ref().filter(|_| second.probability >= LIKELY);
        checks.extend(open.map(|telling| telling_words(telling, units)));
    }
    out.push(Section::List(checks));
    out
}

/// The likeliest cause, or the two that compete, in a sentence.
fn headline(casting: &DiagnosedCasting, units: DisplayUnits) -> String {
    let part = |i: usize| {
        let likely = &casting.causes[i];
        let size = size_words(likely, &casting.trial.casting, units);
        let size = if size.is_empty() { String::new() } else { format!(", {size}") };
        format!("{} ({}{size})", cause_words(likely), percent(likely.probability, 0))
    };
    match casting.causes.as_slice() {
        [] => String::new(),
        [_, second, ..] if second.probability >= LIKELY => format!("Most likely {}, or {}.", part(0), part(1)),
        _ => format!("Most likely {}.", part(0)),
    }
}

fn reading_table(casting: &DiagnosedCasting, units: DisplayUnits) -> Table {
    let mut table = Table::new(&[
        ("reading", Align::Left),
        ("measured", Align::Right),
        ("the others predict", Align::Right),
        ("standard deviations off", Align::Right),
    ]);
    casting.readings.iter().for_each(|m| table.push(reading_row(m, units)));
    table
}

fn reading_row(m: &Misfit, units: DisplayUnits) -> Vec<String> {
    let unit = m.what.quantity().map(|quantity| units.of(quantity));
    let shown = |si: Option<f64>| unit.zip(si).map_or(String::new(), |(unit, si)| unit.text(si));
    let predicted = match (unit, m.predicted, m.sd) {
        (Some(unit), Some(si), Some(sd)) => {
            format!(
                "{} ± {} {}",
                fixed(unit.value(si), unit.decimals),
                fixed(unit.difference(sd), unit.decimals),
                unit.label
            )
        }
        _ => shown(m.predicted),
    };
    vec![reading_words(m.what).to_owned(), shown(m.measured), predicted, fixed(m.deviations, 1)]
}

fn cause_table(casting: &DiagnosedCasting, units: DisplayUnits) -> Table {
    let heads =
        [("what happened", Align::Left), ("probability", Align::Right), ("how large, if so (90 %)", Align::Left)];
    let mut table = Table::new(&heads);
    for likely in &casting.causes {
        let known = likely.probability >= LIKELY;
        let size = if known { first_size(likely, &casting.trial.casting, units) } else { String::new() };
        table.push([cause_words(likely), percent(likely.probability, 1), size]);
    }
    table
}

fn prior_words(diagnosis: &Diagnosis) -> String {
    let each = diagnosis.prior.iter().filter(|(_, p)| *p > 0.0);
    let list: Vec<String> = each.map(|(cause, p)| format!("{} {}", cause.name(), fixed(100.0 * p, 1))).collect();
    format!(
        "Taken for granted before any reading, of 100 castings: {}. Say your shop's own odds instead.",
        list.join(", ")
    )
}

/// Whether the mold may have opened under pressure.
fn opened(casting: &DiagnosedCasting) -> bool {
    let is_open = |cause: Cause| matches!(cause, Cause::Leak | Cause::Clamp);
    casting.causes.iter().any(|c| is_open(c.cause) && c.probability >= LIKELY)
}
