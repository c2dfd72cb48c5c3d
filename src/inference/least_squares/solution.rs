//! The answer of a fit, with what is known of it and what is not.

use ndarray::{Array1, Array2};
use serde::{Deserialize, Serialize};

use super::ending::{Ending, Tally};
use super::model::Model;
use super::problem::Bounds;
use super::settings::Settings;
use super::standing::{Standing, knowledge};

/// What is known of the size of the noise in the residuals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Noise {
    /// Residuals are already divided by their standard deviation.
    Known,
    /// The same unknown standard deviation for all residuals, estimated from what is left of them.
    Estimated,
}

/// What came of the runs that started around the answer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Verification {
    /// Runs that could start.
    pub runs: usize,
    /// Runs that came back to the answer.
    pub returned: usize,
    /// Times a better answer was found and taken instead.
    pub improvements: usize,
}

/// Where a fit ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Solution {
    /// Parameters at the answer.
    pub parameters: Array1<f64>,
    /// Residuals there.
    pub residuals: Array1<f64>,
    /// Their derivatives, one column per parameter.
    pub jacobian: Array2<f64>,
    /// Half the sum of squared residuals.
    pub cost: f64,
    /// Cosine between residuals and the plane of all changes the free parameters can make; 0 at a minimum.
    pub cosine: f64,
    /// Why the run ended.
    pub ending: Ending,
    /// How each parameter stands.
    pub standings: Vec<Standing>,
    /// Number of parameter combinations that the residuals determine.
    pub rank: usize,
    /// Residuals less determined combinations.
    pub degrees_of_freedom: usize,
    /// Counts of all runs together.
    pub tally: Tally,
    /// What came of the runs around the answer.
    pub verification: Verification,
    unit_covariance: Array2<f64>,
    acceptable_cosine: f64,
    acceptable_distance: f64,
    ridge: Option<f64>,
}

impl Solution {
    pub(super) fn new(model: Model, ending: Ending, tally: Tally, setup: (&Bounds, &Array1<f64>, &Settings)) -> Self {
        let (bounds, start, settings) = setup;
        let known = knowledge(&model, bounds, start, settings);
        Solution {
            cost: 0.5 * model.point.rss(),
            cosine: model.cosine,
            ending,
            degrees_of_freedom: model.point.readings.saturating_sub(known.rank),
            rank: known.rank,
            standings: known.standings,
            unit_covariance: known.covariance,
            parameters: model.point.p,
            residuals: model.point.residuals,
            jacobian: model.point.jacobian,
            tally,
            verification: Verification::default(),
            acceptable_cosine: settings.acceptable_cosine,
            acceptable_distance: settings.acceptable_distance,
            ridge: None,
        }
    }

    /// The same, with how far from a minimum the ridge is that it ended on, if it did.
    pub(super) fn on_ridge(self, ridge: Option<f64>) -> Self {
        Solution { ridge, ..self }
    }

    /// Sum of squared residuals.
    pub fn residual_sum_of_squares(&self) -> f64 {
        2.0 * self.cost
    }

    /// Variance of one residual, estimated from all; NaN without degrees of freedom.
    pub fn residual_variance(&self) -> f64 {
        match self.degrees_of_freedom {
            0 => f64::NAN,
            n => self.residual_sum_of_squares() / n as f64,
        }
    }

    /// Covariance of the parameters; NaN beside those that are not free, and given that those at bounds stay there.
    pub fn covariance(&self, noise: Noise) -> Array2<f64> {
        &self.unit_covariance * self.variance(noise)
    }

    /// Standard error of each parameter: infinite if the residuals do not determine it, NaN if a bound does.
    pub fn standard_errors(&self, noise: Noise) -> Array1<f64> {
        let variance = self.variance(noise);
        Array1::from_shape_fn(self.standings.len(), |j| match self.standings[j] {
            Standing::Free => (self.unit_covariance[[j, j]] * variance).sqrt(),
            Standing::NoInfluence | Standing::NotIdentified { .. } => f64::INFINITY,
            Standing::Held | Standing::AtBound(_) => f64::NAN,
        })
    }

    /// Correlation matrix of the parameters; NaN beside those that are not free.
    pub fn correlation(&self) -> Array2<f64> {
        let sd = self.unit_covariance.diag().mapv(f64::sqrt);
        Array2::from_shape_fn(self.unit_covariance.dim(), |(i, j)| self.unit_covariance[[i, j]] / sd[i] / sd[j])
    }

    /// Distance to the minimum of the linear model, in standard errors of residuals of unit variance; on a ridge, where
    /// the residuals have a corner, to that of the models of both sides.
    pub fn distance(&self) -> f64 {
        let smooth = self.cosine * self.residual_sum_of_squares().sqrt();
        self.ridge.map_or(smooth, |ridge| ridge.min(smooth))
    }

    /// Whether the first-order conditions of a minimum within the bounds hold.
    pub fn is_minimum(&self) -> bool {
        match self.ending {
            Ending::Converged => true,
            Ending::CostFlat | Ending::StepTiny => {
                self.cosine <= self.acceptable_cosine || self.distance() <= self.acceptable_distance
            }
            Ending::IterationLimit | Ending::Canceled => false,
        }
    }

    /// Whether this is a minimum in which every parameter is determined by the residuals or by a bound.
    pub fn is_success(&self) -> bool {
        let is_known = |s: &Standing| !matches!(s, Standing::NoInfluence | Standing::NotIdentified { .. });
        self.is_minimum() && self.standings.iter().all(is_known)
    }

    /// A cost so small against the terms that the parameters make in the residuals that it is rounding.
    pub(super) fn rounding_of_cost(&self) -> f64 {
        let terms = &self.jacobian * &self.parameters;
        1e-26 * terms.iter().map(|t| t * t).sum::<f64>()
    }

    fn variance(&self, noise: Noise) -> f64 {
        match noise {
            Noise::Known => 1.0,
            Noise::Estimated => self.residual_variance(),
        }
    }
}
