//! Draws of what is in doubt: sets of constants that the records allow, as many as asked for, and castings simulated
//! with each.

use serde::{Deserialize, Serialize};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use ndarray::{Array1, Array2, ArrayView1, Axis, s};
use rayon::prelude::*;

use super::calibrate::{Calibration, SharedPosterior};
use super::knowledge::GradeKnowledge;
use super::options::{DRAW_ACCURACY, FitOptions};
use super::outcomes::{OutcomeParts, Outcomes};
use crate::error::{Error, Result};
use crate::fit::setup::CastingSetup;
use crate::model::CastingResult;
use crate::model::Parameter;
use crate::model::{Casting, Cavity, FoamConstants};
use crate::numerics::random::{stream, unit_normals};
use crate::numerics::triangular::cholesky;
use crate::physics::casting::sampled;
use crate::records::Mold;

/// Joint draws of everything that castings share, and with each the differences of one more casting.
///
/// A draw's casting differs from its settings by the same amounts whatever the settings are: outcomes of two settings
/// are compared draw by draw, and probabilities change smoothly with charge and vent.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Draws {
    /// Set to true from another thread to stop simulating.
    #[serde(skip)]
    pub cancel: Option<Arc<AtomicBool>>,
    shared: SharedPosterior,
    values: Array2<f64>,
    scatter: Array2<f64>,
}

impl Calibration {
    /// Draws of what the castings allow, within the priors' ranges: fits of randomized readings, which bend where the
    /// records do and are normal around the best estimates where nothing bends. The same seed gives the same draws.
    ///
    /// # Errors
    /// [`Error::Argument`] for no draws at all; those of the simulations.
    pub fn draws(&self, count: usize, seed: u64) -> Result<Draws> {
        Draws::of_values(self.shared.clone(), self.drawn(count, seed, None)?, None, seed)
    }

    /// As [`Calibration::draws`], until `cancel` is set to true from another thread, which also stops what is cast with
    /// them.
    ///
    /// # Errors
    /// As [`Calibration::draws`]; [`Error::Canceled`] on request.
    pub fn draws_until(&self, count: usize, seed: u64, cancel: Arc<AtomicBool>) -> Result<Draws> {
        let values = self.drawn(count, seed, Some(&cancel))?;
        Ok(Draws { cancel: Some(cancel), ..Draws::of_values(self.shared.clone(), values, None, seed)? })
    }
}

impl Draws {
    /// Draws before any casting: the grade as far as it is known, the mold as it is described, within its priors.
    ///
    /// # Errors
    /// [`Error::Argument`] for no draws at all.
    pub fn before_castings(
        known: &GradeKnowledge,
        mold: &Mold,
        options: &FitOptions,
        count: usize,
        seed: u64,
    ) -> Result<Draws> {
        let shared = SharedPosterior::before(known, mold, options);
        let factor = cholesky(shared.covariance.view());
        let k = shared.values.len();
        let mut values = Array2::zeros((count, k));
        for (i, mut row) in values.rows_mut().into_iter().enumerate() {
            let steps = factor.dot(&Array1::from(unit_normals(&mut stream(seed, 2 * i as u64), k)));
            for j in 0..k {
                let prior = &shared.coordinates.axes[j].prior;
                row[j] = prior.clamp(prior.value(prior.sds(shared.values[j]) + steps[j]));
            }
        }
        Draws::of_values(shared, values, None, seed)
    }

    /// From given values of the shared parameters; shape (n, k), SI. `lots`: how much more than expected each draw's
    /// castings scatter; shape (n,); drawn from what the castings make of their prior where it is not given.
    pub(super) fn of_values(
        shared: SharedPosterior,
        values: Array2<f64>,
        lots: Option<Array1<f64>>,
        seed: u64,
    ) -> Result<Draws> {
        let count = values.nrows();
        if count == 0 {
            return Err(Error::argument("draws", 0, "at least 1", "1000 are enough for most uses"));
        }
        let mut scatter = Array2::zeros((count, shared.own.len()));
        for (i, mut row) in scatter.rows_mut().into_iter().enumerate() {
            let normals = unit_normals(&mut stream(seed, 2 * i as u64 + 1), shared.own.len() + 1);
            let expected = shared.found.records.map_or(1.0, |prior| prior.value(normals[shared.own.len()]));
            let wider = lots.as_ref().map_or(expected, |lots| lots[i]);
            let own = shared.own.iter().zip(normals);
            row.iter_mut().zip(own).for_each(|(x, ((_, prior), z))| *x = prior.clamp(prior.value(wider * z)));
        }
        Ok(Draws { cancel: None, shared, values, scatter })
    }

    /// How many draws these are.
    pub fn count(&self) -> usize {
        self.values.nrows()
    }

    /// What was drawn, in the order of the columns of [`Draws::values`].
    pub fn parameters(&self) -> Vec<Parameter> {
        self.shared.coordinates.axes[..self.values.ncols()].iter().map(|axis| axis.parameter).collect()
    }

    /// The drawn values, SI; shape (n, k).
    pub fn values(&self) -> &Array2<f64> {
        &self.values
    }

    /// What makes a draw's casting differ from its settings, in the order of the columns of [`Draws::scatter`].
    pub fn own_parameters(&self) -> Vec<Parameter> {
        self.shared.own.iter().map(|(parameter, _)| *parameter).collect()
    }

    /// The drawn differences of one casting, SI; shape (n, k).
    pub fn scatter(&self) -> &Array2<f64> {
        &self.scatter
    }

    /// The constants, cavity and settings with which draw number `index` casts these settings; `None` where there is no
    /// such draw. Vents given as settings are corrected as the cavity's are; `with_scatter` adds the casting's own
    /// differences.
    pub fn setup(
        &self,
        index: usize,
        casting: &Casting,
        with_scatter: bool,
    ) -> Option<(FoamConstants, Cavity, Casting)> {
        if index >= self.count() {
            return None;
        }
        let mut setup = self.shared_setup(self.values.row(index), casting);
        if with_scatter {
            self.add_scatter(index, &mut setup);
        }
        Some((setup.foam.constants(), setup.cavity, setup.casting))
    }

    /// Casts these settings once with every draw and its scatter.
    ///
    /// # Errors
    /// [`Error::Argument`] for settings that no casting can have; where not a single draw can be cast, what stopped the
    /// first. Draws that cannot be cast among others that can are counted in the outcomes.
    pub fn casting(&self, casting: &Casting) -> Result<Outcomes> {
        self.outcomes(|i| {
            let mut setup = self.shared_setup(self.values.row(i), casting);
            self.add_scatter(i, &mut setup);
            cast(&setup)
        })
    }

    /// As [`Draws::casting`], and also with the doubt alone and with the scatter alone (at the best estimates). Three
    /// times the work.
    ///
    /// # Errors
    /// As [`Draws::casting`].
    pub fn casting_in_parts(&self, casting: &Casting) -> Result<OutcomeParts> {
        let best = self.shared.best_setup(casting);
        Ok(OutcomeParts {
            best: cast(&best)?,
            both: self.casting(casting)?,
            doubt: self.casting_without_scatter(casting)?,
            scatter: self.outcomes(|i| {
                let mut setup = best.clone();
                self.add_scatter(i, &mut setup);
                cast(&setup)
            })?,
        })
    }

    /// As [`Draws::casting`], without scatter: what differs from draw to draw is doubt.
    ///
    /// # Errors
    /// As [`Draws::casting`].
    pub fn casting_without_scatter(&self, casting: &Casting) -> Result<Outcomes> {
        self.outcomes(|i| cast(&self.shared_setup(self.values.row(i), casting)))
    }

    /// The first of these draws, at most `count`.
    #[must_use]
    pub fn first(&self, count: usize) -> Draws {
        let kept = s![..count.min(self.count()), ..];
        Draws {
            values: self.values.slice(kept).to_owned(),
            scatter: self.scatter.slice(kept).to_owned(),
            ..self.clone()
        }
    }

    /// The same doubts met by other castings: draw i has the scatter of draw i + `shift`.
    #[must_use]
    pub fn with_other_scatter(&self, shift: usize) -> Draws {
        let n = self.count();
        let rows: Vec<usize> = (0..n).map(|i| (i + shift) % n).collect();
        Draws { scatter: self.scatter.select(Axis(0), &rows), ..self.clone() }
    }

    /// The cavity as it was described, with the values that are held.
    pub fn described_cavity(&self, casting: &Casting) -> Cavity {
        self.shared.held_setup(casting).cavity
    }

    /// The cavity at the best estimates.
    pub fn cavity(&self, casting: &Casting) -> Cavity {
        self.shared.best_setup(casting).cavity
    }

    fn shared_setup(&self, values: ArrayView1<f64>, casting: &Casting) -> CastingSetup<f64> {
        let mut setup = self.shared.held_setup(casting);
        self.shared.coordinates.axes.iter().zip(values).for_each(|(axis, value)| setup.set(axis.parameter, *value));
        setup
    }

    fn add_scatter(&self, index: usize, setup: &mut CastingSetup<f64>) {
        let own = self.shared.own.iter().zip(self.scatter.row(index));
        own.for_each(|((parameter, _), value)| setup.set(*parameter, *value));
    }

    /// Runs every draw; which thread runs it changes nothing.
    fn outcomes(&self, run: impl Fn(usize) -> Result<CastingResult> + Sync) -> Result<Outcomes> {
        let run = |i: usize| unless(self.cancel.as_deref()).and_then(|()| run(i));
        let results: Vec<_> = (0..self.count()).into_par_iter().map(run).collect();
        Outcomes::new(results)
    }
}

/// An error if what is done with draws is to stop.
pub(super) fn unless(cancel: Option<&AtomicBool>) -> Result<()> {
    if cancel.is_some_and(|flag| flag.load(Ordering::Relaxed)) {
        let before = "all draws were cast".to_owned();
        return Err(Error::Canceled { before, advice: "ask again, for fewer draws if it took long".into() });
    }
    Ok(())
}

fn cast(setup: &CastingSetup<f64>) -> Result<CastingResult> {
    Ok(sampled(&setup.foam.constants(), &setup.cavity, &setup.casting, &[], DRAW_ACCURACY)?.result)
}
