//! A casting read at given times, in any kind of number.
//!
//! Castings are compiled for two kinds only, values and numbers with a few derivatives: each kind takes every number of
//! layers and every regime along. Numbers with more derivatives are run in turns of a few.

use std::any::Any;

use super::course::Course;
use super::lengths::with_layers;
use crate::error::Result;
use crate::model::{Casting, CastingResult, Cavity, FoamConstants};
use crate::numerics::jacobian::WIDTH;
use crate::numerics::{Dual, Scalar};
use crate::physics::accuracy::Accuracy;

/// A casting read at given times, with derivatives.
#[derive(Clone, Debug)]
pub struct Sampled<S> {
    /// Outcome quantities.
    pub result: CastingResult<S>,
    /// Gauge pressure at the sample times, Pa; shape (n,).
    pub pressure: Vec<S>,
    /// Mean temperature of the foam at the sample times, K; shape (n,).
    pub temp: Vec<S>,
}

impl<S: Scalar> Sampled<S> {
    /// In another kind of number; `to` sees every number, always in the same order.
    fn map<T>(&self, mut to: impl FnMut(S) -> T) -> Sampled<T> {
        Sampled {
            result: self.result.map(&mut to),
            pressure: self.pressure.iter().map(|p| to(*p)).collect(),
            temp: self.temp.iter().map(|t| to(*t)).collect(),
        }
    }
}

/// Runs one casting and reads it at `times` (s, rising), in numbers that may carry derivatives.
///
/// # Errors
/// As [`super::simulate`].
pub fn sampled<S: Scalar>(
    foam: &FoamConstants<S>,
    cavity: &Cavity<S>,
    casting: &Casting<S>,
    times: &[f64],
    accuracy: Accuracy,
) -> Result<Sampled<S>> {
    let (foam_any, cavity_any, casting_any): (&dyn Any, &dyn Any, &dyn Any) = (foam, cavity, casting);
    if let (Some(foam), Some(cavity), Some(casting)) =
        (foam_any.downcast_ref(), cavity_any.downcast_ref(), casting_any.downcast_ref())
    {
        return Ok(in_values(&Shot { foam, cavity, casting, times, accuracy })?.map(S::constant));
    }
    let lanes = S::zero().derivatives().len();
    let turns = (0..lanes.max(1)).step_by(WIDTH).map(|first| {
        let few = |x: S| <Dual<WIDTH>>::carrying(x.value(), &x.derivatives()[first..lanes.min(first + WIDTH)]);
        let (foam, cavity, casting) = (foam.map(few), cavity.map(few), casting.map(few));
        with_few_derivatives(&Shot { foam: &foam, cavity: &cavity, casting: &casting, times, accuracy })
    });
    Ok(joined(&turns.collect::<Result<Vec<_>>>()?))
}

/// What is cast, and how it is read.
struct Shot<'a, S> {
    foam: &'a FoamConstants<S>,
    cavity: &'a Cavity<S>,
    casting: &'a Casting<S>,
    times: &'a [f64],
    accuracy: Accuracy,
}

impl<S: Scalar> Shot<'_, S> {
    fn run(&self) -> Result<Sampled<S>> {
        with_layers!(self.cavity.layers, NODES => {
            let Shot { foam, cavity, casting, times, accuracy } = *self;
            let mut course = Course::<S, NODES>::pour(foam, cavity, casting, times, false, accuracy)?;
            course.run(casting)?;
            Ok(course.sampled())
        })
    }
}

fn in_values(shot: &Shot<f64>) -> Result<Sampled<f64>> {
    shot.run()
}

fn with_few_derivatives(shot: &Shot<Dual<WIDTH>>) -> Result<Sampled<Dual<WIDTH>>> {
    shot.run()
}

/// Numbers with all derivatives, from castings with a few each. Values are those of the first.
fn joined<S: Scalar>(turns: &[Sampled<Dual<WIDTH>>]) -> Sampled<S> {
    let mut numbers = vec![Vec::new(); turns.len()];
    for (turn, numbers) in turns.iter().zip(&mut numbers) {
        turn.map(|x| numbers.push(x.slope));
    }
    let mut seen = 0;
    turns[0].map(|x| {
        let of_turn = |of: &Vec<[f64; WIDTH]>| of.get(seen).copied().unwrap_or([f64::NAN; WIDTH]);
        let slopes: Vec<f64> = numbers.iter().flat_map(of_turn).collect();
        seen += 1;
        S::carrying(x.value, &slopes)
    })
}
