//! The summary of a whole job for other programs: fitted parameters, castings, predictions, scatter.

use std::collections::BTreeMap;

use super::free_rise::fitted_density;
use super::job::title;
use super::trust::trust;
use crate::fit::{Calibration, Estimate, FittedCasting, FittedLog, FreeRiseFit, Predicted, Prediction, SeriesNoise};
use crate::inference::least_squares::Solution;
use crate::model::{Casting, Setting};
use crate::report::display::DisplayUnits;
use crate::report::summary::{Entry, Summary, SummaryValue, summarize_run};
use crate::units::Quantity;

type Group = BTreeMap<String, Entry>;

/// What goes into `summary.json` of a whole job: parameters with units, errors, intervals and status, the castings
/// against the model, predictions with intervals, the scatter of the series. Parameters keep the units of their names.
pub fn main_job_summary(
    fit: &FreeRiseFit,
    calibration: &Calibration,
    predictions: &[(Casting, Prediction)],
    units: DisplayUnits,
) -> Summary {
    let mut summary = Summary::new(title(fit, calibration));
    summary.put("grade", Entry::Group(of_fit(fit, units)));
    summary.put("mold", Entry::Group(of_calibration(calibration, units)));
    let predicted = |(casting, p): &(Casting, Prediction)| {
        let mut group = of_prediction(casting, p, units);
        let trust = trust(fit, calibration, (casting, p), units);
        group.insert("trust".to_owned(), text(trust.word));
        group.insert("trust_reasons".to_owned(), texts(&trust.reasons));
        Entry::Group(group)
    };
    summary.put("predictions", Entry::List(predictions.iter().map(predicted).collect()));
    summary
}

fn of_fit(fit: &FreeRiseFit, units: DisplayUnits) -> Group {
    let mut out = verdict(fit.converged, fit.agreeing_starts, &fit.solution, &fit.warnings);
    out.insert("name".to_owned(), text(&fit.grade.name));
    out.insert("parameters".to_owned(), parameters(&fit.estimates, None));
    let log = |fitted: &FittedLog| Entry::Group(of_log(fit, fitted, units));
    out.insert("logs".to_owned(), Entry::List(fit.logs.iter().map(log).collect()));
    out
}

fn of_log(fit: &FreeRiseFit, fitted: &FittedLog, units: DisplayUnits) -> Group {
    let (taken, model) = (&fitted.log.stopwatch, fitted.stopwatch());
    let rise = if fitted.log.height.is_some() { Quantity::Length } else { Quantity::Volume };
    let both = |taken, model, quantity| compared(taken, model, quantity, units);
    group([
        ("name", text(&fitted.log.name)),
        ("own", parameters(&fit.estimates, Some(&fitted.log.name))),
        ("cream_time", both(taken.cream, model.cream, Quantity::Time)),
        ("string_gel_time", both(taken.string_gel, model.string_gel, Quantity::Time)),
        ("end_of_rise", both(taken.end_of_rise, model.end_of_rise, Quantity::Time)),
        ("tack_free_time", both(taken.tack_free, model.tack_free, Quantity::Time)),
        ("free_rise_density", both(fitted.log.free_rise_density, Some(fitted_density(fit, fitted)), Quantity::Density)),
        ("rise_scatter", scatter(fitted.rise_noise, rise, units)),
        ("temp_scatter", scatter(fitted.temp_noise, Quantity::TemperatureRise, units)),
    ])
}

fn scatter(noise: Option<SeriesNoise>, quantity: Quantity, units: DisplayUnits) -> Entry {
    let Some(noise) = noise else { return Entry::Missing };
    let unit = units.of(quantity);
    Entry::Group(group([
        ("rms", Entry::Value(SummaryValue::new(unit.difference(noise.scatter), unit.label))),
        ("readings", Entry::Count(noise.count as u64)),
        ("independent_readings", Entry::Value(SummaryValue::new(noise.effective, ""))),
        ("correlation", Entry::Value(SummaryValue::new(noise.correlation, ""))),
    ]))
}

fn of_calibration(cal: &Calibration, units: DisplayUnits) -> Group {
    let mut out = verdict(cal.converged, cal.agreeing_starts, &cal.solution, &cal.warnings);
    out.insert("name".to_owned(), text(&cal.mold.name));
    out.insert("parameters".to_owned(), parameters(&cal.estimates, None));
    out.insert("misfit_ratio".to_owned(), Entry::Value(SummaryValue::new(cal.misfit_ratio, "")));
    for (name, factor) in [("casting_scatter_factor", cal.casting_scatter), ("lot_scatter_factor", cal.lot_scatter)] {
        out.insert(name.to_owned(), Entry::Value(SummaryValue::new(factor, "of the believed")));
    }
    let casting = |fitted: &FittedCasting| Entry::Group(of_casting(cal, fitted, units));
    out.insert("castings".to_owned(), Entry::List(cal.castings.iter().map(casting).collect()));
    out
}

fn of_casting(cal: &Calibration, casting: &FittedCasting, units: DisplayUnits) -> Group {
    let (trial, r) = (&casting.trial, &casting.result);
    let both = |measured, model, quantity| compared(measured, Some(model), quantity, units);
    group([
        ("name", text(&trial.name)),
        ("settings", Entry::Group(settings(&trial.casting, units))),
        ("own", parameters(&cal.estimates, Some(&trial.name))),
        ("part_mass", both(trial.part_mass, r.scale_reading, Quantity::Mass)),
        ("vent_loss", both(trial.vent_loss, r.vent_loss, Quantity::Mass)),
        ("flash", both(trial.flash, r.flash, Quantity::Mass)),
        ("peak_pressure", both(trial.peak_pressure, r.peak_pressure, Quantity::GaugePressure)),
        ("gauge_at_stop", Entry::Flag(trial.gauge_at_stop)),
        ("outcome_seen", trial.outcome.map_or(Entry::Missing, |seen| text(seen.name()))),
        ("outcome_model", text(r.verdict.name())),
        ("trace_scatter", scatter(casting.trace_noise, Quantity::GaugePressure, units)),
        ("worst_misfit", Entry::Value(SummaryValue::new(casting.worst_misfit, "standard deviations"))),
    ])
}

fn of_prediction(casting: &Casting, prediction: &Prediction, units: DisplayUnits) -> Group {
    let mut out = summarize_run(&prediction.run, units);
    for (outcome, predicted) in prediction.all() {
        let value = |p| Entry::Value(predicted_value(p, outcome.quantity(), units));
        out.insert(outcome.name().to_owned(), predicted.map_or(Entry::Missing, value));
    }
    out.insert("settings".to_owned(), Entry::Group(settings(casting, units)));
    out
}

fn predicted_value(p: &Predicted, quantity: Quantity, units: DisplayUnits) -> SummaryValue {
    let unit = units.of(quantity);
    SummaryValue {
        standard_error: Some(unit.difference(p.doubt.hypot(p.scatter))),
        interval_95: Some([unit.value(p.interval_95.0), unit.value(p.interval_95.1)]),
        ..SummaryValue::shown(p.value, quantity, units)
    }
}

/// Every setting that a casting has; of vents a list.
fn settings(casting: &Casting, units: DisplayUnits) -> Group {
    let shown = |setting: Setting, si: f64| Entry::Value(SummaryValue::shown(si, setting.quantity(), units));
    let of = |setting: Setting| {
        let mut all: Vec<Entry> = setting.values(casting).into_iter().map(|si| shown(setting, si)).collect();
        if setting.is_several() { Entry::List(all) } else { all.pop().unwrap_or(Entry::Missing) }
    };
    let is_shown = |s: &Setting| s.is_kept() && (!s.row().of_leak || casting.leak.is_some());
    Setting::all().filter(is_shown).map(|setting| (setting.name().to_owned(), of(setting))).collect()
}

/// The shared parameters, or those of one record, by name.
fn parameters(estimates: &[Estimate], record: Option<&str>) -> Entry {
    let of = estimates.iter().filter(|e| e.record.as_deref() == record);
    Entry::Group(of.map(|e| (e.parameter.label().name.to_owned(), Entry::Value(parameter(e)))).collect())
}

fn parameter(estimate: &Estimate) -> SummaryValue {
    let label = estimate.parameter.label();
    SummaryValue {
        value: label.scale * estimate.value,
        unit: label.unit.to_owned(),
        standard_error: Some(label.scale * estimate.standard_error),
        interval_95: Some([label.scale * estimate.interval_95.0, label.scale * estimate.interval_95.1]),
        status: Some(estimate.status_words()),
    }
}

fn verdict(converged: bool, (agreeing, starts): (usize, usize), solution: &Solution, warnings: &[String]) -> Group {
    group([
        ("converged", Entry::Flag(converged)),
        ("starts", Entry::Count(starts as u64)),
        ("agreeing_starts", Entry::Count(agreeing as u64)),
        ("ending", text(&solution.ending.to_string())),
        ("warnings", texts(warnings)),
    ])
}

fn compared(measured: Option<f64>, model: Option<f64>, quantity: Quantity, units: DisplayUnits) -> Entry {
    let shown =
        |si: Option<f64>| si.map_or(Entry::Missing, |si| Entry::Value(SummaryValue::shown(si, quantity, units)));
    Entry::Group(group([("measured", shown(measured)), ("model", shown(model))]))
}

fn group<const N: usize>(entries: [(&str, Entry); N]) -> Group {
    entries.into_iter().map(|(name, entry)| (name.to_owned(), entry)).collect()
}

fn text(text: &str) -> Entry {
    Entry::Text(text.to_owned())
}

fn texts(all: &[String]) -> Entry {
    Entry::List(all.iter().map(|one| text(one)).collect())
}
