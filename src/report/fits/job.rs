//! The page of a whole job: the numbers to see first, then predictions, calibration and fit.

use super::trust::trust;
use super::words::{CONVERGED, casting_title};
use super::{calibration, free_rise, prediction};
use crate::Result;
use crate::fit::{Calibration, FreeRiseFit, Prediction};
use crate::model::Casting;
use crate::report::display::DisplayUnits;
use crate::report::page::{Page, Section};

/// The report of a whole job as one page: in short, each predicted casting, the mold, the grade.
pub fn main_job_page(
    fit: &FreeRiseFit,
    calibration: &Calibration,
    predictions: &[(Casting, Prediction)],
    units: DisplayUnits,
) -> Page {
    let mut page = Page::new(title(fit, calibration));
    page.sections = in_short(fit, calibration, predictions, units);
    page.sections.push(prediction::interval_words());
    page.sections.push(Section::Cautions);
    for (casting, predicted) in predictions {
        page.sections.push(Section::Heading(format!("Predicted: {}", casting_title(casting, units))));
        page.sections.extend(prediction::details(predicted, casting, units));
    }
    page.sections.extend(calibration::describe_calibration(calibration, units));
    page.sections.extend(free_rise::describe_free_rise(fit, units));
    page
}

/// What a job is called.
pub(super) fn title(fit: &FreeRiseFit, calibration: &Calibration) -> String {
    format!("Grade {} in mold {}", fit.grade.name, calibration.mold.name)
}

/// The charts of a whole job, each with a file name that ends in `.svg`; one that cannot be drawn is left out.
pub fn main_job_charts(
    fit: &FreeRiseFit,
    calibration: &Calibration,
    predictions: &[(Casting, Prediction)],
    units: DisplayUnits,
) -> Vec<(String, String)> {
    let predicted = predictions.iter().enumerate();
    let predicted =
        predicted.map(|(i, (casting, p))| (format!("predicted_{}", i + 1), prediction::chart(p, casting, units)));
    let all: Vec<(String, Result<String>)> =
        predicted.chain(calibration::charts(calibration, units)).chain(free_rise::charts(fit, units)).collect();
    let mut out: Vec<(String, String)> = Vec::new();
    for (name, svg) in all {
        if let Ok(svg) = svg {
            let name = unused_name(&file_stem(&name), &out);
            out.push((name, svg));
        }
    }
    out
}

/// A name that any file system takes: letters, digits, `-` and `_`.
fn file_stem(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '_' }).collect()
}

fn unused_name(stem: &str, taken: &[(String, String)]) -> String {
    let is_taken = |name: &str| taken.iter().any(|(other, _)| other.eq_ignore_ascii_case(name));
    let plain = format!("{stem}.svg");
    if !is_taken(&plain) {
        return plain;
    }
    (2..).map(|i| format!("{stem}_{i}.svg")).find(|name| !is_taken(name)).unwrap_or(plain)
}

fn in_short(
    fit: &FreeRiseFit,
    cal: &Calibration,
    predictions: &[(Casting, Prediction)],
    units: DisplayUnits,
) -> Vec<Section> {
    let mut out = vec![Section::Heading("In short".to_owned())];
    for (casting, predicted) in predictions {
        let mut numbers = prediction::key_numbers(predicted, units);
        numbers.push(trust(fit, cal, (casting, predicted), units).key_number());
        out.push(Section::Paragraph(format!(
            "Next casting: {}. Expected: {}.",
            casting_title(casting, units),
            predicted.run.result.verdict.row().part.to_lowercase()
        )));
        out.push(Section::KeyNumbers(numbers));
    }
    out.push(Section::List(facts(fit, cal)));
    out
}

/// What the fits say of themselves, each in a sentence.
pub(super) fn facts(fit: &FreeRiseFit, cal: &Calibration) -> Vec<String> {
    let mut facts = vec![
        format!("Grade {}, from {} cup tests: {}", fit.grade.name, fit.logs.len(), converged(fit.converged)),
        format!(
            "Mold {}, from {} castings: {} {CONVERGED}",
            cal.mold.name,
            cal.castings.len(),
            converged(cal.converged)
        ),
        calibration::misfit_words(cal.misfit_ratio),
        calibration::scatter_words(cal),
    ];
    facts.extend(calibration::far_from_prior(cal).into_iter().map(|fact| format!("{fact}.")));
    facts
}

fn converged(yes: bool) -> &'static str {
    if yes { "the fit converged." } else { "the fit did not converge; do not use its numbers." }
}
