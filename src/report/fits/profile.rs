//! The report of a profile: the interval, whether the records close it, and the values tried.

use super::words::fitted_span;
use crate::error::Result;
use crate::fit::{PROFILE_RISE_95, Profile};
use crate::report::chart::{ProfileCurve, Sheet, profile_curve_chart};
use crate::report::number::{fixed, significant};
use crate::report::page::{Section, sections_text};
use crate::report::table::{Align, Table};

/// The profile in sections: a sentence with the interval, and a table of the values tried.
pub fn describe_profile(profile: &Profile) -> Vec<Section> {
    let (label, scale) = (profile.parameter.label(), profile.parameter.label().scale);
    let mut table = Table::new(&[(label.name, Align::Right), ("rise of half the sum of squares", Align::Right)]);
    profile.points.iter().for_each(|(value, rise)| table.push(vec![significant(scale * value, 4), fixed(*rise, 2)]));
    vec![
        Section::Heading(format!("Profile of {}", label.name)),
        Section::Paragraph(sentence(profile)),
        Section::Table(table.titled("Values tried, all other parameters fitted anew")),
    ]
}

fn sentence(profile: &Profile) -> String {
    let scale = profile.parameter.label().scale;
    let (low, high) = profile.interval_95;
    let open = match profile.open {
        (false, false) => "",
        (true, false) => "; below, neither records nor prior limit it: that is the end of what is allowed",
        (false, true) => "; above, neither records nor prior limit it: that is the end of what is allowed",
        (true, true) => "; neither records nor prior limit it: those are the ends of what is allowed",
    };
    let unit = profile.parameter.label().unit;
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    let interval = fitted_span(scale * low, scale * high);
    format!("{}{unit}, 95 % interval {interval}{unit}{open}.", significant(scale * profile.value, 4))
}

/// The same as plain text.
pub fn describe_profile_text(profile: &Profile) -> String {
    sections_text(&describe_profile(profile))
}

/// By how much the fit gets worse as the parameter is moved, as an SVG document.
///
/// # Errors
/// [`Error::Argument`](crate::Error::Argument) for a sheet too small.
pub fn profile_chart(profile: &Profile, sheet: Sheet) -> Result<String> {
    let scale = profile.parameter.label().scale;
    let curve = ProfileCurve {
        name: profile.parameter.label().name.to_owned(),
        points: profile.points.iter().map(|(value, rise)| (scale * value, *rise)).collect(),
        best: scale * profile.value,
        interval: (scale * profile.interval_95.0, scale * profile.interval_95.1),
        limit: PROFILE_RISE_95,
    };
    profile_curve_chart(&curve, sheet)
}
