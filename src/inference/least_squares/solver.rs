//! Levenberg-Marquardt in a scaled trust region with bounds, as a solver of the `argmin` framework.
//!
//! Method: Moré, "The Levenberg-Marquardt algorithm", Lecture Notes in Mathematics 630, 105 (1978), with an active set
//! for the bounds, and with a polish after the sum of squares has become flat to rounding.

use argmin::core::{Error, IterState, KV, Problem, Solver, TerminationReason, TerminationStatus};
use argmin::kv;
use ndarray::{Array1, Array2};

use super::model::Model;
use super::problem::{Bounds, Point, Residuals, check_shapes, check_start};
use super::settings::Settings;
use super::solution::Ending;
use super::step::{Stand, Step, bounded_step};
use crate::numerics::orthogonal::norm;

/// What an observer sees: parameters, Jacobian, residuals, and half the sum of squares as the cost.
pub type FitState = IterState<Array1<f64>, (), Array2<f64>, (), Array1<f64>, f64>;

/// Share of the promised reduction that a step must keep to be taken.
const TAKEN_FROM: f64 = 1e-4;

/// Counts of a run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Trial steps.
    pub iterations: u64,
    /// Evaluations of the residuals, with or without their Jacobian.
    pub evaluations: u64,
    /// Evaluations with the Jacobian.
    pub jacobians: u64,
    /// Evaluations that failed and were stepped over.
    pub failures: u64,
}

impl std::ops::AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.iterations += other.iterations;
        self.evaluations += other.evaluations;
        self.jacobians += other.jacobians;
        self.failures += other.failures;
    }
}

/// The solver; one iteration is one trial step.
#[derive(Clone, Debug)]
pub struct LevenbergMarquardt {
    bounds: Bounds,
    settings: Settings,
    scale: Array1<f64>,
    radius: f64,
    /// Residuals at the model's point as trial steps see them: an integrator that carries derivatives along steps differently,
    /// and its own noise must not pass for progress.
    plain: Array1<f64>,
    pub(super) model: Option<Model>,
    pub(super) ending: Option<Ending>,
    /// How far the ridge is from a minimum that the run ended on, if it ended on one.
    pub(super) ridge: Option<f64>,
    pub(super) tally: Tally,
}

impl LevenbergMarquardt {
    /// A solver for parameters within `bounds`.
    pub fn new(bounds: Bounds, settings: Settings) -> Self {
        let scale = Array1::zeros(bounds.len());
        let (plain, tally) = (Array1::zeros(0), Tally::default());
        LevenbergMarquardt {
            bounds,
            settings,
            scale,
            radius: 0.0,
            plain,
            model: None,
            ending: None,
            ridge: None,
            tally,
        }
    }

    /// Counts so far.
    pub fn tally(&self) -> Tally {
        self.tally
    }

    fn begin<P: Residuals>(&mut self, problem: &mut Problem<P>, start: Array1<f64>) -> Result<(), Error> {
        let n_readings = problem.problem.as_ref().map_or(0, P::n_readings);
        check_start(n_readings, &self.bounds, &start)?;
        let point = self.evaluate(problem, start)?;
        let plain = self.residuals(problem, &point.p);
        self.plain = self.step_over(plain, is_finite_at)?.unwrap_or_else(|| point.residuals.clone());
        if !is_finite(&point) {
            return Err(Error::new(crate::Error::Fit {
                reason: format!("residuals or derivatives are not finite at the start {}", point.p),
                advice: "start elsewhere or set tighter bounds".into(),
            }));
        }
        self.adopt(self.model_at(point));
        self.radius = self.first_radius();
        Ok(())
    }

    fn first_radius(&self) -> f64 {
        let Some(model) = &self.model else { return 0.0 };
        let start = norm((&self.scale * &model.point.p).view());
        let reach = if start > 0.0 { start } else { norm(model.point.residuals.view()) };
        self.settings.first_radius * reach
    }

    fn model_at(&self, point: Point) -> Model {
        Model::at(point, &self.bounds, self.settings.rank_tolerance)
    }

    fn adopt(&mut self, model: Model) {
        self.scale.zip_mut_with(&model.norms, |scale, &length| *scale = scale.max(length));
        if model.cosine <= self.settings.cosine_tolerance {
            self.ending = Some(Ending::Converged);
        }
        self.model = Some(model);
    }

    fn evaluate<P: Residuals>(&mut self, problem: &mut Problem<P>, p: Array1<f64>) -> Result<Point, Error> {
        self.tally.evaluations += 1;
        self.tally.jacobians += 1;
        problem.problem("jacobian_count", |o| {
            let (residuals, jacobian) = o.evaluate(p.view())?;
            check_shapes(o.n_residuals(), p.len(), &residuals, Some(&jacobian))?;
            Ok(Point { readings: o.n_readings(), p, residuals, jacobian })
        })
    }

    fn residuals<P: Residuals>(&mut self, problem: &mut Problem<P>, p: &Array1<f64>) -> Result<Array1<f64>, Error> {
        self.tally.evaluations += 1;
        problem.problem("residual_count", |o| {
            let residuals = o.residuals(p.view())?;
            check_shapes(o.n_residuals(), p.len(), &residuals, None)?;
            Ok(residuals)
        })
    }

    /// One trial step from `model`: propose, try, judge.
    fn advance<P: Residuals>(&mut self, problem: &mut Problem<P>, model: &Model) -> Result<(Step, Verdict), Error> {
        let step = self.propose(model);
        let smallest = self.settings.step_tolerance * norm((&self.scale * &model.point.p).view());
        if step.length <= smallest || step.predicted <= 0.0 {
            self.ending = Some(Ending::StepTiny);
            return Ok((step, Verdict::Rejected));
        }
        let trial = step.to.clone();
        let outcome = self.residuals(problem, &trial);
        let verdict = match self.step_over(outcome, is_finite_at)? {
            None => self.shrink(0.25),
            Some(residuals) => self.judge(problem, model, &step, trial, residuals)?,
        };
        Ok((step, verdict))
    }

    fn propose(&self, model: &Model) -> Step {
        bounded_step(&Stand {
            triangle: &model.triangle,
            p: &model.point.p,
            bounds: &self.bounds,
            scale: &self.scale,
            free: &model.free,
            radius: self.radius,
            rank_tolerance: self.settings.rank_tolerance,
        })
    }

    /// Counts a failure that a fit may step over; passes any other on.
    fn step_over<T>(&mut self, outcome: Result<T, Error>, is_sound: impl Fn(&T) -> bool) -> Result<Option<T>, Error> {
        match outcome {
            Ok(value) if is_sound(&value) => return Ok(Some(value)),
            Err(e) if !e.downcast_ref::<crate::Error>().is_some_and(crate::Error::is_recoverable) => return Err(e),
            _ => self.tally.failures += 1,
        }
        Ok(None)
    }

    fn shrink(&mut self, factor: f64) -> Verdict {
        self.radius *= factor;
        Verdict::Rejected
    }

    fn judge<P: Residuals>(
        &mut self,
        problem: &mut Problem<P>,
        model: &Model,
        step: &Step,
        trial: Array1<f64>,
        residuals: Array1<f64>,
    ) -> Result<Verdict, Error> {
        let actual = reduction(&self.plain, &residuals);
        let noise = self.settings.cost_noise * model.point.rss();
        let is_flat = step.predicted <= noise && actual.abs() <= noise;
        let ratio = actual / step.predicted;
        if !is_flat {
            self.resize(model, step, actual, ratio);
            if ratio < TAKEN_FROM {
                return Ok(Verdict::Rejected);
            }
        }
        let outcome = self.evaluate(problem, trial);
        let Some(point) = self.step_over(outcome, is_finite)? else { return Ok(self.shrink(0.25)) };
        let next = self.model_at(point);
        if is_flat && next.cosine > 0.9 * model.cosine {
            self.ending = Some(Ending::CostFlat);
            self.ridge = model.ridge_distance(&next);
            return Ok(Verdict::Rejected);
        }
        self.plain = residuals;
        self.adopt(next);
        Ok(Verdict::Taken)
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

    fn show(&self, state: FitState) -> FitState {
        match &self.model {
            Some(Model { point, .. }) => state
                .param(point.p.clone())
                .residuals(point.residuals.clone())
                .jacobian(point.jacobian.clone())
                .cost(0.5 * point.rss()),
            None => state,
        }
    }
}

/// What became of a trial step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Verdict {
    Taken,
    Rejected,
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

impl<P: Residuals> Solver<P, FitState> for LevenbergMarquardt {
    fn name(&self) -> &str {
        "Levenberg-Marquardt within bounds"
    }

    fn init(&mut self, problem: &mut Problem<P>, mut state: FitState) -> Result<(FitState, Option<KV>), Error> {
        let start = state.take_param().unwrap_or_default();
        self.begin(problem, start)?;
        Ok((self.show(state), None))
    }

    fn next_iter(&mut self, problem: &mut Problem<P>, state: FitState) -> Result<(FitState, Option<KV>), Error> {
        let Some(model) = self.model.take() else { return Ok((state, None)) };
        self.tally.iterations += 1;
        let (step, verdict) = self.advance(problem, &model)?;
        let taken = verdict == Verdict::Taken;
        let told = kv!(
            "taken" => taken;
            "step" => step.length;
            "radius" => self.radius;
            "damping" => step.damping;
            "cosine" => self.model.as_ref().unwrap_or(&model).cosine;
            "failures" => self.tally.failures;
        );
        self.model.get_or_insert(model);
        Ok((if taken { self.show(state) } else { state }, Some(told)))
    }

    fn terminate(&mut self, _state: &FitState) -> TerminationStatus {
        match self.ending {
            _ if self.settings.is_cancelled() => TerminationStatus::Terminated(TerminationReason::Interrupt),
            Some(Ending::Converged) => TerminationStatus::Terminated(TerminationReason::SolverConverged),
            Some(other) => TerminationStatus::Terminated(TerminationReason::SolverExit(other.to_string())),
            None => TerminationStatus::NotTerminated,
        }
    }
}
