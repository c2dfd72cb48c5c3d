//! How large a cause is in one respect: a value and its interval from the hypotheses that were compared.

use serde::{Deserialize, Serialize};

use crate::model::Effect;

/// Shares of the 90 % interval's ends and of the median.
const ENDS: [f64; 3] = [0.05, 0.5, 0.95];

/// How large a cause is, in SI units.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct EffectSize {
    /// What it is the size of.
    pub effect: Effect,
    /// The median, SI.
    pub value: f64,
    /// Limits of the 90 % interval, SI.
    pub interval_90: (f64, f64),
}

impl EffectSize {
    /// Of values with their probabilities. They stand for what lies between them, unless there is nothing: drills.
    pub(super) fn new(effect: Effect, values: Vec<(f64, f64)>) -> Self {
        let values = merged(values);
        let quantile = if effect.row().in_steps { among } else { between };
        let [low, value, high] = ENDS.map(|share| quantile(&values, share));
        EffectSize { effect, value, interval_90: (low, high) }
    }
}

/// In rising order, equal values taken together, the probabilities adding up to 1.
fn merged(mut values: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = values.iter().map(|(_, p)| p).sum();
    let mut out: Vec<(f64, f64)> = Vec::new();
    for (value, p) in values {
        match out.last_mut().filter(|(last, _)| *last == value) {
            Some((_, sum)) => *sum += p / total,
            None => out.push((value, p / total)),
        }
    }
    out
}

/// The value below which this share lies, each probability spread evenly half way to its neighbors.
fn between(values: &[(f64, f64)], share: f64) -> f64 {
    let last = values.len() - 1;
    let edge = |i: usize| match i {
        0 => values[0].0,
        i if i > last => values[last].0,
        i => 0.5 * (values[i - 1].0 + values[i].0),
    };
    let mut below = 0.0;
    for (i, (_, p)) in values.iter().enumerate() {
        if below + p >= share {
            return edge(i) + (edge(i + 1) - edge(i)) * (share - below) / p;
        }
        below += p;
    }
    values[last].0
}

fn among(values: &[(f64, f64)], share: f64) -> f64 {
    let mut below = 0.0;
    for (value, p) in values {
        below += p;
        if below >= share {
            return *value;
        }
    }
    values[values.len() - 1].0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn even_values_have_even_quantiles() {
        let values: Vec<(f64, f64)> = (0..=100).map(|i| (f64::from(i), 1.0)).collect();
        let size = EffectSize::new(Effect::ClosingDelay, values);
        assert!((size.value - 50.0).abs() < 1e-9 && (size.interval_90.0 - 4.55).abs() < 0.01, "{size:?}");
        let size = EffectSize::new(Effect::Vent, vec![(3.0, 0.9), (2.0, 0.06), (3.0, 0.04)]);
        assert_eq!((size.value, size.interval_90), (3.0, (2.0, 3.0)));
    }
}
