//! What a shop asks: how it casts, what a good part is, which charges and vents it could use.

use super::chances::{Candidate, judge};
use super::drills::Drill;
use super::goal::Goal;
use crate::error::{Error, Result};
use crate::fit::{Draws, Outcomes};
use crate::model::Casting;
use crate::units::Quantity;
use serde::{Deserialize, Serialize};

/// Charges that are looked at, as shares of what fills the cavity at the target density with nothing lost.
const LEAST: f64 = 0.91;
const MOST: f64 = 1.40;

/// What other vents have to raise the chance by, or else they stay: smaller ones need plugs; larger ones are drilled at once, but
/// a hole is not undrilled, while a small one is drilled larger whenever castings say so. Common practice, no source.
const PLUGGING: f64 = 0.02;
const DRILLING: f64 = 0.1;

/// What is asked for beside the settings of a casting, as it is called at the edge.
pub struct Asked {
    /// Its name, without the unit.
    pub name: &'static str,
    /// What it measures.
    pub quantity: Quantity,
    /// What it is, in a sentence.
    pub sentence: &'static str,
    /// How many numbers it is.
    pub count: Count,
}

/// How many numbers something asked for is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Count {
    /// One.
    One,
    /// The smaller and the larger end of a range.
    Range,
    /// As many as there are.
    Any,
}

const fn asked(name: &'static str, quantity: Quantity, count: Count, sentence: &'static str) -> Asked {
    Asked { name, quantity, sentence, count }
}

/// What is asked for beside the settings of a casting.
pub static ASKED: [Asked; 6] = [
    asked("target_density", Quantity::Density, Count::One, "Density at which a part is good."),
    asked("tolerance", Quantity::Fraction, Count::One, "How far the density may be off, as a share of it."),
    asked("pressure", Quantity::GaugePressure, Count::Range, "Least and highest peak gauge pressure."),
    asked("charges", Quantity::Mass, Count::Range, "Least and highest charge."),
    asked("charge_step", Quantity::Mass, Count::One, "Step in which charges are weighed."),
    asked("drills", Quantity::Length, Count::Any, "Drills that the shop owns; none: the vents stay."),
];

/// What a shop asks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Question {
    /// How it casts; charge and vents of it are what is asked for.
    pub casting: Casting,
    /// What a good part is.
    pub goal: Goal,
    /// Least and highest charge, kg. `None`: around what the target density asks for.
    pub charges: Option<(f64, f64)>,
    /// Step in which charges are weighed, kg. `None`: a round step of about 0.2 %.
    pub charge_step: Option<f64>,
    /// The drills that the vents could be made with, each for all vents of the mold, beside the vents as they are: those of
    /// `casting`, or of the mold where it names none.
    pub drills: Vec<Drill>,
}

impl Question {
    /// Refuses a question without an answer.
    pub(super) fn check(&self) -> Result<()> {
        self.goal.check()?;
        if let Some((low, high)) = self.charges.filter(|(low, high)| !(*low > 0.0 && low <= high)) {
            let found = format!("{:.1} to {:.1} g", 1e3 * low, 1e3 * high);
            return Err(Error::argument("charges", found, "two masses above zero, the smaller first", "swap the two"));
        }
        if let Some(drill) = self.drills.iter().find(|d| !(d.diameter > 0.0 && d.diameter.is_finite())) {
            let advice = "look at the value and its unit; give no drills if the vents are to stay";
            return Err(Error::argument("drills", format!("`{}`", drill.name), "diameters above zero", advice));
        }
        match self.charge_step {
            Some(step) if !(step > 0.0 && step.is_finite()) => {
                Err(Error::argument("charge_step", 1e3 * step, "above zero", "the step in which charges are weighed"))
            }
            _ => Ok(()),
        }
    }

    /// The charges to look at, kg.
    pub(super) fn range(&self, draws: &Draws) -> (f64, f64) {
        let filling = self.goal.density * draws.cavity(&self.casting).volume;
        let around = |share: f64| self.casting.left_in_cup + share * filling;
        self.charges.unwrap_or_else(|| (around(LEAST), around(MOST)))
    }

    /// The vents to look at, by size; the vents as they are stand among them as `None`, unless a drill of that size does.
    pub(super) fn vents(&self, draws: &Draws) -> Vec<Option<Drill>> {
        let own = self.own_vents(draws);
        if own.is_empty() {
            return vec![None];
        }
        let mut all: Vec<Option<Drill>> = self.drills.iter().cloned().map(Some).collect();
        if !all.iter().flatten().any(|drill| makes(drill, &own)) {
            all.push(None);
        }
        let size = |vent: &Option<Drill>| vent.as_ref().map_or(own[0], |drill| drill.diameter);
        all.sort_by(|a, b| size(a).total_cmp(&size(b)));
        all.dedup_by(|a, b| size(a) == size(b));
        all
    }

    /// Whether these are the vents as they are: nobody has to drill.
    pub(super) fn stay(&self, draws: &Draws, drill: Option<&Drill>) -> bool {
        drill.is_none_or(|drill| makes(drill, &self.own_vents(draws)))
    }

    /// What these vents have to raise the chance by against those as they are.
    pub(super) fn work(&self, draws: &Draws, drill: Option<&Drill>) -> f64 {
        match drill {
            Some(drill) if !self.stay(draws, Some(drill)) => {
                let largest = self.own_vents(draws).into_iter().fold(0.0, f64::max);
                if drill.diameter > largest { DRILLING } else { PLUGGING }
            }
            _ => 0.0,
        }
    }

    /// Diameters of the vents as they are, m: those that a shop can drill. Others are left alone.
    fn own_vents(&self, draws: &Draws) -> Vec<f64> {
        self.casting.drilled_vents(&draws.described_cavity(&self.casting))
    }

    /// A charge as it would be weighed.
    pub(super) fn weighed(&self, charge: f64) -> f64 {
        let step = self.charge_step.unwrap_or_else(|| round_step(2e-3 * charge));
        (charge / step).round() * step
    }

    /// The casting with this charge and drill.
    pub(super) fn casting(&self, charge: f64, drill: Option<&Drill>) -> Casting {
        let vents = drill.map_or_else(|| self.casting.vent_diameters.clone(), |d| vec![d.diameter]);
        Casting { charge, vent_diameters: vents, ..self.casting.clone() }
    }

    /// The setting with its chances; `None` where this cannot be cast.
    pub(super) fn judged(&self, draws: &Draws, charge: f64, drill: Option<&Drill>) -> Result<Option<Candidate>> {
        let casting = self.casting(charge, drill);
        match draws.casting(&casting) {
            Ok(outcomes) => Ok(Some(self.judged_by(casting, drill, &outcomes))),
            Err(error) if error.is_recoverable() => Ok(None),
            Err(error) => Err(error),
        }
    }
}

impl Question {
    /// The setting with the chances of these outcomes.
    pub(super) fn judged_by(&self, casting: Casting, drill: Option<&Drill>, outcomes: &Outcomes) -> Candidate {
        judge(casting, drill.cloned(), outcomes, &self.goal)
    }
}

/// Whether vents of these diameters could have been made with this drill, to a micrometer.
fn makes(drill: &Drill, vents: &[f64]) -> bool {
    vents.iter().all(|diameter| (diameter - drill.diameter).abs() < 1e-6)
}

/// The largest of 1, 2, 5 times a power of ten that is not above `most`.
fn round_step(most: f64) -> f64 {
    let power = 10f64.powf(most.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|digit| digit * power).find(|step| *step <= most * (1.0 + 1e-9)).unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        let step = |x: f64| (round_step(x) * 1e9).round() / 1e9;
        assert_eq!([step(0.12e-3), step(0.7e-3), step(0.05)], [0.1e-3, 0.5e-3, 0.05]);
    }
}
