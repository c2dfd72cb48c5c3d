//! Levenberg-Marquardt in a scaled trust region with bounds.
//!
//! Method: Moré, "The Levenberg-Marquardt algorithm", Lecture Notes in Mathematics 630, 105 (1978), with an active set
//! for the bounds, and with a polish after the sum of squares has become flat to rounding.

use ndarray::Array1;

use super::ending::{Ending, Tally};
use super::model::Model;
use super::problem::{Bounds, Point, Residuals, check_shapes, check_start};
use super::settings::{Progress, Settings};
use super::step::{Step, StepStart, bounded_step};
use crate::error::{Error, Result};
use crate::numerics::orthogonal::norm;

/// Share of the promised reduction that a step must keep to be taken.
const MIN_REDUCTION_RATIO: f64 = 1e-4;

/// The solver; one iteration is one trial step.
pub(super) struct LevenbergMarquardt<'a, P: ?Sized> {
    problem: &'a P,
    bounds: &'a Bounds,
    settings: &'a Settings,
    scale: Array1<f64>,
    radius: f64,
    /// Residuals at the model's point as trial steps see them: an integrator that carries derivatives along steps
    /// differently, and its own noise must not pass for progress.
    plain: Array1<f64>,
    ending: Option<Ending>,
    /// How far the ridge is from a minimum that the run ended on, if it ended on one.
    pub ridge: Option<f64>,
    pub tally: Tally,
}

impl<'a, P: Residuals + ?Sized> LevenbergMarquardt<'a, P> {
    /// A solver of a problem within bounds.
    pub fn new(problem: &'a P, bounds: &'a Bounds, settings: &'a Settings) -> Self {
        let scale = Array1::zeros(bounds.len());
        let (plain, tally) = (Array1::zeros(0), Tally::default());
        LevenbergMarquardt { problem, bounds, settings, scale, radius: 0.0, plain, ending: None, ridge: None, tally }
    }

    /// One iteration: a trial step, and the model where the run then stands; whether the step was taken.
    pub fn iterate(&mut self, model: Model) -> Result<(Model, bool)> {
        self.tally.iterations += 1;
        let (step, next) = self.advance(&model)?;
        let taken = next.is_some();
        let model = next.unwrap_or(model);
        self.report(&model, &step, taken);
        Ok((model, taken))
    }

    /// Most iterations of a run.
    pub fn max_iterations(&self) -> u64 {
        self.settings.max_iterations
    }

    /// Why no further step is to be made, if none is; the limit of iterations is the executor's.
    pub fn ended(&self) -> Option<Ending> {
        self.ending.or(self.settings.is_canceled().then_some(Ending::Canceled))
    }

    fn report(&self, model: &Model, step: &Step, taken: bool) {
        if let Some(watcher) = &self.settings.watcher {
            watcher.tell(&Progress {
                iteration: self.tally.iterations,
                parameters: model.point.p.view(),
                cost: 0.5 * model.point.rss(),
                cosine: model.cosine,
                taken,
                step: step.length,
                radius: self.radius,
                damping: step.damping,
                failures: self.tally.failures,
            });
        }
    }

    /// Looks at the start: the model there.
    pub fn begin(&mut self, start: Array1<f64>) -> Result<Model> {
        check_start(self.problem.n_readings(), self.bounds, &start)?;
        let point = self.evaluate(start)?;
        let plain = self.residuals(&point.p);
        self.plain = self.step_over(plain, is_finite_at)?.unwrap_or_else(|| point.residuals.clone());
        if !is_finite(&point) {
            return Err(Error::Fit {
                reason: format!("residuals or derivatives are not finite at the start {}", point.p),
                advice: "start elsewhere or set tighter bounds".into(),
            });
        }
        let model = self.model_at(point);
        self.adopt(&model);
        self.radius = self.first_radius(&model);
        Ok(model)
    }

    fn first_radius(&self, model: &Model) -> f64 {
        let start = norm((&self.scale * &model.point.p).view());
        let reach = if start > 0.0 { start } else { norm(model.point.residuals.view()) };
        self.settings.first_radius * reach
    }

    fn model_at(&self, point: Point) -> Model {
        Model::at(point, self.bounds, self.settings.rank_tolerance)
    }

    fn adopt(&mut self, model: &Model) {
        self.scale.zip_mut_with(&model.norms, |scale, &length| *scale = scale.max(length));
        if model.cosine <= self.settings.cosine_tolerance {
            self.ending = Some(Ending::Converged);
        }
    }

    fn evaluate(&mut self, p: Array1<f64>) -> Result<Point> {
        self.tally.evaluations += 1;
        self.tally.jacobians += 1;
        let (residuals, jacobian) = self.problem.evaluate(p.view())?;
        check_shapes(self.problem.n_residuals(), p.len(), &residuals, Some(&jacobian))?;
        Ok(Point { readings: self.problem.n_readings(), p, residuals, jacobian })
    }

    fn residuals(&mut self, p: &Array1<f64>) -> Result<Array1<f64>> {
        self.tally.evaluations += 1;
        let residuals = self.problem.residuals(p.view())?;
        check_shapes(self.problem.n_residuals(), p.len(), &residuals, None)?;
        Ok(residuals)
    }

    /// One trial step from `model`: propose, try, judge. The model that it leads to, if it is taken.
    fn advance(&mut self, model: &Model) -> Result<(Step, Option<Model>)> {
        let step = self.propose(model);
        let smallest = self.settings.step_tolerance * norm((&self.scale * &model.point.p).view());
        if step.length <= smallest || step.predicted <= 0.0 {
            self.ending = Some(Ending::StepTiny);
            return Ok((step, None));
        }
        let trial = step.to.clone();
        let outcome = self.residuals(&trial);
        let next = match self.step_over(outcome, is_finite_at)? {
            None => self.shrink(0.25),
            Some(residuals) => self.judge(model, &step, trial, residuals)?,
        };
        Ok((step, next))
    }

    fn propose(&self, model: &Model) -> Step {
        bounded_step(&StepStart {
            triangle: &model.triangle,
            p: &model.point.p,
            bounds: self.bounds,
            scale: &self.scale,
            free: &model.free,
            radius: self.radius,
            rank_tolerance: self.settings.rank_tolerance,
        })
    }

    /// Counts a failure that a fit may step over; passes any other on.
    fn step_over<T>(&mut self, outcome: Result<T>, is_sound: impl Fn(&T) -> bool) -> Result<Option<T>> {
        match outcome {
            Ok(value) if is_sound(&value) => return Ok(Some(value)),
            Err(e) if !e.is_recoverable() => return Err(e),
            _ => self.tally.failures += 1,
        }
        Ok(None)
    }

    fn shrink(&mut self, factor: f64) -> Option<Model> {
        self.radius *= factor;
        None
    }

    fn judge(
        &mut self,
        model: &Model,
        step: &Step,
        trial: Array1<f64>,
        residuals: Array1<f64>,
    ) -> Result<Option<Model>> {
        let actual = reduction(&self.plain, &residuals);
        let noise = self.settings.cost_noise * model.point.rss();
        let is_flat = step.predicted <= noise && actual.abs() <= noise;
        let ratio = actual / step.predicted;
        if !is_flat {
            self.resize(model, step, actual, ratio);
            if ratio < MIN_REDUCTION_RATIO {
                return Ok(None);
            }
        }
        let outcome = self.evaluate(trial);
        let Some(point) = self.step_over(outcome, is_finite)? else { return Ok(self.shrink(0.25)) };
        let next = self.model_at(point);
        if is_flat && next.cosine > 0.9 * model.cosine {
            self.ending = Some(Ending::CostFlat);
            self.ridge = model.ridge_distance(&next);
            return Ok(None);
        }
        self.plain = residuals;
        self.adopt(&next);
        Ok(Some(next))
    }

    fn resize(&mut self, model: &Model, step: &Step, actual: f64, ratio: f64) {
        if ratio <= 0.25 {
            let slope = 2.0 * model.triangle.q.dot(&model.triangle.r.dot(&step.change));
            let lowest = -slope / (2.0 * (-actual - slope));
            let factor = if lowest.is_finite() { lowest.clamp(0.1, 0.5) } else { 0.1 };
            self.radius = factor * self.radius.min(10.0 * step.length);
        } else if ratio >= 0.75 || step.damping == 0.0 {
            self.radius = self.radius.max(2.0 * step.length);
        }
    }
}

/// Difference of two sums of squares, without the cancellation of taking it last.
fn reduction(from: &Array1<f64>, to: &Array1<f64>) -> f64 {
    from.iter().zip(to).map(|(a, b)| (a - b) * (a + b)).sum()
}

fn is_finite_at(residuals: &Array1<f64>) -> bool {
    residuals.iter().all(|v| v.is_finite())
}

fn is_finite(point: &Point) -> bool {
    point.residuals.iter().chain(&point.jacobian).all(|v| v.is_finite())
}
