//! Profile-likelihood intervals: how far a parameter can be moved, all others following, before the fit gets worse than the
//! records allow.

use ndarray::{Array1, Array2, ArrayView1, Axis, concatenate};
use serde::Serialize;

use super::coordinates::Space;
use crate::error::{Error, Result};
use crate::fit::options::FitOptions;
use crate::fit::parameter::{Belief, Parameter};
use crate::inference::least_squares::{Bounds, Residuals, Solution, run};
use crate::numerics::triangular::{cholesky, solve_lower};

/// First step, in standard errors, and how often a side is stepped outwards at most.
const FIRST_STEP: f64 = 1.0;
const STEPS: usize = 8;
/// Corrections of an end, and the error of its cost at which it stands.
const CORRECTIONS: usize = 4;
const END_WITHIN: f64 = 0.02;
/// Weight, in standard deviations per spread, with which the parameter is held.
const HELD_BY: f64 = 1e3;

/// A parameter moved along, all others fitted anew at each place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Profile {
    /// The parameter.
    pub parameter: Parameter,
    /// Value at the best fit, SI.
    pub value: f64,
    /// Limits of the 95 % interval, SI.
    pub interval_95: (f64, f64),
    /// Whether an end of the interval is the end of what is allowed instead of what the records say.
    pub open: (bool, bool),
    /// Places tried, rising: the parameter's value, SI, and by how much half the sum of squares is above the best fit's,
    /// over the ratio of misfit to the scatter allowed where that is above 1.
    pub points: Vec<(f64, f64)>,
}

impl Profile {
    /// Rise of half the sum of squares at the ends of the 95 % interval: half the 95 % quantile of chi squared with one degree
    /// of freedom (Wilks, Ann. Math. Stat. 9, 60, 1938).
    pub const RISE_95: f64 = 1.920_729_410_347_062;
}

/// The profile of a shared parameter around a solution; `misfit_ratio` is by how much the records scatter more than allowed,
/// and every rise counts for that much less.
pub(crate) fn profile<P: Residuals>(
    problem: &P,
    space: &Space,
    best: &Solution,
    parameter: Parameter,
    misfit_ratio: f64,
    options: &FitOptions,
) -> Result<Profile> {
    let Some(axis) = space.axes.iter().position(|a| a.parameter == parameter && a.record.is_none()) else {
        let names: Vec<_> = shared_names(space);
        let advice = format!("it was held, or these records cannot tell of it; fitted: {}", names.join(", "));
        return Err(Error::argument("parameter", parameter.label().name, "a parameter that was fitted", advice));
    };
    let (lower, upper) = space.bounds();
    let walk = Walk { problem, space, axis, bounds: Bounds::new(lower, upper)?, misfit_ratio, options };
    // The best fit anew, at this accuracy: rises count from there.
    let from = walk.place(best, None)?;
    let (low, below, mut points) = walk.side(&from, -1.0)?;
    let (high, above, more) = walk.side(&from, 1.0)?;
    points.push((from.q, 0.0));
    points.extend(more);
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let belief = walk.belief();
    Ok(Profile {
        parameter,
        value: belief.value(from.q),
        interval_95: (belief.value(low), belief.value(high)),
        open: (below, above),
        points: points.into_iter().map(|(q, rise)| (belief.value(q), rise)).collect(),
    })
}

fn shared_names(space: &Space) -> Vec<&'static str> {
    space.axes.iter().filter(|a| a.record.is_none()).map(|a| a.parameter.label().name).collect()
}

struct Walk<'a, P> {
    problem: &'a P,
    space: &'a Space,
    axis: usize,
    bounds: Bounds,
    misfit_ratio: f64,
    options: &'a FitOptions,
}

/// All parameters fitted with one held.
struct Place {
    /// The held one, in spreads.
    q: f64,
    /// Half the sum of squares over the misfit ratio.
    cost: f64,
    solution: Solution,
}

/// An end in spreads, whether it is the end of what is allowed, and the places tried with their rises.
type Side = (f64, bool, Vec<(f64, f64)>);

impl<P: Residuals> Walk<'_, P> {
    fn belief(&self) -> &Belief {
        &self.space.axes[self.axis].belief
    }

    /// Fits from a place nearby, holding the parameter at `target` if there is one.
    fn place(&self, near: &Solution, target: Option<f64>) -> Result<Place> {
        let held = Held { problem: self.problem, space: self.space, axis: self.axis, target };
        let solution = run(&held, &self.bounds, &near.parameters, &self.options.settings())?;
        let q = self.space.spreads(solution.parameters.view())[self.axis];
        let pull = target.map_or(0.0, |t| HELD_BY * (q - t));
        Ok(Place { q, cost: (solution.cost - 0.5 * pull * pull) / self.misfit_ratio, solution })
    }

    /// Steps outwards until the cost has risen enough, then closes in on the end. The root of the rise is about a straight
    /// line, and is walked along as one.
    fn side(&self, from: &Place, sign: f64) -> Result<Side> {
        let goal = Profile::RISE_95.sqrt();
        let belief = self.belief();
        let edge = belief.position(if sign < 0.0 { belief.low } else { belief.high });
        let width = self.width(&from.solution);
        let (mut points, mut inner, mut near) = (Vec::new(), (from.q, 0.0), from.solution.clone());
        let mut step = FIRST_STEP * width;
        for _ in 0..STEPS {
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
        from: &Place,
        mut inner: (f64, f64),
        mut outer: (f64, f64),
        near: &Solution,
        points: &mut Vec<(f64, f64)>,
    ) -> Result<f64> {
        let goal = Profile::RISE_95.sqrt();
        let between = |a: (f64, f64), b: (f64, f64)| a.0 + (b.0 - a.0) * (goal - a.1) / (b.1 - a.1);
        for _ in 0..CORRECTIONS {
            let place = self.place(near, Some(between(inner, outer)))?;
            let root = (place.cost - from.cost).max(0.0).sqrt();
            points.push((place.q, root * root));
            if (root * root - Profile::RISE_95).abs() < END_WITHIN {
                return Ok(place.q);
            }
            if root < goal { inner = (place.q, root) } else { outer = (place.q, root) }
        }
        Ok(between(inner, outer))
    }

    /// The standard error in spreads, from the linear model.
    fn width(&self, best: &Solution) -> f64 {
        let normal = best.jacobian.t().dot(&best.jacobian);
        let factor = cholesky(normal.view());
        // The error is the length of the solution of L x = the axis' row of the mixing.
        let x = solve_lower(factor.view(), self.space.mixing.row(self.axis));
        (x.dot(&x) * self.misfit_ratio).sqrt()
    }
}

/// A sum of squares with one more row that holds a parameter.
struct Held<'a, P> {
    problem: &'a P,
    space: &'a Space,
    axis: usize,
    target: Option<f64>,
}

impl<P> Held<'_, P> {
    fn pull(&self, z: ArrayView1<f64>) -> f64 {
        self.target.map_or(0.0, |target| HELD_BY * (self.space.spreads(z)[self.axis] - target))
    }
}

impl<P: Residuals> Residuals for Held<'_, P> {
    fn n_residuals(&self) -> usize {
        self.problem.n_residuals() + 1
    }

    fn n_readings(&self) -> usize {
        self.problem.n_readings() + 1
    }

    fn evaluate(&self, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        let (mut residuals, mut jacobian) = self.problem.evaluate(z)?;
        let weight = if self.target.is_some() { HELD_BY } else { 0.0 };
        let row = self.space.mixing.row(self.axis).mapv(|m| weight * m).insert_axis(Axis(0));
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
