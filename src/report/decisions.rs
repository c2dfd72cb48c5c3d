//! Recommendations in words: the setting to run, its chances, what keeps it from being better, and what to do next.

use super::describe::DOUBT_AND_SCATTER;
use super::display::DisplayUnits;
use super::number::{fixed, percent};
use super::page::{KeyNumber, Section, sections_text};
use super::table::{Align, Table};
use crate::decide::{Candidate, ChanceMap, Chances, Drill, Limit, NextTrial, Proposal, Recommendation, Step};
use crate::model::Casting;
use crate::units::Quantity;

/// Proposals that are shown.
const SHOWN: usize = 6;
/// A gain in chance below this is none.
const WORTHWHILE_GAIN: f64 = 0.03;
/// Draws cannot separate a chance from certainty any closer than this.
const SURE: f64 = 0.01;
const MANY: f64 = 10.0;

/// A recommendation in sections: setting and chances, which limit costs most, the runner-up, the cautions.
pub fn describe_recommendation(r: &Recommendation, units: DisplayUnits) -> Vec<Section> {
    let mut out = vec![
        Section::Heading(format!("Recommended: {}", setting_words(&r.best, units))),
        Section::KeyNumbers(key_numbers(r, units)),
        Section::Paragraph(binding_words(r)),
    ];
    if !r.warnings.is_empty() {
        out.insert(1, Section::List(r.warnings.clone()));
    }
    out.extend(give_up_words(r, units).map(Section::Paragraph));
    out.push(Section::Table(settings_table(r, units)));
    out.push(Section::Paragraph(format!(
        "Chances are shares of {} draws of doubt and scatter. Vents stay unless larger ones raise the chance by more \
         than 10 % or smaller ones, which need plugs, by more than 2 %. Pressures are gauge. {DOUBT_AND_SCATTER}",
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
pub(super) fn setting_words(setting: &Candidate, units: DisplayUnits) -> String {
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
        KeyNumber::new("Chance of a good part", chance(c.good), goal_words(r, units)),
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

/// A chance in words: nothing is certain.
fn chance(share: f64) -> String {
    if share > 1.0 - SURE {
        format!("over {}", percent(1.0 - SURE, 0))
    } else if share < SURE {
        format!("under {}", percent(SURE, 0))
    } else {
        percent(share, 0)
    }
}

/// Castings expected, in words: beyond some tens the number means that none will be good.
fn expected_words(expected: f64) -> String {
    if expected < MANY { fixed(expected, 1) } else { format!("over {}", fixed(MANY, 0)) }
}

fn binding_words(r: &Recommendation) -> String {
    let limit = match &r.binding {
        Some(b) => {
            let missed = chance(missed(&r.best.chances, b.limit));
            let without = chance(b.without);
            format!(
                "The limit that costs most is {}: it is missed in {missed}; without it the chance would be {without}.",
                b.limit.words()
            )
        }
        None => "No single limit costs much.".to_owned(),
    };
    let vents = if r.vents_stay {
        "The vents stay as they are."
    } else {
        "The vents have to be made anew: that cannot be undone."
    };
    format!("{limit} {vents}")
}

fn missed(chances: &Chances, limit: Limit) -> f64 {
    let place = Limit::ALL.iter().position(|l| *l == limit).unwrap_or_default();
    chances.misses[place]
}

fn give_up_words(r: &Recommendation, units: DisplayUnits) -> Option<String> {
    let (binding, setting) = r.give_up.as_ref()?;
    Some(format!(
        "No setting meets all limits with at least 50 %. Give up {} first: then {} has a chance of {}. Or learn \
         more before that: see next_trial.",
        binding.limit.words(),
        setting_words(setting, units),
        chance(binding.without)
    ))
}

fn settings_table(r: &Recommendation, units: DisplayUnits) -> Table {
    let mut heads = vec![("", Align::Left), ("best", Align::Right)];
    let all: Vec<&Candidate> = [&r.best].into_iter().chain(&r.runner_up).collect();
    if all.len() > 1 {
        heads.push(("runner-up", Align::Right));
    }
    let mut table = Table::new(&heads).titled("Settings");
    let mut row = |name: &str, text: &dyn Fn(&Candidate) -> String| {
        table.push([name.to_owned()].into_iter().chain(all.iter().map(|s| text(s))));
    };
    let (mass, density, pressure) =
        (units.of(Quantity::Mass), units.of(Quantity::Density), units.of(Quantity::GaugePressure));
    row("charge", &|s| mass.text(s.casting.charge));
    row("vent", &|s| vent_words(s.drill.as_ref(), &s.casting, units));
    row("chance of a good part", &|s| chance(s.chances.good));
    for (k, limit) in Limit::ALL.into_iter().enumerate() {
        row(&format!("misses {}", limit.words()), &|s| chance(s.chances.misses[k]));
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
        let cell = |s: &Option<Candidate>| s.as_ref().map_or_else(String::new, |s| fixed(100.0 * s.chances.good, 0));
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
        "At the target the doubt is ± {} {} in density and ± {} in peak pressure (one standard deviation). \
         {DOUBT_AND_SCATTER}",
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
        (Step::WaterFill, _) => "fill the cavity with water and weigh it".to_owned(),
        (Step::Casting { .. }, None) => "cast once".to_owned(),
    }
}

/// Why the first proposal is first, and what the other kinds of trial would bring.
fn reasons(next: &NextTrial, units: DisplayUnits) -> Vec<String> {
    let Some(first) = next.proposals.first() else { return Vec::new() };
    let mut all = vec![format!(
        "Chance that it is good: {}. Its weighings and readings leave {} of the doubt about density and {} of that \
         about peak pressure. Chance that the casting after it is good: {}; that one of the two is: {}. Castings \
         expected until one is: {}.",
        chance(first.good),
        percent(first.doubt_left.0, 0),
        percent(first.doubt_left.1, 0),
        chance(first.next_good),
        chance(first.within_two),
        expected_words(first.castings_expected())
    )];
    all.extend(gauge_words(next, first));
    all.extend(measurement_words(next, first, units));
    all
}

/// What a gauge on it would bring.
fn gauge_words(next: &NextTrial, first: &Proposal) -> Option<String> {
    let with = |gauge| next.proposals.iter().find(|p| p.step == Step::Casting { gauge } && p.setting == first.setting);
    let (with, without) = (with(true)?, with(false)?);
    let doubts = format!(
        "it leaves {} of the doubt about peak pressure, without it {}",
        percent(with.doubt_left.1, 0),
        percent(without.doubt_left.1, 0)
    );
    let (good, bare) = (chance(with.next_good), chance(without.next_good));
    Some(if first.step == (Step::Casting { gauge: true }) {
        format!("Put a gauge on it: {doubts}; the casting after it is good with {good} instead of {bare}.")
    } else {
        format!("A gauge on it would change little: {doubts}.")
    })
}

/// What can be done before it, without a casting.
fn measurement_words(next: &NextTrial, first: &Proposal, units: DisplayUnits) -> Vec<String> {
    let is_cup = |p: &&Proposal| matches!(p.step, Step::CupTest { .. });
    let cup = next.proposals.iter().find(is_cup);
    let water = next.proposals.iter().find(|p| p.step == Step::WaterFill);
    let said = |p: &Proposal| {
        let what = capital(&proposal_words(p, units));
        if p.next_good - first.good < WORTHWHILE_GAIN {
            return format!("{what} first: it would bring little.");
        }
        let (from, to) = (chance(first.good), chance(p.next_good));
        format!("{what} first: it costs no casting, and would bring the next one from {from} to {to}.")
    };
    cup.into_iter().chain(water).map(said).collect()
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
        ("castings expected", Align::Right),
        ("density doubt left", Align::Right),
        ("pressure doubt left", Align::Right),
    ])
    .titled("What it would bring");
    let is_casting = |p: &&Proposal| p.setting.is_some();
    let castings = next.proposals.iter().filter(is_casting).take(SHOWN);
    for p in castings.chain(next.proposals.iter().filter(|p| !is_casting(p))) {
        let of_casting = |text: String| if p.setting.is_some() { text } else { String::new() };
        table.push([
            proposal_words(p, units),
            of_casting(chance(p.good)),
            chance(p.next_good),
            of_casting(chance(p.within_two)),
            expected_words(p.castings_expected()),
            percent(p.doubt_left.0, 0),
            percent(p.doubt_left.1, 0),
        ]);
    }
    table
}
