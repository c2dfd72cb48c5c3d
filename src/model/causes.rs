//! What may have happened to an odd casting: one row for each cause and for each effect that it is measured by, with
//! its words. Odds and checks: common practice, no source.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::units::Quantity;

/// A cause of an odd casting; [`Cause::row`] has what is known of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Cause {
    /// Nothing in particular: ordinary scatter.
    Scatter,
    /// Another mass was poured than written down.
    Charge,
    /// An opening that should not be there, from some pressure on.
    Leak,
    /// The clamp gave way below the force written down.
    Clamp,
    /// Another vent was in the mold than written down, or part of it was blocked.
    Vent,
    /// The mold was colder or hotter than written down.
    MoldTemp,
    /// The mix was colder or hotter than written down.
    MixTemp,
    /// The mold was closed later than written down: what had risen above it came out.
    LateClosing,
    /// Another lot, or another mix ratio: it makes more or less gas, faster or slower.
    Lot,
    /// One of the readings is wrong.
    Misread,
    /// None of these.
    Unknown,
}

/// What is known of a cause.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CauseRow {
    /// The cause.
    pub cause: Cause,
    /// Its name in calls and tables.
    pub name: &'static str,
    /// How many of a hundred castings it happens to.
    pub usual_odds: f64,
    /// What happened, in a few words; `{reading}` stands for a reading that would be wrong.
    pub words: &'static str,
    /// The same where its first effect is below zero.
    pub less: Option<&'static str>,
    /// What a shop looks at to make sure: `{effect}` stands for how large its first effect is, `{vent}` for the vents
    /// as written down, `{recheck}` for how a wrong reading is checked.
    pub check: &'static str,
    /// Whether the mold was open where it should be closed.
    pub opens_mold: bool,
}

const fn row(cause: Cause, name: &'static str, usual_odds: f64, words: &'static str, check: &'static str) -> CauseRow {
    CauseRow { cause, name, usual_odds, words, less: None, check, opens_mold: false }
}

/// The causes, in the order of [`Cause`].
static CAUSES: [CauseRow; 11] = [
    row(
        Cause::Scatter,
        "scatter",
        79.0,
        "nothing special: ordinary scatter",
        "repeat the casting with the same settings",
    ),
    CauseRow {
        less: Some("short weigh"),
        ..row(
            Cause::Charge,
            "charge",
            4.0,
            "too much weighed in",
            "weigh the part, what came out and what is left in the cup again: together they must equal the charge; \
             check the scale with a known weight",
        )
    },
    CauseRow {
        opens_mold: true,
        ..row(
            Cause::Leak,
            "leak",
            3.0,
            "it leaked",
            "look for foam or a thin skin at one place of the seam, an insert or a plug, and try that place with a \
             feeler gauge",
        )
    },
    CauseRow {
        opens_mold: true,
        ..row(
            Cause::Clamp,
            "clamp",
            3.0,
            "the clamp gave way",
            "look whether flash runs all around; count the clamps, and measure the gap at the parting line with the \
             clamps on",
        )
    },
    row(
        Cause::Vent,
        "vent",
        2.0,
        "another vent than written down, or partly blocked",
        "measure the vent with a drill shank ({effect} by this cause, {vent} as written), and look whether old foam \
         sits in it",
    ),
    CauseRow {
        less: Some("cold mold"),
        ..row(
            Cause::MoldTemp,
            "mold_temp",
            2.0,
            "hot mold",
            "measure the temperature of the mold wall where the foam runs, just before the pour",
        )
    },
    CauseRow {
        less: Some("cold mix"),
        ..row(Cause::MixTemp, "mix_temp", 1.5, "hot mix", "measure the temperature of both components and of the mix")
    },
    row(
        Cause::LateClosing,
        "late_closing",
        2.0,
        "closed late: foam that stood above the rim came out",
        "ask who closed the mold and when, and whether foam stood above the rim",
    ),
    CauseRow {
        less: Some("another lot or mix ratio: less gas"),
        ..row(
            Cause::Lot,
            "lot",
            1.0,
            "another lot or mix ratio: more gas",
            "read the lots off the cans, check the mix ratio, and make a cup test of what is in them now",
        )
    },
    row(Cause::Misread, "misread", 1.5, "misread or miswritten: {reading}", "{recheck}"),
    row(
        Cause::Unknown,
        "unknown",
        1.0,
        "none of these",
        "look for what else was different that day, and repeat the casting with the same settings",
    ),
];

/// Causes that no reading separates, and how the part does.
static SEPARATED_BY_THE_PART: [([Cause; 2], &str); 1] =
    [([Cause::Leak, Cause::Clamp], "flash all around means the clamp, flash at one place a leak")];

impl Cause {
    /// All of them, in the order in which they are shown.
    pub fn all() -> impl Iterator<Item = Cause> {
        CAUSES.iter().map(|row| row.cause)
    }

    /// What is known of it.
    pub fn row(self) -> &'static CauseRow {
        &CAUSES[self as usize]
    }

    /// Its name in calls and tables.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// The cause of this name.
    ///
    /// # Errors
    /// [`Error::Argument`] for another name.
    pub fn named(name: &str) -> Result<Cause> {
        Cause::all().find(|cause| cause.name() == name).ok_or_else(|| {
            let all: Vec<&str> = Cause::all().map(Cause::name).collect();
            Error::argument("cause", format!("{name:?}"), all.join(", "), "write one of these names")
        })
    }

    /// What on the part separates this cause from another, where no reading does.
    pub fn separated_by_the_part(self, other: Cause) -> Option<&'static str> {
        let is_pair = |pair: &[Cause; 2]| *pair == [self, other] || *pair == [other, self];
        SEPARATED_BY_THE_PART.iter().find(|(pair, _)| is_pair(pair)).map(|(_, words)| *words)
    }
}

/// What a cause does, as a quantity: how large a cause is; [`Effect::row`] has what is known of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Effect {
    /// Charge beyond the written one.
    ChargeError,
    /// Temperature of the mold above the written one.
    MoldTempError,
    /// Temperature of the mix above the written one.
    MixTempError,
    /// Closed so much later than written.
    ClosingDelay,
    /// Gas beyond the usual yield, as a share.
    GasChange,
    /// Diameter of the widest vent.
    Vent,
    /// Diameter of a hole like the leak.
    LeakDiameter,
    /// Gauge pressure from which on it leaks.
    LeakOpened,
    /// Gap along the whole parting line that would leak as much.
    Gap,
    /// Force that the clamp held.
    ClampHeld,
    /// Gauge pressure from which on the clamp gave way.
    LidOpened,
    /// How far the lid lifted.
    Lift,
}

/// What is known of an effect.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EffectRow {
    /// The effect.
    pub effect: Effect,
    /// Its name in tables, without the unit.
    pub name: &'static str,
    /// What it is measured in.
    pub quantity: Quantity,
    /// In words: `{value}` and `{signed}` stand for its value, `{interval}` for its 90 % interval, `{vent}` for the
    /// vents as written down.
    pub words: &'static str,
    /// The same where it is zero; where also the upper end of its interval is.
    pub at_zero: Option<[&'static str; 2]>,
    /// Whether there is nothing between the values that are looked at.
    pub in_steps: bool,
}

const fn effect(effect: Effect, name: &'static str, quantity: Quantity, words: &'static str) -> EffectRow {
    EffectRow { effect, name, quantity, words, at_zero: None, in_steps: false }
}

/// An error of what is written down.
const ERROR: &str = "{signed} against what is written ({interval})";
const OPEN_FROM: &str = "open from {value} gauge on ({interval})";

/// The effects, in the order of [`Effect`].
static EFFECTS: [EffectRow; 12] = [
    effect(Effect::ChargeError, "charge_error", Quantity::Mass, ERROR),
    effect(Effect::MoldTempError, "mold_temp_error", Quantity::TemperatureRise, ERROR),
    effect(Effect::MixTempError, "mix_temp_error", Quantity::TemperatureRise, ERROR),
    effect(Effect::ClosingDelay, "closing_delay", Quantity::Time, "{value} later ({interval})"),
    effect(Effect::GasChange, "gas_change", Quantity::Fraction, "{signed} gas ({interval})"),
    EffectRow {
        in_steps: true,
        ..effect(Effect::Vent, "vent", Quantity::Length, "{value} instead of {vent} ({interval})")
    },
    effect(Effect::LeakDiameter, "leak_diameter", Quantity::Length, "like a hole of {value} ({interval})"),
    EffectRow {
        in_steps: true,
        at_zero: Some(["open from the start or from up to {high} gauge", "open from the start"]),
        ..effect(Effect::LeakOpened, "opened_at", Quantity::GaugePressure, OPEN_FROM)
    },
    effect(
        Effect::Gap,
        "gap",
        Quantity::Length,
        "as wide as a gap of {value} along the whole parting line ({interval})",
    ),
    effect(Effect::ClampHeld, "clamp_held", Quantity::Force, "it held {value} ({interval})"),
    effect(Effect::LidOpened, "opened_at", Quantity::GaugePressure, OPEN_FROM),
    effect(Effect::Lift, "lift", Quantity::Length, "the lid lifted by up to {value} ({interval})"),
];

impl Effect {
    /// What is known of it.
    pub fn row(self) -> &'static EffectRow {
        &EFFECTS[self as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_stand_in_the_order_of_causes_and_effects() {
        assert!(CAUSES.iter().enumerate().all(|(i, row)| row.cause as usize == i));
        assert!(EFFECTS.iter().enumerate().all(|(i, row)| row.effect as usize == i));
    }

    #[test]
    fn usual_odds_are_of_a_hundred_castings() {
        let total: f64 = CAUSES.iter().map(|row| row.usual_odds).sum();
        assert!((total - 100.0).abs() < 1e-12, "{total}");
    }
}
