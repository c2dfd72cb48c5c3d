//! What inference says of the parameters of cups, castings and molds.

use crate::inference;
use crate::model::Parameter;

/// A fitted parameter with its error.
pub type Estimate = inference::estimate::Estimate<Parameter>;
/// A posterior of the parameters.
pub type Posterior = inference::posterior::Posterior<Parameter>;
/// What a posterior says of one parameter.
pub type PosteriorEstimate = inference::posterior::PosteriorEstimate<Parameter>;
/// The profile of one parameter.
pub type Profile = inference::profile::Profile<Parameter>;
