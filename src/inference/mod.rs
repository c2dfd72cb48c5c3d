//! Inference that knows no foam: records as residuals, priors, least squares, draws and posterior.
//!
//! - [`records`]: what all of inference reads: misfits of records with their laws ([`likelihood`]) and derivatives.
//! - [`prior`], [`coordinates`]: what is expected before any record, as unit normals.
//! - [`noise`]: how many independent readings a logged series counts for.
//! - [`least_squares`], [`reweighting`]: the best fit.
//! - [`record_information`], [`estimate`], [`scatter`]: what the records determine, and how much they scatter.
//! - [`profile`], [`randomized`], [`posterior`]: intervals and draws where a linear model is not enough.

pub mod coordinates;
pub mod estimate;
pub mod least_squares;
pub mod likelihood;
pub mod noise;
pub mod posterior;
pub mod prior;
pub mod profile;
pub mod randomized;
pub mod record_information;
pub mod records;
pub mod reweighting;
pub mod scatter;

pub use prior::Prior;
pub use records::Estimand;
