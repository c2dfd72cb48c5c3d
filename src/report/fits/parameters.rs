//! Tables of fitted parameters: values with errors and status, each record's own differences, strong correlations.

use ndarray::Array2;

use super::words::{fitted_span, span, status_cell};
use crate::fit::{Estimate, Status};
use crate::model::Parameter;
use crate::report::display::DisplayUnits;
use crate::report::number::with_error;
use crate::report::table::{Align, Table};
use crate::units::Quantity;

/// Correlations above this are named.
const STRONG: f64 = 0.8;

/// Parameters with errors, intervals and status, and with their priors if these are all that was known.
pub(super) fn parameter_table<'a>(estimates: impl Iterator<Item = &'a Estimate>, with_prior: bool) -> Table {
    let mut heads = vec![
        ("parameter", Align::Left),
        ("value ± error", Align::Right),
        ("95 % interval", Align::Right),
        ("expected before (prior)", Align::Right),
        ("status", Align::Left),
    ];
    if !with_prior {
        heads.remove(3);
    }
    let mut table = Table::new(&heads);
    for estimate in estimates {
        let mut row = parameter_row(estimate);
        if !with_prior {
            row.remove(3);
            row[3] = after_cups(&estimate.status, &row[3]);
        }
        table.push(row);
    }
    table
}

/// The status of a parameter of which something was known before these castings.
fn after_cups(status: &Status, words: &str) -> String {
    match status {
        Status::NoInfluence => "unchanged; these castings add little".to_owned(),
        _ => words.to_owned(),
    }
}

fn parameter_row(estimate: &Estimate) -> Vec<String> {
    let scale = estimate.parameter.label().scale;
    let (low, high) = estimate.interval_95;
    let (least, most) = estimate.prior_95();
    let at_bound = estimate.status == Status::AtBound;
    let interval = if at_bound { "-".to_owned() } else { fitted_span(scale * low, scale * high) };
    vec![
        estimate.parameter.label().name.to_owned(),
        with_error(scale * estimate.value, (!at_bound).then_some(scale * estimate.standard_error)),
        interval,
        span(scale * least, scale * most, 3),
        status_cell(estimate),
    ]
}

/// What made single records differ: one row a record, one column a parameter.
pub(super) fn own_table(what: &str, estimates: &[&Estimate], units: DisplayUnits) -> Table {
    let mut parameters: Vec<Parameter> = Vec::new();
    let mut records: Vec<&str> = Vec::new();
    for estimate in estimates {
        if !parameters.contains(&estimate.parameter) {
            parameters.push(estimate.parameter);
        }
        let record = estimate.record.as_deref().unwrap_or_default();
        if !records.contains(&record) {
            records.push(record);
        }
    }
    let heads: Vec<String> = parameters.iter().map(|p| own_head(*p, units)).collect();
    let heads = heads.iter().map(|head| (head.as_str(), Align::Right));
    let mut table = Table::new(&[(what, Align::Left)].into_iter().chain(heads).collect::<Vec<_>>());
    for record in records {
        let of = |p: &Parameter| estimates.iter().find(|e| e.parameter == *p && e.record.as_deref() == Some(record));
        let cells = parameters.iter().map(|p| of(p).map_or_else(String::new, |e| own_text(e, units)));
        table.push([record.to_owned()].into_iter().chain(cells));
    }
    table
}

fn own_quantity(parameter: Parameter) -> Option<(&'static str, Quantity)> {
    match parameter {
        Parameter::MixTempError => Some(("mix warmer by", Quantity::TemperatureRise)),
        Parameter::MoldTempError => Some(("mold warmer by", Quantity::TemperatureRise)),
        Parameter::ChargeError => Some(("charge more by", Quantity::Mass)),
        _ => None,
    }
}

fn own_head(parameter: Parameter, units: DisplayUnits) -> String {
    match (own_quantity(parameter), parameter) {
        (Some((name, quantity)), _) => units.of(quantity).named(name),
        (None, Parameter::GasFactor) => "gas times".to_owned(),
        (None, Parameter::BlowFactor) => "blowing rate times".to_owned(),
        (None, Parameter::GelFactor) => "gelling rate times".to_owned(),
        (None, other) => other.label().name.to_owned(),
    }
}

fn own_text(estimate: &Estimate, units: DisplayUnits) -> String {
    let shown = |si: f64| match own_quantity(estimate.parameter) {
        Some((_, quantity)) => units.of(quantity).difference(si),
        None => si * estimate.parameter.label().scale,
    };
    with_error(shown(estimate.value), Some(shown(estimate.standard_error)))
}

/// The pairs of shared parameters whose errors are strongly correlated, strongest first.
pub(super) fn strong_correlations(estimates: &[Estimate], covariance: &Array2<f64>) -> Vec<String> {
    let sd = |a: usize| covariance[[a, a]].max(0.0).sqrt();
    let k = covariance.nrows();
    let pairs = (0..k).flat_map(|a| (a + 1..k).map(move |b| (a, b)));
    let mut strong: Vec<(f64, usize, usize)> = pairs
        .map(|(a, b)| (covariance[[a, b]] / (sd(a) * sd(b)), a, b))
        .filter(|(r, ..)| r.is_finite() && r.abs() > STRONG)
        .collect();
    strong.sort_by(|x, y| y.0.abs().total_cmp(&x.0.abs()));
    let line = |(r, a, b): &(f64, usize, usize)| {
        let together = if *r > 0.0 { "together" } else { "against each other" };
        format!("{} and {} move {together} (correlation {r:.2}).", estimates[*a].name(), estimates[*b].name())
    };
    strong.iter().map(line).collect()
}
