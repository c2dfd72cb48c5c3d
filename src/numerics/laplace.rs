//! The evidence of residuals under unit normal priors: the peak of the posterior, and Laplace's approximation around
//! it.

use ndarray::{Array1, Array2, ArrayView1};

use super::triangular::{cholesky, solve_normal};
use crate::error::Result;

/// Steps to a peak at most, and how often a step that leads nowhere is damped further.
const MOST_STEPS: usize = 20;
const MOST_SHORTENINGS: usize = 6;
/// A step that gains less than this is the last; the evidence is then known to about as much.
const MIN_GAIN: f64 = 1e-3;
/// The least damping of a step, in precisions of the priors, and what it is multiplied by after steps too long and too
/// short.
const MIN_DAMPING: f64 = 1.0;
const MORE_DAMPING: f64 = 4.0;
const LESS_DAMPING: f64 = 0.2;
/// Shares of the gain that a linear model promises: a step that brings less was too long, one that brings more too
/// short.
const POOR_RATIO: f64 = 0.25;
const GOOD_RATIO: f64 = 0.75;

/// Residuals of coordinates that are each of unit normal prior.
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
    /// Squares of residuals and coordinates, added up: in a linear model the square of the residuals in standard
    /// deviations of their prediction.
    pub square: f64,
    /// Logarithm of the residuals' probability, the coordinates integrated out.
    pub log_evidence: f64,
}

/// A place with what is known of it.
struct Candidate {
    at: Array1<f64>,
    square: f64,
    residuals: Array1<f64>,
    slopes: Array2<f64>,
}

/// Finds the peak by Gauss-Newton steps from `start`, damped where the model is not as linear as they are long
/// (Marquardt, J. Soc. Ind. Appl. Math. 11, 431, 1963). Of several peaks it is the one that steps lead to.
///
/// # Errors
/// Those of the residuals at the start, and those that cannot be stepped around.
pub fn climb(model: &impl Evidence, start: Array1<f64>) -> Result<Peak> {
    let (residuals, slopes) = model.slopes(start.view())?;
    let square = squares(&residuals, &start);
    let mut place = Candidate { at: start, square, residuals, slopes };
    let mut damping = 0.0;
    for _ in 0..MOST_STEPS {
        let Some((at, square)) = better(model, &place, &mut damping)? else { break };
        let gain = place.square - square;
        // Its square stays what the residuals alone gave: with slopes they are integrated in other steps.
        let (residuals, slopes) = model.slopes(at.view())?;
        place = Candidate { at, square, residuals, slopes };
        if gain < MIN_GAIN {
            break;
        }
    }
    let root = cholesky(gram(&place.slopes, 1.0).view());
    let log_evidence = -0.5 * place.square - root.diag().iter().map(|pivot| pivot.ln()).sum::<f64>();
    Ok(Peak { at: place.at, square: place.square, log_evidence })
}

impl Candidate {
    /// The step to the peak of the linear model, where leaving the place costs the step's square times `damping`.
    fn step(&self, damping: f64) -> Array1<f64> {
        let precision = 1.0 + damping;
        // Where priors alone would lead; residuals turn away from there.
        let home = &self.at / -precision;
        let left = &self.residuals + &self.slopes.dot(&home);
        let root = cholesky(gram(&self.slopes, precision).view());
        let solved = solve_normal(root.view(), left.view().insert_axis(ndarray::Axis(1)));
        home - self.slopes.t().dot(&solved.column(0))
    }
}

fn squares(residuals: &Array1<f64>, at: &Array1<f64>) -> f64 {
    residuals.dot(residuals) + at.dot(at)
}

/// The priors' precision plus the slopes' products, a row and column per residual.
fn gram(slopes: &Array2<f64>, precision: f64) -> Array2<f64> {
    slopes.dot(&slopes.t()) + Array2::<f64>::eye(slopes.nrows()) * precision
}

/// The first better place among steps that are damped ever more, and its square; leaves the damping for the next step.
fn better(model: &impl Evidence, place: &Candidate, damping: &mut f64) -> Result<Option<(Array1<f64>, f64)>> {
    for _ in 0..=MOST_SHORTENINGS {
        let step = place.step(*damping);
        let at = &place.at + &step;
        let square = match model.residuals(at.view()) {
            Ok(residuals) => squares(&residuals, &at),
            Err(error) if error.is_recoverable() => f64::INFINITY,
            Err(error) => return Err(error),
        };
        let promised = place.square - squares(&(&place.residuals + &place.slopes.dot(&step)), &at);
        let gain = place.square - square;
        if gain > GOOD_RATIO * promised {
            *damping = if *damping > MIN_DAMPING { *damping * LESS_DAMPING } else { 0.0 };
        } else if gain.is_nan() || gain < POOR_RATIO * promised {
            *damping = (*damping * MORE_DAMPING).max(MIN_DAMPING);
        }
        if gain > 0.0 {
            return Ok(Some((at, square)));
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

    /// By hand: the readings are normal with covariance [[6, 1], [1, 3]] (determinant 17), 3 and -1 away from their
    /// means.
    #[test]
    fn a_linear_model_has_its_evidence_in_closed_form() {
        let peak = climb(&Line, Array1::zeros(2)).expect("a peak");
        let square = (3.0 * 9.0 + 6.0 * 1.0 + 2.0 * 3.0) / 17.0;
        assert!((peak.square - square).abs() < 1e-12, "{peak:?}");
        assert!((peak.log_evidence + 0.5 * square + 0.5 * 17.0_f64.ln()).abs() < 1e-12, "{peak:?}");
    }

    /// A valley along y = x^2 whose walls are known 60 times as well as priors.
    struct Bent;

    impl Evidence for Bent {
        fn residuals(&self, at: ArrayView1<f64>) -> Result<Array1<f64>> {
            Ok(array![60.0 * (at[1] - at[0].powi(2)), 10.0 * (at[0] - 2.0)])
        }

        fn slopes(&self, at: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
            Ok((self.residuals(at)?, array![[-120.0 * at[0], 60.0], [10.0, 0.0]]))
        }
    }

    /// The peak by SciPy (`optimize.least_squares`). Eight steps that are only halved end at a square of 37.
    #[test]
    fn a_bent_valley_is_followed_to_its_end() {
        let peak = climb(&Bent, Array1::zeros(2)).expect("a peak");
        assert!((peak.square - 17.380_776_081_869).abs() < 1e-3, "{peak:?}");
        assert!((peak.at[0] - 1.854_033).abs() < 1e-3 && (peak.at[1] - 3.436_483).abs() < 1e-3, "{peak:?}");
    }
}
