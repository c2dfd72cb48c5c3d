//! The posterior of a calibration: the sum of squares of its last round, drawn from.

use std::sync::atomic::AtomicBool;

use ndarray::Array2;
use rayon::prelude::*;

use super::model::TrialModel;
use super::problem::Problem;
use super::{Calibration, SharedPosterior, widened};
use crate::error::Result;
use crate::fit::draws::{Draws, unless};
use crate::fit::options::DRAW_ACCURACY;
use crate::fit::options::FitOptions;
use crate::fit::results::Posterior;
use crate::fit::results::Profile;
use crate::inference::posterior::{PosteriorOptions, sample_posterior};
use crate::inference::profile::profile;
use crate::inference::randomized::RandomizedFits;
use crate::inference::reweighting::Reweighted;
use crate::model::Parameter;
use crate::numerics::threads::on_threads;

impl Calibration {
    /// Draws from the posterior: what the castings leave possible, given the cup tests and the priors. How much
    /// castings scatter in what is weighed and read, and in their lots, are parameters; the scatter of traces is taken
    /// as the fit found it.
    ///
    /// # Errors
    /// [`Error::Argument`](crate::Error::Argument) for options that make no sense; [`Error::Fit`](crate::Error::Fit)
    /// where no chain can start; [`Error::Canceled`](crate::Error::Canceled) on request.
    pub fn posterior(&self, options: &PosteriorOptions) -> Result<Posterior> {
        let problem = self.problem();
        let records: Vec<String> = self.castings.iter().map(|c| c.trial.name.clone()).collect();
        sample_posterior(&problem, self.shared.scatters, &self.solution, &records, options)
    }

    /// Draws for predictions from a posterior of this calibration, at most `count` of them, spread over all chains.
    ///
    /// # Errors
    /// [`Error::Argument`](crate::Error::Argument) for no draws at all.
    pub fn draws_of(&self, posterior: &Posterior, count: usize) -> Result<Draws> {
        let values = posterior.thinned(count, self.shared.values.len());
        let lots = posterior.thinned_column(count, Parameter::LotScatter);
        Draws::of_values(self.shared.clone(), values, lots, posterior.seed)
    }

    /// The profile of a parameter that all castings share. Priors and cup tests count as records do;
    /// castings that scatter more than weighing explains widen it as they widen all errors.
    ///
    /// # Errors
    /// [`Error::Argument`](crate::Error::Argument) for a parameter that was not fitted; those of the simulations.
    pub fn profile(&self, parameter: Parameter, options: &FitOptions) -> Result<Profile> {
        let mut problem = self.as_fitted();
        problem.refine(options.finer().accuracy.relative);
        let widened = widened(self.misfit_ratio, self.casting_scatter);
        let walk =
            || profile(&problem, &problem.coordinates, &self.solution, parameter, widened, &options.finer().settings());
        on_threads(options.threads, walk)?
    }

    /// Values of the shared parameters of `count` draws, which bend as the records do; SI, shape (count, k).
    pub(in crate::fit) fn drawn(&self, count: usize, seed: u64, cancel: Option<&AtomicBool>) -> Result<Array2<f64>> {
        self.kept.of_seed(count, seed, |from| self.draw_rows(from, count, seed, cancel))
    }

    fn draw_rows(&self, from: usize, to: usize, seed: u64, cancel: Option<&AtomicBool>) -> Result<Array2<f64>> {
        let problem = self.as_fitted();
        let widened = widened(self.misfit_ratio, self.casting_scatter);
        let randomized =
            RandomizedFits::new(&problem, &self.solution, self.shared.found.variance_of_records(), widened)?;
        let draw = |index: usize| {
            unless(cancel)?;
            Ok(problem.coordinates.values(randomized.draw(seed, index)?.view()))
        };
        let drawn: Vec<Result<Vec<f64>>> = (from..to).into_par_iter().map(draw).collect();
        let mut values = Array2::zeros((to - from, problem.shared));
        for (mut row, drawn) in values.rows_mut().into_iter().zip(drawn) {
            row.iter_mut().zip(drawn?).for_each(|(value, drawn)| *value = drawn);
        }
        Ok(values)
    }

    /// The problem of the last round, castings scattering as the fit found.
    fn as_fitted(&self) -> Problem<'_> {
        Problem { scatter: self.casting_scatter, ..self.problem() }
    }

    /// The problem of the last round, for simulations of a draw's accuracy; castings scatter as expected.
    pub(super) fn problem(&self) -> Problem<'_> {
        let coordinates = self.shared.coordinates.clone();
        let model = |i: usize| {
            let trial = &self.castings[i].trial;
            let parameters = coordinates.parameters_of_record(i);
            TrialModel::new(trial, self.shared.held_setup(&trial.casting), parameters, DRAW_ACCURACY)
        };
        let models = (0..self.castings.len()).map(model).collect();
        let noise = self.castings.iter().map(|c| c.trace_noise).collect();
        let scatter = if self.shared.scatters.readings.is_some() { 1.0 } else { self.casting_scatter };
        let SharedPosterior { scatters: expected, found, .. } = self.shared;
        Problem { models, shared: self.shared.values.len(), noise, coordinates, scatter, expected, found }
    }
}
