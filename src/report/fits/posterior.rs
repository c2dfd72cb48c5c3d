//! The report of a posterior: whether the chains agree, and prior against posterior of each parameter.

use super::words::span;
use crate::error::Result;
use crate::fit::{Posterior, PosteriorEstimate};
use crate::report::chart::{BelievedKnown, Sheet, belief_chart};
use crate::report::number::{fixed, significant};
use crate::report::page::{Section, sections_text};
use crate::report::table::{Align, Table};

/// The records added much to a parameter of which this share of the doubt is gone; below the other, little.
const MUCH: f64 = 0.5;
const LITTLE: f64 = 0.15;

/// The posterior in sections: verdict, shared parameters beside their priors, how many records' own are left out.
pub fn describe_posterior(posterior: &Posterior) -> Vec<Section> {
    let (chains, draws, _) = posterior.values.dim();
    let shared: Vec<_> = posterior.estimates.iter().filter(|e| e.record.is_none()).collect();
    let mut table = Table::new(&[
        ("parameter", Align::Left),
        ("median", Align::Right),
        ("known now", Align::Right),
        ("expected before (prior)", Align::Right),
        ("doubt gone", Align::Right),
        ("the records", Align::Left),
        ("R-hat", Align::Right),
        ("independent draws", Align::Right),
    ]);
    shared.iter().for_each(|e| table.push(row(e)));
    let own = posterior.estimates.len() - shared.len();
    vec![
        Section::Heading(format!("{} draws from the posterior, seed {}", chains * draws, posterior.seed)),
        Section::List(posterior.verdict.clone()),
        Section::Table(table.titled("What was expected (prior) and what is known (posterior), 90 %")),
        Section::Paragraph(format!("{own} differences of single records were drawn as well.")),
    ]
}

/// The same as plain text.
pub fn describe_posterior_text(posterior: &Posterior) -> String {
    sections_text(&describe_posterior(posterior))
}

/// Prior and posterior of each shared parameter, as an SVG document.
///
/// # Errors
/// [`Error::Argument`](crate::Error::Argument) for a sheet too small.
pub fn posterior_chart(posterior: &Posterior, sheet: Sheet) -> Result<String> {
    let spreads = |e: &PosteriorEstimate, (low, high): (f64, f64)| (e.prior.sds(low), e.prior.sds(high));
    let row = |e: &PosteriorEstimate| BelievedKnown {
        name: e.parameter.label().name.to_owned(),
        believed: spreads(e, e.prior_90()),
        known: spreads(e, e.interval_90),
        median: e.prior.sds(e.median),
    };
    let rows: Vec<_> = posterior.estimates.iter().filter(|e| e.record.is_none()).map(row).collect();
    belief_chart(&rows, "What was expected (prior) and what is known (posterior), 90 %", "bars: 90 %", sheet)
}

fn row(e: &PosteriorEstimate) -> Vec<String> {
    let scale = e.parameter.label().scale;
    let of = |(low, high): (f64, f64)| span(scale * low, scale * high, 3);
    let words = match e.learned {
        share if share >= MUCH => "add much",
        share if share >= LITTLE => "add some",
        _ => "add next to nothing",
    };
    vec![
        e.parameter.label().name.to_owned(),
        significant(scale * e.median, 3),
        of(e.interval_90),
        of(e.prior_90()),
        format!("{} %", fixed(100.0 * e.learned, 0)),
        words.to_owned(),
        fixed(e.r_hat, 3),
        fixed(e.bulk_ess.min(e.tail_ess), 0),
    ]
}
