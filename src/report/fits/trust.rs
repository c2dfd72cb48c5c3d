//! Whether to trust a prediction: what the fits say of themselves, and whether anything like it was cast.

use super::calibration::SCATTERED;
use crate::fit::{Calibration, FreeRiseFit, Prediction, Status};
use crate::model::{Casting, Outcome};
use crate::report::display::{DisplayUnits, Shown};
use crate::report::page::KeyNumber;
use crate::units::Quantity;

/// Half a 95 % interval wider than this share of the peak is too wide to choose a charge by. Common practice, no
/// source.
const WIDE: f64 = 0.25;
/// Settings this share of their range beyond the castings' still count as cast.
const BESIDE: f64 = 0.05;

/// How far a prediction can be relied on.
pub(super) struct Trust {
    /// Yes, with care or no.
    pub word: &'static str,
    /// What speaks against it; empty if nothing does.
    pub reasons: Vec<String>,
}

impl Trust {
    /// As a key number.
    pub fn key_number(&self) -> KeyNumber {
        let note = match self.reasons.as_slice() {
            [] => "both fits converged, and castings like it were weighed".to_owned(),
            reasons => reasons.join("; "),
        };
        KeyNumber::new("Trust it?", self.word, note)
    }
}

/// Collects what speaks against a prediction.
pub(super) fn trust(
    fit: &FreeRiseFit,
    cal: &Calibration,
    (casting, prediction): (&Casting, &Prediction),
    units: DisplayUnits,
) -> Trust {
    let failed = [
        (fit.converged, "the fit of the grade did not converge"),
        (cal.converged, "the calibration of the mold did not converge"),
    ];
    let failed: Vec<String> = failed.iter().filter(|(ok, _)| !ok).map(|(_, words)| (*words).to_owned()).collect();
    if !failed.is_empty() {
        return Trust { word: "No", reasons: failed };
    }
    let mut reasons = beyond_what_was_cast(cal, casting, units);
    let peak = prediction.at(Outcome::PeakPressure);
    if peak.interval_95.1 - peak.interval_95.0 > 2.0 * WIDE * peak.value {
        reasons.push("the interval of the peak is wide".to_owned());
    }
    reasons.extend(doubts_of_calibration(cal));
    Trust { word: if reasons.is_empty() { "Yes" } else { "With care" }, reasons }
}

fn doubts_of_calibration(cal: &Calibration) -> Vec<String> {
    let mut out = Vec::new();
    let odd: Vec<&str> = cal.castings.iter().filter(|c| c.is_odd()).map(|c| c.trial.name.as_str()).collect();
    if !odd.is_empty() {
        out.push(format!("{} {} not fit the others", odd.join(", "), if odd.len() == 1 { "does" } else { "do" }));
    }
    if cal.misfit_ratio > SCATTERED {
        out.push("the castings scatter more than weighing explains".to_owned());
    }
    let at_bound = cal.estimates.iter().filter(|e| e.record.is_none() && e.status == Status::AtBound);
    out.extend(at_bound.map(|e| format!("{} stands at its bound", e.name())));
    out
}

/// Which settings lie outside the range of the castings.
fn beyond_what_was_cast(cal: &Calibration, casting: &Casting, units: DisplayUnits) -> Vec<String> {
    type Pick = fn(&Casting) -> Option<f64>;
    let settings: [(&str, Quantity, Pick); 4] = [
        ("charge", Quantity::Mass, |c| Some(c.charge)),
        ("vent", Quantity::Length, |c| c.vent_diameters.iter().copied().reduce(f64::max)),
        ("mix temperature", Quantity::Temperature, |c| Some(c.mix_temp)),
        ("mold temperature", Quantity::Temperature, |c| Some(c.mold_temp)),
    ];
    let mut out = Vec::new();
    for (name, quantity, pick) in settings {
        let cast: Vec<f64> = cal.castings.iter().filter_map(|c| pick(&c.trial.casting)).collect();
        if let Some(value) = pick(casting) {
            out.extend(beyond(name, units.of(quantity), value, &cast));
        }
    }
    out
}

fn beyond(name: &str, unit: Shown, value: f64, cast: &[f64]) -> Option<String> {
    let low = cast.iter().copied().reduce(f64::min)?;
    let high = cast.iter().copied().reduce(f64::max)?;
    let beside = BESIDE * (high - low);
    let is_beyond = value < low - beside || value > high + beside;
    is_beyond.then(|| format!("{name} {} is beyond what was cast ({})", unit.text(value), unit.interval((low, high))))
}
