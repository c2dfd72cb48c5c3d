//! The report of a predicted casting: settings, quantities with intervals, what is doubt and what is scatter, the
//! chart.

use super::words::{OWN, casting_title, chart_section};
use crate::Result;
use crate::fit::{Predicted, Prediction};
use crate::model::{Absent, Casting, Outcome, Setting};
use crate::records::Trace;
use crate::report::chart::{Beside, Sheet, doubted_chart};
use crate::report::describe::{DOUBT_AND_SCATTER, outcome_text, run_sentence};
use crate::report::display::{DisplayUnits, Shown};
use crate::report::number::fixed;
use crate::report::page::{KeyNumber, Section, sections_text};
use crate::report::table::{Align, Table};
use crate::units::Quantity;

/// What the chart shows.
const CHARTED: &str =
    "The casting at the best estimates. The bar at the peak is its 95 % interval, for one more casting.";

/// The prediction of a casting, in sections: key numbers, verdict, settings, quantities with intervals, chart,
/// cautions.
pub fn describe_prediction(prediction: &Prediction, casting: &Casting, units: DisplayUnits) -> Vec<Section> {
    let mut out = vec![
        Section::Heading(format!("Predicted: {}", casting_title(casting, units))),
        Section::KeyNumbers(key_numbers(prediction, units)),
    ];
    out.extend(details(prediction, casting, units));
    out.push(interval_words());
    out.push(Section::Cautions);
    out
}

/// The same as plain text.
pub fn describe_prediction_text(prediction: &Prediction, casting: &Casting, units: DisplayUnits) -> String {
    sections_text(&describe_prediction(prediction, casting, units))
}

/// What an interval holds; once in a report, however many castings it predicts.
pub(super) fn interval_words() -> Section {
    Section::Paragraph(format!("{DOUBT_AND_SCATTER} An interval holds both, for one more casting."))
}

/// All but heading, key numbers and cautions.
pub(super) fn details(prediction: &Prediction, casting: &Casting, units: DisplayUnits) -> Vec<Section> {
    vec![
        Section::Paragraph(run_sentence(&prediction.run, units)),
        chart_section(chart(prediction, casting, units), CHARTED),
        Section::Table(quantity_table(prediction, units)),
        Section::Table(settings_table(casting, units)),
    ]
}

pub(super) fn chart(prediction: &Prediction, casting: &Casting, units: DisplayUnits) -> Result<String> {
    let sheet = Sheet { units, height: 680, ..Sheet::default() };
    prediction_chart(prediction, None, &casting_title(casting, units), sheet)
}

/// Draws a predicted casting as [`casting_chart`](crate::report::casting_chart) does its run, with the 95 % interval of
/// the peak as a bar and in numbers. Returns an SVG document.
///
/// # Errors
/// As [`casting_chart`](crate::report::casting_chart).
pub fn prediction_chart(
    prediction: &Prediction,
    observed: Option<&Trace>,
    title: &str,
    sheet: Sheet,
) -> Result<String> {
    let beside = Beside { observed, peak_95: Some(prediction.at(Outcome::PeakPressure).interval_95) };
    doubted_chart(&prediction.run, beside, title, sheet)
}

/// Peak pressure, density, fill against gel.
pub(super) fn key_numbers(prediction: &Prediction, units: DisplayUnits) -> Vec<KeyNumber> {
    let key = |label: &str, unit: Shown, p: &Predicted| {
        let is_nothing = unit.text(p.value) == unit.text(0.0);
        let note = format!("95 %: {}", unit.interval(p.interval_95));
        let note = if is_nothing { "none builds up at the best estimates".to_owned() } else { note };
        KeyNumber::new(label, unit.text(p.value), note)
    };
    vec![
        key("Peak back pressure, gauge", units.of(Quantity::GaugePressure), &prediction.at(Outcome::PeakPressure)),
        key("Density of the part", units.of(Quantity::Density), &prediction.at(Outcome::Density)),
        fill_against_gel(prediction, units),
    ]
}

/// How much earlier it fills than it gels, and whether that is safe.
fn fill_against_gel(prediction: &Prediction, units: DisplayUnits) -> KeyNumber {
    let time = units.of(Quantity::Time);
    let label = "Fills before it gels by";
    match (prediction.of(Outcome::FillTime), prediction.of(Outcome::GelTime)) {
        (Some(fill), Some(gel)) => {
            let close = if fill.interval_95.1 < gel.interval_95.0 { "" } else { "; their intervals meet" };
            let note = format!("fills at {}, gels at {}{close}", time.text(fill.value), time.text(gel.value));
            KeyNumber::new(label, time.text(gel.value - fill.value), note)
        }
        (None, Some(gel)) => {
            let filled = fixed(100.0 * prediction.run.result.fill_fraction, 0);
            KeyNumber::new(label, "Does not fill", format!("gels at {} with {filled} % filled", time.text(gel.value)))
        }
        (Some(fill), None) => {
            KeyNumber::new(label, "Does not gel", format!("fills at {}, still flows at demold", time.text(fill.value)))
        }
        (None, None) => KeyNumber::new(label, "Neither", "neither fills nor gels before demold"),
    }
}

fn quantity_table(prediction: &Prediction, units: DisplayUnits) -> Table {
    let mut table = Table::new(&[
        ("quantity", Align::Left),
        ("predicted", Align::Right),
        ("95 % interval", Align::Right),
        ("doubt", Align::Right),
        ("scatter", Align::Right),
    ])
    .titled("What comes out, for one more casting");
    for (outcome, predicted) in prediction.all() {
        let unit = units.of(outcome.quantity());
        let row = predicted.map_or_else(|| [(); 4].map(|()| "-".to_owned()), |p| interval_row(&unit, p));
        table.push([outcome.row().words.to_owned()].into_iter().chain(row));
    }
    for row in Outcome::reported(&prediction.run).filter(|row| !row.predicted) {
        table.push([row.words.to_owned(), outcome_text(row.outcome, &prediction.run, units)]);
    }
    table
}

fn interval_row(unit: &Shown, p: &Predicted) -> [String; 4] {
    let spread = |si: f64| format!("± {}", fixed(unit.difference(si), unit.decimals + 1));
    // At nothing lost the slopes say nothing of how soon something would be.
    if unit.text(p.value) == unit.text(0.0) {
        return [unit.text(p.value), String::new(), String::new(), String::new()];
    }
    [unit.text(p.value), unit.interval(p.interval_95), spread(p.doubt), spread(p.scatter)]
}

/// Every setting with its value, or that it is the mold's own; what there is not is left out.
fn settings_table(casting: &Casting, units: DisplayUnits) -> Table {
    let mut table = Table::new(&[("setting", Align::Left), ("value", Align::Right)]).titled("Settings");
    for row in Setting::all().map(Setting::row) {
        let unit = units.of(row.quantity());
        let values: Vec<String> = row.setting.values(casting).into_iter().map(|si| unit.text(si)).collect();
        match row.absent {
            _ if !values.is_empty() => table.push([row.words.to_owned(), values.join(" + ")]),
            Absent::OfMold(_) => table.push([row.words, OWN]),
            _ => {}
        }
    }
    table
}
