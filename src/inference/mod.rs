//! Inference that knows no foam: records as residuals, priors, least squares, draws and posterior.

pub(crate) mod coordinates;
pub(crate) mod estimate;
pub mod least_squares;
pub(crate) mod likelihood;
pub(crate) mod noise;
pub(crate) mod posterior;
pub(crate) mod profile;
pub(crate) mod randomized;
pub(crate) mod record_information;
pub(crate) mod reweighting;
pub(crate) mod scatter;
