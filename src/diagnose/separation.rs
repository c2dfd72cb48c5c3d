//! What would separate the two likeliest causes: a reading that was not taken.

use serde::{Deserialize, Serialize};

use super::conditional::ConditionalModel;
use super::hypothesis::Hypothesis;
use super::marginal_likelihood::Ranked;
use super::reading::ReadingKind;
use crate::error::Result;
use crate::fit::{CastingReading, TrialModel};
use crate::model::{CastingResult, Cause};
use crate::numerics::laplace::Peak;
use crate::records::Trial;

/// A reading that differs by less, in its own standard deviations, separates nothing.
const SEPARATING_SDS: f64 = 2.0;

/// The two likeliest causes, and the reading that differs most between them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Separation {
    /// The likeliest cause.
    pub first: Cause,
    /// The next.
    pub second: Cause,
    /// The reading that was not taken and would separate them best; `None` where none would.
    pub reading: Option<SeparatingReading>,
}

/// A reading that two causes predict differently, SI.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SeparatingReading {
    /// What would be read.
    pub kind: ReadingKind,
    /// What the likeliest cause predicts.
    pub by_first: f64,
    /// What the next predicts.
    pub by_second: f64,
    /// Their difference in standard deviations of the reading.
    pub deviations: f64,
}

/// Compares the first two causes that say what comes out.
pub(super) fn between(conditional: &ConditionalModel, ranked: &[Ranked]) -> Result<Option<Separation>> {
    let (Some(first), Some(second)) = (ranked.first(), ranked.get(1)) else { return Ok(None) };
    let reading = match (&first.best, &second.best) {
        (Some(a), Some(b)) => most_separating(conditional, &result(conditional, a)?, &result(conditional, b)?),
        _ => None,
    };
    Ok(Some(Separation { first: first.likely.cause, second: second.likely.cause, reading }))
}

fn result(conditional: &ConditionalModel, (hypothesis, peak): &(Hypothesis, Peak)) -> Result<CastingResult> {
    conditional.under(*hypothesis).result(peak.at.view())
}

/// The reading not taken that differs most. The first cause's outcome is written down as if all of it had been read,
/// and the second compared with that.
fn most_separating(
    conditional: &ConditionalModel,
    first: &CastingResult,
    second: &CastingResult,
) -> Option<SeparatingReading> {
    let model = conditional.trial_model;
    let taken = model.trial;
    let open = |taken: Option<f64>, value: f64| taken.is_none().then_some(value);
    let written = Trial {
        part_mass: open(taken.part_mass, first.part_mass),
        vent_loss: open(taken.vent_loss, first.vent_loss),
        flash: open(taken.flash, first.flash),
        peak_pressure: open(taken.peak_pressure, first.peak_pressure).filter(|_| taken.trace.is_none()),
        core_temp: None,
        outcome: None,
        trace: None,
        gauge_at_stop: false,
        ..taken.clone()
    };
    let all = TrialModel::new(&written, model.setup.clone(), model.parameters.clone(), model.accuracy);
    let compared = all.compared(second, &[]);
    let each = all.observed.iter().zip(compared).filter_map(|(o, difference)| {
        let kind = match o.reading {
            CastingReading::PartMass => ReadingKind::PartMass,
            CastingReading::VentLoss => ReadingKind::VentLoss,
            CastingReading::Flash => ReadingKind::Flash,
            CastingReading::Peak => ReadingKind::PeakPressure,
            _ => return None,
        };
        let deviations = difference.abs() / o.sd();
        Some(SeparatingReading { kind, by_first: o.value, by_second: o.value + difference, deviations })
    });
    each.filter(|d| d.deviations > SEPARATING_SDS).reduce(|a, b| if b.deviations > a.deviations { b } else { a })
}
