//! Recommendations in words: the setting to run, its chances, what keeps it from being better, and what to do next.

use super::display::DisplayUnits;
use super::number::{fixed, percent};
use super::page::{KeyNumber, Section, sections_text};
use super::table::{Align, Table};
use crate::decide::{ChanceMap, Chances, Drill, Limit, NextTrial, Proposal, Recommendation, Setting, Step};
use crate::records::Casting;
use crate::units::Quantity;

/// Proposals that are shown.
const SHOWN: usize = 6;
/// A gain in chance below this is none.
const GAIN: f64 = 0.03;

/// A recommendation in sections: setting and chances, what binds, the runner-up, the cautions.
pub fn describe_recommendation(r: &Recommendation, units: DisplayUnits) -> Vec<Section> {
    let mut out = vec![
        Section::Heading(format!("Recommended: {}", setting_words(&r.best, units))),
        Section::KeyNumbers(key_numbers(r, units)),
        Section::Paragraph(binding_words(r)),
    ];
    out.extend(give_up_words(r, units).map(Section::Paragraph));
    out.push(Section::Table(settings_table(r, units)));
    out.push(Section::Paragraph(format!(
        "Chances count {} draws of what is in doubt and of how castings scatter; the setting was chosen for the middle of the \
         limits. Pressures are gauge.",
        r.draws
    )));
    out.push(Section::Cautions);
    out
}

/// The same as plain text.
pub fn describe_recommendation_text(r: &Recommendation, units: DisplayUnits) -> String {
    sections_text(&describe_recommendation(r, units))
}

/// `62.4 g, vent 3.5 mm`.
pub(super) fn setting_words(setting: &Setting, units: DisplayUnits) -> String {
    let charge = units.of(Quantity::Mass).text(setting.casting.charge);
    format!("{charge}, vent {}", vent_words(setting.drill.as_ref(), &setting.casting, units))
}

pub(super) fn vent_words(drill: Option<&Drill>, casting: &Casting, units: DisplayUnits) -> String {
    let length = units.of(Quantity::Length);
    match (drill, casting.vent_diameters.as_slice()) {
        (Some(drill), _) => drill.name.clone(),
        (None, []) => "as it is".to_owned(),
        (None, all) => all.iter().map(|d| length.text(*d)).collect::<Vec<_>>().join(" + "),
    }
}

fn key_numbers(r: &Recommendation, units: DisplayUnits) -> Vec<KeyNumber> {
    let c = &r.best.chances;
    let key = |label: &str, quantity: Quantity, (middle, low, high): (f64, f64, f64)| {
        let unit = units.of(quantity);
        KeyNumber::new(label, unit.text(middle), format!("90 %: {} to {}", unit.text(low), unit.text(high)))
    };
    vec![
        KeyNumber::new("Chance of a good part", percent(c.good, 0), goal_words(r, units)),
        key("Density of the part", Quantity::Density, c.density),
        key("Peak back pressure, gauge", Quantity::GaugePressure, c.peak_pressure),
    ]
}

fn goal_words(r: &Recommendation, units: DisplayUnits) -> String {
    let (goal, pressure) = (&r.question.goal, units.of(Quantity::GaugePressure));
    let density = units.of(Quantity::Density).text(goal.density);
    let window = match goal.peak_pressure {
        Some((low, high)) if high.is_finite() => format!(", {} to {} gauge", pressure.text(low), pressure.text(high)),
        Some((low, _)) => format!(", at least {} gauge", pressure.text(low)),
        None => String::new(),
    };
    format!("full, no flash, {density} within {} %{window}", fixed(100.0 * goal.tolerance, 1))
}

fn binding_words(r: &Recommendation) -> String {
    match &r.binding {
        Some(b) => {
            let (without, missed) = (percent(b.without, 0), percent(missed(&r.best.chances, b.limit), 0));
            format!(
                "What binds is {}: it is missed in {missed}; without it the chance would be {without}.",
                b.limit.words()
            )
        }
        None => "No single limit binds.".to_owned(),
    }
}

fn missed(chances: &Chances, limit: Limit) -> f64 {
    let place = Limit::ALL.iter().position(|l| *l == limit).unwrap_or_default();
    chances.misses[place]
}

fn give_up_words(r: &Recommendation, units: DisplayUnits) -> Option<String> {
    let (binding, setting) = r.give_up.as_ref()?;
    Some(format!(
        "No setting meets all limits with at least 50 %. Give up {} first: then {} would do with {}. Or learn more before: see \
         next_trial.",
        binding.limit.words(),
        setting_words(setting, units),
        percent(binding.without, 0)
    ))
}

fn settings_table(r: &Recommendation, units: DisplayUnits) -> Table {
    let mut heads = vec![("", Align::Left), ("best", Align::Right)];
    let all: Vec<&Setting> = [&r.best].into_iter().chain(&r.runner_up).collect();
    if all.len() > 1 {
        heads.push(("runner-up", Align::Right));
    }
    let mut table = Table::new(&heads).titled("Settings");
    let mut row = |name: &str, text: &dyn Fn(&Setting) -> String| {
        table.push([name.to_owned()].into_iter().chain(all.iter().map(|s| text(s))));
    };
    let (mass, density, pressure) =
        (units.of(Quantity::Mass), units.of(Quantity::Density), units.of(Quantity::GaugePressure));
    row("charge", &|s| mass.text(s.casting.charge));
    row("vent", &|s| vent_words(s.drill.as_ref(), &s.casting, units));
    row("chance of a good part", &|s| percent(s.chances.good, 0));
    for (k, limit) in Limit::ALL.into_iter().enumerate() {
        row(&format!("misses {}", limit.words()), &|s| percent(s.chances.misses[k], 0));
    }
    row("density, median", &|s| density.text(s.chances.density.0));
    row("peak pressure, median", &|s| pressure.text(s.chances.peak_pressure.0));
    row("vent loss, median", &|s| mass.text(s.chances.vent_loss));
    table
}

/// The chances over charge and vent as a table, %.
pub fn chance_table(map: &ChanceMap, units: DisplayUnits) -> Table {
    let mass = units.of(Quantity::Mass);
    let charges: Vec<String> = map.charges.iter().map(|c| fixed(mass.value(*c), mass.decimals)).collect();
    let corner = format!("vent, charge in {}", mass.label);
    let mut heads = vec![(corner.as_str(), Align::Left)];
    heads.extend(charges.iter().map(|c| (c.as_str(), Align::Right)));
    let mut table = Table::new(&heads).titled("Chance of a good part, %");
    for (drill, row) in map.drills.iter().zip(&map.settings) {
        let name = drill.as_ref().map_or_else(|| "as it is".to_owned(), |d| d.name.clone());
        let cell = |s: &Option<Setting>| s.as_ref().map_or_else(String::new, |s| fixed(100.0 * s.chances.good, 0));
        table.push([name].into_iter().chain(row.iter().map(cell)));
    }
    table
}

/// What to do next, in sections: the proposal with its reason, the others beside it.
pub fn describe_next_trial(next: &NextTrial, units: DisplayUnits) -> Vec<Section> {
    let density = units.of(Quantity::Density);
    let mut out: Vec<Section> = Vec::new();
    if let Some(first) = next.proposals.first() {
        out.push(Section::Heading(format!("Next: {}", proposal_words(first, units))));
    }
    out.push(Section::Paragraph(format!(
        "At the target the records leave a doubt of ± {} {} in density and ± {} in peak pressure (one standard deviation).",
        fixed(density.difference(next.doubt.0), density.decimals + 1),
        density.label,
        percent(next.doubt.1, 0)
    )));
    out.push(Section::List(reasons(next, units)));
    out.push(Section::Table(proposals_table(next, units)));
    out.push(Section::Cautions);
    out
}

/// The same as plain text.
pub fn describe_next_trial_text(next: &NextTrial, units: DisplayUnits) -> String {
    sections_text(&describe_next_trial(next, units))
}

/// A proposal in words: `cast 62.4 g, vent 3.5 mm, with a gauge on it`.
pub fn proposal_words(proposal: &Proposal, units: DisplayUnits) -> String {
    match (&proposal.step, &proposal.setting) {
        (Step::Casting { gauge }, Some(setting)) => {
            format!("cast {}{}", setting_words(setting, units), if *gauge { ", with a gauge on it" } else { "" })
        }
        (Step::CupTest { mix_temp }, _) => {
            format!("a cup test at {}", units.of(Quantity::Temperature).text(*mix_temp))
        }
        (Step::Casting { .. }, None) => "cast once".to_owned(),
    }
}

/// Why the first proposal is first, and what the other kinds of trial would bring.
fn reasons(next: &NextTrial, units: DisplayUnits) -> Vec<String> {
    let Some(first) = next.proposals.first() else { return Vec::new() };
    let mut all = vec![format!(
        "It is good with {}. What is weighed and read of it leaves {} of the doubt about density and {} of that about peak \
         pressure: the casting after it is good with {}, so one of two is with {}.",
        percent(first.good, 0),
        percent(first.doubt_left.0, 0),
        percent(first.doubt_left.1, 0),
        percent(first.next_good, 0),
        percent(first.within_two(), 0)
    )];
    if let (Step::Casting { gauge: true }, Some(without)) = (first.step, without_gauge(next, first)) {
        let gain = first.next_good - without.next_good;
        if gain >= GAIN {
            all.push(format!(
                "Put a gauge on it: without one it would leave {} of the doubt about peak pressure, and the next be good with {}.",
                percent(without.doubt_left.1, 0),
                percent(without.next_good, 0)
            ));
        }
    }
    if let Some(cup) = next.proposals.iter().find(|p| matches!(p.step, Step::CupTest { .. })) {
        let gain = cup.next_good - first.good;
        let verdict = if gain >= GAIN { "worth doing first, it costs no casting" } else { "it would bring little" };
        all.push(format!(
            "{} first would bring the next casting from {} to {}: {verdict}.",
            capital(&proposal_words(cup, units)),
            percent(first.good, 0),
            percent(cup.next_good.max(first.good), 0)
        ));
    }
    all
}

/// The same casting without a gauge.
fn without_gauge<'a>(next: &'a NextTrial, first: &Proposal) -> Option<&'a Proposal> {
    let bare = |p: &&Proposal| p.step == Step::Casting { gauge: false } && p.setting == first.setting;
    next.proposals.iter().find(bare)
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn proposals_table(next: &NextTrial, units: DisplayUnits) -> Table {
    let mut table = Table::new(&[
        ("what", Align::Left),
        ("good", Align::Right),
        ("the next one good", Align::Right),
        ("one of two good", Align::Right),
        ("density doubt left", Align::Right),
        ("pressure doubt left", Align::Right),
    ])
    .titled("What it would bring");
    let is_cup = |p: &&Proposal| matches!(p.step, Step::CupTest { .. });
    let castings = next.proposals.iter().filter(|p| !is_cup(p)).take(SHOWN);
    for p in castings.chain(next.proposals.iter().filter(is_cup)) {
        let good = if p.setting.is_some() { percent(p.good, 0) } else { String::new() };
        table.push([
            proposal_words(p, units),
            good,
            percent(p.next_good, 0),
            percent(p.within_two(), 0),
            percent(p.doubt_left.0, 0),
            percent(p.doubt_left.1, 0),
        ]);
    }
    table
}
