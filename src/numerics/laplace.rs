//! The evidence of residuals under unit normal beliefs: the peak of the posterior, and Laplace's approximation around it.

use ndarray::{Array1, Array2, ArrayView1};

use super::triangular::{cholesky, solve_normal};
use crate::error::Result;

/// Steps to a peak at most, and halvings of a step that leads nowhere.
const STEPS: usize = 8;
const HALVINGS: usize = 4;
/// A step that gains less than this is the last; the evidence is then known to about as much.
const GAIN: f64 = 1e-3;

/// Residuals of coordinates that are each believed to be a unit normal.
pub trait Evidence {
    /// Residuals at a place; half their squares are minus the logarithm of their probability.
    ///
    /// # Errors
    /// The model's own: a place that cannot be is stepped around if the error is recoverable.
    fn residuals(&self, at: ArrayView1<f64>) -> Result<Array1<f64>>;

    /// With their derivatives: one row per residual, one column per coordinate.
    ///
    /// # Errors
    /// As [`Evidence::residuals`].
    fn slopes(&self, at: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)>;
}

/// The likeliest place, and what the residuals are worth.
#[derive(Clone, Debug)]
pub struct Peak {
    /// Coordinates; shape (n,).
    pub at: Array1<f64>,
    /// Squares of residuals and coordinates, added up: in a linear model the square of the residuals in standard deviations of
    /// their prediction.
    pub square: f64,
    /// Logarithm of the residuals' probability, the coordinates integrated out.
    pub log_evidence: f64,
}

/// Finds the peak by Gauss-Newton steps from `start`.
///
/// # Errors
/// Those of the residuals at the start, and those that cannot be stepped around.
pub fn climb(model: &impl Evidence, start: Array1<f64>) -> Result<Peak> {
    let mut at = start;
    let (mut residuals, mut slopes) = model.slopes(at.view())?;
    let mut square = residuals.dot(&residuals) + at.dot(&at);
    for _ in 0..STEPS {
        let aim = aim(&at, &residuals, &slopes);
        let Some((place, lower)) = shortened(model, &at, &aim, square)? else { break };
        let gain = square - lower;
        (at, square) = (place, lower);
        (residuals, slopes) = model.slopes(at.view())?;
        if gain < GAIN {
            break;
        }
    }
    let root = cholesky(gram(&slopes).view());
    let log_evidence = -0.5 * square - root.diag().iter().map(|pivot| pivot.ln()).sum::<f64>();
    Ok(Peak { at, square, log_evidence })
}

/// One plus the slopes' products, a row and column per residual.
fn gram(slopes: &Array2<f64>) -> Array2<f64> {
    slopes.dot(&slopes.t()) + Array2::<f64>::eye(slopes.nrows())
}

/// The peak of the linear model around `at`.
fn aim(at: &Array1<f64>, residuals: &Array1<f64>, slopes: &Array2<f64>) -> Array1<f64> {
    let right = slopes.dot(at) - residuals;
    let root = cholesky(gram(slopes).view());
    let solved = solve_normal(root.view(), right.view().insert_axis(ndarray::Axis(1)));
    slopes.t().dot(&solved.column(0))
}

/// The farthest of some places on the way to `aim` that is better.
fn shortened(
    model: &impl Evidence,
    at: &Array1<f64>,
    aim: &Array1<f64>,
    square: f64,
) -> Result<Option<(Array1<f64>, f64)>> {
    for halving in 0..=HALVINGS {
        let place = at + &((aim - at) * 0.5_f64.powi(halving as i32));
        match model.residuals(place.view()) {
            Ok(residuals) => {
                let lower = residuals.dot(&residuals) + place.dot(&place);
                if lower < square {
                    return Ok(Some((place, lower)));
                }
            }
            Err(error) if error.is_recoverable() => {}
            Err(error) => return Err(error),
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    /// Two readings of a line through two unknowns.
    struct Line;

    impl Evidence for Line {
        fn residuals(&self, at: ArrayView1<f64>) -> Result<Array1<f64>> {
            Ok(array![2.0 * at[0] + at[1] - 3.0, at[0] - at[1] + 1.0])
        }

        fn slopes(&self, at: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
            Ok((self.residuals(at)?, array![[2.0, 1.0], [1.0, -1.0]]))
        }
    }

    /// By hand: the readings are normal with covariance [[6, 1], [1, 3]] (determinant 17), 3 and -1 away from their means.
    #[test]
    fn a_linear_model_has_its_evidence_in_closed_form() {
        let peak = climb(&Line, Array1::zeros(2)).expect("a peak");
        let square = (3.0 * 9.0 + 6.0 * 1.0 + 2.0 * 3.0) / 17.0;
        assert!((peak.square - square).abs() < 1e-12, "{peak:?}");
        assert!((peak.log_evidence + 0.5 * square + 0.5 * 17.0_f64.ln()).abs() < 1e-12, "{peak:?}");
    }
}
