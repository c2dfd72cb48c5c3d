//! Statuses, intervals, verdicts and settings of fits in words.

use crate::Result;
use crate::fit::{Estimate, Status};
use crate::inference::least_squares::Solution;
use crate::model::Casting;
use crate::report::display::{DisplayUnits, Shown};
use crate::report::number::{fixed, significant};
use crate::report::page::Section;
use crate::units::Quantity;

/// What a fit that converged does not say.
pub(super) const CONVERGED: &str = "(Converged is no judgment of the records.)";

/// The shared parameters that the records pull far from their priors, each in a sentence.
pub(super) fn far_words<'a>(estimates: impl Iterator<Item = &'a Estimate>) -> Vec<String> {
    let far = estimates.filter(|e| e.record.is_none() && e.is_far());
    far.map(|e| {
        let scale = e.parameter.label().scale;
        let (low, high) = e.prior_95();
        let (value, expected) = (significant(scale * e.value, 3), span(scale * low, scale * high, 3));
        format!(
            "{} is {value}, far from what was expected before (prior {expected}): it may stand for something else",
            e.name()
        )
    })
    .collect()
}

/// A parameter's status, short enough for a column: warnings and summaries name what it cannot be separated from.
pub(super) fn status_cell(estimate: &Estimate) -> String {
    match &estimate.status {
        Status::NotIdentified { .. } => "cannot be separated from others".to_owned(),
        _ => estimate.status_words(),
    }
}

/// Both ends of a fitted parameter's interval: four digits where it is narrow, else three.
pub(super) fn fitted_span(low: f64, high: f64) -> String {
    let is_narrow = (high - low).abs() < 0.1 * low.abs().max(high.abs());
    span(low, high, if is_narrow { 4 } else { 3 })
}

/// Both ends of an interval to so many significant digits.
pub(super) fn span(low: f64, high: f64, digits: usize) -> String {
    format!("{} to {}", significant(low, digits), significant(high, digits))
}

/// Measured and model side by side; `-` where one is absent. Empty where both are.
pub(super) fn against(unit: &Shown, measured: Option<f64>, model: Option<f64>) -> String {
    if measured.is_none() && model.is_none() {
        return String::new();
    }
    let one = |si: Option<f64>| si.map_or_else(|| "-".to_owned(), |si| fixed(unit.value(si), unit.decimals));
    format!("{} / {}", one(measured), one(model))
}

/// Whether a fit converged, how its starts agree, and why it ended, in words.
pub(super) fn fit_verdict(converged: bool, (agreeing, starts): (usize, usize), solution: &Solution) -> String {
    let verdict = if converged { "The fit converged." } else { "The fit did not converge: do not use its numbers." };
    let agree = match starts {
        0 | 1 => "It was run from one start only, so another answer was not looked for".to_owned(),
        _ => format!("{agreeing} of {starts} starts ended in this answer"),
    };
    let meaning = if converged { format!(" {CONVERGED}") } else { String::new() };
    format!("{verdict} {agree}; it ended because {}.{meaning}", solution.ending)
}

/// What is said of a setting that is left to the mold.
pub(super) const OWN: &str = "the mold's own";

/// The vents of a casting in the user's unit: `3.0 mm`, or the mold's own.
pub(super) fn vent_text(casting: &Casting, units: DisplayUnits) -> String {
    match casting.vent_diameters.as_slice() {
        [] => OWN.to_owned(),
        _ => format!("{} {}", vent_cell(casting, units), units.of(Quantity::Length).label),
    }
}

/// The vents of a casting under a head that names the unit.
pub(super) fn vent_cell(casting: &Casting, units: DisplayUnits) -> String {
    let length = units.of(Quantity::Length);
    let all: Vec<String> = casting.vent_diameters.iter().map(|d| fixed(length.value(*d), length.decimals)).collect();
    if all.is_empty() { "own".to_owned() } else { all.join(" + ") }
}

/// What a casting is called in headings: `62.0 g, vent 3.0 mm, mold at 30.0 °C`.
pub(super) fn casting_title(casting: &Casting, units: DisplayUnits) -> String {
    let (charge, wall) = (units.of(Quantity::Mass).text(casting.charge), units.of(Quantity::Temperature));
    format!("{charge}, vent {}, mold at {}", vent_text(casting, units), wall.text(casting.mold_temp))
}

/// A chart under its caption, or why there is none.
pub(super) fn chart_section(svg: Result<String>, caption: impl Into<String>) -> Section {
    let caption = caption.into();
    match svg {
        Ok(svg) => Section::Chart { svg, caption },
        Err(reason) => Section::Paragraph(format!("No chart ({caption}): {reason}")),
    }
}
