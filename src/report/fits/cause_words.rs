//! Causes of an odd casting in words: what happened, how large, and what a shop looks at to make sure. Common practice, no source.

use super::words::vent_text;
use crate::diagnose::{Cause, Differs, Likely, Size, Telling, What};
use crate::model::Casting;
use crate::report::display::DisplayUnits;
use crate::report::number::{fixed, percent};
use crate::units::Quantity;

/// A reading's name.
pub(super) fn reading_words(what: What) -> &'static str {
    match what {
        What::PartMass => "part mass",
        What::VentLoss => "vent loss",
        What::Flash => "flash",
        What::PeakPressure => "peak gauge pressure",
        What::PeakAtLeast => "peak gauge pressure, at least",
        What::CoreTemp => "core temperature",
        What::WasFull => "full or short",
        What::WasFlashed => "flash seen or not",
        What::Trace => "pressure trace (mean)",
    }
}

/// The cause in a few words; which way it went, if it has a direction.
pub(super) fn cause_words(likely: &Likely) -> String {
    let is_less = likely.sizes.first().is_some_and(|size| size.value < 0.0);
    let either = |less: &str, more: &str| (if is_less { less } else { more }).to_owned();
    match likely.cause {
        Cause::Scatter => "nothing special: ordinary scatter".to_owned(),
        Cause::Charge => either("short weigh", "too much weighed in"),
        Cause::Leak => "it leaked".to_owned(),
        Cause::Clamp => "the clamp gave way".to_owned(),
        Cause::Vent => "another vent than written down, or partly blocked".to_owned(),
        Cause::MoldTemp => either("cold mold", "hot mold"),
        Cause::MixTemp => either("cold mix", "hot mix"),
        Cause::LateClosing => "closed late: foam that stood above the rim came out".to_owned(),
        Cause::Lot => either("another lot or mix ratio: less gas", "another lot or mix ratio: more gas"),
        Cause::Misread => match likely.reading {
            Some(what) => format!("misread or miswritten: {}", reading_words(what)),
            None => "a reading is misread or miswritten".to_owned(),
        },
        Cause::Unknown => "none of these".to_owned(),
    }
}

/// The size that matters first.
pub(super) fn first_size(likely: &Likely, casting: &Casting, units: DisplayUnits) -> String {
    likely.sizes.first().map_or_else(String::new, |size| one_size(size, casting, units))
}

/// Every size with its 90 % interval.
pub(super) fn size_words(likely: &Likely, casting: &Casting, units: DisplayUnits) -> String {
    let all: Vec<String> = likely.sizes.iter().map(|size| one_size(size, casting, units)).collect();
    all.join("; ")
}

fn one_size(size: &Size, casting: &Casting, units: DisplayUnits) -> String {
    let (low, high) = size.interval_90;
    let shown = units.of(size.quantity);
    let decimals = if size.quantity == Quantity::Length { shown.decimals + 1 } else { shown.decimals };
    let value = |si: f64| fixed(shown.difference(si), decimals);
    let span = format!("{} to {} {}", value(low), value(high), shown.label);
    match size.name {
        "charge_error" | "mold_temp_error" | "mix_temp_error" => {
            let sign = if size.value > 0.0 { "+" } else { "" };
            format!("{sign}{} {} against what is written ({span})", value(size.value), shown.label)
        }
        "gas_change" => format!("{} gas ({} to {})", percent(size.value, 0), percent(low, 0), percent(high, 0)),
        "closing_delay" => format!("{} s later ({span})", value(size.value)),
        "vent" => format!("{} {} instead of {} ({span})", value(size.value), shown.label, vent_text(casting, units)),
        "leak_diameter" => format!("like a hole of {} {} ({span})", value(size.value), shown.label),
        "clamp_held" => format!("it held {} {} ({span})", value(size.value), shown.label),
        "opened_at" if size.value <= 0.0 && high <= 0.0 => "open from the start".to_owned(),
        "opened_at" if size.value <= 0.0 => format!("open from the start or from up to {} gauge", shown.text(high)),
        "opened_at" => format!("open from {} {} gauge on ({span})", value(size.value), shown.label),
        "gap" => {
            format!("as wide as a gap of {} {} along the whole parting line ({span})", value(size.value), shown.label)
        }
        "lift" => format!("the lid lifted by up to {} {} ({span})", value(size.value), shown.label),
        _ => format!("{} {} ({span})", value(size.value), shown.label),
    }
}

/// What to look at to make sure of a cause.
pub(super) fn check_words(likely: &Likely, casting: &Casting, units: DisplayUnits) -> String {
    match likely.cause {
        Cause::Scatter => "repeat the casting with the same settings".to_owned(),
        Cause::Charge => {
            "weigh the part, what came out and what is left in the cup again: they must add up to the charge; \
                          check the scale with a known weight"
                .to_owned()
        }
        Cause::Leak => {
            "look for foam or a thin skin at one place of the seam, an insert or a plug, and try that place with a \
                        feeler gauge"
                .to_owned()
        }
        Cause::Clamp => {
            "look whether flash runs all around; count the clamps, and measure the gap at the parting line with the \
                         clamps on"
                .to_owned()
        }
        Cause::Vent => {
            let other = likely.sizes.first().map_or(String::new(), |s| {
                format!(
                    " ({} by this cause, {} as written)",
                    units.of(Quantity::Length).text(s.value),
                    vent_text(casting, units)
                )
            });
            format!("measure the vent with a drill shank{other}, and look whether old foam sits in it")
        }
        Cause::MoldTemp => {
            "measure the temperature of the mold wall where the foam runs, just before the pour".to_owned()
        }
        Cause::MixTemp => "measure the temperature of both components and of the mix".to_owned(),
        Cause::LateClosing => "ask who closed the mold and when, and whether foam stood above the rim".to_owned(),
        Cause::Lot => {
            "read the lots off the cans, check the mix ratio, and make a cup test of what is in them now".to_owned()
        }
        Cause::Misread => match likely.reading {
            Some(What::PartMass) => "weigh the part again".to_owned(),
            Some(What::VentLoss | What::Flash) => "weigh what came out again, if it was kept".to_owned(),
            Some(What::PeakPressure | What::PeakAtLeast | What::Trace) => {
                "look at the gauge's zero, and read it beside another".to_owned()
            }
            Some(What::WasFull | What::WasFlashed) => "look at the part again".to_owned(),
            Some(What::CoreTemp) | None => "read it again".to_owned(),
        },
        Cause::Unknown => {
            "look for what else was different that day, and repeat the casting with the same settings".to_owned()
        }
    }
}

/// What would tell the first two causes apart.
pub(super) fn telling_words(telling: &Telling, units: DisplayUnits) -> String {
    let Some(Differs { what, by_first, by_second, deviations }) = telling.reading else {
        return match (telling.first, telling.second) {
            (Cause::Leak, Cause::Clamp) | (Cause::Clamp, Cause::Leak) => {
                "The readings would not tell them apart, the part does: flash all around is the clamp, at one place a leak."
                    .to_owned()
            }
            _ => "No reading that was not taken would tell these two apart: look at the mold and the shop instead.".to_owned(),
        };
    };
    let unit = what.quantity().map(|quantity| units.of(quantity));
    let text = |si: f64| unit.map_or_else(String::new, |unit| unit.text(si));
    format!(
        "Next time also take the {}: {} by the first cause, {} by the second, {} standard deviations of the reading apart.",
        reading_words(what),
        text(by_first),
        text(by_second),
        fixed(deviations, 0)
    )
}
