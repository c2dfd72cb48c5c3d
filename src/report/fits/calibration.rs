//! The report of a calibration: whether to trust it, the castings against the model, mold and grade, charts, advice.

use super::advice::advice;
use super::parameters::{own_table, parameter_table, strong_correlations};
use super::words::{against, chart_section, far_words, fit_verdict, vent_cell};
use crate::Result;
use crate::fit::{Calibration, Estimate, FittedCasting};
use crate::model::{FittedTo, Outcome, Verdict};
use crate::records::Trial;
use crate::report::chart::{Beside, Compared, PredictedWeighed, Sheet, doubted_chart, weighed_chart};
use crate::report::display::DisplayUnits;
use crate::report::number::fixed;
use crate::report::page::{Section, sections_text};
use crate::report::table::{Align, Table};
use crate::units::Quantity;

/// A casting's own difference beyond this many standard deviations is shown.
const NOTABLE: f64 = 1.5;
/// A misfit ratio above this says that something other than weighing differs between the castings.
pub(super) const SCATTERED: f64 = 1.5;

/// The calibration of a mold, in sections: header, verdict, castings against the model, own differences, parameters,
/// correlations, warnings, what would help, charts.
pub fn describe_calibration(calibration: &Calibration, units: DisplayUnits) -> Vec<Section> {
    let cal = calibration;
    let mut out = vec![
        Section::Heading(format!("Mold {}: calibrated to {} castings", cal.mold.name, cal.castings.len())),
        Section::Paragraph(fit_verdict(cal.converged, cal.agreeing_starts, &cal.solution)),
        Section::Paragraph(misfit_words(cal.misfit_ratio)),
        Section::Paragraph(scatter_words(cal)),
    ];
    let warnings: Vec<String> = cal.warnings.iter().cloned().chain(far_from_prior(cal)).collect();
    if !warnings.is_empty() {
        out.push(Section::Paragraph("What to know before using it:".to_owned()));
        out.push(Section::List(warnings));
    }
    out.push(weighed_section(cal, units));
    out.push(Section::Table(casting_table(cal, units)));
    let notable: Vec<&Estimate> = cal.estimates.iter().filter(|e| is_notable(e)).collect();
    if !notable.is_empty() {
        let title = "What made single castings differ, where it is more than usual";
        out.push(Section::Table(own_table("trial", &notable, units).titled(title)));
    }
    let shared = || cal.estimates.iter().filter(|e| e.record.is_none());
    let of_mold = shared().filter(|e| !e.parameter.is_of_grade());
    out.push(Section::Table(
        parameter_table(of_mold, true).titled("The mold, and what differs from the cup (intervals: 95 %)"),
    ));
    let of_grade = shared().filter(|e| e.parameter.is_of_grade());
    out.push(Section::Table(parameter_table(of_grade, false).titled("The grade, as cup tests and castings leave it")));
    let lists = [
        ("What these castings determine only together:", strong_correlations(&cal.estimates, cal.covariance())),
        ("What would determine more:", advice(&shared().filter(|e| is_for_castings(e)).cloned().collect::<Vec<_>>())),
    ];
    for (lead, lines) in lists.into_iter().filter(|(_, lines)| !lines.is_empty()) {
        out.extend([Section::Paragraph(lead.to_owned()), Section::List(lines)]);
    }
    out.extend(traced(cal).map(|trial| trace_section(cal, trial, units)));
    out
}

/// The same as plain text.
pub fn describe_calibration_text(calibration: &Calibration, units: DisplayUnits) -> String {
    sections_text(&describe_calibration(calibration, units))
}

/// All charts of a calibration with their names: predicted against weighed, and each casting that has a trace.
pub(super) fn charts(cal: &Calibration, units: DisplayUnits) -> Vec<(String, Result<String>)> {
    let mut out = vec![("weighed".to_owned(), calibration_chart(cal, Sheet { units, ..Sheet::default() }))];
    out.extend(traced(cal).map(|trial| (format!("casting_{}", trial.name), trace_svg(cal, trial, units))));
    out
}

/// What the ratio of misfit to allowed scatter means.
pub(super) fn misfit_words(ratio: f64) -> String {
    let ratio_text = fixed(ratio, 2);
    if ratio <= 1.0 {
        format!(
            "The castings fit as well as scales and gauges allow (misfit ratio {ratio_text}, at most 1 is expected)."
        )
    } else if ratio <= SCATTERED {
        format!(
            "The castings fit nearly as well as scales and gauges allow (misfit ratio {ratio_text}); all errors were \
             widened to match."
        )
    } else {
        format!(
            "The castings scatter more than scales and gauges explain (misfit ratio {ratio_text}): something else \
             differs between them. All errors were widened to match."
        )
    }
}

/// How much castings scatter, as found.
pub(super) fn scatter_words(cal: &Calibration) -> String {
    format!(
        "Weighings and readings scatter {}; what makes castings differ (lot, \
         temperatures, charge) {}. Intervals use both.",
        as_usual(cal.casting_scatter),
        as_usual(cal.lot_scatter)
    )
}

/// A factor on the usual scatter, in words and as a number.
fn as_usual(factor: f64) -> String {
    let words = match factor {
        x if x < 0.45 => "less than half as much as is usual",
        x if x <= 0.55 => "half as much as is usual",
        x if x < 0.9 => "less than is usual",
        x if x <= 1.1 => "as much as is usual",
        x if x < 1.8 => "more than is usual",
        x if x <= 2.2 => "twice as much as is usual",
        _ => "more than twice as much as is usual",
    };
    format!("{words} (factor {})", fixed(factor, 2))
}

/// The mold's parameters that castings pull far from their priors; those of the grade come from the cup tests.
pub(super) fn far_from_prior(cal: &Calibration) -> Vec<String> {
    far_words(cal.estimates.iter().filter(|e| !e.parameter.is_of_grade()))
}

/// Whether castings, not cup tests, are to determine a parameter.
fn is_for_castings(estimate: &Estimate) -> bool {
    estimate.parameter.row().fitted_to == FittedTo::Castings
}

fn is_notable(estimate: &Estimate) -> bool {
    estimate.record.is_some() && estimate.prior.sds(estimate.value).abs() > NOTABLE
}

fn casting_table(cal: &Calibration, units: DisplayUnits) -> Table {
    let (mass, pressure) = (units.of(Quantity::Mass), units.of(Quantity::GaugePressure));
    let heads = [
        "trial".to_owned(),
        mass.named("charge"),
        units.of(Quantity::Length).named("vent"),
        mass.named("part"),
        mass.named("vent loss"),
        mass.named("flash"),
        pressure.named("peak"),
        "outcome".to_owned(),
        "worst misfit".to_owned(),
    ];
    let align = |i: usize| if matches!(i, 0 | 7) { Align::Left } else { Align::Right };
    let heads: Vec<(&str, Align)> = heads.iter().enumerate().map(|(i, head)| (head.as_str(), align(i))).collect();
    let mut table = Table::new(&heads).titled("Castings, measured / model (misfit in standard deviations)");
    cal.castings.iter().for_each(|casting| table.push(casting_row(casting, units)));
    table
}

fn casting_row(casting: &FittedCasting, units: DisplayUnits) -> Vec<String> {
    let (mass, pressure) = (units.of(Quantity::Mass), units.of(Quantity::GaugePressure));
    let FittedCasting { trial, result, .. } = casting;
    let stop = if trial.gauge_at_stop { "at least " } else { "" };
    let peak = trial.peak_pressure.or_else(|| traced_peak(trial));
    let seen = trial.outcome.map_or("-", Verdict::name);
    let odd = if casting.is_odd() { " (!)" } else { "" };
    vec![
        trial.name.clone(),
        fixed(mass.value(trial.casting.charge), mass.decimals),
        vent_cell(&trial.casting, units),
        against(&mass, trial.part_mass, Some(result.scale_reading)),
        against(&mass, trial.vent_loss, Some(result.vent_loss)),
        against(&mass, trial.flash, Some(result.flash)),
        format!("{stop}{}", against(&pressure, peak, Some(result.peak_pressure))),
        format!("{seen} / {}", result.verdict.name()),
        format!("{}{odd}", fixed(casting.worst_misfit, 1)),
    ]
}

/// Highest pressure of a trace before demold.
fn traced_peak(trial: &Trial) -> Option<f64> {
    let trace = trial.trace.as_ref()?;
    let readings = trace.time.iter().zip(trace.pressure.as_ref()?);
    let kept = readings.filter(|(t, p)| p.is_finite() && **t <= trial.casting.demold_time);
    kept.map(|(_, p)| *p).reduce(f64::max)
}

fn weighed_section(cal: &Calibration, units: DisplayUnits) -> Section {
    let caption = "Each casting as it would have been predicted, its own differences not known, against what was \
                   measured. Bars: 95 % for one casting.";
    let sheet = Sheet { units, ..Sheet::default() };
    chart_section(calibration_chart(cal, sheet), caption)
}

/// Draws each casting as it would have been predicted, against what was weighed and measured.
///
/// # Errors
/// As [`weighed_chart`].
pub fn calibration_chart(cal: &Calibration, sheet: Sheet) -> Result<String> {
    let rows: Vec<PredictedWeighed> = cal.castings.iter().map(|casting| weighed_row(cal, casting)).collect();
    weighed_chart(&rows, sheet)
}

fn weighed_row(cal: &Calibration, casting: &FittedCasting) -> PredictedWeighed {
    let FittedCasting { trial, predicted, .. } = casting;
    // Where no interval can be had, the point stands without one.
    let next = cal.predict(&trial.casting).ok();
    let compared = |measured: f64, predicted: f64, interval: Option<(f64, f64)>, is_at_stop: bool| Compared {
        predicted,
        interval_95: interval.map(|(low, high)| [low, high]),
        measured,
        measured_error: None,
        is_at_stop,
    };
    let mass = next.as_ref().map(|p| p.at(Outcome::ScaleReading).interval_95);
    let peak = next.as_ref().map(|p| p.at(Outcome::PeakPressure).interval_95);
    let read = trial.peak_pressure.or_else(|| traced_peak(trial));
    PredictedWeighed {
        name: trial.name.clone(),
        part_mass: trial.part_mass.map(|m| compared(m, predicted.scale_reading, mass, false)),
        peak_pressure: read.map(|p| compared(p, predicted.peak_pressure, peak, trial.gauge_at_stop)),
        is_outlier: casting.is_odd(),
    }
}

fn traced(cal: &Calibration) -> impl Iterator<Item = &Trial> {
    cal.castings.iter().map(|casting| &casting.trial).filter(|trial| trial.trace.is_some())
}

fn trace_section(cal: &Calibration, trial: &Trial, units: DisplayUnits) -> Section {
    let caption = format!(
        "{} as it would have been predicted, its own differences not known, and what was logged. The bar at the peak \
         is its 95 % interval. The pale band is what the model is expected to miss of a trace, one standard deviation \
         either way: the fit does not follow a trace more closely than that.",
        trial.name
    );
    chart_section(trace_svg(cal, trial, units), caption)
}

fn trace_svg(cal: &Calibration, trial: &Trial, units: DisplayUnits) -> Result<String> {
    let run = cal.simulate(&trial.casting)?;
    let sheet = Sheet { units, height: 680, ..Sheet::default() };
    // Where no interval can be had, the peak stands without one.
    let peak_95 = cal.predict(&trial.casting).ok().map(|p| p.at(Outcome::PeakPressure).interval_95);
    doubted_chart(&run, Beside { observed: trial.trace.as_ref(), peak_95 }, &format!("Casting {}", trial.name), sheet)
}
