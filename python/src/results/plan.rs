//! What is cast over which grid, and the axes as they were given.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};
use risefit::Error;
use risefit::sweep::Sweep;
use serde::{Deserialize, Serialize};

use super::subject::Subject;
use crate::convert::{self, call, errors::to_python};
use crate::settings::axes::{self, Given};
use crate::settings::fit_options::checked;

/// A sweep and its axes as they were given.
#[derive(PartialEq, Serialize, Deserialize)]
pub struct Plan {
    pub sweep: Sweep,
    /// Without the draws, which are the first axis if there are several.
    pub given: Vec<Given>,
}

impl Plan {
    /// From the arguments of a call.
    pub fn new(
        args: &Bound<'_, PyTuple>,
        accuracy: Option<f64>,
        layers: Option<usize>,
        kwargs: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<Self> {
        let py = args.py();
        let subject = Subject::of(args, layers)?;
        let (base, given, axes) = axes::split(py, subject.casting.as_ref(), kwargs)?;
        let accuracy = accuracy.map_or(Ok(subject.accuracy), checked).map_err(|e| to_python(py, e))?;
        let sweep = call::run(py, || Sweep::new(subject.cases, base, axes, accuracy))?;
        Ok(Plan { sweep, given })
    }

    /// The axes, the slowest first: name and values.
    pub fn axes(&self) -> Vec<(String, Vec<f64>)> {
        let draws = self.sweep.cases().len();
        let draw = (draws > 1).then(|| ("draw".to_owned(), (0..draws).map(|i| i as f64).collect()));
        draw.into_iter().chain(self.given.iter().map(|axis| (axis.name.clone(), axis.values.clone()))).collect()
    }

    pub fn axes_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for (name, values) in self.axes() {
            dict.set_item(name, convert::array(py, values)?)?;
        }
        Ok(dict)
    }

    /// `charge_g 48..70 x 200, vent_mm 2..8 x 100`.
    pub fn shown(&self) -> String {
        let of = |(name, values): &(String, Vec<f64>)| {
            let (low, high) = values.iter().fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(*x), h.max(*x)));
            format!("{name} {low}..{high} x {}", values.len())
        };
        self.axes().iter().map(of).collect::<Vec<_>>().join(", ")
    }

    /// The axes of a map, by name, or the last two that have more than one value.
    pub fn sides(&self, x: Option<&str>, y: Option<&str>) -> risefit::Result<(usize, usize)> {
        let place = |argument: &str, name: &str| {
            let known = self.given.iter().map(|axis| axis.name.as_str()).collect::<Vec<_>>().join(", ");
            self.given.iter().position(|axis| axis.name == name).ok_or_else(|| {
                Error::argument(argument, format!("{name:?}"), "an axis of the sweep", format!("it has {known}"))
            })
        };
        let (x, y) = (x.map(|name| place("x", name)).transpose()?, y.map(|name| place("y", name)).transpose()?);
        let mut long = (0..self.given.len()).rev().filter(|i| self.given[*i].values.len() > 1);
        let mut free = || long.find(|i| Some(*i) != x && Some(*i) != y);
        let y = y.or_else(&mut free);
        let x = x.or_else(free);
        x.zip(y).ok_or_else(|| {
            let advice = "a map needs two settings that vary";
            Error::argument("sweep", self.shown(), "two axes of two values or more", advice)
        })
    }

    /// The number of a point, given as such or by its place on each axis.
    pub fn point(&self, index: &Bound<'_, PyAny>) -> PyResult<usize> {
        let shape = self.sweep.shape();
        let refused = || {
            let found = index.repr().map_or_else(|_| "an index".to_owned(), |text| text.to_string());
            let expected = format!("0 to {}, or {} numbers within {shape:?}", self.sweep.points() - 1, shape.len());
            to_python(index.py(), Error::argument("index", found, expected, "points are counted from 0"))
        };
        if let Ok(point) = index.extract::<usize>() {
            return if point < self.sweep.points() { Ok(point) } else { Err(refused()) };
        }
        let places: Vec<usize> = index.extract().map_err(|_| refused())?;
        if places.len() != shape.len() || places.iter().zip(&shape).any(|(i, n)| i >= n) {
            return Err(refused());
        }
        Ok(places.iter().zip(&shape).fold(0, |point, (i, n)| point * n + i))
    }
}
