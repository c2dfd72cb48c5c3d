//! Courses to draw: what the model says about a log, and what of the log can be drawn.

use super::axis::is_drawable;
use crate::error::{Error, Result};
use crate::records::{RiseLog, Stopwatch};
use crate::report::display::{DisplayUnits, Shown};
use crate::units::Quantity;

/// What a fitted model says about one rise log, in SI units.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ModelCurve {
    /// Time since the end of mixing, s, rising; shape (n,).
    pub time: Vec<f64>,
    /// Height (m) where the log has heights, else volume (m3); shape (n,).
    pub height_or_volume: Vec<f64>,
    /// Temperature that the sensor would show, K; shape (n,).
    pub sensed_temp: Vec<f64>,
    /// The model's stopwatch times.
    pub stopwatch: Stopwatch,
}

/// One course in display units.
#[derive(Clone, Debug, Default)]
pub(super) struct Course {
    pub time: Vec<f64>,
    pub value: Vec<f64>,
}

impl Course {
    /// The finite points of a series, shown in a unit.
    pub fn shown(time: &[f64], values: &[f64], unit: &Shown) -> Course {
        let points = time.iter().zip(values).map(|(t, v)| (*t, unit.value(*v)));
        let (time, value) = points.filter(|(t, v)| is_drawable(*t) && is_drawable(*v)).unzip();
        Course { time, value }
    }

    pub fn is_empty(&self) -> bool {
        self.time.is_empty()
    }

    /// The value at a time between the first and the last, by straight lines.
    pub fn at(&self, time: f64) -> Option<f64> {
        let next = self.time.partition_point(|t| *t < time);
        let (t1, v1) = (*self.time.get(next)?, self.value[next]);
        if t1 == time || next == 0 {
            return (t1 == time).then_some(v1);
        }
        let (t0, v0) = (self.time[next - 1], self.value[next - 1]);
        Some(v0 + (v1 - v0) * (time - t0) / (t1 - t0))
    }

    /// What this measured course is above a model's, where the model reaches.
    pub fn above(&self, model: &Course) -> Course {
        let points = self.time.iter().zip(&self.value).filter_map(|(t, v)| Some((*t, v - model.at(*t)?)));
        let (time, value) = points.unzip();
        Course { time, value }
    }
}

/// How far a log's foam rose, and what the unit of that is.
pub(super) fn rise_of(log: &RiseLog) -> (&'static str, Quantity, &[f64]) {
    match (&log.height, &log.volume) {
        (Some(height), _) => ("height", Quantity::Length, height),
        (None, Some(volume)) => ("volume", Quantity::Volume, volume),
        (None, None) => ("volume", Quantity::Volume, &[]),
    }
}

/// Specific volume that a log's rise stands for, shown in mL/g or in3/oz.
///
/// # Errors
/// [`Error::Argument`] for heights without a cup or a mass that is not positive.
pub(super) fn specific(log: &RiseLog, time: &[f64], rise: &[f64], units: DisplayUnits) -> Result<Course> {
    let volume = units.of(Quantity::Volume);
    if !(log.mass.is_finite() && log.mass > 0.0) {
        return Err(Error::argument(
            "mass_g",
            log.mass,
            "a positive mass",
            format!("weigh the foam of log {}", log.name),
        ));
    }
    let to_volume = |height: f64| match (&log.height, log.cup) {
        (Some(_), Some(cup)) => Ok(cup.volume_to(height)),
        (Some(_), None) => Err(Error::argument(
            "cup_diameter_mm",
            "nothing",
            "the cup that the heights were read in",
            format!("give log {} its cup, or volumes", log.name),
        )),
        (None, _) => Ok(height),
    };
    let volumes = rise.iter().map(|r| Ok(to_volume(*r)? / log.mass)).collect::<Result<Vec<f64>>>()?;
    let mut course = Course::shown(time, &volumes, &volume);
    let kilogram = units.of(Quantity::Mass).value(1.0);
    course.value.iter_mut().for_each(|v| *v /= kilogram);
    Ok(course)
}

/// The label of an axis of specific volume.
pub(super) fn specific_label(units: DisplayUnits) -> String {
    let (volume, mass) = (units.of(Quantity::Volume).label, units.of(Quantity::Mass).label);
    format!("volume per mass ({volume}/{mass})")
}

/// The times of a stopwatch that were taken, with their names.
pub(super) fn named_times(watch: &Stopwatch) -> Vec<(&'static str, f64)> {
    let all = [
        ("cream", watch.cream),
        ("string gel", watch.string_gel),
        ("end of rise", watch.end_of_rise),
        ("tack free", watch.tack_free),
    ];
    all.into_iter().filter_map(|(name, time)| Some((name, time.filter(|t| is_drawable(*t))?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_residual_is_measured_less_model_and_only_where_the_model_reaches() {
        let model = Course { time: vec![0.0, 10.0], value: vec![0.0, 20.0] };
        let measured = Course { time: vec![0.0, 5.0, 10.0, 11.0], value: vec![1.0, 9.0, 20.0, 5.0] };
        let above = measured.above(&model);
        assert_eq!((above.time, above.value), (vec![0.0, 5.0, 10.0], vec![1.0, -1.0, 0.0]));
        assert_eq!(model.at(-1.0), None);
    }
}
