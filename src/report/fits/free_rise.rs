//! The report of a free-rise fit: what was fitted, whether to trust it, constants, scatter, charts, advice.

use super::advice::advice;
use super::parameters::{own_table, parameter_table, strong_correlations};
use super::words::{against, chart_section, far_words, fit_verdict};
use crate::Result;
use crate::fit::{Estimate, FittedLog, FreeRiseFit, SeriesNoise};
use crate::report::chart::{ModelCurve, Sheet, rise_curve_chart, rise_log_chart};
use crate::report::display::DisplayUnits;
use crate::report::number::fixed;
use crate::report::page::{Section, sections_text};
use crate::report::table::{Align, Table};
use crate::units::Quantity;

/// Points of a fitted curve.
const POINTS: usize = 400;

/// The fit of a grade to its cup tests, in sections: header, verdict, constants, each log's own differences, measured
/// against fitted, correlations, warnings, what would help, charts.
pub fn describe_free_rise(fit: &FreeRiseFit, units: DisplayUnits) -> Vec<Section> {
    let mut out = vec![
        Section::Heading(format!("Grade {}: fitted to {} cup tests", fit.grade.name, fit.logs.len())),
        Section::Paragraph(fit_verdict(fit.converged, fit.agreeing_starts, &fit.solution)),
        Section::Paragraph(what_was_fitted(fit)),
    ];
    let warnings: Vec<String> = fit.warnings.iter().cloned().chain(far_words(fit.estimates.iter())).collect();
    if !warnings.is_empty() {
        out.push(Section::Paragraph("What to know before using it:".to_owned()));
        out.push(Section::List(warnings));
    }
    out.push(overlay(fit, units));
    let shared = fit.estimates.iter().filter(|e| e.record.is_none());
    out.push(Section::Table(
        parameter_table(shared, true).titled("Constants of the grade and of the cup test (intervals: 95 %)"),
    ));
    let own: Vec<&Estimate> = fit.estimates.iter().filter(|e| e.record.is_some()).collect();
    if !own.is_empty() {
        out.push(Section::Table(own_table("log", &own, units).titled("What made each log differ from the others")));
    }
    out.push(Section::Table(times_table(fit, units)));
    out.push(Section::Table(scatter_table(fit, units)));
    let lists = [
        ("Constants that these logs determine only together:", strong_correlations(&fit.estimates, &fit.covariance)),
        ("What would determine more:", advice(&fit.estimates)),
    ];
    for (lead, lines) in lists.into_iter().filter(|(_, lines)| !lines.is_empty()) {
        out.extend([Section::Paragraph(lead.to_owned()), Section::List(lines)]);
    }
    out.extend((0..fit.logs.len()).map(|i| log_section(fit, i, units)));
    out
}

/// The same as plain text.
pub fn describe_free_rise_text(fit: &FreeRiseFit, units: DisplayUnits) -> String {
    sections_text(&describe_free_rise(fit, units))
}

/// All charts of the fit with their names: the overlay and one of each log.
pub(super) fn charts(fit: &FreeRiseFit, units: DisplayUnits) -> Vec<(String, Result<String>)> {
    let mut out = vec![("rise_curves".to_owned(), overlay_svg(fit, units))];
    out.extend((0..fit.logs.len()).map(|i| (format!("rise_{}", fit.logs[i].log.name), log_svg(fit, i, units))));
    out
}

fn overlay(fit: &FreeRiseFit, units: DisplayUnits) -> Section {
    chart_section(overlay_svg(fit, units), "All cup tests with the fitted grade.")
}

fn overlay_svg(fit: &FreeRiseFit, units: DisplayUnits) -> Result<String> {
    let curves = (0..fit.logs.len()).map(|i| model_curve(fit, i)).collect::<Result<Vec<_>>>()?;
    let pairs: Vec<_> = fit.logs.iter().zip(&curves).map(|(fitted, curve)| (&fitted.log, Some(curve))).collect();
    rise_curve_chart(&pairs, &format!("Grade {}", fit.grade.name), Sheet { units, ..Sheet::default() })
}

fn log_section(fit: &FreeRiseFit, index: usize, units: DisplayUnits) -> Section {
    let caption = format!("{} with its fitted curve and what it leaves over.", fit.logs[index].log.name);
    chart_section(log_svg(fit, index, units), caption)
}

fn log_svg(fit: &FreeRiseFit, index: usize, units: DisplayUnits) -> Result<String> {
    let curve = model_curve(fit, index)?;
    rise_log_chart(&fit.logs[index].log, Some(&curve), Sheet { units, height: 760, ..Sheet::default() })
}

/// The fitted curve of a log, close enough for a smooth line.
fn model_curve(fit: &FreeRiseFit, index: usize) -> Result<ModelCurve> {
    let FittedLog { log, rise, .. } = &fit.logs[index];
    let watch = &log.stopwatch;
    let first = log.time.first().copied().unwrap_or(0.0);
    let taken = [watch.cream, watch.string_gel, watch.end_of_rise, watch.tack_free, rise.end_of_rise];
    let last = taken.into_iter().flatten().chain(log.time.last().copied()).fold(first, f64::max);
    let time: Vec<f64> = (0..POINTS).map(|i| first + (last - first) * i as f64 / (POINTS - 1) as f64).collect();
    let curve = fit.curve(index, &time)?;
    Ok(ModelCurve {
        time,
        height_or_volume: curve.height_or_volume,
        sensed_temp: curve.rise.sensed,
        stopwatch: fit.logs[index].stopwatch(),
    })
}

impl ModelCurve {
    /// The fitted curve at the log's own times.
    pub fn at_readings(fitted: &FittedLog) -> Self {
        ModelCurve {
            time: fitted.log.time.clone(),
            height_or_volume: fitted.height_or_volume.clone(),
            sensed_temp: fitted.rise.sensed.clone(),
            stopwatch: fitted.stopwatch(),
        }
    }
}

/// How many readings went in, and for how many they count.
fn what_was_fitted(fit: &FreeRiseFit) -> String {
    let noises = || fit.logs.iter().flat_map(|l| [l.rise_noise, l.temp_noise]).flatten();
    let readings: usize = noises().map(|n| n.count).sum();
    let independent: f64 = noises().map(|n| n.effective).sum();
    let singles: usize = fit.logs.iter().map(singles).sum();
    let names: Vec<&str> = fit.logs.iter().map(|l| l.log.name.as_str()).collect();
    format!(
        "Logs: {}. {readings} readings of height, volume or temperature count as {independent:.0} independent ones, \
         because neighbors repeat each other; {singles} stopwatch times and densities.",
        names.join(", ")
    )
}

fn singles(fitted: &FittedLog) -> usize {
    let watch = &fitted.log.stopwatch;
    let all = [watch.cream, watch.string_gel, watch.end_of_rise, fitted.log.free_rise_density];
    all.iter().flatten().count()
}

/// Density at rest: the foam settles after the top of its rise.
pub(super) fn fitted_density(fit: &FreeRiseFit, fitted: &FittedLog) -> f64 {
    fitted.rise.density / (1.0 - fit.grade.constants.settling)
}

fn times_table(fit: &FreeRiseFit, units: DisplayUnits) -> Table {
    let (time, density) = (units.of(Quantity::Time), units.of(Quantity::Density));
    let heads = [
        "log".to_owned(),
        time.named("cream"),
        time.named("string gel"),
        time.named("end of rise"),
        time.named("tack free"),
        density.named("free-rise density"),
    ];
    let heads: Vec<(&str, Align)> =
        heads.iter().enumerate().map(|(i, h)| (h.as_str(), if i == 0 { Align::Left } else { Align::Right })).collect();
    let mut table = Table::new(&heads).titled("Stopwatch and density, measured / fitted (tack free is not fitted)");
    for fitted in &fit.logs {
        let (taken, model) = (&fitted.log.stopwatch, fitted.stopwatch());
        table.push([
            fitted.log.name.clone(),
            against(&time, taken.cream, model.cream),
            against(&time, taken.string_gel, model.string_gel),
            against(&time, taken.end_of_rise, model.end_of_rise),
            against(&time, taken.tack_free, model.tack_free),
            against(&density, fitted.log.free_rise_density, Some(fitted_density(fit, fitted))),
        ]);
    }
    table
}

fn scatter_table(fit: &FreeRiseFit, units: DisplayUnits) -> Table {
    let mut table = Table::new(&[
        ("log", Align::Left),
        ("series", Align::Left),
        ("scatter", Align::Right),
        ("readings", Align::Right),
        ("count as", Align::Right),
    ]);
    for fitted in &fit.logs {
        let (name, quantity) = match fitted.log.height {
            Some(_) => ("height", Quantity::Length),
            None => ("volume", Quantity::Volume),
        };
        let series =
            [(name, quantity, fitted.rise_noise), ("temperature", Quantity::TemperatureRise, fitted.temp_noise)];
        for (name, quantity, noise) in series {
            noise.iter().for_each(|n| table.push(scatter_row(&fitted.log.name, name, n, quantity, units)));
        }
    }
    table.titled("Scatter of the readings about the fitted curves (root mean square)")
}

fn scatter_row(log: &str, name: &str, noise: &SeriesNoise, quantity: Quantity, units: DisplayUnits) -> [String; 5] {
    let unit = units.of(quantity);
    let scatter = format!("{} {}", fixed(unit.difference(noise.scatter), unit.decimals + 1), unit.label);
    [log.to_owned(), name.to_owned(), scatter, noise.count.to_string(), fixed(noise.effective, 0)]
}
