//! How large a cause is: a value and its interval from the sizes looked at.

use serde::Serialize;

use crate::units::Quantity;

/// Shares of the 90 % interval's ends and of the median.
const ENDS: [f64; 3] = [0.05, 0.5, 0.95];

/// How large a cause is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Size {
    /// Its name, without unit.
    pub name: &'static str,
    /// What it is measured in.
    #[serde(skip)]
    pub quantity: Quantity,
    /// The median, SI.
    pub value: f64,
    /// Limits of the 90 % interval, SI.
    pub interval_90: (f64, f64),
}

impl Size {
    /// Of sizes with their probabilities, which stand for what lies between them.
    pub(super) fn between(name: &'static str, quantity: Quantity, sizes: Vec<(f64, f64)>) -> Self {
        let sizes = merged(sizes);
        let [low, value, high] = ENDS.map(|share| between(&sizes, share));
        Size { name, quantity, value, interval_90: (low, high) }
    }

    /// Of sizes with their probabilities, among which there is nothing: drills.
    pub(super) fn among(name: &'static str, quantity: Quantity, sizes: Vec<(f64, f64)>) -> Self {
        let sizes = merged(sizes);
        let [low, value, high] = ENDS.map(|share| among(&sizes, share));
        Size { name, quantity, value, interval_90: (low, high) }
    }
}

/// In rising order, equal sizes taken together, the probabilities adding up to 1.
fn merged(mut sizes: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = sizes.iter().map(|(_, p)| p).sum();
    let mut out: Vec<(f64, f64)> = Vec::new();
    for (size, p) in sizes {
        match out.last_mut().filter(|(last, _)| *last == size) {
            Some((_, sum)) => *sum += p / total,
            None => out.push((size, p / total)),
        }
    }
    out
}

/// The size below which this share lies, each probability spread evenly half way to its neighbors.
fn between(sizes: &[(f64, f64)], share: f64) -> f64 {
    let last = sizes.len() - 1;
    let edge = |i: usize| match i {
        0 => sizes[0].0,
        i if i > last => sizes[last].0,
        i => 0.5 * (sizes[i - 1].0 + sizes[i].0),
    };
    let mut below = 0.0;
    for (i, (_, p)) in sizes.iter().enumerate() {
        if below + p >= share {
            return edge(i) + (edge(i + 1) - edge(i)) * (share - below) / p;
        }
        below += p;
    }
    sizes[last].0
}

fn among(sizes: &[(f64, f64)], share: f64) -> f64 {
    let mut below = 0.0;
    for (size, p) in sizes {
        below += p;
        if below >= share {
            return *size;
        }
    }
    sizes[sizes.len() - 1].0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn even_sizes_have_even_quantiles() {
        let sizes: Vec<(f64, f64)> = (0..=100).map(|i| (f64::from(i), 1.0)).collect();
        let size = Size::between("x", Quantity::Time, sizes);
        assert!((size.value - 50.0).abs() < 1e-9 && (size.interval_90.0 - 4.55).abs() < 0.01, "{size:?}");
        let size = Size::among("x", Quantity::Length, vec![(3.0, 0.9), (2.0, 0.06), (3.0, 0.04)]);
        assert_eq!((size.value, size.interval_90), (3.0, (2.0, 3.0)));
    }
}
