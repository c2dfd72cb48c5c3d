//! What a least-squares problem gives: residuals, their exact derivatives, and the bounds of its parameters.

use ndarray::{Array1, Array2, ArrayView1};

use crate::error::{Error, Result};

/// A sum of squares to be made small.
pub trait Residuals {
    /// Number of residuals, the same at every parameter value.
    fn n_residuals(&self) -> usize;

    /// Number of readings that they stand for: more, where blocks of residuals are condensed.
    fn n_readings(&self) -> usize {
        self.n_residuals()
    }

    /// Residuals and their Jacobian (`n_residuals` rows, one column per parameter) at `p`.
    ///
    /// # Errors
    /// Those with [`Error::is_recoverable`] reject a step and are counted; any other ends the fit.
    fn evaluate(&self, p: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)>;

    /// Residuals alone, for trial steps; worth writing when the derivatives cost much.
    ///
    /// # Errors
    /// As [`Residuals::evaluate`].
    fn residuals(&self, p: ArrayView1<f64>) -> Result<Array1<f64>> {
        Ok(self.evaluate(p)?.0)
    }
}

impl<P: Residuals + ?Sized> Residuals for &P {
    fn n_residuals(&self) -> usize {
        (**self).n_residuals()
    }

    fn n_readings(&self) -> usize {
        (**self).n_readings()
    }

    fn evaluate(&self, p: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        (**self).evaluate(p)
    }

    fn residuals(&self, p: ArrayView1<f64>) -> Result<Array1<f64>> {
        (**self).residuals(p)
    }
}

/// Smallest and largest value of each parameter; infinite where there is none, equal where it is held.
#[derive(Clone, Debug, PartialEq)]
pub struct Bounds {
    /// Smallest values.
    pub lower: Array1<f64>,
    /// Largest values.
    pub upper: Array1<f64>,
}

impl Bounds {
    /// No bounds on `n` parameters.
    #[cfg(feature = "internals")]
    pub fn none(n: usize) -> Self {
        Bounds { lower: Array1::from_elem(n, f64::NEG_INFINITY), upper: Array1::from_elem(n, f64::INFINITY) }
    }

    /// Bounds from their two ends.
    ///
    /// # Errors
    /// [`Error::Argument`] when the lengths differ, an end is not a number, or a lower end is above its upper one.
    pub fn new(lower: Array1<f64>, upper: Array1<f64>) -> Result<Self> {
        if lower.len() != upper.len() {
            let found = format!("{} lower and {} upper bounds", lower.len(), upper.len());
            return Err(Error::argument(
                "bounds",
                found,
                "one of each per parameter",
                "give both lists the same length",
            ));
        }
        for (j, (l, u)) in lower.iter().zip(&upper).enumerate() {
            if l.is_nan() || u.is_nan() || l > u {
                let found = format!("{l} to {u}");
                return Err(Error::argument(
                    format!("bounds[{j}]"),
                    found,
                    "lower <= upper",
                    "swap or correct the two",
                ));
            }
        }
        Ok(Bounds { lower, upper })
    }

    /// Number of parameters.
    pub fn len(&self) -> usize {
        self.lower.len()
    }

    /// Whether there are no parameters at all.
    #[cfg(feature = "internals")]
    pub fn is_empty(&self) -> bool {
        self.lower.is_empty()
    }

    /// The point inside the bounds that is nearest to `p`.
    pub fn clamp(&self, p: &Array1<f64>) -> Array1<f64> {
        Array1::from_shape_fn(p.len(), |j| p[j].clamp(self.lower[j], self.upper[j]))
    }

    /// Whether parameter `j` has no room to move.
    pub(super) fn holds(&self, j: usize) -> bool {
        self.lower[j] == self.upper[j]
    }

    /// Whether every value of `p` lies within.
    pub(super) fn contain(&self, p: &Array1<f64>) -> bool {
        p.len() == self.len() && (0..p.len()).all(|j| self.lower[j] <= p[j] && p[j] <= self.upper[j])
    }
}

/// A point with everything known there.
#[derive(Clone, Debug)]
pub(super) struct Point {
    /// Readings that the residuals stand for.
    pub readings: usize,
    pub p: Array1<f64>,
    pub residuals: Array1<f64>,
    pub jacobian: Array2<f64>,
}

impl Point {
    /// Sum of squared residuals.
    pub fn rss(&self) -> f64 {
        self.residuals.dot(&self.residuals)
    }
}

/// Refuses a start that no fit can begin from.
pub(super) fn check_start(n_residuals: usize, bounds: &Bounds, start: &Array1<f64>) -> Result<()> {
    let advice = "give one finite start per parameter, inside its bounds";
    if start.len() != bounds.len() || start.is_empty() {
        let found = format!("{} values", start.len());
        return Err(Error::argument("start", found, format!("{} values, at least 1", bounds.len()), advice));
    }
    if !start.iter().all(|v| v.is_finite()) || !bounds.contain(start) {
        return Err(Error::argument("start", start, "finite values inside the bounds", advice));
    }
    let n_free = (0..start.len()).filter(|&j| !bounds.holds(j)).count();
    if n_residuals < n_free {
        return Err(Error::TooFewRecords {
            wanted: format!("a fit of {n_free} parameters"),
            found: format!("{n_residuals} residuals"),
            advice: "add records or hold some parameters at a value".into(),
        });
    }
    Ok(())
}

/// Refuses shapes that contradict what the problem said of itself.
pub(super) fn check_shapes(
    n_residuals: usize,
    n_parameters: usize,
    residuals: &Array1<f64>,
    jacobian: Option<&Array2<f64>>,
) -> Result<()> {
    let wanted = (n_residuals, n_parameters);
    if residuals.len() == n_residuals && jacobian.is_none_or(|j| j.dim() == wanted) {
        return Ok(());
    }
    Err(Error::argument(
        "Residuals",
        format!("{} residuals, Jacobian {:?}", residuals.len(), jacobian.map(Array2::dim)),
        format!("{n_residuals} residuals and a Jacobian of {n_residuals} x {n_parameters}"),
        "return the same shapes at every point",
    ))
}
