//! Records as inference reads them: misfits in standard deviations, the law of each, and derivatives by what is
//! estimated.

use ndarray::Array2;

use super::coordinates::Coordinates;
use super::likelihood::Law;
use crate::error::Result;

/// A quantity that inference estimates: all that it needs is a name to report it by. Two it brings itself.
pub trait Estimand: Copy + PartialEq + std::fmt::Debug + Send + Sync + 'static {
    /// The factor by which all readings scatter more than expected.
    const READING_SCATTER: Self;
    /// The factor by which records differ from each other more than expected.
    const RECORD_SCATTER: Self;

    /// Name with its unit.
    fn name(self) -> &'static str;
}

/// Records whose misfits have laws. A misfit counts in standard deviations; its law makes it a residual.
pub trait Records: Sync {
    /// What is estimated.
    type Parameter: Estimand;

    /// The coordinates of what is estimated.
    fn coordinates(&self) -> &Coordinates<Self::Parameter>;
    /// How many records there are.
    fn count(&self) -> usize;
    /// The law of each misfit of a record.
    fn laws(&self, record: usize) -> Vec<Law>;
    /// The misfits of a record in standard deviations, at the values of all axes.
    fn misfits(&self, record: usize, values: &[f64]) -> Result<Vec<f64>>;
    /// With their derivatives by what `derivatives` are the values' derivatives by, for the axes of the record.
    fn slopes(&self, record: usize, values: &[f64], derivatives: &[f64]) -> Result<(Vec<f64>, Array2<f64>)>;
    /// Shared parameters with the factor of one record on each, of which only the product enters.
    fn products(&self) -> Vec<(Self::Parameter, Self::Parameter)> {
        Vec::new()
    }
}

/// Tests estimate what they like.
#[cfg(test)]
impl Estimand for &'static str {
    const READING_SCATTER: Self = "scatter of readings";
    const RECORD_SCATTER: Self = "scatter of records";

    fn name(self) -> &'static str {
        self
    }
}
