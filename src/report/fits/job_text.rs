//! A whole job on a screen or two: predictions side by side, parameters, warnings, cautions.

use super::job::{facts, title};
use super::parameters::parameter_table;
use super::prediction::interval_words;
use super::trust::trust;
use super::words::casting_title;
use crate::fit::{Calibration, FreeRiseFit, Predicted, Prediction};
use crate::model::{Casting, Outcome};
use crate::report::describe::{run_sentence, wrapped};
use crate::report::display::{DisplayUnits, Shown};
use crate::report::page::{Section, sections_text};
use crate::report::table::{Align, Table};

/// The report of a whole job, short, as plain text: what comes out of each predicted casting and whether to trust it,
/// what the fits say of themselves, parameters, warnings, cautions. All else is on the page.
pub fn main_job_text(
    fit: &FreeRiseFit,
    calibration: &Calibration,
    predictions: &[(Casting, Prediction)],
    units: DisplayUnits,
) -> String {
    let mut out = vec![Section::Heading(title(fit, calibration))];
    for (number, predicted) in (1..).zip(predictions) {
        out.push(Section::Preformatted(verdict(number, fit, calibration, predicted, units)));
    }
    if !predictions.is_empty() {
        out.push(Section::Table(side_by_side(predictions, units)));
        out.push(interval_words());
    }
    out.push(headed("What the fits say of themselves", &facts(fit, calibration)));
    let shared = fit.estimates.iter().filter(|e| e.record.is_none());
    out.push(Section::Table(parameter_table(shared, true).titled("The grade and its cup tests (intervals: 95 %)")));
    let of_mold = calibration.estimates.iter().filter(|e| e.record.is_none() && !e.parameter.is_of_grade());
    out.push(Section::Table(
        parameter_table(of_mold, true).titled("The mold, and what differs from the cup (intervals: 95 %)"),
    ));
    let warnings: Vec<String> = fit.warnings.iter().chain(&calibration.warnings).cloned().collect();
    if !warnings.is_empty() {
        out.push(headed("What to know before using it", &warnings));
    }
    out.push(Section::Cautions);
    sections_text(&out)
}

/// A list under a line of its own.
fn headed(head: &str, items: &[String]) -> Section {
    let listed: String = items.iter().map(|item| wrapped(item, "- ", "  ")).collect();
    Section::Preformatted(format!("{head}\n{listed}"))
}

/// What a predicted casting comes to, and whether to trust it.
fn verdict(
    number: usize,
    fit: &FreeRiseFit,
    calibration: &Calibration,
    (casting, prediction): &(Casting, Prediction),
    units: DisplayUnits,
) -> String {
    let trust = trust(fit, calibration, (casting, prediction), units).key_number();
    let title = format!("Casting {number}: {}", casting_title(casting, units));
    let outcome = wrapped(&run_sentence(&prediction.run, units), "  ", "  ");
    let trusted = wrapped(&format!("{} {}: {}.", trust.label, trust.value, trust.note), "  ", "  ");
    format!("{title}\n{outcome}{trusted}")
}

fn side_by_side(predictions: &[(Casting, Prediction)], units: DisplayUnits) -> Table {
    let numbered: Vec<String> = (1..=predictions.len()).map(|number| format!("casting {number}")).collect();
    let pairs = numbered.iter().flat_map(|head| [(head.as_str(), Align::Right), ("95 % interval", Align::Right)]);
    let mut table = Table::new(&[("quantity", Align::Left)].into_iter().chain(pairs).collect::<Vec<_>>());
    for outcome in Outcome::predicted() {
        let cells = predictions.iter().flat_map(|(_, p)| cells(&units.of(outcome.quantity()), p.of(outcome)));
        table.push([outcome.row().words.to_owned()].into_iter().chain(cells));
    }
    table.titled("What comes out, for one more casting")
}

/// A value and its interval; at nothing lost there is none, for the slopes do not say how soon something would be.
fn cells(unit: &Shown, predicted: Option<&Predicted>) -> [String; 2] {
    match predicted {
        None => [String::new(), String::new()],
        Some(p) if unit.text(p.value) == unit.text(0.0) => [unit.text(p.value), String::new()],
        Some(p) => [unit.text(p.value), unit.interval(p.interval_95)],
    }
}
