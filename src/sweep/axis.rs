//! An axis of a sweep: one setting of a casting, and the values it takes.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::model::Setting;

/// A setting with the values it takes, SI.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Axis {
    /// What varies.
    pub setting: Setting,
    /// Its values, SI, in any order.
    pub values: Vec<f64>,
}

impl Axis {
    /// An axis with these values, SI.
    pub fn list(setting: Setting, values: impl Into<Vec<f64>>) -> Self {
        Axis { setting, values: values.into() }
    }

    /// An axis of `count` values at equal distances, both ends (SI) included.
    pub fn even(setting: Setting, first: f64, last: f64, count: usize) -> Self {
        let step = (last - first) / (count.max(2) - 1) as f64;
        let value = |i: usize| if i > 0 && i + 1 == count { last } else { first + i as f64 * step };
        Axis { setting, values: (0..count).map(value).collect() }
    }
}

/// Refuses axes that no grid can be made of.
pub(super) fn check(axes: &[Axis]) -> Result<()> {
    for (i, axis) in axes.iter().enumerate() {
        let name = axis.setting.name();
        if axis.values.is_empty() {
            return Err(Error::argument(name, "no values", "at least one value", "leave the axis out, or give values"));
        }
        if let Some(bad) = axis.values.iter().position(|x| !x.is_finite()) {
            let found = format!("{} at index {bad}", axis.values[bad]);
            return Err(Error::argument(name, found, "finite numbers", "correct that value or leave it out"));
        }
        if let Some((x, (expected, advice))) = axis.values.iter().find_map(|x| Some((x, axis.setting.doubt(*x)?))) {
            return Err(Error::argument(name, x, expected, advice));
        }
        if let Some(rival) = axes[..i].iter().find(|other| other.setting.is_rival(axis.setting)) {
            let found = format!("an axis of {name} beside one of {}", rival.setting.name());
            return Err(Error::argument(name, found, "one axis for each setting", "leave one of the two out"));
        }
    }
    Ok(())
}
