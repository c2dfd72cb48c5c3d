//! The process window: chances of a good part over charge and vent, around a setting.

use super::chances::Candidate;
use super::drills::Drill;
use super::recommend::{Recommendation, judged_all};
use crate::error::Result;
use crate::fit::Draws;

/// Draws of each cell.
const DRAWS: usize = 100;
/// Charges on either side of the best, and how far apart they are as a share of the tolerance.
const CHARGES: i32 = 5;
const APART: f64 = 0.5;
/// Most vents that are shown.
const VENTS: usize = 9;

/// Chances over charge and vent.
#[derive(Clone, Debug)]
pub struct ChanceMap {
    /// Charges, kg, rising; shape (n,).
    pub charges: Vec<f64>,
    /// Vents, as asked for, by size; `None`: as they are; shape (m,).
    pub drills: Vec<Option<Drill>>,
    /// The settings by vent, then charge; `None` where one cannot be cast; shape (m, n).
    pub settings: Vec<Vec<Option<Candidate>>>,
}

/// The chances around a recommendation.
///
/// # Errors
/// Those of the draws' castings.
pub fn chance_map(draws: &Draws, recommendation: &Recommendation) -> Result<ChanceMap> {
    let (question, best) = (&recommendation.question, &recommendation.best);
    let step = APART * question.goal.tolerance;
    let charge = |i: i32| question.weighed(best.casting.charge * (1.0 + step * f64::from(i)));
    let mut charges: Vec<f64> = (-CHARGES..=CHARGES).map(charge).collect();
    charges.dedup();
    let draws = draws.first(DRAWS);
    let drills = shown_vents(&draws, recommendation);
    let row = |drill: &Option<Drill>| {
        let all: Vec<_> = charges.iter().map(|c| (*c, drill.clone())).collect();
        let judged = judged_all(&draws, question, &all)?;
        let of = |c: &f64| judged.iter().find(|s| s.casting.charge == *c).cloned();
        Ok(charges.iter().map(of).collect())
    };
    let settings = drills.iter().map(row).collect::<Result<Vec<_>>>()?;
    Ok(ChanceMap { charges, drills, settings })
}

/// The vents around the best one, by size.
fn shown_vents(draws: &Draws, recommendation: &Recommendation) -> Vec<Option<Drill>> {
    let all = recommendation.question.vents(draws);
    let best = all.iter().position(|vent| *vent == recommendation.best.drill).unwrap_or_default();
    let first = best.saturating_sub(VENTS / 2).min(all.len().saturating_sub(VENTS));
    all.into_iter().skip(first).take(VENTS).collect()
}
