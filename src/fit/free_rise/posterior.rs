//! The posterior of a free-rise fit: the sum of squares of its last round, drawn from.

use super::FreeRiseFit;
use super::model::LogModel;
use super::problem::Problem;
use crate::error::Result;
use crate::fit::options::DRAW_ACCURACY;
use crate::fit::options::FitOptions;
use crate::fit::results::Posterior;
use crate::fit::results::Profile;
use crate::inference::coordinates::{Axis, Coordinates};
use crate::inference::noise::SeriesNoise;
use crate::inference::posterior::{PosteriorOptions, sample_posterior};
use crate::inference::profile::profile;
use crate::inference::reweighting::Reweighted;
use crate::inference::scatter::Scatters;
use crate::model::Parameter;
use crate::numerics::threads::on_threads;

impl FreeRiseFit {
    /// Draws from the posterior: what the cup tests leave possible, given the priors. The scatter of series is taken as
    /// the fit found it.
    ///
    /// # Errors
    /// [`Error::Argument`](crate::Error::Argument) for options that make no sense; [`Error::Fit`](crate::Error::Fit)
    /// where no chain can start; [`Error::Canceled`](crate::Error::Canceled) on request.
    pub fn posterior(&self, options: &PosteriorOptions) -> Result<Posterior> {
        let problem = self.problem();
        let records: Vec<String> = self.logs.iter().map(|l| l.log.name.clone()).collect();
        sample_posterior(&problem, Scatters::default(), &self.solution, &records, options)
    }

    /// The profile of a parameter that all logs share. Priors count as records do.
    ///
    /// # Errors
    /// [`Error::Argument`](crate::Error::Argument) for a parameter that was not fitted; those of the simulations.
    pub fn profile(&self, parameter: Parameter, options: &FitOptions) -> Result<Profile> {
        let mut problem = self.problem();
        problem.refine(options.finer().accuracy.relative);
        let walk =
            || profile(&problem, &problem.coordinates, &self.solution, parameter, 1.0, &options.finer().settings());
        on_threads(options.threads, walk)?
    }

    /// The problem of the last round, for simulations of a draw's accuracy.
    fn problem(&self) -> Problem<'_> {
        let place = |name: &str| self.logs.iter().position(|l| l.log.name == name);
        let axes = self.estimates.iter().map(|e| {
            let record = e.record.as_deref().and_then(place);
            Axis { parameter: e.parameter, record, prior: e.prior }
        });
        let coordinates = Coordinates::new(axes.collect());
        let model = |i: usize| LogModel {
            log: &self.logs[i].log,
            foam: self.grade.constants,
            parameters: coordinates.parameters_of_record(i),
            held: &self.held,
            accuracy: DRAW_ACCURACY,
        };
        let models = (0..self.logs.len()).map(model).collect();
        // A log without a series has no reading that the number below would weigh.
        let none = SeriesNoise::assumed(0, 1.0, 1.0);
        let noise = self.logs.iter().map(|l| (l.rise_noise.unwrap_or(none), l.temp_noise.unwrap_or(none))).collect();
        let shared = self.prior_sds.len();
        Problem { models, coordinates, shared, noise, model_error: 1.0, name: self.grade.name.clone() }
    }
}
