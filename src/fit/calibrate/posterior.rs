//! The posterior of a calibration: the sum of squares of its last round, drawn from.

use super::Calibration;
use super::model::TrialModel;
use super::problem::Problem;
use crate::error::Result;
use crate::fit::draws::Draws;
use crate::fit::options::FitOptions;
use crate::fit::parameter::Parameter;
use crate::fit::posterior::{ACCURACY, Posterior, PosteriorOptions, sample_posterior};
use crate::fit::profile::{Profile, profile};
use crate::fit::rounds::Rounds;

impl Calibration {
    /// Draws from the posterior: what the castings leave possible, given what the cup tests said and what is believed. How much
    /// castings scatter in what is weighed and read, and in their lots, are parameters; the scatter of traces is taken as the
    /// fit found it.
    ///
    /// # Errors
    /// [`Error::Argument`](crate::Error::Argument) for options that make no sense; [`Error::Fit`](crate::Error::Fit) where
    /// no chain can start, or on request.
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

    /// The profile of a parameter that all castings share. What is believed and what cup tests said counts as records do;
    /// castings that scatter more than weighing explains widen it as they widen all errors.
    ///
    /// # Errors
    /// [`Error::Argument`](crate::Error::Argument) for a parameter that was not fitted; those of the simulations.
    pub fn profile(&self, parameter: Parameter, options: &FitOptions) -> Result<Profile> {
        let mut problem = self.problem();
        problem.refine(options.finer().accuracy);
        profile(&problem, &problem.space, &self.solution, parameter, self.misfit_ratio.max(1.0), &options.finer())
    }

    /// The problem of the last round, for simulations of a draw's accuracy.
    pub(super) fn problem(&self) -> Problem<'_> {
        let space = self.shared.space.clone();
        let model = |i: usize| {
            let trial = &self.castings[i].trial;
            let parameters = space.of_record(i).iter().map(|&j| space.axes[j].parameter).collect();
            TrialModel::new(trial, self.shared.held_setup(&trial.casting), parameters, ACCURACY)
        };
        let models = (0..self.castings.len()).map(model).collect();
        let noise = self.castings.iter().map(|c| c.trace_noise).collect();
        Problem { models, shared: self.shared.values.len(), noise, space }
    }
}
