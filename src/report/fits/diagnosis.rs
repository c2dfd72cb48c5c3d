//! The report of a diagnosis: how each casting fits the others, what most likely happened to one that does not, what to
//! look at.

use super::cause_words::{all_effects, cause_words, check_words, first_effect, separation_words};
use super::words::chart_section;
use crate::Result;
use crate::diagnose::{DiagnosedCasting, Diagnosis, LikelyCause, ReadingKind, ReadingResidual};
use crate::report::chart::{Deviating, Sheet, deviation_chart};
use crate::report::describe::DOUBT_AND_SCATTER;
use crate::report::display::DisplayUnits;
use crate::report::number::{fixed, percent};
use crate::report::page::{Section, sections_text};
use crate::report::table::{Align, Table};

/// Causes below this probability are listed without more.
const LIKELY: f64 = 0.05;
/// How many causes are shown with their checks.
const CHECKED: usize = 3;

/// The diagnosis in sections: how the castings fit, a chart, then each one that does not.
pub fn describe_diagnosis(diagnosis: &Diagnosis, units: DisplayUnits) -> Vec<Section> {
    let mut out = vec![
        Section::Heading("How each casting fits the others".to_owned()),
        Section::Paragraph(verdict(diagnosis)),
        Section::Table(residual_table(diagnosis)),
        Section::Paragraph(DOUBT_AND_SCATTER.to_owned()),
        chart_section(
            diagnosis_chart(diagnosis, Sheet { units, ..Sheet::default() }),
            "Each reading against what the other castings predict for it.",
        ),
    ];
    let explained: Vec<_> = diagnosis.castings.iter().filter(|c| !c.causes.is_empty()).collect();
    explained.iter().for_each(|casting| out.extend(casting_sections(casting, units)));
    if !explained.is_empty() {
        out.push(Section::Paragraph(prior_words(diagnosis)));
    }
    if !diagnosis.warnings.is_empty() {
        out.push(Section::List(diagnosis.warnings.clone()));
    }
    if explained.iter().any(|casting| opened(casting)) {
        out.push(Section::Paragraph(
            "Foam may have found a way out under pressure: inspect mold, seam and clamps before the mold is closed \
             again, and ask someone licensed where local codes say so. Gaps and pressures given here are no measure of \
             what a clamp or a mold can bear."
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
            readings: c.readings.iter().map(|m| (m.kind.row().series, m.deviations)).collect(),
            is_odd: c.is_odd,
        })
        .collect();
    deviation_chart(&rows, sheet)
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

fn residual_table(diagnosis: &Diagnosis) -> Table {
    let has = |kind: &ReadingKind| diagnosis.castings.iter().flat_map(|c| &c.readings).any(|m| m.kind == *kind);
    let mut columns: Vec<&str> = ReadingKind::all().filter(has).map(|kind| kind.row().column).collect();
    columns.dedup();
    let mut heads = vec![("trial", Align::Left)];
    heads.extend(columns.iter().map(|head| (*head, Align::Right)));
    heads.extend([("as far off by chance", Align::Right), ("", Align::Left)]);
    let mut table = Table::new(&heads).titled(
        "Measured less predicted by the others, in standard deviations (doubt, scatter and error of the reading)",
    );
    for casting in &diagnosis.castings {
        let cell = |column: &str| {
            let found = casting.readings.iter().find(|m| m.kind.row().column == column);
            found.map_or(String::new(), |m| fixed(m.deviations, 1))
        };
        let mut row = vec![casting.trial.name.clone()];
        row.extend(columns.iter().map(|column| cell(column)));
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
        Section::Paragraph(headline(casting)),
        Section::Table(reading_table(casting, units)),
        Section::Table(cause_table(casting, units)),
    ];
    let likely = casting.causes.iter().filter(|c| c.probability >= LIKELY).take(CHECKED);
    let mut checks: Vec<String> = likely.map(|c| effects_and_check(c, casting, units)).collect();
    if let [_, second, ..] = casting.causes.as_slice() {
        let open = casting.separation.as_ref().filter(|_| second.probability >= LIKELY);
        checks.extend(open.map(|separation| separation_words(separation, units)));
    }
    out.push(Section::List(checks));
    out
}

/// How large a cause would be, and what to look at to make sure of it.
fn effects_and_check(likely: &LikelyCause, casting: &DiagnosedCasting, units: DisplayUnits) -> String {
    let casting = &casting.trial.casting;
    let effects = all_effects(likely, casting, units);
    let effects = if effects.is_empty() { effects } else { format!("{effects}. To check: ") };
    format!("{}: {effects}{}.", cause_words(likely), check_words(likely, casting, units))
}

/// The likeliest cause, or the two that compete, in a sentence.
fn headline(casting: &DiagnosedCasting) -> String {
    let named = |likely: &LikelyCause| format!("{} ({})", cause_words(likely), percent(likely.probability, 0));
    match casting.causes.as_slice() {
        [] => String::new(),
        [first, second, ..] if second.probability >= LIKELY => {
            format!("Most likely {}, or {}.", named(first), named(second))
        }
        [first, ..] => format!("Most likely {}.", named(first)),
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

fn reading_row(m: &ReadingResidual, units: DisplayUnits) -> Vec<String> {
    let unit = m.kind.quantity().map(|quantity| units.of(quantity));
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
    vec![m.kind.row().words.to_owned(), shown(m.measured), predicted, fixed(m.deviations, 1)]
}

fn cause_table(casting: &DiagnosedCasting, units: DisplayUnits) -> Table {
    let heads =
        [("what happened", Align::Left), ("probability", Align::Right), ("how large, if so (90 %)", Align::Left)];
    let mut table = Table::new(&heads);
    for likely in &casting.causes {
        let known = likely.probability >= LIKELY;
        let effect = if known { first_effect(likely, &casting.trial.casting, units) } else { String::new() };
        table.push([cause_words(likely), percent(likely.probability, 1), effect]);
    }
    table
}

fn prior_words(diagnosis: &Diagnosis) -> String {
    let each = diagnosis.prior.iter().filter(|(_, p)| *p > 0.0);
    let list: Vec<String> = each.map(|(cause, p)| format!("{} {}", cause.name(), fixed(100.0 * p, 1))).collect();
    format!(
        "Prior odds, of 100 castings: {}. Give the odds of your own shop if you know them (`odds`).",
        list.join(", ")
    )
}

/// Whether the mold may have opened under pressure.
fn opened(casting: &DiagnosedCasting) -> bool {
    casting.causes.iter().any(|c| c.cause.row().opens_mold && c.probability >= LIKELY)
}
