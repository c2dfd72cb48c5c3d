//! Profile-likelihood intervals (Venzon and Moolgavkar, J. R. Stat. Soc. C 37, 87, 1988): how far a parameter can be
//! moved, all others fitted anew, before the fit gets worse than the records allow.

use ndarray::{Array1, Array2, ArrayView1, Axis, concatenate};
use serde::{Deserialize, Serialize};

use super::coordinates::Coordinates;
use super::least_squares::{Bounds, Residuals, Settings, Solution, run};
use super::prior::Prior;
use super::records::Estimand;
use crate::error::{Error, Result};
use crate::numerics::triangular::{cholesky, solve_lower};

/// First step, in standard errors, and how often a side is stepped outwards at most.
const FIRST_STEP_ERRORS: f64 = 1.0;
const MOST_STEPS: usize = 8;
/// Corrections of an end, and the error of its cost at which it stands.
const MOST_CORRECTIONS: usize = 4;
const END_COST_ERROR: f64 = 0.02;
/// Weight, in standard deviations per prior standard deviation, with which the parameter is held.
const HOLDING_WEIGHT: f64 = 1e3;

/// A parameter moved along, all others fitted anew at each place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Profile<Q> {
    /// The parameter.
    pub parameter: Q,
    /// Value at the best fit, SI.
    pub value: f64,
    /// Limits of the 95 % interval, SI.
    pub interval_95: (f64, f64),
    /// Whether an end of the interval is the end of what is allowed instead of what the records say.
    pub open: (bool, bool),
    /// Places tried, rising: the parameter's value, SI, and by how much half the sum of squares is above the best
    /// fit's, over the ratio of misfit to the scatter allowed where that is above 1.
    pub points: Vec<(f64, f64)>,
}

/// Rise of half the sum of squares at the ends of the 95 % interval: half the 95 % quantile of chi squared with one
/// degree of freedom (Wilks, Ann. Math. Stat. 9, 60, 1938).
pub const PROFILE_RISE_95: f64 = 1.920_729_410_347_062;

/// The profile of a shared parameter around a solution; `misfit_ratio` is by how much the records scatter more than
/// allowed, and every rise counts for that much less.
pub fn profile<P: Residuals, Q: Estimand>(
    problem: &P,
    coordinates: &Coordinates<Q>,
    best: &Solution,
    parameter: Q,
    misfit_ratio: f64,
    settings: &Settings,
) -> Result<Profile<Q>> {
    let Some(axis) = coordinates.axes.iter().position(|a| a.parameter == parameter && a.record.is_none()) else {
        let names: Vec<_> = shared_names(coordinates);
        let advice = format!("it was held, or these records cannot tell of it; fitted: {}", names.join(", "));
        return Err(Error::argument("parameter", parameter.name(), "a parameter that was fitted", advice));
    };
    let (lower, upper) = coordinates.bounds();
    let walk = Walk { problem, coordinates, axis, bounds: Bounds::new(lower, upper)?, misfit_ratio, settings };
    // The best fit anew, at this accuracy: rises count from there.
    let from = walk.place(best, None)?;
    let (low, below, mut points) = walk.side(&from, -1.0)?;
    let (high, above, more) = walk.side(&from, 1.0)?;
    points.push((from.q, 0.0));
    points.extend(more);
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let prior = walk.prior();
    Ok(Profile {
        parameter,
        value: prior.value(from.q),
        interval_95: (prior.value(low), prior.value(high)),
        open: (below, above),
        points: points.into_iter().map(|(q, rise)| (prior.value(q), rise)).collect(),
    })
}

fn shared_names<Q: Estimand>(coordinates: &Coordinates<Q>) -> Vec<&'static str> {
    coordinates.axes.iter().filter(|a| a.record.is_none()).map(|a| a.parameter.name()).collect()
}

struct Walk<'a, P, Q> {
    problem: &'a P,
    coordinates: &'a Coordinates<Q>,
    axis: usize,
    bounds: Bounds,
    misfit_ratio: f64,
    settings: &'a Settings,
}

/// All parameters fitted with one held.
struct HeldFit {
    /// The held one, in prior standard deviations.
    q: f64,
    /// Half the sum of squares over the misfit ratio.
    cost: f64,
    solution: Solution,
}

/// An end in prior standard deviations, whether it is the end of what is allowed, and the places tried with their
/// rises.
type Side = (f64, bool, Vec<(f64, f64)>);

impl<P: Residuals, Q: Estimand> Walk<'_, P, Q> {
    fn prior(&self) -> &Prior {
        &self.coordinates.axes[self.axis].prior
    }

    /// Fits from a place nearby, holding the parameter at `target` if there is one.
    fn place(&self, near: &Solution, target: Option<f64>) -> Result<HeldFit> {
        let held = Held { problem: self.problem, coordinates: self.coordinates, axis: self.axis, target };
        let solution = run(&held, &self.bounds, &near.parameters, self.settings)?;
        let q = self.coordinates.prior_sds(solution.parameters.view())[self.axis];
        let pull = target.map_or(0.0, |t| HOLDING_WEIGHT * (q - t));
        Ok(HeldFit { q, cost: (solution.cost - 0.5 * pull * pull) / self.misfit_ratio, solution })
    }

    /// Steps outwards until the cost has risen enough, then closes in on the end. The root of the rise is about a
    /// straight line, and is walked along as one.
    fn side(&self, from: &HeldFit, sign: f64) -> Result<Side> {
        let goal = PROFILE_RISE_95.sqrt();
        let prior = self.prior();
        let edge = prior.sds(if sign < 0.0 { prior.low } else { prior.high });
        let width = self.width(&from.solution);
        let (mut points, mut inner, mut near) = (Vec::new(), (from.q, 0.0), from.solution.clone());
        let mut step = FIRST_STEP_ERRORS * width;
        for _ in 0..MOST_STEPS {
            let target = from.q + sign * ((inner.0 - from.q).abs() + step);
            let (target, at_edge) = if sign * target >= sign * edge { (edge, true) } else { (target, false) };
            let place = self.place(&near, Some(target))?;
            let root = (place.cost - from.cost).max(0.0).sqrt();
            points.push((place.q, root * root));
            if root >= goal {
                let end = self.close_in(from, inner, (place.q, root), &place.solution, &mut points)?;
                return Ok((end, false, points));
            }
            if at_edge {
                return Ok((edge, true, points));
            }
            let slope = root / (place.q - from.q).abs();
            step =
                if slope > 0.0 { ((goal - root) / slope * 1.1).clamp(0.25 * width, 4.0 * width) } else { 2.0 * step };
            (inner, near) = ((place.q, root), place.solution);
        }
        Ok((inner.0, true, points))
    }

    /// The place between two, below and above the goal, where the rise is the goal's.
    fn close_in(
        &self,
        from: &HeldFit,
        mut inner: (f64, f64),
        mut outer: (f64, f64),
        near: &Solution,
        points: &mut Vec<(f64, f64)>,
    ) -> Result<f64> {
        let goal = PROFILE_RISE_95.sqrt();
        let between = |a: (f64, f64), b: (f64, f64)| a.0 + (b.0 - a.0) * (goal - a.1) / (b.1 - a.1);
        for _ in 0..MOST_CORRECTIONS {
            let place = self.place(near, Some(between(inner, outer)))?;
            let root = (place.cost - from.cost).max(0.0).sqrt();
            points.push((place.q, root * root));
            if (root * root - PROFILE_RISE_95).abs() < END_COST_ERROR {
                return Ok(place.q);
            }
            if root < goal { inner = (place.q, root) } else { outer = (place.q, root) }
        }
        Ok(between(inner, outer))
    }

    /// The standard error in prior standard deviations, from the linear model.
    fn width(&self, best: &Solution) -> f64 {
        let normal = best.jacobian.t().dot(&best.jacobian);
        let factor = cholesky(normal.view());
        // The error is the length of the solution of L x = the axis' row of the whitening.
        let x = solve_lower(factor.view(), self.coordinates.whitening.row(self.axis));
        (x.dot(&x) * self.misfit_ratio).sqrt()
    }
}

/// A sum of squares with one more row that holds a parameter.
struct Held<'a, P, Q> {
    problem: &'a P,
    coordinates: &'a Coordinates<Q>,
    axis: usize,
    target: Option<f64>,
}

impl<P, Q: Copy> Held<'_, P, Q> {
    fn pull(&self, z: ArrayView1<f64>) -> f64 {
        self.target.map_or(0.0, |target| HOLDING_WEIGHT * (self.coordinates.prior_sds(z)[self.axis] - target))
    }
}

impl<P: Residuals, Q: Estimand> Residuals for Held<'_, P, Q> {
    fn n_residuals(&self) -> usize {
        self.problem.n_residuals() + 1
    }

    fn n_readings(&self) -> usize {
        self.problem.n_readings() + 1
    }

    fn evaluate(&self, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        let (mut residuals, mut jacobian) = self.problem.evaluate(z)?;
        let weight = if self.target.is_some() { HOLDING_WEIGHT } else { 0.0 };
        let row = self.coordinates.whitening.row(self.axis).mapv(|m| weight * m).insert_axis(Axis(0));
        residuals = append(residuals, self.pull(z));
        jacobian = concatenate(Axis(0), &[jacobian.view(), row.view()]).map_err(shape)?;
        Ok((residuals, jacobian))
    }

    fn residuals(&self, z: ArrayView1<f64>) -> Result<Array1<f64>> {
        Ok(append(self.problem.residuals(z)?, self.pull(z)))
    }
}

fn append(row: Array1<f64>, last: f64) -> Array1<f64> {
    row.into_iter().chain([last]).collect()
}

fn shape(error: ndarray::ShapeError) -> Error {
    Error::Fit { reason: format!("the rows of a profile do not match: {error}"), advice: "report it".into() }
}
