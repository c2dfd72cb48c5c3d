//! Exact Jacobians of a model with any number of inputs, a few derivatives at a time.

use ndarray::Array2;

use super::{Dual, Scalar};
use crate::error::Result;

/// Derivatives carried per pass.
pub const WIDTH: usize = 8;

/// A function of several inputs, in numbers that may carry derivatives.
pub trait Function {
    /// The outputs at these inputs; as many every time.
    ///
    /// # Errors
    /// The model's own.
    fn outputs<S: Scalar>(&self, inputs: &[S]) -> Result<Vec<S>>;
}

/// Outputs and their Jacobian: one row per output, one column per input. `rates[j]` is the derivative of input j by the
/// coordinate that the column is for (1, or the chain rule's factor).
///
/// # Errors
/// Those of the function.
pub fn differentiate(function: &impl Function, inputs: &[f64], rates: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
    let mut values = Vec::new();
    let mut jacobian = Array2::zeros((0, inputs.len()));
    for first in (0..inputs.len()).step_by(WIDTH) {
        let seed = |(j, x): (usize, &f64)| match j.checked_sub(first) {
            Some(lane) if lane < WIDTH => Dual::<WIDTH>::seeded(*x, lane, rates[j]),
            _ => Dual::constant(*x),
        };
        let lanes: Vec<_> = inputs.iter().enumerate().map(seed).collect();
        let outputs = function.outputs(&lanes)?;
        if first == 0 {
            values = outputs.iter().map(|o| o.value).collect();
            jacobian = Array2::zeros((outputs.len(), inputs.len()));
        }
        for (i, output) in outputs.iter().enumerate() {
            for (lane, slope) in output.slope.iter().enumerate().take(inputs.len() - first) {
                jacobian[[i, first + lane]] = *slope;
            }
        }
    }
    Ok((values, jacobian))
}
