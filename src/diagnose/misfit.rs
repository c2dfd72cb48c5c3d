//! How far each reading is from what the others predict, one by one and all together.

use ndarray::{Array1, Array2};
use serde::Serialize;

use super::suspect::{Look, Suspect};
use super::suspicion::Suspicion;
use crate::error::Result;
use crate::numerics::chi_square::chi_square_tail;
use crate::numerics::lanes::Function;
use crate::numerics::laplace::{Evidence, climb};
use crate::numerics::normal::quantile_of_unit_normal;
use crate::units::Quantity;

/// A loss that is predicted to be less than this share of its standard deviation is predicted as none.
const NONE: f64 = 0.5;
/// An answer that is this many of the eye's standard deviations clear is not in doubt.
const CLEAR: f64 = 3.0;

/// What was weighed, read or seen of a casting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum What {
    /// Mass of the part, kg.
    PartMass,
    /// Mass that came out of the vents, kg.
    VentLoss,
    /// Mass that came out of the parting line, kg.
    Flash,
    /// Peak gauge pressure, Pa.
    PeakPressure,
    /// Peak gauge pressure beyond the gauge's stop, Pa.
    PeakAtLeast,
    /// Hottest temperature in the core, K.
    CoreTemp,
    /// Whether the part was full.
    WasFull,
    /// Whether there was flash.
    WasFlashed,
    /// The trace of the pressure; its mean gauge pressure, Pa.
    Trace,
}

impl What {
    /// All of them.
    pub const ALL: [What; 9] = [
        What::PartMass,
        What::VentLoss,
        What::Flash,
        What::PeakPressure,
        What::PeakAtLeast,
        What::CoreTemp,
        What::WasFull,
        What::WasFlashed,
        What::Trace,
    ];

    /// What it is measured in; `None` of an answer of the eye.
    pub fn quantity(self) -> Option<Quantity> {
        match self {
            What::PartMass | What::VentLoss | What::Flash => Some(Quantity::Mass),
            What::PeakPressure | What::PeakAtLeast | What::Trace => Some(Quantity::GaugePressure),
            What::CoreTemp => Some(Quantity::Temperature),
            What::WasFull | What::WasFlashed => None,
        }
    }

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            What::PartMass => "part_mass",
            What::VentLoss => "vent_loss",
            What::Flash => "flash",
            What::PeakPressure => "peak_pressure",
            What::PeakAtLeast => "peak_pressure_at_least",
            What::CoreTemp => "core_temp",
            What::WasFull => "full",
            What::WasFlashed => "flashed",
            What::Trace => "trace",
        }
    }
}

/// A reading against what the other castings predict, SI.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Misfit {
    /// What was read.
    pub what: What,
    /// What was read; `None` of an answer of the eye.
    pub measured: Option<f64>,
    /// What the others predict; `None` of an answer.
    pub predicted: Option<f64>,
    /// Standard deviation of the prediction: doubt, scatter and the reading's own.
    pub sd: Option<f64>,
    /// Measured less predicted, in standard deviations. A limit or an answer has 0 as long as it agrees, else below.
    pub deviations: f64,
}

/// Every reading of a casting; a trace is one.
pub(super) fn misfits(suspect: &Suspect) -> Result<Vec<Misfit>> {
    let start = Array1::zeros(suspect.coordinates());
    let whole = suspect.under(Suspicion::Nothing);
    let (_, slopes) = whole.slopes(start.view())?;
    let outputs = whole.outputs(&whole.values(start.view()).0)?;
    groups(suspect).into_iter().map(|rows| misfit(suspect, rows, &outputs, &slopes)).collect()
}

/// The rows that belong together.
fn groups(suspect: &Suspect) -> Vec<Vec<usize>> {
    let mut out: Vec<Vec<usize>> = Vec::new();
    for i in 0..suspect.sds.len() {
        match out.last_mut().filter(|rows| suspect.what(i) == What::Trace && suspect.what(rows[0]) == What::Trace) {
            Some(rows) => rows.push(i),
            None => out.push(vec![i]),
        }
    }
    out
}

fn misfit(suspect: &Suspect, rows: Vec<usize>, outputs: &[f64], slopes: &Array2<f64>) -> Result<Misfit> {
    let first = rows[0];
    let n = rows.len() as f64;
    let mean = |of: &dyn Fn(usize) -> f64| rows.iter().map(|&i| of(i)).sum::<f64>() / n;
    let measured = mean(&|i| suspect.model.observed[i].value);
    let excess = mean(&|i| -outputs[i]);
    let slope = rows.iter().fold(Array1::zeros(slopes.ncols()), |sum: Array1<f64>, &i| sum + slopes.row(i)) / n;
    let is_value = suspect.is_value(first);
    let shown = |x: f64| (is_value || suspect.model.observed[first].value != 0.0).then_some(x);
    let sd = suspect.sds[first] * (1.0 + slope.dot(&slope)).sqrt();
    let look = Look { suspect, suspicion: Suspicion::Nothing, rows };
    let peak = climb(&look, Array1::zeros(suspect.coordinates()))?;
    let deviations = match (is_value, look.rows.len()) {
        (true, 1) => peak.square.sqrt().copysign(excess),
        (true, count) => as_deviations(chi_square_tail(peak.square, count)).copysign(excess),
        (false, _) => quantile_of_unit_normal(peak.log_evidence.exp()).min(0.0),
    };
    Ok(Misfit {
        what: suspect.what(first),
        measured: shown(measured),
        predicted: shown(measured - excess),
        sd: is_value.then_some(sd),
        deviations,
    })
}

/// How likely a casting is as far off as this one or farther, from the misfits' squares added up. A limit, an answer, and a loss
/// that is predicted as none can only be off in one direction: one degree of freedom in half of all cases. An answer that the
/// others leave no doubt about has none.
pub(super) fn joint_probability(suspect: &Suspect, square: f64) -> Result<f64> {
    let start = Array1::zeros(suspect.coordinates());
    let look = suspect.under(Suspicion::Nothing);
    let outputs = look.outputs(&look.values(start.view()).0)?;
    let (_, slopes) = look.slopes(start.view())?;
    let mut counts = vec![1.0];
    for (i, output) in outputs.iter().enumerate() {
        let sd = suspect.sds[i] * (1.0 + slopes.row(i).dot(&slopes.row(i))).sqrt();
        let predicted = output + suspect.model.observed[i].value;
        let share = match suspect.what(i) {
            What::VentLoss | What::Flash if predicted < NONE * sd => 0.5,
            _ if suspect.is_value(i) => 1.0,
            _ if *output > CLEAR * suspect.sds[i] => 0.0,
            _ => 0.5,
        };
        counts = one_more(&counts, share);
    }
    // Without any degree of freedom nothing is off, but for what answers cost that agree.
    let tail = |k: usize| if k > 0 { chi_square_tail(square, k) } else { f64::from(square < 1.0) };
    Ok(counts.iter().enumerate().map(|(k, p)| p * tail(k)).sum())
}

/// Probabilities of 0, 1, ... degrees of freedom with one more that there is in this share of cases.
fn one_more(counts: &[f64], share: f64) -> Vec<f64> {
    let with = |k: usize| if k > 0 { counts[k - 1] * share } else { 0.0 };
    (0..=counts.len()).map(|k| counts.get(k).unwrap_or(&0.0) * (1.0 - share) + with(k)).collect()
}

/// A probability as the two-sided deviation of a unit normal.
pub(super) fn as_deviations(probability: f64) -> f64 {
    -quantile_of_unit_normal(0.5 * probability.max(f64::MIN_POSITIVE))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_of_freedom_that_may_be_there_are_counted_by_their_share() {
        let counts = one_more(&one_more(&one_more(&[1.0], 1.0), 0.5), 0.0);
        assert_eq!(counts, vec![0.0, 0.5, 0.5, 0.0]);
    }

    #[test]
    fn deviations_are_those_of_a_unit_normal() {
        assert!((as_deviations(0.05) - 1.959_963_984_540_054).abs() < 1e-9 && as_deviations(1.0).abs() < 1e-12);
        assert!(as_deviations(0.0).is_finite());
    }
}
