//! An axis: its range, and ticks at round numbers that leave room for their labels.

use crate::report::number::fixed;

/// Share of the range left free at either end.
const MARGIN: f64 = 0.05;
/// Readings in whatever unit stay below this.
const FURTHEST: f64 = 1e150;
/// An axis with fewer ticks than this gets a finer step, if a somewhat finer one helps.
const FEWEST_TICKS: usize = 3;
/// Largest number of ticks.
const MOST_TICKS: usize = 12;

/// A range in display units with ticks at round numbers.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Axis {
    pub low: f64,
    pub high: f64,
    pub ticks: Vec<f64>,
    decimals: usize,
}

impl Axis {
    /// An axis over all finite values, with a margin and `count` ticks or fewer. Without values it runs from 0 to 1.
    pub fn over(values: impl IntoIterator<Item = f64>, count: usize) -> Axis {
        let (low, high) = range(values);
        let margin = MARGIN * (high - low);
        Axis::between(low - margin, high + margin, count)
    }

    /// As [`Axis::over`], from zero, or from the lowest value if that is below zero.
    pub fn from_zero(values: impl IntoIterator<Item = f64>, count: usize) -> Axis {
        let (low, high) = range(values.into_iter().chain([0.0]));
        let margin = MARGIN * (high - low);
        Axis::between(if low < 0.0 { low - margin } else { 0.0 }, high + margin, count)
    }

    /// An axis from `low` to `high` with about `count` ticks or fewer.
    pub fn between(low: f64, high: f64, count: usize) -> Axis {
        let (low, high) = range([low, high]);
        let count = count.clamp(2, MOST_TICKS);
        let step_of = |count: usize| round_step((high - low) / count as f64);
        let enough = |count: &usize| multiples(step_of(*count), low, high).len() >= FEWEST_TICKS;
        let step = step_of((count..count + 4).find(enough).unwrap_or(count));
        Axis { low, high, ticks: multiples(step, low, high), decimals: decimals_of(step) }
    }

    /// An axis without ticks.
    pub fn bare(low: f64, high: f64) -> Axis {
        Axis { low, high, ticks: Vec::new(), decimals: 0 }
    }

    /// A tick's label.
    pub fn label(&self, tick: f64) -> String {
        fixed(tick, self.decimals)
    }

    /// Share of the way from low to high.
    pub fn share(&self, x: f64) -> f64 {
        (x - self.low) / (self.high - self.low)
    }

    /// How long the longest label is, characters.
    pub fn label_length(&self) -> usize {
        self.ticks.iter().map(|tick| self.label(*tick).chars().count()).max().unwrap_or(1)
    }
}

/// Whether a reading is finite and no further from zero than a chart can show.
pub(super) fn is_drawable(x: f64) -> bool {
    x.abs() < 1e100
}

/// Lowest and highest finite value, widened where they coincide.
fn range(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    let finite = values.into_iter().filter(|x| x.abs() < FURTHEST);
    let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
    if low > high {
        return (0.0, 1.0);
    }
    let least = 1e-6 * low.abs().max(high.abs()).max(1e-6);
    if high - low >= least {
        return (low, high);
    }
    let half = if low == 0.0 { 0.5 } else { 0.05 * low.abs() };
    (low - half, high + half)
}

fn multiples(step: f64, low: f64, high: f64) -> Vec<f64> {
    let (first, last) = ((low / step - 1e-9).ceil(), (high / step + 1e-9).floor());
    (0..=(last - first).max(0.0) as usize).map(|i| (first + i as f64) * step).collect()
}

/// The smallest of 1, 2, 5 times a power of ten that is not below `least`.
fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0]
        .into_iter()
        .map(|digit| digit * power)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

fn decimals_of(step: f64) -> usize {
    (-(step.log10() + 1e-9).floor()).clamp(0.0, 9.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_no_more_than_asked_for() {
        let axis = Axis::between(0.0, 300.0, 8);
        assert_eq!(axis.ticks, vec![0.0, 50.0, 100.0, 150.0, 200.0, 250.0, 300.0]);
        let axis = Axis::between(-0.013, 0.027, 5);
        assert_eq!(axis.ticks.iter().map(|t| axis.label(*t)).collect::<Vec<_>>(), ["-0.01", "0.00", "0.01", "0.02"]);
    }

    #[test]
    fn no_values_or_one_value_make_an_axis() {
        assert_eq!((Axis::over([f64::NAN], 5).low, Axis::over([], 5).high), (-0.05, 1.05));
        let axis = Axis::over([96.4], 5);
        assert!(axis.low < 96.4 && axis.high > 96.4 && axis.ticks.len() >= 2);
    }
}
