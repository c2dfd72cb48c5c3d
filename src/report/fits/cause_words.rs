//! Causes of an odd casting in words, from their rows: what happened, how large, and what a shop looks at to make sure.

use super::words::vent_text;
use crate::diagnose::{EffectSize, LikelyCause, SeparatingReading, Separation};
use crate::model::Casting;
use crate::report::display::{DisplayUnits, Shown};
use crate::report::number::fixed;
use crate::units::Quantity;

/// The cause in a few words; which way it went, if it has a direction.
pub(super) fn cause_words(likely: &LikelyCause) -> String {
    let row = likely.cause.row();
    let is_less = likely.effects.first().is_some_and(|size| size.value < 0.0);
    let words = row.less.filter(|_| is_less).unwrap_or(row.words);
    words.replace("{reading}", likely.reading.map_or("a reading", |kind| kind.row().words))
}

/// The effect that matters first, with its 90 % interval.
pub(super) fn first_effect(likely: &LikelyCause, casting: &Casting, units: DisplayUnits) -> String {
    likely.effects.first().map_or_else(String::new, |size| effect_words(size, casting, units))
}

/// Every effect with its 90 % interval.
pub(super) fn all_effects(likely: &LikelyCause, casting: &Casting, units: DisplayUnits) -> String {
    let all: Vec<String> = likely.effects.iter().map(|size| effect_words(size, casting, units)).collect();
    all.join("; ")
}

fn effect_words(size: &EffectSize, casting: &Casting, units: DisplayUnits) -> String {
    let row = size.effect.row();
    let (low, high) = size.interval_90;
    let words = match row.at_zero {
        Some([_, always]) if size.value <= 0.0 && high <= 0.0 => always,
        Some([first, _]) if size.value <= 0.0 => first,
        _ => row.words,
    };
    let unit = units.of(row.quantity);
    let sign = if size.value > 0.0 { "+" } else { "" };
    words
        .replace("{value}", &amount(unit, row.quantity, size.value))
        .replace("{signed}", &format!("{sign}{}", amount(unit, row.quantity, size.value)))
        .replace("{interval}", &format!("{} to {}", number(unit, row.quantity, low), amount(unit, row.quantity, high)))
        .replace("{high}", &amount(unit, row.quantity, high))
        .replace("{vent}", &vent_text(casting, units))
}

fn amount(unit: Shown, quantity: Quantity, si: f64) -> String {
    format!("{} {}", number(unit, quantity, si), unit.label)
}

/// Small lengths are shown closer than a shop reads them; shares are not known that well.
fn number(unit: Shown, quantity: Quantity, si: f64) -> String {
    let decimals = match quantity {
        Quantity::Length => unit.decimals + 1,
        Quantity::Fraction => 0,
        _ => unit.decimals,
    };
    fixed(unit.difference(si), decimals)
}

/// What to look at to make sure of a cause.
pub(super) fn check_words(likely: &LikelyCause, casting: &Casting, units: DisplayUnits) -> String {
    let first = likely.effects.first();
    let effect = first.map_or_else(String::new, |size| units.of(size.effect.row().quantity).text(size.value));
    let recheck = likely.reading.map_or("read it again", |kind| kind.row().recheck);
    let check = likely.cause.row().check;
    check.replace("{effect}", &effect).replace("{vent}", &vent_text(casting, units)).replace("{recheck}", recheck)
}

/// What would separate the first two causes.
pub(super) fn separation_words(separation: &Separation, units: DisplayUnits) -> String {
    let Some(SeparatingReading { kind, by_first, by_second, deviations }) = separation.reading else {
        return match separation.first.separated_by_the_part(separation.second) {
            Some(seen) => format!("No reading separates these two causes, but the part does: {seen}."),
            None => "No further reading would separate these two causes: look at the mold and the shop.".to_owned(),
        };
    };
    let unit = kind.quantity().map(|quantity| units.of(quantity));
    let text = |si: f64| unit.map_or_else(String::new, |unit| unit.text(si));
    format!(
        "Next time also take the {}: it separates these two causes. The first one predicts {}, the second one {}, {} \
         standard deviations of the reading apart.",
        kind.row().words,
        text(by_first),
        text(by_second),
        fixed(deviations, 0)
    )
}
