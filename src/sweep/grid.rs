//! The grid of a sweep: the product of its axes, counted and never stored.

use serde::{Deserialize, Serialize};

use super::axis::{self, Axis};
use super::block::{Judgment, Row};
use super::case::Case;
use crate::error::{Error, Result};
use crate::model::{Casting, Outcome, Run, Setting};
use crate::physics::adiabatic_rise::free_rise_density;
use crate::physics::casting::{Accuracy, sampled, simulate};

/// Castings over a grid of settings: every case at every combination of the axes' values.
///
/// Points are numbered from 0; the last axis runs fastest, the case slowest. Memory grows with the sum of the axes' lengths,
/// not with their product.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sweep {
    cases: Vec<Case>,
    base: Casting,
    axes: Vec<Axis>,
    relative: f64,
    points: usize,
}

impl Sweep {
    /// A sweep of `cases`: `base` has the settings that do not vary.
    ///
    /// # Errors
    /// [`Error::Argument`] without a case, for an axis without values, with values that are not finite, or given twice, for
    /// an axis of the vent in a mold without vents, of a leak that `base` does not have, and for more points than can be
    /// counted. A point that cannot be cast is no error: it is a [`Row`] that says so.
    pub fn new(cases: Vec<Case>, base: Casting, axes: Vec<Axis>, accuracy: Accuracy) -> Result<Self> {
        if cases.is_empty() {
            return Err(Error::argument("cases", "none", "at least one foam in a cavity", "give a grade and a mold"));
        }
        axis::check(&axes)?;
        let has = |setting| axes.iter().any(|axis| axis.setting == setting);
        if has(Setting::Vent) && cases.iter().any(|case| case.cavity.drilled().next().is_none()) {
            let advice = "leave the axis out, or add `[[vents]]` to the mold";
            return Err(Error::argument("vent", "an axis, but the mold has no vents", "a mold with vents", advice));
        }
        if let (None, Some(axis)) = (base.leak, axes.iter().find(|axis| axis.setting.row().of_leak)) {
            let found = "an axis, but the casting has no leak";
            let advice = "a leak has a diameter, a length, and a time or pressure at which it opens";
            return Err(Error::argument(axis.setting.name(), found, "a casting with a leak", advice));
        }
        let lengths = axes.iter().map(|axis| axis.values.len());
        let counted = lengths.chain([cases.len()]).try_fold(1_usize, |all, n| all.checked_mul(n));
        let points = counted.ok_or_else(|| {
            Error::argument("axes", "more points than can be counted", "fewer points", "shorten an axis")
        })?;
        Ok(Sweep { cases, base, axes, relative: accuracy.relative, points })
    }

    /// How many points there are.
    pub fn points(&self) -> usize {
        self.points
    }

    /// The axes, the slowest first.
    pub fn axes(&self) -> &[Axis] {
        &self.axes
    }

    /// What is cast.
    pub fn cases(&self) -> &[Case] {
        &self.cases
    }

    /// Lengths of the axes, the slowest first, after the number of cases if there are several.
    pub fn shape(&self) -> Vec<usize> {
        let cases = (self.cases.len() > 1).then_some(self.cases.len());
        cases.into_iter().chain(self.axes.iter().map(|axis| axis.values.len())).collect()
    }

    /// Case and settings of a point, as a shop would set them.
    ///
    /// # Errors
    /// [`Error::Argument`] where there is no such point.
    pub fn settings(&self, point: usize) -> Result<(usize, Casting)> {
        if point >= self.points {
            let expected = format!("0 to {}", self.points - 1);
            return Err(Error::argument("point", point, expected, "points are counted from 0"));
        }
        Ok(self.set(point))
    }

    fn set(&self, point: usize) -> (usize, Casting) {
        let mut casting = self.base.clone();
        let mut rest = point;
        for axis in self.axes.iter().rev() {
            let n = axis.values.len();
            axis.setting.set(&mut casting, axis.values[rest % n]);
            rest /= n;
        }
        (rest, casting)
    }

    /// Casts one point with its courses at `times` times from pour to demold; for a refused point, this says why.
    ///
    /// # Errors
    /// As [`simulate`]; [`Error::Argument`] where there is no such point.
    pub fn cast(&self, point: usize, times: usize) -> Result<Run> {
        let (case, mut casting) = self.settings(point)?;
        let case = &self.cases[case];
        case.slips.apply(&mut casting);
        simulate(&case.foam, &case.cavity, &casting, times, self.accuracy())
    }

    /// What a point comes to.
    pub(super) fn row(&self, point: usize, densities: &mut Densities) -> Row {
        self.outcome(point, densities).unwrap_or_else(|error| match error {
            Error::Integration { .. } => Row::empty(Judgment::Failed),
            _ => Row::empty(Judgment::Refused),
        })
    }

    fn outcome(&self, point: usize, densities: &mut Densities) -> Result<Row> {
        let (index, mut casting) = self.set(point);
        let case = &self.cases[index];
        case.slips.apply(&mut casting);
        let result = sampled(&case.foam, &case.cavity, &casting, &[], self.accuracy())?.result;
        let density = densities.at(index, case, &casting, self.accuracy())?;
        let number = |outcome: Outcome| outcome.of(&result, density, |x| x).unwrap_or(f64::NAN);
        let mut numbers = [f64::NAN; Outcome::COUNT];
        numbers.iter_mut().zip(Outcome::all()).for_each(|(to, outcome)| *to = number(outcome));
        Ok(Row { judgment: Judgment::Cast(result.verdict), numbers })
    }

    fn accuracy(&self) -> Accuracy {
        Accuracy { relative: self.relative }
    }
}

/// Free-rise densities met so far: they depend on a few of the settings only.
#[derive(Default)]
pub(super) struct Densities(Vec<(usize, [u64; 2], f64)>);

impl Densities {
    fn at(&mut self, index: usize, case: &Case, casting: &Casting, accuracy: Accuracy) -> Result<f64> {
        let (temp, ambient) = (casting.mix_temp, casting.ambient_pressure);
        let key = [temp.to_bits(), ambient.to_bits()];
        // The last one met is the likeliest.
        if let Some((.., density)) = self.0.iter().rev().find(|(i, k, _)| *i == index && *k == key) {
            return Ok(*density);
        }
        let density = free_rise_density(&case.foam, temp, ambient, accuracy)?;
        self.0.push((index, key, density));
        Ok(density)
    }
}
