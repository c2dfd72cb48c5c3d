//! Draws that were made already: a slider asks for the same ones again and again.

use std::sync::{Arc, Mutex, PoisonError};

use ndarray::{Array2, Axis, concatenate, s};

use crate::error::{Error, Result};

/// The draws of one seed, one a row, as many as were asked for so far. Copies of a calibration share them.
#[derive(Clone, Debug, Default)]
pub(super) struct KeptDraws(Arc<Mutex<Option<OfSeed>>>);

/// What was drawn already is no part of what a calibration says.
impl PartialEq for KeptDraws {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

type OfSeed = (u64, Array2<f64>);

impl KeptDraws {
    /// The first `count` draws of a seed; `more` makes those from the given number on, up to `count`.
    pub fn of_seed(
        &self,
        count: usize,
        seed: u64,
        more: impl FnOnce(usize) -> Result<Array2<f64>>,
    ) -> Result<Array2<f64>> {
        // Not locked while draws are made: a thread that waits for them may be given work that asks for draws as well.
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let kept = kept.filter(|(of, _)| *of == seed).map(|(_, draws)| draws);
        let known = kept.as_ref().map_or(0, Array2::nrows);
        let draws = match kept {
            Some(draws) if known >= count => return Ok(draws.slice(s![..count, ..]).to_owned()),
            Some(draws) => concatenate(Axis(0), &[draws.view(), more(known)?.view()]).map_err(shape)?,
            None => more(0)?,
        };
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some((seed, draws.clone()));
        Ok(draws)
    }
}

fn shape(error: ndarray::ShapeError) -> Error {
    Error::Fit { reason: format!("kept draws and new ones do not match: {error}"), advice: "report it".into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_drawn_is_not_drawn_again() {
        let kept = KeptDraws::default();
        let rows = |count: usize, seed: u64, made: usize| {
            let more = |from: usize| {
                assert_eq!(count - from, made, "{count} of seed {seed}");
                Ok(Array2::from_shape_fn((made, 1), |(i, _)| (seed * 100) as f64 + (from + i) as f64))
            };
            kept.of_seed(count, seed, more).expect("draws").column(0).to_vec()
        };
        assert_eq!(rows(3, 1, 3), [100.0, 101.0, 102.0]);
        assert_eq!(rows(5, 1, 2), [100.0, 101.0, 102.0, 103.0, 104.0]);
        assert_eq!(kept.of_seed(2, 1, |_| unreachable!("they are known")).expect("draws").nrows(), 2);
        assert_eq!(rows(2, 7, 2), [700.0, 701.0]);
        assert_eq!(rows(1, 1, 1), [100.0]);
    }
}
